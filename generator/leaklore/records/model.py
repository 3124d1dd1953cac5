"""What a checked library holds: frozen records, quantities in SI with the written form beside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from leaklore.records.compact import Compact
from leaklore.records.quantity import Quantity

Proof = Literal["suspected", "section", "point", "held"]
Result = Literal["clean", "lead", "section", "pinpointed", "confirmed", "false-alarm"]
Audience = Literal["customer", "crew", "all"]
AUDIENCES: tuple[Audience, ...] = ("customer", "crew", "all")
"""For whom a site is made; who sees least comes first (records/audience.py)."""
PROOFS: tuple[Proof, ...] = ("suspected", "section", "point", "held")
COUNTED: frozenset[str] = frozenset({"point", "held"})
"""Proof levels that statistics count."""
YEAR = 31_557_600.0
"""s; Julian year of 365.25 days."""


@dataclass(frozen=True, slots=True)
class PartialDate(Compact):
    """A year, month or day: `written` as in the record; `day` its middle, for computing ages."""

    written: str
    day: dt.date


@dataclass(frozen=True, slots=True)
class LineSet(Compact):
    """Field-run tubes; `length` in m."""

    route: str | None = None
    length: Quantity | None = None
    liquid: str | None = None
    suction: str | None = None


@dataclass(frozen=True, slots=True)
class Equipment(Compact):
    """What leaked; fields are None where neither record nor register says."""

    setting: str | None = None
    kind: str | None = None
    family: str | None = None
    refrigerant: str | None = None
    charge: Quantity | None = None
    installed: PartialDate | None = None
    line_set: LineSet | None = None


@dataclass(frozen=True, slots=True)
class Site(Compact):
    """A place with one or more systems."""

    key: str
    name: str
    branch: str
    setting: str
    batch: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class System(Compact):
    """One refrigerant circuit of the register."""

    id: str
    site: Site
    name: str
    equipment: Equipment
    crew: str | None = None
    removed: PartialDate | None = None
    note: str | None = None

    @property
    def full_name(self) -> str:
        """Its site and its name there."""
        return f"{self.site.name}, {self.name}"


@dataclass(frozen=True, slots=True)
class Reading(Compact):
    """One number read at one place."""

    at: str
    by: str
    value: Quantity
    background: Quantity | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Instrument(Compact):
    """State of a detector on that day."""

    technique: str
    set_for: str | None = None
    alarm_at: Quantity | None = None
    verified: str | None = None
    warmed_up: bool | None = None


@dataclass(frozen=True, slots=True)
class SearchStep(Compact):
    """One technique at one or more places."""

    technique: str
    at: tuple[str, ...]
    minutes: int
    result: Result
    running: bool | None = None
    pressure: Quantity | None = None
    cost: Quantity | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Cause(Compact):
    """What leaked, where, and how well that is proven."""

    mode: str
    component: str
    proof: Proof
    contributing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FirstDiagnosis(Compact):
    """What it was wrongly taken for at first."""

    mode: str
    minutes: int | None = None
    cost: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Avoided(Compact):
    """A test that a detector made unnecessary."""

    technique: str
    because: str


@dataclass(frozen=True, slots=True)
class HoldTest(Compact):
    """Pressure or vacuum test after the fix; pressures Pa absolute, temperatures K, time s."""

    medium: str
    start: Quantity
    end: Quantity
    over: Quantity
    start_temp: Quantity | None = None
    end_temp: Quantity | None = None

    @property
    def expected(self) -> float | None:
        """Pa absolute that temperature alone explains (constant volume: P2 = P1 T2/T1); None without both."""
        if self.start_temp is None or self.end_temp is None or self.medium == "vacuum":
            return None
        return self.start.si * self.end_temp.si / self.start_temp.si


@dataclass(frozen=True, slots=True)
class Fix(Compact):
    """The repair."""

    action: str
    parts: Quantity | None = None
    labour: Quantity | None = None
    charge_added: Quantity | None = None
    hold_test: HoldTest | None = None


@dataclass(frozen=True, slots=True)
class FollowUp(Compact):
    """A later look at the repair."""

    date: dt.date
    result: Literal["holding", "leaking-again", "other-leak"]
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Photo(Compact):
    """A picture in photos/ID/."""

    file: str
    caption: str


@dataclass(frozen=True, slots=True)
class Related(Compact):
    """Another case that belongs here."""

    case: str
    how: str


@dataclass(frozen=True, slots=True)
class Withdrawn(Compact):
    """Why a record no longer counts."""

    date: dt.date
    why: str


class _Found:
    """Room for what a case has computed once: its fields have their own, in a third of the memory of a dict."""

    __slots__ = ("__dict__",)


@dataclass(frozen=True, slots=True)
class Case(Compact, _Found):
    """One leak, from the complaint to the proof that the fix held."""

    id: str
    title: str
    reported: dt.date
    branch: str
    equipment: Equipment
    symptoms: tuple[str, ...]
    search: tuple[SearchStep, ...]
    cause: Cause
    story: str
    path: str
    digest: str
    closed: dt.date | None = None
    crew: str | None = None
    system: System | None = None
    not_seen: tuple[str, ...] = ()
    ambient: Quantity | None = None
    conditions: tuple[str, ...] = ()
    lost: Quantity | None = None
    lost_over: Quantity | None = None
    topped_up: Quantity | None = None
    readings: tuple[Reading, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    avoided: Avoided | None = None
    first_diagnosis: FirstDiagnosis | None = None
    also_found: tuple[Cause, ...] = ()
    fix: Fix | None = None
    follow_up: tuple[FollowUp, ...] = ()
    related: tuple[Related, ...] = ()
    advice: str | None = None
    lesson: str | None = None
    photos: tuple[Photo, ...] = ()
    level: str | None = None
    topics: tuple[str, ...] = ()
    withdrawn: Withdrawn | None = None
    was: tuple[str, ...] = ()
    facts: str = ""
    """Digest of the record without its prose (story, advice, photos): what statistics and lists are made of."""

    @property
    def year(self) -> int:
        """Year of the report."""
        return self.reported.year

    @cached_property
    def counted(self) -> bool:
        """Do statistics count it? Proven to the point or held, and not withdrawn."""
        return self.withdrawn is None and self.cause.proof in COUNTED

    @cached_property
    def causes(self) -> tuple[Cause, ...]:
        """The cause and what was found beside it."""
        return (self.cause, *self.also_found)

    @cached_property
    def proven(self) -> tuple[Cause, ...]:
        """The causes that are proven, each failure mode once: what rates count as leaks."""
        found: dict[str, Cause] = {}
        for cause in self.causes:
            if cause.proof in COUNTED:
                found.setdefault(cause.mode, cause)
        return tuple(found.values())

    @cached_property
    def proven_components(self) -> frozenset[str]:
        """Components proven to leak in this case."""
        return frozenset(c.component for c in self.causes if c.proof in COUNTED)

    @cached_property
    def age_at_leak(self) -> float | None:
        """Years from installation to the report; None where the date of installation is unknown."""
        if self.equipment.installed is None:
            return None
        return (self.reported - self.equipment.installed.day).days / 365.25

    @cached_property
    def lost_share(self) -> float | None:
        """Share of the full charge lost (can pass 1 where it was topped up in between)."""
        if self.lost is None or self.equipment.charge is None or self.equipment.charge.si <= 0:
            return None
        return self.lost.si / self.equipment.charge.si

    @cached_property
    def leak_rate(self) -> float | None:
        """kg/s: charge lost over the time in which it was lost."""
        if self.lost is None or self.lost_over is None or self.lost_over.si <= 0:
            return None
        return self.lost.si / self.lost_over.si

    @cached_property
    def fix_held(self) -> bool | None:
        """True or False by the last follow-up that looked at this repair; None without one."""
        verdict: bool | None = None
        for look in self.follow_up:
            if look.result == "leaking-again":
                return False
            verdict = True  # holding, or another leak while this one held
        return verdict


@dataclass(frozen=True, slots=True)
class ReadingItem(Compact):
    """One thing to read or to do; `kind` and `key` name it. `computed`: it came by the list's `taken`."""

    kind: str
    key: str
    why: str
    computed: bool = False

    @property
    def name(self) -> str:
        """As lists write it: `case:KW-2025-014`."""
        return f"{self.kind}:{self.key}"


