"""The short questions in a browser: asked, answered, scored, asked again. On the small library."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from leaklore.analysis.questions.draw import MIXED, draw, one
from leaklore.analysis.questions.material import Material, material
from leaklore.analysis.questions.question import Question, Write
from leaklore.pages.learn.questions import writer
from leaklore.records.check import check
from site_fixture import LIBRARY, Document, built, copy_library, once, served, text_of, write_config

from .conftest import DESK, PHONE, WIDE, Visit

LISTEN = """
window.told = [];
for (const name of ["leaklore-done", "leaklore-wrong", "leaklore-right"]) {
  document.addEventListener(name, (event) => window.told.push([name, event.detail]));
}
"""
AT = "reading/questions/"
TOPIC, SEED = "pressure-tests", 4
SMALLEST = 48


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small site."""
    made = once(tmp_path_factory, "questions", lambda at: built(write_config(at, copy_library(at))))
    return made / "site"


@pytest.fixture(scope="session")
def small(folder: Path) -> Iterator[str]:
    """It, under a path."""
    with served(folder, "/leaks/") as at:
        yield at


@cache
def made() -> tuple[Material, Write]:
    """What the site's questions are drawn from."""
    library = check(LIBRARY, today=dt.date(2026, 12, 31)).library
    return material(library), writer(library)


def expected(topic: str = TOPIC, n: int = 3) -> tuple[Question, ...]:
    """The questions of the seed, by Python."""
    return draw(topic, SEED, n, *made())


def asking(visit: Visit, small: str, topic: str = TOPIC, n: int = 3, init: str = "", **settings: Any) -> Page:
    """A page on its first question of SEED."""
    page = visit(f"{AT}?topic={topic}&n={n}&seed={SEED}", at=small, init=LISTEN + init, **settings)
    page.wait_for_selector("[data-ask]:not([hidden])")
    return page


def answer(page: Page, question: Question, good: bool) -> None:
    """Checks that this question is shown, and answers it."""
    assert page.text_content("[data-text]") == question.text
    boxes = page.locator(".quiz__choice")
    assert page.locator(".quiz__choice [data-slot=text]").all_text_contents() == list(question.choices)
    wrong = next(i for i in range(4) if i not in question.right)
    for i in question.right if good else (wrong,):
        boxes.nth(i).click()
    if question.several:
        page.locator("[data-check]").click()
    page.wait_for_selector("[data-next]:not([hidden])")


def test_from_the_first_question_to_the_score(visit: Visit, small: str) -> None:
    """Right and wrong told at once with the reason, events sent, the score at the end, what was missed listed."""
    page = asking(visit, small)
    for i, question in enumerate(expected()):
        answer(page, question, good=i != 1)
        assert page.text_content("[data-verdict]") == ("Not quite." if i == 1 else "Right.")
        assert page.text_content("[data-why]") == question.explanation
        assert page.locator('.quiz__choice[data-is="right"]').count() == len(question.right)
        assert page.locator('.quiz__choice[data-is="wrong"]').count() == (i == 1)
        page.locator(".quiz__choice").first.click(force=True)  # a second answer counts for nothing
        page.locator("[data-next]").click()
    assert page.text_content("[data-score]") == "2 of 3 right"
    assert page.locator("[data-missed] li").count() == 1
    told = page.evaluate("window.told")
    kinds = ["leaklore-right", "leaklore-wrong", "leaklore-right", "leaklore-done"]
    assert [name for name, _ in told] == kinds
    for (_, detail), question in zip(told, expected(), strict=False):
        kept = {"kept": True} if question == expected()[1] else {}
        assert detail == {"key": f"questions:{TOPIC}", "question": question.key, **kept}
    assert page.text_content("[data-end-said]") == "These come back tomorrow with new numbers:"
    assert told[-1][1] == {"key": f"questions:{TOPIC}", "score": 2, "of": 3, "minutes": 1}
    first = expected()[0].text
    page.locator("[data-again]").click()
    page.wait_for_selector("[data-ask]:not([hidden])")
    assert page.text_content("[data-count]").startswith("1 of 3")  # type: ignore[union-attr]
    assert page.text_content("[data-text]") != first


