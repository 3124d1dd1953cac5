"""References in prose: `[[flare-joint]]`, `[[bubble-test|bubbles]]`, `[[component:shaft-seal]]`, `[[KW-2025-014]]`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from leaklore.records.guide import REF_KINDS, Guide

REFERENCE = re.compile(r"\[\[([^\[\]|\n]{1,80})(?:\|([^\[\]\n]{1,120}))?\]\]")
CASE_ID = re.compile(r"[A-Z]{2,4}-\d{4}-\d{3,5}")
SYSTEM_ID = re.compile(r"S-\d{4,6}")


@dataclass(frozen=True, slots=True)
class Reference:
    """One reference: `target` as written, `shown` words if any, its place in the text."""

    target: str
    shown: str | None
    start: int


def references(text: str) -> Iterator[Reference]:
    """All references of a text."""
    if "[[" in text:
        for hit in REFERENCE.finditer(text):
            yield Reference(hit[1].strip(), hit[2], hit.start())


def resolve(target: str, guide: Guide) -> tuple[str, str] | None:
    """(kind, key) of a reference's target: a kind of REF_KINDS, `case` or `system`; None if unknown.

    Existence of cases and systems is for the caller to check.
    """
    if CASE_ID.fullmatch(target):
        return "case", target
    if SYSTEM_ID.fullmatch(target):
        return "system", target
    kind, colon, key = target.partition(":")
    if colon:
        if kind in REF_KINDS and key in guide.entries(kind):
            return kind, key
        return None
    for kind in REF_KINDS:
        if target in guide.entries(kind):
            return kind, target
    return None


def line_and_column(text: str, start: int) -> tuple[int, int]:
    """Line and column (both from 0) of a place in a text."""
    return text.count("\n", 0, start), start - (text.rfind("\n", 0, start) + 1)
