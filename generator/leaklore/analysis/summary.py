"""What a group of cases has in common: the figures at the head of every guide page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from leaklore.analysis import costs, leaks
from leaklore.analysis.intervals import Share, Spread, spread, wilson
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import PROOFS, YEAR, Case, Company


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

    @property
    def total_lost(self) -> float:
        """kg lost in the counted cases that tell it."""
        return sum(c.lost.si for c in self.counted if c.lost)


def _spread(cases: Iterable[Case], value: Callable[[Case], float | None]) -> Spread | None:
    return spread([v for v in map(value, cases) if v is not None])


def _tally(keys: Iterable[str | None]) -> tuple[tuple[str, int], ...]:
    counted = Counter(k for k in keys if k)
    return tuple(sorted(counted.items(), key=lambda kv: (-kv[1], kv[0])))


def annual_share(case: Case) -> float | None:
    """Share of the full charge lost in a year at the rate at which it leaked."""
    if case.leak_rate is None or case.equipment.charge is None or case.equipment.charge.si <= 0:
        return None
    return case.leak_rate * YEAR / case.equipment.charge.si


def summarize(cases: Sequence[Case], company: Company, guide: Guide | None = None) -> Summary:
    """Figures of a group; withdrawn cases are left out, and only proven ones count (see model.COUNTED)."""
    active = tuple(c for c in cases if c.withdrawn is None)
    counted = tuple(c for c in active if c.counted)
    levels = Counter(c.cause.proof for c in active)
    looked = [c.fix_held for c in counted if c.fix_held is not None]
    tonnes = [t for t in (leaks.co2e(c, guide) for c in counted) if t is not None] if guide else []
    return Summary(
        cases=active,
        counted=counted,
        by_proof={level: levels.get(level, 0) for level in PROOFS},
        lost=_spread(counted, lambda c: c.lost.si if c.lost else None),
        lost_share=_spread(counted, lambda c: c.lost_share),
        leak_rate=_spread(counted, lambda c: c.leak_rate),
        minutes=_spread(counted, costs.minutes_to_find),
        cost=_spread(counted, lambda c: costs.repair_cost(c, company)),
        held=wilson(sum(looked), len(looked)),
        age=_spread(counted, lambda c: c.age_at_leak),
        modes=_tally(c.cause.mode for c in counted),
        components=_tally(c.cause.component for c in counted),
        symptoms=_tally(s for c in counted for s in c.symptoms),
        refrigerants=_tally(c.equipment.refrigerant for c in counted),
        settings=_tally(c.equipment.setting for c in counted),
        annual_share=_spread(counted, annual_share),
        co2e=spread(tonnes),
        total_co2e=sum(tonnes),
    )


def by_main_mode(library: Library) -> dict[str, Summary]:
    """Summary of each failure mode of the guide, by the main cause of the case."""
    found: dict[str, list[Case]] = {key: [] for key in library.guide.modes}
    for case in library.active:
        found[case.cause.mode].append(case)
    return {key: summarize(cases, library.company, library.guide) for key, cases in found.items()}


def of_groups(
    groups: Mapping[str, Sequence[Case]], keys: Iterable[str], company: Company, guide: Guide | None = None
) -> dict[str, Summary]:
    """Summary of each key, an empty one where no case has it."""
    return {key: summarize(groups.get(key, ()), company, guide) for key in keys}
