"""At what age systems have their first leak: curves by Kaplan and Meier, log-rank test, Weibull shape.

A system that was old when the watch began enters late: up to that age it could not have been seen to leak, so it counts
among those at risk only from there on. Late entry has a trap. Where few systems are under watch at an age, one leak
throws the whole rest of the curve. A curve is therefore drawn over the longest stretch of ages at which LEAST_AT_RISK
systems were at risk, and speaks of systems that came to its first age without the leak.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log, sqrt
from statistics import NormalDist
from typing import Any, Literal

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long
from numpy.typing import NDArray

from leaklore.analysis.intervals import FEW, LEVEL
from leaklore.analysis.patterns.discoveries import false_discovery
from leaklore.analysis.patterns.exposure import DAYS_A_YEAR, Fleet, Leak, Watched
from leaklore.analysis.patterns.rates import Floats
from leaklore.analysis.patterns.signals import ALL, FALSE_SHARE

Verdict = Literal["early", "wear-out", "either"]
LEAST_AT_RISK = 20
"""A curve goes only where so many systems are at risk (judgement: one leak then moves it by 5 of 100 at most)."""
LEAST_FOR_SHAPE = 10
"""Leaks from which a Weibull shape is fitted (judgement)."""
ROUND_AGES = (1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0)
"""Years; ages of tables."""
STEPS = 240
"""Most steps of a curve that are drawn or written out."""
HALF_A_DAY = 0.5 / DAYS_A_YEAR
"""A leak on the first day of the watch is put half a day later, so that the system is at risk before it."""
LEAST_EXPECTED = 1.0
"""First leaks expected of a group in a test by chi-squared; smaller ones go together (Koehler and Larntz 1980, from memory)."""
_SHAPES = (0.02, 50.0)
_Z = NormalDist().inv_cdf(0.5 + LEVEL / 2)


@dataclass(frozen=True, eq=False)
class Lives:
    """Age in years at which each was first seen (`entry`) and last seen (`exit`); `leaked` where the exit is a leak."""

    entry: Floats
    exit: Floats
    leaked: NDArray[np.bool_]


def at_risk(entry: Floats, end: Floats, ages: Floats) -> NDArray[np.intp]:
    """How many are seen at each age: entered before it, and not gone before it."""
    return np.asarray(
        np.searchsorted(np.sort(entry), ages, "left") - np.searchsorted(np.sort(end), ages, "left"),
        dtype=np.intp,
    )


def stretch(entry: Floats, end: Floats, least: int) -> tuple[float, float] | None:
    """Longest stretch of ages (start, end] at which at least `least` are seen; None if there is none."""
    times = np.unique(np.concatenate([entry, end]))
    if times.size < 2:
        return None
    seen = np.searchsorted(np.sort(entry), times[:-1], "right") - np.searchsorted(
        np.sort(end), times[:-1], "right"
    )
    edges = np.diff(np.concatenate([[0], (seen >= least).astype(np.int8), [0]]))
    starts, ends = times[np.flatnonzero(edges == 1)], times[np.flatnonzero(edges == -1)]
    if not starts.size:
        return None
    longest = int(np.argmax(ends - starts))
    return float(starts[longest]), float(ends[longest])


@dataclass(frozen=True, slots=True)
class ByAge:
    """By `age`: `leaks` so far, share of systems that had one, its interval (None before the first leak)."""

    age: float
    at_risk: int
    leaks: int
    share: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Median:
    """Age in years by which half of the systems had the leak; a bound is None where its curve stays above half."""

    age: float
    low: float | None
    high: float | None


@dataclass(frozen=True, eq=False)
class Curve:
    """Steps of the share still without a leak, from age `start` to `end`, given that a system came to `start` without.

    One entry a step: its age, leaks at it, systems at risk just before it, `still` after it with its 95 % band.
    `gone` are the ages at which systems left the watch without a leak.
    """

    start: float
    end: float
    systems: int
    ages: Floats
    leaks: NDArray[np.intp]
    at_risk: NDArray[np.intp]
    still: Floats
    low: Floats
    high: Floats
    gone: Floats
    rows: tuple[ByAge, ...]

    @property
    def few(self) -> bool:
        """Too few leaks for a finding?"""
        return int(self.leaks.sum()) < FEW

    @property
    def median(self) -> Median | None:
        """None where more than half of the systems have no leak by the end."""

        def below(values: Floats) -> float | None:
            reached = np.flatnonzero(values <= 0.5)
            return float(self.ages[reached[0]]) if reached.size else None

        age = below(self.still)
        return None if age is None else Median(age, below(self.low), below(self.high))


def kaplan_meier(
    lives: Lives, least: int = LEAST_AT_RISK, ages_told: Sequence[float] = ROUND_AGES
) -> Curve | None:
    """Product-limit curve with late entry, Greenwood's variance and log(-log) band; None without a stretch.

    Sources: Kaplan and Meier 1958; late entry and the band as in Klein and Moeschberger, Survival Analysis, ch. 4
    (from memory); held against an independent library in tests/published.
    """
    found = stretch(lives.entry, lives.exit, least)
    if found is None:
        return None
    start, end = found
    inside = (lives.exit > start) & (lives.exit <= end)
    ages, leaks = np.unique(lives.exit[inside & lives.leaked], return_counts=True)
    seen = at_risk(lives.entry, lives.exit, ages)
    still = np.cumprod(1 - leaks / seen).astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(np.cumsum(leaks / (seen * (seen - leaks)))) / np.log(still)
        low, high = still ** np.exp(-_Z * spread), still ** np.exp(_Z * spread)
    gone_all = still <= 0  # all that were left leaked: no band
    low, high = np.where(gone_all, 0.0, low), np.where(gone_all, _one_step_before(high), high)
    told = np.array([a for a in ages_told if start < a <= end])
    there = at_risk(lives.entry, lives.exit, told)
    rows = []
    for age, n in zip(told, there, strict=True):
        i = int(np.searchsorted(ages, age, "right")) - 1
        known = i >= 0
        rows.append(
            ByAge(
                float(age),
                int(n),
                int(leaks[: i + 1].sum()),
                float(1 - still[i]) if known else 0.0,
                float(1 - high[i]) if known else None,
                float(1 - low[i]) if known else None,
            )
        )
    systems = int(((lives.entry < end) & (lives.exit > start)).sum())
    gone = np.sort(lives.exit[inside & ~lives.leaked])
    return Curve(start, end, systems, ages, leaks, seen, still, low, high, gone, tuple(rows))


def thinned(ages: Floats, most: int = STEPS) -> NDArray[np.intp]:
    """Numbers of the steps to show: all, or of a long curve the last in each of `most` equal spans of age."""
    if ages.size <= most:
        return np.arange(ages.size)
    span = np.floor((ages - ages[0]) / (ages[-1] - ages[0]) * (most - 1))
    return np.flatnonzero(np.append(span[1:] != span[:-1], True))


def _one_step_before(high: Floats) -> Floats:
    """The upper band one step earlier: it can't rise, and at the last leak of all it has no value of its own."""
    out = np.ones_like(high)
    out[1:] = high[:-1]
    return out


