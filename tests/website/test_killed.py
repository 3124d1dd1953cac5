"""Builds killed at any moment: the old site or the new one stands, and the next build is right and tidies up."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest

from leaklore.website import lock
from site_fixture import BIN, ENVIRONMENT, built, copy_library, leaklore_build, once, tree, write_config

KILLS = 10
"""In each of two folders."""
WORDS = ("Capless service port", "Service port without its cap")
"""A title before and after it is changed: what tells the old site from the new."""
RECORD = "records/2025/KW-2025-002.yaml"


class Lane:
    """A folder in which a build after the other is killed, each with a record that has changed."""

    def __init__(self, folder: Path, small: Path) -> None:
        self.folder = folder
        folder.mkdir()
        self.record = copy_library(folder) / RECORD
        self.config = write_config(folder, folder / "cases")
        subprocess.run(["cp", "-a", small / "site", folder], check=True)
        self.state = 0
        self.sites = [tree(folder / "site")]

    @property
    def site(self) -> Path:
        return self.folder / "site"

    def change(self) -> None:
        old, new = WORDS[self.state], WORDS[1 - self.state]
        text = self.record.read_text("utf-8")
        assert old in text
        self.record.write_text(text.replace(old, new), "utf-8")
        self.state = 1 - self.state

    def learn(self) -> float:
        """How the site looks after the change, built where there is none; seconds that it took.

        The first build is killed as soon as it writes.
        """
        shutil.rmtree(self.site)
        process = self.start()
        end = time.monotonic() + 60
        while not (self.folder / "site.new").exists() and time.monotonic() < end:
            time.sleep(0.01)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        assert not self.site.exists()
        start = time.monotonic()
        self.change()
        self.sites.append(tree(built(self.config)))
        assert self.sites[0] != self.sites[1]
        return time.monotonic() - start

    def start(self) -> subprocess.Popen[bytes]:
        """A build in a process group of its own."""
        command = [str(BIN / "leaklore"), "build", "--config", str(self.config)]
        quiet = subprocess.DEVNULL
        return subprocess.Popen(
            command, cwd=self.folder, env=ENVIRONMENT, stdout=quiet, stderr=quiet, start_new_session=True
        )

    def kill(self, when: Callable[[], None]) -> None:
        """Changes the record, builds, and kills all its processes."""
        standing = self.sites.index(tree(self.site))
        if standing == self.state:
            self.change()
        process = self.start()
        when()
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        assert self.site.is_dir()
        found = tree(self.site)
        assert found in self.sites, sorted(
            f for f in found.keys() | self.sites[0].keys() if found.get(f) != self.sites[0].get(f)
        )[:20]

    def replaced(self, inode: int) -> None:
        """Waits until the new site has taken the place of the old: then the old one is being taken away."""
        end = time.monotonic() + 60
        while self.site.stat().st_ino == inode and time.monotonic() < end:
            time.sleep(0.0002)


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small library, built once."""
    return once(tmp_path_factory, "small", lambda at: built(write_config(at, copy_library(at))))


def killed_again_and_again(lane: Lane, seed: int, length: float) -> None:
    chance = random.Random(seed)
    for number in range(KILLS - 1):
        lane.kill(lambda: time.sleep(chance.uniform(0, length)))
        if number == 0:  # whether or not this kill left one
            (lane.folder / ".cache" / "photos").mkdir(exist_ok=True)
            (lane.folder / ".cache" / "photos" / ".made.json.0123456789ab.new").write_text("half")
            (lane.folder / "site.lock").write_text("1")
    lane.kill(lambda: lane.replaced(lane.site.stat().st_ino))
    done = leaklore_build(lane.config)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert tree(lane.site) == lane.sites[lane.state]
    assert sorted(p.name for p in lane.folder.iterdir()) == [".cache", "cases", "mkdocs.yml", "site"]
    assert list((lane.folder / ".cache").rglob(".*.new")) == []


def test_builds_killed_at_random_leave_a_whole_site(tmp_path: Path, small: Path) -> None:
    one, two = (Lane(tmp_path / name, small) for name in ("one", "two"))
    length = one.learn()
    two.sites = one.sites
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(killed_again_and_again, (one, two), (20, 21), (length, length)))


# Children of a build whose parent alone is killed.

PARENT = """
import sys, time
from pathlib import Path
from leaklore.website import lock
from leaklore.workers import Processes

held = lock.hold(Path(sys.argv[1]))

def work(shared, piece):
    import os
    os.write(1, f"{os.getpid()}\\n".encode())  # in one, for two write at once
    time.sleep(600)

list(Processes(2).map(work, None, [1, 2]))
"""


def alive(number: int) -> bool:
    """A process that has ended but was not waited for counts as ended."""
    try:
        return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        with suppress(ProcessLookupError):
            os.kill(number, 0)
            return not Path("/proc/self").exists()
        return False


def test_children_end_with_their_parent_and_give_the_lock_back(tmp_path: Path) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, str(tmp_path / "site")],
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert parent.stdout is not None
    children = [int(parent.stdout.readline()) for _ in range(2)]
    assert all(alive(child) for child in children)
    parent.kill()
    parent.wait()
    held = lock.hold(tmp_path / "site", limit=10)
    assert held.killed
    assert not [child for child in children if alive(child)], "none writes any more once the lock is given"
    held.release()
    parent.stdout.close()
    assert list(tmp_path.iterdir()) == []
