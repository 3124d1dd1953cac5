"""Who could leak and for how long."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from analysis.builders import demo
from leaklore.analysis.patterns.exposure import Fleet, fleet, watch_begins, years
from leaklore.records.library import Library
from leaklore.records.model import Case, PartialDate

TODAY = dt.date(2026, 11, 20)


def whole() -> Fleet:
    return fleet(demo(), TODAY)


def changed(case: Case, library: Library) -> Fleet:
    return fleet(replace(library, cases=tuple(case if c.id == case.id else c for c in library.cases)), TODAY)


def test_every_case_is_counted_or_stands_apart() -> None:
    found = whole()
    counted = {leak.case.id for leak in found.leaks}
    apart = [c.id for cases in found.apart.values() for c in cases]
    assert len(apart) == len(set(apart))
    assert counted | set(apart) == {c.id for c in demo().active}
    assert not counted & set(apart)


def test_a_system_is_watched_from_its_installation_or_the_first_record() -> None:
    found = whole()
    assert found.since == dt.date(2021, 1, 1) == watch_begins(demo())
    for w in found.watched:
        assert w.start == max(w.installed, found.since)
        assert w.end <= TODAY
        assert w.exit - w.entry == pytest.approx(w.years)
    removed = [w for w in found.watched if w.system.removed]
    assert removed
    assert all(w.end < TODAY for w in removed)


def test_system_years_are_those_of_an_independent_count() -> None:
    """tests/demo-patterns.md: 71.7 + 1560.2, there from the first of the month of installation."""
    assert whole().years == pytest.approx(71.7 + 1560.2, rel=0.005)


def test_two_proven_modes_are_two_leaks_and_one_mode_twice_is_one() -> None:
    two = next(
        c for c in demo().counted if len({x.mode for x in c.causes if x.proof in ("point", "held")}) == 2
    )
    assert sum(leak.case.id == two.id for leak in whole().leaks) == 2
    same = replace(two, also_found=(replace(two.cause, component="other"),))
    assert sum(leak.case.id == two.id for leak in changed(same, demo()).leaks) == 1


@pytest.mark.parametrize(
    ("reason", "change"),
    [
        ("not-registered", {"system": None}),
        ("outside", {"reported": dt.date(2020, 5, 1)}),
    ],
)
def test_a_case_that_can_not_be_counted_is_told_apart(reason: str, change: dict[str, object]) -> None:
    case = next(c for c in demo().counted if not c.also_found)
    found = changed(replace(case, **change), demo())  # type: ignore[arg-type]
    assert case.id in {c.id for c in found.apart[reason]}
    assert case.id not in {leak.case.id for leak in found.leaks}


def test_a_system_without_a_date_of_installation_is_left_out_and_told() -> None:
    lib = demo()
    case = next(c for c in lib.counted if c.system and not c.also_found)
    assert case.system is not None
    bare = replace(case.system, equipment=replace(case.system.equipment, installed=None))
    cases = tuple(replace(c, system=bare) if c.system and c.system.id == bare.id else c for c in lib.cases)
    found = fleet(replace(lib, cases=cases, systems={**lib.systems, bare.id: bare}), TODAY)
    assert [s.id for s in found.undated] == [bare.id]
    assert case.id in {c.id for c in found.apart["no-install-date"]}


def test_a_branch_and_a_later_day_narrow_both_sides() -> None:
    since = dt.date(2025, 7, 1)
    found = fleet(demo(), TODAY, branch="Osmere", since=since)
    assert found.since == since
    assert {w.system.site.branch for w in found.watched} == {"Osmere"}
    heard = [*(leak.case for leak in found.leaks), *(c for cases in found.apart.values() for c in cases)]
    assert {c.id for c in heard} == {
        c.id for c in demo().active if c.branch == "Osmere" and c.reported >= since
    }, "nobody else's cases stand apart here"
    assert all(leak.day >= since for leak in found.leaks)
    assert found.years <= len(found.watched) * years(since, TODAY) + 1e-9


def test_a_leak_on_the_first_days_of_a_system_counts_at_its_start() -> None:
    lib = demo()
    case = next(c for c in lib.counted if c.system and not c.also_found)
    assert case.system is not None
    month = f"{case.reported:%Y-%m}"
    late = dt.date(case.reported.year, case.reported.month, 1)
    new = replace(
        case.system,
        equipment=replace(case.system.equipment, installed=PartialDate(month, late.replace(day=16))),
    )
    moved = replace(case, system=new, reported=late)
    found = fleet(replace(lib, cases=(moved,), systems={new.id: new}), TODAY)
    assert [leak.age for leak in found.leaks] == [0.0]


def test_a_leak_before_the_records_began_does_not_count_however_near() -> None:
    """Days before the first record of an old system: its watch allows a month for dates of installation, not here."""
    case = next(
        c
        for c in demo().counted
        if c.system and c.system.equipment.installed and c.system.equipment.installed.day.year < 2020
    )
    early = changed(replace(case, reported=whole().since - dt.timedelta(days=5)), demo())
    assert case.id in {c.id for c in early.apart["outside"]}
    at_once = changed(replace(case, reported=whole().since), demo())
    assert case.id not in {c.id for c in at_once.apart["outside"]}


def test_a_leak_on_a_system_removed_before_the_records_began_stands_apart() -> None:
    case = next(c for c in demo().counted if c.system and c.reported > dt.date(2022, 1, 1))
    assert case.system is not None
    gone = replace(case.system, removed=PartialDate("2020-06-01", dt.date(2020, 6, 1)))
    moved = replace(case, system=gone)
    found = fleet(replace(demo(), cases=(moved,), systems={gone.id: gone}), TODAY)
    assert [c.id for c in found.apart["outside"]] == [case.id]
    assert (found.watched, found.leaks) == ((), ())
