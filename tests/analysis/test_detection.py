"""What a check is worth: chances and minutes by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from leaklore.analysis import detection
from leaklore.analysis.detection import Detection
from leaklore.records.guide import Entry, Guide
from leaklore.records.model import Case

from .builders import case, demo, guide, step


def _guide() -> Guide:
    """The small guide: bubbles are good for flares and poor for corrosion, 3 min to set up, 4 min a place."""
    small = guide()
    said = {
        "bubbles": {
            "good_for": ["loose-flare"],
            "poor_for": ["corrosion"],
            "minutes": {"set_up": 3, "each_place": 4},
        }
    }
    other = {"good_for": None, "poor_for": None, "minutes": {"set_up": 0, "each_place": 0}}
    techniques = {
        k: Entry("technique", k, {"key": k, "name": k, **said.get(k, other)}, "", "guide", "0")
        for k in small.techniques
    }
    kinds = {"outdoors": "area", "indoors": "area", "cabinet": "area"}
    components = {
        k: replace(e, facts={**e.facts, "kind": kinds.get(k, "part")}) for k, e in small.components.items()
    }
    return replace(small, techniques=techniques, components=components)


def _fit(*cases: Case) -> Detection:
    return detection.fit(cases, _guide())


def _row(made: Detection, level: str = "part") -> tuple[int, int, int]:
    found = made.chance["bubbles"][level]
    return found["loose-flare"], found["corrosion"], found["rare-mode"]


def _hand(hits: float, expected: float) -> float:
    """Found against expected, with 8 steps of 0.45 in front of both."""
    return (hits + 3.6) / (expected + 3.6)


def test_without_steps_it_is_the_guides_word() -> None:
    """Good 0.75, poor 0.15, neither 0.45; four fifths of it for an area."""
    made = _fit()
    assert _row(made) == (750, 150, 450)
    assert _row(made, "area") == (600, 120, 360)
    assert made.minutes["bubbles"]["part"] == (7000, 4000)
    assert made.minutes["bubbles"]["area"] == (15000, 12000), "an area is three places"
    assert made.minutes["visual"]["part"] == (0, 0), "later is never more than first"


def test_misses_lower_and_finds_raise() -> None:
    """Two clean bubble tests at a leaking flare, or two finds, by hand: hand from 1.5 expected; then 8 steps' worth."""
    clean = [case(i, step("bubbles", "flare", "clean")) for i in range(2)]
    hits = [case(i, step("bubbles", "flare", "pinpointed")) for i in range(2)]
    for cases, n in ((clean, 0), (hits, 2)):
        hand = _hand(n, 1.5)
        flare, corrosion, rare = _row(_fit(*cases))
        assert flare == pytest.approx(1000 * (n + 8 * min(0.95, 0.75 * hand)) / 10, abs=0.5)
        assert corrosion == pytest.approx(1000 * 0.15 * hand, abs=0.5)
        assert rare == pytest.approx(1000 * 0.45 * hand, abs=0.5)
    assert _row(_fit(*clean))[0] < 750 < _row(_fit(*hits))[0]


def test_a_chance_stays_below_certainty() -> None:
    """Fifty finds of fifty."""
    made = _fit(*(case(i, step("bubbles", "flare", "pinpointed")) for i in range(50)))
    assert all(c <= 1000 for c in _row(made))
    assert _row(made)[0] == pytest.approx(1000 * (50 + 8 * 0.95) / 58, abs=0.5)


@pytest.mark.parametrize("result", ["confirmed", "false-alarm"])
def test_what_tells_nothing_of_finding(result: str) -> None:
    """The spot was known already, or there was nothing."""
    assert _row(_fit(case(1, step("bubbles", "flare", result)))) == (750, 150, 450)  # type: ignore[arg-type]


def test_a_clean_step_elsewhere_tells_nothing() -> None:
    """It was right to be clean."""
    assert _row(_fit(case(1, step("bubbles", "coil", "clean")))) == (750, 150, 450)


def test_an_unproven_case_tells_minutes_only() -> None:
    """Its true place is not known: (3 x 7 + 31) / 4 = 13 min at first use; later uses can't take longer."""
    made = _fit(case(1, step("bubbles", "flare", "clean", 31), proof="suspected"))
    assert _row(made) == (750, 150, 450)
    assert made.minutes["bubbles"]["part"] == (13000, 4000)


def test_first_and_later_use_are_told_apart() -> None:
    """First 11 and 15 min: (21 + 26) / 5 = 9.4; later 8 min: (12 + 8) / 4 = 5."""
    one = case(1, step("bubbles", "flare", "clean", 11), step("bubbles", "coil", "clean", 8))
    made = _fit(one, case(2, step("bubbles", "flare", "lead", 15)))
    assert made.minutes["bubbles"]["part"] == (9400, 5000)
    assert made.minutes["bubbles"]["area"] == (15000, 12000)


@pytest.mark.parametrize("at", ["cabinet", "flare coil"])
def test_an_area_or_several_places_are_an_area(at: str) -> None:
    """A miss there is a miss of going over an area."""
    made = _fit(case(1, step("bubbles", at, "clean")))
    assert _row(made) == (750, 150, 450)
    assert _row(made, "area")[0] == pytest.approx(1000 * 8 * 0.6 * _hand(0, 0.6) / 9, abs=0.5)


def test_every_technique_of_the_demo_has_a_chance_for_every_cause() -> None:
    """Within 0 and 1; minutes later never above minutes first."""
    lib = demo()
    made = detection.fit(lib.active, lib.guide)
    assert made.chance.keys() == made.minutes.keys() == lib.guide.techniques.keys()
    for levels in made.chance.values():
        for row in levels.values():
            assert row.keys() == lib.guide.modes.keys()
            assert all(0 < c < 1000 for c in row.values())
    assert all(0 < later <= first for m in made.minutes.values() for first, later in m.values())
