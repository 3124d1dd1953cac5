"""Edits of a record that stay right, and what a build and the server take to follow them."""

from __future__ import annotations

import filecmp
import os
import re
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from random import Random
from urllib.error import URLError
from urllib.request import urlopen

import yaml
from bench_search import spread, told
from build_runs import (
    Bench,
    Report,
    Run,
    Target,
    build,
    configure,
    empty,
    environment,
    ratio,
    seconds_table,
    told_runs,
)
from rich.table import Table
from synthetic import LAST_LOOK, trade

from leaklore.records.check import check
from site_fixture import BIN

MOST_EDIT, MOST_SERVE = 1 / 8, 1.5
"""Targets: a build after an edit as a share of a full one; seconds until the server shows an edit."""
EDITS = 3
PATIENCE = 600.0
STORY, CAUSE, NEW = "story of a record", "cause and symptoms", "a new case"


# ---------------------------------------------------------------------------------------------- edits


def retitled(text: str, title: str) -> str:
    """A record with another title."""
    return re.sub(r"(?m)^title: .*$", f"title: {title}", text, count=1)


def retold(text: str) -> str:
    """A record whose story begins with one more sentence."""
    return re.sub(r"(?m)^story: \|\n  ", "story: |\n  The tin stood where it was left. ", text, count=1)


def recaused(text: str) -> Iterator[str]:
    """The record with another failure mode and another first symptom, in every way that the guide's parts allow."""
    case = yaml.safe_load(text)
    cause, first = case["cause"], case.get("first_diagnosis", {}).get("mode")
    shown = {*case["symptoms"], *case.get("not_seen", ())}
    other = next(s for s in sorted(trade().words["symptoms"]) if s not in shown)
    for mode, entry in sorted(trade().modes.items()):
        if mode not in (cause["mode"], first) and cause["component"] in entry["components"]:
            changed = text.replace(f"cause: {{mode: {cause['mode']},", f"cause: {{mode: {mode},")
            yield re.sub(r"(?m)^symptoms: \[[^,\]]+", f"symptoms: [{other}", changed, count=1)


def renumbered(text: str, file: Path) -> tuple[Path, str]:
    """The record as a new case: the next free number of its branch and year, and its file."""
    stem, _, number = file.stem.rpartition("-")
    used = [int(f.stem.rpartition("-")[2]) for f in file.parent.glob(f"{stem}-*.yaml")]
    key = f"{stem}-{max(used) + 1:0{len(number)}d}"
    fresh = re.sub(r"(?m)^id: .*$", f"id: {key}", text, count=1)
    return file.with_name(f"{key}.yaml"), retitled(fresh, f"Seen once more at {key}")


def is_right(library: Path, file: Path, text: str) -> bool:
    """Whether a record has no errors, checked in a library of its own with its system alone."""
    system = yaml.safe_load(text).get("system")
    with tempfile.TemporaryDirectory() as name:
        small = Path(name) / "cases"
        record = small / file.relative_to(library)
        record.parent.mkdir(parents=True)
        record.write_text(text, "utf-8")
        shutil.copy(library / "company.yaml", small)
        lines = (library / "systems.yaml").read_text("utf-8").splitlines(keepends=True)
        kept = [x for x in lines if not x.startswith("  - {id: ") or f"{{id: {system}," in x]
        (small / "systems.yaml").write_text("".join(kept), "utf-8")
        return not any(p.severity == "error" for p in check(small, today=LAST_LOOK).problems)


def edits(library: Path, rounds: int) -> Iterator[dict[str, tuple[Path, str]]]:
    """For each round {kind of edit: (file, new text)}, each of another record drawn from a seed."""
    files = sorted((library / "records").glob("*/*.yaml"))
    drawn = ((f, f.read_text("utf-8")) for f in Random("edits").sample(files, len(files)))

    def first(ways: Callable[[Path, str], Iterable[tuple[Path, str]]]) -> tuple[Path, str]:
        """The first way of the next records that is right."""
        return next(way for file, text in drawn for way in ways(file, text) if is_right(library, *way))

    for _ in range(rounds):
        yield {
            STORY: first(lambda file, text: [(file, retold(text))]),
            CAUSE: first(lambda file, text: ((file, t) for t in recaused(text))),
            NEW: first(lambda file, text: [renumbered(text, file)]),
        }


def differing(a: Path, b: Path) -> list[str]:
    """Files that only one of two folders has, or that are not the same byte for byte."""
    both = [{p.relative_to(top).as_posix() for p in top.rglob("*") if p.is_file()} for top in (a, b)]
    changed = (f for f in both[0] & both[1] if not filecmp.cmp(a / f, b / f, shallow=False))
    return sorted([*(both[0] ^ both[1]), *changed])


