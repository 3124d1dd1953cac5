"""Runs a command and says what it took: seconds, CPU, memory of all its processes; keeps the made-up libraries."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from bench_search import quiet, spread, told  # noqa: E402
from synthetic import write_library  # noqa: E402

from site_fixture import BIN, ENVIRONMENT, write_config  # noqa: E402

SEED = 7
EVERY = 0.2
"""Seconds between two looks at the memory."""


# ---------------------------------------------------------------------------------------------- one run


@dataclass(frozen=True, slots=True)
class Run:
    """Wall and CPU seconds of a command with all its processes; bytes of memory at the most, 0 where nobody looked.

    `others` is what the rest of the machine did meanwhile, in cores; `out` all that the command said.
    """

    seconds: float
    cpu: float
    others: float
    peak: int
    out: str = field(repr=False)


def run(*words: str | Path, cwd: Path, watch: bool = False) -> Run:
    """Runs a command of the virtual environment; what it says is printed where it fails. `watch`: memory, too."""
    command = [str(BIN / words[0]), *map(str, words[1:])]
    with tempfile.TemporaryFile("w+") as out:
        mine, busy, start = time.process_time(), _busy(), time.perf_counter()
        process = subprocess.Popen(command, cwd=cwd, env=environment(cwd), stdout=out, stderr=out)
        sampler = Sampler(process.pid)
        if watch:
            sampler.start()
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
        busy, mine = _busy() - busy, time.process_time() - mine
        process.returncode = os.waitstatus_to_exitcode(status)
        if watch:
            sampler.stop()
        out.seek(0)
        if process.returncode:
            raise SystemExit(f"{' '.join(command)} failed:\n{out.read()}")
        cpu = usage.ru_utime + usage.ru_stime
        return Run(seconds, cpu, max(0.0, (busy - cpu - mine) / seconds), sampler.peak, out.read())


def environment(scratch: Path) -> dict[str, str]:
    """Same day in every build; what is put aside (as `serve` does) lies on the same disk; compiled modules are kept,
    as Python does unless told otherwise."""
    usual = {k: v for k, v in ENVIRONMENT.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return {**usual, "TMPDIR": str(scratch)}


def _busy() -> float:
    """CPU seconds that all cores were busy since the machine started, those that its host took included."""
    user, nice, system, _idle, _wait, irq, soft, steal = map(
        int, Path("/proc/stat").read_text().splitlines()[0].split()[1:9]
    )
    return (user + nice + system + irq + soft + steal) / os.sysconf("SC_CLK_TCK")


# ---------------------------------------------------------------------------------------------- memory


class Sampler(threading.Thread):
    """Looks at a process and all below it until it is stopped; `peak` is the most that it saw, in bytes."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid = pid
        self.peak = 0
        self._end = threading.Event()

    def run(self) -> None:
        """The thread's work."""
        while not self._end.wait(EVERY):
            self.peak = max(self.peak, tree_memory(self.pid))

    def stop(self) -> None:
        """Ends the thread."""
        self._end.set()
        self.join()


def tree_memory(pid: int) -> int:
    """Bytes of memory of a process and all below it: the sum of PSS, which shares out what several of them hold."""
    return sum(map(_memory, tree(pid)))


def tree(pid: int) -> list[int]:
    """A process and all below it."""
    below: dict[int, list[int]] = defaultdict(list)
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # it may be gone by now
            parent = int(stat.read_bytes().rpartition(b")")[2].split()[1])
            below[parent].append(int(stat.parent.name))
    found = [pid]
    for one in found:
        found += below[one]
    return found


def _memory(pid: int) -> int:
    with suppress(OSError):
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) * 1024
    return 0


# ---------------------------------------------------------------------------------------------- what parts share


@dataclass(frozen=True, slots=True)
class Target:
    """A figure and the most that it may be."""

    name: str
    value: float
    most: float


@dataclass(frozen=True, slots=True)
class Report:
    """What a part of the benchmark found: figures for the JSON file, tables and targets for the reader."""

    figures: Mapping[str, Any]
    tables: Sequence[Table]
    targets: Sequence[Target] = ()


@dataclass(frozen=True, slots=True)
class Bench:
    """What is asked for, and where all that is made lies."""

    scratch: Path
    cases: int
    runs: int
    wait: float
    large: bool
    say: Console

    def place(self, cases: int) -> Path:
        """A folder with a library of so many cases and its mkdocs.yml; parts that change nothing share it."""
        folder = self.scratch / str(cases)
        if not folder.exists():
            write_library(folder / "cases", cases, SEED)
            configure(folder, folder / "cases")
        return folder

    def copy(self, name: str) -> Path:
        """A folder with a library of its own, to be changed."""
        folder = self.scratch / name
        shutil.copytree(self.place(self.cases) / "cases", folder / "cases")
        configure(folder, folder / "cases")
        return folder

    def rest(self, text: str) -> None:
        """Waits for a quiet machine and tells what comes next."""
        quiet(self.wait)
        self.say.print(f"{text}, load {os.getloadavg()[0]:.1f}")


def configure(folder: Path, library: Path) -> None:
    """Settings for a library; nothing is kept of earlier builds."""
    write_config(folder, library)
    empty(folder)


def empty(folder: Path) -> None:
    """Takes away the site and everything kept for the next build."""
    for name in (".cache", "site"):
        shutil.rmtree(folder / name, ignore_errors=True)


def build(folder: Path, *more: str, watch: bool = False) -> Run:
    """`leaklore build` with the settings of a folder."""
    return run("leaklore", "build", "--config", folder / "mkdocs.yml", *more, cwd=folder, watch=watch)


def seconds_table(title: str, rows: Mapping[str, Sequence[Run]]) -> Table:
    """Median (least to most) of each."""
    table = Table(title=f"{title}: median (least to most)")
    for head in ("", "n", "s", "CPU s", "others, cores"):
        table.add_column(head)
    for name, runs in rows.items():
        figures = (told(spread([getattr(r, k) for r in runs])) for k in ("seconds", "cpu", "others"))
        table.add_row(name, str(len(runs)), *figures)
    return table


def told_runs(rows: Mapping[str, Sequence[Run]]) -> dict[str, list[dict[str, float]]]:
    """For the JSON file."""
    keys = ("seconds", "cpu", "others", "peak")
    return {name: [{k: getattr(r, k) for k in keys} for r in runs] for name, runs in rows.items()}


def ratio(a: Sequence[Run], b: Sequence[Run], of: str = "seconds") -> list[float]:
    """Seconds (or `of`: cpu) of a by those of b, round by round."""
    return [getattr(x, of) / getattr(y, of) for x, y in zip(a, b, strict=True)]
