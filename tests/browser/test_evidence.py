"""Assignments, progress on the phone, result sheets and the trainer's page, in the browser, on the small library."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from leaklore.analysis import results
from leaklore.cli import main
from site_fixture import LIBRARY, built, copy_library, once, served, write_config

from .conftest import DESK, PHONE, WIDE, Visit

LINK = "reading/mine/?list=first-week&for=AB&due=2026-12-10"
NOW = 'Date.now = () => Date.parse("%sT17:00:00Z");'
EVIL = '<img src=x onerror="document.title=1"><script>document.title=2</script>'


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library with its site built beside it."""
    return once(tmp_path_factory, "evidence", lambda at: built(write_config(at, copy_library(at))))


@pytest.fixture(scope="session")
def small(library: Path) -> Iterator[str]:
    """The address of the small site."""
    with served(library / "site", "/leaks/") as at:
        yield at


@pytest.fixture(scope="session")
def address(small: str) -> str:
    """What `visit` opens here: the demo need not be built."""
    return small


@pytest.fixture
def learner(visit: Visit, small: str) -> Callable[..., Page]:
    """A phone on a day, at a page of the small site."""

    def go(path: str, day: str = "2026-12-01", **settings: Any) -> Page:
        page = visit(path, at=small, init=NOW % day, **settings)
        if "mine" in path or "trainer" in path:
            page.wait_for_selector("main[data-awake]")
        return page

    return go


def done(page: Page, key: str, **more: Any) -> None:
    """What an exercise says when it is done."""
    page.evaluate(
        "detail => document.dispatchEvent(new CustomEvent('leaklore-done', { detail }))", {"key": key, **more}
    )


def sheet_of(page: Page, small: str, folder: Path) -> Path:
    """The first list's result sheet as a file."""
    page.goto(f"{small}reading/mine/")
    page.click("[data-open-sheet]")
    with page.expect_download() as got:
        page.click("[data-save]")
    file = folder / got.value.suggested_filename
    got.value.save_as(file)
    return file


@pytest.fixture
def finished(learner: Callable[..., Page], small: str, tmp_path: Path) -> tuple[Page, Path]:
    """A learner who has done everything of the list, and the file of the sheet."""
    page = learner(LINK)
    page.click("[data-accept]")
    page.goto(f"{small}reading/first-week/")
    for row in page.locator("[data-item]").all():
        row.get_by_role("button", name="I have read this").click()
    return page, sheet_of(page, small, tmp_path)


def test_a_learner_accepts_reads_and_has_a_sheet_that_the_office_confirms(
    finished: tuple[Page, Path], library: Path, small: str
) -> None:
    page, file = finished
    assert file.name == "result-first-week-AB.json"
    expect(page.locator(".learn-card__due")).to_have_text("Finished 1 December 2026")
    code = page.inner_text('[data-slot="sheet-code"]')
    cases = ["--cases", str(library / "cases")]
    right = CliRunner().invoke(main, ["verify", str(file), code.lower(), "--json", *cases])
    assert right.exit_code == 0, right.output
    both = json.loads(right.output)["verdicts"]
    assert [(v["initials"], v["list"], v["finished"]) for v in both] == [
        ("AB", "first-week", "2026-12-01")
    ] * 2
    raw = json.loads(file.read_text("utf-8"))
    file.write_text(json.dumps({**raw, "initials": "CD"}), "utf-8")
    wrong = CliRunner().invoke(main, ["verify", str(file), *cases])
    assert wrong.exit_code == 1
    assert "altered after it was made" in wrong.output


