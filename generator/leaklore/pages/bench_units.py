"""Units of the work bench: what a field takes, and how an answer is written.

The browser reads the same tables from data/bench.json and writes figures with the same rules, so that the example
made at build time and the live answer agree to the letter.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from leaklore.language import current, gettext, later
from leaklore.pages.display import NARROW, day
from leaklore.pages.display import number as plain
from leaklore.trade.units import (
    ATMOSPHERE,
    DAY,
    FOOT,
    GRAM_PER_YEAR,
    HOUR,
    INCH,
    INCH_MERCURY,
    MICRON,
    MILLIMETRE_MERCURY,
    OUNCE,
    OUNCE_PER_YEAR,
    POUND,
    PSI,
    YEAR,
)

System = Literal["us", "si", "both"]
MONTH = YEAR / 12
SMALL, LARGE = 1e-3, 1e6
"""Outside of these a figure is written with a power of ten."""
TIED = "\u00a0"
"""A figure and its unit stay on one line."""
_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


SINGULAR = later({"days": "day", "months": "month", "years": "year"})
"""Units that are written without their s after a single one."""
WORDS = later(
    {
        "days": "days",
        "months": "months",
        "years": "years",
        "hours": "hours",
        "an hour": "an hour",
        "litres": "litres",
        "micron": "micron",
        "inHg vacuum": "inHg vacuum",
        "thou": "thou",
        "psi absolute": "psi absolute",
        "bar absolute": "bar absolute",
        "% vol": "% vol",
    }
)
"""Names of units that are words; signs are the same in every language."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that a field takes: SI = value factor + offset; what counts down has a factor below zero. `key` stands in addresses, `name` on the page."""

    key: str
    name: str
    system: System
    factor: float
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """A unit that an answer is written in, up to `below` (SI; None: without end).

    `digits` significant figures, or `places` after the point where that is given.
    """

    name: str
    factor: float
    offset: float = 0.0
    below: float | None = None
    digits: int = 3
    places: int | None = None


@dataclass(frozen=True, slots=True)
class Dimension:
    """`units` of its fields; `us` and `si` how answers are written, the same where the trade has one way only."""

    units: tuple[Unit, ...]
    us: tuple[Step, ...]
    si: tuple[Step, ...]
    signed: bool = False


def _one(*steps: Step, units: tuple[Unit, ...] = (), signed: bool = False) -> Dimension:
    return Dimension(units, steps, steps, signed)


