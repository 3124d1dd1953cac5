"""How much charge each system is expected to lose in the next year.

Every report of lost charge counts, proven or not: the cause may be a guess, the loss is not. What a system is
expected to lose is its leak rate times what such a leak takes. The rate is that of its kind and age, moved by the
system's own reports (gamma-Poisson as for pumps in Gaver and O'Muircheartaigh 1987, Technometrics 29, 1-15); the loss
that of its kind and charge. Small numbers stay near the mean.
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
WORTH = 4.0
"""How many leaks the typical loss of all kinds is worth against a kind's own (judgement)."""
ROUNDS = 4
"""Turns in which rates by kind and by age are fitted to each other."""
ALPHAS = np.geomspace(0.3, 300.0, 25)
"""How far true rates may lie apart, from wildly to hardly: shapes of the gamma distribution, all as likely before."""


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
    doubt = doubt + fitted.kind_doubt[kind] + fitted.age_doubt[now] + each_doubt
    low, high = (scipy.special.gammaincinv(1 / doubt, q) * doubt * mean for q in (half, 1 - half))
    return Expected(known, kind_rate * moved, kind_rate, each, mean, low, high)


def drawn(count: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """How much more than `expected` each group leaks, drawn towards 1, and the relative variance of that factor.

    The factors follow a gamma distribution of mean 1 whose shape is not known: each of ALPHAS is weighed by how well
    it explains the counts. So groups that seem alike are not taken for exactly alike. `expected` sums to the counts.
    """
    alpha = ALPHAS[:, None]
    shape, scale = alpha + count, alpha + expected
    times, groups = np.unique(count, return_counts=True)  # few counts, many groups
    fit = (scipy.special.gammaln(alpha + times) - scipy.special.gammaln(alpha)) @ groups
    fit = fit + count.size * ALPHAS * np.log(ALPHAS) - (shape * np.log(scale)).sum(axis=1)
    weight = scipy.special.softmax(fit)[:, None]
    mean = (weight * shape / scale).sum(axis=0)
    square = (weight * shape * (shape + 1) / scale**2).sum(axis=0)
    return mean, square / mean**2 - 1


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
    """Fits rates by kind and factors by age to each other, small ones drawn towards the mean."""
    years = np.zeros((kinds, span.shape[1]))
    np.add.at(years, kind, span)
    leaks = np.zeros_like(years)
    np.add.at(leaks, (kind[own], band), 1.0)
    overall = (leaks.sum() + 0.5) / years.sum()  # half a report where there is none: nothing never leaks
    by_kind, by_age = np.full(kinds, overall), np.ones(span.shape[1])
    kind_doubt, age_doubt = np.zeros(kinds), np.zeros(span.shape[1])
    for _ in range(ROUNDS):
        at = overall * (years @ by_age)
        factor, kind_doubt = drawn(leaks.sum(axis=1), at)
        by_kind = overall * factor
        at = by_kind @ years
        by_age, age_doubt = drawn(leaks.sum(axis=0), at)
    scale = (leaks.sum() + 0.5) / (by_kind @ years @ by_age)  # what is drawn in no longer adds up by itself
    return Factors(by_kind * scale, by_age, kind_doubt, age_doubt)


def _each(
    known: Sequence[Watched],
    kind: NDArray[np.intp],
    kinds: int,
    seen: Sequence[Report],
    own: NDArray[np.intp],
) -> tuple[Floats, Floats]:
    """kg that a leak takes on each system, and its relative variance.

    ln(loss) = a + b ln(charge) + kind, the kind drawn towards 0; back to kg by the mean of the residuals' exponentials
    (Duan 1983, J. Am. Stat. Assoc. 78, 605-610). A system without a charge is taken for the median one of its kind.
    """
    charge = np.array([w.system.equipment.charge.si if w.system.equipment.charge else np.nan for w in known])
    charge[~(charge > 0)] = np.nan
    typical = np.array(
        [np.nanmedian(charge[kind == k]) if np.any(charge[kind == k] > 0) else np.nan for k in range(kinds)]
    )
    filled = np.where(np.isnan(charge), typical[kind], charge)
    size = np.log(np.where(np.isnan(filled), np.nanmedian(charge) if np.any(charge > 0) else 1.0, filled))
    told = np.array([r.lost is not None and r.lost > 0 for r in seen], dtype=bool)
    y = np.log([r.lost for r in seen if r.lost is not None and r.lost > 0])
    x, group = size[own[told]], kind[own[told]]
    if len(y) < FEW:
        return np.exp(size), np.ones(len(known))
    slope = float(np.polyfit(x, y, 1)[0]) if np.ptp(x) > 0 else 1.0
    rest = y - slope * x
    middle = rest.mean()
    n = np.bincount(group, minlength=kinds)
    shift = np.bincount(group, weights=rest - middle, minlength=kinds) / (n + WORTH)
    left = rest - middle - shift[group]
    smear = float(np.exp(left).mean())
    variance = float(left.var()) / (n + WORTH)
    each = np.exp(middle + shift[kind] + slope * size) * smear
    return np.asarray(each, dtype=float), np.asarray(variance[kind], dtype=float)
