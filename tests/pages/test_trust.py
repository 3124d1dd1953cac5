"""The page that tells how far to trust the search: its figures are the evaluation's, its words are true."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from math import log

import numpy as np
import pytest
from lxml import html

from analysis.builders import demo
from leaklore.analysis.evaluate import Reliability
from leaklore.analysis.intervals import FEW, wilson
from leaklore.pages import trust
from leaklore.pages.book import Book
from leaklore.pages.charts import said_chart
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page

TODAY = dt.date(2026, 12, 31)


def drawn(cases: int | None = None) -> Page:
    """The page of the demo, or of its first so many proven cases."""
    lib = demo()
    if cases is not None:
        lib = replace(lib, cases=lib.counted[:cases])
    book = Book(lib, TODAY)
    return trust.page(book, Templates(book))


@pytest.fixture(scope="module")
def full(demo_book: Book) -> html.HtmlElement:
    return html.fromstring(str(trust.page(demo_book, Templates(demo_book)).body))


def rows(root: html.HtmlElement, number: int) -> list[list[str]]:
    """Cells of a table as text."""
    table = root.findall(".//table")[number]
    return [[" ".join(cell.text_content().split()) for cell in row] for row in table.findall("./tbody/tr")]


@pytest.mark.parametrize("cases", [0, 1, FEW - 1])
def test_few_cases_give_no_figures(cases: int) -> None:
    """It says how many there are and from when on it measures; no table, no drawing, no share."""
    body = str(drawn(cases).body)
    assert "<table" not in body
    assert 'class="chart"' not in body
    assert f"From {FEW} proven cases on" in body
    assert ("No proven case yet" in body) == (cases == 0)
    assert "Naive Bayes" not in body


def test_enough_cases_give_figures() -> None:
    """From FEW on, also where most classes of the diagram are nearly empty."""
    body = str(drawn(FEW).body)
    assert body.count("<table") == 3
    assert "too few to tell" in body


def test_shares_are_counted_from_the_probabilities(full: html.HtmlElement, demo_book: Book) -> None:
    """First and first three counted anew by sorting, log loss and Brier summed case by case."""
    left = demo_book.trust.left_out
    place = [int((p > p[t]).sum()) for p, t in zip(left.p, left.truth, strict=True)]
    n, first, three = len(place), place.count(0), sum(r < 3 for r in place)
    loss = -sum(log(p[t]) for p, t in zip(left.p, left.truth, strict=True)) / n
    brier = sum(((p - np.eye(len(p))[t]) ** 2).sum() for p, t in zip(left.p, left.truth, strict=True)) / n
    row = rows(full, 0)[0]
    assert row[0] == "Leaklore"
    assert row[1] == str(n) == str(len(demo().counted))
    assert f"{first} of {n};" in row[2]
    assert f"{three} of {n};" in row[3]
    assert row[4:] == [f"{loss:.2f}", f"{brier:.2f}"]
    lead = full.find_class("page-head__lead")[0].text_content()
    assert (
        f"right cause first in {first} and among its first three in {three}. In {n - three} it did not"
        in lead
    )


def test_every_way_is_told_and_ours_is_ahead(full: html.HtmlElement) -> None:
    """Four rows, each with its sentence; the demo's figures are what we claim."""
    found = rows(full, 0)
    text = full.text_content()
    assert [r[0] for r in found] == list(trust.WAYS)
    assert all(" ".join(t.split()) in " ".join(text.split()) for _, t in trust.WAYS.values())
    assert all(float(found[0][4]) < float(r[4]) for r in found[1:])


def test_table_behind_the_dots(full: html.HtmlElement, demo_book: Book) -> None:
    """Every percentage is in one class; hits are the cases; a dot and its number for every row."""
    found = rows(full, 1)
    left = demo_book.trust.left_out
    assert sum(int(r[1]) for r in found) == left.p.size
    assert sum(int(r[3]) for r in found) == len(left.truth)
    low, high = (float(v) / 100 for v in re.findall(r"\d+", found[2][0]))
    inside = (left.p >= low) & (left.p < high)
    hit = np.eye(left.p.shape[1])[left.truth] > 0
    assert found[2][1:4] == [
        str(inside.sum()),
        f"{100 * left.p[inside].mean():.1f} %",
        str((inside & hit).sum()),
    ]
    labels = [e.text_content() for e in full.iter("text") if e.get("class") == "halo"]
    assert labels == [r[1] for r in found]
    words = {r[6] for r in found}
    key = full.find_class("chart__key")[0].text_content()
    assert all(word in key for word in words)


def test_searches_stand_as_measured(full: html.HtmlElement, demo_book: Book) -> None:
    """Three orders, and beside them what crews really took."""
    found = rows(full, 2)
    assert [r[0].replace("’", "'") for r in found] == list(trust.ORDERS)
    for row, search in zip(found, demo_book.trust.searches, strict=True):
        assert row[3] == f"{round(100 * search.within_30)} %"
        assert row[4] == f"{round(100 * search.within_60)} %"
    taken = sorted(
        sum(s.minutes for s in c.search[: i + 1])
        for c in demo().counted
        for i in [next((i for i, s in enumerate(c.search) if s.result in ("pinpointed", "confirmed")), None)]
        if i is not None
    )
    median = (taken[(len(taken) - 1) // 2] + taken[len(taken) // 2]) / 2
    assert f"not simulated: {median:.0f} min in the middle" in " ".join(full.text_content().split())


def test_limits_are_named(full: html.HtmlElement) -> None:
    """What a technician must know before he believes it."""
    text = " ".join(full.text_content().split())
    for said in ("one library", "written afterwards", "other nine tenths", "weak opponent", "young library"):
        assert said in text


@pytest.mark.parametrize(
    ("said", "k", "n", "shape"),
    [
        (0.6, 12, 20, "as-said"),
        (0.6, 20, 20, "more"),
        (0.6, 2, 20, "less"),
        (0.6, FEW - 1, FEW - 1, "few"),
        (0.6, FEW, FEW, "as-said"),
    ],
)
def test_shape_by_the_interval(said: float, k: int, n: int, shape: str) -> None:
    """Shape and word follow from the interval; Wilson's of 5 of 5 starts at 57 %."""
    share = wilson(k, n)
    assert share is not None
    assert trust.shape_of(Reliability(0.5, 0.7, said, share)) == shape


def test_geometry_of_the_diagram() -> None:
    """A dot whose words came true lies on the dashed line; more often true is higher up; all is inside."""
    true, more = wilson(30, 60), wilson(60, 60)
    assert true is not None
    assert more is not None
    chart = said_chart(
        [(0.5, true, "as-said"), (0.5, more, "more"), (0.0, true, "more"), (1.0, more, "as-said")]
    )
    on, above, first, last = chart.dots
    assert (on.x, on.y) == ((chart.left + chart.right) / 2, (chart.top + chart.base) / 2)
    assert above.y == chart.top < on.y
    assert (first.x, last.x) == (chart.left, chart.right)
    for dot in chart.dots:
        assert chart.top <= dot.high <= dot.y <= dot.low <= chart.base
    assert on.label == "60"
