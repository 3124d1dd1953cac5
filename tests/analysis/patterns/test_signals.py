"""Groups that stand out: the demo's patterns, libraries with none, libraries with one planted."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import inf

import numpy as np
import pytest

from analysis.builders import demo
from leaklore.analysis.patterns.exposure import Fleet, Watched, fleet
from leaklore.analysis.patterns.rates import Floats, Stratum, stratified_ratio
from leaklore.analysis.patterns.signals import (
    ALL,
    BANDS,
    FALSE_SHARE,
    LEAST_LEAKS,
    SORTS,
    Grid,
    Look,
    Signal,
    Signals,
    counts,
    grid,
    look,
    signals,
)
from leaklore.records.model import Equipment, LineSet

from . import SINCE, leak, watched
from . import fleet as made_fleet

TODAY = dt.date(2026, 11, 20)
PLANTED = ("batch", ("Orchard Rise",))
"""A group of 60 system-years."""


@cache
def the_fleet() -> Fleet:
    return fleet(demo(), TODAY)


@cache
def found() -> Signals:
    return signals(the_fleet())


def simulated(rng: np.random.Generator, over: Grid, rates: Floats, times: Floats) -> Floats:
    """Leaks of a library in which every system leaks alike, but for `times`; `rates` a mode and system-year."""
    modes = rng.poisson(np.outer(over.years * times, rates)).astype(float)
    return np.column_stack([modes.sum(axis=1), modes])


def mode_rates(per_100: float) -> Floats:
    """Rates of the demo's modes, scaled to so many leaks per 100 system-years in all."""
    _, leaks = counts(the_fleet())
    own: Floats = leaks.sum(axis=0)[1:]
    each: Floats = own / own.sum() * per_100 / 100
    return each


def test_in_how_many_ways_a_system_is_sorted() -> None:
    """By what its register says; what it does not say puts it in no group. Its own setting goes before its site's."""
    bare = watched("S-0001", dt.date(2019, 5, 1))
    told = replace(
        bare.system,
        crew="K1",
        site=replace(bare.system.site, batch="Orchard Rise"),
        equipment=Equipment("process", "chiller", "screw", "R-134a", line_set=LineSet("buried")),
    )

    assert {by: sort(replace(bare, system=told)) for by, sort in SORTS.items()} == {
        "branch": ("Ketterwick",),
        "crew": ("K1",),
        "crew-setting": ("K1", "residential"),
        "kind": ("chiller",),
        "family": ("screw",),
        "refrigerant": ("R-134a",),
        "setting": ("process",),
        "install-year": ("2019",),
        "line-route": ("buried",),
        "batch": ("Orchard Rise",),
    }
    assert {by: sort(bare) for by, sort in SORTS.items() if sort(bare)} == {
        "branch": ("Ketterwick",),
        "setting": ("residential",),
        "install-year": ("2019",),
    }


def alarms(looks: list[Look]) -> int:
    return sum(int(((x.q <= FALSE_SHARE) & (x.leaks >= LEAST_LEAKS)).sum()) for x in looks)


def test_without_a_pattern_alarms_stay_under_the_stated_rate() -> None:
    """400 libraries of the demo's systems in which all leak alike: any alarm is false."""
    rng = np.random.default_rng(1)
    over, rates = grid(the_fleet()), mode_rates(11.4)
    alike = np.ones_like(over.years)
    wrong = sum(alarms(look(over, simulated(rng, over, rates, alike))) > 0 for _ in range(400))
    assert wrong <= FALSE_SHARE * 400
    assert wrong > 0, "a bound that nothing reaches would be a check that can't fail"


def test_a_group_that_leaks_three_times_as_often_is_found() -> None:
    """Planted in a group of 60 system-years, in libraries with 15 leaks per 100 system-years elsewhere."""
    rng = np.random.default_rng(2)
    over, rates = grid(the_fleet()), mode_rates(15.0)
    by, key = PLANTED
    row = over.keys[by].index(key)
    times = np.where(over.codes[by] == row, 3.0, 1.0)
    assert 58 < over.years[times > 1].sum() < 63
    hits = 0
    for _ in range(150):
        (x,) = [x for x in look(over, simulated(rng, over, rates, times)) if x.by == by]
        hits += bool(x.q[list(x.rows).index(row), 0] <= FALSE_SHARE)
    assert hits >= 0.8 * 150


