"""Before and after: time split at the day, installs at the same ages, the yardstick, and how long until it can be told."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from leaklore.analysis.patterns.changes import (
    HORIZON,
    Change,
    Compared,
    Side,
    changes,
    concerned,
    months_needed,
    ratio_of_ratios,
)
from leaklore.analysis.patterns.exposure import Fleet, Leak, Watched
from leaklore.analysis.patterns.rates import rate, rate_ratio
from leaklore.records.model import Action, Equipment, LineSet, Site, System

from .. import builders
from . import UNTIL, fleet, leak, watched

DAY = dt.date(2024, 1, 1)
"""Three years after the watch of these fleets began, two before its end."""
OLD = dt.date(2015, 1, 1)


def change(over: Fleet, modes: tuple[str, ...] = ("loose-flare",), **more: Any) -> Change:
    """The one change of a library, held against a fleet."""
    action = Action("it", DAY, "Something else.", modes, **more)
    return changes(replace(builders.library(), actions=(action,)), over)[0]


def many(
    systems: list[Watched], before: int, after: int, mode: str = "loose-flare", first: int = 1
) -> list[Leak]:
    """So many leaks before and after the day, one a week, on the systems in turn."""
    start = [dt.date(2021, 2, 1), DAY]
    return [
        leak(first + 100 * late + i, systems[i % len(systems)], start[late] + dt.timedelta(days=7 * i), mode)
        for late, n in enumerate((before, after))
        for i in range(n)
    ]


def compared(k_before: int, before: float, k: int, after: float) -> Compared:
    """Counts and years without their leaks' own days."""
    w = watched("S-1", OLD)
    sides = [
        Side(tuple(leak(i, w, DAY) for i in range(n)), years, 1, rate(n, years))
        for n, years in ((k_before, before), (k, after))
    ]
    return Compared(sides[0], sides[1], rate_ratio(k, after, k_before, before))


def test_time_is_split_at_the_day() -> None:
    """3 years before, 2 after for the old system; one that came later has 1.5 after; one that left has 2 before."""
    systems = [
        watched("S-1", OLD),
        watched("S-2", dt.date(2024, 7, 1)),
        watched("S-3", OLD, end=dt.date(2023, 1, 1)),
    ]
    leaks = [
        leak(1, systems[0], DAY - dt.timedelta(days=1)),
        leak(2, systems[0], DAY),
        leak(3, systems[1], UNTIL),
    ]

    found = change(fleet(systems, leaks))

    assert found.group.before.years == pytest.approx((1095 + 730) / 365.25)
    assert found.group.after.years == pytest.approx((731 + 549) / 365.25)
    assert (found.group.before.systems, found.group.after.systems) == (2, 2)
    assert [len(s.leaks) for s in (found.group.before, found.group.after)] == [1, 2]
    assert found.group.ratio == rate_ratio(2, found.group.after.years, 1, found.group.before.years)


def test_only_the_named_failures_count_and_the_others_are_the_yardstick() -> None:
    systems = [watched(f"S-{i}", OLD) for i in range(4)]
    leaks = many(systems, 4, 1) + many(systems, 3, 2, "corrosion", first=50)

    found = change(fleet(systems, leaks))

    assert found.rest_is == "modes"
    assert [len(s.leaks) for s in (found.group.before, found.group.after)] == [4, 1]
    assert [len(s.leaks) for s in (found.rest.before, found.rest.after)] == [3, 2]


def test_with_a_group_the_other_systems_are_the_yardstick() -> None:
    homes = [watched(f"S-{i}", OLD) for i in range(3)]
    shops = [watched(f"S-{i}", OLD, setting="shop") for i in range(3, 6)]
    leaks = many(homes, 5, 1) + many(shops, 2, 3, first=30)

    found = change(fleet([*homes, *shops], leaks), where={"setting": "residential"})

    assert found.rest_is == "systems"
    assert [len(s.leaks) for s in (found.group.before, found.group.after)] == [5, 1]
    assert [len(s.leaks) for s in (found.rest.before, found.rest.after)] == [2, 3]


