"""Many looks at counts, and how many of the striking ones are chance."""

from __future__ import annotations

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long

from leaklore.analysis.patterns.rates import Floats

STRIKING = 0.01
"""Only chances below it are worth the discrete correction; above it the plain one is close enough."""

MOST_THRESHOLDS = 80
"""Of more thresholds so many are worked out, and those between take the next one above."""


def chance_of_more(k: Floats, n: Floats, share: Floats) -> Floats:
    """Chance that a group with `share` of the system-years has `k` or more of `n` leaks if all leak alike."""
    inside = (k > 0) & (k <= n)
    found = scipy.special.betainc(np.where(inside, k, 1.0), np.where(inside, n - k + 1, 1.0), share)
    out: Floats = np.where(k <= 0, 1.0, np.where(inside, found, 0.0))
    return out


def false_discovery(p: Floats, weight: Floats | None = None) -> Floats:
    """q value of each test: the share of false alarms among all that are at least as striking.

    Source: Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57, 289-300; with weights (mean 1) Genovese, Roeder and
    Wasserman 2006, Biometrika 93, 509-524 (both from memory).
    """
    p = np.asarray(p, dtype=float)
    if p.size == 0:
        return p
    p = p if weight is None else np.minimum(p / weight, 1.0)
    order = np.argsort(p, kind="stable")
    ranked = p[order] * p.size / np.arange(1, p.size + 1)
    q = np.empty_like(p)
    q[order] = np.minimum(np.minimum.accumulate(ranked[::-1])[::-1], 1.0)
    return q


def false_discovery_of_counts(p: Floats, n: Floats, share: Floats, weight: Floats | None = None) -> Floats:
    """q values as `false_discovery`, for chances of counts as from `chance_of_more` (`n` leaks, `share` of the years).

    A test of few leaks can't give every p: at a threshold t it alarms by chance less often than t. The expected number of
    false alarms at t is the sum of what each test can reach, not t times the number of tests. Source: Heyse 2011, in
    Recent Advances in Biostatistics, 43-58; Doehler, Durand and Roquain 2018, Electron. J. Statist. 12, 1867-1900 (both
    from memory).
    """
    q = false_discovery(p, weight)
    scaled = p if weight is None else np.minimum(p / weight, 1.0)
    order = np.argsort(scaled, kind="stable")
    striking = order[scaled[order] <= STRIKING]
    if not striking.size:
        return q
    told = _expected_alarms(scaled[striking], n, share, np.ones_like(p) if weight is None else weight)
    ranked = np.minimum(told / np.arange(1, striking.size + 1), 1.0)
    beyond = q[order[striking.size]] if striking.size < p.size else 1.0
    out = q.copy()
    out[striking] = np.minimum(np.minimum.accumulate(ranked[::-1])[::-1], beyond)
    return out


def _expected_alarms(thresholds: Floats, n: Floats, share: Floats, weight: Floats) -> Floats:
    """How many of the tests pass each threshold by chance, counting what each of them can reach at all."""
    asked = np.unique(np.linspace(0, thresholds.size - 1, min(thresholds.size, MOST_THRESHOLDS)).astype(int))
    told = reached(n, share, thresholds[asked][:, None] * weight).sum(axis=1)
    out: Floats = told[
        np.searchsorted(asked, np.arange(thresholds.size))
    ]  # of the next one above: never too few
    return out


def _upwards(n: Floats, share: Floats) -> tuple[Floats, int]:
    """The count expected of each test, and how many counts from there on until next to nothing."""
    middle = np.floor(n * share)
    return middle, int(np.ceil(8 * np.sqrt(middle.max(initial=0.0)) + 24))


def tails(n: Floats, share: Floats) -> Floats:
    """Chances of as many or more, for counts from the expected one upwards until next to nothing: tests x counts."""
    middle, wide = _upwards(n, share)
    k = middle[:, None] + np.arange(wide, dtype=float)
    return chance_of_more(k, n[:, None], share[:, None])


def reached(n: Floats, share: Floats, limits: Floats) -> Floats:
    """The greatest of the `tails` of each test that is at most the limit; thresholds (ascending) x tests, as `limits`.

    A test's chances are worked out only until one is under all of its limits.
    """
    middle, wide = _upwards(n, share)
    by_test = np.ascontiguousarray(limits.T)  # what is looked at together lies together
    out = np.zeros(by_test.shape)
    open_ = np.arange(n.size)
    passed = np.full(n.size, len(limits))  # thresholds from this one on have their chance
    number = np.arange(len(limits))
    for step in range(wide):
        chances = chance_of_more(middle[open_] + step, n[open_], share[open_])
        low = chances <= by_test[open_, -1]
        tests, chances = open_[low], chances[low]
        if tests.size:
            first = (by_test[tests] < chances[:, None]).sum(axis=1)
            new = (number >= first[:, None]) & (number < passed[tests, None])
            out[tests] = np.where(new, chances[:, None], out[tests])
            passed[tests] = first
        open_ = open_[passed[open_] > 0]
        if not open_.size:
            break
    return np.ascontiguousarray(out.T)
