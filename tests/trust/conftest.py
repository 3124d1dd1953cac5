"""The hostile library and its site, built once, and a browser that tells whatever a vector achieves."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from browser.conftest import complaints, visit
from site_fixture import Site, built, demo, once, served, site_at, write_config

from .library import make

__all__ = ["complaints", "demo", "visit"]


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the library in cases/ and its site in site/."""

    def build(folder: Path) -> None:
        built(write_config(folder, make(folder / "cases")))

    return once(tmp_path_factory, "hostile", build)


@pytest.fixture(scope="session")
def site(hostile: Path) -> Site:
    """Its site."""
    return site_at(hostile / "site")


@pytest.fixture(scope="session")
def address(hostile: Path) -> Iterator[str]:
    """Where the site is served."""
    with served(hostile / "site", "/leaks/") as at:
        yield at
