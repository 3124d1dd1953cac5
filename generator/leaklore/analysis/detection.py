"""What a check is worth at a place: its chance to find a leak of each mode there, and its minutes.

Chances start from the guide's `good_for` and `poor_for` and move with the company's own steps. Steps that only
confirmed a spot already found are left out, since there the place was known. Clean steps at the true place
are misses.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from leaklore.analysis.techniques import covered
from leaklore.records.guide import Guide
from leaklore.records.model import Case

GOOD, PLAIN, POOR = 0.75, 0.45, 0.15
"""Chance to find a leak of a mode at its place, by the guide's `good_for` and `poor_for` (judgement)."""
AREA = 0.8
"""The same chance when a whole area is gone over (judgement)."""
LEVELS = ("part", "area")
WORTH = 8.0
"""How many steps the guide's word is worth against the company's own."""
FOUND = frozenset({"lead", "section", "pinpointed"})
PLACES_IN_AREA = 3
"""How many places of a technique's guide minutes an area takes (judgement)."""


@dataclass(frozen=True)
class Detection:
    """`chance[technique][level][mode]` and `minutes[technique][level]` = (first use, later use), in thousandths."""

    chance: Mapping[str, Mapping[str, Mapping[str, int]]]
    minutes: Mapping[str, Mapping[str, tuple[int, int]]]


class Step(NamedTuple):
    """What a search step tells: at a part or over an area, min, first use in its case or not; `mode` of the proven
    leak that it covered, None without one, and whether it showed it."""

    technique: str
    level: str
    minutes: int
    first: bool
    mode: str | None
    hit: bool


def steps_of(case: Case, guide: Guide) -> tuple[Step, ...]:
    """What a case's search tells."""
    out = []
    used: set[str] = set()
    for step in case.search:
        area = len(step.at) > 1 or any(
            p in guide.components and str(guide.components[p]["kind"]) == "area" for p in step.at
        )
        first = step.technique not in used
        used.add(step.technique)
        mode = None
        if case.counted and (step.result == "clean" or step.result in FOUND):
            hits = covered(step, case, guide)
            mode = next((c.mode for c in case.causes if c.component in hits), None)
        out.append(
            Step(
                step.technique,
                LEVELS[1] if area else LEVELS[0],
                step.minutes,
                first,
                mode,
                step.result in FOUND,
            )
        )
    return tuple(out)


def _shrunk(hits: float, n: float, mean: float, worth: float) -> float:
    return (hits + worth * mean) / (n + worth)


def fit(
    cases: Sequence[Case], guide: Guide, steps: Callable[[Case], tuple[Step, ...]] | None = None
) -> Detection:
    """Chances and minutes of each technique; `cases` are all that are not withdrawn."""
    made = [s for case in cases for s in (steps(case) if steps else steps_of(case, guide))]
    tried = Counter((s.technique, s.level, s.mode) for s in made if s.mode)
    shown = Counter((s.technique, s.level, s.mode) for s in made if s.mode and s.hit)
    uses = Counter((s.technique, s.level, s.first) for s in made)
    told: dict[tuple[str, str], list[str]] = defaultdict(list)
    spent: dict[tuple[str, str, bool], int] = defaultdict(int)
    for s in made:
        spent[s.technique, s.level, s.first] += s.minutes
        if s.mode:
            told[s.technique, s.level].append(s.mode)
    chance: dict[str, dict[str, dict[str, int]]] = {}
    minutes: dict[str, dict[str, tuple[int, int]]] = {}
    for key, entry in guide.techniques.items():
        good, poor = set(entry["good_for"] or ()), set(entry["poor_for"] or ())
        base = {m: GOOD if m in good else POOR if m in poor else PLAIN for m in guide.modes}
        chance[key], minutes[key] = {}, {}
        for level in LEVELS:
            word = {m: b * (AREA if level == "area" else 1.0) for m, b in base.items()}
            expected = sum(map(word.__getitem__, told[key, level]))
            hits = sum(shown[key, level, m] for m in word)
            # the company's hand with this technique: what it found against what the guide expects
            hand = (hits + WORTH * PLAIN) / (expected + WORTH * PLAIN)
            chance[key][level] = {}
            for mode, mean in word.items():
                moved = min(0.95, mean * hand)
                p = _shrunk(shown[key, level, mode], tried[key, level, mode], moved, WORTH)
                chance[key][level][mode] = round(1000 * p)
            own = [(spent[key, level, first], uses[key, level, first]) for first in (True, False)]
            minutes[key][level] = _minutes(entry["minutes"], own, level)
    return Detection(chance, minutes)


def _minutes(word: Mapping[str, float], own: Sequence[tuple[int, int]], level: str) -> tuple[int, int]:
    """(first use, later use) in thousandths of a minute: the guide's word moved by the company's own steps, of which
    `own` gives (minutes in all, steps) alike."""
    each = float(word["each_place"]) * (PLACES_IN_AREA if level == "area" else 1)
    said = (float(word["set_up"]) + each, max(each, 1.0))
    out = [
        round(1000 * _shrunk(spent, uses, mean, 3.0)) for (spent, uses), mean in zip(own, said, strict=True)
    ]
    return out[0], min(out)
