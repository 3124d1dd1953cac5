"""Words and lists that several topics share."""

from __future__ import annotations

from collections.abc import Sequence

from leaklore.analysis.patterns.exposure import Leak
from leaklore.language import gettext, ngettext
from leaklore.pages import display

MANY = 60
"""A longer list of cases is left to the page of the failure."""


def between(low: float | None, high: float | None) -> str:
    """`12 to 30 %`, or that there is no interval."""
    if low is None or high is None:
        return gettext("no interval")
    return gettext("{low} to {high}").format(low=round(100 * low), high=display.percent(high))


def counted(leaks: int) -> str:
    """What stands beside the name of a failure."""
    return gettext("{n} leaks").format(n=leaks)


def leaks(n: int) -> str:
    """`No leak`, `Only 1 leak`, `Only 3 leaks`: the start of a sentence on too few."""
    return ngettext("Only {n} leak", "Only {n} leaks", n).format(n=n) if n else gettext("No leak")


def repairs(n: int) -> str:
    """The same for repairs."""
    return ngettext("Only {n} repair", "Only {n} repairs", n).format(n=n) if n else gettext("No repair")


def first_leaks(n: int) -> str:
    """The same for first leaks."""
    return (
        ngettext("Only {n} first leak", "Only {n} first leaks", n).format(n=n)
        if n
        else gettext("No first leak")
    )


def listed(names: Sequence[str]) -> str:
    """The first three in small letters, and how many more."""
    more = gettext(" and {x} more").format(x=len(names) - 3) if len(names) > 3 else ""
    return ", ".join(name.lower() for name in names[:3]) + more


def few_cases(leaks: Sequence[Leak]) -> tuple[str, ...] | None:
    """Numbers of the cases; None where there are too many for a cell."""
    cases = tuple(dict.fromkeys(leak.case.id for leak in leaks))
    return cases if len(cases) <= MANY else None
