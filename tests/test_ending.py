"""How the process of a command ends: with its status, all that it said, and all that others asked for at its end."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import pytest

from leaklore.ending import afterwards

RUN = """
import atexit, sys, threading, time, weakref
from leaklore import cli
from leaklore.errors import LeakloreError

@cli.main.command("try-out")
def try_out():
    {body}

cli.main(["try-out"])
"""


def _run(body: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", RUN.format(body=body)], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(
    ("body", "status"),
    [("pass", 0), ("sys.exit(3)", 3), ("sys.exit()", 0), ("raise LeakloreError('no')", 1)],
)
def test_the_status_is_told(body: str, status: int) -> None:
    assert _run(body).returncode == status


def test_a_text_as_status_is_an_error_and_told() -> None:
    done = _run("sys.exit('what is wrong')")
    assert (done.returncode, done.stderr) == (1, "what is wrong\n")


def test_what_was_said_and_what_was_asked_for_at_the_end_is_not_lost() -> None:
    done = _run("atexit.register(print, 'at the end'); sys.stdout.write('said, '); sys.stderr.write('aside')")
    assert (done.stdout, done.stderr, done.returncode) == ("said, at the end\n", "aside", 0)


def test_nothing_is_taken_down_object_by_object() -> None:
    """Else a library of 10,000 cases takes most of a second to go."""
    body = "sys.kept = type('Loud', (), {'__del__': lambda self: sys.stdout.write('gone')})()"
    assert _run(body).stdout == ""


def test_another_thread_finishes_its_work() -> None:
    body = "threading.Thread(target=lambda: (time.sleep(0.3), print('done'))).start()"
    assert _run(body).stdout == "done\n"


LATER = """
    from leaklore.ending import afterwards
    import os, pathlib
    def late():
        time.sleep(0.5)
        print("not heard")
        pathlib.Path({file!r}).write_text(str(os.getppid()))
    afterwards(late)
    print("said", os.getpid())
    {more}
"""


@pytest.mark.parametrize("more", ["", "sys.exit(4)"])
def test_what_nobody_waits_for_is_done_behind(tmp_path: Path, more: str) -> None:
    file = tmp_path / "done"
    start = time.monotonic()
    done = _run(LATER.format(file=str(file), more=more).strip())
    assert not file.exists() or time.monotonic() - start > 0.5
    said, mine = done.stdout.split()
    assert (said, done.stderr, done.returncode) == ("said", "", 4 if more else 0)
    end = time.monotonic() + 30
    while not (file.exists() and file.read_text()) and time.monotonic() < end:
        time.sleep(0.01)
    assert file.read_text() != mine, "the command has ended"


def test_where_the_process_goes_on_it_is_done_at_once(tmp_path: Path) -> None:
    more = "threading.Thread(target=lambda: time.sleep(1)).start()"
    done = _run(LATER.format(file=str(tmp_path / "done"), more=more).strip())
    assert (tmp_path / "done").exists()
    assert done.returncode == 0
    done_at_once: list[int] = []
    afterwards(lambda: done_at_once.append(1))
    assert done_at_once == [1]


def test_a_mistake_of_ours_keeps_its_traceback() -> None:
    done = _run("1 / 0")
    assert done.returncode == 1
    assert "ZeroDivisionError" in done.stderr


def test_output_that_nobody_reads_is_no_traceback() -> None:
    command = f'{sys.executable} -c "$RUN" | true'
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {command}"],
        env={"RUN": RUN.format(body="time.sleep(0.2); print('x' * 100000)"), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in done.stderr
