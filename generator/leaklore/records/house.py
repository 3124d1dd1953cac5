"""What lies in a library where nothing reads it: a file where a folder must be, a misspelt name in house/."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from leaklore.problem import Finding
from leaklore.records import source
from leaklore.records.gather import Gathered
from leaklore.records.guide import LIST_FILES, PAGES, SHIPPED
from leaklore.records.near import nearest

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
