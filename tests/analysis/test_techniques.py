"""Detection yield and technique against technique, on libraries small enough to count by hand."""

from __future__ import annotations

import pytest

from leaklore.analysis.techniques import (
    TechniqueSummary,
    Versus,
    covered,
    isolations_avoided,
    outcomes,
    technique_summaries,
    versus,
)
from leaklore.records.library import Library
from leaklore.records.model import Avoided, Case, Cause

from .builders import TECHNIQUES, case, guide, library, step

SECOND = Cause("corrosion", "coil", "point")


def _one(*cases: Case, technique: str = "detector") -> TechniqueSummary:
    return technique_summaries(library(*cases))[technique]


def _counts(found: TechniqueSummary) -> tuple[int, int, int, int, int]:
    """(used, covered, found, missed, false alarms)."""
    return found.used, found.covered, found.found, found.missed, found.false_alarms


def _pair(made: Library, first: str, second: str) -> Versus:
    return next(v for v in versus(made) if (v.first, v.second) == (first, second))


@pytest.mark.parametrize(
    ("place", "does"),
    [
        ("flare", True),
        ("cabinet", True),
        ("outdoors", True),
        ("coil", False),
        ("port", False),
        ("indoors", False),
    ],
)
def test_an_area_covers_the_parts_inside_at_any_depth(place: str, does: bool) -> None:
    """The leak is at the flare, in the cabinet, outdoors."""
    found = covered(step("detector", place, "clean"), case(1), guide())
    assert found == (frozenset({"flare"}) if does else frozenset())


def test_a_part_does_not_cover_the_area_around_it() -> None:
    """A leak known only as somewhere in the cabinet is not covered by a look at the flare."""
    assert covered(step("detector", "flare", "clean"), case(1, component="cabinet"), guide()) == frozenset()


def test_one_of_several_places_is_enough() -> None:
    """The second place holds the leak."""
    assert covered(step("detector", "port coil flare", "clean"), case(1), guide()) == {"flare"}


@pytest.mark.parametrize("result", ["lead", "section", "pinpointed", "confirmed"])
def test_a_lead_at_the_area_counts_as_found(result: str) -> None:
    """Every hint that points to the leak's area is a find."""
    assert _counts(_one(case(1, step("detector", "cabinet", result)))) == (1, 1, 1, 0, 0)  # type: ignore[arg-type]


def test_clean_at_the_area_of_the_leak_is_missed() -> None:
    """It was there, and the technique said clean."""
    found = _one(case(1, step("detector", "cabinet", "clean")))
    assert _counts(found) == (1, 1, 0, 1, 0)
    assert found.yield_ is not None
    assert (found.yield_.k, found.yield_.n) == (0, 1)
    assert [c.id for c in found.missed_cases] == ["KW-2025-001"]


def test_clean_elsewhere_says_nothing() -> None:
    """Used, but not covering: right to be clean."""
    found = _one(case(1, step("detector", "port", "clean"), step("detector", "indoors", "clean")))
    assert _counts(found) == (2, 0, 0, 0, 0)
    assert found.yield_ is None


def test_a_lead_elsewhere_is_no_find() -> None:
    """A hint at a place without the leak does not count as found or missed."""
    assert _counts(_one(case(1, step("detector", "port", "lead")))) == (1, 0, 0, 0, 0)


@pytest.mark.parametrize("place", ["flare", "port"])
def test_false_alarm_is_neither_found_nor_missed(place: str) -> None:
    """Even at the leak's own place."""
    found = _one(case(1, step("detector", place, "false-alarm")))
    assert _counts(found) == (1, 0, 0, 0, 1)
    assert [c.id for c in found.false_alarm_cases] == ["KW-2025-001"]


def test_false_alarms_count_in_unproven_cases_too() -> None:
    """That it was no leak is known even where the leak is not; withdrawn cases stay out."""
    alarm = step("detector", "port", "false-alarm")
    found = _one(case(1, alarm, proof="suspected"), case(2, alarm), case(3, alarm, withdrawn=True))
    assert _counts(found) == (2, 0, 0, 0, 2)


@pytest.mark.parametrize("proof", ["suspected", "section"])
def test_unproven_cases_tell_nothing_of_yield(proof: str) -> None:
    """The true place is not known."""
    search = (step("detector", "cabinet", "lead"), step("detector", "flare", "clean"))
    assert _counts(_one(case(1, *search, proof=proof))) == (2, 0, 0, 0, 0)  # type: ignore[arg-type]


def test_withdrawn_cases_tell_nothing_at_all() -> None:
    """Not even that the technique was used."""
    assert _counts(_one(case(1, step("detector", "flare", "pinpointed"), withdrawn=True))) == (0, 0, 0, 0, 0)


