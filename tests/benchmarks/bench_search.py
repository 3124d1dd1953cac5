"""How fast the search is on a slow phone, beside independent searches over the same made-up cases.

    .venv/bin/python tests/benchmarks/bench_search.py [--library FOLDER] [--runs 3] [--json FILE]

A phone is Chromium at 390 x 844 with its CPU slowed four times, 150 ms to a server of static files, 1.6 Mbit/s down,
0.75 up and no cache. Every site has its own server, which gives text and index pieces gzipped. Sites and queries take
turns. Times run from the start of the navigation. Bytes are those of requests that are done by then, headers
counted; rounds are the longest chain of requests of which one began after the one before was answered. The mean load
of the machine stands beside: above 1.5 something else ran, and the figures are too high.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import asdict, dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from mimetypes import guess_type
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urlsplit
from urllib.request import urlopen

import yaml
from playwright.sync_api import Browser, CDPSession, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError
from rich.console import Console
from rich.table import Table

HERE = Path(__file__).resolve()
ROOT = HERE.parents[2]
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from synthetic import write_html_pages, write_library, write_plain_pages  # noqa: E402

from chromium import CHROMIUM, FLAGS  # noqa: E402
from site_fixture import BIN, ENVIRONMENT, write_config  # noqa: E402

PHONE = {"width": 390, "height": 844}
CPU = 4
NETWORK = {
    "offline": False, "latency": 150, "downloadThroughput": 1.6e6 / 8, "uploadThroughput": 0.75e6 / 8,
}  # fmt: skip
FREE = {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
MOST_BYTES, MOST_SECONDS, MOST_WARM = 110_000, 1.5, 50.0
"""Targets of the site: bytes and seconds to the first ranked answer, milliseconds of a warm query (95th percentile)."""
FLOOR_BYTES, FLOOR_REQUESTS = 89_000, 5
BUSY = 1.5
NEW, AGAIN = "CPU slowed, new pieces fetched", "CPU slowed, pieces at hand"
RANKED = "CPU slowed, causes and checks of a new query"
PATIENCE = 60_000
"""Milliseconds until a page counts as never answering; mkdocs-material fetches its whole index first."""

QUERIES = (
    "oil at flare nut minisplit",
    "R-410A split lost 2 kg in a year, no bubbles",
    "hissing in the ceiling void, low charge again after topping up",
    "rack in a food store, oil on the floor duct",
    "heat pump, coil turn green, formicary pinholes",
    "chiler shaft seal weeping, nothing at the relief valve",
)
"""Asked of every site: with and without figures, negated, long, and misspelt."""
GZIPPED = {".html", ".css", ".js", ".mjs", ".json", ".svg", ".xml", ".txt", ".bin", ".yaml", ".csv", ".map"}
TYPES = {".mjs": "text/javascript", ".js": "text/javascript", ".bin": "application/octet-stream"}

PAGEFIND_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Peer</title><link rel="icon" href="data:,"><script type="module">
import * as pagefind from "./pagefind/pagefind.js";
await pagefind.options({ noWorker: true });
await pagefind.init();
window.find = async (text) => {
  const found = await pagefind.search(text);
  return Promise.all(found.results.slice(0, 10).map((r) => r.data()));
};
const said = new URLSearchParams(location.search).get("q");
for (const hit of await window.find(said)) {
  const line = document.createElement("p");
  line.innerHTML = hit.excerpt;
  document.body.append(line);
}
performance.mark("answered");
</script></head><body></body></html>
"""
FLOOR_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Floor</title><link rel="icon" href="data:,"><script type="module">
const parts = await Promise.all([%s].map(async (i) => (await fetch(`part${i}.dat`)).arrayBuffer()));
document.body.textContent = parts.reduce((sum, part) => sum + part.byteLength, 0);
performance.mark("answered");
</script></head><body></body></html>
"""
MATERIAL_WATCH = """addEventListener("DOMContentLoaded", () => {
  const watch = new MutationObserver(() => {
    if (!document.querySelector(".md-search-result__list .md-search-result__item")) return;
    watch.disconnect();
    performance.mark("answered");
  });
  watch.observe(document.body, { childList: true, subtree: true });
});"""
WARM = """async ([texts, name]) => {
  const find = name.split(".").reduce((at, key) => at[key], window);
  const rounds = [];
  for (let round = 0; round < 2; round += 1) {
    const out = [];
    for (const text of texts) {
      const start = performance.now();
      await find(text);
      out.push(performance.now() - start);
    }
    rounds.push(out);
  }
  return rounds;
}"""
"""Milliseconds of each query, and again when all pieces of the index are at hand."""


# ---------------------------------------------------------------------------------------------- serving


class Files:
    """A folder in memory, compressed where a host would; filled when first asked."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept: dict[str, tuple[bytes, bool] | None] = {}

    def get(self, path: str) -> tuple[bytes, bool] | None:
        """Bytes of the body and whether they are gzipped; None where there is no such file."""
        if path not in self._kept:
            file = self.folder / (path + "index.html" if path.endswith("/") or not path else path)
            self._kept[path] = self._read(file) if file.is_file() else None
        return self._kept[path]

    @staticmethod
    def _read(file: Path) -> tuple[bytes, bool]:
        body = file.read_bytes()
        return (gzip.compress(body, 9, mtime=0), True) if file.suffix in GZIPPED else (body, False)


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """Address of a server of static files with connections that stay open."""
    files = Files(folder)

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True
        wbufsize = -1

        def do_GET(self) -> None:
            path = unquote(urlsplit(self.path).path).lstrip("/")
            found = files.get(path)
            body, packed = found or (b"", False)
            self.send_response(200 if found else 404)
            name = Path(path or "index.html").name if not path.endswith("/") else "index.html"
            kind = TYPES.get(Path(name).suffix) or guess_type(name)[0] or "application/octet-stream"
            self.send_header("Content-Type", kind + ("; charset=utf-8" if kind.startswith("text/") else ""))
            if packed:
                self.send_header("Content-Encoding", "gzip")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            with suppress(BrokenPipeError, ConnectionResetError):  # the page was left before its end
                self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    server.block_on_close = False
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()


