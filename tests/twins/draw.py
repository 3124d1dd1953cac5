"""Random arguments: mostly what a technician meets, now and then an edge, now and then what must be refused."""

from __future__ import annotations

import datetime as dt
import math
import random
from collections.abc import Callable, Sequence
from typing import Any

from leaklore.trade import refrigerants, tables

Draw = Callable[[random.Random], Any]
EDGE, BAD = 0.06, 0.04
"""Shares of the draws that take an edge, and a value to be refused."""
NONSENSE = (math.nan, math.inf, -math.inf, -1.0, 1e30)


def number(
    low: float, high: float, log: bool = False, edges: Sequence[float] = (), bad: Sequence[float] = NONSENSE
) -> Draw:
    """`low`..`high`; `bad` empty where the function does not check."""

    def draw(rng: random.Random) -> float:
        dice = rng.random()
        if bad and dice < BAD:
            return rng.choice(bad)
        if dice < BAD + EDGE:
            return rng.choice((low, high, *edges))
        if log:
            return math.exp(rng.uniform(math.log(low), math.log(high)))
        return rng.uniform(low, high)

    return draw


def limited(low: float, high: float, log: bool = False, edges: Sequence[float] = ()) -> Draw:
    """A number whose limits are `low` and `high`: just inside by rounding, and just outside."""
    nudge = 1e-10
    inside = (low - nudge * abs(low), high + nudge * abs(high))
    outside = (low - (1e-6 * abs(low) or 1e-6), high + 1e-6 * abs(high))
    return number(low, high, log, (*inside, *edges), (*NONSENSE, *outside))


def choice(*options: Any) -> Draw:
    """One of them."""
    return lambda rng: rng.choice(options)


def maybe(draw: Draw, share: float = 0.3, other: Any = None) -> Draw:
    """None (or `other`) now and then."""
    return lambda rng: other if rng.random() < share else draw(rng)


def day(first: str = "1994-01-01", last: str = "2031-12-31", edges: Sequence[str] = ()) -> Draw:
    """A day."""
    start, end = (dt.date.fromisoformat(text).toordinal() for text in (first, last))
    marks = (*edges, "2024-02-29", "2023-12-31", "2024-01-31", "2025-01-30")

    def draw(rng: random.Random) -> dict[str, str]:
        if rng.random() < 0.25:
            return {"$day": rng.choice(marks)}
        return {"$day": dt.date.fromordinal(rng.randint(start, end)).isoformat()}

    return draw


def dicts(**parts: Draw) -> Draw:
    """An object of draws."""
    return lambda rng: {name: draw(rng) for name, draw in parts.items()}


def listed(draw: Draw, least: int, most: int) -> Draw:
    """A list of draws."""
    return lambda rng: [draw(rng) for _ in range(rng.randint(least, most))]


KEYS = tuple(sorted(refrigerants.shipped()))


def refrigerant(rng: random.Random) -> dict[str, str]:
    """Any of the shipped ones."""
    return {"$refrigerant": rng.choice(KEYS)}


def gas(rng: random.Random) -> dict[str, list[float]]:
    """A gas state: a refrigerant's vapour or nitrogen as the tables have it, now and then as an ideal gas."""
    properties = tables.shipped()
    if rng.random() < 0.3:
        found = properties.nitrogen(
            rng.uniform(234, 338), math.exp(rng.uniform(math.log(1.2e5), math.log(1.3e7)))
        )
    else:
        one = refrigerants.shipped()[rng.choice(KEYS)]
        entry = properties.content["refrigerants"][one.key]["vapour"]
        kelvin = rng.uniform(entry["low"], entry["high"])
        dew = properties.dew(one, kelvin)
        assert isinstance(dew, float)
        found = properties.vapour(one, kelvin, rng.choice((dew, rng.uniform(0.2, 1.0) * dew)))
    if rng.random() < 0.15:
        found = found.as_ideal(rng.choice((1.0, 1.0 + 5e-8, 1.1, 1.4, 5 / 3)))
    return {
        "$gas": [
            found.molar_mass,
            found.temperature,
            found.pressure,
            found.exponent,
            found.compressibility,
            found.viscosity,
        ]
    }


TABLES: dict[str, bool] = {"$tables": True}
