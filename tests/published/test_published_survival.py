"""Curves, log-rank test, Weibull fit and mean cumulative count against published data and an independent library.

The library is lifelines (0.30). Data that are printed in papers are named with the paper.
"""

from __future__ import annotations

import numpy as np
import pytest
from lifelines import KaplanMeierFitter, WeibullFitter
from lifelines.datasets import load_leukemia, load_waltons
from lifelines.statistics import logrank_test, multivariate_logrank_test
from lifelines.utils import median_survival_times
from sklearn.linear_model import PoissonRegressor

from leaklore.analysis.patterns.over_time import trend
from leaklore.analysis.patterns.rates import Floats
from leaklore.analysis.patterns.recurrence import Histories, mean_count
from leaklore.analysis.patterns.survival import Lives, kaplan_meier, log_rank, weibull


def without_entry(time: Floats, leaked: Floats) -> Lives:
    return Lives(np.zeros(len(time)), np.asarray(time, dtype=float), np.asarray(leaked, dtype=bool))


# 6-MP arm of Freireich et al. 1963, Blood 21, 699-716, weeks to relapse; the estimate as in Introductory Biostatistics,
# example 11.1 (data and page read, trade-facts 8.2).
SIX_MP = [(6, 0.8571), (7, 0.8067), (10, 0.7529), (13, 0.6902), (16, 0.6275), (22, 0.5378), (23, 0.4482)]


def leukemia(arm: int) -> Lives:
    data = load_leukemia()
    data = data[data["Rx"] == arm]
    return without_entry(data["t"].to_numpy(), data["status"].to_numpy())


def test_kaplan_meier_of_the_six_mp_arm() -> None:
    """Source: Freireich et al. 1963, as in a textbook (trade-facts 8.2)."""
    found = kaplan_meier(leukemia(0), least=1)
    assert found is not None
    assert [(int(a), round(float(s), 4)) for a, s in zip(found.ages, found.still, strict=True)] == SIX_MP
    assert found.systems == 21
    assert found.leaks.sum() == 9
    assert found.median is not None
    assert found.median.age == 23


def test_kaplan_meier_of_the_placebo_arm() -> None:
    """Source: Freireich et al. 1963 (trade-facts 8.2): median 8, S(1) 0.9048, S(8) 0.3810."""
    found = kaplan_meier(leukemia(1), 1, (1.0, 8.0))
    assert found is not None
    assert [round(1 - r.share, 4) for r in found.rows] == [0.9048, 0.3810]
    assert found.median is not None
    assert found.median.age == 8


def test_log_rank_of_the_two_arms() -> None:
    """Source: 16.79 in textbooks (from memory); 16.793, p 4.17e-5 by lifelines (trade-facts 8.2)."""
    found = log_rank([leukemia(0), leukemia(1)])
    assert found is not None
    assert round(found.chi2, 3) == 16.793
    assert found.p == pytest.approx(4.17e-5, rel=1e-3)


def test_waltons_against_lifelines() -> None:
    """Library data set of lifelines: medians 26 and 58 (trade-facts 8.2), bands, median interval, log-rank."""
    data = load_waltons()
    groups = []
    for name, median in (("miR-137", 26), ("control", 58)):
        part = data[data["group"] == name]
        groups.append(without_entry(part["T"].to_numpy(), part["E"].to_numpy()))
        found = kaplan_meier(groups[-1], least=1)
        assert found is not None
        assert found.median is not None
        assert found.median.age == median
        theirs = KaplanMeierFitter().fit(part["T"], part["E"])
        bounds = median_survival_times(theirs.confidence_interval_)
        assert [found.median.low, found.median.high] == bounds.to_numpy()[0].tolist()
    found_test = log_rank(groups)
    split = [data[data["group"] == g] for g in ("miR-137", "control")]
    theirs_test = logrank_test(split[0]["T"], split[1]["T"], split[0]["E"], split[1]["E"])
    assert found_test is not None
    assert found_test.chi2 == pytest.approx(theirs_test.test_statistic, rel=1e-9)


def late(seed: int, n: int = 200) -> Lives:
    """A fleet with late entry and censoring, no two ages alike."""
    rng = np.random.default_rng(seed)
    entry = np.maximum(rng.uniform(-6, 12, n), 0)
    left = entry + rng.uniform(0.5, 7, n)
    age = entry + rng.exponential(6, n)
    return Lives(entry, np.minimum(age, left), age <= left)


