"""Fixtures of the records' tests."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import leaklore.records.check as checking
from leaklore.language import SOURCE
from leaklore.records import parse
from leaklore.records.check_guide import GuideRead, check_entries, check_prose, read_guide
from leaklore.records.gather import Gathered

from .helpers import copy_library


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A copy of the small library."""
    return copy_library(tmp_path)


@cache
def _shipped_guide() -> GuideRead:
    return read_guide(Path("no-house"), Path("no-library"), Gathered())


@pytest.fixture(scope="module")
def guide_read_once() -> Iterator[ModuleType]:
    """Reads and checks the shipped guide once for all runs, which takes most of a run's time.

    A library with a `house/` of its own, or in another language, is read as ever. test_guide.py checks the shipped guide
    itself.
    """

    def read(house: Path, root: Path, got: Gathered, language: str = SOURCE) -> GuideRead:
        own = house.is_dir() or language != SOURCE
        return read_guide(house, root, got, language) if own else _shipped_guide()

    def entries(read: GuideRead, *rest: Any) -> None:
        if read is not _shipped_guide():
            check_entries(read, *rest)

    def prose(read: GuideRead, *rest: Any) -> None:
        if read is not _shipped_guide():
            check_prose(read, *rest)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(checking, "read_guide", read)
        patch.setattr(checking, "check_entries", entries)
        patch.setattr(checking, "check_prose", prose)
        yield checking


_parse_once = lru_cache(maxsize=None)(parse.parse)


@pytest.fixture
def shipped_guide_trusted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Holds only the files of `house/` to their schema, and parses each file once for all tests."""

    def entries(read: GuideRead, *rest: Any) -> None:
        asked = [one for one in read.asked if not one.path.startswith("guide/")]
        check_entries(GuideRead(read.guide, read.documents, asked), *rest)

    monkeypatch.setattr(parse, "parse", _parse_once)
    monkeypatch.setattr(checking, "check_entries", entries)
