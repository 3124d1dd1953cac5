"""Files on disk. The only place that walks folders; never follows a link out of the library."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from leaklore.problem import Finding

MAX_BYTES = 1_000_000  # a record is a few kB; the register of 100,000 systems has its own limit
MAX_REGISTER_BYTES = 64_000_000


_ENDINGS = (".yaml", ".yml")


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
    """All `.yaml` and `.yml` files below `folder`, sorted; hidden folders are left out.

    A link to a folder is not walked: it comes as if it were a file, and `read` refuses it. So does a folder with such a
    name, which is walked all the same.
    """
    return map(Path, yaml_names(folder))


def yaml_names(folder: Path, others: list[str] | None = None) -> Iterator[str]:
    """`find_yaml` as names, for thousands of files: a path of pathlib takes longer than the look at the file.

    `others` gets the files between them that have another ending.
    """
    if folder.is_symlink() and not folder.is_file():
        yield str(folder)
        return
    if not folder.is_dir():
        return
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        refused = [f for f in folders if f.lower().endswith(_ENDINGS) or Path(place, f).is_symlink()]
        names = [f for f in files if f.lower().endswith(_ENDINGS) and not f.startswith(".")]
        if others is not None and len(names) < len(files):
            others += sorted(os.path.join(place, f) for f in set(files).difference(names))
        for name in sorted(refused + names):
            yield os.path.join(place, name)


def shown(file: Path, root: Path) -> str:
    """`file` relative to the folder that holds the library, with forward slashes, on one line."""
    try:
        path = (root.resolve().name / file.relative_to(root)).as_posix()
    except ValueError:
        path = file.as_posix()
    # a name that is no UTF-8, or that steers a terminal, could not be printed
    return "".join(c if c.isprintable() else "\ufffd" for c in path)


def shown_below(files: Sequence[str], root: Path) -> list[str]:
    """`shown` of many files below `root`."""
    base, start = root.resolve().name, len(f"{root / 'x'}") - 1
    names = [f"{base}/{file[start:].replace(os.sep, '/')}" for file in files]
    return [
        name if name.isprintable() else shown(Path(file), root)
        for name, file in zip(names, files, strict=True)
    ]


def is_inside(file: Path, root: Path) -> bool:
    """Does it lie below the folder `root` where its links lead? Raises OSError or RuntimeError where they lead nowhere."""
    return file.resolve().is_relative_to(root.resolve())


def read(file: Path, root: Path, limit: int = MAX_BYTES, path: str | None = None) -> Source | Unreadable:
    """The bytes of `file`, or the reason why it can't be taken; `path` is `shown` of it where that is known."""
    path = path or shown(file, root)

    def refuse(message: str, instead: str) -> Unreadable:
        return Unreadable(path, Finding((), message, instead, "file", line=1, column=1))

    try:
        about = file.lstat()
        if stat.S_ISLNK(about.st_mode):
            if file.is_dir():
                return refuse("is a link to a folder", "put the folder itself into the library")
            if not is_inside(file, root):
                return refuse("is a link to a file outside the library", "copy the file into the library")
            about = file.stat()
        size = about.st_size
        if size > limit:
            return refuse(
                f"is {size / 1e6:.1f} MB long; at most {limit / 1e6:.0f} MB are read",
                "look whether something else was saved under this name",
            )
        if not stat.S_ISREG(about.st_mode):
            folder = stat.S_ISDIR(about.st_mode) and file.suffix.lower() in _ENDINGS
            return refuse(
                "is not a plain file",
                f"put a text file in its place, or name the folder without {file.suffix}"
                if folder
                else "put a text file in its place",
            )
        return Source(path, file, file.read_bytes())
    except (OSError, RuntimeError) as fault:  # RuntimeError: a link that leads to itself
        why = getattr(fault, "strerror", None) or "a link that leads to itself"
        return refuse(f"can't be read ({why})", "check the file and its permissions")
