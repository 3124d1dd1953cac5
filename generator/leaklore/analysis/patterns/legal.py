"""Systems over a legal threshold in the last twelve months, and what is due on them, from the records alone.

US: the leak rate on the day of each report by the rolling average method (40 CFR 82.152, 84.102). EU: repairs that
ask for another look within a month. The figures are those of trade/rules.yaml with their paragraphs. Local law and
the nameplate decide; a record that is missing here is missing in the rate, too.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from leaklore.analysis.patterns import detection_duty
from leaklore.analysis.patterns.detection_duty import Wanted, gas_of
from leaklore.analysis.patterns.exposure import Fleet, Watched
from leaklore.analysis.patterns.spent import kilograms
from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.trade import eu_rules, leak_rate, us_rules
from leaklore.trade.data import Citation
from leaklore.trade.months import add_months
from leaklore.trade.refrigerants import Refrigerant

LOOK_BACK = 365
"""d; reports of these days are judged."""

What = Literal["repair", "follow-up", "inspection", "chronic-report", "recheck", "leak-check"]
State = Literal["done", "late", "due", "overdue"]


@dataclass(frozen=True)
class Due:
    """Something that is due by `day` (`start`: not before). `done` when the records say that it was done, else None.

    A repair that was found leaking again is not done.
    """

    what: What
    day: dt.date
    source: Citation
    done: dt.date | None = None
    start: dt.date | None = None

    def state(self, today: dt.date) -> State:
        """done in time, done late, still due, or past its day without a record."""
        if self.done is not None:
            return "done" if self.done <= self.day else "late"
        return "due" if today <= self.day else "overdue"


@dataclass(frozen=True)
class Over:
    """A system whose rate passed the threshold of `rule`. `rate` share of the full charge in 365 days up to `case`.

    `light`: only if it does not belong to the excluded residential and light commercial air conditioning; ask.
    """

    watched: Watched
    case: Case
    rule: us_rules.Rule
    rate: float
    counted: tuple[Case, ...]
    light: bool
    dues: tuple[Due, ...]


@dataclass(frozen=True)
class Rechecked:
    """A repair on a system that Regulation (EU) 2024/573 takes, with its next looks. `check` is its leak-check interval."""

    watched: Watched
    case: Case
    check: eu_rules.Check
    dues: tuple[Due, ...]


@dataclass(frozen=True)
class Legal:
    """By the US rules, worst rate first, and by the EU's, newest repair first. `unknown` systems lack what a rule asks.

    `detection_us` and `detection_eu`: systems that are to have automatic leak detection.
    """

    us: tuple[Over, ...]
    eu: tuple[Rechecked, ...]
    unknown: int
    judged: int
    detection_us: tuple[Wanted, ...]
    detection_eu: tuple[Wanted, ...]


def legal(library: Library, fleet: Fleet) -> Legal:
    """Judges every system in use that had a report in the last LOOK_BACK days."""
    us: list[Over] = []
    eu: list[Rechecked] = []
    unknown = judged = 0
    for w in fleet.watched:
        history = [c for c in library.by_system.get(w.system.id, ()) if c.withdrawn is None]
        recent = [c for c in history if 0 <= (fleet.until - c.reported).days < LOOK_BACK]
        if w.end < fleet.until or not recent:
            continue
        gear = w.system.equipment
        gas, charge = gas_of(gear.refrigerant or "", library.guide), gear.charge
        if gas is None or charge is None or charge.si <= 0:
            unknown += 1
            continue
        judged += 1
        over = _over(w, gas, charge.si, history, recent, fleet.until)
        us += [over] if over else []
        eu += _rechecked(w, gas, charge.si, history, recent, fleet.until)
    us.sort(key=lambda x: (x.light, -x.rate, x.watched.system.id))
    eu.sort(key=lambda x: (-x.case.reported.toordinal(), x.case.id))
    wanted = (
        detection_duty.in_the_us(library, fleet.until),
        detection_duty.in_the_eu(library, fleet.until),
    )
    return Legal(tuple(us), tuple(eu), unknown, judged, *wanted)


def rolling_rate(
    history: Sequence[Case], full_charge: float, on: dt.date, since: dt.date | None = None
) -> tuple[float, tuple[Case, ...]]:
    """Share of the full charge added in the 365 days up to `on`, and the cases that count; oldest first in `history`.

    What a leak took counts as added on the day of its report, none before the day `since`. The last look that found a
    repair holding, with no other leak known, begins the count anew.
    """
    before = [c for c in history if c.reported <= on]
    verified = _verified(before, on)
    if since is not None:
        verified = max(filter(None, (verified, since - dt.timedelta(days=1))))
    additions = [leak_rate.Addition(c.reported, kilograms(c) or 0.0) for c in before]
    rate = leak_rate.rolling_average(additions, full_charge, on, verified)
    start = max(filter(None, (on - dt.timedelta(days=leak_rate.RULE_YEAR), verified)))
    return rate, tuple(c for c in before if c.reported > start)


def _verified(before: Sequence[Case], on: dt.date) -> dt.date | None:
    """Last day before `on` on which a repair was found holding and every leak reported by then was closed."""
    held = (look.date for c in before if c.fix_held for look in c.follow_up if look.result == "holding")
    whole = (
        day
        for day in held
        if day < on and all(c.closed is not None and c.closed <= day for c in before if c.reported <= day)
    )
    return max(whole, default=None)


def _over(
    w: Watched,
    gas: Refrigerant,
    charge: float,
    history: Sequence[Case],
    recent: Sequence[Case],
    today: dt.date,
) -> Over | None:
    """The system's newest report that passed a threshold; None where none did."""
    gear = w.system.equipment
    kind = us_rules.appliance(gear.kind or "", gear.setting or w.system.site.setting)
    for case in reversed(recent):
        for light in (None, False):  # as its kind says, then as if it were not excluded
            holding = [r for r in us_rules.rules(gas, charge, kind, case.reported, None, light) if r.holds]
            since = holding[0].counts_from if holding else None
            rate, counted = rolling_rate(history, charge, case.reported, since)
            found = us_rules.rules(gas, charge, kind, case.reported, rate, light)
            rule = next((r for r in found if r.over), None)
            if rule is not None:
                years = _years_under_a_rule(gas, charge, kind, light, today)
                dues = tuple(_us_dues(case, kind.kind, charge, history, today, years))
                return Over(w, case, rule, rate, counted, light is False, dues)
    return None


