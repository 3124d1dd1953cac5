"""A statistic as a reader sees it: value, doubt in words, the cases behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from leaklore.analysis.intervals import Share, Spread
from leaklore.analysis.summary import Summary
from leaklore.pages import display
from leaklore.pages.display import Display
from leaklore.records.model import YEAR

Form = Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Figure:
    """`thin` figures stand on too few cases and are not called a finding; `href` leads to the cases."""

    label: str
    value: str
    doubt: str
    href: str
    thin: bool = False
    also: str = ""


def cases(n: int) -> str:
    """`1 case`, `14 cases`."""
    return f"{n} case{'' if n == 1 else 's'}"


def _thin(label: str, n: int, href: str, what: str) -> Figure:
    if n == 0:
        return Figure(label, "not known yet", f"no proven case tells {what}", href, thin=True)
    return Figure(
        label, "too few to tell", f"only {cases(n)} tell{'s' if n == 1 else ''} {what}", href, thin=True
    )


def spread_figure(
    label: str, found: Spread | None, form: Form, href: str, what: str, also: Form | None = None
) -> Figure:
    """Median with quartiles and the interval of the median, in words."""
    if found is None or found.few:
        return _thin(label, found.n if found else 0, href, what)
    doubt = f"median of {cases(found.n)}; half of them between {form(found.q1)} and {form(found.q3)}"
    if found.low is not None and found.high is not None:
        doubt += f"; the median itself is between {form(found.low)} and {form(found.high)} (95 % sure)"
    else:
        doubt += "; too few for an interval of the median"
    return Figure(label, form(found.median), doubt, href, also=also(found.median) if also else "")


def share_figure(label: str, found: Share | None, href: str, what: str, of: str = "cases") -> Figure:
    """`k of n` with the Wilson interval, in words."""
    if found is None or found.few:
        n = found.n if found else 0
        if n == 0:
            return Figure(label, "not known yet", f"no case tells {what}", href, thin=True)
        return Figure(
            label,
            f"{found.k if found else 0} of {n}",
            f"too few {of} to call it a finding",
            href,
            thin=True,
        )
    return Figure(
        label,
        display.percent(found.value),
        f"{found.k} of {found.n} {of}; between {display.percent(found.low)} and {display.percent(found.high)} (95 % sure)",
        href,
    )


def summary_figures(found: Summary, show: Display, href: str = "#cases") -> list[Figure]:
    """The figures at the head of a guide page."""

    def physical(label: str, dimension: str, of: Spread | None, what: str) -> Figure:
        middle = of.median if of else 0.0
        return spread_figure(
            label, of, show.like(dimension, middle), href, what, show.like_other(dimension, middle)
        )

    return [
        physical("Charge lost", "mass", found.lost, "the charge lost"),
        spread_figure("Share of the charge", found.lost_share, display.percent, href, "the share lost"),
        physical("Leak rate", "leak rate", found.leak_rate, "the time of the loss"),
        spread_figure(
            "Lost in a year", found.annual_share, display.percent, href, "the yearly share of the charge"
        ),
        spread_figure(
            "Warming", found.co2e, lambda v: f"{display.number(v)} t CO₂e", href, "the charge lost"
        ),
        spread_figure("Time to find", found.minutes, display.minutes, href, "when the spot was found"),
        spread_figure("Cost of the repair", found.cost, show.money, href, "parts or labour"),
        share_figure("Fixes that held", found.held, href, "whether the fix held", "looked at again"),
        spread_figure("Age of the system", found.age, display.years, href, "the date of installation"),
    ]


def grams_a_year(kg_per_s: float) -> float:
    """kg/s as g a year (year of 365.25 days)."""
    return kg_per_s * YEAR * 1000
