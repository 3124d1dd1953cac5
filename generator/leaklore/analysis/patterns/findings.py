"""All that the section Patterns says of a library, each part computed when it is first asked for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property

from leaklore.analysis.patterns.changes import Change, changes
from leaklore.analysis.patterns.exposure import Fleet, fleet
from leaklore.analysis.patterns.money import Costs, money
from leaklore.analysis.patterns.over_time import OverTime, over_time
from leaklore.analysis.patterns.recurrence import Recurrence, recurrence
from leaklore.analysis.patterns.signals import Signals, signals
from leaklore.analysis.patterns.survival import Survival, survival
from leaklore.analysis.patterns.watch_list import WatchList, watch_list
from leaklore.records.library import Library


@dataclass(frozen=True)
class Findings:
    """The patterns of a library on a day; of one branch, and of leaks since a day, where that is asked.

    What is expected, and what a change did, follows from the whole record whatever the day.
    """

    library: Library
    today: dt.date
    branch: str | None = None
    since: dt.date | None = None

    @cached_property
    def fleet(self) -> Fleet:
        """Systems under watch and their leaks."""
        return fleet(self.library, self.today, self.branch, self.since)

    @cached_property
    def record(self) -> Fleet:
        """The same without the day."""
        return fleet(self.library, self.today, self.branch) if self.since else self.fleet

    @cached_property
    def signals(self) -> Signals:
        """Groups that leak more than the rest."""
        return signals(self.fleet)

    @cached_property
    def recurrence(self) -> Recurrence:
        """What comes back."""
        return recurrence(self.fleet)

    @cached_property
    def survival(self) -> Survival:
        """Age at leak."""
        return survival(self.fleet)

    @cached_property
    def costs(self) -> Costs:
        """What it costs."""
        return money(self.library, self.fleet)

    @cached_property
    def changes(self) -> tuple[Change, ...]:
        """Before and after each change that the company made."""
        return changes(self.library, self.record)

    @cached_property
    def over_time(self) -> OverTime:
        """Leaks by quarter."""
        return over_time(self.fleet)

    @cached_property
    def watch_list(self) -> WatchList:
        """Systems to look at first."""
        return watch_list(self.library, self.record)
