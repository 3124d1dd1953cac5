"""Rates of rare events with their doubt: exact intervals, ratios, limits of a funnel, shrinkage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long
from numpy.typing import NDArray

from leaklore.analysis.intervals import LEVEL

Floats = NDArray[np.float64]
PER = 100.0
"""Rates are told per 100 system-years."""
MOST_ALPHA = 1e4
"""Above it the groups are as alike as chance makes them, and the fit has no end."""

MANY_LEAKS = 600
"""Above it the exact bounds of a ratio over several kinds take long and tell no more."""


@dataclass(frozen=True, slots=True)
class Rate:
    """`leaks` in `years` system-years; `value`, `low` and `high` per 100 system-years, 95 % exact."""

    leaks: int
    years: float
    low: float
    high: float

    @property
    def value(self) -> float:
        """Leaks per 100 system-years."""
        return PER * self.leaks / self.years


@lru_cache(maxsize=4096)
def poisson_interval(k: int, level: float = LEVEL) -> tuple[float, float]:
    """Exact interval of the mean of a Poisson count. Source: Garwood 1936; Ulm 1990, Am. J. Epidemiol. 131, 373-375."""
    half = (1 - level) / 2
    low = float(scipy.special.gammaincinv(k, half)) if k else 0.0
    return low, float(scipy.special.gammaincinv(k + 1, 1 - half))


def rate(leaks: int, years: float, level: float = LEVEL) -> Rate | None:
    """Rate with its exact Poisson interval; None without system-years."""
    if years <= 0:
        return None
    low, high = poisson_interval(leaks, level)
    return Rate(leaks, years, PER * low / years, PER * high / years)


@dataclass(frozen=True, slots=True)
class Ratio:
    """Rate of a group over the rate of the rest; infinite where the rest has no leak."""

    value: float
    low: float
    high: float


def finite(value: float | None) -> float | None:
    """None for infinity: tables and JSON have no word for it."""
    return value if value is not None and isfinite(value) else None


def rate_ratio(k: int, years: float, k_rest: int, years_rest: float, level: float = LEVEL) -> Ratio | None:
    """Ratio of two Poisson rates with its exact interval; None without system-years or leaks.

    Given their sum, the group's leaks are binomial; the bounds of that share (Clopper and Pearson 1934) are turned
    into bounds of the ratio. Source: Przyborowski and Wilenski 1940, Biometrika 31, 313-323 (from memory).
    """
    n = k + k_rest
    if years <= 0 or years_rest <= 0 or n == 0:
        return None
    half = (1 - level) / 2
    scale = years_rest / years
    low = float(scipy.special.betaincinv(k, n - k + 1, half)) if k else 0.0
    high = float(scipy.special.betaincinv(k + 1, n - k, 1 - half)) if k < n else 1.0
    return Ratio(
        k / k_rest * scale if k_rest else inf,
        low / (1 - low) * scale,
        high / (1 - high) * scale if high < 1 else inf,
    )


@dataclass(frozen=True, slots=True)
class Stratum:
    """Leaks and system-years of the group and of others of the same kind."""

    k: int
    years: float
    k_rest: int
    years_rest: float


def stratified_ratio(strata: Sequence[Stratum], level: float = LEVEL) -> Ratio | None:
    """One ratio over several kinds, each compared with itself; exact given the leaks of each kind. None without any.

    The group's leaks are a sum of binomials, one a stratum; `value` is the ratio of maximum likelihood, the bounds
    are those ratios under which so many, or so few, leaks come up in 2.5 of 100. Source: Martin and Austin 1996,
    Epidemiology 7, 29-33 (from memory); with one stratum it is `rate_ratio`. Above MANY_LEAKS the bounds are those of
    Greenland and Robins 1985, Biometrics 41, 55-68 (from memory), which by then are the same.
    """
    told = [s for s in strata if s.years > 0 and s.years_rest > 0 and s.k + s.k_rest > 0]
    if not told:
        return None
    k = sum(s.k for s in told)
    n = np.array([s.k + s.k_rest for s in told], dtype=float)
    odds = np.log([s.years / s.years_rest for s in told])
    most = int(n.sum())
    half = (1 - level) / 2

    def root(of: Callable[[float], float]) -> float:
        return float(np.exp(scipy.optimize.brentq(of, -50.0, 50.0, xtol=1e-10)))

    def expecting(count: float) -> float:
        return root(lambda r: float((n * scipy.special.expit(r + odds)).sum()) - count)

    if most > MANY_LEAKS and 0 < k < most:
        return _of_many(told, expecting(k), half)
    # under another ratio each count weighs as many times more or less as it has leaks, so one sum of binomials will do
    near = float(np.log(expecting(min(max(k, 0.5), most - 0.5))))
    with np.errstate(divide="ignore"):
        chances = np.log(_sum_of_binomials(n, scipy.special.expit(near + odds)))
    leaks = np.arange(most + 1)

    def tail(log_ratio: float, at_least: bool) -> float:
        weights = chances + (log_ratio - near) * leaks
        weights = np.exp(weights - weights.max())
        return float((weights[k:] if at_least else weights[: k + 1]).sum() / weights.sum())

    low = root(lambda r: tail(r, True) - half) if k else 0.0
    high = root(lambda r: tail(r, False) - half) if k < most else inf
    return Ratio(0.0 if k == 0 else inf if k == most else expecting(k), low, high)


def _sum_of_binomials(n: Floats, p: Floats) -> Floats:
    """Chance of each count, 0 to the sum of `n`."""
    out = np.ones(1)
    for size, chance in zip(n, p, strict=True):
        x = np.arange(size + 1)
        ways = (
            scipy.special.gammaln(size + 1)
            - scipy.special.gammaln(x + 1)
            - scipy.special.gammaln(size - x + 1)
        )
        out = np.convolve(
            out, np.exp(ways + scipy.special.xlogy(x, chance) + scipy.special.xlog1py(size - x, -chance))
        )
    return out


def _of_many(strata: Sequence[Stratum], value: float, half: float) -> Ratio:
    """Bounds by the variance of the logarithm of the Mantel-Haenszel ratio."""
    a, t, b, u = (
        np.array(x, dtype=float)
        for x in zip(*((s.k, s.years, s.k_rest, s.years_rest) for s in strata), strict=True)
    )
    whole = t + u
    variance = ((a + b) * t * u / whole**2).sum() / ((a * u / whole).sum() * (b * t / whole).sum())
    wide = float(np.exp(-scipy.special.ndtri(half) * np.sqrt(variance)))
    return Ratio(value, value / wide, value * wide)


def poisson_quantile(q: float, mean: Floats) -> Floats:
    """Least count whose cumulative Poisson probability reaches `q`, for each mean."""
    mean = np.asarray(mean, dtype=float)
    k = np.ceil(np.maximum(scipy.special.pdtrik(q, np.maximum(mean, 1e-12)), 0.0))
    k = np.where(
        scipy.special.pdtr(np.maximum(k - 1, 0), mean) >= q, np.maximum(k - 1, 0), k
    )  # rounding of pdtrik
    out: Floats = np.where(scipy.special.pdtr(k, mean) < q, k + 1, k)
    return out


def funnel_limits(mean: Floats, level: float) -> tuple[Floats, Floats]:
    """Counts between which `level` of groups with this expected count lie. Source: Spiegelhalter 2005, Stat. Med. 24, 1185-1202."""
    half = (1 - level) / 2
    return poisson_quantile(half, mean), poisson_quantile(1 - half, mean)


@dataclass(frozen=True, slots=True)
class Prior:
    """How far the true rates of groups lie apart: a gamma distribution with this shape and rate."""

    alpha: float
    beta: float

    def shrunk(self, k: Floats | float, exposure: Floats | float) -> Floats:
        """Mean of the rate after `k` events in `exposure`: small groups stay near the mean."""
        found: Floats = np.asarray((self.alpha + k) / (self.beta + exposure), dtype=float)
        return found

    def interval(self, k: float, exposure: float, level: float = LEVEL) -> tuple[float, float]:
        """Bounds of the rate after `k` events in `exposure`."""
        half = (1 - level) / 2
        shape, scale = self.alpha + k, self.beta + exposure
        return (
            float(scipy.special.gammaincinv(shape, half)) / scale,
            float(scipy.special.gammaincinv(shape, 1 - half)) / scale,
        )


def gamma_poisson(k: Floats, exposure: Floats) -> Prior | None:
    """Gamma distribution of rates under which the counts are likeliest; None without events or with fewer than 2 groups.

    Marginal (negative binomial) maximum likelihood, as in empirical Bayes for pump failures: Gaver and
    O'Muircheartaigh 1987, Technometrics 29, 1-15.
    """
    k, exposure = np.asarray(k, dtype=float), np.asarray(exposure, dtype=float)
    keep = exposure > 0
    k, exposure = k[keep], exposure[keep]
    if k.size < 2 or k.sum() == 0:
        return None
    mean = k.sum() / exposure.sum()

    def against(theta: Floats) -> float:
        alpha, beta = np.exp(theta)
        told = scipy.special.gammaln(alpha + k) - scipy.special.gammaln(alpha)
        told = told + alpha * np.log(beta / (beta + exposure)) - k * np.log(beta + exposure)
        return -float(told.sum())

    best: tuple[float, Floats] | None = None
    top = np.log(MOST_ALPHA)
    for start in (0.0, 2.0, 5.0):  # the surface is flat where groups are alike
        theta = np.array([start, start - np.log(mean)])
        bounds = [(-7.0, top), (-7.0 - np.log(mean), top - np.log(mean))]
        got = scipy.optimize.minimize(against, theta, method="L-BFGS-B", bounds=bounds)
        if best is None or got.fun < best[0] - 1e-9:
            best = float(got.fun), got.x
    assert best is not None
    alpha, beta = np.exp(best[1])
    return Prior(float(alpha), float(beta))