def test_everything_that_where_names_must_be_true() -> None:
    site = Site("green", "Green", "Osmere", "residential", "Green phase 2")
    gear = Equipment(kind="ducted-split", family="DC-B", refrigerant="R-32", line_set=LineSet("riser"))
    system = System("S-1", site, "Plot 1", gear, crew="O3")
    true = {
        "branch": "Osmere",
        "crew": "O3",
        "kind": "ducted-split",
        "family": "DC-B",
        "refrigerant": "R-32",
        "setting": "residential",
        "batch": "Green phase 2",
        "line_route": "riser",
        "site": "green",
    }

    assert concerned(system, Action("it", DAY, "x", (), true))
    for key in true:
        assert not concerned(system, Action("it", DAY, "x", (), {**true, key: "another"}))
    assert not concerned(replace(system, crew=None), Action("it", DAY, "x", (), {"crew": "O3"}))


def test_installs_are_held_against_older_ones_at_the_same_ages() -> None:
    """New ones are at most a year old: of the old ones only the first year counts, and of their leaks one."""
    new = [watched(f"S-{i}", dt.date(2025, 1, 1)) for i in range(2)]
    old = [watched("S-8", dt.date(2022, 1, 1)), watched("S-9", dt.date(2019, 1, 1))]
    leaks = [
        leak(1, new[0], dt.date(2025, 6, 1)),
        leak(2, old[0], dt.date(2022, 6, 1)),
        leak(3, old[0], dt.date(2024, 6, 1)),
        leak(4, old[1], dt.date(2021, 6, 1)),
        leak(5, new[0], dt.date(2025, 7, 1), mode="corrosion"),
        leak(6, old[0], dt.date(2022, 7, 1), mode="corrosion"),
    ]

    found = change(fleet([*new, *old], leaks), applies_to="installs-after")

    assert found.group.after.years == pytest.approx(2 * 365 / 365.25)
    assert found.group.before.years == pytest.approx(365 / 365.25)
    assert (found.group.before.systems, found.group.after.systems) == (1, 2)
    assert [x.case.id for x in found.group.before.leaks] == ["KW-2025-002"]
    assert [x.case.id for x in found.group.after.leaks] == ["KW-2025-001"]
    assert (len(found.rest.before.leaks), len(found.rest.after.leaks)) == (1, 1)
    assert found.beyond is None, "ages differ, so the plain ratio of ratios would be wrong"


def test_ages_are_compared_year_by_year() -> None:
    """All leak in the first year of life alone, old and new alike; few of the old were watched so young."""
    new = [watched(f"S-{i}", dt.date(2024, 1, 2)) for i in range(20)]
    young = [watched(f"S-{i}", dt.date(2022, 1, 1)) for i in range(20, 30)]
    aged = [watched(f"S-{i}", dt.date(2019, 12, 1)) for i in range(30, 130)]
    leaks = [leak(i, w, w.installed + dt.timedelta(days=90)) for i, w in enumerate(new[:10])]
    leaks += [leak(50 + i, w, w.installed + dt.timedelta(days=90)) for i, w in enumerate(young[:5])]

    found = change(fleet([*new, *young, *aged], leaks), applies_to="installs-after").group

    assert found.ratio is not None
    assert found.ratio.value == pytest.approx(1.0, abs=0.02)
    assert found.after.rate is not None
    assert found.before.rate is not None
    assert found.after.rate.value > 2 * found.before.rate.value


