"""The symptom search in Chromium, on a phone and at a desk: asked by typing, by tapping, by address, by keyboard."""

from __future__ import annotations

import datetime as dt
import json
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, quote, urljoin, urlsplit

import pytest
import yaml
from playwright.sync_api import Locator, Page, Route, expect

from leaklore.analysis.evidence import Check
from leaklore.analysis.second_leak import MORE
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.site import edition
from leaklore.records.check import check
from leaklore.records.library import Library
from leaklore.records.today import today
from leaklore.search.documents import FACETS
from leaklore.search.find import Answer, Engine
from leaklore.search.make import make
from leaklore.trade import flow, refrigerants
from leaklore.trade.units import YEAR
from records.helpers import RECORD, copy_library, put
from records.helpers import check as check_record
from site_fixture import ROOT, Site

from .conftest import DESK, PHONE, WIDE, Complaints, Visit

OIL = "oil at flare minisplit"
LOSS = f"{OIL}, lost 2 kg in a year"
VISUAL = "Looking for oil and damage"
ROW_UNIT = "System S-0502: Ropewalk data room, Row unit 7\nComputer-room unit, R-410A"


@pytest.fixture(scope="session")
def library() -> Library:
    """The demo library as the site was built from it."""
    found = check(ROOT / "cases", today=dt.date(2026, 12, 31)).library
    assert found is not None
    return found


@pytest.fixture(scope="session")
def engine(library: Library) -> Engine:
    """Python's engine of the demo site: the same library, pages and day."""
    book = Book(library, dt.date(2026, 12, 31))
    others = [
        (p.section, p.title, p.description, p.url)
        for p in edition(book).pages
        if p.section in ("bench", "reading")
    ]
    return make(library, links.address, others, book.adviser).engine


def query(page: Page) -> dict[str, list[str]]:
    """What stands behind the question mark of the address."""
    return parse_qs(urlsplit(page.url).query)


def wait_for(page: Page, text: str) -> Page:
    """Until this text is answered with its cases."""
    expect(page.locator("[data-search]")).to_have_attribute("data-answered", text)
    return page


def ask(visit: Visit, text: str, more: str = "", **settings: Any) -> Page:
    """The page, opened with a question in its address, and answered."""
    return wait_for(visit(f"search/?q={quote(text)}{more}", **settings), text)


def typed(page: Page, text: str) -> Page:
    """Another question, put into the box at once."""
    page.get_by_role("searchbox").fill(text)
    return wait_for(page, text)


@contextmanager
def answered_anew(page: Page) -> Iterator[None]:
    """Something that keeps the text and asks again."""
    page.evaluate("() => { delete document.querySelector('[data-search]').dataset.answered; }")
    yield
    expect(page.locator("[data-search][data-answered]")).to_have_count(1)


def chips(page: Page) -> list[str]:
    """What was understood, as read."""
    return page.locator("[data-heard] [data-slot=said]").all_inner_texts()


def causes(page: Page) -> list[str]:
    """Names of the causes shown, in their order."""
    return page.locator("[data-causes] [data-slot=name]").all_inner_texts()


def checks(page: Page) -> list[str]:
    """technique@place of the checks shown, in their order."""
    return page.locator("[data-next] [data-check]").evaluate_all("all => all.map((e) => e.dataset.check)")


def cases(page: Page) -> list[str]:
    """Numbers of the cases shown, in their order."""
    return page.locator("[data-cases] [data-slot=id]").all_inner_texts()


def steps(page: Page) -> list[str]:
    """Steps of the trail as read."""
    found = page.locator(".trail__list > li").all_inner_texts()
    return [" ".join(step.split()) for step in found]


def mark(page: Page, result: str, nth: int = 0) -> None:
    """Presses one of the three buttons of a check."""
    row = page.locator("[data-next] [data-check]").nth(nth)
    if nth:
        row.locator("summary").click()
    with answered_anew(page):
        row.locator(f"[data-mark={result}]").click()


def told(page: Page, text: str, options: dict[str, Any] | None = None) -> dict[str, Any]:
    """What the page's own engine answers to others."""
    found: dict[str, Any] = page.evaluate(
        "([text, options]) => window.leaklore.find(text, options)", [text, options or {}]
    )
    return found


def probability(page: Page, mode: str, options: dict[str, Any]) -> float:
    """Of one cause after checks."""
    text = page.get_by_role("searchbox").input_value()
    return next(float(c["probability"]) for c in told(page, text, options)["causes"] if c["mode"] == mode)


def assert_same(engine: Engine, ours: Answer, page: Page, theirs: dict[str, Any] | None) -> None:
    """The page, and what its engine tells, against Python's answer."""
    said = engine.as_json(ours)
    if theirs is not None:
        assert theirs["understood"] == said["understood"]
        assert theirs["words"] == said["words"]
        assert [c["mode"] for c in theirs["causes"]] == [c["mode"] for c in said["causes"]]
        for name in ("causes", "checks"):
            assert [c["probability"] for c in theirs[name]] == pytest.approx(
                [c["probability"] for c in said[name]], abs=2e-9
            )
        assert [(c["technique"], c["at"], c["why"]) for c in theirs["checks"]] == [
            (c["technique"], c["at"], c["why"]) for c in said["checks"]
        ]
        assert [(c["id"], c["why"]) for c in theirs["cases"]] == [(c["id"], c["why"]) for c in said["cases"]]
        assert [p["url"] for p in theirs["pages"]] == [p["url"] for p in said["pages"]]
    assert causes(page) == [c["name"] for c in said["causes"][:3]]
    assert checks(page) == [f"{c['technique']}@{c['at']}" for c in said["checks"][:6]]
    assert cases(page) == [c["id"] for c in said["cases"][:6]]
    shown = page.locator("[data-pages] [data-slot=title]").all_inner_texts()
    assert shown == [p["title"] for p in said["pages"]]


