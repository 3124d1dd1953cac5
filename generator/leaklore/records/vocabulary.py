"""The words a record may use: keys of the guide, of the small vocabularies, of the company."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

NOUNS = {
    "modes": "a failure mode",
    "techniques": "a technique",
    "symptoms": "a symptom",
    "components": "a component or place",
    "refrigerants": "a refrigerant",
    "settings": "a setting",
    "equipment_kinds": "a kind of equipment",
    "conditions": "a condition",
    "contributing": "a contributing factor",
    "actions": "a repair",
    "line_routes": "a route of a line set",
    "branches": "a branch of the company",
    "crews": "a crew of the company",
    "cautions": "a caution",
}


@dataclass(frozen=True, slots=True)
class Term:
    """One word of a small vocabulary: key, name to show, and what people type."""

    key: str
    name: str
    also: tuple[str, ...] = ()


Unread = Mapping[str, str | None]
"""Kind -> the text that could not be read, in which its further words stand; None where nobody can say which these are."""


_NOT_IN_A_LIST = r"^[^\[\n]*(?:\[[^\]\n]*\][^\[\n]*)*"
"""The beginning of a line: what stands in brackets names other words."""


def may_hold(unread: Unread, kind: str, key: str) -> bool:
    """May `key` be a word of this kind that could not be read?"""
    if kind not in unread:
        return False
    text = unread[kind]
    word = rf"{_NOT_IN_A_LIST}(?<![\w-]){re.escape(key)}(?![\w-])"
    return text is None or re.search(word, text, re.MULTILINE) is not None


@dataclass(frozen=True)
class Vocabulary:
    """Keys by kind; `spoken` maps plain-language phrases to keys for near misses.

    Of the kinds in `open` not all words could be read, because of an error that is told where it stands.
    """

    terms: Mapping[str, Mapping[str, Term]]
    spoken: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    open: Unread = field(default_factory=dict)

    def has(self, kind: str, key: str) -> bool:
        """Is `key` a word of this kind, as far as anybody can tell?"""
        return key in self.terms.get(kind, {}) or may_hold(self.open, kind, key)

    def closed(self) -> Vocabulary:
        """Only the words that could be read."""
        return replace(self, open={}) if self.open else self

    def name(self, kind: str, key: str) -> str:
        """The name to show; the key itself where it is unknown."""
        term = self.terms.get(kind, {}).get(key)
        return term.name if term else key

    def suggest(self, kind: str, word: str) -> str:
        """What to write instead of `word`: the nearest key, or where the list is."""
        from rapidfuzz import fuzz, process

        known = self.terms.get(kind, {})
        phrase = word.strip().lower()
        direct = self.spoken.get(kind, {}).get(phrase)
        if direct:
            return f'did you mean "{direct}"?'
        choices = {key: key.lower() for key in known} | {
            f"{key}\0{i}": text.lower()
            for key, term in known.items()
            for i, text in enumerate((term.name, *term.also))
        }
        hit = process.extractOne(phrase, choices, scorer=fuzz.ratio, score_cutoff=68)
        if hit:
            return f'did you mean "{str(hit[2]).split(chr(0))[0]}"?'
        if not known:
            return "leave it out, or add it to company.yaml"
        some = ", ".join(sorted(known)[:4])
        return f"write one of {some}, …" if len(known) > 4 else f"write one of {some}"


_NO_ACCENT = str.maketrans(
    {"æ": "ae", "œ": "oe", "ß": "ss", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ŧ": "t"}
)
"""Letters that are not made of a plain one and a sign."""


def as_address(key: str) -> str:
    """A key as part of an address: `R-1234ze(E)` -> `r-1234ze-e`, `Almería` -> `almeria`."""
    key = key.lower().replace(" ", "-").replace("(", "-").replace(")", "")
    if key.isascii():
        return key
    parts = unicodedata.normalize("NFKD", key.translate(_NO_ACCENT))
    return parts.encode("ascii", "ignore").decode()


def spoken_index(terms: Mapping[str, Mapping[str, Term]]) -> dict[str, dict[str, str]]:
    """Plain-language phrase -> key, for each kind."""
    return {
        kind: {phrase.lower(): key for key, term in known.items() for phrase in (*term.also, term.name)}
        for kind, known in terms.items()
    }


def as_terms(entries: Iterable[Mapping[str, object]]) -> dict[str, Term]:
    """Vocabulary entries (`key`, `name`, `also`) as terms by key, in file order."""
    out: dict[str, Term] = {}
    for entry in entries:
        also = entry.get("also") or ()
        assert isinstance(also, list | tuple)
        key = str(entry["key"])
        out[key] = Term(key, str(entry["name"]), tuple(map(str, also)))
    return out
