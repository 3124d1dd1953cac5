"""Standing pressure test, tube volumes and vacuum against worked examples and tables."""

from __future__ import annotations

import math
from functools import partial
from importlib import import_module

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.records.guide import SHIPPED
from leaklore.trade import data, pressure_test, vacuum, volume
from leaklore.trade.pressure_test import expected_nitrogen, expected_pressure, smallest_leak, time_to_see
from leaklore.trade.units import ATMOSPHERE, DAY, INCH, MICRON, PSI, OutOfRange, R
from leaklore.trade.vacuum import VacuumReading, judge, rise_leak, water_vapour_pressure
from published import Check, T, celsius, each, fahrenheit, from_psig, psig

FUEL_GAS = "2015 Michigan Residential Code A.6.5, example 5, from the International Fuel Gas Code"


def later(gauge: float, before: float, after: float) -> float:
    """psig after a change of temperature in degF."""
    return psig(expected_pressure(from_psig(gauge), fahrenheit(before), fahrenheit(after)))


CORRECTION = [
    Check("20 psig, 70 to 40 degF", partial(later, 20, 70, 40), 18.0, 0.05, FUEL_GAS, "published", "psig"),
    Check("150 psig, 95 to 75 degF", partial(later, 150, 95, 75), 144.0, 0.1, "training note on nitrogen leak testing (host withheld): about 144, after rounding 158.76 psia to 158.5", "published", "psig"),
    Check("150 psig, 95 to 75 degF, exact", partial(later, 150, 95, 75), 144.06, 0.005, "P2 = P1 T2/T1", "derived", "psig"),
    Check("150 psig, 80 to 70 degF", partial(later, 150, 80, 70), 146.95, 0.05, "problem of a trade article (host withheld)", "derived", "psig"),
    Check("400 psig, 75 to 60 degF", partial(later, 400, 75, 60), 388.37, 0.05, "P2 = P1 T2/T1", "derived", "psig"),
    Check("500 psig, 80 to 60 degF", partial(later, 500, 80, 60), 480.93, 0.05, "P2 = P1 T2/T1", "derived", "psig"),
    Check("share of the pressure per degF near 70 degF", lambda: 100 * (expected_pressure(1e6, fahrenheit(70), fahrenheit(71)) / 1e6 - 1), 0.19, 0.005, "field rule, 1/530", "from-memory", "%"),
]  # fmt: skip
LEAKS = [
    Check("4 L, 1 bar in 30 days", lambda: pressure_test.leak(4e-3, 30 * DAY, 4e5, 3e5), 1.5e-4, 0.03, "vacuum technology handbook, section 7.1.2 (publisher withheld)", "published", "Pa m3/s", relative=True),
    Check("10 L, 1 psi in 24 h", lambda: smallest_leak(10e-3, DAY, PSI, 2e6), 7.98e-4, 0.001, "Q = V dP / dt", "derived", "Pa m3/s", relative=True),
    Check("rise of 10 L by 500 micron in 10 min", lambda: rise_leak(10e-3, 500 * MICRON, 600), 1.11e-3, 0.005, "Q = V dP / dt", "derived", "Pa m3/s", relative=True),
    Check("2 L from 25.3 to 50.6 kPa in 70 s, 293.15 K", lambda: rise_leak(2e-3, 25_300, 70) / (R * 293.15), 0.00030, 0.000005, "40 CFR 1065.644, example (inputs read, result from memory)", "from-memory", "mol/s"),
]  # fmt: skip
VACUUM = [
    Check("500 micron", lambda: 500 * MICRON, 66.66, 0.005, "pint: micrometre of mercury", "reference-library", "Pa"),
    Check("500 micron in mbar", lambda: 5 * MICRON, 0.667, 0.0005, "definition of the torr", "derived", "mbar"),
    Check("micron of one atmosphere", lambda: ATMOSPHERE / MICRON, 760_000, 1e-6, "chiller manual's conversion table and a course page (hosts withheld)", "published", "micron"),
    Check("water at 20 degC", lambda: water_vapour_pressure(293.15) / ATMOSPHERE * 760, 17.54, 0.06, "steam tables", "from-memory", "mmHg"),
    Check("ice at -20 degC", lambda: water_vapour_pressure(253.15), 103.2, 0.3, "Smithsonian meteorological tables", "from-memory", "Pa"),
]  # fmt: skip
TUBES = data.load("tubes")["inch"]["sizes"]
BORES = [
    Check(
        f"bore of {size} in tube",
        lambda size=size: volume.tube(f"{size} in").area / INCH**2,
        row["bore_area"],
        0.02 if size == "3/16" else 0.007,  # the table rounds 3/16 in to 0.187 outside and 0.128 in inside
        "ASTM B280 as tabled in a public engineering reference",
        "published",
        "in2",
        relative=True,
    )
    for size, row in TUBES.items()
    if size not in ("1/8",)
]