# The answer.


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_typed_question_is_answered_as_in_python(visit: Visit, engine: Engine, viewport: Any) -> None:
    page = visit("search/", viewport=viewport)
    expect(page.locator("[data-status]")).to_have_text("Type, or tap what you see.")
    expect(page.locator("[data-answer]")).to_be_hidden()
    page.get_by_role("searchbox").press_sequentially(OIL)
    wait_for(page, OIL)
    assert chips(page) == [
        "Oil film",
        "At: Flare at the outdoor unit or Flare at the indoor unit",
        "Wall or floor split",
    ]
    assert query(page) == {"q": [OIL]}
    ours = engine.find(OIL, today())
    assert_same(engine, ours, page, told(page, OIL))

    said = engine.as_json(ours)
    for row, cause in zip(page.locator("[data-causes] > li").all(), said["causes"][:3], strict=True):
        odds = " ".join(row.locator(".odds").inner_text().split())
        assert odds.lower() == f"{cause['word']} {round(100 * cause['probability'])} %"
        assert float(row.locator("rect").get_attribute("width").rstrip("%")) == pytest.approx(  # type: ignore[union-attr]
            100 * cause["probability"], abs=0.06
        )
        expect(row.locator("[data-slot=places]")).to_contain_text("Most likely at: ")
        expect(row.locator("[data-slot=behind]")).to_contain_text(re.compile("proven case|judgement"))

    first, best = page.locator(".next-check"), said["checks"][0]
    expect(first.locator("[data-slot=technique]")).to_have_text(
        engine.lexicon.names["technique"][best["technique"]]
    )
    expect(first.locator("[data-slot=at]")).to_have_text(engine.lexicon.names["place"][best["at"]])
    expect(first.locator(".next-check__odds")).to_have_text(
        f"{round(100 * best['probability'])} % chance that it shows here about {round(best['minutes'])} min"
    )
    expect(first.locator("details dd").first).to_be_hidden()
    first.locator("summary").click()
    expect(first.locator("details dt").first).to_be_visible()
    names = first.locator("details dt").all_inner_texts()
    assert "; ".join(names) == first.locator("[data-slot=caution-names]").inner_text()
    assert all(len(text) > 20 for text in first.locator("details dd").all_inner_texts())

    card = page.locator("[data-cases] > li").first
    assert {m.lower() for m in page.locator("[data-cases] mark").all_inner_texts()} & {
        "flare",
        "flares",
        "oil",
    }
    expect(card.locator("[data-slot=why]")).to_have_text(re.compile("^Shares: .*Oil film"))
    expect(page.locator("[data-status]")).to_have_text("The 6 most similar cases first.")


def test_all_links_of_an_answer_lead_to_pages_that_exist(visit: Visit, address: str, demo: Site) -> None:
    page = ask(visit, LOSS)
    page.get_by_role("button", name="More causes").click()
    with answered_anew(page):
        page.get_by_role("button", name="More cases").click()
    mark(page, "found")
    hrefs = page.locator("main a[href]").evaluate_all("all => all.map((a) => a.href)")
    assert len(hrefs) > 60
    for href in set(hrefs):
        assert href.startswith(address), href
        at = urlsplit(href)
        file = at.path.removeprefix("/leaks/") + "index.html"
        assert file in demo.files, href
        if at.fragment and file != "search/index.html":
            assert at.fragment in demo.page(file).ids, href


def test_more_causes_and_cases_are_shown_and_have_the_focus(visit: Visit, engine: Engine) -> None:
    page = ask(visit, OIL)
    said = engine.as_json(engine.find(OIL, today()))
    with answered_anew(page):
        page.get_by_role("button", name="More causes").click()
    assert causes(page) == [c["name"] for c in said["causes"][:10]]
    expect(page.locator("[data-causes] > li").nth(3).locator("a").first).to_be_focused()
    expect(page.locator("[data-more-causes]")).to_be_hidden()
    with answered_anew(page):
        page.get_by_role("button", name="More cases").click()
    assert cases(page) == [c["id"] for c in said["cases"]]
    assert len(cases(page)) > 6
    expect(page.locator("[data-cases] > li").nth(6).locator("a")).to_be_focused()
    expect(page.locator("[data-status]")).to_have_text(f"The {len(said['cases'])} most similar cases first.")


@pytest.mark.parametrize(
    ("typed_as", "shown", "answered"),
    [
        ("S-0502", [(ROW_UNIT, "systems/S-0502/")], False),
        ("s502", [(ROW_UNIT, "systems/S-0502/")], False),
        ("0502", [(ROW_UNIT, "systems/S-0502/")], False),
        ("oil at flare S 502", [(ROW_UNIT, "systems/S-0502/")], True),
        ("S-9999", [("S-9999 is not in the register.", None)], False),
        ("9999", [], True),
        ("R-410A oil at flare, split", [], True),
    ],
)
def test_the_number_on_a_label_leads_to_the_unit(
    visit: Visit, address: str, typed_as: str, shown: list[tuple[str, str | None]], answered: bool
) -> None:
    """Large enough for a glove; with nothing else told no check is advised, for none would be this unit's."""
    page = ask(visit, typed_as)
    rows = page.locator("[data-named] li")
    assert rows.all_inner_texts() == [text for text, _ in shown]
    links = page.locator("[data-named] a")
    hrefs = links.evaluate_all("all => all.map((a) => a.href)")
    assert hrefs == [address + path for _, path in shown if path]
    assert all(box and box["height"] >= 48 for box in (link.bounding_box() for link in links.all()))
    assert page.locator("[data-answer]").is_visible() == answered
    said = page.locator("[data-status]").inner_text()
    assert (said == "") == (not answered)


def test_a_named_unit_is_searched_as_what_the_register_says_it_is(visit: Visit, engine: Engine) -> None:
    """The same checks and causes as when kind, place, refrigerant and charge are typed; a record begins with the number."""
    page = ask(visit, "oil film, S-0502")
    ours = engine.find("oil film, computer-room unit, data room, R-410A, charge 27 lb", today())
    assert checks(page) == [f"{c.technique}@{c.at}" for c in ours.advice.plan.checks[:6]]
    assert causes(page) == [engine.lexicon.names["mode"][c.mode] for c in ours.advice.causes[:3]]
    assert chips(page) == ["Oil film"]
    mark(page, "clean")
    page.get_by_role("button", name="Record this case").click()
    page.wait_for_url("**/record/**")
    expect(page.locator('[data-pointer="system"] [data-chosen]')).to_contain_text("S-0502")
    page = ask(visit, "S-0502, S-0233, oil film")  # of which of the two?
    assert checks(page) == [
        f"{c.technique}@{c.at}" for c in engine.find("oil film", today()).advice.plan.checks[:6]
    ]


def test_a_case_is_opened_by_its_number_and_a_unit_without_its_register(
    visit: Visit, address: str, complaints: Complaints
) -> None:
    """However the number is typed. Without the register the number leads on."""
    page = visit(None)
    page.route("**/data/systems.json", lambda route: route.abort())
    page.goto(f"{address}search/?q=kw%202026%20016%20and%20S-0502")
    wait_for(page, "kw 2026 016 and S-0502")
    hrefs = page.locator("[data-named] a").evaluate_all("all => all.map((a) => a.href)")
    assert hrefs == [f"{address}systems/S-0502/", f"{address}cases/KW-2026-016/"]
    assert all("systems.json" in one or "ERR_FAILED" in one for one in complaints)
    complaints.clear()


def test_from_a_unit_the_search_begins_with_what_the_register_knows(visit: Visit) -> None:
    """Kind, refrigerant, charge and age are understood, and nothing else is left of the words."""
    page = visit("systems/S-0502/")
    page.get_by_role("link", name="Search a leak here").click()
    expect(page.get_by_role("searchbox")).not_to_have_value("")
    text = page.get_by_role("searchbox").input_value()
    wait_for(page, text)
    assert chips(page) == ["Computer-room unit", "R-410A", "Charge 12 kg (27 lb)", "9.4 years old"]
    assert told(page, text)["words"] == []


