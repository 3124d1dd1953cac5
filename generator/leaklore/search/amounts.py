"""Amounts and times in free text: `lost 3 lb since spring`, `2 kg a year`, `12 years old`, `charge 4.5 kg`.

The tables hold English and Spanish and go to the browser with the model (js/search/amounts.mjs is the twin). Seasons
are the northern ones.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from leaklore.records.model import YEAR
from leaklore.trade.units import DAY, OUNCE, POUND

_DAYS = {"day": 1.0, "week": 7.0, "month": YEAR / DAY / 12, "year": YEAR / DAY}
TABLES: Mapping[str, Any] = {
    "mass": {
        **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#", "libra", "libras"), POUND),
        **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramo", "kilogramos"), 1.0),
        **dict.fromkeys(("g", "gr", "gram", "grams", "gramo", "gramos"), 0.001),
        **dict.fromkeys(("oz", "ounce", "ounces", "onza", "onzas"), OUNCE),
    },
    "days": {
        **dict.fromkeys(("day", "days", "dia", "dias"), _DAYS["day"]),
        **dict.fromkeys(("week", "weeks", "wk", "wks", "semana", "semanas"), _DAYS["week"]),
        **dict.fromkeys(
            ("month", "months", "mth", "mths", "mnth", "mnths", "mo", "mos", "mes", "meses"), _DAYS["month"]
        ),
        **dict.fromkeys(("year", "years", "yr", "yrs", "summer", "winter", "season"), _DAYS["year"]),
        **dict.fromkeys(("summers", "winters", "seasons"), _DAYS["year"]),
        **dict.fromkeys(("ano", "anos", "verano", "invierno", "temporada"), _DAYS["year"]),
        **dict.fromkeys(("veranos", "inviernos", "temporadas"), _DAYS["year"]),
    },
    "often": {
        "daily": 1.0, "weekly": 7.0, "monthly": _DAYS["month"], "yearly": _DAYS["year"], "annually": _DAYS["year"],
        "diario": 1.0, "semanal": 7.0, "mensual": _DAYS["month"], "anual": _DAYS["year"],
    },
    "numbers": {
        "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
        "nine": 9, "ten": 10, "twelve": 12, "half a": 0.5, "a few": 3, "few": 3, "a couple of": 2, "couple of": 2,
        "un": 1, "una": 1, "dos": 2, "tres": 3, "cuatro": 4, "cinco": 5, "seis": 6, "siete": 7, "ocho": 8, "nueve": 9,
        "diez": 10, "doce": 12, "medio": 0.5, "media": 0.5, "un par de": 2,
    },
    "since": {
        "january": 1, "february": 2, "march": 3, "april": 4, "may": 5, "june": 6, "july": 7, "august": 8,
        "september": 9, "october": 10, "november": 11, "december": 12,
        "jan": 1, "feb": 2, "mar": 3, "apr": 4, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "sept": 9, "oct": 10,
        "nov": 11, "dec": 12, "new year": 1, "christmas": 12, "easter": 4,
        "spring": 3, "summer": 6, "autumn": 9, "fall": 9, "winter": 12,
        "enero": 1, "febrero": 2, "marzo": 3, "abril": 4, "mayo": 5, "junio": 6, "julio": 7, "agosto": 8,
        "septiembre": 9, "octubre": 10, "noviembre": 11, "diciembre": 12, "ano nuevo": 1, "navidad": 12,
        "primavera": 3, "verano": 6, "otono": 9, "invierno": 12,
    },
    "new": 0.2,
    "aged": 5.0,
    "year_days": YEAR / DAY,
    "ounce": OUNCE,
    "ounces": ["oz", "ounce", "ounces", "onza", "onzas"],
    "per": ["per", "each", "every", "/", "last", "past", "this", "por", "cada", "al", "este", "esta", "ultimo", "ultima"],
    "then": {"old": "age", "ago": "over", "de uso": "age", "de antiguedad": "age", "de edad": "age"},
    "from": ["since", "from", "desde"],
    "when": ["last", "the", "early", "late", "el", "la"],
    "built": ["installed", "fitted", "built", "commissioned", "put in", "instalado en", "instalada en"],
    "just": ["brand new", "new install", "newly installed", "just installed", "recien instalado", "recien instalada"],
    "holds": ["charge", "holds", "nameplate", "contains", "total", "charged with", "carga", "lleva", "capacidad"],
    "lost": [
        "lost", "low", "short", "down", "lose", "loses", "losing", "added", "add", "perdio", "pierde", "perdido",
        "perdiendo", "falta", "faltan", "faltaban", "agregue", "puse",
    ],
    "roughly": ["of", "is", "was", "about", "around", "almost", "nearly", "roughly", "approx", "de", "es"],
    "about": [
        "of", "on", "by", "about", "around", "almost", "nearly", "roughly", "approx", "over", "another", "some",
        "at least", "maybe", "up to", "de", "como", "unos", "unas", "casi", "aproximadamente",
    ],
    "whole": ["charge", "system", "unit", "total", "nameplate", "de carga"],
    "share": [
        "of", "out of", "of the", "of its", "out of the", "out of its", "of a", "out of a", "de", "de los", "de las",
        "de sus",
    ],
    "measured": [
        "at", "is", "was", "only", "pressure", "temp", "temperature", "reads", "reading", "a", "esta", "presion",
        "temperatura",
    ],
    "levels": ["ppm", "db"],
    "pressing": ["nitrogen", "nitro", "n2", "ofn", "of pressure", "nitrogeno", "de presion"],
    "gauged": [
        "nitrogen", "nitro", "n2", "ofn", "pressure", "suction", "head", "discharge", "low side", "high side", "nitrogeno",
        "presion", "succion", "descarga", "pressurized to", "pressurised to", "pressurized with", "pressurised with",
        "tested to", "presurice a", "presurizado a",
    ],
    "sides": [
        "suction", "suction side", "suct", "low side", "lp side", "head", "discharge", "discharge side", "high side",
        "hp side", "succion", "descarga", "lado de baja", "lado de alta",
    ],
    "pressures": ["psig", "psi", "bar", "barg", "kpa", "mpa"],
    "beyond": ["on", "at", "in", "of", "the", "de", "en", "la", "el"],
    "fell": ["dropped", "drop", "drops", "fell", "dropping", "bajo", "cayo"],
    "beside": [
        "lost", "lose", "loses", "losing", "low", "short", "down", "charge", "holds", "added", "add", "over", "perdio",
        "pierde", "perdiendo", "falta", "faltan", "faltaban", "carga",
    ],
    "readings": [
        "psig", "psi", "bar", "barg", "kpa", "mpa", "ppm", "degf", "degc", "deg", "f", "c", "k", "micron", "microns", "inhg", "torr", "mbar",
        "db", "ft", "m", "mm", "in", "inch", "inches", "%", "percent", "min", "mins", "minutes", "h", "hr", "hrs",
        "hours", "times", "x", "ton", "tons", "kw", "hp", "grados", "micrones", "minutos", "horas", "pulgadas",
    ],
}  # fmt: skip
"""Units in kg and days; `since` gives months; `readings` are units that are dropped with their number.