def test_a_reload_and_the_way_back_go_on_where_they_left_off(visit: Visit, small: str) -> None:
    """With the points so far; a fresh visit begins anew, and a finished set is not told twice."""
    page = asking(visit, small)
    answer(page, expected()[0], good=False)
    page.locator("[data-link]").click()
    page.wait_for_load_state()
    page.go_back()
    page.wait_for_selector("[data-ask]:not([hidden])")
    answer(page, expected()[1], good=True)
    page.reload()
    page.wait_for_selector("[data-ask]:not([hidden])")
    assert page.text_content("[data-count]").startswith("3 of 3")  # type: ignore[union-attr]
    answer(page, expected()[2], good=True)
    page.reload()
    page.wait_for_selector("[data-end]:not([hidden])")
    assert page.text_content("[data-score]") == "2 of 3 right"
    assert page.locator("[data-missed] li").count() == 1
    assert [name for name, _ in page.evaluate("window.told")] == ["leaklore-done"]
    page.reload()
    page.wait_for_selector("[data-ask]:not([hidden])")
    assert page.text_content("[data-count]").startswith("1 of 3")  # type: ignore[union-attr]
    answer(page, expected()[0], good=True)
    page.goto(page.url)
    page.wait_for_selector("[data-ask]:not([hidden])")
    page.goto("about:blank")
    again = asking(visit, small)
    assert again.text_content("[data-count]").startswith("1 of 3")  # type: ignore[union-attr]


def test_links_lead_somewhere(visit: Visit, small: str, folder: Path) -> None:
    """The link of every answer that a library can give is a page of the site."""
    data = json.loads((folder / "data" / "learn" / "questions.json").read_text("utf-8"))
    for url, name in data["links"].values():
        assert (folder / url / "index.html").is_file(), url
        assert name
    page = asking(visit, small)
    answer(page, expected()[0], good=True)
    page.locator("[data-link]").click()
    page.wait_for_load_state()
    assert page.title()


def test_several_right_answers(visit: Visit, small: str) -> None:
    """Check without a mark asks for one; half of it is not all of it."""
    questions = expected("detectors", 8)
    page = asking(visit, small, "detectors", 8)
    number = next(i for i, q in enumerate(questions) if q.several and len(q.right) > 1)
    for question in questions[:number]:
        answer(page, question, good=True)
        page.locator("[data-next]").click()
    page.locator("[data-check]").click()
    assert page.text_content("[data-how]") == "Mark at least one, then check."
    page.locator(".quiz__choice").nth(questions[number].right[0]).click()
    page.locator("[data-check]").click()
    assert page.text_content("[data-verdict]") == "Not all of it."


def test_what_came_back_is_asked(visit: Visit, small: str) -> None:
    """Questions that the phone kept as wrong are counted on the first page and asked under `?due`."""
    again = {"key": f"questions:{TOPIC}", "question": "warms", "step": 0, "due": "2026-01-01"}
    gone = {"key": "questions:coils", "question": "no-such-template", "step": 0, "due": "2026-01-01"}
    kept = {
        "version": 1,
        "assigned": {},
        "done": {},
        "again": {"a#b": again, f"{gone['key']}#{gone['question']}": gone},
    }
    init = f"localStorage.setItem('leaklore-learn', {json.dumps(json.dumps(kept))});"
    page = visit(AT, at=small, init=init)
    page.wait_for_selector("[data-due]:not([hidden])")
    assert page.text_content("[data-due-link]") == "2 questions are due again"
    page = visit(f"{AT}?due", at=small, init=init + LISTEN)
    page.wait_for_selector("[data-ask]:not([hidden])")
    left = json.loads(page.evaluate("localStorage.getItem('leaklore-learn')"))["again"]
    assert list(left) == ["a#b"], "what the library asks no more would be due for ever"
    assert page.text_content("[data-count]") == "1 of 1: Pressure and vacuum tests"
    assert "A tight circuit stands on nitrogen" in str(page.text_content("[data-text]"))
    page.locator(".quiz__choice").first.click()
    detail = page.evaluate("window.told[0][1]")
    assert detail.pop("kept", True)
    assert detail == {"key": f"questions:{TOPIC}", "question": "warms"}


def test_nothing_due_and_no_such_topic(visit: Visit, small: str) -> None:
    """Both say so and offer the topics."""
    for query, said in (("due", "Nothing is due today."), ("topic=no-such", "There is no such topic.")):
        page = visit(f"{AT}?{query}", at=small)
        page.wait_for_selector("[data-choose]:not([hidden])")
        assert str(page.text_content("[data-status]")).startswith(said)


