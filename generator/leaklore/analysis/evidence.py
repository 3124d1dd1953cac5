"""What is known at a unit before the leak is found: the side of a case that a search starts from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from leaklore.records.model import YEAR, Case

EDGES: Mapping[str, tuple[float, ...]] = {
    "age": (0.5, 1.5, 3.0, 6.0, 10.0, 15.0),
    "rate": (0.3, 1.0, 3.0, 10.0, 40.0),
    "share": (0.3, 1.0, 3.0, 12.0),
}
"""Classes of age (years since installation), leak rate (kg/yr) and share of the charge lost (1/yr)."""
GROUPS = ("symptom", "absent", "condition", "setting", "kind", "refrigerant", "age", "rate", "share")
"""Kinds of finding, each of which gets a weight of its own in the model of causes."""


@dataclass(frozen=True, slots=True)
class Check:
    """A check that was made, or can't be: `result` is clean, found or skip; `at` names one or more places."""

    technique: str
    at: tuple[str, ...]
    result: str = "clean"


@dataclass(frozen=True, slots=True)
class Evidence:
    """Findings. `places` are where it shows, each one or more components it may mean.

    `age` years; `rate` kg/yr; `charge` kg of the full circuit; `named` and `ruled_out` are failure modes that
    somebody spoke of. Several `kinds` of equipment: one of these.
    """

    symptoms: frozenset[str] = frozenset()
    absent: frozenset[str] = frozenset()
    conditions: frozenset[str] = frozenset()
    setting: str | None = None
    kinds: tuple[str, ...] = ()
    refrigerant: str | None = None
    age: float | None = None
    rate: float | None = None
    charge: float | None = None
    places: tuple[tuple[str, ...], ...] = ()
    not_places: tuple[tuple[str, ...], ...] = ()
    named: frozenset[str] = frozenset()
    ruled_out: frozenset[str] = frozenset()
    checks: tuple[Check, ...] = field(default=())

    @property
    def share(self) -> float | None:
        """Share of the full charge lost in a year, 1/yr."""
        if self.rate is None or not self.charge:
            return None
        return self.rate / self.charge

    def findings(self) -> Iterator[tuple[str, str]]:
        """(group, key) of all that the model of causes weighs, in a fixed order; no kind where it may be several."""
        for group, keys in (
            ("symptom", self.symptoms),
            ("absent", self.absent),
            ("condition", self.conditions),
        ):
            yield from ((group, key) for key in sorted(keys))
        for group, key in (
            ("setting", self.setting),
            ("kind", self.kinds[0] if len(self.kinds) == 1 else None),
            ("refrigerant", self.refrigerant),
        ):
            if key is not None:
                yield group, key
        for group, value in (("age", self.age), ("rate", self.rate), ("share", self.share)):
            if value is not None:
                yield group, str(band(group, value))


def band(group: str, value: float) -> int:
    """Number of the class of EDGES that a value falls in."""
    return sum(value >= edge for edge in EDGES[group])


def of_case(case: Case) -> Evidence:
    """What was known when the search for a case's leak began."""
    gear = case.equipment
    return Evidence(
        symptoms=frozenset(case.symptoms),
        absent=frozenset(case.not_seen),
        conditions=frozenset(case.conditions),
        setting=gear.setting,
        kinds=(gear.kind,) if gear.kind else (),
        refrigerant=gear.refrigerant,
        age=case.age_at_leak,
        rate=None if case.leak_rate is None else case.leak_rate * YEAR,
        charge=gear.charge.si if gear.charge else None,
    )
