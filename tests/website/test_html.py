"""Every HTML page of the demo site is well formed and says what it is, to people and to screen readers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest

from site_fixture import Document, Site, local, tell, text_of

from .links import target

FALSE_ALARMS: dict[str, str] = {}
"""Error codes of html5lib that today's HTML standard doesn't know, each with the reason. None is needed."""

HEADINGS = ("h1", "h2", "h3", "h4", "h5", "h6")
LABELLED = ("input", "select", "textarea")
NAMELESS = ("hidden", "submit", "reset", "button", "image")


def parse_faults(page: Document) -> Iterator[str]:
    """What html5lib refuses in strict mode; there it stops at the first, here all are gathered."""
    for (line, column), code, data in page.errors:
        if code not in FALSE_ALARMS:
            yield f"{line}:{column}: {code} {data or ''}"


def waiting(element: Any) -> bool:
    """Is it in a part that a script fills before it shows it? Browser tests look at those."""
    return element.get("hidden") is not None or any(
        a.get("hidden") is not None for a in element.iterancestors()
    )


def frame_faults(page: Document) -> Iterator[str]:
    """Language, title, description, main landmark, one h1."""
    (html,) = page.find("html")
    if not html.get("lang"):
        yield "no lang"
    titles = [t for t in page.find("title") if local(t.getparent()) == "head"]
    if len(titles) != 1 or not text_of(titles[0]):
        yield f"{len(titles)} titles"
    told = [m.get("content") or "" for m in page.find("meta") if m.get("name") == "description"]
    if len(told) != 1 or not told[0].strip():
        yield f"description {told}"
    if sum(m.get("charset") == "utf-8" for m in page.find("meta")) != 1:
        yield "no charset"
    mains = [e for e in page.elements if local(e) == "main" or e.get("role") == "main"]
    if len(mains) != 1:
        yield f"{len(mains)} main landmarks"
    ones = [e for e in page.find("h1") if not waiting(e)]
    if len(ones) != 1 or not text_of(ones[0]):
        yield f"{len(ones)} h1"
    elif mains and mains[0] not in ones[0].iterancestors():
        yield "the h1 is outside of main"


def heading_faults(page: Document) -> Iterator[str]:
    """Levels that skip, and headings without words."""
    level = 0
    for heading in [e for e in page.find(*HEADINGS) if text_of(e) or not waiting(e)]:
        now = int(local(heading)[1])
        # what stands before main (a banner) may begin below the h1
        if level and now > level + 1:
            yield f"h{now} {text_of(heading)!r} follows an h{level}"
        if not text_of(heading):
            yield f"an empty h{now}"
        level = now


def image_faults(page: Document) -> Iterator[str]:
    """Pictures without words beside them."""
    for element in page.find("img"):
        if element.get("alt") is None:
            yield f"img {element.get('src')} has no alt"
    for element in page.find("svg"):
        shown = element.get("aria-hidden") != "true" and not any(
            a.get("aria-hidden") == "true" for a in element.iterancestors()
        )
        if shown and not (
            element.get("role") in ("img", "list")
            and (element.get("aria-label") or element.get("aria-labelledby"))
        ):
            yield "an svg is neither hidden nor named"


def table_faults(page: Document) -> Iterator[str]:
    """Tables without header cells, header cells without words, ragged rows."""
    for table in [e for e in page.find("table") if not waiting(e)]:
        cells = [e for e in table.iter() if isinstance(e.tag, str) and local(e) == "th"]
        if not cells:
            yield "a table has no header cells"
        for cell in cells:
            if not text_of(cell):
                yield "a header cell is empty"
        rows = [e for e in table.iter() if isinstance(e.tag, str) and local(e) == "tr"]
        widths = Counter(
            sum(int(c.get("colspan", 1)) for c in row if local(c) in ("td", "th")) for row in rows
        )
        if len(widths) > 1:
            yield f"a table has rows of {sorted(widths)} cells"


def name_faults(page: Document) -> Iterator[str]:
    """Links, buttons, fields, regions and details without a name."""
    labels = {e.get("for"): text_of(e) for e in page.find("label") if e.get("for")}
    words = {e.get("id"): text_of(e) for e in page.elements if e.get("id")}

    def named(element: Any) -> bool:
        pointed = [words.get(i, "") for i in (element.get("aria-labelledby") or "").split()]
        return bool((element.get("aria-label") or "").strip() or " ".join(pointed).strip())

    for element in page.find(*LABELLED):
        if element.get("type") in NAMELESS:
            continue
        inside = any(local(a) == "label" and text_of(a) for a in element.iterancestors())
        if not (labels.get(element.get("id")) or inside or named(element)):
            yield f"<{local(element)} name={element.get('name')!r}> has no label"
    for element in [e for e in page.find("a", "button", "summary") if not waiting(e)]:
        alts = [i.get("alt") or "" for i in element.iter("img")]
        if not (text_of(element) or named(element) or any(alts)):
            yield f"<{local(element)} class={element.get('class')!r}> has no words"
    for element in page.elements:
        if element.get("role") == "region" and not named(element):
            yield "a region has no name"
    navs = Counter(
        (element.get("aria-label") or "").strip() for element in page.find("nav") if not named(element)
    )
    if navs:
        yield f"{navs.total()} nav without a name"
    for element in page.find("details"):
        if not len(element) or local(element[0]) != "summary":
            yield "details begin without a summary"


def nesting_faults(page: Document) -> Iterator[str]:
    """What parsers let pass and the standard forbids: links in links, stray children of lists."""
    allowed = {"ul": ("li",), "ol": ("li",), "dl": ("div", "dt", "dd")}
    for element in page.elements:
        name = local(element)
        if name in ("a", "button") and any(
            local(e) in ("a", "button", "input", "select", "textarea", "details")
            for e in element.iterdescendants()
            if isinstance(e.tag, str)
        ):
            yield f"<{name}> holds another thing to press"
        for child in element:
            if name in allowed and isinstance(child.tag, str) and local(child) not in allowed[name]:
                yield f"<{local(child)}> stands in <{name}>"
        if name in allowed and (
            (element.text or "").strip() or any((child.tail or "").strip() for child in element)
        ):
            yield f"bare text stands in <{name}>"


CHECKS = (frame_faults, heading_faults, image_faults, table_faults, name_faults, nesting_faults)


def strict_faults(folder: Path, urls: list[str]) -> list[str]:
    """What the strict parser says to these pages; and where it sees another tree than the fast one of the tests."""

    def tree(page: Document) -> list[tuple[str, list[tuple[str, str]], str]]:
        return [
            (
                local(e).lower(),
                sorted(
                    (k.lower(), "" if v == k else v) for k, v in e.attrib.items()
                ),  # checked is checked=""
                (e.text or "").strip(),
            )
            for e in page.elements
        ]

    faults = []
    for url in urls:
        page = Document.strict(folder / url, url)
        faults += [f"{url}: {told}" for told in parse_faults(page)]
        if tree(page) != tree(Document.read(folder / url, url)):
            faults.append(f"{url}: two parsers see two trees")
    return faults


def test_every_page_is_well_formed(demo: Site) -> None:
    half = len(demo.urls) // 2
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        jobs = [
            pool.submit(strict_faults, demo.folder, part) for part in (demo.urls[:half], demo.urls[half:])
        ]
        faults = [fault for job in jobs for fault in job.result()]
    assert not faults, tell(faults)


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.__name__)
def test_every_page(demo: Site, check: Any) -> None:
    faults = [f"{page.url}: {fault}" for page in demo.pages for fault in check(page)]
    assert not faults, tell(faults)


def test_the_demo_has_a_page_of_every_kind(demo: Site) -> None:
    """So that the checks of this folder have seen them all."""
    kinds = Counter(url.rsplit("/", 2)[0] for url in demo.urls if url.count("/") >= 2)
    assert {
        "cases",
        "systems",
        "branches",
        "settings",
        "guide/failure-modes",
        "guide/techniques",
        "guide/symptoms",
        "guide/components",
        "guide/refrigerants",
    } <= set(kinds)
    assert {"index.html", "404.html", "search/index.html", "data/index.html", "reading/index.html"} <= set(
        demo.urls
    )
    assert "how-we-count/index.html" in demo.urls
    for tag in ("svg", "table", "form", "details", "dl", "ol", "figure", "aside"):
        assert any(page.find(tag) for page in demo.pages), tag


def test_titles_and_descriptions_tell_pages_apart(demo: Site) -> None:
    titles = Counter(text_of(page.find("title")[0]) for page in demo.pages)
    assert [t for t, n in titles.items() if n > 1] == []


def test_no_slot_or_template_mark_is_left(demo: Site) -> None:
    for url in demo.urls:
        text = demo.text(url)
        for mark in ("@@", "{{", "}}", "{%", "[[", "Undefined", "Markup("):
            assert mark not in text, f"{url}: {mark}"


def test_the_place_in_the_head_and_the_bar_is_marked(demo: Site) -> None:
    """In each bar the link to the part of the site in which the page stands, and no other."""
    marks = 0
    for url in demo.urls:
        if url == "404.html":
            continue
        for nav in demo.page(url).find("nav"):
            if (nav.get("class") or "").split()[0] not in ("site-bar",):
                continue
            for link in nav:
                leads = target(url, link.get("href"))
                assert leads is not None
                folder = url.split("/")[0]
                if folder == "for-customers":  # of the guide, or of a case
                    folder = "cases" if re.search(r"/[A-Z]+-\d+-\d+/", url) else "guide"
                inside = "/" in url and leads[0].split("/")[0] == folder
                assert (link.get("aria-current") == "page") == inside, f"{url}: {text_of(link)}"
                marks += inside
    assert marks > len(demo.urls) / 3


# The checks themselves.

GOOD = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Good</title>
<meta name="description" content="A page on which nothing is wrong."></head><body><main><h1>One</h1>{}</main></body></html>"""


