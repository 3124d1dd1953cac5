"""What leaks cost: by failure mode, by wrong first diagnosis, by repairs that did not hold, by technique.

A few big cases carry most of the money, so each share of the total comes with the bounds between which it would lie
had other jobs of the same kinds come in (`intervals.share_of_sum`). How often a mode would stand first is told by
drawing the cases anew, with replacement, DRAWS times (Efron 1979, Ann. Stat. 7, 1-26; from memory): as percentiles
such draws would give too narrow bounds to few cases.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from leaklore.analysis import costs, leaks
from leaklore.analysis.intervals import Spread, share_of_sum, spread
from leaklore.analysis.patterns.exposure import Fleet
from leaklore.analysis.patterns.rates import Floats
from leaklore.analysis.patterns.spent import (
    CameBack,
    Misread,
    TechniqueCost,
    came_back,
    case_cost,
    case_hours,
    kilograms,
    misread,
    refrigerant_cost,
    techniques,
)
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import Case, Company

MEASURES = ("cases", "lost", "co2e", "hours", "money", "callbacks")
"""cases; kg; t CO2e (IPCC AR4); h of search and repair; the company's currency; repairs that came back."""
DRAWS = 500
SEED = 20210101
"""Fixed, so that two builds of one library show the same intervals."""


@dataclass(frozen=True)
class ModeCost:
    """The cases whose main cause is this failure mode. `sums` and `told` (cases that tell it in full) by measure."""

    mode: str
    cases: tuple[Case, ...]
    sums: Mapping[str, float]
    told: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Bar:
    """One mode in a Pareto order: its value, its share of the total and the share of all down to it, each with 95 %.

    `first` is the share of draws in which it stood first.
    """

    mode: str
    value: float
    share: float
    low: float
    high: float
    running: float
    running_low: float
    running_high: float
    first: float


@dataclass(frozen=True)
class YearCost:
    """The cases reported in a calendar year, proven or not. `sums` by measure; `search`, `repair` and `refrigerant` are the
    parts of the money as far as told. `whole`: was all of the year under watch?
    """

    year: int
    whole: bool
    cases: tuple[Case, ...]
    sums: Mapping[str, float]
    search: float
    repair: float
    refrigerant: float


@dataclass(frozen=True)
class Costs:
    """Everything that the page of costs shows. `unproven` is the row of the cases whose cause was never proven.

    `unpriced` are refrigerants that were lost and have no price; `overnight` steps that ran on their own; `isolation`
    minutes of the company's own section isolations.
    """

    currency: str
    cases: int
    modes: tuple[ModeCost, ...]
    unproven: ModeCost
    bars: Mapping[str, tuple[Bar, ...]]
    misread: tuple[Misread, ...]
    misread_minutes: Spread | None
    came_back: tuple[CameBack, ...]
    looked_at: int
    techniques: tuple[TechniqueCost, ...]
    isolation: Spread | None
    unpriced: tuple[str, ...]
    overnight: int
    years: tuple[YearCost, ...]


