"""Build aside, then swap: a build that fails, or is killed at any moment, leaves a whole site.

The new site is made in SITE.new. Where the system can exchange two folders in one move (Linux, macOS), whoever looks
sees the old site or the new one. Elsewhere there are two renames with SITE.old between them; after a kill between
those the next build brings the old site back.

Nothing is written through to the disk (fsync) before the swap. A killed process loses nothing by that, for the system
keeps what it was given. After a loss of power the names may be those of the new site while some files are still
empty. Such a site is built anew from the records, which no build writes; waiting for the disk in every build costs more.
"""

from __future__ import annotations

import ctypes
import errno
import hashlib
import os
import shutil
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

MARK = "css/leaklore.css"
"""A file that every site has."""
_STRAY = {".DS_Store", ".directory"}
"""What file managers leave in any folder."""
NEW, OLD, CACHE = "new", "old", "cache"
"""Endings of what a build may have beside the site while it runs."""
_NOT_HERE = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EPERM}
"""The system or this disk can't exchange; containers with older filters say EPERM to calls that they don't know."""
_EXCHANGE = 2
"""RENAME_EXCHANGE of linux/fs.h and RENAME_SWAP of macOS's sys/stdio.h."""
_WORKING_FOLDER = -100
"""AT_FDCWD of linux/fcntl.h."""


def aside(site: Path) -> Path:
    """An empty folder beside the site to build into. Raises OSError."""
    folder = _beside(site, NEW)
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder


def refused(site: Path) -> str:
    """Why a site can't take the place of what lies there, which would be lost with the next one; "" where it may."""
    if not site.exists():
        return ""
    if not site.is_dir():
        return "is a file"
    names = sorted(os.listdir(site))
    if names and not (site / MARK).is_file():
        return f'holds "{names[0]}" and is no site that was made here'
    hidden = [name for name in names if name.startswith(".") and name not in _STRAY]
    return f'holds "{hidden[0]}", which is not of the site' if hidden else ""


def recover(site: Path) -> None:
    """The start of a build ends what a killed one has begun: the old site comes back if there is none, the rest goes."""
    old = _beside(site, OLD)
    if old.exists() and not _real(site).exists():
        os.rename(old, _real(site))
    drop(site)


def drop(site: Path) -> None:
    """Takes away what a build has left beside the site: its own folders, and the site before."""
    for ending in (NEW, CACHE) if not _real(site).exists() else (NEW, CACHE, OLD):
        shutil.rmtree(_beside(site, ending), ignore_errors=True)


def is_alone(site: Path) -> bool:
    """Does nothing lie beside the site that `drop` would take away?"""
    return not any(_beside(site, ending).exists() for ending in (NEW, CACHE, OLD))


def swap(new: Path, site: Path) -> None:
    """Puts the new folder in the site's place; the old one lies beside it until `drop`. Raises OSError."""
    site = _real(site)
    if not site.exists():
        os.rename(new, site)
    elif not exchange(new, site):
        _two_renames(new, site)


def exchange(one: Path, other: Path) -> bool:
    """Swaps the names of two folders in one move; False where that can't be done here. Raises OSError."""
    libc: Any = None if sys.platform == "win32" else ctypes.CDLL(None, use_errno=True)
    names = os.fsencode(one), os.fsencode(other)
    if hasattr(libc, "renameat2"):
        failed = libc.renameat2(_WORKING_FOLDER, names[0], _WORKING_FOLDER, names[1], _EXCHANGE)
    elif hasattr(libc, "renamex_np"):  # macOS; from its manual, not tried
        failed = libc.renamex_np(*names, _EXCHANGE)
    else:
        return False
    if failed and (why := ctypes.get_errno()) not in _NOT_HERE:
        raise OSError(why, os.strerror(why), str(one), None, str(other))
    return not failed


def _two_renames(new: Path, site: Path) -> None:
    old = _beside(site, OLD)
    shutil.rmtree(old, ignore_errors=True)
    os.rename(site, old)
    try:
        os.rename(new, site)
    except OSError:
        os.rename(old, site)
        raise


def key(site: Path) -> str:
    """By what a site's own caches are known."""
    return hashlib.sha256(str(_real(site)).encode("utf-8", "surrogateescape")).hexdigest()[:16]


def cache(folder: Path, parts: tuple[str, ...], site: Path) -> tuple[Path, str]:
    """Where a build keeps what the next one may take over, with a folder for each part; and a warning, or "".

    Where `folder` can't be written, a folder beside the site takes its place until the end of the build: it costs
    time and nothing else. Raises OSError where the disk is full.
    """
    try:
        for part in parts:
            (folder / part).mkdir(parents=True, exist_ok=True)
            _may_write(folder / part)
    except OSError as fault:
        if fault.errno in _FULL:
            raise
        why = (fault.strerror or str(fault)).lower()
        instead = _beside(site, CACHE)
        for part in parts:
            (instead / part).mkdir(parents=True, exist_ok=True)
        return instead, f"{fault.filename}: {why}; nothing is kept for the next build, which takes longer so"
    return folder, ""


def _may_write(folder: Path) -> None:
    if os.access(folder, os.W_OK | os.X_OK):
        return
    sealed = hasattr(os, "statvfs") and os.statvfs(folder).f_flag & os.ST_RDONLY
    why = errno.EROFS if sealed else errno.EACCES
    raise OSError(why, os.strerror(why), str(folder))


def sweep(folder: Path) -> None:
    """Takes half-written files away that a killed build has left in a cache (whole.py).

    One that another build is writing at this moment goes, too: it is written again then.
    """
    for parent, _, names in os.walk(folder, followlinks=True):
        for name in names:
            if name.startswith(".") and name.endswith(".new"):
                with suppress(OSError):
                    os.unlink(os.path.join(parent, name))


_FULL = {errno.ENOSPC, errno.EDQUOT}
_ELSEWHERE = "or set site_dir in mkdocs.yml to a folder elsewhere"


def told(fault: OSError, near: Path) -> str:
    """One line for the user: which file, what is wrong, what to do. `near`: the folder, where the fault names no file."""
    where = Path(fault.filename2 or fault.filename or near)
    match fault.errno:
        case errno.ENOSPC:
            what = f"the disk is full, {_free(where)} free; make room on it {_ELSEWHERE}"
        case errno.EDQUOT:
            what = f"this account may not use more of the disk; make room {_ELSEWHERE}"
        case errno.EFBIG:
            what = "the file is larger than this disk or this account may have (`ulimit -f`); raise the limit"
        case errno.EROFS:
            what = f"the disk is read-only; make it writable {_ELSEWHERE}"
        case errno.EACCES | errno.EPERM:
            what = f"permission denied; let this account write there {_ELSEWHERE}"
        case errno.EBUSY | errno.EXDEV:
            what = (
                "it is a disk of its own and can't be renamed; set site_dir in mkdocs.yml to a folder in it"
            )
        case _:
            what = (fault.strerror or str(fault)).lower()
    return f"{where}: {what}"


def _free(where: Path) -> str:
    """What an ordinary account may still write there."""
    there = next(p for p in (where, *where.absolute().parents) if p.exists())
    return f"{shutil.disk_usage(there).free / 1e6:.1f} MB"


def _real(site: Path) -> Path:
    """The folder itself, where the site is a link to one: what lies beside must be on the same disk."""
    return Path(os.path.realpath(site))


def _beside(site: Path, ending: str) -> Path:
    site = _real(site)
    return site.with_name(f"{site.name}.{ending}")
