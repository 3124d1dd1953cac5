"""The swap, step by step and killed at random: the old site or the new one, never a mix, never nothing for good."""

from __future__ import annotations

import ctypes
import errno
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from leaklore.website import place
from site_fixture import ENVIRONMENT, tree

SWAPS = """
import itertools, sys
from pathlib import Path
from leaklore.website import place
site = Path(sys.argv[1])
if sys.argv[2] == "renames":
    place.exchange = lambda one, other: False
print("ready", flush=True)
for number in itertools.count():
    place.recover(site)
    new = place.aside(site)
    for name in "abcd":
        (new / name).write_text(str(number))
    place.swap(new, site)
"""
"""Builds and swaps tiny sites without end."""


class Killed(BaseException):
    """Ends a step as SIGKILL would: nobody catches it."""


def site_of(folder: Path, word: str) -> Path:
    folder.mkdir(parents=True)
    for name in "abcd":
        (folder / name).write_text(word)
    return folder


def word_of(site: Path) -> str:
    """The word in every file of a whole site; fails for a mix."""
    files = tree(site)
    assert sorted(files) == list("abcd")
    (word,) = set(files.values())
    return word.decode()


def alone(site: Path) -> bool:
    return [p.name for p in site.parent.iterdir()] == [site.name]


@pytest.fixture(params=["exchange", "renames"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways of the swap; where the disk of the tests can't exchange, both are renames."""
    if request.param == "renames":
        monkeypatch.setattr(place, "exchange", lambda one, other: False)
    return str(request.param)


@pytest.fixture(params=["folder", "link"])
def site(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A good site; also one that is a link to its folder."""
    made = site_of(tmp_path / "www" / "site", "old")
    if request.param == "folder":
        return made
    (tmp_path / "site").symlink_to(made)
    return tmp_path / "site"


def test_a_swap_leaves_the_new_site_alone(site: Path, way: str) -> None:
    new = place.aside(site)
    for name in "abcd":
        (new / name).write_text("new")
    place.swap(new, site)
    assert word_of(site) == "new"
    place.drop(site)
    assert word_of(site) == "new"
    assert alone(site.resolve())


def test_the_first_site_needs_no_old_one(tmp_path: Path, way: str) -> None:
    site = tmp_path / "deep" / "site"
    new = place.aside(site)
    (new / "a").write_text("new")
    place.swap(new, site)
    assert tree(site) == {"a": b"new"}
    assert alone(site)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems may have no exchange")
def test_linux_exchanges_in_one_move(tmp_path: Path) -> None:
    one, other = site_of(tmp_path / "one", "1"), site_of(tmp_path / "other", "2")
    inodes = one.stat().st_ino, other.stat().st_ino
    assert place.exchange(one, other)
    assert (other.stat().st_ino, one.stat().st_ino) == inodes
    assert (word_of(one), word_of(other)) == ("2", "1")


@pytest.mark.parametrize("number", [errno.ENOSYS, errno.EINVAL, errno.EPERM])
def test_a_disk_that_cannot_exchange_is_no_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    class Libc:
        def renameat2(self, *_: object) -> int:
            ctypes.set_errno(number)
            return -1

    monkeypatch.setattr(ctypes, "CDLL", lambda *_, **__: Libc())
    site = site_of(tmp_path / "site", "old")
    place.swap(site_of(tmp_path / "site.new", "new"), site)
    place.drop(site)
    assert word_of(site) == "new"
    assert alone(site)


def test_an_exchange_that_is_refused_tells_both_names(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError) as caught:
        place.exchange(site_of(tmp_path / "one", "1"), tmp_path / "nothing")
    assert caught.value.filename == str(tmp_path / "one")
    assert caught.value.filename2 == str(tmp_path / "nothing")


def killed_at(step: int, monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """The process ends just before its `step`th change to the disk within the swap; tells how many there were."""
    done = 0

    def counted(real: Callable[..., object]) -> Callable[..., object]:
        def call(*args: object, **options: object) -> object:
            nonlocal done
            if done == step:
                raise Killed
            done += 1
            return real(*args, **options)

        return call

    for module, name in ((os, "rename"), (os, "unlink"), (os, "rmdir"), (place, "exchange")):
        monkeypatch.setattr(module, name, counted(getattr(module, name)))
    return lambda: done


def test_killed_before_any_step_the_next_build_is_right(tmp_path: Path, way: str) -> None:
    lasts = []
    for step in range(100):
        site = site_of(tmp_path / str(step) / "site", "old")
        new = place.aside(site)
        for name in "abcd":
            (new / name).write_text("new")
        with pytest.MonkeyPatch.context() as patch:
            killed_at(step, patch)
            try:
                place.swap(new, site)
                place.drop(site)
            except Killed:
                ended = False
            else:
                ended = True
        if way == "exchange" or site.exists():
            lasts.append(word_of(site))
        place.recover(site)
        assert word_of(site) in ("old", "new")
        assert alone(site)
        if ended:
            break
    assert step > 5, "steps of the swap were seen"
    assert lasts == sorted(lasts, reverse=True), "once new, always new"


def test_a_rename_that_fails_brings_the_old_site_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(place, "exchange", lambda one, other: False)
    site = site_of(tmp_path / "site", "old")
    with pytest.raises(OSError, match="No such file"):
        place.swap(tmp_path / "never-made", site)
    assert word_of(site) == "old"
    assert alone(site)


@pytest.fixture
def swapping(tmp_path: Path) -> Iterator[Callable[[str], subprocess.Popen[bytes]]]:
    """Starts a process that swaps without end."""
    running: list[subprocess.Popen[bytes]] = []

    def start(way: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-c", SWAPS, str(tmp_path / "site"), way]
        running.append(subprocess.Popen(command, env=ENVIRONMENT, stdout=subprocess.PIPE))
        return running[-1]

    yield start
    for process in running:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


@pytest.mark.parametrize(("how", "kills"), [("exchange", 40), ("renames", 40)])
def test_swaps_killed_at_random(
    tmp_path: Path, swapping: Callable[[str], subprocess.Popen[bytes]], how: str, kills: int
) -> None:
    chance = random.Random(f"{how}, 7")
    site = site_of(tmp_path / "site", "-1")
    for _ in range(kills):
        process = swapping(how)
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(chance.uniform(0.002, 0.03))
        process.send_signal(signal.SIGKILL)
        process.wait()
        if how == "exchange":
            word_of(site)  # whole before anyone tidied up
        place.recover(site)
        word_of(site)
        assert alone(site)


# What is told of a disk.


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full, "),
        (errno.EDQUOT, "may not use more"),
        (errno.EFBIG, "ulimit -f"),
        (errno.EROFS, "read-only"),
        (errno.EACCES, "permission denied"),
        (errno.EBUSY, "a disk of its own"),
        (errno.EIO, "input/output error"),
    ],
)
def test_what_is_wrong_is_told_in_one_line_with_the_file(tmp_path: Path, number: int, words: str) -> None:
    file = tmp_path / "site.new" / "index.html"
    fault = OSError(number, os.strerror(number), str(file))
    told = place.told(fault, tmp_path)
    assert told.startswith(f"{file}: ")
    assert words in told
    assert "\n" not in told
    assert place.told(OSError(number, os.strerror(number)), tmp_path).startswith(f"{tmp_path}: ")


def test_of_a_copy_the_file_that_was_to_be_made_is_told(tmp_path: Path) -> None:
    fault = OSError(errno.ENOSPC, "No space left on device", "from.css", None, str(tmp_path / "to.css"))
    assert place.told(fault, tmp_path).startswith(f"{tmp_path / 'to.css'}: ")


# Caches.


def test_a_cache_that_can_be_written_is_used(tmp_path: Path) -> None:
    folder, warning = place.cache(tmp_path / ".cache", ("charts", "photos"), tmp_path / "site")
    assert (folder, warning) == (tmp_path / ".cache", "")
    assert sorted(p.name for p in folder.iterdir()) == ["charts", "photos"]


def test_instead_of_one_that_cannot_there_is_another_until_the_end(tmp_path: Path) -> None:
    (tmp_path / ".cache").write_text("a file, no folder")
    folder, warning = place.cache(tmp_path / ".cache", ("charts", "photos"), tmp_path / "site")
    assert sorted(p.name for p in folder.iterdir()) == ["charts", "photos"]
    assert warning.startswith(f"{tmp_path / '.cache'}")
    assert "nothing is kept for the next build" in warning
    place.drop(tmp_path / "site")
    assert [p.name for p in tmp_path.iterdir()] == [".cache"]


def test_a_full_disk_is_no_reason_to_go_on_without_a_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", "charts")

    monkeypatch.setattr(Path, "mkdir", full)
    with pytest.raises(OSError, match="No space"):
        place.cache(tmp_path / ".cache", ("charts",), tmp_path / "site")


def test_half_written_files_are_swept_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "charts").mkdir()
    for name in (".a.svg.0123.new", "a.svg", ".hidden", "b.new"):
        (tmp_path / "charts" / name).touch()
    place.sweep(tmp_path)
    assert sorted(p.name for p in (tmp_path / "charts").iterdir()) == [".hidden", "a.svg", "b.new"]
