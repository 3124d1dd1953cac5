"""From what somebody types to findings: phrases, typing mistakes, negation, amounts, and the words left over.

The browser's twin is js/search/understand.mjs; a test holds both to the same answers.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise, takewhile

from leaklore.analysis import text
from leaklore.analysis.evidence import Check, Evidence
from leaklore.search.amounts import TABLES, Amount, amounts, measured_at
from leaklore.search.lexicon import KINDS, Lexicon, Meaning

LONGEST = 600
"""Characters that are read; a longer text is cut, so that nothing can be made slow by pasting a book."""
SKIPS = 2
"""Fillers that may stand between the words of a phrase."""
REACH = 2
"""Words without a meaning that a negation reaches over."""
_CLAUSE = re.compile(r"[,.;:!?\n]")


@dataclass(frozen=True, slots=True)
class Finding:
    """Something understood. `kind` is a kind of KINDS, or absent, not-place, not-mode, near (a place that is not
    where it leaks), clean, lost, charge, over, age.

    `keys` one key, or several places that may be meant; `value` kg or years of an amount; `start` and `end` in the
    text as typed; `at` the places of a clean check; `stems` the words of its phrase, spelt right.
    """

    kind: str
    keys: tuple[str, ...]
    start: int
    end: int
    value: float | None = None
    at: tuple[str, ...] = ()
    stems: tuple[str, ...] = ()


@dataclass(frozen=True)
class Understood:
    """Findings in the order of the text, and stems left over that search the prose (`words` as typed)."""

    findings: tuple[Finding, ...]
    words: tuple[str, ...]
    stems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Token:
    word: str
    stem: str
    start: int
    end: int
    clause: int
    filler: bool
    near: tuple[str, ...] = ()
    loose: bool = False


@dataclass(frozen=True, slots=True)
class _Item:
    meaning: tuple[Meaning, ...]
    start: int
    end: int
    clause: int
    word: str = ""
    stem: str = ""
    filler: bool = False
    stems: tuple[str, ...] = ()
    loose: bool = False
    inside: Meaning | None = None
    """A place named within the phrase: oil at the flare."""


def _tokens(folded: str, found: Sequence[Amount], lexicon: Lexicon) -> list[_Token]:
    out: list[_Token] = []
    clause, last = 0, 0
    for hit in re.finditer(r"[a-z0-9]+", folded):
        start, end = hit.span()
        clause += len(_CLAUSE.findall(folded[last:start]))
        last = end
        amount = next((a for a in found if start < a.end and a.start < end), None)
        if amount is not None and not amount.loose:
            clause += 1  # nothing is denied, and no phrase goes on, across an amount
            continue
        word = hit[0]
        parts: tuple[str, ...] = (word,)
        if not lexicon.knows(text.stem(word)) and word in lexicon.joined:
            parts = lexicon.joined[word]
        for part in parts:
            if part in lexicon.articles and len(parts) == 1:
                continue
            s = text.stem(part)
            # a word that stands for itself may still be a slip inside a longer phrase: loosing charge
            strange = not lexicon.knows(s)
            slip = amount is None and (len(part) >= 4 or strange) and not any(c.isdigit() for c in part)
            near = tuple(n for n in lexicon.near(part) if n != s) if slip else ()
            blurred = strange and len(part) >= 4 and bool(near) and lexicon.dull.issuperset(near)
            filler = amount is None and (part in lexicon.fillers or blurred)
            out.append(_Token(part, s, start, end, clause, filler, near, amount is not None))
    return out


@dataclass(frozen=True, slots=True)
class _Match:
    """`length` tokens taken by a phrase of `words` words with `slips` misspelt ones."""

    length: int
    words: int
    slips: int
    pattern: tuple[str, ...]
    meaning: tuple[Meaning, ...]


def _matches(tokens: Sequence[_Token], i: int, lexicon: Lexicon) -> list[_Match]:
    """Phrases that begin at a token, one for each number of tokens taken: most words, then fewest slips."""
    first = tokens[i]
    best: dict[int, _Match] = {}
    for k, start in enumerate((first.stem, *first.near)):
        for pattern, meaning in lexicon.starts.get(start, ()):
            slips = 1 if k else 0
            known = bool(k) and _known(first, lexicon)
            j, skipped, n = i + 1, 0, 1
            while n < len(pattern) and j < len(tokens) and tokens[j].clause == first.clause:
                token = tokens[j]
                if token.stem == pattern[n]:
                    n, skipped = n + 1, 0
                elif pattern[n] in token.near:
                    n, skipped, slips = n + 1, 0, slips + 1
                    known = known or _known(token, lexicon)
                elif token.filler and skipped < SKIPS:
                    skipped += 1
                else:
                    break
                j += 1
            if n < len(pattern) or (slips == n and known):
                continue  # known words alone are no slips; hising is no form of his
            if slips and n == 1 and not _sure(first, start, lexicon):
                continue
            found, old = _Match(j - i, n, slips, pattern, meaning), best.get(j - i)
            if old is None or (n, -slips) > (old.words, -old.slips):
                best[j - i] = found
    return [best[length] for length in sorted(best)]


def _known(token: _Token, lexicon: Lexicon) -> bool:
    return lexicon.knows(token.stem) and token.stem not in lexicon.articles


def _sure(token: _Token, meant: str, lexicon: Lexicon) -> bool:
    """Is it a slip of that stem even where it stands alone? Not a short word that lacks a letter, and not one as near
    to a word that says nothing alone: behnd."""
    swapped = sorted(token.word) == sorted(meant)
    return (len(token.word) > 3 or swapped) and lexicon.alone.issuperset(token.near)


def _cover(tokens: Sequence[_Token], lexicon: Lexicon) -> list[tuple[int, _Match | None]]:
    """The tokens cut into phrases and single words: long phrases count by the square of their words."""
    best: list[tuple[float, _Match | None]] = [(0.0, None)] * (len(tokens) + 1)
    for i in reversed(range(len(tokens))):
        score, chosen = best[i + 1][0], None
        for m in _matches(tokens, i, lexicon):
            value = m.words**2 - 0.5 * m.slips + best[i + m.length][0]
            if value > score or (value == score and chosen is None):
                score, chosen = value, m
        best[i] = score, chosen
    out = []
    i = 0
    while i < len(tokens):
        found = best[i][1]
        out.append((i, found))
        i += found.length if found else 1
    return out


def _items(tokens: Sequence[_Token], lexicon: Lexicon) -> list[_Item]:
    out: list[_Item] = []
    for i, m in _cover(tokens, lexicon):
        t = tokens[i]
        if m is None:
            out.append(_Item((), t.start, t.end, t.clause, t.word, t.stem, t.filler, loose=t.loose))
            continue
        inside = _inside(tokens[i + 1 : i + m.length], lexicon) if m.length > 1 else None
        last = tokens[i + m.length - 1]
        stems = tuple(s for s in m.pattern if s not in lexicon.dull)
        out.append(
            _Item(m.meaning, t.start, last.end, t.clause, t.word, t.stem, t.filler, stems, inside=inside)
        )
    return out


def _inside(tokens: Sequence[_Token], lexicon: Lexicon) -> Meaning | None:
    """The place that the rest of a phrase ends with."""
    for i in range(len(tokens)):
        for m in reversed(_matches(tokens, i, lexicon)):
            if i + m.length == len(tokens):
                return next((k for k in m.meaning if k.kind == "place"), None)
    return None


def _pick(meaning: Sequence[Meaning]) -> Meaning | None:
    for kind in KINDS:
        for m in meaning:
            if m.kind == kind:
                return m
    return None


def _is(item: _Item, name: str) -> bool:
    return any(m.kind == name for m in item.meaning)


_NOT = {"symptom": "absent", "place": "not-place", "mode": "not-mode", "technique": "clean"}
_BACK = {absent: kind for kind, absent in _NOT.items()}
_BESIDE = frozenset({"kind", "setting", "condition", "refrigerant"})
"""Kinds of finding that no place belongs to."""
_SPARED = frozenset({"symptom", "mode"})
"""Kinds that `nothing found` does not deny."""
_COMMA = re.compile(r"[ \t-\r]*,[ \t-\r]*")


def _lists(items: Sequence[_Item], folded: str) -> frozenset[int]:
    """Clauses in which a list of symptoms goes on to its `or`: `no dent, nick or hole`."""
    clauses = [list(held) for _, held in groupby(items, key=lambda item: item.clause)]
    found: set[int] = set()
    later: int | None = None
    for before, held in reversed(list(pairwise(clauses))):
        symptoms = [(m := _pick(item.meaning)) is not None and m.kind == "symptom" for item in held]
        ends = symptoms == [True, False, True] and _is(held[1], "carriers")
        goes_on = symptoms == [True] and later in found
        later = held[0].clause
        if (ends or goes_on) and _COMMA.fullmatch(folded, before[-1].end, held[0].start):
            found.add(later)
    return frozenset(found)


def _tail(findings: Sequence[Finding], kind: str) -> list[Finding]:
    """Those of a kind that stand at the end."""
    return list(takewhile(lambda f: f.kind == kind, reversed(findings)))[::-1]


def _clean(checks: Sequence[Finding], places: Sequence[Finding]) -> list[Finding]:
    """Each check at each place, or alone where no place was said."""
    if not places:
        return [replace(c, kind="clean") for c in checks]
    return [
        replace(c, kind="clean", at=p.keys, start=min(c.start, p.start), end=max(c.end, p.end))
        for c in checks
        for p in places
    ]


class _Reader:
    """Walks the items once and keeps the state of negation."""

    def __init__(self, lexicon: Lexicon, amounts_there: bool, lists: frozenset[int]) -> None:
        self.lexicon = lexicon
        self.lists = lists
        self.dull = frozenset(TABLES["beside"]) if amounts_there else frozenset[str]()
        self.findings: list[Finding] = []
        self.words: list[tuple[str, str]] = []
        self.negated = False
        self.reach = 0
        self.fresh = False  # was the last item a finding of this clause?
        self.carry = False  # may an `or` carry the negation on?
        self.silent = False  # did the negation follow a technique: `ultrasonic can't hear`?
        self.whole = False  # does the negation spare symptoms: `nothing found, hissing`?
        self.turned = False  # was the last item such a negation of what stood before it?
        self.clause = 0
        self.since = 0  # the first finding behind the last comma, amount or `but`
        self.run = 0  # the first behind the last word of no meaning, too
        self.bridged = False  # was the last item `and`, behind a finding: `soaped the flare and nothing`?
        self.link = False  # did the last item join two of a list: `flares and coil`?
        self.linked: set[int] = set()  # findings that such an item joins to the one before

    def read(self, item: _Item, alone: bool) -> None:
        """`alone`: nothing else stands in its clause."""
        fresh = self.fresh
        self._read(item, alone)
        bridge = _is(item, "bridges")
        self.bridged = (fresh and bridge) or (self.bridged and item.filler)
        self.link = item.filler or bridge

    def _read(self, item: _Item, alone: bool) -> None:
        clears = _is(item, "clears")
        denies = clears or _is(item, "negators_after")
        turned, self.turned = self.turned, False
        if item.clause != self.clause:
            if alone and denies and self._checked() and self._turn_last(clears):
                return
            self.close()
            self.clause = item.clause
            turned = False
            self.negated = self.carry and item.clause in self.lists
            self.reach = 0
            self.fresh = self.carry = self.silent = False
            self.since = self.run = len(self.findings)
        finding = _pick(item.meaning)
        if item.loose:
            self.close()
            self.negated = self.fresh = self.carry = False  # nothing is denied across an amount
            self.since = self.run = len(self.findings)
            return
        last_is_meant = self.fresh or (self.bridged and self._said_check())
        if denies and last_is_meant and not self.negated and self._turn_last(clears):
            self.turned = clears
            return
        if finding is None and _is(item, "negators"):
            last = self.findings[-1] if self.findings else None
            self.silent = self.fresh and last is not None and last.kind == "technique"
            self.negated, self.reach, self.carry, self.whole = True, 0, False, clears
            return
        if finding is None and turned and item.word in self.lexicon.prepositions:
            self.negated, self.reach, self.whole = True, 0, True  # flares ok, nothing found at the coil
            return
        if finding is None and _is(item, "carriers") and self.carry:
            self.negated, self.reach = True, 0
            return
        if finding is None and _is(item, "enders"):
            self.negated = self.carry = self.fresh = False
            self.since = self.run = len(self.findings)
            return
        if finding is None:
            self._word(item)
            return
        self._finding(finding, item)

    def _checked(self) -> bool:
        """May a check, or the place of one, be denied that was said last?"""
        return self.fresh and not self.negated and self._said_check()

    def _said_check(self) -> bool:
        places = len(self._list()) if self.findings and self.findings[-1].kind == "place" else 0
        before = self.findings[: len(self.findings) - places]
        return bool(before) and before[-1].kind == "technique"

    def _turn_last(self, clears: bool = False) -> bool:
        """Denies what was said last; `clears`: only a check or a place, and none where a sign was seen."""
        last = self.findings[-1] if self.findings else None
        if last is None or last.kind not in _NOT or (clears and not self._cleared(last)):
            return False
        places = self._list() if last.kind == "place" else []
        checks = self._checks(len(self.findings) - len(places))
        if last.kind == "technique":
            places = self._checked_places(len(checks))
        if checks:
            self.findings[-len(places) - len(checks) :] = _clean(checks, places)
        elif last.kind == "place":
            denied = places[1:] if len(places) > 1 and self._of_sign(len(places)) else places
            self.findings[-len(denied) :] = [replace(f, kind="not-place") for f in denied]
        else:
            self.findings[-1] = replace(last, kind=_NOT[last.kind])
        self.fresh = not self.findings[-1].at  # `visual clean at the coil`: the place may follow
        return True

    def _list(self) -> list[Finding]:
        """The place said last, and those that are joined to it."""
        first = len(self.findings) - 1
        while first > self.since and first in self.linked and self.findings[first - 1].kind == "place":
            first -= 1
        return self.findings[first:]

    def _checks(self, end: int) -> list[Finding]:
        """The technique said last before that finding, and those said in one go with it: `soap and dye clean`."""
        found = _tail(self.findings[self.since : end], "technique")
        together = _tail(self.findings[self.run : end], "technique")
        return together or found[-1:]

    def _of_sign(self, places: int) -> bool:
        """Does the first of so many last places belong to a sign: `oil at the flare`?"""
        at = len(self.findings) - places - 1
        return at >= self.since and self.findings[at].kind == "symptom" and self._at_leak(self.findings[at])

    def _cleared(self, last: Finding) -> bool:
        return last.kind == "technique" or (last.kind == "place" and not self._of_sign(1))

    def _checked_places(self, checks: int) -> list[Finding]:
        """The places before the techniques said last, `flare checked with soap`, but not those of a sign."""
        before = self.findings[self.since : -checks]
        places = _tail(before, "place")
        others = before[: len(before) - len(places)]
        return places if all(f.kind in _BESIDE for f in others) else []

    def _word(self, item: _Item) -> None:
        if item.filler or item.word in self.dull:
            return
        self.reach += 1
        self.carry = False
        if self.negated and self.reach <= REACH:
            return
        self.negated = self.fresh = False
        if not item.meaning:
            self.run = len(self.findings)
        if len(item.word) > 1 and not item.meaning:
            self.words.append((item.word, item.stem))

    def _finding(self, m: Meaning, item: _Item) -> None:
        last = self.findings[-1] if self.findings else None
        attached = m.kind == "place" and self.fresh and last is not None
        if attached and last is not None and last.kind in ("clean", "absent") and not last.at:
            self.findings[-1] = replace(last, at=m.keys, end=item.end)
            self.carry, self.negated = True, False
            return
        kind = m.kind
        if self.negated and self.silent and kind != "symptom" and last is not None:
            # it is the technique that showed nothing: `dye never showed at the flare`
            self.findings[-1] = replace(last, kind="clean", at=m.keys if kind == "place" else ())
            self.negated = self.silent = False
            if kind == "place":
                self.findings[-1] = replace(self.findings[-1], end=item.end)
                self.carry = self.fresh = True
                return
        if self.negated and kind == "condition" and not self.whole and not self.reach:
            self.negated = self.fresh = False
            self.carry = True
            return
        if self.negated and kind in _NOT and not (self.whole and kind in _SPARED):
            kind = _NOT[kind]
            self.carry = True
        elif attached and last is not None and last.kind == "symptom" and not self._at_leak(last):
            kind = "near"
        (self.linked.add if self.link else self.linked.discard)(len(self.findings))
        self.findings.append(Finding(kind, m.keys, item.start, item.end, stems=item.stems))
        if kind == "symptom" and item.inside is not None:
            at = "place" if self._at_leak(self.findings[-1]) else "near"
            self.findings.append(Finding(at, item.inside.keys, item.start, item.end))
        self.silent = False
        self.negated, self.fresh = False, True

    def close(self) -> None:
        """A technique that was denied at the end of its clause showed nothing: `the dye never showed`."""
        if self.silent and self.negated and self.findings and self.findings[-1].kind == "technique":
            self._turn_last()
        self.silent = False

    def _at_leak(self, finding: Finding) -> bool:
        return finding.keys[0] in self.lexicon.at_leak


def understand(raw: str, lexicon: Lexicon, today: dt.date) -> Understood:
    """Reads a text; `today` dates `since spring`."""
    raw = raw[:LONGEST]
    folded, where = text.fold_at(raw)
    # 407 c is a refrigerant and no temperature
    found = [
        a
        for a in amounts(folded, today)
        if a.kind != "reading" or not lexicon.knows("".join(text.words(folded[a.start : a.end])))
    ]
    tokens = _tokens(folded, found, lexicon)
    items = _items(tokens, lexicon)
    reader = _Reader(lexicon, bool(found), _lists(items, folded))
    several = Counter(item.clause for item in items)
    for item in items:
        reader.read(item, several[item.clause] == 1)
    reader.close()
    findings = [
        *(
            replace(f, kind="near") if f.kind == "place" and measured_at(folded, found, f.end) else f
            for f in reader.findings
        ),
        *(Finding(a.kind, (), a.start, a.end, a.value) for a in found if a.kind != "reading"),
    ]
    findings.sort(key=lambda f: (f.start, f.end))
    placed = [replace(f, start=where[f.start][0], end=where[f.end - 1][1]) for f in _last_word(findings)]
    return Understood(
        tuple(placed),
        tuple(w for w, _ in reader.words),
        tuple(dict.fromkeys(s for _, s in reader.words)),
    )


def _last_word(findings: Sequence[Finding]) -> list[Finding]:
    """Of two that contradict or repeat each other the later counts; one setting, kind, refrigerant and amount."""
    out: list[Finding] = []
    for f in findings:
        single = f.kind in ("setting", "kind", "refrigerant", "lost", "charge", "over", "age")
        base = _BACK.get(f.kind, f.kind)
        out = [
            o
            for o in out
            if not (
                (single and o.kind == f.kind)
                or (not single and _BACK.get(o.kind, o.kind) == base and o.keys == f.keys and o.at == f.at)
            )
        ]
        out.append(f)
    return out


def evidence(understood: Understood, checks: Sequence[Check] = ()) -> Evidence:
    """Findings as evidence; `checks` are those made beside the text."""
    by: dict[str, list[Finding]] = {}
    for f in understood.findings:
        by.setdefault(f.kind, []).append(f)

    def one(kind: str) -> str | None:
        return by[kind][-1].keys[0] if kind in by else None

    def value(kind: str) -> float | None:
        return by[kind][-1].value if kind in by else None

    lost, over = value("lost"), value("over")
    clean = tuple(Check(f.keys[0], f.at) for f in by.get("clean", ()) if f.at)
    seen = frozenset(f.keys[0] for f in by.get("symptom", ()))
    return Evidence(
        symptoms=seen,
        absent=frozenset(f.keys[0] for f in by.get("absent", ())) - seen,
        conditions=frozenset(f.keys[0] for f in by.get("condition", ())),
        setting=one("setting"),
        kind=one("kind"),
        refrigerant=one("refrigerant"),
        age=value("age"),
        rate=lost / over if lost is not None and over else None,
        charge=value("charge"),
        places=tuple(f.keys for f in by.get("place", ())),
        not_places=tuple(f.keys for f in by.get("not-place", ())),
        named=frozenset(f.keys[0] for f in by.get("mode", ())),
        ruled_out=frozenset(f.keys[0] for f in by.get("not-mode", ())),
        checks=(*clean, *checks),
    )
