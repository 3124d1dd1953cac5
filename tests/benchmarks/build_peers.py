"""Peers of the build: mkdocs-material and Hugo with the text of our own pages, bare PyYAML with our records.

Each page of ours becomes a plain Markdown page: the text of its <main>, every piece once, as headings, paragraphs and
list items; a row of a table is one line, which costs a peer less than a table would. No pictures, no links.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import yaml
from build_runs import Run, run
from lxml import html

UNSEEN = {"script", "style", "svg", "template"}
MARKS = {"h1": "# ", "h2": "## ", "h3": "### ", "h4": "#### ", "li": "- ", "tr": "- ", "dd": ": "}
BLOCKS = {
    *MARKS, "address", "article", "aside", "blockquote", "button", "caption", "details", "div", "dl", "dt", "fieldset",
    "figcaption", "figure", "footer", "form", "header", "h5", "h6", "hr", "label", "legend", "main", "nav", "ol", "option", "p",
    "pre", "section", "summary", "table", "tbody", "tfoot", "thead", "ul",
}  # fmt: skip
CELL = "\x1f"
"""Stands between the cells of a row until the row is joined; no text of ours has it."""

HUGO_PAGE = (
    "<!doctype html><html lang=en><head><meta charset=utf-8><title>{{ .Title }}</title>"
    "<link rel=stylesheet href=/x.css></head><body><header><a href=/>Cases</a></header>"
    "<main>{{ .Content }}</main></body></html>\n"
)
BARE_YAML = """
import sys
from multiprocessing import Pool
from pathlib import Path
import yaml

def read(file):
    with open(file, encoding="utf-8") as text:
        yaml.load(text, Loader=yaml.CSafeLoader)

if __name__ == "__main__":
    files = sorted(Path(sys.argv[1]).rglob("*.yaml"))
    with Pool(2) as pool:
        for _ in pool.imap_unordered(read, files, chunksize=50):
            pass
"""


# ---------------------------------------------------------------------------------------------- pages as Markdown


def markdown(main: Any) -> str:
    """The text of an element as plain Markdown, every piece once."""
    pieces: list[tuple[str, list[str]]] = [("", [])]
    _walk(main, pieces)
    lines = []
    for mark, texts in pieces:
        cells = [" ".join(cell.split()) for cell in "".join(texts).split(CELL)]
        text = "; ".join(cell for cell in cells if cell)
        if text:
            lines.append(mark + _plain(text))
    return "\n\n".join(lines) + "\n"


def _walk(element: Any, pieces: list[tuple[str, list[str]]]) -> None:
    if not isinstance(element.tag, str) or element.tag in UNSEEN:
        return
    block = element.tag in BLOCKS
    if block:
        pieces.append((MARKS.get(element.tag, ""), []))
    elif element.tag in ("td", "th", "br"):
        pieces[-1][1].append(CELL)
    pieces[-1][1].append(element.text or "")
    for child in element:
        _walk(child, pieces)
        pieces[-1][1].append(child.tail or "")
    if block:
        pieces.append(("", []))


def _plain(text: str) -> str:
    """Signs that Markdown, HTML or Hugo would take for theirs."""
    return re.sub(r"([\[\]*_`])", r"\\\1", text.replace("&", "&amp;").replace("<", "&lt;")).replace(
        "{{", "{ {"
    )


def names(pages: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """(page, Markdown file of mkdocs, of Hugo) of each page of a site.

    In Hugo an index.md owns all that lies below its folder; so a folder with pages below has _index.md, another is a file.
    """
    above = {parent.as_posix() for page in pages for parent in Path(page).parent.parents}
    for page in pages:
        folder = Path(page).parent
        if Path(page).name != "index.html":
            other = folder / f"{Path(page).stem}-html.md"  # x.html beside x/index.html
            yield page, str(other), str(other)
        elif folder.as_posix() in above or folder == Path():
            yield page, str(folder / "index.md"), str(folder / "_index.md")
        else:
            yield page, str(folder / "index.md"), f"{folder}.md"


def write_pages(site: Path, mkdocs: Path, hugo: Path) -> int:
    """Every page of a built site as Markdown for both peers; returns how many."""
    pages = sorted(p.relative_to(site).as_posix() for p in site.rglob("*.html"))
    with Pool(2) as pool:
        done = pool.imap_unordered(partial(_write, site, mkdocs, hugo), list(names(pages)), chunksize=100)
        return sum(done)


def _write(site: Path, mkdocs: Path, hugo: Path, name: tuple[str, str, str]) -> bool:
    parser = html.HTMLParser(encoding="utf-8")
    main = html.parse(str(site / name[0]), parser).getroot().find(".//main")
    if main is None:
        return False
    text = markdown(main)
    for folder, file in ((mkdocs, name[1]), (hugo, name[2])):
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(text, "utf-8")
    return True


# ---------------------------------------------------------------------------------------------- peers


def prepare(site: Path, material: Path, hugo: Path) -> int:
    """Settings and pages of both peers; returns how many pages each has."""
    count = write_pages(site, material / "docs", hugo / "content")
    settings = {
        "site_name": "Cases", "theme": {"name": "material", "font": False}, "plugins": ["search"], "nav": ["index.md"],
    }  # fmt: skip
    (material / "mkdocs.yml").write_text(yaml.safe_dump(settings), "utf-8")
    (hugo / "hugo.toml").write_text(
        'baseURL = "/"\ntitle = "Cases"\ndisableKinds = ["taxonomy", "term", "RSS", "sitemap"]\n', "utf-8"
    )
    layouts = hugo / "layouts" / "_default"
    layouts.mkdir(parents=True)
    for name in ("single.html", "list.html"):
        (layouts / name).write_text(HUGO_PAGE, "utf-8")
    return count


def build_material(folder: Path) -> Run:
    """`mkdocs build`, into an empty folder."""
    return run("mkdocs", "build", "--quiet", "--config-file", folder / "mkdocs.yml", cwd=folder)


def build_hugo(folder: Path) -> Run:
    """`hugo`, into an empty folder."""
    return run("hugo", "--quiet", "--destination", folder / "site", cwd=folder)


def bare_yaml(library: Path) -> Run:
    """PyYAML's C loader reads every YAML file of a library in two processes and keeps nothing."""
    return run("python", "-c", BARE_YAML, library, cwd=library.parent)
