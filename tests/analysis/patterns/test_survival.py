"""Ages at first leaks: properties that must hold, simulated fleets of known law, and fleets made by hand."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leaklore.analysis.patterns.exposure import fleet as fleet_of
from leaklore.analysis.patterns.rates import Floats
from leaklore.analysis.patterns.survival import (
    LEAST_AT_RISK,
    LEAST_FOR_SHAPE,
    STEPS,
    Lives,
    Survival,
    at_risk,
    kaplan_meier,
    log_rank,
    stretch,
    survival,
    survival_data,
    thinned,
    weibull,
)
from leaklore.records.library import Library

from . import fleet, leak, watched


def lives(entry: list[float], end: list[float], leaked: list[bool]) -> Lives:
    return Lives(np.array(entry), np.array(end), np.array(leaked))


def weibull_fleet(rng: np.random.Generator, n: int, shape: float, scale: float) -> Lives:
    """`n` systems that came under watch at any age up to 15, without the leak, and were watched for 3 to 8 years."""
    entry: list[float] = []
    age: list[float] = []
    while len(entry) < n:
        came = max(0.0, float(rng.uniform(-5, 15)))
        died = scale * float(rng.weibull(shape))
        if died > came:  # what leaked before the watch is not among them
            entry.append(came)
            age.append(died)
    came_at, died_at = np.array(entry), np.array(age)
    left = came_at + rng.uniform(3, 8, n)
    return Lives(came_at, np.minimum(died_at, left), died_at <= left)


@given(
    st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=1, max_size=40).filter(
        lambda rows: any(leaked for _, leaked in rows)
    )
)
def test_without_late_entry_it_is_the_plain_estimate(rows: list[tuple[int, bool]]) -> None:
    """Product over the ages of leaks of (1 - leaks / all whose age is not less), in plain loops."""
    ours = kaplan_meier(lives([0.0] * len(rows), [float(a) for a, _ in rows], [b for _, b in rows]), least=1)
    assert ours is not None
    still = 1.0
    for age, found in zip(ours.ages, ours.still, strict=True):
        seen = [leaked for a, leaked in rows if a >= age]
        still *= 1 - sum(leaked for a, leaked in rows if leaked and a == age) / len(seen)
        assert found == pytest.approx(still)
    assert (ours.low <= ours.still + 1e-12).all()
    assert (ours.still <= ours.high + 1e-12).all()


def test_late_entry_by_hand() -> None:
    """Five systems, ages in years: 0-2 leak, 0-5, 1-4 leak, 3-6 leak, 3-7.

    At age 2 three are at risk (the last two came at 3): 2/3. At 4 four: 2/3 * 3/4 = 1/2. At 6 two: 1/4.
    """
    ours = kaplan_meier(
        lives([0, 0, 1, 3, 3], [2, 5, 4, 6, 7], [True, False, True, True, False]), 1, (2.5, 4, 7)
    )
    assert ours is not None
    assert ours.at_risk.tolist() == [3, 4, 2]
    assert ours.still == pytest.approx([2 / 3, 1 / 2, 1 / 4])
    assert [(r.at_risk, r.leaks, round(r.share, 6)) for r in ours.rows] == [
        (2, 1, 0.333333),
        (4, 2, 0.5),
        (1, 3, 0.75),
    ]
    assert ours.median is not None
    assert ours.median.age == 4
    assert ours.gone.tolist() == [5, 7]


def test_one_young_system_does_not_throw_the_curve() -> None:
    """The trap of late entry: one of two young systems leaks, and the plain estimate is below half from there on."""
    entry, end = [0.5, 0.9] + [5.0] * 30, [1.0, 6.0] + [8.0] * 30
    leaked = [True, False] + [i < 3 for i in range(30)]
    trapped = kaplan_meier(lives(entry, end, leaked), least=1)
    guarded = kaplan_meier(lives(entry, end, leaked), least=20)
    assert trapped is not None
    assert trapped.still == pytest.approx([0.5, 0.45])
    assert guarded is not None
    assert (guarded.start, guarded.end, guarded.systems) == (5.0, 8.0, 31)
    assert guarded.still == pytest.approx([0.9])


def test_the_curve_ends_where_few_are_left() -> None:
    entry, end = [0.0] * 30, [10.0] * 11 + [20.0] * 19
    leaked = [True, *[False] * 10, *[True] * 19]
    ours = kaplan_meier(lives(entry, end, leaked), least=20)
    assert ours is not None
    assert (ours.start, ours.end) == (0.0, 10.0)
    assert ours.still == pytest.approx([29 / 30])
    assert kaplan_meier(lives(entry[:19], end[:19], leaked[:19])) is None, f"{LEAST_AT_RISK} at least"


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(1, 9)), min_size=1, max_size=30), st.integers(1, 5))
def test_in_the_stretch_enough_are_seen(rows: list[tuple[int, int]], least: int) -> None:
    entry = np.array([float(a) for a, _ in rows])
    end = np.array([float(a + b) for a, b in rows])
    found = stretch(entry, end, least)
    ages = np.arange(0.5, 30)
    seen = np.array([((entry < a) & (a <= end)).sum() for a in ages])
    assert at_risk(entry, end, ages).tolist() == seen.tolist()
    if found is None:
        assert seen.max() < least
    else:
        inside = (ages > found[0]) & (ages <= found[1])
        assert (seen[inside] >= least).all()
        runs = "".join("x" if n >= least else " " for n in seen).split()
        assert inside.sum() == max(map(len, runs)), "the longest"


def test_shape_2_is_recovered() -> None:
    """In about 95 of 100 simulated fleets the intervals hold the true shape and scale."""
    rng = np.random.default_rng(7)
    shapes = scales = 0
    fleets = 200
    for _ in range(fleets):
        found = weibull(weibull_fleet(rng, 120, 2.0, 12.0))
        assert found is not None
        shapes += found.shape_low <= 2.0 <= found.shape_high
        scales += found.scale_low <= 12.0 <= found.scale_high
        assert found.verdict != "early"
    assert 0.90 * fleets <= shapes <= 0.99 * fleets
    assert 0.90 * fleets <= scales <= 0.995 * fleets


def test_late_entry_matters_to_the_shape() -> None:
    """Told that old systems had been seen from the start, the fit takes a constant rate for wear."""
    seen = weibull_fleet(np.random.default_rng(3), 2000, 1.0, 12.0)
    right = weibull(seen)
    wrong = weibull(Lives(np.zeros_like(seen.entry), seen.exit, seen.leaked))
    assert right is not None
    assert wrong is not None
    assert right.shape_low < 1 < right.shape_high
    assert wrong.verdict == "wear-out"


def test_a_constant_rate_is_seldom_called_anything() -> None:
    rng = np.random.default_rng(11)
    verdicts = []
    for _ in range(200):
        found = weibull(weibull_fleet(rng, 100, 1.0, 10.0))
        assert found is not None
        verdicts.append(found.verdict)
        assert (found.p < 0.05) == (found.verdict != "either"), "test and interval agree"
    assert 180 <= verdicts.count("either") <= 199


def test_no_shape_from_few_or_equal_leaks() -> None:
    few = LEAST_FOR_SHAPE - 1
    assert weibull(lives([0.0] * few, [float(i + 1) for i in range(few)], [True] * few)) is None
    assert weibull(lives([0.0] * 12, [3.0] * 12, [True] * 12)) is None, "the likelihood has no top"


def by_hand_log_rank(groups: list[Lives]) -> float:
    """Two groups, in plain loops."""
    ages = sorted({float(a) for g in groups for a in g.exit[g.leaked]})
    difference = variance = 0.0
    for age in ages:
        n = [int(((g.entry < age) & (g.exit >= age)).sum()) for g in groups]
        d = [int((g.leaked & (g.exit == age)).sum()) for g in groups]
        total, leaks = sum(n), sum(d)
        difference += d[0] - leaks * n[0] / total
        if total > 1:
            variance += leaks * n[0] * n[1] * (total - leaks) / total**2 / (total - 1)
    return difference**2 / variance


def test_log_rank_with_late_entry_in_plain_loops() -> None:
    rng = np.random.default_rng(5)
    groups = []
    for n, scale in ((40, 6.0), (55, 9.0)):
        made = weibull_fleet(rng, n, 1.2, scale)
        groups.append(Lives(np.floor(made.entry), np.ceil(made.exit) + 1, made.leaked))  # ties
    found = log_rank(groups)
    assert found is not None
    assert found.chi2 == pytest.approx(by_hand_log_rank(groups))
    assert found.df == 1
    assert sum(found.expected) == pytest.approx(sum(found.observed))


def test_log_rank_of_equal_groups_raises_few_alarms() -> None:
    rng = np.random.default_rng(2)
    alarms = 0
    for _ in range(300):
        found = log_rank([weibull_fleet(rng, n, 1.3, 10.0) for n in (30, 40, 50)])
        assert found is not None
        assert found.df == 2
        alarms += found.p < 0.05
    assert 5 <= alarms <= 27


def test_log_rank_needs_two_groups_that_meet() -> None:
    one = lives([0.0, 0.0], [1.0, 2.0], [True, False])
    assert log_rank([one]) is None
    assert log_rank([one, lives([0.0], [3.0], [False])]) is not None
    apart = log_rank([one, lives([10.0], [12.0], [True])])
    assert apart is not None
    assert (apart.df, apart.p) == (0, 1.0)


def some_fleet(leaks: int = 12) -> object:
    systems = [watched(f"S-{i:04}", dt.date(2021, 1, 1) + dt.timedelta(days=20 * i)) for i in range(40)]
    made = [
        leak(i, systems[i], systems[i].start + dt.timedelta(days=60 + 37 * i), case_mode(i))
        for i in range(leaks)
    ]
    made.append(leak(99, systems[0], dt.date(2025, 6, 1)))  # a second one does not count
    return survival(fleet(systems, made))


def case_mode(i: int) -> str:
    return "corrosion" if i % 4 == 3 else "loose-flare"


def test_first_leaks_of_a_fleet() -> None:
    found = survival(
        fleet(
            [w := watched("S-0001", dt.date(2019, 1, 1)), v := watched("S-0002", dt.date(2022, 1, 1))],
            [
                leak(1, w, dt.date(2021, 1, 1)),
                leak(2, w, dt.date(2023, 1, 1), "corrosion"),
                leak(3, v, dt.date(2024, 1, 1)),
            ],
        )
    )
    assert [leak.case.id for leak in found.any.leaks] == ["KW-2025-001", "KW-2025-003"]
    assert [(m.mode, len(m.leaks)) for m in found.modes] == [("loose-flare", 2), ("corrosion", 1)]
    assert found.any.curve is None, "two systems make no curve"
    assert found.by_setting is None
    assert found.any.verdict == "either"


def test_a_leak_on_the_first_day_counts() -> None:
    systems = [watched(f"S-{i:04}", dt.date(2015, 1, 1) + dt.timedelta(days=i)) for i in range(25)]
    found = survival(fleet(systems, [leak(i, systems[i], dt.date(2021, 1, 1)) for i in range(5)]))
    assert found.any.curve is not None
    assert found.any.curve.leaks.sum() == 5 - sum(w.entry < found.any.curve.start for w in systems[:5]), (
        "all but those that came before the stretch"
    )


def test_data_file_of_a_fleet() -> None:
    data = survival_data(some_fleet())  # type: ignore[arg-type]
    assert data["version"] == 1
    assert [m["mode"] for m in data["modes"]] == ["all", "loose-flare", "corrosion"]
    every = data["modes"][0]
    assert (every["systems"], every["leaks"]) == (40, 12)
    assert every["weibull"]["shape_low"] < every["weibull"]["shape"] < every["weibull"]["shape_high"]
    assert data["modes"][2]["weibull"] is None
    assert [p["leaks"] for p in every["points"]] == list(range(1, len(every["points"]) + 1))
    assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_long_curves_are_thinned_and_keep_their_end() -> None:
    rng = np.random.default_rng(1)
    ages: Floats = np.sort(rng.uniform(0, 30, 5000))
    kept = thinned(ages)
    assert STEPS / 2 < kept.size <= STEPS
    assert kept[-1] == 4999
    assert np.diff(ages[kept]).max() <= 2 * 30 / (STEPS - 1)
    assert thinned(ages[:10]).tolist() == list(range(10))


def test_flares_of_the_demo_come_early(demo_library: Library) -> None:
    """The demo's crew that made bad flares (tests/demo-patterns.md, 1) shows as leaks that grow rarer with age."""
    found = survival(fleet_of(demo_library, dt.date(2026, 11, 26)))
    assert [m.mode for m in found.modes if m.verdict != "either"] == ["flare-joint"]
    assert found.modes[0].verdict == "early"
    for mode in found.modes:
        assert (mode.weibull is None) == (len(mode.leaks) < LEAST_FOR_SHAPE)