def dimensions(currency: str) -> Mapping[str, Dimension]:
    """Every dimension by its key."""
    span = (Step("days", DAY, 0, 2 * MONTH), Step("months", MONTH, 0, 2 * YEAR), Step("years", YEAR))
    gauge = (
        Unit("psig", "psig", "us", PSI, ATMOSPHERE),
        Unit("bar", "bar", "si", 1e5, ATMOSPHERE),
        Unit("kPa", "kPa", "si", 1e3, ATMOSPHERE),
    )
    below = Unit("inHg-vac", "inHg vacuum", "us", -INCH_MERCURY, ATMOSPHERE)
    pressure = ((Step("psig", PSI, ATMOSPHERE, digits=4),), (Step("bar", 1e5, ATMOSPHERE, digits=4),))
    time = (
        Step("s", 1, 0, 120),
        Step("min", 60, 0, 2 * HOUR),
        Step("h", HOUR, 0, 2 * DAY),
        Step("days", DAY, 0, 2 * YEAR),
        Step("years", YEAR),
    )
    return {
        "mass": Dimension(
            (
                Unit("lb", "lb", "us", POUND),
                Unit("oz", "oz", "us", OUNCE),
                Unit("kg", "kg", "si", 1),
                Unit("g", "g", "si", 1e-3),
            ),
            (Step("oz", OUNCE, 0, POUND), Step("lb", POUND)),
            (Step("g", 1e-3, 0, 0.1), Step("kg", 1)),
        ),
        "span": _one(
            *span,
            units=(
                Unit("month", "months", "both", MONTH),
                Unit("day", "days", "both", DAY),
                Unit("yr", "years", "both", YEAR),
            ),
        ),
        "time": _one(
            *time,
            units=(
                Unit("h", "hours", "both", HOUR),
                Unit("min", "min", "both", 60),
                Unit("day", "days", "both", DAY),
            ),
        ),
        "minutes": _one(*time, units=(Unit("min", "min", "both", 60), Unit("h", "hours", "both", HOUR))),
        "temperature": Dimension(
            (Unit("degF", "°F", "us", 5 / 9, 459.67 * 5 / 9), Unit("degC", "°C", "si", 1, 273.15)),
            (Step("°F", 5 / 9, 459.67 * 5 / 9, places=1),),
            (Step("°C", 1, 273.15, places=1),),
            signed=True,
        ),
        "kelvin": _one(Step("K", 1, digits=5)),
        "temperature-step": Dimension(
            (Unit("degF", "°F", "us", 5 / 9), Unit("K", "K", "si", 1)), (Step("°F", 5 / 9),), (Step("K", 1),)
        ),
        "pressure": Dimension(gauge, *pressure),
        "compound": Dimension((*gauge, below), *pressure),
        "absolute": Dimension(
            (), (Step("psi absolute", PSI, digits=4),), (Step("bar absolute", 1e5, digits=4),)
        ),
        "pressure-step": Dimension(
            (Unit("psi", "psi", "us", PSI), Unit("bar", "bar", "si", 1e5), Unit("kPa", "kPa", "si", 1e3)),
            (Step("psi", PSI),),
            (Step("bar", 1e5),),
        ),
        "vacuum": Dimension(
            (
                Unit("micron", "micron", "us", MICRON),
                Unit("Torr", "Torr", "us", MILLIMETRE_MERCURY),
                Unit("Pa", "Pa", "si", 1),
                Unit("mbar", "mbar", "si", 100),
            ),
            (Step("micron", MICRON),),
            (Step("Pa", 1),),
        ),
        "leak-rate": Dimension(
            (
                Unit("oz/yr", "oz/yr", "us", OUNCE_PER_YEAR),
                Unit("lb/yr", "lb/yr", "us", POUND / YEAR),
                Unit("g/yr", "g/yr", "si", GRAM_PER_YEAR),
                Unit("kg/yr", "kg/yr", "si", 1 / YEAR),
            ),
            (Step("oz/yr", OUNCE_PER_YEAR, 0, POUND / YEAR), Step("lb/yr", POUND / YEAR)),
            (Step("g/yr", GRAM_PER_YEAR, 0, 1 / YEAR), Step("kg/yr", 1 / YEAR)),
        ),
        "gas-flow": Dimension(
            (
                Unit("atm-cc/s", "atm cc/s", "us", ATMOSPHERE * 1e-6),
                Unit("Pa-m3/s", "Pa m³/s", "si", 1),
                Unit("mbar-l/s", "mbar l/s", "si", 0.1),
            ),
            (Step("atm cc/s", ATMOSPHERE * 1e-6),),
            (Step("Pa m³/s", 1),),
        ),
        "mbar-flow": _one(Step("mbar l/s", 0.1)),
        "length": Dimension(
            (Unit("ft", "ft", "us", FOOT), Unit("m", "m", "si", 1)), (Step("ft", FOOT),), (Step("m", 1),)
        ),
        "hole": Dimension(
            (),
            (Step("thou", INCH * 1e-3, digits=2),),
            (Step("µm", 1e-6, 0, 1e-3, digits=2), Step("mm", 1e-3, digits=2)),
        ),
        "room": Dimension(
            (Unit("ft3", "ft³", "us", FOOT**3), Unit("m3", "m³", "si", 1)),
            (Step("ft³", FOOT**3),),
            (Step("m³", 1),),
        ),
        "circuit": Dimension(
            (Unit("in3", "in³", "us", INCH**3), Unit("L", "litres", "si", 1e-3)),
            (Step("in³", INCH**3),),
            (Step("litres", 1e-3),),
        ),
        "air-change": _one(Step("an hour", 1), units=(Unit("1/h", "an hour", "both", 1),)),
        "concentration": _one(
            Step("ppm", 1e-6, 0, 0.1),
            Step("%", 0.01),
            units=(Unit("ppm", "ppm", "both", 1e-6), Unit("pct", "% vol", "both", 0.01)),
        ),
        "oxygen": _one(Step("%", 0.01), units=(Unit("pct", "% vol", "both", 0.01),)),
        "density": Dimension((), (Step("lb/1000 ft³", POUND / FOOT**3 / 1000),), (Step("g/m³", 1e-3),)),
        "share": _one(Step("%", 0.01), units=(Unit("pct", "%", "both", 0.01),)),
        "price": Dimension(
            (
                Unit("per-lb", f"{currency}/lb", "us", 1 / POUND),
                Unit("per-kg", f"{currency}/kg", "si", 1),
            ),
            (Step(f"{currency}/lb", 1 / POUND),),
            (Step(f"{currency}/kg", 1),),
        ),
        "money": _one(Step(currency, 1, digits=3)),
        "co2e": _one(Step("t CO₂e", 1)),
        "times": _one(Step("", 1, places=2)),
        "number": _one(Step("", 1)),
        "ratio": _one(Step("", 1, places=3)),
    }


