"""A server over a small library, in a process of its own."""

from __future__ import annotations

import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from site_fixture import BIN, ENVIRONMENT, copy_library, write_config

LIMIT = 30.0
"""Seconds after which a change has to show."""
START = 90.0
"""Seconds after which the server has to answer at all; it builds first, maybe beside other tests."""
CASE = "cases/KW-2025-002/"
TITLE = "Capless service port empties the cellar cold room"
MKDOCS = ("mkdocs", "serve", "--dev-addr")
LEAKLORE = ("leaklore", "serve", "--address")


class Server:
    """A server in a process of its own over a small library."""

    def __init__(self, folder: Path, command: tuple[str, ...]) -> None:
        self.folder = folder
        self.answered = False
        self.library = copy_library(folder)
        (self.library / "house").mkdir()
        (self.library / "house" / "pump.md").write_text("# The pump\n\nOil every month.\n", "utf-8")
        self.record = self.library / "records/2025/KW-2025-002.yaml"
        write_config(folder, self.library)
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.temporary = folder / "temporary"
        """Where it has the site that it serves."""
        self.temporary.mkdir()
        self.log = folder / "log"
        with self.log.open("wb") as log:
            self.process = subprocess.Popen(
                [str(BIN / command[0]), *command[1:], f"127.0.0.1:{self.port}"],
                cwd=folder,
                env={**ENVIRONMENT, "TMPDIR": str(self.temporary)},
                stdout=log,
                stderr=log,
            )

    def fetch(self, path: str) -> tuple[int, str]:
        """Status and text of an address."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/{path}", timeout=LIMIT) as answer:
                return answer.status, answer.read().decode("utf-8")
        except urllib.error.HTTPError as fault:
            return fault.code, fault.read().decode("utf-8")

    def until(self, path: str, right: Callable[[int, str], bool]) -> str:
        """Fetches until the answer is right; fails after LIMIT seconds with what the server said."""
        limit = LIMIT if self.answered else START
        end = time.monotonic() + limit
        status, text = 0, "no answer yet"
        while time.monotonic() < end:
            assert self.process.poll() is None, self.said()
            try:
                status, text = self.fetch(path)
            except OSError as fault:
                text = str(fault)
            else:
                self.answered = True
                if right(status, text):
                    return text
            time.sleep(0.2)
        pytest.fail(
            f"{path} did not come right in {limit:.0f} s; last: {status}\n{text[:2000]}\n{self.said()}"
        )

    def said(self) -> str:
        """The server's own words."""
        return self.log.read_text("utf-8", "replace")

    def rewrite(self, old: str, new: str) -> None:
        """Changes the record as an editor does."""
        text = self.record.read_text("utf-8")
        assert old in text
        self.record.write_text(text.replace(old, new), "utf-8")

    def stop(self) -> None:
        """As with Ctrl-C."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