@dataclass(frozen=True, slots=True)
class Taken(Compact):
    """Which cases a reading list takes by itself: the `newest` that match; an empty field lets everything pass."""

    newest: int
    modes: tuple[str, ...] = ()
    techniques: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    level: str | None = None
    at_least_proof: Proof = "suspected"


@dataclass(frozen=True, slots=True)
class ReadingList(Compact):
    """Reading that a trainer assigns; `items` holds what was written and, after it, what `taken` found."""

    key: str
    title: str
    audience: str
    level: str
    items: tuple[ReadingItem, ...]
    due_days: int | None = None
    able_to: tuple[str, ...] = ()
    taken: Taken | None = None


@dataclass(frozen=True, slots=True)
class Company(Compact):
    """The company's own settings; `labour_rate` in the currency an hour, `refrigerant_price` in it a kilogram.

    `records_since` is the first day from which every leak was put on record; None where nobody said. `labour_rate` is None
    only where the audience of the site may not see it.
    """

    name: str
    units: Literal["us", "si"]
    currency: str
    labour_rate: Quantity | None
    branches: Mapping[str, str]
    crews: Mapping[str, str]
    about: str = ""
    site_url: str | None = None
    records_since: dt.date | None = None
    refrigerant_price: Mapping[str, Quantity] = field(default_factory=dict)
    language: str = "en"

    @property
    def hour(self) -> float:
        """What an hour of one technician costs. Raises ValueError where the audience of the site may not see it."""
        if self.labour_rate is None:
            raise ValueError("the labour rate is not for this audience")
        return self.labour_rate.si


@dataclass(frozen=True, slots=True)
class Action(Compact):
    """Something that the company changed on `date`, so that `modes` become rarer.

    `where` names what must be true of a system that it concerns, by key (branch, crew, kind, family, refrigerant,
    setting, batch, line_route, site); empty means every system. `applies_to`: every system of the group, or only
    those installed from the day on.
    """

    key: str
    date: dt.date
    what: str
    modes: tuple[str, ...]
    where: Mapping[str, str] = field(default_factory=dict)
    applies_to: Literal["all", "installs-after"] = "all"
    note: str | None = None
