"""The measuring script: its measures against worked values and scikit-learn, its verdict on the demo."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace
from math import log2
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from sklearn.metrics import ndcg_score

from analysis.builders import demo
from evaluation import evaluate as script
from evaluation.evaluate import Query, Retrieval
from leaklore.analysis.evaluate import Scores
from leaklore.analysis.intervals import wilson

JUDGED = Path(__file__).parents[1] / "search" / "judged"
TODAY = dt.date(2026, 12, 31)


def test_dcg_by_hand() -> None:
    """Grades 3, 2, 0, 1: 7/1 + 3/log2(3) + 0 + 1/log2(5)."""
    assert script.dcg([3, 2, 0, 1]) == pytest.approx(7 + 3 / log2(3) + 1 / log2(5))
    assert script.dcg([3, 2, 0, 1], top=1) == 7
    assert script.dcg([]) == 0


def test_ndcg_by_hand() -> None:
    """Found b (2), x (not judged), a (3); best order a, b, c."""
    judged = {"a": 3, "b": 2, "c": 1}
    best = 7 + 3 / log2(3) + 1 / 2
    assert script.ndcg(["b", "x", "a"], judged) == pytest.approx((3 + 7 / 2) / best)
    assert script.ndcg(["a", "b", "c"], judged) == pytest.approx(1)
    assert script.ndcg(["x", "y"], judged) == 0


def test_recall_by_hand() -> None:
    """Grade 2 and up is relevant; more than ten relevant ones can't be in ten places."""
    judged = {"a": 3, "b": 2, "c": 1}
    assert script.recall(["a", "c", "x"], judged) == 0.5
    assert script.recall(["x"] * 10 + ["a"], judged) == 0
    assert script.recall(["a"], {"a": 1}) is None
    many = {f"c{i}": 2 for i in range(20)}
    assert script.recall([f"c{i}" for i in range(10)], many) == 1


@given(st.lists(st.integers(0, 3), min_size=2, max_size=25).filter(any), st.randoms())
def test_ndcg_is_scikit_learns(grades: list[int], shuffle: object) -> None:
    """scikit-learn's ndcg_score takes gains as they are, so it is given 2^grade - 1."""
    names = [f"c{i}" for i in range(len(grades))]
    order = list(names)
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    score = [float(len(names) - order.index(name)) for name in names]
    theirs = ndcg_score([[script.gain(g) for g in grades]], [score], k=script.TOP)
    assert script.ndcg(order, dict(zip(names, grades, strict=True))) == pytest.approx(theirs)


def test_ahead_of_all_on_the_demo() -> None:
    """Every table is printed and no sentence says that a baseline is ahead."""
    out = io.StringIO()
    behind = script.tell(demo(), JUDGED, TODAY, Console(file=out, width=150))
    text = out.getvalue()
    assert behind == [], "not ahead of all: " + " ".join(behind)
    for word in (
        "BernoulliNB",
        "MultinomialNB",
        "CategoricalNB",
        "bm25s",
        "One round for every job",
        "nDCG@10",
    ):
        assert word in text


def scored(name: str, loss: float, hits: int) -> Scores:
    share = wilson(hits, 10)
    return Scores(name, 10, share, share, loss, 0.5)


def found(name: str, value: float, share: float) -> Retrieval:
    return Retrieval(name, value, share, (), ())


@pytest.mark.parametrize(
    ("loss", "hits", "value", "share", "word"),
    [
        (1.0, 8, 0.8, 0.8, None),
        (2.0, 8, 0.8, 0.8, "Log loss"),
        (1.0, 6, 0.8, 0.8, "first three"),
        (1.0, 8, 0.6, 0.8, "nDCG@10"),
        (1.0, 8, 0.8, 0.6, "Recall@10"),
    ],
)
def test_a_baseline_that_is_level_is_named(
    loss: float, hits: int, value: float, share: float, word: str | None
) -> None:
    """The best of the baselines counts, each measure by itself, and level is not ahead."""
    ranked = [scored("Leaklore", loss, hits), scored("poor", 9, 1), scored("good", 2.0, 6)]
    searched = [found("Leaklore", value, share), found("good", 0.6, 0.6), found("poor", 0.1, 0.1)]
    lines = script.behind(ranked, searched)
    assert len(lines) == (word is not None)
    if word:
        assert word in lines[0]
        assert "good" in lines[0]
    assert script.behind([], []) == []


def test_another_companys_judgements() -> None:
    """Cases that it doesn't have are left out, with the queries that have no other."""
    lib = demo()
    some = replace(lib, cases=lib.cases[:30])
    ids = {c.id for c in some.cases}
    asked = script.queries(JUDGED, some)
    assert 0 < len(asked) < len(script.queries(JUDGED, lib))
    assert all(query.judged and set(query.judged) <= ids for query in asked)


def test_a_library_without_cases_is_measured_without_a_verdict() -> None:
    """Nothing to measure is no defeat and no fault."""
    out = io.StringIO()
    assert script.tell(replace(demo(), cases=()), JUDGED, TODAY, Console(file=out, width=150)) == []


def test_worst_queries_are_those_where_words_lead_most() -> None:
    """Sorted by the difference of nDCG, none where we lead."""
    asked = [Query(q, {}) for q in "abc"]
    ours = Retrieval("ours", 0.5, 0.5, (), (0.5, 0.9, 0.1))
    words = Retrieval("words", 0.5, 0.5, (), (0.6, 0.1, 0.8))
    assert [i for _, i in script.worst(asked, [ours, words])] == [2, 0]


def test_status_of_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """0 where nothing is ahead of us, 1 with a sentence otherwise."""
    seen: list[object] = []

    def told(lines: list[str]) -> int:
        monkeypatch.setattr(script, "tell", lambda *a: seen.append(a) or lines)
        return script.main(["--cases", str(Path(__file__).parents[2] / "cases")])

    assert told([]) == 0
    assert told(["Log loss: 2, and x has 1."]) == 1
    assert np.all([len(a) == 4 for a in seen])  # type: ignore[arg-type]
