"""The explorer in Chromium: controls, charts, list, table and address say the same; under the strict policy, in any hand.

What must be shown is counted here from the records' YAML, by nothing of ours.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any
from urllib.parse import parse_qs

import pytest
import yaml
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, Route, expect

from site_fixture import ROOT

from .conftest import DESK, PHONE, WIDE, Complaints, Visit

URL = "patterns/explore/"
VIEWS = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
BARS = "[data-chart=quarters] .mark-rect.layer_0_marks path"
HOSTILE = "</script><img src=x onerror=alert(1)>"
QUOTED = "\"Flare\" 'leak' <b>bold</b>"


@dataclass(frozen=True)
class Leak:
    """One proven leak as its record has it."""

    case: str
    mode: str
    branch: str
    quarter: str


@cache
def leaks() -> tuple[Leak, ...]:
    """All proven leaks of the records that are not withdrawn."""
    return tuple(_read())


def _read() -> Iterator[Leak]:
    for file in sorted((ROOT / "cases" / "records").rglob("*.yaml")):
        record = yaml.load(file.read_text("utf-8"), yaml.BaseLoader)
        if "withdrawn" in record:
            continue
        causes = [record["cause"], *record.get("also_found", [])]
        year, month = record["reported"].split("-")[:2]
        for mode in {c["mode"] for c in causes if c["proof"] in ("point", "held")}:
            yield Leak(record["id"], mode, record["branch"], f"{year} Q{(int(month) + 2) // 3}")


def wanted(fits: Callable[[Leak], bool]) -> tuple[set[str], int]:
    """(cases, number of leaks) that fit."""
    found = [leak for leak in leaks() if fits(leak)]
    return {leak.case for leak in found}, len(found)


def awake(page: Page) -> Page:
    """The page with its charts."""
    page.wait_for_selector("[data-drawn]", state="attached")
    return page


def asked(page: Page) -> dict[str, list[str]]:
    """What the address holds now; Playwright's own `url` may lag behind."""
    return parse_qs(page.evaluate("location.search").removeprefix("?"))


def shows(page: Page, fits: Callable[[Leak], bool]) -> None:
    """Count, list and both tables are those of the leaks that fit."""
    cases, number = wanted(fits)
    total = len({leak.case for leak in leaks()})
    said = f"{len(cases)} of {total} cases, with {number} proven leak{'' if number == 1 else 's'}"
    expect(page.locator("[data-told]")).to_have_text(said)
    while page.locator("[data-more]").is_visible():
        page.locator("[data-more]").click()
    listed = page.locator("[data-cases] [data-slot=id]").all_text_contents()
    assert len(listed) == len(cases)
    assert set(listed) == cases
    for table in ("quarters", "modes"):
        counts = page.locator(f"[data-rows={table}] td:nth-of-type(1)").all_text_contents()
        assert sum(map(int, counts)) == number


def tick(page: Page, facet: str, value: str) -> None:
    """Ticks a checkbox, its group opened if need be."""
    box = page.locator(f'input[name="{facet}"][value="{value}"]')
    if not box.is_visible():
        page.locator(f"[data-part={facet}] summary").click()
    box.click()


INSET = 8
"""px; Chromium's box of a drawn bar has room for its stroke's corners all round."""


def drag(page: Page, start: Locator, end: Locator) -> None:
    """Draws a window by mouse from the middle of one bar to the middle of another."""
    start.scroll_into_view_if_needed()
    one, other = start.bounding_box(), end.bounding_box()
    assert one is not None
    assert other is not None
    y = one["y"] + one["height"] - INSET
    page.mouse.move(one["x"] + one["width"] / 2, y)
    page.mouse.down()
    page.mouse.move(other["x"] + INSET, y, steps=8)
    page.mouse.move(other["x"] + other["width"] / 2, y)
    page.mouse.up()


