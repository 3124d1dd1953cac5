"""Numbers and quantities as readers see them."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.builders import COMPANY
from leaklore.pages import display
from leaklore.pages.display import NARROW, Display
from leaklore.records.quantity import Quantity, read

US = Display(COMPANY)
SI = Display(replace(COMPANY, units="si"))


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [
        (0, 2, "0"),
        (3.14159, 2, "3.1"),
        (3.14159, 3, "3.14"),
        (0.0314159, 2, "0.031"),
        (31.4159, 2, "31"),
        (314.159, 2, "314"),  # all before the point, however few digits are asked for
        (314.159, 3, "314"),
        (314.159, 4, "314.2"),
        (5.0, 2, "5"),
        (9.96, 2, "10"),
        (0.996, 2, "1"),
        (99.96, 3, "100"),
        (120.0, 4, "120"),  # no zero before the point is lost
        (100, 2, "100"),
        (1000, 2, f"1{NARROW}000"),
        (1234567.8, 2, f"1{NARROW}234{NARROW}568"),
        (-3.14159, 2, "-3.1"),
        (-1e-9, 2, "0"),  # and not "-0"
        (1e-9, 2, "0"),
        (0.0005, 2, "0.0005"),
    ],
)
def test_number(value: float, digits: int, shown: str) -> None:
    """Significant figures, no trailing zeros, thousands apart."""
    assert display.number(value, digits) == shown


@given(st.floats(1e-4, 1e9), st.integers(1, 5))
def test_a_number_reads_back_within_its_digits(value: float, digits: int) -> None:
    """What is shown is the value, rounded at the stated digit; at most six places behind the point."""
    shown = display.number(value, digits)
    assert re.fullmatch(rf"[0-9]{{1,3}}({NARROW}[0-9]{{3}})*(\.[0-9]*[1-9])?", shown)
    back = float(shown.replace(NARROW, ""))
    assert abs(back - value) <= max(0.5 * 10.0 ** (1 - digits) * value, 0.5e-6) * (1 + 1e-9) + 1e-12


@pytest.mark.parametrize(
    ("dimension", "si", "us", "metric"),
    [
        ("mass", 0.45359237, "1 lb", "0.45 kg"),
        ("mass", 0.45, "16 oz", "0.45 kg"),
        ("mass", 0.1, "3.5 oz", "0.1 kg"),
        ("mass", 0.028349523125, "1 oz", "28 g"),
        ("mass", 1.46, "3.2 lb", "1.5 kg"),
        ("mass", 0.0, "0 oz", "0 g"),
        ("pressure", 101_325 + 400 * 6894.757293168361, "400 psig", "27.6 bar"),
        ("pressure", 101_325.0, "0 psig", "0 bar"),
        ("pressure", 66.66, "500 micron", "66.7 Pa"),
        ("pressure", 40_000.0, f"300{NARROW}025 micron", f"40{NARROW}000 Pa"),  # below half an atmosphere
        ("pressure", 60_000.0, "-5.99 psig", "-0.413 bar"),
        ("temperature", 277.15, "39 °F", "4 °C"),
        ("temperature", 273.15, "32 °F", "0 °C"),
        ("temperature", 255.3722, "0 °F", "-18 °C"),
        ("temperature", 255.22, "0 °F", "-18 °C"),  # -0.3 is not shown as "-0"
        ("temperature", 272.95, "32 °F", "0 °C"),
        ("leak rate", 0.012 / 31_557_600, "0.42 oz/yr", "12 g/yr"),
        ("leak rate", 0.45359237 / 31_557_600, "1 lb/yr", "454 g/yr"),
        ("leak rate", 1.0001 / 31_557_600, "2.2 lb/yr", "1 kg/yr"),
        ("length", 9.144, "30 ft", "9.1 m"),
    ],
)
def test_both_systems(dimension: str, si: float, us: str, metric: str) -> None:
    """The company's units first, the others in brackets."""
    assert US.both(si, dimension) == f"{us} ({metric})"
    assert SI.both(si, dimension) == f"{metric} ({us})"
    assert US.first(si, dimension) == us
    assert SI.first(si, dimension) == metric


