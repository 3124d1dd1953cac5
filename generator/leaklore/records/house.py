"""What lies in a library where nothing can read it: a file where a folder must be, a misspelt name in house/, a note that is
no text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from leaklore.problem import Finding
from leaklore.records import source
from leaklore.records.gather import Gathered
from leaklore.records.guide import LIST_FILES, PAGES, SHIPPED
from leaklore.records.near import nearest
from leaklore.records.parse import decode

_FOLDERS = ("records", "reading", "house", "photos")
_ENDINGS = (".yaml", ".yml", ".po")
_READ = {
    **{name: f"{name}.yaml" for name in (*LIST_FILES, "actions")},
    "words": "words.po",
    **{folder: f"{folder}/" for folder in PAGES},
}
"""What is read of house/ beside pages of Markdown, by the name without its ending."""
_LIKENESS = 72
"""Of 100; a name that is less like one that is read is somebody's own business."""


def look(root: Path, got: Gathered) -> None:
    """Notes files that stand where a folder must be, and what in house/ was probably meant to be read."""
    for file in (*(root / name for name in _FOLDERS), *(root / "house" / name for name in PAGES)):
        if file.exists() and not file.is_dir():
            told = Finding((), "is not a folder", "put a folder of this name in its place", "file")
            got.add(source.shown(file, root), None, [told])
    for file, instead in _unread(root / "house"):
        told = Finding((), "is read by nothing", instead, "file", "warning")
        got.add(source.shown(file, root), None, [told])
    for note in notes(root / "house"):
        if isinstance(found := read(note), Finding):
            got.add(source.shown(note, root), None, [found])
    if two := _fronts(root / "house"):
        told = Finding((), "is not shown, for index.md is the front page", "join the two", "file", "warning")
        got.add(source.shown(two[1], root), None, [told])


def notes(house: Path) -> list[Path]:
    """The company's own pages: Markdown files directly in its folder. Where two would be its front page it is index.md."""
    found = sorted(path for path in house.glob("*.md") if path.is_file())
    return [path for path in found if path not in _fronts(house)[1:]]


def read(note: Path) -> str | Finding:
    """The text of a note; a finding where it is none."""
    try:
        return decode(note.read_bytes())
    except OSError as fault:
        return Finding(
            (), f"can't be read ({fault.strerror or fault})", "check the file and its permissions", "file"
        )


def _fronts(house: Path) -> list[Path]:
    """Both files that would be the front page; none where there is one at most."""
    both = [house / "index.md", house / "README.md"]
    return both if all(path.is_file() for path in both) else []


def _unread(house: Path) -> Iterator[tuple[Path, str]]:
    """Files and folders that nothing reads, and what to do instead."""
    try:
        entries = sorted(house.iterdir())
    except OSError:
        return
    for entry in entries:
        name, folder = entry.name, entry.is_dir()
        listed = name.lower().endswith(_ENDINGS)
        if (
            name.startswith(".")
            or not (folder or listed)
            or name in _READ.values()
            or f"{name}/" in _READ.values()
        ):
            continue
        if listed and (SHIPPED / name).is_file():
            yield entry, "take it out; this file of the guide can't be changed here"
        elif near := nearest(entry.stem if listed else name, _READ, _LIKENESS):
            yield entry, f'did you mean "{_READ[near]}"?'