# ---------------------------------------------------------------------------------------------- sites


def command(*words: str | Path, cwd: Path) -> float:
    """Seconds that a command took; what it says is printed where it fails."""
    start = time.perf_counter()
    done = subprocess.run(
        [str(BIN / words[0]), *map(str, words[1:])], cwd=cwd, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )  # fmt: skip
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, words))} failed:\n{done.stdout}{done.stderr}")
    return time.perf_counter() - start


def make_ours(folder: Path, library: Path) -> float:
    """Leaklore's own build."""
    return command("leaklore", "build", "--config", write_config(folder, library), cwd=folder)


def make_pagefind(folder: Path, library: Path) -> float:
    """Plain HTML pages, indexed, and a bare page that asks."""
    write_html_pages(library, folder / "site")
    seconds = command("python", "-m", "pagefind", "--site", folder / "site", cwd=folder)
    (folder / "site" / "index.html").write_text(PAGEFIND_PAGE, "utf-8")
    return seconds


def make_material(folder: Path, library: Path) -> float:
    """The same pages as Markdown; its menu holds only the first, as a menu of all would weigh down every page."""
    write_plain_pages(library, folder / "docs")
    config = {
        "site_name": "Leak cases", "theme": {"name": "material", "font": False}, "nav": ["index.md"], "plugins": ["search"],
    }  # fmt: skip
    (folder / "mkdocs.yml").write_text(yaml.safe_dump(config), "utf-8")
    return command("mkdocs", "build", "--quiet", "--config-file", folder / "mkdocs.yml", cwd=folder)


