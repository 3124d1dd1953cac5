"""The read-only store: every page, statistic and export reads from it and finds nothing for itself."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from leaklore.records.guide import Guide
from leaklore.records.model import Action, Audience, Case, Company, ReadingList, Site, System
from leaklore.records.vocabulary import Vocabulary

K = TypeVar("K", bound=Hashable)


def group(cases: Iterable[Case], keys: Callable[[Case], Iterable[K]]) -> dict[K, tuple[Case, ...]]:
    """Cases by key, each case once a key, in the given order."""
    out: dict[K, list[Case]] = defaultdict(list)
    for case in cases:
        for key in dict.fromkeys(keys(case)):
            out[key].append(case)
    return {key: tuple(found) for key, found in out.items()}


@dataclass(frozen=True)
class Library:
    """A checked library. `cases` are sorted by id; withdrawn ones are among them. `audience`: who may see what is in it."""

    root: Path
    company: Company
    guide: Guide
    vocabulary: Vocabulary
    sites: Mapping[str, Site]
    systems: Mapping[str, System]
    cases: tuple[Case, ...]
    reading: tuple[ReadingList, ...] = ()
    actions: tuple[Action, ...] = ()
    audience: Audience = "all"

    @cached_property
    def searched(self) -> bool:
        """Is it told how leaks were searched? Not where the audience may not see that."""
        return not self.cases or any(case.search for case in self.cases)

    @cached_property
    def by_id(self) -> Mapping[str, Case]:
        """Case by number."""
        return {case.id: case for case in self.cases}

    @cached_property
    def former(self) -> Mapping[str, Case]:
        """Case by a number that it had before."""
        return {old: case for case in self.cases for old in case.was}

    def case(self, number: str) -> Case | None:
        """The case of a number, be it one that it had before."""
        return self.by_id.get(number) or self.former.get(number)

    @cached_property
    def active(self) -> tuple[Case, ...]:
        """All that are not withdrawn."""
        return tuple(case for case in self.cases if case.withdrawn is None)

    @cached_property
    def counted(self) -> tuple[Case, ...]:
        """Those that statistics count."""
        return tuple(case for case in self.cases if case.counted)

    @cached_property
    def newest(self) -> tuple[Case, ...]:
        """By day of report, newest first."""
        return tuple(sorted(self.cases, key=lambda c: (c.reported, c.id), reverse=True))

    @cached_property
    def by_mode(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by failure mode of the cause and of what was found beside it."""
        return group(self.active, lambda c: (x.mode for x in c.causes))

    @cached_property
    def by_technique(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by technique used."""
        return group(self.active, lambda c: (s.technique for s in c.search))

    @cached_property
    def by_symptom(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by symptom seen."""
        return group(self.active, lambda c: c.symptoms)

    @cached_property
    def by_refrigerant(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by refrigerant."""
        return group(self.active, lambda c: (c.equipment.refrigerant,) if c.equipment.refrigerant else ())

    @cached_property
    def by_setting(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by setting."""
        return group(self.active, lambda c: (c.equipment.setting,) if c.equipment.setting else ())

    @cached_property
    def by_branch(self) -> Mapping[str, tuple[Case, ...]]:
        """Active cases by branch."""
        return group(self.active, lambda c: (c.branch,))

    @cached_property
    def by_system(self) -> Mapping[str, tuple[Case, ...]]:
        """Cases (withdrawn ones too: it is a history) by system number, oldest first."""
        return group(
            sorted(self.cases, key=lambda c: (c.reported, c.id)),
            lambda c: (c.system.id,) if c.system else (),
        )
