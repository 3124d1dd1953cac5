"""Build aside, then swap: a failed build leaves the last good site as it was."""

from __future__ import annotations

import os
import shutil
from pathlib import Path


def aside(site: Path) -> Path:
    """An empty folder beside the site to build into."""
    folder = _beside(site)
    drop(site)
    folder.mkdir(parents=True)
    return folder


def drop(site: Path) -> None:
    """Takes away what a failed build has left beside the site."""
    shutil.rmtree(_beside(site), ignore_errors=True)


def swap(new: Path, site: Path) -> None:
    """Puts the new folder in the site's place; the old one goes only after that."""
    old = site.with_name(f"{site.name}.old")
    shutil.rmtree(old, ignore_errors=True)
    if site.exists():
        os.rename(site, old)
    try:
        os.rename(new, site)
    except OSError:
        if old.exists():
            os.rename(old, site)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _beside(site: Path) -> Path:
    return site.with_name(f"{site.name}.new")
