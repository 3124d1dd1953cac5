"""Dates run forwards and not into the future."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records.model import Case
from leaklore.records.rules.context import Context

DOCS = {
    "date/order": "installed, reported, closed, looked at again: in this order",
    "date/future": "no date lies in the future",
}


def _backwards(pointer: Pointer, day: str, than: str, instead: str) -> Finding:
    return Finding(pointer, f"{pointer_text(pointer)}: {day} is before {than}", instead, "date/order")


def order(case: Case, data: Mapping[str, Any], _: Context) -> Iterator[Finding]:
    """Installed, reported, closed, looked at again: in this order."""
    fix = "correct one of the two dates"
    if case.closed and case.closed < case.reported:
        yield _backwards(("closed",), str(case.closed), f"the report on {case.reported}", fix)
    installed = case.equipment.installed
    if installed and _latest_start(installed.written) > case.reported:
        own = "installed" in data.get("equipment", {})
        yield _backwards(
            ("reported",),
            str(case.reported),
            f"the installation in {installed.written}",
            fix if own else "correct the date here or in the register",
        )
    removed = case.system.removed if case.system else None
    if removed and _latest_end(removed.written) < case.reported:
        yield Finding(
            ("system",),
            f"system: {case.system.id if case.system else ''} was taken out in {removed.written}, "
            f"before this report on {case.reported}",
            "correct the date or the system",
            "date/order",
        )
    last, what = (case.closed, "the closing") if case.closed else (case.reported, "the report")
    for i, look in enumerate(case.follow_up):
        if look.date < last:
            yield _backwards(("follow_up", i, "date"), str(look.date), f"{what} on {last}", fix)
        else:
            last, what = look.date, "the follow-up above it"
    if case.withdrawn and case.withdrawn.date < case.reported:
        yield _backwards(
            ("withdrawn", "date"), str(case.withdrawn.date), f"the report on {case.reported}", fix
        )


def future(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """No date lies in the future."""
    for pointer, day in _days(case):
        if day > ctx.today:
            yield Finding(
                pointer,
                f"{pointer_text(pointer)}: {day} lies in the future",
                "write the day on which it happened",
                "date/future",
            )


def latest(case: Case) -> dt.date:
    """The last day of a record: from then on, and never before, no date of it lies in the future."""
    return max(day for _, day in _days(case))


def _days(case: Case) -> Iterator[tuple[Pointer, dt.date]]:
    yield ("reported",), case.reported
    if case.closed:
        yield ("closed",), case.closed
    for i, look in enumerate(case.follow_up):
        yield ("follow_up", i, "date"), look.date
    if case.withdrawn:
        yield ("withdrawn", "date"), case.withdrawn.date


def _latest_start(written: str) -> dt.date:
    """First day that `written` can mean."""
    parts = [int(p) for p in written.split("-")] + [1, 1]
    return dt.date(parts[0], parts[1], parts[2])


def _latest_end(written: str) -> dt.date:
    """Last day that `written` can mean."""
    parts = [int(p) for p in written.split("-")]
    if len(parts) == 3:
        return dt.date(*parts)
    year, month = parts[0], parts[1] if len(parts) == 2 else 12
    return dt.date(year, month, calendar.monthrange(year, month)[1])


RULES = (order, future)
