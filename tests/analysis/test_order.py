"""What to check next: worth by hand on a small board, and the trade's rules of order on the demo."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from leaklore.analysis import advice
from leaklore.analysis.advice import Adviser
from leaklore.analysis.detection import Detection
from leaklore.analysis.evidence import Check, Evidence
from leaklore.analysis.order import Order, Plan, State, TechniqueFacts
from leaklore.analysis.places import Hypothesis, PlaceModel
from leaklore.trade import data, refrigerants, tables
from leaklore.trade.detectability import Situation, judge
from leaklore.trade.units import GRAM_PER_YEAR

from .builders import demo

RULES: Mapping[str, Any] = data.load("practice")["order"]
SEEN = frozenset({"short-of-charge", "oil-film"})
KINDS = (
    (),
    ("ductless-split",),
    ("vrf",),
    ("compressor-rack",),
    ("condensing-unit",),
    ("chiller",),
    ("self-contained",),
    ("ductless-split", "rooftop-unit"),
)


@pytest.fixture(scope="module")
def adviser() -> Adviser:
    """The demo's."""
    lib = demo()
    return advice.adviser(lib.counted, lib.active, lib.guide)


def _plan(adviser: Adviser, *checks: Check, ahead: int = 12, **known: Any) -> Plan:
    evidence = Evidence(**{"symptoms": SEEN, **known}, checks=checks)
    return adviser.order.plan(adviser.joint(evidence), evidence, ahead)


def _plans(adviser: Adviser) -> Iterator[tuple[Evidence, Plan]]:
    """Plans over kinds, gases and symptoms."""
    for kinds in KINDS:
        for gas in (None, "R-410A", "R-717"):
            for symptoms in (frozenset({"short-of-charge"}), SEEN, frozenset({"sudden-loss"})):
                evidence = Evidence(symptoms=symptoms, kinds=kinds, refrigerant=gas)
                yield evidence, adviser.order.plan(adviser.joint(evidence), evidence, 25)


# A small world: two flares in a cabinet, of which one is behind a cover; all figures round
SMALL_RULES = {
    **RULES,
    "places": {
        "visual": ["part", "area"],
        "air-survey": ["area"],
        "sniffer": ["part", "area"],
        "soap": ["part"],
    },
    "sniffs": ["air-survey", "sniffer"],
    "touches": ["soap"],
    "survey_before": ["sniffer", "soap"],
    "not_at": {},
    "fooled": {"sniffer": {"wind": 0.5}},
}


def _small(**rules: Any) -> Order:
    def facts(key: str, finds: str, disturbs: int, **sees: float) -> TechniqueFacts:
        return TechniqueFacts(key, finds, 1, disturbs, {k.replace("_", "-"): v for k, v in sees.items()})

    techniques = {
        "visual": facts("visual", "points", 1),
        "air-survey": facts("air-survey", "narrows", 1),
        "sniffer": facts("sniffer", "points", 1, R_1=2.0, R_2=0.0),
        "soap": facts("soap", "points", 2),
    }
    chance = {t: {"part": {"m": 500}, "area": {"m": 400}} for t in techniques}
    minutes = {t: {"part": (10000, 4000), "area": (20000, 8000)} for t in techniques}
    places = PlaceModel((), {"cabinet": frozenset({"a", "b"})}, {"b": frozenset({"split"})})
    return Order(places, Detection(chance, minutes), techniques, {**SMALL_RULES, **rules},
                 frozenset({"cabinet"}), frozenset({"cabinet"}), frozenset({"b"}), frozenset({"R-3"}), 3.0)  # fmt: skip


JOINT = [Hypothesis("m", "a", 0.25), Hypothesis("m", "b", 0.75)]


def _candidates(order: Order, **known: Any) -> dict[tuple[str, str], Any]:
    board = order.board(JOINT, Evidence(**known))
    return {(c.technique, c.place): c for c in board.candidates}


def test_a_clean_check_by_hand() -> None:
    """a: 0.25 x (1 - 0.5), b untouched; an area of two places once each; two places in one check twice."""
    order = _small()
    one = order.update(JOINT, Check("visual", ("a",)), Evidence())
    assert [h.weight for h in one] == [0.125, 0.75]
    area = order.update(JOINT, Check("visual", ("cabinet",)), Evidence())
    assert [h.weight for h in area] == pytest.approx([0.15, 0.45])
    both = order.update(JOINT, Check("visual", ("a", "cabinet")), Evidence())
    assert [h.weight for h in both] == pytest.approx([0.25 * 0.5 * 0.6, 0.75 * 0.6])


