"""Who could leak, and for how long: the register's systems over the time in which leaks were put on record.

A rate needs both. A system counts from its installation, but not before the day from which every leak was recorded,
until its removal or the day of the edition. So an old system enters late, at the age that it then had.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from leaklore.language import later
from leaklore.records.library import Library
from leaklore.records.model import Case, System

DAYS_A_YEAR = 365.25
MONTH = 31
"""d; a month of installation or removal is known to half of this, so that a leak may lie that far outside."""

APART = later(
    {
        "unproven": "the cause is not proven to the point",
        "not-registered": "the system is not in the register",
        "no-install-date": "the register does not know when it was installed",
        "outside": "reported before leaks were put on record, or outside the life of the system",
    }
)
"""Why a case stands apart from the rates, by key."""


def years(start: dt.date, end: dt.date) -> float:
    """Years of 365.25 days between two days."""
    return (end - start).days / DAYS_A_YEAR


@dataclass(frozen=True, slots=True)
class Watched:
    """A system from the day on which it came under watch to the day on which it left; `installed` is its birth."""

    system: System
    installed: dt.date
    start: dt.date
    end: dt.date

    @property
    def years(self) -> float:
        """System-years under watch."""
        return years(self.start, self.end)

    @property
    def entry(self) -> float:
        """Age in years at the start of the watch."""
        return years(self.installed, self.start)

    @property
    def exit(self) -> float:
        """Age in years at the end of the watch."""
        return years(self.installed, self.end)


@dataclass(frozen=True, slots=True)
class Leak:
    """One leak that counts: a proven cause of a case on a watched system. `age` in years at the report."""

    case: Case
    mode: str
    component: str
    watched: Watched
    day: dt.date

    @property
    def age(self) -> float:
        """Age of the system in years, inside its watch."""
        return years(self.watched.installed, self.day)


@dataclass(frozen=True)
class Fleet:
    """Systems under watch from `since` to `until`, their leaks by day, and the cases that stand apart, by reason.

    A case with two proven causes of different modes is two leaks; twice the same mode is one.
    """

    since: dt.date
    until: dt.date
    watched: tuple[Watched, ...]
    leaks: tuple[Leak, ...]
    apart: Mapping[str, tuple[Case, ...]]
    undated: tuple[System, ...] = ()

    @cached_property
    def years(self) -> float:
        """System-years of all."""
        return sum(w.years for w in self.watched)

    @cached_property
    def modes(self) -> tuple[str, ...]:
        """Failure modes that leaked, in the order of their keys."""
        return tuple(sorted({leak.mode for leak in self.leaks}))


def watch_begins(library: Library) -> dt.date | None:
    """The company's `records_since`, else the first day of the month of the oldest report; None without a case."""
    said = library.company.records_since
    if said is not None or not library.active:
        return said
    return min(c.reported for c in library.active).replace(day=1)


def fleet(library: Library, today: dt.date, branch: str | None = None, since: dt.date | None = None) -> Fleet:
    """The systems of the register under watch until `today`, of one branch if asked, not before `since`."""
    begins = max(filter(None, (watch_begins(library), since)), default=today)
    begins = min(begins, today)
    watched: dict[str, Watched] = {}
    undated = []
    for system in library.systems.values():
        if branch is not None and system.site.branch != branch:
            continue
        installed = system.equipment.installed
        if installed is None:
            undated.append(system)
            continue
        start = max(installed.day, begins)
        end = min(system.removed.day, today) if system.removed else today
        if start < end:
            watched[system.id] = Watched(system, installed.day, start, end)
    leaks: list[Leak] = []
    apart: dict[str, list[Case]] = {key: [] for key in APART}
    for case in library.active:
        if (branch is not None and case.branch != branch) or (since is not None and case.reported < since):
            continue
        reason = _reason(case, watched, begins)
        if reason:
            apart[reason].append(case)
            continue
        assert case.system is not None
        under = watched[case.system.id]
        day = min(max(case.reported, under.start), under.end)
        leaks += [Leak(case, cause.mode, cause.component, under, day) for cause in case.proven]
    leaks.sort(key=lambda x: (x.day, x.case.id, x.mode))
    return Fleet(
        begins,
        today,
        tuple(watched.values()),
        tuple(leaks),
        {key: tuple(cases) for key, cases in apart.items()},
        tuple(undated),
    )


def _reason(case: Case, watched: Mapping[str, Watched], begins: dt.date) -> str | None:
    """Why a case stands apart; None where its leaks count."""
    if not case.proven:
        return "unproven"
    if case.system is None:
        return "not-registered"
    if case.system.equipment.installed is None:
        return "no-install-date"
    under = watched.get(case.system.id)
    slack = dt.timedelta(days=MONTH)
    if (
        under is None
        or case.reported < begins
        or not under.start - slack <= case.reported <= under.end + slack
    ):
        return "outside"
    return None