def test_what_is_denied_speaks_against(visit: Visit, engine: Engine) -> None:
    said = "no oil, no bubbles at flares"
    page = ask(visit, said)
    assert chips(page) == [
        "No Oil film",
        "Bubble test: clean: Flare at the outdoor unit or Flare at the indoor unit",
    ]
    assert_same(engine, engine.find(said, today()), page, told(page, said))
    denied = probability(page, "flare-joint", {})
    typed(page, "oil at flares")
    affirmed = probability(page, "flare-joint", {})
    assert denied < affirmed / 2


# Tapping, and taking out.


def test_a_symptom_is_tapped_once_twice_thrice(visit: Visit) -> None:
    page = visit("search/")
    box, field = page.locator("[data-tap-box]"), page.get_by_role("searchbox")
    expect(box).to_have_attribute("open", "")
    button = page.locator("[data-tap=oil-film]")
    expect(button).to_have_attribute("aria-pressed", "false")
    button.click()
    wait_for(page, "oil film")
    expect(button).to_have_attribute("aria-pressed", "true")
    assert chips(page) == ["Oil film"]
    button.click()
    wait_for(page, "no oil film")
    expect(button).to_have_attribute("aria-pressed", "mixed")
    assert button.evaluate("e => getComputedStyle(e).borderTopStyle") == "dashed"
    assert chips(page) == ["No Oil film"]
    expect(box).to_have_attribute("open", "")
    button.click()
    expect(field).to_have_value("")
    expect(button).to_have_attribute("aria-pressed", "false")
    expect(page.locator("[data-answer]")).to_be_hidden()
    expect(page.locator("[data-heard-box]")).to_be_hidden()
    assert query(page) == {}


def test_every_symptom_can_be_tapped_beside_text(visit: Visit) -> None:
    """Its own name is understood as itself, seen and absent, and the text before it comes back."""
    page = ask(visit, "minisplit")
    page.locator("[data-tap-box] > summary").click()
    keys = page.locator("[data-tap]").evaluate_all("all => all.map((e) => e.dataset.tap)")
    assert len(keys) > 20
    for key in keys:
        button = page.locator(f"[data-tap='{key}']")
        for state in ("true", "mixed", "false"):
            button.click()
            expect(button, key).to_have_attribute("aria-pressed", state)
            pressed = page.locator("[data-tap]:not([aria-pressed=false])").count()
            assert pressed == (state != "false"), f"{key}: {chips(page)}"
        expect(page.get_by_role("searchbox")).to_have_value("minisplit")


@pytest.mark.parametrize(
    ("text", "out", "left", "still"),
    [
        (OIL, "Oil film", "at flare minisplit", None),
        (OIL, "Wall or floor split", "oil at flare", None),
        ("minisplit, no oil, hissing", "No Oil film", "minisplit, hissing", None),
        ("hissing without oil", "No Oil film", "hissing", None),
        ("no oil or hissing", "No Hissing", "no oil or", ["No Oil film"]),
        ("no oil or hissing", "No Oil film", "no or hissing", ["No Hissing"]),
        ("lost 2 kg in a year, oil", "Lost 2 kg (4.4 lb)", None, ["In 1 year", "Oil film"]),
        ("R-410A, oil", "R-410A", "oil", ["Oil film"]),
        ("öl ✓ oil, hissing 👍 minisplit", "Hissing", "öl ✓ oil, 👍 minisplit", None),
    ],
)
def test_a_chip_takes_out_just_its_words(
    visit: Visit, text: str, out: str, left: str | None, still: list[str] | None
) -> None:
    page = ask(visit, text)
    before = chips(page)
    page.locator("[data-heard] button").filter(has=page.get_by_text(out, exact=True)).click()
    field = page.get_by_role("searchbox")
    if left is not None:
        expect(field).to_have_value(left)
    expect(field).not_to_have_value(text)
    wait_for(page, field.input_value())
    assert chips(page) == (still if still is not None else [c for c in before if c != out])
    expect(field).to_be_focused()


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("oil, coil", "At: Outdoor coil or Indoor coil or Display case coil or Cold room coil"),
        ("minisplit oil, coil", "At: Outdoor coil or Indoor coil"),
        ("reach in oil, coil", "At: Display case coil"),
        ("minisplit oil, display case coil", "At: Display case coil"),
    ],
)
def test_a_chip_names_places_that_the_equipment_can_have(visit: Visit, text: str, place: str) -> None:
    assert place in chips(ask(visit, text))


def test_a_chip_is_taken_out_by_keyboard(visit: Visit) -> None:
    page = ask(visit, OIL)
    page.get_by_role("searchbox").focus()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Clear")).to_be_focused()
    page.keyboard.press("Tab")
    first = page.locator("[data-heard] button").first
    expect(first).to_be_focused()
    expect(first).to_have_accessible_name("Oil film take out")
    page.keyboard.press("Enter")
    wait_for(page, "at flare minisplit")
    expect(page.get_by_role("searchbox")).to_be_focused()


def test_clear_empties_everything(visit: Visit) -> None:
    page = ask(visit, OIL)
    mark(page, "clean")
    page.get_by_role("button", name="Clear").click()
    expect(page.get_by_role("searchbox")).to_have_value("")
    expect(page.get_by_role("searchbox")).to_be_focused()
    expect(page.locator("[data-answer]")).to_be_hidden()
    assert query(page) == {}


# Checks made.


def test_a_clean_check_moves_on(visit: Visit, engine: Engine) -> None:
    page = ask(visit, OIL)
    before = checks(page)
    technique, at = before[0].split("@")
    was = probability(page, "flare-joint", {})
    mark(page, "clean")
    made = Check(technique, (at,), "clean")
    options = {"checks": [{"technique": technique, "at": [at], "result": "clean"}]}
    assert_same(engine, engine.find(OIL, today(), [made]), page, told(page, OIL, options))
    assert before[0] not in checks(page)
    assert steps(page) == [f"Clean {VISUAL}: Flare at the indoor unit Undo"]
    assert query(page)["did"] == [f"clean.{technique}@{at}"]
    assert probability(page, "flare-joint", options) < was
    expect(page.locator("#next")).to_be_focused()
    expect(page.locator("#next")).to_be_in_viewport()
    with answered_anew(page):
        page.get_by_role("button", name="Undo").click()
    assert checks(page) == before
    expect(page.locator(".trail")).to_have_count(0)
    expect(page.locator("#next")).to_be_focused()
    assert query(page) == {"q": [OIL]}


def test_what_cannot_be_done_now_is_left_out_and_tells_nothing(visit: Visit, engine: Engine) -> None:
    page = ask(visit, OIL)
    before, odds = checks(page), page.locator(".odds").all_inner_texts()
    technique, at = before[0].split("@")
    mark(page, "skip")
    assert before[0] not in checks(page)
    assert page.locator(".odds").all_inner_texts() == odds
    assert_same(engine, engine.find(OIL, today(), [Check(technique, (at,), "skip")]), page, None)
    assert steps(page)[0].startswith("Not now ")
    with answered_anew(page):
        page.get_by_role("button", name="Undo").click()
    assert checks(page) == before