def edit(bench: Bench) -> Report:
    """Builds after three kinds of edit; after each a full build of the same library elsewhere, compared."""
    folder = bench.copy("edit")
    library, other = folder / "cases", bench.scratch / "edit-full"
    bench.rest("edit: first build")
    build(folder)
    after: dict[str, list[Run]] = {STORY: [], CAUSE: [], NEW: []}
    full: dict[str, list[Run]] = {STORY: [], CAUSE: [], NEW: []}
    faults: dict[str, list[str]] = {}
    for number, planned in enumerate(edits(library, bench.runs), 1):
        bench.rest(f"edit: run {number} of {bench.runs}")
        for kind, (file, text) in planned.items():
            file.write_text(text, "utf-8")
            after[kind].append(build(folder))
            configure(other, library)
            full[kind].append(build(other, "--afresh"))
            faults[f"{kind}, run {number}"] = differing(folder / "site", other / "site")
            empty(other)
    shares = {kind: ratio(after[kind], full[kind]) for kind in after}
    table = Table(
        title="A build after an edit as a share of a full one, and files that differ from the full one"
    )
    for head in ("edit", "n", "share", "share of CPU", "files that differ"):
        table.add_column(head)
    for kind, values in shares.items():
        wrong = sorted({f for key, found in faults.items() if key.startswith(kind) for f in found})
        shown = (told(spread(values), ".3f"), told(spread(ratio(after[kind], full[kind], "cpu")), ".3f"))
        table.add_row(kind, str(len(values)), *shown, f"{len(wrong)} {' '.join(wrong[:3])}")
    rows = {
        f"{kind}: {way}": runs[kind] for kind in after for way, runs in (("after", after), ("full", full))
    }
    figures = {
        "runs": told_runs(rows), "shares": shares, "differing": faults,
    }  # fmt: skip
    targets = [
        Target(f"of a full build after an edit ({k})", spread(v)[0], MOST_EDIT) for k, v in shares.items()
    ]
    targets.append(Target("files that differ after an edit", sum(map(len, faults.values())), 0))
    return Report(figures, [seconds_table("Edits", rows), table], targets)


# ---------------------------------------------------------------------------------------------- serve


def serve(bench: Bench) -> Report:
    """Seconds from the writing of a record until its page, asked for each 50 ms, and live reload show it."""
    folder = bench.copy("serve")
    files = sorted((folder / "cases" / "records").glob("*/*.yaml"))
    bench.rest("serve")
    shown: list[float] = []
    reloaded: list[float] = []
    with serving(folder) as base:
        start = time.perf_counter()
        _until(f"{base}cases/{files[0].stem}/", "<main")
        ready = time.perf_counter() - start
        for number, file in enumerate(Random("serve").sample(files, EDITS), 1):
            title = f"Seen in round {number} of this benchmark"
            seconds, told_after = _followed(base, file, title)
            shown.append(seconds)
            reloaded += told_after
    table = Table(title="leaklore serve: seconds, median (least to most)")
    for head in ("until", "n", "s"):
        table.add_column(head)
    table.add_row("the first page after the start", "1", f"{ready:.1f}")
    table.add_row("a record's page shows its edit", str(len(shown)), told(spread(shown)))
    if reloaded:
        table.add_row("live reload is told", str(len(reloaded)), told(spread(reloaded)))
    figures = {"ready": ready, "shown": shown, "reloaded": reloaded}
    return Report(
        figures, [table], [Target("s until the server shows an edit", spread(shown)[0], MOST_SERVE)]
    )


def _followed(base: str, file: Path, title: str) -> tuple[float, list[float]]:
    """Seconds until the page of a record has its new title, and until live reload says so, if the page has it."""
    page = f"{base}cases/{file.stem}/"
    epoch = re.search(r"livereload\((\d+),", _get(page))
    told_after: list[float] = []

    def wait(address: str, start: float) -> None:
        _get(address)
        told_after.append(time.perf_counter() - start)

    text = retitled(file.read_text("utf-8"), title)
    time.sleep(2)  # the server is at rest again
    start = time.perf_counter()
    file.write_text(text, "utf-8")
    waiting = [threading.Thread(target=wait, args=(f"{base}livereload/{epoch[1]}/0", start))] if epoch else []
    for thread in waiting:
        thread.start()
    _until(page, title)
    seconds = time.perf_counter() - start
    for thread in waiting:
        thread.join()
    return seconds, told_after


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """`leaklore serve` on a free port, in a process group of its own that is ended at the end."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command: list[str | Path] = [
        BIN / "leaklore",
        "serve",
        "--config",
        folder / "mkdocs.yml",
        "--address",
        f"127.0.0.1:{port}",
    ]
    with (folder / "serve.log").open("w") as log:
        process = subprocess.Popen(
            command, cwd=folder, env=environment(folder), stdout=log, stderr=log, start_new_session=True
        )
    try:
        yield f"http://127.0.0.1:{port}/"
    finally:
        for sign in (signal.SIGINT, signal.SIGKILL):
            with suppress(ProcessLookupError):
                os.killpg(process.pid, sign)
            with suppress(subprocess.TimeoutExpired):
                process.wait(15)


def _get(address: str) -> str:
    with urlopen(address, timeout=PATIENCE) as reply:
        body: bytes = reply.read()
    return body.decode()


def _until(address: str, words: str) -> None:
    """Asks each 50 ms until a page has these words; a server that isn't there yet is asked again."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        with suppress(URLError, ConnectionError):
            if words in _get(address):
                return
        time.sleep(0.05)
    raise SystemExit(f'{address} never had "{words}"')
