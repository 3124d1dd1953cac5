"""What the build before wrote, unit by unit, so that the next one makes only what would come out differently.

A unit is taken over when its key is the same (pages/needs.py) and its files still lie in the site as they were written:
by size, time and inode. Files are linked, not copied; nobody writes into a file that is there (`press.settle` puts another in its place).
What is known of the units is kept in SHARDS files, of which a build after an edit writes the few that changed.
"""

from __future__ import annotations

import os
import pickle
import shutil
import zlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from leaklore import whole
from leaklore.pages.needs import Likes, Needs
from leaklore.pages.site import Unit
from leaklore.records.compact import Compact
from leaklore.records.store import Store, unhindered
from leaklore.website.press import Printed, make_folder, of_all
from leaklore.workers import Apart

VERSION = 5
SHARDS = 64
KNOWN, FIRST = "known.pickle", "first.pickle"
"""What was known of the library, and the units that are begun first."""
FEW = 16
"""Shards that are sooner written here than by a process forked for it."""
MANY = 50_000
"""Units that are kept by this process in any case: another would take as much memory again."""
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
    """What is kept of a build: its units, and what was known of its library. `folder`: where the other units lie, where not
    all were read."""

    units: Mapping[Unit, Kept]
    known: tuple[str, Likes] | None = None
    folder: Path | None = None

    def whole(self) -> Past:
        """With all units."""
        if self.folder is None:
            return self
        return Past({**load(self.folder).units, **self.units}, self.known)


NONE = Past({})


class Looked(Protocol):
    """Files of the site before that were looked at, and put into place, ahead (ahead.py)."""

    @property
    def gone(self) -> frozenset[Unit]:
        """Units whose files are not as they were written."""

    def covers(self, unit: Unit) -> bool:
        """Was it looked at?"""

    def settle(self, past: Past, taken: Iterable[Unit]) -> bool:
        """Puts the files of these units into place; without a copy?"""


class Memory:
    """What of the site before can be taken over by a build, and what the next one can take over of this."""

    def __init__(
        self,
        site: Path,
        needs: Needs,
        past: Past,
        folder: Path | None = None,
        ahead: Looked | None = None,
    ) -> None:
        """`folder`: where it is kept for the next process, if at all. `ahead`: who has looked at the site before."""
        self.site = site
        self.needs = needs
        self.past = past
        self.keys: dict[Unit, str] = {}
        self.noted = False
        self.folder = folder
        self.ahead = ahead
        self._linked = True
        self._now = NONE
        self._saving: Apart[None] | None = None

    def before(self, unit: Unit) -> Printed | None:
        """The unit as it was written, where it would come out the same and still lies there."""
        if not (self.past.units or self.past.folder):  # `note` finds the keys while others make the pages
            return None
        key = self.keys[unit] = self.needs.key(unit)
        if self.past.folder is not None and shard(unit) != FIRST:
            self.past = self.past.whole()
        kept = self.past.units.get(unit)
        if kept is None or kept.key != key:
            return None
        if self.ahead is not None and self.ahead.covers(unit):
            return None if unit in self.ahead.gone else kept.printed
        return kept.printed if stands(kept, self.site) else None

    def note(self, units: Iterable[Unit]) -> None:
        """Finds the keys that `before` has not: it stops where nothing is kept."""
        self.noted = True
        for unit in units:
            if unit not in self.keys:
                self.keys[unit] = self.needs.key(unit)

    @property
    def anew(self) -> bool:
        """Must what follows from the facts of all cases be found anew?"""
        return self.needs.known is None or self.needs.known[0] != self.needs.facts

    def take_over(self, printed: Iterable[Printed], target: Path) -> None:
        """Puts the files of these units, which lie in the site before, into `target`, too."""
        units = {one.unit: one for one in printed}
        linked = True
        if self.ahead is not None:
            linked = self.ahead.settle(self.past.whole(), units)
            units = {unit: one for unit, one in units.items() if not self.ahead.covers(unit)}
        paths = [f.path for one in units.values() for f in one.files]
        self._linked = link(self.site, paths, target) and linked

    def settle(self, printed: Mapping[Unit, Printed], target: Path) -> None:
        """Notes what lies in `target`, which is about to become the site, and begins to keep it."""
        folder = str(target)

        def kept(unit: Unit, one: Printed) -> Kept:
            before = self.past.units.get(unit)
            if before is not None and before.printed is one and self._linked:
                return before  # the same files by another name
            return Kept(self.keys[unit], one, tuple(_there(f"{folder}/{f.path}") for f in one.files))

        self.past = self.past.whole()
        units = {unit: kept(unit, one) for unit, one in printed.items() if unit in self.keys}
        past = Past(units, (self.needs.facts, self.needs.likes))
        if self.folder is None:
            self._now = past
            return
        changed = _changed(self.past, past)
        told = past, changed, past.known != self.past.known, self.folder
        if len(changed) <= FEW or len(units) > MANY:
            _save(told)
        else:
            self._saving = Apart(_save, told)

    def now(self) -> Past:
        """What was noted, for the next build of this process; NONE as soon as it is kept for another. Raises OSError."""
        if self._saving is not None:
            self._saving.answer()
            self._saving = None
        return self._now