def test_a_later_check_can_be_marked_too(visit: Visit) -> None:
    page = ask(visit, OIL)
    third = checks(page)[2]
    mark(page, "clean", nth=2)
    assert query(page)["did"] == [f"clean.{third}"]
    assert third not in checks(page)


def test_a_find_is_held_against_the_loss_and_the_search_goes_on(
    visit: Visit, engine: Engine, library: Library
) -> None:
    page = ask(visit, LOSS)
    first = checks(page)[0]
    technique, at = first.split("@")
    mark(page, "found")
    panel = page.locator(".answer--found")
    expect(panel.locator("[data-slot=headline]")).to_have_text(f"Found: {VISUAL}: Flare at the indoor unit")
    expect(panel).to_contain_text("Confirm it with a second technique")
    expect(panel.get_by_role("link", name="The repair")).to_have_attribute(
        "href", re.compile(r"guide/failure-modes/flare-joint/#fix$")
    )
    expect(panel).to_contain_text("The charge lost is 2 kg (4.4 lb) / year.")

    field, line = panel.get_by_role("textbox"), panel.locator("[data-slot=explained]")
    expect(field).to_have_accessible_name("Seconds for one bubble of 2 mm (5/64 in) to grow there")
    gas = refrigerants.of(library.guide.refrigerants["R-410A"].facts)
    for seconds in (20.0, 4.0, 0.5, 0.02):
        field.fill("")
        expect(line).to_have_text("")
        field.fill(str(seconds))
        passes = flow.mass_rate(flow.bubble_time(1.0) / seconds, gas.molar_mass) * YEAR
        times = 2 / passes
        expect(line).to_contain_text("The charge lost is" if times >= MORE else "that explains the loss")
        shown = re.search(r"passes about ([\d.]+) (g|kg) \(", line.inner_text())
        assert shown, line.inner_text()
        assert float(shown[1]) * (0.001 if shown[2] == "g" else 1) == pytest.approx(passes, rel=0.05)
        if times >= MORE:
            said = re.search(r"lost is ([\d.]+) times more than this explains", line.inner_text())
            assert said
            assert float(said[1]) == pytest.approx(times, rel=0.02, abs=0.06)
    field.fill("20")
    expect(line).to_contain_text("keep searching")
    for bad in ("four", "-1", "0", "1e999"):
        field.fill(bad)
        expect(line).to_have_text("Write seconds as a number, for example 4.")
    field.fill("0,5")
    expect(line).to_contain_text("passes about")
    field.fill("")
    expect(line).to_have_text("")

    with answered_anew(page):
        page.get_by_role("button", name="Keep searching: another leak").click()
    assert query(page)["second"] == ["1"]
    assert checks(page)[0].split("@")[1] != at
    expect(panel).to_have_count(0)
    expect(page.locator("[data-next]")).to_contain_text("Looking for another leak")
    expect(page.locator("#next")).to_be_focused()
    # Python's way of searching on after a find
    found = engine.find(LOSS, today(), [Check(technique, (at,), "found")])
    known = engine.adviser.without_find(found.evidence)
    advice = engine.adviser.advise(known)
    hits, pages = engine.hits(engine.terms(found.understood, advice), None)
    assert_same(engine, replace(found, evidence=known, advice=advice, cases=hits, pages=pages), page, None)

    # a second find is a find again, and undoing it searches on
    mark(page, "found")
    expect(panel).to_be_visible()
    assert query(page)["second"] == ["1"]
    with answered_anew(page):
        page.get_by_role("button", name="Keep searching: another leak").click()
    assert query(page)["second"] == ["2"]
    for _ in range(2):
        with answered_anew(page):
            page.get_by_role("button", name="Undo").first.click()
    assert query(page) == {"q": [LOSS]}


def test_a_find_without_a_loss_asks_for_it(visit: Visit) -> None:
    page = ask(visit, OIL)
    mark(page, "found")
    panel = page.locator(".answer--found")
    expect(panel).to_contain_text("Say how much was lost in what time")
    expect(panel.get_by_role("textbox")).to_have_count(0)


def test_a_sign_in_an_area_is_narrowed_down(visit: Visit) -> None:
    page = visit(f"search/?q={quote(OIL)}&did=found.visual@outdoor-cabinet")
    wait_for(page, OIL)
    panel = page.locator(".answer--found")
    expect(panel).to_contain_text(f"A sign: {VISUAL}: Outdoor unit cabinet. Now narrow it down.")
    expect(panel.get_by_role("button")).to_have_count(0)
    expect(panel.get_by_role("link")).to_have_count(0)


def test_gas_figures_that_cannot_be_loaded_are_told(visit: Visit, complaints: Complaints) -> None:
    page = ask(visit, LOSS, service_workers="block")
    page.route("**/data/trade.json", lambda route: route.abort())
    mark(page, "found")
    page.locator("[data-bubble]").fill("4")
    expect(page.locator("[data-slot=explained]")).to_contain_text("could not be loaded")
    assert all("trade.json" in said for said in complaints), complaints
    complaints.clear()


def test_the_copied_steps_are_steps_of_a_record(visit: Visit, tmp_path: Path) -> None:
    page = ask(visit, LOSS, permissions=["clipboard-read", "clipboard-write"])
    mark(page, "skip")
    page.get_by_role("button", name="Copy as steps of a record").click()
    expect(page.locator(".trail [role=status]")).to_have_text(
        "No check was made yet, so there is nothing to copy."
    )
    mark(page, "clean")
    mark(page, "clean", nth=1)
    with answered_anew(page):
        page.goto(
            f"{page.url}&did=found.bubble-test@indoor-flare&did=found.heated-diode-detector@indoor-flare"
        )
    page.get_by_role("button", name="Copy as steps of a record").click()
    expect(page.locator(".trail [role=status]")).to_have_text("Copied.")
    text = page.evaluate("navigator.clipboard.readText()")
    made = yaml.safe_load(text)
    assert list(made) == ["search"]
    did = [said for said in query(page)["did"] if not said.startswith("skip.")]
    assert [f"{s['technique']}@{','.join(s['at'])}" for s in made["search"]] == [
        said.split(".", 1)[1] for said in did
    ]
    assert [s["result"] for s in made["search"]] == ["clean", "clean", "pinpointed", "confirmed"]
    assert all(isinstance(s["minutes"], int) and s["minutes"] > 0 for s in made["search"])

    library = copy_library(tmp_path)
    record = re.sub(r"search:\n(  - .*\n)+", lambda _: text, RECORD)
    assert record != RECORD
    put(library, record)
    result = check_record(library)
    assert not result.failed, result.problems
    assert result.library is not None
    kept = result.library.by_id["KW-2025-014"].search
    assert [s.technique for s in kept] == [s["technique"] for s in made["search"]]


def test_a_search_is_sent_by_its_address(visit: Visit) -> None:
    page = ask(visit, OIL, permissions=["clipboard-read", "clipboard-write"])
    mark(page, "clean")
    page.get_by_role("button", name="Send this search").click()
    expect(page.locator(".trail [role=status]")).to_have_text("Copied.")
    assert page.evaluate("navigator.clipboard.readText()") == page.url


