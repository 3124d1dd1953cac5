"""Leaks by quarter: rates over the systems then under watch, limits of chance, and a test for a trend.

What changes from quarter to quarter is mostly chance. A quarter is called high or low only where chance alone would
seldom bring so many or so few, and a trend only where it shows over all quarters, corrected for the modes looked at.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf
from statistics import NormalDist
from typing import Literal

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long
from numpy.typing import NDArray

from leaklore.analysis.intervals import FEW, LEVEL
from leaklore.analysis.patterns.discoveries import false_discovery
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Fleet, Leak, years
from leaklore.analysis.patterns.rates import Floats, Rate, funnel_limits, rate
from leaklore.analysis.patterns.signals import ALL, ALL_WEIGHT, FALSE_SHARE

Standing = Literal["within", "high", "low", "far-high", "far-low"]
NEAR, FAR = LEVEL, 0.998
"""Limits between which a quarter lies by chance."""
_STEEPEST = 12.0
"""Logarithm of a yearly factor, beyond any trend."""
_Z = NormalDist().inv_cdf(0.5 + LEVEL / 2)


@dataclass(frozen=True, slots=True)
class Quarter:
    """Part of a quarter under watch, from `start` up to and without `end`; `years` system-years in it; is it `whole`?"""

    year: int
    number: int
    start: dt.date
    end: dt.date
    years: float
    whole: bool

    @property
    def name(self) -> str:
        """`2026 Q1`."""
        return f"{self.year} Q{self.number}"


@dataclass(frozen=True, slots=True)
class Point:
    """Leaks of a quarter: rate, how many are `expected` at the rate of all quarters, counts at the limits of chance."""

    quarter: Quarter
    leaks: tuple[Leak, ...]
    rate: Rate | None
    expected: float
    near: tuple[int, int]
    far: tuple[int, int]

    @property
    def standing(self) -> Standing:
        """Outside the 95 % limits (high, low), outside the 99.8 % limits (far-), or within."""
        n = len(self.leaks)
        if n > self.far[1]:
            return "far-high"
        if n < self.far[0]:
            return "far-low"
        if n > self.near[1]:
            return "high"
        return "low" if n < self.near[0] else "within"


@dataclass(frozen=True, slots=True)
class Trend:
    """Yearly `factor` of the rate with its 95 % interval (likelihood), and `p` for no trend."""

    factor: float
    low: float
    high: float
    p: float


@dataclass(frozen=True, slots=True)
class Series:
    """A mode (or ALL) over the quarters. `q` of its trend among all looked at; `uneven` the chance that quarters that
    leak alike differ so much (None with too few leaks)."""

    mode: str
    overall: Rate | None
    points: tuple[Point, ...]
    trend: Trend | None
    uneven: float | None
    q: float | None = None

    @property
    def leaks(self) -> int:
        """Leaks of all quarters."""
        return sum(len(p.leaks) for p in self.points)

    @property
    def changes(self) -> bool:
        """A trend that chance would not make?"""
        return self.q is not None and self.q <= FALSE_SHARE

    @property
    def outside(self) -> tuple[Point, ...]:
        """Quarters outside the 95 % limits."""
        return tuple(p for p in self.points if p.standing != "within")


@dataclass(frozen=True, slots=True)
class OverTime:
    """All leaks, and each mode, most leaks first; `looked_at` series were tested for a trend."""

    quarters: tuple[Quarter, ...]
    all: Series
    modes: tuple[Series, ...]
    looked_at: int


def quarters(fleet: Fleet) -> tuple[Quarter, ...]:
    """Quarters of the watch with the system-years in each; the first and last may be parts."""
    if fleet.since >= fleet.until:
        return ()
    starts = [dt.date(fleet.since.year, 3 * ((fleet.since.month - 1) // 3) + 1, 1)]
    while starts[-1] < fleet.until:
        y, m = starts[-1].year, starts[-1].month + 3
        starts.append(dt.date(y + m // 13, (m - 1) % 12 + 1, 1))
    edges = [max(starts[0], fleet.since), *starts[1:-1], min(starts[-1], fleet.until)]
    came = np.array([w.start.toordinal() for w in fleet.watched], dtype=np.int64)
    went = np.array([w.end.toordinal() for w in fleet.watched], dtype=np.int64)
    upto = [int(np.clip(e.toordinal() - came, 0, went - came).sum()) for e in edges]
    return tuple(
        Quarter(
            begin.year,
            (begin.month - 1) // 3 + 1,
            edges[i],
            edges[i + 1],
            (upto[i + 1] - upto[i]) / DAYS_A_YEAR,
            edges[i] == begin and edges[i + 1] == starts[i + 1],
        )
        for i, begin in enumerate(starts[:-1])
    )


def trend(counts: Floats, exposure: Floats, at: Floats) -> Trend | None:
    """Poisson rates log-linear in time: `counts` in `exposure` system-years at `at` years; None without a comparison.

    Given their sum the counts are multinomial, which leaves one slope; test and interval by its likelihood ratio.
    Source: Cox and Lewis, The Statistical Analysis of Series of Events, ch. 3 (from memory).
    """
    use = exposure > 0
    y, e, t = counts[use], exposure[use], at[use]
    n = float(y.sum())
    if n == 0 or t.size < 2 or t.min() == t.max():
        return None
    t = t - (e * t).sum() / e.sum()
    moment = float((y * t).sum())
    logs = np.log(e)

    def likelihood(b: float) -> float:
        return b * moment - n * float(scipy.special.logsumexp(logs + b * t))

    best = scipy.optimize.minimize_scalar(
        lambda b: -likelihood(b), bounds=(-_STEEPEST, _STEEPEST), method="bounded", options={"xatol": 1e-9}
    )
    slope, top = float(best.x), -float(best.fun)

    def over(b: float) -> float:
        return likelihood(b) - top + _Z * _Z / 2

    def bound(edge: float) -> float | None:
        return None if over(edge) > 0 else float(scipy.optimize.brentq(over, slope, edge, xtol=1e-9))

    low, high = bound(-_STEEPEST), bound(_STEEPEST)
    p = float(scipy.special.chdtrc(1, max(0.0, 2 * (top - likelihood(0.0)))))
    return Trend(exp(slope), 0.0 if low is None else exp(low), inf if high is None else exp(high), p)


def over_time(fleet: Fleet) -> OverTime:
    """Quarterly leaks of a fleet, all together and by mode."""
    spans = quarters(fleet)
    exposure = np.array([q.years for q in spans])
    middle = np.array([(years(fleet.since, q.start) + years(fleet.since, q.end)) / 2 for q in spans])
    starts = np.array([q.start.toordinal() for q in spans], dtype=np.int64)
    by_mode: dict[str, list[Leak]] = {}
    for leak in fleet.leaks:
        by_mode.setdefault(leak.mode, []).append(leak)

    def series(mode: str, leaks: Sequence[Leak]) -> Series:
        days = np.array([leak.day.toordinal() for leak in leaks], dtype=np.int64)
        where = np.searchsorted(starts, days, "right") - 1
        return _series(mode, leaks, where, spans, exposure, middle)

    every = series(ALL, fleet.leaks)
    modes = [series(m, leaks) for m, leaks in sorted(by_mode.items(), key=lambda x: (-len(x[1]), x[0]))]
    tested = [s for s in modes if s.trend]
    q = iter(_q(every, tested))
    every = replace(every, q=float(next(q)) if every.trend else None)
    modes = [replace(s, q=float(next(q))) if s.trend else s for s in modes]
    return OverTime(spans, every, tuple(modes), len(tested) + (every.trend is not None))


def _q(every: Series, modes: Sequence[Series]) -> Floats:
    """Corrected for all looks; all leaks together take ALL_WEIGHT of the allowance."""
    looks = [s.trend.p for s in (every, *modes) if s.trend]
    if not modes or every.trend is None:
        return false_discovery(np.array(looks))
    m = len(modes)
    weight = np.array([ALL_WEIGHT, *[(1 - ALL_WEIGHT) / m] * m]) * (m + 1)
    return false_discovery(np.array(looks), weight)


def _series(
    mode: str,
    leaks: Sequence[Leak],
    where: NDArray[np.intp],
    spans: Sequence[Quarter],
    exposure: Floats,
    middle: Floats,
) -> Series:
    counts = np.bincount(where, minlength=len(spans)).astype(float)
    total = float(exposure.sum())
    expected = len(leaks) * exposure / total if total else np.zeros_like(exposure)
    near, far = funnel_limits(expected, NEAR), funnel_limits(expected, FAR)
    of: list[list[Leak]] = [[] for _ in spans]
    for i, leak in zip(where, leaks, strict=True):
        of[i].append(leak)
    points = tuple(
        Point(
            span,
            tuple(of[i]),
            rate(len(of[i]), span.years),
            float(expected[i]),
            (int(near[0][i]), int(near[1][i])),
            (int(far[0][i]), int(far[1][i])),
        )
        for i, span in enumerate(spans)
    )
    enough = len(leaks) >= FEW
    return Series(
        mode,
        rate(len(leaks), total),
        points,
        trend(counts, exposure, middle) if enough else None,
        _uneven(counts, expected) if enough else None,
    )


def _uneven(counts: Floats, expected: Floats) -> float | None:
    """Chance of so uneven quarters if all leak alike: Pearson's chi-squared, None where too few leaks are expected.

    The usual rule asks for 5 a cell; with many cells 1 will do (Koehler and Larntz 1980, from memory).
    """
    use = expected > 0
    if use.sum() < 2 or expected[use].mean() < 1:
        return None
    chi2 = float(((counts[use] - expected[use]) ** 2 / expected[use]).sum())
    return float(scipy.special.chdtrc(int(use.sum()) - 1, chi2))