def test_a_find_by_hand() -> None:
    """a keeps its chance, what lies outside a trace: 0.25 x 0.5 against 0.75 x 0.02 x 0.02."""
    found = _small().update(JOINT, Check("visual", ("a",), "found"), Evidence())
    assert [h.weight for h in found] == pytest.approx([0.125, 0.75 * 0.0004])


def test_a_find_by_a_technique_thought_blind_counts_all_the_same() -> None:
    """It did find something: taken for 0.02, against the same 0.02 x 0.02 elsewhere."""
    found = _small().update(JOINT, Check("sniffer", ("a",), "found"), Evidence(refrigerant="R-2"))
    assert [h.weight for h in found] == pytest.approx([0.25 * 0.02, 0.75 * 0.0004])


def test_clean_by_a_blind_technique_says_nothing() -> None:
    """Nor does a check that was skipped, or one by a technique that we don't know."""
    order = _small()
    assert order.update(JOINT, Check("sniffer", ("a",)), Evidence(refrigerant="R-2")) == JOINT
    assert order.update(JOINT, Check("visual", ("a",), "skip"), Evidence()) == JOINT
    assert order.update(JOINT, Check("of-others", ("a",)), Evidence()) == JOINT


def test_limits_and_conditions() -> None:
    """2 kg/yr is the least that the sniffer sees of R-1: from 6 on whole, from 2 on half, below a twentieth."""
    order = _small()
    for rate, told in (
        (6.0, (1.0, "sees")),
        (5.99, (0.5, "at-limit")),
        (2.0, (0.5, "at-limit")),
        (1.99, (0.05, "too-small")),
    ):
        assert order.limit("sniffer", Evidence(refrigerant="R-1", rate=rate)) == told
    assert order.limit("sniffer", Evidence(refrigerant="R-1")) == (1.0, "")
    assert order.limit("sniffer", Evidence(rate=0.1)) == (1.0, "")
    assert order.limit("sniffer", Evidence(refrigerant="R-2")) == (0.0, "blind")
    assert (
        order.hand("sniffer", Evidence(refrigerant="R-1", rate=3.0, conditions=frozenset({"wind", "rain"})))
        == 0.25
    )
    assert order.hand("sniffer", Evidence(symptoms=frozenset({"sudden-loss"}))) == pytest.approx(0.3)
    assert (
        order.hand("soap", Evidence(symptoms=frozenset({"sudden-loss"}), conditions=frozenset({"wind"}))) == 1
    )


def test_the_usual_factor_stands_in_for_a_rate_that_nobody_knows() -> None:
    """Not where the rate is known, and not where the technique is blind."""
    order = _small()
    sniffer = replace(order.techniques["sniffer"], usual=0.7)
    order = replace(order, techniques={**order.techniques, "sniffer": sniffer})
    assert order.limit("sniffer", Evidence(refrigerant="R-1")) == (0.7, "")
    assert order.limit("sniffer", Evidence(rate=9.0)) == (0.7, "")
    assert order.limit("sniffer", Evidence(refrigerant="R-1", rate=9.0)) == (1.0, "sees")
    assert order.limit("sniffer", Evidence(refrigerant="R-2")) == (0.0, "blind")
    clean = order.update(JOINT, Check("sniffer", ("a",)), Evidence())
    assert clean[0].weight == pytest.approx(0.25 * (1 - 0.35))


def test_worth_by_hand() -> None:
    """A find at a part is worth 1, one at an area 0.35; each step of disturbance 0.85; a low place 1.25 to a sniffer."""
    found = _candidates(_small())
    assert found["visual", "a"].worth == 1
    assert found["visual", "cabinet"].worth == pytest.approx(0.35)
    assert found["soap", "a"].worth == pytest.approx(0.85)
    assert found["sniffer", "cabinet"].worth == pytest.approx(0.35 * 1.25)
    assert found["air-survey", "cabinet"].worth == pytest.approx(0.35 * 1.25)
    assert found["sniffer", "a"].why == ()
    assert found["sniffer", "cabinet"].why == ("low-first",)
    assert found["visual", "cabinet"].why == ("look-first",)
    assert ("soap", "cabinet") not in found
    assert ("air-survey", "a") not in found


def test_light_vapour_rises() -> None:
    """R-3 is lighter than air: no low place first."""
    found = _candidates(_small(), refrigerant="R-3")
    assert found["sniffer", "cabinet"].worth == pytest.approx(0.35)
    assert found["sniffer", "cabinet"].why == ()


