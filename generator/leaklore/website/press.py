"""Makes units of the site, fills the shell for their pages and writes them: in this process, its children or a cluster."""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, BinaryIO

from leaklore import language
from leaklore.errors import LeakloreError
from leaklore.pages import links, site
from leaklore.pages.book import Book
from leaklore.pages.needs import digest
from leaklore.pages.recall import Recall
from leaklore.pages.render import Templates
from leaklore.pages.site import Unit
from leaklore.pages.spec import DataFile, Listed, Made, Page
from leaklore.records.compact import Compact
from leaklore.records.model import Case
from leaklore.search.make import cuts
from leaklore.search.make import make as search
from leaklore.search.pieces import Piece
from leaklore.search.pieces import read as read_texts
from leaklore.website import offline
from leaklore.website.shell import Shell

SEARCH: Unit = ("search", "")
"""The files of the search: pages knows nothing of them."""
PIECE = 120.0
"""Milliseconds of work that are handed out at once: enough that handing out costs little beside it."""


@dataclass(frozen=True, slots=True)
class Written(Compact):
    """A file of the site. `digest` only where a phone keeps it; `content` where the one who made it could not write it."""

    path: str
    size: int
    digest: str = ""
    content: bytes | None = None


@dataclass(frozen=True, slots=True)
class Printed(Compact):
    """One unit, made and written."""

    unit: Unit
    pages: tuple[Listed, ...]
    """With title and description only where the search finds them."""
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
    found: Mapping[Unit, tuple[Listed, ...]] = field(default_factory=dict)
    """Of units that are made already, the pages that the search finds beside cases and guide."""
    texts: Recall = field(default_factory=Recall)
    """What the search has read of the cases."""
    compiled: Recall = field(default_factory=Recall)
    """Templates."""

    @cached_property
    def templates(self) -> Templates:
        """Once a process."""
        return Templates(self.book, self.overrides, self.compiled)

    @cached_property
    def cuts(self) -> list[tuple[str, Sequence[Case]]]:
        """Cases whose texts the search reads together, and the name by which they are kept."""
        return [(digest(case.digest for case in cases), cases) for cases in cuts(self.book.library)]

    def text(self, number: int) -> Piece:
        """What the search reads of such cases; whoever finds it kept looks at none of them."""
        name, cases = self.cuts[number]
        return self.texts(name, lambda: read_texts(self.book.library, cases))

    @property
    def far(self) -> Press:
        """The same for workers that share no disk with us."""
        return replace(self, target=None)

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k not in ("templates", "cuts")}

    def unit(self, unit: Unit) -> Printed:
        """Makes one unit, but for the search, and puts it where it belongs."""
        language.use(self.book.language)
        return self.put(unit, site.make(self.book, self.templates, unit))

    def search(self, made: Sequence[Printed]) -> Printed:
        """Makes the search. `made` are the units that it finds and that were made just now."""
        language.use(self.book.language)
        listed = site.found_by_search({**self.found, **{one.unit: one.pages for one in made}})
        texts = (self.text(number) for number in range(len(self.cuts)))
        printed = self.put(SEARCH, Made((), searched(self.book, listed, texts)))
        self.texts.tidy()
        return printed

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
            listed.append(page.listing if unit[0] in site.FOUND else page.listing.address)
            written.append(self._write(DataFile(path, self.shell.filled(values, page.light).encode())))
        written += [self._write(file) for file in made.files]
        return Printed(unit, tuple(listed), tuple(written), slots)

    def _write(self, file: DataFile) -> Written:
        known = offline.digest(file.content) if self.kept(file.path) else ""
        told = Written(file.path, len(file.content), known, file.content)
        return told if self.target is None else settle(told, self.target)


def searched(book: Book, pages: Sequence[Listed], texts: Iterable[Piece] | None = None) -> Iterator[DataFile]:
    """Files of the search: beside cases and guide it finds `pages`. `texts` of the cases, where they were read before."""
    found = [(p.section, p.title, p.description, p.url) for p in pages]
    for path, content in search(book.library, links.address, found, book.adviser, texts).files():
        yield DataFile(path, content)


def read(press: Press, number: int) -> None:
    """Reads some texts for the search and keeps them: a task for `Workers.map`."""
    press.text(number)


def search_apart(given: tuple[Press, Sequence[Printed]]) -> Printed:
    """`Press.search`, a task for `Apart`."""
    press, made = given
    return press.search(made)


def make_folder(folder: str) -> None:
    """Makes a folder where there is none; most are made in one that is there, which `os.makedirs` would look at first."""
    try:
        os.mkdir(folder)
    except FileExistsError:
        pass
    except FileNotFoundError:
        os.makedirs(folder, exist_ok=True)


def _new(place: str) -> BinaryIO:
    """A new file; what is there may be a link to a file of the site that is read just now, and is left as it is."""
    try:
        return open(place, "xb")
    except FileExistsError:
        os.unlink(place)
        return open(place, "xb")


def settle(file: Written, target: Path) -> Written:
    """Writes a file that came with its content."""
    assert file.content is not None
    place = f"{target}/{file.path}"  # paths of pathlib would take as long as the write
    try:
        make_folder(place.rpartition("/")[0])
        with _new(place) as stream:
            stream.write(file.content)
    except OSError as fault:  # a failed write alone does not tell the name
        raise OSError(fault.errno, fault.strerror, place) from None
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
    made: list[Printed] = []
    try:
        for unit in piece:
            made.append(press.search(made) if unit == SEARCH else press.unit(unit))
        return made
    except Exception as fault:
        if told := template_fault(fault):
            raise LeakloreError(told) from None
        raise


def template_fault(fault: Exception) -> str:
    """`path:line: what is wrong` of a template's mistake, as far as the place is known; empty for another fault."""
    calls = traceback.extract_tb(fault.__traceback__)
    frames = [f for f in calls if f.filename.endswith(".html")]
    kind = type(fault)
    what = ""
    if kind.__module__ == "jinja2.exceptions":  # only pages may import it
        lost = getattr(fault, "name", None) if kind.__name__ == "TemplateNotFound" else None
        what = f'there is no template "{lost}"' if lost else str(fault)
    elif isinstance(fault, UnicodeDecodeError) and (name := _being_read(fault)):
        return f"{name}: is not UTF-8 text; save the file with the encoding UTF-8"
    elif isinstance(fault, RecursionError) and frames:
        what = "includes itself without end"
    elif calls[-1] in frames:  # nothing of ours was called
        what = f"{kind.__name__}: {fault}"
    return f"{frames[-1].filename}:{frames[-1].lineno}: {what}" if frames and what else what


def _being_read(fault: Exception) -> str:
    """The template that Jinja was reading; "" where it read none."""
    for frame, _ in traceback.walk_tb(fault.__traceback__):
        if frame.f_globals.get("__name__") == "jinja2.loaders" and "template" in frame.f_locals:
            return str(frame.f_locals["template"])
    return ""


def of_all(unit: Unit, many: bool) -> bool:
    """Is it made of the whole library, and begun first? Of `many` cases also what is quickly made: each process that
    looks at all of them has a copy of them all."""
    return unit == SEARCH or unit[0] in site.OF_ALL or (many and site.walks(unit))


def pieces(units: Sequence[Unit]) -> list[list[Unit]]:
    """Units in pieces of about equal work, the heavy ones first. What the search finds is made in one piece with the
    search, and before it."""
    found = [unit for unit in units if unit[0] in site.FOUND]
    together = [*found, *(unit for unit in units if unit == SEARCH)]
    others = [unit for unit in units if unit not in together]
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