def test_storage_refused(visit: Visit, small: str) -> None:
    """Questions are asked all the same."""
    refuse = "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError'); } });"
    page = asking(visit, small, n=1, init=refuse)
    answer(page, expected(n=1)[0], good=False)
    page.locator("[data-next]").click()
    assert page.text_content("[data-end-said]") == "These went wrong:", "nothing comes back that was not kept"


def test_without_a_connection_it_says_so(visit: Visit, small: str, complaints: list[str]) -> None:
    """The data can't be had: told, and the topics offered."""
    page = visit(AT, at=small)
    page.route("**/data/learn/questions.json", lambda route: route.abort())
    page.goto(f"{small}{AT}?topic={TOPIC}")
    page.wait_for_selector("[data-choose]:not([hidden])")
    assert "The connection failed." in str(page.text_content("[data-status]"))
    complaints.clear()


def test_topics_of_the_page_ask(visit: Visit, small: str) -> None:
    """Every topic that is offered gives eight questions, the mixed one too, and they fit the phone."""
    page = visit(AT, at=small)
    page.wait_for_selector("[data-choose]:not([hidden])")
    offered = page.eval_on_selector_all(".quiz__topic", "found => found.map((e) => e.getAttribute('href'))")
    assert f"?topic={MIXED}" in offered[-1]
    for address in offered:
        topic = address.partition("topic=")[2].partition("&")[0]
        page.goto(f"{small}{AT}?topic={topic}&n=8&seed=2")
        page.wait_for_selector("[data-ask]:not([hidden])")
        assert str(page.text_content("[data-count]")).startswith("1 of 8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [PHONE, DESK])
def test_fits_and_reads(visit: Visit, small: str, viewport: dict[str, int], scheme: str) -> None:
    """No page wider than the screen, nothing that axe objects to, targets as tall as a thumb, in every state."""
    page = asking(visit, small, viewport=viewport, color_scheme=scheme)

    def sound() -> None:
        wide, hidden, out = page.evaluate(WIDE)
        assert (wide, hidden, out) == (0, False, [])
        faults = Axe().run(page).response["violations"]
        assert not faults, json.dumps([(f["id"], [n["html"] for n in f["nodes"]]) for f in faults], indent=1)

    sound()
    for box in page.locator(".quiz__choice").all():
        size = box.bounding_box()
        assert size is not None
        assert size["height"] >= SMALLEST
    for question in expected():
        answer(page, question, good=False)
        sound()
        page.locator("[data-next]").click()
    sound()
    page.goto(small + AT)
    page.wait_for_selector("[data-choose]:not([hidden])")
    sound()


def test_by_keyboard_alone(visit: Visit, small: str) -> None:
    """Tab from the question to a choice, Enter, on to the next."""
    page = asking(visit, small)
    for _ in range(2):
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.wait_for_selector("[data-next]:not([hidden])")
        assert page.evaluate("document.activeElement.matches('[data-verdict]')")
        page.locator("[data-next]").focus()
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.matches('[data-text]')")


def test_without_script_it_is_printed(visit: Visit, small: str, folder: Path) -> None:
    """Three questions of each topic, and as many answers at the foot, each named by its letter."""
    page = visit(AT, at=small, java_script_enabled=False)
    assert page.locator("noscript, .quiz__note").first.is_visible()
    sheets = page.locator(".quiz__sheet")
    topics = sheets.count() - 1
    assert topics >= 5
    assert page.locator(".quiz__sheet > ol > li").count() == 2 * 3 * topics
    assert page.locator(".quiz__letters").first.is_visible()
    document = Document.read(folder / AT / "index.html", AT)
    answers = [text_of(e) for e in document.find("b") if text_of(e).endswith(":")]
    assert len(answers) == 3 * topics
    question = draw(TOPIC, 7, 1, *made())[0]
    letter = "ABCD"[question.right[0]]
    assert f"{letter}: {' '.join(question.explanation.split())}" in document.text


def test_one_template_by_its_seed() -> None:
    """What `?due` asks: one question of one template; None for what the library can't give."""
    assert one(TOPIC, "warms", 1, *made()) is not None
    assert one("coils", "tell-tale", 1, *made()) is None
