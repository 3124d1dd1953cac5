"""Writes the pages and files of an edition into a folder: what is new is made, what is as it was is taken over."""

from __future__ import annotations

import re
import shutil
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path

from leaklore.pages import site as whole
from leaklore.pages.book import Book
from leaklore.pages.recall import Recall
from leaklore.pages.site import Unit
from leaklore.pages.spec import Listed
from leaklore.website import offline, press
from leaklore.website.memory import Memory
from leaklore.website.press import Press, Printed
from leaklore.website.scripts import join
from leaklore.website.shell import Shell
from leaklore.workers import Apart, Here, Processes, Workers, beside, trim

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
    "sketch",
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


OFTEN = ("case.html", "system.html", "customer.html", "words.html", "facts.html", "cautions_short.html")
"""Templates of most pages: compiled before processes are forked, so that not each of them has to."""
MANY = 25_000
"""Cases from which on memory counts more than an even share of work."""
LIVES = 16
"""Pieces after which processes are forked anew, of so many cases."""


@dataclass(frozen=True)
class Order:
    """What a site is made of, but for the library.

    `overrides`: the company's own theme; `notes`: addresses of its own pages, which are there already. `keep`: phones may
    keep this site; under `serve`, where pages change all the time, they don't. `packs`: folder for what they keep.
    `texts`: what the search has read of the cases. `compiled`: templates.
    """

    shell: Shell
    overrides: Path
    banner: str = ""
    notes: Sequence[str] = ()
    keep: bool = True
    packs: Path | None = None
    texts: Recall = field(default_factory=Recall)
    compiled: Recall = field(default_factory=Recall)


@dataclass(frozen=True, slots=True)
class Counts:
    """Pages of the site, and how many of them were taken over from the one before."""

    pages: int
    taken_over: int


def site(
    book: Book, order: Order, target: Path, workers: Workers | None = None, memory: Memory | None = None
) -> Counts:
    """Writes everything into `target`.

    With `memory` of the build before, what would come out the same is taken from there.
    """
    workers = workers or Here()
    kept = offline.keeps(book.library) if order.keep else _nothing
    near = replace(press_of(book, order), kept=kept, target=target)
    printed: dict[Unit, Printed] = {}

    def to_make(units: Iterable[Unit]) -> list[Unit]:
        """Those that would come out differently; the others are `printed`."""
        todo = []
        for unit in units:
            before = memory.before(unit) if memory else None
            if before is None:
                todo.append(unit)
            else:
                printed[unit] = before
        return todo

    many = len(book.library.cases) > MANY
    if many and isinstance(workers, Processes):
        workers = Processes(workers.count, LIVES)
    of_all = whole.units(book) if many else whole.units(book, whole.OF_ALL)
    early = {unit: None for unit in (*of_all, press.SEARCH) if press.of_all(unit, many)}
    anew = memory is None or memory.anew
    if anew:
        book.begin()
        if many:  # whoever reads meanwhile would have a copy of all that is read
            book.likeness.ready()
    first = to_make(early)
    near = replace(near, found={unit: one.pages for unit, one in printed.items()})
    begun, late = _begun(first, workers, many)
    if any(unit == press.SEARCH for piece in begun for unit in piece):
        _ = book.adviser  # else whoever is forked would fit its own
    with beside(workers, press.run, near, begun) as long:
        if anew:  # else little is made, and each process computes what it needs
            book.ready()
        alone: list[Printed] = []
        if many and workers.shares_disk:
            alone = list(_alone(near, late, workers, long))
            late = []
        order_of = {unit: i for i, unit in enumerate((*whole.units(book), press.SEARCH))}
        others = [*late, *to_make(unit for unit in order_of if unit not in early)]
        book.collect()
        taken_over = sum(len(one.pages) for one in printed.values())
        if memory:
            memory.take_over(printed.values(), target)
        if len(others) > len(printed):
            book.ready().likeness.ready()
            near.templates.compile(OFTEN)
        _static(book, target)
        apart = chain.from_iterable(long)
        no_pages = begun == [[press.SEARCH]]  # is waited for after the sitemap
        printed.update((one.unit, one) for one in alone)
        for one in chain(_made(near, others, workers), () if no_pages else apart):
            if memory and not memory.noted:
                memory.note(order_of)  # while others work
            printed[one.unit] = one
        maps = _maps(near, printed, order_of, order.notes)
        printed.update((one.unit, one) for one in apart)
    for end in (maps, _last(near, {**printed, maps.unit: maps})):
        printed[end.unit] = end
    if memory:
        memory.settle(printed, target)
    if order.keep:
        _for_phones(near, printed.values(), order.packs, workers)
    return Counts(sum(len(one.pages) for one in printed.values()), taken_over)


