"""What leaks cost, with sums worked out by hand at 60 USD an hour, and intervals held against a population."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import beta, binom

from leaklore.analysis import costs
from leaklore.analysis.patterns.exposure import Fleet
from leaklore.analysis.patterns.exposure import fleet as fleet_of
from leaklore.analysis.patterns.money import Costs, costs_data, draw_sums, money
from leaklore.analysis.patterns.spent import (
    case_cost,
    case_hours,
    kilograms,
    next_visit,
    refrigerant_cost,
    use,
)
from leaklore.records.guide import Entry, Guide
from leaklore.records.library import Library
from leaklore.records.model import Avoided, Case, FirstDiagnosis, Fix, FollowUp, Related, Withdrawn
from leaklore.records.quantity import read

from ..builders import COMPANY, case, demo, guide, library, step
from . import watched

SYSTEM = watched("S-0001", dt.date(2015, 1, 1)).system
PRICED = replace(COMPANY, refrigerant_price={"R-32": read("20 USD", "money")})


def small_guide() -> Guide:
    """The small guide with the minutes of setting up that `work_minutes` asks for."""
    made = guide()
    techniques = {
        key: Entry(e.kind, key, {**e.facts, "minutes": {"set_up": 45, "each_place": 2}}, "", "g", "0")
        for key, e in made.techniques.items()
    }
    return replace(made, techniques=techniques)


def of(*cases: Case) -> Costs:
    """Costs of a small library whose systems are not registered."""
    lib = replace(library(*cases, company=PRICED), guide=small_guide())
    return money(lib, fleet(lib))


def fleet(lib: Library) -> Fleet:
    return fleet_of(lib, dt.date(2026, 11, 26))


def test_a_case_costs_its_search_its_repair_and_its_refrigerant() -> None:
    """30 min search 30, 5 for gas, 12 parts, 1.5 h labour 90, 2 kg at 20 = 40: 177 in all, 2 h."""
    found = case(
        1,
        step("bubbles", "flare", "pinpointed", 30, "5 USD"),
        parts="12 USD",
        labour="1.5 h",
        lost="2 kg",
        refrigerant="R-32",
    )

    assert case_cost(found, PRICED, small_guide()) == (pytest.approx(177.0), True)
    assert case_hours(found, small_guide()) == (pytest.approx(2.0), True)


def test_what_is_not_told_or_has_no_price_is_left_out_and_said() -> None:
    no_price = case(
        1, step("bubbles", "flare", "pinpointed", 30), lost="2 kg", refrigerant="R-410A", labour="1 h"
    )
    no_repair = case(2, step("bubbles", "flare", "pinpointed", 30), lost="2 kg", refrigerant="R-32")

    assert case_cost(no_price, PRICED, small_guide()) == (pytest.approx(90.0), False)
    assert case_cost(no_repair, PRICED, small_guide()) == (pytest.approx(70.0), False)
    assert of(no_price, no_repair).unpriced == ("R-410A",)


def test_refrigerant_is_what_was_lost_else_what_was_added() -> None:
    added = Fix("remake", charge_added=read("3 kg", "mass"))
    assert kilograms(case(1, lost="2 kg", fix=added)) == 2.0
    assert kilograms(case(1, fix=added, topped_up=read("1 kg", "mass"))) == 4.0
    assert kilograms(case(1)) is None
    assert refrigerant_cost(case(1, fix=added, refrigerant="R-32"), PRICED) == 60.0


def test_a_test_that_ran_overnight_counts_with_its_setting_up() -> None:
    """A shift of 8 h is worked; a minute more ran on its own, and the guide's 45 min of setting up count."""
    worked, overnight = (step("section-isolation", "cabinet", "section", m) for m in (480, 481))

    assert costs.work_minutes(worked, small_guide()) == 480
    assert costs.work_minutes(overnight, small_guide()) == 45
    assert costs.step_cost(overnight, COMPANY, small_guide()) == pytest.approx(45.0)


