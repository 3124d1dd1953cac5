"""Which technique sees a leak, and whether a hold test proves a fix."""

from __future__ import annotations

import re
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from leaklore.records import quantity
from leaklore.records.guide import SHIPPED
from leaklore.records.model import HoldTest
from leaklore.trade import data, detectability, flow, proof
from leaklore.trade.air import Space
from leaklore.trade.detectability import RANK, Sight, Situation, judge, reason
from leaklore.trade.gas import NoSaturation, standstill
from leaklore.trade.units import GRAM_PER_YEAR, HOUR, YEAR
from published import Check, R, T, celsius, each, from_psig

TECHNIQUES = data.load("techniques")["techniques"]


def sights(grams: float, key: str = "R-410A", **more: Any) -> dict[str, Sight]:
    situation = Situation(grams * GRAM_PER_YEAR, R[key], **more)
    return {s.technique: s for s in judge(situation, T)}


def front_matter(key: str) -> dict[str, Any]:
    text = (SHIPPED / "techniques" / f"{key}.md").read_text(encoding="utf-8")
    found: dict[str, Any] = yaml.safe_load(text.split("---\n")[1])
    return found


# One source of truth in two places: the guide's pages and our table
@pytest.mark.parametrize("key", sorted(p.stem for p in (SHIPPED / "techniques").glob("*.md")))
def test_techniques_say_what_the_guide_says(key: str) -> None:
    page, ours = front_matter(key), TECHNIQUES[key]
    smallest = page["sees"]["smallest"]
    hit = re.fullmatch(r"([0-9.e-]+) (g/yr|Pa m3/s)", smallest)

    assert ours["finds"] == page["finds"]
    assert ours["order"] == page["order"]
    if hit:
        assert (ours["smallest"], ours["unit"]) == (pytest.approx(float(hit[1])), hit[2])
    else:
        assert smallest == "no number"
        assert "smallest" not in ours
    if page["sees"]["kind"] in ("published", "from-memory"):
        assert ours["mark"] == page["sees"]["kind"]


def test_no_technique_is_missing() -> None:
    assert set(TECHNIQUES) == {p.stem for p in (SHIPPED / "techniques").glob("*.md")}


HANDBOOK = "vacuum technology handbook, section 7.1.2 (publisher withheld)"
CHECKS = [
    Check("4 g/yr of R-134a and a diode detector", lambda: sights(4.0, "R-134a")["heated-diode-detector"].verdict, "at-limit", 0, "SAE J2791 (2019): smallest scale 4 g/yr", "published"),
    Check("3.9 g/yr of R-134a and a diode detector", lambda: sights(3.9, "R-134a")["heated-diode-detector"].verdict, "too-small", 0, "SAE J2791 (2019): smallest scale 4 g/yr", "published"),
    Check("14 g/yr of R-134a and a diode detector", lambda: sights(14, "R-134a")["heated-diode-detector"].verdict, "sees", 0, "SAE J2791 (2019): coarsest scale 14 g/yr", "published"),
    Check("5 g/yr of R-32 and an infrared detector", lambda: sights(5.0, "R-32")["infrared-detector"].verdict, "at-limit", 0, "EN 14624, portable class of 5 g/yr; IEC 60335-2-40 wording (reprinted) asks for a detector of that class", "from-memory"),
    Check("1.5e-4 Pa m3/s is found by bubbles", lambda: sights(flow.convert(1.5e-4, "Pa m3/s", "g/yr", R["R-134a"].molar_mass), "R-134a")["bubble-test"].verdict, "at-limit", 0, HANDBOOK, "published"),
    Check("10 g of R-134a in 10 years is not found by bubbles", lambda: sights(1.0, "R-134a")["bubble-test"].verdict, "too-small", 0, HANDBOOK, "published"),
    Check("10 g of R-134a in 10 years is not found by a standing test", lambda: sights(1.0, "R-134a", test_pressure=2e6, volume=2e-3)["standing-pressure"].verdict, "too-small", 0, HANDBOOK, "published"),
    Check("10 g of R-134a in 10 years needs a tracer gas", lambda: sights(1.0, "R-134a", test_pressure=1e6)["tracer-gas"].verdict, "sees", 0, HANDBOOK, "published"),
]  # fmt: skip


@each(CHECKS)
def test_sensitivities(check: Check) -> None:
    check.hold()


