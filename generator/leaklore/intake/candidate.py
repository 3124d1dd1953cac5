"""A record on its way into the library."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from leaklore.problem import Finding, Problem

MARK = "# from: "
"""Begins the line of a record that says from which row of which book, or from which draft, it was taken."""
DRAFT_MARK = f"{MARK}draft-"
Status = Literal["taken", "already taken", "refused"]


@dataclass(eq=False)
class Candidate:
    """`origin` is the file, or file and row, that it came from; `data` what its record says.

    `number` is the one it brings, None where it is to be given. `render` writes the record with a number,
    `tell` ties a finding to its place. `problems` were found before the record was judged; `mark` is a line
    of the record that says which row of which book, or which draft of a phone, it is; `note` is told when it is taken.
    """

    origin: str
    data: Any
    number: str | None
    render: Callable[[str], str]
    tell: Callable[[Finding], Problem]
    photos: Mapping[str, bytes] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    mark: str | None = None
    note: str = ""

    @property
    def of_draft(self) -> bool:
        """Does it come from a draft that a phone named?"""
        return self.mark is not None and self.mark.startswith(DRAFT_MARK)

    @property
    def title(self) -> str:
        """The record's title; empty without one."""
        title = self.data.get("title", "") if isinstance(self.data, dict) else ""
        return title if isinstance(title, str) else ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one record, or would come of it in a dry run; `path` is its file in the library."""

    origin: str
    status: Status
    title: str = ""
    number: str | None = None
    path: Path | None = None
    photos: int = 0
    problems: tuple[Problem, ...] = ()
    note: str = ""
