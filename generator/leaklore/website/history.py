"""When each file was last changed, from git where there is one."""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path


def last_changes(folder: Path) -> dict[str, dt.date]:
    """Path relative to `folder`'s parent -> day of its last commit; empty without git. One git call for all."""
    command = ["git", "-C", str(folder), "log", "--format=%x00%cs", "--name-only", "--relative", "--", "."]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    except (OSError, subprocess.SubprocessError):
        return {}
    out: dict[str, dt.date] = {}
    for block in done.stdout.split("\0")[1:]:
        day, *names = block.strip().splitlines()
        for name in filter(None, names):
            out.setdefault(f"{folder.name}/{name}", dt.date.fromisoformat(day))
    return out
