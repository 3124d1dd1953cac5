"""What lies in a library where nothing can read it: a file where a folder must be, a misspelt name, a record that a writing
program saved under another ending, a note that is no text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from leaklore.problem import Finding
from leaklore.records import source
from leaklore.records.gather import Gathered
from leaklore.records.guide import LIST_FILES, PAGES, SHIPPED
from leaklore.records.model import Case
from leaklore.records.near import nearest
from leaklore.records.parse import decode
from leaklore.records.photo import ENDINGS
from leaklore.records.prose import CASE_ID, line_and_column
from leaklore.records.rules.context import Context
from leaklore.records.rules.references import unknown_references

_FOLDERS = ("records", "reading", "house", "photos")
_WALKED = ("records", "reading")
"""Folders of which source.py itself tells that they are links."""
_YEAR = re.compile(r"[0-9]{4}")
_NO_FOLDER = Finding((), "is not a folder", "put a folder of this name in its place", "file")
MOST_NOTE = 10_000_000
"""Bytes of a note."""
_ENDINGS = (".yaml", ".yml", ".po")
_TOP = {"company": "company.yaml", "systems": "systems.yaml", **{name: f"{name}/" for name in _FOLDERS}}
"""What is read of the library's own folder, by the name without its ending."""
_PICTURES = tuple(f".{ending}" for ending in ENDINGS)
_OTHER_ENDING = re.compile(r"(?:\.ya?ml)?\.(?:txt|rtf|docx?|odt)$", re.IGNORECASE)
"""What writing programs append, often without showing it."""
_READ = {
    **{name: f"{name}.yaml" for name in (*LIST_FILES, "actions")},
    "words": "words.po",
    **{folder: f"{folder}/" for folder in PAGES},
}
"""What is read of house/ beside pages of Markdown, by the name without its ending."""
_LIKENESS = 72
"""Of 100; a name that is less like one that is read is somebody's own business."""
_LIKENESS_AT_TOP = 80
"""As `_LIKENESS`, but a folder old-records/ is no misspelling."""


def look(root: Path, got: Gathered) -> None:
    """Notes files that stand where a folder must be, and what in house/ was probably meant to be read."""
    for file in (*(root / name for name in _FOLDERS), *(root / "house" / name for name in PAGES)):
        if _is_no_folder(file):
            got.add(source.shown(file, root), None, [_NO_FOLDER])
        elif file.is_symlink() and file.name not in _WALKED and not source.is_inside(file, root):
            told = Finding(
                (), "is a link to a folder outside the library", "copy the folder into the library", "file"
            )
            got.add(source.shown(file, root), None, [told])
    for file, instead in (*_unread_at_top(root), *_unread(root / "house"), *_loose_photos(root / "photos")):
        told = Finding((), "is read by nothing", instead, "file", "warning")
        got.add(source.shown(file, root), None, [told])
    others: list[str] = []
    for _ in source.yaml_names(root / "reading", others):
        pass
    look_at_others(others, root, got)
    for note in notes(root / "house"):
        if isinstance(found := read(note), Finding):
            got.add(source.shown(note, root), None, [found])
    if two := _fronts(root / "house"):
        told = Finding((), "is not shown, for index.md is the front page", "join the two", "file", "warning")
        got.add(source.shown(two[1], root), None, [told])


def look_at_others(names: Iterable[str], root: Path, got: Gathered) -> None:
    """Notes what lies between records or reading lists and was probably meant to be one; `names` have another ending."""
    for file in map(Path, names):
        stem = _OTHER_ENDING.sub("", file.name)
        twice = re.search(r"\.ya?ml\.", file.name.lower()) is not None  # else it may be notes beside a record
        alone = CASE_ID.fullmatch(stem) and not file.with_name(f"{stem}.yaml").exists()
        if stem != file.name and not file.name.startswith((".", "~")) and (twice or alone):
            told = Finding(
                (), "is read by nothing", f"save it as text and call it {stem}.yaml", "file", "warning"
            )
            got.add(source.shown(file, root), None, [told])


def look_at_photos(
    photos: Iterable[str], records: Mapping[str, str], cases: Iterable[Case], root: Path, got: Gathered
) -> None:
    """Notes pictures that no record names. `photos` are `ID/file`; `records` has the path of every record by its number.

    Of a record that is not among `cases`, for it is wrong, nothing is told: what it names may be misspelt.
    """
    folders: dict[str, list[str]] = {}
    for place in photos:
        number, _, file = place.partition("/")
        if CASE_ID.fullmatch(number) and not file.startswith(".") and file.lower().endswith(_PICTURES):
            folders.setdefault(number, []).append(file)
    named = {case.id: {photo.file for photo in case.photos} for case in cases if case.id in folders}
    for number, files in sorted(folders.items()):
        folder = root / "photos" / number
        if number not in records:
            _unnamed(
                folder, f"there is no record {number}: call the folder like the number of its case", root, got
            )
            continue
        for file in sorted(set(files) - named.get(number, set(files))):
            instead = f"name it under photos: of {records[number]}, or take it out"
            _unnamed(folder / file, instead, root, got)


