"""axe-core over one page of every kind, light and dark, and over what scripts draw: no violation.

Its rules follow WCAG 2.2 A and AA and the best practices of the ARIA authoring guide.
"""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from .conftest import DESK, PHONE, Visit, settled

AXE = Axe()


def violations(page: Page) -> list[str]:
    """Each violation with its rule and the first elements that break it."""
    found: dict[str, Any] = AXE.run(page).response
    return [f"{v['id']}: {v['help']}: {[n['target'] for n in v['nodes'][:3]]}" for v in found["violations"]]


def test_the_rules_find_what_is_wrong(visit: Visit) -> None:
    """A picture without words is told: the check can fail."""
    page = visit("how-we-count/")
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert any(told.startswith("image-alt") for told in violations(page))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_of_any_kind_has_a_violation(
    visit: Visit, kinds: dict[str, str], address: str, scheme: str
) -> None:
    page = visit(None, viewport=PHONE, color_scheme=scheme)
    told = {}
    for kind, path in kinds.items():
        settled(page, address + path)
        if kind != "moved" and (found := violations(page)):
            told[kind] = found
    assert told == {}


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_answered_search_has_none(visit: Visit, size: dict[str, int], scheme: str) -> None:
    page = visit(
        "search/?q=oil+at+flare+minisplit%2C+lost+2+kg+in+a+year", viewport=size, color_scheme=scheme
    )
    page.wait_for_selector("[data-answered]", state="attached")
    assert violations(page) == []
    page.click(".next-check [data-mark=clean]")
    page.click(".next-check [data-mark=found]")
    for closed in page.query_selector_all("details:not([open])"):
        closed.evaluate("e => { e.open = true; }")
    assert violations(page) == []