def test_found_is_split_into_leads_and_spots() -> None:
    """lead; section; pinpointed and confirmed: 1, 1, 2."""
    search = [step("detector", "flare", r) for r in ("lead", "section", "pinpointed", "confirmed")]  # type: ignore[arg-type]
    found = _one(case(1, *search))
    assert (found.found, found.leads, found.pinpointed) == (4, 1, 2)
    assert [c.id for c in found.found_cases] == ["KW-2025-001"], "each case once"


def test_minutes_are_of_all_steps_of_active_cases() -> None:
    """Median of 10, 20 and 60, clean places and false alarms included."""
    found = _one(
        case(1, step("detector", "port", "clean", 10), step("detector", "flare", "lead", 20)),
        case(2, step("detector", "port", "false-alarm", 60), proof="suspected"),
        case(3, step("detector", "port", "clean", 999), withdrawn=True),
    )
    assert found.minutes is not None
    assert (found.minutes.n, found.minutes.median) == (3, 20)


def test_every_technique_of_the_guide_has_a_summary_in_its_order() -> None:
    """Also those never used."""
    made = technique_summaries(library(case(1, step("bubbles", "flare", "clean"))))
    assert tuple(made) == TECHNIQUES
    assert made["visual"].used == 0
    assert made["visual"].yield_ is None
    assert made["visual"].minutes is None


def test_two_leaks_in_one_case_are_two_outcomes() -> None:
    """The detector covers both and is clean at the second, bubbles find the second only."""
    two = case(
        1,
        step("detector", "flare", "pinpointed"),
        step("detector", "coil", "clean"),
        step("bubbles", "coil", "pinpointed"),
        also_found=(SECOND,),
    )
    assert outcomes(two, guide()) == {
        ("flare", "detector"): True,
        ("coil", "detector"): False,
        ("coil", "bubbles"): True,
    }
    found = _one(two)
    assert _counts(found) == (2, 2, 1, 1, 0)
    pair = _pair(library(two), "detector", "bubbles")
    assert (pair.both, pair.only_first, pair.only_second, pair.neither) == (0, 0, 1, 0)


def test_a_step_over_two_leaks_is_one_step_but_two_outcomes() -> None:
    """Yield counts steps; pairs count leaks."""
    two = case(
        1,
        step("detector", "cabinet", "lead"),
        step("bubbles", "flare coil", "pinpointed"),
        also_found=(SECOND,),
    )
    assert _counts(_one(two)) == (1, 1, 1, 0, 0)
    pair = _pair(library(two), "detector", "bubbles")
    assert (pair.both, pair.pairs) == (2, 2)


def test_an_unproven_second_leak_is_no_leak_yet() -> None:
    """Only what is proven can be missed."""
    two = case(
        1,
        step("detector", "coil", "clean"),
        step("bubbles", "flare", "pinpointed"),
        also_found=(Cause("corrosion", "coil", "suspected"),),
    )
    assert _counts(_one(two)) == (1, 0, 0, 0, 0)
    assert outcomes(two, guide()) == {("flare", "bubbles"): True}


def test_a_technique_found_the_leak_if_one_of_its_steps_did() -> None:
    """Missed at the cabinet, found at the flare: found. False alarms don't enter."""
    both = case(
        1,
        step("detector", "cabinet", "clean"),
        step("detector", "flare", "pinpointed"),
        step("visual", "flare", "false-alarm"),
    )
    assert outcomes(both, guide()) == {("flare", "detector"): True}


def test_found_first_and_clean_later_is_found() -> None:
    """A last look after the find does not undo it."""
    both = case(1, step("detector", "flare", "pinpointed"), step("detector", "cabinet", "clean"))
    assert outcomes(both, guide()) == {("flare", "detector"): True}


def test_a_case_whose_main_cause_is_unproven_tells_nothing_even_of_a_proven_second_leak() -> None:
    """It is not counted, and counted is one thing everywhere."""
    half = case(
        1,
        step("detector", "coil", "clean"),
        step("bubbles", "coil", "pinpointed"),
        proof="section",
        also_found=(SECOND,),
    )
    assert half.proven_components == {"coil"}
    assert _counts(_one(half)) == (1, 0, 0, 0, 0)
    assert versus(library(half)) == []


