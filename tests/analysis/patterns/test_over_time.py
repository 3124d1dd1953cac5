"""Leaks by quarter: exposure to the day, parts of quarters, limits of chance, trends that are and are not there."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from leaklore.analysis.patterns.exposure import Fleet, Leak, Watched
from leaklore.analysis.patterns.exposure import fleet as fleet_of
from leaklore.analysis.patterns.over_time import over_time, quarters, trend
from leaklore.records.library import Library

from . import fleet, leak, watched


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def test_exposure_to_the_day() -> None:
    """In plain loops over days."""
    rng = np.random.default_rng(1)
    since, until = day("2022-02-10"), day("2023-05-20")
    systems = []
    for i in range(25):
        installed = day("2021-01-01") + dt.timedelta(days=int(rng.integers(0, 800)))
        start = max(installed, since)
        if start < until:
            end = min(until, start + dt.timedelta(days=int(rng.integers(1, 500))))
            systems.append(watched(f"S-{i:04}", installed, end, since))
    made = quarters(fleet(systems, [], since, until))
    assert [q.name for q in made] == ["2022 Q1", "2022 Q2", "2022 Q3", "2022 Q4", "2023 Q1", "2023 Q2"]
    assert [q.whole for q in made] == [False, True, True, True, True, False]
    assert (made[0].start, made[0].end, made[-1].end) == (since, day("2022-04-01"), until)
    for q in made:
        days = [q.start + dt.timedelta(days=n) for n in range((q.end - q.start).days)]
        seen = sum(w.start <= d < w.end for d in days for w in systems)
        assert q.years == pytest.approx(seen / 365.25)
    assert sum(q.years for q in made) == pytest.approx(fleet(systems, []).years)


@pytest.mark.parametrize(
    ("since", "until", "names", "whole"),
    [
        ("2022-01-01", "2022-04-01", ["2022 Q1"], [True]),
        ("2022-01-01", "2022-04-02", ["2022 Q1", "2022 Q2"], [True, False]),
        ("2022-11-30", "2023-01-01", ["2022 Q4"], [False]),
        ("2022-12-31", "2023-01-02", ["2022 Q4", "2023 Q1"], [False, False]),
        ("2022-05-05", "2022-05-05", [], []),
    ],
)
def test_first_and_last_quarter(since: str, until: str, names: list[str], whole: list[bool]) -> None:
    made = quarters(fleet([], [], day(since), day(until)))
    assert [q.name for q in made] == names
    assert [q.whole for q in made] == whole


def big(n: int = 200) -> list[Watched]:
    return [watched(f"S-{i:04}", day("2015-01-01")) for i in range(n)]


def test_counts_fall_into_their_quarters() -> None:
    systems = big(10)
    days = ["2021-01-01", "2021-03-31", "2021-04-01", "2025-12-31", "2026-01-01"]
    found = over_time(fleet(systems, [leak(i, systems[i], day(d)) for i, d in enumerate(days)]))
    counts = [len(p.leaks) for p in found.all.points]
    assert len(counts) == 20
    assert (counts[0], counts[1], counts[-1]) == (2, 1, 2), "the last day of the watch belongs to it"
    assert sum(counts) == found.all.leaks == 5
    assert sum(p.expected for p in found.all.points) == pytest.approx(5)


def test_limits_are_those_of_poisson() -> None:
    """A quarter of 20 leaks among 19 of 4: limits are exact quantiles (scipy.stats), and it stands out far."""
    systems = big()
    leaks = []
    for q in range(20):
        first = dt.date(2021 + q // 4, 3 * (q % 4) + 1, 2)
        leaks += [
            leak(100 * q + i, systems[i], first + dt.timedelta(days=i)) for i in range(20 if q == 7 else 4)
        ]
    found = over_time(fleet(systems, leaks)).all
    for p in found.points:
        assert p.near == tuple(stats.poisson.ppf([0.025, 0.975], p.expected))
        assert p.far == tuple(stats.poisson.ppf([0.001, 0.999], p.expected))
    assert [(p.quarter.name, p.standing) for p in found.outside] == [("2022 Q4", "far-high")]
    assert found.uneven is not None
    assert found.uneven < 0.001
    counts, expected = [len(p.leaks) for p in found.points], [p.expected for p in found.points]
    assert found.uneven == pytest.approx(stats.chisquare(counts, expected).pvalue, rel=1e-6)
    assert not found.changes


def test_quarters_as_even_as_chance_makes_them_are_not_called_uneven() -> None:
    """Reference library: scipy.stats.chisquare."""
    systems, rng = big(), np.random.default_rng(5)
    days = [day("2021-01-01") + dt.timedelta(days=int(n)) for n in rng.integers(0, 1826, 100)]
    found = over_time(fleet(systems, [leak(i, systems[i], d) for i, d in enumerate(days)])).all
    counts, expected = [len(p.leaks) for p in found.points], [p.expected for p in found.points]
    assert found.uneven == pytest.approx(stats.chisquare(counts, expected).pvalue, rel=1e-6)
    assert found.uneven > 0.05


def test_few_leaks_are_not_tested() -> None:
    systems = big(20)
    found = over_time(fleet(systems, [leak(i, systems[i], day("2025-05-05")) for i in range(4)]))
    assert found.all.trend is None
    assert found.all.uneven is None
    assert found.looked_at == 0
    empty = over_time(fleet([], [], day("2022-05-05"), day("2022-05-05")))
    assert empty.all.points == ()
    assert empty.all.overall is None


def random_fleet(rng: np.random.Generator, systems: list[Watched], n: int, growth: float = 0.0) -> Fleet:
    """About `n` leaks over five years on systems at random, with a rate that grows by e^growth a year."""
    leaks: list[Leak] = []
    ages = np.arange(1826) / 365.25
    weight = np.exp(growth * ages)
    for i, at in enumerate(rng.choice(1826, size=rng.poisson(n), p=weight / weight.sum())):
        on = systems[int(rng.integers(len(systems)))]
        leaks.append(
            leak(i, on, day("2021-01-01") + dt.timedelta(days=int(at)), ("loose-flare", "corrosion")[i % 2])
        )
    return fleet(systems, leaks)


def test_a_constant_rate_has_no_trend() -> None:
    """In about 95 of 100 fleets the interval of the yearly factor holds 1, and few say that anything changes."""
    rng = np.random.default_rng(12)
    systems = big(60)
    holds = changes = outside = 0
    fleets = 200
    for _ in range(fleets):
        found = over_time(random_fleet(rng, systems, 60))
        assert found.all.trend is not None
        holds += found.all.trend.low <= 1 <= found.all.trend.high
        changes += found.all.changes or any(m.changes for m in found.modes)
        outside += len(found.all.outside)
    assert 0.91 * fleets <= holds <= 0.985 * fleets
    assert changes <= 0.16 * fleets, "false alarms over all looks are held to one in ten"
    assert outside / (20 * fleets) < 0.06


def test_a_growing_rate_is_found() -> None:
    rng = np.random.default_rng(13)
    found = over_time(random_fleet(rng, big(60), 150, growth=0.35))
    assert found.all.trend is not None
    assert found.all.changes
    assert found.all.trend.low < np.exp(0.35) < found.all.trend.high


def test_a_growing_fleet_is_no_trend() -> None:
    """Twice the systems have twice the leaks: the rate stays."""
    exposure = np.linspace(10, 60, 20)
    found = trend(np.round(exposure / 5), exposure, np.arange(20) / 4)
    assert found is not None
    assert found.factor == pytest.approx(1, abs=0.02)
    naive = trend(np.round(exposure / 5), np.ones(20), np.arange(20) / 4)
    assert naive is not None
    assert naive.low > 1.1


def test_bounds_where_all_leaks_are_at_one_end() -> None:
    counts = np.zeros(8)
    counts[-1] = 6
    found = trend(counts, np.ones(8), np.arange(8) / 4)
    assert found is not None
    assert found.low > 1
    assert found.high == np.inf
    assert trend(np.zeros(8), np.ones(8), np.arange(8.0)) is None
    assert trend(np.array([5.0]), np.ones(1), np.zeros(1)) is None


def test_the_demo_has_no_trend(demo_library: Library) -> None:
    """Nothing in the demo was made to change with time (tests/demo-patterns.md)."""
    found = over_time(fleet_of(demo_library, dt.date(2026, 11, 26)))
    assert not found.all.changes
    assert not any(m.changes for m in found.modes)
    assert [q.whole for q in found.quarters] == [True] * 23 + [False]
    assert found.all.leaks == 186


def test_trends_are_corrected_for_all_looks_with_four_fifths_of_the_allowance_for_all_leaks() -> None:
    """Against scipy's Benjamini-Hochberg of p over weights: 0.8 for all leaks, 0.2 shared by two modes, times three."""
    found = over_time(random_fleet(np.random.default_rng(4), big(), 60, growth=0.15))
    series = (found.all, *found.modes)
    p = np.array([s.trend.p for s in series if s.trend])
    assert p.size == 3
    q = stats.false_discovery_control(np.minimum(p / np.array([2.4, 0.3, 0.3]), 1.0))
    assert [s.q for s in series] == pytest.approx(q.tolist())
    assert q[0] < stats.false_discovery_control(p)[0]
