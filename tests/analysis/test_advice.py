"""Causes, places and checks together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leaklore.analysis import advice, causes
from leaklore.analysis.advice import UNSURE, WORDS, Adviser
from leaklore.analysis.evidence import Check, Evidence
from leaklore.analysis.places import Hypothesis
from leaklore.analysis.second_leak import MORE, Explained

from .builders import case, demo

OIL = Evidence(
    symptoms=frozenset({"oil-film", "short-of-charge"}), kinds=("ductless-split",), refrigerant="R-410A"
)


@pytest.fixture(scope="module")
def adviser() -> Adviser:
    """The demo's."""
    lib = demo()
    return advice.adviser(lib.counted, lib.active, lib.guide)


@pytest.fixture(scope="module")
def empty() -> Adviser:
    """That of a company without a case."""
    return advice.adviser((), (), demo().guide)


def _by_mode(adviser: Adviser, evidence: Evidence) -> dict[str, float]:
    return {c.mode: c.probability for c in adviser.advise(evidence).causes}


@pytest.mark.parametrize(
    "evidence",
    [
        Evidence(),
        OIL,
        replace(OIL, places=(("indoor-flare",),), named=frozenset({"flare-joint"})),
        replace(
            OIL, checks=(Check("visual", ("indoor-flare",)), Check("bubble-test", ("service-port",), "found"))
        ),
        replace(
            OIL,
            kinds=("no-such-kind",),
            refrigerant="R-0",
            checks=(Check("of-others", ("nowhere",), "found"),),
        ),
    ],
)
def test_probabilities_sum_to_one(adviser: Adviser, evidence: Evidence) -> None:
    """Every cause once, likeliest first; its places sum to it and go down."""
    found = adviser.advise(evidence).causes
    assert sorted(c.mode for c in found) == sorted(demo().guide.modes)
    assert sum(c.probability for c in found) == pytest.approx(1)
    told = [round(c.probability, 12) for c in found]
    assert told == sorted(told, reverse=True)
    for cause in found:
        weights = [round(w, 12) for _, w in cause.places]
        assert sum(weights) == pytest.approx(cause.probability)
        assert weights == sorted(weights, reverse=True)


def test_a_clean_check_moves_odds_by_what_it_would_have_seen(adviser: Adviser) -> None:
    """Each mode at the place loses by 1 - d, all the others keep their odds to one another."""
    check = Check("bubble-test", ("indoor-flare",))
    before, after = adviser.joint(OIL), adviser.joint(replace(OIL, checks=(check,)))
    usual = adviser.order.techniques["bubble-test"].usual  # nobody said how much it loses
    chance = {m: c * usual for m, c in adviser.order.detection.chance["bubble-test"]["part"].items()}
    total = sum(
        h.weight * (1 - chance[h.mode] / 1000 if h.component == "indoor-flare" else 1) for h in before
    )
    for one, other in zip(before, after, strict=True):
        d = chance[one.mode] / 1000 if one.component == "indoor-flare" else 0.0
        assert other.weight == pytest.approx(one.weight * (1 - d) / total)
    assert (
        _by_mode(adviser, replace(OIL, checks=(check,)))["flare-joint"]
        < _by_mode(adviser, OIL)["flare-joint"]
    )


def test_found_raises_and_skip_changes_nothing(adviser: Adviser) -> None:
    """A find at the flare; a check that can't be made."""
    find = Check("bubble-test", ("indoor-flare",), "found")
    base = _by_mode(adviser, OIL)
    found = adviser.advise(replace(OIL, checks=(find,)))
    assert found.causes[0].mode == "flare-joint"
    assert found.causes[0].probability > max(0.8, base["flare-joint"])
    assert found.causes[0].places[0][0] == "indoor-flare"
    skipped = replace(OIL, checks=(replace(find, result="skip"),))
    assert _by_mode(adviser, skipped) == base


def test_unsure_is_said(adviser: Adviser) -> None:
    """Without a finding nothing is known, whatever is common; with a find it is."""
    assert not adviser.advise(Evidence()).known
    assert not adviser.advise(Evidence(kinds=("ductless-split",), refrigerant="R-410A")).known
    found = adviser.advise(replace(OIL, checks=(Check("bubble-test", ("indoor-flare",), "found"),)))
    assert found.known
    for alone in (
        Evidence(kinds=("ductless-split",), places=(("indoor-flare",),)),
        Evidence(checks=(Check("bubble-test", ("shaft-seal",), "found"),)),
    ):
        assert adviser.advise(alone).known, "a place tells causes apart without a symptom"
    for evidence in (
        OIL,
        Evidence(symptoms=frozenset({"weak-cooling"})),
        Evidence(absent=frozenset({"oil-film"})),
    ):
        told = adviser.advise(evidence)
        assert told.known == (told.causes[0].probability >= UNSURE)


