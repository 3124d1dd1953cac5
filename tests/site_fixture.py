"""The demo site, built once a session and shared by the tests of the site and of the browser.

A build never touches the checkout's own site/: it gets an mkdocs.yml of its own in a temporary folder.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache, cached_property
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import unquote, urlsplit

import html5lib
import pytest
import yaml
from lxml import etree

ROOT = Path(__file__).parents[1]
BIN = Path(sys.executable).parent
LIBRARY = Path(__file__).parent / "records" / "library"
EPOCH = "1798718400"
"""31 December 2026, noon: later than any case of the demo, so that a build dates itself the same every day."""

ENVIRONMENT = {
    **{k: v for k, v in os.environ.items() if not k.startswith("COV_")},
    "SOURCE_DATE_EPOCH": EPOCH,
    "NO_MKDOCS_2_WARNING": "1",
    "PYTHONHASHSEED": "random",
}


def write_config(
    folder: Path, docs: Path, overrides: Path = ROOT / "site_overrides", **settings: object
) -> Path:
    """The checkout's mkdocs.yml, with `docs` as its library and `folder`/site as its site."""
    config = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))
    config |= {"docs_dir": str(docs), "site_dir": str(folder / "site"), **settings}
    config["theme"]["custom_dir"] = str(overrides)
    folder.mkdir(parents=True, exist_ok=True)
    charts, kept = folder / ".cache" / "charts", ROOT / ".cache" / "charts"
    if not charts.exists():
        charts.parent.mkdir(exist_ok=True)
        kept.mkdir(parents=True, exist_ok=True)
        charts.symlink_to(kept)  # drawn once for all builds
    file = folder / "mkdocs.yml"
    file.write_text(yaml.safe_dump(config, allow_unicode=True), "utf-8")
    return file


def run(*command: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Runs a command of the environment that the tests run in."""
    first, *rest = command
    return subprocess.run(
        [str(BIN / first), *map(str, rest)],
        cwd=cwd,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def leaklore_build(config: Path) -> subprocess.CompletedProcess[str]:
    """`leaklore build`, in the folder of its mkdocs.yml, until the site before is gone, too."""
    done = run("leaklore", "build", "--config", config, cwd=config.parent)
    rest(config.parent)
    return done


def rest(folder: Path) -> None:
    """Waits until nothing is done any more behind a build of this folder's site."""
    end = time.monotonic() + 30
    while (folder / "site.lock").exists() and time.monotonic() < end:
        time.sleep(0.01)


def mkdocs_build(config: Path) -> subprocess.CompletedProcess[str]:
    """`mkdocs build --strict`, in the folder of its mkdocs.yml."""
    return run("mkdocs", "build", "--strict", "--config-file", config, cwd=config.parent)


def built(config: Path) -> Path:
    """Builds and returns the site's folder; what the build says stands in the failure."""
    done = leaklore_build(config)
    assert done.returncode == 0, done.stderr
    return config.parent / "site"


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


FLARE = """id: KW-2025-099
title: Flare on a wall unit weeps after a second tightening
reported: 2025-04-03
closed: 2025-04-05
branch: Ketterwick
crew: K1
equipment: {setting: residential, kind: ductless-split, refrigerant: R-32, charge: 1.1 kg, installed: 2022-06}
symptoms: [short-of-charge, ice-on-coil]
not_seen: [visible-corrosion]
environment: {ambient: 4 degC, conditions: [low-ambient]}
charge: {lost: 0.4 kg, over: 14 months}
readings:
  - {at: indoor-flare, by: infrared-detector, value: 85 ppm, background: 1 ppm}
search:
  - {technique: visual, at: [outdoor-cabinet], minutes: 10, result: clean}
  - {technique: infrared-detector, at: [service-port], minutes: 7, result: false-alarm, note: Gas from our own hose.}
  - {technique: infrared-detector, at: [indoor-flare], minutes: 12, result: pinpointed}
  - {technique: bubble-test, at: [indoor-flare], minutes: 6, result: confirmed}
cause: {mode: flare-joint, component: indoor-flare, proof: held, contributing: [over-torqued]}
fix: {action: remake-flare, labour: 1.5 h, charge_added: 0.45 kg}
follow_up: [{date: 2025-08-10, result: holding}]
lesson: A flare that weeps after one correct tightening is remade, not tightened again.
story: The nut was tight, and still it frothed. Under it the face was split.
reading: {level: apprentice}
"""
"""A case that makes an exercise; the small library has none."""


def copy_library(into: Path) -> Path:
    """A copy of the small library of tests/records, called cases as in a company's repository."""
    return Path(shutil.copytree(LIBRARY, into / "cases"))


def once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A folder that is made once a session, also when several workers want it at the same time."""
    base = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        base = base.parent  # the workers' own folders lie in this one
    folder = base / name
    with (base / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = folder / "done"
        if not done.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            make(folder)
            done.touch()
    return folder


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Site:
    """The built demo site."""
    folder = once(tmp_path_factory, "demo", lambda at: built(write_config(at, ROOT / "cases")))
    return site_at(folder / "site")


@cache
def site_at(folder: Path) -> Site:
    """A built site; its pages are read once."""
    return Site(folder)


@dataclass(frozen=True, eq=False)
class Document:
    """A parsed page. `url` is its file, relative to the site's root; `errors` are there only if strictly read."""

    url: str
    root: Any
    errors: tuple[tuple[tuple[int, int], str, dict[str, Any]], ...] = ()

    @classmethod
    def read(cls, file: Path, url: str) -> Document:
        """Parses a page the fast way; test_html.py proves that of a well-formed page this gives the same tree."""
        parser = etree.HTMLParser(encoding="utf-8", remove_comments=True)
        return cls(url, etree.fromstring(file.read_bytes(), parser))

    @classmethod
    def strict(cls, file: Path, url: str) -> Document:
        """Parses a page as browsers do, which is 70 times slower; mistakes are gathered, not only the first."""
        parser = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("lxml"), namespaceHTMLElements=False)
        found = parser.parse(file.read_bytes(), transport_encoding="utf-8")
        return cls(url, found.getroot(), tuple(parser.errors))

    @cached_property
    def elements(self) -> list[Any]:
        """All elements in the order of the page, comments left out."""
        return [e for e in self.root.iter() if isinstance(e.tag, str) and not _in_template(e)]

    @cached_property
    def ids(self) -> list[str]:
        """All ids, twice where one is given twice."""
        return [e.get("id") for e in self.elements if e.get("id") is not None]

    def find(self, *tags: str) -> list[Any]:
        """Elements of these names."""
        return [e for e in self.elements if local(e) in tags]

    @cached_property
    def text(self) -> str:
        """What a reader sees, white space reduced."""
        body = self.find("body")[0]
        return text_of(body)