def test_a_covered_place_takes_time_to_strip_and_waits_for_the_eye() -> None:
    """b: 10 + 10 minutes and a quarter of its value until somebody looked, at the place or over the area."""
    order = _small()
    board = order.board(JOINT, Evidence())
    soap = next(i for i, c in enumerate(board.candidates) if (c.technique, c.place) == ("soap", "b"))
    assert (board.candidates[soap].first, board.candidates[soap].later, board.candidates[soap].strips) == (
        20,
        14,
        True,
    )
    only = replace(board, candidates=(board.candidates[soap],))
    weights = np.array([0.25, 0.75])

    def value(*checks: Check) -> float:
        picked = only.pick(weights, State.after(checks, order))
        assert picked is not None
        return picked[1].value

    assert value() == pytest.approx(0.375 * 0.85 / 20 * 0.25)
    for place in ("b", "cabinet"):
        assert value(Check("visual", (place,))) == pytest.approx(0.375 * 0.85 / 20)
    assert value(Check("visual", ("a",))) == value(Check("visual", ("b",), "skip")) == value()
    assert value(Check("visual", ("b",)), Check("soap", ("a",))) == pytest.approx(0.375 * 0.85 / 14), (
        "set up already"
    )


def test_a_skipped_check_is_not_offered_again_and_has_set_up_nothing() -> None:
    """It is done with, but neither used nor seen."""
    order = _small()
    state = State.after((Check("soap", ("a", "b"), "skip"),), order)
    assert state.done == {("soap", "a"), ("soap", "b")}
    assert (state.used, state.seen, state.gauges_on) == (frozenset(), frozenset(), False)
    assert State.after((Check("soap", ("a",)),), order).gauges_on
    assert State.after((), order).made("soap", "a", order) == State.after((Check("soap", ("a",)),), order)
    assert State.after((), order).made("visual", "a", order) == State.after((Check("visual", ("a",)),), order)


def test_survey_before_gauges_by_hand() -> None:
    """The air survey is worth 0.4 x 0.35 x 1.25 / 20; it goes first where that is a fifth of the best and not less."""
    evidence = Evidence(checks=(Check("visual", ("a", "b", "cabinet"), "skip"),))

    def first(**rules: Any) -> tuple[str, tuple[str, ...]]:
        nxt = _small(low_first=1.0, **rules).plan(JOINT, evidence, 1).checks[0]
        return nxt.technique, nxt.why

    # the sniffer at b: 0.375 / 10; the survey: 0.4 x 0.35 / 20, a share of 0.187
    assert first(survey_share=0.18) == ("air-survey", ("low-first", "before-gauges"))
    assert first(survey_share=0.19) == ("sniffer", ())
    assert first(survey_share=0.18, survey_before=[]) == ("sniffer", ())


def test_minutes_and_missed_of_a_plan_by_hand() -> None:
    """Looking at b, then at a: 10 + 0.625 x 4 minutes; missed 0.5, as every place has been looked at once."""
    order = _small(places={"visual": ["part"]})
    plan = order.plan(JOINT, Evidence())
    assert [(n.technique, n.at) for n in plan.checks] == [("visual", "b"), ("visual", "a")]
    assert [n.probability for n in plan.checks] == pytest.approx([0.375, 0.125 / 0.625])
    assert plan.minutes == pytest.approx(10 + 0.625 * 4)
    assert plan.missed == pytest.approx(0.5)


def test_nothing_to_weigh_nothing_to_plan() -> None:
    """No hypotheses, or none with weight."""
    assert _small().plan([], Evidence()) == Plan((), 0.0, 1.0)
    assert _small().plan([Hypothesis("m", "a", 0.0)], Evidence()) == Plan((), 0.0, 1.0)


# The demo
def test_limits_are_those_of_the_calculator() -> None:
    """Every technique by mass or throughput, every gas, rates from a gram to a ton a year: one verdict, two ways.

    Without a test pressure, since nobody has one before the search.
    """
    lib, known = demo(), data.load("techniques")
    order = advice.adviser((), (), lib.guide).order
    properties = tables.shipped()
    compared = {"sees": 0, "at-limit": 0, "too-small": 0, "blind": 0}
    for gas in lib.guide.refrigerants:
        for grams in (1, 3.9, 4.1, 11, 13, 30, 70, 130, 260, 500, 2100, 7e3, 16e3, 31e3, 1e6):
            situation = Situation(grams * GRAM_PER_YEAR, refrigerants.shipped()[gas])
            sights = {s.technique: s.verdict for s in judge(situation, properties)}
            for key, technique in known["techniques"].items():
                if technique["by"] in ("mass", "throughput"):
                    verdict = order.limit(key, Evidence(refrigerant=gas, rate=grams / 1000))[1]
                    assert verdict == sights[key], (key, gas, grams)
                    compared[verdict] += 1
    assert all(n > 30 for n in compared.values()), compared


