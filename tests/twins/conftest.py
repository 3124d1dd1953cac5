"""Fixtures of the twins: the data that Python wrote, and the browser's answers to all calls."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from analysis.builders import demo
from leaklore.pages import trade_data
from twins.browser import Answers, Browser
from twins.codec import for_browser
from twins.every import TWINS


@pytest.fixture(scope="session")
def content() -> dict[str, Any]:
    """data/trade.json of the demo library."""
    return trade_data.trade_json(demo().guide)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One for all tests."""
    found = Browser()
    yield found
    found.close()


@pytest.fixture(scope="session")
def answers(browser: Browser, content: dict[str, Any]) -> Answers:
    """The browser's answers to all calls of all twins."""
    return browser.asked(content, {name: for_browser(twin.calls()) for name, twin in TWINS.items()})
