"""The booklet: everything of a list in one file, answers at the back, a case on one page, mistakes told in a line."""

from __future__ import annotations

import io
import json
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import html5lib
import pypdf
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from analysis.builders import CASES
from leaklore.cli import main
from leaklore.errors import LeakloreError
from leaklore.pages import paper, printing
from leaklore.pages.book import Book
from leaklore.pages.learn import booklet
from leaklore.pages.learn.questions import questions_for_print
from leaklore.records.library import Library
from leaklore.records.model import ReadingItem, ReadingList

EVERY_KIND = (
    "mode:flare-joint",
    "technique:dye",
    "symptom:oil-film",
    "component:relief-valve",
    "refrigerant:R-290",
)
TODO = ("bench:standing-test", "unknown:KW-2022-027", "questions:pressure-tests")


def listing(*names: str) -> ReadingList:
    """A list of these items."""
    pairs = (name.split(":", 1) for name in names)
    items = (ReadingItem(kind, key, "Why <this> one.") for kind, key in pairs)
    return ReadingList("of-all", "One of each & more", "Everybody", "lead", tuple(items), 14, ("Do it.",))


@pytest.fixture(scope="module")
def html(demo_book: Book) -> str:
    """A booklet with one item of each kind."""
    return booklet.made(listing(*EVERY_KIND, "case:KW-2022-017", *TODO), demo_book).html


def parts(html: str) -> dict[str, Any]:
    """Elements by id."""
    return {e.get("id"): e for e in html5lib.parse(html, namespaceHTMLElements=False).iter() if e.get("id")}


def text(element: Any) -> str:
    """What a reader sees, white space reduced."""
    return " ".join(" ".join(element.itertext()).split())


def test_it_is_well_formed_and_needs_nothing_beside_it(html: str) -> None:
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse(html)
    ids = [e.get("id") for e in tree.iter() if e.get("id")]

    assert parser.errors == []
    assert len(ids) == len(set(ids))
    for node in tree.iter():
        for name in ("src", "srcset", "style", "data"):
            assert node.get(name) is None
        assert set((node.get("aria-labelledby") or "").split()) <= set(ids)
    assert "<script" not in html
    assert "default-src 'none'" in html


@pytest.mark.parametrize("site", [None, "https://leaks.example/", "https://example.org/lore"])
def test_no_link_leads_nowhere(site: str | None, demo_book: Book) -> None:
    library = replace(demo_book.library, company=replace(demo_book.library.company, site_url=site))
    made = booklet.made(
        listing("mode:flare-joint", "case:OS-2024-003", "technique:dye"), Book(library, demo_book.today)
    )
    found = parts(made.html)
    tree = html5lib.parse(made.html, namespaceHTMLElements=False)
    hrefs = {a.get("href") for a in tree.iter("a")}

    assert "#item-1" in hrefs
    for href in hrefs:
        assert (
            href.removeprefix("#") in found if href.startswith("#") else href.startswith(site or "nowhere")
        ), href
    assert any(href.startswith("http") for href in hrefs) == bool(site)


def test_every_item_stands_in_it_in_order(html: str) -> None:
    found = parts(html)
    shown = [text(found[f"item-{n}"]) for n in range(1, 10)]

    for n, start in enumerate(("Failure mode", "Technique", "Symptom", "Component", "Refrigerant"), 1):
        assert shown[n - 1].startswith(f"{n}. {start}")
    assert shown[5].startswith("6. Case KW-2022-017")
    assert shown[6].startswith("7. Work bench")
    assert shown[7].startswith("8. Unknown case")
    assert shown[8].startswith("9. Short questions")
    assert all("Why <this> one." in part for part in shown)
    assert text(found["text"]).startswith("Ketterwick Air & Cold One of each & more Everybody")


def test_a_guide_page_is_printed_once_and_whole(html: str, demo_book: Book) -> None:
    guide = demo_book.library.guide
    for n, name in enumerate(EVERY_KIND, 1):
        kind, key = name.split(":")
        entry = guide.entries(kind)[key]
        first = re.sub(r"[\[\]*#]", "", entry.body).split()[:6]
        shown = text(parts(html)[f"item-{n}"])
        assert shown.count(" ".join(first[-3:])) == 1, name


