"""The section of a library that has just begun: what it says of one or two cases, and in which words."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from functools import cache

import pytest

from analysis.builders import case, library
from analysis.patterns import fleet, leak, watched
from leaklore.analysis.patterns.recurrence import recurrence
from leaklore.analysis.patterns.survival import survival
from leaklore.pages.book import Book
from leaklore.pages.patterns import again, age, site
from leaklore.pages.render import Templates
from leaklore.records.model import Equipment, PartialDate

INSTALLED = dt.date(2025, 1, 1)
TODAY = dt.date(2026, 1, 1)


@cache
def young(cases: int, systems: int = 1) -> dict[str, str]:
    """What the pages say to a reader, by address."""
    new = Equipment(installed=PartialDate("2025-01", INSTALLED))
    under = [replace(watched(f"S-{i}", INSTALLED).system, equipment=new) for i in range(systems)]
    found = [case(i, labour="1 h", system=under[i % systems], lost="1 lb") for i in range(1, cases + 1)]
    lib = replace(library(*found), systems={x.id: x for x in under})
    book = Book(lib, TODAY)
    pages, _ = site.made(book, Templates(book))
    return {
        p.url: " ".join(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", str(p.body), flags=re.S).split()) for p in pages
    }


def test_one_repair_is_not_held_against_a_few_days_before_it() -> None:
    assert "If repaired systems leaked like all others, it would" not in young(1)["patterns/again/"]
    assert "If repaired systems leaked like all others, it would" in young(6, 8)["patterns/again/"]


@pytest.mark.parametrize("leaks", [0, 1])
def test_a_whole_register_without_a_leak_has_its_pages(leaks: int) -> None:
    """A company may enter its systems first; leaks are held against the rate of all from the first one on."""
    new = Equipment(installed=PartialDate("2025-01", INSTALLED))
    sorts = ("process", "residential")
    under = [
        replace(watched(f"S-{i}", INSTALLED, setting=sorts[i % 2]).system, equipment=new) for i in range(60)
    ]
    begun = library(*(case(i, system=under[i]) for i in range(1, leaks + 1)))
    lib = replace(
        begun, systems={x.id: x for x in under}, company=replace(begun.company, records_since=INSTALLED)
    )
    book = Book(lib, TODAY)
    pages, _ = site.made(book, Templates(book))
    where = next(str(p.body) for p in pages if p.url == "patterns/where/")
    assert ("Leaks against what the rate of all would give" in where) is (leaks > 0)


def test_one_case_on_one_system_is_said_in_good_words() -> None:
    first = young(1)["patterns/"]
    assert "whether it is real: 1 proven leak on 1 registered system in" in first
    assert not re.search(r"(?<!of )\b1 (systems|leaks|cases|repairs)\b", " ".join(young(1).values()))


def test_half_of_the_systems_are_those_that_the_curve_speaks_of() -> None:
    """Thirty systems were eight years old when the watch began: what they did before is not on record."""
    old = [watched(f"S-{i}", dt.date(2013, 1, 1)) for i in range(40)]
    leaks = [leak(i, old[i], dt.date(2021, 2, 1) + dt.timedelta(days=20 * i)) for i in range(25)]
    book = Book(library(), TODAY)
    told = age.topic(book, survival(fleet(old, leaks)), Templates(book)).headline
    assert told.startswith("Half of our systems that came to age 8 without one have had a leak by age 9")


@pytest.mark.parametrize("n", [4, 6])
def test_settings_are_not_compared_by_fewer_than_five_first_leaks(n: int) -> None:
    """All leaks are in the ten shops, none in the twenty homes."""
    both = [
        watched(f"S-{i}", dt.date(2020, 1, 1), setting="process" if i < 10 else "residential")
        for i in range(30)
    ]
    leaks = [leak(i, both[i], dt.date(2021, 2, 1) + dt.timedelta(days=30 * i)) for i in range(n)]
    book = Book(library(), TODAY)
    said = str(age.topic(book, survival(fleet(both, leaks)), Templates(book)).sections)
    assert ("Only 4 first leaks on record: too few to tell." in said) is (n == 4)
    assert ("Yes. If systems of all settings leaked alike" in said) is (n == 6)
    assert ("Log-rank test" in said) is (n == 6)


@pytest.mark.parametrize("systems", [1, 2])
def test_one_bad_system_does_not_make_a_failure_that_comes_back(systems: int) -> None:
    """Ten leaks in five years, all of one system or by turns of two, among forty that never leak."""
    forty = [watched(f"S-{i}", dt.date(2020, 1, 1)) for i in range(40)]
    leaks = [leak(i, forty[i % systems], dt.date(2021, 2, 1) + dt.timedelta(days=150 * i)) for i in range(10)]
    told = again.topic(
        Book(library(), TODAY), recurrence(fleet(forty, leaks)), Templates(Book(library(), TODAY))
    )
    said = " ".join(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", str(told.sections), flags=re.S).split())
    assert ("On one system alone:" in said) is (systems == 1)
    assert ("More often than chance: loose-flare" in told.headline) is (systems == 2)
    assert "if it did so at least 5 times, on two systems or more" in said


def test_leaks_on_average_are_counted_from_the_age_at_which_systems_came_under_watch() -> None:
    old = [watched(f"S-{i}", dt.date(2013, 1, 1)) for i in range(40)]
    leaks = [leak(i, old[i], dt.date(2021, 2, 1) + dt.timedelta(days=20 * i)) for i in range(25)]
    book = Book(library(), TODAY)
    said = str(again.topic(book, recurrence(fleet(old, leaks)), Templates(book)).sections)
    assert "From age 8 to 10 a system has had" in said
    assert "By age 10 a system has had" not in said


def test_quarters_of_single_failures_are_told_out_of_their_own_number() -> None:
    """One failure over four quarters: all leaks together are no single failure."""
    said = young(12, 30)["patterns/over-time/"]
    assert "1 quarter of single failures lies outside" in said
    assert "Among 4 quarters looked at" in said


def test_no_sentence_runs_into_the_next() -> None:
    for address, said in (*young(1).items(), *young(12, 30).items()):
        assert not re.search(r"[a-z)%][.;:][A-Z][a-z]", said), address
