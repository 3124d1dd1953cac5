"""How far to trust the ranking: yardsticks and shares worked out by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from leaklore.analysis import advice, evaluate
from leaklore.analysis.advice import Known
from leaklore.records.model import Equipment

from .builders import case, demo, guide, library, step


def test_how_common_a_cause_is_leaves_the_case_itself_out_and_gives_unseen_causes_a_chance() -> None:
    """Two cases of mode 0 and one of mode 1, of four modes: of the others plus one of each."""
    found = evaluate.prevalence(np.array([0, 0, 1]), 4)
    assert found == pytest.approx(np.array([[2, 2, 1, 1], [2, 2, 1, 1], [3, 1, 1, 1]]) / 6)


def test_guesses_are_worth_what_they_were_for_the_other_cases() -> None:
    """First guess right, right, and wrong beyond the third; of five modes two share what is left."""
    best = np.array([[5.0, 4.0, 3.0, 2.0, 1.0]] * 3)
    found = evaluate.by_guesses(best, np.array([0, 0, 4]))
    others = np.array([[2, 1, 1, 1, 1], [2, 1, 1, 1, 1], [3, 1, 1, 0.5, 0.5]]) / 6
    assert found == pytest.approx(others)
    assert found.sum(axis=1) == pytest.approx(1)


@pytest.mark.parametrize(
    ("refrigerant", "detector"),
    [
        ("R-32", "heated-diode-detector"),
        ("R-410A", "heated-diode-detector"),
        ("R-290", "infrared-detector"),
        ("R-744", "infrared-detector"),
    ],
)
def test_the_fixed_round_is_the_same_for_every_unit_of_a_kind(refrigerant: str, detector: str) -> None:
    """Areas by eye, then detector and bubbles at each part that such a unit has, those that leak most first."""
    lib = demo()
    known = advice.adviser(lib.counted, lib.active, lib.guide)
    gear = Equipment(kind="condensing-unit", refrigerant=refrigerant)
    walk = evaluate.fixed_order(known, replace(case(1), equipment=gear))
    kinds = {key: e["kinds"] for key, e in lib.guide.components.items()}
    areas = {key for key, e in lib.guide.components.items() if e["kind"] == "area"}

    looks = [c for c in walk if c.technique == "visual"]
    assert walk[: len(looks)] == tuple(looks)
    assert {p for c in looks for p in c.at} <= areas
    sniffed = [c.at[0] for c in walk if c.technique == detector]
    assert [(c.technique, c.at[0]) for c in walk[len(looks) :]] == [
        (technique, part) for part in sniffed for technique in (detector, "bubble-test")
    ]
    assert len(set(sniffed)) == len(sniffed)
    on_it = {key for key, on in kinds.items() if key not in areas and (not on or "condensing-unit" in on)}
    assert set(sniffed) <= on_it
    proven = Counter(c.component for one in lib.counted for c in one.proven)
    assert {part for part in on_it if proven[part]} <= set(sniffed)
    assert proven[sniffed[0]] > 3 * proven[sniffed[-1]]


def test_a_leak_found_after_just_30_or_60_minutes_is_found_within_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ways = [(30.0, 0.5), (30.5, 0.1), (60.0, 0.25), (60.5, 0.15)]
    monkeypatch.setattr(advice, "adviser", lambda *_, **__: None)
    monkeypatch.setattr(evaluate, "fixed_order", lambda *_: ())
    monkeypatch.setattr(evaluate.Trial, "of", lambda *_: object())
    for simulated in ("minutes_by_plan", "minutes_by_list"):
        monkeypatch.setattr(evaluate, simulated, lambda *_: ways)
    one = library(case(1, step("visual", "cabinet", "clean", 5), step("detector", "flare", "pinpointed", 20)))

    made, took, n = evaluate._searches(one, Known(guide()))

    assert len(made) == 3
    for found in made:
        assert found.within_30 == pytest.approx(0.5)
        assert found.within_60 == pytest.approx(0.85)
        assert found.mean == pytest.approx(15 + 3.05 + 15 + 9.075)
    assert n == 1
    assert took is not None
    assert evaluate.minutes_taken(one.cases[0]) == 25
