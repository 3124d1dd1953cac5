"""Geometry of the drawings: across in per cent of the width, down in em, so that text keeps its size.

Drawn here and not by a charting library: a case page has its own picture, a large library has tens of
thousands, and the colours have to follow light, dark and print by themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from leaklore.analysis.intervals import Share, Spread
from leaklore.pages.display import number, percent
from leaklore.records.model import Reading


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of the scale with its label; `anchor` as in SVG's text-anchor."""

    x: float
    label: str
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class ReadingDot:
    """One reading; `x0` is its background, None where none was noted; `above` as in analysis.readings."""

    order: int
    x: float
    y: float
    x0: float | None
    value: str
    place: str
    above: bool | None


@dataclass(frozen=True, slots=True)
class ReadingsChart:
    """Readings in ppm in the order in which they were taken, on a log scale."""

    height: float
    ticks: tuple[Tick, ...]
    dots: tuple[ReadingDot, ...]


def readings_chart(
    readings: Sequence[tuple[int, Reading, str, bool | None]],
) -> ReadingsChart | None:
    """Chart of (order, reading, place, above background); readings in other units than ppm stay in the table."""
    shown = [r for r in readings if r[1].value.dimension == "fraction"]
    if not shown:
        return None
    ppm = [r.value.si * 1e6 for _, r, _, _ in shown]
    ppm += [r.background.si * 1e6 for _, r, _, _ in shown if r.background]
    positive = [v for v in ppm if v > 0]
    low = min(0, floor(log10(min(positive)))) if positive else 0
    high = max(low + 3, floor(log10(max(positive))) + 1 if positive else 3)

    def place(value: float) -> float:
        if value <= 0:
            return 3.0
        return round(13 + (log10(value) - low) / (high - low) * 85, 2)

    row = 3.6
    dots = tuple(
        ReadingDot(
            order,
            place(reading.value.si * 1e6),
            round(i * row + 2.3, 1),
            place(reading.background.si * 1e6) if reading.background else None,
            reading.value.written,
            at,
            above,
        )
        for i, (order, reading, at, above) in enumerate(shown)
    )
    ticks = [Tick(3.0, "0")]
    for e in range(low, high + 1):
        last = e == high
        ticks.append(
            Tick(
                98.0 if last else place(10.0**e),
                number(10.0**e) + (" ppm" if last else ""),
                "end" if last else "middle",
            )
        )
    return ReadingsChart(round(len(shown) * row + 2.4, 1), tuple(ticks), dots)


@dataclass(frozen=True, slots=True)
class StripDot:
    """One case of a strip, or several where `case` is empty."""

    x: float
    y: float
    case: str


@dataclass(frozen=True, slots=True)
class StripChart:
    """One dot for `each` cases on a log scale, with median and its interval."""

    height: float
    ticks: tuple[Tick, ...]
    dots: tuple[StripDot, ...]
    each: int
    base: float
    median: float | None
    low: float | None
    high: float | None


SINGLE, TALLEST = 150, 16
"""So many cases get a dot each; of more, a stack gets about so many dots at most."""


def strip_chart(
    values: Sequence[tuple[float, str]], found: Spread | None, unit: float, unit_name: str
) -> StripChart | None:
    """Strip of (SI value, case number); `unit` is the SI value of one `unit_name`. None below 3 values."""
    positive = sorted((v / unit, name) for v, name in values if v > 0)
    if len(positive) < 3 or found is None:
        return None
    low = floor(log10(positive[0][0]))
    high = max(low + 1, floor(log10(positive[-1][0]) - 1e-9) + 1)

    def place(value: float) -> float:
        return round(2 + (log10(max(value, 10.0**low)) - low) / (high - low) * 94, 2)

    stacks: dict[int, list[str]] = {}
    for value, name in positive:
        stacks.setdefault(round(place(value) / 2.6), []).append(name)
    highest = max(map(len, stacks.values()))
    each = 1 if len(positive) <= SINGLE else ceil(highest / TALLEST)
    raw = [
        (round(column * 2.6, 2), level, names[level] if each == 1 else "")
        for column, names in stacks.items()
        for level in range(ceil(len(names) / each))
    ]
    tallest = max(level for _, level, _ in raw)
    base = round(1.0 + tallest * 0.7, 2)
    ticks: list[Tick] = []
    for e in range(low, high + 1):
        last = e == high
        ticks.append(
            Tick(
                place(10.0**e),
                number(10.0**e) + (f" {unit_name}" if last else ""),
                "end" if last else "middle",
            )
        )
        if not last and high - low <= 2:
            ticks += [Tick(place(k * 10.0**e), number(k * 10.0**e)) for k in (2, 5)]
    draw = not found.few
    return StripChart(
        height=round(base + 4.4, 2),
        ticks=tuple(ticks),
        dots=tuple(StripDot(x, round(base - level * 0.7, 2), name) for x, level, name in raw),
        each=each,
        base=base,
        median=place(found.median / unit) if draw else None,
        low=place(found.low / unit) if draw and found.low is not None else None,
        high=place(found.high / unit) if draw and found.high is not None else None,
    )


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar with its doubt, in per cent of the full width."""

    value: float
    low: float | None = None
    high: float | None = None


def bar(value: float, most: float, low: float | None = None, high: float | None = None) -> Bar:
    """`value` of `most`, with an interval if there is one."""
    scale = 100 / most if most else 0.0
    return Bar(
        round(value * scale, 1),
        round(low * scale, 1) if low is not None else None,
        round(high * scale, 1) if high is not None else None,
    )


@dataclass(frozen=True, slots=True)
class SaidDot:
    """A class of probabilities: what was said and how often it came true; `low` and `high` bound the latter.

    `shape` is as-said, more, less or few; `label` how many probabilities fell in it.
    """

    x: float
    y: float
    low: float
    high: float
    shape: str
    label: str


@dataclass(frozen=True, slots=True)
class SaidChart:
    """What was said (across) against what came true (up); `across` and `up` are lines of the scale."""

    height: float
    across: tuple[Tick, ...]
    up: tuple[tuple[float, str], ...]
    left: float
    right: float
    top: float
    base: float
    dots: tuple[SaidDot, ...]


def said_chart(rows: Sequence[tuple[float, Share, str]]) -> SaidChart:
    """Chart of (mean probability said, share that came true, shape)."""
    left, right, top, base = 11.0, 92.0, 1.0, 21.0  # room for labels on both sides

    def across(p: float) -> float:
        return round(left + p * (right - left), 2)

    def up(p: float) -> float:
        return round(base - p * (base - top), 2)

    dots = tuple(
        SaidDot(across(said), up(true.value), up(true.low), up(true.high), shape, f"{true.n}")
        for said, true, shape in rows
    )
    steps = (0.0, 0.25, 0.5, 0.75, 1.0)
    return SaidChart(
        base + 2.0,
        tuple(Tick(across(p), percent(p)) for p in steps),
        tuple((up(p), percent(p)) for p in steps),
        left,
        right,
        top,
        base,
        dots,
    )
