"""Debian's Chromium: how every test starts it, a small server beside it, and a page in a thread of its own."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, ExitStack, contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

SHELL, BROWSER = "/usr/bin/chromium-headless-shell", "/usr/bin/chromium"
CHROMIUM = SHELL if Path(SHELL).exists() else BROWSER
"""The same engine without a window's furniture, where Debian has it: tests take half the time."""
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def listening(handler: Callable[..., BaseHTTPRequestHandler]) -> Iterator[str]:
    """Address of a server that answers by `handler`."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class EmptyPage:
    """Chromium with an empty page of a server, started when first asked.

    It lives in a thread of its own, so that a browser of other tests doesn't mind.
    """

    def __init__(self, served: Callable[[], AbstractContextManager[str]]) -> None:
        self._served = served
        self._thread = ThreadPoolExecutor(1)
        self._open = ExitStack()
        self._page: Page | None = None

    def _start(self) -> Page:
        address = self._open.enter_context(self._served())
        play = self._open.enter_context(sync_playwright())
        chromium = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        self._open.callback(chromium.close)
        page = chromium.new_page()
        page.goto(address)
        return page

    def _run(self, script: str, argument: Any) -> Any:
        self._page = self._page or self._start()
        return json.loads(self._page.evaluate(script, argument))

    def run(self, script: str, argument: Any) -> Any:
        """What a function of the page's makes of an argument; it answers in JSON."""
        return self._thread.submit(self._run, script, argument).result()

    def close(self) -> None:
        """Chromium, playwright and server, in this order."""
        self._thread.submit(self._open.close).result()
        self._thread.shutdown()
