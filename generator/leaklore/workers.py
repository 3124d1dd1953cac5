"""Who does the work of a map over many pieces: this process, or several forked from it.

A task is a function of a module: `task(shared, piece)`. `shared` is what all pieces read and none changes. Forked
children see it without a copy; a cluster (see cluster.py) gets it once a worker.
"""

from __future__ import annotations

import ctypes
import gc
import os
import signal
import sys
import threading
import time
import traceback
import zlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, process, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from multiprocessing import get_all_start_methods, get_context
from multiprocessing.connection import Connection
from typing import Any, Generic, Protocol, TypeVar, cast

from leaklore.errors import LeakloreError

S = TypeVar("S")
P = TypeVar("P")
R = TypeVar("R")


class Workers(Protocol):
    """Runs a task on every piece; answers come in the order of the pieces."""

    count: int
    """How many pieces are worked on at once."""
    shares_disk: bool
    """Do the workers write into the same folders as this process?"""

    def map(self, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]) -> Iterator[R]:
        """Answers in the order of the pieces. An exception of a task is raised here."""
        ...


class Here:
    """One piece after the other in this process."""

    count = 1
    shares_disk = True

    def map(self, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]) -> Iterator[R]:
        """As `Workers.map`."""
        for piece in pieces:
            yield task(shared, piece)


class Processes:
    """Processes forked from this one for each map, so that they know all that it knows."""

    shares_disk = True

    def __init__(self, count: int, lives: int = 1000) -> None:
        """`lives`: pieces after which processes are forked anew; what they looked at, and so copied, is given back."""
        self.count = count
        self.lives = lives

    def map(self, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]) -> Iterator[R]:
        """As `Workers.map`; raises LeakloreError where a process was ended from outside."""
        if len(pieces) < 2:
            yield from Here().map(task, shared, pieces)
            return
        for some in cut(pieces, self.lives):
            with _forked(min(self.count, len(some)), task, shared, some) as answers:
                yield from answers


def trim() -> None:
    """Gives memory that is free back to the system, for processes beside this one; glibc keeps it otherwise."""
    libc: Any = ctypes.CDLL(None) if sys.platform == "linux" else None
    if hasattr(libc, "malloc_trim"):
        libc.malloc_trim(0)


class Apart(Generic[R]):
    """`task(given)` in a process forked now, so that the memory that it takes on the way is given back with it."""

    def __init__(self, task: Callable[[S], R], given: S) -> None:
        self._make: Callable[[], R] = partial(task, given)
        self._pid = os.getpid()
        if "fork" not in get_all_start_methods():
            return
        here = get_context("fork")
        with _frozen():
            if _unforked:
                return
            self._from, to = here.Pipe(duplex=False)
            self._process = here.Process(target=_answer, args=(self._pid, to, task, given), daemon=True)
            self._process.start()
        to.close()

    def answer(self) -> R:
        """Waits for it; asked once. A process forked meanwhile works it out itself.

        An exception of the task is raised here; LeakloreError where the process was ended from outside.
        """
        if self._pid != os.getpid() or not hasattr(self, "_process"):
            return self._make()
        told: tuple[Exception | None, Any]
        try:
            told = self._from.recv()
        except (EOFError, OSError):  # before it began to tell, or half-way
            raise LeakloreError(_ENDED) from None
        finally:
            self._from.close()
            self._process.join()
        fault, answer = told
        if fault is not None:
            raise fault
        return cast(R, answer)

    def end(self) -> None:
        """Ends it, whose answer nobody will ask for."""
        if self._pid == os.getpid() and hasattr(self, "_process"):
            self._process.terminate()
            self._process.join()
            self._from.close()


def _answer(parent: int, to: Connection, task: Callable[[S], R], given: S) -> None:
    _wakeups().clear()  # a forked process has none of those threads
    end_with(parent)
    gc.disable()
    told: tuple[Exception | None, Any]
    try:
        told = None, task(given)
    except Exception as fault:
        fault.add_note(traceback.format_exc())  # the traceback itself stays here
        told = fault, None
    to.send(told)


_keeps = False
"""Did `freeze` take what there is? The collector tells it only by a count, for which it walks through every object."""


def freeze() -> None:
    """The collector looks no more at what there is now, until `thaw`."""
    global _keeps
    _keeps = True
    gc.freeze()


def thaw() -> None:
    """Ends `freeze`."""
    global _keeps
    _keeps = False
    gc.unfreeze()


_forks = threading.RLock()
"""Of the thread that forks, or in whose work none may."""
_unforked = False
"""May none just now? Whoever reads that holds `_forks`, and so is the thread that said so."""


@contextmanager
def unforked() -> Iterator[None]:
    """No thread forks meanwhile: for a lock that this one holds just then, the child would wait for ever.

    An `Apart` is worked out here.
    """
    global _unforked
    with _forks:
        _unforked = True
        try:
            yield
        finally:
            _unforked = False


