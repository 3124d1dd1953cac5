"""Reading lists: their pages, the file that phones read, and how long reading takes."""

from __future__ import annotations

import json
from dataclasses import replace
from math import ceil
from typing import Any

import html5lib
import pytest

from leaklore.analysis.unknown import suitable
from leaklore.pages import guide, links
from leaklore.pages.bench import BENCHES
from leaklore.pages.book import Book
from leaklore.pages.learn import evidence, lists
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.records.model import ReadingItem, ReadingList, Taken
from leaklore.records.reading import no_exercise
from leaklore.website.press import searched

MEAN = 238
"""Words a minute of adults who read English non-fiction in silence (Brysbaert 2019, J. Memory and Language 109,
104047; from memory)."""
BY_HEART = 138
"""Words a minute of students who learn a text by heart (Carver 1992, J. of Reading 36; from memory)."""


@pytest.fixture(scope="module")
def made(demo_book: Book) -> tuple[list[Page], list[DataFile]]:
    """Pages and files of the demo's lists."""
    return lists.made(demo_book, Templates(demo_book))


def tree(html: str) -> Any:
    """A page's body, parsed as browsers do."""
    return html5lib.parse(html, namespaceHTMLElements=False)


def with_class(root: Any, name: str) -> list[Any]:
    """Elements of a class."""
    return [e for e in root.iter() if name in (e.get("class") or "").split()]


def words(element: Any) -> int:
    """Words that a reader sees in an element."""
    return len("".join(element.itertext()).split())


def test_the_topic_of_an_unknown_case_does_not_tell_its_cause(demo_book: Book) -> None:
    """The trainer's table, which a crew sees together, and its open data file."""
    modes = {entry.name for entry in demo_book.library.guide.modes.values()}
    told = evidence.topics(demo_book)
    unknowns = [topic for name, topic in told.items() if name.startswith("unknown:")]
    assert unknowns
    assert not modes & set(unknowns)
    assert "Other" not in told.values()


@pytest.mark.parametrize("kind", ["mode", "technique", "symptom", "component", "refrigerant"])
def test_nobody_is_asked_to_read_faster_than_people_read(kind: str, demo_book: Book) -> None:
    """The words on the finished pages, at the pace of two published studies, bound the minutes that lists give."""
    for page in guide.pages(demo_book, Templates(demo_book)):
        keys = [k for k in demo_book.library.guide.entries(kind) if links.address(kind, k) == page.url]
        if not keys:
            continue
        root = tree(page.body)
        counted = sum(words(e) for name in ("prose", "page-head__lead") for e in with_class(root, name))
        everything = sum(
            words(e)
            for name in ("prose", "page-head__lead", "lesson", "caution__list", "customer__text", "facts")
            for e in with_class(root, name)
        )
        minutes = lists.reading_minutes(ReadingItem(kind, keys[0], ""), demo_book)
        assert counted / MEAN <= minutes <= ceil(everything / BY_HEART) + 1, (page.url, minutes)


def test_the_pace_lies_between_reading_and_learning_by_heart() -> None:
    assert BY_HEART < lists.WORDS_A_MINUTE < MEAN


def test_a_longer_story_takes_longer(demo_book: Book) -> None:
    lib = demo_book.library
    case = lib.counted[0]
    item = ReadingItem("case", case.id, "")
    longer = replace(case, story=case.story + " word" * lists.WORDS_A_MINUTE * 5)
    book = Book(replace(lib, cases=(longer,)), demo_book.today)

    assert lists.reading_minutes(item, book) == lists.reading_minutes(item, demo_book) + 5


def test_the_file_says_what_each_list_holds(demo_book: Book, made: tuple[list[Page], list[DataFile]]) -> None:
    (file,) = made[1]
    told = json.loads(file.content)

    assert file.path == "data/learn/lists.json"
    assert list(told) == ["version", "edition", "lists"]
    assert (told["version"], told["edition"]) == (1, "2026-12-31")
    assert [one["key"] for one in told["lists"]] == [r.key for r in demo_book.library.reading]
    for one, listing in zip(told["lists"], demo_book.library.reading, strict=True):
        assert list(one) == ["key", "title", "audience", "level", "due_days", "minutes", "able_to", "items"]
        assert one["minutes"] == sum(i["minutes"] for i in one["items"])
        assert [i["key"] for i in one["items"]] == [i.name for i in listing.items]
        for item in one["items"]:
            assert list(item) == ["key", "title", "what", "url", "minutes", "why"]
            assert all(item[key] for key in item)
            assert "[[" not in item["why"]


def test_every_address_is_a_page(demo_book: Book, made: tuple[list[Page], list[DataFile]]) -> None:
    lib = demo_book.library
    there = {
        links.address(kind, key)
        for kind in links.FOLDERS
        if kind in guide.TITLES
        for key in lib.guide.entries(kind)
    }
    there |= {links.address("case", c.id) for c in lib.cases} | {b.url for b in BENCHES}
    there |= {"reading/unknown/", "reading/questions/"}
    told = json.loads(made[1][0].content)

    urls = [item["url"] for one in told["lists"] for item in one["items"]]

    assert {url.partition("?")[0] for url in urls} <= there
    assert any("?case=" in url for url in urls)
    assert any("?topic=" in url for url in urls)


