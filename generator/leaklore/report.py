"""Prints problems: text for people, JSON for machines."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict

from leaklore.problem import Problem, errors


def as_text(problems: Sequence[Problem]) -> str:
    """One line a problem, sorted by path and place."""
    return "\n".join(p.text() for p in sorted(problems))


def as_json(problems: Sequence[Problem], counts: dict[str, int]) -> str:
    """`{"version": 1, "counts": {...}, "errors": n, "warnings": n, "problems": [...]}`."""
    faults = len(errors(problems))
    return json.dumps(
        {
            "version": 1,
            "counts": counts,
            "errors": faults,
            "warnings": len(problems) - faults,
            "problems": [asdict(p) for p in sorted(problems)],
        },
        indent=2,
        ensure_ascii=False,
    )


def summary(problems: Sequence[Problem], counts: dict[str, int]) -> str:
    """The closing line of a check."""
    faults = len(errors(problems))
    warnings = len(problems) - faults
    read = ", ".join(
        f"{number} {name if number != 1 else name.removesuffix('s')}" for name, number in counts.items()
    )
    verdict = "no errors" if not faults else f"{faults} error{'s' if faults != 1 else ''}"
    extra = f", {warnings} warning{'s' if warnings != 1 else ''}" if warnings else ""
    return f"{read}: {verdict}{extra}"