def test_modes_in_order_of_each_measure() -> None:
    """Corrosion has the money, flares the cases; withdrawn and unproven ones are in no bar."""
    found = of(
        case(1, step("bubbles", "flare", "pinpointed", 60), labour="1 h", looks=["leaking-again"]),
        case(2, step("bubbles", "flare", "pinpointed", 60), labour="1 h"),
        case(3, step("bubbles", "coil", "pinpointed", 120), labour="3 h", mode="corrosion", component="coil"),
        case(4, step("bubbles", "coil", "clean", 30), proof="suspected"),
        case(5, step("bubbles", "flare", "pinpointed", 600), withdrawn=True),
    )

    assert [(b.mode, b.value) for b in found.bars["money"]] == [("corrosion", 300.0), ("loose-flare", 240.0)]
    assert [(b.mode, b.value) for b in found.bars["cases"]] == [("loose-flare", 2.0), ("corrosion", 1.0)]
    assert [(b.mode, b.value) for b in found.bars["callbacks"]] == [("loose-flare", 1.0)]
    assert "lost" not in found.bars
    top, last = found.bars["money"]
    assert (top.share, top.running, last.running) == (pytest.approx(5 / 9), pytest.approx(5 / 9), 1.0)
    assert top.low <= top.share <= top.high
    assert found.cases == 3
    assert found.unproven.sums["money"] == 30.0
    assert [row.told["callbacks"] for row in found.modes] == [0, 1]


def test_the_interval_of_a_share_of_cases_is_that_of_a_binomial_number() -> None:
    """60 cases of 100: nearly the exact bounds; redrawn, first as often as more than 50 of 100."""
    found = of(
        *(case(i) for i in range(60)), *(case(60 + i, mode="corrosion", component="coil") for i in range(40))
    )
    more, less = found.bars["cases"]

    low, high = beta.ppf(0.025, 60, 41), beta.ppf(0.975, 61, 40)
    assert (more.low, more.high) == pytest.approx((low, high), abs=0.005)
    assert (more.running_low, more.running_high) == (more.low, more.high)
    assert (less.low, less.high) == pytest.approx((1 - high, 1 - low), abs=0.005)
    assert (less.running_low, less.running_high) == pytest.approx((1.0, 1.0))
    assert more.first == pytest.approx(binom.sf(50, 100, 0.6), abs=0.02)


def test_how_many_cases_tell_each_measure_in_full() -> None:
    found = of(
        case(1, looks=["holding"], labour="1 h", lost="1 kg", refrigerant="R-32"),
        case(2, lost="1 kg", refrigerant="R-410A", labour="1 h"),
        case(3),
    )

    (row,) = found.modes
    assert row.told == {"cases": 3, "lost": 2, "co2e": 2, "hours": 2, "money": 1, "callbacks": 1}
    assert row.sums["co2e"] == pytest.approx(0.675 + 2.088)


def test_repairs_that_somebody_looked_at_again_and_gases_without_a_price_are_counted() -> None:
    found = of(
        case(1, looks=["holding"]),
        case(2, looks=["leaking-again"], lost="1 kg", refrigerant="R-410A"),
        case(3, refrigerant="R-1234ze(E)"),  # nobody says that any was lost
        case(4, lost="1 kg", refrigerant="R-32"),
        case(5, looks=["holding"], proof="suspected"),
    )
    assert found.looked_at == 3
    assert found.unpriced == ("R-410A",)


def test_no_case_no_bars() -> None:
    found = of()
    assert (found.bars, found.modes, found.misread, found.came_back, found.techniques) == ({}, (), (), (), ())
    json.dumps(costs_data(found))


