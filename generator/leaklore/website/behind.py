"""Under `serve`: whole builds in a thread of their own, so that the page of an edited record need not wait for one."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from multiprocessing import active_children
from typing import TYPE_CHECKING

from mkdocs.exceptions import MkDocsException

if TYPE_CHECKING:
    from mkdocs.livereload import LiveReloadServer

log = logging.getLogger("mkdocs.plugins.leaklore")
SOON = 1.0
"""Seconds after an edit until the whole is built: the browser has the page by then."""


class Behind:
    """Builds one whole after the other, as long as one is wanted."""

    def __init__(self, build: Callable[[], None], tell: Callable[[], None]) -> None:
        """`build` makes the whole; `tell` says to the browsers that it is there."""
        self._build = build
        self._tell = tell
        self._news = threading.Condition()
        self._wanted = self._begun = self._done = 0
        self._at = 0.0
        self._waited = False
        self.over = False
        """Has `end` been called?"""
        self._fault: BaseException | None = None
        self._thread: threading.Thread | None = None

    def want(self, after: float = 0.0) -> None:
        """One whole, begun at the earliest in so many seconds; an earlier wish that has not begun is part of it."""
        with self._news:
            self._wanted += 1
            self._at = time.monotonic() + after
            self._news.notify_all()
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, daemon=True)
                self._thread.start()

    def wait(self) -> None:
        """Until all that was wanted is there; raises what the last build has raised."""
        with self._news:
            want, self._waited = self._wanted, True
            while self._done < want:
                self._news.wait(timeout=0.25)  # a wait without end can't be interrupted on Windows
            self._waited = False
            if self._fault is not None:
                raise self._fault

    def end(self) -> bool:
        """Begins no other build; one that is under way fails, for the processes that work for it are taken away. Was one?"""
        with self._news:
            self.over = True
            self._news.notify_all()
            busy = self._begun > self._done
            while self._begun > self._done:
                for child in active_children():
                    child.kill()
                self._news.wait(timeout=0.05)  # it may just be forking others
        return busy

    def _run(self) -> None:
        while True:
            with self._news:
                while not self.over and (
                    self._wanted == self._begun or (rest := self._at - time.monotonic()) > 0
                ):
                    self._news.wait(timeout=None if self._wanted == self._begun else rest)
                if self.over:
                    return
                self._begun = self._wanted
            fault: BaseException | None = None
            try:
                self._build()
            except (Exception, SystemExit, KeyboardInterrupt) as told:  # Ctrl-C reaches its processes, too
                fault = told
            with self._news:
                self._done, self._fault = self._begun, fault
                self._news.notify_all()
                if self._waited or self.over:  # who waits tells
                    continue
            if fault is None:
                self._tell()
            elif isinstance(fault, (MkDocsException, SystemExit)):
                log.error(str(fault))
            else:
                log.error("the site could not be built", exc_info=fault)


def reload(server: LiveReloadServer) -> None:
    """Has every open page loaded anew. MkDocs 1.6 has no call for it beyond a change of a watched file."""
    with server._epoch_cond:
        after = max(
            server._visible_epoch + 1, round(time.monotonic() * 1000)
        )  # milliseconds, as MkDocs counts
        server._wanted_epoch = server._visible_epoch = after
        server._epoch_cond.notify_all()