@pytest.mark.parametrize("gas", ["R-744", "R-717", "R-290"])
def test_a_technique_blind_to_the_gas_is_never_offered(adviser: Adviser, gas: str) -> None:
    """With R-410A it is."""
    for kinds in KINDS:
        offered = {n.technique for n in _plan(adviser, kinds=kinds, refrigerant=gas, ahead=60).checks}
        assert "heated-diode-detector" not in offered
        assert "heated-diode-detector" in {
            n.technique for n in _plan(adviser, kinds=kinds, refrigerant="R-410A", ahead=60).checks
        }


def test_a_leak_below_its_limit_sends_a_technique_back(adviser: Adviser) -> None:
    """50 g/yr is too little for bubbles and the ear: their values fall to a twentieth, and it is said."""
    big = adviser.order.board(JOINT_DEMO, Evidence(refrigerant="R-410A", rate=1000.0))
    small = adviser.order.board(JOINT_DEMO, Evidence(refrigerant="R-410A", rate=0.05))
    for one, other in zip(big.candidates, small.candidates, strict=True):
        factor = 0.05 if one.technique in ("bubble-test", "ultrasonic") else 1.0
        assert [c for _, c in other.chances] == pytest.approx([factor * c for _, c in one.chances])
        assert ("too-small" in other.why) == (factor < 1)
    known = {
        "symptoms": frozenset({"short-of-charge"}),
        "kinds": ("compressor-rack",),
        "refrigerant": "R-410A",
    }
    offered = [[n.technique for n in _plan(adviser, rate=r, **known).checks] for r in (1000.0, 0.05)]
    assert "ultrasonic" in offered[0][:3]
    assert "ultrasonic" not in offered[1]


JOINT_DEMO = [Hypothesis("flare-joint", "indoor-flare", 0.5), Hypothesis("valve-core", "service-port", 0.5)]


def test_air_survey_first_and_never_after_gauges(adviser: Adviser) -> None:
    """Before the first check that smells, soaps or opens, where it is worth it; with hoses on the air tells nothing."""
    before = 0
    for evidence, plan in _plans(adviser):
        gauges = False
        for n in plan.checks:
            assert not (gauges and n.technique == "air-survey"), (evidence, plan.checks)
            gauges = gauges or adviser.order.opens(n.technique)
        before += sum("before-gauges" in n.why for n in plan.checks)
        for n in plan.checks:
            if "before-gauges" in n.why:
                earlier = {c.technique for c in plan.checks[: plan.checks.index(n)]}
                assert n.technique == "air-survey"
                assert "air-survey" not in earlier
    assert before > 5


def test_no_survey_once_gauges_were_on(adviser: Adviser) -> None:
    """Made by the user this time; a skipped check has put nothing on."""
    rack = {"kinds": ("compressor-rack",), "refrigerant": "R-404A", "ahead": 40}
    made = Check("section-isolation", ("rack-frame",))
    assert "air-survey" not in {n.technique for n in _plan(adviser, made, **rack).checks}
    assert _plan(adviser, replace(made, result="skip"), **rack).checks[0].technique == "air-survey"


def test_looking_before_stripping(adviser: Adviser) -> None:
    """No plan soaps or bags a covered place before the eye has been there; a place in the open may be soaped at once."""
    order, stripped = adviser.order, 0
    for kinds in KINDS:
        seen: set[str] = set()
        for n in _plan(adviser, kinds=kinds, refrigerant="R-410A", ahead=150).checks:
            if n.technique in RULES["touches"] and n.at in order.covered:
                stripped += 1
                assert any(order.places.covers(p, n.at) for p in seen), n
            if n.technique == "visual":
                seen.add(n.at)
    assert stripped > 10


