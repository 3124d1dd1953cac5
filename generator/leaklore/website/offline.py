"""What a phone keeps to work without signal: packs of pages, the list of every file, and the worker's number.

A browser stores what it keeps unpacked, and pages repeat their shell: so pages are kept in packs, gzip-compressed and
without the shell, and the worker (`worker.js`) fills the shell as website/shell.py does.
"""

from __future__ import annotations

import datetime as dt
import gzip
import hashlib
import json
import re
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path

from leaklore.errors import LeakloreError
from leaklore.website.shell import Shell

GROUPS = ("core", "search", "cases", "photos")
"""What is kept at the first visit; the index of a large library; pages and data of cases; photos."""
LIST, WORKER, SHELL, PACKS = "data/offline.json", "worker.js", "data/shell.json", "data/packs"
VERSION = 1
SMALL = 1000
"""Up to so many cases the whole index of the search is kept at the first visit."""
FILES_A_PACK = 96
"""Mean number of files in a pack: few requests and little said twice, against what one changed page fetches anew
(measured on made-up libraries; see docs/serving.md)."""
MOST_BYTES = 3_000_000
"""A pack ends after so many characters, unpacked."""
NUMBER_LINE = 'const NUMBER = "";'
_LIBRARY = (
    "cases/",
    "for-customers/",
    "systems/",
    "branches/",
    "settings/",
    "reading/",
    "data/",
    "feed.xml",
    "sitemap.xml",
)
NOT_KEPT = (
    *("patterns/", "data/patterns/", "data/explore.json", "js/vega-bundle", "js/explore.mjs"),
    *("data/cases.csv", "data/learn/unknown/"),
)
"""What is for the desk, and exercises: a phone fetches them when it opens them, and its store stays small."""
_PARTS = ("css/", "js/", "img/", "icons/", "app.webmanifest")
_CORE_DATA = (
    "data/search/",
    "data/bench.json",
    "data/trade.json",
    "data/record",
    "data/learn/lists.json",
    "data/learn/questions.json",
    "data/systems.json",
    "data/schema/case.schema.json",
    SHELL,
)
_TEXT = (".html", ".css", ".js", ".mjs", ".json", ".svg", ".xml", ".csv", ".yaml", ".webmanifest")
_ROW = re.compile(r"(?<=\n)|(?<=>)(?=<(?:li|div|tr|p|section|article|dt|dd|h\d|span|a|td|th)\b)")
"""Where a text is cut into rows; any cut is right, this one finds much that is said twice."""
BETWEEN, ROOT = "\0", "\1"
"""In a page of a pack: between its slots, and in place of the way to the site's root."""
_INDEX = ("data/search/terms/", "data/search/hits/")

Slots = Mapping[str, str]
"""What fills the shell's slots for one page, as `Shell.values` gives it; with SECTION."""


def group(path: str, cases: int) -> str:
    """The group that a file of the site belongs to, for a library of so many cases."""
    if path.startswith("photos/"):
        return "photos"
    if path.startswith(_INDEX):
        return "core" if cases <= SMALL else "search"
    if path.startswith((*_PARTS, *_CORE_DATA)):
        return "core"
    if path.startswith(_LIBRARY) or not path.endswith(".html"):
        return "cases"
    return "core"


