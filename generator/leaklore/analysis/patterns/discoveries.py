"""Many looks at counts, and how many of the striking ones are chance."""

from __future__ import annotations

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long

from leaklore.analysis.patterns.rates import Floats

STRIKING = 0.01
"""Only chances below it are worth the discrete correction; above it the plain one is close enough."""


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
    told = expected_alarms(scaled[striking], n, share, np.ones_like(p) if weight is None else weight)
    ranked = np.minimum(told / np.arange(1, striking.size + 1), 1.0)
    beyond = q[order[striking.size]] if striking.size < p.size else 1.0
    out = q.copy()
    out[striking] = np.minimum(np.minimum.accumulate(ranked[::-1])[::-1], beyond)
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


def expected_alarms(thresholds: Floats, n: Floats, share: Floats, weight: Floats) -> Floats:
    """How many tests pass each threshold (ascending) by chance: of each the greatest of its `tails`, by its weight, that is
    at most the threshold, and the sum of these over the tests.

    A test's chances are worked out from the expected count upwards, only until one is under all thresholds.
    """
    middle, wide = _upwards(n, share)
    more = np.zeros(thresholds.size + 1)  # than at the threshold before
    open_ = np.arange(n.size)
    passed = np.full(n.size, thresholds.size)  # thresholds from this one on have their chance
    for step in range(wide):
        chances = chance_of_more(middle[open_] + step, n[open_], share[open_])
        first = np.searchsorted(thresholds, chances / weight[open_])
        low = first < passed[open_]
        tests, first, chances = open_[low], first[low], chances[low]
        more += np.bincount(first, chances, more.size) - np.bincount(passed[tests], chances, more.size)
        passed[tests] = first
        open_ = open_[passed[open_] > 0]
        if not open_.size:
            break
    out: Floats = np.cumsum(more)[:-1]
    return out
