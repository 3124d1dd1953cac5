"""Quantities for readers: the company's units first, the others beside."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import lru_cache

from leaklore import language
from leaklore.language import gettext, ngettext
from leaklore.records.model import YEAR, Company
from leaklore.records.quantity import ATMOSPHERE, Quantity

LB, OZ, PSI, FOOT = 0.45359237, 0.028349523125, 6894.757293168361, 0.3048
_US = re.compile(
    r"lb|pound|oz|ounce|psi|°?F\b|degF|ft|foot|feet|inch|inHg|(?<![A-Za-z])in\b|['’′\"”″]|micron"
)
NARROW = "\u202f"


def number(value: float, digits: int = 2) -> str:
    """`digits` significant figures, at least all before the point, no trailing zeros, thousands apart."""
    if value == 0:
        return "0"
    size = abs(value)
    places = 0
    bound = 10 ** (digits - 1)
    while size < bound and places < 6:
        size *= 10
        places += 1
    text = f"{value:,.{places}f}".replace(",", NARROW)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def mass_us(kg: float) -> str:
    """lb, or oz below one pound."""
    return f"{number(kg / LB)} lb" if kg >= LB else f"{number(kg / OZ)} oz"


def mass_si(kg: float) -> str:
    """kg, or g below 0.1 kg."""
    return f"{number(kg)} kg" if kg >= 0.1 else f"{number(kg * 1000)} g"


def pressure_us(pascal: float) -> str:
    """psig, or micron for a vacuum."""
    if pascal < 0.5 * ATMOSPHERE:
        return f"{number(pascal / 0.1333223684, 3)} micron"
    return f"{number((pascal - ATMOSPHERE) / PSI, 3)} psig"


def pressure_si(pascal: float) -> str:
    """bar gauge, or Pa for a vacuum."""
    if pascal < 0.5 * ATMOSPHERE:
        return f"{number(pascal, 3)} Pa"
    return f"{number((pascal - ATMOSPHERE) / 1e5, 3)} bar"


def temperature_us(kelvin: float) -> str:
    """°F."""
    return f"{round(kelvin * 9 / 5 - 459.67)} °F"


def temperature_si(kelvin: float) -> str:
    """°C."""
    return f"{round(kelvin - 273.15)} °C"


def rate_us(kg_per_s: float) -> str:
    """oz a year, or lb a year from one pound."""
    kg = kg_per_s * YEAR
    return f"{number(kg / LB)} lb/yr" if kg >= LB else f"{number(kg / OZ)} oz/yr"


def rate_si(kg_per_s: float) -> str:
    """g a year, or kg a year from 1 kg."""
    kg = kg_per_s * YEAR
    return f"{number(kg)} kg/yr" if kg >= 1 else f"{number(kg * 1000)} g/yr"


def length_us(metre: float) -> str:
    """ft."""
    return f"{number(metre / FOOT)} ft"


def length_si(metre: float) -> str:
    """m."""
    return f"{number(metre)} m"


def minutes(value: float) -> str:
    """`48 min`, `2 h 5 min`, `3.2 days`."""
    whole = round(value)
    if whole < 120:
        return f"{whole} min"
    if whole < 24 * 60:
        hours, rest = divmod(whole, 60)
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days = number(whole / 1440)
    return ngettext("{days} day", "{days} days", 1 if days == "1" else 2).format(days=days)


def years(value: float) -> str:
    """Years, or months below two years."""
    if value >= 2:
        return gettext("{years} years").format(years=number(value))
    months = round(value * 12)
    return ngettext("{n} month", "{n} months", months).format(n=months)


def percent(share: float) -> str:
    """Whole per cent."""
    return f"{round(share * 100)}{NARROW}%"


def day(date: dt.date) -> str:
    """`3 February 2025`, in the language of the pages."""
    return language.day(date)


_PAIRS: dict[str, tuple[Callable[[float], str], Callable[[float], str]]] = {
    "mass": (mass_us, mass_si),
    "pressure": (pressure_us, pressure_si),
    "temperature": (temperature_us, temperature_si),
    "leak rate": (rate_us, rate_si),
    "length": (length_us, length_si),
}


class Display:
    """Formats for one company."""

    def __init__(self, company: Company) -> None:
        self.us_first = company.units == "us"
        self.currency = company.currency
        self.priced = company.labour_rate is not None
        """May money be shown?"""

    def both(self, si: float, dimension: str) -> str:
        """`3.2 lb (1.5 kg)`: a computed figure in both systems, the company's first."""
        us, metric = (form(si) for form in _PAIRS[dimension])
        first, second = (us, metric) if self.us_first else (metric, us)
        return f"{first} ({second})"

    def first(self, si: float, dimension: str) -> str:
        """A computed figure in the company's units only."""
        return _PAIRS[dimension][0 if self.us_first else 1](si)

    def like(self, dimension: str, reference: float) -> Callable[[float], str]:
        """A form in the unit that suits `reference`, so that a range does not change its unit midway."""
        return self._like(dimension, reference, self.us_first)

    def like_other(self, dimension: str, reference: float) -> Callable[[float], str]:
        """The same in the other system."""
        return self._like(dimension, reference, not self.us_first)

    @staticmethod
    def _like(dimension: str, reference: float, us: bool) -> Callable[[float], str]:
        per_year = YEAR if dimension == "leak rate" else 1.0
        kg = reference * per_year
        if us:
            unit, name = (LB, "lb") if kg >= LB else (OZ, "oz")
        else:
            unit, name = (1.0, "kg") if kg >= (1.0 if dimension == "leak rate" else 0.1) else (0.001, "g")
        tail = "/yr" if dimension == "leak rate" else ""
        return lambda value: f"{number(value * per_year / unit)} {name}{tail}"

    def quantity(self, q: Quantity | None) -> str:
        """A recorded quantity: as written where it is in the company's units, the other system beside it."""
        return "" if q is None else _quantity(q.written, q.si, q.dimension, self.us_first)

    def money(self, amount: float) -> str:
        """Whole units of the currency."""
        return f"{amount:,.0f}".replace(",", NARROW) + f" {self.currency}"


@lru_cache(maxsize=20_000)
def _quantity(written: str, si: float, dimension: str, us_first: bool) -> str:
    tidy = _tidy(written)
    if dimension not in _PAIRS:
        return tidy
    us, metric = (form(si) for form in _PAIRS[dimension])
    if _US.search(written):
        return f"{tidy} ({metric})" if us_first else f"{metric} ({tidy})"
    return f"{us} ({tidy})" if us_first else f"{tidy} ({us})"


def _tidy(written: str) -> str:
    plain = " ".join(written.split())
    return re.sub(r"\s*deg([CF])\b", r" °\1", plain) if "deg" in plain else plain