@pytest.mark.parametrize("seed", range(5))
def test_late_entry_against_lifelines(seed: int) -> None:
    """Independent library: KaplanMeierFitter with entry, its estimate and its log(-log) band."""
    made = late(seed)
    ours = kaplan_meier(made, least=1)
    theirs = KaplanMeierFitter().fit(made.exit, made.leaked, entry=made.entry)
    assert ours is not None
    assert ours.still == pytest.approx(
        theirs.survival_function_at_times(ours.ages).to_numpy(), rel=1e-9, abs=1e-12
    )
    band = theirs.confidence_interval_survival_function_.loc[ours.ages].to_numpy()
    alive = ours.still > 0
    assert ours.low[alive] == pytest.approx(band[alive, 0], rel=1e-6)
    assert ours.high[alive] == pytest.approx(band[alive, 1], rel=1e-6)


def test_log_rank_of_several_groups_against_lifelines() -> None:
    """Independent library: multivariate_logrank_test, three groups with ties, no late entry."""
    rng = np.random.default_rng(9)
    time, leaked = rng.integers(1, 12, 120).astype(float), rng.random(120) < 0.7
    group = rng.integers(0, 3, 120)
    ours = log_rank([without_entry(time[group == g], leaked[group == g]) for g in range(3)])
    theirs = multivariate_logrank_test(time, group, leaked)
    assert ours is not None
    assert ours.df == 2
    assert ours.chi2 == pytest.approx(theirs.test_statistic, rel=1e-9)
    assert ours.p == pytest.approx(theirs.p_value, rel=1e-9)


# Millions of revolutions to failure of 23 deep-groove ball bearings, Lieblein and Zelen 1956, J. Res. Natl. Bur. Stand.
# 57, 273-316. The seventh value is printed as 48.48 in Leemis, Reliability, 2nd ed., example 8.1; other books have 48.40
# or 48.80.
BEARINGS = (
    "17.88 28.92 33.00 41.52 42.12 45.60 48.48 51.84 51.96 54.12 55.56 67.80 68.64 68.64 68.88 84.12 93.12 "
    "98.64 105.12 105.84 127.92 128.04 173.40"
)


def test_weibull_of_the_ball_bearings() -> None:
    """Maximum likelihood: shape 2.10, scale 81.9. Source: Leemis; Lawless, ch. 5 (data seen, values from memory)."""
    found = weibull(without_entry(np.array([float(x) for x in BEARINGS.split()]), np.ones(23)))
    assert found is not None
    assert round(found.shape, 2) == 2.10
    assert round(found.scale, 1) == 81.9
    assert found.verdict == "wear-out"


@pytest.mark.parametrize("seed", range(4))
def test_weibull_with_late_entry_against_lifelines(seed: int) -> None:
    """Independent library: WeibullFitter with entry. Its scale is our scale, its rho our shape; its interval is
    Wald's, ours for the scale is the same on the log scale, so the standard errors must agree."""
    made = late(seed, 300)
    found = weibull(made)
    assert found is not None
    theirs = WeibullFitter().fit(made.exit, made.leaked, entry=np.maximum(made.entry, 1e-9))
    assert found.shape == pytest.approx(theirs.rho_, rel=1e-4)
    assert found.scale == pytest.approx(theirs.lambda_, rel=1e-4)
    error = np.log(found.scale_high / found.scale_low) / 2 / 1.959963985 * found.scale
    assert error == pytest.approx(theirs.summary.loc["lambda_", "se(coef)"], rel=1e-2)

    def likelihood(
        shape: float,
    ) -> float:  # profile, with the library's own formula of the scale's optimum left out
        entry, end, d = made.entry, made.exit, made.leaked
        scale = ((end**shape - entry**shape).sum() / d.sum()) ** (1 / shape)
        hazard = np.log(shape / scale) + (shape - 1) * np.log(end[d] / scale)
        return float(hazard.sum() - ((end / scale) ** shape - (entry / scale) ** shape).sum())

    top = likelihood(found.shape)
    assert top == pytest.approx(theirs.log_likelihood_, rel=1e-6)
    for bound in (found.shape_low, found.shape_high):
        assert 2 * (top - likelihood(bound)) == pytest.approx(3.841459, rel=1e-4), "chi-squared, 1 df, 95 %"


