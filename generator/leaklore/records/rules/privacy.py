"""Private matter has no field; prose that seems to hold it gets a warning."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import prose
from leaklore.records.model import Case
from leaklore.records.rules.context import Context
from leaklore.records.rules.references import prose_fields

DOCS = {"privacy": "prose seems to hold a telephone number, an e-mail address or a street address (warning)"}

_MAIL = re.compile(r"[\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,4}")
_PHONE = re.compile(r"(?<![\w.-])(?:\+\d{1,3}[ ./-]?)?(?:\(\d{2,5}\)|\d{2,5})(?:[ ./-]\d{2,5}){2,4}(?![\w-])")
_STREET = re.compile(
    r"\b\d{1,5}[a-z]? (?:[A-Z][a-z]+ ){1,3}(?:Street|St|Road|Rd|Avenue|Ave|Lane|Ln|Drive|Dr|Close|Court|Way|Terrace|Place|Crescent)\b"
)
_NUMBERS = re.compile(r"\d[a-z]? [A-Z]|\d\)?[ ./-]\d")
"""What every telephone number or street address holds: a quick look at texts that hold neither."""
_DATE = re.compile(r"\d{4}[-./]\d{1,2}[-./]\d{1,2}$|^\d{1,2}[-./]\d{1,2}[-./]\d{2,4}$")


def private_matter(_: Case, data: Mapping[str, Any], __: Context) -> Iterator[Finding]:
    """Prose seems to hold a telephone number, an e-mail address or a street address."""
    for pointer, text in prose_fields(data):
        yield from looks_private(pointer, text)


def looks_private(pointer: Pointer, text: str) -> Iterator[Finding]:
    """What in a text seems to be private."""
    kinds = [(_MAIL, "an e-mail address")] if "@" in text else []
    if _NUMBERS.search(text):
        kinds += [(_PHONE, "a telephone number"), (_STREET, "a street address")]
    for pattern, what in kinds:
        for hit in pattern.finditer(text):
            if what == "a telephone number" and (
                _DATE.search(hit[0]) or sum(c.isdigit() for c in hit[0]) < 7
            ):
                continue
            yield Finding(
                pointer,
                f'{pointer_text(pointer)}: "{hit[0]}" looks like {what}',
                "take it out; nothing private belongs here",
                "privacy",
                severity="warning",
                offset=prose.line_and_column(text, hit.start()),
            )


RULES = (private_matter,)
