"""systems.yaml, checked: the sites and the systems that stand there."""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from leaklore.problem import Finding, Problem
from leaklore.records import convert, parse, quick, source
from leaklore.records.gather import Gathered
from leaklore.records.model import Site, System
from leaklore.records.parse import short
from leaklore.records.rules.privacy import looks_private
from leaklore.records.schema import Schemas
from leaklore.records.source import Source, Unreadable
from leaklore.records.store import Store, unpickled


@dataclass(frozen=True)
class Register:
    """Sites and systems by key; `read` is False where some are missing because of errors."""

    sites: Mapping[str, Site]
    systems: Mapping[str, System]
    read: bool
    problems: tuple[Problem, ...] = ()
    marks: Mapping[str, bytes] = field(default_factory=dict)
    """A digest of what the register says of each system, by number."""
    written: int = 0
    """Systems that stand in the file, also where not all could be read."""


def register(root: Path, got: Gathered, schemas: Schemas, store: Store, basis: bytes) -> Register:
    """The register, from the store where its file did not change; problems are noted in `got`."""
    file = root / "systems.yaml"
    if not os.path.lexists(file):
        return Register({}, {}, read=True)
    found = source.read(file, root, source.MAX_REGISTER_BYTES)
    if isinstance(found, Unreadable):
        got.unreadable(found)
        return Register({}, {}, read=False)
    basis = hashlib.sha256(basis + found.digest.encode()).digest()
    made = store.load("register.pickle", basis, unpickled)
    if not isinstance(made, Register):
        made = _made(found, schemas)
        if store.kept:
            store.save("register.pickle", basis, pickle.dumps(made, protocol=5))
    got.problems += made.problems
    return made


def _made(found: Source, schemas: Schemas) -> Register:
    own = Gathered()
    whole = quick.data_with_lists(found.data, ("sites", "systems"))
    if whole is None or not schemas.accepts("system", whole):
        document = parse.parse(found.data)
        if isinstance(document, list):
            own.broken(found.path, document, lambda data: schemas.check("system", data))
            written = _written(document.document.data) if document.document else 0
            return Register({}, {}, False, tuple(own.problems), written=written)
        whole = document.data
        if own.add(found.path, document, schemas.check("system", whole)):
            return Register({}, {}, False, tuple(own.problems), written=_written(whole))
    sites: dict[str, Site] = {}
    systems: dict[str, System] = {}
    marks: dict[str, bytes] = {}
    findings: list[Finding] = []
    for i, data in enumerate(whole["sites"]):
        if data["key"] in sites:
            findings.append(
                Finding(
                    ("sites", i, "key"),
                    f'sites[{i}].key: "{data["key"]}" is used twice',
                    "give it a key of its own",
                    "register/twice",
                )
            )
        sites[data["key"]] = convert.site(data)
    astray = False
    for i, data in enumerate(whole["systems"]):
        if data["id"] in systems:
            findings.append(
                Finding(
                    ("systems", i, "id"),
                    f'systems[{i}].id: "{data["id"]}" is used twice',
                    "give it a number of its own",
                    "register/twice",
                )
            )
        at = sites.get(data["site"])
        if at is None:
            findings.append(
                Finding(
                    ("systems", i, "site"),
                    f'systems[{i}].site: "{short(data["site"])}" is no site of the register',
                    "add it under sites:, or correct the key",
                    "register/site",
                )
            )
            astray = True
            continue
        made = systems[data["id"]] = convert.system(data, at)
        marks[data["id"]] = hashlib.blake2b(f"{data} {at}".encode(), digest_size=8).digest()
        start = made.equipment.installed
        if made.removed and start and made.removed.day < start.day:
            findings.append(
                Finding(
                    ("systems", i, "removed"),
                    f"systems[{i}].removed: {made.removed.written} is before the installation in {start.written}",
                    "correct one of the two dates",
                    "date/order",
                )
            )
    for group in ("sites", "systems"):
        for i, data in enumerate(whole[group]):
            for key in ("name", "batch", "note"):
                findings += looks_private((group, i, key), data.get(key, ""))
    if findings:
        document = parse.parse(found.data)
        assert isinstance(document, parse.Document)  # or there would be no data
        own.add(found.path, document, findings)
    if not schemas.certain("system", whole):
        return Register({}, {}, False, tuple(own.problems), written=len(whole["systems"]))
    return Register(sites, systems, not astray, tuple(own.problems), marks, len(whole["systems"]))


def _written(whole: Any) -> int:
    """Systems that stand in the file, right or wrong."""
    listed = whole.get("systems") if isinstance(whole, dict) else None
    return len(listed) if isinstance(listed, list) else 0
