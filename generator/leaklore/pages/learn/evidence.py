"""What a learner has done, on this phone, and what a trainer sees of it."""

from __future__ import annotations

from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files."""
    return [], []
