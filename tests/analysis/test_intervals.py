"""Medians and shares with their doubt."""

from __future__ import annotations

import statistics
from itertools import pairwise
from math import comb
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from leaklore.analysis.intervals import (
    FEW,
    LEVEL,
    Share,
    mcnemar_exact,
    median_ranks,
    share_of_sum,
    spread,
    wilson,
)

VALUES = st.lists(st.floats(-1e9, 1e9, allow_nan=False), min_size=1, max_size=80)
COUNTS = st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(VALUES)
def test_interval_contains_the_median_and_the_quartiles_are_in_order(values: list[float]) -> None:
    """low <= median <= high; min <= q1 <= median <= q3 <= max."""
    found = spread(values)
    assert found is not None
    assert found.n == len(values)
    assert min(values) <= found.q1 <= found.median <= found.q3 <= max(values)
    assert found.median == pytest.approx(statistics.median(values), rel=1e-12, abs=1e-300)
    if len(values) >= 6:
        assert found.low is not None
        assert found.high is not None
        assert found.low in values
        assert found.high in values
        assert found.low <= found.median <= found.high


@given(VALUES, st.randoms())
def test_order_of_values_does_not_matter(values: list[float], random: Random) -> None:
    """A spread is of the values, not of their order, and leaves them alone."""
    mixed = list(values)
    random.shuffle(mixed)
    before = list(mixed)
    assert spread(mixed) == spread(values)
    assert mixed == before


@given(
    st.lists(st.integers(-10_000, 10_000), min_size=6, max_size=60), st.integers(1, 50), st.integers(-99, 99)
)
def test_interval_follows_a_change_of_unit(values: list[int], scale: int, shift: int) -> None:
    """A monotone change of the values changes the interval in the same way: kg or lb, it is one interval."""
    found, changed = spread(values), spread([v * scale + shift for v in values])
    assert found is not None
    assert changed is not None
    assert found.low is not None
    assert found.high is not None
    assert changed.low == found.low * scale + shift
    assert changed.high == found.high * scale + shift
    assert changed.median == pytest.approx(found.median * scale + shift)


@given(st.lists(st.floats(0, 1e6), min_size=6, max_size=40), st.floats(0, 1e5))
def test_larger_values_never_lower_the_interval(values: list[float], more: float) -> None:
    """Monotone: raising values raises (or keeps) median and both bounds."""
    raised = [v + more if i % 2 else v for i, v in enumerate(values)]
    a, b = spread(values), spread(raised)
    assert a is not None
    assert b is not None
    assert a.low is not None
    assert b.low is not None
    assert a.high is not None
    assert b.high is not None
    assert a.low <= b.low
    assert a.median <= b.median
    assert a.high <= b.high


@given(st.integers(6, 3000))
def test_coverage_is_at_least_the_level_and_the_pair_is_the_narrowest(n: int) -> None:
    """Symmetric ranks, coverage >= 95 %, and one step inwards would not reach it."""
    found = median_ranks(n)
    assert found is not None
    low, high, coverage = found
    assert low >= 1
    assert low + high == n + 1
    assert LEVEL <= coverage <= 1
    inward = 1 - 2 * stats.binom.cdf(low, n, 0.5)
    assert inward < LEVEL


@pytest.mark.parametrize("n", range(6, 200))
def test_coverage_is_the_exact_binomial_sum(n: int) -> None:
    """Counted with whole numbers: P(low <= B < high) for B of binomial(n, 1/2)."""
    found = median_ranks(n)
    assert found is not None
    low, high, coverage = found
    assert coverage == pytest.approx(sum(comb(n, i) for i in range(low, high)) / 2**n, rel=1e-11)


def test_ranks_move_inwards_as_a_share_of_n() -> None:
    """Monotone in n: the lower rank never falls as cases come in, and rises by at most one a case."""
    lows = [ranks[0] for n in range(6, 400) if (ranks := median_ranks(n))]
    assert len(lows) == 394
    assert all(0 <= b - a <= 1 for a, b in pairwise(lows))


@pytest.mark.parametrize("n", range(6))
def test_no_interval_below_six_values(n: int) -> None:
    """With five values even the extremes miss the median once in sixteen times."""
    assert median_ranks(n) is None
    found = spread([float(v) for v in range(n)])
    if n == 0:
        assert found is None
    else:
        assert found is not None
        assert (found.low, found.high, found.coverage) == (None, None, None)


def test_a_higher_level_needs_wider_ranks() -> None:
    """99 % of 20 is wider than 95 %; 99 % of 7 does not exist."""
    assert median_ranks(20) == (6, 15, pytest.approx(0.958611, abs=1e-6))
    assert median_ranks(20, 0.99) == (4, 17, pytest.approx(0.997423, abs=1e-6))
    assert median_ranks(7, 0.99) is None


@pytest.mark.parametrize("n", [6, 9, 15, 24, 41, 80])
@pytest.mark.parametrize("shape", ["exponential", "lognormal"])
def test_empirical_coverage_of_the_interval(n: int, shape: str) -> None:
    """Of 1500 samples at least 93 % hold the true median, and no more than the stated confidence allows."""
    random = np.random.default_rng(20251125 + n)
    runs = 1500
    if shape == "exponential":
        samples, truth = random.exponential(2.0, (runs, n)), 2.0 * np.log(2)
    else:
        samples, truth = random.lognormal(0.3, 1.2, (runs, n)), np.exp(0.3)
    hits, stated = 0, 0.0
    for row in samples:
        found = spread(row.tolist())
        assert found is not None
        assert found.low is not None
        assert found.high is not None
        assert found.coverage is not None
        hits += found.low <= truth <= found.high
        stated = found.coverage
    assert hits / runs >= 0.93
    assert abs(hits / runs - stated) < 4.5 * (stated * (1 - stated) / runs) ** 0.5


