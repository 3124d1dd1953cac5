"""Before and after: did leaks become rarer after something that the company changed?

A change for all systems splits the watch of each at its day. A change for new installs alone compares what was
installed from that day on with what was installed before, at the same ages. Systems that it does not concern, or other
failure modes where it concerns all, are the yardstick: what went down everywhere was not the change.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Literal

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long

from leaklore.analysis.intervals import FEW, LEVEL
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Fleet, Leak, Watched
from leaklore.analysis.patterns.rates import Floats, Rate, Ratio, Stratum, rate, rate_ratio, stratified_ratio
from leaklore.records.library import Library
from leaklore.records.model import Action, System

EFFECT = 0.5
"""The true ratio that we want to be able to see: half as many leaks."""
POWER = 0.8
"""Chance with which it should show."""
HORIZON = 240
"""months; a wait beyond it is called too long to plan with."""

Verdict = Literal[
    "fewer",
    "fewer-as-all",
    "more",
    "more-as-all",
    "no-change",
    "too-early",
    "too-small",
    "too-few",
    "nobody",
    "no-before",
]
"""too-early: a halving would show within HORIZON, but not yet; too-small: not even then; too-few: under FEW leaks;
as-all: it moved, but not further than the yardstick beyond chance."""


@dataclass(frozen=True)
class Side:
    """Leaks of the change's failure modes in `years` system-years on `systems` systems; `rate` per 100 system-years."""

    leaks: tuple[Leak, ...]
    years: float
    systems: int
    rate: Rate | None


@dataclass(frozen=True)
class Compared:
    """Before and after, with the ratio after over before and its exact 95 % interval (None where it can't be told)."""

    before: Side
    after: Side
    ratio: Ratio | None


@dataclass(frozen=True, slots=True)
class Wait:
    """Months of watch that are still needed; 0 = none, None = longer than HORIZON or never.

    `halving`: until half as many leaks would show with a chance of POWER. `silence`: until no further leak at all
    would show. Assumes the rate before as it was counted, as many systems as today, and no new ones.
    """

    halving: int | None
    silence: int | None


@dataclass(frozen=True)
class Change:
    """One change of the company, held against the leaks.

    `rest` is the yardstick; `rest_is` says what it holds. `beyond` is the ratio of the group over that of the
    yardstick, exact (None where installs are compared or one of the two has no leak).
    """

    action: Action
    group: Compared
    rest: Compared
    rest_is: Literal["systems", "modes"]
    beyond: Ratio | None
    wait: Wait
    verdict: Verdict


def changes(library: Library, fleet: Fleet) -> tuple[Change, ...]:
    """Each change of the library, newest first."""
    return tuple(_change(action, fleet) for action in reversed(library.actions))


def concerned(system: System, action: Action) -> bool:
    """Is everything true of the system that the change's `where` names?"""
    gear = system.equipment
    facts = {
        "branch": system.site.branch,
        "crew": system.crew,
        "kind": gear.kind,
        "family": gear.family,
        "refrigerant": gear.refrigerant,
        "setting": gear.setting or system.site.setting,
        "batch": system.site.batch,
        "line_route": gear.line_set.route if gear.line_set else None,
        "site": system.site.key,
    }
    return all(facts[key] == word for key, word in action.where.items())


def _change(action: Action, fleet: Fleet) -> Change:
    compare = _installs if action.applies_to == "installs-after" else _split
    inside = [w for w in fleet.watched if concerned(w.system, action)]
    members = {w.system.id for w in inside}
    modes = set(action.modes)
    mine = [x for x in fleet.leaks if x.watched.system.id in members and x.mode in modes]
    rest_is: Literal["systems", "modes"] = "systems" if action.where else "modes"
    if rest_is == "systems":
        others = [w for w in fleet.watched if w.system.id not in members]
        theirs = [x for x in fleet.leaks if x.watched.system.id not in members and x.mode in modes]
    else:
        others, theirs = inside, [x for x in fleet.leaks if x.mode not in modes]
    group, rest = compare(inside, mine, action.date), compare(others, theirs, action.date)
    beyond = None if action.applies_to == "installs-after" else ratio_of_ratios(group, rest)
    wait = _wait(group, inside, action, fleet.until)
    return Change(action, group, rest, rest_is, beyond, wait, _verdict(group, beyond, wait))


