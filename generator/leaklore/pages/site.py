"""The whole site without its shell: every page and every data file of one library."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from leaklore.pages import (
    bench,
    case,
    data,
    data_page,
    feed,
    groups,
    guide,
    keep,
    key,
    listing,
    record,
    trust,
)
from leaklore.pages.book import Book
from leaklore.pages.learn import lists
from leaklore.pages.learn import site as learn
from leaklore.pages.patterns import site as section
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page


@dataclass(frozen=True)
class Edition:
    """One build of the site."""

    pages: tuple[Page, ...]
    files: tuple[DataFile, ...]
    missing: Page


def edition(book: Book, overrides: Path | None = None) -> Edition:
    """Makes every page and file; nothing is written."""
    templates = Templates(book, overrides)
    patterns, pattern_files = section.made(book, templates)
    reading, reading_files = lists.made(book, templates)
    lessons, lesson_files = learn.made(book, templates)
    files = [*data.files(book), *pattern_files, *reading_files, *lesson_files, feed.feed(book)]
    pages = [
        *listing.pages(book, templates),
        *reading,
        *case.pages(book, templates),
        *guide.pages(book, templates),
        *groups.pages(book, templates),
        *bench.pages(book, templates),
        key.page(book, templates),
        record.page(book, templates),
        trust.page(book, templates),
        *patterns,
        *lessons,
        *keep.pages(book, templates),
        data_page.page(book, templates, files),
    ]
    files.extend(keep.files(book))
    files.append(feed.sitemap(pages, book.library.company.site_url or ""))
    missing = Page(
        "404.html", "No such page", "There is no page here.", templates.render("missing.html", ""), ""
    )
    return Edition(tuple(pages), tuple(files), missing)
