"""Fixtures of the pages' tests: the demo library, and all its pages made once."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import settings

from analysis.builders import demo
from leaklore.pages.book import Book
from leaklore.pages.site import Edition, edition
from leaklore.records.library import Library

settings.register_profile("patient", deadline=None, max_examples=60)
settings.load_profile("patient")  # a busy machine is no fault of the code


@pytest.fixture(scope="session")
def demo_library() -> Library:
    """The demo library, read once."""
    return demo()


@pytest.fixture(scope="session")
def demo_book(demo_library: Library) -> Book:
    """The demo library with its statistics."""
    return Book(demo_library, dt.date(2026, 12, 31))


@pytest.fixture(scope="session")
def demo_edition(demo_book: Book) -> Edition:
    """Every page and file of the demo library."""
    return edition(demo_book)
