"""What each unit of the site depends on: the map by which a build after a small change leaves the rest as it was.

A unit's key is a digest of all that its pages and files are made of. Equal keys, equal bytes: so a key may name too much
and never too little. `tests/website/test_again.py` holds builds after many kinds of change against whole ones.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cached_property
from importlib.metadata import version
from pathlib import Path

from leaklore.pages import data_cases, display, register
from leaklore.pages.book import Book
from leaklore.pages.learn import customer
from leaklore.pages.render import FRAGMENTS, theme
from leaklore.pages.site import Unit
from leaklore.records import prose, schema
from leaklore.records.model import Case

PACKAGE = Path(__file__).parents[1]
LIBRARIES = (
    "babel",
    "jinja2",
    "markupsafe",
    "pillow",
    "pi-heif",
    "markdown-it-py",
    "numpy",
    "scipy",
    "altair",
    "vl-convert-python",
    "openpyxl",
)
"""Libraries that have a hand in the bytes."""


def digest(parts: Iterable[str]) -> str:
    """SHA-256 over texts, each with its length, so that no two lists run together to the same."""
    told = "".join([f"{len(part)} {part}" for part in parts])
    return hashlib.sha256(told.encode()).hexdigest()


def files(folders: Iterable[Path]) -> Iterator[str]:
    """Names and contents of all files below some folders."""
    for folder in folders:
        for path in sorted(p for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts):
            yield path.relative_to(folder).as_posix()
            yield hashlib.sha256(path.read_bytes()).hexdigest()


def program(overrides: Path | None) -> str:
    """Digest of all that makes pages but the library: code, guide, schemas, templates, versions of libraries."""
    folders = [PACKAGE, schema.folder(), theme()]
    if overrides is not None and overrides.resolve() != theme().resolve():
        folders.append(overrides / FRAGMENTS)
    return digest([sys.version, *(version(name) for name in LIBRARIES), *files(folders)])


Likes = Mapping[str, str]
Registered = tuple[str, Mapping[str, str], Mapping[str, str]]


class Needs:
    """Keys of the units of one book."""

    def __init__(
        self, book: Book, makes: str, look: str = "", known: tuple[str, Likes] | None = None
    ) -> None:
        """`makes`: digest of the program; `look`: of the shell around every page, to be set before the first key is asked
        for; `known`: facts and likes of the build before."""
        self.book = book
        self.look = look
        self.known = known
        root = book.library.root
        own = [p for p in (root / "company.yaml",) if p.exists()]
        house = files([root / "house"]) if (root / "house").is_dir() else ()
        self.common = digest(
            [
                makes,
                book.library.audience,
                book.today.isoformat(),
                *(p.read_text("utf-8") for p in own),
                *house,
            ]
        )

    @cached_property
    def base(self) -> str:
        """What every page has in common."""
        return digest([self.common, self.look])

    @cached_property
    def records(self) -> str:
        """All records."""
        return digest(f"{c.path} {c.digest} {self._changed(c)}" for c in self.book.library.cases)

    @cached_property
    def register(self) -> str:
        """All systems."""
        file = self.book.library.root / "systems.yaml"
        return file.read_text("utf-8") if file.exists() else ""

    @cached_property
    def facts(self) -> str:
        """All records but for their prose, the register and the reading lists, and the program: what most pages say, whatever
        they look like."""
        root = self.book.library.root
        reading = files([root / "reading"]) if (root / "reading").is_dir() else ()
        cases = (
            f"{c.id} {c.was} {c.facts} {c.system.id if c.system else ''}" for c in self.book.library.cases
        )
        return digest([self.common, self.register, *reading, *cases])

    @cached_property
    def everything(self) -> str:
        """The whole library."""
        pictures = (repr((key, self.book.pictures[key])) for key in sorted(self.book.pictures))
        return digest([self.facts, self.records, *pictures])

    def key(self, unit: Unit) -> str:
        """Digest of all that this unit depends on."""
        room, name = unit
        of = ROOMS.get(room)
        return digest([room, name, self.base, *(of(self, name) if of else (self.everything,))])

    def case(self, number: str) -> Iterator[str]:
        """What the page of a case shows: its record, its system, cases like it, cases that point to it."""
        book = self.book
        case = book.library.by_id[number]
        yield f"{case.digest} {self._changed(case)} {number in customer.with_sheet(book)}"
        yield from self._named(_prose(case))
        yield self._system(case)
        yield self._pictures.get(number, "")
        yield self.likes.get(number, "")
        for other in book.pointed_at.get(number, ()):
            yield self._entry(other)
        for related in case.related:
            found = book.library.by_id.get(related.case)
            yield self._entry(found) if found else related.case

    @cached_property
    def likes(self) -> Likes:
        """By case, what its page shows of cases like it: it follows from the facts, and is dear to find."""
        if self.known is not None and self.known[0] == self.facts:
            return self.known[1]
        return {
            number: digest(
                f"{self._entry(like.case)} {display.percent(like.score)} {like.why!r}" for like in found
            )
            for number, found in self.book.likeness.items()
        }

    @cached_property
    def _pictures(self) -> Mapping[str, str]:
        out: dict[str, str] = {}
        for key in sorted(self.book.pictures):
            out[key[0]] = f"{out.get(key[0], '')} {key!r} {self.book.pictures[key]!r}"
        return out

    def _entry(self, case: Case) -> str:
        """Another case as a page lists it: its facts, and the systems that its title names."""
        return " ".join((case.id, case.facts, *self._named((case.title,))))

    def _named(self, texts: Iterable[str | None]) -> Iterator[str]:
        """Systems and cases that a text refers to: names and numbers of today stand in the links."""
        library = self.book.library
        for text in texts:
            for reference in prose.references(text) if text and "[[" in text else ():
                target = reference.target
                case = library.case(target)
                yield case.id if case else self._systems.get(target, "")

    def _system(self, case: Case) -> str:
        return self._systems.get(case.system.id, "") if case.system else ""

    @cached_property
    def _registered(self) -> Registered:
        """Digests of every system and site, and of the register of which they were made."""
        library, told = self.book.library, digest([self.register])

        def of(kept: Registered | None) -> Registered:
            if kept is not None and kept[0] == told:
                return kept
            return (
                told,
                {number: digest([repr(system)]) for number, system in library.systems.items()},
                {key: digest([repr(site)]) for key, site in library.sites.items()},
            )

        return self.book.words.renewed("register", of, lambda kept, made: made is not kept)

    @property
    def _systems(self) -> Mapping[str, str]:
        return self._registered[1]

    @property
    def _places(self) -> Mapping[str, str]:
        return self._registered[2]

    def sheet(self, number: str) -> Iterator[str]:
        """What a customer's sheet shows: the record, and the system's own name and place."""
        case = self.book.library.by_id[number]
        yield f"{case.digest} {self._system(case)} {self._sites}"
        yield from self._named(_prose(case))

    def sheets(self, key: str) -> Iterator[str]:
        """Facts, and the advice that is judged for a sheet."""
        yield self.facts
        for number in customer.numbers(self.book):
            yield self.book.library.by_id[number].advice or ""

    @cached_property
    def _sites(self) -> str:
        """Names of sites, which are kept off the sheets."""
        return digest(self._places.values())

    def group(self, key: str) -> Iterator[str]:
        """Statistics; a page of the register, with its sites, systems and how often each leaked; pages of some systems, with
        their entries, their leaks, and where their sites are."""
        what, _, address = key.partition("/")
        lib = self.book.library
        if what == "systems":
            for system in register.runs(self.book)[address]:
                yield self._places[system.site.key]
                yield self._systems[system.id]
                for case in lib.by_system.get(system.id, ()):
                    yield f"{self._entry(case)} {case.digest}"
        elif what == "register" and address != register.FRONT:
            found = register.register(self.book)
            yield repr([(part.url, part.title) for part in found.parts])
            for part in found.parts:
                if part.url == address:
                    for site, systems in part.sites:
                        yield self._places[site.key]
                        for system in systems:
                            yield f"{self._systems[system.id]} {len(lib.by_system.get(system.id, ()))}"
        else:
            yield self.facts

    def data(self, key: str) -> Iterator[str]:
        """A piece: its cases. The others hold no prose."""
        cases = data_cases.pieces(self.book).get(key)
        if cases is not None:
            for case in cases:
                yield f"{case.path} {case.digest} {self._system(case)}"
        else:
            yield self.facts

    def reading(self, key: str) -> Iterator[str]:
        """Facts; and of the cases on the lists how many words they have."""
        yield self.facts
        by_id = self.book.library.by_id
        for found in self.book.library.reading:
            for item in found.items:
                if item.kind == "case":
                    yield by_id[item.key].digest

    def statistics(self, key: str) -> Iterator[str]:
        """Facts only."""
        yield self.facts

    def nothing(self, key: str) -> Iterator[str]:
        """The code alone."""
        yield from ()

    def _changed(self, case: Case) -> str:
        return self.book.changed_on(case.path, case.closed or case.reported).isoformat()


FACTS = (
    "guide",
    "lists",
    "patterns",
    "explore",
    "unknown",
    "questions",
    "evidence",
    "bench",
    "key",
    "places",
    "record",
    "keep",
)
"""Rooms that show no prose of a record."""


def _prose(case: Case) -> Iterator[str | None]:
    """Every text of a record in which a reference becomes a link."""
    yield from (case.title, case.story, case.lesson, case.advice)
    for notes in (case.search, case.readings, case.follow_up):
        yield from (step.note for step in notes)
    yield from (photo.caption for photo in case.photos)
    if case.withdrawn:
        yield case.withdrawn.why


ROOMS: Mapping[str, Callable[[Needs, str], Iterator[str]]] = {
    "case": Needs.case,
    "sheet": Needs.sheet,
    "customer": Needs.sheets,
    "groups": Needs.group,
    "data": Needs.data,
    "reading": Needs.reading,
    "vega": Needs.nothing,
    **dict.fromkeys(FACTS, Needs.statistics),
}
"""Rooms whose units depend on less than the whole library."""
