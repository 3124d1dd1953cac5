"""What comes back: the mean count of leaks, its variance, repeats after a repair, repairs that did not hold."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.analysis.patterns.exposure import Leak
from leaklore.analysis.patterns.exposure import fleet as fleet_of
from leaklore.analysis.patterns.recurrence import Histories, mean_count, recurrence
from leaklore.analysis.patterns.signals import ALL
from leaklore.analysis.patterns.survival import Lives, kaplan_meier
from leaklore.records.library import Library

from . import SINCE, UNTIL, fleet, leak, watched

System = tuple[int, int, list[int]]


def histories(systems: list[System]) -> Histories:
    """Systems as (entry, years watched, leaks as years after the entry)."""
    events = [(i, a + x) for i, (a, b, leaks) in enumerate(systems) for x in leaks if 0 < x <= b]
    return Histories(
        np.array([float(a) for a, _, _ in systems]),
        np.array([float(a + b) for a, b, _ in systems]),
        np.array([i for i, _ in events], dtype=np.intp),
        np.array([float(x) for _, x in events]),
    )


def by_hand(of: Histories) -> list[tuple[float, float, float]]:
    """Age, mean and variance by the definition of Lawless and Nadeau, in plain loops."""
    out = []
    n = of.entry.size
    own, mean = np.zeros(n), 0.0
    for age in sorted(set(of.age.tolist())):
        there = (of.entry < age) & (age <= of.exit)
        d = np.array([((of.system == i) & (of.age == age)).sum() for i in range(n)])
        own += there / there.sum() * (d - d.sum() / there.sum())
        mean += d.sum() / there.sum()
        out.append((age, mean, float((own**2).sum())))
    return out


def test_three_systems_by_hand() -> None:
    """Ages: system A 0 to 4 leaks at 1 and 3; B 0 to 2, never; C 2 to 5 leaks at 3.

    At 1: A and B at risk, mean 1/2; A deviates by 1/2 (1 - 1/2) = 1/4, B by -1/4: variance 2/16 = 1/8.
    At 3: A and C at risk, both leak, mean 1/2 + 1 = 3/2; nobody deviates: variance stays 1/8.
    """
    found = mean_count(histories([(0, 4, [1, 3]), (0, 2, []), (2, 3, [1])]), 1, (1, 2, 3.5))
    assert found is not None
    assert found.ages.tolist() == [1, 3]
    assert found.mean.tolist() == [0.5, 1.5]
    assert (found.error**2).tolist() == pytest.approx([1 / 8, 1 / 8])
    assert [(r.age, r.at_risk, r.leaks, r.mean) for r in found.rows] == [
        (1, 2, 1, 0.5),
        (2, 2, 1, 0.5),
        (3.5, 2, 3, 1.5),
    ]


@given(
    st.lists(
        st.tuples(st.integers(0, 8), st.integers(1, 10), st.lists(st.integers(1, 10), max_size=4)),
        min_size=1,
        max_size=25,
    )
)
def test_mean_and_robust_variance_in_plain_loops(systems: list[System]) -> None:
    of = histories(systems)
    found = mean_count(of, least=1)
    assert found is not None
    inside = [row for row in by_hand(of) if found.start < row[0] <= found.end]
    if found.start > of.entry.min():  # the plain loops would have to start there, too
        return
    assert found.ages.tolist() == [row[0] for row in inside]
    assert found.mean == pytest.approx([row[1] for row in inside])
    assert found.error**2 == pytest.approx([row[2] for row in inside], abs=1e-12)


def test_variance_of_single_leaks_is_greenwoods() -> None:
    """If all are seen from the start and leave at their leak, increments don't correlate: sum of d (n - d) / n^3."""
    rng = np.random.default_rng(3)
    entry, end = np.zeros(80), rng.integers(1, 9, 80).astype(float)
    leaked = np.flatnonzero(rng.random(80) < 0.6)
    found = mean_count(Histories(entry, end, leaked, end[leaked]), least=1)
    assert found is not None
    n, d = found.at_risk, found.leaks
    assert found.error**2 == pytest.approx(np.cumsum(d * (n - d) / n**3))


