"""A library whose every text field says what a stranger might write. Which fields there are, the schemas say.

A new text field of a schema is filled by itself: where it is missing from the record below, the schema's own example of
what holds it comes in.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from site_fixture import ROOT
from website.libraries import CASE, COMPANY, PHOTO, write_case, write_yaml

GUIDE = ROOT / "generator" / "leaklore" / "guide"
RECORDS = 12
LEARNT = (
    "mode:flare-joint",
    "technique:bubble-test",
    "component:indoor-flare",
    "questions:detectors",
    "unknown:KW-2025-006",
)
Way = tuple[str, ...]
"""Keys on the way to a field; "[]" stands for an entry of a list."""

REGISTER = {("systems", "[]", "site"), ("crews", "[]", "branch")} | {
    ("actions", "[]", "where", key) for key in ("family", "batch", "site")
}
"""Texts that must name an entry of the library."""


@dataclass(frozen=True)
class Kind:
    """Vectors of one kind. `refused`: no file may hold them."""

    name: str
    why: str
    vectors: tuple[str, ...]
    refused: bool


@cache
def kinds() -> tuple[Kind, ...]:
    """The corpus."""
    told = yaml.safe_load((Path(__file__).parent / "vectors.yaml").read_text("utf-8"))
    return tuple(
        Kind(k["kind"], k["why"], tuple(k["vectors"]), k.get("refused", False)) for k in told["kinds"]
    )


def vectors(refused: bool = False) -> list[str]:
    """All vectors that a file can hold, or those that none may."""
    return [v for kind in kinds() if kind.refused is refused for v in kind.vectors]


@cache
def _schemas() -> Mapping[str, Any]:
    found = [json.loads(p.read_text("utf-8")) for p in sorted((ROOT / "schema").glob("*.schema.json"))]
    return {schema["$id"]: schema for schema in found}


def schema(kind: str, part: str = "") -> dict[str, Any]:
    """A schema, or one of its definitions."""
    whole: dict[str, Any] = _schemas()[f"urn:leaklore:schema:{kind}:1"]
    return whole["$defs"][part] if part else whole


def _followed(part: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in part:
        name, _, inside = part["$ref"].partition("#/$defs/")
        found = _schemas()[name]["$defs"][inside] if inside else _schemas()[name]
        part = {**found, **{k: v for k, v in part.items() if k != "$ref"}}
    return part


_NOT_FREE = {"enum", "pattern", "format", "x-vocabulary", "x-quantity"}


@dataclass(frozen=True)
class Field:
    """A field that takes any text of so many letters."""

    path: Way
    least: int
    most: int


def text_fields(part: Mapping[str, Any], at: Way = ()) -> Iterator[Field]:
    """Every free text of a schema."""
    part = _followed(part)
    if part.get("type") == "string" and not _NOT_FREE & part.keys() and at not in REGISTER:
        yield Field(at, part.get("minLength", 0), part.get("maxLength", 10_000))
    for key, inside in part.get("properties", {}).items():
        yield from text_fields(inside, (*at, key))
    if isinstance(part.get("items"), dict):
        yield from text_fields(part["items"], (*at, "[]"))


def _example(part: Mapping[str, Any], path: Way) -> Any:
    """What the schema gives as an example for what stands at a path."""
    for key in path:
        part = _followed(part)
        part = part["items"] if key == "[]" else part["properties"][key]
    return copy.deepcopy(_followed(part)["examples"][0])


class Pen:
    """Writes vectors by turns, so that each comes to stand in fields of all sizes that hold it."""

    def __init__(self, texts: Sequence[str]) -> None:
        self.texts = list(texts)
        self.turn = 0

    def short(self, field: Field) -> str:
        """The next vector that fits; too short ones get a word behind them."""
        for _ in self.texts:
            text = self.texts[self.turn % len(self.texts)]
            self.turn += 1
            text += " oil"[: max(0, field.least - len(text))].ljust(max(0, field.least - len(text)), ".")
            if len(text) <= field.most and text.strip():
                return text
        raise AssertionError(f"no vector fits into {field}")

    def long(self, field: Field) -> str:
        """As many as the field holds, one a paragraph, with the marks of Markdown before some."""
        out, room = [], field.most
        for i in range(len(self.texts)):
            text = ("", "> ", "- ", "## ", "| a |\n|---|\n| ")[i % 5] + self.texts[
                (self.turn + i) % len(self.texts)
            ]
            room -= len(text) + 2
            if room < 0:
                break
            out.append(text)
        self.turn += len(out)
        return "\n\n".join(out)

    def text(self, field: Field) -> str:
        """What a field says."""
        return self.long(field) if field.most >= 1000 else self.short(field)


def fill(
    data: Any, part: Mapping[str, Any], pen: Pen, leave: Callable[[Way], bool] = lambda path: False
) -> Any:
    """The data with a vector in every text field of the schema, but where `leave` says so."""
    data = copy.deepcopy(data)
    for field in text_fields(part):
        if not leave(field.path):
            _put(data, field, part, pen)
    return data


def _put(data: Any, field: Field, part: Mapping[str, Any], pen: Pen) -> None:
    at, (*way, last) = [data], field.path
    for i, key in enumerate(way):
        path = field.path[: i + 1]
        if key == "[]":
            at = [item for items in at for item in items]
        else:
            for holder in at:
                if not holder.get(key):
                    holder[key] = _example(part, path)
            at = [holder[key] for holder in at]
    for holder in at:
        if last == "[]":
            holder[:] = [pen.text(field) for _ in holder]
        else:
            holder[last] = pen.text(field)


def values(data: Any, path: Way) -> list[str]:
    """All texts at a path."""
    at = [data]
    for key in path:
        at = (
            [x for items in at for x in items]
            if key == "[]"
            else [h[key] for h in at if isinstance(h, dict) and key in h]
        )
    return [x for x in at if isinstance(x, str)]


def _record(number: int, pen: Pen) -> dict[str, Any]:
    """A record of its own system; only some are withdrawn, for withdrawn ones are no part of most pages."""
    base = {
        **CASE,
        "id": f"KW-2025-{number:03d}",
        "system": f"S-{number:04d}",
        "equipment": {"line_set": {"route": "wall-chase"}},
        "charge": {"lost": "0.4 kg", "over": "14 months"},
        "search": [
            {"technique": "visual", "at": ["outdoor-flare"], "minutes": 5, "result": "clean"},
            *CASE["search"],
        ],
        "cause": {**CASE["cause"], "proof": "held"},
        "fix": {"action": "remake-flare", "parts": "6 USD", "labour": "1.5 h"},
        "follow_up": [{"date": "2025-05-10", "result": "holding"}],
        "photos": [{"file": "a.jpg"}],
    }
    made: dict[str, Any] = fill(
        base, schema("case"), pen, lambda path: path[0] == "withdrawn" and number % 4 > 0
    )
    return made


def _house(folder: Path, pen: Pen) -> None:
    """The company's own guide: pages and words."""
    for name, part in (
        ("failure-modes/flare-joint", "failure-mode"),
        ("techniques/bubble-test", "technique"),
    ):
        front, body = (GUIDE / f"{name}.md").read_text("utf-8").removeprefix("---\n").split("\n---\n", 1)
        facts = fill(yaml.safe_load(front), schema("guide", part), pen)
        body = "\n".join(
            f"{line}\n\n{pen.long(Field((), 0, 400))}" if line.startswith("## ") else line
            for line in body.split("\n")
        )
        file = folder / f"{name}.md"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"---\n{yaml.safe_dump(facts, allow_unicode=True, width=10_000)}---\n{body}", "utf-8")
    for name, part, keys in (
        ("symptoms", "symptom", ("oil-film", "short-of-charge")),
        ("components", "component", ("indoor-flare",)),
    ):
        shipped = {
            entry["key"]: entry for entry in yaml.safe_load((GUIDE / f"{name}.yaml").read_text("utf-8"))
        }
        write_yaml(folder / f"{name}.yaml", [fill(shipped[key], schema("guide", part), pen) for key in keys])
    actions = {"actions": [{"key": "torque-wrench", "date": "2025-03-01", "modes": ["flare-joint"]}]}
    write_yaml(folder / "actions.yaml", fill(actions, schema("actions"), pen))


