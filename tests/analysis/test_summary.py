"""Figures of a group of cases: only proven ones count, and each figure over those that tell it."""

from __future__ import annotations

import pytest

from leaklore.analysis.summary import Ledger, of_library, summarize
from leaklore.records.model import Case, Cause

from .builders import COMPANY, case, guide, library, step


def _six() -> list[Case]:
    """Six counted cases, 1 to 6 kg lost of 10 kg over as many years, then five that don't count."""
    search = (step("bubbles", "flare", "pinpointed", 10),)
    counted = [
        case(
            n,
            *search,
            lost=f"{n} kg",
            charge="10 kg",
            over="1 year",
            parts=f"{n * 10} USD",
            installed=f"{2025 - n}-01-01",
            proof="held" if n == 1 else "point",
        )
        for n in range(1, 7)
    ]
    others = [
        case(7, *search, lost="90 kg", charge="100 kg", proof="suspected"),
        case(8, *search, lost="90 kg", charge="100 kg", proof="section"),
        case(9, *search, lost="90 kg", charge="100 kg", proof="section"),
        case(10, *search, lost="90 kg", charge="100 kg", withdrawn=True),
        case(11, *search, lost="90 kg", charge="100 kg", proof="held", withdrawn=True),
    ]
    return counted + others


def test_only_proven_cases_that_stand_are_counted() -> None:
    """Suspected and section are shown, withdrawn ones are not even that."""
    found = summarize(_six(), COMPANY)
    assert [c.id[-3:] for c in found.counted] == ["001", "002", "003", "004", "005", "006"]
    assert len(found.cases) == 9
    assert found.by_proof == {"suspected": 1, "section": 2, "point": 5, "held": 1}


def test_figures_of_six_cases() -> None:
    """Median 3.5 of 1 to 6; the interval of six values is their range."""
    found = summarize(_six(), COMPANY)
    assert found.lost is not None
    assert (found.lost.n, found.lost.median, found.lost.low, found.lost.high) == (6, 3.5, 1.0, 6.0)
    assert (found.lost.q1, found.lost.q3) == (2.25, 4.75)
    assert found.lost_share is not None
    assert found.lost_share.median == pytest.approx(0.35)
    assert found.leak_rate is not None
    assert found.leak_rate.median == pytest.approx(3.5 / 31_557_600)
    assert found.cost is not None
    assert found.cost.median == 35
    assert found.minutes is not None
    assert found.minutes.median == 10
    assert found.age is not None
    assert found.age.median == pytest.approx(3.51, abs=0.01)


def test_each_figure_is_over_the_cases_that_tell_it() -> None:
    """Nothing is taken for zero because it is missing; zero is taken for zero."""
    cases = [
        case(1, lost="2 kg"),
        case(2, charge="5 kg"),
        case(3, lost="1 kg", charge="4 kg"),
        case(4, lost="0 kg", charge="4 kg", over="1 year"),
        case(5, lost="3 kg", charge="0 kg"),
        case(6),
    ]
    found = summarize(cases, COMPANY)
    assert found.lost is not None
    assert found.lost.n == 4
    assert found.lost_share is not None
    assert (found.lost_share.n, found.lost_share.median) == (2, 0.125)
    assert found.leak_rate is not None
    assert (found.leak_rate.n, found.leak_rate.median) == (1, 0.0)
    assert found.minutes is None
    assert found.cost is None
    assert found.held is None
    assert found.age is None


def test_yearly_share_of_the_charge() -> None:
    """1 kg of 4 in half a year is half the charge a year; without a time or a charge nothing is known."""
    cases = [
        case(1, lost="1 kg", charge="4 kg", over="6 months"),
        case(2, lost="1 kg", charge="4 kg"),
        case(3, lost="1 kg", over="6 months"),
        case(4, lost="1 kg", charge="0 kg", over="6 months"),
        case(5, lost="1 kg", charge="4 kg", over="6 months", proof="suspected"),
    ]
    found = summarize(cases, COMPANY).annual_share
    assert found is not None
    assert (found.n, found.median) == (1, pytest.approx(0.5))


