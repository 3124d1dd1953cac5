"""Words and lists that several topics share."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from leaklore.analysis.patterns.exposure import Leak
from leaklore.pages import display

MANY = 60
"""A longer list of cases is left to the page of the failure."""


def between(low: float | None, high: float | None) -> str:
    """`12 to 30 %`, or that there is no interval."""
    if low is None or high is None:
        return "no interval"
    return f"{round(100 * low)} to {display.percent(high)}"


def heading(name: str, leaks: int, width: float) -> list[str]:
    """Title over a small picture of that many px: the failure in as many lines as it takes, and its leaks."""
    return [*textwrap.wrap(name, max(10, int(width / 8.5))), f"{leaks} leaks"]


def counted(n: int, thing: str) -> str:
    """`No leak`, `Only 1 leak`, `Only 3 leaks`: the start of a sentence on too few."""
    return f"No {thing}" if n == 0 else f"Only {n} {thing}{'' if n == 1 else 's'}"


def listed(names: Sequence[str]) -> str:
    """The first three in small letters, and how many more."""
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(name.lower() for name in names[:3]) + more


def few_cases(leaks: Sequence[Leak]) -> tuple[str, ...] | None:
    """Numbers of the cases; None where there are too many for a cell."""
    cases = tuple(dict.fromkeys(leak.case.id for leak in leaks))
    return cases if len(cases) <= MANY else None
