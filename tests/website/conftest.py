"""Fixtures of the site's tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from site_fixture import ROOT, demo, run

__all__ = ["demo"]


@pytest.fixture(scope="session")
def messages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All messages that `make words` would find now."""
    file = tmp_path_factory.mktemp("words") / "leaklore.pot"
    done = run("pybabel", "-q", "extract", "-F", "babel.cfg", "-o", file, ".", cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return file
