"""Files on disk. The only place that walks folders; never follows a link out of the library."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from leaklore.problem import Finding

MAX_BYTES = 1_000_000  # a record is a few kB; the register of 100,000 systems has its own limit
MAX_REGISTER_BYTES = 64_000_000


@dataclass(frozen=True)
class Source:
    """One file: `path` as shown to the user, `data` its bytes."""

    path: str
    file: Path
    data: bytes

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the bytes, hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class Unreadable:
    """A file that could not be read, and why."""

    path: str
    finding: Finding


def find_yaml(folder: Path) -> Iterator[Path]:
    """All `.yaml` and `.yml` files below `folder`, sorted; hidden folders are left out."""
    if not folder.is_dir():
        return
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        for name in sorted(files):
            if name.endswith((".yaml", ".yml")) and not name.startswith("."):
                yield Path(place, name)


def shown(file: Path, root: Path) -> str:
    """`file` relative to the folder that holds the library, with forward slashes."""
    for base in (root.parent, Path.cwd()):
        try:
            return file.relative_to(base).as_posix()
        except ValueError:
            continue
    return file.as_posix()


def read(file: Path, root: Path, limit: int = MAX_BYTES) -> Source | Unreadable:
    """The bytes of `file`, or the reason why it can't be taken."""
    path = shown(file, root)

    def refuse(message: str, instead: str) -> Unreadable:
        return Unreadable(path, Finding((), message, instead, "file", line=1, column=1))

    try:
        if file.is_symlink() and not file.resolve().is_relative_to(root.resolve()):
            return refuse("is a link to a file outside the library", "copy the file into the library")
        size = file.stat().st_size
        if size > limit:
            return refuse(
                f"is {size / 1e6:.1f} MB; a record may have at most {limit / 1e6:.0f} MB",
                "put long material into photos/ or split the record",
            )
        if not file.is_file():
            return refuse("is not a plain file", "write the record as a text file")
        return Source(path, file, file.read_bytes())
    except OSError as fault:
        return refuse(
            f"can't be read ({fault.strerror or type(fault).__name__})", "check the file and its permissions"
        )