def _unnamed(place: Path, instead: str, root: Path, got: Gathered) -> None:
    told = Finding((), "is named by no record, so nobody sees it", instead, "photo/unnamed", "warning")
    got.add(source.shown(place, root), None, [told])


def look_for_years(names: Iterable[str], root: Path, got: Gathered) -> bool:
    """Notes what stands where the records of a year must be; are there records that could not be looked for?"""
    years = [
        file for file in map(Path, names) if _YEAR.fullmatch(file.name) and file.parent.name == "records"
    ]
    for file in years:
        got.add(source.shown(file, root), None, [_NO_FOLDER])
    return bool(years) or _is_no_folder(root / "records")


def look_at_references(root: Path, ctx: Context, got: Gathered) -> None:
    """Notes where a [[reference]] in a note leads nowhere."""
    systems = ctx.systems if ctx.register_read else None
    for note in notes(root / "house"):
        text = read(note)
        if isinstance(text, Finding):
            continue
        for ref, instead in unknown_references(text, ctx.guide, ctx.case_ids, systems):
            line, column = line_and_column(text, ref.start)
            message = f'"[[{ref.target}]]" leads nowhere'
            told = Finding(
                (), message, instead, "reference/prose", "warning", line=line + 1, column=column + 1
            )
            got.add(source.shown(note, root), None, [told])


def notes(house: Path) -> list[Path]:
    """The company's own pages: Markdown files directly in its folder. Where two would be its front page it is index.md."""
    hidden = _fronts(house)[1:]
    return sorted(path for path in house.glob("*.md") if not path.is_dir() and path not in hidden)


def read(note: Path) -> str | Finding:
    """The text of a note; a finding where it is none."""
    found = source.read(note, note.parent.parent, MOST_NOTE)
    return found.finding if isinstance(found, source.Unreadable) else decode(found.data)


def _is_no_folder(file: Path) -> bool:
    """Is there something else, or a link that leads nowhere? Of a walked folder that is told where it is walked."""
    return not file.is_dir() and (file.exists() or (file.is_symlink() and file.name not in _WALKED))


def _fronts(house: Path) -> list[Path]:
    """Both files that would be the front page; none where there is one at most."""
    both = [house / "index.md", house / "README.md"]
    return both if all(path.is_file() for path in both) else []


def _entries(folder: Path) -> list[Path]:
    """What lies in a folder and is not hidden; nothing where it is none."""
    try:
        return sorted(entry for entry in folder.iterdir() if not entry.name.startswith("."))
    except OSError:
        return []


def _unread_at_top(root: Path) -> Iterator[tuple[Path, str]]:
    """Records, lists and folders with a name that is nearly right, directly in the library's folder."""
    for entry in _entries(root):
        folder = entry.is_dir()
        if entry.name in _TOP.values() or f"{entry.name}/" in _TOP.values():
            continue
        stem = entry.name if folder else Path(_OTHER_ENDING.sub("", entry.name)).stem
        if not folder and CASE_ID.match(entry.name):
            yield entry, "move it to records/, into the folder of its year"
        elif folder or entry.name.lower().endswith((".yaml", ".yml", ".txt")):
            near = nearest(stem, _TOP, _LIKENESS_AT_TOP)
            if near and _TOP[near].endswith("/") == folder:
                yield entry, f'did you mean "{_TOP[near]}"?'


def _loose_photos(photos: Path) -> Iterator[tuple[Path, str]]:
    """Photos lie in a folder that is called like the number of their case."""
    for entry in _entries(photos):
        if entry.is_dir() and not CASE_ID.fullmatch(entry.name):
            yield entry, "call the folder like the number of the case"
        elif entry.is_file() and entry.suffix.lower() in _PICTURES:
            yield entry, "put it into a folder that is called like the number of its case"


def _unread(house: Path) -> Iterator[tuple[Path, str]]:
    """Files and folders that nothing reads, and what to do instead."""
    for entry in _entries(house):
        name, folder = entry.name, entry.is_dir()
        listed = name.lower().endswith(_ENDINGS)
        if not (folder or listed) or name in _READ.values() or f"{name}/" in _READ.values():
            continue
        if listed and (SHIPPED / name).is_file():
            yield entry, "take it out; this file of the guide can't be changed here"
        elif near := nearest(entry.stem if listed else name, _READ, _LIKENESS):
            yield entry, f'did you mean "{_READ[near]}"?'
