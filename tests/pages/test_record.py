"""The page for recording a case: every field of the schema has its place, its words, its kind; nothing is asked twice."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

import html5lib
import pytest

from leaklore.pages import record
from leaklore.pages.book import Book
from leaklore.pages.render import Templates, theme
from leaklore.problem import Pointer
from leaklore.records import field
from leaklore.records.quantity import read
from leaklore.records.schema import load

DRAWN_BY_HAND = {("photos", 0, "file"), ("photos", 0, "caption")}
"""The photos' own step asks for them: the file comes with the picture, the caption has a field in `data-part=photo`."""
WITH_SYMPTOMS = {("not_seen",)}
"""The field of the symptoms writes both lists."""


def leaves(about: dict[str, Any], pointer: Pointer = ()) -> Iterator[Pointer]:
    """Every field of the schema that holds a value of its own; entries of lists as number 0."""
    about = field.about(pointer) if pointer else about
    if "properties" in about:
        for name in about["properties"]:
            yield from leaves(about, (*pointer, name))
    elif "properties" in about.get("items", {}):
        for name in about["items"]["properties"]:
            yield from leaves(about, (*pointer, 0, name))
    else:
        yield pointer


def asked(book: Book) -> list[record.Ask]:
    """Every field of the form."""
    return [ask for _, _, fields, more in record.asks(book) for ask in (*fields, *more)]


@pytest.fixture(scope="module")
def drawn(demo_book: Book) -> Any:
    """The page, parsed."""
    body = str(record.page(demo_book, Templates(demo_book)).body)
    return html5lib.parse(body, namespaceHTMLElements=False)


def test_every_field_of_the_schema_is_asked_for_once_or_left_out_for_a_reason(demo_book: Book) -> None:
    wanted = {p for p in leaves(load("case")) if p[0] not in record.LEFT_OUT}
    found = Counter(ask.pointer for ask in asked(demo_book))
    assert max(found.values()) == 1
    assert set(found) | DRAWN_BY_HAND | WITH_SYMPTOMS == wanted
    assert not set(found) & (DRAWN_BY_HAND | WITH_SYMPTOMS)
    for name, why in record.LEFT_OUT.items():
        assert name in load("case")["properties"]
        assert len(why) > 10


def test_words_and_kinds_come_from_the_schema(demo_book: Book) -> None:
    for ask in asked(demo_book):
        about = field.about(ask.pointer)
        assert ask.title == about["title"]
        assert ask.hint in ("", record.PLAINER.get(about["description"], about["description"]))
        assert ask.required == (ask.pointer[-1] in field.about(ask.pointer[:-1]).get("required", ()))
        if ask.kind == "choice" and "enum" in about:
            assert [value for value, *_ in ask.choices] == about["enum"]
        if ask.words and ask.words != "systems":
            assert ask.words in demo_book.library.vocabulary.terms
        if ask.kind in ("pick", "picks"):
            assert ask.words


@pytest.mark.parametrize("system", [0, 1], ids=["us", "si"])
def test_every_unit_on_a_button_is_one_that_can_be_read(demo_book: Book, system: int) -> None:
    for ask in asked(demo_book):
        units = record.UNITS[ask.dimension][system] if ask.dimension in record.UNITS else ask.units
        for unit in units:
            assert read(f"3 {unit}", ask.dimension).si > 0
        assert bool(ask.units) == (ask.kind == "quantity")


def test_si_companies_have_their_units_first() -> None:
    for us, si in record.UNITS.values():
        assert set(us) & set(si), "the other system can be tapped, too"
        assert us[0] != si[0] or us[0] == "ppm"


def test_examples_are_in_the_company_s_units_and_can_be_read(demo_book: Book) -> None:
    assert demo_book.display.us_first
    for ask in asked(demo_book):
        if ask.dimension and ask.dimension != "money":
            read(ask.such, ask.dimension)
        if ask.dimension in record.SUCH:
            assert ask.such == record.SUCH[ask.dimension], ask.path


def test_a_unit_of_one_company_can_be_tapped_in_the_other() -> None:
    """A gauge in bar is carried in a psi country, too, and the number keys of some phones have no letters."""
    for dimension, (us, si) in record.UNITS.items():
        assert set(us) == set(si), dimension
    assert "h" in record.DURATIONS["charge.over"]


def test_nothing_is_said_in_the_words_of_a_file(demo_book: Book) -> None:
    """Keys, Markdown and commands are for whoever writes a record by hand."""
    said = [ask.hint + ask.such for ask in asked(demo_book)] + list(record.SAYS.values())
    assert [s for s in said if re.search(r"`|Markdown|\bkey\b|deg[CF]", s)] == []
    described = {field.about(p)["description"] for p in leaves(load("case"))}
    assert set(record.PLAINER) <= described


def test_cautions_stand_beside_what_can_hurt(demo_book: Book, drawn: Any) -> None:
    """The tests under pressure and the repair: the usual cautions by name and in full, and the way to the techniques."""
    named = {c for _, part, _, _ in record.asks(demo_book) for c in part.cautions}
    assert {"nitrogen-pressure", "never-oxygen", "torch", "venting", "flammable-refrigerant"} <= named
    boxes = [e for e in drawn.iter("details") if "caution" in (e.get("class") or "")]
    assert len(boxes) == 3
    for box in boxes:
        text = "".join(box.itertext())
        assert "licensed practice decide" in text
        assert any((a.get("href") or "").endswith("guide/techniques/") for a in box.iter("a"))
    hold = next(
        part for _, part, fields, _ in record.asks(demo_book) if any("hold_test" in f.path for f in fields)
    )
    assert "nitrogen-pressure" in hold.cautions


def test_every_field_has_its_label_and_its_place_for_problems(drawn: Any) -> None:
    fields = [e for e in drawn.iter() if e.get("data-pointer")]
    assert len(fields) > 50
    for one in fields:
        labelled = [e for e in one.iter() if e.tag in ("label", "legend")] or one.get("aria-labelledby")
        assert labelled, one.get("data-pointer")
        assert len([e for e in one.iter() if e.get("data-problem") is not None]) == 1


def test_the_script_says_only_words_of_the_page(demo_book: Book) -> None:
    """Each key that the modules ask for is there, and none is there for nothing."""
    text = "".join(p.read_text("utf-8") for p in sorted((theme() / "js" / "record").glob("*.mjs")))
    said = set(re.findall(r'say\(\s*"([\w-]+)"', text)) | set(re.findall(r'[?:] "([\w-]+)"', text))
    said |= {
        "step-todo",
        "step-done",
        "step-empty",
        "file",
        "shared",
    }  # made of a state, or of what became of it
    asked_for = set(re.findall(r'say\(\s*"([\w-]+)"', text))
    assert asked_for <= set(record.SAYS)
    assert set(record.SAYS) <= said


def test_symptoms_are_listed_the_commonest_first(demo_book: Book, drawn: Any) -> None:
    keys = [e.get("data-symptom") for e in drawn.iter() if e.get("data-symptom")]
    assert sorted(keys) == sorted(demo_book.library.guide.symptoms)
    counts = [len(demo_book.groups["symptom"][key].cases) for key in keys]
    assert counts == sorted(counts, reverse=True)