@each([*CORRECTION, *LEAKS, *VACUUM, *BORES])
def test_tests(check: Check) -> None:
    check.hold()


def test_the_bore_of_an_eighth_is_rounded_away_in_the_table() -> None:
    """0.0033 in2 stands there: 0.065 in gives 0.00332."""
    assert volume.tube("1/8 in").area / INCH**2 == pytest.approx(0.0033, abs=5e-5)


# Wrong ways that are met in public
def test_gauge_pressures_give_another_answer() -> None:
    gauge_only = 400 * fahrenheit(60) / fahrenheit(75)
    assert abs(later(400, 75, 60) - gauge_only) > 0.3


def test_a_ratio_of_fahrenheit_excuses_a_leak() -> None:
    assert later(400, 75, 60) - 400 * 60 / 75 > 60


@pytest.mark.parametrize(
    ("pressure", "temperature", "after"),
    [(400.0, 297.0, 289.0), (2.86e6, 75.0, 60.0), (2.86e6, 24.0, 16.0), (-5e5, 297.0, 289.0), (2.86e6, 297.0, math.nan)],
)  # fmt: skip
def test_psi_fahrenheit_and_celsius_are_refused(pressure: float, temperature: float, after: float) -> None:
    with pytest.raises(OutOfRange):
        expected_pressure(pressure, temperature, after)


def test_rounding_in_between_costs_a_quarter_of_a_psi() -> None:
    """A published note writes 164.7 x 534.67/554.67 = 158.5 psia; it is 158.76."""
    assert 164.7 * fahrenheit(75) / fahrenheit(95) == pytest.approx(158.76, abs=0.005)


def test_500_micron_is_not_half_a_millibar() -> None:
    """A training page equates them."""
    assert 500 * MICRON / 100 > 0.66


# The real gas
def test_nitrogen_falls_a_little_more_than_an_ideal_gas() -> None:
    coolprop = import_module("CoolProp.CoolProp")
    for gauge, before, after in ((400, 75, 60), (150, 95, 75), (600, 30, 80)):
        start = from_psig(gauge)
        density = coolprop.PropsSI("D", "T", fahrenheit(before), "P", start, "Nitrogen")
        exact = coolprop.PropsSI("P", "T", fahrenheit(after), "D", density, "Nitrogen")
        found = expected_nitrogen(T, start, fahrenheit(before), fahrenheit(after))

        assert found == pytest.approx(exact, rel=1e-4)
        assert abs(found - start) > abs(
            expected_pressure(start, fahrenheit(before), fahrenheit(after)) - start
        )


def test_at_400_psig_the_ideal_law_is_0_8_psi_off() -> None:
    found = psig(expected_nitrogen(T, from_psig(400), fahrenheit(75), fahrenheit(60)))
    assert found == pytest.approx(387.58, abs=0.02)


def test_the_guide_says_how_far_off_it_is() -> None:
    """ "falls by 12.4 psi (86 kPa)" of the guide page on the standing pressure test, against the equation of state."""
    coolprop = import_module("CoolProp.CoolProp")
    density = coolprop.PropsSI("D", "T", fahrenheit(75), "P", from_psig(400), "Nitrogen")
    fall = from_psig(400) - coolprop.PropsSI("P", "T", fahrenheit(60), "D", density, "Nitrogen")
    page = (SHIPPED / "techniques" / "standing-pressure.md").read_text(encoding="utf-8")

    assert f"falls by {fall / PSI:.1f} psi ({fall / 1e3:.0f} kPa)" in page


kelvins, pascals = st.floats(233.2, 338), st.floats(1.1e5, 6e6)


@given(pascals, kelvins, kelvins)
def test_there_and_back_again(pascal: float, one: float, other: float) -> None:
    assert expected_pressure(expected_pressure(pascal, one, other), other, one) == pytest.approx(
        pascal, rel=1e-12
    )


@given(pascals, kelvins, kelvins, st.floats(1e-3, 1.0), st.floats(60, 1e6))
def test_no_leak_where_temperature_explains_all(
    p: float, one: float, other: float, v: float, t: float
) -> None:
    found = pressure_test.leak(v, t, p, expected_pressure(p, one, other), one, other)
    assert abs(found) <= 1e-9 * v * p / t


@given(st.floats(2e5, 6e6), kelvins, kelvins, st.floats(1e-3, 1.0), st.floats(60, 1e6))
def test_nitrogen_that_only_cooled_has_not_leaked(
    p: float, one: float, other: float, v: float, t: float
) -> None:
    after = expected_nitrogen(T, p, one, other)
    found = pressure_test.nitrogen_leak(T, v, t, p, after, one, other)
    assert abs(found) <= 1e-6 * v * p / t