@dataclass(frozen=True, slots=True)
class LogRank:
    """Test that groups leak alike at every age: `observed` and `expected` leaks of each group, `p` by chi-squared."""

    chi2: float
    df: int
    p: float
    observed: tuple[int, ...]
    expected: tuple[float, ...]


def log_rank(groups: Sequence[Lives]) -> LogRank | None:
    """Log-rank test of Mantel with late entry; None below two groups or without a leak.

    At each age at which somebody leaked, the leaks are dealt to the groups by how many of them are at risk.
    Source: Mantel 1966; Klein and Moeschberger ch. 7 (from memory); held against an independent library.
    """
    ages = np.unique(np.concatenate([g.exit[g.leaked] for g in groups])) if groups else np.empty(0)
    if len(groups) < 2 or not ages.size:
        return None
    seen = np.array([at_risk(g.entry, g.exit, ages) for g in groups], dtype=float)
    leaks = np.array(
        [
            np.bincount(np.searchsorted(ages, g.exit[g.leaked]), minlength=ages.size).astype(float)
            for g in groups
        ]
    )
    n, d = seen.sum(axis=0), leaks.sum(axis=0)
    share = seen / n
    weight = d * np.where(n > 1, (n - d) / np.maximum(n - 1, 1), 0.0)
    covariance = np.diag((weight * share).sum(axis=1)) - (weight * share) @ share.T
    expected = (d * share).sum(axis=1)
    difference = leaks.sum(axis=1) - expected
    df = int(np.linalg.matrix_rank(covariance))  # a group never at risk with others adds nothing
    chi2 = float(difference @ np.linalg.pinv(covariance, hermitian=True) @ difference)
    return LogRank(
        chi2,
        df,
        float(scipy.special.chdtrc(df, chi2)) if df else 1.0,
        tuple(int(x) for x in leaks.sum(axis=1)),
        tuple(float(x) for x in expected),
    )