@VIEWS
def test_a_checkbox_leads_list_counts_and_address(visit: Visit, viewport: Any) -> None:
    """Reload keeps the choice, back undoes it, forward makes it again."""
    page = awake(visit(URL, viewport=viewport))
    shows(page, lambda _: True)
    tick(page, "mode", "flare-joint")
    shows(page, lambda leak: leak.mode == "flare-joint")
    assert asked(page) == {"mode": ["flare-joint"]}
    tick(page, "branch", "Osmere")
    shows(page, lambda leak: leak.mode == "flare-joint" and leak.branch == "Osmere")
    page.reload()
    awake(page)
    shows(page, lambda leak: leak.mode == "flare-joint" and leak.branch == "Osmere")
    expect(page.locator('input[name="mode"]:checked')).to_have_count(1)
    page.go_back()
    shows(page, lambda leak: leak.mode == "flare-joint")
    page.go_back()
    shows(page, lambda _: True)
    expect(page.locator("input:checked")).to_have_count(0)
    page.go_forward()
    shows(page, lambda leak: leak.mode == "flare-joint")


@VIEWS
def test_the_scale_has_whole_leaks_and_the_longest_bar_its_number(visit: Visit, viewport: Any) -> None:
    """Two leaks at most a quarter; the steps between were rounded, so that each number stood there twice."""
    page = awake(visit(f"{URL}?mode=flare-joint&branch=Osmere", viewport=viewport))
    upright = page.locator("[data-chart=quarters] .role-axis-label").last
    assert upright.locator("text").all_text_contents() == ["0", "1", "2"]
    box = page.locator("[data-chart=modes]").bounding_box()
    numbers = page.locator("[data-chart=modes] .mark-text.layer_2_marks text")
    assert box is not None
    for number in numbers.all():
        words = number.bounding_box()
        assert words is not None
        assert words["x"] + words["width"] <= box["x"] + box["width"]


@VIEWS
def test_a_window_drawn_over_the_quarters_narrows_the_list(visit: Visit, viewport: Any) -> None:
    page = awake(visit(URL, viewport=viewport))
    quarters = sorted({leak.quarter for leak in leaks()})
    assert page.locator(BARS).count() == 24  # 2021 to 2026
    drag(page, page.locator(BARS).nth(5), page.locator(BARS).nth(8))
    inside = {"2022 Q2", "2022 Q3", "2022 Q4", "2023 Q1"}
    assert inside & set(quarters)
    shows(page, lambda leak: leak.quarter in inside)
    assert asked(page) == {"from": ["2022-q2"], "to": ["2023-q1"]}
    expect(page.locator("#from")).to_have_value("2022-q2")
    # from right to left, over the old window's outside
    drag(page, page.locator(BARS).nth(20), page.locator(BARS).nth(16))
    later = {"2025 Q1", "2025 Q2", "2025 Q3", "2025 Q4", "2026 Q1"}
    shows(page, lambda leak: leak.quarter in later)
    page.go_back()
    shows(page, lambda leak: leak.quarter in inside)
    page.go_back()
    shows(page, lambda _: True)


def test_the_window_is_moved_as_a_whole_and_a_press_beside_it_clears_it(visit: Visit) -> None:
    page = awake(visit(f"{URL}?from=2022-q1&to=2022-q4", viewport=DESK))
    bars = page.locator(BARS)
    drag(page, bars.nth(5), bars.nth(9))
    assert asked(page) == {"from": ["2023-q1"], "to": ["2023-q4"]}
    box = bars.nth(20).bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] - INSET)
    shows(page, lambda _: True)
    assert asked(page) == {}


def test_a_thumb_draws_a_window_across_and_scrolls_the_page_down(visit: Visit) -> None:
    """Real touches: what goes across draws; what goes down is the page's, and leaves no window."""
    page = awake(visit(URL, viewport=PHONE, has_touch=True, is_mobile=True))
    bars = page.locator(BARS)
    bars.nth(5).scroll_into_view_if_needed()
    one, other = bars.nth(5).bounding_box(), bars.nth(8).bounding_box()
    assert one is not None
    assert other is not None
    session = page.context.new_cdp_session(page)

    def touch(kind: str, x: float = 0, y: float = 0) -> None:
        points = [] if kind == "touchEnd" else [{"x": x, "y": y}]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = one["x"] + one["width"] / 2, one["y"] + one["height"] - INSET
    end = other["x"] + other["width"] / 2
    touch("touchStart", x, y)
    for step in range(1, 11):
        touch("touchMove", x + (end - x) * step / 10, y)
    touch("touchEnd")
    page.wait_for_url("**?from=2022-q2&to=2023-q1")
    before = page.evaluate("scrollY")
    touch("touchStart", x + 120, y)
    for step in range(1, 11):
        touch("touchMove", x + 120, y - 30 * step)
    touch("touchEnd")
    page.wait_for_function("before => scrollY > before", arg=before)
    assert asked(page) == {"from": ["2022-q2"], "to": ["2023-q1"]}


