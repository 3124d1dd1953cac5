"""The unknown case in a browser: chosen from the list, searched, named, told. On the small library and two cases more."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Route

from site_fixture import FLARE, built, copy_library, once, served, write_config

from .conftest import DESK, PHONE, WIDE, Visit

COIL = """id: OS-2025-031
title: End turn of a chiller found behind a board
reported: 2025-05-03
closed: 2025-05-05
branch: Osmere
crew: O1
equipment: {setting: process, kind: chiller, refrigerant: R-134a, charge: 120 lb, installed: 2015-04-20}
symptoms: [short-of-charge, oil-film]
charge: {lost: 20 lb, over: 10 months}
search:
  - {technique: visual, at: [outdoor-coil], minutes: 15, result: clean}
  - {technique: heated-diode-detector, at: [outdoor-coil-turn], minutes: 20, result: pinpointed}
  - {technique: bubble-test, at: [outdoor-coil-turn], minutes: 10, result: confirmed}
cause: {mode: coil-turn-leak, component: outdoor-coil-turn, proof: point}
story: It sat where nobody looked.
reading: {level: technician}
"""
DONE = """document.addEventListener("leaklore-done", (e) => { window.done = e.detail; });"""


def _make(folder: Path) -> None:
    library = copy_library(folder)
    for text in (FLARE, COIL):
        number = text.split()[1]
        (library / "records" / "2025" / f"{number}.yaml").write_text(text, "utf-8")
    built(write_config(folder, library))


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library with two cases that make exercises, built."""
    return once(tmp_path_factory, "unknown", _make) / "site"


@pytest.fixture(scope="session")
def address(small: Path) -> Iterator[str]:
    """Its address: visits go there and not to the demo."""
    with served(small, "/leaks/") as at:
        yield at


def opened(visit: Visit, query: str = "?case=KW-2025-099", **settings: Any) -> Page:
    """The page, awake."""
    page = visit(f"reading/unknown/{query}", init=DONE, **settings)
    page.wait_for_selector("[data-unknown][data-awake]")
    return page


def ask(page: Page, technique: str, place: str) -> str:
    """Makes a check as a thumb does; what is said of it."""
    if page.locator("[data-where]").is_visible() and technique not in page.inner_text("[data-technique]"):
        page.click("[data-other]")
    if page.locator("[data-techniques]").is_visible():
        page.locator("[data-techniques] button", has_text=technique).click()
    button = page.locator(f'[data-places] [data-key="{place}"]')
    if not button.is_visible():
        button.locator("xpath=ancestor::details").locator("summary").click()
    button.click()
    return " ".join(page.inner_text("[data-said]").split())


def name(page: Page, place: str, cause: str) -> None:
    """Ends the search."""
    page.click("[data-sure]")
    page.select_option("[name=place]", place)
    page.select_option("[name=cause]", cause)
    page.click("[data-name] [type=submit]")


def test_the_list_names_units_and_gives_nothing_away(visit: Visit) -> None:
    page = opened(visit, "")
    text = page.inner_text("main")
    assert "Wall or floor split, home, R\u201132: short of charge" in text
    assert "Chiller, process plant, R\u2011134a: short of charge" in text
    for secret in ("KW-2025-099", "weeps", "Flare", "End turn", "board"):
        assert secret not in text
    page.select_option("[data-only=level]", "apprentice")
    assert page.inner_text("[data-shown]") == "1 of 2 unknown cases."
    page.select_option("[data-only=setting]", "process")
    assert page.inner_text("[data-shown]") == "None of this kind. Take a filter away."
    page.reload()
    page.wait_for_selector("[data-awake]")
    assert page.input_value("[data-only=setting]") == "process"
    page.select_option("[data-only=level]", "")
    page.click("text=Chiller, process plant")
    page.wait_for_selector("[data-play]:not([hidden])")
    assert page.url.endswith("?case=OS-2025-031")


def test_points_that_nobody_gets_say_why(visit: Visit) -> None:
    """Few minutes and no place in vain are worth nothing without the place: the table says so, and boasts no figures."""
    page = opened(visit)
    name(page, "indoor-flare", "flare-joint")
    rows = page.locator("[data-rows] tr").all_inner_texts()
    assert [row.split("\t")[1] for row in rows] == ["1 of 3", "3 of 3", "0 of 2", "0 of 2"]
    assert "Flare at the indoor unit, and no check of yours pinpointed it." in rows[0]
    assert all("No check of yours pinpointed it." in row for row in rows[2:])
    page.click("[data-again]")
    ask(page, "Infrared detector", "indoor-flare")
    name(page, "service-port", "flare-joint")
    rows = page.locator("[data-rows] tr").all_inner_texts()
    assert all("A check of yours pinpointed it, and you named another place." in row for row in rows[2:])


