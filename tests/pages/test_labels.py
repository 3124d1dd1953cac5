"""Labels: what is chosen, what stands on them, and that a phone reads the codes from what is drawn and printed."""

from __future__ import annotations

import dataclasses
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import html5lib
import numpy as np
import numpy.typing as npt
import pypdf
import pytest
import segno
from click.testing import CliRunner, Result
from PIL import Image
from playwright.sync_api import Browser, Page

from leaklore.cli import main
from leaklore.errors import LeakloreError
from leaklore.pages import labels
from leaklore.pages.book import Book
from leaklore.records.library import Library
from leaklore.records.model import System

from .qr import read

BASE = "https://leaks.example/"
HOSTILE = '<script>alert("x")</script>&amp;<img src=x onerror=alert(1)>'
LONG = "W" * 80

Modules = npt.NDArray[np.bool_]


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page at three pixels a CSS pixel."""
    made = browser.new_page(viewport={"width": 900, "height": 1200}, device_scale_factor=3)
    yield made
    made.close()


def _sheets(book: Book, systems: list[System], paper: str = "a4", base: str = BASE) -> str:
    return labels.sheets(book, systems, base, labels.PAPERS[paper])


def _first(library: Library, count: int) -> list[System]:
    return list(library.systems.values())[:count]


# Which.


def test_by_number_in_the_order_given_and_each_once(demo_library: Library) -> None:
    found = labels.choose(demo_library, ["S-0412", "S-0131", "S-0412"], None, None)
    assert [s.id for s in found] == ["S-0412", "S-0131"]


def test_all_in_use_of_a_site_a_branch_or_both(demo_library: Library) -> None:
    everything = labels.choose(demo_library, [], None, None)
    assert {s.id for s in everything} == {s.id for s in demo_library.systems.values() if s.removed is None}
    assert len(everything) < len(demo_library.systems), "the demo has some that were taken out"
    osmere = labels.choose(demo_library, [], None, "Osmere")
    assert {s.site.branch for s in osmere} == {"Osmere"}
    assert {s.site.key for s in labels.choose(demo_library, [], "tern-court", None)} == {"tern-court"}
    both = labels.choose(demo_library, [], "tern-court", "Osmere")
    assert both == labels.choose(demo_library, [], "tern-court", None)


def test_one_that_was_taken_out_only_by_its_number(demo_library: Library) -> None:
    gone = next(s for s in demo_library.systems.values() if s.removed is not None)
    assert labels.choose(demo_library, [gone.id], None, None) == [gone]
    assert gone not in labels.choose(demo_library, [], None, gone.site.branch)


@pytest.mark.parametrize(
    ("numbers", "site", "branch", "told"),
    [
        (["S-0412", "S-412"], None, None, 'system "S-412" is not in the register; did you mean "S-0412"?'),
        (["rack"], None, None, 'system "rack" is not in the register; write one of systems.yaml'),
        ([], "tern-cort", None, 'site "tern-cort" is not in the register; did you mean "tern-court"?'),
        ([], "x", None, 'site "x" is not in the register; write the key of a site in systems.yaml'),
        ([], None, "Osmer", 'branch "Osmer" is none of the company; did you mean "Osmere"?'),
        ([], None, "X", 'branch "X" is none of the company; write Ketterwick, Osmere, Dunbrae'),
        (
            [],
            "tern-court",
            "Dunbrae",
            "there is no system in use to print a label for; look into systems.yaml",
        ),
        (["S-0412"], "tern-court", None, "give system numbers, or --site and --branch, not both"),
    ],
)
def test_what_is_not_there_is_told(
    numbers: list[str], site: str | None, branch: str | None, told: str, demo_library: Library
) -> None:
    with pytest.raises(LeakloreError) as fault:
        labels.choose(demo_library, numbers, site, branch)
    assert str(fault.value) == told


# Where to.


@pytest.mark.parametrize(
    ("address", "base"),
    [
        ("https://leaks.example/", "https://leaks.example/"),
        ("https://leaks.example", "https://leaks.example/"),
        ("http://10.0.0.7:8080/guide", "http://10.0.0.7:8080/guide/"),
    ],
)
def test_the_address_ends_with_a_slash(address: str, base: str, demo_library: Library) -> None:
    assert labels.base(demo_library, address) == base


def test_the_company_s_own_address_is_used(demo_library: Library) -> None:
    company = dataclasses.replace(demo_library.company, site_url="https://own.example/leaks/")
    library = dataclasses.replace(demo_library, company=company)
    assert labels.base(library, None) == "https://own.example/leaks/"
    assert labels.base(library, BASE) == BASE


@pytest.mark.parametrize(
    "address",
    ["ftp://x.example/", "javascript:alert(1)", "leaks.example", "https://", "https:///path", "file:///etc/passwd",
     "https://a b.example/", "https://x.example/\n", "http://[::1", "http://x.example:0/", "http://x.example:99999/"],
)  # fmt: skip
def test_what_is_no_web_address_is_told(address: str, demo_library: Library) -> None:
    with pytest.raises(LeakloreError) as fault:
        labels.base(demo_library, address)
    assert str(fault.value) == (
        f'--address: "{address}" is no web address; write it like https://leaks.example/'
    )


@pytest.mark.parametrize("tail", ["?a=1", "#top"])
def test_an_address_with_more_than_a_path_is_told(tail: str, demo_library: Library) -> None:
    with pytest.raises(LeakloreError, match="has more than a host and a path"):
        labels.base(demo_library, BASE + tail)


def test_no_address_at_all_says_what_to_write(demo_library: Library) -> None:
    assert demo_library.company.site_url is None
    for none in (None, ""):
        with pytest.raises(LeakloreError) as fault:
            labels.base(demo_library, none)
        assert str(fault.value) == (
            "the codes need the address of the published site; write --address https://leaks.example/, "
            "or site_url: https://leaks.example/ in company.yaml"
        )


# The codes.


def _matrix(url: str) -> Modules:
    return np.array([list(row) for row in segno.make(url, error="m", micro=False).matrix], bool)


@pytest.mark.parametrize("letters", [22, 40, 60, 90, 130, 180])
def test_a_reader_written_from_the_standard_reads_the_code(letters: int) -> None:
    """tests/pages/qr.py knows nothing of the library that made it."""
    url = (BASE + "x" * 200)[:letters]
    level, text = read(_matrix(url))
    assert text == url
    assert level in "MQH"


def test_the_path_is_the_matrix_with_a_quiet_zone() -> None:
    url = f"{BASE}systems/S-0412/"
    made, wanted = labels.code(url), _matrix(url)
    drawn = np.zeros((made.side, made.side), bool)
    for x, y, w in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", made.path):
        drawn[int(y), int(x) : int(x) + int(w)] = True
    assert np.array_equal(drawn[4:-4, 4:-4], wanted)
    drawn[4:-4, 4:-4] = False
    assert not drawn.any()
    assert made.side == wanted.shape[0] + 8


def test_an_address_too_long_for_a_label_is_told() -> None:
    with pytest.raises(LeakloreError) as fault:
        labels.code("https://leaks.example/" + "x" * 400)
    hit = re.fullmatch(
        r"the address of a system's page has 422 letters, too many for a code of 29 mm; at most (\d+) fit",
        str(fault.value),
    )
    assert hit
    assert labels.CODE / labels.code("x" * int(hit[1])).side >= labels.MODULE
    with pytest.raises(LeakloreError):
        labels.code("x" * (int(hit[1]) + 1))


def _sampled(picture: Image.Image, side: int) -> Modules:
    """Modules of a picture of a code, by the pixel in the middle of each."""
    grey = np.asarray(picture.convert("L"))
    at = (np.arange(side) + 0.5) * grey.shape[0] / side
    return np.asarray(grey[np.ix_(at.astype(int), at.astype(int))] < 128)


def test_codes_on_the_screen_are_read_back(page: Page, demo_book: Book, demo_library: Library) -> None:
    systems = _first(demo_library, 30)
    page.set_content(_sheets(demo_book, systems))
    codes = page.locator(".code").all()
    assert len(codes) == 30
    for system, found in list(zip(systems, codes, strict=True))[::6]:
        url = f"{BASE}systems/{system.id}/"
        wanted = _matrix(url)
        picture = Image.open(io.BytesIO(found.screenshot()))
        seen = _sampled(picture, wanted.shape[0] + 8)
        assert np.array_equal(seen[4:-4, 4:-4], wanted)
        assert read(seen[4:-4, 4:-4])[1] == url
        seen[4:-4, 4:-4] = False
        assert not seen.any(), "the quiet zone is white"


# What stands on them.


def test_a_label_says_which_unit_it_is(demo_book: Book, demo_library: Library, page: Page) -> None:
    page.set_content(_sheets(demo_book, [demo_library.systems[n] for n in ("S-0131", "S-0155")]))
    first, second = (label.inner_text().split("\n") for label in page.locator(".label").all())
    assert [t for t in first if t] == [
        "S-0131", "Orchard Rise homes", "House 2", "R-32 A2L flammable", "3.1 lb (1.4 kg)", "Ketterwick Air & Cold"
    ]  # fmt: skip
    assert "R-410A" in second
    assert not any("flammable" in t or "A1" in t for t in second)


def test_flammable_ones_are_those_whose_pages_say_so(demo_book: Book, demo_library: Library) -> None:
    systems = list(demo_library.systems.values())
    root = html5lib.parse(_sheets(demo_book, systems), namespaceHTMLElements=False)
    found = {}
    for item in root.iter("li"):
        words = {p.get("class"): " ".join("".join(p.itertext()).split()) for p in item.iter("p")}
        found[words["number"]] = "flammable" in words["gas"]
    wanted = {
        s.id: "flammable-refrigerant"
        in demo_library.guide.refrigerants[str(s.equipment.refrigerant)]["cautions"]
        for s in systems
    }
    assert found == wanted
    assert set(wanted.values()) == {True, False}


def test_hostile_names_stay_text(demo_book: Book, demo_library: Library) -> None:
    system = _first(demo_library, 1)[0]
    site = dataclasses.replace(system.site, name=HOSTILE)
    company = dataclasses.replace(demo_library.company, name=HOSTILE)
    book = Book(dataclasses.replace(demo_library, company=company), demo_book.today)

    html = _sheets(book, [dataclasses.replace(system, name=HOSTILE, site=site)])

    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    root = parser.parse(html)
    assert parser.errors == []
    assert list(root.iter("script")) == list(root.iter("img")) == []
    texts = {p.get("class"): p.text for p in root.iter("p")}
    assert [texts[name] for name in ("site", "name", "firm")] == [HOSTILE] * 3
    assert root.find("head/title").text == f"Labels: {HOSTILE}"


def test_the_file_needs_nothing_beside_it(demo_book: Book, demo_library: Library) -> None:
    html = _sheets(demo_book, _first(demo_library, 3))
    assert not re.search(r"<(script|link|img|iframe)\b|url\(|@import|\ssrc=|\shref=", html)


@pytest.mark.parametrize("paper", labels.PAPERS)
def test_everything_lies_inside_of_its_label_and_the_margins(
    paper: str, page: Page, demo_book: Book, demo_library: Library
) -> None:
    """Also with the longest names and numbers that the schema lets through."""
    kind = labels.PAPERS[paper]
    systems = [
        dataclasses.replace(
            s,
            id=f"S-{999_000 + i}",
            name=LONG if i % 2 else "Plant room at the far end of the long corridor, second bay on the left",
            site=dataclasses.replace(s.site, name=LONG if i % 3 else s.site.name),
        )
        for i, s in enumerate(_first(demo_library, kind.each + 1))
    ]
    page.emulate_media(media="print")
    page.set_content(_sheets(demo_book, systems, paper))
    mm = 96 / 25.4
    boxes = page.evaluate(
        """() => [...document.querySelectorAll(".label")].map((l) => {
          const r = (e) => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
          const s = l.closest(".sheet").getBoundingClientRect();
          return { sheet: [s.left, s.top], label: r(l), inner: [...l.querySelectorAll("svg, p")].map(r) };
        })"""
    )
    assert len(boxes) == kind.each + 1
    left, top = kind.margins
    assert left >= 9
    assert top >= 12
    for i, box in enumerate(boxes):
        x, y = (box["label"][k] - box["sheet"][k] for k in (0, 1))
        row, column = divmod(i % kind.each, kind.columns)
        assert x / mm == pytest.approx(left + 64 * column, abs=0.05)
        assert y / mm == pytest.approx(top + 34 * row, abs=0.05)
        near, high, far, low = box["label"]
        assert (far - near) / mm == pytest.approx(64, abs=0.05)
        assert (low - high) / mm == pytest.approx(34, abs=0.05)
        for il, it, ir, ib in box["inner"]:
            assert il >= near + mm
            assert it >= high + 0.5 * mm
            assert ir <= far - 0.9 * mm
            assert ib <= low - 0.5 * mm


def test_the_number_is_the_largest_and_fits_on_a_line(
    page: Page, demo_book: Book, demo_library: Library
) -> None:
    system = _first(demo_library, 1)[0]
    page.set_content(_sheets(demo_book, [system, dataclasses.replace(system, id="S-888888")]))
    for number in page.locator(".number").all():
        size = number.evaluate("(e) => parseFloat(getComputedStyle(e).fontSize)") * 25.4 / 96
        assert size >= 6.5
        assert number.evaluate("(e) => e.scrollWidth <= e.clientWidth")


# Files.


def _run(*words: str | Path) -> Result:
    return CliRunner().invoke(
        main, ["labels", "--cases", str(Path(__file__).parents[2] / "cases"), *map(str, words)]
    )


@pytest.mark.parametrize(
    ("paper", "count", "pages", "size"),
    [("a4", 24, 1, (210, 297)), ("a4", 25, 2, (210, 297)), ("letter", 22, 2, (215.9, 279.4))],
)
def test_a_pdf_has_as_many_pages_as_sheets(
    paper: str,
    count: int,
    pages: int,
    size: tuple[float, float],
    tmp_path: Path,
    demo_book: Book,
    demo_library: Library,
) -> None:
    systems = _first(demo_library, count)
    file = tmp_path / "labels.pdf"
    labels.write(_sheets(demo_book, systems, paper), file)
    found = pypdf.PdfReader(file)
    assert len(found.pages) == pages
    box = found.pages[0].mediabox
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size, abs=0.5)
    text = "".join(p.extract_text() for p in found.pages)
    assert re.findall(r"S-\d{4}", text) == [s.id for s in systems]
    assert "Print at 100" not in text, "the hint is for the screen"
    assert [f.name for f in tmp_path.iterdir()] == ["labels.pdf"]


def test_the_command_writes_a_file_and_says_so(tmp_path: Path) -> None:
    file = tmp_path / "labels.html"
    done = _run("--site", "tern-court", "-o", file, "--address", BASE)
    assert done.exit_code == 0, done.output
    hit = re.fullmatch(r"(\d+) labels on 1 sheet of A4 in (.+)\n", done.stdout)
    assert hit
    assert hit[2] == str(file)
    assert file.read_text("utf-8").count('<li class="label">') == int(hit[1])
    again = _run("S-0412", "-o", file, "--address", BASE, "--paper", "letter", "--json")
    assert json.loads(again.stdout) == {"version": 1, "labels": 1, "sheets": 1, "path": str(file)}
    assert f"{BASE}systems/S-0412/" in file.read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("S-412", "--address", BASE), 'system "S-412" is not in the register; did you mean "S-0412"?'),
        (
            ("S-0412", "--address", "ftp://x"),
            '--address: "ftp://x" is no web address; write it like https://leaks.example/',
        ),
    ],
)
def test_the_command_tells_mistakes_in_one_line(words: tuple[str, ...], told: str, tmp_path: Path) -> None:
    done = _run(*words, "-o", tmp_path / "labels.html")
    assert done.exit_code == 1
    assert done.stderr == f"leaklore: {told}\n"
    assert list(tmp_path.iterdir()) == []


def test_another_ending_and_a_missing_folder_are_told(tmp_path: Path) -> None:
    for name, told in (
        ("labels.doc", "ends neither in .html nor in .pdf; write -o labels.html"),
        ("gone/labels.html", "; make it first"),
    ):
        with pytest.raises(LeakloreError) as fault:
            labels.write("<p>", tmp_path / name)
        assert str(fault.value).endswith(told)


def test_without_chromium_the_pdf_points_to_html(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "labels.pdf").write_text("the last good one")
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(LeakloreError) as fault:
        labels.write("<p>", tmp_path / "labels.pdf")
    assert str(fault.value) == (
        "a PDF needs Chromium, and there is no command `chromium`; "
        "write -o labels.html and print that from any browser"
    )
    assert (tmp_path / "labels.pdf").read_text() == "the last good one"


def test_a_chromium_that_fails_is_told_in_its_own_last_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake = tmp_path / "chromium"
    fake.write_text("#!/bin/sh\necho first >&2\necho 'no display' >&2\nexit 3\n")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    with pytest.raises(LeakloreError, match=r"^Chromium made no PDF \(no display\); write -o labels\.html"):
        labels.write("<p>", tmp_path / "labels.pdf")
    assert not (tmp_path / "labels.pdf").exists()
