"""A Dask cluster as workers: the same tasks as at home, on other machines (the extra `cluster` brings the library).

What all pieces read goes to every worker, as bytes; each unpacks it once. A worker that ends takes nothing along:
its pieces are made again by others, since a task has no effect but its answer.
"""

from __future__ import annotations

import hashlib
import logging
import pickle
from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar

from leaklore import __version__
from leaklore.errors import LeakloreError

S = TypeVar("S")
P = TypeVar("P")
R = TypeVar("R")
RETRIES = 3
"""How often a piece is given out again when the worker that had it has ended."""
PATIENCE = 10
"""Seconds to wait for the scheduler, and for its first worker."""


class Cluster:
    """`Workers` on the cluster whose scheduler is at `address`, for example `tcp://10.0.0.5:8786`."""

    shares_disk = False

    def __init__(self, address: str) -> None:
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            self.client: Any = _client(address)
        except (OSError, TimeoutError, ValueError) as fault:
            raise LeakloreError(
                f"no scheduler answers at {address} ({fault}); start one with `dask scheduler`"
            ) from None
        try:
            self.client.wait_for_workers(1, timeout=PATIENCE)
        except TimeoutError:
            self.close()
            raise LeakloreError(
                f"the scheduler at {address} has no worker; start one with `dask worker {address}`"
            ) from None
        versions = set(self.client.run(_version).values())
        if versions != {__version__}:
            self.close()
            raise LeakloreError(
                f"workers run Leaklore {', '.join(sorted(map(str, versions)))}, this is {__version__}; install one everywhere"
            )
        self.count = sum(self.client.nthreads().values())

    def map(self, task: Callable[[S, P], R], shared: S, pieces: Sequence[P]) -> Iterator[R]:
        """As `Workers.map`; raises LeakloreError where the cluster is lost."""
        from distributed import KilledWorker
        from distributed.client import FutureCancelledError

        packed = pickle.dumps(shared, protocol=5)
        name = hashlib.sha256(packed).hexdigest()
        answered = 0
        for _ in range(1 + RETRIES):
            try:
                [there] = self.client.scatter([packed], broadcast=True, hash=False)
            except OSError:  # no worker, or no scheduler any more
                break
            try:
                futures = [
                    self.client.submit(_do, task, there, name, piece, pure=False, retries=RETRIES)
                    for piece in pieces[answered:]
                ]
                for i, future in enumerate(futures):
                    answer = future.result()
                    answered += 1
                    yield answer
                    futures[i] = None  # the cluster may forget it
                return
            except KilledWorker as fault:
                raise LeakloreError(f"workers of the cluster ended again and again: {fault}") from None
            except FutureCancelledError:
                # The scheduler drops copies that nobody needs just then: with a worker the last one may have gone.
                if self.client.status != "running":
                    break
        raise LeakloreError("the cluster was lost while it worked; build again")

    def close(self) -> None:
        """Takes leave of the scheduler."""
        self.client.close()


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise LeakloreError("a cluster needs the library of Dask: pip install 'leaklore[cluster]'") from None
    return Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call]


_unpacked: dict[str, Any] = {}


def _do(task: Callable[[Any, Any], Any], packed: bytes, name: str, piece: Any) -> Any:
    if name not in _unpacked:
        _unpacked.clear()  # one build at a time
        _unpacked[name] = pickle.loads(packed)
    return task(_unpacked[name], piece)


def _version() -> str:
    return __version__
