"""Fixtures of the statistics' tests."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import settings

from leaklore.pages.book import Book
from leaklore.records.library import Library

from .builders import demo

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