def test_progress_stays_over_pages_and_days(learner: Callable[..., Page], small: str) -> None:
    page = learner(LINK)
    expect(page.locator("[data-offer-said]")).to_have_text(
        "For AB. Due 10 December 2026. 3 items, about 13 min."
    )
    page.click("[data-accept]")
    assert page.url == f"{small}reading/mine/"
    page.goto(f"{small}reading/first-week/")
    rows = page.locator("[data-item]")
    rows.nth(0).get_by_role("button").click()
    expect(rows.nth(0).locator("[data-item-state]")).to_have_text("Read 1 December 2026")
    done(page, "case:KW-2025-002", score=7, of=9, minutes=4)
    expect(rows.nth(1).locator("[data-item-state]")).to_have_text("Done 7 of 9")
    expect(page.locator(".learn-said")).to_have_text("2 of 3 done on this phone, due 10 December 2026.")
    rows.nth(0).get_by_role("button", name="Not read after all").click()
    expect(rows.nth(0).locator("[data-item-state]")).to_have_text("")
    page.goto(f"{small}reading/mine/")
    expect(page.locator('.learn-card [data-slot="done"]')).to_have_text("1 of 3 done")
    page.context.add_init_script(NOW % "2026-12-12")
    page.reload()
    expect(page.locator(".learn-card__due")).to_have_text("Due 10 December 2026, 2 days late")


def test_what_went_wrong_comes_back_the_next_day(learner: Callable[..., Page], small: str) -> None:
    page = learner("reading/mine/")
    wrong = """document.dispatchEvent(new CustomEvent("leaklore-wrong",
      { detail: { key: "questions:detectors", question: "which" } }))"""
    page.evaluate(wrong)
    page.reload()
    expect(page.locator("[data-due-said]")).to_have_text("Nothing to answer today.")
    expect(page.locator("[data-coming]")).to_have_text("1 question later, the next on 2 December 2026.")
    page.context.add_init_script(NOW % "2026-12-02")
    page.reload()
    link = page.locator("[data-due-go] a")
    assert link.get_attribute("href") == "../../reading/questions/?due"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("list=none&for=AB", "a list that this library does not have"),
        ("list=__proto__&for=AB", "a list that this library does not have"),
        ("list=first-week", "names no initials"),
        (f"list=first-week&for={EVIL}", "names no initials"),
        ("list=first-week&for=AB&due=2026-02-30", "a day that there is not"),
    ],
)
def test_a_link_that_is_broken_says_so(learner: Callable[..., Page], asked: str, says: str) -> None:
    page = learner(f"reading/mine/?{asked}")
    expect(page.locator("[data-offer-bad]")).to_contain_text(says)
    expect(page.locator("[data-accept]")).to_be_hidden()


def test_a_browser_that_keeps_nothing_is_told(visit: Visit, small: str) -> None:
    refuse = 'Object.defineProperty(window, "localStorage", { get() { throw new Error("refused"); } });'
    page = visit(LINK, at=small, init=refuse)
    page.click("[data-accept]")
    expect(page.get_by_role("alert")).to_contain_text("This browser keeps nothing")
    expect(page.locator(".learn-card")).to_have_count(1)


def test_forget_takes_everything_after_a_second_press(finished: tuple[Page, Path]) -> None:
    page, _ = finished
    page.click("[data-forget]")
    assert page.evaluate("localStorage.getItem('leaklore-learn')") is not None
    page.click("[data-sure-yes]")
    assert page.evaluate("localStorage.getItem('leaklore-learn')") is None
    expect(page.locator(".learn-card")).to_have_count(0)
    expect(page.locator("[data-sheet]")).to_be_hidden()


def test_the_trainers_link_is_what_the_learner_accepts(learner: Callable[..., Page], small: str) -> None:
    page = learner("reading/trainer/")
    page.fill("[data-for]", "a.b.")
    page.fill("[data-due]", "2026-12-10")
    assert page.input_value("[data-link]") == small + LINK
    page.fill("[data-for]", "ÄÖ")
    expect(page.locator("[data-for-problem]")).to_be_visible()
    expect(page.locator("[data-made]")).to_be_hidden()
    given = CliRunner().invoke(
        main,
        [
            "assign",
            "first-week",
            "--initials",
            "a.b.",
            "--due",
            "2099-12-10",
            "--address",
            small,
            "--json",
            "--cases",
            str(LIBRARY),
        ],
    )
    assert json.loads(given.output)["assignments"][0]["url"] == small + LINK.replace("2026", "2099")


