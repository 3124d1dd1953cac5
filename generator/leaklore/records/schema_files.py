"""The JSON Schemas as data."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from leaklore.language import later

KINDS = ("case", "system", "reading", "guide", "company", "actions")
MOST = 100
"""Findings told of one file; a file with more is broken as a whole."""
TYPES = later(
    {
        "string": "text",
        "integer": "a whole number",
        "number": "a number",
        "boolean": "true or false",
        "array": "a list",
        "object": "a block of keys",
    }
)
"""What a type of JSON Schema is called."""


@cache
def folder() -> Path:
    """Where the schema files are: beside the code in a wheel, at the repository's root in a checkout."""
    inside = Path(__file__).parents[1] / "schema"
    return inside if inside.is_dir() else Path(__file__).parents[3] / "schema"


@cache
def load(kind: str) -> dict[str, Any]:
    """One schema as data."""
    data: dict[str, Any] = json.loads((folder() / f"{kind}.schema.json").read_text("utf-8"))
    return data


def resolve(reference: str) -> dict[str, Any] | None:
    """The part of a schema that a `$ref` names by its full address; None where it is none of ours."""
    address, _, path = reference.partition("#")
    found = next((load(kind) for kind in ("common", *KINDS) if load(kind)["$id"] == address), {})
    for part in filter(None, path.split("/")):
        found = found.get(part, {})
    return found or None


def partial_date_pattern() -> str:
    """The pattern that marks a text as a year, a month or a day, which must exist."""
    return str(load("common")["$defs"]["installed"]["pattern"])