def _years_under_a_rule(
    gas: Refrigerant, charge: float, kind: us_rules.Appliance, light: bool | None, today: dt.date
) -> list[int]:
    """Of last year and this those at whose end a rule held for the system."""
    return [
        year
        for year in (today.year - 1, today.year)
        if any(r.holds for r in us_rules.rules(gas, charge, kind, dt.date(year, 12, 31), None, light))
    ]


def _us_dues(
    case: Case, kind: str, charge: float, history: Sequence[Case], today: dt.date, years: Sequence[int]
) -> list[Due]:
    """What is due after a rate over the threshold; `years` are those whose losses are to be reported."""
    repaired = case.closed if case.fix and case.fix_held is not False else None
    repair = us_rules.repair_by(case.reported)
    out = [Due("repair", repair.day, repair.source, repaired)]
    if repaired is not None:
        after = us_rules.follow_up_by(repaired)
        held = next((x.date for x in case.follow_up if x.date >= repaired), None)
        out.append(Due("follow-up", after.day, after.source, held))
    months, source = us_rules.inspection_months(kind, charge)
    out.append(Due("inspection", add_months(last_look(history, today), months), source))
    for year in years:
        lost = sum(kilograms(c) or 0.0 for c in history if c.reported.year == year)
        report = us_rules.chronic_report(lost, charge, year)
        if report is not None:
            out.append(Due("chronic-report", report.day, report.source))
    return out


def _rechecked(
    w: Watched,
    gas: Refrigerant,
    charge: float,
    history: Sequence[Case],
    recent: Sequence[Case],
    today: dt.date,
) -> list[Rechecked]:
    check = eu_rules.leak_check(gas, charge)  # hardly any that is repaired is hermetically sealed
    if check.months is None:
        return []
    out = []
    for case in recent:
        if case.fix is None or case.closed is None:
            continue
        first, last, source = eu_rules.recheck_window(case.closed, w.system.equipment.kind)
        next_check = add_months(last_look(history, today), check.months)
        dues = (
            Due(
                "recheck",
                last,
                source,
                next((x.date for x in case.follow_up if x.date >= first), None),
                first,
            ),
            Due("leak-check", next_check, check.source),
        )
        out.append(Rechecked(w, case, check, dues))
    return out


def last_look(history: Sequence[Case], today: dt.date) -> dt.date:
    """The last day, up to today, on which the records say that somebody was at the system."""
    days = [
        d for c in history for d in (c.reported, c.closed, *(x.date for x in c.follow_up)) if d is not None
    ]
    return max(d for d in days if d <= today)