# Preproduction road test of 34 cars with an automatic transmission: repairs and (+) last mileage, Nelson, Recurrent
# Events Data Analysis (2003), table 1.1 (data seen in a public copy), and his worked estimate (from memory).
CARS = (
    "7068 26744+; 28 13809+; 48 1440 29834+; 530 25660+; 21762+; 14235+; 1388 21133+; 21401+; 21876+; 5094 18228+; "
    "21691+; 20890+; 22486+; 19321+; 21585+; 18676+; 23520+; 17955+; 19507+; 24177+; 22854+; 17844+; 22637+; "
    "375 19607+; 19403+; 20997+; 19175+; 20425+; 22149+; 21144+; 21237+; 14281+; 8250 21974+; 19250 21888+"
)
CARS_MEAN = (
    "28 0.03; 48 0.06; 375 0.09; 530 0.12; 1388 0.15; 1440 0.18; 5094 0.21; 7068 0.24; 8250 0.27; 19250 0.31"
)

# Repairs and retirement (+) of five systems; the table of estimates is printed in the manual of the Python package
# "reliability" (nonparametric mean cumulative function; read).
FIVE = "5 10 15 17+; 6 13 17 19+; 12 20 25 26+; 13 15 24+; 16 22 25 28+"
FIVE_MEAN = "5 0.2; 6 0.4; 10 0.6; 12 0.8; 13 1.2; 15 1.6; 16 1.8; 17 2; 20 2.33333; 22 2.66667; 25 3.66667"


def histories(text: str) -> Histories:
    rows = [row.split() for row in text.split(";")]
    events = [(i, float(x)) for i, row in enumerate(rows) for x in row[:-1]]
    return Histories(
        np.zeros(len(rows)),
        np.array([float(row[-1].rstrip("+")) for row in rows]),
        np.array([i for i, _ in events], dtype=np.intp),
        np.array([x for _, x in events]),
    )


def table(text: str) -> list[tuple[float, float]]:
    return [(float(a), float(m)) for a, m in (row.split() for row in text.split(";"))]


@pytest.mark.parametrize(("data", "mean", "within"), [(CARS, CARS_MEAN, 0.008), (FIVE, FIVE_MEAN, 5e-6)])
def test_mean_cumulative_count_as_published(data: str, mean: str, within: float) -> None:
    """Sources above; the cars' estimates are sums of steps that were rounded to two decimals (nine times 0.03 is 0.27, not 0.265)."""
    found = mean_count(histories(data), least=1)
    assert found is not None
    assert [(float(a), float(m)) for a, m in zip(found.ages, found.mean, strict=True)] == [
        (age, pytest.approx(value, abs=within)) for age, value in table(mean)
    ]


# Deaths from AIDS in Australia by quarter, 1983 Q1 to 1986 Q2: Whyte et al. 1987, in Dobson, An Introduction to
# Generalized Linear Models. The Poisson fit on the quarter's number: slope 0.2565, standard error 0.0220, deviance 207.27
# without and 29.65 with it (from memory).
DEATHS = np.array([0, 1, 2, 3, 1, 4, 9, 18, 23, 31, 20, 25, 37, 45], dtype=float)


def test_trend_as_published() -> None:
    """Source: Dobson (data and values from memory); time counted in quarters, so the factor is that of a quarter."""
    found = trend(DEATHS, np.ones(14), np.arange(14.0))
    assert found is not None
    assert np.log(found.factor) == pytest.approx(0.2565, abs=5e-5)
    error = np.log(found.high / found.low) / 2 / 1.959963985
    assert error == pytest.approx(0.0220, abs=5e-4), "likelihood interval of many counts is close to Wald's"
    assert found.p == pytest.approx(1.61e-40, rel=0.01), "chi-squared 207.27 - 29.65 = 177.62, 1 df"


def test_trend_against_an_independent_fit() -> None:
    """Independent library: scikit-learn's Poisson regression, unpenalised, exposure as weight."""
    rng = np.random.default_rng(4)
    exposure, at = rng.uniform(20, 80, 24), np.arange(24) / 4
    counts = rng.poisson(0.1 * exposure * np.exp(0.1 * at)).astype(float)
    found = trend(counts, exposure, at)
    theirs = PoissonRegressor(alpha=0, tol=1e-10, max_iter=1000).fit(
        at[:, None], counts / exposure, sample_weight=exposure
    )
    assert found is not None
    assert np.log(found.factor) == pytest.approx(theirs.coef_[0], abs=1e-5)