@pytest.mark.parametrize(
    ("by", "key", "mode"),
    [
        ("crew-setting", ("O3", "residential"), "flare-joint"),
        ("batch", ("Orchard Rise",), "flare-joint"),
        ("batch", ("Saltmarsh Green phase 2",), "formicary-corrosion"),
    ],
)
def test_the_real_patterns_of_the_demo_are_found(by: str, key: tuple[str, ...], mode: str) -> None:
    (signal,) = [s for s in found().found if (s.by, s.key, s.mode) == (by, key, mode)]
    assert signal.q <= FALSE_SHARE
    assert signal.ratio.low > 1.5
    assert signal.own, "among its like, too"
    assert signal.leaking_systems >= 5


def test_each_real_pattern_is_a_story_of_its_own() -> None:
    stories = [s for s in found().found if s.within is None]
    assert {s.mode for s in stories[:2]} == {"flare-joint", "formicary-corrosion"}


def test_the_false_pattern_is_not_found() -> None:
    assert not [s for s in found().found if s.mode == "valve-core"]
    (k1,) = [g for g in found().groups["crew", "valve-core"] if g.key == ("K1",)]
    assert k1.rate.leaks == max(g.rate.leaks for g in found().groups["crew", "valve-core"])
    assert k1.ratio is not None
    assert (k1.ratio.value, k1.ratio.low, k1.ratio.high) == pytest.approx((2.4, 0.8, 7.4), abs=0.06)
    assert k1.q > FALSE_SHARE


def test_the_figures_are_those_of_an_independent_count() -> None:
    """tests/demo-patterns.md is computed by tests/test_demo.py from the records; months of installation count whole there."""
    groups = {(g.by, g.key, g.mode): g for of in found().groups.values() for g in of}
    coil = groups["batch", ("Saltmarsh Green phase 2",), "formicary-corrosion"]
    assert (coil.systems, coil.rate.leaks) == (18, 6)
    assert coil.rate.years == pytest.approx(88.3, rel=0.02)
    assert coil.ratio is not None
    assert (coil.ratio.value, coil.ratio.low, coil.ratio.high) == pytest.approx((15.0, 4.2, 52.1), rel=0.02)


def test_every_system_and_leak_is_counted_once() -> None:
    over, (modes, leaks) = grid(the_fleet()), counts(the_fleet())
    assert modes[0] == ALL
    assert leaks[:, 0].sum() == len(the_fleet().leaks) == leaks[:, 1:].sum()
    for by in ("crew", "setting", "install-year"):
        assert over.sums(by, over.years).sum() == pytest.approx(the_fleet().years)
        assert over.sums(by, leaks)[:, 0].sum() == len(the_fleet().leaks)


def test_a_signal_says_what_it_rests_on() -> None:
    for s in found().found:
        assert len(s.leaks) == s.rate.leaks
        assert s.ratio.low <= s.ratio.value <= s.ratio.high
        if s.ratio.value < inf:
            assert s.rate.leaks / s.expected == pytest.approx(s.ratio.value)
        assert {leak.mode for leak in s.leaks} == {s.mode} or s.mode == ALL
    assert found().looks == found().groups_looked_at * len(counts(the_fleet())[0])


def planted() -> Fleet:
    """Ten homes with two leaks each, twenty plants with five in all; 1826 days each."""
    homes = [watched(f"S-{i:04}", SINCE) for i in range(10)]
    plants = [watched(f"S-1{i:03}", SINCE, setting="process") for i in range(20)]
    leaks = [leak(i, homes[i % 10], dt.date(2022, 1, 1) + dt.timedelta(days=30 * i)) for i in range(20)]
    leaks += [leak(50 + i, plants[i], dt.date(2023, 1, 1)) for i in range(5)]
    return made_fleet([*homes, *plants], leaks)


def test_a_planted_signal_tells_its_rate_and_what_was_expected_by_hand() -> None:
    """20 leaks in 50 years against 5 in 100: 2.5 were expected, 8 times as often; one mode, so two looks at one story each."""
    every = signals(planted())
    assert [(s.by, s.key, s.mode) for s in every.found] == [
        ("setting", ("residential",), ALL),
        ("setting", ("residential",), "loose-flare"),
    ]
    years = 1826 / 365.25
    for s in every.found:
        assert (s.rate.leaks, s.rest.leaks, s.systems, s.leaking_systems) == (20, 5, 10, 10)
        assert s.rate.years == pytest.approx(10 * years)
        assert s.rest.years == pytest.approx(20 * years)
        assert s.expected == pytest.approx(2.5)
        assert s.ratio.value == pytest.approx(8.0)
        assert {x.watched.system.site.setting for x in s.leaks} == {"residential"}
        assert s.within is None
    assert (every.groups_looked_at, every.looks) == (2, 4)