def write(
    target: Path, shell: Shell, banner: str, pages: Mapping[str, Slots], day: dt.date, cases: int
) -> str:
    """Writes packs, `data/shell.json`, `data/offline.json` and the number into `worker.js`; returns the number.

    `pages` are the filled pages by file; every other file is taken as it lies in `target`. `cases`: active cases.
    Raises LeakloreError where `worker.js` has no place for the number.
    """
    (target / LIST).unlink(missing_ok=True)
    put(target / SHELL, _json({"parts": shell.parts, "banner": banner}))
    files = {
        f: (target / f).read_bytes() for f in _files(target) if f != WORKER and not f.startswith(NOT_KEPT)
    }
    groups = {path: group(path, cases) for path in files}
    packs: list[str] = []
    pack_of: dict[str, int] = {}
    for name, paths, content in _packs(files, groups, pages):
        path = f"{PACKS}/{name}.pack"
        pack_of.update(dict.fromkeys(paths, len(packs)))
        packs.append(path)
        groups[path], files[path] = groups[paths[0]], content
        put(target / path, content)
    rows = []
    for path in sorted(files):
        row: list[str | int] = [path, len(files[path]), digest(files[path]), GROUPS.index(groups[path])]
        rows.append([*row, pack_of[path]] if path in pack_of else row)
    worker = (target / WORKER).read_text("utf-8")
    if worker.count(NUMBER_LINE) != 1:
        raise LeakloreError(f"{WORKER}: the line {NUMBER_LINE} has to be there once")
    said = {"version": VERSION, "built": day.isoformat(), "groups": GROUPS, "packs": packs, "files": rows}
    number = digest(_json(said) + worker.encode())
    put(target / LIST, _json({**said, "number": number}))
    (target / WORKER).write_text(worker.replace(NUMBER_LINE, f'const NUMBER = "{number}";'), "utf-8")
    return number


def digest(content: bytes) -> str:
    """The first 16 hexadecimal digits of SHA-256."""
    return hashlib.sha256(content).hexdigest()[:16]


def put(file: Path, content: bytes) -> None:
    """Writes a file and the folders above it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content)


def _files(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def _json(said: object) -> bytes:
    return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()


def _packs(
    files: Mapping[str, bytes], groups: Mapping[str, str], pages: Mapping[str, Slots]
) -> Iterator[tuple[str, list[str], bytes]]:
    """(name, files in it, content) of every pack; what is no text, or is fetched by itself, is in none."""
    runs: dict[str, dict[str, str]] = {}
    for path in sorted(files):
        if groups[path] not in ("core", "cases") or not path.endswith(_TEXT) or path == SHELL:
            continue
        text = _page(path, pages[path]) if path in pages else None
        runs.setdefault(_run(path, groups[path]), {})[path] = text or files[path].decode()
    for run in sorted(runs):
        for i, part in enumerate(_cut(runs[run]), 1):
            yield f"{run}-{i}", list(part), gzip.compress(_json(packed(part)), 9, mtime=0)


def _run(path: str, of: str) -> str:
    """Files whose packs stand in one row: case pages apart from lists, which change with every case."""
    parts = path.split("/")
    if path.startswith(_PARTS):
        return f"{of}-parts"
    if parts[0] == "data":
        return f"{of}-data"
    if len(parts) < 3 or parts[1].isdigit() or parts[1] == "newest":
        return f"{of}-lists"
    return f"{of}-{parts[0]}"


def _page(path: str, slots: Slots) -> str | None:
    """A page without its shell; None where a text holds a mark of ours."""
    text = [slots[name] for name in ("TITLE", "DESCRIPTION", "SECTION", "EXTRA_HEAD", "BODY")]
    if any(mark in part for part in text for mark in (BETWEEN, ROOT)):
        return None
    joined = BETWEEN.join(text)
    return joined.replace(f'="{slots["ROOT"]}', f'="{ROOT}')


def packed(texts: Mapping[str, str]) -> dict[str, object]:
    """A pack before compression: every row once, and for each file the numbers of its rows.

    A number is written as its distance from the one after the row before, so that rows that follow each other are
    zeros. gzip alone looks back 32 kB only, which is less than two pages.
    """
    rows: dict[str, int] = {}
    files = {}
    for path, text in texts.items():
        before, numbers = -1, []
        for row in _ROW.split(text):
            if row:
                number = rows.setdefault(row, len(rows))
                numbers.append(number - before - 1)
                before = number
        files[path] = numbers
    return {"rows": list(rows), "files": files}


def _cut(entries: Mapping[str, str]) -> Iterator[dict[str, str]]:
    """Cuts a row into packs. Where it is cut depends on the names alone, so that a new case moves no other's pack."""
    part: dict[str, str] = {}
    size = 0
    for path, text in entries.items():
        part[path] = text
        size += len(text)
        if zlib.crc32(path.encode()) % FILES_A_PACK == 0 or size > MOST_BYTES:
            yield part
            part, size = {}, 0
    if part:
        yield part
