"""What is costly to make and seldom changes, kept from build to build: charts, the explorer's bundle, the workbook."""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Any

from leaklore import language, whole
from leaklore.errors import LeakloreError

UNUSED = 30
"""Days after which what no build has used leaves the cache."""

_folder: ContextVar[Path | None] = ContextVar("charts", default=None)


@contextmanager
def kept_in(folder: Path) -> Iterator[None]:
    """What is made by `once` meanwhile is kept in `folder`; what no build used for a month is taken away.

    Raises LeakloreError where nothing can be written there.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as wrong:
        raise LeakloreError(f"charts can't be kept in {folder} ({wrong.strerror or wrong})") from None
    token = _folder.set(folder)
    try:
        yield
    finally:
        _folder.reset(token)
    _sweep(folder)


def folder() -> Path | None:
    """Where things are kept just now; None where nothing is."""
    return _folder.get()


def once(made_from: Any, kind: str, make: Callable[[], bytes]) -> bytes:
    """What `make` makes, or what the folder of `kept_in` has of it.

    `made_from` is what it follows from besides the code of this package, of the packages that it draws with and the
    words of the language, as JSON; `kind` the end of the file's name.
    """
    where = folder()
    if where is None:
        return make()
    told = json.dumps(
        [_code(), _versions(), language.current().digest, made_from], sort_keys=True, ensure_ascii=False
    )
    file = where / f"{hashlib.sha256(told.encode()).hexdigest()[:40]}.{kind}"
    kept = _kept(file)
    if kept is None:
        kept = make()
        whole.write(file, hashlib.sha256(kept).hexdigest().encode() + b"\n" + kept)
    return kept


@cache
def _code() -> str:
    """Digest of the modules of this package: what is kept is made by nothing else of ours."""
    told = hashlib.sha256()
    for file in sorted(Path(__file__).parent.glob("*.py")):
        told.update(file.read_bytes())
    return told.hexdigest()


@cache
def _versions() -> tuple[str, ...]:
    from importlib.metadata import version

    return tuple(version(name) for name in ("altair", "vl-convert-python", "openpyxl"))


def _kept(file: Path) -> bytes | None:
    """What the cache has, if it is as it was written."""
    try:
        digest, _, data = file.read_bytes().partition(b"\n")
        if hashlib.sha256(data).hexdigest().encode() != digest:
            return None
        os.utime(file)
        return data
    except OSError:
        return None


def _sweep(folder: Path) -> None:
    before = time.time() - UNUSED * 86400
    for file in folder.glob("*.*"):
        with suppress(OSError):
            if file.stat().st_mtime < before:
                file.unlink()