def test_answers_stand_at_the_back_and_only_there(html: str, demo_book: Book) -> None:
    lib = demo_book.library
    found = parts(html)
    case = lib.by_id["KW-2022-027"]
    mode, place = lib.guide.modes[case.cause.mode].name, lib.guide.components[case.cause.component].name
    asked, answers = text(found["item-8"]), text(found["answers"])

    assert mode.lower() not in asked.lower()
    assert place.lower() not in asked.lower()
    assert case.title not in asked
    assert f"{mode} at the {place.lower()}" in answers
    for step in case.search:
        assert str(step.minutes) in answers
    assert case.lesson is not None
    assert case.lesson in answers
    assert html.index('id="answers"') > html.index('id="item-9"')


def test_each_question_has_its_answer(html: str, demo_book: Book) -> None:
    seed = zlib.crc32(b"of-all pressure-tests")
    questions = questions_for_print(demo_book.library, "pressure-tests", seed, 8, demo_book.adviser)
    asked, answers = text(parts(html)["item-9"]), text(parts(html)["answers"])

    assert len(questions) == 8
    for question in questions:
        right = ", ".join("ABCDEFGH"[i] for i in question.right)
        assert " ".join(question.text.split()) in asked
        for choice in question.choices:
            assert " ".join(choice.split()) in asked
        assert f"{right}. {' '.join(question.explanation.split())}" in answers
        assert " ".join(question.explanation.split()) not in asked


def test_cautions_of_everything_in_it_stand_in_front(html: str, demo_book: Book) -> None:
    guide = demo_book.library.guide
    careful = text(parts(html)["careful"])

    for key in ("nitrogen-pressure", "flammable-refrigerant", "uv-lamp", "electricity"):
        assert " ".join(guide.cautions[key]["text"].split()) in careful
    assert "Local codes, the nameplate and licensed practice decide" in careful
    assert html.index('id="careful"') < html.index('id="item-1"')


def test_a_list_without_exercises_has_no_answers(demo_book: Book) -> None:
    html = booklet.made(listing("technique:dye", "bench:leak-rate"), demo_book).html

    assert "answers" not in parts(html)
    assert "turn to the back" not in html


def test_printed_anew_it_asks_the_same(demo_book: Book) -> None:
    one = listing("questions:rules", "unknown:OS-2025-011")

    assert booklet.made(one, demo_book) == booklet.made(one, demo_book)


# Stories.

SENTENCES = st.lists(
    st.lists(
        st.sampled_from(["Oil.", "It was dry then.", "Nobody had looked there!"]), min_size=1, max_size=6
    ),
    min_size=1,
    max_size=4,
)


@given(SENTENCES, st.integers(0, 40))
def test_a_story_is_cut_behind_a_sentence(paragraphs: list[list[str]], most: int) -> None:
    story = "\n\n".join(" ".join(p) for p in paragraphs)

    kept, cut = booklet.shortened(story, most)

    assert story.startswith(kept)
    assert cut == (kept != story)
    assert kept.endswith((".", "!"))
    first = len(paragraphs[0][0].split())
    assert len(kept.split()) <= max(most, first)
    if cut:
        rest = story.removeprefix(kept).split()
        more = next(i for i, word in enumerate(rest, 1) if word.endswith((".", "!")))
        assert len(kept.split()) + more > most, "a sentence more would have fitted"


@pytest.mark.parametrize(
    ("html", "site", "led"),
    [
        ('<a href="./guide/dye/">dye</a>', "", '<a href="#item-2">dye</a>'),
        ('<a href="./cases/A-1/">A-1</a>', "", "A-1"),
        (
            '<a href="./cases/A-1/">A-1</a>',
            "https://x.example",
            '<a href="https://x.example/cases/A-1/">A-1</a>',
        ),
        (
            '<a class="x" href="./a&amp;b/">a <b>b</b></a>',
            "https://x.example/",
            '<a href="https://x.example/a&amp;b/">a <b>b</b></a>',
        ),
        ('<a href="#careful">x</a>', "", '<a href="#careful">x</a>'),
    ],
)
def test_where_links_lead(html: str, site: str, led: str) -> None:
    assert booklet.led(html, {"guide/dye/": "#item-2"}, site) == led


# On paper.


