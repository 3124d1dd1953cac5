"""The demo site in WebKit and in Firefox, whose engines the test suite does not start: Debian's WebKitGTK is near to what
iPhones have.

    .venv/bin/python tests/engines/walk.py [--engine webkit] [--site site] [--pictures FOLDER]

Each kind of page has to open without a fault of a script, a refused load or anything wider than the window, also after
everything on it was pressed. The search answers and goes on after a check; the record form keeps words and a photo; and
without the server what was kept opens. Each fault is told; exit status 1 if there was one.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from http.server import SimpleHTTPRequestHandler
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from chromium import listening
from engines.drive import ENGINES, Engine, Refused
from site_fixture import ROOT

SIZE = (500, 844)
"""As narrow as a WebKitGTK window goes."""
MOST = 3
"""Pages of a kind that are opened."""
RECORDER = b"""
window.faults = [];
addEventListener("error", (e) => faults.push(`fault: ${e.message ?? e.target.src ?? e.target.href}`), true);
addEventListener("unhandledrejection", (e) => faults.push(`rejected: ${e.reason?.stack ?? e.reason}`));
addEventListener("securitypolicyviolation", (e) => faults.push(`policy: ${e.violatedDirective} ${e.blockedURI}`));
for (const level of ["error", "warn"]) console[level] = (...said) => faults.push(`console: ${said.join(" ")}`);
"""
PRESS = """
const told = "button, summary, select, input";
const all = [...document.querySelector("main").querySelectorAll(told)].filter((e) => e.checkVisibility() && e.type !== "file");
const change = (e) => ["input", "change"].forEach((kind) => e.dispatchEvent(new Event(kind, { bubbles: true })));
for (const e of all.slice(0, 60)) {
  if (e.localName === "select") { e.selectedIndex = (e.selectedIndex + 1) % e.options.length; change(e); }
  else if (/text|search/.test(e.type)) { e.value = "12"; change(e); }
  else if (!/send|share|print|file/i.test(e.textContent)) e.click();
}
return all.length;
"""
TYPE = """
const [where, words] = arguments;
const found = document.querySelector(where);
found.value = words;
found.dispatchEvent(new Event("input", { bubbles: true }));
"""
CLEAN = 'return [...document.querySelectorAll("main button")].find((b) => b.checkVisibility() && b.textContent.trim() === "Clean")'
PHOTO = """
const input = [...document.querySelectorAll("[data-photo-input]")].at(-1);
fetch(arguments[0]).then((answer) => answer.blob()).then((blob) => {
  const chosen = new DataTransfer();
  chosen.items.add(new File([blob], "a.jpg", { type: blob.type }));
  input.files = chosen.files;
  input.dispatchEvent(new Event("change", { bubbles: true }));
});
"""
SEEN = 'return document.querySelector(".photo canvas")?.width > 300'
LISTENS = 'return document.querySelector("[data-record]")?.dataset.register'


def pages(site: Path) -> list[str]:
    """Addresses: a few of each folder, none of withdrawn numbers or of redirects."""
    kinds: dict[str, list[str]] = {}
    for file in sorted(site.rglob("index.html")):
        address = file.parent.relative_to(site).as_posix()
        if not re.search(r'http-equiv="?refresh', file.read_text("utf-8")[:2000]):
            kinds.setdefault(address.rpartition("/")[0], []).append("" if address == "." else f"{address}/")
    return sorted({a for kind, some in kinds.items() for a in (some[:MOST] if kind else some)})


class Server:
    """The site, with a recorder of faults in each page. `works` without its worker, it comes from here and not from the
    phone; `down`, it answers nothing."""

    def __init__(self, site: Path) -> None:
        self.site, self.works, self.down = site, False, False

    def handler(self) -> type[SimpleHTTPRequestHandler]:
        """Of its requests."""
        of = self

        class Handler(SimpleHTTPRequestHandler):
            def __init__(self, *given: object) -> None:
                super().__init__(*given, directory=str(of.site))  # type: ignore[arg-type]

            def log_message(self, *_: object) -> None:
                pass

            def do_GET(self) -> None:
                path = self.path.partition("?")[0]
                file = of.site / path.lstrip("/") / ("index.html" if path.endswith("/") else "")
                if of.down:
                    self.close_connection = True
                elif path == "/recorder.js":
                    self._send("text/javascript", RECORDER)
                elif path == "/worker.js" and not of.works:
                    self.send_error(404)
                elif file.suffix == ".html" and file.exists():
                    head, sep, rest = file.read_bytes().partition(b"<meta name=viewport")
                    self._send("text/html", head + b"<script src=/recorder.js></script>" + sep + rest)
                else:
                    super().do_GET()

            def _send(self, kind: str, body: bytes) -> None:
                self.send_response(200)
                self.send_header("Content-Type", f"{kind}; charset=utf-8")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

        return Handler


class Walk:
    """What an engine is asked to do; `faults` say what went wrong."""

    def __init__(self, engine: Engine, base: str, server: Server, pictures: Path | None) -> None:
        self.engine, self.base, self.server, self.pictures = engine, base, server, pictures
        self.faults: list[str] = []

    def open(self, path: str) -> None:
        """A page, at rest."""
        self.engine.tell("url", url=self.base + path)
        time.sleep(0.5)

    def look(self, path: str) -> None:
        """Faults of the page so far."""
        wide, told = self.engine.run(
            "return [document.documentElement.scrollWidth - innerWidth, window.faults ?? null]"
        )
        if told is None and not self.server.down:  # what the phone has kept is without a recorder
            told = ["no recorder"]
        self.faults += [f"{self.engine.name}: {path}: {fault}" for fault in told or ()]
        if wide > 0:
            self.faults.append(f"{self.engine.name}: {path}: {wide} pixels too wide")
        if self.pictures:
            name = re.sub(r"\W+", "-", f"{self.engine.name} {path}").strip("-").lower()
            (self.pictures / f"{name}.png").write_bytes(self.engine.picture())

    def every_page(self) -> None:
        """Opened, and all on it pressed."""
        for path in pages(self.server.site):
            self.open(path)
            self.engine.run(PRESS)
            time.sleep(0.7)
            self.look(path)

    def searches(self) -> None:
        """A question is understood, and a clean check leads to the next."""
        self.open("search/")
        self.engine.run(TYPE, "input[type=search]", "oil at the flare, mini split")
        self.engine.until('return document.querySelectorAll(".chip[data-kind]").length > 2')
        self.engine.until(CLEAN + " !== undefined")
        self.engine.run(CLEAN.replace("return ", "const b = ") + "; b.click()")
        self.engine.until('return location.search.includes("did=clean")')
        self.look("search/")

    def records(self) -> None:
        """Words and a photo are there after the page was opened anew."""
        photo = next((self.server.site / "photos").rglob("*-1280-*.jpg")).relative_to(self.server.site)
        self.open("record/")
        self.engine.until(LISTENS)
        self.engine.run(PHOTO, f"/{photo.as_posix()}")
        self.engine.until(SEEN)
        self.engine.run(TYPE, "main textarea", "Oil under the nut")
        time.sleep(2)
        self.look("record/")
        self.open("record/")
        self.engine.until(LISTENS)
        self.engine.until(SEEN)
        self.engine.until('return document.querySelector("main textarea").value === "Oil under the nut"')
        self.look("record/ again")

    def without_signal(self) -> None:
        """After a visit with signal the search and the bench open without the server."""
        self.server.works = True
        self.open("")
        self.engine.until("return navigator.serviceWorker.controller !== null")
        self.open("keep/")
        self.engine.until('return document.querySelector("main").textContent.includes("all here")', 60)
        self.server.down = True
        for path in ("search/?q=oil+at+the+flare", "bench/leak-rate/", "record/"):
            self.open(path)
            self.engine.until(
                'return document.querySelector("h1, h2") !== null && !document.title.includes("rror")'
            )
            self.look(f"{path} without signal")
        self.server.works = self.server.down = False


def walked(
    start: Callable[[], AbstractContextManager[Engine]], site: Path, pictures: Path | None
) -> Iterator[str]:
    """Faults of one engine."""
    server = Server(site)
    with listening(server.handler()) as base, start() as engine:
        walk = Walk(engine, base, server, pictures)
        engine.tell("rect", width=SIZE[0], height=SIZE[1], x=0, y=0)
        for part in (walk.every_page, walk.searches, walk.records, walk.without_signal):
            began = time.monotonic()
            try:
                part()
            except Refused as fault:
                walk.faults.append(f"{engine.name}: {part.__name__}: {fault}")
            print(f"{engine.name}: {part.__name__} {time.monotonic() - began:.0f} s", flush=True)
            yield from walk.faults
            walk.faults.clear()


def main() -> int:
    """The command."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--engine", choices=sorted(ENGINES), action="append")
    ask.add_argument("--site", type=Path, default=ROOT / "site")
    ask.add_argument("--pictures", type=Path)
    asked = ask.parse_args()
    count = 0
    for name in asked.engine or ENGINES:
        for fault in walked(ENGINES[name], asked.site, asked.pictures):
            count += 1
            print(fault, flush=True)
    print(f"{count} faults")
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main())