def test_quartiles_are_linear_between_ranks() -> None:
    """1 2 3 4: q1 1.75, q3 3.25, as spreadsheets and pandas have it."""
    found = spread([4, 1, 3, 2])
    assert found is not None
    assert (found.q1, found.median, found.q3) == (1.75, 2.5, 3.25)


def test_few_means_fewer_than_five() -> None:
    """Five cases may be called a finding, four may not, for medians and for shares."""
    assert FEW == 5
    four, five = spread([1.0] * 4), spread([1.0] * 5)
    assert four is not None
    assert five is not None
    assert four.few
    assert not five.few
    assert Share(1, 4, 0, 1).few
    assert not Share(1, 5, 0, 1).few


@given(COUNTS)
def test_wilson_holds_the_share_and_stays_within_0_and_1(counts: tuple[int, int]) -> None:
    """0 <= low <= k/n <= high <= 1, and the interval is never a point."""
    k, n = counts
    found = wilson(k, n)
    assert found is not None
    assert 0 <= found.low <= k / n + 1e-12
    assert k / n - 1e-12 <= found.high <= 1
    assert found.low < found.high


@given(COUNTS)
def test_wilson_is_symmetric_in_success_and_failure(counts: tuple[int, int]) -> None:
    """What held and what did not are one statement."""
    k, n = counts
    a, b = wilson(k, n), wilson(n - k, n)
    assert a is not None
    assert b is not None
    assert a.low == pytest.approx(1 - b.high, abs=1e-12)
    assert a.high == pytest.approx(1 - b.low, abs=1e-12)


@given(st.integers(2, 500).flatmap(lambda n: st.tuples(st.integers(0, n - 1), st.just(n))))
def test_wilson_rises_with_each_success(counts: tuple[int, int]) -> None:
    """Monotone in k."""
    k, n = counts
    a, b = wilson(k, n), wilson(k + 1, n)
    assert a is not None
    assert b is not None
    assert a.low < b.low
    assert a.high < b.high


@given(st.integers(0, 20), st.integers(1, 20), st.integers(2, 40))
def test_wilson_narrows_with_more_cases(k: int, more: int, times: int) -> None:
    """The same share of more cases is surer."""
    n = k + more
    a, b = wilson(k, n), wilson(k * times, n * times)
    assert a is not None
    assert b is not None
    assert b.high - b.low < a.high - a.low


def test_wilson_of_nothing_is_none() -> None:
    """No cases, no share."""
    assert wilson(0, 0) is None


@given(st.integers(0, 60), st.integers(0, 60))
def test_mcnemar_is_symmetric_and_between_0_and_1(b: int, c: int) -> None:
    """Which technique stands first does not matter."""
    p = mcnemar_exact(b, c)
    assert 0 < p <= 1
    assert p == mcnemar_exact(c, b)


@given(st.integers(0, 30), st.integers(1, 30))
def test_mcnemar_falls_as_pairs_lean_further_one_way(b: int, gap: int) -> None:
    """The same number of pairs, further apart: a smaller p."""
    assert mcnemar_exact(b, b + gap + 2) < mcnemar_exact(b + 1, b + gap + 1)


@pytest.mark.parametrize("n", [6, 10, 30, 100])
@pytest.mark.parametrize("sigma", [0.7, 1.1])
def test_the_bounds_of_a_share_of_a_sum_hold_the_truth(n: int, sigma: float) -> None:
    """Values with heavy tails (lognormal), larger in the part than outside: at least 95 of 100, beyond the draw's chance."""
    rng = np.random.default_rng(7)
    hits = 0
    for _ in range(400):
        chance, times = rng.uniform(0.1, 0.5), rng.lognormal(1, 0.4)
        truth = chance * times / (chance * times + 1 - chance)
        inside = rng.uniform(size=n) < chance
        values = rng.lognormal(0, sigma, n) * np.where(inside, times, 1.0)
        part, squares = values[inside].sum(), (values[inside] ** 2).sum()
        low, high = share_of_sum(part, values.sum(), squares, (values**2).sum(), n)
        hits += low[0] <= truth <= high[0]
    assert hits / 400 > 0.94


def test_the_bounds_of_a_share_of_equal_values_are_nearly_the_exact_ones() -> None:
    """30 of 100; none and all; one value tells nothing; a share of many values is narrow."""
    low, high = share_of_sum(np.array([30.0, 0.0, 100.0]), 100.0, np.array([30.0, 0.0, 100.0]), 100.0, 100)
    exact = stats.binomtest(30, 100).proportion_ci(0.95, "exact")
    assert (low[0], high[0]) == pytest.approx((exact.low, exact.high), abs=0.005)
    assert (low[1], high[1]) == pytest.approx((0.0, 0.036), abs=0.002)
    assert (low[2], high[2]) == pytest.approx((0.964, 1.0), abs=0.002)
    assert [float(x[0]) for x in share_of_sum(5.0, 5.0, 25.0, 25.0, 1)] == [0.0, 1.0]
    (low,), (high,) = share_of_sum(3e5, 1e6, 3e5, 1e6, 10**6)
    assert high - low == pytest.approx(2 * 1.96 * (0.3 * 0.7 / 1e6) ** 0.5, rel=0.01)
