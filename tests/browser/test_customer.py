"""The customer's sheet in Chromium: on a phone, and on one sheet of paper."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from analysis.builders import demo as demo_library
from leaklore.pages.book import Book
from leaklore.pages.learn import customer
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page as Sheet
from site_fixture import built, copy_library, once, served, write_config

from .conftest import PHONE, WIDE, Complaints

CASE = "KW-2025-002"
SAMPLE = 12


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The small library's site, served."""

    def make(folder: Path) -> None:
        built(write_config(folder, copy_library(folder)))

    with served(once(tmp_path_factory, "customer", make) / "site") as at:
        yield at


@pytest.fixture(scope="module")
def sheets() -> list[Sheet]:
    """The demo's sheets, longest first."""
    book = Book(demo_library(), dt.date(2026, 12, 31))
    pages, _ = customer.made(book, Templates(book))
    return sorted(pages[1:], key=lambda page: len(page.body), reverse=True)


@pytest.fixture
def page(browser: Browser, small: str, complaints: Complaints) -> Iterator[Page]:
    """The sheet of a case of the small library, on a phone."""
    context = browser.new_context(viewport=PHONE, service_workers="block")
    opened = context.new_page()
    complaints.listen(opened)
    opened.goto(f"{small}for-customers/{CASE}/")
    yield opened
    context.close()


def _put(page: Page, sheet: Sheet) -> None:
    """Shows another sheet in the same shell."""
    page.evaluate(
        """(body) => {
          document.querySelector(".crumbs").remove();
          document.querySelector("main").outerHTML = body;
        }""",
        sheet.body,
    )


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_longest_and_others_fit_one_sheet_of_paper(page: Page, sheets: list[Sheet], paper: str) -> None:
    apart = len(sheets) // (SAMPLE - 2)
    sample = [sheets[0], sheets[1], *sheets[2 : 2 + apart * (SAMPLE - 2) : apart]]
    assert len(sample) == SAMPLE
    counts = {}
    for sheet in sample:
        _put(page, sheet)
        counts[sheet.url] = len(PdfReader(io.BytesIO(page.pdf(format=paper))).pages)

    assert counts == dict.fromkeys(counts, 1)
    assert len(counts) == SAMPLE


def test_paper_shows_the_sheet_and_nothing_of_the_site(page: Page, small: str) -> None:
    read = PdfReader(io.BytesIO(page.pdf(format="A4")))
    text = " ".join(read.pages[0].extract_text().split())

    assert "What happened" in text
    assert "If you think that gas is leaking" in text
    assert CASE in text
    for gone in ("Leaklore", "Print this sheet", "Work bench", "How we count", "Skip to", "Keep it on"):
        assert gone not in text, gone
    assert not [a for one in read.pages for a in one.get("/Annots", [])], "no link on paper"


def test_a_phone_shows_it_without_scrolling_sideways(page: Page, sheets: list[Sheet]) -> None:
    for sheet in (None, sheets[0]):
        if sheet:
            _put(page, sheet)
        expect(page.locator("main h1")).to_be_visible()
        assert page.evaluate(WIDE) == [0, False, []]


def test_the_button_prints(page: Page) -> None:
    page.evaluate("() => { window.printed = 0; window.print = () => { window.printed += 1; }; }")
    page.get_by_role("button", name="Print this sheet").click()

    assert page.evaluate("printed") == 1


def test_the_case_and_the_kind_of_leak_lead_to_their_sheets(page: Page, small: str) -> None:
    for way, name in ((f"cases/{CASE}/", "on this case"), ("guide/failure-modes/impact/", "kind of leak")):
        page.goto(small + way)
        page.get_by_role("link", name=name).click()
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "Why did it lose its gas?" if "guide" in way else "Why did your cold room lose its gas?"
        )
        page.get_by_role("navigation", name="You are here").get_by_role("link").last.click()
        assert page.url == small + way
