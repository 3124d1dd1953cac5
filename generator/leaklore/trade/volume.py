"""Volume of what is under test: tubes by their size, line sets, and a guess for a whole circuit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from leaklore.errors import LeakloreError
from leaklore.records.quantity import plain_size
from leaklore.trade import data
from leaklore.trade.data import Citation, citation
from leaklore.trade.units import INCH, positive, require

FILLED = 0.3
"""Share of a circuit's volume that the liquid of a full charge takes, by common practice 0.2 to 0.45."""


class UnknownTube(LeakloreError):
    """A tube size that is not in the tables."""


@dataclass(frozen=True, slots=True)
class Tube:
    """A tube by the table: `name` as written there, `outside` and `wall` in m."""

    name: str
    outside: float
    wall: float
    source: Citation

    @property
    def bore(self) -> float:
        """m; inside diameter."""
        return self.outside - 2 * self.wall

    @property
    def area(self) -> float:
        """m2; cross section of the bore."""
        return math.pi / 4 * self.bore**2

    def volume(self, length: float) -> float:
        """m3 of `length` m: pi/4 bore^2 length. Walls vary by about 10 %, so volumes by 3 to 8 %."""
        return self.area * require("length", length, 0.0, 5000.0, "m")


def _entries() -> Iterator[tuple[str, Tube]]:
    tables: Mapping[str, Any] = data.load("tubes")
    for name, unit, suffix in (("inch", INCH, " in"), ("inch_large", INCH, " in"), ("metric", 1e-3, " mm")):
        source = citation(tables[name])
        for size, tube in tables[name]["sizes"].items():
            yield size + suffix, Tube(size + suffix, tube["od"] * unit, tube["wall"] * unit, source)


@cache
def tubes() -> Mapping[str, Tube]:
    """All tubes by name, as "3/8 in" or "10 mm"."""
    return dict(_entries())


def tube(size: str) -> Tube:
    """Tube of a size as people write it: "3/8 in", "1 1/8 in", "1-1/8", "10 mm". Raises UnknownTube."""
    found = tubes().get(plain_size(size))
    if found is None:
        raise UnknownTube(f'"{size}" is not a tube size we know; write for example "3/8 in" or "10 mm"')
    return found


def line_set(liquid: str | None, suction: str | None, length: float) -> float:
    """m3 of the field-run tubes of a split system: both bores times `length` (m), each tube as long."""
    return sum(tube(size).volume(length) for size in (liquid, suction) if size is not None)


def circuit_guess(charge: float, liquid_density: float, filled: float = FILLED) -> float:
    """m3; guess of a circuit's volume from its full charge (kg): V = charge / (filled liquid density).

    `liquid_density` kg/m3 (about 1000 to 1200 for HFCs, 800 for carbon dioxide, 500 to 600 for hydrocarbons and
    ammonia). A guess by common practice, good to a factor of two; use tube sizes and component data where they are
    known.
    """
    require("filled share", filled, 0.1, 0.9, "")
    return positive("charge", charge, "kg") / (
        filled * require("density", liquid_density, 300.0, 1600.0, "kg/m3")
    )
