"""Makes units of the site, fills the shell for their pages and writes them: in this process, its children or a cluster."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from leaklore import language
from leaklore.errors import LeakloreError
from leaklore.pages import links, site
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.site import Unit
from leaklore.pages.spec import DataFile, Listed, Made, Page
from leaklore.records.compact import Compact
from leaklore.search.make import make as search
from leaklore.website.shell import Shell

SEARCH: Unit = ("search", "")
"""The files of the search: pages knows nothing of them."""
PIECE = 120.0
"""Milliseconds of work that are handed out at once: enough that handing out costs little beside it."""


@dataclass(frozen=True, slots=True)
class Written(Compact):
    """A file of the site. `content` only where the one who made it could not write it."""

    path: str
    size: int
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class Printed(Compact):
    """One unit, made and written."""

    unit: Unit
    pages: tuple[Listed, ...]
    files: tuple[Written, ...]
    slots: dict[str, dict[str, str]]
    """What fills the shell, by file, of pages that a phone keeps."""

    def settled(self, target: Path) -> Printed:
        """Writes what came with its content."""
        return replace(self, files=tuple(settle(f, target) for f in self.files))


@dataclass(frozen=True)
class Press:
    """What is needed to make any unit. `target` None: the contents come back with the answer."""

    book: Book
    overrides: Path | None
    shell: Shell
    banner: str
    kept: Callable[[str], bool]
    target: Path | None
    found: tuple[Listed, ...] | None = None
    """Pages that the search finds beside cases and guide, where they are known already."""

    @cached_property
    def templates(self) -> Templates:
        """Once a process."""
        return Templates(self.book, self.overrides)

    @property
    def far(self) -> Press:
        """The same for workers that share no disk with us."""
        return replace(self, target=None)

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "templates"}

    def unit(self, unit: Unit) -> Printed:
        """Makes one unit and puts it where it belongs."""
        language.use(self.book.language)
        if unit == SEARCH:
            return self.put(unit, Made((), searched(self.book, self.templates, self.found)))
        return self.put(unit, site.make(self.book, self.templates, unit))

    def put(self, unit: Unit, made: Made) -> Printed:
        """Fills the shell and writes."""
        name = self.book.library.company.name
        listed: list[Listed] = []
        written: list[Written] = []
        slots: dict[str, dict[str, str]] = {}
        for page in made.pages:
            values = self.shell.values(page, name, banner=self.banner, extra_head=moved(page, self.book))
            path = f"{page.url}index.html"
            if self.kept(path) and not page.light:  # a phone fills the whole shell only
                slots[path] = values
            listed.append(page.listing)
            written.append(self._write(DataFile(path, self.shell.filled(values, page.light).encode())))
        written += [self._write(file) for file in made.files]
        return Printed(unit, tuple(listed), tuple(written), slots)

    def _write(self, file: DataFile) -> Written:
        told = Written(file.path, len(file.content), file.content)
        return told if self.target is None else settle(told, self.target)


def searched(book: Book, templates: Templates, pages: Sequence[Listed] | None = None) -> Iterator[DataFile]:
    """Files of the search: beside cases and guide it finds work bench, reading lists and exercises."""
    if pages is None:
        pages = [page.listing for page in site.found_by_search(book, templates)]
    found = [(p.section, p.title, p.description, p.url) for p in pages]
    for path, content in search(book.library, links.address, found, book.adviser).files():
        yield DataFile(path, content)


def settle(file: Written, target: Path) -> Written:
    """Writes a file that came with its content."""
    assert file.content is not None
    place = target / file.path
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        place.write_bytes(file.content)
    except OSError as fault:  # a failed write alone does not tell the name
        raise OSError(fault.errno, fault.strerror, str(place)) from None
    return replace(file, content=None)


def moved(page: Page, book: Book) -> str:
    """An old address leads on without script."""
    if page.listed:
        return ""
    old = page.url.rstrip("/").rsplit("/", 1)[-1]
    case = book.library.former.get(old)
    if case is None:
        return ""
    return f'<meta http-equiv="refresh" content="0; url=../{case.id}/"><link rel="canonical" href="../{case.id}/">'


def run(press: Press, piece: Sequence[Unit]) -> list[Printed]:
    """One piece of the work: a task for `Workers.map`. A template's mistake is told by its place, which would not come
    along from another process."""
    try:
        return [press.unit(unit) for unit in piece]
    except Exception as fault:
        if told := template_fault(fault):
            raise LeakloreError(told) from None
        raise


def template_fault(fault: Exception) -> str:
    """`path:line: what is wrong` of a template's mistake, as far as the place is known; empty for another fault."""
    if type(fault).__module__ != "jinja2.exceptions":  # only pages may import it
        return ""
    frames = [f for f in traceback.extract_tb(fault.__traceback__) if f.filename.endswith(".html")]
    return f"{frames[-1].filename}:{frames[-1].lineno}: {fault}" if frames else str(fault)


def pieces(units: Sequence[Unit]) -> list[list[Unit]]:
    """Units in pieces of about equal work, the heavy ones first. What the search finds is made in one piece with the
    search, for both read the same exercises."""
    together = [unit for unit in units if unit == SEARCH or unit[0] in site.FOUND]
    others = [unit for unit in units if unit != SEARCH and unit[0] not in site.FOUND]
    return [*([together] if together else []), *_pieces(others)]


def _pieces(units: Sequence[Unit]) -> Iterator[list[Unit]]:
    piece: list[Unit] = []
    weight = 0.0
    for unit in units:
        more = site.ROOMS[unit[0]].weight
        if piece and weight + more > PIECE:
            yield piece
            piece, weight = [], 0.0
        piece.append(unit)
        weight += more
    if piece:
        yield piece
