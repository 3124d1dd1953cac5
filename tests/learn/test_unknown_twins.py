"""The score of an unknown case in Python and in the browser: the same on the same trails."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from analysis.builders import CASES
from leaklore.analysis.unknown import Score, Unknown, exercises, score
from leaklore.pages.book import Book
from leaklore.pages.learn.unknown import content
from leaklore.records.check import check
from twins.browser import Browser

CASES_DRAWN, TRAILS, SEED = 30, 12, 41
SCORE = """async (argument) => {
  const { UnknownCase, unpacked } = await import("/learn/unknown.mjs");
  const out = [];
  for (const [closed, calls] of JSON.parse(argument)) {
    const game = new UnknownCase(await unpacked(closed));
    out.push(calls.map(([trail, cause, place]) => game.score(trail, cause, place)));
  }
  return JSON.stringify(out);
}"""
Call = tuple[list[tuple[str, str]], str, str]


@pytest.fixture(scope="module")
def book() -> Book:
    """The demo library."""
    found = check(CASES, today=dt.date(2026, 12, 31)).library
    assert found is not None
    return Book(found, dt.date(2026, 12, 31))


@pytest.fixture(scope="module")
def browser_of_twins() -> Iterator[Browser]:
    """One browser for all tests of this file."""
    found = Browser()
    yield found
    found.close()


def drawn(unknown: Unknown, rng: Random) -> Call:
    """A trail that often comes near the leak and often repeats itself, and what is named after it."""
    mode, component = unknown.solution
    near = [c for c in unknown.checks if c.place == component or component in unknown.inside[c.place]]
    shown = [c for c in unknown.checks if any(a.result != "clean" for a in c.answers)]
    trail: list[tuple[str, str]] = []
    for _ in range(rng.randint(0, 14)):
        if trail and rng.random() < 0.25:
            technique, place = rng.choice(trail)
            if rng.random() < 0.5:
                here = [c for c in unknown.checks if c.place == place]
                technique = rng.choice(here).technique
        else:
            check = rng.choice(rng.choice([unknown.checks, unknown.checks, near, shown]))
            technique, place = check.technique, check.place
        trail.append((technique, place))
    cause = mode if rng.random() < 0.4 else rng.choice(unknown.suspects).mode
    place = (
        component
        if rng.random() < 0.4
        else rng.choice(rng.choice([list(unknown.inside), [c.place for c in near]]))
    )
    return trail, cause, place


def as_told(found: Score) -> dict[str, Any]:
    """A score as the browser tells it."""
    return {
        "place": found.place,
        "cause": found.cause,
        "pace": found.pace,
        "aim": found.aim,
        "points": found.points,
        "minutes": found.minutes,
        "foundAfter": found.found_after,
        "vain": found.vain,
        "proof": found.proof,
        "lapses": [{"kind": lapse.kind, "check": lapse.check} for lapse in found.lapses],
    }


@pytest.fixture(scope="module")
def both(book: Book, browser_of_twins: Browser) -> list[tuple[str, Call, Any, Any]]:
    """(case, call, Python's score, the browser's)"""
    rng = Random(SEED)
    games = rng.sample(list(exercises(book.library)), CASES_DRAWN)
    calls = [[drawn(unknown, rng) for _ in range(TRAILS)] for unknown in games]
    closed = [json.loads(content(unknown, book))["closed"] for unknown in games]
    theirs = browser_of_twins.run(SCORE, json.dumps(list(zip(closed, calls, strict=True))))
    return [
        (unknown.case.id, call, as_told(score(unknown, *call)), their)
        for unknown, asked, told in zip(games, calls, theirs, strict=True)
        for call, their in zip(asked, told, strict=True)
    ]


def test_both_sides_score_alike(both: list[tuple[str, Call, Any, Any]]) -> None:
    assert len(both) >= 200
    wrong = [(case, call, ours, theirs) for case, call, ours, theirs in both if ours != theirs]
    assert wrong == [], f"{len(wrong)} of {len(both)} differ"


def test_the_trails_reach_everything(both: list[tuple[str, Call, Any, Any]]) -> None:
    """Every kind of lapse, every proof and every number of points comes up, and not one alone."""
    scores = [ours for _, _, ours, _ in both]
    kinds = Counter(lapse["kind"] for s in scores for lapse in s["lapses"])
    assert set(kinds) == {"again", "guess", "sign-only", "once", "cleared", "against", "elsewhere"}
    assert {s["proof"] for s in scores} == {"suspected", "section", "once", "point"}
    assert {s["place"] for s in scores} == {0, 1, 2, 3}
    assert {s["pace"] for s in scores} == {s["aim"] for s in scores} == {0, 1, 2}
    assert sum(s["foundAfter"] is not None for s in scores) > 80


def test_the_comparison_can_fail(both: list[tuple[str, Call, Any, Any]]) -> None:
    """Scores of other trails differ."""
    moved = [*both[5:], *both[:5]]
    assert sum(ours != theirs for (_, _, ours, _), (_, _, _, theirs) in zip(both, moved, strict=True)) > 300


def test_nothing_of_the_answer_stands_in_plain_words_in_the_file(book: Book) -> None:
    """Neither the cause nor title, lesson or notes of the record; what is open is the same for every place."""
    guide = book.library.guide
    for unknown in exercises(book.library):
        text = content(unknown, book).decode()
        case = unknown.case
        mode = unknown.solution[0]
        if mode not in guide.components and mode not in guide.techniques:  # a shaft seal is a place, too
            assert mode not in text, case.id
            assert guide.modes[mode].name not in text
        for part in (case.title, case.lesson or case.title, *(s.note for s in case.search if s.note)):
            assert part not in text
        told = json.loads(text)["open"]
        places = [key for key, *_ in told["places"]]
        assert places == sorted(places)
        assert len(places) > 8
        assert case.id not in json.dumps(told)
