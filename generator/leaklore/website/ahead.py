"""What a build after an edit needs in any case, done by another process while the records are read: to look whether the
files of the site before lie there as they were written, and to link them to where the new one is made.

They are linked into a folder of their own within the new site, whose name begins with a dot, so that MkDocs leaves it when
it empties the site's folder. Nobody writes there: what is not taken over is taken out of it, and only then are its folders
moved to their places.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from leaklore.pages.site import Unit
from leaklore.website.memory import FIRST, Kept, Past, link, load, shard, stands
from leaklore.workers import Apart

PART = ".part"
MANY_BYTES = 60_000_000
"""What is kept of some 25,000 cases."""


@dataclass(frozen=True, slots=True)
class Found:
    """Units with files that do not lie there as they were written; were the others linked, not copied?"""

    gone: frozenset[Unit]
    linked: bool


class Ahead:
    """The look at the site before, begun."""

    def __init__(self, kept: Path, site: Path, target: Path) -> None:
        self._target = target
        self._looking: Apart[Found] | None = Apart(_look, (kept, site, target / PART))
        self._found: Found | None = None

    @property
    def gone(self) -> frozenset[Unit]:
        """Waits for it, and so may all below. Raises OSError where the disk is full."""
        return self._answer().gone

    def _answer(self) -> Found:
        if self._found is None:
            assert self._looking is not None
            self._found = self._looking.answer()
            self._looking = None
        return self._found

    def covers(self, unit: Unit) -> bool:
        """Was it looked at? Not what is made of all cases: that is begun before, and may be written meanwhile."""
        return shard(unit) != FIRST

    def settle(self, past: Past, taken: Iterable[Unit]) -> bool:
        """Moves the files of the units that are `taken` over into the site that is made; was it so without a copy?"""
        found, keep = self._answer(), frozenset(taken)
        part = self._target / PART
        for unit, kept in past.units.items():
            if unit not in keep and unit not in found.gone and self.covers(unit):
                _take_out(part, kept)
        if part.exists():
            _move(str(part), str(self._target))
        return found.linked

    def end(self) -> None:
        """Nobody waits for it any more."""
        if self._looking is not None:
            self._looking.end()
            self._looking = None


def begin(kept: Path, site: Path, target: Path) -> Ahead | None:
    """None where nothing is kept of the site before, or so much that another process should not read it, too."""
    try:
        much = sum(entry.stat().st_size for entry in os.scandir(kept))
    except OSError:
        return None
    return Ahead(kept, site, target) if 0 < much < MANY_BYTES else None


def _look(told: tuple[Path, Path, Path]) -> Found:
    kept_in, site, part = told
    past = load(kept_in)
    units = {unit: kept for unit, kept in past.units.items() if shard(unit) != FIRST}
    gone = frozenset(unit for unit, kept in units.items() if not stands(kept, site))
    paths = [f.path for unit, kept in units.items() if unit not in gone for f in kept.printed.files]
    part.mkdir()
    return Found(gone, link(site, paths, part))


def _take_out(part: Path, kept: Kept) -> None:
    """Takes a unit's files away, and the folders that are empty then."""
    for file in kept.printed.files:
        path = f"{part}/{file.path}"
        with suppress(OSError):
            os.unlink(path)
            while (path := path.rpartition("/")[0]) != str(part):
                os.rmdir(path)


def _move(source: str, target: str) -> None:
    """Moves all that is in a folder into another, where some of its folders may be already. Raises OSError."""
    for entry in list(os.scandir(source)):
        to = f"{target}/{entry.name}"
        if not entry.is_dir(follow_symlinks=False):
            os.replace(entry.path, to)
            continue
        try:
            os.rename(entry.path, to)
        except OSError:  # it is there, and not empty
            _move(entry.path, to)
    os.rmdir(source)
