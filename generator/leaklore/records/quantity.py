"""Quantities as people write them (`9 lb 8 oz`, `71 degF`, `400 psig`) and in SI.

Factors are pint's; each text is read by a small pattern, because a library holds hundreds of thousands of
quantities and pint's parser takes a hundred times as long.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from leaklore.errors import QuantityError
from leaklore.records.compact import Compact
from leaklore.records.near import did_you_mean

ATMOSPHERE = 101_325.0
"""Pa; added to gauge pressures (standard atmosphere, NIST SP 811 B.8)."""

EXAMPLES = {
    "mass": '"4 lb", "9 lb 8 oz" or "1.8 kg"',
    "pressure": '"400 psig", "38 bar", "500 micron" or "20 inHg vac"',
    "temperature": '"71 degF" or "4 degC"',
    "duration": '"14 months", "6 weeks" or "2 h"',
    "length": '"9 m" or "30 ft"',
    "money": '"6 USD"',
    "reading": '"85 ppm", "12 g/yr", "46 dB" or "480 micron"',
    "fraction": '"85 ppm"',
    "leak rate": '"12 g/yr"',
    "level": '"46 dB"',
}

_NAMES = {
    "mass": "a mass",
    "pressure": "a pressure",
    "temperature": "a temperature",
    "duration": "a time",
    "length": "a length",
    "money": "an amount of money",
    "fraction": "a concentration",
    "leak rate": "a leak rate",
    "level": "a sound level",
}

FACTORS: dict[str, float] = {
    "pound": 0.4535923700000001,
    "ounce": 0.028349523125000005,
    "kilogram": 1.0,
    "gram": 0.001,
    "tonne": 1000.0,
    "psi": 6894.7572931683635,
    "bar": 100000.0,
    "kilopascal": 1000.0,
    "megapascal": 1000000.0,
    "millibar": 100.0,
    "pascal": 1.0,
    "micrometer_Hg": 0.13332236842105263,
    "torr": 133.32236842105263,
    "inch_Hg": 3386.3886403409997,
    "second": 1.0,
    "minute": 60.0,
    "hour": 3600.0,
    "day": 86400.0,
    "week": 604800.0,
    "month": 2629800.0,
    "year": 31557600.0,
    "meter": 1.0,
    "centimeter": 0.01,
    "millimeter": 0.001,
    "foot": 0.30479999999999996,
    "inch": 0.0254,
    "ppm": 1e-06,
    "gram/year": 3.168808781402895e-11,
    "ounce/year": 8.983421782708446e-10,
    "dB": 1.0,
}
"""SI value of one unit by its name in pint, as pint has it: a test holds them to it. Loading pint takes half a second."""

# unit as written -> (dimension, pint unit); "+" marks what counts up from the pressure of the air, "-" what counts down
_UNITS: dict[str, tuple[str, str]] = {}


def _unit(dimension: str, pint_unit: str, *words: str) -> None:
    for word in words:
        _UNITS[word] = (dimension, pint_unit)


_unit("mass", "pound", "lb", "lbs", "pound", "pounds")
_unit("mass", "ounce", "oz", "ounce", "ounces")
_unit("mass", "kilogram", "kg")
_unit("mass", "gram", "g")
_unit("mass", "tonne", "t")
_unit("pressure", "+psi", "psig", "psi")
_unit("pressure", "+bar", "bar", "barg")
_unit("pressure", "+kilopascal", "kPa", "kPag")
_unit("pressure", "+megapascal", "MPa", "MPag")
_unit("pressure", "psi", "psia")
_unit("pressure", "bar", "bara")
_unit("pressure", "kilopascal", "kPaa")
_unit("pressure", "-inch_Hg", "inHg vac", "inHg vacuum")
_unit("pressure", "inch_Hg", "inHg abs", "inHg absolute", "inHga")
_unit("pressure", "millibar", "mbar", "hPa")
_unit("pressure", "pascal", "Pa")
_unit("pressure", "micrometer_Hg", "micron", "microns", "mTorr")
_unit("pressure", "torr", "torr", "Torr", "mmHg")
_unit("temperature", "degC", "degC", "°C", "C")
_unit("temperature", "degF", "degF", "°F", "F")
_unit("temperature", "kelvin", "K")
_unit("duration", "second", "s", "sec", "second", "seconds")
_unit("duration", "minute", "min", "minute", "minutes")
_unit("duration", "hour", "h", "hr", "hrs", "hour", "hours")
_unit("duration", "day", "d", "day", "days")
_unit("duration", "week", "wk", "week", "weeks")
_unit("duration", "month", "mo", "month", "months")
_unit("duration", "year", "yr", "year", "years")
_unit("length", "meter", "m")
_unit("length", "centimeter", "cm")
_unit("length", "millimeter", "mm")
_unit("length", "foot", "ft", "foot", "feet", "'", "’", "′")
_unit("length", "inch", "in", "inch", "inches", '"', "”", "″")
_unit("fraction", "ppm", "ppm")
_unit("leak rate", "gram/year", "g/yr", "g/a")
_unit("leak rate", "ounce/year", "oz/yr")
_unit("level", "dB", "dB")

_COMPOUND = {("pound", "ounce"), ("hour", "minute"), ("foot", "inch"), ("year", "month"), ("day", "hour")}
_FRACTION = r"(?:([0-9]+)(?:\s+|-))?([0-9]+)/([1-9][0-9]*)"
_WORD = r"(?:in\s+Hg|[A-Za-z°/]+)(?:\s+(?:vac|abs)[a-z]*)?|['’′\"”″]"
_TERM = re.compile(rf"(-?)(?:{_FRACTION}|([0-9]+(?:\.[0-9]+)?|\.[0-9]+))\s*({_WORD})")
_POWER_OF_TEN = re.compile(r"[0-9][eE][+-]?[0-9]")
_NUMBER_FIRST = re.compile(r"^-?[0-9.]")
_NUMBER = re.compile(r"-?[0-9.][0-9./\s-]*")
_FROM_WHERE = "inHg"
"""Inches of mercury are counted from the pressure of the air downwards, and from nothing upwards."""
_CURRENCY = re.compile(r"^(-?[0-9]+(?:\.[0-9]{1,2})?)\s*([A-Z]{3})$")
LONGEST = 500
"""Letters; over a longer text the pattern of terms would sit for minutes, and none is a quantity."""
READING_DIMENSIONS = ("fraction", "leak rate", "level", "pressure")


@dataclass(frozen=True, slots=True)
class Quantity(Compact):
    """A quantity: `written` as the person wrote it, `si` in SI units.

    SI units by dimension: mass kg; pressure Pa absolute; temperature K; duration s; length m;
    fraction mol/mol; leak rate kg/s; level dB; money in the unit of the currency.
    """

    written: str
    si: float
    dimension: str


def _to_si(number: float, dimension: str, pint_unit: str) -> float:
    if dimension == "temperature":
        if pint_unit == "degC":
            return number + 273.15
        if pint_unit == "degF":
            return (number + 459.67) * 5 / 9
        return number
    if pint_unit.startswith("+"):
        return number * FACTORS[pint_unit[1:]] + ATMOSPHERE
    if pint_unit.startswith("-"):
        return ATMOSPHERE - number * FACTORS[pint_unit[1:]]
    return number * FACTORS[pint_unit]


def _near(unit: str, dimension: str) -> str:
    wanted = READING_DIMENSIONS if dimension == "reading" else (dimension,)
    words = [w for w, (d, _) in _UNITS.items() if d in wanted]
    return did_you_mean(unit, words, f"write for example {EXAMPLES[dimension]}")


@lru_cache(maxsize=200_000)
def read(written: str, dimension: str) -> Quantity:
    """Reads `written` as a quantity of `dimension`; raises QuantityError with what to write.

    `dimension` is a key of EXAMPLES; "reading" takes a concentration, leak rate, sound level or pressure.
    """
    text = written.strip()
    example = EXAMPLES[dimension]
    if not text:
        raise QuantityError("is blank", f"write for example {example}")
    if len(text) > LONGEST:
        told = " ".join(text[:20].split())
        raise QuantityError(f'"{told}…" is too long for a quantity', f"write for example {example}")
    if dimension == "money":
        return _money(written, text)
    told = " ".join(text.split())
    if "," in text:
        raise QuantityError(
            f'"{told}" has a comma, which can be read two ways', f"write for example {example}"
        )
    if _POWER_OF_TEN.search(text):
        raise QuantityError(f'"{told}" has a power of ten', f"write the number out, for example {example}")
    terms = _TERM.findall(text)
    if not terms or _TERM.sub("", text).strip():
        if not _NUMBER_FIRST.match(text):
            raise QuantityError(f'"{told}" does not begin with a number', f"write for example {example}")
        if _NUMBER.fullmatch(text):
            raise QuantityError(f'"{told}" has no unit', f"write for example {example}")
        raise QuantityError(f'"{told}" is not a number with a unit', f"write for example {example}")
    found: list[tuple[float, str, str]] = []
    for sign, whole, top, bottom, decimal, word in terms:
        unit = " ".join(word.split()).replace("in Hg", "inHg")
        number = float(decimal) if decimal else float(whole or 0) + float(top) / float(bottom)
        known = _UNITS.get(unit)
        if unit == _FROM_WHERE:
            raise QuantityError(
                f'"{told}" does not say whether it is vacuum or absolute',
                'write "20 inHg vac" for 20 below atmospheric pressure, "9.9 inHg abs" for 9.9 absolute',
            )
        if known is None:
            raise QuantityError(f'"{unit}" in "{told}" is not a unit we know', _near(unit, dimension))
        found.append((-number if sign else number, *known))
    wanted = READING_DIMENSIONS if dimension == "reading" else (dimension,)
    for _, got, _ in found:
        if got not in wanted:
            raise QuantityError(
                f'"{told}" is {_NAMES[got]}, not {_NAMES.get(dimension, "a reading")}',
                f"write for example {example}",
            )
    if len(found) > 2 or (len(found) == 2 and (found[0][2], found[1][2]) not in _COMPOUND):
        raise QuantityError(f'"{told}" mixes units', f"write for example {example}")
    dim = found[0][1]
    si = sum(_to_si(number, dim, unit) for number, _, unit in found)
    if dim == "temperature":
        if si <= 0:
            raise QuantityError(f'"{told}" is not above absolute zero', f"write for example {example}")
    elif dim == "pressure":
        if si < -1e-6:
            raise QuantityError(f'"{told}" is below vacuum', f"write for example {example}")
        if any(number < 0 and unit.startswith("-") for number, _, unit in found):
            raise QuantityError(f'"{told}" is negative', f"write for example {example}")
    elif dim != "level" and any(number < 0 for number, _, _ in found):
        raise QuantityError(f'"{told}" is negative', f"write for example {example}")
    if not si < 1e15:
        raise QuantityError(f'"{told}" is far too large', f"write for example {example}")
    return Quantity(written, si, dim)


_MINUS = re.compile(r"^\s*[-−–]\s*")
_PLUS = re.compile(r"^\s*\+\s*")
_ONE_SIGN = re.compile(r"[¼-¾⅐-⅞]")
"""A fraction in one letter, as `⅜`."""
_HYPHENED = re.compile(r"([0-9])\s*-\s*([0-9]+/[0-9])")
_FEET_AND_INCHES = re.compile(r"([0-9])\s*(['’′\"”″])(?:\s*(?=[0-9]))?")
_WITH_COMMA = re.compile(r"[0-9][0-9,]*")
_DECIMALS = re.compile(r"[0-9]+,[0-9]{1,2}|0,[0-9]+")


def plain_amount(typed: str) -> str:
    """A quantity that somebody types, as a record has it: `9,5 kg` is 9.5 kg, `1-1/8"` is 1 1/8 in.

    Three digits behind a comma may be thousands: they stay, and `read` tells of them.
    """
    text = _PLUS.sub("", _MINUS.sub("-", typed))
    text = _HYPHENED.sub(r"\1 \2", _ONE_SIGN.sub(_spelt_out, text))
    text = _FEET_AND_INCHES.sub(_in_letters, text)
    return text if "." in text else _WITH_COMMA.sub(_with_point, text)


def _is_digit(sign: str) -> bool:
    return "0" <= sign <= "9"


def _spelt_out(hit: re.Match[str]) -> str:
    gap = " " if _is_digit(hit.string[max(0, hit.start() - 1) : hit.start()]) else ""
    return gap + unicodedata.normalize("NFKC", hit[0]).replace("\u2044", "/")


def _in_letters(hit: re.Match[str]) -> str:
    unit = "ft" if hit[2] in "'’′" else "in"
    gap = " " if _is_digit(hit.string[hit.end() : hit.end() + 1]) else ""
    return f"{hit[1]} {unit}{gap}"


def _with_point(hit: re.Match[str]) -> str:
    return hit[0].replace(",", ".") if _DECIMALS.fullmatch(hit[0]) else hit[0]


_INCHES = re.compile(r"(?:([0-9]+) )?([0-9]+)/([0-9]+)(?: ?in(?:ch|ches)?\.?)?", re.IGNORECASE)
_MILLIMETRES = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?mm")


def plain_size(typed: str) -> str:
    """The size of a tube as the tables have it: `1-1/8"` is 1 1/8 in, `9,52mm` is 9.52 mm; what is no size stays."""
    text = " ".join(plain_amount(typed).split())
    if inches := _INCHES.fullmatch(text):
        whole = f"{inches[1]} " if inches[1] else ""
        return f"{whole}{inches[2]}/{inches[3]} in"
    if metric := _MILLIMETRES.fullmatch(text):
        return f"{float(metric[1]):g} mm"
    return " ".join(typed.split())


def _money(written: str, text: str) -> Quantity:
    told = " ".join(text.split())
    hit = _CURRENCY.match(text)
    if not hit:
        raise QuantityError(
            f'"{told}" is not an amount with its currency', f"write for example {EXAMPLES['money']}"
        )
    if float(hit[1]) < 0:
        raise QuantityError(f'"{told}" is negative', f"write for example {EXAMPLES['money']}")
    if not float(hit[1]) < 1e12:
        raise QuantityError(f'"{told}" is far too large', f"write for example {EXAMPLES['money']}")
    return Quantity(written, float(hit[1]), "money")


def currency(quantity: Quantity) -> str:
    """ISO 4217 code of an amount of money."""
    return quantity.written.strip()[-3:]
