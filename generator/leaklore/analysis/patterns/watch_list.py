"""Systems to look at first: those that are expected to lose the most charge in the next year.

`expected_loss` says how much. Here they are ranked, with the leaks that the records leave open, and the ranking is
held against the past: would it have pointed at the systems that then lost the charge?
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from leaklore.analysis.intervals import FEW, share_of_sum
from leaklore.analysis.patterns.expected_loss import Report, fit
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Fleet, Watched
from leaklore.analysis.patterns.legal import Legal, legal
from leaklore.analysis.patterns.rates import Floats
from leaklore.records.library import Library
from leaklore.records.model import Case

TOP = 0.10
"""The part of the list that is held against the past."""
YEARS_BACK = 3
"""Past years that the ranking is held against, each ranked with what was known before it."""
LEAST_HISTORY = 2.0
"""yr; a past year counts with at least so much record before it."""

Why = Literal["leaking-again", "other-leak", "not-fixed"]


@dataclass(frozen=True)
class Open:
    """A leak that the records leave open: found leaking again, another one found at that look, or never proven and not
    fixed; and no case after it."""

    case: Case
    why: Why
    since: dt.date


@dataclass(frozen=True)
class Line:
    """One system of the list. `rate` reports a year; `each` kg a leak; `expected` kg in the next year with 95 %.

    `past` its reports, newest first; `kind_rate` what its kind and age alone would say, a year.
    """

    watched: Watched
    rate: float
    kind_rate: float
    each: float
    expected: float
    low: float
    high: float
    past: tuple[Case, ...]
    open: tuple[Open, ...]


@dataclass(frozen=True)
class Yardstick:
    """Share of the charge lost in a past year that sat in the top tenth of a ranking made before it; bounds 95 %."""

    name: Literal["list", "past-leaks", "charge"]
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Backtest:
    """Held against the past: years ending on these days, systems in the top tenths, their reports and kg lost."""

    ends: tuple[dt.date, ...]
    systems: int
    top: int
    reports: int
    lost: float
    yardsticks: tuple[Yardstick, ...]

    @property
    def few(self) -> bool:
        """Too few losses for a finding?"""
        return self.reports < FEW


@dataclass(frozen=True)
class WatchList:
    """Systems in use, most expected loss first; `total` kg expected of all; `backtest` None where history is short.

    Of the `reports` so many tell the charge lost (`losses`). `law` holds those over a legal threshold apart.
    """

    lines: tuple[Line, ...]
    reports: int
    losses: int
    total: float
    open: tuple[Open, ...]
    backtest: Backtest | None
    law: Legal

    @property
    def few(self) -> bool:
        """Too few losses to tell what a leak takes?"""
        return self.losses < FEW


def watch_list(library: Library, fleet: Fleet) -> WatchList:
    """The list of a fleet on its last day."""
    reports = reports_of(fleet)
    losses = sum(bool(r.lost) for r in reports)
    going = [w for w in fleet.watched if w.end >= fleet.until]
    opened = open_leaks(library, going, fleet.until)
    if not going:
        return WatchList((), len(reports), losses, 0.0, (), None, legal(library, fleet))
    open_of: dict[str, list[Open]] = defaultdict(list)
    for x in opened:
        assert x.case.system is not None
        open_of[x.case.system.id].append(x)
    history: dict[str, list[Case]] = defaultdict(list)
    for report in reversed(reports):
        history[report.system].append(report.case)
    model = fit(fleet.watched, reports, fleet.since, fleet.until)
    row = {w.system.id: i for i, w in enumerate(model.watched)}
    lines = [
        Line(
            w,
            float(model.rate[i]),
            float(model.kind_rate[i]),
            float(model.each[i]),
            float(model.expected[i]),
            float(model.low[i]),
            float(model.high[i]),
            tuple(history[w.system.id]),
            tuple(open_of[w.system.id]),
        )
        for w in going
        for i in [row[w.system.id]]
    ]
    lines.sort(key=lambda x: (-x.expected, x.watched.system.id))
    return WatchList(
        tuple(lines),
        len(reports),
        losses,
        sum(x.expected for x in lines),
        opened,
        _backtest(fleet, reports),
        legal(library, fleet),
    )


def reports_of(fleet: Fleet) -> list[Report]:
    """Every case on a system under watch, proven or not, oldest first; two leaks of one case are one report."""
    under = {w.system.id: w for w in fleet.watched}
    cases = {x.case.id: x.case for x in fleet.leaks}
    cases |= {c.id: c for c in fleet.apart.get("unproven", ())}
    out = []
    for case in cases.values():
        w = under.get(case.system.id) if case.system else None
        if w is not None and w.start <= case.reported <= w.end:
            out.append(Report(case, case.reported, w.system.id, case.lost.si if case.lost else None))
    return sorted(out, key=lambda r: (r.day, r.case.id))


def open_leaks(library: Library, going: Sequence[Watched], until: dt.date) -> tuple[Open, ...]:
    """Leaks that the records leave open on systems in use, newest first."""
    out = []
    for w in going:
        history = [c for c in library.by_system.get(w.system.id, ()) if c.withdrawn is None]
        for case in history:
            looks = [look for look in case.follow_up if look.date <= until]
            last = looks[-1] if looks else None
            if last is not None and last.result != "holding":
                why: Why = last.result
                since = last.date
            elif case.fix is None and not case.counted and last is None:
                why, since = "not-fixed", case.reported
            else:
                continue
            if not any(_follows(c, case, since) for c in history):
                out.append(Open(case, why, since))
    return tuple(sorted(out, key=lambda x: (-x.since.toordinal(), x.case.id)))


def _follows(other: Case, case: Case, since: dt.date) -> bool:
    """Is it a later case, which was reported after `since` or still at work then?"""
    return (
        other.id != case.id and other.reported >= case.reported and (other.closed or other.reported) >= since
    )


def _backtest(fleet: Fleet, reports: Sequence[Report]) -> Backtest | None:
    """Ranks with what was known a year, two and three years ago, and looks where the charge was lost in the year after."""
    ends, tops, scores, losses = [], 0, [], []
    systems = 0
    for back in range(1, YEARS_BACK + 1):
        cut = fleet.until - dt.timedelta(days=round(back * DAYS_A_YEAR))
        end = fleet.until - dt.timedelta(days=round((back - 1) * DAYS_A_YEAR))
        if (cut - fleet.since).days < LEAST_HISTORY * DAYS_A_YEAR:
            break
        there = [i for i, w in enumerate(fleet.watched) if w.start < cut < w.end]
        after = [r for r in reports if cut < r.day <= end and r.lost]
        if not there:
            break
        model = fit(fleet.watched, reports, fleet.since, cut)
        row = {w.system.id: i for i, w in enumerate(model.watched)}
        here = [row[fleet.watched[i].system.id] for i in there]
        names = [fleet.watched[i].system.id for i in there]
        past: dict[str, int] = defaultdict(int)
        for r in reports:
            past[r.system] += r.day <= cut
        gear = [fleet.watched[i].system.equipment.charge for i in there]
        top = max(1, round(TOP * len(there)))
        ranks = (
            _top(model.expected[here], names, top),
            _top([float(past[name]) for name in names], names, top, [q.si if q else 0.0 for q in gear]),
            _top([q.si if q else 0.0 for q in gear], names, top),
        )
        alive = set(names)
        for r in after:
            if r.system in alive:
                assert r.lost is not None
                losses.append(r.lost)
                scores.append([r.system in rank for rank in ranks])
        ends.append(end)
        tops += top
        systems += len(there)
    if not losses:
        return None
    return Backtest(
        tuple(ends),
        systems,
        tops,
        len(losses),
        sum(losses),
        _yardsticks(np.array(losses), np.array(scores, dtype=float)),
    )


def _top(
    values: Sequence[float] | Floats, names: Sequence[str], top: int, then: Sequence[float] | None = None
) -> frozenset[str]:
    """The systems at the top of a ranking; ties by `then`, and by number."""
    second = then or [0.0] * len(names)
    order = sorted(range(len(names)), key=lambda i: (-float(values[i]), -second[i], names[i]))
    return frozenset(names[i] for i in order[:top])


def _yardsticks(losses: Floats, inside: Floats) -> tuple[Yardstick, ...]:
    """Shares with intervals; `inside` is 1 where a ranking (a column) had the system of that loss at its top."""
    sums, squares = losses @ inside, losses**2 @ inside
    whole = float(losses.sum())
    low, high = share_of_sum(sums, whole, squares, float((losses**2).sum()), len(losses))
    names: tuple[Literal["list", "past-leaks", "charge"], ...] = ("list", "past-leaks", "charge")
    return tuple(
        Yardstick(name, float(sums[i] / whole), float(low[i]), float(high[i])) for i, name in enumerate(names)
    )