def make_floor(folder: Path, library: Path) -> float:
    """A page that does nothing but fetch; what it fetches can't be compressed."""
    start = time.perf_counter()
    (folder / "site").mkdir(parents=True)
    part = random.Random("floor")
    for i in range(FLOOR_REQUESTS):
        (folder / "site" / f"part{i}.dat").write_bytes(part.randbytes(FLOOR_BYTES // FLOOR_REQUESTS))
    numbers = ", ".join(map(str, range(FLOOR_REQUESTS)))
    (folder / "site" / "index.html").write_text(FLOOR_PAGE % numbers, "utf-8")
    return time.perf_counter() - start


@dataclass(frozen=True, slots=True)
class Site:
    """How a site is made and asked; `marks`: what it says when, `warm`: the function that answers in an open page,
    `rank` the one that gives what needs no index.

    `heavy` is the file to be had compressed beforehand where an unmeasured opening would take minutes.
    """

    name: str
    make: Callable[[Path, Path], float]
    path: str
    marks: tuple[str, ...]
    warm: str = ""
    rank: str = ""
    watch: str = ""
    queries: int = len(QUERIES)
    patience: int = PATIENCE
    heavy: str = ""


OURS, PAGEFIND, MATERIAL, FLOOR = "Leaklore", "Pagefind", "mkdocs-material", "floor"
SITES = (
    Site(
        OURS,
        make_ours,
        "search/?q=",
        ("leaklore-ranked", "leaklore-answered"),
        warm="leaklore.find",
        rank="leaklore.advise",
    ),
    Site(PAGEFIND, make_pagefind, "?q=", ("answered",), warm="find"),
    Site(FLOOR, make_floor, "?q=", ("answered",), queries=2),
    Site(
        MATERIAL,
        make_material,
        "?q=",
        ("answered",),
        watch=MATERIAL_WATCH,
        queries=1,
        patience=10 * PATIENCE,
        heavy="search/search_index.json",
    ),
)
FIRST = {
    "leaklore-ranked": "causes and checks", "leaklore-answered": "cases", "answered": "first hits",
}  # fmt: skip


def prepared(folder: Path, reuse: bool, make: Callable[[Path], float]) -> tuple[float, bool]:
    """Seconds of making, and whether they are those of an earlier run whose folder stands."""
    note = folder / "seconds.json"
    if reuse and note.exists():
        return float(json.loads(note.read_text("utf-8"))), True
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    seconds = make(folder)
    note.write_text(json.dumps(seconds), "utf-8")
    return seconds, False


# ---------------------------------------------------------------------------------------------- measuring


@dataclass(slots=True)
class Asked:
    """A request: seconds of the browser's clock, and bytes over the wire."""

    url: str
    sent: float
    answered: float | None = None
    done: float | None = None
    size: int = 0


@dataclass(frozen=True, slots=True)
class Seen:
    """Until a mark: seconds, bytes and number of requests done, rounds; `files` [(path, sent, answered, done, bytes)]."""

    site: str
    mark: str
    query: str
    seconds: float
    bytes: int
    requests: int
    rounds: int
    load: float
    files: tuple[tuple[str, float, float, float, int], ...] = field(repr=False)


class Wire:
    """What the browser says of its requests."""

    def __init__(self, cdp: CDPSession) -> None:
        self.asked: dict[str, Asked] = {}
        self.began = 0.0
        self.ahead = 0.0
        cdp.on("Network.requestWillBeSent", self._sent)
        cdp.on("Network.responseReceived", self._answered)
        cdp.on("Network.loadingFinished", self._done)

    def _sent(self, e: dict[str, Any]) -> None:
        if not e["request"]["url"].startswith("http"):
            return
        if not self.asked:
            self.began, self.ahead = e["timestamp"], e["wallTime"] - e["timestamp"]
        self.asked[e["requestId"]] = Asked(e["request"]["url"], e["timestamp"])

    def _answered(self, e: dict[str, Any]) -> None:
        if e["requestId"] in self.asked:
            self.asked[e["requestId"]].answered = e["timestamp"]

    def _done(self, e: dict[str, Any]) -> None:
        if e["requestId"] in self.asked:
            one = self.asked[e["requestId"]]
            one.done, one.size = e["timestamp"], int(e["encodedDataLength"])

    def until(self, origin: float, milliseconds: float) -> list[Asked]:
        """Requests done by a mark; `origin` is the page's performance.timeOrigin."""
        limit = origin / 1000 - self.ahead + milliseconds / 1000
        return [a for a in self.asked.values() if a.done is not None and a.done <= limit]


def rounds(asked: Sequence[Asked]) -> int:
    """Length of the longest chain in which each request was sent after the one before was answered."""
    deep: list[tuple[float, int]] = []
    for one in sorted(asked, key=lambda a: a.sent):
        before = max((d for at, d in deep if at <= one.sent), default=0)
        deep.append((one.answered or one.sent, before + 1))
    return max((d for _, d in deep), default=0)


@contextmanager
def phone(browser: Browser, network: Mapping[str, Any] | None) -> Iterator[tuple[Page, CDPSession]]:
    """A new, slowed page with an empty cache; `network` None: at full speed."""
    context = browser.new_context(viewport=PHONE, device_scale_factor=2, is_mobile=True, has_touch=True)
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    cdp = context.new_cdp_session(page)
    cdp.send("Network.enable")
    if network:
        cdp.send("Network.setCacheDisabled", {"cacheDisabled": True})
        cdp.send("Network.emulateNetworkConditions", dict(network))
        cdp.send("Emulation.setCPUThrottlingRate", {"rate": CPU})
    try:
        yield page, cdp
    finally:
        context.close()


def wait_for(page: Page, site: Site, faults: Sequence[str]) -> None:
    """Waits for a site's last mark; what went wrong instead ends the command."""
    done = "(name) => performance.getEntriesByName(name).length"
    try:
        page.wait_for_function(done, arg=site.marks[-1], polling=500, timeout=site.patience)
    except PlaywrightError as fault:
        raise SystemExit(
            f"{site.name} never said {site.marks[-1]}. {'; '.join(faults[:3])}\n{fault}"
        ) from fault


def opened(
    browser: Browser, site: Site, base: str, query: str, network: Mapping[str, Any] | None
) -> list[Seen]:
    """What it took until each mark of a site, when a query's address is opened."""
    with phone(browser, network) as (page, cdp):
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.on("response", lambda r: faults.append(f"{r.url}: {r.status}") if r.status >= 400 else None)
        if site.watch:
            page.add_init_script(site.watch)
        wire = Wire(cdp)
        page.goto(base + site.path + quote(query), wait_until="commit", timeout=site.patience)
        wait_for(page, site, faults)
        told = "(names) => [performance.timeOrigin, ...names.map((n) => performance.getEntriesByName(n)[0].startTime)]"
        origin, *at = page.evaluate(told, list(site.marks))
        load = os.getloadavg()[0]
        out = []
        for mark, milliseconds in zip(site.marks, at, strict=True):
            done = wire.until(origin, milliseconds)
            rows = tuple(
                (a.url.removeprefix(base), *(round(t - wire.began, 4) for t in (a.sent, a.answered or a.sent, a.done or a.sent)), a.size)
                for a in sorted(done, key=lambda a: a.sent)
            )  # fmt: skip
            size = sum(a.size for a in done)
            out.append(
                Seen(site.name, mark, query, milliseconds / 1000, size, len(done), rounds(done), load, rows)
            )
        return out


def warm(
    browser: Browser, site: Site, base: str, texts: Sequence[str], network: Mapping[str, Any], answers: str
) -> list[list[float]]:
    """Milliseconds of each query, one after another, in a page that is open, and of each again; the CPU is slowed."""
    with phone(browser, FREE) as (page, cdp):
        page.goto(base + site.path + quote(QUERIES[0]))
        wait_for(page, site, [])
        cdp.send("Network.emulateNetworkConditions", dict(network))
        found: list[list[float]] = page.evaluate(WARM, [list(texts), answers])
        return found


def percentile(values: Sequence[float], share: float) -> float:
    """Smallest value that at least this share of the values doesn't exceed."""
    ordered = sorted(values)
    return ordered[max(0, -(-len(ordered) * round(share * 100) // 100) - 1)]


def warm_texts(n: int) -> list[str]:
    """Queries of the judged ones, evenly from the whole list."""
    files = sorted((ROOT / "tests" / "search" / "judged").glob("*.yaml"))
    every = [row["q"] for file in files for row in yaml.safe_load(file.read_text("utf-8"))]
    return [every[i * len(every) // n] for i in range(n)]


def quiet(limit: float) -> None:
    """Waits until the machine is idle enough, at most `limit` seconds."""
    end = time.monotonic() + limit
    while os.getloadavg()[0] > BUSY and time.monotonic() < end:
        time.sleep(2)


# ---------------------------------------------------------------------------------------------- telling


@dataclass(frozen=True, slots=True)
class Summary:
    """Median, and least to most, over runs and queries."""

    site: str
    mark: str
    n: int
    seconds: tuple[float, float, float]
    bytes: tuple[float, float, float]
    requests: tuple[float, float, float]
    rounds: tuple[float, float, float]
    load: tuple[float, float, float]


def spread(values: Sequence[float]) -> tuple[float, float, float]:
    """Median, least, most."""
    return statistics.median(values), min(values), max(values)


def summed(seen: Sequence[Seen]) -> list[Summary]:
    """One row for each site and mark."""
    rows: dict[tuple[str, str], list[Seen]] = defaultdict(list)
    for one in seen:
        rows[one.site, one.mark].append(one)
    return [
        Summary(
            *key, len(found),
            *(spread([getattr(s, name) for s in found]) for name in ("seconds", "bytes", "requests", "rounds", "load")),
        )
        for key, found in rows.items()
    ]  # fmt: skip


def told(values: tuple[float, float, float], form: str = ".2f", scale: float = 1.0) -> str:
    """`median (least to most)`."""
    a, b, c = (format(v / scale, form) for v in values)
    return a if b == c else f"{a} ({b} to {c})"


def verdict(value: float, most: float) -> str:
    """Of a target."""
    return "met" if value <= most else "missed"


def table_of(rows: Sequence[Summary]) -> Table:
    """First answers."""
    table = Table(title="From the address to an answer, nothing cached: median (least to most)")
    for head in ("site", "until", "n", "s", "kB over the wire", "requests", "rounds", "load"):
        table.add_column(head)
    for r in rows:
        table.add_row(
            r.site, FIRST[r.mark], str(r.n), told(r.seconds), told(r.bytes, ".1f", 1000), told(r.requests, "g"),
            told(r.rounds, "g"), told(r.load, ".1f"),
        )  # fmt: skip
    return table


def ratios(rows: Sequence[Summary]) -> Table:
    """Every other site as a multiple of ours."""
    ours = [r for r in rows if r.site == OURS]
    table = Table(title="As multiples of ours (medians)")
    for head in ("site", "against our", "time", "bytes", "requests"):
        table.add_column(head)
    for other in (r for r in rows if r.site != OURS):
        for mine in ours:
            parts = [
                f"{getattr(other, k)[0] / getattr(mine, k)[0]:.2f}" for k in ("seconds", "bytes", "requests")
            ]
            table.add_row(other.site, FIRST[mine.mark], *parts)
    return table


def weights(seen: Sequence[Seen], mark: str) -> Table:
    """Where bytes and time go: one opening of ours, file by file."""
    found = sorted((s for s in seen if s.mark == mark), key=lambda s: s.seconds)
    one = found[len(found) // 2]
    table = Table(title=f"Ours until {FIRST[mark]} ({one.seconds:.2f} s), file by file: {one.query}")
    for head in ("file", "sent s", "answered s", "done s", "bytes"):
        table.add_column(head)
    for name, sent, answered, done, size in one.files:
        table.add_row(name.partition("?")[0], f"{sent:.2f}", f"{answered:.2f}", f"{done:.2f}", str(size))
    return table


# ---------------------------------------------------------------------------------------------- the command


def options(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """The command's options."""
    ask = argparse.ArgumentParser(description="Measure the search beside independent ones.")
    ask.add_argument("--library", type=Path, help="library to use; without it one is made")
    ask.add_argument("--cases", type=int, default=10_000, help="cases of the library that is made")
    ask.add_argument("--peer-cases", type=int, help="cases that mkdocs-material gets, if fewer")
    ask.add_argument(
        "--scratch", type=Path, default=Path("/dev/shm/leaklore-bench"), help="folder for all that is made"
    )
    ask.add_argument("--reuse", action="store_true", help="take what an earlier run left in --scratch")
    ask.add_argument("--keep", action="store_true", help="leave --scratch for a later run")
    ask.add_argument("--only", nargs="+", choices=[s.name for s in SITES], help="these sites only")
    ask.add_argument("--queries", type=int, default=len(QUERIES), help="the first so many queries")
    ask.add_argument("--runs", type=int, default=3, help="openings of each query")
    ask.add_argument("--warm", type=int, default=30, help="queries in an open page")
    ask.add_argument(
        "--wait", type=float, default=60, help="most seconds to wait for a quiet machine before a run"
    )
    ask.add_argument("--json", type=Path, help="file for all figures")
    return ask.parse_args(arguments)


def measure(
    asked: argparse.Namespace, sites: Mapping[Site, str], say: Console
) -> tuple[list[Seen], dict[tuple[str, str], list[float]]]:
    """Openings of all sites in turn, then queries in open pages."""
    seen: list[Seen] = []
    warmed: dict[tuple[str, str], list[float]] = defaultdict(list)
    texts = warm_texts(asked.warm) if asked.warm else []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        # Unmeasured, so that the servers have everything in memory, compressed.
        for site, base in sites.items():
            if site.heavy:
                with urlopen(base + site.heavy) as reply:
                    reply.read()
                continue
            for query in QUERIES[: min(site.queries, asked.queries)]:
                opened(browser, site, base, query, None)
        for run in range(asked.runs):
            quiet(asked.wait)
            for i, query in enumerate(QUERIES[: asked.queries]):
                turn = [s for s in sites if i < s.queries]
                for site in turn[run % len(turn) :] + turn[: run % len(turn)]:
                    seen += opened(browser, site, sites[site], query, NETWORK)
            say.print(f"run {run + 1} of {asked.runs}, load {os.getloadavg()[0]:.1f}")
            if not texts:
                continue
            for site in (s for s in sites if s.warm):
                for name, network in ((NEW, FREE), ("CPU and network slowed", NETWORK)):
                    if name == NEW or not run:
                        new, again = warm_slowed(browser, site, sites[site], texts, network)
                        warmed[site.name, name] += new
                        if name == NEW:
                            warmed[site.name, AGAIN] += again
                if site.rank:
                    warmed[site.name, RANKED] += warm(browser, site, sites[site], texts, FREE, site.rank)[0]
        browser.close()
    return seen, warmed


def warm_slowed(
    browser: Browser, site: Site, base: str, texts: Sequence[str], network: Mapping[str, Any]
) -> list[list[float]]:
    """As `warm`, after an unmeasured round in a page of its own that fills the server's memory."""
    warm(browser, site, base, texts, FREE, site.warm)
    return warm(browser, site, base, texts, network, site.warm)


def main() -> None:
    """The command; ends with status 1 where one of the targets is missed."""
    asked = options()
    say = Console(width=150)
    scratch: Path = asked.scratch
    library = asked.library or scratch / "library"
    if not asked.library:
        prepared(scratch / "made", asked.reuse, lambda _: _make_library(library, asked.cases))
    cases = len(list((library / "records").glob("*/*.yaml")))
    smaller = library
    if asked.peer_cases and asked.peer_cases < cases:
        smaller = scratch / "smaller"
        prepared(scratch / "made-smaller", asked.reuse, lambda _: _make_library(smaller, asked.peer_cases))
        say.print(f"mkdocs-material gets {asked.peer_cases} cases only.")
    say.print(f"{cases} cases, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    building: dict[str, float] = {}
    with ExitStack() as stack:
        sites: dict[Site, str] = {}
        for site in SITES:
            if asked.only and site.name not in asked.only:
                continue
            source = smaller if site.name == MATERIAL else library
            make = site.make
            building[site.name], old = prepared(
                scratch / site.name, asked.reuse, lambda at, make=make, source=source: make(at, source)
            )
            say.print(
                f"{site.name}: built in {building[site.name]:.1f} s{', in an earlier run' if old else ''}"
            )
            sites[site] = stack.enter_context(serving(scratch / site.name / "site"))
        seen, warmed = measure(asked, sites, say)
    missed = tell(say, seen, warmed)
    if asked.json:
        rows = {f"{site}, {name}": values for (site, name), values in warmed.items()}
        whole = {
            "cases": cases, "building": building, "summary": [asdict(r) for r in summed(seen)],
            "openings": [asdict(s) for s in seen], "warm_ms": rows,
        }  # fmt: skip
        asked.json.write_text(json.dumps(whole, indent=1), "utf-8")
    if not asked.keep and not asked.reuse:
        shutil.rmtree(scratch)
    raise SystemExit(1 if missed else 0)


def _make_library(folder: Path, cases: int) -> float:
    start = time.perf_counter()
    shutil.rmtree(folder, ignore_errors=True)
    write_library(folder, cases, 7)
    return time.perf_counter() - start


def tell(say: Console, seen: Sequence[Seen], warmed: Mapping[tuple[str, str], Sequence[float]]) -> int:
    """Prints tables and targets; number of targets that are missed."""
    rows = summed(seen)
    say.print(table_of(rows))
    if any(r.site == OURS for r in rows) and len({r.site for r in rows}) > 1:
        say.print(ratios(rows))
    table = Table(title="Queries in an open page, each a new one: ms")
    for head in ("site", "slowed", "n", "p50", "p95", "most"):
        table.add_column(head)
    for (site, name), values in warmed.items():
        figures = (percentile(values, 0.5), percentile(values, 0.95), max(values))
        table.add_row(site, name, str(len(values)), *(f"{v:.1f}" for v in figures))
    if warmed:
        say.print(table)
    mine = [s for s in seen if s.site == OURS]
    for mark in ("leaklore-ranked", "leaklore-answered") if mine else ():
        say.print(weights(mine, mark))
    say.print(
        "Pagefind works in a worker by default, which the slowing of CPU and network doesn't reach; here it works in "
        "the page (noWorker).\nmkdocs-material indexes and ranks in a worker: its CPU is not slowed, its download of "
        "the index is; the worker's own script is not counted."
    )
    targets: list[tuple[str, float, float, str]] = []
    for r in rows:
        if r.mark == "leaklore-ranked":
            targets += [
                ("kB to the first ranked answer", r.bytes[0] / 1000, MOST_BYTES / 1000, ".1f"),
                ("seconds to the first ranked answer", r.seconds[0], MOST_SECONDS, ".2f"),
            ]
    for name in (RANKED, AGAIN):
        if (OURS, name) in warmed:
            p95 = percentile(warmed[OURS, name], 0.95)
            targets.append((f"ms of a warm query, 95th percentile ({name})", p95, MOST_WARM, ".1f"))
    for name, value, most, form in targets:
        say.print(f"{verdict(value, most)}: {value:{form}} {name} (target {most:g})")
    return sum(value > most for _, value, most, _ in targets)


if __name__ == "__main__":
    main()