def test_leaks_on_kinds_that_nobody_else_has_are_not_compared_with_other_kinds() -> None:
    """Six leaks sit on chillers, which stand in process plant alone; cold rooms, which others have, had none there."""

    def system(number: int, setting: str, kind: str) -> Watched:
        bare = watched(f"S-{number:04}", dt.date(2015, 1, 1), setting=setting)
        return replace(bare, system=replace(bare.system, equipment=Equipment(kind=kind)))

    def process(chiller_leaks: int, room_leaks: int) -> Signal:
        chillers = [system(i, "process", "chiller") for i in range(6)]
        rooms = [system(10 + i, "process", "cold-room") for i in range(6)]
        others = [system(100 + i, "shop", "cold-room") for i in range(60)]
        on = [*chillers[:chiller_leaks], *rooms[:room_leaks]]
        leaks = [leak(i, w, dt.date(2024, 1, 1)) for i, w in enumerate(on)] + [
            leak(50, others[0], dt.date(2024, 1, 1))
        ]
        told = signals(made_fleet([*chillers, *rooms, *others], leaks)).found
        return next(s for s in told if s.by == "setting" and s.mode == ALL)

    assert process(6, 0).like is None
    assert process(6, 2).like is None
    assert not process(6, 2).own
    even = process(3, 3).like
    assert even is not None
    assert even.value == pytest.approx(30)


def young_and_old(b_young_leaks: int) -> Fleet:
    """Crew A has 20 young homes with 10 leaks, crew B 10 young ones and 60 old ones that never leak; all alike."""

    def homes(first: int, n: int, crew: str, installed: dt.date) -> list[Watched]:
        made = [watched(f"S-{first + i:04}", installed) for i in range(n)]
        return [
            replace(w, system=replace(w.system, crew=crew, equipment=Equipment(kind="ductless-split")))
            for w in made
        ]

    a, b = homes(0, 20, "A", dt.date(2022, 1, 1)), homes(100, 10, "B", dt.date(2022, 1, 1))
    old = homes(200, 60, "B", dt.date(2005, 1, 1))
    leaks = [leak(i, w, dt.date(2023, 3, 1)) for i, w in enumerate(a[:10])]
    leaks += [leak(50 + i, w, dt.date(2023, 3, 1)) for i, w in enumerate(b[:b_young_leaks])]
    return made_fleet([*a, *b, *old], leaks)


def of_crew_a(fleet: Fleet) -> Signal:
    return next(s for s in signals(fleet).found if (s.by, s.key, s.mode) == ("crew", ("A",), ALL))


def test_a_crew_that_installed_the_youngest_systems_is_not_named_for_what_young_systems_do() -> None:
    """Its homes leak four times as often as others of the kind, and just as often as those of the same age."""
    s = of_crew_a(young_and_old(5))
    assert s.like is not None
    assert s.like.low > 1
    assert s.aged is not None
    assert s.aged.value == pytest.approx(1.0)
    assert not s.own
    same_age_too = of_crew_a(young_and_old(0))
    assert same_age_too.aged is not None
    assert same_age_too.aged.value == inf
    assert same_age_too.own is (same_age_too.aged.low > 1)


def test_the_same_age_is_counted_as_by_hand() -> None:
    """Flares of crew O3 in homes against other systems of each kind in each band of age, summed one by one."""
    (s,) = [
        x
        for x in found().found
        if (x.by, x.key, x.mode) == ("crew-setting", ("O3", "residential"), "flare-joint")
    ]
    cells: dict[tuple[str | None, int], list[float]] = {}
    for band, (low, high) in enumerate(pairwise((*BANDS, 99))):
        for w in the_fleet().watched:
            years = max(0.0, min(w.exit, high) - max(w.entry, low))
            mine = SORTS["crew-setting"](w) == ("O3", "residential")
            cells.setdefault((w.system.equipment.kind, band), [0, 0.0, 0, 0.0])[1 if mine else 3] += years
        for x in the_fleet().leaks:
            if x.mode == "flare-joint" and low <= x.age < high:
                mine = SORTS["crew-setting"](x.watched) == ("O3", "residential")
                cells[x.watched.system.equipment.kind, band][0 if mine else 2] += 1
    strata = [Stratum(int(k), years, int(rest), years_rest) for k, years, rest, years_rest in cells.values()]
    by_hand = stratified_ratio(strata)
    assert by_hand is not None
    assert s.aged is not None
    assert (s.aged.value, s.aged.low, s.aged.high) == pytest.approx(
        (by_hand.value, by_hand.low, by_hand.high)
    )
    assert s.like is not None
    assert 1 < s.aged.value < s.like.value, "half of it is that they are young"
