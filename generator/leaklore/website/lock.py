"""One build of a site at a time: the second waits.

The lock is the system's (flock), on SITE.lock beside the site, and ends with the process that holds it, however that
ends. Processes forked by a build hold it, too: after a kill of the parent alone no other build starts while one of them
may still write (workers.py ends them). The file says who builds; one that is left over says that a build was killed.
"""

from __future__ import annotations

import os
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from leaklore.errors import LeakloreError

WAIT = 900.0
"""Seconds that a build waits for another one."""
STEP = 0.1
"""Seconds between two looks."""
QUIET = 1.0
"""Seconds that it waits without a word: so long the build before may take away the site before its own."""
SIGN = 20
"""Bytes that the number of the process takes in the file."""


@dataclass(frozen=True)
class Held:
    """The right to build a site. `killed`: the build before ended without giving it back."""

    file: Path
    handle: int
    killed: bool

    @property
    def lasting(self) -> bool:
        """Does a process forked from here hold it on? Not on a disk without locks."""
        try:
            import fcntl

            fcntl.flock(self.handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except (ImportError, OSError):
            return False
        return True

    def release(self) -> None:
        """Gives it back; the file goes while it is still ours, so that nobody's is taken."""
        with suppress(OSError):
            self.file.unlink()
        os.close(self.handle)


def hold(site: Path, limit: float = WAIT) -> Held:
    """Waits, and soon tells so on standard error, while another process builds the same site.

    Raises LeakloreError after `limit` seconds, OSError where nothing can be written beside the site.
    """
    site = Path(os.path.realpath(site))
    site.parent.mkdir(parents=True, exist_ok=True)
    file = site.with_name(f"{site.name}.lock")
    start = time.monotonic()
    said = False
    while True:
        handle = os.open(file, os.O_RDWR | os.O_CREAT, 0o666)
        if _lock(handle):
            if _is(file, handle):
                return _signed(file, handle)
            os.close(handle)  # given back, and its file gone, while we waited for it
            continue
        number = os.pread(handle, SIGN, 0).decode("ascii", "replace").strip()
        os.close(handle)
        who = f" (process {number})" if number else ""
        waited = time.monotonic() - start
        if not said and waited > QUIET:
            print(f"another build of {site} is running{who}; waiting", file=sys.stderr, flush=True)
            said = True
        if waited > limit:
            raise LeakloreError(
                f"another build of {site}{who} did not end in {limit / 60:.0f} min; end it, then build again"
            )
        time.sleep(STEP)


def _lock(handle: int) -> bool:
    try:
        import fcntl
    except ImportError:  # Windows: builds at the same time are not kept apart there
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a disk without locks
        return True
    return True


def _is(file: Path, handle: int) -> bool:
    """Is the opened file still the one of that name?"""
    try:
        return os.path.samestat(os.stat(file), os.fstat(handle))
    except FileNotFoundError:
        return False


def _signed(file: Path, handle: int) -> Held:
    held = Held(file, handle, killed=os.fstat(handle).st_size > 0)
    try:
        os.pwrite(handle, f"{os.getpid()}".ljust(SIGN).encode(), 0)
    except OSError as fault:
        held.release()
        raise OSError(fault.errno, fault.strerror, str(file)) from None
    return held