def test_standing_test_of_the_guide() -> None:
    """10 L, 1 psi, 24 h: 8e-4 Pa m3/s, and 5 L: 4e-4, where temperature is known exactly."""
    found = sights(100, test_pressure=2.86e6, volume=10e-3, temperature_uncertainty=0.0)
    assert found["standing-pressure"].limit == pytest.approx(
        TECHNIQUES["standing-pressure"]["smallest"], rel=0.01
    )
    assert found["section-isolation"].limit == pytest.approx(
        TECHNIQUES["section-isolation"]["smallest"], rel=0.01
    )


def test_vacuum_hold_of_the_guide() -> None:
    found = sights(100, volume=10e-3)
    assert found["vacuum-hold"].limit == pytest.approx(TECHNIQUES["vacuum-hold"]["smallest"], rel=0.015)


def test_bag_of_the_guide() -> None:
    assert sights(1.0, "R-134a")["bagging"].leak == pytest.approx(27, abs=0.5)


def test_a_halogen_sensor_is_blind_to_natural_refrigerants() -> None:
    for key in ("R-744", "R-717", "R-290", "R-600a"):
        assert sights(1e5, key)["heated-diode-detector"].verdict == "blind"


def test_what_is_missing_is_named() -> None:
    found = sights(50)
    assert found["standing-pressure"].missing == "the test pressure"
    assert sights(50, test_pressure=2e6)["standing-pressure"].missing == "the volume under test"
    assert found["air-survey"].missing == "the room's volume and air change"


def test_carbon_dioxide_above_its_critical_temperature_gets_no_flow() -> None:
    found = sights(500, "R-744", temperature=celsius(35), test_pressure=5e6, volume=0.01)
    assert found["standing-pressure"].verdict == "no-data"
    assert found["infrared-detector"].verdict == "sees"


def test_a_circuit_that_draws_air_in_shows_nothing_and_the_page_says_why() -> None:
    """R-600a boils at -11.75 degC at one atmosphere (NIST Chemistry WebBook, from memory): at -20 degC nothing comes out."""
    told = sights(
        50, "R-600a", temperature=celsius(-20), test_pressure=2e6, volume=0.01, space=Space(50, 0.01)
    )
    known = {"visual": "no-number", "heated-diode-detector": "blind"}
    for key, sight in told.items():
        assert sight.verdict == known.get(key, "no-data"), key
    assert told["infrared-detector"].missing == "pressure at rest above that of the air outside"
    assert "no-data" not in {sights(50, "R-600a", temperature=celsius(-11))["bubble-test"].verdict}


def test_carbon_dioxide_in_a_warm_room_keeps_what_needs_no_vapour_table() -> None:
    found = sights(500, "R-744", temperature=celsius(25), test_pressure=5e6, volume=0.01)
    assert found["infrared-detector"].verdict == "sees"
    assert "table" in found["standing-pressure"].missing


def test_best_first() -> None:
    listed = judge(Situation(60 * GRAM_PER_YEAR, R["R-410A"], test_pressure=2.86e6, volume=8e-3), T)
    ranks = [RANK.index(s.verdict) for s in listed]
    assert ranks == sorted(ranks)
    assert listed[0].technique == "heated-diode-detector"


def test_the_wait_brings_the_standing_test_to_its_limit() -> None:
    coarse = sights(60, test_pressure=2.86e6, volume=8e-3)["standing-pressure"]
    assert coarse.verdict == "too-small"
    assert coarse.wait is not None
    patient = sights(60, test_pressure=2.86e6, volume=8e-3, hold=coarse.wait)["standing-pressure"]
    assert patient.margin == pytest.approx(1.0)


def test_reasons_are_sentences_with_both_units() -> None:
    found = sights(60, test_pressure=2.86e6, volume=8e-3)
    text = reason(found["heated-diode-detector"], "Heated-diode detector", "R-410A")
    assert (
        text
        == "Heated-diode detector: 60 g/yr (2.12 oz/yr) against 4 g/yr (0.141 oz/yr), 15 times what is needed"
    )
    assert "it would show after" in reason(found["standing-pressure"], "Standing pressure test", "R-410A")
    for sight in found.values():
        assert "{" not in reason(sight, sight.technique, "R-410A")


grams = st.floats(0.01, 1e5)


@settings(max_examples=40)
@given(grams, st.floats(1.01, 10), st.sampled_from(["R-410A", "R-32", "R-290", "R-134a"]))
def test_a_larger_leak_is_never_harder_to_see(small: float, more: float, key: str) -> None:
    at_hand = {"test_pressure": 2e6, "volume": 8e-3, "space": Space.with_changes(60, 0.5)}
    one, other = (sights(g, key, **at_hand) for g in (small, small * more))
    for technique, sight in one.items():
        assert RANK.index(other[technique].verdict) <= RANK.index(sight.verdict)
        if sight.margin is not None:
            assert (other[technique].margin or 0) >= sight.margin * (1 - 1e-9)