def test_low_places_first_for_heavy_vapour_only(adviser: Adviser) -> None:
    """R-410A sinks, R-717 rises; where the gas is not known it is taken for heavy, as nearly all are."""
    assert adviser.order.light == {"R-717"}
    for gas, low in (("R-410A", True), ("R-717", False), (None, True)):
        evidence = Evidence(symptoms=SEEN, refrigerant=gas)
        board = adviser.order.board(adviser.joint(evidence), evidence)
        told = {(c.technique, c.place) for c in board.candidates if "low-first" in c.why}
        assert bool(told) == low
        assert all(t in RULES["sniffs"] and p in adviser.order.low for t, p in told)


def test_a_low_place_beats_its_equal_higher_up() -> None:
    """Two areas, one leak each, all the same but that one is low."""
    places = PlaceModel((), {"x": frozenset({"a"}), "y": frozenset({"b"})}, {})
    order = replace(
        _small(places={"air-survey": ["area"]}), areas=frozenset("xy"), low=frozenset("y"), places=places
    )
    even = [Hypothesis("m", "a", 0.5), Hypothesis("m", "b", 0.5)]
    assert [n.at for n in order.plan(even, Evidence()).checks] == ["y", "x"]
    assert [n.at for n in order.plan(even, Evidence(refrigerant="R-3")).checks] == ["x", "y"]


def test_only_places_that_the_kind_has(adviser: Adviser) -> None:
    """And of them only where a technique is used."""
    guide = demo().guide
    places = set()
    for evidence, plan in _plans(adviser):
        for n in plan.checks:
            assert not evidence.kinds or any(guide.on(n.at, kind) for kind in evidence.kinds)
            assert n.at not in RULES["not_at"].get(n.technique, ())
            level = "area" if guide.components[n.at]["kind"] == "area" else "part"
            assert level in RULES["places"][n.technique]
            places.add((evidence.kinds, n.at))
    assert ((), "cold-room") in places or ((), "plant-room") in places
    assert (("ductless-split",), "plant-room") not in places
    assert (("ductless-split", "rooftop-unit"), "plant-room") not in places


def test_an_empty_circuit_turns_from_smelling(adviser: Adviser) -> None:
    """Nothing is left to smell: chances of what sniffs fall to 0.3, the others stay."""
    full = adviser.order.board(JOINT_DEMO, Evidence())
    empty = adviser.order.board(JOINT_DEMO, Evidence(symptoms=frozenset({"sudden-loss"})))
    for one, other in zip(full.candidates, empty.candidates, strict=True):
        factor = 0.3 if one.technique in RULES["sniffs"] else 1.0
        assert [c for _, c in other.chances] == pytest.approx([factor * c for _, c in one.chances])
    evidence = Evidence(symptoms=frozenset({"short-of-charge"}), kinds=("compressor-rack",))
    joint = adviser.joint(evidence)
    shares = []
    for more in (frozenset[str](), frozenset({"sudden-loss"})):
        plan = adviser.order.plan(joint, replace(evidence, symptoms=evidence.symptoms | more))
        shares.append(sum(n.technique in RULES["sniffs"] for n in plan.checks))
    assert shares[1] < shares[0]


def test_no_check_twice_and_none_without_a_chance(adviser: Adviser) -> None:
    """Also none that was made or skipped already; figures of a plan hang together."""
    made = (Check("visual", ("indoor-flare",)), Check("ultrasonic", ("line-run",), "skip"))
    plan = _plan(adviser, *made, kinds=("ductless-split",), ahead=300)
    told = [(n.technique, n.at) for n in plan.checks]
    assert len(set(told)) == len(told)
    assert not {("visual", "indoor-flare"), ("ultrasonic", "line-run")} & set(told)
    assert min(n.probability for n in plan.checks) >= 1e-3
    missed, minutes = 1.0, 0.0
    for n in plan.checks:
        minutes += missed * n.minutes
        missed *= 1 - n.probability
    assert (plan.missed, plan.minutes) == pytest.approx((missed, minutes))
    assert len(_plan(adviser, kinds=("ductless-split",)).checks) == 12


def test_after_clean_the_next_is_what_the_plan_had(adviser: Adviser) -> None:
    """The plan is what would be advised step by step if every check came out clean."""
    known = {"kinds": ("ductless-split",), "refrigerant": "R-410A"}
    plan = _plan(adviser, **known).checks
    made: list[Check] = []
    for n in plan[:5]:
        nxt = _plan(adviser, *made, **known).checks[0]
        assert (nxt.technique, nxt.at) == (n.technique, n.at)
        assert (nxt.probability, nxt.minutes) == pytest.approx((n.probability, n.minutes))
        made.append(Check(n.technique, (n.at,)))
