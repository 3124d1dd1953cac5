"""The report: all topics in one file, no link that leads nowhere, on paper by Chromium, and mistakes told in a line."""

from __future__ import annotations

import datetime as dt
import io
import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import altair as alt
import html5lib
import pypdf
import pytest
from click.testing import CliRunner, Result
from markupsafe import Markup

from analysis.builders import CASES
from leaklore.analysis.patterns import exposure
from leaklore.cli import main
from leaklore.errors import LeakloreError
from leaklore.pages import links, paper, printing
from leaklore.pages.book import Book
from leaklore.pages.patterns import report
from leaklore.pages.patterns import site as site_pages
from leaklore.pages.patterns.drawing import draw
from leaklore.pages.patterns.tables import Column, Table
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates, hrefs
from leaklore.records.library import Library

TODAY = dt.date(2026, 12, 31)
EVERYTHING = report.Asked(None, None, tables=True)
SOURCE = """
{% import "macros.html" as m with context %}{% import "patterns_macros.html" as p with context %}
<section class="section section--wide" aria-labelledby="{{ key }}-a"><h2 class="section__label" id="{{ key }}-a">Leaks</h2>
<div class="section__body"><p>See <a href="#{{ key }}-a">above</a>, <a href="../{{ other }}/">the other topic</a>,
<a href="../{{ other }}/#{{ other }}-a">its leaks</a> and <a href="../../how-we-count/" class="x">How we <b>count</b></a> &amp; more.
{{ m.proof("held", root) }}</p>{{ p.figure(drawing) }}{{ p.says("It says this.", "It does not say that.") }}{{ p.table(drawing.table) }}</div></section>
"""


def _topic(book: Book, key: str, other: str) -> Topic:
    cases = book.library.active
    rows = tuple((c.cause.mode, i, (c.id,)) for i, c in enumerate(cases[:4], 1))
    columns = (
        Column("mode", "Failure", "mode"),
        Column("leaks", "Leaks", "whole"),
        Column("cases", "Cases", "case"),
    )
    table = Table(f"{key}-modes", f"Table of {key}", columns, rows)

    def make(width: int) -> Any:
        data = alt.Data(values=[{"i": row[1]} for row in rows])
        return alt.Chart(data).mark_point().encode(x=alt.X("i:Q", title=f"Axis of {key}"))

    drawing = draw(make, f"Chart of {key}", "It rises.", table)
    source = Templates(book).env.from_string(SOURCE)
    sections = source.render(root="../../", href=hrefs("../../"), key=key, other=other, drawing=drawing)
    return Topic(key, f"Topic {key}", f"Lead of {key}.", Markup(sections), (table,), f"Headline of {key}.")


def _topics(book: Book) -> list[Topic]:
    return [_topic(book, "one", "two"), _topic(book, "two", "one")]


def _html(book: Book, site: str | None = None, what: report.Asked = EVERYTHING) -> str:
    library = replace(book.library, company=replace(book.library.company, site_url=site))
    told = Book(library, TODAY)
    found = exposure.fleet(library, TODAY, what.branch, what.since)
    return report.html(told, _topics(told), found, what)


def _words(html: str) -> str:
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    for unseen in (*tree.iter("style"), *tree.iter("title")):
        unseen.text = ""
    for remark in [node for node in tree.iter() if not isinstance(node.tag, str)]:
        remark.text = ""
    return " ".join(" ".join(tree.itertext()).split())


def test_all_topics_stand_in_it_with_their_charts_and_tables(demo_book: Book) -> None:
    text = _words(_html(demo_book))
    for key in ("one", "two"):
        assert f"Topic {key} : Headline of {key}." in text
        for part in ("Lead of", "Chart of", "Axis of", "Table of"):
            assert f"{part} {key}" in text
    for case in demo_book.library.active[:4]:
        assert case.id in text


def test_without_tables_the_charts_stand_alone(demo_book: Book) -> None:
    html = _html(demo_book, what=report.Asked(None, None))
    assert "Chart of one" in _words(html)
    assert "Table of one" not in _words(html)
    assert "aria-details" not in html
    assert "in the library’s workbook" in _words(html)


