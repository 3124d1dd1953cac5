"""The explorer's page and files: its data against the records read by themselves, the bundle's size, hostile names."""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import json
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from lxml import html

from analysis.builders import demo
from leaklore.pages.book import Book
from leaklore.pages.patterns import explore, explore_bundle
from leaklore.pages.patterns.explore_charts import CHARTS
from leaklore.pages.render import Templates, theme
from leaklore.pages.spec import DataFile
from leaklore.website import offline
from site_fixture import ROOT

HOSTILE = "</script><img src=x onerror=alert(1)>"
MOST_BUNDLE, MOST_DATA = 350_000, 30_000


def read_leaks() -> list[tuple[str, str, str, str]]:
    """(case, mode, branch, quarter) of every proven leak, from the YAML alone."""
    found = []
    for file in sorted((ROOT / "cases" / "records").rglob("*.yaml")):
        record = yaml.load(file.read_text("utf-8"), yaml.BaseLoader)
        if "withdrawn" in record:
            continue
        causes = [record["cause"], *record.get("also_found", [])]
        year, month = record["reported"].split("-")[:2]
        quarter = f"{year} Q{(int(month) + 2) // 3}"
        for mode in {c["mode"] for c in causes if c["proof"] in ("point", "held")}:
            found.append((record["id"], mode, record["branch"], quarter))
    return found


@pytest.fixture(scope="module")
def files(demo_book: Book) -> dict[str, bytes]:
    return {f.path: f.content for f in (*explore.files(demo_book), *explore_bundle.files())}


@pytest.fixture(scope="module")
def data(files: dict[str, bytes]) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(files[explore.DATA])
    return found


def body_of(book: Book) -> html.HtmlElement:
    return html.fromstring(str(explore.page(book, Templates(book)).body))


def test_every_proven_leak_of_the_records_is_there_and_no_other(data: dict[str, Any]) -> None:
    leaks, facets = data["leaks"], data["facets"]
    rows = [
        (
            case,
            facets["mode"]["keys"][leaks["mode"][i]],
            facets["branch"]["keys"][leaks["branch"][i]],
            data["quarters"][leaks["quarter"][i]],
        )
        for i, case in enumerate(leaks["case"])
    ]
    assert Counter(rows) == Counter(read_leaks())
    assert len({len(column) for column in leaks.values()}) == 1
    assert leaks["day"] == sorted(leaks["day"])


def test_mass_age_and_fix_are_the_cases_own(data: dict[str, Any], demo_book: Book) -> None:
    leaks, by_id = data["leaks"], demo_book.library.by_id
    for i, case in enumerate(leaks["case"]):
        lost, age = by_id[case].lost, by_id[case].age_at_leak
        assert leaks["lost"][i] == (pytest.approx(lost.si, rel=1e-3) if lost else None)
        assert leaks["age"][i] == (None if age is None else pytest.approx(age, abs=0.005))
        assert leaks["age"][i] is None or leaks["age"][i] < data["oldest"]
        words = {True: "fix held", False: "leaked again", None: "not looked at again"}
        assert data["held"][leaks["held"][i]] == words[by_id[case].fix_held]


def test_data_and_bundle_are_small(files: dict[str, bytes]) -> None:
    assert len(files[explore.DATA]) < MOST_DATA
    assert 50_000 < len(gzip.compress(files[explore_bundle.PATH], 9)) < MOST_BUNDLE


def test_a_phone_keeps_none_of_it(files: dict[str, bytes]) -> None:
    assert all(path.startswith(offline.NOT_KEPT) for path in files)


def test_the_bundle_is_a_module_that_names_no_other_host(files: dict[str, bytes]) -> None:
    text = files[explore_bundle.PATH].decode()
    exported = re.findall(r" as (\w+)", " ".join(re.findall(r"export\{([^}]*)\}", text)))
    assert sorted(exported) == ["View", "charts", "expressionInterpreter", "parse"]
    assert "import(" not in text
    assert set(re.findall(r"https?://[\w./-]+", text)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
        "http://www.w3.org/2000/xmlns/",
        "http://www.w3.org/1999/xhtml",
        "http://www.w3.org/XML/1998/namespace",
    }


