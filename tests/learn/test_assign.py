"""Assignments and what comes back: links, sheets whose code is read by a reader of our own, verdicts of the command."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from click.testing import CliRunner, Result

from leaklore.analysis import results
from leaklore.cli import main
from leaklore.pages.learn import assign
from pages.qr import read
from site_fixture import LIBRARY

from .courses import book
from .test_results_twins import item, sheet

TODAY = dt.date(2026, 12, 1)
AT = "https://leaks.example/guide/"


def run(*words: str) -> Result:
    """A command on the small library."""
    return CliRunner().invoke(main, [*words, "--cases", str(LIBRARY)])


def test_the_code_on_a_sheet_opens_the_link() -> None:
    lib = book(LIBRARY).library
    given = assign.given(lib, "first-week", ["ab", "C.D.", "AB"], "2026-12-10", AT, TODAY)
    assert [a.url for a in given] == [
        f"{AT}reading/mine/?list=first-week&for={who}&due=2026-12-10" for who in ("AB", "CD")
    ]
    html = assign.sheet(book(LIBRARY), given)
    codes = re.findall(r'viewBox="0 0 (\d+) \d+"[^>]*><path d="([^"]+)"', html)
    assert [read(modules(int(side), path))[1] for side, path in codes] == [a.url for a in given]
    assert "10 December 2026" in html
    assert "script" not in html


def modules(side: int, path: str) -> npt.NDArray[np.bool_]:
    """Dark modules of a code without its quiet zone of 4."""
    dark = np.zeros((side, side), dtype=bool)
    for x, y, long in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        dark[int(y), int(x) : int(x) + int(long)] = True
    return dark[4:-4, 4:-4]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["fist-week", "--initials", "AB"], 'did you mean "first-week"'),
        (["first-week", "--initials", "<b>"], "are no initials"),
        (["first-week", "--initials", "ABCDE"], "are no initials"),
        (["first-week", "--initials", "AB", "--due", "10.12.2026"], "is no day"),
        (["first-week", "--initials", "AB", "--due", "2020-01-01"], "has passed"),
        (["first-week", "--initials", "AB", "--address", "leaks.example"], "is no web address"),
        (["first-week", "--initials", "AB", "--address", AT, "-o", "sheet.txt"], "ends neither"),
    ],
)
def test_what_is_no_assignment_is_told(words: list[str], says: str) -> None:
    address = [] if "--address" in words else ["--address", AT]
    done = run("assign", *words, *address)
    assert done.exit_code == 1
    assert says in done.output


def saved(folder: Path, name: str, **more: Any) -> Path:
    """A sheet of the small library's list as a file, sealed by Python's twin."""
    items = [item("technique:visual"), item("case:KW-2025-002"), item("mode:flare-joint", "2026-12-03")]
    raw = {**sheet(items=items), **more}
    found, _ = results.read(json.dumps({**raw, "code": ""}).encode())
    file = folder / name
    file.write_text(json.dumps({**raw, "code": results.code(found)}), "utf-8")
    return file


def test_files_and_codes_are_told_apart_and_judged(tmp_path: Path) -> None:
    right = saved(tmp_path, "right.json")
    code = json.loads(right.read_text("utf-8"))["code"]
    altered = tmp_path / "altered.json"
    altered.write_text(right.read_text("utf-8").replace('"again": 2', '"again": 0'), "utf-8")
    foreign = saved(tmp_path, "foreign.json", company="Elsewhere")
    other = saved(tmp_path, "other.json", list="no-such-list")
    (tmp_path / "broken.json").write_bytes(b"\xff{")
    files = [right, altered, foreign, other, tmp_path / "broken.json", tmp_path / "none.json"]
    done = run("verify", *map(str, files), code, code[:-1] + "*", "--json")
    assert done.exit_code == 1
    told = json.loads(done.output)["verdicts"]
    assert [v["right"] for v in told] == [True, False, False, False, False, False, True, False]
    whys = [
        "as it was made: AB",
        "altered",
        "another library: Elsewhere",
        'no list "no-such-list"',
        "no result sheet",
    ]
    whys += ["can't be read", "well-formed: AB", "is in no code"]
    for why, verdict in zip(whys, told, strict=True):
        assert why in verdict["says"]
    assert (told[0]["done"], told[0]["items"], told[0]["finished"]) == (3, 3, "2026-12-03")
    assert (told[6]["list"], told[6]["finished"]) == ("first-week", "2026-12-03")


def test_all_right_is_said_with_what_it_does_not_prove(tmp_path: Path) -> None:
    done = run("verify", str(saved(tmp_path, "right.json")))
    assert done.exit_code == 0
    assert "3 of 3 done, finished 3 December 2026" in done.output
    assert "no proof of who did the work" in done.output