def test_the_trainer_sees_who_has_read_what_and_what_was_altered(
    finished: tuple[Page, Path], learner: Callable[..., Page], tmp_path: Path
) -> None:
    _, file = finished
    raw = json.loads(file.read_text("utf-8"))
    files = {
        "altered.json": {**raw, "initials": "CD"},
        "evil.json": {**raw, "company": EVIL, "title": EVIL},
        "huge.json": {**raw, "again": 10**300},
        "version.json": {**raw, "version": 7},
        f"{EVIL.replace('/', '_')[:80]}.json": {"leaklore": EVIL},
    }
    for name, content in files.items():
        (tmp_path / name).write_text(json.dumps(content), "utf-8")
    page = learner("reading/trainer/")
    page.set_input_files("[data-files]", [file, *(tmp_path / name for name in files)])
    expect(page.locator("[data-gather-told]")).to_have_text("1 of 6 sheets taken.")
    refused = page.locator("[data-refused-rows] li")
    whys = [
        "altered after it was made",
        "altered after",
        "no whole number",
        "another version",
        "no result sheet",
    ]
    assert refused.count() == len(whys)
    for i, why in enumerate(whys):
        expect(refused.nth(i)).to_contain_text(why)
    assert page.locator("main img, main script").count() == 0
    expect(page.locator("[data-people] tr")).to_have_count(1)
    topics = page.locator(".learn-topic th")
    assert topics.all_inner_texts() == ["Flare joint leak", "Looking for oil and damage", "Valve core leak"]
    page.fill("[data-paste]", f"Hello,\n{file.read_text('utf-8')}\nregards {{")
    page.click("[data-take]")
    expect(page.locator("[data-gather-told]")).to_have_text("1 of 2 sheets taken.")
    expect(page.locator("[data-people] tr")).to_have_count(1)
    with page.expect_download() as got:
        page.click("[data-csv]")
    rows = list(csv.DictReader(io.StringIO(Path(got.value.path()).read_text("utf-8-sig"))))
    assert [(r["initials"], r["key"], r["done"]) for r in rows] == [
        ("AB", item["key"], "2026-12-01") for item in raw["items"]
    ]


def test_sheets_of_another_library_are_named_and_not_counted(
    learner: Callable[..., Page], small: str, tmp_path: Path
) -> None:
    page = learner("reading/trainer/")

    def file(name: str, **more: str) -> Path:
        base: dict[str, Any] = {
            "leaklore": "result",
            "version": 1,
            "company": "Ketterwick Air & Cold",
            "list": "first-week",
            "title": "=1+1",
            "edition": "2026-12-31",
            "initials": "EF",
            "due": None,
            "finished": "2026-12-01",
            "again": 0,
            "items": [
                {
                    "key": "case:KW-2025-002",
                    "title": f"@{EVIL}",
                    "done": "2026-12-01",
                    "score": 1,
                    "of": 2,
                    "tries": 1,
                    "minutes": None,
                }
            ],
            **more,
        }
        sheet, _ = results.read(json.dumps({**base, "code": ""}).encode())
        path = tmp_path / name
        path.write_text(json.dumps({**base, "code": results.code(sheet)}), "utf-8")
        return path

    files = [
        file("right.json"),
        file("company.json", company="Elsewhere & Sons"),
        file("list.json", list="no-such-list"),
    ]
    page.set_input_files("[data-files]", files)
    refused = page.locator("[data-refused-rows] li")
    expect(refused).to_have_count(2)
    expect(refused.nth(0)).to_contain_text("it comes from another library: Elsewhere & Sons")
    expect(refused.nth(1)).to_contain_text('this library has no list "no-such-list"')
    expect(page.locator("[data-notes]")).to_contain_text("has changed since")
    assert page.locator("main img, main script").count() == 0
    with page.expect_download() as got:
        page.click("[data-csv]")
    row = next(csv.DictReader(io.StringIO(Path(got.value.path()).read_text("utf-8-sig"))))
    assert (row["list"], row["item"]) == ("'=1+1", f"'@{EVIL}")