def test_mean_count_holds_the_truth_where_systems_differ() -> None:
    """Systems of very unequal rates: about 95 of 100 intervals hold the mean, and Poisson's would not."""
    rng = np.random.default_rng(8)
    held = poisson = 0
    runs = 300
    for _ in range(runs):
        n = 150
        rates = rng.gamma(0.3, 1 / 0.3, n) * 0.2
        entry = np.maximum(rng.uniform(-5, 8, n), 0)
        end = entry + 5
        counts = rng.poisson(rates * 5)
        system = np.repeat(np.arange(n), counts)
        age = entry[system] + rng.uniform(0, 5, system.size)
        found = mean_count(Histories(entry, end, system, age), 20, (6.0,))
        assert found is not None
        row = found.rows[0]
        truth = 0.2 * (6.0 - found.start)
        assert row.low is not None
        assert row.high is not None
        held += row.low <= truth <= row.high
        half = 1.96 * np.sqrt(np.cumsum(found.leaks / found.at_risk**2)[np.searchsorted(found.ages, 6.0) - 1])
        poisson += abs(row.mean - truth) <= half
    assert 0.90 * runs <= held <= 0.99 * runs
    assert poisson < 0.85 * runs


def test_the_count_keeps_to_ages_with_enough_systems() -> None:
    systems: list[System] = [(0, 2, [1])] + [(5, 5, [])] * 25
    found = mean_count(histories(systems))
    assert found is not None
    assert (found.start, found.end, found.leaks.sum()) == (5.0, 10.0, 0)
    assert found.rows[0].low is None
    assert mean_count(histories(systems[:15])) is None


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def test_the_same_mode_again_on_the_same_system() -> None:
    a, b = watched("S-0001", day("2019-01-01")), watched("S-0002", day("2019-01-01"))
    found = recurrence(
        fleet(
            [a, b],
            [
                leak(1, a, day("2021-03-01"), closed=day("2021-03-11"), looks=["leaking-again"]),
                leak(2, a, day("2021-06-09"), closed=day("2021-06-10")),
                leak(3, a, day("2022-01-01"), component="port"),
                leak(4, a, day("2022-02-01"), "corrosion"),
                leak(5, b, day("2022-03-01")),
                leak(6, b, day("2022-05-01"), "corrosion", labour=None),
                leak(7, b, day("2022-06-01"), "corrosion", looks=["holding"]),
            ],
        )
    )
    flares = next(m for m in found.modes if m.mode == "loose-flare")
    assert [(x.repaired.case.id[-1], x.back.case.id[-1], x.days, x.same_part) for x in flares.again] == [
        ("1", "2", 90, True),
        ("2", "3", 205, False),
    ]
    assert (flares.repairs, flares.systems) == (4, 2)
    after = 90 + 205 + (UNTIL - day("2022-01-01")).days + (UNTIL - day("2022-03-01")).days
    assert flares.years == pytest.approx(after / 365.25)
    others = sum(w.years for w in (a, b)) - after / 365.25
    assert flares.expected == pytest.approx(2 / others * after / 365.25)
    corrosion = next(m for m in found.modes if m.mode == "corrosion")
    assert (corrosion.repairs, len(corrosion.again)) == (2, 0), "what was not repaired can't come back"
    assert found.overall.repairs == 6
    assert len(found.overall.again) == 2
    assert found.overall.days is not None
    assert found.overall.days.median == (90 + 205) / 2
    assert [(n.case.id[-1], n.seen, [x.back.case.id[-1] for x in n.back]) for n in found.not_held] == [
        ("1", True, ["2"])
    ]
    assert (found.looked_at, found.repairs) == (2, 6)


def test_a_part_that_leaks_again_was_not_held_even_if_nobody_looked() -> None:
    a = watched("S-0001", day("2019-01-01"))
    found = recurrence(fleet([a], [leak(1, a, day("2021-03-01")), leak(2, a, day("2021-06-01"))]))
    assert [(n.case.id[-1], n.seen, n.modes) for n in found.not_held] == [("1", False, ("loose-flare",))]
    assert found.looked_at == 0


def test_a_repair_without_a_day_counts_from_its_report() -> None:
    a = watched("S-0001", day("2019-01-01"))
    leaks = [leak(1, a, day("2021-03-01"), closed=None), leak(2, a, day("2021-06-01"))]
    (again,) = recurrence(fleet([a], leaks)).overall.again
    assert again.days == 92


def test_without_anything_to_compare_with_a_return_is_no_finding() -> None:
    """One system that leaked on the first day of the watch: there is no time in which it was not repaired."""
    a = watched("S-0001", SINCE)
    found = recurrence(fleet([a], [leak(i, a, SINCE + dt.timedelta(days=300 * i)) for i in range(6)]))
    assert len(found.overall.again) == 5
    assert (found.overall.expected, found.overall.q) == (0.0, 1.0)
    assert found.modes[0].ratio is None
    assert not found.overall.comes_back