def test_wrong_first_diagnoses_by_pair() -> None:
    """90 min at 60 and 10 USD for the one, 30 min alone for the other."""
    found = of(
        case(1, first_diagnosis=FirstDiagnosis("corrosion", 90, read("10 USD", "money"))),
        case(2, first_diagnosis=FirstDiagnosis("corrosion", 30)),
        case(3, first_diagnosis=FirstDiagnosis("rare-mode")),
    )

    assert [(x.taken_for, x.was, len(x.cases), x.minutes, x.money) for x in found.misread] == [
        ("corrosion", "loose-flare", 2, 120.0, 130.0),
        ("rare-mode", "loose-flare", 1, 0.0, 0.0),
    ]
    assert found.misread_minutes is not None
    assert found.misread_minutes.median == 60.0


def test_the_next_visit_is_the_named_one_or_the_next_soon_after() -> None:
    """A case named by either record, whenever it came; else one within 90 days of the look; never an earlier one."""
    look = (FollowUp(dt.date(2025, 3, 1), "leaking-again"),)
    failed = case(1, reported=dt.date(2025, 1, 10), follow_up=look, system=SYSTEM)
    before = case(2, reported=dt.date(2024, 12, 1), system=SYSTEM)
    soon = case(3, reported=dt.date(2025, 5, 30), system=SYSTEM)
    late = case(4, reported=dt.date(2025, 5, 31), system=SYSTEM)
    named = replace(late, related=(Related(failed.id, "repair-did-not-hold"),))

    assert next_visit(failed, library(failed, before, soon)) == soon
    assert next_visit(failed, library(failed, before, late)) is None
    assert next_visit(failed, library(failed, before, soon, named)) == named
    names = replace(failed, related=(Related(late.id, "repair-did-not-hold"),))
    assert next_visit(names, library(names, before, soon, late)) == late
    assert next_visit(failed, library(failed, before)) is None
    twice = replace(soon, withdrawn=Withdrawn(dt.date(2025, 6, 1), "Twice."))
    assert next_visit(failed, library(failed, twice)) is None


def test_a_repair_that_did_not_hold_costs_itself_and_the_next_visit() -> None:
    look = (FollowUp(dt.date(2025, 3, 1), "leaking-again"),)
    failed = case(
        1, reported=dt.date(2025, 1, 10), follow_up=look, system=SYSTEM, labour="1 h", parts="7 USD"
    )
    again = case(
        2,
        step("bubbles", "flare", "pinpointed", 30),
        reported=dt.date(2025, 3, 1),
        system=SYSTEM,
        labour="2 h",
    )

    (found,) = of(failed, again).came_back

    assert (found.case, found.repair, found.visit, found.visit_money) == (failed, 67.0, again, 150.0)


def test_what_a_step_did() -> None:
    """Proven at the flare, in the cabinet."""
    found = case(1)
    told = [
        ("flare", "pinpointed", "found"),
        ("cabinet", "lead", "found"),
        ("cabinet", "clean", "misled"),
        ("evaporator", "clean", "narrowed"),
        ("evaporator", "lead", "misled"),
        ("flare", "false-alarm", "misled"),
    ]
    for at, result, word in told:
        assert use(step("bubbles", at, result), found, guide()) == word  # type: ignore[arg-type]
    unproven = case(2, proof="suspected")
    assert use(step("bubbles", "flare", "clean"), unproven, guide()) == "unknown"
    assert use(step("bubbles", "flare", "false-alarm"), unproven, guide()) == "misled"


