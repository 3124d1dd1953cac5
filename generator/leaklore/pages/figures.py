"""A statistic as a reader sees it: value, doubt in words, the cases behind it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from leaklore.analysis.intervals import Share, Spread
from leaklore.analysis.summary import Summary
from leaklore.language import gettext, ngettext
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
    return ngettext("{n} case", "{n} cases", n).format(n=n)


def _thin(label: str, n: int, href: str, what: str) -> Figure:
    if n == 0:
        doubt = gettext("no proven case tells {what}").format(what=what)
        return Figure(label, gettext("not known yet"), doubt, href, thin=True)
    doubt = ngettext("only {n} case tells {what}", "only {n} cases tell {what}", n).format(n=n, what=what)
    return Figure(label, gettext("too few to tell"), doubt, href, thin=True)


def spread_figure(
    label: str, found: Spread | None, form: Form, href: str, what: str, also: Form | None = None
) -> Figure:
    """Median with quartiles and the interval of the median, in words."""
    if found is None or found.few:
        return _thin(label, found.n if found else 0, href, what)
    half = gettext("median of {cases}; half of them between {low} and {high}")
    doubt = half.format(cases=cases(found.n), low=form(found.q1), high=form(found.q3))
    if found.low is not None and found.high is not None:
        sure = gettext("; the median itself is between {low} and {high} (95 % sure)")
        doubt += sure.format(low=form(found.low), high=form(found.high))
    else:
        doubt += gettext("; too few for an interval of the median")
    return Figure(label, form(found.median), doubt, href, also=also(found.median) if also else "")


def share_figure(label: str, found: Share | None, href: str, what: str, of: str) -> Figure:
    """`k of n` with the Wilson interval, in words."""
    if found is None or found.few:
        n = found.n if found else 0
        if n == 0:
            doubt = gettext("no case tells {what}").format(what=what)
            return Figure(label, gettext("not known yet"), doubt, href, thin=True)
        return Figure(
            label,
            gettext("{k} of {n}").format(k=found.k if found else 0, n=n),
            gettext("too few {of} to call it a finding").format(of=of),
            href,
            thin=True,
        )
    doubt = gettext("{k} of {n} {of}; between {low} and {high} (95 % sure)").format(
        k=found.k, n=found.n, of=of, low=display.percent(found.low), high=display.percent(found.high)
    )
    return Figure(label, display.percent(found.value), doubt, href)


def summary_figures(found: Summary, show: Display, href: str = "#cases") -> list[Figure]:
    """The figures at the head of a guide page: of those that the audience of the site may see."""

    def physical(label: str, dimension: str, of: Spread | None, what: str) -> Figure:
        middle = of.median if of else 0.0
        return spread_figure(
            label, of, show.like(dimension, middle), href, what, show.like_other(dimension, middle)
        )

    times = [
        spread_figure(
            gettext("Time to find"), found.minutes, display.minutes, href, gettext("when the spot was found")
        )
    ]
    costs = [
        spread_figure(gettext("Cost of the repair"), found.cost, show.money, href, gettext("parts or labour"))
    ]
    searched = not found.cases or any(case.search for case in found.cases)
    return [
        physical(gettext("Charge lost"), "mass", found.lost, gettext("the charge lost")),
        spread_figure(
            gettext("Share of the charge"), found.lost_share, display.percent, href, gettext("the share lost")
        ),
        physical(gettext("Leak rate"), "leak rate", found.leak_rate, gettext("the time of the loss")),
        spread_figure(
            gettext("Lost in a year"),
            found.annual_share,
            display.percent,
            href,
            gettext("the yearly share of the charge"),
        ),
        spread_figure(
            gettext("Warming"),
            found.co2e,
            lambda v: f"{display.number(v)} t CO₂e",
            href,
            gettext("the charge lost"),
        ),
        *(times if searched else ()),
        *(costs if show.priced else ()),
        share_figure(
            gettext("Fixes that held"),
            found.held,
            href,
            gettext("whether the fix held"),
            gettext("looked at again"),
        ),
        spread_figure(
            gettext("Age of the system"), found.age, display.years, href, gettext("the date of installation")
        ),
    ]


def grams_a_year(kg_per_s: float) -> float:
    """kg/s as g a year (year of 365.25 days)."""
    return kg_per_s * YEAR * 1000