def test_a_few_days_without_a_repair_are_nothing_to_compare_with() -> None:
    """One leak in the two days before its repair would make 300 in the five years after it."""
    a = watched("S-0001", SINCE)
    assert recurrence(fleet([a], [leak(1, a, SINCE + dt.timedelta(days=2))])).overall.expected == 0
    b = watched("S-0002", SINCE)
    assert 0 < recurrence(fleet([a, b], [leak(1, a, SINCE + dt.timedelta(days=2))])).overall.expected < 1.1


def test_curves_are_of_modes_with_enough_leaks_and_say_where_they_are_few() -> None:
    """Eight flares have a curve of their own, seven leaks of corrosion none; four of all are few."""
    systems = [watched(f"S-{i:04}", day("2020-01-01")) for i in range(30)]

    def leaks(n: int, mode: str) -> list[Leak]:
        return [leak(100 * len(mode) + i, systems[i], day("2023-01-01"), mode) for i in range(n)]

    found = recurrence(fleet(systems, [*leaks(8, "loose-flare"), *leaks(7, "corrosion")])).counts
    assert set(found) == {ALL, "loose-flare"}
    assert not found[ALL].few
    few = recurrence(fleet(systems, leaks(4, "loose-flare"))).counts[ALL]
    assert few.few
    first = few.rows[0]
    assert (first.age, first.leaks, first.mean, first.low, first.high) == (2.0, 0, 0.0, None, None)
    assert few.rows[-1].mean == pytest.approx(4 / 30)


def test_share_that_came_back_counts_repairs_still_under_watch() -> None:
    """Ten repairs on the first day; two come back after 100 and 500 days, three are watched half a year alone."""
    systems = [
        watched(f"S-{i:04}", day("2020-01-01"), day("2021-07-01") if i > 6 else UNTIL) for i in range(10)
    ]
    leaks = [leak(i, w, day("2021-01-01")) for i, w in enumerate(systems)]
    leaks += [
        leak(20 + i, systems[i], day("2021-01-01") + dt.timedelta(days=100 + 400 * i)) for i in range(2)
    ]
    found = recurrence(fleet(systems, leaks)).overall
    rest = [(UNTIL - day("2021-01-01")).days / 365.25] * 5 + [181 / 365.25] * 3
    rest += [(UNTIL - (day("2021-01-01") + dt.timedelta(days=100 + 400 * i))).days / 365.25 for i in range(2)]
    gap = np.array([100 / 365.25, 500 / 365.25, *rest])
    plain = kaplan_meier(Lives(np.zeros(12), gap, np.array([True, True] + [False] * 10)), 1, (1.0, 2.0))
    assert plain is not None
    assert [w.share for w in found.within] == [w.share for w in plain.rows]
    assert found.within[0].share == pytest.approx(1 / 12)
    assert found.within[1].share == pytest.approx(1 - 11 / 12 * 7 / 8)


def test_chance_alone_seldom_makes_a_mode_come_back() -> None:
    """Leaks thrown on systems at random: a return is called one in few of 100 fleets."""
    rng = np.random.default_rng(6)
    systems = [watched(f"S-{i:04}", day("2018-01-01")) for i in range(60)]
    called = 0
    for _ in range(100):
        leaks = [
            leak(
                i,
                systems[int(rng.integers(60))],
                day("2021-01-02") + dt.timedelta(days=int(rng.integers(1800))),
            )
            for i in range(30)
        ]
        called += any(m.comes_back for m in recurrence(fleet(systems, leaks)).modes)
    assert called <= 18


def test_the_demo(demo_library: Library) -> None:
    """Ten returns, too few of any one failure to name it. Each pair is held against its records."""
    found = recurrence(fleet_of(demo_library, dt.date(2026, 11, 26)))
    assert len(found.overall.again) == 10
    assert found.overall.comes_back
    assert [m.mode for m in found.modes if m.comes_back] == []
    assert [m.mode for m in found.modes if m.again and m.few] == [
        "fastener-puncture",
        "formicary-corrosion",
        "vibration-crack",
        "rub-through",
        "gasket-or-o-ring",
    ]
    for again in found.overall.again:
        assert again.repaired.watched.system.id == again.back.watched.system.id
        assert again.repaired.mode == again.back.mode
        assert again.repaired.case.reported < again.back.case.reported
    seen = {n.case.id for n in found.not_held if n.seen}
    assert seen == {
        x.case.id for x in fleet_of(demo_library, dt.date(2026, 11, 26)).leaks if x.case.fix_held is False
    }


def test_a_fleet_without_a_leak_has_nothing_that_came_back() -> None:
    found = recurrence(fleet([watched(f"S-{i:04}", day("2019-01-01")) for i in range(30)], []))
    assert not found.modes
    assert all(not made.mean.any() for made in found.counts.values())
