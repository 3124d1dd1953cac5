"""Gathers the problems of one run while files are read."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from leaklore.problem import Finding, Problem
from leaklore.records import parse, source
from leaklore.records.source import Source, Unreadable


@dataclass
class Gathered:
    """Problems of this run."""

    problems: list[Problem] = field(default_factory=list)

    def unreadable(self, found: Unreadable) -> None:
        self.add(found.path, None, [found.finding])

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


def load(
    file: Path, root: Path, got: Gathered, limit: int = source.MAX_BYTES
) -> tuple[Source, parse.Document] | None:
    """A YAML file with positions; None where it can't be read, which is then noted in `got`."""
    found = source.read(file, root, limit)
    if isinstance(found, Unreadable):
        got.unreadable(found)
        return None
    document = parse.parse(found.data)
    if isinstance(document, list):
        got.add(found.path, None, document)
        return None
    return found, document
