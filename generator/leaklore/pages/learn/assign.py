"""Assignments without a server: a link that the learner's phone understands, and a sheet with it as a code to scan."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from leaklore.analysis.results import INITIALS
from leaklore.errors import LeakloreError
from leaklore.pages import labels
from leaklore.pages.book import Book
from leaklore.pages.learn.evidence import MINE
from leaklore.pages.markup import Prose
from leaklore.pages.render import Templates
from leaklore.records.library import Library
from leaklore.records.model import ReadingList
from leaklore.records.near import did_you_mean


@dataclass(frozen=True, slots=True)
class Assignment:
    """A list for a learner; `due` is None where there is no hurry, `url` the link to the learner's page."""

    listing: ReadingList
    initials: str
    due: dt.date | None
    url: str


def listed(library: Library, key: str) -> ReadingList:
    """The list of that key. Raises LeakloreError where there is none."""
    for listing in library.reading:
        if listing.key == key:
            return listing
    keys = [listing.key for listing in library.reading]
    hint = did_you_mean(key, keys, f"write {', '.join(keys)}" if keys else "there is no list yet")
    raise LeakloreError(f'"{key}" is not a reading list; {hint}')


def given(
    library: Library, key: str, initials: Sequence[str], due: str | None, address: str | None, today: dt.date
) -> list[Assignment]:
    """Assignments of a list to learners. Raises LeakloreError for what is no list, initials, day or address."""
    listing, base = listed(library, key), labels.base(library, address)
    day = _day(due, today) if due is not None else None
    out: dict[str, Assignment] = {}
    for typed in initials:
        who = re.sub(r"[\s.]", "", typed).upper()
        if not INITIALS.fullmatch(who):
            raise LeakloreError(f'"{typed}" are no initials; write one to four letters or digits, e.g. AB')
        asked = {"list": key, "for": who} | ({"due": day.isoformat()} if day else {})
        out[who] = Assignment(listing, who, day, f"{base}{MINE}?{urlencode(asked)}")
    return list(out.values())


def sheet(book: Book, assignments: Sequence[Assignment]) -> str:
    """A page for each learner, as one HTML file that needs nothing beside it."""
    given = [{"for": a.initials, "due": a.due, "url": a.url, "code": labels.code(a.url)} for a in assignments]
    listing = assignments[0].listing
    return str(
        Templates(book).render(
            "assign.html",
            "",
            given=given,
            list=listing,
            title=Prose.plain(listing.title),
            items=len(listing.items),
        )
    )


def _day(typed: str, today: dt.date) -> dt.date:
    try:
        day = dt.date.fromisoformat(typed)
    except ValueError:
        day = None
    if day is None or not re.fullmatch(r"\d{4}-\d\d-\d\d", typed):
        raise LeakloreError(f'"{typed}" is no day; write it like {today + dt.timedelta(14)}')
    if day < today:
        raise LeakloreError(f"{typed} has passed; give a day from {today} on")
    return day
