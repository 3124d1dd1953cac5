"""What comes back: leaks a system gathers with age, and the same failure again after its repair.

The count of leaks by age is Nelson's mean cumulative function. It asks for no law, and every leak of a system counts,
not the first alone. Systems enter late and leave as in `survival`, and the curve keeps to ages with enough at risk.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long
from numpy.typing import NDArray

from leaklore.analysis.intervals import FEW, LEVEL, Spread, spread
from leaklore.analysis.patterns.discoveries import chance_of_more, false_discovery_of_counts
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Fleet, Leak
from leaklore.analysis.patterns.rates import Floats, Ratio, rate_ratio
from leaklore.analysis.patterns.repairs import KindOfRepair, kinds_of_repair
from leaklore.analysis.patterns.signals import ALL, FALSE_SHARE, LEAST_LEAKS
from leaklore.analysis.patterns.survival import (
    HALF_A_DAY,
    LEAST_AT_RISK,
    ROUND_AGES,
    ByAge,
    Curve,
    Lives,
    at_risk,
    kaplan_meier,
    stretch,
)
from leaklore.records.model import Case

WITHIN = (1.0, 2.0)
"""Years after a repair for which the share that came back is told."""
LEAST_OTHERS = 1.0
"""System-years of systems that were not repaired; fewer are nothing to compare with (judgement)."""
LEAST_MODE = 8
"""Leaks from which a mode gets a curve of its own."""
_Z = NormalDist().inv_cdf(0.5 + LEVEL / 2)


@dataclass(frozen=True, slots=True)
class Histories:
    """Systems seen from age `entry` to `exit` (years), and their leaks: row of the system and age of each."""

    entry: Floats
    exit: Floats
    system: NDArray[np.intp]
    age: Floats


@dataclass(frozen=True, slots=True)
class MeanByAge:
    """Leaks a system had on average from the curve's start to `age`, with the interval (None before the first)."""

    age: float
    at_risk: int
    leaks: int
    mean: float
    low: float | None
    high: float | None


@dataclass(frozen=True, eq=False)
class MeanCount:
    """Steps of the mean number of leaks a system, from age `start` to `end`: its age, leaks, systems, mean, 95 % band."""

    start: float
    end: float
    systems: int
    ages: Floats
    leaks: NDArray[np.intp]
    at_risk: NDArray[np.intp]
    mean: Floats
    error: Floats
    low: Floats
    high: Floats
    rows: tuple[MeanByAge, ...]

    @property
    def few(self) -> bool:
        """Too few leaks for a finding?"""
        return int(self.leaks.sum()) < FEW


def mean_count(
    of: Histories, least: int = LEAST_AT_RISK, ages_told: Sequence[float] = ROUND_AGES
) -> MeanCount | None:
    """Mean cumulative function with late entry; None where never `least` systems are at risk.

    Variance of Lawless and Nadeau 1995, Technometrics 37, 158-168 (robust: a system that leaks often counts as one
    system), limits on the log scale. The estimate is that of Nelson 1988, J. Quality Technology 20, 24-35, and 2003,
    Recurrent Events Data Analysis (papers from memory; published data in tests/published).
    """
    found = stretch(of.entry, of.exit, least)
    if found is None:
        return None
    start, end = found
    use = (of.age > start) & (of.age <= end)
    order = np.lexsort((of.age[use], of.system[use]))
    system, age = of.system[use][order], of.age[use][order]
    ages, leaks = np.unique(age, return_counts=True)
    seen = at_risk(of.entry, of.exit, ages)
    mean = np.cumsum(leaks / seen)
    error = np.sqrt(_variance(of, system, age, ages, leaks, seen))
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.exp(_Z * error / mean)
    low, high = mean / factor, mean * factor
    told = np.array([a for a in ages_told if start < a <= end])
    rows = []
    for a, n in zip(told, at_risk(of.entry, of.exit, told), strict=True):
        i = int(np.searchsorted(ages, a, "right")) - 1
        values = (float(mean[i]), float(low[i]), float(high[i])) if i >= 0 else (0.0, None, None)
        rows.append(MeanByAge(float(a), int(n), int(leaks[: i + 1].sum()), *values))
    systems = int(((of.entry < end) & (of.exit > start)).sum())
    return MeanCount(start, end, systems, ages, leaks, seen, mean, error, low, high, tuple(rows))


