"""Pages of cases and systems: light, well formed without the end tags that HTML lets go, and nothing that hurts left out."""

from __future__ import annotations

import re
from dataclasses import replace

import html5lib
import pytest
from lxml import etree, html

from leaklore.pages import case as case_page
from leaklore.pages import cautions, links, places
from leaklore.pages.book import Book
from leaklore.pages.case_leak import VERDICTS
from leaklore.pages.learn import customer
from leaklore.pages.render import Templates, theme
from leaklore.pages.spec import Page
from leaklore.records.check_guide import MOST_SHORT
from leaklore.records.model import Case
from leaklore.records.quantity import read

SVG = "{http://www.w3.org/2000/svg}"
MOST_BYTES = 13_500
"""Of the body of the longest case of the demo but for photos; it was 30 kB."""


@pytest.fixture(scope="module")
def templates(demo_book: Book) -> Templates:
    """The templates of the demo."""
    return Templates(demo_book)


@pytest.fixture(scope="module")
def pages(demo_book: Book, templates: Templates) -> dict[str, Page]:
    """The pages of the demo's cases by number."""
    return {page.url.split("/")[1]: page for page in case_page.pages(demo_book, templates)}


def _tree(page: Page) -> html.HtmlElement:
    return html.fromstring(f"<div>{page.body}</div>")


def _text(element: html.HtmlElement) -> str:
    return " ".join(" ".join(element.itertext()).split())


def _under(tree: html.HtmlElement, heading: str) -> list[html.HtmlElement]:
    """What stands between a heading of the page and the next."""
    (head,) = tree.xpath(f'//h2[@id="{heading}"]')
    out = []
    for element in head.itersiblings():
        if element.tag == "h2":
            break
        out.append(element)
    return out


def test_a_page_is_light(pages: dict[str, Page]) -> None:
    sizes = {key: len(page.body.encode()) for key, page in pages.items() if "<picture>" not in page.body}

    assert len(sizes) > 200
    assert {key: size for key, size in sizes.items() if size > MOST_BYTES} == {}


def test_two_parsers_see_one_page(pages: dict[str, Page]) -> None:
    """html5lib knows which end tags may go; lxml's older parser has to come to the same tree."""
    for page in list(pages.values())[::9]:
        whole = f"<!doctype html><html lang=en><title>x</title><body>{page.body}"
        strict = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("lxml"), namespaceHTMLElements=False)
        one = strict.parse(whole)
        assert strict.errors == [], page.url
        two = etree.fromstring(whole, etree.HTMLParser())
        names = [
            [str(e.tag).rpartition("}")[2] for e in root.iter() if isinstance(e.tag, str)]
            for root in (one, two)
        ]
        assert names[0] == names[1], page.url


def test_every_step_is_told_with_place_result_and_time(demo_book: Book, pages: dict[str, Page]) -> None:
    vocabulary = demo_book.library.vocabulary
    for case in demo_book.library.cases:
        tree = _tree(pages[case.id])
        steps = tree.xpath('//ol[@class="timeline"]/li')
        assert len(steps) == len(case.search) + 1
        for step, shown in zip(case.search, steps, strict=False):
            text = _text(shown)
            assert shown.get("class") == f"r-{step.result}"
            assert vocabulary.name("techniques", step.technique) in text
            assert all(vocabulary.name("components", at) in text for at in step.at)


def test_every_technique_used_is_a_link_once(demo_book: Book, pages: dict[str, Page]) -> None:
    for case in demo_book.library.cases:
        tree = _tree(pages[case.id])
        hrefs = [a.get("href") for a in tree.xpath('//ol[@class="timeline"]//h3/a')]
        wanted = {f"../../{links.address('technique', s.technique)}" for s in case.search}
        assert sorted(hrefs) == sorted(wanted), case.id


def test_readings_are_told_in_words_and_drawn_from_three_on(demo_book: Book, pages: dict[str, Page]) -> None:
    drawn = 0
    for case in demo_book.library.cases:
        if not case.readings:
            assert "id=readings" not in pages[case.id].body
            continue
        rows = _tree(pages[case.id]).xpath('//ol[@class="readings"]/li')
        assert len(rows) == len(case.readings)
        for reading, row in zip(case.readings, rows, strict=True):
            assert " ".join(demo_book.display.quantity(reading.value).split()) in _text(row)
            ppm = reading.value.dimension == "fraction"
            assert ("no background noted" in _text(row)) == (ppm and reading.background is None)
        in_ppm = sum(r.value.dimension == "fraction" for r in case.readings)
        dots = len(_tree(pages[case.id]).xpath('//ol[@class="readings"]//circle'))
        assert dots == (in_ppm if in_ppm >= case_page.FEWEST_DRAWN else 0)
        drawn += dots > 0
    assert drawn > 10


