"""A few walks of the monkey in every run; `make soak` has two thousand."""

from __future__ import annotations

import sys

import pytest
from playwright.sync_api import Browser

from site_fixture import ROOT

sys.path.append(str(ROOT / "tests" / "soak"))

from monkey import walk


@pytest.mark.parametrize("seed", range(5))
def test_a_walk_at_random_finds_nothing_broken(browser: Browser, address: str, seed: int) -> None:
    faults = walk(browser, address, 10_000 + seed, steps=6)
    assert not faults, "\n".join(map(str, faults))
