"""A bench with a small library, and a run of `leaklore take` without the command."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from leaklore.intake import show
from leaklore.intake.take import Taken, take
from leaklore.records.check import CheckResult, check
from leaklore.records.check_guide import GuideRead, read_guide
from leaklore.records.gather import Gathered

LIBRARY = Path(__file__).parents[1] / "records" / "library"
TODAY = dt.date(2025, 12, 31)
Run = Callable[..., Taken]


@cache
def _shipped() -> GuideRead:
    return read_guide(Path("no-house"), Path("no-library"), Gathered())


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder in which the test works; `cases/` in it is a copy of the small library without stray photos.

    The shipped guide is read once: test_guide.py checks it.
    """
    import leaklore.records.check as checking

    shutil.copytree(LIBRARY, tmp_path / "cases")
    shutil.rmtree(tmp_path / "cases" / "photos", ignore_errors=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(checking, "read_guide", lambda *_: _shipped())
    monkeypatch.setattr(checking, "check_entries", lambda *_: None)
    monkeypatch.setattr(checking, "check_prose", lambda *_: None)
    return tmp_path


def checked() -> CheckResult:
    """The library as `leaklore check` sees it on the last day of 2025."""
    return check(Path("cases"), today=TODAY)


def run(*files: str | Path, map_text: str | None = None, dry: bool = False) -> Taken:
    """Takes files from the working folder."""
    map_file = None
    if map_text is not None:
        map_file = Path("map.yaml")
        map_file.write_text(map_text, encoding="utf-8")
    return take(checked(), [Path(f) for f in files], map_file, dry=dry, today=TODAY)


def told(taken: Taken) -> list[str]:
    """What is printed of it: problems, then what was done."""
    return [*show.problems(taken), *show.done(taken)]