def money(library: Library, fleet: Fleet) -> Costs:
    """What the leaks of the fleet's cases cost; cases of systems that are not registered count, too."""
    company, guide = library.company, library.guide
    known = {x.case.id: x.case for x in fleet.leaks}
    known |= {c.id: c for cases in fleet.apart.values() for c in cases}
    cases = [known[key] for key in sorted(known)]
    values, told = _values(cases, company, guide)
    proven = np.array([c.counted for c in cases], dtype=bool)
    counted = [c for c in cases if c.counted]
    modes = sorted({c.cause.mode for c in counted})
    table, full = values[proven], told[proven]
    of = np.array([modes.index(c.cause.mode) for c in counted], dtype=np.intp)
    rows = tuple(_row(mode, np.flatnonzero(of == i), counted, table, full) for i, mode in enumerate(modes))
    open_cases = [c for c in cases if not c.counted]
    astray = [c for c in cases if c.first_diagnosis]
    unpriced = {c.equipment.refrigerant for c in cases if c.equipment.refrigerant and kilograms(c)}
    by_technique, isolation = techniques(cases, library)
    return Costs(
        currency=company.currency,
        cases=len(counted),
        modes=rows,
        unproven=_row("", np.arange(len(open_cases)), open_cases, values[~proven], told[~proven]),
        bars=_bars(modes, of, table),
        misread=misread(astray, company),
        misread_minutes=spread(
            [c.first_diagnosis.minutes for c in astray if c.first_diagnosis and c.first_diagnosis.minutes]
        ),
        came_back=came_back(cases, library),
        looked_at=sum(c.fix_held is not None for c in cases),
        techniques=by_technique,
        isolation=isolation,
        unpriced=tuple(sorted(unpriced - set(company.refrigerant_price))),
        overnight=sum(s.minutes > costs.SHIFT for c in cases for s in c.search),
        years=_years(cases, values, fleet, company, guide),
    )


def _years(
    cases: Sequence[Case], table: Floats, fleet: Fleet, company: Company, guide: Guide
) -> tuple[YearCost, ...]:
    """Every year from the first report to the last, those without a case, too; `table` as of `_values`."""
    if not cases:
        return ()
    of = np.array([case.reported.year for case in cases])
    out = []
    for year in range(int(of.min()), int(of.max()) + 1):
        at = np.flatnonzero(of == year)
        mine = tuple(cases[int(i)] for i in at)
        whole = fleet.since <= dt.date(year, 1, 1) and dt.date(year, 12, 31) <= fleet.until
        sums = dict(zip(MEASURES, map(float, table[at].sum(axis=0)), strict=True))
        search = sum(costs.search_cost(c, company, guide) for c in mine)
        repair = sum(costs.repair_cost(c, company) or 0.0 for c in mine)
        gas = sum(refrigerant_cost(c, company) or 0.0 for c in mine)
        out.append(YearCost(year, whole, mine, sums, search, repair, gas))
    return tuple(out)


def _values(cases: Sequence[Case], company: Company, guide: Guide) -> tuple[Floats, Floats]:
    """Cases x MEASURES: the value as far as told, and 1 where it is told in full."""
    table, full = np.zeros((len(cases), len(MEASURES))), np.zeros((len(cases), len(MEASURES)))
    for i, case in enumerate(cases):
        warming = leaks.co2e(case, guide)
        (hours, all_hours), (total, all_money) = case_hours(case, guide), case_cost(case, company, guide)
        lost = case.lost.si if case.lost else None
        table[i] = 1, lost or 0.0, warming or 0.0, hours, total, case.fix_held is False
        full[i] = 1, lost is not None, warming is not None, all_hours, all_money, case.fix_held is not None
    return table, full


def _row(mode: str, at: Any, cases: Sequence[Case], table: Floats, full: Floats) -> ModeCost:
    sums, told = table[at].sum(axis=0), full[at].sum(axis=0)
    return ModeCost(
        mode,
        tuple(cases[i] for i in at),
        {key: float(sums[i]) for i, key in enumerate(MEASURES)},
        {key: int(told[i]) for i, key in enumerate(MEASURES)},
    )


def draw_sums(of: Any, table: Floats, groups: int, draws: int = DRAWS, seed: int = SEED) -> Floats:
    """draws x groups x measures: sums by group (`of`, a number a row) of rows drawn with replacement."""
    rng = np.random.default_rng(seed)
    order = np.argsort(of, kind="stable")
    starts = np.searchsorted(of[order], np.arange(groups))
    rows = table[order]
    out = np.empty((draws, groups, table.shape[1]))
    for i in range(draws):
        times = np.bincount(rng.integers(len(rows), size=len(rows)), minlength=len(rows))
        out[i] = np.add.reduceat(rows * times[:, None], starts, axis=0)
    return out


