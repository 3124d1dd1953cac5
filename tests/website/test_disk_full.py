"""Builds on a disk that is full, read-only or limited: one clear line, and the last good site stays.

The disks are real: small ones in memory, mounted in a namespace of their own so that they go with the test. Where
that is forbidden, a limit on the size of files takes their place, which is met at the same calls.
"""

from __future__ import annotations

import os
import re
import resource
import subprocess
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from site_fixture import BIN, ENVIRONMENT, built, rest, tree, write_config

from .libraries import CASE, PHOTO, library_of

OLD = {"index.html": b"the last good site", "css/leaklore.css": b""}
LEAKLORE = ("leaklore", "build", "--config")
MKDOCS = ("mkdocs", "build", "--strict", "--quiet", "--config-file")


@dataclass(frozen=True)
class Disk:
    """A small disk at a folder. `prefix` runs a command where it is seen, `seen` is the folder from outside.

    `real`: it is mounted; else `files`, bytes, is the largest file that the command may write.
    """

    seen: Path
    prefix: tuple[str, ...] = ()
    real: bool = True
    files: int = 0

    def run(self, *command: str | Path) -> subprocess.CompletedProcess[str]:
        first, *rest = command

        def limited() -> None:
            if self.files:
                resource.setrlimit(resource.RLIMIT_FSIZE, (self.files, self.files))

        return subprocess.run(
            [*self.prefix, str(BIN / first), *map(str, rest)],
            env=ENVIRONMENT,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            preexec_fn=limited,
        )


@contextmanager
def disk(folder: Path, kilobytes: int, options: str = "rw", files: int = 40_000) -> Iterator[Disk]:
    """A disk of that size at `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    root = os.geteuid() == 0
    mount = f'mount -t tmpfs -o size={kilobytes}k,{options} none "$0" && echo ready && exec cat'
    command = ["unshare", "--mount", *([] if root else ["--map-root-user"]), "sh", "-c", mount, str(folder)]
    pipe = subprocess.PIPE
    with ExitStack() as ends:
        try:
            holder = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL)
        except FileNotFoundError:
            holder = None
        if holder is not None:
            ends.enter_context(holder)
            assert holder.stdin is not None
            ends.callback(holder.stdin.close)
        if holder is None or holder.stdout is None or holder.stdout.readline() != b"ready\n":
            yield Disk(folder, real=False, files=files)
            return
        own = () if root else ("--user", "--preserve-credentials")
        yield Disk(
            Path(f"/proc/{holder.pid}/root{folder}"), ("nsenter", f"--target={holder.pid}", "--mount", *own)
        )


@pytest.fixture(scope="module")
def company(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library of one case with a photo; built, so that charts are drawn."""
    folder = tmp_path_factory.mktemp("company")
    library = library_of(
        folder / "cases", {**CASE, "photos": [{"file": "port.jpg", "caption": "The port behind the bar"}]}
    )
    photo = library / "photos" / str(CASE["id"]) / "port.jpg"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(PHOTO)
    built(write_config(folder, library))
    return folder


def config_of(folder: Path, company: Path, site: Path) -> Path:
    """An mkdocs.yml for the library, with its site in another place."""
    return write_config(folder, company / "cases", site_dir=str(site))


def stays(site: Path) -> None:
    site.mkdir(parents=True, exist_ok=True)
    for name, content in OLD.items():
        (site / name).parent.mkdir(exist_ok=True)
        (site / name).write_bytes(content)


def assert_told(done: subprocess.CompletedProcess[str], what: str) -> None:
    """One line that says `what`, with a file, and exit status 1."""
    assert done.returncode == 1, done.stderr
    assert "Traceback" not in done.stderr
    (line,) = [one for one in done.stderr.splitlines() if "the last good site stays" in one]
    assert re.search(what, line), line
    assert len(done.stderr.splitlines()) <= 2, done.stderr


FULL = r"(/site\S*: the disk is full, \d+\.\d MB free; make room|/\S+: the file is larger than this disk)"


@pytest.mark.parametrize(
    ("kilobytes", "files", "command"),
    [
        (4, 1, LEAKLORE),
        (100, 5_000, LEAKLORE),
        (1500, 30_000, MKDOCS),
        (3800, 90_000, LEAKLORE),
    ],
)
def test_a_full_disk_below_the_site(
    tmp_path: Path, company: Path, kilobytes: int, files: int, command: tuple[str, ...]
) -> None:
    with disk(tmp_path / "www", kilobytes, files=files) as small:
        stays(small.seen / "site")
        config = config_of(tmp_path / "work", company, tmp_path / "www" / "site")
        assert_told(small.run(*command, config), FULL)
        assert tree(small.seen / "site") == OLD
        assert [p.name for p in small.seen.iterdir()] == ["site"]


def test_a_limit_on_files_is_told_as_such(tmp_path: Path, company: Path) -> None:
    stays(tmp_path / "site")
    config = write_config(tmp_path, company / "cases")
    done = Disk(tmp_path, real=False, files=30_000).run(*LEAKLORE, config)
    assert_told(done, r"/site\S*: the file is larger than this disk or this account may have")
    assert tree(tmp_path / "site") == OLD
    assert sorted(p.name for p in tmp_path.iterdir()) == [".cache", "mkdocs.yml", "site"]


def test_a_read_only_disk_below_the_site(tmp_path: Path, company: Path) -> None:
    with disk(tmp_path / "www", 100, "ro", files=1) as sealed:
        config = config_of(tmp_path / "work", company, tmp_path / "www" / "site")
        what = "the disk is read-only; make it writable" if sealed.real else "larger than this disk"
        assert_told(sealed.run(*LEAKLORE, config), what)
        assert list(sealed.seen.iterdir()) == []


@pytest.mark.parametrize("part", ["charts", "photos", "sites"])
def test_a_full_disk_below_the_cache(tmp_path: Path, company: Path, part: str) -> None:
    stays(tmp_path / "site")
    config = write_config(tmp_path, company / "cases")
    folder = tmp_path / ".cache" / part
    if part == "charts":
        folder.unlink()
    with disk(folder, 4, files=1_000) as small:
        done = small.run(*LEAKLORE, config)
        assert_told(done, rf"{tmp_path}/\S+: (the disk is full, 0\.0 MB free; make room|the file is larger)")
        if small.real:
            assert f"{folder}/" in done.stderr
        assert list(small.seen.rglob(".*.new")) == []
    assert tree(tmp_path / "site") == OLD
    assert sorted(p.name for p in tmp_path.iterdir()) == [".cache", "mkdocs.yml", "site"]


def test_a_cache_that_cannot_be_written_is_told_once_and_done_without(tmp_path: Path, company: Path) -> None:
    config = write_config(tmp_path, company / "cases")
    cache = tmp_path / ".cache"
    (cache / "charts").unlink()
    with disk(cache, 100, "ro", files=0) as sealed:
        if not sealed.real:
            cache.rmdir()
            cache.write_text("no folder")
        done = sealed.run(*LEAKLORE, config)
        rest(tmp_path)
    assert done.returncode == 0, done.stderr
    (line,) = done.stderr.splitlines()
    assert line.startswith(str(cache))
    assert line.endswith("; nothing is kept for the next build, which takes longer so")
    assert tree(tmp_path / "site") == tree(company / "site")
    assert sorted(p.name for p in tmp_path.iterdir()) == [".cache", "mkdocs.yml", "site"]