def _static(book: Book, target: Path) -> None:
    """What follows from no unit."""
    _photos(book, target)
    stylesheet(target)
    join(target / "js")


def _for_phones(near: Press, made: Collection[Printed], packs: Path | None, workers: Workers) -> None:
    """What phones keep, once all else lies there."""
    assert near.target is not None
    slots = {path: values for one in made for path, values in one.slots.items()}
    known = {f.path: (f.size, f.digest) for one in made for f in one.files if f.digest}
    book = near.book
    offline.write(
        near.target,
        near.shell,
        near.banner,
        slots,
        book.today,
        len(book.library.active),
        near.kept,
        packs,
        workers if workers.shares_disk else None,  # to send packs away is dearer than to make them
        known,
    )


def _alone(
    near: Press, units: Sequence[Unit], workers: Workers, long: Iterator[list[Printed]]
) -> Iterator[Printed]:
    """Of a large library: what is made of the whole of it, in this process, before others are forked from it, which
    would each have a copy of what is read meanwhile. Only the `long` row is made beside it. The search reads texts alone
    and takes much on the way: it is made apart."""
    _ = near.book.adviser  # else whoever is forked would fit its own
    found = press.run(near, [unit for unit in units if unit[0] in whole.FOUND])
    yield from found
    for made in long:
        yield from made
    if press.SEARCH in units:
        trim()
        for _ in workers.map(press.read, near, range(len(near.cuts))):
            pass
        trim()
        yield Apart(press.search_apart, (near, found)).answer()
    for piece in press.pieces(
        [unit for unit in units if unit[0] not in whole.FOUND and unit != press.SEARCH]
    ):
        trim()
        yield from press.run(near, piece)
    trim()


def _begun(units: Sequence[Unit], workers: Workers, many: bool) -> tuple[list[list[Unit]], list[Unit]]:
    """Of what is made of the whole library: what a process of its own makes meanwhile, in one piece, and what is left.

    It is the section Patterns, which takes longest and reads nothing that others read, too; else the search, unless that
    would copy what is read of so `many` cases.
    """
    if not workers.shares_disk:  # a cluster's workers are all taken by one map
        return [], list(units)
    pieces = press.pieces(units)
    begun = [piece for piece in pieces if piece[0][0] == "patterns"] or ([] if many else pieces[:1])
    return begun, [unit for piece in pieces if piece not in begun for unit in piece]


def press_of(book: Book, order: Order) -> Press:
    """Makes units of this book, keeps none for phones and writes none."""
    return Press(
        book,
        order.overrides,
        order.shell,
        order.banner,
        _nothing,
        None,
        texts=order.texts,
        compiled=order.compiled,
    )


def _nothing(path: str) -> bool:
    return False


def _made(near: Press, todo: Sequence[Unit], workers: Workers) -> Iterator[Printed]:
    """The units made and written, in any order."""
    if workers.shares_disk:
        for done in workers.map(press.run, near, press.pieces(todo)):
            yield from done
        return
    assert near.target is not None
    for done in workers.map(press.run, near.far, press.pieces(todo)):
        for one in done:
            yield one.settled(near.target)


def _maps(
    near: Press, printed: Mapping[Unit, Printed], order: Mapping[Unit, int], notes: Sequence[str]
) -> Printed:
    """The sitemap, whoever was first."""
    listed = [page for unit in sorted(printed, key=order.__getitem__) for page in printed[unit].pages]
    listed += [Listed(url, "", "", "house") for url in notes]
    return near.put(("maps", ""), whole.maps(near.book, listed))


def _last(near: Press, printed: Mapping[Unit, Printed]) -> Printed:
    """Pages that need to know all other files."""
    assert near.target is not None
    sizes = {f.path: f.size for one in printed.values() for f in one.files}
    end = near.put(("last", ""), whole.last(near.book, near.templates, sizes))
    missing = near.shell.fill(
        whole.missing(near.templates),
        near.book.library.company.name,
        root=near.book.library.company.site_url or "/",
        banner=near.banner,
    )
    (near.target / "404.html").write_text(missing, "utf-8")
    return end


def _photos(book: Book, target: Path) -> None:
    for picture in book.pictures.values():
        for path, file in picture.files():
            place = target / path
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(file, place)


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
