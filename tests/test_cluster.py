"""The same site from a Dask cluster on the loopback, a worker lost half-way included."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from distributed import Client

from leaklore.cluster import Cluster
from leaklore.errors import LeakloreError
from leaklore.website.engine import MkDocsEngine
from leaklore.workers import Here
from site_fixture import EPOCH, ROOT, run, write_config

sys.path.append(str(ROOT / "tests" / "benchmarks"))
import synthetic

WORKERS = 3
TASKS = {**os.environ, "PYTHONPATH": str(Path(__file__).parent)}
"""A worker finds the tasks of this file."""
NO_PAGE = ("--no-dashboard", "--host", "127.0.0.1")


class Machines:
    """A scheduler and its workers, each a process of its own."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.stack = stack
        self.file = folder / "scheduler.json"
        self.start("scheduler", "--port", "0", "--scheduler-file", str(self.file))
        self.until(self.file.exists)
        self.client: Any = Client(scheduler_file=str(self.file), timeout=60)  # type: ignore[no-untyped-call]
        stack.callback(self.client.close)
        self.address: str = self.client.scheduler.address
        for number in range(WORKERS):
            self.start(
                "worker",
                *("--scheduler-file", str(self.file), "--no-nanny", "--nthreads", "1"),
                *("--name", str(number), "--local-directory", str(folder / f"worker-{number}")),
            )
        self.client.wait_for_workers(WORKERS, timeout=60)

    def start(self, what: str, *options: str) -> None:
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *NO_PAGE, *options]
        process = subprocess.Popen(command, env=TASKS, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.stack.callback(process.wait)
        self.stack.callback(process.kill)

    def pids(self) -> dict[str, int]:
        return dict(self.client.run(os.getpid))

    def end_one(self) -> None:
        """Kills a worker that is at work."""
        pids = self.pids()
        busy = [at for at, keys in self.client.processing().items() if keys]
        os.kill(pids[(busy or list(pids))[0]], signal.SIGKILL)

    @staticmethod
    def until(met: Callable[[], bool], seconds: float = 60) -> None:
        end = time.monotonic() + seconds
        while not met():
            assert time.monotonic() < end
            time.sleep(0.05)


@pytest.fixture(scope="module")
def machines(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machines]:
    with ExitStack() as stack:
        yield Machines(tmp_path_factory.mktemp("cluster"), stack)


class LosesOne(Cluster):
    """A cluster that loses a worker as soon as the first answer is there."""

    machines: Machines

    def map(self, task: Callable[[Any, Any], Any], shared: Any, pieces: Sequence[Any]) -> Iterator[Any]:
        answers = super().map(task, shared, pieces)
        yield next(answers)
        self.machines.end_one()
        yield from answers


def _tree(site: Path) -> dict[str, bytes]:
    return {p.relative_to(site).as_posix(): p.read_bytes() for p in sorted(site.rglob("*")) if p.is_file()}


def test_the_site_is_the_same_with_a_worker_lost_half_way(
    machines: Machines, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    library = tmp_path / "cases"
    synthetic.write_library(library, 60, 3)
    here, there = (write_config(tmp_path / name, library) for name in ("here", "there"))
    MkDocsEngine().build(here, Here())
    cluster = LosesOne(machines.address)
    cluster.machines = machines
    try:
        assert cluster.count == WORKERS
        MkDocsEngine().build(there, cluster)
    finally:
        cluster.close()
    assert len(machines.pids()) == WORKERS - 1
    assert _tree(there.parent / "site") == _tree(here.parent / "site")


def _double(shared: int, piece: int) -> int:
    if piece < 0:
        raise LeakloreError("a piece below zero")
    return shared * piece


def test_answers_come_in_order_and_a_mistake_is_raised_here(machines: Machines) -> None:
    cluster = Cluster(machines.address)
    try:
        assert list(cluster.map(_double, 2, range(20))) == list(range(0, 40, 2))
        with pytest.raises(LeakloreError, match="below zero"):
            list(cluster.map(_double, 2, [1, -1]))
    finally:
        cluster.close()


def _slowly(shared: int, piece: int) -> int:
    time.sleep(0.1)
    return shared * piece


def test_what_all_read_is_sent_again_when_the_last_copy_is_lost(
    machines: Machines, monkeypatch: pytest.MonkeyPatch
) -> None:
    cluster = Cluster(machines.address)
    sent: list[Any] = []
    scatter = cluster.client.scatter
    monkeypatch.setattr(
        cluster.client, "scatter", lambda *given, **how: sent.extend(scatter(*given, **how)) or sent[-1:]
    )
    try:
        answers = cluster.map(_slowly, 2, range(30))
        assert next(answers) == 0
        cluster.client.cancel(sent, force=True)
        assert list(answers) == list(range(2, 60, 2))
        assert len(sent) == 2
    finally:
        cluster.close()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--engine", "dask"], "leaklore: --engine dask needs --scheduler ADDRESS"),
        (["--scheduler", "tcp://127.0.0.1:1"], "leaklore: --scheduler is for --engine dask"),
        (["--engine", "dask", "--scheduler", "127.0.0.1:1"], "leaklore: no scheduler answers at 127.0.0.1:1"),
    ],
)
def test_what_is_wrong_with_the_cluster_is_told(tmp_path: Path, options: list[str], told: str) -> None:
    config = write_config(tmp_path, ROOT / "tests" / "records" / "library")
    done = run("leaklore", "build", "--config", config, *options)
    assert done.returncode == 1
    assert done.stderr.startswith(told)
    assert "Traceback" not in done.stderr
