"""The book goes whole to another process: what it computed goes with it, and its pages are the same there."""

from __future__ import annotations

import datetime as dt
import pickle
from dataclasses import replace

import pytest

from leaklore.analysis import evaluate
from leaklore.pages import case as case_page
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.records.library import Library


@pytest.fixture(scope="module")
def shipped(demo_book: Book) -> Book:
    """The demo's book, made ready and sent through a pickle."""
    sent: Book = pickle.loads(pickle.dumps(demo_book.ready(), pickle.HIGHEST_PROTOCOL))
    return sent


def test_a_shipped_book_makes_the_same_pages(demo_book: Book, shipped: Book) -> None:
    """Of every tenth case: with and without a rate, with likenesses, withdrawn ones too."""
    here, there = Templates(demo_book), Templates(shipped)
    chosen = demo_book.library.cases[::10]
    assert len(chosen) > 20
    for one in chosen:
        mine = case_page.page(one, demo_book, here)
        assert case_page.page(shipped.library.by_id[one.id], shipped, there) == mine


def test_a_shipped_book_computes_nothing_again(demo_book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was computed goes along but for what renders prose; the ranking is not measured a second time."""
    assert demo_book.ready().trust.searched > 0
    sent: Book = pickle.loads(pickle.dumps(demo_book))
    monkeypatch.setattr(evaluate, "trust", None)
    assert repr(sent.trust) == repr(demo_book.trust)
    assert demo_book.__dict__.keys() - sent.__dict__.keys() <= {"prose", "_known"}


@pytest.mark.parametrize("count", [0, 1, 3])
def test_a_young_library_is_made_ready(count: int, demo_library: Library) -> None:
    """With too few cases for any figure."""
    few = replace(demo_library, cases=demo_library.cases[:count])
    assert Book(few, dt.date(2026, 12, 31)).ready().likeness.keys() == {c.id for c in few.cases}