def test_points_of_the_data_file_are_the_product_estimate_with_bounds_on_both_sides() -> None:
    """In plain loops: at each leak those still under watch, and the share that came through it."""
    made = some_fleet()
    assert isinstance(made, Survival)
    points = survival_data(made)["modes"][0]["points"]
    ends = {f"S-{i:04}": (dt.date(2026, 1, 1) - dt.date(2021, 1, 1)).days - 20 * i for i in range(40)}
    ends |= {f"S-{i:04}": 60 + 37 * i for i in range(12)}
    still = 1.0
    for point, days in zip(points, sorted(60 + 37 * i for i in range(12)), strict=False):
        there = sum(end >= days for end in ends.values())
        still *= 1 - 1 / there
        assert point["age"] == pytest.approx(days / 365.25)
        assert point["at_risk"] == there
        assert point["without"] == pytest.approx(still)
        assert 0 <= point["low"] < point["without"] < point["high"] <= 1
    assert len(points) > 5


def test_one_leak_in_a_setting_that_hardly_has_systems_is_no_alarm() -> None:
    """Fifty homes, every second with a leak; one van, alike, whose one leak a plain test takes for a wonder."""
    homes = [watched(f"S-{i:04}", dt.date(2015, 1, 1)) for i in range(50)]
    van = watched("S-0099", dt.date(2015, 1, 1), setting="transport")
    days = [dt.date(2021, 3, 1) + dt.timedelta(days=60 * i) for i in range(25)]
    leaks = [leak(i, homes[i], day) for i, day in enumerate(days)] + [leak(90, van, dt.date(2021, 2, 1))]
    found = survival(fleet([*homes, van], leaks)).by_setting
    assert found is not None
    assert found.observed == (25, 1)
    assert found.expected[1] < 0.05
    assert found.p == 1.0
