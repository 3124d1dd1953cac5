"""The two engines of phones and desks that Playwright can't drive as Debian has them: WebKit, by its WebDriver, and
Firefox, by Marionette. Both speak WebDriver's commands (W3C), one over HTTP and one over a socket."""

from __future__ import annotations

import base64
import json
import os
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, ClassVar
from urllib.error import HTTPError
from urllib.request import Request, urlopen

PATIENCE = 30.0
"""Seconds that an engine may take to start, and to answer."""
MINI_BROWSER = "/usr/lib/*/webkit2gtk-4.*/MiniBrowser"
PREFERENCES = {
    "browser.aboutwelcome.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
}


class Refused(Exception):
    """The engine's answer to a command that it can't follow."""


class Engine:
    """One window. `name` with the version."""

    name: str

    def tell(self, command: str, **said: Any) -> Any:
        """A command of WebDriver by its short name: url, script, rect, screenshot. Raises Refused."""
        raise NotImplementedError

    def run(self, script: str, *given: Any) -> Any:
        """What a script in the page returns."""
        return self.tell("script", script=script, args=list(given))

    def until(self, script: str, seconds: float = 15) -> Any:
        """What the script returns as soon as it is something; raises Refused after that time."""
        end = time.monotonic() + seconds
        while not (found := self.run(script)):
            if time.monotonic() > end:
                raise Refused(f"waited in vain for: {script}")
            time.sleep(0.1)
        return found

    def picture(self) -> bytes:
        """What the window shows, as PNG."""
        return base64.b64decode(self.tell("screenshot"))


class WebKit(Engine):
    """WebKitGTK behind its driver."""

    COMMANDS: ClassVar = {
        "url": "url",
        "script": "execute/sync",
        "rect": "window/rect",
        "screenshot": "screenshot",
    }

    def __init__(self, port: int) -> None:
        self._base = f"http://127.0.0.1:{port}/session"
        binary = str(next(Path("/").glob(MINI_BROWSER[1:])))
        options = {"webkitgtk:browserOptions": {"binary": binary, "args": ["--automation"]}}
        told = self._ask("POST", "", {"capabilities": {"alwaysMatch": options}})
        self._base += f"/{told['sessionId']}"
        self.name = f"WebKitGTK {told['capabilities']['browserVersion']}"

    def tell(self, command: str, **said: Any) -> Any:
        """As `Engine.tell`."""
        if command == "screenshot":
            return self._ask("GET", "/screenshot", None)
        return self._ask("POST", f"/{self.COMMANDS[command]}", said)

    def _ask(self, method: str, path: str, said: Any) -> Any:
        body = None if said is None else json.dumps(said).encode()
        try:
            with urlopen(Request(self._base + path, body, method=method), timeout=PATIENCE) as answer:
                return json.load(answer)["value"]
        except HTTPError as fault:
            raise Refused(fault.read().decode()[:500]) from None


class Firefox(Engine):
    """Firefox behind Marionette: each message is its length, a colon and JSON."""

    COMMANDS: ClassVar = {
        "url": "Navigate",
        "script": "ExecuteScript",
        "rect": "SetWindowRect",
        "screenshot": "TakeScreenshot",
    }

    def __init__(self, wire: socket.socket) -> None:
        self._wire, self._count = wire.makefile("rwb"), 0
        self._read()  # what it is
        told = self._send("NewSession", {})["capabilities"]
        self.name = f"Firefox {told['browserVersion']}"

    def tell(self, command: str, **said: Any) -> Any:
        """As `Engine.tell`."""
        if command == "screenshot":
            said = {"full": False}
        found = self._send(self.COMMANDS[command], said)
        return found["value"] if isinstance(found, dict) and "value" in found else found

    def _send(self, command: str, said: dict[str, Any]) -> Any:
        self._count += 1
        message = json.dumps([0, self._count, f"WebDriver:{command}", said]).encode()
        self._wire.write(f"{len(message)}:".encode() + message)
        self._wire.flush()
        _, _, fault, answer = self._read()
        if fault:
            raise Refused(str(fault.get("message"))[:500])
        return answer

    def _read(self) -> Any:
        length = b""
        while not length.endswith(b":"):
            length += self._wire.read(1)
        return json.loads(self._wire.read(int(length[:-1])))


def _free() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        return int(found.getsockname()[1])


def _connected(port: int) -> socket.socket:
    end = time.monotonic() + PATIENCE
    while True:
        try:
            return socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
        except OSError:
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


@contextmanager
def _running(*command: str, **more: str) -> Iterator[None]:
    quiet = partial(subprocess.Popen, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    process = quiet(command, env={**os.environ, **more})
    try:
        yield
    finally:
        process.terminate()
        process.wait()


@contextmanager
def webkit() -> Iterator[Engine]:
    """WebKitGTK on a screen that nobody sees. It keeps nothing beyond the window, as a private one."""
    port = _free()
    with ExitStack() as running:
        home = running.enter_context(TemporaryDirectory())
        running.enter_context(_running("Xvfb", ":97", "-screen", "0", "1400x1100x24", "-nolisten", "tcp"))
        screen = {"DISPLAY": ":97", "HOME": home, "LIBGL_ALWAYS_SOFTWARE": "1"}
        # its sandbox needs rights that a container has not
        alone = {"WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1"}
        running.enter_context(_running("WebKitWebDriver", f"--port={port}", **screen, **alone))
        _connected(port).close()
        yield WebKit(port)


@contextmanager
def firefox() -> Iterator[Engine]:
    """Firefox without a screen, with a profile of its own."""
    port = _free()
    with ExitStack() as running:
        profile = running.enter_context(TemporaryDirectory(ignore_cleanup_errors=True))
        lines = {**PREFERENCES, "marionette.port": port}
        text = "".join(f"user_pref({json.dumps(k)}, {json.dumps(v)});\n" for k, v in lines.items())
        Path(profile, "user.js").write_text(text)
        running.enter_context(_running("firefox-esr", "--headless", "--marionette", "--profile", profile))
        yield Firefox(_connected(port))


ENGINES = {"webkit": webkit, "firefox": firefox}
