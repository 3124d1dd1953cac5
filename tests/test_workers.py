"""Maps over pieces: the same answers in the same order, whoever works."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from leaklore.errors import LeakloreError
from leaklore.workers import Apart, Here, Processes, beside, cut, usual


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


ENDING = """
import time
from concurrent.futures import process
from leaklore.workers import Processes

answers = list(Processes(2).map(max, 3, range(6)))
def late(self):
    if not self._closed:
        time.sleep(0.5)
        self._writer.send_bytes(b"")

process._ThreadWakeup.wakeup = late
print(answers)
"""
"""Ends while the thread of a pool is closing its pipe, which else happens once in thousands of builds."""


def test_a_process_ends_in_silence_as_soon_as_it_has_the_answers() -> None:
    ended = subprocess.run([sys.executable, "-c", ENDING], capture_output=True, text=True, timeout=60)
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "[3, 3, 3, 3, 4, 5]\n", "")


def test_one_piece_is_done_in_this_process() -> None:
    assert [pid for _, pid in Processes(2).map(_times, {"by": 1}, [7])] == [os.getpid()]


def test_processes_live_for_few_pieces() -> None:
    """What they copied of the library by looking at it goes with them."""
    told = list(Processes(1, lives=4).map(_times, {"by": 1}, range(10)))
    assert [n for n, _ in told] == list(range(10))
    assert [len(set(pids)) for pids in cut([pid for _, pid in told], 4)] == [1, 1, 1]
    assert len({pid for _, pid in told}) == 3


def test_beside_works_while_this_process_goes_on(tmp_path: Path) -> None:
    with beside(Processes(2), _noted, tmp_path, [1, 2]) as answers:
        deadline = time.monotonic() + 30
        while len(list(tmp_path.iterdir())) < 2 and time.monotonic() < deadline:
            time.sleep(0.01)
        assert {f.name for f in tmp_path.iterdir()} == {"1", "2"}  # before anybody asked
        assert list(Processes(2).map(_times, {"by": 2}, range(5))) != []
        pids = list(answers)
    assert os.getpid() not in pids


@pytest.mark.parametrize("workers", [Here(), Processes(2)])
def test_beside_gives_what_map_gives(workers: Here | Processes) -> None:
    for pieces in ([], [1], [1, 2, 3]):
        with beside(workers, _times, {"by": 2}, pieces) as answers:
            assert [n for n, _ in answers] == [2 * n for n in pieces]


def test_a_fault_here_waits_for_what_is_beside(tmp_path: Path) -> None:
    """Else a process would write into a folder that is about to be taken away."""

    def fails() -> None:
        with beside(Processes(2), _slowly, tmp_path, list(range(50))):
            time.sleep(0.05)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails()
    there = sorted(tmp_path.iterdir())
    time.sleep(0.3)
    assert sorted(tmp_path.iterdir()) == there
    assert len(there) < 50


def test_a_mistake_beside_is_raised_here() -> None:
    with (
        pytest.raises(LeakloreError, match="piece 3 is wrong"),
        beside(Processes(2), _wrong, None, range(6)) as answers,
    ):
        list(answers)
    with (
        pytest.raises(LeakloreError, match="ended from outside"),
        beside(Processes(2), _ended, None, range(6)) as answers,
    ):
        list(answers)


def test_apart_is_another_process() -> None:
    assert Apart(_times_two, 4).answer() == (8, True)


def test_a_mistake_apart_is_raised_here_with_its_place() -> None:
    with pytest.raises(ValueError, match="no number") as told:
        Apart(_no_number, "x").answer()
    assert "_no_number" in "".join(told.value.__notes__)
    with pytest.raises(LeakloreError, match="ended from outside"):
        Apart(_killed, None).answer()


def test_a_process_that_is_ended_while_it_tells_its_answer() -> None:
    """That was taken for a fault of the disk."""
    begun = Apart(_cut_off, 10_000_000)
    time.sleep(0.6)
    with pytest.raises(LeakloreError, match="ended from outside"):
        begun.answer()


def _cut_off(size: int) -> bytes:
    """More than a pipe holds, so that it waits for who reads."""
    threading.Timer(0.3, os.kill, (os.getpid(), signal.SIGKILL)).start()
    return bytes(size)


def _no_number(text: str) -> int:
    raise ValueError(f"no number: {text}")


def _killed(given: object) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _times_two(n: int) -> tuple[int, bool]:
    return 2 * n, os.getpid() != _HERE


_HERE = os.getpid()


def _noted(folder: Path, piece: int) -> int:
    (folder / str(piece)).touch()
    return os.getpid()


def _slowly(folder: Path, piece: int) -> None:
    time.sleep(0.1)
    (folder / str(piece)).touch()


def test_usual() -> None:
    assert isinstance(usual(1), Here)
    found = usual(3)
    assert isinstance(found, Processes)
    assert found.count == 3


def test_cut() -> None:
    assert cut([1, 2, 3, 4, 5], 2) == [[1, 2], [3, 4], [5]]
    assert cut([], 2) == []