def test_the_head_says_what_it_stands_on(demo_book: Book) -> None:
    found = exposure.fleet(demo_book.library, TODAY)
    text = _words(_html(demo_book))
    assert text.startswith(f"{demo_book.library.company.name} Leak patterns")
    assert "Period 1 January 2021 to 31 December 2026 since leaks were put on record" in text
    assert "Branch All branches Library of 31 December 2026" in text
    years = f"{found.years:,.0f}".replace(",", " ")
    assert f"Systems watched {len(found.watched)} {years} system-years" in text
    assert f"Leaks counted {len(found.leaks)} of " in text
    for key, cases in found.apart.items():
        if cases:
            assert f"{len(cases)} case{'s' if len(cases) != 1 else ''} ({exposure.APART[key]})" in text


def test_the_head_of_one_branch_since_a_day(demo_book: Book) -> None:
    what = report.Asked(dt.date(2025, 7, 1), "Osmere")
    found = exposure.fleet(demo_book.library, TODAY, "Osmere", dt.date(2025, 7, 1))
    text = _words(_html(demo_book, what=what))
    assert "Leak patterns: Osmere" in text
    assert "Period 1 July 2025 to 31 December 2026 Branch Osmere" in text
    assert f"Systems watched {len(found.watched)} " in text
    assert 0 < len(found.watched) < len(exposure.fleet(demo_book.library, TODAY).watched)


def test_a_period_does_not_cut_off_what_was_before_a_change(demo_book: Book) -> None:
    """Before and after needs the time before, and the list of systems all that is known of them."""
    since = dt.date(2025, 7, 1)
    whole, part = ({t.key: t.headline for t in site_pages.topics(demo_book, day)} for day in (None, since))
    assert {key for key in whole if whole[key] == part[key]} == {"watch", "changes"}
    told = report.made(demo_book.library, TODAY, report.Asked(since, None)).html
    note = "From the whole record, not from the period alone."
    for key in whole:
        head = told.split(f'<article class="topic" id="{key}"')[1].split("</header>")[0]
        assert (note in head) is (key in ("watch", "changes"))
    assert "but not before 1 July 2025, from which day on every leak counts" in _words(told)
    assert note not in _html(demo_book)


