"""The whole site without its shell: rooms of units, each of which can be made by itself, and what is made of them all.

A unit is `(room, key)`. Units know nothing of each other, so that they are made in any order, in several processes, or
left as they were (see needs.py). The page about the data files and the sitemap need to know all others: they come last.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from leaklore.language import gettext
from leaklore.pages import (
    audience,
    bench,
    case,
    cautions,
    data,
    data_page,
    feed,
    groups,
    guide,
    keep,
    key,
    links,
    listing,
    places,
    record,
    trust,
)
from leaklore.pages.book import Book
from leaklore.pages.learn import customer, evidence, lists, questions, unknown
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Listed, Made, Page
from leaklore.records.model import Case

Unit = tuple[str, str]
WHOLE = ("",)
"""The one key of a room that is made in one."""


@dataclass(frozen=True, slots=True)
class Room:
    """Pages and files that one module makes: which there are, how one is made, and its weight (milliseconds, about)."""

    keys: Callable[[Book], Iterable[str]]
    make: Callable[[Book, Templates, str], Made]
    weight: float


def _whole(make: Callable[[Book, Templates], Made], weight: float) -> Room:
    return Room(lambda book: WHOLE, lambda book, templates, _: make(book, templates), weight)


def _patterns(book: Book, templates: Templates) -> Made:
    from leaklore.pages.patterns import (
        site as patterns,  # takes long to load; most builds after an edit don't need it
    )

    return Made(*patterns.made(book, templates))


def _explore(book: Book, templates: Templates) -> Made:
    from leaklore.pages.patterns import explore  # as above

    return Made([explore.page(book, templates)], explore.files(book))


def _vega(book: Book, templates: Templates) -> Made:
    from leaklore.pages.patterns import explore_bundle  # as above

    return Made((), explore_bundle.files())


def _page(make: Callable[[Book, Templates], Page]) -> Room:
    return _whole(lambda book, templates: Made([make(book, templates)]), 5)


def _parts(
    parts: Callable[[Book], Iterable[tuple[str, str]]],
    make: Callable[[Book, Templates, tuple[str, str]], Iterable[Page]],
    weight: float,
) -> Room:
    """Of a module that names its parts by two words: the first has no slash."""

    def one(book: Book, templates: Templates, key: str) -> Made:
        kind, _, name = key.partition("/")
        return Made(make(book, templates, (kind, name)))

    return Room(lambda book: [f"{kind}/{name}" for kind, name in parts(book)], one, weight)


def _case(book: Book, templates: Templates, number: str) -> Made:
    return Made([case.page(book.library.by_id[number], book, templates)])


ROOMS: Mapping[str, Room] = {
    "patterns": _whole(_patterns, 4000),
    "trust": _whole(lambda b, t: Made([trust.page(b, t)]), 3000),
    "vega": _whole(_vega, 700),
    "groups": _parts(groups.units, groups.unit_pages, 15),
    "lists": _parts(listing.units, listing.unit_pages, 40),
    "guide": _parts(guide.units, guide.unit_pages, 10),
    "customer": _whole(lambda b, t: Made(*customer.made(b, t)), 200),
    "data": Room(data.units, lambda b, t, key: Made((), data.unit_files(b, key)), 20),
    "unknown": _whole(lambda b, t: Made(*unknown.made(b, t)), 200),
    "questions": _whole(lambda b, t: Made(*questions.made(b, t)), 300),
    "evidence": _whole(lambda b, t: Made(*evidence.made(b, t)), 20),
    "reading": _whole(lambda b, t: Made(*lists.made(b, t)), 50),
    "bench": _whole(lambda b, t: Made(bench.pages(b, t)), 100),
    "explore": _whole(_explore, 100),
    "key": _page(key.page),
    "cautions": _page(cautions.page),
    "places": _page(places.page),
    "record": _page(record.page),
    "keep": _whole(lambda b, t: Made(keep.pages(b, t), keep.files(b)), 100),
    "feed": _whole(lambda b, t: Made((), [feed.feed(b)]), 5),
    "sheet": Room(customer.numbers, lambda b, t, key: Made([customer.sheet(b, t, key)]), 0.2),
    "case": Room(lambda b: [c.id for c in b.library.cases], _case, 1),
}
"""By name; the heaviest first, so that no process works on one at the end while the others wait."""


FOUND = ("reading", "bench", "unknown", "questions", "evidence")
"""Rooms that the search finds."""
OF_ALL = ("patterns", "trust", *FOUND)
"""Rooms that are made in one and read all cases: the longest work, begun first."""
_WALK = frozenset({"lists", "guide", "customer", "key", "feed", "places", "record", "keep", "explore"})


def units(book: Book, rooms: Collection[str] = ROOMS) -> Iterator[Unit]:
    """Every unit of the site, or of some rooms, for its audience."""
    for name, room in ROOMS.items():
        if name not in rooms or not audience.made(book.library.audience, name):
            continue
        yield from ((name, of) for of in room.keys(book))


def units_of(case: Case, book: Book) -> list[Unit]:
    """The units that are about one case alone."""
    return [
        unit for unit in (("case", case.id), ("sheet", case.id)) if unit[1] in set(ROOMS[unit[0]].keys(book))
    ]


def make(book: Book, templates: Templates, unit: Unit) -> Made:
    """Pages and files of one unit."""
    name, key = unit
    return _seen(ROOMS[name].make(book, templates, key), book)


def _seen(made: Made, book: Book) -> Made:
    """Those pages and files that the audience's site has, without links to others."""
    whom = book.library.audience
    if whom == "all":
        return made
    return Made(
        [
            replace(page, body=audience.unlinked(page.body, links.root_from(page.url), whom))
            for page in made.pages
            if audience.shown(whom, page.url)
        ],
        [file for file in made.files if audience.shown(whom, file.path)],
    )


