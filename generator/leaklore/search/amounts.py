"""Amounts and times in free text: `lost 3 lb since spring`, `2 kg a year`, `12 years old`, `charge 4.5 kg`.

The tables go to the browser with the model (js/search/amounts.mjs is the twin). Seasons are the northern ones.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.records.model import YEAR
from leaklore.trade.units import DAY, OUNCE, POUND

_DAYS = {"day": 1.0, "week": 7.0, "month": YEAR / DAY / 12, "year": YEAR / DAY}
TABLES: Mapping[str, Any] = {
    "mass": {
        **dict.fromkeys(("lb", "lbs", "pound", "pounds", "#"), POUND),
        **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), 1.0),
        **dict.fromkeys(("g", "gr", "gram", "grams"), 0.001),
        **dict.fromkeys(("oz", "ounce", "ounces"), OUNCE),
    },
    "days": {
        **dict.fromkeys(("day", "days"), _DAYS["day"]),
        **dict.fromkeys(("week", "weeks", "wk", "wks"), _DAYS["week"]),
        **dict.fromkeys(("month", "months", "mth", "mths", "mo"), _DAYS["month"]),
        **dict.fromkeys(("year", "years", "yr", "yrs", "summer", "winter", "season"), _DAYS["year"]),
    },
    "often": {"daily": 1.0, "weekly": 7.0, "monthly": _DAYS["month"], "yearly": _DAYS["year"], "annually": _DAYS["year"]},
    "numbers": {
        "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
        "nine": 9, "ten": 10, "twelve": 12, "half a": 0.5, "a few": 3, "few": 3, "a couple of": 2, "couple of": 2,
    },
    "since": {
        "january": 1, "february": 2, "march": 3, "april": 4, "may": 5, "june": 6, "july": 7, "august": 8,
        "september": 9, "october": 10, "november": 11, "december": 12,
        "jan": 1, "feb": 2, "mar": 3, "apr": 4, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "sept": 9, "oct": 10,
        "nov": 11, "dec": 12, "new year": 1, "christmas": 12, "easter": 4,
        "spring": 3, "summer": 6, "autumn": 9, "fall": 9, "winter": 12,
    },
    "new": 0.2,
    "year_days": YEAR / DAY,
    "ounce": OUNCE,
    "beside": ["lost", "lose", "loses", "losing", "low", "short", "down", "charge", "holds", "added", "add", "over"],
    "readings": [
        "psig", "psi", "bar", "barg", "kpa", "mpa", "ppm", "degf", "degc", "deg", "f", "c", "k", "micron", "microns",
        "db", "ft", "m", "mm", "in", "inch", "inches", "%", "percent", "min", "mins", "minutes", "h", "hr", "hrs",
        "hours", "times", "x", "ton", "tons", "kw", "hp",
    ],
}  # fmt: skip
"""Units in kg and days; `since` gives months; `readings` are units that are dropped with their number."""


@dataclass(frozen=True, slots=True)
class Amount:
    """`kind` is lost or charge (kg), over or age (years), or reading (no value); `start` and `end` in the text."""

    kind: str
    value: float
    start: int
    end: int


def _any(words: Mapping[str, Any] | list[str]) -> str:
    return "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w)))


_NUMBER = r"\d+(?:[.,]\d+)?"
_EDGE = r"(?![a-z0-9])"
_SAID = _any(TABLES["numbers"])
_MASS = re.compile(
    rf"(?<![a-z0-9.,])(?:({_NUMBER})\s*|({_SAID})\s+)({_any(TABLES['mass'])}){_EDGE}(?:\s*({_NUMBER})\s*(oz|ounces){_EDGE})?"
)
_TIME = re.compile(
    rf"(?<![a-z0-9.,])(?:({_NUMBER})[\s-]*|({_SAID}|per|each|every|/|last|past|this)[\s-]*)({_any(TABLES['days'])}){_EDGE}"
    rf"(\s+(?:old|ago){_EDGE})?"
)
_EVERY = re.compile(rf"(?<![a-z0-9])({_any(TABLES['often'])}){_EDGE}")
_SINCE = re.compile(
    rf"(?<![a-z0-9])(?:since|from)\s+(?:last\s+|the\s+|early\s+|late\s+)?({_any(TABLES['since'])}|(?:19|20)\d\d){_EDGE}"
)
_BUILT = re.compile(rf"(?<![a-z0-9])(?:installed|fitted|built|commissioned|put in)\s+(?:in\s+)?((?:19|20)\d\d){_EDGE}")
_NEW = re.compile(rf"(?<![a-z0-9])(?:brand new|new install|newly installed|just installed){_EDGE}")
_READING = re.compile(rf"(?<![a-z0-9.,])-?{_NUMBER}\s*(?:{_any(TABLES['readings'])}){_EDGE}")
_HOLDS = re.compile(r"(?:charge(?: of)?|holds|nameplate|contains|total|charged with)\s*$")
_LOST = re.compile(r"(?:lost|low|short|down|lose|loses|losing|added|add)\s*(?:of|on|by)?\s*$")
_OF_CHARGE = re.compile(r"^\s*(?:of\s+)?(?:charge|system|unit|total|nameplate)" + _EDGE)


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _month(today: dt.date, month: int) -> float:
    """Years since the first of the last such month that is over; at least half a month."""
    year = today.year if (today.month, today.day) > (month, 15) else today.year - 1
    return max((today - dt.date(year, month, 1)).days, 15) * DAY / YEAR


def amounts(text: str, today: dt.date) -> list[Amount]:
    """Amounts of folded text in their order; they don't overlap."""
    found: list[Amount] = []
    taken: list[tuple[int, int]] = []

    def scan(pattern: re.Pattern[str], make: Callable[[re.Match[str]], tuple[str, float] | None]) -> None:
        for hit in pattern.finditer(text):
            start, end = hit.span()
            if any(start < b and a < end for a, b in taken):
                continue
            made = make(hit)
            if made is not None:
                found.append(Amount(made[0], made[1], start, end))
                taken.append((start, end))

    def mass(hit: re.Match[str]) -> tuple[str, float]:
        n = _number(hit[1]) if hit[1] else float(TABLES["numbers"][hit[2]])
        value = n * TABLES["mass"][hit[3]]
        if hit[4]:
            value += _number(hit[4]) * OUNCE
        before, after = text[: hit.start()], text[hit.end() :]
        if _LOST.search(before):
            return "lost", value
        holds = _HOLDS.search(before) or _OF_CHARGE.search(after)
        return ("charge" if holds else "lost"), value

    def time(hit: re.Match[str]) -> tuple[str, float]:
        n = _number(hit[1]) if hit[1] else float(TABLES["numbers"].get(hit[2], 1))
        value = n * TABLES["days"][hit[3]] * DAY / YEAR
        if hit[4] and "old" in hit[4]:
            return "age", value
        return "over", value

    def since(hit: re.Match[str]) -> tuple[str, float] | None:
        if hit[1].isdigit():
            years = (today - dt.date(int(hit[1]), 7, 1)).days * DAY / YEAR
            return ("over", years) if years > 0 else None
        return "over", _month(today, TABLES["since"][hit[1]])

    def built(hit: re.Match[str]) -> tuple[str, float]:
        return "age", max((today - dt.date(int(hit[1]), 7, 1)).days, 0) * DAY / YEAR

    scan(_MASS, mass)
    scan(_SINCE, since)
    scan(_BUILT, built)
    scan(_TIME, time)
    scan(_EVERY, lambda hit: ("over", TABLES["often"][hit[1]] * DAY / YEAR))
    scan(_NEW, lambda _: ("age", float(TABLES["new"])))
    scan(_READING, lambda _: ("reading", 0.0))
    return sorted(found, key=lambda a: a.start)
