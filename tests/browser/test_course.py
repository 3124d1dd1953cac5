"""A whole course on a phone: assigned, read, searched, asked, asked again, finished, handed in, verified, seen by the trainer."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from leaklore.analysis.questions.draw import draw
from leaklore.analysis.questions.material import material
from leaklore.analysis.questions.question import Question
from leaklore.cli import main
from leaklore.pages.learn.questions import writer
from leaklore.records.check import check
from site_fixture import built, copy_library, once, served, write_config

from .conftest import Visit
from .test_evidence import NOW, sheet_of
from .test_unknown import FLARE, ask, name

COURSE = """key: whole-course
title: A whole course
for: New starters
level: apprentice
due_days: 14
items:
  - {read: "mode:flare-joint", why: "What a flare looks like that has let go."}
  - {read: "technique:visual", why: "Eyes before instruments."}
  - {read: "unknown:KW-2025-099", why: "Search it yourself."}
  - {read: "questions:pressure-tests", why: "Five minutes with a gauge."}
"""
LINK = "reading/mine/?list=whole-course&for=AB&due=2026-12-10"
SEED = 4


def _make(folder: Path) -> None:
    library = copy_library(folder)
    (library / "records" / "2025" / "KW-2025-099.yaml").write_text(FLARE, "utf-8")
    (library / "reading" / "whole-course.yaml").write_text(COURSE, "utf-8")
    built(write_config(folder, library))


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library with a course, its site beside it."""
    return once(tmp_path_factory, "course", _make)


@pytest.fixture(scope="session")
def address(library: Path) -> Iterator[str]:
    """Its address: the demo need not be built."""
    with served(library / "site", "/leaks/") as at:
        yield at


def questions(library: Path) -> tuple[Question, ...]:
    """What the page asks with this seed, by Python."""
    found = check(library / "cases", today=dt.date(2026, 12, 31)).library
    assert found is not None
    return draw("pressure-tests", SEED, 3, material(found), writer(found))


def answered(page: Page, question: Question, right: bool) -> None:
    """Answers a question, as asked for."""
    expect(page.locator("[data-text]")).to_have_text(question.text)
    wrong = next(i for i in range(len(question.choices)) if i not in question.right)
    for i in question.right if right else (wrong,):
        page.locator(".quiz__choice").nth(i).click()
    if question.several:
        page.locator("[data-check]").click()
    page.locator("[data-next]").click()


def test_a_course_from_the_link_to_the_trainers_table(
    visit: Visit, address: str, library: Path, tmp_path: Path
) -> None:
    page = visit(LINK, init=NOW % "2026-12-01")
    page.wait_for_selector("main[data-awake]")
    page.click("[data-accept]")

    page.goto(f"{address}reading/whole-course/")
    for key in ("mode:flare-joint", "technique:visual"):
        page.locator(f'[data-item="{key}"]').get_by_role("button", name="I have read this").click()

    page.locator('[data-item="unknown:KW-2025-099"] a').click()
    page.wait_for_selector("[data-unknown][data-awake]")
    ask(page, "Looking for oil", "outdoor-cabinet")
    ask(page, "Infrared", "indoor-flare")
    ask(page, "Bubble", "indoor-flare")
    name(page, "indoor-flare", "flare-joint")
    expect(page.locator("[data-unknown]")).to_contain_text("KW-2025-099")

    asked = questions(library)
    page.goto(f"{address}reading/questions/?topic=pressure-tests&n=3&seed={SEED}")
    page.wait_for_selector("[data-ask]:not([hidden])")
    for i, question in enumerate(asked):
        answered(page, question, right=i != 1)
    expect(page.locator("[data-score]")).to_have_text("2 of 3 right")

    page.goto(f"{address}reading/mine/")
    expect(page.locator("[data-due-said]")).to_have_text("Nothing to answer today.")
    page.context.add_init_script(NOW % "2026-12-02")
    page.reload()
    page.locator("[data-due-go] a").click()
    page.wait_for_selector("[data-ask]:not([hidden])")
    expect(page.locator("[data-count]")).to_contain_text("1 of 1")

    file = sheet_of(page, address, tmp_path)
    sheet: dict[str, Any] = json.loads(file.read_text("utf-8"))
    by_key = {item["key"]: item for item in sheet["items"]}
    assert list(by_key) == [
        "mode:flare-joint",
        "technique:visual",
        "unknown:KW-2025-099",
        "questions:pressure-tests",
    ]
    assert (by_key["questions:pressure-tests"]["score"], by_key["questions:pressure-tests"]["of"]) == (2, 3)
    assert by_key["unknown:KW-2025-099"]["of"] == 10
    assert by_key["unknown:KW-2025-099"]["score"] >= 6

    told = CliRunner().invoke(main, ["verify", str(file), "--json", "--cases", str(library / "cases")])
    assert told.exit_code == 0, told.output
    (verdict,) = json.loads(told.output)["verdicts"]
    assert (verdict["initials"], verdict["list"]) == ("AB", "whole-course")

    office = visit("reading/trainer/", init=NOW % "2026-12-03")
    office.wait_for_selector("main[data-awake]")
    office.set_input_files("[data-files]", [file])
    expect(office.locator("[data-gather-told]")).to_have_text("1 of 1 sheet taken.")
    expect(office.locator("[data-people] tr")).to_have_count(1)
    expect(office.locator("[data-people] tr")).to_contain_text("AB")