def test_a_page_marks_the_list_and_each_item_for_the_phone(
    demo_book: Book, made: tuple[list[Page], list[DataFile]]
) -> None:
    pages = {p.url: p for p in made[0]}
    for listing in demo_book.library.reading:
        page = pages[links.address("reading", listing.key)]
        root = tree(page.body)
        (box,) = [e for e in root.iter() if e.get("data-list")]
        rows = [e for e in box.iter() if e.get("data-item")]
        assert box.get("data-list") == listing.key
        assert [e.get("data-item") for e in rows] == [i.name for i in listing.items]
        for row in rows:
            (state,) = [e for e in row.iter() if e.get("data-item-state") is not None]
            assert not "".join(state.itertext())
        assert f"leaklore booklet {listing.key}" in page.body
        assert page.section == "reading"
        assert "js/learn.mjs" in page.head


def test_no_list_tells_the_answer_of_its_exercises(
    demo_book: Book, made: tuple[list[Page], list[DataFile]]
) -> None:
    lib = demo_book.library
    told = json.loads(made[1][0].content)
    exercises = [i for one in told["lists"] for i in one["items"] if i["key"].startswith("unknown:")]

    assert len(exercises) >= 9
    for item in exercises:
        case = lib.by_id[item["key"].partition(":")[2]]
        said = f"{item['title']} {item['why']} {item['what']}".lower()
        assert lib.guide.modes[case.cause.mode].name.lower() not in said
        assert lib.guide.components[case.cause.component].name.lower() not in said
        assert case.title.lower() not in said


def test_the_index_names_every_list_under_its_level(
    demo_book: Book, made: tuple[list[Page], list[DataFile]]
) -> None:
    page = next(p for p in made[0] if p.url == "reading/")
    root = tree(page.body)

    heads = ["".join(e.itertext()) for e in root.iter("h2")]
    named = ["".join(e.itertext()) for e in root.iter("h3")]

    assert heads == ["For apprentices", "For technicians", "For lead technicians", "Without a list"]
    assert {r.title for r in demo_book.library.reading} <= set(named)


def test_the_demo_has_every_kind_of_item_and_two_lists_that_fill_themselves(demo_book: Book) -> None:
    reading = demo_book.library.reading
    kinds = {i.kind for r in reading for i in r.items}

    assert kinds >= {"case", "mode", "technique", "bench", "unknown", "questions"}
    assert all({"bench", "unknown", "questions"} & {i.kind for i in r.items} for r in reading)
    for listing in (r for r in reading if r.taken):
        taken = [demo_book.library.by_id[i.key] for i in listing.items if i.computed]
        assert len(taken) == listing.taken.newest if listing.taken else False
        assert [c.reported for c in taken] == sorted((c.reported for c in taken), reverse=True)
    assert sum(bool(r.taken) for r in reading) == 2


def test_what_makes_an_exercise_is_the_same_for_records_and_for_the_exercises(demo_book: Book) -> None:
    lib = demo_book.library
    allowed = {c.id for c in lib.cases if not no_exercise(c, lib.guide)}

    assert {c.id for c in suitable(lib)} == allowed
    assert len(allowed) > 100


@pytest.mark.parametrize(
    ("taken", "said"),
    [
        (Taken(12), "This list takes the newest 12 cases."),
        (
            Taken(1, modes=("flare-joint", "valve-core"), settings=("food-retail",), techniques=("dye",)),
            "This list takes the newest case of flare joint leak or valve core leak, from food store, "
            "searched with ultraviolet dye.",
        ),
        (
            Taken(6, level="lead", at_least_proof="held"),
            "This list takes the newest 6 cases written for lead technicians, with a repair that held.",
        ),
    ],
)
def test_what_a_list_takes_by_itself_is_said(taken: Taken, said: str, demo_book: Book) -> None:
    assert lists.takes(taken, demo_book) == said


def test_a_library_without_lists_says_so(demo_book: Book) -> None:
    book = Book(replace(demo_book.library, reading=()), demo_book.today)

    pages, files = lists.made(book, Templates(book))

    assert [p.url for p in pages] == ["reading/"]
    assert "No list yet" in pages[0].body
    assert json.loads(files[0].content)["lists"] == []


def test_titles_with_marks_are_shown_as_text(demo_book: Book) -> None:
    listing = ReadingList(
        "a",
        "Flares & <b>cores</b>",
        "All of *us*",
        "lead",
        (ReadingItem("technique", "dye", "Under *tape*."),),
    )
    book = Book(replace(demo_book.library, reading=(listing,)), demo_book.today)

    pages, files = lists.made(book, Templates(book))

    assert "<b>cores" not in pages[0].body
    assert "<em>tape</em>" in pages[0].body
    assert json.loads(files[0].content)["lists"][0]["items"][0]["why"] == "Under tape."


def test_the_search_finds_every_list(demo_book: Book) -> None:
    pages = [page.listing for page in lists.made(demo_book, Templates(demo_book))[0]]
    found = searched(demo_book, pages)
    files = b"".join(file.content for file in found).decode("utf-8", "replace")

    for listing in demo_book.library.reading:
        assert listing.title in files
        assert links.address("reading", listing.key) in files
