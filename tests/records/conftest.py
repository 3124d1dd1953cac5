"""Fixtures of the records' tests."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import leaklore.records.check as checking
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

    A library with a `house/` of its own is read as ever. test_guide.py checks the shipped guide itself.
    """

    def read(house: Path, root: Path, got: Gathered) -> GuideRead:
        return read_guide(house, root, got) if house.is_dir() else _shipped_guide()

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
