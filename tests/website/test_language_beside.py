"""What speaks beside the pages, in the made-up language: papers, the feed, and what the form finds wrong on a phone."""

from __future__ import annotations

import datetime as dt
import io
import re
import textwrap
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from lxml import etree

from analysis.builders import CASES, demo
from leaklore import language
from leaklore.analysis.patterns import exposure
from leaklore.pages import labels, record_data
from leaklore.pages.book import Book
from leaklore.pages.feed import feed
from leaklore.pages.learn import assign, booklet, export
from leaklore.pages.patterns import report
from leaklore.pages.patterns.cost import LETTERS
from leaklore.records import parse
from leaklore.records.check import check
from leaklore.records.library import Library
from record.desk import Phone
from record.drafts import spoilt, valid
from records.helpers import LIBRARY, RECORD
from site_fixture import ROOT, Document, tell

from . import pseudo

TODAY = dt.date(2026, 12, 31)
AT = "https://leaks.example/"
CONTENT = {
    "booklet": [
        "//*[contains(concat(' ', @class, ' '), ' prose ')]",
        "//head",
    ],
    "report": ["//p[a[contains(@href, 'vega-bundle')]]"],
    "assign": ["//*[@class='link']"],
    "labels": [],
    "package": [
        "//*[contains(concat(' ', @class, ' '), ' prose ')]",
        "//head",
        "//p[@class='cite']",
        "//p[@class='sources__where']",
        "//span[contains(@data-out, '.source')]",
    ],
}
"""What guide and records alone fill."""
NAMES = frozenset({"A4", "AB", AT})
DEGREES = re.compile(r"\d+ °F \(\d+ °C\)")
BRACKETED = re.compile(f"{pseudo.OPEN}[^{pseudo.OPEN}{pseudo.CLOSE}]*{pseudo.CLOSE}")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory, messages: Path) -> Iterator[Book]:
    """The demo library with every message in brackets, in a language that runs from right to left."""
    root = tmp_path_factory.mktemp("bracketed") / "cases"
    root.mkdir()
    for part in CASES.iterdir():
        if part.name != "house":
            (root / part.name).symlink_to(part)
    pseudo.catalogue(messages, root / "house" / "words.po")
    library = demo()
    company = replace(library.company, language="ar")
    made = Book(replace(library, company=company, root=root), TODAY)
    language.use(made.language)
    yield made
    language.use(language.ENGLISH)


@pytest.fixture(scope="module")
def phone(book: Book) -> Iterator[Phone]:
    """The form's scripts with the small library, whose data files are made in no time."""
    small = check(LIBRARY, today=TODAY).library
    assert small is not None
    words = replace(small, company=replace(small.company, language="ar"), root=book.library.root)
    made = Phone(Book(replace(words, cases=()), TODAY))
    yield made
    made.close()


@pytest.fixture(scope="module")
def content() -> pseudo.Content:
    """What the guide and the records of the demo library say."""
    shipped = ROOT / "generator" / "leaklore"
    return pseudo.Content(CASES, shipped / "guide", shipped / "trade")  # the trade's tables cite the law


def bare(text: str) -> str:
    """What no bracket holds."""
    while BRACKETED.search(text):
        text = BRACKETED.sub("", text)
    return text


def broken(library: Library) -> frozenset[str]:
    """The lines into which a narrow chart breaks the names of failures."""
    names = [entry.name for entry in library.guide.modes.values()]
    return frozenset(line for name in names for line in textwrap.wrap(name, LETTERS))