def test_a_press_on_a_row_chooses_its_mode(visit: Visit) -> None:
    page = awake(visit(URL, viewport=DESK))

    def press() -> None:
        label = page.locator("[data-chart=modes] text", has_text="Valve core leak")
        label.scroll_into_view_if_needed()
        box = label.bounding_box()
        assert box is not None
        page.mouse.click(box["x"] + box["width"] + 200, box["y"] + box["height"] / 2)

    press()
    shows(page, lambda leak: leak.mode == "valve-core")
    expect(page.locator('input[name="mode"]:checked')).to_have_value("valve-core")
    expect(page.locator("[data-chart=modes] text", has_text="✓ Valve core leak")).to_be_visible()
    press()
    shows(page, lambda _: True)


def test_a_window_over_ages_takes_whole_years(visit: Visit) -> None:
    """The list then holds the ages that it says, and the same comes by the two selects."""
    page = awake(visit(URL, viewport=DESK))
    box = page.locator("[data-chart=ages] canvas").bounding_box()
    assert box is not None
    page.locator("[data-chart=ages]").scroll_into_view_if_needed()
    box = page.locator("[data-chart=ages] canvas").bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] * 0.3, y)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.5, y, steps=8)
    page.mouse.up()
    low, high = (int(asked(page)[f"age-{end}"][0]) for end in ("from", "to"))
    assert 0 < low < high
    told = page.locator("[data-told]").inner_text()
    said = page.locator("[data-cases] [data-slot=where]").all_text_contents()
    ages = [float(text.split(" years old")[0].rsplit(" ", 1)[1]) for text in said]
    assert ages
    assert all(low <= age <= high for age in ages)
    page.get_by_role("button", name="Clear all").click()
    assert asked(page) == {}
    page.locator("[data-part=age] summary").click()
    page.get_by_label("At least (years)").select_option(str(low))
    page.get_by_label("Less than (years)").select_option(str(high))
    expect(page.locator("[data-told]")).to_have_text(told)


