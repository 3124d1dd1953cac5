"""A problem is data: where it is, what is wrong, what to write instead. Someone else prints it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning"]
Pointer = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault inside one file, not yet tied to a line.

    `pointer` leads from the root of the file to the value at fault. `on_key` puts the mark on
    the key rather than on its value. `line` and `column` (from 1) are set only where the file
    could not be parsed; `offset` counts lines inside a block of text.
    """

    pointer: Pointer
    message: str
    instead: str
    rule: str
    severity: Severity = "error"
    on_key: bool = False
    line: int | None = None
    column: int | None = None
    offset: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """A fault with its place. Lines and columns count from 1."""

    path: str
    line: int
    column: int
    message: str
    instead: str
    rule: str
    severity: Severity = "error"

    def text(self) -> str:
        """One line: `path:line:column: what is wrong; what to write instead [rule]`."""
        mark = "warning: " if self.severity == "warning" else ""
        tail = f"; {self.instead}" if self.instead else ""
        return f"{self.path}:{self.line}:{self.column}: {mark}{self.message}{tail} [{self.rule}]"


def pointer_text(pointer: Pointer) -> str:
    """`("search", 2, "at")` -> `search[2].at`; empty for the root."""
    out = ""
    for part in pointer:
        out += f"[{part}]" if isinstance(part, int) else f".{part}" if out else str(part)
    return out


def errors(problems: Iterable[Problem]) -> list[Problem]:
    """Only those that fail a build."""
    return [p for p in problems if p.severity == "error"]