def log_rank_of_some(groups: Sequence[Lives]) -> LogRank | None:
    """`log_rank`, its chi2, df and p with groups put together until LEAST_EXPECTED leaks are expected of each.

    One leak in a group of which next to none is expected would alarm by itself. p is 1 where one group is left.
    """
    each = found = log_rank(groups)
    held = list(groups)
    while found is not None and len(held) > 1 and min(found.expected) < LEAST_EXPECTED:
        order = np.argsort(found.expected, kind="stable")
        least, next_least = held[order[0]], held[order[1]]
        held = [held[i] for i in order[2:]] + [_together(least, next_least)]
        found = log_rank(held)
    if each is None or found is each:
        return each
    if found is None:
        return replace(each, chi2=0.0, df=0, p=1.0)
    return replace(each, chi2=found.chi2, df=found.df, p=found.p)


def _together(one: Lives, other: Lives) -> Lives:
    return Lives(
        np.concatenate([one.entry, other.entry]),
        np.concatenate([one.exit, other.exit]),
        np.concatenate([one.leaked, other.leaked]),
    )


@dataclass(frozen=True, slots=True)
class Weibull:
    """Weibull law of the age at the leak: `shape`, `scale` in years, 95 % intervals, and `p` for shape 1."""

    leaks: int
    shape: float
    shape_low: float
    shape_high: float
    scale: float
    scale_low: float
    scale_high: float
    p: float

    @property
    def verdict(self) -> Verdict:
        """Leaks ever rarer with age (early), ever more often (wear-out), or no telling."""
        if self.shape_high < 1:
            return "early"
        return "wear-out" if self.shape_low > 1 else "either"


def weibull(lives: Lives, least: int = LEAST_FOR_SHAPE) -> Weibull | None:
    """Maximum likelihood with late entry and censoring; None with too few leaks or where the likelihood has no top.

    For a given shape the scale has a closed form, so one dimension is searched. The shape's interval is that of the
    profile likelihood, the scale's that of the observed information for its logarithm. Source: Lawless, Statistical
    Models and Methods for Lifetime Data, ch. 5 (from memory); held against an independent library.
    """
    d = int(lives.leaked.sum())
    if d < max(least, 2):
        return None
    unit = float(lives.exit.mean())
    ends, late = np.log(lives.exit / unit), np.log(lives.entry[lives.entry > 0] / unit)
    logs = float(ends[lives.leaked].sum())

    def powers(k: float, order: int = 0) -> float:
        return float((np.exp(k * ends) * ends**order).sum() - (np.exp(k * late) * late**order).sum())

    def profile(u: float) -> float:
        k, total = exp(u), powers(exp(u))
        return d * u + (k - 1) * logs - d * log(total) if total > 0 else -inf

    bottom, top = (log(x) for x in _SHAPES)
    at = float(
        scipy.optimize.minimize_scalar(
            lambda u: -profile(u), bounds=(bottom, top), method="bounded", options={"xatol": 1e-8}
        ).x
    )
    if not bottom + 1e-3 < at < top - 1e-3:
        return None
    best, drop = profile(at), _Z * _Z / 2

    def bound(edge: float) -> float:
        def over(u: float) -> float:
            return profile(u) - best + drop

        return edge if over(edge) > 0 else float(scipy.optimize.brentq(over, at, edge, xtol=1e-8))

    k = exp(at)
    total = powers(k)
    s1, s2, u = powers(k, 1) / total, powers(k, 2) / total, log(total / d) / k
    kk, ku, uu = d / k**2 + d * (s2 - 2 * u * s1 + u * u), -k * d * (s1 - u), k * k * d
    half = _Z * sqrt(kk / (kk * uu - ku * ku))
    p = float(scipy.special.chdtrc(1, max(0.0, 2 * (best - profile(0.0)))))
    scale = exp(u) * unit
    return Weibull(d, k, exp(bound(bottom)), exp(bound(top)), scale, scale * exp(-half), scale * exp(half), p)


@dataclass(frozen=True, eq=False)
class AgeAtLeak:
    """First leaks of one mode (or ALL): one a system. `q` of the shape among all modes looked at, None without one."""

    mode: str
    systems: int
    leaks: tuple[Leak, ...]
    curve: Curve | None
    weibull: Weibull | None
    q: float | None = None

    @property
    def verdict(self) -> Verdict:
        """As the shape says, unless so many looks were taken that chance can have made it."""
        if self.weibull is None or self.q is None or self.q > FALSE_SHARE:
            return "either"
        return self.weibull.verdict


@dataclass(frozen=True, eq=False)
class Survival:
    """Ages at the first leak: of any mode, of each mode (most leaks first), and settings held against each other."""

    any: AgeAtLeak
    modes: tuple[AgeAtLeak, ...]
    settings: tuple[str, ...]
    by_setting: LogRank | None


