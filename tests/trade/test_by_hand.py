"""Formulas of the trade at their edges, worked out by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

from leaklore.records import quantity
from leaklore.records.model import HoldTest
from leaklore.trade import (
    air,
    detectability,
    entry,
    leak_rate,
    live,
    proof,
    refrigerants,
    tables,
    vacuum,
    volume,
)
from leaklore.trade.data import Citation
from leaklore.trade.detectability import Sight, reason
from leaklore.trade.units import ATMOSPHERE, MICRON, PSI, OutOfRange

R = refrigerants.shipped()
SOURCE = Citation("made up", "common-practice")


def fresh() -> tables.Tables:
    """The shipped tables with nothing remembered."""
    return tables.Tables(json.loads(tables.FILE.read_text(encoding="utf-8")))


def sight(**more: object) -> Sight:
    made = Sight("vacuum-hold", "too-small", "proves", 1, SOURCE, 1.0, 4.0, "ppm", None)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.5, "0.5 s"),
        (110.0, "110 s"),
        (120.0, "2 min"),
        (119 * 60.0, "119 min"),
        (7200.0, "2 h"),
        (47 * 3600.0, "47 h"),
        (48 * 3600.0, "2 days"),
        (1148 * 86_400.0, "1,148 days"),
    ],
)
def test_a_wait_is_told_in_the_largest_unit_of_which_there_are_two(seconds: float, words: str) -> None:
    assert reason(sight(wait=seconds), "It", "R-32").endswith(f"it would show after {words}")


@pytest.mark.parametrize(
    ("leak", "words"),
    [
        (0.88, "0.88"),
        (999.4, "999"),
        (999.6, "1,000"),
        (3160.4, "3,160"),
        (999_999_999.0, "999,999,999"),
        (2.91e29, "2.91\u00a0×\u00a010²⁹"),
    ],
)
def test_large_figures_are_told_in_whole_numbers_and_huge_ones_as_powers(leak: float, words: str) -> None:
    assert reason(sight(leak=leak, limit=12.5), "It", "R-32") == f"It: {words} ppm, and it needs 12.5 ppm"


@pytest.mark.parametrize(
    ("leak", "words"),
    [
        (1e-3, "0.001"),
        (0.00041119, "4.11\u00a0×\u00a010⁻⁴"),
        (1e-7, "1\u00a0×\u00a010⁻⁷"),
        (9.999e-4, "1\u00a0×\u00a010⁻³"),
    ],
)
def test_a_small_gas_flow_is_told_with_a_power_of_ten_and_its_unit_as_people_write_it(
    leak: float, words: str
) -> None:
    told = reason(sight(leak=leak, limit=1.0, unit="Pa m3/s"), "It", "R-32")
    assert told == f"It: {words} Pa m³/s, and it needs 1 Pa m³/s"


def test_grams_a_year_are_told_in_ounces_too() -> None:
    """28.349523 g are an ounce (exact pound / 16)."""
    told = reason(sight(leak=28.349523125, limit=56.69904625, unit="g/yr"), "It", "R-32")
    assert told == "It: 28.3 g/yr (1 oz/yr), and it needs 56.7 g/yr (2 oz/yr)"


def test_a_technique_without_a_smallest_leak_has_no_margin_and_still_a_reason() -> None:
    none = sight(verdict="no-number", limit=0.0)
    assert none.margin is None
    assert reason(none, "Bubbles", "R-32").startswith("Bubbles has no figure")


def hold_test(medium: str = "nitrogen", **more: object) -> HoldTest:
    """25 bar gauge over 24 h."""
    held = quantity.read("25 bar", "pressure")
    return replace(
        HoldTest(medium, held, held, quantity.read("24 h", "duration")),
        **more,  # type: ignore[arg-type]
    )


def test_a_leak_of_just_the_smallest_size_shown_is_proven_closed_and_one_at_the_lower_bound_in_doubt() -> (
    None
):
    properties = fresh()
    bounds = proof.hold(hold_test(), R["R-32"], 1e-7, 0.01, properties)
    assert bounds.low is not None
    assert bounds.high is not None
    assert bounds.low < bounds.high
    told = {
        leak: proof.hold(hold_test(), R["R-32"], leak, 0.01, properties).verdict
        for leak in (bounds.high, bounds.low, bounds.low * (1 - 1e-9))
    }
    assert list(told.values()) == ["proves", "doubtful", "too-coarse"]


def test_one_temperature_alone_is_the_gas_s_own_but_no_proof_of_its_change() -> None:
    """At 0 degC the bound is that of nitrogen at 0 degC with 3 K in doubt, by the mass law and the ratio of fluxes."""
    cold = quantity.read("0 degC", "temperature")
    properties, test = fresh(), hold_test(start_temp=cold)
    found = proof.hold(test, R["R-32"], 1e-7, 0.01, properties)

    start = test.start.si
    gauge = max(PSI, 0.005 * start)
    drop = math.sqrt(gauge**2 + (start * 3 / 273.15) ** 2)
    nitrogen = properties.nitrogen(273.15, start)
    inside = properties.vapour(R["R-32"], 293.15, float(properties.dew(R["R-32"], 293.15)))  # type: ignore[arg-type]
    mass = 0.01 * drop / 86_400 * nitrogen.molar_mass / (8.314462618 * 273.15)

    def laminar(p: float, molar: float, mu: float, z: float, t: float) -> float:
        return (p**2 - ATMOSPHERE**2) * molar / (mu * z * t)

    ratio = laminar(inside.pressure, inside.molar_mass, inside.viscosity, inside.compressibility, 293.15)
    ratio /= laminar(start, nitrogen.molar_mass, nitrogen.viscosity, nitrogen.compressibility, 273.15)
    assert mass * ratio == pytest.approx(found.high, rel=1e-9)


def test_a_vacuum_hold_is_as_fine_as_its_rise_and_no_finer_than_its_gauge() -> None:
    """200 micron hide four times the leak of 50, wherever they begin; 20 could as well be the 50 of the gauge."""
    properties = fresh()

    def held(start: int, end: int) -> proof.Proof:
        pressures = {
            name: quantity.read(f"{n} micron", "pressure") for name, n in (("start", start), ("end", end))
        }
        return proof.hold(hold_test("vacuum", **pressures), R["R-32"], 1e-7, 0.01, properties)

    least, wide = held(300, 350), held(300, 500)
    assert wide.drop == pytest.approx(200 * MICRON)
    for one, other, factor in ((wide, least, 4.0), (held(700, 900), wide, 1.0), (held(300, 320), least, 1.0)):
        assert (one.low, one.high) == pytest.approx((factor * other.low, factor * other.high))  # type: ignore[operator]
    # As nitrogen 0.01 m3 * 200 micron / 24 h. Through one orifice, choked both ways, R-32 at 20 degC loses more by
    # pressure, root of M / z and the functions of 1.171 and 1.4: 14.55 * sqrt(52.02 / 28.01 / 0.770) * 0.643 / 0.685 = 21.2.
    nitrogen = 0.01 * 200 * 0.133322 / 86_400 * 0.0280134 / (8.314462618 * 293.15)
    assert wide.low == pytest.approx(21.2 * nitrogen, rel=0.005)


@pytest.mark.parametrize("key", ["R-32", "R-410A", "R-290"])
@pytest.mark.parametrize("share", [0.2, 1.0])
def test_vapour_out_of_fresh_tables_is_coolprop_s(key: str, share: float) -> None:
    """Half way in temperature and pressure, and saturated; bounds are the errors that the tables state."""
    properties, computed = fresh(), live.CoolProp()
    dew = computed.dew(R[key], 280.0)
    assert isinstance(dew, float)
    ours, theirs = (p.vapour(R[key], 280.0, dew * share) for p in (properties, computed))
    assert (ours.temperature, ours.pressure) == (280.0, dew * share)
    assert ours.molar_mass == pytest.approx(theirs.molar_mass, rel=1e-8)
    assert ours.compressibility == pytest.approx(theirs.compressibility, rel=4e-3)
    assert ours.exponent == pytest.approx(theirs.exponent, rel=6e-4)
    assert ours.viscosity == pytest.approx(theirs.viscosity, rel=6e-4)


def test_metric_tubes_are_in_millimetres_and_inch_tubes_in_inches() -> None:
    """10 x 1 mm has a bore of 8 mm (EN 12735-1, from memory); 3/8 in has 0.375 - 2 x 0.032 in (ASTM B280)."""
    volume.tubes.cache_clear()
    metric, inch = volume.tube("10 mm"), volume.tube("3/8")
    assert (metric.outside, metric.wall) == pytest.approx((0.010, 0.001))
    assert metric.volume(2.0) == pytest.approx(2 * math.pi * 0.004**2)
    assert (inch.outside, inch.bore) == pytest.approx((0.375 * 0.0254, 0.311 * 0.0254))
    assert volume.line_set(None, "10 mm", 2.0) == volume.line_set("10 mm", None, 2.0) == metric.volume(2.0)


def test_a_vacuum_limit_is_met_from_500_micron_and_not_at_its_ceiling() -> None:
    """500 micron is a fit start, 501 none; to stay below 1000 is not to reach it, not above 2500 lets 2500 pass."""

    def passed(start: float, end: float, minutes: float = 10.0) -> dict[str, bool | None]:
        return {x.key: x.passed for x in vacuum.limits(start * MICRON, end * MICRON, minutes * 60)}

    assert passed(500, 999)["field"] is True
    assert passed(501, 999)["field"] is None
    assert passed(500, 1000)["field"] is False
    assert passed(500, 999, 9.9)["field"] is None, "too short to pass"
    assert passed(500, 1000, 9.9)["field"] is False, "it failed before the time was up"
    assert passed(1000, 2500)["guideline-3"] is True
    assert passed(1000, 2501)["guideline-3"] is False


def test_two_readings_of_a_vacuum_at_one_time_are_refused_however_late() -> None:
    """The half-way reading cannot be the last one: a rise in no time has no slope."""
    for at in (0.0, 60.0, 86_400.0):
        with pytest.raises(OutOfRange, match="time of a reading"):
            vacuum.judge([vacuum.VacuumReading(at, 50.0), vacuum.VacuumReading(at, 60.0)])
        assert vacuum.judge([vacuum.VacuumReading(at, 50.0), vacuum.VacuumReading(at + 1, 60.0)]).rate == 10


def test_a_limit_in_air_counts_from_its_value_on_and_so_does_oxygen_at_19_5() -> None:
    """Oxygen below 19.5 % is too low and 19.5 % is not; the lowest limit of R-32 itself is reached."""
    lowest = entry.limits(R["R-32"])[0]
    assert lowest in entry.check(R["R-32"], lowest.fraction).reached
    assert entry.check(R["R-32"], lowest.fraction * (1 - 1e-9)).reached == ()
    assert not entry.check(R["R-32"], 0.0, 0.195).oxygen_low
    assert entry.check(R["R-32"], 0.0, 0.1949).oxygen_low
    assert not entry.check(R["R-32"], 0.0, 0.235).oxygen_high
    assert entry.check(R["R-32"], 0.0, 0.2351).oxygen_high


def test_a_room_holds_no_more_vapour_than_it_holds() -> None:
    """2 m3 into 1 m3: all of it is vapour, with and without ventilation; a closed room never clears."""
    closed, aired = air.Space(1.0), air.Space.with_changes(1.0, 3.6)
    assert closed.after(0.002, 1000.0) == closed.steady(0.002) == 1.0
    assert aired.after(0.002, 1e6) == aired.steady(0.002) == 1.0
    assert closed.after(0.0005, 1000.0) == 0.5
    assert (closed.steady(0.0), closed.time_to(0.25, 0.0005)) == (0.0, 500.0)
    assert closed.purge_time(0.2, 0.1) == math.inf
    assert aired.purge_time(0.2, 0.1) == pytest.approx(1000 * math.log(2))


def test_the_limit_that_is_shown_is_the_lowest_or_the_caution_that_was_passed() -> None:
    """R-410A: 69 200 ppm for oxygen stand before its RCL (140 000 ppm, ASHRAE 34, from memory)."""
    gas = R["R-410A"]
    low, warned, out = (entry.check(gas, x * 1e-6) for x in (10.0, 50_000.0, 70_000.0))
    assert (low.verdict, low.limit.key) == ("below-limits", "oxygen")
    assert (warned.verdict, warned.limit) == ("ventilate", entry.caution(gas))
    assert (out.verdict, out.limit.key) == ("stay-out", "oxygen")
    assert out.limit.fraction == pytest.approx(1 - 0.195 / 0.2095)
    thin = entry.check(gas, 10e-6, 0.19)
    assert (thin.verdict, thin.limit.key, thin.reached, thin.oxygen_low) == ("stay-out", "oxygen", (), True)


def test_a_whole_charge_in_a_closed_room() -> None:
    """2 kg of R-32 (52.02 g/mol, 2.126 kg/m3 at 25 degC) in 25 m3: 80 g/m3, 3.76 %; its RCL is 77 g/m3 (ASHRAE 34, from
    memory), so that 26 m3 are needed."""
    found = entry.release(R["R-32"], 2.0, 25.0)
    assert found.fraction == pytest.approx(0.08 / (0.05202 * 101_325 / (8.314462618 * 298.15)), rel=1e-3)
    assert found.above_rcl is True
    assert found.volume_needed == pytest.approx(26.0, rel=0.01)
    assert entry.release(R["R-32"], 2.0, 27.0).above_rcl is False
    assert entry.release(R["R-32"], 2.0, 0.5).fraction == 1.0


def test_a_leak_gathers_in_a_bag_and_in_a_room() -> None:
    """10 g/yr of R-32 are 0.149 mm3/s of vapour at 25 degC and 1 atm: 1073 ppm of a litre in 2 h. The detector needs two
    of its steps of 5 ppm. The same in 50 m3 aired once an hour ends at 0.011 ppm; closed, a day brings 0.26 ppm."""
    rate = 10e-3 / 31_557_600
    flows = rate / 0.052024 * 8.314462618 * 298.15 / 101_325
    at_hand = {"detector": 5e-6, "background": 20e-6, "bag": 1e-3, "bag_wait": 7200.0}

    def seen(key: str, space: air.Space | None) -> Sight:
        asked = detectability.Situation(rate, R["R-32"], space=space, **at_hand)  # type: ignore[arg-type]
        return next(s for s in detectability.judge(asked, fresh()) if s.technique == key)

    bag = seen("bagging", None)
    assert (bag.leak, bag.limit, bag.unit) == (
        pytest.approx(flows * 7200 / 1e-3 * 1e6, rel=1e-3),
        10.0,
        "ppm",
    )
    assert bag.wait == pytest.approx(7200 * 10 / bag.leak)  # type: ignore[operator]
    aired = seen("air-survey", air.Space.with_changes(50.0, 1.0))
    assert aired.leak == pytest.approx(flows / (50 / 3600) * 1e6, rel=1e-3)
    closed = seen("air-survey", air.Space(50.0))
    assert closed.leak == pytest.approx(flows * 86_400 / 50 * 1e6, rel=1e-3)
    assert closed.wait == pytest.approx(86_400 * 10 / closed.leak)  # type: ignore[operator]
    assert seen("air-survey", None).missing == "the room's volume and air change"


def test_the_mean_free_path_of_nitrogen() -> None:
    """Kinetic theory, mu = rho c path / 2: at 20 degC and 1 atm 17.6 uPa s, 1.165 kg/m3 and a mean speed of 471 m/s (from
    memory) give 64 nm; ten times that at a tenth of the pressure."""
    path = fresh().nitrogen(293.15, ATMOSPHERE).mean_free_path
    assert path == pytest.approx(2 * 17.6e-6 / (1.165 * 471), rel=0.01)
    assert fresh().nitrogen(293.15, ATMOSPHERE / 10).mean_free_path == pytest.approx(10 * path, rel=1e-3)


def test_cost_is_mass_times_price() -> None:
    assert leak_rate.cost(2.5, 18.0) == 45.0


def test_the_first_look_at_a_leak_ranks_all_techniques() -> None:
    """From fresh tables: each technique once, in the order of the verdicts."""
    found = detectability.judge(detectability.Situation(1e-7, R["R-410A"], test_pressure=2e6), fresh())
    ranks = [detectability.RANK.index(s.verdict) for s in found]
    assert ranks == sorted(ranks)
    assert len({s.technique for s in found}) == len(found)
    assert {s.verdict for s in found} >= {"sees", "no-number", "no-data"}
