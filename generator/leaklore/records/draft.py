"""A record in the making: what is wrong with it so far, by the schema and the rules of `leaklore check`.

A field is judged as soon as it is there. For what is still missing the schema's own example stands in, and what a
rule says of such a field is not told.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from leaklore.problem import Finding, Pointer, Problem
from leaklore.records import convert, parse, source
from leaklore.records.gather import Gathered
from leaklore.records.library import Library
from leaklore.records.rules import CASE_RULES, LIBRARY_RULES, Context
from leaklore.records.schema import Schemas, load

_WAITS_FOR = {"id/branch": "id", "search/elsewhere": "cause"}
"""Rules that compare the field they tell of with one that is asked for later."""


class Bench:
    """Checks a record in the making against a library; `numbers` are all case numbers in use."""

    def __init__(self, library: Library, today: dt.date) -> None:
        self.library = library
        self._schemas = Schemas(library.vocabulary)
        stems = (file.stem for file in source.find_yaml(library.root / "records"))
        ids = frozenset({*library.by_id, *stems})
        photos = frozenset(f"{p.parent.name}/{p.name}" for p in (library.root / "photos").glob("*/*"))
        self.numbers = ids | frozenset(library.former)
        self._context = Context(
            library.root, library.company, library.guide, library.systems, ids, photos, today
        )

    def place(self, number: str) -> Path:
        """Where the record with this number belongs."""
        return self.library.root / "records" / number.split("-")[1] / f"{number}.yaml"

    def next_number(self, branch: str, year: int) -> str:
        """The number behind the highest one that the branch has used in this year."""
        begin = f"{self.library.company.branches[branch]}-{year}-"
        used = [n.removeprefix(begin) for n in self.numbers if n.startswith(begin)]
        return f"{begin}{max((int(n) for n in used if n.isdecimal()), default=0) + 1:03}"

    def field(self, record: Mapping[str, Any], pointer: Pointer) -> list[Finding]:
        """What the schema says against one field of the record."""
        found = [f for f in self._schemas.check("case", record) if f.pointer[: len(pointer)] == pointer]
        number = record.get("id")
        if pointer == ("id",) and number in self.numbers:
            message, instead = f'id: "{number}" is used already', "give this record a number of its own"
            found.append(Finding(pointer, message, instead, "id/twice"))
        return found

    def rules(self, record: Mapping[str, Any]) -> list[Finding]:
        """What the rules say against the fields that are there; nothing before the schema is content with them."""
        example = load("case")["examples"][0]
        data = {**example, **record, "cause": {**example["cause"], **record.get("cause", {})}}
        if "system" not in record:
            del data["system"]
        if self._schemas.check("case", data):
            return []
        return [
            f
            for f in self._told(data)
            if f.pointer and f.pointer[0] in record and _WAITS_FOR.get(f.rule, f.pointer[0]) in record
        ]

    def rules_at(self, record: Mapping[str, Any], pointer: Pointer) -> list[Finding]:
        """The same against one field."""
        return [f for f in self.rules(record) if f.pointer[: len(pointer)] == pointer]

    def whole(self, text: str, number: str) -> tuple[Problem, ...]:
        """Everything that `leaklore check` would say of the finished record."""
        path = source.shown(self.place(number), self.library.root)
        got = Gathered()
        document = parse.parse(text.encode())
        if isinstance(document, list):
            got.add(path, None, document)
        elif not got.add(path, document, self._schemas.check("case", document.data)):
            got.add(path, document, self._told(document.data))
            case = convert.case(document.data, path, "", self.library.systems)
            for rule in LIBRARY_RULES:
                told = [f for other, f in rule([*self.library.cases, case]) if other is case]
                got.add(path, document, told)
        return tuple(sorted(set(got.problems)))

    def _told(self, data: Mapping[str, Any]) -> list[Finding]:
        path = source.shown(self.place(data["id"]), self.library.root)
        case = convert.case(data, path, "", self.library.systems)
        return [finding for rule in CASE_RULES for finding in rule(case, data, self._context)]
