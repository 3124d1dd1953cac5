"""The sketches of units under a thumb: large enough, nothing to the side, each place opens its page."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import WIDE, Visit

PRESS = """all => all.map((a) => {
  const { width, height } = a.getBoundingClientRect();
  return [a.getAttribute("aria-label"), Math.round(width), Math.round(height)];
})"""


@pytest.mark.parametrize(("width", "least"), [(390, 48), (320, 38)])
def test_places_can_be_pressed_on_a_phone(visit: Visit, width: int, least: int) -> None:
    """48 px at the usual width; on the narrowest phone only the names of the frames are a little lower, the places are not."""
    page = visit("places/", viewport={"width": width, "height": 844})
    assert page.evaluate(WIDE) == [0, False, []]
    boxes = page.locator(".sketch > svg a").evaluate_all(PRESS)
    assert len(boxes) > 50
    assert [b for b in boxes if min(b[1:]) < least] == []
    assert [b for b in page.locator(".sketch .spot").evaluate_all(PRESS) if min(b[1:]) < 48] == []


def test_a_place_leads_into_the_guide(visit: Visit) -> None:
    page = visit("places/")
    sketch = page.get_by_role("list", name="Wall unit")
    places = sketch.get_by_role("listitem").get_by_role("link")
    assert places.count() == sketch.locator("a").count(), "each link is an entry of the list that is read out"
    place = sketch.get_by_role("link", name=re.compile(r"^Flare at the indoor unit, \d+ leaks$"))
    place.focus()
    place.press("Enter")
    expect(page.locator("h1")).to_have_text("Flare at the indoor unit")
    page.go_back()
    page.get_by_role("link", name=re.compile("^Liquid receiver, ")).click()
    expect(page.locator("h1")).to_have_text("Liquid receiver")


def test_the_count_is_seen_without_colour(visit: Visit) -> None:
    """The ring grows with the level, also where the reader's own colours rule, and on paper."""
    page = visit("places/", forced_colors="active")
    for media in ("screen", "print"):
        page.emulate_media(media=media)
        radius = [
            page.locator(f".sketch > svg .spot--{n} circle").first.evaluate(
                "e => parseFloat(getComputedStyle(e).r) + parseFloat(getComputedStyle(e).strokeWidth) / 10"
            )
            for n in range(4)
        ]
        assert radius == sorted(set(radius)), media
