"""The browser's side of the search: js/ and the pieces of an index behind a small server, and Chromium that asks."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import urlsplit

from chromium import EmptyPage, listening
from leaklore.analysis.evidence import Evidence
from twins.browser import JS

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

    with listening(Handler) as address:
        yield address


class Searcher(EmptyPage):
    """The empty page beside the pieces."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self.pieces = Pieces(files)
        super().__init__(lambda: serving(self.pieces))

    def run(self, script: str, argument: Any) -> Any:
        """What a function of the page's makes of an argument; both go as JSON."""
        return super().run(script, json.dumps(argument))

    def asked(self, calls: list[Any]) -> list[Any]:
        """[what advise says, what find says] for each [text, options], by one new engine."""
        found: list[Any] = self.run(ASK, calls)
        return found


def as_browser(evidence: Evidence) -> dict[str, Any]:
    """Evidence as the browser's module gives it."""
    return {
        "symptoms": sorted(evidence.symptoms),
        "absent": sorted(evidence.absent),
        "conditions": sorted(evidence.conditions),
        "kinds": list(evidence.kinds),
        **{
            name: getattr(evidence, name)
            for name in ("setting", "refrigerant", "age", "rate", "charge", "share")
        },
        "places": [list(keys) for keys in evidence.places],
        "notPlaces": [list(keys) for keys in evidence.not_places],
        "named": sorted(evidence.named),
        "ruledOut": sorted(evidence.ruled_out),
        "checks": [{"technique": c.technique, "at": list(c.at), "result": c.result} for c in evidence.checks],
    }