@pytest.mark.parametrize("sheet", ["letter", "A4"])
def test_on_paper_every_case_of_the_demo_has_a_page_of_its_own(
    sheet: str, demo_book: Book, tmp_path: Path
) -> None:
    lib = demo_book.library
    si = replace(lib.company, units="si")
    book = demo_book if sheet == "letter" else Book(replace(lib, company=si), demo_book.today)
    longest = sorted(lib.active, key=lambda c: (-len(c.search), -len(c.story)))[:40]
    made = booklet.made(listing(*(f"case:{c.id}" for c in longest)), book)

    file = paper.write(made.html, tmp_path / "cases.pdf")

    pages = [" ".join(p.extract_text().split()) for p in pypdf.PdfReader(io.BytesIO(file.read_bytes())).pages]
    firsts = [
        n for n, page in enumerate(pages) if re.search(r"\b\d+\. CASE [A-Z]+-\d+-\d+, \d", page.upper())
    ]
    assert len(firsts) == len(longest)
    assert firsts == list(range(firsts[0], firsts[0] + len(longest))), "no page between two cases"
    assert firsts[-1] == len(pages) - 1
    width = float(pypdf.PdfReader(file).pages[0].mediabox.width)
    assert width == pytest.approx(612 if sheet == "letter" else 595, abs=1)


# The command.


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("first-weak", 'there is no reading list "first-weak"; did you mean "first-week"?'),
        ("", 'there is no reading list ""; write coils-that-corrode, detectors-and-what-fools-them'),
    ],
)
def test_a_list_that_is_not_there(key: str, told: str, demo_library: Library) -> None:
    with pytest.raises(LeakloreError) as wrong:
        booklet.chosen(demo_library, key)
    assert str(wrong.value).startswith(told)


def test_a_library_without_lists(demo_library: Library) -> None:
    with pytest.raises(LeakloreError, match="has no reading list; write one into reading/"):
        booklet.chosen(replace(demo_library, reading=()), "first-week")


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Result]:
    """`leaklore booklet` on the demo as of a day, in an empty folder."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1798675200")  # 2026-12-31
    monkeypatch.chdir(tmp_path)

    def command(*words: str) -> Result:
        return CliRunner().invoke(main, ["booklet", "--cases", str(CASES), *words])

    return command


def test_the_command_writes_the_booklet(run: Callable[..., Result]) -> None:
    done = run("first-week", "-o", "mine.html")
    assert (done.exit_code, done.stderr) == (0, "")
    assert re.fullmatch(r"12 items, about \d+ min in mine.html\n", done.stdout)
    assert "First week on the van" in Path("mine.html").read_text("utf-8")

    told = json.loads(run("first-week", "-o", "mine.html", "--json").stdout)
    assert told == {
        **told,
        "version": 1,
        "path": "mine.html",
        "list": "first-week",
        "items": 12,
        "cases": 5,
        "exercises": 3,
    }
    assert [p.name for p in Path().iterdir()] == ["mine.html"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ["first-week", "-o", "mine.doc"],
            '"mine.doc" ends neither in .html nor in .pdf; write -o first-week.html',
        ),
        (["first-week", "-o", "nowhere/mine.pdf"], 'there is no folder "nowhere"; make it first'),
        (
            ["frist-week", "-o", "mine.html"],
            'there is no reading list "frist-week"; did you mean "first-week"?',
        ),
    ],
)
def test_a_mistake_is_one_line_and_writes_nothing(
    words: list[str], told: str, run: Callable[..., Result]
) -> None:
    done = run(*words)

    assert (done.exit_code, done.stdout, done.stderr) == (1, "", f"leaklore: {told}\n")
    assert not list(Path().iterdir())


def test_without_chromium_the_html_stands_beside_and_the_status_says_so(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(printing, "browser", lambda: None)

    done = run("first-week", "-o", "mine.pdf")

    assert done.exit_code == 1
    assert done.stdout.endswith(" in mine.html\n")
    assert (
        done.stderr
        == "leaklore: no PDF, for there is no command `chromium`; print the .html from any browser\n"
    )
    again = run("first-week", "-o", "mine.pdf")
    assert '"mine.html" is there already and stays; write -o mine.html to replace it' in again.stderr
    plain = run("first-week")
    assert plain.exit_code == 0
    assert plain.stdout.endswith(" in first-week.html\n")
