"""Systems to look at first: shrinkage, expected losses, open leaks, the look back, legal rates and days."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import beta

from leaklore.analysis.patterns import legal as law
from leaklore.analysis.patterns.expected_loss import _kind_and_age, drawn
from leaklore.analysis.patterns.exposure import Fleet
from leaklore.analysis.patterns.exposure import fleet as fleet_of
from leaklore.analysis.patterns.rates import gamma_poisson
from leaklore.analysis.patterns.watch_list import WatchList, _yardsticks, open_leaks, reports_of, watch_list
from leaklore.records.library import Library
from leaklore.records.model import Case, Equipment, Fix, FollowUp, PartialDate, Site, System, Withdrawn
from leaklore.records.quantity import read
from leaklore.trade.data import Citation
from leaklore.trade.months import add_months
from leaklore.trade.us_rules import appliance

from ..builders import case, demo, library

TODAY = dt.date(2026, 11, 26)
FIXED = Fix("remake")


def system(
    number: int,
    kind: str = "condensing-unit",
    charge: str | None = "10 kg",
    installed: str = "2006-01-01",
    refrigerant: str = "R-404A",
    setting: str = "food-retail",
    removed: str | None = None,
) -> System:
    def day(text: str) -> PartialDate:
        return PartialDate(text, dt.date.fromisoformat(text))

    gear = Equipment(
        kind=kind,
        refrigerant=refrigerant,
        charge=read(charge, "mass") if charge else None,
        installed=day(installed),
        setting=setting,
    )
    site = Site("quay", "Quay", "Ketterwick", setting)
    return System(f"S-{number:04}", site, f"Unit {number}", gear, removed=day(removed) if removed else None)


def on(at: System, number: int, day: str, lost: str | None = "2 kg", **more: Any) -> Case:
    """A case on a system, repaired on the day of its report unless said otherwise."""
    reported = dt.date.fromisoformat(day)
    made = case(number, reported=reported, lost=lost, system=at, **{"closed": reported, "fix": FIXED, **more})
    return replace(made, equipment=at.equipment)


def of(systems: list[System], *cases: Case) -> tuple[Library, Fleet]:
    """A library with this register, watched from 2021."""
    made = library(*cases)
    shipped = demo().guide.refrigerants
    lib = replace(
        made,
        systems={s.id: s for s in systems},
        company=replace(made.company, records_since=dt.date(2021, 1, 1)),
        guide=replace(made.guide, refrigerants=shipped),
    )
    return lib, fleet_of(lib, TODAY)


def listed(systems: list[System], *cases: Case) -> WatchList:
    return watch_list(*of(systems, *cases))


def test_small_numbers_stay_near_the_mean() -> None:
    """A group with nothing expected is left at 1; more reports than expected move up, none moves down, neither all the way."""
    count, expected = np.array([6.0, 0.0, 2.0, 2.0, 0.0]), np.array([2.0, 3.0, 2.0, 3.0, 0.0])

    factor, doubt = drawn(count, expected)

    assert 1 < factor[0] < 3
    assert 0 < factor[1] < 1
    assert factor[4] == pytest.approx(1)
    assert doubt[4] > doubt[2]


def test_shrinkage_is_that_of_maximum_likelihood_where_the_groups_tell_enough() -> None:
    """200 groups with gamma rates of shape 2: the average over shapes and the fitted shape of `gamma_poisson` agree."""
    rng = np.random.default_rng(3)
    expected = rng.uniform(2, 8, 200)
    count = rng.poisson(expected * rng.gamma(2, 1 / 2, 200)).astype(float)
    expected *= count.sum() / expected.sum()
    fitted = gamma_poisson(count, expected)
    assert fitted is not None

    factor, doubt = drawn(count, expected)

    assert factor == pytest.approx(fitted.shrunk(count, expected), rel=0.03)
    assert doubt == pytest.approx(1 / (fitted.alpha + count), rel=0.1)


def test_groups_that_are_alike_are_hardly_moved() -> None:
    rng = np.random.default_rng(4)
    count = rng.poisson(1.0, 400).astype(float)
    factor, _ = drawn(count, np.full(400, count.mean()))
    assert np.abs(factor - 1).max() < 0.6
    assert np.abs(factor - 1).mean() < 0.15


def test_the_leaky_kind_and_the_large_charge_stand_first() -> None:
    """Racks leak each year and hold 100 kg; units hardly leak and hold 10 kg; one unit holds 40 kg."""
    racks = [system(i, "compressor-rack", "100 kg") for i in range(4)]
    units = [system(i) for i in range(10, 29)] + [system(29, charge="40 kg")]
    cases = [
        on(r, 10 * i + y, f"202{y}-05-0{i + 1}", "30 kg") for i, r in enumerate(racks) for y in range(1, 6)
    ]
    cases += [on(units[i], 60 + i, f"2023-06-{i + 1:02}") for i in range(4)]

    found = listed([*racks, *units], *cases)

    assert [x.watched.system.id for x in found.lines[:5]] == [
        "S-0000",
        "S-0001",
        "S-0002",
        "S-0003",
        "S-0029",
    ]
    first = found.lines[0]
    assert first.rate == pytest.approx(5 / 5.9, rel=0.15)
    assert first.each == pytest.approx(30, rel=0.25)
    assert first.expected == pytest.approx(first.rate * first.each)
    assert first.low < first.expected < first.high
    assert [c.reported.year for c in first.past] == [2025, 2024, 2023, 2022, 2021]
    assert found.total == pytest.approx(sum(x.expected for x in found.lines))


def test_a_system_s_own_leaks_move_it_up() -> None:
    systems = [system(i) for i in range(30)]
    cases = [on(systems[0], i, f"202{1 + i % 5}-03-{i + 1:02}") for i in range(10)]
    cases += [on(systems[i], 20 + i, f"2023-04-{i:02}") for i in range(1, 6)]

    found = listed(systems, *cases)

    top, last = found.lines[0], found.lines[-1]
    assert top.watched.system.id == "S-0000"
    assert top.rate > 2 * top.kind_rate
    assert last.rate < last.kind_rate


def test_what_is_expected_of_all_comes_near_to_what_was_lost_a_year() -> None:
    """On the demo: the sum over all systems against the charge lost a year so far, within a fifth."""
    lib = demo()
    fleet = fleet_of(lib, TODAY)
    lost = sum(r.lost or 0 for r in reports_of(fleet))
    per_year = lost / ((TODAY - fleet.since).days / 365.25)

    assert watch_list(lib, fleet).total == pytest.approx(per_year, rel=0.2)


def test_removed_systems_and_a_register_without_leaks() -> None:
    gone = system(1, removed="2025-01-01")
    found = listed([gone, system(2)])

    assert [x.watched.system.id for x in found.lines] == ["S-0002"]
    assert found.backtest is None
    assert found.lines[0].expected > 0
    assert listed([]).lines == ()


def test_systems_without_a_charge_are_taken_for_their_kind() -> None:
    systems = [system(1), system(2, charge=None), system(3, kind="chiller", charge=None)]
    found = listed(systems, *(on(systems[0], i, f"2023-04-{i:02}") for i in range(1, 8)))
    each = {x.watched.system.id: x.each for x in found.lines}
    assert each["S-0002"] == pytest.approx(each["S-0001"])
    assert each["S-0003"] > 0


def test_a_leak_takes_as_much_more_as_there_is_more_in_it() -> None:
    """All that is known is of 10 kg: 2 kg a leak. Of 20 kg, where nothing else is told, it is 4 kg."""
    systems = [system(1), system(2, charge="20 kg"), system(3, charge="5 kg")]
    found = listed(systems, *(on(systems[0], i, f"2023-04-{i:02}") for i in range(1, 8)))
    each = {x.watched.system.id: x.each for x in found.lines}
    assert each == pytest.approx({"S-0001": 2.0, "S-0002": 4.0, "S-0003": 1.0})


def test_every_report_counts_once_proven_or_not() -> None:
    at = system(1)
    proven, unproven = on(at, 1, "2023-01-05"), on(at, 2, "2024-01-05", proof="suspected")
    before = on(at, 3, "2020-01-05")
    nowhere = case(4, proof="suspected", reported=dt.date(2024, 1, 5))
    elsewhere = on(system(2), 5, "2024-01-05", proof="suspected")  # a system that is not in the register
    _, fleet = of([at], proven, unproven, before, nowhere, elsewhere)
    assert [r.case.id for r in reports_of(fleet)] == [proven.id, unproven.id]


def look(day: str, result: str) -> FollowUp:
    return FollowUp(dt.date.fromisoformat(day), result)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "later", "why"),
    [
        ({"follow_up": (look("2026-03-01", "leaking-again"),)}, None, "leaking-again"),
        ({"follow_up": (look("2026-03-01", "leaking-again"),)}, "2026-03-01", None),
        ({"follow_up": (look("2026-03-01", "leaking-again"),)}, "2026-02-01", "leaking-again"),
        ({"follow_up": (look("2026-03-01", "leaking-again"), look("2026-04-01", "holding"))}, None, None),
        ({"follow_up": (look("2026-03-01", "other-leak"),)}, None, "other-leak"),
        ({"follow_up": (look("2026-03-01", "other-leak"),)}, "2026-03-02", None),
        ({"follow_up": (look("2026-03-01", "other-leak"), look("2026-04-01", "holding"))}, None, None),
        ({"proof": "suspected", "fix": None}, None, "not-fixed"),
        ({"proof": "suspected", "fix": None}, "2026-06-01", None),
        ({"proof": "suspected", "fix": None, "follow_up": (look("2026-03-01", "holding"),)}, None, None),
        ({"proof": "suspected"}, None, None),
        ({}, None, None),
    ],
)
def test_leaks_that_the_records_leave_open(more: dict[str, Any], later: str | None, why: str | None) -> None:
    at = system(1)
    cases = [on(at, 1, "2026-01-10", **more)] + ([on(at, 2, later)] if later else [])
    lib, fleet = of([at], *cases)

    found = open_leaks(lib, fleet.watched, TODAY)

    assert [(x.case.id, x.why) for x in found] == ([(cases[0].id, why)] if why else [])


def test_a_withdrawn_case_is_not_open_and_closes_none() -> None:
    at = system(1)
    gone = Withdrawn(dt.date(2026, 4, 1), "Twice.")
    left = on(at, 1, "2026-01-10", follow_up=(look("2026-03-01", "leaking-again"),))
    lib, fleet = of(
        [at],
        left,
        replace(left, id="KW-2025-002", withdrawn=gone),
        replace(on(at, 3, "2026-03-02"), withdrawn=gone),
    )
    assert [x.case.id for x in open_leaks(lib, fleet.watched, TODAY)] == [left.id]


@pytest.mark.parametrize(("closed", "open_"), [("2026-03-01", []), ("2026-02-28", ["other-leak"])])
def test_a_leak_that_was_reported_before_the_look_and_mended_at_it_is_not_open(
    closed: str, open_: list[str]
) -> None:
    """The crew came for the new leak, and looked at the old repair on the same visit."""
    at = system(1)
    old = on(at, 1, "2026-01-10", follow_up=(look("2026-03-01", "other-leak"),))
    new = on(at, 2, "2026-02-27", closed=dt.date.fromisoformat(closed))
    lib, fleet = of([at], old, new)
    assert [x.why for x in open_leaks(lib, fleet.watched, TODAY)] == open_


def test_the_list_is_held_against_the_past_with_what_was_known_then() -> None:
    """One system of ten leaks every autumn, before and in the years looked back at: the top tenth held all of it."""
    systems = [system(i) for i in range(10)]
    cases = [on(systems[0], y, f"202{y}-10-01", "5 kg") for y in range(1, 7)]
    cases += [on(systems[1], 20 + y, f"202{y}-03-01", "1 kg") for y in range(1, 3)]

    test = listed(systems, *cases).backtest

    assert test is not None
    assert (len(test.ends), test.systems, test.top, test.reports, test.lost) == (3, 30, 3, 3, 15.0)
    assert test.few
    by = {y.name: y.share for y in test.yardsticks}
    assert by == {"list": 1.0, "past-leaks": 1.0, "charge": 1.0}


def test_the_bounds_of_a_yardstick_go_by_kilograms_not_reports() -> None:
    """100 losses of 1 kg, 60, 20 and none of them at the top: nearly the exact ones of a share of 100."""
    inside = np.column_stack([np.arange(100) < n for n in (60, 20, 0)]).astype(float)
    for found, k in zip(_yardsticks(np.ones(100), inside), (60, 20, 0), strict=True):
        assert found.share == pytest.approx(k / 100)
        low = beta.ppf(0.025, k, 101 - k) if k else 0.0
        assert (found.low, found.high) == pytest.approx((low, beta.ppf(0.975, k + 1, 100 - k)), abs=0.005)
    (heavy, *_) = _yardsticks(np.array([9.0] + [1.0] * 9), np.eye(10)[:, :1].repeat(3, axis=1))
    assert heavy.share == pytest.approx(0.5), "kilograms, not reports"
    assert heavy.high - heavy.low > 0.8, "one loss outweighs all others"


def test_what_came_later_does_not_help_the_ranking_of_before() -> None:
    """The leaky system of the last year was quiet before, and another one leaked: no list of before can know."""
    systems = [system(i) for i in range(10)]
    cases = [on(systems[3], i, f"2022-0{i}-01") for i in range(1, 9)]
    cases += [on(systems[7], 20 + i, f"2026-0{i}-01") for i in range(1, 9)]

    test = listed(systems, *cases).backtest

    assert test is not None
    by = {y.name: y.share for y in test.yardsticks}
    assert (by["list"], by["past-leaks"]) == (0.0, 0.0)


def test_the_yardsticks_know_past_leaks_and_charges_alone() -> None:
    """The sixth of ten leaks every autumn; the eighth holds most."""
    systems = [system(i, charge="30 kg" if i == 7 else "10 kg") for i in range(10)]
    test = listed(systems, *(on(systems[5], y, f"202{y}-10-01", "5 kg") for y in range(1, 7))).backtest
    assert test is not None
    by = {y.name: y.share for y in test.yardsticks}
    assert (by["past-leaks"], by["charge"]) == (1.0, 0.0)


def us(systems: list[System], *cases: Case) -> tuple[law.Over, ...]:
    return law.legal(*of(systems, *cases)).us


def test_over_the_threshold_with_its_days() -> None:
    """2.5 of 10 kg of R-404A in commercial refrigeration: 25 % is over 20 %."""
    at = system(1)
    (found,) = us([at], on(at, 1, "2026-03-01", "2.5 kg", closed=dt.date(2026, 3, 20)))

    assert (found.rule.key, found.rule.threshold, found.rate, found.light) == ("part-84", 0.20, 0.25, False)
    days = {d.what: (d.day, d.done, d.state(TODAY)) for d in found.dues}
    assert days == {
        "repair": (dt.date(2026, 3, 31), dt.date(2026, 3, 20), "done"),
        "follow-up": (dt.date(2026, 3, 30), None, "overdue"),
        "inspection": (dt.date(2027, 3, 20), None, "due"),
    }
    assert all(d.source.where for d in found.dues)


@pytest.mark.parametrize(
    ("more", "over"),
    [
        ({"lost": "2 kg"}, False),  # at the threshold is not over it
        ({"lost": "2.01 kg"}, True),
        ({"lost": None}, False),
        ({"lost": None, "topped_up": read("3 kg", "mass")}, True),
    ],
)
def test_over_means_over(more: dict[str, Any], over: bool) -> None:
    at = system(1)
    assert bool(us([at], on(at, 1, "2026-03-01", **more))) is over


def test_losses_add_up_until_a_repair_was_found_holding() -> None:
    """1.5 and 1.5 of 10 kg within a year are over 20 %; with a look that found the first holding, the count begins anew."""
    at = system(1)
    second = on(at, 2, "2026-09-01", "1.5 kg")
    held = (look("2026-06-01", "holding"),)

    (found,) = us([at], on(at, 1, "2026-03-01", "1.5 kg"), second)

    assert found.rate == pytest.approx(0.3)
    assert len(found.counted) == 2
    assert us([at], on(at, 1, "2026-03-01", "1.5 kg", follow_up=held), second) == ()
    assert us([at], on(at, 1, "2025-08-31", "1.5 kg"), second) == ()  # more than 365 days before


@pytest.mark.parametrize(
    ("held_on", "result", "closed", "rate"),
    [
        (
            "2026-04-01",
            "holding",
            "2026-03-01",
            0.28,
        ),  # the leak between then and now was never looked at again
        ("2026-04-01", "other-leak", "2026-03-01", 0.43),  # what was found that day was not repaired
        ("2026-06-05", "holding", "2026-03-01", 0.43),  # nor was the leak of June, four days old
        ("2026-06-10", "holding", "2026-03-01", 0.14),
        ("2026-04-01", "holding", None, 0.43),
    ],
)
def test_the_count_begins_anew_only_where_all_known_leaks_were_repaired(
    held_on: str, result: str, closed: str | None, rate: float
) -> None:
    """40 CFR 82.152: since the last test that showed all identified leaks repaired. 1.5, 1.4 and 1.4 of 10 kg."""
    at = system(1)
    seen = (look(held_on, result),)
    first = on(at, 1, "2026-03-01", "1.5 kg", closed=closed and dt.date.fromisoformat(closed), follow_up=seen)
    second = on(at, 2, "2026-06-01", "1.4 kg", closed=dt.date(2026, 6, 10))
    third = on(at, 3, "2026-09-01", "1.4 kg")

    found, counted = law.rolling_rate([first, second, third], 10.0, third.reported)

    assert found == pytest.approx(rate)
    assert len(counted) == round(rate / 0.14)


def test_a_repair_that_leaks_again_is_not_done() -> None:
    at = system(1)
    again = (look("2026-04-01", "leaking-again"),)
    (found,) = us([at], on(at, 1, "2026-03-01", "2.5 kg", follow_up=again))
    assert [(d.what, d.state(TODAY)) for d in found.dues] == [("repair", "overdue"), ("inspection", "due")]


def test_a_report_that_was_closed_without_a_repair_is_still_to_be_repaired() -> None:
    at = system(1)
    (found,) = us([at], on(at, 1, "2026-03-01", "2.5 kg", fix=None))
    assert [(d.what, d.state(TODAY)) for d in found.dues] == [("repair", "overdue"), ("inspection", "due")]


def test_the_last_look_is_the_last_one_up_to_that_day() -> None:
    at = system(1)
    seen = (look("2026-04-01", "holding"), look("2026-12-10", "holding"))
    made = on(at, 1, "2026-03-01", closed=dt.date(2026, 3, 20), follow_up=seen)
    days = ("2026-03-10", "2026-03-20", "2026-11-26", "2026-12-10")
    assert [law.last_look([made], dt.date.fromisoformat(d)).isoformat() for d in days] == [
        "2026-03-01",
        "2026-03-20",
        "2026-04-01",
        "2026-12-10",
    ]


def test_a_chronic_leaker_is_reported() -> None:
    at = system(1)
    cases = [on(at, i, f"2026-0{i}-01", "6.5 kg") for i in (2, 5)]
    (found,) = us([at], *cases)
    assert [d.day for d in found.dues if d.what == "chronic-report"] == [dt.date(2027, 3, 1)]


def test_a_chronic_leaker_of_last_year_is_reported_this_year_and_each_year_by_itself() -> None:
    """39 kg of 30 in 2025; 21 kg in December and 21 in January are not 125 % of either year."""
    at = system(1, refrigerant="R-22", charge="30 kg")
    cases = [on(at, i, f"2025-{month}-01", "19.5 kg") for i, month in enumerate(("10", "12"))]
    (found,) = us([at], *cases)
    assert [d.day for d in found.dues if d.what == "chronic-report"] == [dt.date(2026, 3, 1)]
    (apart,) = us([at], on(at, 1, "2025-12-20", "21 kg"), on(at, 2, "2026-01-20", "21 kg"))
    assert "chronic-report" not in {d.what for d in apart.dues}


def test_what_an_hfc_lost_before_its_rule_held_is_not_reported() -> None:
    """40 CFR part 84 subpart C holds from 1 January 2026."""
    at = system(1)
    (found,) = us([at], on(at, 1, "2025-12-20", "13 kg"), on(at, 2, "2026-01-20", "3 kg"))
    assert "chronic-report" not in {d.what for d in found.dues}


def test_light_air_conditioning_is_shown_apart() -> None:
    at = system(1, "vrf", refrigerant="R-410A", setting="light-commercial")
    (found,) = us([at], on(at, 1, "2026-03-01", "2.5 kg"))
    assert found.light
    assert appliance("vrf").light


def test_what_can_t_be_judged_is_counted() -> None:
    at, other = system(1, charge=None), system(2, refrigerant="R-unknown")
    found = law.legal(*of([at, other], on(at, 1, "2026-03-01"), on(other, 2, "2026-03-01")))
    assert (found.unknown, found.judged, found.us) == (2, 0, ())


def test_repairs_in_the_union_ask_for_another_look() -> None:
    """10 kg of R-404A are 39 t: 12 months; repaired on 10 May, looked at on 1 June inside the month."""
    at = system(1)
    seen = (look("2026-06-01", "holding"),)
    made = on(at, 1, "2026-05-08", closed=dt.date(2026, 5, 10), follow_up=seen)
    (found,) = law.legal(*of([at], made)).eu

    again, check = found.dues
    assert (again.start, again.day, again.state(TODAY)) == (
        dt.date(2026, 5, 11),
        dt.date(2026, 6, 10),
        "done",
    )
    assert (found.check.months, check.day) == (12, dt.date(2027, 6, 1))


def test_systems_with_a_report_within_a_year_are_judged() -> None:
    """On the day itself and 364 days before; a system without one is neither judged nor unknown."""
    systems = [system(i, refrigerant="R-22", charge="30 kg") for i in range(4)]
    days = ("2026-11-26", "2025-11-27", "2025-11-26")
    found = law.legal(*of(systems, *(on(systems[i], i, day, "7.5 kg") for i, day in enumerate(days))))
    assert (found.judged, found.unknown) == (2, 0)
    assert {x.watched.system.id for x in found.us} == {"S-0000", "S-0001"}


@pytest.mark.parametrize("more", [{"fix": None}, {"closed": None}])
def test_only_a_repair_with_its_day_asks_for_another_look(more: dict[str, Any]) -> None:
    at = system(1)
    assert law.legal(*of([at], on(at, 1, "2026-05-08", **more))).eu == ()


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [("2026-11-30", 3, "2027-02-28"), ("2026-01-31", 1, "2026-02-28"), ("2026-12-15", 12, "2027-12-15")],
)
def test_months_end_on_a_day_that_exists(day: str, months: int, then: str) -> None:
    assert add_months(dt.date.fromisoformat(day), months) == dt.date.fromisoformat(then)


@pytest.mark.parametrize(("since", "ends"), [("2023-06-01", 1), ("2022-06-01", 2), ("2024-06-01", None)])
def test_the_look_back_needs_two_years_of_records_before_each_year(since: str, ends: int | None) -> None:
    """Up to 26 Nov 2026: records since June 2023 reach back one year, since June 2024 not one."""
    systems = [system(i) for i in range(10)]
    lib, _ = of(systems, *(on(systems[0], y, f"202{y}-10-01", "5 kg") for y in (4, 5, 6)))
    lib = replace(lib, company=replace(lib.company, records_since=dt.date.fromisoformat(since)))
    found = watch_list(lib, fleet_of(lib, TODAY)).backtest
    assert (len(found.ends) if found else None) == ends


@pytest.mark.parametrize(
    ("done", "today", "state"),
    [
        ("2026-03-31", "2026-05-01", "done"),
        ("2026-04-01", "2026-05-01", "late"),
        (None, "2026-03-31", "due"),
        (None, "2026-04-01", "overdue"),
    ],
)
def test_what_is_due_is_in_time_on_its_day_and_late_on_the_next(
    done: str | None, today: str, state: str
) -> None:
    made = dt.date.fromisoformat(done) if done else None
    due = law.Due("repair", dt.date(2026, 3, 31), Citation("made up", "common-practice"), made)
    assert due.state(dt.date.fromisoformat(today)) == state


def test_rates_by_kind_and_age_add_up_to_the_reports_and_half_a_one() -> None:
    """Over the years in which they were seen; the half keeps a fleet without reports from never leaking."""
    rng = np.random.default_rng(3)
    kind, span = rng.integers(0, 3, 40), rng.uniform(0, 4, (40, 5))
    for reports in (0, 25):
        own, band = rng.integers(0, 40, reports), rng.integers(0, 5, reports)
        found = _kind_and_age(kind, 3, span, own, band)
        assert (found.kind[kind] * (span @ found.age)).sum() == pytest.approx(reports + 0.5)
