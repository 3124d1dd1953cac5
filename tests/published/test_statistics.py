"""Intervals and tests held against published tables. Each check names where its value comes from."""

from __future__ import annotations

from math import comb

import pytest
from scipy import stats

from leaklore.analysis.intervals import mcnemar_exact, median_ranks, spread, wilson

# A textbook table of the ranks that bound the median with at least 95 % confidence (Table A.7 of the
# textbook read for trade-facts 8.1): n, lower rank, upper rank, confidence in per cent with one decimal.
MEDIAN_RANKS = [
    (6, 1, 6, 96.9),
    (10, 2, 9, 97.9),
    (15, 4, 12, 96.5),
    (20, 6, 15, 95.9),
]
# The same by the binomial distribution, without a published table (trade-facts 8.1, marked RUN).
MEDIAN_RANKS_RUN = [(25, 8, 18, 95.67), (30, 10, 21, 95.72), (50, 18, 33, 96.72)]


@pytest.mark.parametrize(("n", "low", "high", "percent"), MEDIAN_RANKS)
def test_ranks_of_the_median_as_in_a_textbook_table(n: int, low: int, high: int, percent: float) -> None:
    """Source: textbook Table A.7, read (trade-facts 8.1)."""
    found = median_ranks(n)
    assert found is not None
    assert found[:2] == (low, high)
    assert round(100 * found[2], 1) == percent


@pytest.mark.parametrize(("n", "low", "high", "percent"), MEDIAN_RANKS_RUN)
def test_ranks_of_the_median_by_the_binomial(n: int, low: int, high: int, percent: float) -> None:
    """Source: computed from the binomial distribution (trade-facts 8.1, RUN); no published table."""
    found = median_ranks(n)
    assert found is not None
    assert found[:2] == (low, high)
    assert round(100 * found[2], 2) == percent


def test_coverage_between_two_order_statistics() -> None:
    """P(x17 <= median < x19) for n = 35 is 0.264121.

    Source: a statistics tutorial, real-statistics.com/order-statistics/confidence-intervals-order-statistics
    (read, trade-facts 8.1). Counted here from binomial coefficients; our coverage is the same sum over a
    wider pair of ranks, so both formulas are held against each other as well.
    """

    def covered(n: int, low: int, high: int) -> float:
        return sum(comb(n, i) for i in range(low, high)) / 2**n

    assert covered(35, 17, 19) == pytest.approx(0.264121, abs=5e-7)
    assert stats.binom.cdf(18, 35, 0.5) - stats.binom.cdf(16, 35, 0.5) == pytest.approx(0.264121, abs=5e-7)
    for n in (6, 17, 35, 60):
        found = median_ranks(n)
        assert found is not None
        low, high, coverage = found
        assert coverage == pytest.approx(covered(n, low, high), rel=1e-12)
        assert covered(n, low + 1, high - 1) < 0.95, "a narrower pair would do"


def test_worked_example_of_19_values() -> None:
    """Median 20.7, 95 % interval 10.8 to 30.9.

    Source: dgbonett.github.io/statpsych/reference/ci.median.html (read, trade-facts 8.1).
    """
    values = "30.2 20.4 15.1 10.2 10.5 60.8 20.8 25.0 20.7 30.9 10.8 5.1 50.9 40.0 20.9 10.8 0 20.5 50.8"
    found = spread([float(v) for v in values.split()])
    assert found is not None
    assert (found.n, found.median, found.low, found.high) == (19, 20.7, 10.8, 30.9)
    ranks = median_ranks(19)
    assert ranks is not None
    assert ranks[:2] == (5, 15)


# Newcombe 1998, Statistics in Medicine 17, 857-872, score method without continuity correction: the four
# cases of his comparison. The values are from memory (trade-facts 8.4) and were computed again.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("k", "n", "low", "high"), NEWCOMBE)
def test_wilson_interval_as_in_newcombe_1998(k: int, n: int, low: float, high: float) -> None:
    """Source: Newcombe 1998 (from memory), recomputed."""
    found = wilson(k, n)
    assert found is not None
    assert round(found.low, 4) == low
    assert round(found.high, 4) == high
    assert found.value == k / n


@pytest.mark.parametrize(("k", "n", "low", "high"), NEWCOMBE)
def test_wilson_bounds_solve_the_score_equation(k: int, n: int, low: float, high: float) -> None:
    """Source: Wilson 1927, the definition: the bounds are where |k/n - p| = z sqrt(p (1 - p) / n)."""
    found = wilson(k, n)
    assert found is not None
    z = 1.959963984540054  # 97.5 % point of the normal distribution, any table
    for p in (found.low, found.high):
        assert (k / n - p) ** 2 == pytest.approx(z * z * p * (1 - p) / n, abs=1e-12)


# Computed by hand from the binomial: p = 2 * sum(C(n, i), i <= min(b, c)) / 2**n, at most 1, n = b + c.
MCNEMAR = [
    (1, 8, 2 * (1 + 9) / 512),  # 0.0390625
    (8, 1, 0.0390625),
    (0, 5, 2 / 32),  # 0.0625: five pairs all one way are no finding
    (0, 6, 2 / 64),  # 0.03125
    (0, 8, 2 / 256),  # 0.0078125
    (2, 10, 2 * (1 + 12 + 66) / 4096),  # 0.03857421875
    (3, 3, 1.0),
    (4, 5, 1.0),
    (0, 1, 1.0),
    (0, 0, 1.0),  # no pair disagrees
    (3, 9, 2 * (1 + 12 + 66 + 220) / 4096),  # 0.14599609375
]


@pytest.mark.parametrize(("b", "c", "p"), MCNEMAR)
def test_mcnemar_exact_by_hand(b: int, c: int, p: float) -> None:
    """Source: computed by hand from the binomial."""
    assert mcnemar_exact(b, c) == pytest.approx(p, rel=1e-12)


def test_mcnemar_exact_against_the_published_sign_test() -> None:
    """Of 10 pairs 1 against 9 gives 0.0215, 2 against 8 gives 0.1094: the two-sided sign test of 10.

    Source: cumulative binomial tables for n = 10, p = 1/2 in any textbook (0.0107 and 0.0547, one-sided;
    from memory), computed by hand: 11/1024 and 56/1024.
    """
    assert mcnemar_exact(1, 9) == pytest.approx(22 / 1024, rel=1e-12)
    assert round(mcnemar_exact(1, 9), 4) == 0.0215
    assert mcnemar_exact(2, 8) == pytest.approx(112 / 1024, rel=1e-12)
    assert round(mcnemar_exact(2, 8), 4) == 0.1094
