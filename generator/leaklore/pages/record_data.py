"""What the phone needs to take down a case: units, words, limits of the rules, and the form's fields from the schema.

The rules themselves are in site_overrides/js/record/, twins of records/rules/; every figure and word they use is here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from leaklore.pages.book import Book
from leaklore.pages.spec import DataFile
from leaklore.problem import Pointer, pointer_text
from leaklore.records import compose, draft, field, prose, quantity, schema, vocabulary
from leaklore.records.guide import REF_KINDS, Guide
from leaklore.records.rules import plausibility, privacy

VERSION = 1
"""Of data/record.json; site_overrides/js/record/ reads the same one."""
STEPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("seen", "What you see", ("symptoms", "not_seen")),
    (
        "where",
        "Where it is",
        (
            "system",
            "equipment",
            "branch",
            "crew",
            "reported",
            "environment.ambient",
            "environment.conditions",
        ),
    ),
    ("charge", "Charge lost", ("charge.lost", "charge.over", "charge.topped_up")),
    ("readings", "Readings", ("readings",)),
    ("search", "The search", ("search",)),
    ("cause", "The cause", ("cause.mode", "cause.component", "cause.proof", "cause.contributing")),
    ("fix", "The fix", ("fix.action", "fix.parts", "fix.labour", "fix.charge_added", "fix.hold_test")),
    ("story", "What to remember", ("lesson", "advice", "story", "title")),
    ("photos", "Photos", ("photos",)),
)
"""Key, title, fields of the schema: in the order in which the work is done, what is quick to answer first."""
NOT_ASKED = (
    "id",
    "closed",
    "instruments",
    "avoided",
    "first_diagnosis",
    "also_found",
    "follow_up",
    "related",
    "reading",
    "withdrawn",
    "was",
)
"""Fields of the schema that the form leaves to the office; the number comes with the record's file."""
LONG = 400
"""Signs; prose that may be as long or longer gets more than one line (our own choice)."""
_UNITS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "mass": (("lb", "oz"), ("kg", "g")),
    "pressure": (("psig", "micron"), ("bar", "mbar", "micron")),
    "temperature": (("degF",), ("degC",)),
    "length": (("ft", "in"), ("m",)),
    "reading": (("ppm", "oz/yr", "dB", "psig", "micron"), ("ppm", "g/yr", "dB", "bar", "mbar")),
    "duration": (("h", "min", "days", "weeks", "months", "years"),) * 2,
}
"""Dimension -> units offered to a company that works in US units, and in SI (common practice, no source)."""


def likely_units(dimension: str, units: str, example: str, currency: str) -> list[str]:
    """Units to offer for a quantity, the likeliest first: that of the schema's example where it is among them."""
    if dimension == "money":
        return [currency]
    offered = list(_UNITS[dimension][units == "si"])
    own = example.split()[-1]
    return [own, *(unit for unit in offered if unit != own)] if own in offered else offered


def _pointer(path: str) -> Pointer:
    return tuple(path.split("."))


def _required(pointer: Pointer) -> tuple[bool, bool]:
    """Is the field required where what holds it is there, and is it required in every record?"""
    each = [
        part in field.about(pointer[:depth]).get("required", ())
        for depth, part in enumerate(pointer)
        if isinstance(part, str)
    ]
    return each[-1], all(each)


def _kind(about: dict[str, Any], book: Book) -> dict[str, Any]:
    """How a field is asked for."""
    company = book.library.company
    if "x-vocabulary" in about:
        return {"kind": "choice", "words": about["x-vocabulary"]}
    if "enum" in about:
        return {"kind": "choice", "choices": about["enum"]}
    if "x-quantity" in about:
        dimension = about["x-quantity"]
        units = likely_units(dimension, company.units, about["examples"][0], company.currency)
        return {"kind": "quantity", "dimension": dimension, "units": units}
    match about.get("type"):
        case "array":
            return {"kind": "choices", "words": about["items"]["x-vocabulary"], "most": about["maxItems"]}
        case "integer":
            return {"kind": "whole number", "least": about["minimum"], "most": about["maximum"]}
        case "boolean":
            return {"kind": "yes or no"}
    if about.get("format") == "date":
        return {"kind": "date"}
    limits = {
        name: about[key] for name, key in (("least", "minLength"), ("most", "maxLength")) if key in about
    }
    long = "x-prose" in about and about.get("maxLength", 0) >= LONG
    return {"kind": "long text" if long else "text", **limits}


def form_field(pointer: Pointer, book: Book, inside: int = 0) -> dict[str, Any]:
    """One field of the form as the schema describes it; `inside`: parts of the pointer that belong to its holder.

    A block has `fields`, a list of rows too: their pointers begin at the row.
    """
    about = field.about(pointer)
    required, always = _required(pointer)
    told: dict[str, Any] = {
        "pointer": list(pointer[inside:]),
        "path": pointer_text(pointer[inside:]),
        "title": about["title"],
        "description": about["description"],
        "examples": about["examples"],
        "required": required,
        "always": always,
    }
    if about.get("type") == "object":
        return told | {
            "kind": "block",
            "fields": [form_field((*pointer, k), book, inside) for k in about["properties"]],
        }
    items = about.get("items", {})
    if "properties" in items:
        row = (*pointer, 0)
        return told | {
            "kind": "rows",
            "least": about["minItems"],
            "most": about["maxItems"],
            "row": items["title"],
            "fields": [form_field((*row, key), book, len(row)) for key in items["properties"]],
        }
    return told | _kind(about, book)


