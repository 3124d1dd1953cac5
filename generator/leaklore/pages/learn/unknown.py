"""Exercises: a real case that the learner has to solve."""

from __future__ import annotations

from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files."""
    return [], []
