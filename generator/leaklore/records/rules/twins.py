"""Two records that may be one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from leaklore.problem import Finding
from leaklore.records.model import Case

DOCS = {"near-duplicate": "same system, same failure mode, reported within three weeks (warning)"}
DAYS = 21


def near_duplicates(cases: Sequence[Case]) -> Iterator[tuple[Case, Finding]]:
    """Same system, same failure mode, reported within three weeks, and not said to be related."""
    last: dict[tuple[str, str], Case] = {}
    for case in sorted(cases, key=lambda c: (c.reported, c.id)):
        if case.system is None or case.withdrawn is not None:
            continue
        key = case.system.id, case.cause.mode
        other = last.get(key)
        last[key] = case
        if other is None or (case.reported - other.reported).days > DAYS:
            continue
        if other.id == case.id:  # told as a number used twice
            continue
        if other.id in (r.case for r in case.related) or case.id in (r.case for r in other.related):
            continue
        apart = (case.reported - other.reported).days
        yield (
            case,
            Finding(
                ("id",),
                f"id: may be the same job as {other.id} (same system, same failure mode, "
                f"{apart} day{'' if apart == 1 else 's'} apart)",
                "withdraw one of them, or name the other under related:",
                "near-duplicate",
                severity="warning",
            ),
        )
