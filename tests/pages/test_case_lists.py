"""Lists of cases, guide and register of a library that is many times as large as the demo."""

from __future__ import annotations

import datetime as dt
import gzip
import pickle
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from lxml import html

from leaklore.pages import case_lists, groups, guide, links, listing
from leaklore.pages.book import Book
from leaklore.pages.register import register
from leaklore.pages.render import Templates
from leaklore.pages.rows import ALL, SHOWN
from leaklore.pages.spec import Page
from leaklore.records.library import Library

from .large import times

MOST = 60_000
"""Bytes of any page, packed."""
ROOMS = (listing, guide, groups)


def made(book: Book) -> dict[str, Page]:
    """All pages of the lists, the guide and the register."""
    templates = Templates(book)
    found = [page for room in ROOMS for page in room.pages(book, templates)]
    assert len({page.url for page in found}) == len(found), "no address twice"
    return {page.url: page for page in found}


@pytest.fixture(scope="module")
def large(demo_library: Library) -> Book:
    """Ten times the demo: some 2,000 cases."""
    return Book(times(demo_library, 10), dt.date(2026, 12, 31))


@pytest.fixture(scope="module")
def pages(large: Book) -> dict[str, Page]:
    """Its pages."""
    return made(large)


@pytest.fixture(scope="module")
def small(demo_book: Book) -> dict[str, Page]:
    """Pages of the demo."""
    return made(demo_book)


def packed(page: Page) -> int:
    """Bytes of a page's text, packed."""
    return len(gzip.compress(str(page.body).encode(), 6))


def cases_named(page: Page) -> list[str]:
    """Numbers of the cases of a list, in its order."""
    items = html.fromstring(str(page.body)).xpath('//*[@id="case-list"]//h2/a/@href')
    return [str(href).rstrip("/").rsplit("/", 1)[-1] for href in items]


def test_units_make_the_pages_and_can_be_sent_to_another_process(large: Book, pages: dict[str, Page]) -> None:
    templates = Templates(large)
    got: list[str] = []
    for room in ROOMS:
        units = room.units(large)
        assert len(set(units)) == len(units)
        assert pickle.loads(pickle.dumps(units)) == units
        got += [page.url for unit in units for page in room.unit_pages(large, templates, unit)]
    assert got == list(pages)


def test_no_page_is_large(pages: dict[str, Page]) -> None:
    sizes = {url: packed(page) for url, page in pages.items()}
    assert max(sizes.values()) < MOST / 2, max(sizes, key=sizes.__getitem__)


def test_no_page_grows_with_the_library(demo_library: Library, pages: dict[str, Page]) -> None:
    """Twice as many cases again: no page that was there has twice the words."""
    more = made(Book(times(demo_library, 20), dt.date(2026, 12, 31)))
    for url, page in pages.items():
        if not re.match(r"systems/S-|systems/$", url):  # the register's front names each of its pages
            assert packed(more[url]) < 1.6 * packed(page) + 1500, url


def test_every_case_stands_in_the_list_of_its_year_newest_first(large: Book, pages: dict[str, Page]) -> None:
    for year in {case.year for case in large.library.cases}:
        named = list(follow(pages, f"cases/{year}/"))
        assert named == [c.id for c in large.library.newest if c.year == year]


def follow(pages: dict[str, Page], url: str) -> Iterator[str]:
    """Cases of a list, page after page by its links to older ones."""
    seen: set[str] = set()
    while url not in seen:
        seen.add(url)
        yield from cases_named(pages[url])
        tree = html.fromstring(str(pages[url].body))
        older = {str(href) for href in tree.xpath('//a[@rel="next"]/@href')}
        for href in older:
            url = re.sub(r"^(\.\./)+", "", href)
    assert len(seen) > 1


def test_a_page_behind_the_head_says_which_cases_it_has(pages: dict[str, Page]) -> None:
    page = pages["cases/2024/2/"]
    assert page.title == "Cases of 2024, 51 to 100"
    assert "Cases 51 to 100 of 460, counted from the oldest" in page.body


def test_a_page_of_the_running_year_stays_when_a_case_comes(demo_library: Library) -> None:
    """Only the first page, the year's own and the failure mode's list change."""
    library = times(demo_library, 10)
    newest = library.newest[0]
    before = made(Book(_without(library, newest.id), dt.date(2026, 12, 31)))
    after = made(Book(library, dt.date(2026, 12, 31)))
    lists = [url for url in after if url.startswith("cases/")]
    changed = {url for url in lists if url not in before or before[url].body != after[url].body}
    mode = links.cases_of(newest.cause.mode)
    assert {url for url in changed if not url.startswith(mode)} == {"cases/", "cases/2026/"}
    assert 1 <= len([url for url in changed if url.startswith(mode)]) <= 2


def _without(library: Library, number: str) -> Library:
    return replace(library, cases=tuple(c for c in library.cases if c.id != number))


