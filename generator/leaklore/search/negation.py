"""What of a text is denied: findings in the order of its items, by the words that deny, join and end.

The browser's twin is js/search/negation.mjs.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise, takewhile

from leaklore.search.amounts import TABLES
from leaklore.search.lexicon import Lexicon, Meaning
from leaklore.search.phrases import Item, has_office, likeliest

REACH = 2
"""Words without a meaning that a negation reaches over."""
NOT = {"symptom": "absent", "place": "not-place", "mode": "not-mode", "technique": "clean"}
BACK = {absent: kind for kind, absent in NOT.items()}
_BESIDE = frozenset({"kind", "setting", "condition", "refrigerant"})
"""Kinds of finding that no place belongs to."""
_SPARED = frozenset({"symptom", "mode"})
"""Kinds that `nothing found` does not deny."""
_COMMA = re.compile(r"[ \t-\r]*,[ \t-\r]*")


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


def lists(items: Sequence[Item], folded: str) -> frozenset[int]:
    """Clauses in which a list of symptoms goes on to its `or`: `no dent, nick or hole`."""
    clauses = [list(held) for _, held in groupby(items, key=lambda item: item.clause)]
    found: set[int] = set()
    later: int | None = None
    for before, held in reversed(list(pairwise(clauses))):
        symptoms = [(m := likeliest(item.meaning)) is not None and m.kind == "symptom" for item in held]
        ends = symptoms == [True, False, True] and has_office(held[1], "carriers")
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


class Reader:
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

    def read(self, item: Item, alone: bool) -> None:
        """`alone`: nothing else stands in its clause."""
        fresh = self.fresh
        self._read(item, alone)
        bridge = has_office(item, "bridges")
        self.bridged = (fresh and bridge) or (self.bridged and item.filler)
        self.link = item.filler or bridge

    def _read(self, item: Item, alone: bool) -> None:
        clears = has_office(item, "clears")
        denies = clears or has_office(item, "negators_after")
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
        finding = likeliest(item.meaning)
        if item.loose:
            self.close()
            self.negated = self.fresh = self.carry = False  # nothing is denied across an amount
            self.since = self.run = len(self.findings)
            return
        last_is_meant = self.fresh or (self.bridged and self._said_check())
        if denies and last_is_meant and not self.negated and self._turn_last(clears):
            self.turned = clears
            return
        if finding is None and has_office(item, "negators"):
            last = self.findings[-1] if self.findings else None
            self.silent = self.fresh and last is not None and last.kind == "technique"
            self.negated, self.reach, self.carry, self.whole = True, 0, False, clears
            return
        if finding is None and turned and item.word in self.lexicon.prepositions:
            self.negated, self.reach, self.whole = True, 0, True  # flares ok, nothing found at the coil
            return
        if finding is None and has_office(item, "carriers") and self.carry:
            self.negated, self.reach = True, 0
            return
        if finding is None and has_office(item, "enders"):
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
        if last is None or last.kind not in NOT or (clears and not self._cleared(last)):
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
            self.findings[-1] = replace(last, kind=NOT[last.kind])
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

    def _word(self, item: Item) -> None:
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

    def _finding(self, m: Meaning, item: Item) -> None:
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
        if self.negated and kind in NOT and not (self.whole and kind in _SPARED):
            kind = NOT[kind]
            self.carry = True
        elif attached and last is not None and last.kind == "symptom" and not self._at_leak(last):
            kind = "near"
        (self.linked.add if self.link else self.linked.discard)(len(self.findings))
        self.findings.append(Finding(kind, m.keys, item.start, item.end, stems=item.stems))
        if kind == "symptom" and item.inside is not None:
            at_leak = self._at_leak(self.findings[-1])
            if at_leak or len(item.inside.keys) == 1:  # `ice on coil` does not say which coil
                at = "place" if at_leak else "near"
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
