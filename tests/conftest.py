"""The browser, one for a worker: Playwright's synchronous side can't be opened twice in a thread."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from chromium import CHROMIUM, FLAGS


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium. Where it is missing the tests fail; they don't skip."""
    assert Path(CHROMIUM).exists(), f"{CHROMIUM} is missing; run `make browser`"
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield made
        made.close()