def _side(leaks: Sequence[Leak], years: float, systems: int) -> Side:
    return Side(tuple(leaks), years, systems, rate(len(leaks), years))


def _split(watched: Sequence[Watched], leaks: Sequence[Leak], day: dt.date) -> Compared:
    """The same systems before and from `day`."""
    start = np.array([w.start.toordinal() for w in watched], dtype=float)
    end = np.array([w.end.toordinal() for w in watched], dtype=float)
    at = day.toordinal()
    years_before = np.clip(np.minimum(end, at) - start, 0, None) / DAYS_A_YEAR
    years_after = np.clip(end - np.maximum(start, at), 0, None) / DAYS_A_YEAR
    early, late = [x for x in leaks if x.day < day], [x for x in leaks if x.day >= day]
    before = _side(early, float(years_before.sum()), int((years_before > 0).sum()))
    after = _side(late, float(years_after.sum()), int((years_after > 0).sum()))
    ratio = rate_ratio(len(after.leaks), after.years, len(before.leaks), before.years)
    return Compared(before, after, ratio)


def _installs(watched: Sequence[Watched], leaks: Sequence[Leak], day: dt.date) -> Compared:
    """Systems installed before `day` against those installed from it, year of age by year of age, as old as the latter are."""
    new = np.array([w.installed >= day for w in watched], dtype=bool)
    entry, leave = np.array([w.entry for w in watched]), np.array([w.exit for w in watched])
    oldest = float(leave[new].max()) if new.any() else 0.0
    edges = np.append(np.arange(np.ceil(oldest)), oldest)
    years = np.zeros((2, max(len(edges) - 1, 0)))
    seen = np.zeros((2, len(watched)), dtype=bool)
    for band, (low, high) in enumerate(pairwise(edges)):
        inside = np.clip(np.minimum(leave, high) - np.maximum(entry, low), 0, None)
        years[:, band] = inside[~new].sum(), inside[new].sum()
        seen |= np.stack([~new & (inside > 0), new & (inside > 0)])
    counts = np.zeros_like(years, dtype=int)
    sides: tuple[list[Leak], list[Leak]] = ([], [])
    for leak in leaks:
        if leak.age <= oldest and years.size:
            late = int(leak.watched.installed >= day)
            counts[late, min(int(leak.age), years.shape[1] - 1)] += 1
            sides[late].append(leak)
    strata = [
        Stratum(int(counts[1, i]), float(years[1, i]), int(counts[0, i]), float(years[0, i]))
        for i in range(years.shape[1])
    ]
    before, after = (_side(sides[i], float(years[i].sum()), int(seen[i].sum())) for i in (0, 1))
    return Compared(before, after, stratified_ratio(strata))


