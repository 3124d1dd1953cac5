"""Files that need not be read to know what is in them: the system says of them what it said when they were read.

That is by length, times of the last change of content and of anything, and inode. A change in the same tick of the clock
as the look before it would not be seen; so a file that was changed shortly before it was looked at is read again by the
next check (as git does with its index, where it is known as the racy file).
"""

from __future__ import annotations

import os
import pickle
import stat
import time
from collections.abc import Mapping
from typing import Any

from leaklore.records.store import Store, unpickled

NAME = "seen.pickle"
Mark = tuple[int, int, int, int]
"""Bytes, content changed and anything changed (ns of the epoch), inode."""
TICK = 2_000_000_000
"""ns that a disk's clock may be coarse: two seconds on FAT, the coarsest in use (from memory)."""


class Seen:
    """Digests of files as the check before read them, and the marks that this one finds."""

    def __init__(self, store: Store, basis: bytes) -> None:
        self._store, self._basis = store, basis
        kept: Any = store.load(NAME, basis, unpickled)
        self._before: Mapping[str, tuple[Mark, str]] = kept if isinstance(kept, dict) else {}
        self._marks: dict[str, Mark] = {}

    def digest(self, place: str) -> str | None:
        """The digest of this file, where it is a plain one that nobody has touched since it was read; else None.

        To be asked of a file before it is read: what it holds later then stands for the older mark, which is no more.
        """
        try:
            told = os.lstat(place)
        except OSError:
            return None
        if not stat.S_ISREG(told.st_mode):
            return None
        mark = (told.st_size, told.st_mtime_ns, told.st_ctime_ns, told.st_ino)
        if max(told.st_mtime_ns, told.st_ctime_ns) < time.time_ns() - TICK:
            self._marks[place] = mark
        before = self._before.get(place)
        return before[1] if before is not None and before[0] == mark else None

    def keep(self, digests: Mapping[str, str]) -> None:
        """Keeps the digests of the files whose marks were found, for the next check."""
        now = {place: (mark, digests[place]) for place, mark in self._marks.items() if digests.get(place)}
        if now != self._before:
            self._store.save(NAME, self._basis, pickle.dumps(now, protocol=5))