def test_what_could_have_seen_it_is_told_by_verdict(demo_book: Book, pages: dict[str, Page]) -> None:
    """Every technique with a figure or a reason stands under its verdict, with what it did in this case."""
    told = 0
    for case in demo_book.library.cases:
        found = demo_book.leak(case)
        if found is None or case.leak_rate is None:
            continue
        (facts, note) = _under(_tree(pages[case.id]), "leak")
        said = dict(zip(map(_text, facts.iter("dt")), map(_text, facts.iter("dd")), strict=True))
        assert f"bench/which-technique/?case={case.id}" in note.find("a").get("href")
        done = {s.technique: s.result for s in case.search}
        for sight in found.sights:
            if sight.verdict not in VERDICTS:
                continue
            name = demo_book.library.guide.techniques[sight.technique].name.lower()
            words = f"{name} ({done[sight.technique].replace('-', ' ')})" if sight.technique in done else name
            assert words in said[VERDICTS[sight.verdict]].split(", "), case.id
            told += 1
    assert told > 500


def test_cautions_stand_in_one_sentence_and_lead_to_the_whole(
    demo_book: Book, templates: Templates, pages: dict[str, Page]
) -> None:
    guide = demo_book.library.guide
    whole = _text(_tree(cautions.page(demo_book, templates)))
    for caution in guide.cautions.values():
        assert 20 < len(caution["short"]) <= MOST_SHORT
        assert caution["short"].endswith(".")
        assert " ".join(caution["text"].split()) in whole
    for case in demo_book.library.cases:
        (aside,) = _tree(pages[case.id]).xpath('//aside[@class="caution"]')
        text = _text(aside)
        for key in case_page.cautions(case, demo_book):
            assert f"{guide.cautions[key]['name']}: {guide.cautions[key]['short']}" in text
        assert "Local codes, the nameplate and licensed practice decide." in text
        assert aside.xpath(".//a/@href") == ["../../guide/cautions/"]


def test_a_caution_of_the_company_without_a_short_form_stands_whole(demo_book: Book) -> None:
    guide = demo_book.library.guide
    own = {
        **guide.cautions,
        "electricity": {"key": "electricity", "name": "Ice", "text": "Wear spikes & a rope."},
    }
    book = Book(replace(demo_book.library, guide=replace(guide, cautions=own)), demo_book.today)
    page = case_page.page(book.library.cases[0], book, Templates(book))

    assert "<b>Ice:</b> Wear spikes &amp; a rope." in page.body


@pytest.mark.parametrize("own", [True, False])
def test_the_customer_s_part_leads_to_a_sheet(
    own: bool, demo_book: Book, templates: Templates, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = next(c for c in demo_book.library.active if c.advice)
    monkeypatch.setattr(customer, "with_sheet", lambda library: frozenset([case.id] if own else []))
    (part,) = _under(_tree(case_page.page(case, demo_book, templates)), "customer")

    sheet = links.address("customer", case.id if own else case.cause.mode)
    assert part.xpath(".//a/@href")[-1] == f"../../{sheet}"
    assert _text(part).startswith(" ".join(str(case.advice).split())[:20])


def test_a_hostile_record_stays_text(demo_book: Book, templates: Templates) -> None:
    evil = '"><script>alert(1)</script>'
    case = demo_book.library.active[0]
    step = replace(case.search[0], note=evil, pressure=replace(read("10 bar", "pressure"), written=evil))
    hostile: Case = replace(case, title=evil, story=evil, advice=evil, lesson=evil, crew=evil, search=(step,))
    page = case_page.page(hostile, demo_book, templates)

    assert "<script" not in page.body
    assert page.body.count("&lt;script&gt;") >= 6


def test_the_shapes_of_the_stylesheet_are_those_of_the_sprite() -> None:
    css = (theme() / "css" / "base.css").read_text("utf-8")
    sprite = etree.parse(str(theme() / "img" / "marks.svg")).getroot()
    shapes = {str(s.get("id")): s for s in sprite.iter(f"{SVG}symbol")}

    assert len(shapes) > 20
    for name, shape in shapes.items():
        found = re.search(rf"\.m-{name}\b[^{{]*\{{ --m: url\(\"data:image/svg\+xml,([^\"]*)\"\)", css)
        assert found, name
        text = found[1].replace("%3C", "<").replace("%3E", ">").replace("%23000", "currentColor")
        drawn = etree.fromstring(text)
        assert drawn.get("viewBox") == shape.get("viewBox")
        assert [(e.tag, dict(e.attrib)) for e in drawn] == [(e.tag, dict(e.attrib)) for e in shape], name


def test_the_places_are_told_once(demo_book: Book, templates: Templates) -> None:
    tree = _tree(places.page(demo_book, templates))
    hrefs = tree.xpath("//dl[contains(@class, 'places')]//a/@href")

    assert len(hrefs) == len(set(hrefs)) == sum(len(rows) for _, rows in places.PLACES)