def ratio_of_ratios(group: Compared, rest: Compared, level: float = LEVEL) -> Ratio | None:
    """How much further the group went than the yardstick: ratio over ratio, exact; None without leaks on both.

    Given the leaks of the group, of the yardstick and of the time after, the group's leaks after the day follow
    Fisher's noncentral hypergeometric distribution, whose odds are this ratio times the system-years' own. Source:
    Cornfield 1956 and Fay 2010, R Journal 2(1), 53-58 (from memory) for the interval of an odds ratio.
    """
    k, k_before = len(group.after.leaks), len(group.before.leaks)
    r, r_before = len(rest.after.leaks), len(rest.before.leaks)
    spans = (group.before.years, group.after.years, rest.before.years, rest.after.years)
    n, n_rest, m = k + k_before, r + r_before, k + r
    least, most = max(0, m - n_rest), min(n, m)
    if min(spans) <= 0 or n == 0 or n_rest == 0 or least == most:
        return None
    offset = np.log(group.after.years / group.before.years) - np.log(rest.after.years / rest.before.years)
    x = np.arange(least, most + 1)
    weight = -scipy.special.betaln(x + 1, n - x + 1) - scipy.special.betaln(m - x + 1, n_rest - m + x + 1)
    half = (1 - level) / 2

    def spread(log_ratio: float) -> Floats:
        return np.asarray(scipy.special.softmax(weight + x * (log_ratio + offset)), dtype=float)

    def root(of: Callable[[float], float]) -> float:
        return float(np.exp(scipy.optimize.brentq(of, -30.0, 30.0, xtol=1e-10)))

    low = root(lambda t: float(spread(t)[x >= k].sum()) - half) if k > least else 0.0
    high = root(lambda t: float(spread(t)[x <= k].sum()) - half) if k < most else inf
    value = 0.0 if k == least else inf if k == most else root(lambda t: float(spread(t) @ x) - k)
    return Ratio(value, low, high)


def months_needed(
    k_before: int, years_before: float, k: int, years: float, years_a_month: float, level: float = LEVEL
) -> Wait:
    """Months until a halving, or silence, would show: until the exact interval of the ratio would lie below 1.

    `k` leaks in `years` so far, `years_a_month` system-years added each month. The chance is that of a Poisson count
    with EFFECT times the rate before, which is taken as counted; the leaks so far don't enter it. From the month
    told on it does not fall below POWER again. `silence` counts the `k` leaks so far and none after them.
    """
    if k_before == 0 or years_before <= 0 or years_a_month <= 0:
        return Wait(None, None)
    month = np.arange(HORIZON + 1)
    span = years + month * years_a_month
    share = span / (span + years_before)
    half = (1 - level) / 2

    def shows(count: Floats) -> Floats:
        """Is a count or fewer of count + k_before after the day so unlikely if nothing changed? Binomial, exact."""
        return np.asarray(scipy.special.betainc(k_before, count + 1, 1 - share) < half, dtype=bool)

    least, most = np.full(month.shape, -1.0), np.ceil(k_before * span / years_before) + 1
    while np.any(most - least > 1):  # the largest count that shows, by bisection
        middle = np.floor((least + most) / 2)
        yes = shows(np.maximum(middle, 0)) & (middle >= 0)
        least, most = np.where(yes, middle, least), np.where(yes, most, np.maximum(middle, least + 1))
    chance = np.where(
        least >= 0, scipy.special.pdtr(np.maximum(least, 0), EFFECT * k_before / years_before * span), 0
    )
    weak = np.flatnonzero(chance < POWER)
    halving = 0 if not weak.size else int(weak[-1]) + 1
    silent = np.flatnonzero(shows(np.full(month.shape, float(k))))
    return Wait(halving if halving <= HORIZON else None, int(silent[0]) if silent.size else None)


def _wait(group: Compared, inside: Sequence[Watched], action: Action, until: dt.date) -> Wait:
    going = [
        w for w in inside if w.end >= until and (action.applies_to == "all" or w.installed >= action.date)
    ]
    before, after = group.before, group.after
    return months_needed(len(before.leaks), before.years, len(after.leaks), after.years, len(going) / 12)


def _verdict(group: Compared, beyond: Ratio | None, wait: Wait) -> Verdict:
    if group.after.years <= 0:
        return "nobody"
    if group.before.years <= 0:
        return "no-before"
    if group.ratio is None or len(group.before.leaks) + len(group.after.leaks) < FEW:
        return "too-few"
    if group.ratio.high < 1:
        return "fewer" if beyond is None or beyond.high < 1 else "fewer-as-all"
    if group.ratio.low > 1:
        return "more" if beyond is None or beyond.low > 1 else "more-as-all"
    if wait.halving is None:
        return "too-small"
    return "too-early" if wait.halving else "no-change"
