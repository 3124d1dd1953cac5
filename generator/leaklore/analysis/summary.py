"""What a group of cases has in common: the figures at the head of every guide page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import compress

import numpy as np
import numpy.typing as npt

from leaklore.analysis import costs, leaks
from leaklore.analysis.intervals import Share, Spread, spread, wilson
from leaklore.records.guide import Guide
from leaklore.records.library import Library, group
from leaklore.records.model import PROOFS, YEAR, Case, Company

Floats = npt.NDArray[np.float64]
Rows = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Summary:
    """Figures over the counted cases of a group; all spreads are None where no case has the value.

    Units: lost kg; lost_share share of the full charge; leak_rate kg/s; minutes min;
    cost in the company's currency; age years; annual_share share of the full charge a year;
    co2e t CO2e of the charge lost by IPCC AR4 (None without a guide).
    """

    cases: tuple[Case, ...]
    counted: tuple[Case, ...]
    by_proof: Mapping[str, int]
    lost: Spread | None
    lost_share: Spread | None
    leak_rate: Spread | None
    minutes: Spread | None
    cost: Spread | None
    held: Share | None
    age: Spread | None
    modes: tuple[tuple[str, int], ...]
    components: tuple[tuple[str, int], ...]
    symptoms: tuple[tuple[str, int], ...]
    refrigerants: tuple[tuple[str, int], ...]
    settings: tuple[tuple[str, int], ...]
    annual_share: Spread | None = None
    co2e: Spread | None = None
    total_co2e: float = 0.0


class _Named:
    """What a table of names says of each case: how often each name occurs in some of its rows, the commonest first."""

    def __init__(self, told: Sequence[Sequence[str | None]]) -> None:
        self._names = sorted({name for row in told for name in row if name})
        place = {name: i for i, name in enumerate(self._names)}
        self._counts = np.zeros((len(told), len(self._names)), np.uint8)
        for i, row in enumerate(told):
            for name in row:
                if name:
                    self._counts[i, place[name]] += 1

    def tally(self, rows: Rows) -> tuple[tuple[str, int], ...]:
        """(name, number of times) of the names that occur; of equals the first by name goes first."""
        counts = self._counts[rows].sum(0, dtype=np.int64)
        order = np.argsort(-counts, kind="stable")
        return tuple((self._names[i], n) for i, n in zip(order, counts[order].tolist(), strict=True) if n)


def annual_share(case: Case) -> float | None:
    """Share of the full charge lost in a year at the rate at which it leaked."""
    if case.leak_rate is None or case.equipment.charge is None or case.equipment.charge.si <= 0:
        return None
    return case.leak_rate * YEAR / case.equipment.charge.si


class Ledger:
    """What summaries read of cases, found once for all the groups that a case is in."""

    def __init__(self, cases: Sequence[Case], company: Company, guide: Guide | None = None) -> None:
        self.number = {c.id: n for n, c in enumerate(cases)}
        self.active = np.array([c.withdrawn is None for c in cases], dtype=bool)
        self.counted = np.array([c.counted for c in cases], dtype=bool)
        counted = list(compress(cases, self.counted.tolist()))

        def column(value: Callable[[Case], float | None]) -> Floats:
            found = np.full(len(cases), np.nan)
            found[self.counted] = [np.nan if (v := value(c)) is None else v for c in counted]
            return found

        self.lost = column(lambda c: c.lost.si if c.lost else None)
        self.lost_share = column(lambda c: c.lost_share)
        self.leak_rate = column(lambda c: c.leak_rate)
        self.minutes = column(costs.minutes_to_find)
        self.cost = column(lambda c: costs.repair_cost(c, company))
        self.held = column(lambda c: c.fix_held)
        self.age = column(lambda c: c.age_at_leak)
        self.annual_share = column(annual_share)
        self.co2e = column(lambda c: leaks.co2e(c, guide) if guide else None)
        self.proofs = _Named([(c.cause.proof,) for c in cases])
        self.modes = _Named([(c.cause.mode,) for c in cases])
        self.components = _Named([(c.cause.component,) for c in cases])
        self.symptoms = _Named([c.symptoms for c in cases])
        self.refrigerants = _Named([(c.equipment.refrigerant,) for c in cases])
        self.settings = _Named([(c.equipment.setting,) for c in cases])

    def summarize(self, cases: Sequence[Case]) -> Summary:
        """Figures of a group of its cases; withdrawn ones are left out, and only proven ones count (see model.COUNTED)."""
        places = np.fromiter(map(self.number.__getitem__, (c.id for c in cases)), np.int64, len(cases))
        there = self.active[places]
        counts = there & self.counted[places]
        rows, levels = places[counts], dict(self.proofs.tally(places[there]))

        def told(column: Floats) -> Floats:
            values: Floats = column[rows]
            found: Floats = values[~np.isnan(values)]
            return found

        looked, tonnes = told(self.held), told(self.co2e)
        return Summary(
            cases=tuple(compress(cases, there.tolist())),
            counted=tuple(compress(cases, counts.tolist())),
            by_proof={level: levels.get(level, 0) for level in PROOFS},
            lost=spread(told(self.lost)),
            lost_share=spread(told(self.lost_share)),
            leak_rate=spread(told(self.leak_rate)),
            minutes=spread(told(self.minutes)),
            cost=spread(told(self.cost)),
            held=wilson(int(looked.sum()), len(looked)),
            age=spread(told(self.age)),
            modes=self.modes.tally(rows),
            components=self.components.tally(rows),
            symptoms=self.symptoms.tally(rows),
            refrigerants=self.refrigerants.tally(rows),
            settings=self.settings.tally(rows),
            annual_share=spread(told(self.annual_share)),
            co2e=spread(tonnes),
            total_co2e=sum(tonnes.tolist()),
        )

    def of_groups(self, groups: Mapping[str, Sequence[Case]], keys: Iterable[str]) -> dict[str, Summary]:
        """Summary of each key, an empty one where no case has it."""
        return {key: self.summarize(groups.get(key, ())) for key in keys}


def summarize(cases: Sequence[Case], company: Company, guide: Guide | None = None) -> Summary:
    """Figures of one group alone; see `Ledger.summarize`."""
    return Ledger(cases, company, guide).summarize(cases)


def of_library(library: Library) -> dict[str, dict[str, Summary]]:
    """Summaries by kind of page and key; of failure modes by the main cause of the case."""
    ledger = Ledger(library.active, library.company, library.guide)
    guide, terms = library.guide, library.vocabulary.terms
    main_mode = group(library.active, lambda c: (c.cause.mode,))
    component = group(library.active, lambda c: (c.cause.component,))
    return {
        "mode": ledger.of_groups(main_mode, guide.modes),
        "technique": ledger.of_groups(library.by_technique, guide.techniques),
        "symptom": ledger.of_groups(library.by_symptom, guide.symptoms),
        "component": ledger.of_groups(component, guide.components),
        "refrigerant": ledger.of_groups(library.by_refrigerant, guide.refrigerants),
        "setting": ledger.of_groups(library.by_setting, terms["settings"]),
        "branch": ledger.of_groups(library.by_branch, library.company.branches),
    }