def test_no_cause_that_the_unit_can_t_have_comes_near_the_top(adviser: Adviser) -> None:
    """A ducted split has no shaft seal, however much oil drips; nor have most that have an indoor coil and an indoor flare."""
    can = adviser.order.places.can_be_on
    for kind in demo().guide.small["equipment_kinds"]:
        for symptom in demo().guide.symptoms:
            ranked = adviser.advise(Evidence(symptoms=frozenset({symptom}), kinds=(kind,))).causes
            assert all(can(cause.mode, (kind,)) for cause in ranked[:3]), (kind, symptom)
    oil = Evidence(symptoms=frozenset({"oil-drip"}), places=(("indoor-coil",), ("indoor-flare",)))
    advice = adviser.advise(oil)
    assert all(can(cause.mode, ("ductless-split",)) for cause in advice.causes[:5])
    order = adviser.order
    assert all(order.places.fits(n.at, order.places.kinds_for(oil)) for n in advice.plan.checks)


def test_probability_in_words_goes_down_to_nothing() -> None:
    """Every probability has its word."""
    assert [least for least, _ in WORDS] == sorted((least for least, _ in WORDS), reverse=True)
    assert WORDS[-1][0] == 0


def test_usual_is_the_mean_over_leaks_whose_rate_is_on_record() -> None:
    """R-134a, bubbles see 0.132 kg/yr: 10 kg/yr sees (1), 0.2 is at the limit (0.5), 0.05 too small (0.05): 0.516667.

    A detector that is blind to R-717 learns nothing from a leak of it; without a rate or a limit it is 1.
    """
    cases = [
        case(1, refrigerant="R-134a", lost="10 kg", over="1 year"),
        case(2, refrigerant="R-134a", lost="0.2 kg", over="1 year"),
        case(3, refrigerant="R-134a", lost="0.05 kg", over="1 year"),
        case(4, refrigerant="R-134a"),
        case(5, refrigerant="R-717", lost="0.01 kg", over="1 year"),
    ]
    facts = advice.technique_facts(demo().guide, cases[:4])
    assert facts["bubble-test"].usual == pytest.approx(1.55 / 3, abs=1e-6)
    assert facts["heated-diode-detector"].usual == 1
    assert facts["visual"].usual == 1
    assert advice.technique_facts(demo().guide, cases[4:])["heated-diode-detector"].usual == 1
    assert advice.technique_facts(demo().guide, cases[3:4])["bubble-test"].usual == 1


def test_of_equals_the_guides_order(adviser: Adviser) -> None:
    """To twelve digits; places by name."""
    first, second = adviser.causes.modes[:2]
    near = [
        Hypothesis(second, "line-run", 0.5 + 1e-14),
        Hypothesis(first, "line-run", 0.25),
        Hypothesis(first, "flange-joint", 0.25),
    ]
    ranked = adviser.rank(near)
    assert [c.mode for c in ranked[:2]] == [first, second]
    assert [p for p, _ in ranked[0].places] == ["flange-joint", "line-run"]


def test_a_company_without_cases_gets_the_guides_judgement(empty: Adviser) -> None:
    """Very common before rare; an oily ductless split is its flare; the plan looks there."""
    guide = demo().guide
    prior = _by_mode(empty, Evidence())
    for mode, entry in guide.modes.items():
        common = causes.COMMON[str(entry["how_common"])]
        assert prior[mode] / prior["flare-joint"] == pytest.approx(
            common / causes.COMMON[str(guide.modes["flare-joint"]["how_common"])], rel=2e-3
        )
    told = empty.advise(replace(OIL, places=(("indoor-flare",),)))
    assert told.causes[0].mode == "flare-joint"
    assert any(n.at == "indoor-flare" for n in told.plan.checks[:3])
    assert empty.causes.cases == 0


def test_after_a_find_the_place_counts_as_clean(adviser: Adviser) -> None:
    """Found becomes clean, what was clean or skipped stays, the place that showed no longer draws."""
    checks = (
        Check("visual", ("indoor-coil",)),
        Check("dye", ("plant-room",), "skip"),
        Check("bubble-test", ("indoor-flare",), "found"),
    )
    known = replace(OIL, places=(("indoor-flare",),), checks=checks)
    left = adviser.without_find(known)
    assert left.checks == (*checks[:2], Check("bubble-test", ("indoor-flare",), "clean"))
    assert left.places == ()
    assert left.symptoms == OIL.symptoms
    at = {h.component: 0.0 for h in adviser.joint(known)}
    for h in adviser.joint(known):
        at[h.component] += h.weight
    then = sum(h.weight for h in adviser.joint(left) if h.component == "indoor-flare")
    assert then < 0.3 * at["indoor-flare"]


def test_is_there_another_leak() -> None:
    """3 kg/yr lost: a leak of 1 kg/yr leaves two thirds, one of 1.1 is within a factor of three."""
    assert Explained(3.0, 1.0).times == 3
    assert Explained(3.0, 1.0).more
    assert not Explained(3.0, 1.1).more
    assert MORE == 3


def test_a_model_that_is_fitted_already_is_taken() -> None:
    """Not fitted a second time."""
    lib = demo()
    model = causes.fit((), lib.guide)
    assert advice.adviser(lib.counted, lib.active, lib.guide, model).causes is model