@pytest.mark.parametrize(
    ("written", "dimension", "us", "metric"),
    [
        ("9 lb 8 oz", "mass", "9 lb 8 oz (4.3 kg)", "4.3 kg (9 lb 8 oz)"),
        ("9.5 pounds", "mass", "9.5 pounds (4.3 kg)", "4.3 kg (9.5 pounds)"),
        ("3 ounces", "mass", "3 ounces (85 g)", "85 g (3 ounces)"),
        ("1.80 kg", "mass", "4 lb (1.80 kg)", "1.80 kg (4 lb)"),
        ("250 g", "mass", "8.8 oz (250 g)", "250 g (8.8 oz)"),
        ("400 psig", "pressure", "400 psig (27.6 bar)", "27.6 bar (400 psig)"),
        ("38 bar", "pressure", "551 psig (38 bar)", "38 bar (551 psig)"),
        ("500 microns", "pressure", "500 microns (66.7 Pa)", "66.7 Pa (500 microns)"),
        ("71 degF", "temperature", "71 °F (22 °C)", "22 °C (71 °F)"),
        ("71F", "temperature", "71F (22 °C)", "22 °C (71F)"),
        ("4  degC", "temperature", "39 °F (4 °C)", "4 °C (39 °F)"),
        ("0 degF", "temperature", "0 °F (-18 °C)", "-18 °C (0 °F)"),
        ("12 g/yr", "reading", "0.42 oz/yr (12 g/yr)", "12 g/yr (0.42 oz/yr)"),
        ("0.5 oz/yr", "reading", "0.5 oz/yr (14 g/yr)", "14 g/yr (0.5 oz/yr)"),
        ("30 ft", "length", "30 ft (9.1 m)", "9.1 m (30 ft)"),
        ("30 feet", "length", "30 feet (9.1 m)", "9.1 m (30 feet)"),
        ("6 in", "length", "6 in (0.15 m)", "0.15 m (6 in)"),
        ("6in", "length", "6in (0.15 m)", "0.15 m (6in)"),
        ("9 m", "length", "30 ft (9 m)", "9 m (30 ft)"),
    ],
)
def test_a_recorded_quantity_keeps_its_written_form(
    written: str, dimension: str, us: str, metric: str
) -> None:
    """Written in the company's units it stands first, as written; otherwise in brackets, as written."""
    q = read(written, dimension)
    assert US.quantity(q) == us
    assert SI.quantity(q) == metric


@pytest.mark.parametrize(
    ("written", "dimension"),
    [("14 months", "duration"), ("6 USD", "money"), ("85 ppm", "reading"), ("46 dB", "reading")],
)
def test_quantities_of_one_system_are_shown_as_written(written: str, dimension: str) -> None:
    """Nobody converts months."""
    assert US.quantity(read(written, dimension)) == SI.quantity(read(written, dimension)) == written


def test_every_unit_that_a_record_may_use_belongs_to_one_system() -> None:
    """No US unit is taken for a metric one, in either company."""
    us = {"lb", "lbs", "pound", "pounds", "oz", "ounce", "ounces", "psig", "psi", "psia", "micron", "microns"}
    us |= {"inHg vac", "inHg vacuum", "inHg abs", "inHg absolute", "inHga", "'", "’", "′", '"', "”", "″"}
    us |= {"degF", "°F", "F", "ft", "foot", "feet", "in", "inch", "inches", "oz/yr"}
    from leaklore.records.quantity import _UNITS

    assert us <= set(_UNITS)
    for unit, (dimension, _) in _UNITS.items():
        if dimension in display._PAIRS:
            written = f"5 {unit}" if dimension != "temperature" else f"300 {unit}"
            q = read(written, "reading" if dimension == "leak rate" else dimension)
            tidy = re.sub(" deg([CF])", r" °\1", written)
            assert US.quantity(q).startswith(tidy) == (unit in us), unit
            assert SI.quantity(q).startswith(tidy) == (unit not in us), unit