def test_warming_by_the_charge_lost() -> None:
    """2 kg of R-32 at 675 is 1.35 t CO2e, 1 kg of R-410A at 2088 is 2.088; an unknown GWP is not zero."""
    cases = [
        case(1, lost="2 kg", refrigerant="R-32"),
        case(2, lost="1 kg", refrigerant="R-410A"),
        case(3, lost="1 kg", refrigerant="R-1234ze(E)"),
        case(4, lost="1 kg"),
        case(5, refrigerant="R-32"),
        case(6, lost="1 kg", refrigerant="R-32", proof="section"),
        case(7, lost="1 kg", refrigerant="R-32", withdrawn=True),
        case(8, lost="1 kg", refrigerant="R-none"),
    ]
    found = summarize(cases, COMPANY, guide())
    assert found.co2e is not None
    assert (found.co2e.n, found.co2e.median) == (2, pytest.approx((1.35 + 2.088) / 2))
    assert found.total_co2e == pytest.approx(1.35 + 2.088)
    without = summarize(cases, COMPANY)
    assert (without.co2e, without.total_co2e) == (None, 0)


def test_share_of_fixes_that_held() -> None:
    """One that leaked again did not hold, whatever was seen later; another leak leaves the fix alone."""
    cases = [
        case(1, looks=["holding"]),
        case(2, looks=["holding", "leaking-again"]),
        case(3, looks=["leaking-again", "holding"]),
        case(4, looks=["other-leak"]),
        case(5),
        case(6, looks=["leaking-again"], proof="suspected"),
        case(7, looks=["holding"], withdrawn=True),
    ]
    held = summarize(cases, COMPANY).held
    assert held is not None
    assert (held.k, held.n) == (2, 4)


def test_tallies_are_of_counted_cases_most_first_then_by_name() -> None:
    """Equal counts stand in the order of their keys; cases without the key are left out."""
    cases = [
        case(1, mode="rare-mode", component="port", symptoms=("oil", "ice"), refrigerant="R-32"),
        case(
            2, mode="corrosion", component="coil", symptoms=("ice",), refrigerant="R-410A", setting="process"
        ),
        case(3, mode="corrosion", component="coil", symptoms=("hiss",), refrigerant="R-410A"),
        case(
            4, mode="loose-flare", symptoms=("ice",), proof="suspected", refrigerant="R-32", setting="process"
        ),
    ]
    found = summarize(cases, COMPANY)
    assert found.modes == (("corrosion", 2), ("rare-mode", 1))
    assert found.components == (("coil", 2), ("port", 1))
    assert found.symptoms == (("ice", 2), ("hiss", 1), ("oil", 1))
    assert found.refrigerants == (("R-410A", 2), ("R-32", 1))
    assert found.settings == (("process", 1),)


def test_nothing_is_known_of_no_cases() -> None:
    """An empty group has figures too: none."""
    found = summarize([], COMPANY)
    assert found.cases == found.counted == ()
    assert found.by_proof == {"suspected": 0, "section": 0, "point": 0, "held": 0}
    assert found.lost is None
    assert found.held is None


def test_a_mode_leaves_the_second_leak_out_and_keeps_empty_modes() -> None:
    """A case stands with its main cause; every mode of the guide has a summary."""
    second = Cause("corrosion", "coil", "point")
    made = library(case(1, also_found=(second,)), case(2, mode="corrosion", withdrawn=True))
    found = of_library(made)["mode"]
    assert list(found) == ["loose-flare", "corrosion", "rare-mode"]
    assert [len(s.cases) for s in found.values()] == [1, 0, 0]


def test_of_groups_has_every_key_in_its_order() -> None:
    """Keys without a case have an empty summary; keys not asked for are left out."""
    cases = (case(1), case(2))
    found = Ledger(cases, COMPANY).of_groups({"a": cases, "b": cases[:1], "z": cases}, ["b", "c", "a"])
    assert {key: len(s.counted) for key, s in found.items()} == {"b": 1, "c": 0, "a": 2}
    assert list(found) == ["b", "c", "a"]
