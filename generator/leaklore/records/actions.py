"""The company's changes: house/actions.yaml, checked like every other file of the library."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from leaklore.problem import Finding, Pointer
from leaklore.records import convert
from leaklore.records.gather import Gathered, load
from leaklore.records.model import Action, Site
from leaklore.records.near import did_you_mean
from leaklore.records.parse import short
from leaklore.records.rules import Context
from leaklore.records.rules.privacy import looks_private
from leaklore.records.rules.references import lead_nowhere
from leaklore.records.schema import Schemas


def read_actions(
    file: Path, got: Gathered, schemas: Schemas, sites: Mapping[str, Site], ctx: Context
) -> tuple[Action, ...]:
    """The changes that are right, by day; problems are noted in `got`. No file means no change."""
    if not os.path.lexists(file):
        return ()
    loaded = load(file, ctx.root, got, lambda data: schemas.check("actions", data))
    if loaded is None:
        return ()
    found, document = loaded
    if got.add(found.path, document, schemas.check("actions", document.data)):
        return ()
    known = _register(sites, ctx)
    seen: set[str] = set()
    right: list[Action] = []
    for i, data in enumerate(document.data["actions"]):
        findings = [*_findings(i, data, ctx, known)]
        if data["key"] in seen:
            findings.append(
                Finding(
                    ("actions", i, "key"),
                    f'actions[{i}].key: "{data["key"]}" is used twice',
                    "give each change a key of its own",
                    "id/twice",
                )
            )
        seen.add(data["key"])
        if not got.add(found.path, document, findings):
            right.append(convert.action(data))
    if not schemas.certain("actions", document.data):
        return ()
    return tuple(sorted(right, key=lambda a: (a.date, a.key)))


def _register(sites: Mapping[str, Site], ctx: Context) -> dict[str, set[str]]:
    """What the register knows of each free word that `where` may hold."""
    systems = ctx.systems.values()
    return {
        "site": set(sites),
        "batch": {s.batch for s in sites.values() if s.batch},
        "family": {s.equipment.family for s in systems if s.equipment.family},
    }


def _findings(i: int, data: dict[str, Any], ctx: Context, known: Mapping[str, set[str]]) -> Iterator[Finding]:
    at: Pointer = ("actions", i)
    made = convert.action(data)
    if made.date > ctx.today:
        yield Finding(
            (*at, "date"),
            f"actions[{i}].date: {made.date} lies in the future",
            "write the day on which it was first done, and nothing before it is done",
            "date/future",
        )
    for key, word in made.where.items():
        if ctx.register_read and key in known and word not in known[key]:
            yield Finding(
                (*at, "where", key),
                f'actions[{i}].where.{key}: "{short(word)}" is no {key} of the register',
                did_you_mean(word, known[key], f"write a {key} as systems.yaml has it"),
                "reference",
            )
    for key in ("what", "note"):
        if key in data:
            yield from lead_nowhere((*at, key), data[key], ctx)
            yield from looks_private((*at, key), data[key])