@VIEWS
def test_all_by_keyboard(visit: Visit, viewport: Any) -> None:
    """From the head of a group to a choice, its taking out, and a whole year, with Tab, Enter and Space only."""
    page = awake(visit(URL, viewport=viewport))
    page.locator("[data-part=setting] summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    key = asked(page)["setting"][0]
    expect(page.locator(f'input[name="setting"][value="{key}"]')).to_be_focused()
    page.locator("[data-picked] button").focus()
    page.keyboard.press("Enter")
    assert asked(page) == {}
    expect(page.locator("[data-told]")).to_be_focused()
    if viewport is PHONE:
        page.locator("[data-part=when] summary").focus()
        page.keyboard.press("Enter")
    year = page.locator("[data-year='2024-q1 2024-q4']")
    year.focus()
    page.keyboard.press("Space")
    shows(page, lambda leak: leak.quarter.startswith("2024"))
    expect(year).to_have_attribute("aria-pressed", "true")
    expect(year).to_be_focused()


def test_what_is_unknown_in_an_address_is_left_out_and_a_range_is_turned(visit: Visit) -> None:
    page = awake(visit(f"{URL}?mode=nonsense&from=2023-q4&to=2023-q1&age-from=x&branch=Osmere"))
    shows(page, lambda leak: leak.branch == "Osmere" and leak.quarter.startswith("2023"))


def test_nothing_that_fits_is_told_and_few_are_called_few(visit: Visit) -> None:
    page = awake(visit(f"{URL}?age-from=16&branch=Osmere&mode=factory-defect&from=2021-q1&to=2021-q1"))
    expect(page.locator("[data-told]")).to_contain_text("0 of ")
    expect(page.locator("[data-none]")).to_be_visible()
    expect(page.locator("[data-few-said]")).to_be_hidden()
    page.goto(page.url.split("?")[0] + "?mode=freeze-burst")
    awake(page)
    cases, number = wanted(lambda leak: leak.mode == "freeze-burst")
    assert 0 < number < 5
    assert cases
    expect(page.locator("[data-few-said]")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@VIEWS
def test_it_fits_and_no_rule_of_access_is_broken(visit: Visit, viewport: Any, scheme: str) -> None:
    page = awake(
        visit(f"{URL}?mode=flare-joint&from=2022-q1&to=2024-q4", viewport=viewport, color_scheme=scheme)
    )
    page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert page.evaluate(WIDE) == [0, False, []]
    found = Axe().run(page).response["violations"]
    assert [f"{v['id']}: {[n['target'] for n in v['nodes'][:3]]}" for v in found] == []


def test_charts_take_the_colours_of_light_and_dark_while_open(visit: Visit) -> None:
    """By the device's wish, and by the page's own switch."""
    page = awake(visit(URL, viewport=DESK, color_scheme="light"))

    def drawn() -> tuple[str, str]:
        bar = page.locator(BARS).first.get_attribute("fill")
        return str(bar), str(
            page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--tube')")
        )

    light = drawn()
    assert light[0] == light[1]
    page.emulate_media(color_scheme="dark")
    page.wait_for_function(
        f"""was => document.querySelector({json.dumps(BARS)}).getAttribute("fill") !== was""", arg=light[0]
    )
    dark = drawn()
    assert dark[0] == dark[1] != light[1]
    page.locator("[data-theme-switch]").click()
    page.wait_for_function(
        f"""was => document.querySelector({json.dumps(BARS)}).getAttribute("fill") !== was""", arg=dark[0]
    )
    assert drawn() == light
    drag(page, page.locator(BARS).nth(5), page.locator(BARS).nth(8))
    assert asked(page) == {"from": ["2022-q2"], "to": ["2023-q1"]}


def test_hostile_names_are_shown_as_text(visit: Visit, address: str) -> None:
    def spoiled(route: Route) -> None:
        data = json.loads(route.fetch().text())
        data["leaks"]["title"] = [HOSTILE] * len(data["leaks"]["title"])
        data["facets"]["mode"]["names"][0] = QUOTED
        route.fulfill(json=data)

    page = visit(None, viewport=DESK)
    page.route("**/data/explore.json", spoiled)
    page.goto(address + URL)
    awake(page)
    tick(page, "mode", page.locator('input[name="mode"]').first.get_attribute("value") or "")
    expect(page.locator("[data-cases] [data-slot=title]").first).to_have_text(HOSTILE)
    expect(page.locator("[data-chart=modes] text", has_text=QUOTED)).to_be_visible()
    expect(page.locator("[data-picked] [data-slot=name]")).to_have_text(QUOTED)
    assert page.locator("main img, main b:not([data-said] b)").count() == 0


def test_without_charts_the_controls_and_the_list_work(
    visit: Visit, complaints: Complaints, address: str
) -> None:
    page = visit(None, viewport=PHONE)
    page.route("**/js/vega-bundle.js", lambda route: route.abort())
    page.goto(address + URL)
    expect(page.locator("[data-charts-fault]")).to_be_visible()
    tick(page, "branch", "Osmere")
    shows(page, lambda leak: leak.branch == "Osmere")
    assert complaints
    assert all("vega-bundle" in said or "Failed to load" in said for said in complaints)
    complaints.clear()


def test_without_data_it_says_so(visit: Visit, complaints: Complaints, address: str) -> None:
    page = visit(None)
    page.route("**/data/explore.json", lambda route: route.abort())
    page.goto(address + URL)
    expect(page.get_by_role("alert")).to_contain_text("The leaks did not load")
    assert complaints
    complaints.clear()


def test_without_javascript_it_says_what_it_would_do(visit: Visit) -> None:
    page = visit(URL, java_script_enabled=False)
    expect(page.get_by_role("heading", name="This page needs JavaScript")).to_be_visible()
    expect(page.get_by_role("link", name="all cases")).to_be_visible()
    expect(page.locator("[data-explore-room]")).to_be_hidden()


def test_no_other_page_loads_the_bundle(visit: Visit, address: str) -> None:
    page = visit(None)
    asked_for: list[str] = []
    page.on("request", lambda r: asked_for.append(r.url))
    for path in ("", "cases/", "search/"):
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
    assert not [url for url in asked_for if "vega" in url or "explore" in url]
    page.goto(address + URL)
    awake(page)
    assert any(url.endswith("js/vega-bundle.js") for url in asked_for)
