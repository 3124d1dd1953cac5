"""What somebody brings to a page by hand: long texts typed, a draft, result sheets, a package, papers to print, tables."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import yaml
from click.testing import CliRunner
from playwright.sync_api import Page, expect

from browser.conftest import Visit
from browser.test_packages import item
from leaklore.analysis import results
from leaklore.cli import main
from leaklore.pages.learn import export
from learn.courses import book
from site_fixture import Site, served, tell

from .library import RECORDS, vectors
from .test_hostile import LOOK, look

HANG = 5_000
"""ms; no timing, only a guard against patterns that never end."""
FORMULA = re.compile(r"[=+\-@\t\r\n＝＋－＠]")


def no_formula(rows: list[list[str]]) -> None:
    """No cell that is no number begins as a formula does."""
    assert len(rows) > 1
    for text in (cell for row in rows for cell in row):
        assert not FORMULA.match(text) or re.fullmatch(r"-?[0-9.]+(e[+-]?[0-9]+)?", text), text


# Tables.


def test_no_table_of_the_site_holds_a_formula(site: Site) -> None:
    names = sorted(f for f in site.files if f.endswith(".csv"))
    assert len(names) > 5
    for name in names:
        no_formula(list(csv.reader(io.StringIO(site.text(name), newline=""))))
    (name,) = [f for f in site.files if f.endswith(".xlsx")]
    workbook = openpyxl.load_workbook(site.folder / name)
    kinds = {cell.data_type for sheet in workbook for row in sheet.iter_rows() for cell in row}
    assert "s" in kinds
    assert "f" not in kinds
    with zipfile.ZipFile(site.folder / name) as parts:
        assert not [n for n in parts.namelist() if "externalLink" in n or "vba" in n.lower()]


# Result sheets.


def sheet(by: str, **more: Any) -> bytes:
    """A sheet as a phone makes it, with a vector for each title."""
    items = [
        {
            "key": f"mode:m-{i}",
            "title": text,
            "done": None,
            "score": None,
            "of": None,
            "tries": 0,
            "minutes": None,
        }
        for i, text in enumerate(vectors())
    ]
    base = {
        "leaklore": "result",
        "version": 1,
        "company": by,
        "list": "list-0",
        "title": vectors()[0],
        "edition": "2026-12-31",
        "initials": "EF",
        "due": None,
        "finished": None,
        "again": 0,
        "items": items,
        **more,
    }
    read, _ = results.read(json.dumps({**base, "code": ""}).encode())
    return json.dumps({**base, "code": results.code(read)}).encode()


def test_result_sheets_of_a_stranger(hostile: Path, visit: Visit) -> None:
    company = yaml.safe_load((hostile / "cases/company.yaml").read_text("utf-8"))["name"]
    texts = vectors()
    good = [
        sheet(company, initials="EF"),
        *(sheet(company, initials=f"A{i}", title=texts[i]) for i in range(0, 100, 9)),
    ]
    bad = [
        b"[" * 100_000,
        b'{"__proto__": {"leaklore": "result"}}',
        b'{"leaklore": "result", "version": 1, "constructor": {}}',
        sheet(company)[:-30],
        sheet(company, title="=1+1").replace(b"=1+1", b"<b id=hit>"),
        sheet(company, company=texts[5]),
        sheet(company, list="constructor"),
        b"\xff\xfe\x00" * 1000,
        b"{}" * 200_000,
    ]
    page, faults = visit("reading/trainer/"), list[str]()
    page.wait_for_selector("main [data-awake]:not([hidden])")
    files: list[Any] = [
        {"name": f"{texts[i]}.json".replace("/", "|"), "mimeType": "application/json", "buffer": data}
        for i, data in enumerate([*good, *bad])
    ]
    page.set_input_files("[data-files]", files)
    expect(page.locator("[data-people] tr")).to_have_count(len(good))
    expect(page.locator("[data-refused-rows] li")).to_have_count(len(bad))
    for text in (*(" ".join(texts[i::12]) for i in range(12)), "".join(b.decode("latin-1") for b in bad)):
        page.locator("[data-paste]").fill(text)
        page.locator("[data-take]").click()
    for text in texts[::15]:
        page.locator("[data-code]").fill(text)
        page.locator("[data-code-form] button").click()
    look(page, "trainer", faults)
    with page.expect_download() as got:
        page.click("[data-csv]")
    rows = list(csv.reader(io.StringIO(Path(got.value.path()).read_text("utf-8-sig"), newline="")))
    no_formula(rows)
    assert {row[3] for row in rows[1:]} == {f"'{t}" if FORMULA.match(t) else t for t in texts}
    assert not faults, tell(faults)


# A draft.

PUT = """async (drafts) => {
  const asked = indexedDB.open("leaklore-record", 1);
  const open = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
  const change = open.transaction("drafts", "readwrite");
  for (const draft of drafts) change.objectStore("drafts").put(draft);
  await new Promise((done) => { change.oncomplete = done; });
  open.close();
}"""


def test_a_draft_of_a_stranger(hostile: Path, visit: Visit, address: str) -> None:
    page, faults = visit("record/"), list[str]()
    page.wait_for_selector("[data-record][data-awake]")
    records = [
        yaml.safe_load(p.read_text("utf-8")) for p in sorted((hostile / "cases/records").rglob("*.yaml"))
    ]
    assert len(records) == RECORDS
    texts = vectors()
    for i, record in enumerate(records):  # words of a vocabulary, too, may be anything in a draft
        record |= {"branch": texts[i], "system": texts[i + 20], "symptoms": texts[i::40], "photos": []}
        record["cause"] = {"mode": texts[i + 40], "component": texts[i + 60], "proof": texts[i + 80]}
        record["charge"] = {"lost": texts[i + 100], "over": texts[i + 120]}
    drafts = [
        {"key": f"draft-{i}{text}", "record": record, "files": [], "saved": 1, "sent": 0, "turn": 1}
        for i, (record, text) in enumerate(zip(records, texts, strict=False))
    ]
    page.evaluate(PUT, drafts)
    for draft in drafts[::4]:
        page.goto(
            f"{address}record/?draft={draft['key'].replace('%', '%25').replace('#', '%23').replace('&', '%26').replace('+', '%2B')}"
        )
        page.wait_for_selector("[data-record][data-awake]")
        page.evaluate("() => { for (const d of document.querySelectorAll('main details')) d.open = true; }")
        page.get_by_role("button", name="Is it complete?").click()
        expect(page.locator("[data-problems] li").first).to_be_visible()
        look(page, f"draft {draft['key']}", faults)
    expect(page.locator("[data-drafts-list] > li")).to_have_count(len(drafts))
    assert not faults, tell(faults)


# A package.

API = """window.API = { LMSInitialize: () => "true", LMSFinish: () => "true", LMSGetValue: () => "", LMSSetValue: () => "true",
  LMSCommit: () => "true", LMSGetLastError: () => "0", LMSGetErrorString: () => "", LMSGetDiagnostic: () => "" };"""


def test_a_package_of_hostile_pages(hostile: Path, visit: Visit, tmp_path: Path) -> None:
    for standard in ("scorm12", "cmi5"):
        _, data = export.made(book(hostile / "cases"), "list-0", standard)
        with zipfile.ZipFile(io.BytesIO(data)) as made:
            made.extractall(tmp_path / standard)
    faults: list[str] = []
    with served(tmp_path) as at:
        page = visit("scorm12/index.html", at=at, init=API)
        items = page.locator("[data-items] button")
        expect(items.first).to_be_visible()
        for i in range(items.count()):
            items.nth(i).click()
            item(page)  # until it is loaded, or the frame of the item before answers
            for frame in page.frames:
                faults += [
                    f"package {frame.url}: {told}"
                    for told in frame.evaluate(LOOK.replace("iframe:not(.player iframe), ", ""))
                ]
        for text in ("javascript:window.__hit=1", "<b id=hit>", "//127.0.0.1:1/", "__proto__"):
            page.goto(
                f"{at}cmi5/index.html?item={text}&endpoint={text}&fetch={text}&actor={text}&registration=1&activityId={text}"
            )
            expect(page.locator("[data-told]")).to_contain_text("without")
            faults += [
                f"cmi5 {text}: {told}"
                for told in page.evaluate(LOOK.replace("iframe:not(.player iframe), ", ""))
            ]
    assert not faults, tell(faults)


# Papers.


@pytest.mark.parametrize(
    "command",
    [
        ["labels", "--address", "https://leaks.example/"],
        ["booklet", "list-0"],
        ["assign", "list-0", "--initials", "AB", "--address", "https://leaks.example/"],
        ["report"],
    ],
    ids=lambda c: c[0],
)
def test_papers_to_print(command: list[str], hostile: Path, visit: Visit, tmp_path: Path) -> None:
    done = CliRunner().invoke(
        main, [*command, "-o", str(tmp_path / "paper.html"), "--cases", str(hostile / "cases")]
    )
    assert done.exit_code == 0, done.output
    with served(tmp_path) as at:
        page = visit(None)
        page.route(
            "**/favicon.ico", lambda route: route.fulfill(body="")
        )  # a paper names no icon, and Chromium asks
        page.goto(f"{at}paper.html")
        found = page.evaluate(LOOK.replace("style, ", ""))
    assert not found, tell(found)


# Long texts.

LONG_TEXTS = ["x", " ", "0", "(", "no ", "1 kg ", "1/", "[[", "\u202e", "-.", "\u00a0"]
TYPE = """async ([text, times]) => {
  const boxes = [...document.querySelectorAll("main :is(input:not([type]), input[type=text], input[type=search], input[inputmode], textarea)")].filter((e) => e.checkVisibility() && !e.readOnly);
  let longest = [0, ""];
  for (const box of boxes) {
    const before = box.value;
    const began = performance.now();
    for (const value of [text.repeat(times), before]) {
      box.value = value;
      for (const event of ["input", "change", "blur"]) box.dispatchEvent(new Event(event, { bubbles: true }));
    }
    await new Promise((done) => setTimeout(done));
    const took = performance.now() - began;
    if (took > longest[0]) longest = [took, box.id || box.outerHTML.slice(0, 80)];
  }
  return [boxes.length, ...longest];
}"""


def typed(page: Page, text: str) -> tuple[int, float, str]:
    """How many boxes there are, and the longest time (ms) in which one took 100,000 signs, and which."""
    many, longest, which = page.evaluate(TYPE, [text, 100_000 // len(text)])
    return many, longest, which


@pytest.mark.parametrize(
    "path",
    ["cases/", "search/", "record/", "reading/trainer/", "bench/leak-rate/", "bench/pressure-temperature/"],
)
def test_a_hundred_thousand_signs_hang_no_box(path: str, visit: Visit) -> None:
    page = visit(path)
    page.wait_for_load_state("networkidle")
    page.evaluate("() => { for (const d of document.querySelectorAll('main details')) d.open = true; }")
    slow = []
    for text in LONG_TEXTS:
        many, longest, which = typed(page, f"{text}")
        assert many >= 1
        if longest > HANG:
            slow.append(f"{text!r} in {which}: {longest:.0f} ms")
    assert not slow, tell(slow)
