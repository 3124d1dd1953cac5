"""Rates, ratios, funnels, false discoveries and shrinkage held against published values and independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from leaklore.analysis.patterns import rates
from leaklore.analysis.patterns.discoveries import (
    chance_of_more,
    false_discovery,
    false_discovery_of_counts,
    tails,
)
from leaklore.analysis.patterns.rates import (
    Stratum,
    funnel_limits,
    gamma_poisson,
    poisson_interval,
    rate_ratio,
    stratified_ratio,
)

# Exact Poisson limits: method Ulm 1990, Am. J. Epidemiol. 131, 373-375 (abstract read); x = 0 -> 3.689 read in the
# documentation of a public R package; the other values from the chi-square link (trade-facts 8.3).
GARWOOD = [
    (0, 0.0, 3.6889),
    (1, 0.0253, 5.5716),
    (5, 1.6235, 11.6683),
    (10, 4.7954, 18.3904),
    (20, 12.2165, 30.8884),
    (50, 37.111, 65.919),
    (100, 81.364, 121.627),
]
# Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57, 289-300, section 3.2: fifteen p values of a thrombolysis trial
# (from memory; recomputed): 4 are rejected at 0.05, Bonferroni rejects 3.
THROMBOLYSIS = np.array(
    [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528,
        0.7590, 1.0,
    ]
)  # fmt: skip
# Pump failures: Gaver and O'Muircheartaigh 1987, Technometrics 29, 1-15. Failures and thousands of hours; George, Makov
# and Smith 1993 give about 0.82 and 1.26 (both from memory; trade-facts 8.6).
PUMPS = np.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22.0])
HOURS = np.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])
PUMP_RATES = [0.0609, 0.1075, 0.0908, 0.1165, 0.5880, 0.6069, 0.7886, 0.7886, 1.4347, 1.9405]


@pytest.mark.parametrize(("k", "low", "high"), GARWOOD)
def test_poisson_limits(k: int, low: float, high: float) -> None:
    assert poisson_interval(k) == pytest.approx((low, high), abs=6e-4)


@pytest.mark.parametrize(
    ("mean", "inner", "outer"), [(10, (4, 17), (2, 21)), (5, (1, 10), (0, 13)), (20, (12, 29), (8, 35))]
)
def test_limits_of_a_funnel(mean: float, inner: tuple[int, int], outer: tuple[int, int]) -> None:
    """Method Spiegelhalter 2005, Stat. Med. 24, 1185-1202 (from memory); quantiles by scipy.stats.poisson (trade-facts 8.4)."""
    for level, want in ((0.95, inner), (0.998, outer)):
        low, high = funnel_limits(np.array([mean]), level)
        assert (low[0], high[0]) == want


def test_limits_of_a_funnel_are_poisson_quantiles_everywhere() -> None:
    """Reference library: scipy.stats.poisson."""
    means = np.concatenate([np.linspace(0.01, 40, 800), np.linspace(50, 5000, 60)])
    for level in (0.95, 0.998):
        low, high = funnel_limits(means, level)
        half = (1 - level) / 2
        assert np.array_equal(low, stats.poisson.ppf(half, means))
        assert np.array_equal(high, stats.poisson.ppf(1 - half, means))


def test_false_discoveries_as_in_the_first_paper() -> None:
    q = false_discovery(THROMBOLYSIS)
    assert (q <= 0.05).sum() == 4
    assert (THROMBOLYSIS * 15 <= 0.05).sum() == 3
    assert q == pytest.approx(stats.false_discovery_control(THROMBOLYSIS), abs=1e-12)


def test_ratio_of_rates_is_the_conditional_test() -> None:
    """Reference library: scipy.stats.binomtest gives Clopper and Pearson's bounds of the share."""
    k, years, k_rest, years_rest = 9, 71.7, 14, 1560.2
    found = rate_ratio(k, years, k_rest, years_rest)
    assert found is not None
    bounds = stats.binomtest(k, k + k_rest).proportion_ci(method="exact")
    odds = [p / (1 - p) * years_rest / years for p in (bounds.low, bounds.high)]
    assert (found.low, found.high) == pytest.approx(odds, rel=1e-9)
    assert found.value == pytest.approx((9 / 71.7) / (14 / 1560.2))


def test_chance_of_more_is_the_one_sided_binomial_test() -> None:
    """Reference library: scipy.stats.binomtest."""
    for k, n, share in [(9, 23, 0.047), (0, 23, 0.047), (6, 13, 0.054), (8, 16, 0.29), (3, 3, 0.2)]:
        ours = chance_of_more(np.array([k]), np.array([n]), np.array([share]))[0]
        assert ours == pytest.approx(stats.binomtest(k, n, share, alternative="greater").pvalue, rel=1e-9)


def test_one_stratum_is_the_plain_ratio() -> None:
    plain = rate_ratio(9, 71.7, 14, 1560.2)
    one = stratified_ratio([Stratum(9, 71.7, 14, 1560.2), Stratum(0, 10.0, 0, 50.0)])
    assert plain is not None
    assert one is not None
    assert (one.value, one.low, one.high) == pytest.approx((plain.value, plain.low, plain.high), rel=1e-6)


