"""The topic "Where it recurs", the summary, and the section's data for machines."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from dataclasses import replace
from functools import cache
from typing import Any

import html5lib
import pytest

from analysis.builders import case, demo, library
from leaklore.analysis.patterns.signals import ALL, SORTS
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.patterns import names, site, where
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.records.library import Library

TODAY = dt.date(2026, 11, 26)


@cache
def of_demo() -> Topic:
    book = Book(demo(), TODAY)
    return where.topic(book, book.patterns, Templates(book))


@cache
def whole() -> tuple[list[Page], list[DataFile]]:
    book = Book(demo(), TODAY)
    return site.made(book, Templates(book))


def text(markup: object) -> str:
    tree = html5lib.parse(str(markup), namespaceHTMLElements=False)
    return " ".join("".join(tree.itertext()).split())


def data(name: str) -> dict[str, Any]:
    (found,) = [f for f in whole()[1] if f.path == f"data/{name}.json"]
    return dict(json.loads(found.content))


def empty(*cases: Any) -> Library:
    return replace(library(*cases), systems={}, sites={})


def test_it_tells_the_two_real_patterns_in_one_sentence_each() -> None:
    said = text(of_demo().sections)
    assert re.search(
        r"Osmere, crew O3, home: 9 flare joint leaks in 77 system-years, 12\.9 times the rest \(4\.9 to 32\.\d, 95 % sure if it were the only look\)\.",
        said,
    )
    assert re.search(
        r"Saltmarsh Green phase 2: 6 leaks by formicary corrosion in 88 system-years, 15\.1 times the rest",
        said,
    )
    assert "crew O3" in of_demo().headline
    assert "Saltmarsh" in of_demo().headline


def test_the_figure_in_large_type_is_the_cautious_one() -> None:
    """Seven leaks against one are 31 times the rest, between 4 and 1 377: no headline."""
    book = Book(demo(), TODAY)
    told = {s.title: s.figure for s, _ in where.stories(book, book.patterns, own=True)}
    assert told["Condensing unit and cold room: threaded joint leak"] == "4.1 times the average"
    signals = [s for s in data("patterns")["signals"] if s["own"] and s["within"] is None]
    assert [f"{display.number(s['drawn_in'])} times the average" for s in signals] == list(told.values())


@pytest.mark.parametrize("page", ["patterns/", "patterns/where/"])
def test_whoever_reads_of_a_crew_reads_of_age_and_of_the_batch_too(page: str) -> None:
    (made,) = [p for p in whole()[0] if p.url == page]
    said = text(made.body)
    assert re.search(
        r"Of the same age, too: 5\.\d times \(1\.\d to 2\d, likewise\)\. 9 of 17 systems had one\.", said
    )
    assert "The same leaks, sorted otherwise: 8 in Orchard Rise; 9 in Osmere, crew O3;" in said
    assert "Figures alone can’t tell which of these is behind it." in said


@pytest.mark.parametrize("page", ["patterns/", "patterns/again/"])
def test_the_kind_of_repair_that_does_not_hold_is_told_with_its_doubt(page: str) -> None:
    looked = [
        c
        for c in demo().active
        if c.counted and c.fix and c.fix.action == "rebraze" and c.fix_held is not None
    ]
    back = sum(c.fix_held is False for c in looked)
    (made,) = [p for p in whole()[0] if p.url == page]
    told = f"{back} of {len(looked)} that were looked at again were found leaking "
    assert re.search(
        re.escape(told) + r"\(\d+ %; \d+ to \d+ %, 95 % sure\); of all other repairs \d+ of \d+ \(\d+ %\)\.",
        text(made.body),
    )


def test_the_false_pattern_is_no_signal_anywhere() -> None:
    assert "valve-core" not in {s["mode"] for s in data("patterns")["signals"]}
    assert not re.search(r"crew K1[^.]*valve core", text(of_demo().sections))


def test_it_says_how_many_groups_were_looked_at() -> None:
    told = data("patterns")
    said = text(of_demo().sections)
    assert f"{told['groups_looked_at']} groups were looked at" in said
    assert told["looks"] == told["groups_looked_at"] * (
        1 + len({leak.mode for leak in Book(demo(), TODAY).patterns.fleet.leaks})
    )


def test_the_file_has_what_it_promises() -> None:
    told = data("patterns")
    assert told["version"] == 1
    assert told["signals"]
    active = {c.id for c in demo().active}
    for s in told["signals"]:
        assert s["by"] in SORTS
        assert set(s) >= {
            "by", "group", "mode", "cases", "system_years", "expected", "ratio", "low", "high", "q_value", "ids",
        }  # fmt: skip
        assert set(s["ids"]) <= active
        assert 0 < s["q_value"] <= 0.1
        assert s["low"] > 1
        assert s["within"] is None or told["signals"][s["within"]]["mode"] == s["mode"]
        if s["ratio"] is not None:
            assert s["low"] <= s["ratio"]
            assert s["cases"] / s["expected"] == pytest.approx(s["ratio"], rel=1e-4)
    for name in ("survival", "costs"):
        assert data(name)["version"] == 1


def test_cases_that_are_in_no_rate_are_told_and_linked() -> None:
    apart = data("patterns")["left_out"]["unproven"]
    said = text(of_demo().sections)
    assert f"{len(apart)} cases, since the cause is not proven" in said
    assert all(number in said for number in apart)


def test_the_picture_says_which_groups_it_draws() -> None:
    """It is headed "All groups", and draws a third of them."""
    said = text(of_demo().sections)
    assert (
        "Drawn are the groups by crew that installed, building batch, way of the lines, branch, kind of place, "
        "kind of equipment; the table has all."
    ) in said


def test_every_topic_has_a_page_a_sentence_and_its_tables() -> None:
    pages, files = whole()
    summary = text(pages[0].body)
    topics = site.topics(Book(demo(), TODAY))
    assert [t.key for t in topics] == ["where", "cost", "watch", "again", "age", "over-time", "changes"]
    urls = {p.url for p in pages}
    paths = {f.path for f in files}
    for topic in topics:
        assert topic.url in urls
        assert " ".join(topic.headline.split()) in summary
        assert topic.headline.endswith(".")
        for table in topic.tables:
            assert table.csv in paths


def test_every_column_of_every_table_is_told_in_a_file_of_its_own() -> None:
    files = {f.path.rpartition("/")[2]: f.content.decode() for f in whole()[1] if f.path.endswith(".csv")}
    told = list(csv.DictReader(io.StringIO(files.pop("columns.csv"), newline="")))
    assert len(files) > 20
    for name, content in files.items():
        head = content.splitlines()[0].split(",")
        assert [row["column"] for row in told if row["file"] == name] == head
    assert all(row["meaning"] and row["written"] and "{" not in row["written"] for row in told)
    assert {row["written"] for row in told if row["column"] == "money_sum"} == {"money in USD"}


def test_a_library_without_a_register_says_what_is_missing() -> None:
    book = Book(empty(case(1), case(2)), TODAY)
    topics = site.topics(book)
    assert "Put the installs into the register" in text(topics[0].sections)
    for topic in topics:
        assert topic.headline


def test_an_empty_library_has_all_pages_too() -> None:
    book = Book(empty(), TODAY)
    pages, _ = site.made(book, Templates(book))
    assert len(pages) == len(whole()[0])


def test_names_of_groups_and_leaks() -> None:
    lib = demo()
    assert names.group("crew", ("K1",), lib) == "Ketterwick, crew K1"
    assert names.group("install-year", ("2021",), lib) == "Installed in 2021"
    assert names.group("crew", ("X9",), lib) == "Crew X9"
    assert names.leak("flare-joint", lib) == "flare joint leaks"
    assert names.leak("rub-through", lib) == "leaks by rub-through"
    assert names.leak(ALL, lib) == "leaks of all kinds"
