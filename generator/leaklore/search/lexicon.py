"""What technicians' words mean: phrases of the guide by kind and key, compiled for matching."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import itemgetter
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA

from leaklore.analysis import text
from leaklore.records import guide as guide_files
from leaklore.records.guide import Guide
from leaklore.records.vocabulary import Vocabulary
from leaklore.trade import data

KINDS: Mapping[str, str] = {
    "symptom": "symptoms",
    "kind": "equipment_kinds",
    "setting": "settings",
    "condition": "conditions",
    "refrigerant": "refrigerants",
    "place": "components",
    "technique": "techniques",
    "mode": "modes",
}
"""Kinds of meaning, the likelier first where one phrase has several, and the vocabulary behind each."""
SEVERAL = frozenset(kind for kind, plural in KINDS.items() if plural in guide_files.SEVERAL)
"""Kinds of which one phrase may mean several: a coil is at more than one place, a heat pump more than one kind of unit."""
SMALL = ("fillers", "articles", "prepositions")
"""Lists of words that carry nothing: articles are left out of phrases, prepositions lead to a place."""
POINTERS = frozenset({"last", "day", "night", "time"})
"""Words that say too little at the end: of `since last visit` no `since last` is left, of `on all night` no `all night`."""
SHORT = "shortened"
"""The list of short forms: `hi high`."""
GRAMMAR = tuple(name for name in guide_files.GRAMMAR if name not in (*SMALL, SHORT))


def phrases(guide: Guide, vocabulary: Vocabulary) -> dict[str, Any]:
    """`names` and `phrases` by kind and key, `grammar`: what the phone gets of the lexicon."""
    names: dict[str, dict[str, str]] = {}
    said: dict[str, dict[str, list[str]]] = {}
    for kind, plural in KINDS.items():
        terms = vocabulary.terms[plural]
        names[kind] = {key: term.name for key, term in terms.items()}
        said[kind] = {}
        for key, term in terms.items():
            more = guide.spoken.get(plural, {}).get(key, ())
            own = [key] if kind == "refrigerant" else [key.replace("-", " ")]
            every = (_plain(p) for p in (term.name, *own, *term.also, *more))
            said[kind][key] = list(dict.fromkeys(p for p in every if p))
    grammar = {name: [_plain(p) for p in guide.grammar.get(name, ())] for name in (*GRAMMAR, *SMALL, SHORT)}
    grammar["pointers"] = sorted(POINTERS)
    shows: list[str] = data.load("practice")["order"]["shows_at_leak"]
    return {"names": names, "phrases": said, "grammar": grammar, "at_leak": shows, "plain": []}


def _plain(phrase: str) -> str:
    return " ".join(text.words(text.fold(phrase)))


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a phrase stands for: a kind with one key, or several that it may mean."""

    kind: str
    keys: tuple[str, ...]