def number(value: float, digits: int, places: int | None = None) -> str:
    """A figure as the bench writes it: `digits` significant, a power of ten for the very small and large."""
    size = abs(value)
    if size and not SMALL <= size < LARGE:
        mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
        mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
        text = f"{mantissa}{TIED}×{TIED}10{str(int(power)).translate(_SUPERSCRIPTS)}"
    elif places is not None:
        text = f"{value:,.{places}f}".replace(",", NARROW)
        text = text.rstrip("0").rstrip(".") if "." in text else text
        text = "0" if text == "-0" else text
    else:
        text = plain(value, digits)
    return text.replace("-", "−")


def singular() -> dict[str, str]:
    """Name of several units -> name of one, in the language of the site."""
    return {gettext(many): gettext(one) for many, one in SINGULAR.items()}


def spoken() -> dict[str, Any]:
    """What data/bench.json tells the browser of a language that is not English."""
    return {"language": current().tag, "singular": singular()}


def _word(name: str) -> str:
    return gettext(name) if name in WORDS else name


def named(d: Dimension) -> Dimension:
    """The dimension with its units in the language of the site."""
    units = tuple(replace(u, name=_word(u.name)) for u in d.units)
    us, si = (tuple(replace(s, name=_word(s.name)) for s in x) for x in (d.us, d.si))
    return Dimension(units, us, si, d.signed)


def _write(si: float, steps: tuple[Step, ...]) -> str:
    step = next((s for s in steps if s.below is None or abs(si) < s.below), steps[-1])
    value = (si - step.offset) / step.factor
    text = number(value, step.digits, step.places)
    if text == "1" and (one := singular().get(step.name)):
        return f"1{TIED}{one}"
    gap = NARROW if step.name == "%" else TIED
    return f"{text}{gap}{step.name.replace(' ', TIED)}".rstrip(TIED)


class Writer:
    """Writes answers in the company's units first."""

    def __init__(self, us_first: bool, currency: str) -> None:
        self.us_first = us_first
        self.dimensions = {key: named(d) for key, d in dimensions(currency).items()}

    def write(self, value: float | str, dimension: str, form: str = "both") -> str:
        """Text of an answer: `both` systems, the company's `first`, the `other`, or `us` or `si` for themselves.

        Text stays text, days are written out.
        """
        if isinstance(value, str):
            return day(dt.date.fromisoformat(value)) if dimension == "day" else value
        d = self.dimensions[dimension]
        if form in ("us", "si"):
            return _write(value, d.us if form == "us" else d.si)
        first, other = (d.us, d.si) if self.us_first else (d.si, d.us)
        if form != "both" or first == other:
            return _write(value, other if form == "other" else first)
        return f"{_write(value, first)} ({_write(value, other)})"

    def si(self, text: str, unit: str, dimension: str) -> float:
        """SI of a figure typed in a unit."""
        found = self.unit(unit, dimension)
        return float(text) * found.factor + found.offset

    def unit(self, key: str, dimension: str) -> Unit:
        """A unit by its key."""
        return next(u for u in self.dimensions[dimension].units if u.key == key)

    def ordered(self, dimension: str) -> list[Unit]:
        """Units of a field, the company's first."""
        system = "us" if self.us_first else "si"
        return sorted(self.dimensions[dimension].units, key=lambda u: u.system not in (system, "both"))

    def data(self) -> dict[str, Any]:
        """The tables for the browser."""
        return {key: asdict(d) for key, d in self.dimensions.items()}