# The address.


def state(page: Page) -> dict[str, Any]:
    """All that a reader would miss."""
    return {
        "chips": chips(page),
        "causes": causes(page),
        "checks": checks(page),
        "cases": cases(page),
        "trail": steps(page),
        "only": page.locator("[data-only]").evaluate_all("all => all.map((e) => e.value)"),
        "text": page.get_by_role("searchbox").input_value(),
    }


def test_a_colleague_opens_the_same_search(visit: Visit) -> None:
    page = ask(visit, OIL)
    mark(page, "clean")
    mark(page, "skip")
    mark(page, "found", nth=1)
    page.locator("[data-narrow] > summary").click()
    with answered_anew(page):
        page.get_by_label("Did the fix hold?").select_option("yes")
    assert set(query(page)) == {"q", "did", "held"}
    assert [d.split(".")[0] for d in query(page)["did"]] == ["clean", "skip", "found"]
    assert len(cases(page)) > 1
    other = visit(None)
    other.goto(page.url)
    wait_for(other, OIL)
    assert state(other) == state(page)
    expect(other.locator("[data-narrow-said]")).to_have_text("Held")
    expect(other.locator(".answer--found")).to_be_visible()


def test_back_from_a_case_everything_is_where_it_was(visit: Visit) -> None:
    page = ask(visit, OIL)
    mark(page, "clean")
    with answered_anew(page):
        page.get_by_role("button", name="More cases").click()
    page.locator("[data-narrow] > summary").click()
    with answered_anew(page):
        page.get_by_label("Proof").select_option("point")
    before = state(page)
    assert len(before["cases"]) > 8
    link = page.locator("[data-cases] > li").nth(7).locator("a")
    link.scroll_into_view_if_needed()
    page.evaluate("() => scrollBy(0, 37)")
    at = page.evaluate("scrollY")
    assert at > 1000
    link.click()
    page.wait_for_url("**/cases/**")
    page.go_back()
    wait_for(page, OIL)
    assert state(page) == before
    page.wait_for_function("at => Math.abs(scrollY - at) < 2", arg=at)
    page.reload()
    wait_for(page, OIL)
    assert state(page) == before


def test_the_link_to_the_causes_and_back_keeps_the_answer(visit: Visit) -> None:
    page = ask(visit, OIL, "&did=clean.nothing@nowhere&did=clean.visual@outdoor-flare")
    before = state(page)
    page.locator(".search__sum a").click()
    assert urlsplit(page.url).fragment == "causes"
    expect(page.locator("#causes")).to_be_in_viewport()
    assert state(page) == before
    with answered_anew(page):
        page.go_back()
    assert state(page) == before


RUBBISH = (
    "did=found.nothing@nowhere",
    "did=%3Cscript%3Ealert(1)%3C/script%3E",
    "did=clean.constructor@constructor&did=found.visual@toString&did=found.__proto__@__proto__",
    "did=" + "&did=".join(["clean.visual@indoor-flare"] * 300),
    "did=boom.visual@indoor-flare&did=clean.visual@&did=clean.@indoor-flare&did=found",
    "did=found.visual@indoor-flare,indoor-flare,,",
    "mode=nonsense&branch=%00&held=maybe&proof=__proto__&setting=constructor",
    "second=1",
    "second=-5&did=found.visual@indoor-flare",
    "second=1e99&did=found.visual@indoor-flare",
    "second=NaN&q=",
    "q=%ED%A0%80%FF",
    "q=%E2%80%AE%00%07",
    "q=constructor+__proto__+toString+hasOwnProperty",
    "&&&=&?q=oil&q",
    "Q=oil",
)


@pytest.mark.parametrize("more", RUBBISH, ids=range(len(RUBBISH)))
def test_rubbish_in_the_address_breaks_nothing(visit: Visit, more: str) -> None:
    page = visit(f"search/?{more}" if "q=" in more else f"search/?q={quote(OIL)}&{more}")
    expect(page.locator("[data-search]")).to_have_attribute("data-awake", "")
    expect(page.locator("[data-status]")).not_to_contain_text("could not")
    if "q=" not in more and "Q=" not in more:
        wait_for(page, OIL)
        assert cases(page), "nothing that the address says hides the cases"
        assert len(checks(page)) == 6
    typed(page, "oil")
    assert "Oil film" in chips(page)
    mark(page, "clean")


def test_a_very_long_text_in_the_address(visit: Visit) -> None:
    page = visit("search/?q=" + "oil+at+flare+" * 770)
    expect(page.locator("[data-search]")).to_have_attribute("data-answered", re.compile("^oil at"))
    assert chips(page)[0] == "Oil film"


# Filters.


def test_filters_narrow_and_any_widens(visit: Visit, engine: Engine) -> None:
    page = ask(visit, OIL)
    everything = cases(page)
    page.locator("[data-narrow] > summary").click()
    for label, facet in (
        ("Branch", "branch"),
        ("Kind of place", "setting"),
        ("Refrigerant", "refrigerant"),
        ("Failure mode", "mode"),
        ("Proof", "proof"),
        ("Did the fix hold?", "held"),
    ):
        assert facet in FACETS
        select = page.get_by_label(label)
        values = select.locator("option").evaluate_all("all => all.map((o) => o.value)")
        assert values[0] == ""
        assert len(values) > 2
        for value in (values[1], values[-1]):
            with answered_anew(page):
                select.select_option(value)
            said = engine.as_json(engine.find(OIL, today(), only={facet: value}))
            assert cases(page) == [c["id"] for c in said["cases"][:6]], f"{facet}={value}"
            assert query(page)[facet] == [value]
            expect(page.locator("[data-narrow-said]")).not_to_have_text("")
        with answered_anew(page):
            select.select_option("")
        assert cases(page) == everything
        assert query(page) == {"q": [OIL]}
        expect(page.locator("[data-narrow-said]")).to_have_text("")


def test_filters_that_leave_nothing_say_so(visit: Visit) -> None:
    page = ask(visit, "flare at minisplit", "&mode=freeze-burst&setting=home&held=no&proof=suspected")
    assert cases(page) == []
    expect(page.locator("[data-narrow]")).to_have_attribute("open", "")
    expect(page.locator("[data-no-case]")).to_contain_text("Take away what narrows the cases")
    expect(page.locator("[data-no-case-asked]")).to_be_hidden()
    assert len(causes(page)) == 3


# Heard, and by keyboard.