`new` and `aged` are years: so many without a loss beside them are an age. `then` follows a time, `when` stands before a season, `lost` before a mass with `about` between, `holds` with `roughly`,
`whole` after it, `share` between what was lost of a charge and the charge; `measured` between a place and a reading
there, `levels` being such as tell of the leak itself. One of the `sides` of the gauges is no place beside a bare number or behind
one of `pressures`, with `beyond` between: 118 suction, 250 psi on the high side. Pounds and kilos are pressures before `pressing`, after
`gauged`, and where they `fell` behind either: 300 lbs of nitrogen, suction 60 lbs.
"""


@dataclass(frozen=True, slots=True)
class Amount:
    """`kind` is lost or charge (kg), over or age (years), or reading (no value); `start` and `end` in the text.

    The words of a `loose` one may belong to a phrase, too: `gas every summer`.
    """

    kind: str
    value: float
    start: int
    end: int
    loose: bool = False


_S = r"[ \t-\r]"
"""Space as both sides have it: Python's and the browser's own differ beyond ASCII, and so do digits."""


def _any(words: Mapping[str, Any] | list[str]) -> str:
    listed = sorted(words, key=lambda w: (-len(w), w))
    return "|".join(f"{_S}+".join(re.escape(part) for part in w.split()) for w in listed)


_NUMBER = (
    rf"(?:[0-9]{{1,3}}(?:{_S}+|-))?[0-9]{{1,3}}/[1-9][0-9]?|[0-9]{{1,6}}(?:[.,][0-9]{{1,6}})?|[.][0-9]{{1,6}}"
)
_WORD, _FIGURE = r"(?<![a-z0-9])", r"(?<![a-z0-9.,/])"
_EDGE = r"(?![a-z0-9])"
_YEAR = r"(?:19|20)[0-9][0-9]"
_SAID = _any(TABLES["numbers"])
_MASS = re.compile(
    rf"{_FIGURE}(?:({_NUMBER}){_S}*|({_SAID}){_S}+)({_any(TABLES['mass'])})"
    rf"(?:{_S}*({_NUMBER}){_S}*(?:{_any(TABLES['ounces'])}))?{_EDGE}"
)
_TIME = re.compile(
    rf"(?:(?<![a-z0-9.,])|(?=/))(?:({_NUMBER})(?:{_S}|-)*|({_SAID}|{_any(TABLES['per'])})(?:{_S}|-)*)({_any(TABLES['days'])}){_EDGE}"
    rf"(?:(?:{_S}|-)+({_any(TABLES['then'])}){_EDGE})?"
)
_EVERY = re.compile(rf"{_WORD}({_any(TABLES['often'])}){_EDGE}")
_SINCE = re.compile(
    rf"{_WORD}(?:{_any(TABLES['from'])}){_S}+(?:(?:{_any(TABLES['when'])}){_S}+)?({_any(TABLES['since'])}|{_YEAR}){_EDGE}"
)
_BUILT = re.compile(rf"{_WORD}(?:{_any(TABLES['built'])}){_S}+(?:in{_S}+)?({_YEAR}){_EDGE}")
_NEW = re.compile(rf"{_WORD}(?:{_any(TABLES['just'])}){_EDGE}")
_READING = re.compile(rf"{_FIGURE}-?(?:{_NUMBER}){_S}*°?{_S}*(?:{_any(TABLES['readings'])}){_EDGE}")
_ABOUT = rf"{_S}*(?:(?:{_any(TABLES['about'])}){_S}*){{0,2}}$"
_HOLDS = re.compile(
    rf"(?:^|[^a-z0-9])(?:{_any(TABLES['holds'])}){_S}*(?:(?:{_any(TABLES['roughly'])}){_S}*){{0,2}}$"
)
_LOST = re.compile(rf"(?:^|[^a-z0-9])(?:{_any(TABLES['lost'])}){_ABOUT}")
_SHARE = re.compile(
    rf"{_FIGURE}({_NUMBER})(?={_S}+(?:{_any(TABLES['share'])}){_S}+(?:{_NUMBER}){_S}*({_any(TABLES['mass'])}){_EDGE})"
)
_SHARED = re.compile(
    rf"{_FIGURE}(?:{_NUMBER}){_S}*(?:(?:{_any(TABLES['mass'])}){_S}+)?(?:{_any(TABLES['share'])}){_S}+$"
)
_MEASURED = re.compile(rf"{_S}*(?:(?:{_any(TABLES['measured'])}){_S}+){{0,2}}")
_SIDE = re.compile(rf"(?:{_any(TABLES['sides'])})")
_GAUGE_BEFORE = re.compile(
    rf"(?:^|[^a-z0-9.,/])(?:[0-9]{{2,3}}{_S}+"
    rf"|(?:{_NUMBER}){_S}*(?:{_any(TABLES['pressures'])}){_S}+(?:(?:{_any(TABLES['beyond'])}){_S}+){{0,2}})$"
)
_GAUGE_BEHIND = re.compile(
    rf"{_S}*[:=]?{_S}*(?:(?:{_any(TABLES['measured'])}){_S}+){{0,2}}[0-9]{{2,3}}(?![a-z0-9%/]|[.,][0-9])"
)
_LEVEL = re.compile(rf"(?:{_any(TABLES['levels'])})$")
_PRESSING = re.compile(rf"{_S}*(?:(?:of|de){_S}+)?(?:dry{_S}+)?(?:{_any(TABLES['pressing'])}){_EDGE}")
_GAUGED = re.compile(
    rf"(?:^|[^a-z0-9])(?:{_any(TABLES['gauged'])}){_S}+(?:(?:{_any(TABLES['measured'])}){_S}+){{0,2}}$"
)
_FELL = re.compile(
    rf"(?:^|[^a-z0-9])(?:{_any(TABLES['gauged'])}){_EDGE}[^,.;:!?\n]*[^a-z0-9](?:{_any(TABLES['fell'])}){_ABOUT}"
)
_OF_CHARGE = re.compile(rf"^{_S}*(?:of{_S}+)?(?:{_any(TABLES['whole'])}){_EDGE}")


_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
"""1,200 lb: a comma before three digits parts thousands, but not in 0,850 kg."""


def measured_at(text: str, found: Sequence[Amount], start: int, end: int) -> bool:
    """Does a reading follow, such as a pressure: `suction 60 psi`? The place before it is where somebody measured.

    So is a side of the gauges beside a bare number: `118 suction 300 head`.
    """
    if _SIDE.fullmatch(text, start, end) and (
        _GAUGE_BEFORE.search(text[:start]) or _GAUGE_BEHIND.match(text, end)
    ):
        return True
    hit = _MEASURED.match(text, end)
    at = hit.end() if hit else end
    return any(a.kind == "reading" and a.start == at and not _LEVEL.search(text, at, a.end) for a in found)


def _number(text: str) -> float:
    if "/" not in text:
        return float(text.replace(",", "" if _THOUSANDS.fullmatch(text) else "."))
    *whole, above, below = re.findall(r"[0-9]+", text)
    return sum(map(int, whole)) + int(above) / int(below)


def _plain_number(said: str) -> float:
    return float(TABLES["numbers"].get(" ".join(said.split()), 1))


def _month(today: dt.date, month: int) -> float:
    """Years since the first of the last such month that is past its middle; at least half a month."""
    year = today.year if (today.month, today.day) > (month, 15) else today.year - 1
    return max((today - dt.date(year, month, 1)).days, 15) * DAY / YEAR


def amounts(text: str, today: dt.date) -> list[Amount]:
    """Amounts of folded text in their order; they don't overlap."""
    found: list[Amount] = []
    taken: list[tuple[int, int]] = []

    def scan(
        pattern: re.Pattern[str],
        make: Callable[[re.Match[str]], tuple[str, float] | None],
        loose: Callable[[re.Match[str]], bool] = lambda _: False,
    ) -> None:
        for hit in pattern.finditer(text):
            start, end = hit.span()
            if any(start < b and a < end for a, b in taken):
                continue
            made = make(hit)
            if made is not None:
                found.append(Amount(made[0], made[1], start, end, loose(hit)))
                taken.append((start, end))

    def mass(hit: re.Match[str]) -> tuple[str, float]:
        n = _number(hit[1]) if hit[1] else _plain_number(hit[2])
        value = n * TABLES["mass"][hit[3]]
        if hit[4]:
            value += _number(hit[4]) * OUNCE
        before, after = text[: hit.start()], text[hit.end() :]
        if _GAUGED.search(before) or _FELL.search(before):
            return "reading", 0.0
        if _LOST.search(before):
            return "lost", value
        if _PRESSING.match(after):
            return "reading", 0.0
        holds = _HOLDS.search(before) or _SHARED.search(before) or _OF_CHARGE.search(after)
        return ("charge" if holds else "lost"), value

    def time(hit: re.Match[str]) -> tuple[str, float]:
        n = _number(hit[1]) if hit[1] else _plain_number(hit[2])
        value = n * TABLES["days"][hit[3]] * DAY / YEAR
        return TABLES["then"].get(" ".join((hit[4] or "").split()), "over"), value

    def since(hit: re.Match[str]) -> tuple[str, float] | None:
        if hit[1].isdigit():
            years = (today - dt.date(int(hit[1]), 7, 1)).days * DAY / YEAR
            return ("over", years) if years > 0 else None
        return "over", _month(today, TABLES["since"][" ".join(hit[1].split())])

    def built(hit: re.Match[str]) -> tuple[str, float]:
        return "age", max((today - dt.date(int(hit[1]), 7, 1)).days, 0) * DAY / YEAR

    def share(hit: re.Match[str]) -> tuple[str, float]:
        return "lost", _number(hit[1]) * TABLES["mass"][hit[2]]

    scan(_SHARE, share)
    scan(_MASS, mass)
    scan(_SINCE, since)
    scan(_BUILT, built)
    scan(_TIME, time, lambda hit: not hit[1] and not hit[4])
    scan(_EVERY, lambda hit: ("over", TABLES["often"][hit[1]] * DAY / YEAR))
    scan(_NEW, lambda _: ("age", float(TABLES["new"])))
    scan(_READING, lambda _: ("reading", 0.0))
    if not any(a.kind == "lost" for a in found):
        found = [
            replace(a, kind="age") if a.kind == "over" and a.value >= TABLES["aged"] else a for a in found
        ]
    return sorted(found, key=lambda a: a.start)