def make(library: Path) -> Path:
    """Writes the library; returns its folder."""
    pen = Pen(vectors())
    site_url = 'https://leaks.example/"><b/id=hit>&{{7*7}}/'
    company = fill({**COMPANY, "site_url": site_url}, schema("company"), pen)
    company["name"] += " @@CURRENT@@ @@BODY@@"  # it stands where the shell has its slots
    write_yaml(library / "company.yaml", company)
    sites = [
        {"key": f"row-{i}", "branch": "Ketterwick", "setting": "residential"} for i in range(1, RECORDS + 1)
    ]
    systems = [
        {
            "id": f"S-{i:04d}",
            "site": f"row-{i}",
            "kind": "ductless-split",
            "refrigerant": "R-32",
            "charge": "1.1 kg",
            "installed": "2020-05",
            "line_set": {"route": "wall-chase"},
        }
        for i in range(1, RECORDS + 1)
    ]
    write_yaml(library / "systems.yaml", fill({"sites": sites, "systems": systems}, schema("system"), pen))
    for number in range(1, RECORDS + 1):
        record = _record(number, pen)
        write_case(library, record)
        photo = library / "photos" / record["id"] / "a.jpg"
        photo.parent.mkdir(parents=True)
        photo.write_bytes(PHOTO)
        for i, text in enumerate(vectors()[number::RECORDS]):
            name = f"{text.replace('/', '|')[:60]}{i}.jpg"
            (photo.parent / name).write_bytes(PHOTO)  # named by no record
    for i in range(3):
        items = [{"read": read} for read in (f"case:KW-2025-{i + 1:03d}", *LEARNT)]
        course = {"key": f"list-{i}", "level": "apprentice", "items": items}
        write_yaml(library / "reading" / f"list-{i}.yaml", fill(course, schema("reading"), pen))
    _house(library / "house", pen)
    return library
