"""What the phone needs to take down a case: units, words and limits of the rules.

The rules themselves are in site_overrides/js/record/, twins of records/rules/; every figure and word they use is here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from leaklore.language import gettext
from leaklore.pages import record_words
from leaklore.pages.book import Book
from leaklore.pages.spec import DataFile
from leaklore.records import compose, draft, prose, quantity, schema, vocabulary
from leaklore.records.guide import REF_KINDS, Guide
from leaklore.records.rules import plausibility, privacy

VERSION = 1
"""Of data/record.json; site_overrides/js/record/ reads the same one."""


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
            factor = quantity.FACTORS[unit.lstrip("+-")] * (-1 if unit.startswith("-") else 1)
            offset = quantity.ATMOSPHERE if unit.startswith(("+", "-")) else 0.0
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
        yield {"what": gettext(what), "pattern": _script(rest), "glued": glued, **more}


def record_json(book: Book) -> dict[str, Any]:
    """Content of data/record.json. Units SI; `words`: kind -> key -> name and what people say.

    `says`, in another language than English alone: pairs of what the scripts say and how it is said there.
    """
    lib = book.library
    names = record_words.named(quantity._NAMES)
    says = record_words.said()
    return {
        "version": VERSION,
        "edition": book.today.isoformat(),
        "units": _units(),
        "compound": sorted(map(list, quantity._COMPOUND)),
        "reading": list(quantity.READING_DIMENSIONS),
        "dimensions": {
            key: {"name": names.get(key), "examples": examples}
            for key, examples in record_words.named(quantity.EXAMPLES).items()
        },
        "atmosphere": quantity.ATMOSPHERE,
        "gauge_share": plausibility.GAUGE_SHARE,
        "gauge_step": plausibility.GAUGE_STEP,
        "most_findings": schema.MOST,
        "nouns": record_words.named(vocabulary.NOUNS),
        "words": {
            kind: {key: [term.name, *term.also] for key, term in known.items()}
            for kind, known in lib.vocabulary.terms.items()
        },
        "kinds": REF_KINDS,
        "areas": _areas(lib.guide),
        "reading_units": plausibility._UNITS,
        "reading_examples": record_words.named(plausibility._UNIT_EXAMPLE),
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
        **({"says": says} if says else {}),
    }


def files(book: Book) -> list[DataFile]:
    """data/record.json."""
    text = json.dumps(record_json(book), ensure_ascii=False, separators=(",", ":"))
    return [DataFile("data/record.json", (text + "\n").encode())]
