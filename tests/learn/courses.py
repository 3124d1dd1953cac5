"""Packages of a list made for tests: the small library with a list that has a page, a case, a bench and questions."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from functools import cache
from pathlib import Path

from leaklore.pages.book import Book
from leaklore.pages.learn import export
from leaklore.records.check import check
from site_fixture import copy_library

TODAY = dt.date(2026, 12, 31)
KEYS = ("technique:visual", "case:KW-2025-002", "bench:pressure-temperature", "questions:detectors")
LIST = """key: course
title: "Course of <b>things</b> & such"
for: Test learners
level: apprentice
items:
"""


def library(folder: Path) -> Path:
    """The small library with the list `course`; returns its folder of cases."""
    cases = copy_library(folder)
    items = "".join(f'  - {{read: "{key}", why: Because of {i}.}}\n' for i, key in enumerate(KEYS))
    (cases / "reading" / "course.yaml").write_text(LIST + items, "utf-8")
    return cases


@cache
def book(cases: Path) -> Book:
    """Its book."""
    found = check(cases, today=TODAY)
    assert found.library is not None, [p.text() for p in found.problems]
    return Book(found.library, TODAY)


def course(cases: Path, standard: export.Standard, key: str = "course") -> dict[str, bytes]:
    """The files of a package, by path."""
    _, data = export.made(book(cases), key, standard)
    with zipfile.ZipFile(io.BytesIO(data)) as made:
        assert made.testzip() is None
        return {name: made.read(name) for name in made.namelist()}