@pytest.mark.parametrize(
    ("today", "finished", "says"),
    [
        ("2026-12-09", None, "not finished (due 10 December 2026)"),
        ("2026-12-10", None, "not finished (due 10 December 2026)"),
        ("2026-12-11", None, "not finished (was due 10 December 2026)"),
        ("2026-12-12", "2026-12-10", "10 December 2026"),
        ("2026-12-12", "2026-12-11", "11 December 2026 (was due 10 December 2026)"),
    ],
)
def test_a_day_to_come_is_due_and_only_a_past_one_was(
    learner: Callable[..., Page], tmp_path: Path, today: str, finished: str | None, says: str
) -> None:
    item = {"key": "case:KW-2025-002", "title": "A case", "done": finished, "score": None, "of": None}
    raw: dict[str, Any] = {
        "leaklore": "result",
        "version": 1,
        "company": "Ketterwick Air & Cold",
        "list": "first-week",
        "title": "First week with a detector",
        "edition": "2026-12-31",
        "initials": "EF",
        "due": "2026-12-10",
        "finished": finished,
        "again": 0,
        "items": [{**item, "tries": 1 if finished else 0, "minutes": None}],
    }
    sheet, _ = results.read(json.dumps({**raw, "code": ""}).encode())
    file = tmp_path / "sheet.json"
    file.write_text(json.dumps({**raw, "code": results.code(sheet)}), "utf-8")
    page = learner("reading/trainer/", day=today)
    page.set_input_files("[data-files]", file)
    expect(page.locator('[data-people] [data-slot="finished"]')).to_have_text(says)


def test_a_code_alone_tells_what_it_carries(
    finished: tuple[Page, Path], learner: Callable[..., Page]
) -> None:
    _, file = finished
    code = json.loads(file.read_text("utf-8"))["code"]
    page = learner("reading/trainer/")
    page.fill("[data-code]", code.replace("0", "o").lower())
    page.click("[data-code-form] button")
    told = page.locator("[data-code-told]")
    expect(told).to_contain_text(
        'A well-formed code of AB for "First week with a detector". Finished 1 December 2026.'
    )
    expect(told).to_contain_text("only its file can show")
    page.set_input_files("[data-files]", file)
    page.wait_for_selector("[data-people] tr")
    page.click("[data-code-form] button")
    expect(told).to_contain_text("fits it")
    page.fill("[data-code]", code[:-1] + ("A" if code[-1] != "A" else "B"))
    page.click("[data-code-form] button")
    expect(told).to_contain_text("a sign is wrong")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_fit_and_can_be_used_by_everyone(
    finished: tuple[Page, Path], learner: Callable[..., Page], scheme: str, size: dict[str, int]
) -> None:
    mine, file = finished
    mine.set_viewport_size(size)  # type: ignore[arg-type]
    mine.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    trainer = learner("reading/trainer/", viewport=size, color_scheme=scheme)
    trainer.fill("[data-for]", "AB")
    trainer.set_input_files("[data-files]", file)
    trainer.wait_for_selector("[data-people] tr")
    for page in (mine, trainer):
        assert page.evaluate(WIDE) == [0, False, []]
        found = Axe().run(page).response["violations"]
        assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found] == []
        small = page.eval_on_selector_all(
            "main button, main input:not([type=file]), main select, main textarea",
            "all => all.filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 47.5).map((e) => e.outerHTML)",
        )
        assert small == []


def test_on_paper_only_the_sheet_stays(finished: tuple[Page, Path]) -> None:
    page, _ = finished
    page.evaluate(
        "() => { window.printed = []; window.print = () => printed.push(document.documentElement.dataset.print); }"
    )
    page.click("[data-print]")
    assert page.evaluate("printed") == ["sheet"]
    page.emulate_media(media="print")
    expect(page.locator("main section:visible")).to_have_count(1)
    seen = page.eval_on_selector_all(
        "main section", "all => all.filter((e) => e.checkVisibility()).map((e) => e.className)"
    )
    assert seen == ["section section--wide learn-sheet"]
    expect(page.locator('[data-slot="sheet-code"]')).to_be_visible()
    expect(page.locator("[data-send]")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_without_script_the_pages_say_what_they_need(visit: Visit, small: str) -> None:
    for path in ("reading/mine/", "reading/trainer/"):
        page = visit(path, at=small, java_script_enabled=False)
        assert "This page needs JavaScript" in page.inner_text("noscript")
        expect(page.locator("[data-awake]")).to_be_hidden()