def _against() -> Library:
    """Detector against bubbles: 2 both, 1 only the detector, 6 only bubbles, 1 neither."""
    yes, no = step("detector", "cabinet", "lead"), step("detector", "cabinet", "clean")
    bubbles, dry = step("bubbles", "flare", "pinpointed"), step("bubbles", "flare", "clean")
    cases = [
        case(1, yes, bubbles),
        case(2, bubbles, yes),
        case(3, yes, dry),
        *(case(n, no, bubbles) for n in range(4, 10)),
        case(10, no, dry),
        case(11, yes, bubbles, proof="suspected"),  # unproven
        case(12, yes, bubbles, withdrawn=True),
        case(13, yes, step("bubbles", "port", "clean")),  # not on the same leak
        case(14, step("visual", "flare", "lead"), bubbles),
    ]
    return library(*cases)


def test_versus_table_and_p() -> None:
    """p = 2 (1 + 7) / 2^7 = 0.125: six against one is no finding."""
    pair = _pair(_against(), "detector", "bubbles")
    assert (pair.both, pair.only_first, pair.only_second, pair.neither) == (2, 1, 6, 1)
    assert pair.pairs == 10
    assert pair.p == pytest.approx(0.125)
    assert not pair.few
    assert pair.better is None
    assert [c.id[-3:] for c in pair.only_first_cases] == ["003"]
    assert [c.id[-3:] for c in pair.only_second_cases] == ["004", "005", "006", "007", "008", "009"]


def test_versus_names_each_pair_once_in_the_order_of_the_guide_most_pairs_first() -> None:
    """Which was used first in the job does not matter."""
    assert [(v.first, v.second, v.pairs) for v in versus(_against())] == [
        ("detector", "bubbles", 10),
        ("visual", "bubbles", 1),
    ]


@pytest.mark.parametrize(
    ("only_first", "only_second", "better"),
    [(0, 6, "bubbles"), (6, 0, "detector"), (0, 5, None), (0, 4, None), (3, 3, None)],
)
def test_better_needs_pairs_and_a_small_p(only_first: int, only_second: int, better: str | None) -> None:
    """0 of 6 is p = 0.031; 0 of 5 is p = 0.0625; four pairs are too few for anything."""
    found, missed = step("detector", "flare", "lead"), step("detector", "flare", "clean")
    hit, dry = step("bubbles", "flare", "lead"), step("bubbles", "flare", "clean")
    cases = [case(n, found, dry) for n in range(only_first)]
    cases += [case(50 + n, missed, hit) for n in range(only_second)]
    pair = _pair(library(*cases), "detector", "bubbles")
    assert (pair.only_first, pair.only_second) == (only_first, only_second)
    assert pair.few == (only_first + only_second < 5)
    assert pair.better == better


def test_few_pairs_are_never_a_finding_whatever_p_says() -> None:
    """The rule of five stands before the test."""
    assert Versus("a", "b", both=0, only_first=4, only_second=0, neither=0, p=0.001).better is None
    assert Versus("a", "b", both=1, only_first=4, only_second=0, neither=0, p=0.001).better == "a"


def test_no_pair_where_only_one_technique_covered() -> None:
    """One technique alone is no comparison."""
    assert (
        versus(library(case(1, step("detector", "flare", "lead"), step("detector", "coil", "clean")))) == []
    )


def test_isolations_avoided_are_priced_at_the_median_of_our_own() -> None:
    """Own isolations: 60 min + 40, 120 min, 30 min at 60 USD an hour: 100, 120, 30; median 100."""
    away = Avoided("section-isolation", "detector")
    cases = [
        case(1, step("section-isolation", "outdoors", "section", 60, "40 USD")),
        case(2, step("section-isolation", "outdoors", "clean", 120), proof="suspected"),
        case(3, step("section-isolation", "indoors", "section", 30)),
        case(4, step("section-isolation", "indoors", "section", 6000), withdrawn=True),
        case(5, avoided=away),
        case(6, avoided=away),
        case(7, avoided=Avoided("section-isolation", "bubbles")),
        case(8, avoided=away, proof="section"),
        case(9, avoided=away, withdrawn=True),
        case(10, avoided=Avoided("visual", "detector")),
    ]
    found = isolations_avoided(library(*cases))
    assert [c.id[-3:] for c in found.cases] == ["005", "006", "007"]
    assert found.by == {"detector": 2, "bubbles": 1}
    assert list(found.by) == ["detector", "bubbles"], "most first"
    assert found.cost is not None
    assert (found.cost.n, found.cost.median) == (3, 100)
    assert found.saved == 300


def test_without_an_isolation_of_our_own_nothing_is_priced() -> None:
    """No invented price."""
    found = isolations_avoided(library(case(1, avoided=Avoided("section-isolation", "detector"))))
    assert len(found.cases) == 1
    assert found.cost is None
    assert found.saved is None
