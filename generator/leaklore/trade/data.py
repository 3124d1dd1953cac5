"""Data files of the trade: dated figures with their source and the mark that says how far it was read.

Marks: `published` = read in the named document; `from-memory` = to be checked against the document before
anybody relies on it; `common-practice` = what the trade does, no document behind it; `computed` = follows
from other figures.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

import yaml

FOLDER = Path(__file__).parent
Mark = Literal["published", "from-memory", "common-practice", "computed"]
MARKS: tuple[Mark, ...] = ("published", "from-memory", "common-practice", "computed")


@dataclass(frozen=True, slots=True)
class Citation:
    """Where a figure comes from: `where` as to be shown, `mark` as above, `note` what was not read."""

    where: str
    mark: Mark
    note: str = ""


def citation(entry: Mapping[str, Any]) -> Citation:
    """Citation of a data entry with the keys `where`, `mark` and perhaps `note`."""
    if entry["mark"] not in MARKS:
        raise ValueError(f"{entry['where']}: {entry['mark']!r} is not one of {', '.join(MARKS)}")
    return Citation(str(entry["where"]), entry["mark"], str(entry.get("note", "")))


@cache
def load(name: str) -> Mapping[str, Any]:
    """Content of `NAME.yaml` beside this module; read once, not to be changed."""
    with (FOLDER / f"{name}.yaml").open(encoding="utf-8") as file:
        found: Mapping[str, Any] = yaml.load(file, yaml.CSafeLoader)
    return found


def checked(name: str) -> dt.date:
    """Day on which somebody last went through the file."""
    day: dt.date = load(name)["checked"]
    return day