def form(book: Book) -> list[dict[str, Any]]:
    """The form, step by step."""
    return [
        {"key": key, "title": title, "fields": [form_field(_pointer(path), book) for path in paths]}
        for key, title, paths in STEPS
    ]


def _units() -> dict[str, dict[str, Any]]:
    """Unit as written -> dimension, group for units in pairs, and SI = (number + add) * factor + offset."""
    made = {}
    for word, (dimension, unit) in quantity._UNITS.items():
        add, factor, offset = 0.0, 1.0, 0.0
        if unit == "degC":
            offset = 273.15
        elif unit == "degF":
            add, factor = 459.67, 5 / 9
        elif unit != "kelvin":
            factor = quantity._factor(unit.removeprefix("+"))
            offset = quantity.ATMOSPHERE if unit.startswith("+") else 0.0
        made[word] = {"dimension": dimension, "group": unit, "add": add, "factor": factor, "offset": offset}
    return made


def _areas(guide: Guide) -> dict[str, list[str]]:
    """Area -> the first three parts inside it."""
    return {
        key: sorted(k for k in guide.inside.get(key, ()) if guide.components[k]["kind"] == "part")[:3]
        for key, entry in guide.components.items()
        if entry["kind"] == "area"
    }


_WORD = r"\p{L}\p{N}_"


def _script(pattern: str) -> str:
    """A pattern of Python for a script with the flag `u`: there, words and digits of all writings, too."""
    return (
        re.sub(r"\\b$", lambda _: f"(?![{_WORD}])", pattern).replace(r"\w", _WORD).replace(r"\d", r"\p{Nd}")
    )


def _private() -> Iterator[dict[str, Any]]:
    """What looks private. `glued`: no such sign stands before it; phones of 2022 know no look-behind."""
    for pattern, what, more in (
        (privacy._MAIL, "an e-mail address", {"needs": "@"}),
        (privacy._PHONE, "a telephone number", {"digits": 7}),
        (privacy._STREET, "a street address", {}),
    ):
        begin = re.match(r"\(\?<!(\[.*?\])\)|\\b", pattern.pattern)
        glued = None if begin is None else _script(begin[1] or r"[\w]")
        rest = pattern.pattern[begin.end() :] if begin else pattern.pattern
        yield {"what": what, "pattern": _script(rest), "glued": glued, **more}


def record_json(book: Book) -> dict[str, Any]:
    """Content of data/record.json. Units SI; `words`: kind -> key -> name and what people say."""
    lib = book.library
    return {
        "version": VERSION,
        "edition": book.today.isoformat(),
        "form": form(book),
        "units": _units(),
        "compound": sorted(map(list, quantity._COMPOUND)),
        "reading": list(quantity.READING_DIMENSIONS),
        "dimensions": {
            key: {"name": quantity._NAMES.get(key), "examples": examples}
            for key, examples in quantity.EXAMPLES.items()
        },
        "atmosphere": quantity.ATMOSPHERE,
        "gauge_share": plausibility.GAUGE_SHARE,
        "gauge_step": plausibility.GAUGE_STEP,
        "most_findings": schema.MOST,
        "nouns": vocabulary.NOUNS,
        "words": {
            kind: {key: [term.name, *term.also] for key, term in known.items()}
            for kind, known in lib.vocabulary.terms.items()
        },
        "kinds": REF_KINDS,
        "areas": _areas(lib.guide),
        "reading_units": plausibility._UNITS,
        "reading_examples": plausibility._UNIT_EXAMPLE,
        "currency": lib.company.currency,
        "prefixes": dict(lib.company.branches),
        "crews": dict(lib.company.crews),
        "charges": {s.id: s.equipment.charge.written for s in lib.systems.values() if s.equipment.charge},
        "patterns": {
            "reference": _script(prose.REFERENCE.pattern),
            "case": _script(prose.CASE_ID.pattern),
            "system": _script(prose.SYSTEM_ID.pattern),
            "date": _script(privacy._DATE.pattern),
            "private": list(_private()),
        },
        "layout": {
            "first_line": compose.FIRST_LINE,
            "width": compose.WIDTH,
            "entry_a_line": list(compose._ENTRY_A_LINE),
            "elsewhere": compose._ELSEWHERE.pattern,
        },
        "waits_for": draft._WAITS_FOR,
        "shared": {schema.load("common")["$id"]: schema.load("common")},
    }


def files(book: Book) -> list[DataFile]:
    """data/record.json."""
    text = json.dumps(record_json(book), ensure_ascii=False, separators=(",", ":"))
    return [DataFile("data/record.json", (text + "\n").encode())]
