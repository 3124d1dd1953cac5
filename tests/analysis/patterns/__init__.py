"""Fleets made by hand: systems under watch and their leaks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from leaklore.analysis.patterns.exposure import Fleet, Leak, Watched
from leaklore.records.model import Equipment, Site, System

from .. import builders

SINCE, UNTIL = dt.date(2021, 1, 1), dt.date(2026, 1, 1)


def watched(
    name: str, installed: dt.date, end: dt.date = UNTIL, since: dt.date = SINCE, setting: str = "residential"
) -> Watched:
    """A system under watch from `since`, or from its installation, to `end`."""
    site = Site("orchard", "Orchard Rise", "Ketterwick", setting)
    return Watched(System(name, site, name, Equipment()), installed, max(installed, since), end)


def leak(number: int, on: Watched, day: dt.date, mode: str = "loose-flare", **more: Any) -> Leak:
    """A proven leak, repaired on the same day unless `closed` says otherwise."""
    case = builders.case(
        number, mode=mode, **{"labour": "1 h", "reported": day, "closed": day, "system": on.system, **more}
    )
    return Leak(case, mode, case.cause.component, on, day)


def fleet(
    systems: Sequence[Watched], leaks: Sequence[Leak], since: dt.date = SINCE, until: dt.date = UNTIL
) -> Fleet:
    """These systems and leaks."""
    ordered = sorted(leaks, key=lambda x: (x.day, x.case.id, x.mode))
    return Fleet(since, until, tuple(systems), tuple(ordered), {})