@pytest.mark.parametrize(
    ("check", "markup", "said"),
    [
        (parse_faults, "<p><b>x<i>y</b></i></p>", "adoption-agency"),
        (parse_faults, "<p>a<div>b</div></p>", "unexpected-end-tag"),
        (parse_faults, "</span>", "unexpected-end-tag"),
        (parse_faults, "<ul><li>a</ul></li>", "unexpected-end-tag"),
        (parse_faults, '<p class="a" class="b">x</p>', "duplicate-attribute"),
        (parse_faults, "<table><tr><p>x</p></tr></table>", "unexpected"),
        (frame_faults, "<h1>Two</h1>", "2 h1"),
        (heading_faults, "<h3>Skips</h3>", "h3 'Skips' follows an h1"),
        (heading_faults, "<h2> </h2>", "an empty h2"),
        (image_faults, '<img src="x.png">', "no alt"),
        (image_faults, "<svg></svg>", "neither hidden nor named"),
        (table_faults, "<table><tbody><tr><td>x</td></tr></tbody></table>", "no header cells"),
        (
            table_faults,
            "<table><tbody><tr><th>a</th></tr><tr><th>a</th><td>b</td></tr></tbody></table>",
            "rows of [1, 2]",
        ),
        (name_faults, '<input name="q">', "no label"),
        (name_faults, '<label for="z">Word</label><input name="q" id="q">', "no label"),
        (name_faults, '<a href="#"><svg aria-hidden="true"></svg></a>', "no words"),
        (name_faults, '<div role="region" aria-labelledby="gone">x</div>', "region has no name"),
        (name_faults, "<nav>x</nav>", "nav without a name"),
        (name_faults, "<details><p>x</p></details>", "without a summary"),
        (nesting_faults, "<ul><p>x</p></ul>", "<p> stands in <ul>"),
        (nesting_faults, "<ul>x<li>y</li></ul>", "bare text"),
        (nesting_faults, '<a href="#">x<button>y</button></a>', "another thing to press"),
    ],
)
def test_a_fault_is_told(tmp_path: Path, check: Any, markup: str, said: str) -> None:
    assert any(said in told for told in check(_page(tmp_path, markup)))


def test_a_good_page_passes(tmp_path: Path) -> None:
    page = _page(
        tmp_path,
        '<h2>Two</h2><h3>Three</h3><h2>Again</h2><label for="q">Ask</label><input id="q" name="q">',
    )
    assert [told for check in (parse_faults, *CHECKS) for told in check(page)] == []
    assert strict_faults(tmp_path, ["index.html"]) == []


def test_the_strict_parser_s_errors_are_told(tmp_path: Path) -> None:
    _page(tmp_path, "<p><b>x</p>")
    assert any("index.html: " in told for told in strict_faults(tmp_path, ["index.html"]))


def _page(folder: Path, markup: str) -> Document:
    file = folder / "index.html"
    file.write_text(GOOD.format(markup), "utf-8")
    return Document.strict(file, "index.html")


def test_no_line_ends_between_a_number_and_its_percent_sign(demo: Site) -> None:
    loose = re.compile(r"[^<>]{0,30}\d %")
    faults = []
    for url in demo.urls:
        body = demo.text(url).partition("<body")[2]
        faults += [f"{url}: {found}" for found in loose.findall(body)]
    assert not faults, tell(faults)
