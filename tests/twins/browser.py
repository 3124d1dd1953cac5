"""The browser's side: a small server over site_overrides/js, and Chromium that answers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import partial
from http.server import SimpleHTTPRequestHandler
from pathlib import Path
from typing import Any, ClassVar

from chromium import EmptyPage, listening

JS = Path(__file__).parents[2] / "site_overrides" / "js"
HARNESS = Path(__file__).with_name("harness.mjs")
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


ASK = """async ([content, name, calls]) => {
  const { answers } = await import("/harness.mjs");
  return JSON.stringify(answers(JSON.parse(content), name, JSON.parse(calls)));
}"""


class Browser(EmptyPage):
    """The empty page beside site_overrides/js."""

    def __init__(self) -> None:
        super().__init__(lambda: listening(partial(_Handler, directory=str(JS))))

    def asked(self, content: Mapping[str, Any], questions: Mapping[str, list[Any]]) -> Answers:
        """Answers by the name of the computation, one for each set of arguments, from `content` as trade.json."""
        text = json.dumps(content, allow_nan=False)
        return {name: self.run(ASK, [text, name, json.dumps(calls)]) for name, calls in questions.items()}
