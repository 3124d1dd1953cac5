"""What a browser prints: a case is a document of two or three pages, and nothing that matters is left out."""

from __future__ import annotations

import re
from collections import defaultdict
from io import BytesIO
from statistics import median

import pytest
from playwright.sync_api import Page
from pypdf import PageObject, PdfReader, mult

from site_fixture import Site

from .conftest import DESK, Visit

SAMPLE = 12
"""Cases printed on each paper, evenly out of the library."""
HEADINGS = "all => all.filter((e) => e.checkVisibility()).map((e) => e.innerText.trim())"
FOOT = re.compile(r"\d+ / \d+|Case \S+ of .*|Library of .*")
"""Lines at the foot of a page that are no text of its own: its number, how to cite it, the day of the library."""


def sheets(page: Page, paper: str = "A4") -> list[PageObject]:
    """What a browser prints, each page of paper."""
    return list(PdfReader(BytesIO(page.pdf(format=paper))).pages)


def words(*printed: PageObject) -> str:
    """The text of these pages, with one space between words."""
    return " ".join(" ".join(sheet.extract_text() for sheet in printed).split())


def lowest(sheet: PageObject) -> str:
    """The last line of a page that is text of its own: what stands lowest, whatever is drawn last."""
    lines: dict[int, str] = defaultdict(str)

    def put(text: str, current: list[float], of_text: list[float], *_: object) -> None:
        lines[round(mult(of_text, current)[5])] += text

    sheet.extract_text(visitor_text=put)
    own = (" ".join(lines[y].split()) for y in sorted(lines))
    return next(line for line in own if line and not FOOT.fullmatch(line))


