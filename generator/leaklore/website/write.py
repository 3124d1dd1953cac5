"""Writes the pages and files of an edition into a folder."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

from markupsafe import Markup

from leaklore.pages import feed, links
from leaklore.pages.book import Book
from leaklore.pages.site import edition
from leaklore.pages.spec import Page
from leaklore.search.make import make
from leaklore.website import offline
from leaklore.website.scripts import join
from leaklore.website.shell import Shell

CSS = (
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
    "forms",
    "bench",
    "search",
    "record",
    "keep",
    "patterns",
    "explore",
    "learn",
    "unknown",
    "questions",
    "customer",
    "print",
    "key",
)


def site(
    book: Book,
    shell: Shell,
    target: Path,
    overrides: Path,
    banner: str,
    notes: Sequence[str] = (),
    keep: bool = True,
) -> int:
    """Fills the shell for every page; returns the number of pages. `notes`: pages that are there already.

    `keep`: phones may keep this site; under `serve`, where pages change all the time, they don't.
    """
    made = edition(book, overrides)
    name = book.library.company.name
    filled: dict[str, dict[str, str]] = {}
    for page in made.pages:
        values = shell.values(page, name, banner=banner, extra_head=_extra(page, book))
        filled[f"{page.url}index.html"] = values
        folder = target / page.url
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "index.html").write_text(shell.filled(values), "utf-8")
    root = book.library.company.site_url or "/"
    (target / "404.html").write_text(shell.fill(made.missing, name, root=root, banner=banner), "utf-8")
    there = [Page(url, "", "", Markup(), "house") for url in notes]
    sitemap = feed.sitemap([*made.pages, *there], book.library.company.site_url or "")
    for path, content in (
        *((f.path, f.content) for f in (*made.files, sitemap)),
        *searched(book, made.pages),
    ):
        place = target / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)
    for picture in book.pictures.values():
        for path, file in picture.files():
            place = target / path
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(file, place)
    stylesheet(target)
    join(target / "js")
    if keep:
        offline.write(target, shell, banner, filled, book.today, len(book.library.active))
    return len(made.pages)


def searched(book: Book, pages: Sequence[Page]) -> Iterator[tuple[str, bytes]]:
    """Files of the search; beside cases and guide it finds the work bench and the reading lists."""
    found = [(p.section, p.title, p.description, p.url) for p in pages if p.section in ("bench", "reading")]
    yield from make(book.library, links.address, found, book.adviser).files()


def _extra(page: Page, book: Book) -> str:
    """An old address leads on without script."""
    if page.listed:
        return ""
    old = page.url.rstrip("/").rsplit("/", 1)[-1]
    case = book.library.former.get(old)
    if case is None:
        return ""
    return f'<meta http-equiv="refresh" content="0; url=../{case.id}/"><link rel="canonical" href="../{case.id}/">'


def stylesheet(target: Path) -> None:
    """One stylesheet from the parts, in their order; parts of a company's own come last."""
    folder = target / "css"
    parts = [folder / f"{name}.css" for name in CSS]
    parts += sorted(p for p in folder.glob("*.css") if p not in parts and p.name != "leaklore.css")
    text = "\n".join(p.read_text("utf-8").rstrip() for p in parts if p.exists())
    for part in parts:
        part.unlink(missing_ok=True)
    (folder / "leaklore.css").write_text(_plain(text) + "\n", "utf-8")


_REMARK = r"/\*.*?\*/"
_LEFT_OUT = re.compile(
    rf"""(?<![^\s;{{}}]){_REMARK}(?!\S)|({_REMARK}|"(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*')""", re.DOTALL
)
"""Comments that stand alone; strings, and comments that part two words, are kept."""


def _plain(text: str) -> str:
    """Without comments, indentation and empty lines, which a phone would pay for."""
    bare = _LEFT_OUT.sub(lambda m: m[1] or "", text)
    return "\n".join(line for line in map(str.strip, bare.splitlines()) if line)
