"""The key for the van: what it says is what the search would say, and it prints on two sheets."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
from dataclasses import replace
from math import log
from pathlib import Path

import pytest
from lxml import html

from analysis.builders import demo
from leaklore.analysis import advice
from leaklore.analysis.advice import UNSURE
from leaklore.analysis.evidence import Evidence
from leaklore.pages import key
from leaklore.pages.book import Book
from leaklore.pages.render import Templates, theme
from leaklore.records.guide import Entry
from leaklore.website.write import stylesheet

TODAY = dt.date(2026, 12, 31)


@pytest.fixture(scope="module")
def empty() -> Book:
    """The guide alone, without any case."""
    return Book(replace(demo(), cases=()), TODAY)


@pytest.mark.parametrize("which", ["demo", "empty"])
def test_rows_are_the_searchs_own_advice(which: str, demo_book: Book, empty: Book) -> None:
    """Three causes and the first check, as for somebody who types that symptom alone."""
    book = demo_book if which == "demo" else empty
    rows = key.seen(book.adviser, list(book.library.guide.symptoms))
    assert len(rows) == key.SYMPTOMS
    for row in rows:
        told = book.adviser.advise(Evidence(symptoms=frozenset({row.symptom})))
        assert [(c.mode, c.share) for c in row.causes] == [(c.mode, c.probability) for c in told.causes[:3]]
        first = told.plan.checks[0]
        assert row.check == key.Do(first.technique, first.at, first.minutes)
        assert row.sure == (told.causes[0].probability >= UNSURE)


def test_symptoms_that_move_most_in_the_guides_order(demo_book: Book) -> None:
    """What is left out tells less than anything that is kept; the divergence is summed anew."""
    guide, adviser = demo_book.library.guide, demo_book.adviser
    rows = key.seen(adviser, list(guide.symptoms))
    before = {c.mode: c.probability for c in adviser.rank(adviser.joint(Evidence()))}

    def told(symptom: str) -> float:
        after = adviser.rank(adviser.joint(Evidence(symptoms=frozenset({symptom}))))
        return sum(c.probability * log(c.probability / before[c.mode]) for c in after)

    kept = [r.symptom for r in rows]
    assert kept == [s for s in guide.symptoms if s in kept]
    for row in rows:
        assert row.told == pytest.approx(told(row.symptom), rel=1e-6)
    left = [told(s) for s in guide.symptoms if s not in kept]
    assert left
    assert max(left) <= min(r.told for r in rows)


def test_causes_by_how_common_they_are(demo_book: Book, empty: Book) -> None:
    """All modes, once each; without cases in the guide's order."""
    modes = list(demo_book.library.guide.modes)
    rows = key.found(demo_book)
    assert sorted(r.mode for r in rows) == sorted(modes)
    assert [r.cases for r in rows] == sorted((r.cases for r in rows), reverse=True)
    assert sum(r.cases for r in rows) == len(demo_book.library.counted)
    assert [(r.mode, r.cases) for r in key.found(empty)] == [(m, 0) for m in modes]


def test_places_and_check_of_a_cause(demo_book: Book) -> None:
    """The two likeliest places; no technique that points has a better chance a minute at the first."""
    order = demo_book.adviser.order
    for row in key.found(demo_book):
        shares = dict(order.places.shares(row.mode, ()))
        assert min(shares[p] for p in row.places) >= max(
            (s for p, s in shares.items() if p not in row.places), default=0
        )
        assert len(row.places) == min(2, len(shares))
        assert row.check is not None
        assert row.check.at == row.places[0]
        assert order.techniques[row.check.technique].finds == "points"
        level = order.level(row.check.at)

        def worth(technique: str, mode: str = row.mode, at: str = row.check.at, level: str = level) -> float:
            strips = at in order.covered and technique in order.rules["touches"]
            minutes = order.detection.minutes[technique][level][0] / 1000
            minutes += order.rules["strip_minutes"] if strips else 0
            return (
                order.detection.chance[technique][level][mode]
                / 1000
                * order.techniques[technique].usual
                / minutes
            )

        options = [
            t
            for t, facts in order.techniques.items()
            if facts.finds == "points"
            and level in order.rules["places"].get(t, ())
            and row.check.at not in order.rules["not_at"].get(t, ())
        ]
        assert worth(row.check.technique) == pytest.approx(max(map(worth, options)))


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("## Tell-tales\n\nOil sits behind the nut, and it hangs from the underside of the tube.\n", 1),
        ("## Tell-tales\n\nTwo halves. Find the other one.\nIt is there.\n\n## Next\n\nNo.\n", 2),
        ("## Tell-tales\n\n" + "Long " * 60 + "end.\n", 0),
        ("## Other\n\nNo.\n", -1),
    ],
)
def test_tell_tale(body: str, said: int) -> None:
    """A sentence, two where the first is short, cut at a word where it is long, the summary where there is none."""
    text = key.tell_tale(Entry("mode", "m", {"summary": "A nut that leaks."}, body, "p", "d"))
    expected = {
        1: "Oil sits behind the nut, and it hangs from the underside of the tube.",
        2: "Two halves. Find the other one.",
        -1: "A nut that leaks.",
    }
    assert len(text) <= key.TELL_TALE
    if said:
        assert text == expected[said]
    else:
        assert text.endswith("Long…")
        assert len(text) > key.TELL_TALE - 6


