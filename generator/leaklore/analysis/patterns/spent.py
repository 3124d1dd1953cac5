"""What was spent for nothing, and on what: wrong first diagnoses, repairs that did not hold, techniques.

Also what one case cost in all, as far as its record tells.
"""

from __future__ import annotations

from array import array
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from leaklore.analysis import costs
from leaklore.analysis.intervals import Spread, spread
from leaklore.analysis.techniques import FOUND, covered
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import Case, Company, SearchStep

SOON = 90
"""d; a visit later than this after a failed repair was found is another story (judgement)."""
USES = ("found", "misled", "narrowed", "unknown")
"""What a search step did: found the leak or led to it; false alarm, or clean where it was; clean elsewhere; can't be
told, since the cause was never proven."""


@dataclass(frozen=True)
class Misread:
    """Cases first taken for `taken_for` that were `was`. `minutes` and `money` (working time, parts, refrigerant) are sums."""

    taken_for: str
    was: str
    cases: tuple[Case, ...]
    minutes: float
    money: float


@dataclass(frozen=True)
class CameBack:
    """A repair that did not hold: its own cost, and the next visit's whole cost (None where none is on record)."""

    case: Case
    repair: float | None
    visit: Case | None
    visit_money: float | None


@dataclass(frozen=True)
class TechniqueCost:
    """Minutes and money of all steps of a technique, and of those by what they did (keys USES).

    `avoided` cases in which it made a test unnecessary, with the minutes and money that those tests take here at the
    median; None where no such test is on record.
    """

    technique: str
    steps: int
    minutes: Mapping[str, float]
    money: Mapping[str, float]
    avoided: tuple[Case, ...]
    avoided_minutes: float | None
    avoided_money: float | None


def kilograms(case: Case) -> float | None:
    """kg of refrigerant that the leak took: the charge lost, else what was added; None where neither is told."""
    if case.lost is not None:
        return case.lost.si
    added = case.fix.charge_added if case.fix else None
    if added is None and case.topped_up is None:
        return None
    return (added.si if added else 0.0) + (case.topped_up.si if case.topped_up else 0.0)


def refrigerant_cost(case: Case, company: Company) -> float | None:
    """`kilograms` at the company's price of the refrigerant; None without amount or price."""
    mass, price = kilograms(case), company.refrigerant_price.get(case.equipment.refrigerant or "")
    return None if mass is None or price is None else mass * price.si


def case_cost(case: Case, company: Company, guide: Guide) -> tuple[float, bool]:
    """Search, repair and refrigerant of a case as far as told, and whether all three are told.

    Tests that ran overnight count with their setting up, see `costs.work_minutes`. What a wrong first diagnosis cost
    is not in it: its minutes may be among those of the search.
    """
    repair, gas = costs.repair_cost(case, company), refrigerant_cost(case, company)
    search = costs.search_cost(case, company, guide)
    return search + (repair or 0.0) + (gas or 0.0), repair is not None and gas is not None


def case_hours(case: Case, guide: Guide) -> tuple[float, bool]:
    """Working hours of search and repair as far as told, and whether the repair's are told."""
    labour = case.fix.labour if case.fix else None
    search = sum(costs.work_minutes(s, guide) for s in case.search) / 60
    return search + (labour.si / 3600 if labour else 0.0), labour is not None


def misread(cases: Sequence[Case], company: Company) -> tuple[Misread, ...]:
    pairs: dict[tuple[str, str], list[Case]] = defaultdict(list)
    for case in cases:
        assert case.first_diagnosis is not None
        pairs[case.first_diagnosis.mode, case.cause.mode].append(case)
    out = []
    for (taken_for, was), found in pairs.items():
        said = [c.first_diagnosis for c in found if c.first_diagnosis]
        minutes = float(sum(s.minutes or 0 for s in said))
        spent = sum(s.cost.si for s in said if s.cost)
        out.append(Misread(taken_for, was, tuple(found), minutes, minutes / 60 * company.hour + spent))
    return tuple(sorted(out, key=lambda x: (-x.money, x.taken_for, x.was)))


def came_back(cases: Sequence[Case], library: Library) -> tuple[CameBack, ...]:
    out = []
    for case in cases:
        if case.fix_held is not False:
            continue
        visit = next_visit(case, library)
        total = case_cost(visit, library.company, library.guide)[0] if visit else None
        out.append(CameBack(case, costs.repair_cost(case, library.company), visit, total))
    return tuple(sorted(out, key=lambda x: (-((x.repair or 0) + (x.visit_money or 0)), x.case.id)))


def next_visit(case: Case, library: Library) -> Case | None:
    """The case that followed a repair that did not hold.

    The one that either record names as related for that reason, else the next on the same system within SOON days
    after it was found leaking again.
    """
    again = next((look.date for look in case.follow_up if look.result == "leaking-again"), case.reported)
    history = library.by_system.get(case.system.id, ()) if case.system else ()
    later = [c for c in history if c.withdrawn is None and c.id != case.id and c.reported >= case.reported]
    named = {r.case for r in case.related if r.how == "repair-did-not-hold"}
    for other in later:
        if other.id in named or any(
            r.case == case.id and r.how == "repair-did-not-hold" for r in other.related
        ):
            return other
    return next((c for c in later if 0 <= (c.reported - again).days <= SOON), None)


def use(step: SearchStep, case: Case, guide: Guide) -> str:
    """Which of USES a search step was."""
    if step.result == "false-alarm":
        return "misled"
    if not case.counted:
        return "unknown"
    here = bool(covered(step, case, guide))
    if step.result == "clean":
        return "misled" if here else "narrowed"
    return "found" if here and step.result in FOUND else "misled"


class _Steps:
    """The steps of a technique, one after the other: working minutes and money of each, and sums by what they did."""

    def __init__(self) -> None:
        self.minutes, self.money = array("d"), array("d")
        self.minutes_of, self.money_of = dict.fromkeys(USES, 0.0), dict.fromkeys(USES, 0.0)

    def add(self, did: str, minutes: float, money: float) -> None:
        self.minutes.append(minutes)
        self.money.append(money)
        self.minutes_of[did] += minutes
        self.money_of[did] += money


def techniques(cases: Sequence[Case], library: Library) -> tuple[tuple[TechniqueCost, ...], Spread | None]:
    company, guide = library.company, library.guide
    steps: dict[str, _Steps] = defaultdict(_Steps)
    for case in cases:
        for step in case.search:
            steps[step.technique].add(
                use(step, case, guide),
                costs.work_minutes(step, guide),
                costs.step_cost(step, company, guide),
            )
    saved: dict[str, list[Case]] = defaultdict(list)
    for case in cases:
        if case.avoided:
            saved[case.avoided.because].append(case)

    @cache
    def middle(technique: str) -> tuple[float, float] | None:
        minutes, money = spread(steps[technique].minutes), spread(steps[technique].money)
        return (minutes.median, money.median) if minutes and money else None

    def of_avoided(technique: str) -> tuple[float | None, float | None]:
        """Minutes and money of the tests that it made unnecessary."""
        each = [middle(c.avoided.technique) for c in saved[technique] if c.avoided]
        told = [pair for pair in each if pair is not None]
        if not told or len(told) < len(each):
            return None, None
        return sum(minutes for minutes, _ in told), sum(money for _, money in told)

    out = [
        TechniqueCost(
            key,
            len(steps[key].minutes),
            steps[key].minutes_of,
            steps[key].money_of,
            tuple(saved[key]),
            *of_avoided(key),
        )
        for key in guide.techniques
        if steps[key].minutes or saved[key]
    ]
    return tuple(out), spread(steps["section-isolation"].minutes)