def test_roles_and_names(visit: Visit) -> None:
    page = ask(visit, OIL)
    mark(page, "clean")
    expect(page.get_by_role("heading", level=1)).to_have_count(1)
    expect(page.get_by_role("search").get_by_role("searchbox")).to_have_accessible_name(
        "What do you see, hear or measure?"
    )
    expect(page.get_by_role("searchbox")).to_have_accessible_description(re.compile("unit, gas"))
    expect(page.locator("[data-status]")).to_have_attribute("role", "status")
    expect(page.get_by_role("list", name="Understood").get_by_role("listitem")).to_have_count(3)
    for name in ("Check next", "Likely causes", "Cases like it", "In the guide", "Every symptom"):
        expect(page.get_by_role("region", name=name, exact=True)).to_have_count(1)
    levels = page.locator("main :is(h1, h2, h3, h4):visible").evaluate_all(
        "all => all.map((h) => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels)), levels
    first = page.locator(".next-check")
    what = f"{first.locator('[data-slot=technique]').inner_text()}, {first.locator('[data-slot=at]').inner_text()}"
    for said in ("Found it", "Clean", "Can’t now"):
        expect(first.get_by_role("button", name=f"{said}: {what}", exact=True)).to_have_count(1)
    buttons = page.locator("main button:visible")
    named = buttons.evaluate_all(
        "all => all.map((b) => b.getAttribute('aria-label') ?? b.textContent.trim())"
    )
    assert all(named)
    undo = page.get_by_role("button", name=f"Undo: {VISUAL}: Flare at the indoor unit")
    expect(undo).to_have_count(1)
    ids = page.locator("[id]").evaluate_all("all => all.map((e) => e.id)")
    assert len(ids) == len(set(ids))
    # every control and link in the answer has a name of its own kind
    tree = page.locator("[data-answer]").aria_snapshot()
    assert not re.search(r"^\s*- (button|link|combobox|textbox)\s*$", tree, re.MULTILINE), tree


FOCUSED = """() => {
  const e = document.activeElement, box = e.getBoundingClientRect(), s = getComputedStyle(e);
  const bar = matchMedia("(min-width: 64rem)").matches ? innerHeight : document.querySelector(".site-bar").getBoundingClientRect().top;
  return { tag: e.tagName, inMain: !!e.closest("main"), number: window.order.indexOf(e), top: box.top, bottom: box.bottom,
           width: box.width, ring: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2, bar,
           text: e.textContent.trim().slice(0, 40) };
}"""
ORDER = """() => {
  window.order = [...document.querySelectorAll("main a[href], main button, main input, main select, main summary")]
    .filter((e) => e.checkVisibility({ visibilityProperty: true }));
  return window.order.length;
}"""


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_everything_is_reached_by_tab_in_order_and_seen(visit: Visit, viewport: Any) -> None:
    page = ask(visit, LOSS, "&did=found.visual@indoor-flare", viewport=viewport)
    page.evaluate("() => document.querySelectorAll('main details').forEach((d) => { d.open = true; })")
    many = page.evaluate(ORDER)
    assert many > 70
    reached = []
    for _ in range(many + 30):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        if not at["inMain"]:
            if reached:
                break
            continue
        assert at["number"] >= 0, at
        reached.append(at["number"])
        assert at["ring"], f"no ring round {at}"
        assert at["width"] > 0, at
        assert at["bottom"] > 0, at
        assert at["top"] < (at["bar"] if viewport is PHONE else viewport["height"]), f"not seen: {at}"
    assert reached == list(range(many))


def test_targets_are_as_large_as_a_glove_needs(visit: Visit) -> None:
    page = ask(visit, LOSS, "&did=found.visual@indoor-flare")
    page.evaluate("() => document.querySelectorAll('main details').forEach((d) => { d.open = true; })")
    low = page.locator(
        "main"
    ).evaluate("""main => [
      ...[...main.querySelectorAll("button, select, input, summary")].map((e) => [e, 44]),
      ...[...main.querySelectorAll(".button, [data-mark], .filter__input")].map((e) => [e, 48]),
      ...[...main.querySelectorAll("a.chip")].map((e) => [e, 44]),
    ].filter(([e]) => e.checkVisibility()).map(([e, least]) => [e.getBoundingClientRect(), least, e])
     .filter(([box, least]) => box.height < least || box.width < 44)
     .map(([box, least, e]) => `${box.width} x ${box.height} under ${least}: ${e.outerHTML.slice(0, 100)}`)""")
    assert not low, low


# What it looks like.


def full(visit: Visit, **settings: Any) -> Page:
    """A long answer with everything open."""
    page = ask(
        visit, LOSS, "&did=clean.visual@outdoor-flare&did=found.visual@indoor-flare&proof=point", **settings
    )
    with answered_anew(page):
        page.get_by_role("button", name="More causes").click()
    page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    page.locator("[data-bubble]").fill("20")
    expect(page.locator("[data-slot=explained]")).to_contain_text("keep searching")
    return page


LONG_WORD = "localStorage.setItem('leaklore.unanswered', JSON.stringify([{ q: 'w'.repeat(200), day: '2026-01-01' }]));"


def test_nothing_scrolls_sideways(visit: Visit) -> None:
    page = full(visit, init=LONG_WORD)
    expect(page.locator("[data-unanswered]")).to_be_visible()
    for scheme in (
        {"color_scheme": "light"},
        {"color_scheme": "dark"},
        {"forced_colors": "active"},
        {"media": "print"},
    ):
        page.emulate_media(**scheme)  # type: ignore[arg-type]
        for width in (320, 390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 844})
            assert page.evaluate(WIDE) == [0, False, []], f"{scheme} at {width}"
        page.emulate_media(color_scheme="light", forced_colors="none", media="screen")


def test_dark_and_forced_colours_stay_readable(visit: Visit) -> None:
    page = full(visit, color_scheme="dark")
    paper = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    for part in (
        ".next-check__at",
        ".odds b",
        ".later__odds",
        ".trail__list li",
        ".similar__why",
        ".search__sum",
    ):
        assert page.locator(part).first.evaluate("e => getComputedStyle(e).color") != paper, part
    page.emulate_media(forced_colors="active")
    button = page.locator("[data-mark=clean]").first
    assert button.evaluate("e => getComputedStyle(e).borderTopStyle") != "none"
    expect(page.locator("[data-cases] mark").first).to_be_visible()


# Without script, without the network.


def test_without_script_the_symptoms_lead_on(visit: Visit, address: str, demo: Site) -> None:
    page = visit("search/?q=oil", java_script_enabled=False)
    expect(page.locator("noscript b")).to_be_visible()
    expect(page.locator("noscript b")).to_have_text("Without JavaScript the box can’t answer.")
    for asleep in ("[data-tap-box]", "[data-answer]", "[data-heard-box]", "[data-unanswered]"):
        expect(page.locator(asleep)).to_be_hidden()
    symptoms = page.locator("#symptom-list a")
    assert symptoms.count() > 20
    for href in symptoms.evaluate_all("all => all.map((a) => a.getAttribute('href'))"):
        at = urlsplit(urljoin(page.url, href)).path.removeprefix("/leaks/")
        assert f"{at}index.html" in demo.files
    symptoms.first.click()
    expect(page.locator("h1")).to_be_visible()
    assert page.url.startswith(f"{address}guide/symptoms/")


