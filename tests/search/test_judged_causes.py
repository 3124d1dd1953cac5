"""Causes and places of the judged queries: the ranking's judgements against what their best records say.

The cases asked for are among those that the models were fitted to, so figures only compare one judgement to another.
"""

from __future__ import annotations

import datetime as dt
from math import log

import pytest

from analysis.builders import CASES
from leaklore.analysis import places
from leaklore.analysis.advice import Adviser
from leaklore.analysis.evidence import Evidence
from leaklore.records.check import check
from leaklore.search.make import make
from leaklore.search.understand import evidence, understand

from .test_judged_files import FILES, load

TODAY = dt.date(2026, 11, 26)
Truth = list[tuple[str, str]]


@pytest.fixture(scope="module")
def asked() -> tuple[Adviser, list[tuple[Evidence, Truth]]]:
    """Queries that name a place and no cause, and (mode, component) of their best records."""
    library = check(CASES, today=TODAY).library
    assert library is not None
    engine = make(library).engine
    out = []
    for query in (query for path in FILES for query in load(path)):
        found = evidence(understand(query["q"], engine.lexicon, TODAY))
        best = [library.by_id[key].cause for key, grade in query["judged"].items() if grade == 3]
        if found.places and not found.named and best:
            out.append((found, [(cause.mode, cause.component) for cause in best]))
    assert len(out) >= 50
    return engine.adviser, out


def _told(asked: tuple[Adviser, list[tuple[Evidence, Truth]]]) -> tuple[float, float]:
    """Mean log probability of the cause, and of the cause at its place."""
    adviser, queries = asked
    modes = spots = 0.0
    for found, truth in queries:
        causes = {cause.mode: cause for cause in adviser.advise(found).causes}
        modes += sum(log(causes[mode].probability) for mode, _ in truth) / len(truth)
        spots += sum(log(max(dict(causes[mode].places).get(at, 0), 1e-6)) for mode, at in truth) / len(truth)
    return modes / len(queries), spots / len(queries)


@pytest.mark.parametrize("other", [0.02, 0.2, 0.3, 0.5])
def test_how_much_a_named_place_says(
    asked: tuple[Adviser, list[tuple[Evidence, Truth]]], monkeypatch: pytest.MonkeyPatch, other: float
) -> None:
    """A tenth is left of the others: more and far less tell worse what it was and where."""
    chosen = _told(asked)
    monkeypatch.setattr(places, "ELSEWHERE", other)
    less = _told(asked)
    assert chosen[1] > less[1]
    assert other < 0.1 or chosen[0] > less[0]


def test_what_the_unit_can_have_helps(
    asked: tuple[Adviser, list[tuple[Evidence, Truth]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Kinds from named places, and causes without a place on the kind."""
    chosen = _told(asked)
    monkeypatch.setattr(places.PlaceModel, "kinds_for", lambda self, evidence: evidence.kinds)
    without = _told(asked)
    assert chosen > without
    monkeypatch.setattr(places, "NOT_ON", 1.0)
    assert _told(asked)[0] < chosen[0]