def walks(unit: Unit) -> bool:
    """Does it read many more cases than one page shows?"""
    room, key = unit
    return (
        room in _WALK or (room == "data" and key in data.WHOLE) or (room == "groups" and key in groups.WHOLE)
    )


def found_by_search(made: Mapping[Unit, Iterable[Listed]]) -> list[Listed]:
    """Pages that the search finds beside cases and guide, out of the pages of units: bench, reading lists, exercises."""
    return [page for room in FOUND for unit, pages in made.items() if unit[0] == room for page in pages]


def maps(book: Book, pages: Sequence[Listed]) -> Made:
    """The sitemap: of all other pages, and that of `last`."""
    about = Listed(data_page.URL, "", "", "data")
    return _seen(Made((), feed.sitemaps([*pages, about], book.library.company.site_url or "")), book)


def last(book: Book, templates: Templates, sizes: Mapping[str, int]) -> Made:
    """What needs to know all other files: the page about the data. `sizes`: bytes by path."""
    return _seen(Made([data_page.page(book, templates, sizes)]), book)


def missing(templates: Templates) -> Page:
    """What a server shows for an address that there isn't."""
    body = templates.render("missing.html", "")
    return Page("404.html", gettext("No such page"), gettext("There is no page here."), body, "")


@dataclass(frozen=True)
class Edition:
    """One build of the site."""

    pages: tuple[Page, ...]
    files: tuple[DataFile, ...]
    missing: Page


def edition(book: Book, overrides: Path | None = None) -> Edition:
    """Makes every page and file in this process; nothing is written."""
    templates = Templates(book, overrides)
    pages: list[Page] = []
    files: list[DataFile] = []
    for unit in units(book):
        made = make(book, templates, unit)
        pages.extend(made.pages)
        files.extend(made.files)
    files.extend(maps(book, [p.listing for p in pages]).files)
    end = last(book, templates, {f.path: len(f.content) for f in files})
    return Edition((*pages, *end.pages), (*files, *end.files), missing(templates))
