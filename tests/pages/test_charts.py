"""Geometry of the drawings: everything inside, in the right order, nothing drawn that is not known."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from math import log10
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.builders import reading
from leaklore.analysis.intervals import spread
from leaklore.pages.charts import SINGLE, TALLEST, Bar, Tick, bar, readings_chart, strip_chart
from leaklore.records.model import Reading

PPM = st.one_of(
    st.just("0"), st.integers(1, 500_000).map(str), st.sampled_from(["0.01", "0.5", "1.5", "12.25"])
)


def shown(*readings: Reading) -> list[tuple[int, Reading, str, bool | None]]:
    """Readings as the case page hands them over."""
    return [(i + 1, r, f"Place {i + 1}", None) for i, r in enumerate(readings)]


def value_of(tick: Tick) -> float:
    """The number that stands at a tick."""
    return float(tick.label.split(" ")[0].replace("\u202f", ""))


def test_readings_without_ppm_make_no_chart() -> None:
    """They stay in the table."""
    assert readings_chart([]) is None
    assert readings_chart(shown(reading("46 dB"), reading("480 micron"), reading("12 g/yr"))) is None


def test_readings_in_other_units_are_left_out_and_numbers_stay() -> None:
    """Dot 3 is reading 3 of the table."""
    chart = readings_chart(shown(reading("85 ppm", "1 ppm"), reading("46 dB"), reading("3 ppm")))
    assert chart is not None
    assert [(d.order, d.value, d.place) for d in chart.dots] == [
        (1, "85 ppm", "Place 1"),
        (3, "3 ppm", "Place 3"),
    ]
    assert chart.dots[0].x0 is not None
    assert chart.dots[1].x0 is None, "no background was noted"


def test_scale_of_readings_by_hand() -> None:
    """0 at 3 %, 1 ppm at 13 %, three decades up to 1000 ppm at 98 %; 10 ppm a third of the way."""
    chart = readings_chart(shown(reading("10 ppm", "0 ppm"), reading("1 ppm"), reading("999 ppm")))
    assert chart is not None
    assert [t.label for t in chart.ticks] == ["0", "1", "10", "100", "1\u202f000 ppm"]
    assert [t.x for t in chart.ticks] == pytest.approx([3, 13, 13 + 85 / 3, 13 + 170 / 3, 98], abs=0.01)
    assert chart.ticks[-1].anchor == "end"
    assert [d.x for d in chart.dots] == pytest.approx([41.33, 13, 97.99], abs=0.01)
    assert chart.dots[0].x0 == 3


@given(st.lists(st.tuples(PPM, st.one_of(st.none(), PPM)), min_size=1, max_size=20))
def test_readings_lie_inside_in_the_order_of_their_values(pairs: list[tuple[str, str | None]]) -> None:
    """Across by value, down by order, all on the paper; each dot between the ticks around its value."""
    taken = [reading(f"{v} ppm", f"{b} ppm" if b is not None else None) for v, b in pairs]
    chart = readings_chart(shown(*taken))
    assert chart is not None
    assert len(chart.dots) == len(pairs)
    places = [(float(v), d.x) for (v, _), d in zip(pairs, chart.dots, strict=True)]
    places += [
        (float(b), d.x0)
        for (_, b), d in zip(pairs, chart.dots, strict=True)
        if b is not None and d.x0 is not None
    ]
    assert len(places) == sum(1 + (b is not None) for _, b in pairs)
    assert all(3 <= x <= 98.01 for _, x in places)
    for (value, x), (next_value, next_x) in pairwise(sorted(places)):
        assert x <= next_x
        if value < next_value * 0.9:
            assert x < next_x, "a tenth more can be seen"
    xs = [t.x for t in chart.ticks]
    assert xs == sorted(set(xs))
    assert xs[-1] == 98
    for value, x in places:
        below = [t for t in chart.ticks if value_of(t) <= value]
        above = [t for t in chart.ticks if value_of(t) >= value]
        assert below[-1].x - 0.01 <= x <= above[0].x + 0.01
    ys = [d.y for d in chart.dots]
    assert ys == sorted(set(ys))
    assert ys[0] > 0
    assert ys[-1] < chart.height


def strip(values: list[float], unit: float = 1.0) -> object:
    """A strip of these values."""
    return strip_chart([(v, f"KW-{i}") for i, v in enumerate(values)], spread(values), unit, "kg")


def test_two_values_make_no_strip() -> None:
    """Nor do zeros, which have no place on a log scale; nor nothing."""
    assert strip([1.0, 2.0]) is None
    assert strip([1.0, 2.0, 0.0]) is None
    assert strip([]) is None
    assert strip([1.0, 2.0, 3.0]) is not None


def test_scale_of_a_strip_by_hand() -> None:
    """1 to 100 over two decades: 2 %, 49 %, 96 %, with 2 and 5 between."""
    values = [1.0, 10.0, 100.0, 10.0, 10.0, 10.0]
    chart = strip_chart([(v, str(i)) for i, v in enumerate(values)], spread(values), 1.0, "kg")
    assert chart is not None
    assert {t.label: t.x for t in chart.ticks} == pytest.approx(
        {"1": 2, "2": 16.15, "5": 34.85, "10": 49, "20": 63.15, "50": 81.85, "100 kg": 96}, abs=0.01
    )
    assert (chart.median, chart.low, chart.high) == (49, 2, 96)
    assert sorted(d.x for d in chart.dots) == pytest.approx([2.6, 49.4, 49.4, 49.4, 49.4, 96.2])
    assert len({(d.x, d.y) for d in chart.dots}) == 6, "equal values are stacked"
    assert max(d.y for d in chart.dots) == chart.base


@given(st.lists(st.floats(1e-4, 1e4), min_size=3, max_size=120), st.sampled_from([1.0, 0.45359237, 0.001]))
def test_a_strip_has_one_dot_a_case_inside_and_in_order(values: list[float], unit: float) -> None:
    """No two dots on one another; larger values never stand left of smaller ones."""
    cases = [(v, f"KW-{i}") for i, v in enumerate(values)]
    found = spread(values)
    chart = strip_chart(cases, found, unit, "kg")
    assert chart is not None
    assert found is not None
    assert sorted(d.case for d in chart.dots) == sorted(name for _, name in cases)
    assert len({(d.x, d.y) for d in chart.dots}) == len(cases)
    assert all(0 <= d.x <= 100 for d in chart.dots)
    assert all(0 < d.y <= chart.base < chart.height for d in chart.dots)
    where = {d.case: d.x for d in chart.dots}
    in_order = [where[name] for _, name in sorted(cases)]
    assert in_order == sorted(in_order)
    low, high = chart.ticks[0], chart.ticks[-1]
    assert value_of(low) <= min(values) / unit * (1 + 1e-9)
    assert value_of(high) >= max(values) / unit * (1 - 1e-8)
    for value, name in cases:
        exact = (
            2 + (log10(value / unit) - log10(value_of(low))) / (log10(value_of(high) / value_of(low))) * 94
        )
        assert abs(where[name] - exact) <= 1.31, "at most half a column aside"
    if found.few:
        assert (chart.median, chart.low, chart.high) == (None, None, None)
    else:
        assert chart.median is not None
        assert 2 <= chart.median <= 96.01
        if found.low is not None:
            assert chart.low is not None
            assert chart.high is not None
            assert 2 <= chart.low <= chart.median <= chart.high <= 96.01


@given(st.integers(SINGLE + 1, 5000), st.floats(0.1, 3), st.integers())
def test_many_values_share_dots_and_the_drawing_stays_small(count: int, wide: float, seed: int) -> None:
    """A dot for each so many cases begun, of a column: none is left out, and no stack is high."""
    draw = Random(seed)
    values = [draw.lognormvariate(0, wide) for _ in range(count)]
    chart = strip_chart([(v, "KW-1") for v in values], spread(values), 1.0, "kg")
    single = strip_chart([(v, "KW-1") for v in values[:SINGLE]], spread(values), 1.0, "kg")
    assert chart is not None
    assert single is not None
    assert single.each == 1
    columns = Counter(d.x for d in chart.dots)
    assert max(columns.values()) <= TALLEST
    assert len(chart.dots) * chart.each >= len(values) > (len(chart.dots) - len(columns)) * chart.each
    if chart.each > 1:
        assert {d.case for d in chart.dots} == {""}


def test_few_values_are_drawn_without_a_median() -> None:
    """Four dots, no line; five have a median but no interval; six have both."""
    for n in (4, 5, 6):
        values = [float(v) for v in range(1, n + 1)]
        chart = strip_chart([(v, str(v)) for v in values], spread(values), 1.0, "kg")
        assert chart is not None
        assert (chart.median is None, chart.low is None, chart.high is None) == (n < 5, n < 6, n < 6)


@pytest.mark.parametrize(
    ("value", "most", "low", "high", "made"),
    [
        (3, 12, None, None, Bar(25.0)),
        (12, 12, None, None, Bar(100.0)),
        (0, 12, None, None, Bar(0.0)),
        (1, 3, None, None, Bar(33.3)),
        (0, 0, None, None, Bar(0.0)),  # nothing of nothing
        (0.7, 1, 0.5, 0.85, Bar(70.0, 50.0, 85.0)),
        (0, 1, 0.0, 0.4, Bar(0.0, 0.0, 40.0)),  # a bound at zero is a bound
    ],
)
def test_bars(value: float, most: float, low: float | None, high: float | None, made: Bar) -> None:
    """In per cent of the full width."""
    assert bar(value, most, low, high) == made