@contextmanager
def _frozen() -> Iterator[None]:
    """For forking: else the children's collector touches, and so copies, every page of memory."""
    with _forks:
        gc.freeze()
        sys.stdout.flush()
        sys.stderr.flush()
        try:
            yield
        finally:
            if not _keeps:
                gc.unfreeze()


@contextmanager
def beside(
    workers: Workers, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]
) -> Iterator[Iterator[R]]:
    """Answers as of `map`, which a process of its own works out while this one goes on inside the `with`.

    That is so of `Processes`; all others begin when they are asked for the first answer. What a `map` has worked out
    meanwhile gives way to it, for it is the longest row and must not be alone in the end.
    """
    if not isinstance(workers, Processes) or not pieces:
        yield workers.map(task, shared, pieces) if pieces else iter(())
        return
    global _beside
    with _forked(1, task, shared, pieces) as answers:
        _beside += 1
        try:
            yield answers
        finally:
            _beside -= 1


@contextmanager
def _forked(count: int, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]) -> Iterator[Iterator[R]]:
    """Answers of so many processes forked now; they end with the `with`."""
    global _work
    before, _work = _work, (task, shared, pieces)
    futures: list[Future[R]] = []
    try:
        with _frozen():
            pool = ProcessPoolExecutor(count, get_context("fork"), _start, (os.getpid(), _beside > 0))
            # the first forks all of them
            futures += [pool.submit(_do, number) for number in range(len(pieces))]
        _work = before
        thread = getattr(pool, "_executor_manager_thread", None)
        pool.shutdown(wait=False)  # each process ends when nothing is left for it, and with them that thread
        _wakeups().pop(thread, None)
        futures.reverse()
        yield _results(futures)
    except BrokenProcessPool:
        raise LeakloreError(_ENDED) from None
    finally:
        _work = before
        for future in futures:
            future.cancel()
        wait(futures)  # no process goes on writing


_ENDED = "a process of the build was ended from outside (memory may have run out); build again"


def _results(futures: list[Future[R]]) -> Iterator[R]:
    """Their results from the last to the first; what is yielded is held no longer."""
    while futures:
        futures[-1].exception()  # waits: until it is there, `_forked` has to know of it
        yield futures.pop().result()


def end_with(parent: int) -> None:
    """Ends this process as soon as `parent` has ended, also by SIGKILL: the first thing that a child does.

    Children wait for work on a pipe that they themselves hold open, and would wait without end.
    """
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PARENT_DEATH, signal.SIGKILL, 0, 0, 0)
        if os.getppid() != parent:  # it ended before that was said
            os._exit(1)
        return

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


_beside = 0
"""How many calls of `beside` are under way."""
GIVES_WAY = 5
"""Niceness: a third of the time of a process without."""
_PARENT_DEATH = 1
"""PR_SET_PDEATHSIG of linux/prctl.h; "parent" is the thread that forked."""
_work: tuple[Callable[[Any, Any], Any], Any, Sequence[Any]] | None = None


def _wakeups() -> dict[Any, Any]:
    """Threads of pools that the end of this process wakes: by pipes that one whose pool is shut down may close meanwhile."""
    return cast(dict[Any, Any], getattr(process, "_threads_wakeups", {}))


def _start(parent: int, gives_way: bool) -> None:
    _wakeups().clear()  # a forked process has none of those threads
    if gives_way:
        os.nice(GIVES_WAY)
    end_with(parent)


def _do(number: int) -> Any:
    gc.disable()  # a child does not live long
    assert _work is not None
    task, shared, pieces = _work
    return task(shared, pieces[number])


def usual(count: int | None = None) -> Workers:
    """Processes for every core that this process may use, or as many as said; without `fork`, this process alone."""
    cores = count or len(
        os.sched_getaffinity(0) if hasattr(os, "sched_getaffinity") else [0] * (os.cpu_count() or 1)
    )
    if cores < 2 or "fork" not in get_all_start_methods():
        return Here()
    return Processes(cores)


def cut(items: Sequence[P], size: int) -> list[Sequence[P]]:
    """Runs of at most `size` items."""
    return [items[i : i + size] for i in range(0, len(items), size)]


def runs(items: Sequence[P], name: Callable[[P], bytes], mean: int, most: int) -> Iterator[Sequence[P]]:
    """Runs of about `mean` items and at most `most`. Where one ends depends on the names alone, so that a new item changes
    one run or two."""
    start = 0
    for i, item in enumerate(items, 1):
        if zlib.crc32(name(item)) % mean == 0 or i - start == most:
            yield items[start:i]
            start = i
    if start < len(items):
        yield items[start:]
