"""What a check keeps for the next one: pickles in a folder of its own, by content.

Nothing else is ever unpickled than files below that folder, the project's own `.cache`, which only the build writes.
The digest in a file tells a broken one from a whole one; it does not protect against somebody who may write there,
and who could as well change the code beside it.
"""

from __future__ import annotations

import gc
import hashlib
import io
import os
import pickle
import sys
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

from leaklore import whole
from leaklore.records import guide
from leaklore.records.model import System
from leaklore.records.schema_files import folder as schema_folder

_SIZE = hashlib.sha256().digest_size


class Store:
    """Values by name; each is found again only with the basis with which it was kept. Without a folder, never."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder

    @property
    def kept(self) -> bool:
        """Is anything kept at all?"""
        return self._folder is not None

    def load(self, name: str, basis: bytes, unpack: Callable[[bytes], Any]) -> Any:
        """What was kept; None where there is nothing, or it is broken or has another basis."""
        if self._folder is None:
            return None
        try:
            data = (self._folder / name).read_bytes()
            payload = data[2 * _SIZE :]
            if data[:_SIZE] == basis and data[_SIZE : 2 * _SIZE] == hashlib.sha256(payload).digest():
                return unpack(payload)
        except Exception:  # whatever is wrong with it, it is made anew
            return None
        return None

    def save(self, name: str, basis: bytes, payload: bytes) -> None:
        """Keeps a pickle; where that is not possible the next check takes longer."""
        if self._folder is None:
            return
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            whole.write(self._folder / name, basis + hashlib.sha256(payload).digest() + payload)

    def tidy(self, opening: str, names: Container[str]) -> None:
        """Takes away what has a name that begins so and is none of `names`."""
        with suppress(OSError):
            for file in self._folder.iterdir() if self._folder else ():
                if file.name.startswith(opening) and file.name not in names:
                    file.unlink(missing_ok=True)


def system_named(number: str) -> System:
    """Stands in a pickle where a system stood; whoever unpacks it puts the register's own in its place."""
    raise LookupError(number)


class _Packer(pickle.Pickler):
    """Writes the number of a system instead of the system."""

    def __init__(self, out: io.BytesIO) -> None:
        super().__init__(out, protocol=5)
        self.dispatch_table = {System: lambda system: (system_named, (system.id,))}


class _Unpacker(pickle.Unpickler):
    def __init__(self, data: bytes, systems: Mapping[str, System]) -> None:
        super().__init__(io.BytesIO(data))
        self._systems = systems

    def find_class(self, module: str, name: str) -> Any:
        return self._systems.get if name == system_named.__name__ else super().find_class(module, name)


def pack(value: Any) -> bytes:
    """A pickle that names systems by their number."""
    out = io.BytesIO()
    _Packer(out).dump(value)
    return out.getvalue()


def unpack(data: bytes, systems: Mapping[str, System]) -> Any:
    """What `pack` packed; a system that is not in the register any more is None."""
    with unhindered():
        return _Unpacker(data, systems).load()


def unpickled(data: bytes) -> Any:
    """What a plain pickle holds."""
    with unhindered():
        return pickle.loads(data)


@contextmanager
def unhindered() -> Iterator[None]:
    """Without the collector of cycles, which would look again and again at each of many new records."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def basis_of(root: Path) -> bytes:
    """A digest of all that the check of one record depends on beside it, its photos, its system and the day."""
    house = root / "house"
    files = [root / "company.yaml", *guide.page_files(house if house.is_dir() else None).values()]
    files += [file for two in guide.list_files(house if house.is_dir() else None).values() for file in two]
    return hashlib.sha256(
        _own() + root.resolve().name.encode("utf-8", "surrogateescape") + _digest(files)
    ).digest()


@cache
def _own() -> bytes:
    """A digest of the code, the schemas and the shipped guide, and of what runs them."""
    import yaml

    here = Path(__file__).parent
    files = sorted(
        [
            *here.rglob("*.py"),
            here.parent / "problem.py",
            *schema_folder().glob("*.json"),
            *guide.SHIPPED.rglob("*.*"),
        ]
    )
    return hashlib.sha256(f"{sys.version} {yaml.__version__}".encode() + _digest(files)).digest()


def _digest(files: Iterable[Path]) -> bytes:
    """Names and bytes; not where the files lie, so that another checkout has the same digest."""
    whole = hashlib.sha256()
    for file in files:
        name = f"{file.parent.name}/{file.name}"
        link = os.path.realpath(file) if file.is_symlink() else ""
        try:
            data = file.read_bytes() if file.is_file() else b"no file"
        except OSError:
            data = b"unreadable"
        told = f"{name}\0{link}\0".encode("utf-8", "surrogateescape")
        whole.update(hashlib.sha256(told + data).digest())
    return whole.digest()