def papers(book: Book) -> Iterator[tuple[str, str]]:
    """Kind and HTML of every paper; booklets that hold each kind of item."""
    for key in ("coils-that-corrode", "first-week", "flammable-refrigerants", "food-retail-racks"):
        yield "booklet", booklet.made(booklet.chosen(book.library, key), book).html
    narrow = report.Asked(dt.date(2026, 6, 1), "Osmere", tables=True)
    yield "report", report.made(book.library, TODAY, narrow).html
    fleet = exposure.fleet(book.library, TODAY)
    yield "report", report.html(book, [], fleet, report.Asked(None, None))  # its head alone: charts take time
    given = assign.given(book.library, "first-week", ["AB"], "2027-01-10", AT, TODAY)
    yield "assign", assign.sheet(book, [*given, replace(given[0], due=None)])
    systems = labels.choose(book.library, [], None, None)[:30]
    yield "labels", labels.sheets(book, systems, AT, labels.PAPERS["a4"])
    _, packed = export.made(book, "food-retail-racks", "cmi5")
    with zipfile.ZipFile(io.BytesIO(packed)) as package:
        pages = [name for name in package.namelist() if name.endswith("index.html")]
        assert "index.html" in pages
        yield from (("package", package.read(name).decode()) for name in pages)


def test_no_paper_says_an_english_word(book: Book, content: pseudo.Content, tmp_path: Path) -> None:
    """What stands outside the brackets is content, and a paper says its language and where its lines begin."""
    said: set[tuple[str, str]] = set()
    for kind, html in papers(book):
        file = tmp_path / "paper.html"
        file.write_text(html, "utf-8")
        page = Document.read(file, kind)
        assert (page.root.get("lang"), page.root.get("dir")) == ("ar", "rtl")
        said |= {(kind, text) for text in pseudo.outside(page, CONTENT[kind])}
    left = [(kind, text) for kind, text in sorted(said) if text not in NAMES and not DEGREES.fullmatch(text)]
    lines = broken(book.library)
    faults = [f"{kind}: {text!r}" for kind, text in left if not (content.holds(text) or text in lines)]
    assert not faults, tell(faults)


def test_the_feed_says_no_english_word(book: Book, content: pseudo.Content) -> None:
    """Its own title; what entries hold are names and stories."""
    root = etree.fromstring(feed(book).content)
    atom = "{http://www.w3.org/2005/Atom}"
    assert root.get("{http://www.w3.org/XML/1998/namespace}lang") == "ar"
    assert bare(root.findtext(f"{atom}title") or "") == ""
    said = [e.text or "" for e in root.iter(f"{atom}title", f"{atom}summary", f"{atom}name")]
    assert len(said) > 40
    assert [text for text in said if not content.holds(bare(text).removesuffix("…"))] == []


def test_the_tables_of_the_form_say_no_english_word(book: Book) -> None:
    """Words that a sentence takes in, from data/record.json."""
    record = record_data.record_json(book)
    dimensions = record["dimensions"].values()
    said = [
        *record["nouns"].values(),
        *record["reading_examples"].values(),
        *(one[key] for one in dimensions for key in ("name", "examples") if one[key]),
        *(one["what"] for one in record["patterns"]["private"]),
    ]
    quoted = re.compile(r'"[^"]*"')  # a value to copy, without a word beside it
    assert [text for text in said if bare(quoted.sub("", text)).strip()] == []


def test_what_the_form_finds_says_no_english_word(phone: Phone) -> None:
    """Before a sentence stands the field's key, as on a terminal; all else is in brackets, and so is what to write."""
    plain = yaml.load(RECORD, Loader=parse.StrictLoader)
    lost = [plain | {"system": f"S-000{n}", "charge": {"lost": "20 lb"}} for n in range(1, 8)]
    drafts = [*valid(), *spoilt(600, seed=20), *lost]
    found = [
        finding
        for name in ("checkDraft", "checkSoFar")
        for told in phone.told(name, [(draft, ["flare-face.jpg"], True) for draft in drafts])
        for finding in told
    ]
    faults = {
        text
        for finding in found
        for text in (re.sub(r"^[\w.\[\]]+: ", "", bare(finding["message"])), bare(finding["instead"]))
        if text.strip(": ")
    }
    assert len({finding["rule"] for finding in found}) > 30
    assert sorted(faults) == []