@pytest.mark.parametrize("site", [None, "https://leaks.example/", "https://example.org/lore"])
def test_no_link_leads_nowhere_and_nothing_is_fetched(demo_book: Book, site: str | None) -> None:
    html = _html(demo_book, site)
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    ids = [node.get("id") for node in tree.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    for node in tree.iter():
        for name in ("src", "style", "srcset", "data"):
            assert node.get(name) is None, "all of it is inside"
        for name in ("aria-labelledby", "aria-details"):
            assert set((node.get(name) or "").split()) <= set(ids)
    outside = set()
    for node in tree.iter():
        href = node.get("href") or node.get("{http://www.w3.org/1999/xlink}href") or ""
        if href.startswith("#"):
            assert href[1:] in ids, href
        elif href:
            outside.add(href)
    base = f"{site.rstrip('/')}/" if site else ""
    cases = demo_book.library.active[:4]
    expected = {base + links.address("case", c.id) for c in cases} | {base + "how-we-count/"}
    expected |= {base + links.address("mode", c.cause.mode) for c in cases}
    assert outside == (expected if site else set())
    assert {"#one", "#two-a"} <= {a.get("href") for a in tree.iter("a")}
    assert "CSV" not in _words(html), "the site's file counts everything, the report perhaps one branch"


def test_a_text_with_signs_survives(demo_book: Book) -> None:
    topic = _topics(demo_book)[0]
    nasty = Markup(
        '<section id="one-x"><p title="a&quot;b">&lt;script&gt; &amp; &#39;x&#39; &eacute;</p><br></section>'
    )
    assert report.standing_alone(replace(topic, sections=nasty), [topic], "") == nasty


def test_long_tables_and_lists_are_cut_and_it_says_so(demo_book: Book) -> None:
    cases = [c.id for c in demo_book.library.active]
    columns = (Column("place", "Place", "whole"), Column("cases", "Cases", "case"))
    rows = ((1, tuple(cases[:9])), *((n, (cases[n],)) for n in range(20, 49)))
    table = Table("one-long", "Long", columns, rows)
    source = '{% import "patterns_macros.html" as p with context %}<section>{{ p.table(table) }}</section>'
    page = (
        Templates(demo_book).env.from_string(source).render(root="../../", href=hrefs("../../"), table=table)
    )
    on_page = html5lib.parseFragment(page, namespaceHTMLElements=False)
    assert all(
        node.get("hidden") is not None for node in on_page.iter() if node.get("data-report") is not None
    )
    topic = replace(_topics(demo_book)[0], sections=Markup(page))
    text = _words(report.standing_alone(topic, [topic], ""))
    assert all(number in text for number in (*cases[:6], *cases[20:29]))
    assert not any(number in text for number in (*cases[6:9], *cases[29:49]))
    assert "and 3 more" in text
    assert "The first 10 of 30 lines; the library has them all." in text
    assert " hidden" not in report.standing_alone(topic, [topic], "")


def test_a_library_without_a_system_still_gives_a_report(demo_book: Book) -> None:
    library = replace(demo_book.library, cases=(), systems={})
    found = exposure.fleet(library, TODAY)
    text = _words(report.html(Book(library, TODAY), [], found, EVERYTHING))
    assert "Systems watched 0 0 system-years Leaks counted 0 of 0 cases" in text
    assert "There is no topic to report." in text


def test_on_paper_it_has_text_and_the_companys_name(demo_book: Book, tmp_path: Path) -> None:
    file = paper.write(_html(demo_book), tmp_path / "report.pdf")
    printed = pypdf.PdfReader(io.BytesIO(file.read_bytes()))
    pages = [" ".join(page.extract_text().split()) for page in printed.pages]
    assert "KETTERWICK AIR & COLD" in pages[0].upper()
    assert "Headline of two." in pages[0]
    assert len(pages) >= 3, "each topic begins on a page of its own"
    whole = " ".join(pages)
    assert "Axis of one" in whole, "text in charts stays text"
    assert all(c.id in whole for c in demo_book.library.active[:4])
    assert printed.metadata is not None
    assert printed.metadata.title == "Leak patterns: Ketterwick Air & Cold"


# What was asked for.


@pytest.mark.parametrize(
    ("since", "branch", "told"),
    [
        ("2025-13-01", None, '--since: there is no day "2025-13-01"; write it like 2025-07-01'),
        ("01/07/2025", None, '--since: "01/07/2025" is no date; write it like 2025-07-01'),
        ("20250701", None, '--since: "20250701" is no date; write it like 2025-07-01'),
        ("2027-01-01", None, "--since: 2027-01-01 is after today, 2026-12-31; write an earlier day"),
        (None, "Osmre", 'branch "Osmre" is none of the company; did you mean "Osmere"?'),
        (None, "", 'branch "" is none of the company; write Ketterwick, Osmere, Dunbrae'),
    ],
)
def test_what_cant_be_is_told(
    demo_library: Library, since: str | None, branch: str | None, told: str
) -> None:
    with pytest.raises(LeakloreError) as wrong:
        report.asked(demo_library, TODAY, since, branch)
    assert str(wrong.value) == told


def test_today_is_a_day_that_can_be_asked_for(demo_library: Library) -> None:
    assert report.asked(demo_library, TODAY, "2026-12-31", "Osmere") == report.Asked(TODAY, "Osmere")


# The command.


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Result]:
    """`leaklore report` with two topics of this file, on the demo as of a day."""
    stand_in = ModuleType("leaklore.pages.patterns.site")

    def topics(book: Book, since: dt.date | None, branch: str | None) -> list[Topic]:
        return _topics(book)

    stand_in.topics = topics  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, stand_in.__name__, stand_in)
    monkeypatch.setattr("leaklore.pages.patterns.site", stand_in, raising=False)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798675200")  # 2026-12-31
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "cases").symlink_to(CASES)
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")

    def command(*words: str) -> Result:
        return CliRunner().invoke(main, ["report", "--cases", "../library/cases", *words])

    return command


@pytest.fixture
def here(run: Callable[..., Result]) -> Path:
    """The folder in which the command runs."""
    return Path.cwd()


