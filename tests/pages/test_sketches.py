"""The sketches of units: every place leads into the guide, every number is the library's, nothing is left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import html

from leaklore.analysis.intervals import FEW
from leaklore.pages import links, places
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.sketches import AREA, LEVELS, WORDS, Sketches, label, level, sketches, steps
from leaklore.records.sketches import lines

TODAY = dt.date(2026, 12, 31)


@pytest.fixture(scope="module")
def drawn(demo_book: Book) -> Sketches:
    return sketches(demo_book)


@pytest.fixture(scope="module")
def page(demo_book: Book) -> html.HtmlElement:
    return html.fromstring(str(places.page(demo_book, Templates(demo_book)).body))


def test_each_spot_is_a_part_of_its_frame_and_of_such_units(demo_book: Book, drawn: Sketches) -> None:
    guide = demo_book.library.guide
    for unit in drawn.units:
        assert set(unit.kinds) <= set(guide.small["equipment_kinds"]), unit.key
        keys = [spot.key for frame in unit.frames for spot in frame.spots]
        assert len(keys) == len(set(keys)), f"{unit.key}: a part twice"
        for frame in unit.frames:
            assert frame.words.lower() in guide.components[frame.area].name.lower()
            for spot in frame.spots:
                assert guide.components[spot.key].facts["kind"] == "part", spot.key
                assert guide.covers(frame.area, spot.key), f"{spot.key} is not in {frame.area}"
                assert any(guide.on(spot.key, kind) for kind in unit.kinds), f"{spot.key} on {unit.key}"
                assert len(spot.words) < WORDS
                assert spot.words.lower() in spot.name.lower(), "what is read is what is heard"


def test_every_component_is_on_a_sketch_in_its_list_or_elsewhere(demo_book: Book, drawn: Sketches) -> None:
    guide = demo_book.library.guide
    elsewhere = {place.key for place in drawn.elsewhere}
    for key in guide.components:
        for unit in drawn.units:
            here = any(guide.on(key, kind) for kind in unit.kinds)
            assert here == (key in {place.key for place in unit.places}), f"{key} on {unit.key}"
        assert (key in elsewhere) != any(key in {p.key for p in unit.places} for unit in drawn.units), key


def test_spots_stand_apart_and_inside_their_frames() -> None:
    """A spot is 106 by 75 about a point 12.5 below its middle; a frame keeps 50 for its name."""
    for name, unit in lines()["units"].items():
        spots = [(frame, spot) for frame in unit["frames"] for spot in frame["spots"]]
        for frame, spot in spots:
            assert 14 <= spot["x"] - 53 < spot["x"] + 53 <= 346, f"{name}: {spot['at']}"
            assert frame["y"] + 50 <= spot["y"] - 25, f"{name}: {spot['at']} on the name of its frame"
            assert spot["y"] + 50 <= frame["y"] + frame["high"] <= unit["height"], f"{name}: {spot['at']}"
            assert spot["sign"] in lines()["signs"]
        for i, (_, one) in enumerate(spots):
            for _, other in spots[:i]:
                assert abs(one["x"] - other["x"]) >= 105 or abs(one["y"] - other["y"]) >= 75, (one, other)


def test_the_numbers_are_counted_from_the_records(demo_book: Book, drawn: Sketches) -> None:
    """Against a plain count of proven cases, by part and kind of equipment."""
    proven = [c for c in demo_book.library.cases if not c.withdrawn and c.cause.proof in ("point", "held")]
    for unit in drawn.units:
        here = [c.cause.component for c in proven if c.equipment.kind in unit.kinds]
        assert unit.total == len(here) > 0
        for frame in unit.frames:
            for spot in frame.spots:
                assert spot.count == here.count(spot.key), spot.key
            assert frame.count == sum(here.count(spot.key) for spot in frame.spots)
        listed = {place.key: place.count for place in unit.places}
        assert sum(count or 0 for count in listed.values()) == unit.total, "each leak is in the list once"
    assert drawn.others == len(proven) - sum(unit.total for unit in drawn.units)


def test_every_place_is_a_link_with_its_number(page: html.HtmlElement, drawn: Sketches) -> None:
    for unit, svg in zip(drawn.units, page.xpath("//figure/*[local-name()='svg']"), strict=True):
        spots = [spot for frame in unit.frames for spot in frame.spots]
        at = {a.get("href"): a for a in svg.iter("a")}
        assert set(at) == {
            "../" + links.address("component", key)
            for key in (*(s.key for s in spots), *(f.area for f in unit.frames))
        }
        for spot in spots:
            found = at["../" + links.address("component", spot.key)]
            unit_word = "leak" if spot.count == 1 else "leaks"
            assert found.get("aria-label") == f"{spot.name}, {spot.count} {unit_word}"
            assert [e.text_content() for e in found.iter("text")] == [str(spot.count), spot.words]
            assert found.get("class") == f"spot spot--{spot.level}"


@pytest.mark.parametrize("kept", [0, 1, FEW - 1])
def test_few_cases_are_said_to_be_few(demo_book: Book, kept: int) -> None:
    lib = demo_book.library
    splits = tuple(c for c in lib.counted if c.equipment.kind == "ducted-split")[:kept]
    book = Book(replace(lib, cases=splits), TODAY)
    split = next(u for u in sketches(book).units if u.key == "split")
    assert split.few
    assert split.total == kept
    assert all(s.level == min(s.count, 1) for f in split.frames for s in f.spots)
    text = " ".join(html.fromstring(str(places.page(book, Templates(book)).body)).text_content().split())
    said = f"Only {kept} leak{'s' if kept != 1 else ''} counted on such units so far: too few to compare"
    assert (said in text) == (kept > 0)
    assert text.count("No counted leak on such units yet") == (3 if kept == 0 else 2)


@given(st.integers(1, 20_000), st.data())
def test_levels_rise_with_counts(most: int, data: st.DataObject) -> None:
    one = data.draw(st.integers(0, most))
    other = data.draw(st.integers(one, most))
    assert level(one, most) <= level(other, most)
    assert (level(one, most) == 0) == (one == 0)
    assert level(most, most) == LEVELS


def test_the_key_tells_the_counts_of_each_level() -> None:
    assert steps(8) == ((0, "0"), (1, "1–2"), (2, "3–5"), (3, "6–8"))
    assert steps(1) == ((0, "0"), (3, "1"))
    assert steps(0) == ((0, "0"),)


def test_a_name_of_the_company_wins_over_the_words_of_the_sketch() -> None:
    assert label("Gauge tube", "Pressure switch or gauge tube") == "Gauge tube"
    assert label("Gauge tube", "Manometer line") == "Manometer line"
    assert label("Gauge tube", "Tubo del presostato o del manómetro") == "Tubo del presosta…"
    assert label("Cold room", "Cold room", AREA) == "Cold room"
