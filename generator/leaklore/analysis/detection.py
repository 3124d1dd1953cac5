"""What a check is worth at a place: its chance to find a leak of each mode there, and its minutes.

Chances start from the guide's `good_for` and `poor_for` and move with the company's own steps. Steps that only
confirmed a spot already found are left out, since there the place was known. Clean steps at the true place
are misses.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True)
class _Step:
    technique: str
    level: str
    minutes: int
    first: bool
    mode: str | None = None
    hit: bool = False


def _steps(cases: Sequence[Case], guide: Guide) -> list[_Step]:
    out = []
    for case in cases:
        used: set[str] = set()
        for step in case.search:
            kinds = {str(guide.components[p]["kind"]) for p in step.at if p in guide.components}
            level = "area" if "area" in kinds or len(step.at) > 1 else "part"
            first = step.technique not in used
            used.add(step.technique)
            mode = None
            if case.counted and (step.result == "clean" or step.result in FOUND):
                hits = covered(step, case, guide)
                mode = next((c.mode for c in case.causes if c.component in hits), None)
            out.append(_Step(step.technique, level, step.minutes, first, mode, step.result in FOUND))
    return out


def _shrunk(hits: float, n: float, mean: float, worth: float) -> float:
    return (hits + worth * mean) / (n + worth)


def fit(cases: Sequence[Case], guide: Guide) -> Detection:
    """Chances and minutes of each technique; `cases` are all that are not withdrawn."""
    steps = _steps(cases, guide)
    tried: dict[tuple[str, str], list[_Step]] = defaultdict(list)
    for step in steps:
        tried[step.technique, step.level].append(step)
    chance: dict[str, dict[str, dict[str, int]]] = {}
    minutes: dict[str, dict[str, tuple[int, int]]] = {}
    for key, entry in guide.techniques.items():
        good, poor = set(entry["good_for"] or ()), set(entry["poor_for"] or ())
        base = {m: GOOD if m in good else POOR if m in poor else PLAIN for m in guide.modes}
        chance[key], minutes[key] = {}, {}
        for level in LEVELS:
            own = tried[key, level]
            told = [s for s in own if s.mode]
            word = {m: b * (AREA if level == "area" else 1.0) for m, b in base.items()}
            expected = sum(word[s.mode] for s in told if s.mode)
            # the company's hand with this technique: what it found against what the guide expects
            hand = (sum(s.hit for s in told) + WORTH * PLAIN) / (expected + WORTH * PLAIN)
            chance[key][level] = {}
            for mode, mean in word.items():
                here = [s for s in told if s.mode == mode]
                moved = min(0.95, mean * hand)
                p = _shrunk(sum(s.hit for s in here), len(here), moved, WORTH)
                chance[key][level][mode] = round(1000 * p)
            minutes[key][level] = _minutes(entry["minutes"], own, level)
    return Detection(chance, minutes)


def _minutes(word: Mapping[str, float], own: Sequence[_Step], level: str) -> tuple[int, int]:
    """(first use, later use) in thousandths of a minute: the guide's word moved by the company's own steps."""
    each = float(word["each_place"]) * (PLACES_IN_AREA if level == "area" else 1)
    said = (float(word["set_up"]) + each, max(each, 1.0))
    out = []
    for first, mean in zip((True, False), said, strict=True):
        here = [s.minutes for s in own if s.first is first]
        out.append(round(1000 * _shrunk(sum(here), len(here), mean, 3.0)))
    return out[0], min(out)
