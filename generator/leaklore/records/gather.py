"""Gathers the problems of one run while files are read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from leaklore.problem import Finding, Problem
from leaklore.records import parse, source
from leaklore.records.source import Source, Unreadable


@dataclass
class Gathered:
    """Problems of this run."""

    problems: list[Problem] = field(default_factory=list)

    def unreadable(self, found: Unreadable) -> None:
        self.add(found.path, None, [found.finding])

    def broken(self, path: str, faults: parse.Faults, judge: Callable[[Any], list[Finding]]) -> None:
        """Notes what is wrong with the YAML of a file, and what `judge` says of the rest."""
        document = faults.document
        rest = faults.beside(judge(document.data)) if document is not None else []
        self.add(path, document, [*faults, *rest])

    def add(self, path: str, document: parse.Document | None, findings: list[Finding]) -> bool:
        """Notes findings; True if one of them is an error."""
        for finding in findings:
            line, column = (
                parse.locate(document, finding)
                if document is not None
                else (finding.line or 1, finding.column or 1)
            )
            self.problems.append(
                Problem(path, line, column, finding.message, finding.instead, finding.rule, finding.severity)
            )
        return any(f.severity == "error" for f in findings)


def read(
    file: Path, root: Path, got: Gathered, judge: Callable[[Any], list[Finding]]
) -> tuple[Source, parse.Document | parse.Faults] | None:
    """A YAML file with positions, or what is wrong with its YAML, which is then noted in `got` with what `judge` says of the
    rest; None where the file can't be read, which is noted, too."""
    found = source.read(file, root)
    if isinstance(found, Unreadable):
        got.unreadable(found)
        return None
    document = parse.parse(found.data)
    if isinstance(document, parse.Faults):
        got.broken(found.path, document, judge)
    return found, document


def load(
    file: Path, root: Path, got: Gathered, judge: Callable[[Any], list[Finding]]
) -> tuple[Source, parse.Document] | None:
    """As `read`, for a file that is left alone where its YAML is wrong."""
    match read(file, root, got, judge):
        case (found, parse.Document() as document):
            return found, document
    return None
