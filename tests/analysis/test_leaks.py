"""A case's leak as a quantity: what follows from the record, and what is left out where it does not tell enough."""

from __future__ import annotations

from dataclasses import replace
from importlib import import_module

import pytest

from leaklore.analysis import leaks
from leaklore.records.model import HoldTest
from leaklore.records.quantity import read
from leaklore.trade import proof, tables

from .builders import demo


def test_a_hold_test_is_judged_wherever_leak_and_volume_are_known_and_nowhere_else() -> None:
    """Every case of the demo, the verdict held against the trade's own."""
    guide, judged = demo().guide, 0
    for case in demo().active:
        found = leaks.figures(case, guide)
        if found is None:
            continue
        test = case.fix.hold_test if case.fix else None
        if test is None or found.volume is None:
            assert found.held is None
            continue
        assert case.leak_rate is not None
        assert found.held == proof.hold(
            test, found.refrigerant, case.leak_rate, found.volume, tables.shipped()
        )
        judged += 1
    assert judged > 40


def test_without_a_refrigerant_or_a_rate_nothing_follows_and_without_a_charge_no_volume() -> None:
    case = next(c for c in demo().active if c.leak_rate and c.fix and c.fix.hold_test and c.equipment.charge)
    guide = demo().guide
    assert leaks.figures(replace(case, equipment=replace(case.equipment, refrigerant=None)), guide) is None
    assert leaks.figures(replace(case, lost=None), guide) is None
    bare = leaks.figures(replace(case, equipment=replace(case.equipment, charge=None)), guide)
    assert bare is not None
    assert (bare.volume, bare.held) == (None, None)


@pytest.mark.parametrize(
    ("start", "over", "more"),
    [
        ("250 bar", "2 h", {}),
        ("3000 psig", "2 h", {}),
        ("0 bar", "2 h", {}),
        ("25 bar", "0 h", {}),
        ("25 bar", "2 h", {"start_temp": "-45 degC"}),
        ("25 bar", "2 h", {"start_temp": "20 degC", "end_temp": "80 degC"}),
    ],
)
def test_a_hold_test_beyond_our_tables_leaves_the_rest_of_the_figures(
    start: str, over: str, more: dict[str, str]
) -> None:
    case = next(c for c in demo().active if c.leak_rate and c.fix and c.fix.hold_test and c.equipment.charge)
    assert case.fix is not None
    held = read(start, "pressure")
    temperatures = {key: read(text, "temperature") for key, text in more.items()}
    test = HoldTest("nitrogen", held, held, read(over, "duration"), **temperatures)

    found = leaks.figures(replace(case, fix=replace(case.fix, hold_test=test)), demo().guide)

    assert found is not None
    assert found.held is None
    assert {s.technique for s in found.sights} == set(demo().guide.techniques)


def test_a_strength_test_of_a_carbon_dioxide_rack_is_judged() -> None:
    """143 bar, 1.1 times the 130 bar that such high sides are made for (EN 378-2, from memory)."""
    case = next(c for c in demo().active if c.leak_rate and c.fix and c.fix.hold_test and c.equipment.charge)
    assert case.fix is not None
    held = read("143 bar", "pressure")
    test = HoldTest("nitrogen", held, held, read("24 h", "duration"))

    found = leaks.figures(replace(case, fix=replace(case.fix, hold_test=test)), demo().guide)

    assert found is not None
    assert found.held is not None
    assert found.held.verdict in ("proves", "doubtful", "too-coarse")


def test_a_circuit_s_volume_is_guessed_from_its_charge_by_the_liquid_s_density() -> None:
    """0.3 of the volume is liquid of 1100 kg/m3, of propane 500 kg/m3; a line set that holds more counts."""
    case = next(c for c in demo().active if c.equipment.charge and not c.equipment.line_set)
    assert case.equipment.charge is not None
    gear = replace(case.equipment, refrigerant="R-32")
    charge = case.equipment.charge.si
    assert leaks.circuit_volume(gear) == pytest.approx(charge / 0.3 / 1100)
    assert leaks.circuit_volume(replace(gear, refrigerant="R-290")) == pytest.approx(charge / 0.3 / 500)


def test_the_liquid_s_density_is_that_of_the_refrigerant() -> None:
    """Against the equations of state at 20 degC: the volume is a guess, but not for taking ammonia for an HFC."""
    coolprop = import_module("CoolProp.CoolProp")
    names = ("R22", "R32", "R134a", "R404A", "R410A", "R507A", "R1234yf", "R290", "R600a", "R717", "R744")
    for name in names:
        exact = coolprop.PropsSI("D", "T", 293.15, "Q", 0, name)
        assert leaks.LIQUID.get(f"R-{name[1:]}", leaks.OTHER_LIQUID) == pytest.approx(exact, rel=0.125), name