def _variance(
    of: Histories,
    system: NDArray[np.intp],
    age: Floats,
    ages: Floats,
    leaks: NDArray[np.intp],
    seen: NDArray[np.intp],
) -> Floats:
    """Sum over systems of (own leaks, each over those at risk, minus its share of all leaks while it was there)^2.

    For a system that is there this is (c - B(t))^2, where B sums leaks / at risk^2 over all, and c is B at its entry
    plus 1 / at risk at each own leak. Its sums over systems follow from sums over entries, leaks and exits.
    """
    steps = np.concatenate([[0.0], np.cumsum(leaks / seen**2)])

    def b(at: Floats) -> Floats:
        return np.asarray(steps[np.searchsorted(ages, at, "right")], dtype=float)

    added = 1 / seen[np.searchsorted(ages, age)]
    base = b(of.entry)
    own = np.bincount(system, weights=added, minlength=of.entry.size)
    before = np.cumsum(added) - added
    if system.size:
        first = np.concatenate([[True], system[1:] != system[:-1]])
        before = before - np.maximum.accumulate(np.where(first, before, 0.0))  # within its system
    c = base[system] + before
    last = base + own

    def summed(at: Floats, values: Floats, side: Literal["left", "right"]) -> Floats:
        order = np.argsort(at, kind="stable")
        sums = np.concatenate([[0.0], np.cumsum(values[order])])
        return np.asarray(sums[np.searchsorted(at[order], ages, side)], dtype=float)

    def running(power: int, at_leak: Floats) -> Floats:
        return (
            summed(of.entry, base**power, "left")
            + summed(age, at_leak, "right")
            - summed(of.exit, last**power, "left")
        )

    now = b(ages)
    there = seen.astype(float)
    s1, s2 = running(1, added), running(2, 2 * c * added + added**2)
    left = summed(of.exit, (last - b(of.exit)) ** 2, "left")
    return np.maximum(s2 - 2 * now * s1 + there * now**2 + left, 0.0)


@dataclass(frozen=True, slots=True)
class Again:
    """The same mode on the same system once more: `days` from the repair to the next report."""

    repaired: Leak
    back: Leak
    days: int

    @property
    def same_part(self) -> bool:
        """At the same component?"""
        return self.repaired.component == self.back.component


@dataclass(frozen=True, slots=True)
class NotHeld:
    """A repair that did not hold: a later look found it leaking (`seen`), or the same part leaked in the same way."""

    case: Case
    modes: tuple[str, ...]
    seen: bool
    back: tuple[Again, ...]


@dataclass(frozen=True, eq=False)
class Returns:
    """How often a mode (or ALL, each repair for its own mode) came back on a repaired system.

    `years` under watch after the repairs; `expected` returns in them if a repaired system leaked like all others (0: there are none to compare with);
    `ratio` against these and `q` (ALL: p) its chance among all modes; `curve` since the repair, for `within`.
    """

    mode: str
    repairs: int
    again: tuple[Again, ...]
    systems: int
    years: float
    expected: float
    ratio: Ratio | None
    q: float
    days: Spread | None
    curve: Curve | None

    @property
    def within(self) -> tuple[ByAge, ...]:
        """Share of repairs that came back within each of WITHIN years."""
        return self.curve.rows if self.curve else ()

    @property
    def few(self) -> bool:
        """Too few returns to tell?"""
        return len(self.again) < LEAST_LEAKS

    @property
    def alone(self) -> bool:
        """All on one system, which tells of that system?"""
        return len({a.back.watched.system.id for a in self.again}) == 1

    @property
    def comes_back(self) -> bool:
        """More often than on other systems, beyond what so many looks make by chance?"""
        return not self.few and not self.alone and self.q <= FALSE_SHARE


@dataclass(frozen=True, eq=False)
class Recurrence:
    """Leaks by age (ALL first, then modes with LEAST_MODE leaks), returns by mode, repairs that did not hold, and by kind.

    `looked_at` is how many repairs had a later look.
    """

    counts: Mapping[str, MeanCount]
    overall: Returns
    modes: tuple[Returns, ...]
    not_held: tuple[NotHeld, ...]
    looked_at: int
    repairs: int
    kinds: tuple[KindOfRepair, ...]


def recurrence(fleet: Fleet) -> Recurrence:
    """Everything that came back in a fleet, by proven leaks alone."""
    by_mode: dict[str, list[Leak]] = {}
    for leak in fleet.leaks:
        by_mode.setdefault(leak.mode, []).append(leak)
    repaired = {mode: _repairs(leaks) for mode, leaks in by_mode.items()}
    fleet_years = fleet.years
    found = [_returns(mode, by_mode[mode], repaired[mode], fleet_years) for mode in sorted(by_mode)]
    q = false_discovery_of_counts(
        np.array([x.q for x in found]),
        np.array([float(len(by_mode[x.mode])) for x in found]),
        np.array([x.years / fleet_years for x in found]),
    )
    modes = [replace(x, q=float(v)) for x, v in zip(found, q, strict=True)]
    modes.sort(key=lambda x: (-len(x.again), x.q, x.mode))
    cases = {leak.case.id: leak.case for leak in fleet.leaks if leak.case.fix is not None}
    return Recurrence(
        _counts(fleet, by_mode),
        _overall(modes, [r for rows in repaired.values() for r in rows]),
        tuple(modes),
        _not_held(fleet, modes),
        sum(c.fix_held is not None for c in cases.values()),
        len(cases),
        kinds_of_repair(cases.values()),
    )