def _bars(modes: Sequence[str], of: Any, table: Floats) -> dict[str, tuple[Bar, ...]]:
    """The Pareto order of each measure, greatest first; a measure that nobody told has no bars."""
    if not modes:
        return {}
    sums, squares = (np.stack([x[of == i].sum(axis=0) for i in range(len(modes))]) for x in (table, table**2))
    drawn = draw_sums(of, table, len(modes))
    out = {}
    for m, measure in enumerate(MEASURES):
        total = sums[:, m].sum()
        if total <= 0:
            continue
        order = np.lexsort((np.arange(len(modes)), -sums[:, m]))
        totals = drawn[:, :, m].sum(axis=1, keepdims=True)
        shares = np.divide(
            drawn[:, order, m], totals, out=np.zeros((len(drawn), len(modes))), where=totals > 0
        )
        value, square, told = sums[order, m], squares[order, m], int((table[:, m] > 0).sum())
        low, high = share_of_sum(value, total, square, square.sum(), told)
        running = value.cumsum() / total
        run_low, run_high = share_of_sum(value.cumsum(), total, square.cumsum(), square.sum(), told)
        run_low[running > 1 - 1e-12] = 1.0  # all of it, whatever comes
        first = np.bincount(shares.argmax(axis=1), minlength=len(modes)) / len(drawn)
        out[measure] = tuple(
            Bar(
                modes[i],
                float(sums[i, m]),
                float(sums[i, m] / total),
                float(low[at]),
                float(high[at]),
                float(running[at]),
                float(run_low[at]),
                float(run_high[at]),
                float(first[at]),
            )
            for at, i in enumerate(order)
            if sums[i, m] > 0
        )
    return out


def costs_data(found: Costs) -> dict[str, Any]:
    """What data/costs.json holds: sums by failure mode, shares with intervals, wrong first diagnoses, repairs that
    did not hold, techniques. Money in `currency`, `lost` kg, `co2e` t, `hours` h, `minutes` min."""

    def plain(values: Mapping[str, float]) -> dict[str, float]:
        return {key: round(value, 3) for key, value in values.items()}

    share = {
        (measure, bar.mode): [round(v, 4) for v in (bar.share, bar.low, bar.high)]
        for measure, bars in found.bars.items()
        for bar in bars
    }
    return {
        "version": 1,
        "currency": found.currency,
        "modes": [
            {
                "mode": row.mode,
                "cases": [c.id for c in row.cases],
                "sums": plain(row.sums),
                "told": dict(row.told),
                "shares": {m: share[m, row.mode] for m in MEASURES if (m, row.mode) in share},
            }
            for row in found.modes
        ],
        "years": [
            {
                "year": x.year,
                "whole": x.whole,
                "cases": [c.id for c in x.cases],
                "sums": plain(x.sums),
                "money": plain({"search": x.search, "repair": x.repair, "refrigerant": x.refrigerant}),
            }
            for x in found.years
        ],
        "first_diagnoses": [
            {
                "taken_for": x.taken_for,
                "was": x.was,
                "cases": [c.id for c in x.cases],
                "minutes": x.minutes,
                "money": round(x.money, 2),
            }
            for x in found.misread
        ],
        "did_not_hold": [
            {
                "case": x.case.id,
                "mode": x.case.cause.mode,
                "repair": None if x.repair is None else round(x.repair, 2),
                "next_visit": x.visit.id if x.visit else None,
                "next_visit_money": None if x.visit_money is None else round(x.visit_money, 2),
            }
            for x in found.came_back
        ],
        "techniques": [
            {
                "technique": x.technique,
                "steps": x.steps,
                "minutes": plain(x.minutes),
                "money": plain(x.money),
                "avoided": [c.id for c in x.avoided],
                "avoided_minutes": x.avoided_minutes,
                "avoided_money": None if x.avoided_money is None else round(x.avoided_money, 2),
            }
            for x in found.techniques
        ],
    }