def test_the_command_writes_the_report(run: Callable[..., Result], here: Path) -> None:
    done = run("-o", "mine.html", "--branch", "Osmere", "--since", "2025-07-01")
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("2 topics on ")
    assert done.stdout.endswith(" in mine.html\n")
    assert "Leak patterns: Osmere" in _words((here / "mine.html").read_text("utf-8"))
    told = json.loads(run("-o", "mine.html", "--json").stdout)
    assert {key: told[key] for key in ("version", "path", "since", "until", "branch", "topics")} == {
        "version": 1,
        "path": "mine.html",
        "since": "2021-01-01",
        "until": "2026-12-31",
        "branch": None,
        "topics": 2,
    }
    assert told["systems"] > 300
    assert [p.name for p in here.iterdir()] == ["mine.html"]


def test_beside_mkdocs_yml_it_shares_the_charts_of_the_builds(run: Callable[..., Result], here: Path) -> None:
    charts = here.parent / "library" / ".cache" / "charts"
    assert run("-o", "mine.html").exit_code == 0
    assert not charts.exists(), "nothing is left beside a library that is no site"
    (here.parent / "library" / "mkdocs.yml").touch()
    first = (here / "mine.html").read_bytes()
    assert run("-o", "mine.html").exit_code == 0
    assert len(list(charts.iterdir())) == 4
    assert run("-o", "mine.html").exit_code == 0
    assert (here / "mine.html").read_bytes() == first


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ["-o", "mine.docx"],
            'leaklore: "mine.docx" ends neither in .html nor in .pdf; write -o report.html\n',
        ),
        (["-o", "nowhere/mine.pdf"], 'leaklore: there is no folder "nowhere"; make it first\n'),
        (
            ["--branch", "Dunbray"],
            'leaklore: branch "Dunbray" is none of the company; did you mean "Dunbrae"?\n',
        ),
        (["--since", "soon"], 'leaklore: --since: "soon" is no date; write it like 2025-07-01\n'),
    ],
)
def test_a_mistake_is_one_line_and_writes_nothing(
    run: Callable[..., Result], here: Path, words: list[str], told: str
) -> None:
    done = run(*words)
    assert (done.exit_code, done.stdout, done.stderr) == (1, "", told)
    assert not list(here.iterdir())


def test_without_chromium_the_html_stands_beside_and_the_status_says_so(
    run: Callable[..., Result], here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "browser", lambda: None)
    done = run("-o", "mine.pdf")
    assert done.exit_code == 1
    assert done.stdout.endswith(" in mine.html\n")
    assert (
        done.stderr
        == "leaklore: no PDF, for there is no command `chromium`; print the .html from any browser\n"
    )
    assert [p.name for p in here.iterdir()] == ["mine.html"]
    before = (here / "mine.html").stat().st_mtime_ns
    again = run("-o", "mine.pdf")
    assert again.exit_code == 1
    assert again.stderr == (
        "leaklore: a PDF needs Chromium, and there is no command `chromium`; "
        '"mine.html" is there already and stays; write -o mine.html to replace it\n'
    )
    assert (here / "mine.html").stat().st_mtime_ns == before
    unasked = run()
    assert unasked.exit_code == 0, "nobody asked for a PDF"
    assert unasked.stdout.endswith(" in report.html\n")
    assert unasked.stderr == ""


def test_with_chromium_a_pdf_without_a_word(run: Callable[..., Result], here: Path) -> None:
    assert shutil.which("chromium"), "run `make browser`"
    done = run()
    assert done.exit_code == 0, done.output
    assert (here / "report.pdf").read_bytes().startswith(b"%PDF")


def test_a_browser_that_fails_is_told_in_a_line_and_the_old_report_stays(
    run: Callable[..., Result], here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "mine.pdf").write_bytes(b"old")
    monkeypatch.setattr(printing, "browser", lambda: "/bin/false")
    done = run("-o", "mine.pdf")
    assert done.exit_code == 1
    assert done.stderr == (
        "leaklore: Chromium made no PDF (it said nothing); write -o mine.html and print that from any browser\n"
    )
    assert (here / "mine.pdf").read_bytes() == b"old"
