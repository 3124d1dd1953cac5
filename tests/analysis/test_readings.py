"""When a reading stands out of the background: more than 2 ppm above it and at least three times it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.analysis.readings import FACTOR, RESOLUTION, above_background

from .builders import reading


@pytest.mark.parametrize(
    ("value", "background", "above"),
    [
        ("85 ppm", "1 ppm", True),
        ("3 ppm", "0 ppm", True),
        ("2 ppm", "0 ppm", False),  # at the resolution, not above it
        ("2.1 ppm", "0 ppm", True),
        ("0 ppm", "0 ppm", False),
        ("3 ppm", "1 ppm", False),  # three times, but only 2 ppm more
        ("4 ppm", "1 ppm", True),
        ("4 ppm", "2 ppm", False),
        ("5.9 ppm", "2 ppm", False),
        ("6 ppm", "2 ppm", True),
        ("33 ppm", "11 ppm", True),  # 33e-6 < 3 * 11e-6 in binary fractions
        ("32 ppm", "11 ppm", False),
        ("18 ppm", "12 ppm", False),  # another leak nearby
        ("1 ppm", "5 ppm", False),
    ],
)
def test_above_background(value: str, background: str, above: bool) -> None:
    """Both limits, on either side."""
    assert above_background(reading(value, background)) is above


def test_without_a_background_nothing_is_known() -> None:
    """Even 500 ppm may be the store of cylinders next door."""
    assert above_background(reading("500 ppm")) is None


@pytest.mark.parametrize("value", ["12 g/yr", "46 dB", "480 micron", "20 bar"])
def test_readings_in_other_units_are_not_judged(value: str) -> None:
    """A sound level has no background in ppm."""
    assert above_background(reading(value, value)) is None


def test_the_limits_are_those_that_the_pages_state() -> None:
    """2 ppm and three times."""
    assert pytest.approx(2e-6) == RESOLUTION
    assert FACTOR == 3


@given(st.integers(0, 20_000), st.integers(0, 20_000))
def test_whole_ppm_are_judged_as_by_whole_numbers(value: int, background: int) -> None:
    """No rounding of binary fractions shows."""
    expected = value - background > 2 and value >= 3 * background
    assert above_background(reading(f"{value} ppm", f"{background} ppm")) is expected
