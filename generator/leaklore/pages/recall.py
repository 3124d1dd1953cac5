"""What is dear to find and follows from a part of the library alone, kept from build to build."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from leaklore.records.store import Store, unpickled

T = TypeVar("T")


class Recall:
    """Values by name, found again in `folder` as long as `basis`, a digest of all that they follow from, is the same.

    Without a folder each is made anew. Files are trusted, as pickles must be: they lie in the project's own cache.
    """

    def __init__(self, folder: Path | None = None, basis: str = "") -> None:
        self.folder = folder
        self.basis = basis
        self._used: set[str] = set()

    def __call__(
        self,
        name: str,
        make: Callable[[], T],
        pack: Callable[[T], Any] = lambda made: made,
        unpack: Callable[[Any], T] = lambda kept: kept,
    ) -> T:
        """What `make` makes; `pack` takes from it what is kept, `unpack` makes it whole again."""
        self._used.add(name)
        kept = self.found(name, unpickled)
        if kept is not None:
            return unpack(kept)
        made = make()
        if self.folder is not None:
            self.keep(name, pickle.dumps(pack(made), protocol=5))
        return made

    def renewed(
        self,
        name: str,
        make: Callable[[T | None], T],
        is_old: Callable[[T, T], bool] = lambda kept, made: False,
    ) -> T:
        """What `make` makes of what was kept, or of nothing. It is kept in its place where `is_old(kept, made)`."""
        self._used.add(name)
        kept = self.found(name, unpickled)
        made = make(kept)
        if self.folder is not None and (kept is None or is_old(kept, made)):
            self.keep(name, pickle.dumps(made, protocol=5))
        return made

    def found(self, name: str, unpack: Callable[[bytes], Any]) -> Any:
        """What was kept; None where nothing is."""
        if self.folder is None:
            return None
        return Store(self.folder).load(name, bytes.fromhex(self.basis), unpack)

    def keep(self, name: str, payload: bytes) -> None:
        """Keeps it for the next build."""
        if self.folder is not None:
            Store(self.folder).save(name, bytes.fromhex(self.basis), payload)

    def has(self, name: str) -> bool:
        """Would it be found?"""
        return bool(self.found(name, lambda _: True))

    def tidy(self) -> None:
        """Takes away what this object was never asked for."""
        Store(self.folder).tidy("", self._used)

    def __getstate__(self) -> dict[str, Any]:
        """On another machine nothing is kept."""
        return Recall().__dict__
