"""What a phone keeps to work without signal: packs of pages, the list of every file, and the worker's number.

A browser stores what it keeps unpacked, and pages repeat their shell: so pages are kept in packs, gzip-compressed and
without the shell, and the worker (`worker.js`) fills the shell as website/shell.py does.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import json
import os
import re
import zlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from operator import sub
from pathlib import Path

from leaklore import whole
from leaklore.errors import LeakloreError
from leaklore.pages import data_cases
from leaklore.pages.keep import KEPT
from leaklore.pages.paging import EACH
from leaklore.records.library import Library
from leaklore.records.store import Store
from leaklore.website.shell import Shell
from leaklore.workers import Here, Workers, trim

GROUPS = ("core", "search", "cases", "photos")
"""What is kept at the first visit; the index of a large library; pages and data of cases; photos."""
LIST, WORKER, SHELL, PACKS = "data/offline.json", "worker.js", "data/shell.json", "data/packs"
VERSION = 1
SMALL = 1000
"""Up to so many cases the whole index of the search is kept at the first visit."""
FILES_A_PACK = 96
"""Mean number of files in a pack: few requests and little said twice, against what one changed page fetches anew
(measured on made-up libraries; see docs/serving.md)."""
LEVEL = 7
"""Of gzip: within a hundredth of what 9 saves, in half the time."""
MOST_BYTES = 3_000_000
"""A pack ends after files of so many bytes."""
NUMBER_LINE = 'const NUMBER = "";'
_LIBRARY = (
    "cases/",
    "for-customers/",
    "systems/",
    "branches/",
    "settings/",
    "data/",
    "feed.xml",
    "sitemap.xml",
)
NOT_KEPT = (
    *("patterns/", "data/patterns/", "data/explore.json", "js/vega-bundle", "js/explore.mjs"),
    *("data/cases.csv", "data/records/", "data/learn/unknown/"),
)
"""What is for the desk, and exercises: a phone fetches them when it opens them, and its store stays small."""
_TRAINING = ("reading/unknown/", "reading/trainer/")
"""Of the reading what needs a connection anyhow, and what is for the desk; the rest a learner has at the first visit."""
_PARTS = ("css/", "js/", "img/", "icons/", "app.webmanifest")
_CORE_DATA = (
    "data/search/",
    "data/bench.json",
    "data/trade.json",
    "data/record",
    "data/learn/lists.json",
    "data/learn/questions.json",
    "data/learn/evidence.json",
    "data/systems.json",
    "data/schema/case.schema.json",
    SHELL,
)
_TEXT = (".html", ".css", ".js", ".mjs", ".json", ".svg", ".xml", ".csv", ".yaml", ".webmanifest")
_ROW = re.compile(r">(?=<(?:li|div|tr|p|section|article|dt|dd|h\d|span|a|td|th)\b)")
"""Where a text is cut into rows, and after every line; any cut is right, this one finds much that is said twice."""
BETWEEN, ROOT, CUT = "\0", "\1", "\2"
"""In a page of a pack: between its slots, and in place of the way to the site's root. On the way only: between rows."""
_INDEX = ("data/search/terms/", "data/search/hits/")

NOTED = ("cases", "for-customers", "systems")
"""Folders that hold nothing but what is noted when it is written."""
OF_CASES = (*NOTED, "photos")
NUMBER = re.compile(r"[A-Z][\w-]*\Z")
"""A folder named by a case or a system; all other names of ours are in lower case."""

Told = tuple[int, str]
"""Bytes of a file, and its digest."""
Slots = Mapping[str, str]
"""What fills the shell's slots for one page, as `Shell.values` gives it; with SECTION."""


@dataclass(frozen=True)
class Keeps:
    """Which files of a site a phone can keep: `keeps(library)(path)`.

    `all`: every case is kept; else `numbers` are the cases (with their former numbers) and systems whose pages and
    photos are, `pieces` the data that has them, and `years` the first page of each year's list that has one.
    """

    all: bool
    numbers: frozenset[str] = frozenset()
    pieces: frozenset[str] = frozenset()
    years: Mapping[str, int] = field(default_factory=dict)

    def __call__(self, path: str) -> bool:
        """Can this file, by its path in the site, be kept?"""
        if path.startswith(NOT_KEPT):
            return False
        if self.all:
            return True
        folder, *rest = path.split("/")
        if folder in OF_CASES and NUMBER.match(rest[0]):
            return rest[0] in self.numbers
        if folder == "data":
            return path in self.pieces or path.startswith((*_CORE_DATA, "data/index.html", "data/learn/"))
        number = next((int(part) for part in rest[1:] if part.isdigit()), None)
        if folder == "cases" and rest[0].isdigit():
            return rest[0] in self.years and (number is None or number >= self.years[rest[0]])
        return number is None and (
            folder != "systems" or len(rest) == 1
        )  # not the pages behind a list's first


EVERYTHING = Keeps(all=True)