@given(st.floats(1e-7, 1e-1), st.floats(1e-4, 1.0), st.floats(100, 1e5), pascals, st.floats(0, 5))
def test_after_the_wait_the_leak_shows(q: float, v: float, step: float, p: float, kelvin: float) -> None:
    wait = time_to_see(q, v, step, p, 293.15, kelvin)
    assert smallest_leak(v, wait.seconds, step, p, 293.15, kelvin) == pytest.approx(q, rel=1e-12)
    assert wait.steady == (wait.drop <= 0.1 * p)


@given(st.floats(1e-3, 1.0), st.floats(60, 1e6), st.floats(100, 1e5), st.floats(0, 5))
def test_time_finer_gauges_and_less_volume_help(v: float, t: float, step: float, kelvin: float) -> None:
    def seen(volume: float, seconds: float, gauge: float, dt: float) -> float:
        return smallest_leak(volume, seconds, gauge, 3e6, 293.15, dt)

    base = seen(v, t, step, kelvin)
    assert seen(v, 2 * t, step, kelvin) < base
    assert seen(v / 2, t, step, kelvin) < base
    assert seen(v, t, step / 2, kelvin) <= base
    assert seen(v, t, step, kelvin + 1) >= base


# Tubes
def test_line_set_of_two_tubes() -> None:
    """3/8 and 7/8 in over 50 ft: (0.076 + 0.484) in2 x 600 in = 336 in3 = 5.5 L by the table's areas."""
    found = volume.line_set("3/8 in", "7/8 in", 50 * 0.3048)
    assert found == pytest.approx(336 * INCH**3, rel=0.002)


@pytest.mark.parametrize(("written", "name"), [("3/8 in", "3/8 in"), ("3/8\"", "3/8 in"), ("1 1/8 in", "1 1/8 in"), ("1-1/8 in", "1 1/8 in"), (" 7/8  in ", "7/8 in"), ("10 mm", "10 mm"), ("9.52 mm", "9.52 mm"), ("10mm", "10 mm")])  # fmt: skip
def test_sizes_as_people_write_them(written: str, name: str) -> None:
    assert volume.tube(written).name == name


@pytest.mark.parametrize("written", ["3/7 in", "medium", "11 mm", ""])
def test_unknown_sizes_are_told(written: str) -> None:
    with pytest.raises(volume.UnknownTube, match="not a tube size"):
        volume.tube(written)


def test_guess_of_a_circuit() -> None:
    assert volume.circuit_guess(3.0, 1080.0) == pytest.approx(9.26e-3, rel=1e-3)


# Vacuum
def test_water_agrees_with_iapws() -> None:
    chemicals = import_module("chemicals.vapor_pressure")
    for degc in range(1, 66, 4):
        exact = chemicals.Psat_IAPWS(celsius(degc))
        assert water_vapour_pressure(celsius(degc)) == pytest.approx(
            exact, rel=0.0032 if degc <= 60 else 0.005
        )


def curve(start: float, end: float, tau: float, minutes: list[float]) -> list[VacuumReading]:
    return [VacuumReading(m * 60, end - (end - start) * math.exp(-m * 60 / tau)) for m in minutes]


@given(st.floats(10, 60), st.floats(200, 2500), st.floats(100, 300))
def test_a_rise_that_levels_off_is_moisture(start: float, rise: float, tau: float) -> None:
    readings = curve(start, start + rise, tau, [0, 5, 10])
    found = judge(readings)

    assert found.shape == ("moisture" if found.steepness is not None else "quiet")
    assert found.levels_at == pytest.approx(start + rise, rel=1e-6)


@given(st.floats(10, 60), st.floats(0.05, 5), st.floats(-0.1, 0.1))
def test_a_rise_that_goes_on_is_a_leak(start: float, slope: float, bend: float) -> None:
    found = judge([VacuumReading(t, start + slope * t * (1 + bend * t / 1200)) for t in (0, 300, 600)])
    assert found.shape == "leak"


def test_few_or_quiet_readings_say_nothing() -> None:
    assert judge([]).shape == "unknown"
    assert judge([VacuumReading(0, 50), VacuumReading(600, 150)]).shape == "unknown"
    assert judge([VacuumReading(0, 50), VacuumReading(300, 52), VacuumReading(600, 53)]).shape == "quiet"


@pytest.mark.parametrize(
    ("start", "end", "minutes", "verdicts"),
    [(480, 700, 10, (True, False, True)), (480, 490, 10, (True, True, True)), (480, 700, 5, (None, False, True)), (900, 2600, 30, (None, None, False)), (1000, 2500, 30, (None, None, True)), (480, 1000, 10, (False, False, True))],
)  # fmt: skip
def test_limits_of_the_trade(
    start: float, end: float, minutes: float, verdicts: tuple[bool | None, ...]
) -> None:
    found = vacuum.limits(start * MICRON, end * MICRON, minutes * 60)
    assert tuple(limit.passed for limit in found) == verdicts
