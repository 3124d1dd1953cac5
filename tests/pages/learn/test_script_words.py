"""Exercises and questions in another language: every word is a message, or content of guide and records."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from string import ascii_lowercase
from typing import Any, Literal

import pytest

from leaklore import language
from leaklore.analysis.questions.draw import draw
from leaklore.analysis.questions.material import material
from leaklore.analysis.questions.words import WORDS
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.learn import evidence, questions, unknown
from leaklore.pages.learn.script_words import FIELDS, PROGRESS, SHEETS, script_words
from leaklore.trade import data
from site_fixture import ROOT
from website.pseudo import UNITS

SCRIPTS = ("out", "learn", "mine", "trainer", "gathered", "sheet")
OTHER_SIGNS = str.maketrans(
    ascii_lowercase + ascii_lowercase.upper(),
    "".join(chr(0x430 + i) for i in range(26)) + "".join(chr(0x410 + i) for i in range(26)),
)
_KEPT = re.compile(r"(\{[\w-]+\}|%\(\w+\)s|<[^>]*>)")
SEEDS, EACH = range(8), 6


def disguised(message: str) -> str:
    """The message in letters that are not Latin, its slots as they are."""
    pieces = _KEPT.split(message)
    return "".join(p if i % 2 else p.translate(OTHER_SIGNS) for i, p in enumerate(pieces))


@pytest.fixture
def disguise() -> Iterator[None]:
    """A made-up language without a Latin letter, then English again."""
    known = language.read(language.LOCALE / "es" / "LC_MESSAGES" / "leaklore.po")
    single = {m.id: disguised(m.id) for m in known if isinstance(m.id, str) and m.id}
    both = {m.id[0]: tuple(map(disguised, m.id)) for m in known if isinstance(m.id, (tuple, list))}
    language.use(language.Language("ar", single, both))
    yield
    language.use(language.ENGLISH)


def texts(node: Any) -> Iterator[str]:
    """Every text of plain data."""
    if isinstance(node, str):
        yield node
    elif isinstance(node, Mapping):
        for value in node.values():
            yield from texts(value)
    elif isinstance(node, Iterable):
        for value in node:
            yield from texts(value)


def sources(node: Any) -> Iterator[str]:
    """Where the tables of the trade are from."""
    if isinstance(node, Mapping):
        for key, value in node.items():
            yield from [value] if key == "where" else sources(value)
    elif isinstance(node, list):
        for value in node:
            yield from sources(value)


def left(told: Iterable[str], content: Iterable[str]) -> set[str]:
    """Latin words of what is told that are neither content nor signs of units."""
    longest = sorted({c.lower() for c in content if c}, key=len, reverse=True)
    known = re.compile("|".join(map(re.escape, longest)) or r"(?!)")
    words = re.compile(r"[a-z]{2,}")
    return {w for text in told for w in words.findall(known.sub(" ", text.lower()))} - UNITS


@pytest.mark.usefixtures("disguise")
@pytest.mark.parametrize("units", ["us", "si"])
def test_questions_have_no_english_word(demo_book: Book, units: Literal["us", "si"]) -> None:
    """Text, choices, explanation and the link's name, of every template."""
    library = replace(demo_book.library, company=replace(demo_book.library.company, units=units))
    found = material(library, demo_book.adviser, language.gettext)
    drawn = [
        q
        for topic in found.content["topics"]
        for seed in SEEDS
        for q in draw(topic, seed, EACH, found, questions.writer(library))
    ]
    told = [t for q in drawn for t in (q.text, *q.choices, q.explanation)]
    told += [questions.link_of(q.link, library)[1] for q in drawn if q.link.startswith("bench:")]
    keys = ("names", "techniques", "about")  # of the guide, in its language
    content = [t for key in keys for t in texts(found.content[key])]
    content += [*found.gases, *sources(data.load("rules"))]

    assert {q.key for q in drawn} == {key for keys in found.content["topics"].values() for key in keys}
    assert left(told, content) == set()
    assert left(texts(found.content["words"]), re.findall(r"\{[\w-]+\}", str(WORDS))) == set()
    assert left(found.content["titles"].values(), ()) == set()


@pytest.mark.usefixtures("disguise")
def test_exercises_have_no_english_word(demo_book: Book) -> None:
    """Labels and what stands beside them, findings against a cause, readings, and the line in the list."""
    lib = demo_book.library
    names = [t.name for terms in lib.vocabulary.terms.values() for t in terms.values()]
    entries = [
        e.name
        for kind in ("mode", "technique", "symptom", "component")
        for e in lib.guide.entries(kind).values()
    ]
    told, recorded = [], set()
    for exercise in demo_book.exercises.values():
        case = exercise.case
        told += [unknown.listed(exercise, demo_book).more, unknown.title(exercise, demo_book)]
        told += [t for fact in unknown.facts(case, demo_book) for t in (fact.label, fact.value, fact.more)]
        closed = unknown.closed(exercise, demo_book)
        told += [t for suspect in closed["suspects"] for t in suspect[3]]
        told += [t for check in closed["checks"] for answer in check[3] for t in answer[6]]
        recorded |= {case.lost_over.written if case.lost_over else "", case.equipment.refrigerant or ""}
        recorded |= {reading.note or "" for reading in case.readings}

    assert len(told) > 1000
    assert left(told, [*names, *entries, *recorded, *lib.guide.refrigerants]) == set()
    assert left(evidence.topics(demo_book).values(), entries) == set()


@pytest.mark.usefixtures("disguise")
def test_a_page_hands_its_script_every_word() -> None:
    """Nothing in English, all of them in another language."""
    told = script_words(*SHEETS, *FIELDS.values())
    assert set(told) == {*PROGRESS, *SHEETS, *FIELDS.values()}
    assert left(told.values(), re.findall(r"\{\w+\}", str([*told]))) == set()
    language.use(language.ENGLISH)
    assert script_words(*SHEETS) == {}


def test_what_the_scripts_say_is_handed_over() -> None:
    """Both ways: every message that a script says, and every message is said by one."""
    text = "\n".join(
        (ROOT / "site_overrides" / "js" / "learn" / f"{name}.mjs").read_text("utf-8") for name in SCRIPTS
    )
    quoted = r"""(?:"([^"\n]+)"|'([^'\n]+)')"""
    call = re.compile(rf"\b(?:inWords|fault)\((?:[^\"'\n]* \? )?{quoted}(?: : {quoted})?")
    label = re.compile(r"\b(?:wholeOf|textOf|sheetDay)\([^\"\n]*\"([^\"]+)\"")
    count = re.compile(r"\bmany\([^\"\n]*\"([^\"]+)\", \"([^\"]+)\"")
    said = {
        m for pattern in (call, label, count) for hit in pattern.finditer(text) for m in hit.groups() if m
    }
    known = {*PROGRESS, *SHEETS, *FIELDS.values()}

    assert len(said) > 50
    assert said <= known
    assert {m for m in known if f'"{m}"' not in text and f"'{m}'" not in text} == set()


def test_a_link_of_a_question_is_named(demo_book: Book) -> None:
    """A page of the bench by its title, a page of the guide by its entry's name."""
    library = demo_book.library
    assert questions.link_of("bench:leak-rate", library) == (
        "bench/leak-rate/",
        "Work bench: Leak rate and rules",
    )
    technique = next(iter(library.guide.techniques))
    assert questions.link_of(f"technique:{technique}", library)[1] == links.name_of(
        "technique", technique, library
    )
