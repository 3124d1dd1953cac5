"""Both sides that check a record in the making: `leaklore check` in the demo library, and the browser's modules."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Mapping
from typing import Any

from leaklore.pages import data
from leaklore.pages.book import Book
from leaklore.problem import Finding, pointer_text
from leaklore.records import convert, schema
from leaklore.records.draft import Bench
from leaklore.records.rules import CASE_RULES, Context
from leaklore.records.rules import photos as photo_files
from search.served import Searcher

TODAY = dt.date(2026, 12, 31)
Told = dict[str, Any]
START = """async (files) => {
  const [record, schema, systems, cases] = JSON.parse(files);
  const modules = {};
  for (const name of ["draft", "quantity", "zip", "photo"]) modules[name] = await import(`/record/${name}.mjs`);
  const made = modules.quantity.make(record);
  globalThis.desk = { ...modules.draft, ...modules.zip, ...modules.photo, ...made, record, schema, systems, cases };
  return JSON.stringify(Object.keys(globalThis.desk).length);
}"""
CHECK = """(calls) => JSON.stringify(JSON.parse(calls).map(([name, draft, photos, known]) => {
  const { record, schema, systems, cases } = desk;
  const world = { record, schema, systems, cases: known ? cases : null, today: "%s", photos };
  return desk[name](draft, world);
}))"""


class Phone:
    """The browser's modules with the data files that Python wrote for the demo library."""

    def __init__(self, book: Book) -> None:
        self._searcher = Searcher({})
        files = {f.path: f.content for f in data.files(book)}
        names = ("data/record.json", "data/schema/case.schema.json", "data/systems.json")
        texts = [files[name].decode() for name in names]
        record, schema, systems = map(json.loads, texts)
        table = systems["systems"]
        register = {"systems": [dict(zip(table["keys"], row, strict=True)) for row in table["rows"]]}
        content = [record, schema, register, sorted(c.id for c in book.library.cases)]
        self.run(START, content)

    def run(self, script: str, argument: Any) -> Any:
        """What a function makes of an argument; both go as JSON. `desk` holds the modules' exports and the data."""
        return self._searcher.run(script, argument)

    def told(self, name: str, calls: Iterable[tuple[Told, list[str], bool]]) -> list[list[Told]]:
        """Answers of checkDraft or checkSoFar to (draft, photos attached, are the cases known?)."""
        asked = [[name, *call] for call in calls]
        found: list[list[Told]] = self.run(CHECK % TODAY.isoformat(), asked)
        return found

    def close(self) -> None:
        """Closes the browser."""
        self._searcher.close()


class Office:
    """`leaklore check` of one record in the demo library: the schema, then the rules of one case."""

    def __init__(self, book: Book) -> None:
        self.library = book.library
        self.bench = Bench(book.library, TODAY)
        self._schemas = schema.Schemas(book.library.vocabulary)

    def check(self, record: Mapping[str, Any], photos: Iterable[str]) -> list[Told]:
        """Findings as the browser tells them."""
        found = self._schemas.check("case", record)
        if not found:
            lib, number = self.library, record["id"]
            ids = frozenset({*lib.by_id, number})
            there = frozenset(f"{number}/{name}" for name in photos)
            context = Context(lib.root, lib.company, lib.guide, lib.systems, ids, there, TODAY)
            case = convert.case(record, str(self.bench.place(number)), "", lib.systems)
            judged = [rule for rule in CASE_RULES if rule not in photo_files.RULES]  # those need the pictures
            found = [finding for rule in judged for finding in rule(case, record, context)]
        return [told(finding) for finding in found]

    def so_far(self, record: Mapping[str, Any]) -> list[Told]:
        """What the rules say of what is there."""
        return [told(finding) for finding in self.bench.rules(record)]


def told(finding: Finding) -> Told:
    """A finding as the browser tells it."""
    return {
        "pointer": list(finding.pointer),
        "path": pointer_text(finding.pointer),
        "message": finding.message,
        "instead": finding.instead,
        "severity": finding.severity,
        "rule": finding.rule,
    }
