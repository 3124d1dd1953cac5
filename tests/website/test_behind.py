"""Whole builds behind the pages that are shown at once: each wish is built once, faults reach who waits."""

from __future__ import annotations

import threading
import time

import pytest
from mkdocs.exceptions import PluginError

from leaklore.errors import LeakloreError
from leaklore.website.behind import Behind
from leaklore.workers import Apart

LONG = 20.0
"""Seconds after which something hangs."""


class Builds:
    """A build that stops half-way until it is let go."""

    def __init__(self) -> None:
        self.begun = threading.Semaphore(0)
        self.go = threading.Semaphore(0)
        self.told = threading.Semaphore(0)
        self.count = 0
        self.fault: Exception | None = None
        self.behind = Behind(self.build, self.told.release)

    def build(self) -> None:
        self.count += 1
        self.begun.release()
        assert self.go.acquire(timeout=LONG)
        if self.fault:
            raise self.fault


def test_nobody_waits_for_a_whole_and_wishes_meanwhile_are_one() -> None:
    builds = Builds()
    builds.behind.want()
    assert builds.begun.acquire(timeout=LONG)
    builds.behind.want(after=0.01)
    builds.behind.want()  # both come back at once, although a build stands still
    builds.go.release()
    assert builds.told.acquire(timeout=LONG)
    assert builds.begun.acquire(timeout=LONG)
    builds.go.release()
    assert builds.told.acquire(timeout=LONG)
    assert builds.count == 2


def test_who_waits_gets_a_build_that_began_after_and_its_fault() -> None:
    builds = Builds()
    builds.behind.want()
    assert builds.begun.acquire(timeout=LONG)
    builds.behind.want()
    builds.go.release(2)
    builds.behind.wait()
    assert builds.count == 2
    builds.fault = PluginError("records/2025/KW-2025-002.yaml:3:1: no such word")
    builds.behind.want()
    builds.go.release()
    with pytest.raises(PluginError, match="no such word"):
        builds.behind.wait()
    builds.fault = None
    builds.behind.want()
    builds.go.release()
    builds.behind.wait()


def test_the_end_takes_the_processes_of_a_build_away_and_no_other_begins() -> None:
    begun = threading.Semaphore(0)
    faults: list[Exception] = []

    def build() -> None:
        begun.release()
        try:
            Apart(time.sleep, 10 * LONG).answer()
        except LeakloreError as fault:
            faults.append(fault)
            raise

    behind = Behind(build, lambda: faults.append(AssertionError("told the browsers")))
    behind.want()
    assert begun.acquire(timeout=LONG)
    behind.want()
    start = time.monotonic()
    assert behind.end()
    assert time.monotonic() - start < LONG
    assert not begun.acquire(timeout=0.2)
    assert [type(fault) for fault in faults] == [LeakloreError]


def test_the_end_without_a_build() -> None:
    assert not Behind(lambda: None, lambda: None).end()
    later = Behind(lambda: pytest.fail("a build"), lambda: None)
    later.want(after=0.2)
    assert not later.end()
    time.sleep(0.4)
