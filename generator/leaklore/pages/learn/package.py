"""One reading list as pages that stand alone: for packages that a learning management system takes.

Guide pages, cases, pages of the work bench and the exercises keep their addresses and their scripts. A link to a page
that is not in the package becomes plain text. Nothing is fetched from another host (Content-Security-Policy of every
page); only the cmi5 player talks to the endpoint that it is launched with.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape, unescape
from urllib.parse import urldefrag, urljoin

from markupsafe import Markup

from leaklore.pages import bench, case, guide
from leaklore.pages.book import Book
from leaklore.pages.data_form import as_json
from leaklore.pages.learn import lists, questions, unknown
from leaklore.pages.learn.lists import Shown
from leaklore.pages.links import address, root_from
from leaklore.pages.markup import Prose
from leaklore.pages.render import Templates, styles, theme
from leaklore.pages.spec import DataFile, Page
from leaklore.pages.trade_data import trade_json
from leaklore.records.model import ReadingList

VERSION = 1
"""Of contents.json."""
MASTERY = 70
"""Percent of the points that pass an exercise, or all exercises of a list (judgement, no source)."""
SCORED = ("unknown", "questions")
STYLES = (
    *(
        "tokens",
        "base",
        "shell",
        "prose",
        "cards",
        "facts",
        "figures",
        "timeline",
        "chart",
        "tables",
        "cautions",
    ),
    *("forms", "bench", "search", "learn", "unknown", "questions", "print"),
)
"""Parts of the stylesheet that these pages need, in the order of the site's."""
SCRIPTS: Mapping[str, str] = {"unknown.mjs": "learn/unknown_page", "questions.mjs": "learn/questions_page"}
"""Joined scripts of the site that go along, by the module that wakes the page."""
FETCHED: Mapping[str, tuple[str, ...]] = {"questions.mjs": ("trade/index", "bench/units", "say")}
"""Modules that a script fetches by an address it makes itself."""
_SITE = "https://site.invalid/"
_ANCHOR = re.compile(r"<a\b([^>]*)>(.*?)</a>", re.DOTALL)
_HREF = re.compile(r'\bhref="([^"]*)"')
_CLASS = re.compile(r'\bclass="[^"]*"')
_SCRIPT = re.compile(r'<script type="module" src="[^"]*js/([\w.]+)"(?: data-words="[^"]*")?></script>')
_IMPORTED = re.compile(r'(?:from |import |import\()"(\.{1,2}/[^"]+\.mjs)"')
_CRUMBS = re.compile(r'<nav class="crumbs".*?</nav>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Package:
    """The pages and files of one list; `shown` are its items, `files` what lies in the package, by path."""

    listing: ReadingList
    title: str
    shown: tuple[Shown, ...]
    files: Mapping[str, bytes]

    @property
    def scored(self) -> tuple[bool, ...]:
        """Which items give points."""
        return tuple(s.item.kind in SCORED for s in self.shown)


def packed(listing: ReadingList, book: Book, templates: Templates) -> Package:
    """Everything of a list but the manifest and the player's page."""
    found = lists.exercises(book, [listing])
    shown = tuple(lists.shown(listing, book, found))
    pages, beside = _pages(shown, book, templates)
    exercises = {s.url.partition("?")[0] for s in shown if "?" in s.url}
    inside = {page.url for page in pages}
    reached = inside - exercises | {s.url for s in shown}
    files: dict[str, bytes] = {f.path: f.content for f in beside}
    for page in pages:
        scripts = [name for name in _SCRIPT.findall(str(page.head)) if name in SCRIPTS]
        if 'data-bench="' in page.body:
            scripts.append("bench.mjs")
        files[f"{page.url}index.html"] = _whole(page, scripts, reached, templates).encode()
        for name in scripts:
            files |= script(name)
    css = styles(STYLES)
    files["css/leaklore.css"] = css.encode()
    for name in ("marks.svg", "mark.svg"):
        files[f"img/{name}"] = (theme() / "img" / name).read_bytes()
    files |= module("package/links")
    for picture in (p for (number, _), p in book.pictures.items() if address("case", number) in inside):
        files |= {path: file.read_bytes() for path, file in picture.files()}
    title = Prose.plain(listing.title)
    files["contents.json"] = contents(listing, title, shown, sorted(reached), book)
    return Package(listing, title, shown, dict(sorted(files.items())))


def contents(
    listing: ReadingList, title: str, shown: Sequence[Shown], pages: Sequence[str], book: Book
) -> bytes:
    """What the player shows. `mark` tells whether what a system kept for a learner is of the same items."""
    keys = ",".join(s.item.name for s in shown)
    told = {
        "version": VERSION,
        "list": listing.key,
        "title": title,
        "company": book.library.company.name,
        "edition": book.today.isoformat(),
        "mastery": MASTERY,
        "pages": [inside_url(url) for url in pages],
        "mark": hashlib.sha256(keys.encode()).hexdigest()[:8],
        "items": [
            {
                "key": s.item.name,
                "title": s.title,
                "what": s.what,
                "url": inside_url(s.url),
                "minutes": s.minutes,
                "scored": s.item.kind in SCORED,
            }
            for s in shown
        ],
    }
    return json.dumps(told, ensure_ascii=False, indent=1).encode()


def inside_url(url: str) -> str:
    """The file of a page in the package, with what is asked of it: systems that hold packages know no folders' index."""
    path, mark, asked = url.partition("?")
    return f"{path}index.html{mark}{asked}"


def script(name: str) -> dict[str, bytes]:
    """A script of the site under its own name, made of its parts as they are."""
    if name == "bench.mjs":
        return module("package/bench")
    wakes = SCRIPTS[name]
    found = {f"js/{_plain(name)}": f'import "./{_plain(wakes + ".mjs")}";\n'.encode()}
    for part in (wakes, *FETCHED.get(name, ())):
        found |= module(part)
    return found


def module(name: str) -> dict[str, bytes]:
    """A module of js/ and all that it imports, by path in the package, each under a name in `.js`.

    Learning management systems know that ending; one that does not know `.mjs` sends a type that browsers refuse.
    """
    folder = theme() / "js"
    found: dict[str, bytes] = {}
    waiting = [f"{name}.mjs"]
    while waiting:
        path = waiting.pop()
        if f"js/{_plain(path)}" in found:
            continue
        content = (folder / path).read_text("utf-8")
        found[f"js/{_plain(path)}"] = _plain(content).encode()
        code = "\n".join(row for row in content.splitlines() if not row.lstrip().startswith(("//", "*")))
        for near in _IMPORTED.findall(code):
            waiting.append(urljoin(_SITE + path, near).removeprefix(_SITE))
    return found


def _plain(text: str) -> str:
    return text.replace(".mjs", ".js")


def _pages(shown: Sequence[Shown], book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """The pages of the items, those that an exercise leads to when it is solved, and the data that they fetch."""
    lib = book.library
    kinds = {s.item.kind for s in shown}
    pages: dict[str, Page] = {}
    files: list[DataFile] = []
    keys = [(s.item.kind, s.item.key) for s in shown]
    for _, number in [k for k in keys if k[0] == "unknown"]:
        keys += [("case", number), ("mode", lib.by_id[number].cause.mode)]
    made = {"mode": guide.mode, "technique": guide.technique, "symptom": guide.symptom}
    made |= {"component": guide.component, "refrigerant": guide.refrigerant}
    for kind, key in keys:
        if kind == "case":
            page = case.page(lib.by_id[key], book, templates)
        elif kind in made:
            page = made[kind](lib.guide.entries(kind)[key], book, templates)
        else:
            continue
        pages[page.url] = page
    if "bench" in kinds:
        urls = {s.url for s in shown}
        pages |= {p.url: p for p in bench.pages(book, templates) if p.url in urls}
        files += bench.files(book)
    if kinds & {"bench", "questions"}:
        files.append(DataFile("data/trade.json", as_json(trade_json(lib.guide), book)))
    for kind, part in (("unknown", unknown), ("questions", questions)):
        if kind not in kinds:
            continue
        numbers = tuple(key for k, key in keys if k == kind)
        some, beside = part.made(book, templates)
        urls = {s.url.partition("?")[0] for s in shown if s.item.kind == kind}
        pages |= {p.url: p for p in some if p.url in urls}
        files += [
            f for f in beside if kind == "questions" or f.path.endswith(tuple(f"/{n}.json" for n in numbers))
        ]
    return list(pages.values()), files


def _whole(page: Page, scripts: Sequence[str], reached: set[str], templates: Templates) -> str:
    """A page with our frame round it, its links kept inside the package."""
    body = _CRUMBS.sub("", str(page.body))
    body = _ANCHOR.sub(lambda m: _link(m, page.url, reached), body)
    names = ["package/links.mjs", *("package/bench.mjs" if s == "bench.mjs" else s for s in scripts)]
    paths = [f"js/{_plain(name)}" for name in names]
    return str(
        templates.render("package_page.html", page.url, page=replace(page, body=Markup(body)), scripts=paths)
    )


def _link(found: re.Match[str], url: str, reached: set[str]) -> str:
    attributes, words = found.groups()
    href = _HREF.search(attributes)
    to = unescape(href[1]) if href else ""
    if not href or to.startswith("#"):
        return found[0]
    full, part = urldefrag(urljoin(_SITE + url, to))
    if full.startswith(_SITE):
        to = full.removeprefix(_SITE)
        if to in reached:
            way = root_from(url) + inside_url(to) + (f"#{part}" if part else "")
            return "<a" + attributes.replace(href[0], f'href="{escape(way)}"') + f">{words}</a>"
    kept = _CLASS.search(attributes)
    return f"<span{' ' + kept[0] if kept else ''}>{words}</span>"
