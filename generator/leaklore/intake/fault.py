"""What is wrong with a file that was brought, before anyone looks at its record."""

from __future__ import annotations

from dataclasses import dataclass

from leaklore.problem import Problem
from leaklore.records.parse import short


@dataclass(frozen=True, slots=True)
class Fault:
    """`name` is the entry inside the file at fault; None for the file as a whole."""

    name: str | None
    message: str
    instead: str
    rule: str = "take/zip"

    def problem(self, file: str) -> Problem:
        """The same, tied to the file that holds the entry."""
        path = file if self.name is None else f"{file}: {plain(self.name)}"
        return Problem(path, 1, 1, self.message, self.instead, self.rule)


def plain(text: str) -> str:
    """A text from outside on one line, cut where it is long, without signs that steer a terminal."""
    return short("".join(sign if sign.isprintable() else "\ufffd" for sign in text))


def shown(file: object) -> str:
    """A path as it was given, printable."""
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in str(file))