# Proof of a fix
def hold_test(medium: str, start: str, end: str, over: str, temps: tuple[str, str] | None = None) -> HoldTest:
    pressure = lambda text: quantity.read(text, "pressure")  # noqa: E731
    warm = None if temps is None else [quantity.read(t, "temperature") for t in temps]
    given = (None, None) if warm is None else (warm[0], warm[1])
    return HoldTest(medium, pressure(start), pressure(end), quantity.read(over, "duration"), *given)


def test_two_hours_prove_nothing_about_a_slow_flare() -> None:
    """0.4 kg in 14 months through a wall unit's flare, 38 bar of nitrogen for 2 h, 6 L: the case of the design."""
    test = hold_test("nitrogen", "38 bar", "38 bar", "2 h", ("5 degC", "5 degC"))
    found = proof.hold(test, R["R-32"], 0.4 / (14 / 12 * YEAR), 6e-3, T)

    assert found.verdict == "too-coarse"
    assert found.leak is not None
    assert found.low is not None
    assert found.low > 9 * found.leak
    assert found.wait is not None
    assert found.wait > 20 * HOUR


def test_a_fast_leak_is_proven_closed() -> None:
    test = hold_test("nitrogen", "400 psig", "400 psig", "24 h", ("70 degF", "70 degF"))
    assert proof.hold(test, R["R-410A"], 4.0 / (30 * 86_400), 12e-3, T).verdict == "proves"


def test_a_fall_that_temperature_does_not_explain() -> None:
    test = hold_test("nitrogen", "400 psig", "380 psig", "24 h", ("70 degF", "70 degF"))
    found = proof.hold(test, R["R-410A"], 1e-6, 12e-3, T)
    assert found.verdict == "fell"
    assert found.drop == pytest.approx(20 * 6894.757, rel=1e-3)


def test_a_fall_that_temperature_explains() -> None:
    test = hold_test("nitrogen", "400 psig", "387.6 psig", "24 h", ("75 degF", "60 degF"))
    found = proof.hold(test, R["R-410A"], 1e-6, 12e-3, T)
    assert found.verdict != "fell"
    assert abs(found.drop or 0) < 300


def test_vacuum_and_refrigerant_prove_little() -> None:
    vacuum_hold = hold_test("vacuum", "350 micron", "400 micron", "30 min")
    assert proof.hold(vacuum_hold, R["R-410A"], 1e-8, 12e-3, T).verdict == "too-coarse"
    with_charge = hold_test("refrigerant", "120 psig", "120 psig", "24 h")
    assert proof.hold(with_charge, R["R-410A"], 1e-7, 12e-3, T).verdict == "says-nothing"


def test_readings_without_temperatures_count_less() -> None:
    temps = ("70 degF", "70 degF")
    known, unknown = (
        proof.hold(hold_test("nitrogen", "400 psig", "400 psig", "24 h", t), R["R-410A"], 1e-7, 12e-3, T)
        for t in (temps, None)
    )
    assert (unknown.low or 0) > 1.8 * (known.low or 0)


@given(st.floats(1e-9, 1e-5), st.floats(1e-3, 0.1))
def test_the_verdict_follows_from_the_bounds(leak: float, volume: float) -> None:
    test = hold_test("nitrogen", "25 bar", "25 bar", "4 h", ("10 degC", "10 degC"))
    found = proof.hold(test, R["R-454B"], leak, volume, T)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= found.high
    expected = "proves" if leak >= found.high else "doubtful" if leak >= found.low else "too-coarse"
    assert found.verdict == expected


def test_smallest_visible_leak_passes_just_the_smallest_drop() -> None:
    """The bound turned back into nitrogen by the same law is the test's own limit."""
    pressure = from_psig(400)
    inside = standstill(T, R["R-410A"], celsius(20))
    assert not isinstance(inside, NoSaturation)
    test = hold_test("nitrogen", "400 psig", "400 psig", "24 h", ("20 degC", "20 degC"))
    found = proof.hold(test, R["R-410A"], 1e-8, 12e-3, T)
    gas = T.nitrogen(celsius(20), pressure)
    passed = flow.same_hole(found.high or 0, inside, gas)
    shown = detectability.pressure_test.smallest_leak(
        12e-3, 24 * HOUR, 0.005 * pressure, pressure, celsius(20), 1.0
    )
    assert flow.throughput(passed.low, gas.molar_mass, celsius(20)) == pytest.approx(shown, rel=1e-3)