def test_page_of_an_empty_library(empty: Book) -> None:
    """It stands on the guide alone and says so."""
    text = str(key.page(empty, Templates(empty)).body)
    assert "no case of our own is proven yet" in text
    assert text.count("<tr>") == 2 + key.SYMPTOMS + len(empty.library.guide.modes)


def test_page_shows_the_rows(demo_book: Book) -> None:
    """Names, whole per cents, minutes, cautions; what is weak is called weak."""
    root = html.fromstring(str(key.page(demo_book, Templates(demo_book)).body))
    first, second = root.findall(".//tbody")
    guide = demo_book.library.guide
    for tr, row in zip(first, key.seen(demo_book.adviser, list(guide.symptoms)), strict=True):
        cells = [" ".join(c.text_content().split()) for c in tr]
        assert cells[0].startswith(guide.symptoms[row.symptom].name)
        assert ("weak sign" in cells[0]) == (row.causes[0].share < UNSURE)
        assert cells[1].startswith(guide.modes[row.causes[0].mode].name)
        assert re.search(r"\d+", cells[1].replace(guide.modes[row.causes[0].mode].name, ""))[0] == str(  # type: ignore[index]
            round(100 * row.causes[0].share)
        )
        assert row.check is not None
        assert cells[4].startswith(guide.techniques[row.check.technique].name)
    for tr, found in zip(second, key.found(demo_book), strict=True):
        cells = [" ".join(c.text_content().split()) for c in tr]
        assert cells[1] == str(found.cases)
        assert cells[5] == "; ".join(guide.cautions[c]["name"] for c in found.cautions)
    assert root.xpath("//button[@data-print='key']")


def test_prints_on_two_sheets_across(demo_book: Book, tmp_path: Path) -> None:
    """Chromium's print to PDF: two pages of A4, landscape, with head, foot and cautions on screen left out."""
    css = tmp_path / "css"
    css.mkdir()
    for part in (theme() / "css").glob("*.css"):
        (css / part.name).write_bytes(part.read_bytes())
    stylesheet(tmp_path)
    body = key.page(demo_book, Templates(demo_book)).body
    page = tmp_path / "key.html"
    page.write_text(
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Key</title>'
        '<link rel="stylesheet" href="css/leaklore.css"><body><header class="site-head">Head</header>'
        f'{body}<footer class="site-foot">Foot</footer></body></html>',
        "utf-8",
    )
    pdf = tmp_path / "key.pdf"
    subprocess.run(
        [
            "chromium",
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={pdf}",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    data = pdf.read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", data)) == 2
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", data)
    for wide, high in boxes:
        assert (float(wide), float(high)) == pytest.approx((297 / 25.4 * 72, 210 / 25.4 * 72), abs=1)


def test_advice_of_the_guide_alone_differs_from_the_companys(demo_book: Book, empty: Book) -> None:
    """The key is the company's: its cases move the figures."""
    guide = list(demo_book.library.guide.symptoms)
    ours, plain = key.seen(demo_book.adviser, guide), key.seen(empty.adviser, guide)
    assert [r.causes for r in ours] != [r.causes for r in plain]
    assert isinstance(empty.adviser, advice.Adviser)