class Lexicon:
    """Compiled phrases. `starts` first stem -> patterns (stems, meaning), the longest first; `alone` stems that mean
    something by themselves."""

    def __init__(self, content: Mapping[str, Any]) -> None:
        self.names: Mapping[str, Mapping[str, str]] = content["names"]
        self.plain = frozenset(content["plain"])
        self.at_leak = frozenset(content["at_leak"])
        small = [frozenset(content["grammar"][name]) for name in SMALL]
        _, self.articles, self.prepositions = small
        self.fillers = frozenset[str]().union(*small)
        pointers = frozenset(content["grammar"]["pointers"])
        self.dull = frozenset(text.stem(w) for w in self.fillers)
        meanings: dict[str, dict[str, list[str]]] = {}
        for name in GRAMMAR:
            for phrase in content["grammar"][name]:
                meanings.setdefault(phrase, {}).setdefault(name, []).append("")
        for kind, by_key in content["phrases"].items():
            for key, listed in by_key.items():
                for phrase in listed:
                    keys = meanings.setdefault(phrase, {}).setdefault(kind, [])
                    if key not in keys:
                        keys.append(key)
        self.starts: dict[str, list[tuple[tuple[str, ...], tuple[Meaning, ...]]]] = {}
        self.words: dict[str, list[str]] = {}
        self.joined: dict[str, tuple[str, ...]] = {}
        self._built: dict[tuple[str, ...], tuple[Meaning, ...]] = {}
        shorter: list[tuple[list[str], tuple[Meaning, ...]]] = []
        for phrase, found in meanings.items():
            meaning = tuple(Meaning(kind, tuple(keys)) for kind, keys in found.items())
            parts = [w for w in phrase.split() if w not in self.articles] or phrase.split()
            self._add(parts, meaning)
            bare = [w for w in parts if w not in self.fillers]
            if len(bare) >= 2 and bare != parts and bare[-1] not in pointers:
                shorter.append((bare, meaning))
        for short, *meant in map(str.split, content["grammar"][SHORT]):
            self.joined[short] = tuple(meant)
        whole = frozenset(self._built)
        for bare, meaning in shorter:
            # what a phrase means itself goes before what is left of another: relief valve (leaking)
            if tuple(text.stem(w) for w in bare) not in whole:
                self._add(bare, meaning)
        for patterns in self.starts.values():
            patterns.sort(key=lambda p: (-len(p[0]), p[0]))
        self.alone = frozenset(stem for stem, rows in self.starts.items() if len(rows[-1][0]) == 1)
        for word in sorted(self.fillers | self.articles):
            self.words.setdefault(text.stem(word), []).append(word)
        self.every = sorted({w for listed in self.words.values() for w in listed})
        long = [w for w in self.every if len(w) >= 4]
        self.brief = [w for w in self.every if 3 <= len(w) <= 4]
        self.alike = {first: list(words) for first, words in groupby(long, key=itemgetter(0))}
        self.opening = {two: list(words) for two, words in groupby(long, key=itemgetter(slice(2)))}

    def _add(self, parts: Iterable[str], meaning: tuple[Meaning, ...]) -> None:
        parts = list(parts)
        pattern = tuple(text.stem(w) for w in parts)
        known = self._built.get(pattern)
        if known is not None:
            merged = {m.kind: m for m in known}
            for m in meaning:
                mine = merged.get(m.kind)
                if mine is None:
                    merged[m.kind] = m
                elif m.kind in SEVERAL:
                    merged[m.kind] = Meaning(m.kind, tuple(dict.fromkeys((*mine.keys, *m.keys))))
            self._built[pattern] = tuple(merged.values())
            rows = self.starts[pattern[0]]
            rows[[r[0] for r in rows].index(pattern)] = (pattern, self._built[pattern])
            return
        self._built[pattern] = meaning
        self.starts.setdefault(pattern[0], []).append((pattern, meaning))
        for w in parts:
            listed = self.words.setdefault(text.stem(w), [])
            if w not in listed:
                listed.append(w)
        for a, b in pairwise(parts):
            if len(a) >= 2 and len(b) >= 2 and len(a + b) >= 6:
                self.joined.setdefault(a + b, (a, b))

    def knows(self, stem: str) -> bool:
        """Is it a word of some phrase?"""
        return stem in self.words

    def near(self, word: str) -> tuple[str, ...]:
        """Stems of the words nearest to a misspelt one: those of the fewest edits, at most as many as allowed.

        Words that the library's prose uses (`plain`) are not misspelt.
        """
        if word in self.plain:
            return ()
        first, swapped = word[:1], word[1::-1]  # the first two letters may stand in the wrong order
        if len(word) == 3:  # only a letter left out or two swapped
            brief = (w for w in self.brief if w[0] == first or w[:2] == swapped)
            letters = sorted(word)
            slips = (w for w in brief if (len(w) == 4 or sorted(w) == letters) and OSA.distance(word, w) == 1)
            return tuple(dict.fromkeys(text.stem(w) for w in slips))
        known = self.alike.get(first, [])
        if swapped[:1] != first and (more := self.opening.get(swapped)):
            known = [*more, *known] if swapped < first else [*known, *more]
        found = process.extract(
            word, known, scorer=OSA.distance, score_cutoff=text.edits_allowed(word), limit=None
        )
        least = min((edits for _, edits, _ in found), default=0)
        best = sorted(place for _, edits, place in found if edits == least)
        return tuple(dict.fromkeys(text.stem(known[place]) for place in best))


def plain_words(lexicon: Lexicon, words: Iterable[str]) -> list[str]:
    """Those words of the prose that are no phrase's and would be taken for a slip of one."""
    return sorted(
        word
        for word in words
        if len(word) >= 3
        and not any(c.isdigit() for c in word)
        and not lexicon.knows(text.stem(word))
        and lexicon.near(word)
    )
