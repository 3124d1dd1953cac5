"""The browser's side of the search: js/ and the pieces of an index behind a small server, and Chromium that asks."""

from __future__ import annotations

import json
import threading
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Page, sync_playwright

from twins.browser import ARGS, JS

TYPES = {".mjs": "text/javascript", ".json": "application/json"}
START = """
import { Engine } from "/search/find.mjs";

const ROOT = "/data/search/";

async function fetchPiece(path, kind, { fresh = false } = {}) {
  const answer = await fetch(`${ROOT}${path}${fresh ? "?fresh" : ""}`, { cache: "no-store" });
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  return kind === "json" ? answer.json() : answer.arrayBuffer();
}

export async function engine() {
  return new Engine(await (await fetch(`${ROOT}model.json`)).json(), fetchPiece);
}
"""
ASK = """async (calls) => {
  const { engine } = await import("/start.mjs");
  const made = await engine();
  const out = [];
  for (const [text, options] of JSON.parse(calls)) {
    try {
      out.push([made.advise(text, options), await made.find(text, options)]);
    } catch (fault) {
      out.push({ $refused: fault.message, stack: fault.stack });
    }
  }
  return JSON.stringify(out);
}"""


class Pieces:
    """What the server gives: `files` by path, `changed` in their place unless asked for fresh, `asked` how often."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self.files = files
        self.changed: dict[str, bytes] = {}
        self.fresh: dict[str, bytes] = {}
        self.asked: Counter[str] = Counter()

    def content(self, address: str) -> bytes | None:
        """Bytes at an address of the server."""
        parts = urlsplit(address)
        path = parts.path.lstrip("/")
        if path == "":
            return b"<!doctype html><title>search</title>"
        if path == "start.mjs":
            return START.encode()
        if path.startswith("data/search/"):
            self.asked[f"{path}?{parts.query}" if parts.query else path] += 1
            instead = self.fresh if parts.query == "fresh" else self.changed
            return instead.get(path, self.files.get(path))
        file = JS / path
        return file.read_bytes() if file.is_file() else None


@contextmanager
def serving(pieces: Pieces) -> Iterator[str]:
    """Address of a server of these pieces."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = pieces.content(self.path)
            self.send_response(200 if body is not None else 404)
            name = PurePosixPath(urlsplit(self.path).path)
            self.send_header(
                "Content-Type",
                TYPES.get(name.suffix, "text/html" if name.name == "" else "application/octet-stream"),
            )
            self.send_header("Content-Length", str(len(body or b"")))
            self.end_headers()
            self.wfile.write(body or b"")

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class Searcher:
    """Chromium with an empty page beside the pieces; in a thread of its own, so that other tests' browsers don't mind."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self.pieces = Pieces(files)
        self._thread = ThreadPoolExecutor(1)
        self._open = ExitStack()
        self._page: Page | None = None

    def _start(self) -> Page:
        address = self._open.enter_context(serving(self.pieces))
        play = self._open.enter_context(sync_playwright())
        chromium = play.chromium.launch(executable_path="/usr/bin/chromium", args=ARGS)
        self._open.callback(chromium.close)
        page = chromium.new_page()
        page.goto(address)
        return page

    def _run(self, script: str, argument: str) -> Any:
        self._page = self._page or self._start()
        return json.loads(self._page.evaluate(script, argument))

    def run(self, script: str, argument: Any) -> Any:
        """What a function of the page's makes of an argument; both go as JSON."""
        return self._thread.submit(self._run, script, json.dumps(argument)).result()

    def asked(self, calls: list[Any]) -> list[Any]:
        """[what advise says, what find says] for each [text, options], by one new engine."""
        found: list[Any] = self.run(ASK, calls)
        return found

    def close(self) -> None:
        """Chromium, playwright and server, in this order."""
        self._thread.submit(self._open.close).result()
        self._thread.shutdown()
