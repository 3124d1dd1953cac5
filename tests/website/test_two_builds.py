"""Two builds at once: of one site the second waits; of two sites of one library both go on."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from leaklore.errors import LeakloreError
from leaklore.website import lock
from site_fixture import BIN, ENVIRONMENT, built, copy_library, leaklore_build, once, tree, write_config

from .libraries import CASE, PHOTO, library_of, write_case

HOLDER = """
import sys
from pathlib import Path
from leaklore.website import lock
held = lock.hold(Path(sys.argv[1]))
print("held", flush=True)
if sys.stdin.readline():
    held.release()
"""
"""Holds a site until a line comes; at the end of its input it ends without giving the site back."""


@pytest.fixture
def holder(tmp_path: Path) -> Iterator[Callable[[], subprocess.Popen[str]]]:
    """Starts a process that holds tmp_path/site."""
    running: list[subprocess.Popen[str]] = []

    def start() -> subprocess.Popen[str]:
        pipe = subprocess.PIPE
        command = [sys.executable, "-c", HOLDER, str(tmp_path / "site")]
        process = subprocess.Popen(command, env=ENVIRONMENT, stdin=pipe, stdout=pipe, text=True)
        assert process.stdout is not None
        running.append(process)
        assert process.stdout.readline() == "held\n"
        return process

    yield start
    for process in running:
        process.kill()
        process.communicate()


def test_alone_a_build_does_not_wait_and_leaves_no_lock(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    held = lock.hold(tmp_path / "site")
    assert not held.killed
    assert (tmp_path / "site.lock").exists()
    held.release()
    assert list(tmp_path.iterdir()) == []
    assert capsys.readouterr().err == ""


def test_after_the_limit_it_ends_with_who_is_building(
    tmp_path: Path, holder: Callable[[], subprocess.Popen[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    other = holder()
    with pytest.raises(LeakloreError, match=rf"\(process {other.pid}\) did not end in .* build again"):
        lock.hold(tmp_path / "site", limit=lock.QUIET + 0.5)
    told = capsys.readouterr().err
    assert told == f"another build of {tmp_path / 'site'} is running (process {other.pid}); waiting\n"
    assert (tmp_path / "site.lock").exists(), "it is the other one's"


@pytest.mark.parametrize("killed", [False, True])
def test_the_next_one_knows_whether_the_one_before_was_killed(
    tmp_path: Path, holder: Callable[[], subprocess.Popen[str]], killed: bool
) -> None:
    other = holder()
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(lock.hold, tmp_path / "site", 20)
        time.sleep(0.3)
        assert not waiting.done()
        if killed:
            other.kill()
        else:
            assert other.stdin is not None
            other.stdin.write("\n")
            other.stdin.flush()
        held = waiting.result()
    assert held.killed is killed
    held.release()
    assert list(tmp_path.iterdir()) == []


def test_many_at_once_never_hold_it_together(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    script = f"""
import os, sys
from pathlib import Path
from leaklore.website import lock
lock.STEP = 0.001
for _ in range(30):
    held = lock.hold(Path({str(tmp_path / "site")!r}), 60)
    os.mkdir({str(inside)!r})
    os.rmdir({str(inside)!r})
    held.release()
"""
    command = [sys.executable, "-c", script]
    running = [subprocess.Popen(command, env=ENVIRONMENT, stderr=subprocess.PIPE) for _ in range(4)]
    ended = [process.communicate()[1] for process in running]
    assert [p.returncode for p in running] == [0] * 4, ended
    assert list(tmp_path.iterdir()) == []


def test_a_place_without_locks_is_built_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import errno
    import fcntl

    def none(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    held = lock.hold(tmp_path / "site")
    assert held.lasting
    held.release()
    monkeypatch.setattr(fcntl, "flock", none)
    held = lock.hold(tmp_path / "site")
    assert not held.lasting
    held.release()
    assert list(tmp_path.iterdir()) == []


# Whole builds.


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library, built once."""
    return once(tmp_path_factory, "small", lambda at: built(write_config(at, copy_library(at))))


def test_the_second_build_of_a_site_waits_and_both_are_right(tmp_path: Path, small: Path) -> None:
    copy_library(tmp_path)
    config = write_config(tmp_path, tmp_path / "cases")
    first = subprocess.Popen(
        [str(BIN / "leaklore"), "build", "--config", str(config)],
        cwd=tmp_path,
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    file, end = tmp_path / "site.lock", time.monotonic() + 60
    while not (file.exists() and file.read_text()) and time.monotonic() < end:
        time.sleep(0.005)
    second = leaklore_build(config)
    assert first.communicate()[1] == ""
    assert first.returncode == 0
    assert second.returncode == 0, second.stderr
    told = f"another build of {tmp_path / 'site'} is running (process {first.pid}); waiting\n"
    assert second.stderr in ("", told), "it tells where it has to wait for more than a moment"
    assert tree(tmp_path / "site") == tree(small / "site")
    assert sorted(p.name for p in tmp_path.iterdir()) == [".cache", "cases", "mkdocs.yml", "site"]


def test_two_sites_of_one_library_are_built_at_once_from_an_empty_cache(tmp_path: Path) -> None:
    library = library_of(tmp_path / "cases")
    for number in range(1, 7):
        case = {**CASE, "id": f"KW-2025-{number:03d}"}
        write_case(library, {**case, "photos": [{"file": "port.jpg", "caption": "The port"}]})
        photo = library / "photos" / case["id"] / "port.jpg"
        photo.parent.mkdir(parents=True)
        photo.write_bytes(PHOTO + bytes([number]))  # each is made by itself
    config = write_config(tmp_path, library)
    (tmp_path / ".cache" / "charts").unlink()
    other = tmp_path / "other.yml"
    other.write_text(config.read_text("utf-8").replace(f"{tmp_path}/site", f"{tmp_path}/other"), "utf-8")
    with ThreadPoolExecutor(2) as pool:
        done = list(pool.map(leaklore_build, [config, other]))
    assert [(d.returncode, d.stderr) for d in done] == [(0, "")] * 2
    assert tree(tmp_path / "site") == tree(tmp_path / "other")
    assert list((tmp_path / ".cache").rglob(".*.new")) == []
    kept = tree(tmp_path / ".cache" / "charts") | tree(tmp_path / ".cache" / "photos")
    shutil.rmtree(tmp_path / ".cache")
    assert leaklore_build(config).returncode == 0
    again = tree(tmp_path / ".cache" / "charts") | tree(tmp_path / ".cache" / "photos")
    assert again == kept