def test_a_search_to_its_end(visit: Visit) -> None:
    page = opened(visit)
    shown = page.inner_text("main")
    for secret in ("KW-2025-099", "weeps", "85 ppm", "own hose", "split."):
        assert secret not in shown
    assert re.search("seen\n+short of charge", shown, re.IGNORECASE)
    said = ask(page, "Looking for oil", "outdoor-cabinet")
    assert said.startswith("Clean Looking for oil and damage: Outdoor unit cabinet. 10 min, 10 min so far.")
    assert "not done" not in said
    said = ask(page, "Infrared detector", "service-port")
    assert said.startswith("It shows something Infrared detector: Service port. 7 min, 17 min so far.")
    assert "Narrow it down." in said
    assert "own hose" not in page.inner_text("main")  # what it was came out later
    said = ask(page, "Bubble test", "service-port")
    assert "Clean" in said
    assert "(not done on the day)" in said
    said = ask(page, "Infrared detector", "indoor-flare")
    assert said.startswith("Pinpointed")
    assert "85 ppm, background 1 ppm." in said
    assert said.endswith("A second technique there would confirm it.")
    assert ask(page, "Bubble test", "indoor-flare").endswith("Two techniques agree.")
    assert page.locator("[data-trail] > li").count() == 5
    name(page, "indoor-flare", "flare-joint")
    told = page.inner_text("[data-debrief]")
    assert "Right: Flare joint leak at the flare at the indoor unit." in told
    assert "KW-2025-099: Flare on a wall unit weeps" in told
    assert "remade, not tightened again" in told
    assert "the crew 29 min" in told
    page.click("[data-walks] summary >> nth=0")
    assert "A false sign. Gas from our own hose." in page.inner_text("[data-walks]")
    done = page.evaluate("window.done")
    assert (done["key"], done["of"]) == ("unknown:KW-2025-099", 10)
    assert 6 <= done["score"] <= 10
    assert done["minutes"] >= 1
    assert page.inner_text("[data-points]") == f"{done['score']} of 10"
    page.click("[data-case-link]")
    assert page.url.endswith("/cases/KW-2025-099/")


def test_every_minute_of_a_technique_has_its_unit(visit: Visit) -> None:
    costs = opened(visit).locator("[data-techniques] [data-slot=costs]").all_inner_texts()
    assert costs
    for cost in costs:
        assert re.fullmatch(r"about \d+ min(, then \d+ min each)?", cost), cost
    assert any("then" in cost for cost in costs)


def test_a_guess_is_told(visit: Visit) -> None:
    page = opened(visit)
    name(page, "service-port", "vessel-rust")
    told = page.inner_text("[data-debrief]")
    assert "Not this time" in told
    assert "That is a guess" in told
    assert "was unlikely from the call on" in told
    assert page.evaluate("window.done.score") == 0
    page.click("[data-again]")
    assert page.locator("[data-search]").is_visible()
    assert page.inner_text("[data-clock]") == "0 min, 0 checks"


def test_a_reload_goes_on_where_it_was_and_so_does_another_day(visit: Visit) -> None:
    """A window that is closed half-way loses no check: opened anew it doesn't give the minutes back."""
    page = opened(visit)
    assert page.inner_text("[data-said]") == "Choose a technique, then a place."
    ask(page, "Infrared detector", "service-port")
    page.reload()
    page.wait_for_selector("[data-awake]")
    assert page.inner_text("[data-clock]") == "7 min, 1 check"
    assert page.locator("[data-trail] > li").count() == 1
    later = page.context.new_page()
    url = page.url
    page.close()
    later.goto(url)
    later.wait_for_selector("[data-awake]")
    assert later.inner_text("[data-clock]") == "7 min, 1 check"
    assert "Your checks from before still count" in later.inner_text("[data-said]")


def test_two_tabs_make_one_search(visit: Visit) -> None:
    page = opened(visit)
    other = page.context.new_page()
    other.goto(page.url)
    other.wait_for_selector("[data-awake]")
    ask(page, "Infrared detector", "service-port")
    other.wait_for_selector("[data-clock]:text('7 min, 1 check')")
    ask(other, "Infrared detector", "indoor-flare")
    page.wait_for_selector("[data-clock]:text('2 checks')")
    name(page, "indoor-flare", "flare-joint")
    name(other, "indoor-flare", "flare-joint")
    assert "This was practice" in other.inner_text("[data-debrief]")
    again = page.context.new_page()
    again.goto(page.url)
    again.wait_for_selector("[data-awake]")
    assert again.inner_text("[data-clock]") == "0 min, 0 checks"


def test_a_search_again_is_practice_and_the_first_counts(visit: Visit) -> None:
    """Who has read the answer can name it: that earns nothing."""
    page = opened(visit)
    name(page, "service-port", "vessel-rust")
    assert "practice" not in page.inner_text("[data-debrief]")
    page.click("[data-again]")
    ask(page, "Infrared detector", "indoor-flare")
    assert ask(page, "Bubble test", "indoor-flare").endswith("Two techniques agree.")
    name(page, "indoor-flare", "flare-joint")
    told = page.inner_text("[data-debrief]")
    assert "10 of 10" in told
    assert "This was practice: the answer was known. What counts is the first search: 0 of 10." in told
    assert "Flare at the indoor unit: two techniques agree." in told
    page.goto(page.url.split("?")[0])
    page.wait_for_selector("[data-awake]")
    assert "Done 0 of 10" in page.inner_text("main")


