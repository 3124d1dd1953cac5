"""A check against a value from outside the project: what, by whom, how far it was read, and how close we are.

Marks: `published` = the value stands in the named document, which was read; `from-memory` = it is attributed to
the document, which was not opened; `reference-library` = computed by an independent library; `derived` =
plain arithmetic of a published formula, no printed result seen. Publishers that are companies are not named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import pytest

from leaklore.trade import refrigerants, tables
from leaklore.trade.gas import NoSaturation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import ATMOSPHERE, PSI

Mark = Literal["published", "from-memory", "reference-library", "derived"]
Value = float | int | str | bool | dt.date | None
R = refrigerants.shipped()
T = tables.shipped()


@dataclass(frozen=True)
class Check:
    """One comparison; `within` is absolute unless `relative`; anything but numbers must be equal."""

    what: str
    ours: Callable[[], Value]
    published: Value
    within: float
    source: str
    mark: Mark
    unit: str = ""
    relative: bool = False

    @property
    def id(self) -> str:
        """Short name for the test report."""
        return f"{self.what} [{self.mark}]"

    def difference(self) -> float | None:
        """Ours minus published, as a share of it if `relative`; None where they are no numbers."""
        ours, theirs = self.ours(), self.published
        if isinstance(ours, float | int) and isinstance(theirs, float | int) and not isinstance(ours, bool):
            return (ours - theirs) / theirs if self.relative else ours - theirs
        return None

    def hold(self) -> None:
        """Fails with both values and the source if they differ by more than allowed."""
        difference = self.difference()
        if difference is None:
            assert self.ours() == self.published, (
                f"{self.what}: {self.ours()!r} but {self.source}: {self.published!r}"
            )
            return
        assert abs(difference) <= self.within, (
            f"{self.what}: {self.ours()} {self.unit} but {self.source}: {self.published} {self.unit}"
        )


def each(checks: Iterable[Check]) -> pytest.MarkDecorator:
    """Parametrises a test by checks."""
    listed = list(checks)
    return pytest.mark.parametrize("check", listed, ids=[c.id for c in listed])


def fahrenheit(degrees: float) -> float:
    """K"""
    return (degrees + 459.67) * 5 / 9


def celsius(degrees: float) -> float:
    """K"""
    return degrees + 273.15


def psig(pascal: float) -> float:
    """psi above the standard atmosphere."""
    return (pascal - ATMOSPHERE) / PSI


def from_psig(value: float) -> float:
    """Pa absolute"""
    return value * PSI + ATMOSPHERE


def saturation(refrigerant: Refrigerant, kelvin: float, side: tables.Side = "bubble") -> float:
    """Pa absolute; fails above the critical temperature."""
    found = T.saturation(refrigerant, kelvin, side)
    assert not isinstance(found, NoSaturation)
    return found
