"""The topics cost, changes and watch: what they say of the demo, of an SI company, and where there is nothing yet."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import TypeVar

import html5lib
import pytest

from analysis.builders import case, demo, library
from leaklore.analysis.patterns.changes import changes
from leaklore.analysis.patterns.exposure import fleet
from leaklore.analysis.patterns.money import money
from leaklore.analysis.patterns.watch_list import watch_list
from leaklore.pages.book import Book
from leaklore.pages.patterns import changes as changes_page
from leaklore.pages.patterns import cost as cost_page
from leaklore.pages.patterns import watch as watch_page
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.records.library import Library

T = TypeVar("T")
TODAY = dt.date(2026, 11, 26)
TOPICS: dict[str, Callable[[Library], Topic]] = {
    "cost": lambda lib: cost_page.topic(*_book(lib, money(lib, fleet(lib, TODAY)))),
    "changes": lambda lib: changes_page.topic(*_book(lib, changes(lib, fleet(lib, TODAY)))),
    "watch": lambda lib: watch_page.topic(*_book(lib, watch_list(lib, fleet(lib, TODAY)))),
}


def _book(lib: Library, found: T) -> tuple[Book, T, Templates]:
    book = Book(lib, TODAY)
    return book, found, Templates(book)


@cache
def of_demo(key: str) -> Topic:
    return TOPICS[key](demo())


@cache
def metric(key: str) -> Topic:
    lib = demo()
    return TOPICS[key](replace(lib, company=replace(lib.company, units="si")))


def text(topic: Topic) -> str:
    """What a reader sees."""
    return " ".join(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", str(topic.sections), flags=re.S).split())


@pytest.mark.parametrize("key", TOPICS)
def test_ids_heads_and_tables_are_the_topic_s_own(key: str) -> None:
    topic = of_demo(key)
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parseFragment(str(topic.sections))
    ids = [e.get("id") for e in tree.iter() if isinstance(e.tag, str) and e.get("id")]

    assert topic.key == key
    assert all(i.startswith(f"{key}-") for i in ids)
    assert len(set(ids)) == len(ids)
    assert {e.tag for e in tree} == {"section"}
    assert not tree.findall(".//h1")
    assert all(t.key.startswith(f"{key}-") and f'id="{t.key}-table"' in topic.sections for t in topic.tables)
    assert topic.headline.endswith(".")
    assert "—" not in text(topic)


def test_the_cost_page_says_how_sure_its_order_is() -> None:
    said = text(of_demo("cost"))
    assert "another one stands first, so don’t plan by the order of the first bars" in said
    assert "Not priced:" in said
    assert re.search(
        r"\d+ of 21 failures carry half of it \(\d+\u202f%; \d+ to \d+\u202f%, 95 % sure\)",
        of_demo("cost").headline,
    )


def test_the_changes_page_says_what_can_t_be_told_yet() -> None:
    said = text(of_demo("changes"))
    assert said.count("Too early to tell") >= 4
    assert "Fewer leaks since" in said
    assert "even a halving would not show within 20 years" in said
    assert "that would show with a chance of 80 of 100 after" in said


def test_the_watch_page_says_how_such_a_list_did_and_names_paragraphs() -> None:
    said = text(of_demo("watch"))
    assert "It can’t be said to do better than the largest charge alone." in said
    assert "Local law and the nameplate decide." in said
    dues = next(t for t in of_demo("watch").tables if t.key == "watch-dues")
    at = [c.key for c in dues.columns].index("paragraph")
    assert dues.rows
    assert all(re.match(r"40 CFR 8[24]\.|42 U\.S\.C\.", str(row[at])) for row in dues.rows)


def test_an_si_company_reads_kilograms_and_the_union_s_rules() -> None:
    watch = metric("watch")
    columns = {c.key for t in watch.tables for c in t.columns}
    assert "expected_kg" in columns
    assert "expected_lb" not in columns
    assert "Regulation (EU) 2024/573" in text(watch)
    dues = next(t for t in watch.tables if t.key == "watch-dues")
    assert {row[1] for row in dues.rows} == {"look again", "leak check"}
    assert any(c.key == "lost_kg" for t in metric("cost").tables for c in t.columns)


@pytest.mark.parametrize("key", TOPICS)
@pytest.mark.parametrize("cases", [0, 1, 4])
def test_a_young_library_says_what_is_missing(key: str, cases: int) -> None:
    topic = TOPICS[key](library(*(case(i + 1, labour="1 h") for i in range(cases))))
    said = text(topic)
    assert 'class="empty"' in topic.sections
    assert "carry half" not in topic.headline
    if key == "cost" and cases:
        assert f"Only {cases} proven case" in said