def test_by_keyboard_alone(visit: Visit) -> None:
    """Technique, area, place by Enter; the focus stays at the choice, and the answer is in a live region."""
    page = opened(visit, viewport=PHONE)
    page.locator("[data-techniques] button").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-technique]:focus")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('[data-places] summary')"):
            break
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-places] details[open] summary:focus")
    page.keyboard.press("Tab")
    page.wait_for_selector("[data-places] [data-key]:focus")
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-clock]:text-matches('1 check$')")
    page.wait_for_selector("[data-places] [data-key]:focus")
    said = page.locator("[data-said]")
    assert said.get_attribute("aria-live") == "polite"
    assert re.match(r"(Clean|It shows something|Pinpointed)", said.inner_text())
    assert page.inner_text("[data-clock]").endswith("1 check")


def test_an_area_opened_in_the_same_moment_stays_open(visit: Visit) -> None:
    """On a slow phone the next tap comes before the browser has told of the opened area."""
    page = opened(visit, viewport=PHONE)
    page.locator("[data-techniques] button").first.click()
    key = page.evaluate(
        """() => {
          const area = document.querySelector("[data-places] details:not([open])");
          const place = area.querySelector("[data-key]");
          area.open = true;
          place.click();
          return place.dataset.key;
        }"""
    )
    assert page.evaluate("document.activeElement.dataset.key") == key


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_and_axe_finds_nothing(visit: Visit, address: str, size: dict[str, int], scheme: str) -> None:
    page = opened(visit, viewport=size, color_scheme=scheme)
    axe = Axe()

    def fits() -> None:
        assert page.evaluate(WIDE) == [0, False, []]
        found = axe.run(page).response["violations"]
        assert [f"{v['id']}: {[n['target'] for n in v['nodes'][:3]]}" for v in found] == []

    fits()
    ask(page, "Infrared detector", "service-port")
    small = page.evaluate(
        """() => [...document.querySelectorAll("[data-play] button, [data-play] summary")].filter((e) =>
          e.checkVisibility() && e.getBoundingClientRect().height < 47.5).map((e) => e.textContent)"""
    )
    assert small == []
    fits()
    name(page, "service-port", "valve-core")
    fits()
    page.goto(f"{address}reading/unknown/")
    page.wait_for_selector("[data-awake]")
    fits()


def test_cautions_of_the_technique_stand_with_it(visit: Visit) -> None:
    page = opened(visit)
    page.locator("[data-techniques] button", has_text="Bubble test").click()
    names = page.inner_text("[data-caution-names]")
    assert "Nitrogen under pressure" in names
    assert "Flammable refrigerant" in names  # the gas is R-32
    page.click("[data-where] .caution summary")
    assert "Local codes, the nameplate and licensed practice decide" in page.inner_text("[data-where]")


def test_a_case_that_is_none_is_told_and_the_list_is_there(visit: Visit) -> None:
    page = visit("reading/unknown/?case=KW-1999-001")
    page.wait_for_selector("[data-awake]")
    assert "There is no such case here." in page.inner_text("[data-status]")
    assert page.locator(".unknown__list").first.is_visible()


def test_without_script_the_list_reads(visit: Visit) -> None:
    page = visit("reading/unknown/", java_script_enabled=False)
    text = page.inner_text("main")
    assert "Without JavaScript these exercises can’t answer." in text
    assert "Wall or floor split, home" in text


def test_a_phone_keeps_the_page_and_fetches_an_exercise_when_it_is_opened(small: Path) -> None:
    """Page and script are in the groups that are kept; the exercises would fill the phone."""
    kept = json.loads((small / "data" / "offline.json").read_text("utf-8"))
    group = {row[0]: kept["groups"][row[3]] for row in kept["files"]}
    assert group["js/unknown.mjs"] == "core"
    assert group["reading/unknown/index.html"] == "cases"
    assert "data/learn/unknown/KW-2025-099.json" not in group


def test_a_case_on_its_way_leaves_the_page_its_head(visit: Visit, address: str) -> None:
    """With bad signal the case takes its time; nobody looks at an empty page meanwhile."""
    page = visit(None, viewport=PHONE)
    held: list[Route] = []
    page.route("**/data/learn/unknown/**", lambda route: held.append(route))
    with page.expect_request("**/data/learn/unknown/**"):
        page.goto(f"{address}reading/unknown/?case=KW-2025-099")
    page.wait_for_selector("[data-status]:not(:empty)")
    assert page.locator("h1:visible").all_inner_texts() == ["Unknown cases"]
    assert held
    for route in held:
        route.continue_()
    page.wait_for_selector("[data-unknown][data-awake]")
    assert page.locator("h1:visible").count() == 1
    assert page.locator("[data-play] h1").is_visible()