def test_nothing_is_shown_of_nothing() -> None:
    """An empty cell."""
    assert US.quantity(None) == ""


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0, "0 min"),
        (48, "48 min"),
        (119.4, "119 min"),
        (119.6, "2 h"),
        (120, "2 h"),
        (125, "2 h 5 min"),
        (1439, "23 h 59 min"),
        (1440, "1 day"),
        (1439.6, "1 day"),
        (2160, "1.5 days"),
        (4608, "3.2 days"),
        (20160, "14 days"),
    ],
)
def test_minutes(value: float, shown: str) -> None:
    """Minutes up to two hours, then hours, then days."""
    assert display.minutes(value) == shown


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.08, "1 month"),
        (0.5, "6 months"),
        (1.9, "23 months"),
        (2.0, "2 years"),
        (2.94, "2.9 years"),
        (15.2, "15 years"),
    ],
)
def test_years(value: float, shown: str) -> None:
    """Months below two years."""
    assert display.years(value) == shown


@pytest.mark.parametrize(("share", "shown"), [(0, 0), (0.004, 0), (0.126, 13), (1, 100), (1.25, 125)])
def test_percent(share: float, shown: int) -> None:
    """Whole per cent, apart by a space that does not break."""
    text = display.percent(share)
    assert text.rstrip("%").strip() == str(shown)
    assert text.endswith("%")


@pytest.mark.parametrize("unit_system", [US, SI])
@pytest.mark.parametrize(
    ("dimension", "low", "middle", "high"),
    [("mass", 0.02, 0.3, 9.0), ("mass", 0.02, 1.3, 9.0), ("leak rate", 1e-10, 5e-9, 1e-6)],
)
def test_a_range_stays_in_one_unit(
    unit_system: Display, dimension: str, low: float, middle: float, high: float
) -> None:
    """Quartiles of one figure are not in ounces and pounds by turns; the unit is that of the median."""
    form, other = unit_system.like(dimension, middle), unit_system.like_other(dimension, middle)
    units = {form(v).split(" ")[-1] for v in (low, middle, high)}
    assert len(units) == 1
    assert form(middle) == unit_system.first(middle, dimension)
    first, second = unit_system.both(middle, dimension).rstrip(")").split(" (")
    assert (form(middle), other(middle)) == (first, second)


def test_day_is_written_out() -> None:
    """No leading zero, no order of numbers to guess."""
    assert display.day(dt.date(2025, 2, 3)) == "3 February 2025"


@pytest.mark.parametrize(
    ("amount", "shown"),
    [(0, "0 USD"), (6, "6 USD"), (12.6, "13 USD"), (1234567.2, f"1{NARROW}234{NARROW}567 USD")],
)
def test_money(amount: float, shown: str) -> None:
    """Whole units with the currency."""
    assert US.money(amount) == shown


@given(st.floats(0.001, 5000))
def test_both_systems_tell_the_same_mass(kg: float) -> None:
    """Reading either figure back gives the mass, within its two digits."""
    factors = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.45359237 / 16}
    for text in re.findall(rf"[0-9.{NARROW}]+ [a-z]+", US.both(kg, "mass")):
        number, unit = text.split(" ")
        assert float(number.replace(NARROW, "")) * factors[unit] == pytest.approx(kg, rel=0.051, abs=5e-7)


@given(st.sampled_from(["mass", "pressure", "temperature", "length", "leak rate"]), st.floats(1e-9, 1e7))
def test_no_figure_is_minus_zero(dimension: str, si: float) -> None:
    """Rounded to nothing is nothing, with no sign."""
    for show in (US, SI):
        assert not re.search(r"(?<![0-9])-0(?![.0-9])", show.both(si, dimension))
        assert not re.search(r"(?<![0-9])-0(?![.0-9])", show.quantity(Quantity("1 x", si, dimension)))