@pytest.mark.parametrize(
    ("before", "after", "rest_before", "rest_after", "verdict"),
    [
        (30, 3, 30, 20, "fewer"),
        (30, 3, 30, 3, "fewer-as-all"),
        (6, 30, 30, 20, "more"),
        (6, 30, 6, 30, "more-as-all"),
        (20, 10, 30, 20, "too-early"),
        (6, 4, 30, 20, "too-small"),
        (2, 2, 30, 20, "too-few"),
        (0, 0, 30, 20, "too-few"),
    ],
)
def test_verdicts(before: int, after: int, rest_before: int, rest_after: int, verdict: str) -> None:
    """5 years at 10 systems, 30 of them before the day and 20 after."""
    systems = [watched(f"S-{i}", OLD) for i in range(10)]
    leaks = many(systems, before, after) + many(systems, rest_before, rest_after, "corrosion", first=500)

    assert change(fleet(systems, leaks)).verdict == verdict


def test_a_long_watch_without_a_halving_is_no_change() -> None:
    systems = [watched(f"S-{i}", OLD) for i in range(10)]
    leaks = many(systems, 90, 60) + many(systems, 30, 20, "corrosion", first=500)

    found = change(fleet(systems, leaks))

    assert found.wait.halving == 0
    assert found.verdict == "no-change"


def test_nothing_before_or_after_is_said() -> None:
    assert change(fleet([watched("S-1", OLD)], []), where={"setting": "shop"}).verdict == "nobody"
    assert change(fleet([watched("S-1", dt.date(2024, 3, 1))], [])).verdict == "no-before"
    assert change(fleet([], []), applies_to="installs-after").verdict == "nobody"


@pytest.mark.parametrize(
    ("group", "rest"), [((12, 5), (20, 22)), ((3, 1), (40, 37)), ((8, 0), (9, 6)), ((30, 40), (25, 10))]
)
def test_ratio_of_ratios_is_the_conditional_odds_ratio(group: tuple[int, int], rest: tuple[int, int]) -> None:
    """Equal spans before and after cancel; then it is the odds ratio of scipy.stats.contingency, conditional."""
    ours = ratio_of_ratios(compared(group[0], 30, group[1], 20), compared(rest[0], 300, rest[1], 200))
    theirs = stats.contingency.odds_ratio([[group[1], group[0]], [rest[1], rest[0]]], kind="conditional")
    bounds = theirs.confidence_interval(0.95)

    assert ours is not None
    assert ours.value == pytest.approx(theirs.statistic, rel=1e-5)
    assert ours.low == pytest.approx(bounds.low, rel=1e-5)
    assert ours.high == pytest.approx(bounds.high, rel=1e-5)


def test_ratio_of_ratios_needs_leaks_on_both_sides() -> None:
    assert ratio_of_ratios(compared(0, 30, 0, 20), compared(5, 30, 5, 20)) is None
    assert ratio_of_ratios(compared(5, 30, 5, 20), compared(5, 30, 5, 0.0)) is None


def test_fewer_than_a_dozen_before_can_never_show_a_halving() -> None:
    """The exact interval of a count of 11 reaches below half of it, of 12 it does not: scipy.stats.chi2."""
    assert stats.chi2.ppf(0.025, 2 * 11) / 2 / 11 < 0.5 < stats.chi2.ppf(0.025, 2 * 12) / 2 / 12
    assert months_needed(11, 100.0, 0, 0.0, 1e6).halving is None
    assert months_needed(14, 100.0, 0, 0.0, 1e6).halving == 1


def test_silence_takes_until_the_interval_of_none_lies_below_one() -> None:
    """None after, 10 before: the upper bound of the share after is 1 - 0.025^(1/10) (rule of a binomial without a hit)."""
    share = 1 - 0.025 ** (1 / 10)
    years = 100 * share / (1 - share)

    assert months_needed(10, 100.0, 0, 0.0, 1.0).silence == int(np.ceil(years))


@pytest.mark.parametrize("before", [(0, 100.0), (5, 0.0)])
def test_without_leaks_or_time_before_nothing_can_be_planned(before: tuple[int, float]) -> None:
    found = months_needed(*before, 0, 10.0, 1.0)
    assert (found.halving, found.silence) == (None, None)
    assert months_needed(20, 100.0, 0, 10.0, 0.0).halving is None
    assert HORIZON == 240