def keeps(library: Library) -> Keeps:
    """What a phone can keep of this library: everything, or of a large one what belongs to its newest KEPT cases.

    Beyond them a phone would have to fetch and store much that hardly anybody opens in a cellar (docs/serving.md).
    """
    if len(library.cases) <= KEPT:
        return Keeps(all=True)
    newest = library.newest[:KEPT]
    numbers = {number for case in newest for number in (case.id, *case.was)}
    numbers |= {case.system.id for case in newest if case.system}
    older = Counter(case.year for case in library.newest[KEPT:])
    # a list's pages are numbered from the oldest case on (pages/paging.py)
    years = {str(year): older[year] // EACH + 1 for year in {case.year for case in newest}}
    pieces = {data_cases.cases_address(case.id) for case in newest}
    return Keeps(False, frozenset(numbers), frozenset(pieces), years)


def group(path: str, cases: int) -> str:
    """The group that a file of the site belongs to, for a library of so many cases."""
    if path.startswith("photos/"):
        return "photos"
    if path.startswith(_INDEX):
        return "core" if cases <= SMALL else "search"
    if path.startswith((*_PARTS, *_CORE_DATA)):
        return "core"
    if path.startswith((*_LIBRARY, *_TRAINING)) or not path.endswith(".html"):
        return "cases"
    return "core"


def write(
    target: Path,
    shell: Shell,
    banner: str,
    pages: Mapping[str, Slots],
    day: dt.date,
    cases: int,
    kept: Callable[[str], bool] = EVERYTHING,
    cache: Path | None = None,
    workers: Workers | None = None,
    known: Mapping[str, Told] | None = None,
) -> str:
    """Writes packs, `data/shell.json`, `data/offline.json` and the number into `worker.js`; returns the number.

    `pages` are the filled pages by file; every other file is taken as it lies in `target`. `cases`: active cases. `kept`
    tells of a file's path whether a phone can keep it (`keeps`); what it can't is neither read nor listed. `known`: what
    was noted of files when they were written, among them all of cases, sheets and systems. Below `cache` packs lie by
    what is in them: one that is there needs no packing, and its files no reading. `workers` pack the others.
    Raises LeakloreError where `worker.js` has no place for the number.
    """
    (target / LIST).unlink(missing_ok=True)
    put(target / SHELL, _json({"parts": shell.parts, "banner": banner}))
    known = known or {}
    paths = sorted({*(path for path in known if kept(path)), *_files(target, kept, bool(known))} - {WORKER})
    groups = {path: group(path, cases) for path in paths}
    told = {path: known.get(path) or tell((target / path).read_bytes()) for path in paths}
    store = _Store(cache, shell)
    trim()  # others are forked now
    packs: list[str] = []
    pack_of: dict[str, int] = {}
    packed = [path for path in paths if _is_packed(path, groups[path])]
    for name, inside, content in _packs(target, packed, groups, told, pages, store, workers or Here()):
        path = f"{PACKS}/{name}.pack"
        pack_of.update(dict.fromkeys(inside, len(packs)))
        packs.append(path)
        groups[path], told[path] = groups[inside[0]], tell(content)
        put(target / path, content)
    store.tidy()
    rows = []
    for path in sorted(told):
        row: list[str | int] = [path, *told[path], GROUPS.index(groups[path])]
        rows.append([*row, pack_of[path]] if path in pack_of else row)
    worker = (target / WORKER).read_text("utf-8")
    if worker.count(NUMBER_LINE) != 1:
        raise LeakloreError(f"{WORKER}: the line {NUMBER_LINE} has to be there once")
    said = {"version": VERSION, "built": day.isoformat(), "groups": GROUPS, "packs": packs, "files": rows}
    number = digest(_json(said) + worker.encode())
    put(target / LIST, _json({**said, "number": number}))
    put(target / WORKER, worker.replace(NUMBER_LINE, f'const NUMBER = "{number}";').encode())
    return number


def tell(content: bytes) -> Told:
    """What the list says of a file."""
    return len(content), digest(content)


def digest(content: bytes) -> str:
    """The first 16 hexadecimal digits of SHA-256."""
    return hashlib.sha256(content).hexdigest()[:16]


def put(file: Path, content: bytes) -> None:
    """Writes a file and the folders above it; never into one that is there, which may be that of another build."""
    file.parent.mkdir(parents=True, exist_ok=True)
    whole.write(file, content)


def _files(folder: Path, kept: Callable[[str], bool], known: bool, before: str = "") -> Iterator[str]:
    """Paths of the files below a folder that a phone can keep; folders of cases that it can't are not looked into. What
    is `known` is not looked for."""
    for entry in os.scandir(folder):
        path = before + entry.name
        if not entry.is_dir():
            if kept(path):
                yield path
        elif known and path in NOTED:
            continue
        elif before[:-1] not in OF_CASES or not NUMBER.match(entry.name) or kept(f"{path}/index.html"):
            yield from _files(folder / entry.name, kept, known, f"{path}/")


def _json(said: object) -> bytes:
    return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()


def _packs(
    target: Path,
    paths: Sequence[str],
    groups: Mapping[str, str],
    told: Mapping[str, Told],
    pages: Mapping[str, Slots],
    store: _Store,
    workers: Workers,
) -> Iterator[tuple[str, list[str], bytes]]:
    """(name, files in it, content) of every pack."""
    runs: dict[str, dict[str, int]] = {}
    for path in paths:
        runs.setdefault(_run(path, groups[path]), {})[path] = told[path][0]
    parts = {f"{run}-{i}": part for run in sorted(runs) for i, part in enumerate(_cut(runs[run]), 1)}
    keys = {
        name: store.key((path, told[path][1], path in pages) for path in part) for name, part in parts.items()
    }
    found = {name: store.found(key) for name, key in keys.items()}
    missing = {keys[name]: part for name, part in parts.items() if found[name] is None}

    def text(path: str) -> str:
        return (_page(pages[path]) if path in pages else None) or (target / path).read_text("utf-8")

    texts = {key: {path: text(path) for path in part} for key, part in missing.items()}
    made = dict(zip(missing, workers.map(_pack, (store, texts), list(missing)), strict=True))
    for name, part in parts.items():
        yield name, part, found[name] or made[keys[name]]


def _is_packed(path: str, of: str) -> bool:
    """What is no text, or is fetched by itself, is in no pack."""
    return of in ("core", "cases") and path.endswith(_TEXT) and path != SHELL


def _pack(shared: tuple[_Store, Mapping[str, Mapping[str, str]]], key: str) -> bytes:
    """A task for `Workers.map`: one pack."""
    store, texts = shared
    return store.pack(key, texts[key])


def _run(path: str, of: str) -> str:
    """Files whose packs stand in one row: case pages apart from lists, which change with every case."""
    parts = path.split("/")
    if path.startswith(_PARTS):
        return f"{of}-parts"
    if path.startswith("data/search/"):  # another with every word of a record
        return f"{of}-search"
    if parts[0] == "data":
        return f"{of}-data"
    if len(parts) < 3 or parts[1].isdigit() or parts[1] == "newest":
        return f"{of}-lists"
    return f"{of}-{parts[0]}"


def _page(slots: Slots) -> str | None:
    """A page without its shell; None where a text holds a mark of ours."""
    text = [slots[name] for name in ("TITLE", "DESCRIPTION", "SECTION", "EXTRA_HEAD", "BODY")]
    if any(mark in part for part in text for mark in (BETWEEN, ROOT)):
        return None
    joined = BETWEEN.join(text)
    return joined.replace(f'="{slots["ROOT"]}', f'="{ROOT}')


class _Store:
    """Finished packs of the build before; those that this one does not use are taken away in the end."""

    def __init__(self, folder: Path | None, shell: Shell) -> None:
        self._files = Store(folder)
        how = (VERSION, LEVEL, _ROW.pattern, zlib.ZLIB_RUNTIME_VERSION, shell.parts)
        self._how = hashlib.sha256(repr(how).encode()).digest()
        self._used: set[str] = set()

    def key(self, files: Iterable[tuple[str, str, bool]]) -> str:
        """By what a pack of these files is kept: path, digest, and whether its shell is left out."""
        key = hashlib.sha256(repr(list(files)).encode()).hexdigest()
        self._used.add(key)
        return key

    def found(self, key: str) -> bytes | None:
        """The pack, where it is there whole."""
        found: bytes | None = self._files.load(key, self._how, bytes)
        return found

    def pack(self, key: str, texts: Mapping[str, str]) -> bytes:
        """The texts packed and compressed, and kept."""
        content = gzip.compress(_json(packed(texts)), LEVEL, mtime=0)
        self._files.save(key, self._how, content)
        return content

    def tidy(self) -> None:
        """Takes away what was not used."""
        self._files.tidy("", self._used)


def packed(texts: Mapping[str, str]) -> dict[str, object]:
    """A pack before compression: every row once, and for each file the numbers of its rows.

    A number is written as its distance from the one after the row before, so that rows that follow each other are
    zeros. gzip alone looks back 32 kB only, which is less than two pages.
    """
    rows = {path: _rows(text) for path, text in texts.items()}
    place = {row: i for i, row in enumerate(dict.fromkeys(chain.from_iterable(rows.values())))}
    files = {}
    for path, found in rows.items():
        at = [place[row] for row in found]
        files[path] = list(map(sub, at, [0, *(i + 1 for i in at)]))
    return {"rows": list(place), "files": files}


def _rows(text: str) -> list[str]:
    if CUT in text:
        return [text]
    marked = _ROW.sub(f">{CUT}", text).replace("\n", f"\n{CUT}")
    return [row for row in marked.split(CUT) if row]


def _cut(sizes: Mapping[str, int]) -> Iterator[list[str]]:
    """Cuts a row of files into packs, by their bytes. Where it is cut depends on the names alone, so that a new case moves
    no other's pack."""
    part: list[str] = []
    size = 0
    for path, more in sizes.items():
        part.append(path)
        size += more
        if zlib.crc32(path.encode()) % FILES_A_PACK == 0 or size > MOST_BYTES:
            yield part
            part, size = [], 0
    if part:
        yield part