def _counts(fleet: Fleet, by_mode: Mapping[str, Sequence[Leak]]) -> dict[str, MeanCount]:
    entry = np.array([w.entry for w in fleet.watched], dtype=float)
    end = np.array([w.exit for w in fleet.watched], dtype=float)
    row = {w.system.id: i for i, w in enumerate(fleet.watched)}
    out = {}
    for mode, leaks in [(ALL, fleet.leaks), *sorted(by_mode.items(), key=lambda x: (-len(x[1]), x[0]))]:
        if mode != ALL and len(leaks) < LEAST_MODE:
            continue
        system = np.array([row[leak.watched.system.id] for leak in leaks], dtype=np.intp)
        age = np.array([leak.age for leak in leaks], dtype=float)
        made = mean_count(Histories(entry, end, system, np.maximum(age, entry[system] + HALF_A_DAY)))
        if made is not None:
            out[mode] = made
    return out


Repair = tuple[Leak, Leak | None, float]
"""A repaired leak, the next of its mode on the system, and the years in between or to the end of the watch."""


def _day(leak: Leak) -> dt.date:
    """Day of the repair, inside the watch."""
    return min(max(leak.case.closed or leak.day, leak.day), leak.watched.end)


def _repairs(leaks: Sequence[Leak]) -> list[Repair]:
    """All repairs of one mode; `leaks` by day."""
    by_system: dict[str, list[Leak]] = {}
    for leak in leaks:
        by_system.setdefault(leak.watched.system.id, []).append(leak)
    out: list[Repair] = []
    for mine in by_system.values():
        for leak, later in zip(mine, [*mine[1:], None], strict=True):
            if leak.case.fix is None:
                continue
            end = later.day if later else leak.watched.end
            out.append((leak, later, max((end - _day(leak)).days, 0) / DAYS_A_YEAR))
    return out


def _returns(mode: str, leaks: Sequence[Leak], repairs: Sequence[Repair], fleet_years: float) -> Returns:
    """Returns of one mode; `q` holds p until the modes are held against each other."""
    again = _again(repairs)
    years = min(sum(r[2] for r in repairs), fleet_years)
    k, others, years_others = len(again), len(leaks) - len(again), fleet_years - years
    if years_others < LEAST_OTHERS:
        years_others = 0.0
    share = np.array([years / fleet_years])
    p = chance_of_more(np.array([float(k)]), np.array([float(len(leaks))]), share)
    return Returns(
        mode,
        len(repairs),
        again,
        len({r[0].watched.system.id for r in repairs}),
        years,
        others / years_others * years if years_others > 0 else 0.0,
        rate_ratio(k, years, others, years_others),
        float(p[0]),
        spread([float(a.days) for a in again]),
        _since(repairs),
    )


def _again(repairs: Sequence[Repair]) -> tuple[Again, ...]:
    return tuple(
        Again(leak, later, round(years * DAYS_A_YEAR)) for leak, later, years in repairs if later is not None
    )


def _since(repairs: Sequence[Repair]) -> Curve | None:
    """Kaplan-Meier since the repair; at least FEW repairs still under watch."""
    gap = np.array([max(r[2], HALF_A_DAY) for r in repairs], dtype=float)
    back = np.array([r[1] is not None for r in repairs], dtype=bool)
    return kaplan_meier(Lives(np.zeros_like(gap), gap, back), FEW, WITHIN)


def _overall(modes: Sequence[Returns], repairs: Sequence[Repair]) -> Returns:
    """All modes together: each repair is held against the rate of its own mode."""
    again = tuple(sorted((a for m in modes for a in m.again), key=lambda a: (a.back.day, a.back.case.id)))
    expected = sum(m.expected for m in modes)
    k = len(again)
    p = float(scipy.special.gammainc(k, expected)) if k and expected > 0 else 1.0
    return Returns(
        ALL,
        len(repairs),
        again,
        len({r[0].watched.system.id for r in repairs}),
        sum(m.years for m in modes),
        expected,
        None,
        p,
        spread([float(a.days) for a in again]),
        _since(repairs),
    )


def _not_held(fleet: Fleet, modes: Sequence[Returns]) -> tuple[NotHeld, ...]:
    """Repairs that did not hold, oldest first."""
    back: dict[str, list[Again]] = {}
    for again in (a for m in modes for a in m.again if a.same_part):
        back.setdefault(again.repaired.case.id, []).append(again)
    of_case: dict[str, list[Leak]] = {}
    for leak in fleet.leaks:
        of_case.setdefault(leak.case.id, []).append(leak)
    out = []
    for key, leaks in of_case.items():
        case = leaks[0].case
        seen = case.fix is not None and case.fix_held is False
        if seen or key in back:
            out.append(NotHeld(case, tuple(x.mode for x in leaks), seen, tuple(back.get(key, ()))))
    return tuple(out)
