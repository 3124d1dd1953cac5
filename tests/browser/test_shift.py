"""Nothing that a reader looks at jumps while scripts draw, on a phone six times slower than this machine."""

from __future__ import annotations

import pytest

from .conftest import DESK, PHONE, Visit

WATCH_SHIFTS = """
window.moved = [];
new PerformanceObserver((list) => {
  for (const shift of list.getEntries()) {
    moved.push([shift.value, shift.sources.map(({ node }) => node?.outerHTML?.slice(0, 60) ?? "")]);
  }
}).observe({ type: "layout-shift", buffered: true });
"""
DRAWN = {
    "cases/": "[data-filter-chips]:not([hidden])",
    "record/": "[data-record][data-awake]",
    "reading/mine/": "[data-awake]:not([hidden])",
    "reading/trainer/": "[data-awake]:not([hidden])",
    "reading/questions/": "[data-choose]:not([hidden])",
    "patterns/explore/": "[data-explore][data-drawn]",
    "bench/leak-rate/": "[data-bench][data-awake]",
    "search/?q=oil+at+flare": "[data-answered]",
}
"""Pages on which a script draws, and what is there once it has."""
MOST = 0.05
"""Half of the shift up to which a page is held to be steady."""


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_what_scripts_draw_has_its_room_before(visit: Visit, address: str, size: dict[str, int]) -> None:
    page = visit(None, viewport=size, init=WATCH_SHIFTS)
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 6})
    jumps = {}
    for path, drawn in DRAWN.items():
        page.goto(address + path)
        page.wait_for_selector(drawn, state="attached")
        page.wait_for_timeout(300)
        moved = page.evaluate("() => moved")
        if sum(value for value, _ in moved) > MOST:
            jumps[path] = moved
    assert jumps == {}


def test_a_page_that_needs_scripts_says_so_only_where_none_come(visit: Visit, address: str) -> None:
    """While the explorer is on its way nobody reads that JavaScript is missing; where it never comes, it is told."""
    page = visit(None)
    page.route("**/explore.mjs", lambda route: None)
    page.goto(address + "patterns/explore/", wait_until="commit")
    told = page.get_by_role("heading", name="This page needs JavaScript")
    page.wait_for_selector("[data-explore-still]", state="attached")
    assert not told.is_visible()
    told.wait_for(state="visible")