def test_techniques_took_and_saved() -> None:
    """Isolations took 100, 200 and 300 min: the one that the detector saved is worth 200 min, 200 USD."""
    found = of(
        *(case(i, step("section-isolation", "cabinet", "section", 100 * i)) for i in (1, 2, 3)),
        case(
            4,
            step("detector", "evaporator", "clean", 10),
            step("detector", "flare", "pinpointed", 20),
            avoided=Avoided("section-isolation", "detector"),
        ),
    )
    by = {x.technique: x for x in found.techniques}

    assert by["detector"].minutes == {"found": 20.0, "misled": 0.0, "narrowed": 10.0, "unknown": 0.0}
    assert (len(by["detector"].avoided), by["detector"].avoided_minutes, by["detector"].avoided_money) == (
        1,
        200.0,
        200.0,
    )
    assert by["section-isolation"].money["found"] == 600.0
    assert "bubbles" not in by
    with_unknown = of(
        case(1, step("section-isolation", "cabinet", "section", 100)),
        case(2, avoided=Avoided("section-isolation", "detector")),
        case(3, avoided=Avoided("visual", "detector")),
    )
    told = {x.technique: (len(x.avoided), x.avoided_minutes) for x in with_unknown.techniques}
    assert told["detector"] == (2, None), "what the one would have taken is not known, so the sum is not"
    (never,) = of(case(1, avoided=Avoided("section-isolation", "detector"))).techniques
    assert (never.technique, never.avoided_money) == ("detector", None)


def test_redraws_are_the_same_at_every_build_and_their_mean_is_the_sum() -> None:
    of_group = np.array([1, 0, 1, 2])
    table = np.array([[1.0], [2.0], [3.0], [4.0]])

    drawn = draw_sums(of_group, table, 3, draws=20_000)

    assert np.array_equal(drawn[:50], draw_sums(of_group, table, 3, draws=50))
    assert drawn.mean(axis=0)[:, 0] == pytest.approx([2.0, 4.0, 4.0], rel=0.03)
    # variance of a sum of n draws with replacement: n times the variance of one (here of mode 1: 1, 0, 3, 0)
    assert drawn.var(axis=0)[1, 0] == pytest.approx(4 * np.var([1.0, 0.0, 3.0, 0.0]), rel=0.05)


def test_data_of_the_demo_can_be_written() -> None:
    lib = demo()
    found = costs_data(money(lib, fleet(lib)))

    assert found["version"] == 1
    assert sum(len(row["cases"]) for row in found["modes"]) == len(lib.counted)
    assert sum(row["shares"]["money"][0] for row in found["modes"]) == pytest.approx(1, abs=0.002)
    json.dumps(found, allow_nan=False)


def test_the_data_file_tells_what_a_failed_repair_and_a_saved_isolation_came_to() -> None:
    """A repair of 67 and a next visit of 150.33 USD; an isolation of 100 min saved, 100 USD at 60 an hour."""
    look = (FollowUp(dt.date(2025, 3, 1), "leaking-again"),)
    failed = case(
        1, reported=dt.date(2025, 1, 10), follow_up=look, labour="1 h", parts="7 USD", system=SYSTEM
    )
    again = case(
        2,
        step("bubbles", "flare", "pinpointed", 30),
        reported=dt.date(2025, 3, 1),
        labour="2 h",
        parts="0.33 USD",
        system=SYSTEM,
    )
    isolated = case(3, step("section-isolation", "cabinet", "section", 100))
    saved = case(
        4, step("detector", "flare", "pinpointed", 20), avoided=Avoided("section-isolation", "detector")
    )
    alone = case(5, reported=dt.date(2025, 12, 1), follow_up=look)

    data = costs_data(of(failed, again, isolated, saved, alone))

    told = {row["case"]: row for row in data["did_not_hold"]}
    assert told[failed.id] == {
        "case": failed.id,
        "mode": "loose-flare",
        "repair": 67.0,
        "next_visit": again.id,
        "next_visit_money": 150.33,
    }
    assert (told[alone.id]["next_visit"], told[alone.id]["next_visit_money"]) == (None, None)
    by = {row["technique"]: row for row in data["techniques"]}
    assert by["detector"] == {
        "technique": "detector",
        "steps": 1,
        "minutes": {"found": 20.0, "misled": 0.0, "narrowed": 0.0, "unknown": 0.0},
        "money": {"found": 20.0, "misled": 0.0, "narrowed": 0.0, "unknown": 0.0},
        "avoided": [saved.id],
        "avoided_minutes": 100.0,
        "avoided_money": 100.0,
    }
    assert by["section-isolation"]["avoided_money"] is None
