"""The browser's side: a small server over site_overrides/js, and Chromium that answers."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, ClassVar

from playwright.sync_api import Page, sync_playwright

JS = Path(__file__).parents[2] / "site_overrides" / "js"
HARNESS = Path(__file__).with_name("harness.mjs")
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
Answers = dict[str, list[Any]]


class _Handler(SimpleHTTPRequestHandler):
    """site_overrides/js, with an empty page and the harness beside it."""

    extensions_map: ClassVar[dict[str, str]] = {".mjs": "text/javascript", "": "application/octet-stream"}

    def translate_path(self, path: str) -> str:
        """The harness lies with the tests."""
        return str(HARNESS) if path == "/harness.mjs" else super().translate_path(path)

    def do_GET(self) -> None:
        """The page itself is made here; Chromium's own icon request too."""
        if self.path in ("/", "/favicon.ico"):
            body = b"<!doctype html><title>twins</title>"
            self.send_response(200)
            self.send_header("Content-Type", "text/html; charset=utf-8")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)
        else:
            super().do_GET()

    def log_message(self, format: str, *args: object) -> None:
        """Says nothing."""


@contextmanager
def _served() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Handler, directory=str(JS)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


ASK = """async ([content, name, calls]) => {
  const { answers } = await import("/harness.mjs");
  return JSON.stringify(answers(JSON.parse(content), name, JSON.parse(calls)));
}"""


class Browser:
    """Chromium with an empty page, started when first asked.

    It lives in a thread of its own, so that a browser of other tests doesn't mind.
    """

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1)
        self._open = ExitStack()
        self._page: Page | None = None

    def _start(self) -> Page:
        address = self._open.enter_context(_served())
        play = self._open.enter_context(sync_playwright())
        chromium = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        self._open.callback(chromium.close)
        page = chromium.new_page()
        page.goto(address)
        return page

    def _asked(self, content: str, questions: Mapping[str, list[Any]]) -> Answers:
        self._page = self._page or self._start()
        return {
            name: json.loads(self._page.evaluate(ASK, [content, name, json.dumps(calls)]))
            for name, calls in questions.items()
        }

    def asked(self, content: Mapping[str, Any], questions: Mapping[str, list[Any]]) -> Answers:
        """Answers by the name of the computation, one for each set of arguments, from `content` as trade.json."""
        text = json.dumps(content, allow_nan=False)
        return self._thread.submit(self._asked, text, questions).result()

    def close(self) -> None:
        """Chromium, playwright and server, in this order."""
        self._thread.submit(self._open.close).result()
        self._thread.shutdown()
