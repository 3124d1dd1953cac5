"""Ends the process of a command at once, as soon as all that must happen has happened."""

from __future__ import annotations

import atexit
import os
import sys
import threading


def end(code: object) -> None:
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
    os._exit(code or 0)