def test_a_failure_mode_with_many_cases_has_a_list_of_them_all(large: Book, pages: dict[str, Page]) -> None:
    key = max(large.modes, key=lambda k: len(large.modes[k].cases))
    cases = large.modes[key].cases
    page = pages[links.address("mode", key)]
    rows = html.fromstring(str(page.body)).xpath('//tr[starts-with(@id, "row-")]')
    assert len(rows) == SHOWN
    assert f"{SHOWN} of {len(cases)}" in page.body
    assert f'href="../../../{links.cases_of(key)}"' in page.body
    assert sorted(follow(pages, links.cases_of(key))) == sorted(c.id for c in cases)


def test_few_cases_all_stand_on_the_page(demo_book: Book, small: dict[str, Page]) -> None:
    """In the demo no failure mode needs a list of its own."""
    for key, found in demo_book.modes.items():
        assert len(found.cases) <= ALL
        rows = html.fromstring(str(small[links.address("mode", key)].body)).xpath(
            '//tr[starts-with(@id, "row-")]/@id'
        )
        assert sorted(rows) == sorted(f"row-{c.id}" for c in found.cases)
        assert links.cases_of(key) not in small


def test_the_figures_of_a_branch_lead_to_all_of_its_cases(demo_book: Book, small: dict[str, Page]) -> None:
    """59 cases stood behind them, and 20 on the page."""
    for kind in ("branch", "setting"):
        for key, found in demo_book.groups[kind].items():
            tree = html.fromstring(str(small[links.address(kind, key)].body))
            rows = tree.xpath('//*[@id="cases"]/..//tr[starts-with(@id, "row-")]/@id')
            assert sorted(rows) == sorted(f"row-{c.id}" for c in found.cases)
    assert max(len(found.cases) for found in demo_book.groups["branch"].values()) > ALL


def test_a_list_on_one_page_is_filtered_there_and_a_longer_one_in_the_search(
    small: dict[str, Page], pages: dict[str, Page]
) -> None:
    assert 'data-filter="case-list"' in small["cases/2024/"].body
    assert small["cases/2024/"].body.count("data-words=") == 46
    assert small["cases/"].body.count("data-words=") == 218
    for page in (pages["cases/"], pages["cases/2024/"]):
        assert "data-filter=" not in page.body
        assert "data-words=" not in page.body
        assert re.search(r'<form class="filter" role="search" action="[./]+search/">', page.body)
    assert "<form" not in pages["cases/2024/2/"].body


def test_the_first_page_has_the_newest_and_leads_to_every_year(large: Book, pages: dict[str, Page]) -> None:
    assert cases_named(pages["cases/"]) == [c.id for c in large.library.newest[:50]]
    for year in {case.year for case in large.library.cases}:
        assert f'href="../cases/{year}/"' in pages["cases/"].body


def test_the_address_of_the_newest_leads_on(small: dict[str, Page]) -> None:
    page = small["cases/newest/"]
    assert not page.listed
    assert 'http-equiv="refresh" content="0; url=../"' in page.head
    assert 'href="../../cases/"' in page.body


def test_every_system_stands_once_in_the_register_and_leads_to_its_site(
    large: Book, pages: dict[str, Page]
) -> None:
    found = register(large)
    assert len({part.url for part in found.parts}) > 3
    leads = []
    for part in found.parts:
        body = pages[part.url].body
        leads += re.findall(r'href="[./]+systems/(S-\d+)/"', body)
        for site, _ in part.sites:
            assert f'id="{site.key}"' in body
        assert f'href="../{part.url}"' in pages["systems/"].body
    assert sorted(leads) == sorted(large.library.systems)
    for system in large.library.systems.values():
        where = found.place[system.site.key]
        assert f'{where}#{system.site.key}"' in pages[links.address("system", system.id)].body


def test_a_small_register_is_one_page(demo_book: Book, small: dict[str, Page]) -> None:
    assert [url for url in small if url.startswith("systems/") and "S-" not in url] == ["systems/"]
    for key in {s.site.key for s in demo_book.library.systems.values()}:
        assert f'id="{key}"' in small["systems/"].body


def test_words_of_a_case_are_its_own(demo_book: Book) -> None:
    case = next(c for c in demo_book.library.counted if c.cause.mode == "flare-joint")
    found = case_lists.words(case, demo_book).split()
    assert {"flare", "proven", case.id.lower()} <= set(found)
    assert len(set(found)) == len(found)


def test_the_head_of_all_cases_says_why_the_list_has_more(
    small: dict[str, Page], demo_library: Library
) -> None:
    """The list has withdrawn cases, the number on record has not."""
    cases = demo_library.cases
    gone = sum(case.withdrawn is not None for case in cases)
    assert gone > 1
    assert small["cases/"].description.startswith(f"{len(cases) - gone} cases on record, ")
    assert small["cases/"].description.endswith(f" {gone} more are withdrawn and count nowhere.")

    left = tuple(case for case in cases if case.withdrawn is None)
    book = Book(replace(demo_library, cases=left), dt.date(2026, 12, 31))
    assert "withdrawn" not in made(book)["cases/"].description