def load(folder: Path, first: bool = False) -> Past:
    """What `Memory` has kept in a folder; nothing where there is none, and nothing of a shard that is broken. `first`: only
    what is asked for first.

    The files are trusted, as pickles must be: they lie in the project's own cache.
    """
    units: dict[Unit, Kept] = {}
    known = None
    with suppress(OSError), unhindered():
        for name in (KNOWN, FIRST) if first else sorted(os.listdir(folder)):
            with suppress(Exception):
                version, content = pickle.loads((folder / name).read_bytes())
                if version == VERSION and name == KNOWN:
                    known = content
                elif version == VERSION:
                    units.update(content)
    return Past(units, known, folder if first and folder.is_dir() else None)


def shard(unit: Unit) -> str:
    """The file in which a unit is kept."""
    if of_all(unit, many=False):
        return FIRST
    return f"{zlib.crc32('/'.join(unit).encode('utf-8', 'surrogateescape')) % SHARDS:02}.pickle"


def _changed(before: Past, now: Past) -> set[str]:
    """Shards whose units are others now."""

    def others(these: Past, those: Past) -> Iterator[Unit]:
        return (unit for unit, kept in these.units.items() if those.units.get(unit) is not kept)

    return {shard(unit) for units in (others(before, now), others(now, before)) for unit in units}


def _save(told: tuple[Past, set[str], bool, Path]) -> None:
    """Keeps it in a folder for the next process that makes this site: the changed shards, and what was known if that is
    new. One by one, for a pickle takes memory for everything in it. Raises OSError."""
    past, changed, anew, folder = told
    folder.mkdir(parents=True, exist_ok=True)
    shards: dict[str, dict[Unit, Kept]] = defaultdict(dict)
    for unit, kept in past.units.items():
        shards[shard(unit)][unit] = kept
    for name in sorted(changed & shards.keys()):
        whole.write(folder / name, pickle.dumps((VERSION, shards[name]), protocol=5))
    if anew:
        whole.write(folder / KNOWN, pickle.dumps((VERSION, past.known), protocol=5))
    Store(folder).tidy("", {*shards, KNOWN})


def stands(kept: Kept, site: Path) -> bool:
    """Do a unit's files lie in the site as they were written?"""
    folder = str(site)
    return all(mark(f"{folder}/{f.path}") == m for f, m in zip(kept.printed.files, kept.marks, strict=True))


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


def link(site: Path, paths: Sequence[str], target: Path) -> bool:
    """Puts files of the site into `target`, too, without a copy where the disk allows that: was it so for all?"""
    made: set[str] = set()
    linked = True
    old, new = str(site), str(target)
    for path in paths:
        folder = path.rpartition("/")[0]
        if folder not in made:
            make_folder(f"{new}/{folder}")
            made.add(folder)
        try:
            os.link(f"{old}/{path}", f"{new}/{path}")
        except FileExistsError:
            os.unlink(f"{new}/{path}")
            os.link(f"{old}/{path}", f"{new}/{path}")
        except OSError:
            shutil.copy2(f"{old}/{path}", f"{new}/{path}")
            linked = False
    return linked
