"""Figures with their doubt: medians and shares with intervals that need no distribution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
import numpy.typing as npt
import scipy  # its parts are loaded where they are first used: they take long

LEVEL = 0.95
FEW = 5
"""Fewer cases than this are never called a finding."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Median and quartiles of `n` values in their unit.

    `low` and `high` bound the median with at least 95 % confidence (None below 6 values, where no
    such interval exists); `coverage` is the exact confidence of that interval.
    """

    n: int
    median: float
    q1: float
    q3: float
    low: float | None = None
    high: float | None = None
    coverage: float | None = None

    @property
    def few(self) -> bool:
        """Too few cases for a finding?"""
        return self.n < FEW


@dataclass(frozen=True, slots=True)
class Share:
    """`k` of `n`, with the Wilson score interval of the share."""

    k: int
    n: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """k / n."""
        return self.k / self.n

    @property
    def few(self) -> bool:
        """Too few cases for a finding?"""
        return self.n < FEW


@lru_cache(maxsize=10_000)
def median_ranks(n: int, level: float = LEVEL) -> tuple[int, int, float] | None:
    """Ranks (from 1) of the order statistics that bound the median, and their exact coverage.

    The symmetric pair (k, n+1-k) with the largest k whose coverage 1 - 2 P(B(n, 1/2) < k) reaches
    `level`; None where even the extremes don't reach it. Source: order statistics and the binomial
    distribution, e.g. Conover, Practical Nonparametric Statistics, ch. 3 (from memory); published
    ranks are held against it in tests/published.
    """
    k, above = 0, n
    while k < above:  # halving: the coverage falls as k rises
        middle = (k + above) // 2
        if 1 - 2 * scipy.special.bdtr(middle, n, 0.5) >= level:
            k = middle + 1
        else:
            above = middle
    if k < 1:
        return None
    return k, n + 1 - k, float(1 - 2 * scipy.special.bdtr(k - 1, n, 0.5))


def spread(values: Sequence[float] | npt.NDArray[np.float64]) -> Spread | None:
    """Median, quartiles (linear between ranks) and the interval of the median; None for no values."""
    if len(values) == 0:
        return None
    ordered = np.sort(np.asarray(values, dtype=float))
    q1, median, q3 = (float(x) for x in np.percentile(ordered, [25, 50, 75]))
    ranks = median_ranks(len(ordered))
    if ranks is None:
        return Spread(len(ordered), median, q1, q3)
    low, high, coverage = ranks
    return Spread(len(ordered), median, q1, q3, float(ordered[low - 1]), float(ordered[high - 1]), coverage)


def wilson(k: int, n: int, level: float = LEVEL) -> Share | None:
    """Wilson score interval of k of n; None for n = 0.

    Source: Wilson 1927; values of Newcombe 1998, Statistics in Medicine 17, 857-872 in tests/published.
    """
    if n == 0:
        return None
    z = float(scipy.special.ndtri(0.5 + level / 2))
    p = k / n
    centre = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return Share(k, n, max(0.0, centre - half), min(1.0, centre + half))


Floats = npt.NDArray[np.float64]


def share_of_sum(
    part: Floats | float, whole: float, part_squares: Floats | float, whole_squares: float, n: int
) -> tuple[Floats, Floats]:
    """Bounds of the share that some of `n` values above 0 have in the sum of all, from sums and sums of squares.

    Large values weigh more, so the values tell as much as fewer equal ones would; of that many the share's bounds are
    those of Clopper and Pearson, with Student's allowance for an estimated spread. Source: Korn and Graubard 1998,
    Survey Methodology 24, 193-201 (from memory); where the spread found is less than that of equal values, the number
    of Kish 1965, (sum)^2 / sum of squares. One value tells nothing.
    """
    p = np.clip(np.atleast_1d(np.asarray(part, dtype=float)) / whole, 0.0, 1.0)
    squares = np.atleast_1d(np.asarray(part_squares, dtype=float))
    if n < 2:
        return np.zeros_like(p), np.ones_like(p)
    variance = ((1 - p) ** 2 * squares + p**2 * (whole_squares - squares)) / whole**2 * n / (n - 1)
    kish = whole**2 / whole_squares
    spread_out = np.divide(p * (1 - p), variance, out=np.full_like(p, kish), where=variance > 0)
    student = scipy.special.ndtri(0.5 + LEVEL / 2) / scipy.special.stdtrit(n - 1, 0.5 + LEVEL / 2)
    size = np.minimum(kish, spread_out) * student**2
    half, k, rest = (1 - LEVEL) / 2, p * size, (1 - p) * size
    low = np.where(k > 0, scipy.special.betaincinv(np.maximum(k, 1e-12), rest + 1, half), 0.0)
    high = np.where(rest > 0, scipy.special.betaincinv(k + 1, np.maximum(rest, 1e-12), 1 - half), 1.0)
    return low, high


def mcnemar_exact(b: int, c: int) -> float:
    """Two-sided exact p of McNemar's test; `b` and `c` are the pairs in which only one of two succeeded.

    Under no difference b is binomial(b + c, 1/2); 1 where all pairs agree. Source: McNemar 1947 with
    the exact binomial tail, doubled, which for probability 1/2 is the two-sided p.
    """
    if b + c == 0:
        return 1.0
    return min(1.0, 2 * float(scipy.special.bdtr(min(b, c), b + c, 0.5)))
