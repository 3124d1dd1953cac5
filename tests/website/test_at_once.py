"""Which files of the records are watched under `serve`: those that a check reads, and no editor's own; and that its two
threads do not hinder each other."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from leaklore.records.source import yaml_names
from leaklore.website.at_once import marks


def test_an_editor_s_files_are_not_records(tmp_path: Path) -> None:
    """A lock is a link that leads nowhere, and lies there while a text is being edited."""
    folder = tmp_path / "records" / "2025"
    folder.mkdir(parents=True)
    record = folder / "KW-2025-001.yaml"
    record.write_text("id: KW-2025-001\n")
    before = marks(tmp_path)
    assert before.keys() == {str(record)} == set(yaml_names(tmp_path / "records"))

    (folder / ".#KW-2025-001.yaml").symlink_to("someone@somewhere.4711")
    (folder / ".KW-2025-001.yaml").write_text("half")
    (folder / "gone.yaml").symlink_to(folder / "nowhere.yaml")
    assert marks(tmp_path) == before

    record.write_text("id: KW-2025-001\ntitle: Another\n")
    assert marks(tmp_path) != before
    assert marks(tmp_path).keys() == before.keys()


def test_a_library_without_records(tmp_path: Path) -> None:
    assert marks(tmp_path) == {}


BOTH = """
import sys, threading, time
from functools import cached_property
from pathlib import Path
from types import SimpleNamespace
from leaklore.website.at_once import AtOnce
from leaklore.workers import Apart, Processes

class Press:
    apart = False

    @cached_property
    def book(self):  # in Python 3.11 one lock for all of a class
        if self.apart:
            print(Apart(max, (1, 2)).answer())
            begun.set()
            time.sleep(0.5)
        return SimpleNamespace(library=SimpleNamespace(root=Path(sys.argv[1])))

class Edited(Press):
    apart = True

begun = threading.Event()
edited = threading.Thread(target=AtOnce(Edited(), Path(), {}).follow)
edited.start()
begun.wait()
print(list(Processes(2).map(lambda press, n: n if press.book else 0, Press(), [1, 2, 3])))
edited.join()
"""


def test_a_page_at_once_while_the_whole_forks_processes(tmp_path: Path) -> None:
    """A process that is forked while another thread works out a property would wait for that thread for ever."""
    done = subprocess.run(
        [sys.executable, "-c", BOTH, str(tmp_path)], capture_output=True, text=True, timeout=30
    )
    assert (done.stdout, done.stderr) == ("2\n[1, 2, 3]\n", "")