@pytest.mark.parametrize("k", [(1, 0), (2, 7), (3, 0), (0, 3)])
@pytest.mark.parametrize("years", [(1 / 366, 250_000.0), (250_000.0, 1 / 366)])
def test_a_system_of_one_day_against_a_whole_fleet(k: tuple[int, int], years: tuple[float, float]) -> None:
    """However far the times under watch lie apart, it is the plain ratio."""
    plain = rate_ratio(k[0], years[0], k[1], years[1])
    one = stratified_ratio([Stratum(k[0], years[0], k[1], years[1])])
    assert plain is not None
    assert one is not None
    assert (one.value, one.low, one.high) == pytest.approx((plain.value, plain.low, plain.high), rel=1e-6)


def test_strata_against_a_conditional_poisson_likelihood() -> None:
    """Independent: the bounds put 2.5 % in each tail of the sum of binomials, counted out by enumeration."""
    strata = [Stratum(4, 20.0, 3, 60.0), Stratum(2, 10.0, 5, 100.0), Stratum(1, 30.0, 0, 30.0)]
    found = stratified_ratio(strata)
    assert found is not None
    for ratio, at_least in ((found.low, True), (found.high, False)):
        shares = [ratio * s.years / (ratio * s.years + s.years_rest) for s in strata]
        totals = [s.k + s.k_rest for s in strata]
        tail = 0.0
        for counts in np.ndindex(*(n + 1 for n in totals)):
            if sum(counts) >= 7 if at_least else sum(counts) <= 7:
                tail += float(
                    np.prod(
                        [stats.binom.pmf(c, n, p) for c, n, p in zip(counts, totals, shares, strict=True)]
                    )
                )
        assert tail == pytest.approx(0.025, abs=1e-6)
    shares = [found.value * s.years / (found.value * s.years + s.years_rest) for s in strata]
    assert sum((s.k + s.k_rest) * p for s, p in zip(strata, shares, strict=True)) == pytest.approx(7)


def test_bounds_of_many_leaks_join_the_exact_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    strata = [Stratum(140, 700.0, 130, 900.0), Stratum(60, 300.0, 220, 2000.0)]
    exact = stratified_ratio(strata)
    monkeypatch.setattr(rates, "MANY_LEAKS", 100)
    quick = stratified_ratio(strata)
    assert exact is not None
    assert quick is not None
    assert quick.value == exact.value
    assert (quick.low, quick.high) == pytest.approx((exact.low, exact.high), rel=0.02)


def test_pumps_are_drawn_together() -> None:
    prior = gamma_poisson(PUMPS, HOURS)
    assert prior is not None
    assert (prior.alpha, prior.beta) == pytest.approx((0.8230, 1.2617), rel=0.01)
    assert list(prior.shrunk(PUMPS, HOURS)) == pytest.approx(PUMP_RATES, abs=1e-3)
    low, high = prior.interval(22, 10.5)
    assert (low, high) == pytest.approx(
        tuple(stats.gamma.ppf([0.025, 0.975], prior.alpha + 22, scale=1 / (prior.beta + 10.5))), rel=1e-6
    )


def test_groups_that_are_alike_are_drawn_to_one_rate() -> None:
    rng = np.random.default_rng(3)
    years = rng.uniform(20, 200, 60)
    prior = gamma_poisson(rng.poisson(0.1 * years).astype(float), years)
    assert prior is not None
    drawn = prior.shrunk(rng.poisson(0.1 * years).astype(float), years)
    assert drawn.max() / drawn.min() < 1.5


def test_what_a_count_can_reach() -> None:
    """Independent: every chance below one in five that a binomial count can have, by scipy.stats.binom."""
    rng = np.random.default_rng(4)
    n, share = rng.integers(1, 400, 300).astype(float), rng.uniform(0.005, 0.6, 300)
    ours = tails(n, share)
    for i in range(300):
        all_of_them = stats.binom.sf(np.arange(-1, n[i]), n[i], share[i])
        want = {f"{p:.6e}" for p in all_of_them if 1e-12 < p < 0.2}
        assert want <= {f"{p:.6e}" for p in ours[i]}


def test_counts_are_held_to_the_same_share_of_false_alarms() -> None:
    """1,000 sets of 60 groups and 5 modes, 12 of them leaking six times as much: at most 10 % of the alarms are false.

    The allowance for counts finds more than the plain one, and never less.
    """
    rng = np.random.default_rng(8)
    share = np.full(300, 1 / 60)
    real = np.zeros((60, 5), dtype=bool)
    real[:4, :3] = True
    false, plain_found, found = [], 0, 0
    for _ in range(1000):
        k = rng.poisson(np.where(real, 6.0, 1.0) * np.array([2.0, 1.0, 0.5, 0.3, 0.1]))
        n = np.broadcast_to(k.sum(axis=0), k.shape).astype(float).ravel()
        p = chance_of_more(k.ravel().astype(float), n, share)
        q, plain = false_discovery_of_counts(p, n, share), false_discovery(p)
        assert (q <= plain + 1e-12).all()
        alarms = q <= 0.1
        found += int((alarms & real.ravel()).sum())
        plain_found += int(((plain <= 0.1) & real.ravel()).sum())
        false.append((alarms & ~real.ravel()).sum() / max(alarms.sum(), 1))
    assert np.mean(false) <= 0.1
    assert found > 1.05 * plain_found
