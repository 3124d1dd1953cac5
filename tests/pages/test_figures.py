"""Statistics in words: doubt is told, and thin figures are not called findings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.builders import COMPANY, case, guide, step
from leaklore.analysis.intervals import spread, wilson
from leaklore.analysis.summary import summarize
from leaklore.pages import display
from leaklore.pages.display import Display
from leaklore.pages.figures import cases, grams_a_year, share_figure, spread_figure, summary_figures


def kilo(value: float) -> str:
    """A form that shows what it was given."""
    return f"{value:g} kg"


def test_cases_in_words() -> None:
    """One is not plural, none is."""
    assert [cases(n) for n in (0, 1, 2, 14)] == ["0 cases", "1 case", "2 cases", "14 cases"]


def test_nothing_known() -> None:
    """No value at all."""
    figure = spread_figure("Lost", None, kilo, "#cases", "the charge lost")
    assert (figure.value, figure.thin, figure.href) == ("not known yet", True, "#cases")
    assert figure.doubt == "no proven case tells the charge lost"


@pytest.mark.parametrize(
    ("n", "doubt"), [(1, "only 1 case tells it"), (2, "only 2 cases tell it"), (4, "only 4 cases tell it")]
)
def test_too_few_values_show_no_number(n: int, doubt: str) -> None:
    """A median of four is not shown, so that nobody quotes it."""
    figure = spread_figure("Lost", spread([1.5] * n), kilo, "#cases", "it")
    assert (figure.value, figure.doubt, figure.thin) == ("too few to tell", doubt, True)
    assert "1.5" not in figure.value + figure.doubt + figure.also


def test_five_values_have_a_median_but_no_interval() -> None:
    """And say so."""
    figure = spread_figure(
        "Lost", spread([1, 2, 3, 4, 5]), kilo, "#cases", "it", also=lambda v: f"{v * 2.2:g} lb"
    )
    assert (figure.value, figure.also, figure.thin) == ("3 kg", "6.6 lb", False)
    assert figure.doubt == (
        "median of 5 cases; half of them between 2 kg and 4 kg; too few for an interval of the median"
    )


def test_six_values_have_both() -> None:
    """Quartiles and the interval of the median."""
    figure = spread_figure("Lost", spread([1, 2, 3, 4, 5, 6]), kilo, "#cases", "it")
    assert figure.value == "3.5 kg"
    assert figure.doubt.startswith("median of 6 cases; half of them between 2.25 kg and 4.75 kg; ")
    assert "the median itself is between 1 kg and 6 kg" in figure.doubt
    assert "95" in figure.doubt


def test_a_share_in_words() -> None:
    """15 of 20 is 75 %, between 53 and 89 % by Wilson."""
    figure = share_figure("Held", wilson(15, 20), "#cases", "whether the fix held", "looked at again")
    assert figure.value == display.percent(0.75)
    assert not figure.thin
    assert figure.doubt.startswith("15 of 20 looked at again; between ")
    assert f"{display.percent(0.53)} and {display.percent(0.89)}" in figure.doubt


def test_a_thin_share_shows_the_count_and_no_per_cent() -> None:
    """3 of 4 is no 75 %."""
    figure = share_figure("Held", wilson(3, 4), "#cases", "whether the fix held", "looked at again")
    assert (figure.value, figure.thin) == ("3 of 4", True)
    assert figure.doubt == "too few looked at again to call it a finding"
    assert "%" not in figure.value + figure.doubt


def test_an_unknown_share() -> None:
    """None of none is not 0 %."""
    figure = share_figure("Held", wilson(0, 0), "#cases", "whether the fix held", "looked at again")
    assert (figure.value, figure.thin) == ("not known yet", True)
    assert figure.doubt == "no case tells whether the fix held"


def test_figures_of_a_group_in_the_companys_units_first() -> None:
    """All figures, each beside the other system where there is one, and each with the way to its cases."""
    search = (step("bubbles", "flare", "pinpointed", 30),)
    found = summarize(
        [
            case(
                n,
                *search,
                lost="2 lb",
                charge="10 lb",
                refrigerant="R-32",
                over="1 year",
                parts="40 USD",
                looks=["holding"],
                installed="2015-01-01",
            )
            for n in range(1, 8)
        ],
        COMPANY,
        guide(),
    )
    us = {f.label: f for f in summary_figures(found, Display(COMPANY), "#these")}
    si = {f.label: f for f in summary_figures(found, Display(replace(COMPANY, units="si")), "#these")}
    labels = ["Charge lost", "Share of the charge", "Leak rate", "Lost in a year", "Warming"]
    labels += ["Time to find", "Cost of the repair", "Fixes that held", "Age of the system"]
    assert list(us) == labels
    assert list(si) == labels
    assert (us["Charge lost"].value, us["Charge lost"].also) == ("2 lb", "0.91 kg")
    assert (si["Charge lost"].value, si["Charge lost"].also) == ("0.91 kg", "2 lb")
    assert (us["Leak rate"].value, us["Leak rate"].also) == ("2 lb/yr", "907 g/yr")
    assert us["Share of the charge"].value == display.percent(0.2)
    assert us["Lost in a year"].value == display.percent(0.2)
    assert us["Warming"].value == si["Warming"].value == "0.61 t CO₂e"  # 2 lb of R-32, GWP 675
    assert us["Time to find"].value == "30 min"
    assert us["Cost of the repair"].value == "40 USD"
    assert us["Fixes that held"].value == display.percent(1)
    assert us["Age of the system"].value == "10 years"
    assert {f.href for f in us.values()} == {"#these"}
    assert not any(f.thin for f in us.values())


def test_an_empty_group_has_thin_figures_only() -> None:
    """Nothing is invented and nothing fails."""
    figures = summary_figures(summarize([], COMPANY), Display(COMPANY))
    assert len(figures) == 9
    assert all(f.thin and f.value == "not known yet" for f in figures)


def test_grams_a_year() -> None:
    """1 kg over a Julian year."""
    assert grams_a_year(1 / 31_557_600) == pytest.approx(1000)
