"""How much charge each system is expected to lose in the next year.

Every report of lost charge counts, proven or not: the cause may be a guess, the loss is not. What a system is
expected to lose is its leak rate times what such a leak takes. The rate is that of its kind and age, moved by the
system's own reports (gamma-Poisson as for pumps in Gaver and O'Muircheartaigh 1987, Technometrics 29, 1-15); the loss
that of its kind and charge. Small numbers stay near the mean.

The bounds hold what is expected of a system, not what it will lose. They allow for how far apart systems and kinds
lie, which is not known either: every distance on a grid counts by how well it explains the record.
tests/analysis/patterns/test_expected_loss.py counts how often the bounds hold.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long
from numpy.typing import NDArray

from leaklore.analysis.intervals import FEW, LEVEL
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Watched
from leaklore.analysis.patterns.rates import Floats
from leaklore.records.model import Case

AGES = (2.0, 5.0, 10.0, 15.0)
"""yr; bounds of the ages that are told apart."""
ROUNDS = 3
"""Turns in which rates by kind and by age are fitted to each other."""
ALPHAS = np.geomspace(0.3, 300.0, 25)
"""How far true rates may lie apart, from wildly to hardly: shapes of the gamma distribution."""
APART = np.geomspace(0.01, 1.0, 9)
"""How far losses of kinds may lie apart: variance between kinds over that within one, all as likely before (judgement)."""


@dataclass(frozen=True)
class Report:
    """A loss of charge on record: `lost` kg, None where not told."""

    case: Case
    day: dt.date
    system: str
    lost: float | None


@dataclass(frozen=True)
class Expected:
    """Arrays over `watched`: rates a year, kg a leak, kg in the next year with bounds."""

    watched: tuple[Watched, ...]
    rate: Floats
    kind_rate: Floats
    each: Floats
    expected: Floats
    low: Floats
    high: Floats


def fit(watched: Sequence[Watched], reports: Sequence[Report], since: dt.date, until: dt.date) -> Expected:
    """Expected losses in the year from `until`, fitted to what was on record by then."""
    known = tuple(w for w in watched if w.start < until)
    row = {w.system.id: i for i, w in enumerate(known)}
    seen = [r for r in reports if r.day <= until and r.system in row]
    kinds = sorted({w.system.equipment.kind or "" for w in known})
    kind = np.array([kinds.index(w.system.equipment.kind or "") for w in known], dtype=np.intp)
    born = np.array([w.installed.toordinal() for w in known], dtype=float)
    entry = np.array([w.entry for w in known])
    leave = (np.array([min(w.end, until).toordinal() for w in known]) - born) / DAYS_A_YEAR
    bounds = np.array([0.0, *AGES, np.inf])
    span = np.clip(np.minimum(leave[:, None], bounds[1:]) - np.maximum(entry[:, None], bounds[:-1]), 0, None)
    own = np.array([row[r.system] for r in seen], dtype=np.intp)
    age = np.array([(r.day.toordinal() - born[i]) / DAYS_A_YEAR for r, i in zip(seen, own, strict=True)])
    band = np.clip(np.searchsorted(bounds, age, side="right") - 1, 0, len(AGES))
    fitted = _kind_and_age(kind, len(kinds), span, own, band)
    expected = fitted.kind[kind] * (span @ fitted.age)
    count = np.bincount(own, minlength=len(known)).astype(float)
    moved, doubt = drawn(count, expected)
    now = np.clip(np.searchsorted(bounds, leave + 0.5, side="right") - 1, 0, len(AGES))
    kind_rate = fitted.kind[kind] * fitted.age[now]
    each, each_doubt = _each(known, kind, len(kinds), seen, own)
    mean, half = kind_rate * moved * each, (1 - LEVEL) / 2
    doubt = (1 + doubt) * (1 + fitted.kind_doubt[kind] + fitted.age_doubt[now]) * (1 + each_doubt) - 1
    low, high = (scipy.special.gammaincinv(1 / doubt, q) * doubt * mean for q in (half, 1 - half))
    high = np.maximum(high, mean)  # where next to nothing is known a gamma's mean lies beyond its quantiles
    return Expected(known, kind_rate * moved, kind_rate, each, mean, low, high)


def drawn(count: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """How much more than `expected` each group leaks, drawn towards 1, and the relative variance of that factor.

    The factors follow a gamma distribution of mean 1 whose shape is not known: each of ALPHAS is weighed by `_shapes`.
    So groups that seem alike are not taken for exactly alike. `expected` sums to the counts.
    """
    alpha, weight = ALPHAS[:, None], _shapes(count, expected)
    shape, scale = alpha + count, alpha + expected
    mean = weight @ (shape / scale)
    square = weight @ (shape * (shape + 1) / scale**2)
    return mean, square / mean**2 - 1


def _shapes(count: Floats, expected: Floats) -> Floats:
    """How likely each of ALPHAS is after these counts.

    Before them the share by which the middle group is drawn towards the mean, alpha / (alpha + expected), is as likely
    to be anything between 0 and 1: the uniform shrinkage prior of Christiansen and Morris 1997, J. Am. Stat. Assoc.
    92, 618-632 (from memory). So few leaks do not make systems out to be alike.
    """
    alpha = ALPHAS[:, None]
    times, groups = np.unique(count, return_counts=True)  # few counts, many groups
    fit = (scipy.special.gammaln(alpha + times) - scipy.special.gammaln(alpha)) @ groups
    log = np.log(alpha + expected)
    fit = fit + count.size * ALPHAS * np.log(ALPHAS) - ALPHAS * log.sum(axis=1) - log @ count
    middle = float(np.median(expected[expected > 0]))
    fit = fit + np.log(ALPHAS) - 2 * np.log(middle + ALPHAS)
    return np.asarray(scipy.special.softmax(fit), dtype=float)


@dataclass(frozen=True)
class Factors:
    """Reports a year by kind, factors by age, and the relative variances of both."""

    kind: Floats
    age: Floats
    kind_doubt: Floats
    age_doubt: Floats


def _kind_and_age(
    kind: NDArray[np.intp], kinds: int, span: Floats, own: NDArray[np.intp], band: NDArray[np.intp]
) -> Factors:
    """Fits rates by kind and factors by age to each other, small ones drawn towards the mean.

    A system tells of its kind only as far as it is not a case of its own: its reports and years count by the weights
    of Breslow 1984, Applied Statistics 33, 38-44 (from memory), after which sums vary as Poisson counts do.
    """
    count = np.bincount(own, minlength=len(kind)).astype(float)
    overall = (count.sum() + 0.5) / span.sum()  # half a report where there is none: nothing never leaks
    by_kind, by_age = np.full(kinds, overall), np.ones(span.shape[1])
    kind_doubt, age_doubt = np.zeros(kinds), np.zeros(span.shape[1])
    for _ in range(ROUNDS):
        years = span @ by_age
        tells = _tells(count, by_kind[kind] * years)
        leaks = np.bincount(kind, tells * count, minlength=kinds).astype(float)
        at = np.bincount(kind, tells * years, minlength=kinds)
        overall = (leaks.sum() + 0.5) / at.sum()
        factor, kind_doubt = drawn(leaks, overall * at)
        by_kind = overall * factor
        leaks = np.bincount(band, tells[own], minlength=span.shape[1]).astype(float)
        at = (tells * by_kind[kind]) @ span
        by_age, age_doubt = drawn(leaks, at * (leaks.sum() + 0.5) / at.sum())
    scale = (count.sum() + 0.5) / (
        by_kind[kind] @ span @ by_age
    )  # what is drawn in no longer adds up by itself
    return Factors(by_kind * scale, by_age, kind_doubt, age_doubt)


def _tells(count: Floats, expected: Floats) -> Floats:
    """How far a report of each system tells of its kind: 1 where systems of a kind are alike."""
    alpha = ALPHAS[:, None]
    return np.asarray(_shapes(count, expected) @ (alpha / (alpha + expected)), dtype=float)


def _each(
    known: Sequence[Watched],
    kind: NDArray[np.intp],
    kinds: int,
    seen: Sequence[Report],
    own: NDArray[np.intp],
) -> tuple[Floats, Floats]:
    """kg that a leak takes on each system, and its relative variance.

    ln(loss) = a + b ln(charge) + kind, with b near 1 (as if one more loss had told so) and the kind drawn towards 0:
    every distance of APART by how well it explains the losses (hierarchical Bayes of Datta and Ghosh 1991, Ann. Stat.
    19, 1748-1770, from memory). Back to kg by the mean of the residuals' exponentials (Duan 1983, J. Am. Stat. Assoc.
    78, 605-610). A system without a charge is taken for the median one of its kind.
    """
    size = _sizes(known, kind, kinds)
    told = np.array([r.lost is not None and r.lost > 0 for r in seen], dtype=bool)
    x, of = size[own[told]], kind[own[told]]
    y = np.log([r.lost for r in seen if r.lost is not None and r.lost > 0]) - x
    if len(y) < FEW:
        return np.exp(size), np.ones(len(known))
    middle = x.mean()
    law = _law(x - middle, y, of, kinds)
    found, variance = law.at(kind, size - middle)
    left = y - law.at(of, x - middle)[0]
    spread = float(left.std())
    back = np.exp(left * (law.within / spread if spread > 0 else 0.0))
    doubt = variance + float(back.var() / back.mean() ** 2) / len(y)
    return np.exp(size + found) * back.mean(), np.asarray(doubt, dtype=float)


def _sizes(known: Sequence[Watched], kind: NDArray[np.intp], kinds: int) -> Floats:
    """Logarithm of each charge in kg."""
    charge = np.array([w.system.equipment.charge.si if w.system.equipment.charge else np.nan for w in known])
    charge[~(charge > 0)] = np.nan
    typical = np.array(
        [np.nanmedian(charge[kind == k]) if np.any(charge[kind == k] > 0) else np.nan for k in range(kinds)]
    )
    filled = np.where(np.isnan(charge), typical[kind], charge)
    middle = np.nanmedian(charge) if np.any(charge > 0) else 1.0
    return np.asarray(np.log(np.where(np.isnan(filled), middle, filled)), dtype=float)


@dataclass(frozen=True)
class Law:
    """y = level of the kind + slope x, a row a distance of APART, weighed by `weight`; `within` a kind's deviation.

    `variance` of a kind's own part; `nearer`, `centre`: a new x of the kind stands at (nearer, x - centre) for the
    covariance `covers` of level and slope (three numbers: both, and between).
    """

    weight: Floats
    within: float
    level: Floats
    slope: Floats
    variance: Floats
    nearer: Floats
    centre: Floats
    covers: tuple[Floats, Floats, Floats]

    def at(self, kind: NDArray[np.intp], x: Floats) -> tuple[Floats, Floats]:
        """Mean and variance of the law for these kinds at these x."""
        mean, square = np.zeros(len(x)), np.zeros(len(x))
        levels, slopes, between = self.covers
        for i, weight in enumerate(self.weight):
            value = self.level[i, kind] + self.slope[i] * x
            one, two = self.nearer[i, kind], x - self.centre[i, kind]
            own = (
                self.variance[i, kind] + levels[i] * one**2 + slopes[i] * two**2 + 2 * between[i] * one * two
            )
            mean += weight * value
            square += weight * (own + value**2)
        return mean, square - mean**2


def _law(x: Floats, y: Floats, of: NDArray[np.intp], kinds: int) -> Law:
    """The law of `_each`, of y = ln(loss / charge) over x = ln(charge), both about 0 where nothing else is known."""
    n = np.bincount(of, minlength=kinds).astype(float)
    sum_x, sum_y = np.bincount(of, x, minlength=kinds), np.bincount(of, y, minlength=kinds)
    ratio = APART[:, None]
    kept = ratio / (1 + n * ratio)
    a, b, d = (n - kept * n**2).sum(1), -(kept * n * sum_x).sum(1), 1 + x @ x - (kept * sum_x**2).sum(1)
    u, v = (sum_y - kept * n * sum_y).sum(1), x @ y - (kept * sum_x * sum_y).sum(1)
    det = a * d - b**2
    middle, slope = (d * u - b * v) / det, (a * v - b * u) / det
    square = y @ y - (kept * sum_y**2).sum(1) - middle * u - slope * v
    square = np.maximum(square, 1e-12)  # losses that are all alike
    fit = -(np.log1p(n * ratio).sum(1) + np.log(det) + (len(y) - 1) * np.log(square)) / 2
    weight = scipy.special.softmax(fit)
    within = square / (len(y) - 1)
    own = n * kept
    mean_x, mean_y = (np.divide(z, n, out=np.zeros(kinds), where=n > 0) for z in (sum_x, sum_y))
    return Law(
        weight,
        float(np.sqrt(weight @ within)),
        middle[:, None] + own * (mean_y - middle[:, None] - slope[:, None] * mean_x),
        slope,
        within[:, None] * ratio * (1 - own),
        1 - own,
        own * mean_x,
        (within * d / det, within * a / det, -within * b / det),
    )
