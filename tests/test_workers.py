"""Maps over pieces: the same answers in the same order, whoever works."""

from __future__ import annotations

import os
import signal

import pytest

from leaklore.errors import LeakloreError
from leaklore.workers import Here, Processes, cut, usual


def _times(shared: dict[str, int], piece: int) -> tuple[int, int]:
    return shared["by"] * piece, os.getpid()


def _wrong(shared: object, piece: int) -> int:
    if piece == 3:
        raise LeakloreError(f"piece {piece} is wrong")
    return piece


def _ended(shared: object, piece: int) -> int:
    if piece == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    return piece


@pytest.mark.parametrize("workers", [Here(), Processes(2), Processes(5)])
def test_answers_come_in_the_order_of_the_pieces(workers: Here | Processes) -> None:
    pieces = list(range(40))
    assert [n for n, _ in workers.map(_times, {"by": 3}, pieces)] == [3 * n for n in pieces]


def test_processes_are_others() -> None:
    pids = {pid for _, pid in Processes(3).map(_times, {"by": 1}, range(30))}
    assert os.getpid() not in pids


def test_what_is_shared_needs_no_pickling() -> None:
    """Children are forked: they see it as it is."""
    shared = {"by": 2, "open": lambda: None}
    assert [n for n, _ in Processes(2).map(_times, shared, [1, 2])] == [2, 4]  # type: ignore[arg-type]


@pytest.mark.parametrize("workers", [Here(), Processes(2)])
def test_a_mistake_of_a_task_is_raised_here(workers: Here | Processes) -> None:
    with pytest.raises(LeakloreError, match="piece 3 is wrong"):
        list(workers.map(_wrong, None, range(6)))


def test_a_process_that_is_ended_from_outside_is_told() -> None:
    with pytest.raises(LeakloreError, match="ended from outside"):
        list(Processes(2).map(_ended, None, range(6)))


def test_one_piece_is_done_in_this_process() -> None:
    assert [pid for _, pid in Processes(2).map(_times, {"by": 1}, [7])] == [os.getpid()]


def test_usual() -> None:
    assert isinstance(usual(1), Here)
    found = usual(3)
    assert isinstance(found, Processes)
    assert found.count == 3


def test_cut() -> None:
    assert cut([1, 2, 3, 4, 5], 2) == [[1, 2], [3, 4], [5]]
    assert cut([], 2) == []