def _in_template(element: Any) -> bool:
    """Parts that a script clones and fills are no part of the page yet; browser tests look at them."""
    return any(local(a) == "template" for a in element.iterancestors() if isinstance(a.tag, str))


def local(element: Any) -> str:
    """Name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]


def text_of(element: Any) -> str:
    """Text of an element, white space reduced."""
    return " ".join("".join(element.itertext()).split())


@dataclass(frozen=True, eq=False)
class Site:
    """A built site on disk."""

    folder: Path
    _read: dict[str, Document] = field(default_factory=dict)

    @cached_property
    def files(self) -> frozenset[str]:
        """All files, relative to the root, with forward slashes."""
        return frozenset(p.relative_to(self.folder).as_posix() for p in self.folder.rglob("*") if p.is_file())

    @cached_property
    def urls(self) -> list[str]:
        """All HTML files."""
        return sorted(f for f in self.files if f.endswith(".html"))

    def page(self, url: str) -> Document:
        """One page, read once."""
        if url not in self._read:
            self._read[url] = Document.read(self.folder / url, url)
        return self._read[url]

    def strict(self, url: str) -> Document:
        """One page as a browser takes it, read once."""
        key = f"strict {url}"
        if key not in self._read:
            self._read[key] = Document.strict(self.folder / url, url)
        return self._read[key]

    @property
    def pages(self) -> Iterator[Document]:
        """All pages."""
        return map(self.page, self.urls)

    def records(self, path: str, key: str) -> list[dict[str, Any]]:
        """Records of a data file's table: keys once, then rows."""
        told = json.loads(self.text(path))[key]
        return [dict(zip(told["keys"], row, strict=True)) for row in told["rows"]]

    @property
    def cases(self) -> list[dict[str, Any]]:
        """Every case of the data files, by number."""
        pieces = json.loads(self.text("data/cases.json"))["pieces"]
        found = [r for piece in pieces for r in self.records(f"data/cases/{piece}.json", "cases")]
        return sorted(found, key=lambda r: str(r["id"]))

    def text(self, file: str) -> str:
        """A file as text."""
        return (self.folder / file).read_text("utf-8")


class Handler(SimpleHTTPRequestHandler):
    """Serves a folder under a path, as a host of static files does: own 404 page, folders with their index."""

    extensions_map: ClassVar[dict[str, str]] = {
        **SimpleHTTPRequestHandler.extensions_map,
        ".mjs": "text/javascript",
        ".js": "text/javascript",
        ".svg": "image/svg+xml",
        ".yaml": "text/plain",
        ".webmanifest": "application/manifest+json",
    }
    under = "/"

    def do_GET(self) -> None:
        path = unquote(urlsplit(self.path).path)
        inside = path.startswith(self.under)
        at = Path(self.directory, path.removeprefix(self.under)) if inside else None
        if at is not None and at.is_dir() and not path.endswith("/"):
            self.send_response(301)
            self.send_header("Location", f"{path}/")
            self.end_headers()
            return
        if at is not None and at.is_dir():
            at = at / "index.html"
        status = 200
        if at is None or not at.is_file():
            status, at = 404, Path(self.directory, "404.html")
        data = at.read_bytes()
        self.send_response(status)
        self.send_header("Content-Type", self.guess_type(str(at)))
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        with suppress(ConnectionError):  # the page was left before it was whole
            self.wfile.write(data)

    def log_message(self, *_: object) -> None:
        """Quiet."""


@contextmanager
def served(folder: Path, under: str = "/") -> Iterator[str]:
    """Serves a built site under a path of a free port; gives its address, with a slash at the end."""

    class Here(Handler):
        def __init__(self, *args: Any) -> None:
            super().__init__(*args, directory=str(folder))

    Here.under = under
    server = ThreadingHTTPServer(("127.0.0.1", 0), Here)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}{under}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def tell(faults: Sequence[str], most: int = 40) -> str:
    """Faults as lines for a failure."""
    more = [f"... and {len(faults) - most} more"] if len(faults) > most else []
    return "\n".join([f"{len(faults)} faults:", *faults[:most], *more])