def test_without_the_model_the_page_says_so_plainly(
    visit: Visit, address: str, complaints: Complaints
) -> None:
    page = visit(None, service_workers="block")  # the copy for offline would answer
    page.route("**/model.json", lambda route: route.abort())
    page.goto(f"{address}search/?q=oil")
    expect(page.locator("[data-status]")).to_have_text(
        "The search could not be loaded. The connection failed. The symptom pages below work without it."
    )
    expect(page.locator("#symptom-list a").first).to_be_visible()
    expect(page.get_by_role("searchbox")).to_have_value("oil")
    page.unroute("**/model.json")
    page.route("**/model.json", lambda route: route.fulfill(status=404, body="gone"))
    page.reload()
    expect(page.locator("[data-status]")).to_contain_text("could not be loaded. model.json: 404. The symptom")
    assert all("model.json" in said for said in complaints), complaints
    complaints.clear()


def piece(demo: Site, route: Route) -> bytes:
    """What the server would give; from disk, so that no load outlives its page."""
    return (demo.folder / urlsplit(route.request.url).path.split("/leaks/", 1)[1]).read_bytes()


def test_a_bucket_that_was_cut_is_fetched_anew(visit: Visit, address: str, demo: Site) -> None:
    page = visit(None, service_workers="block")
    seen: list[str] = []

    def cut(route: Route) -> None:
        seen.append(route.request.url)
        body = piece(demo, route)
        route.fulfill(status=200, body=body[: len(body) // 2] if seen.count(route.request.url) == 1 else body)

    page.route("**/data/search/terms/*", cut)
    page.goto(f"{address}search/?q={quote(OIL)}")
    wait_for(page, OIL)
    assert len(cases(page)) == 6
    assert seen
    assert all(seen.count(url) == 2 for url in seen)


@pytest.mark.parametrize("how", ["cut", "refused", "missing"])
def test_without_the_index_causes_and_checks_stand(
    visit: Visit, engine: Engine, complaints: Complaints, demo: Site, how: str
) -> None:
    page = ask(visit, "hissing", service_workers="block")
    assert cases(page)

    def broken(route: Route) -> None:
        if how == "cut":
            body = piece(demo, route)
            route.fulfill(status=200, body=body[: len(body) // 2])
        elif how == "refused":
            route.abort()
        else:
            route.fulfill(status=404, body="gone")

    page.route("**/data/search/terms/*", broken)
    page.get_by_role("searchbox").fill(OIL)
    why = {"cut": "load the page again.", "refused": "The connection failed.", "missing": ": 404."}[how]
    expect(page.locator("[data-status]")).to_have_text(
        re.compile(
            f"^The cases could not be loaded\\. .*{re.escape(why)} Causes and checks stand without them\\.$"
        )
    )
    said = engine.as_json(engine.find(OIL, today()))
    assert causes(page) == [c["name"] for c in said["causes"][:3]]
    assert checks(page) == [f"{c['technique']}@{c['at']}" for c in said["checks"][:6]]
    assert cases(page) == [], "cases of the question before are no answer to this one"
    expect(page.locator("[data-no-case]")).to_be_hidden()
    if how == "cut":
        assert not complaints
    assert all("data/search/terms/" in said for said in complaints), complaints
    complaints.clear()
    page.unroute("**/data/search/terms/*")
    with answered_anew(page):
        page.get_by_role("searchbox").press("Enter")
    assert cases(page) == [c["id"] for c in said["cases"][:6]], "asked again, and there"


def test_nothing_is_sent_anywhere(visit: Visit, address: str) -> None:
    page = visit(None)
    asked: list[tuple[str, str]] = []
    page.context.on("request", lambda r: asked.append((r.method, r.url)))  # those of a worker, too
    page.goto(f"{address}search/")
    typed(page, f"{LOSS} osmere xyzzy")
    mark(page, "found")
    page.locator("[data-bubble]").fill("3")
    expect(page.locator("[data-slot=explained]")).to_contain_text("passes about")
    asked = [(method, url) for method, url in asked if not url.startswith("data:")]
    assert len(asked) > 8
    assert {method for method, _ in asked} == {"GET"}
    assert all(url.startswith(address) for _, url in asked)
    assert not [url for _, url in asked if "xyzzy" in url or "minisplit" in url]


# What nothing was found for.

NOTHING = "xyzzy qwrtzu"


def test_a_search_that_found_nothing_is_kept_here_until_forgotten(visit: Visit) -> None:
    page = visit("search/", permissions=["clipboard-read", "clipboard-write"])
    box = page.locator("[data-unanswered]")
    expect(box).to_be_hidden()
    typed(page, "xyzzy")
    typed(page, NOTHING)
    expect(page.locator("[data-status]")).to_have_text("Nothing understood and nothing found.")
    expect(page.locator("[data-no-case]")).to_contain_text("What was asked stays on this phone")
    expect(box).to_be_visible()
    day = dt.date.today().isoformat()
    expect(box.locator("li")).to_have_text([f"{day}: {NOTHING}"])
    assert json.loads(page.evaluate("localStorage.getItem('leaklore.unanswered')")) == [
        {"q": NOTHING, "day": day}
    ]
    box.get_by_role("button", name="Send the list").click()
    expect(box.get_by_role("status")).to_have_text("Copied.")
    assert page.evaluate("navigator.clipboard.readText()") == f"{day}  {NOTHING}"
    page.reload()
    expect(box.locator("li")).to_have_count(1)
    box.get_by_role("button", name="Forget them").click()
    expect(box).to_be_hidden()
    assert page.evaluate("localStorage.getItem('leaklore.unanswered')") is None


def test_what_was_found_or_taken_back_is_not_kept(visit: Visit) -> None:
    page = visit("search/")
    typed(page, OIL)
    typed(page, NOTHING)
    page.get_by_role("button", name="Clear").click()
    page.wait_for_timeout(2800)
    assert page.evaluate("localStorage.getItem('leaklore.unanswered')") is None


@pytest.mark.parametrize(
    "kept",
    [
        "",
        "{",
        "null",
        "3",
        '{"q": 1}',
        '[null, 3, {}, {"q": 7}]',
        '[{"q": "<img src=x onerror=alert(1)>", "day": {}}]',
    ],
)
def test_rubbish_in_the_storage_breaks_nothing(visit: Visit, kept: str) -> None:
    page = visit(None, init=f"localStorage.setItem('leaklore.unanswered', {json.dumps(kept)});"
                 "sessionStorage.setItem('leaklore.place', '{\"y\": \"<b>\"}');")  # fmt: skip
    page.goto(page_of(visit) + "search/?q=oil")
    wait_for(page, "oil")
    assert page.locator("[data-unanswered] li").count() == kept.count("<img")
    assert page.locator("main img").count() == 0


def page_of(visit: Visit) -> str:
    """Address of the site."""
    return visit("").url


def test_it_works_where_storage_is_refused(visit: Visit) -> None:
    refuse = "".join(
        f"Object.defineProperty(window, '{s}', {{ get() {{ throw new DOMException('refused'); }} }});"
        for s in ("localStorage", "sessionStorage")
    )
    page = ask(visit, OIL, init=refuse)
    typed(page, NOTHING)
    page.wait_for_timeout(2800)
    expect(page.locator("[data-unanswered]")).to_be_hidden()
    page.reload()
    wait_for(page, NOTHING)


# Hostile text.

VECTORS = (
    "<img src=x onerror=alert(1)>", "<script>alert(1)</script>", "<svg onload=alert(1)>", "<svg/onload=alert(1)>",
    "<body onload=alert(1)>", "<iframe src=javascript:alert(1)>", "<iframe srcdoc='<script>alert(1)</script>'>",
    "<a href=javascript:alert(1)>oil</a>", "javascript:alert(1)", "\"><script>alert(1)</script>", "'><img src=x onerror=alert(1)>",
    "\" onfocus=alert(1) autofocus x=\"", "' onmouseover=alert(1) '", "<details open ontoggle=alert(1)>", "<video src=x onerror=alert(1)>",
    "<audio src=x onerror=alert(1)>", "<input autofocus onfocus=alert(1)>", "<select autofocus onfocus=alert(1)>",
    "<textarea autofocus onfocus=alert(1)>", "<marquee onstart=alert(1)>", "<object data=javascript:alert(1)>",
    "<embed src=javascript:alert(1)>", "<math><mi xlink:href=javascript:alert(1)>x", "<form action=javascript:alert(1)><input type=submit>",
    "<button formaction=javascript:alert(1)>x", "<link rel=stylesheet href=//127.0.0.1:1/x.css>", "<style>@import '//127.0.0.1:1/x';</style>",
    "<style>body{display:none}</style>", "<base href=//127.0.0.1:1/>", "<meta http-equiv=refresh content='0;url=//127.0.0.1:1/'>",
    "<!--<img src=x onerror=alert(1)>-->", "<![CDATA[<img src=x onerror=alert(1)>]]>", "</template><img src=x onerror=alert(1)>",
    "</title><script>alert(1)</script>", "</script><script>alert(1)</script>", "</main><img src=x onerror=alert(1)>",
    "<noscript><img src=x onerror=alert(1)></noscript>", "<template><img src=x onerror=alert(1)></template>",
    "<x onclick=alert(1)>oil at flare</x>", "<b>oil</b> at <i>flare</i>", "oil <mark>flare</mark>", "&lt;img src=x onerror=alert(1)&gt;",
    "&#60;script&#62;alert(1)&#60;/script&#62;", "%3Cscript%3Ealert(1)%3C/script%3E", "\\u003cscript\\u003ealert(1)", "\\x3cimg src=x\\x3e",
    "{{constructor.constructor('alert(1)')()}}", "${alert(1)}", "#{alert(1)}", "{why}", "{n} {name} {list}", "<%= alert(1) %>", "{% raw %}",
    "[[alert(1)]]", "$&", "$1 $` $'", "__proto__", "constructor", "toString", "hasOwnProperty", "valueOf", "prototype.alert",
    "'; alert(1); //", "\"; alert(1); //", "`; alert(1); //", "*/alert(1)/*", "' OR 1=1 --", "'; DROP TABLE cases; --", "../../../etc/passwd",
    "..\\..\\x", "file:///etc/passwd", "data:text/html,<script>alert(1)</script>", "//127.0.0.1:1/x", "(((((((((((((", "))))))))))", "[a-z]+*?",
    "(a+)+$", "\\", "^$.|?*+()[]{}", "%", "%s%n%x", "%00", "\x00oil", "\u202eoil", "\ufeffoil", "oil\u0000flare", "\ud83d\udc80 oil", "o\u0301\u0301\u0301il",
    "\u200boil\u200b", "ﬂare ﬀ", "１２ ｋｇ", "=cmd|' /C calc'!A0", "@SUM(1+1)", "-1e999 kg", "NaN kg in Infinity years", "0 kg in 0 years",
    "999999999999999999999 kg in 1 s", "-5 lb lost", "lost 1/0 lb", "R-999999Z", "no no no no no", "not not oil", ",,,;;;...", "-", "?", " ", "\t",
)  # fmt: skip


def test_hostile_text_stays_text(visit: Visit, address: str) -> None:
    """Typed, and in every part of an address; `complaints` holds dialogs, errors and refusals of the policy."""
    assert len(set(VECTORS)) > 81
    page = visit("search/")
    alien = "main :is(img, script, iframe, object, embed, video, audio, marquee, math, style, base, meta, form form, x)"
    quiet = "main [onclick], main [onload], main [onerror], main [onfocus], main a[href^='javascript:']"
    for vector in VECTORS:
        page.get_by_role("searchbox").fill(vector)
        said = page.get_by_role("searchbox").input_value()
        if said.strip():
            wait_for(page, said)
        assert page.locator(alien).count() == 0, vector
        assert page.locator(quiet).count() == 0, vector
    for vector in VECTORS:
        at = quote(vector.encode("utf-8", "surrogatepass"))
        page.goto(
            f"{address}search/?q={at}&did={at}&did=clean.visual@{at}&branch={at}&mode={at}&second={at}&x={at}#{at}"
        )
        expect(page.locator("[data-search]")).to_have_attribute("data-awake", "")
        expect(page.locator("[data-status]")).not_to_contain_text("could not")
        assert page.locator(alien).count() == 0, vector
        assert page.locator(quiet).count() == 0, vector
    page.goto(f"{address}search/?q={quote(VECTORS[0])}")
    expect(page.get_by_role("searchbox")).to_have_value(VECTORS[0])


def test_a_hundred_thousand_characters_are_answered(visit: Visit) -> None:
    page = visit("search/")
    for text in (
        "oil at flare minisplit, no bubbles " * 2858,
        "x" * 100_000,
        "no " * 33_334,
        "1 kg " * 20_000,
    ):
        assert len(text) >= 100_000
        began = time.monotonic()
        page.get_by_role("searchbox").fill(text)
        page.wait_for_function(
            "() => { const s = document.querySelector('[data-search]');"
            " return s.dataset.answered === document.querySelector('#q').value; }"
        )
        assert time.monotonic() - began < 3, text[:20]
        page.evaluate("1")
    typed(page, OIL)
    assert len(cases(page)) == 6


# From elsewhere.


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_the_box_on_the_home_page_leads_here(visit: Visit, viewport: Any) -> None:
    page = visit("", viewport=viewport)
    page.get_by_role("searchbox").fill(OIL)
    page.get_by_role("searchbox").press("Enter")
    page.wait_for_url("**/search/?q=*")
    wait_for(page, OIL)
    assert urlsplit(page.url).path == "/leaks/search/"
    assert query(page) == {"q": [OIL]}
    assert chips(page)[0] == "Oil film"
    assert len(cases(page)) == 6


def test_enter_puts_the_keyboard_away(visit: Visit) -> None:
    page = ask(visit, "oil")
    field: Locator = page.get_by_role("searchbox")
    field.fill(OIL)
    field.press("Enter")
    wait_for(page, OIL)
    expect(field).not_to_be_focused()
    assert query(page) == {"q": [OIL]}
