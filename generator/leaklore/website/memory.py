"""What the build before wrote, unit by unit, so that the next one makes only what would come out differently.

A unit is taken over when its key is the same (pages/needs.py) and its files still lie in the site as they were written:
by size, time and inode. Files are linked, not copied; nobody writes into a file that is there (press.py replaces it).
"""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leaklore import whole
from leaklore.pages.needs import Likes, Needs
from leaklore.pages.site import Unit
from leaklore.records.compact import Compact
from leaklore.website.press import Printed

VERSION = 1
Mark = tuple[int, int, int]
"""Size, time of the last change in ns, inode."""


@dataclass(frozen=True, slots=True)
class Kept(Compact):
    """One unit of the build before."""

    key: str
    printed: Printed
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Past:
    """What is kept of a build: its units, and what was known of its library."""

    units: Mapping[Unit, Kept]
    known: tuple[str, Likes] | None = None


NONE = Past({})


class Memory:
    """What of the site before can be taken over by a build."""

    def __init__(self, site: Path, needs: Needs, past: Past) -> None:
        self.site = site
        self.needs = needs
        self.units = past.units
        self.keys: dict[Unit, str] = {}
        self.printed: Mapping[Unit, Printed] = {}

    def before(self, unit: Unit) -> Printed | None:
        """The unit as it was written, where it would come out the same and still lies there."""
        key = self.keys[unit] = self.needs.key(unit)
        kept = self.units.get(unit)
        if kept is None or kept.key != key:
            return None
        folder = str(self.site)
        if any(mark(f"{folder}/{f.path}") != m for f, m in zip(kept.printed.files, kept.marks, strict=True)):
            return None
        return kept.printed

    @property
    def anew(self) -> bool:
        """Must what follows from the facts of all cases be found anew?"""
        return self.needs.known is None or self.needs.known[0] != self.needs.facts

    def now(self, target: Path) -> Past:
        """What lies in `target`, which is about to become the site."""
        folder = str(target)
        units = {
            unit: Kept(self.keys[unit], one, tuple(_there(f"{folder}/{f.path}") for f in one.files))
            for unit, one in self.printed.items()
            if unit in self.keys
        }
        return Past(units, (self.needs.facts, self.needs.likes))


def load(folder: Path, site: Path) -> Past:
    """What `save` has kept of this site; nothing where there is none, or something is wrong with it.

    The file is trusted, as a pickle must be: it lies in the project's own cache.
    """
    with suppress(Exception):
        told: Any = pickle.loads(_file(folder, site).read_bytes())
        if told["version"] == VERSION:
            past: Past = told["past"]
            return past
    return NONE


def save(past: Past, folder: Path, site: Path) -> None:
    """Keeps it for the next process. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    whole.write(_file(folder, site), pickle.dumps({"version": VERSION, "past": past}, protocol=5))


def _file(folder: Path, site: Path) -> Path:
    return folder / f"{hashlib.sha256(str(site.resolve()).encode()).hexdigest()[:16]}.pickle"


def mark(file: str) -> Mark | None:
    """By what a file is known to be the one that was written; None where it is not there."""
    try:
        told = os.lstat(file)
    except OSError:
        return None
    return told.st_size, told.st_mtime_ns, told.st_ino


def _there(file: str) -> Mark:
    found = mark(file)
    assert found is not None
    return found


def link(site: Path, paths: Sequence[str], target: Path) -> None:
    """Puts files of the site into `target`, too, without a copy where the disk allows that."""
    made: set[str] = set()
    for path in paths:
        folder = path.rpartition("/")[0]
        if folder not in made:
            os.makedirs(target / folder, exist_ok=True)
            made.add(folder)
        try:
            os.link(f"{site}/{path}", f"{target}/{path}")
        except FileExistsError:
            os.unlink(f"{target}/{path}")
            os.link(f"{site}/{path}", f"{target}/{path}")
        except OSError:
            shutil.copy2(f"{site}/{path}", f"{target}/{path}")
