"""Everything for trainers and learners, in one call."""

from __future__ import annotations

from leaklore.pages.book import Book
from leaklore.pages.learn import customer, evidence, questions, unknown
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files of exercises, questions, progress and words for customers."""
    pages: list[Page] = []
    files: list[DataFile] = []
    for part in (unknown, questions, evidence, customer):
        more_pages, more_files = part.made(book, templates)
        pages += more_pages
        files += more_files
    return pages, files
