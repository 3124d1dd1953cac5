"""How the process of a command ends: at once, as soon as all that must happen has happened.

What nobody has to wait for is left to a process that stays behind (`afterwards`).
"""

from __future__ import annotations

import atexit
import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

_left: list[Callable[[], object]] | None = None
"""What is to be done after the command; None where this process is not a command's own."""


@contextmanager
def command() -> Iterator[None]:
    """Around the command whose process ends with it."""
    global _left
    _left = []
    try:
        yield
    except SystemExit as done:
        _end(done.code)
        raise
    finally:  # where the process ends in the ordinary way
        for work in _left:
            work()
        _left = None


def afterwards(work: Callable[[], object]) -> None:
    """Does `work`, which tells nobody anything, when the command has ended; at once where no command's process ends.

    A process without a terminal does it; it holds the locks that this one holds.
    """
    if _left is None:
        work()
    else:
        _left.append(work)


def _end(code: object) -> None:
    """Ends this process with what `sys.exit(code)` would tell, in a fraction of the time.

    An ordinary end takes a library of 10,000 cases down object by object, for most of a second; the system takes the memory
    back whole. Returns where an ordinary end has something left to do: another thread at work, or output that can't
    be written.
    """
    if threading.active_count() > 1 or not (code is None or isinstance(code, int)):
        return
    atexit._run_exitfuncs()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        return
    if _left and _behind():
        for work in _left:
            with suppress(Exception):
                work()
    os._exit(code or 0)


def _behind() -> bool:
    """Goes on in a process of its own: is it this one? Where none can be begun, in this one."""
    try:
        if os.fork():
            return False
    except (AttributeError, OSError):  # Windows; a limit of processes
        return True
    os.setsid()
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):  # whoever reads what the command says waits until all have closed it
        os.dup2(nowhere, stream)
    return True