def heads_at_the_foot(page: Page, printed: list[PageObject]) -> list[str]:
    """Headings that end a page of paper, with their text on the next."""
    page.emulate_media(media="print")
    heads = set(page.locator("main :is(h2, h3)").evaluate_all(HEADINGS))
    return [line for line in map(lowest, printed) if line in heads]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_case_is_printed_on_two_or_three_pages(visit: Visit, demo: Site, paper: str) -> None:
    urls = [case["url"] for case in demo.cases]
    counts, lone, unnamed = {}, [], []
    for url in urls[:: len(urls) // SAMPLE]:
        page = visit(url, viewport=DESK)
        printed = sheets(page, paper)
        counts[url] = len(printed)
        number = url.rstrip("/").rpartition("/")[2]
        unnamed += [
            f"{url} page {i}" for i, sheet in enumerate(printed, 1) if f"Case {number} of" not in words(sheet)
        ]
        lone += [f"{url}: {head}" for head in heads_at_the_foot(page, printed)]
    assert max(counts.values()) <= 4, counts
    assert median(counts.values()) <= 3, counts
    assert not unnamed
    assert not lone


def test_a_printed_case_has_its_story_and_no_dead_ends(visit: Visit) -> None:
    text = words(*sheets(visit("cases/KW-2025-014/", viewport=DESK, color_scheme="dark")))
    for wanted in (
        "Valve core leak",
        "Pinpointed, confirmed by a second technique",
        "The keeper of the shop had one cold room",
        "If you work on such a unit",
        "Local codes, the nameplate and licensed practice decide.",
        "Heated diode detector",
        "Found after 15 min",
        "48 ppm",
        "A scale by tens",
        "Proves little.",
        "16 December 2025",
        "The leak in figures",
        "A core that loses a pound a month",
        "Told the store that a sealed cap",
        "OS-2024-005",
    ):
        assert wanted in text, wanted
    for gone in (
        "On this page",
        "Skip to",
        "A whole sheet",
        "Work it out",
        "In full",
        "YAML",
        "Notes of the house",
    ):
        assert gone not in text, gone
    assert "http" not in text


def test_without_advice_no_heading_stands_over_nothing(visit: Visit, demo: Site) -> None:
    url = next(
        case["url"]
        for case in demo.cases
        if not re.search(r"<h2 id=customer>[^<]*</h2>\s*<p>", demo.text(case["url"] + "index.html"))
    )
    text = words(*sheets(visit(url, viewport=DESK)))
    assert "The search" in text
    assert "For the customer" not in text


def test_a_withdrawn_case_says_so_on_paper(visit: Visit, kinds: dict[str, str]) -> None:
    assert "Withdrawn on" in words(sheets(visit(kinds["withdrawn"], viewport=DESK))[0])


@pytest.mark.parametrize(
    "path",
    [
        "guide/failure-modes/flare-joint/",
        "guide/techniques/bubble-test/",
        "reading/first-week/",
        "reading/questions/",
        "reading/unknown/",
        "patterns/",
        "patterns/cost/",
        "patterns/where/",
    ],
)
def test_no_heading_is_left_at_the_foot_of_a_page(visit: Visit, path: str) -> None:
    page = visit(path, viewport=DESK)
    assert not heads_at_the_foot(page, sheets(page))


def test_the_answers_have_a_sheet_of_their_own(visit: Visit) -> None:
    printed = sheets(visit("reading/questions/", viewport=DESK))
    assert sum(bool(re.match(r"\d+ / \d+ Answers", words(sheet))) for sheet in printed) == 1


def test_a_folded_table_is_printed_short_and_an_open_one_whole(visit: Visit) -> None:
    page = visit("patterns/where/", viewport=DESK)
    short = sheets(page)
    assert "The first 10 of" in words(*short)
    page.locator(".behind > details > summary").first.click()
    whole = sheets(page)
    assert len(whole) > len(short)
    assert "The first 10 of" not in words(*whole)


def test_numbers_of_a_reading_list_stay_in_one_piece(visit: Visit) -> None:
    page = visit("reading/first-week/", viewport=DESK)
    page.emulate_media(media="print")
    tall = page.locator(".reading-item__done b").evaluate_all("all => all.map((e) => e.clientHeight)")
    assert len(set(tall)) == 1
    assert len(tall) >= 10


@pytest.mark.parametrize("path", ["guide/techniques/bubble-test/", "patterns/where/"])
def test_what_goes_over_a_page_is_no_grid(visit: Visit, path: str) -> None:
    """Chromium draws parts of a grid that is broken over pages on top of each other."""
    page = visit(path, viewport=DESK)
    page.emulate_media(media="print")
    parts = page.locator(".section, .section__body:not(:has(> .behind[id])), .behind")
    assert set(parts.evaluate_all("all => all.map((e) => getComputedStyle(e).display)")) == {"block"}


@pytest.mark.parametrize("width", [500, 720])
def test_the_sign_of_a_step_stands_before_its_name(visit: Visit, width: int) -> None:
    """On small paper, or between wide margins, as on A4."""
    page = visit("cases/KW-2025-014/", viewport={"width": width, "height": 900})
    page.emulate_media(media="print")
    rooms = page.locator(".timeline h3").evaluate_all(
        """all => all.map((e) => {
          const sign = getComputedStyle(e, "::before");
          const begins = e.getBoundingClientRect().left - e.closest("li").getBoundingClientRect().left;
          return begins - parseFloat(sign.left) - parseFloat(sign.width);
        })"""
    )
    assert len(rooms) == 2
    assert all(0 <= room <= 40 for room in rooms), rooms


def test_facts_are_parted_by_no_half_lines_on_small_paper(visit: Visit) -> None:
    page = visit("cases/KW-2025-014/", viewport={"width": 500, "height": 900})
    page.emulate_media(media="print")
    widths = page.locator(".facts > :is(dt, dd)").evaluate_all(
        "all => all.map((e) => getComputedStyle(e).borderBlockEndWidth)"
    )
    assert set(widths) == {"0px"}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_list_of_cases_is_short_and_has_every_case(visit: Visit, demo: Site, paper: str) -> None:
    printed = sheets(visit("cases/", viewport=DESK), paper)
    text = words(*printed)
    assert all(case["id"] in text for case in demo.cases)
    assert len(printed) <= len(demo.cases) / 18, "two lines a case"


def test_a_list_that_was_narrowed_says_by_what(visit: Visit) -> None:
    page = visit("cases/", viewport=DESK)
    page.get_by_role("searchbox").fill("flare")
    page.locator("[data-filter-chips] button", has_text="R-32").click()
    left = page.locator("#case-list > li:visible").count()
    text = words(*sheets(page))
    assert f"{left} of " in text
    assert re.search(r"R-32 \d+ ", text)
    assert "Pinpointed or held" not in text, "what was not picked"
    page.emulate_media(media="print")
    assert page.get_by_role("searchbox").is_visible()
    whole = visit("cases/", viewport=DESK)
    whole.emulate_media(media="print")
    assert not whole.locator("#q").is_visible()
