"""Fixtures: the demo library, and both sides that check."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from analysis.builders import demo
from leaklore.pages.book import Book
from leaklore.records.check import check
from records.helpers import LIBRARY

from .desk import TODAY, Office, Phone


@pytest.fixture(scope="session")
def book() -> Book:
    """The demo library with its statistics."""
    return Book(demo(), TODAY)


@pytest.fixture(scope="session")
def office(book: Book) -> Office:
    """Python's side."""
    return Office(book)


@pytest.fixture(scope="session")
def phone(book: Book) -> Iterator[Phone]:
    """The browser's side."""
    made = Phone(book)
    yield made
    made.close()


@pytest.fixture(scope="session")
def small() -> Iterator[tuple[Phone, Office]]:
    """Both sides for the small library of the records' tests."""
    found = check(LIBRARY, today=TODAY).library
    assert found is not None
    book = Book(found, TODAY)
    made = Phone(book)
    yield made, Office(book)
    made.close()