def survival(fleet: Fleet) -> Survival:
    """All ages at first leaks in a fleet. What leaked before the watch began is not known and not counted."""
    entry = np.array([w.entry for w in fleet.watched], dtype=float)
    end = np.array([w.exit for w in fleet.watched], dtype=float)
    row = {w.system.id: i for i, w in enumerate(fleet.watched)}
    by_mode: dict[str, list[Leak]] = {}
    for leak in fleet.leaks:
        by_mode.setdefault(leak.mode, []).append(leak)

    def lives(leaks: Sequence[Leak]) -> tuple[Lives, tuple[Leak, ...]]:
        first: dict[int, Leak] = {}
        for leak in leaks:
            first.setdefault(row[leak.watched.system.id], leak)
        at, leaked = end.copy(), np.zeros(end.size, dtype=bool)
        for i, leak in first.items():
            at[i], leaked[i] = max(leak.age, entry[i] + HALF_A_DAY), True
        return Lives(entry, at, leaked), tuple(first.values())

    def told(mode: str, leaks: Sequence[Leak]) -> AgeAtLeak:
        ages, first = lives(leaks)
        return AgeAtLeak(mode, end.size, first, kaplan_meier(ages), weibull(ages))

    found = [told(mode, leaks) for mode, leaks in by_mode.items()]
    found.sort(key=lambda x: (-len(x.leaks), x.mode))
    every, _ = lives(fleet.leaks)
    settings = _settings(fleet.watched)
    groups = [Lives(entry[i], every.exit[i], every.leaked[i]) for i in settings.values()]
    return Survival(
        *_with_q(told(ALL, fleet.leaks), found),
        tuple(settings),
        log_rank_of_some(groups) if len(groups) > 1 else None,
    )


def _settings(watched: Sequence[Watched]) -> Mapping[str, NDArray[np.intp]]:
    """Rows of the systems of each setting."""
    out: dict[str, list[int]] = {}
    for i, w in enumerate(watched):
        out.setdefault(w.system.equipment.setting or w.system.site.setting, []).append(i)
    return {key: np.array(out[key], dtype=np.intp) for key in sorted(out)}


def _with_q(every: AgeAtLeak, modes: list[AgeAtLeak]) -> tuple[AgeAtLeak, tuple[AgeAtLeak, ...]]:
    """Shapes of the modes are corrected for each other; that of all leaks is one look by itself."""
    q = iter(false_discovery(np.array([x.weibull.p for x in modes if x.weibull])))

    return (
        replace(every, q=every.weibull.p if every.weibull else None),
        tuple(replace(x, q=float(next(q))) if x.weibull else x for x in modes),
    )


VERSION = 1


def survival_data(found: Survival) -> dict[str, Any]:
    """For `data/survival.json`: ages in years, shares from 0 to 1, twelve significant figures."""
    test = found.by_setting
    return {
        "version": VERSION,
        "least_at_risk": LEAST_AT_RISK,
        "modes": [_record(x) for x in (found.any, *found.modes)],
        "settings": None
        if test is None
        else {
            "chi2": _tidy(test.chi2),
            "df": test.df,
            "p": _tidy(test.p),
            "groups": [
                {"setting": key, "leaks": o, "expected": _tidy(e)}
                for key, o, e in zip(found.settings, test.observed, test.expected, strict=True)
            ],
        },
    }


def _record(x: AgeAtLeak) -> dict[str, Any]:
    curve, law = x.curve, x.weibull
    median = curve.median if curve else None
    return {
        "mode": x.mode,
        "systems": x.systems,
        "leaks": len(x.leaks),
        "from_age": _tidy(curve.start) if curve else None,
        "to_age": _tidy(curve.end) if curve else None,
        "points": [
            {
                "age": _tidy(age),
                "without": _tidy(still),
                "low": _tidy(low),
                "high": _tidy(high),
                "at_risk": int(n),
                "leaks": int(k),
            }
            for age, still, low, high, n, k in zip(
                *(
                    values[thinned(curve.ages)]
                    for values in (
                        curve.ages,
                        curve.still,
                        curve.low,
                        curve.high,
                        curve.at_risk,
                        np.cumsum(curve.leaks),
                    )
                ),
                strict=True,
            )
        ]
        if curve
        else [],
        "at_risk": [{"age": r.age, "systems": r.at_risk} for r in curve.rows] if curve else [],
        "median": {"age": _tidy(median.age), "low": _tidy(median.low), "high": _tidy(median.high)}
        if median
        else None,
        "weibull": None
        if law is None
        else {
            "shape": _tidy(law.shape),
            "shape_low": _tidy(law.shape_low),
            "shape_high": _tidy(law.shape_high),
            "scale_years": _tidy(law.scale),
            "scale_low_years": _tidy(law.scale_low),
            "scale_high_years": _tidy(law.scale_high),
            "p": _tidy(law.p),
            "q": _tidy(x.q),
            "verdict": x.verdict,
        },
    }


def _tidy(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.12g}")