def test_another_process_makes_the_same_bundle(files: dict[str, bytes]) -> None:
    code = (
        "import hashlib; from leaklore.pages.patterns.explore_bundle import bundle;"
        "print(hashlib.sha256(bundle().encode()).hexdigest())"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert said.stdout.strip() == hashlib.sha256(files[explore_bundle.PATH]).hexdigest()


def test_licences_name_what_is_shipped(files: dict[str, bytes]) -> None:
    text = files[explore_bundle.LICENCES].decode()
    for name, version in explore_bundle.packages():
        assert f"{name} {version}" in text
    assert "University of Washington Interactive Data Lab" in text


def test_charts_have_no_colour_of_their_own_and_their_tokens_exist() -> None:
    text = json.dumps(CHARTS)
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|rgb", text)
    tokens = (Path(theme()) / "css" / "tokens.css").read_text("utf-8")
    for name in set(re.findall(r"token:([\w-]+)", text)):
        assert f"--{name}:" in tokens, name


def test_every_filter_has_a_plain_control(demo_book: Book, data: dict[str, Any]) -> None:
    root = body_of(demo_book)
    for facet, choices in data["facets"].items():
        boxes = root.xpath(f'//fieldset[legend]//input[@type="checkbox"][@name="{facet}"]')
        assert [b.get("value") for b in boxes] == choices["keys"]
        assert [b.getparent().find_class("explore__name")[0].text_content() for b in boxes] == choices[
            "names"
        ]
    for name, values in {
        "from": data["quarters"],
        "to": data["quarters"],
        "age-from": range(data["oldest"] + 1),
    }.items():
        options = root.xpath(f'//fieldset[legend]//select[@name="{name}"]/option')
        assert [o.text for o in options] == ["Any", *map(str, values)]


def test_a_quarter_that_is_not_over_is_told(demo_library: Any) -> None:
    for today, said in ((dt.date(2026, 11, 26), True), (dt.date(2026, 12, 31), False)):
        text = body_of(Book(demo_library, today)).text_content()
        assert ("2026 Q4 is not over yet." in text) == said


def test_quarters_without_leaks_stand_up_to_the_edition(demo_library: Any) -> None:
    leaks = explore.Leaks(demo_library, dt.date(2027, 8, 1))
    assert leaks.quarters[0] == "2021 Q1"
    assert leaks.quarters[-3:] == ("2027 Q1", "2027 Q2", "2027 Q3")


def test_a_library_without_a_proven_leak_says_so() -> None:
    book = Book(replace(demo(), cases=()), dt.date(2026, 12, 31))
    root = body_of(book)
    assert "No proven leak yet" in root.text_content()
    assert not root.xpath("//form")
    found = next(f for f in explore.files(book) if f.path == explore.DATA)
    assert json.loads(found.content)["quarters"] == []


def hostile_book() -> Book:
    """The demo with a hostile title, branch and mode name, and a case whose gas is not on record."""
    lib = demo()
    first, second, *rest = lib.counted
    gear = replace(second.equipment, refrigerant=None)
    cases = (replace(first, title=HOSTILE, branch="O\"s'm<b>"), replace(second, equipment=gear), *rest)
    mode = first.cause.mode
    entry = lib.guide.modes[mode]
    entry = replace(entry, facts={**entry.facts, "name": f"\"Flare\" 'leak' {HOSTILE}"})
    guide = replace(lib.guide, modes={**lib.guide.modes, mode: entry})
    return Book(replace(lib, cases=cases, guide=guide), dt.date(2026, 12, 31))


def test_hostile_names_are_text_and_what_is_not_said_stands_last() -> None:
    book = hostile_book()
    root = body_of(book)
    assert not root.xpath("//img | //script | //b[not(ancestor::*[@data-said])]")
    names = [e.text_content() for e in root.find_class("explore__name")]
    assert f"\"Flare\" 'leak' {HOSTILE}" in names
    assert "O\"s'm<b>" in [b.get("value") for b in root.xpath('//input[@name="branch"]')]
    found: DataFile = next(f for f in explore.files(book) if f.path == explore.DATA)
    data = json.loads(found.content)
    assert data["facets"]["refrigerant"]["names"][-1] == "Not on record"
    assert f"\"Flare\" 'leak' {HOSTILE}" in data["facets"]["mode"]["names"]
