"""The map of a job sheet: read, and checked before any row is."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from leaklore.errors import LeakloreError, QuantityError
from leaklore.intake.fault import shown
from leaklore.intake.table import Reading, Table
from leaklore.problem import Finding, Pointer, Problem, errors
from leaklore.records import field as fields
from leaklore.records import parse, quantity, source
from leaklore.records.gather import Gathered
from leaklore.records.near import did_you_mean
from leaklore.records.parse import short
from leaklore.records.schema import Schemas

RULE = "take/map"
_SLOT = re.compile(r"\{([^{}]+)\}")
_NOT_TAKEN = ("photos",)
_READING = ("encoding", "delimiter", "header", "sheet")
_CARRIES = ("to", "from", "fixed")
"""Without it an entry of the map says nothing."""


@dataclass(frozen=True, slots=True)
class Feed:
    """What one column gives to one field."""

    to: Pointer
    column: str
    words: Mapping[str, str] = field(default_factory=dict)
    near: bool = False
    unit: str | None = None
    dates: tuple[str, ...] = ()
    split: str | None = None


@dataclass(frozen=True)
class Map:
    """A checked map. `steps` holds for each group of columns its fixed parts; the columns are among `feeds`."""

    feeds: tuple[Feed, ...]
    texts: Mapping[Pointer, str]
    fixed: Mapping[Pointer, Any]
    steps: tuple[Mapping[str, Any], ...] = ()
    reading: Reading = field(default_factory=Reading)
    decimal: str = "."
    skip_rows_without: str | None = None
    key: str | None = None
    book: str | None = None
    empty: frozenset[str] = frozenset()


class MapFile:
    """The file of a map with its places; `problems` is empty where it can be used.

    `reading` is there wherever a sheet can be read, also where the map itself has errors: all of them are told at once.
    """

    def __init__(self, file: Path, schemas: Schemas) -> None:
        self.path = shown(file)
        self._got = Gathered()
        self._document: parse.Document | None = None
        self._schemas = schemas
        self.map: Map | None = None
        self.reading: Reading | None = None
        try:
            data = file.read_bytes()
        except OSError as fault:
            raise LeakloreError(f'the map "{self.path}" can\'t be read ({fault.strerror})') from None
        if len(data) > source.MAX_BYTES:
            raise LeakloreError(f'the map "{self.path}" is longer than 1 MB; look what was saved there')
        document = parse.parse(data)
        if isinstance(document, list):
            self._got.add(self.path, None, document)
            return
        self._document = document
        found = schemas.check("map", document.data)
        sound = _sound(document.data, found)
        self._add([*found, *self._of_paths(sound), *self._of_fixed(sound)])
        if isinstance(document.data, dict) and not any(map(_hides_reading, found)):
            self.reading = _reading(document.data)
        if not errors(self.problems):
            self.map = _made(document.data)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Sorted by place."""
        return tuple(sorted(set(self._got.problems)))

    def fits(self, table: Table, sheet: str) -> bool:
        """Does the sheet have every column that the map names? What is missing is told of the map."""
        assert self._document is not None
        data = self._document.data
        return not self._add([*_missing(data, table.headers, sheet)]) and not errors(self.problems)

    def _add(self, findings: list[Finding]) -> bool:
        return self._got.add(self.path, self._document, findings)

    def _of_paths(self, data: Mapping[str, Any]) -> Iterator[Finding]:
        taken: dict[str, str] = {}
        for group in ("columns", "lists", "texts"):
            for name, spec in data.get(group, {}).items():
                to = name if group == "texts" else spec if isinstance(spec, str) else spec["to"]
                at: Pointer = (group, name) if isinstance(spec, str) else (group, name, "to")
                pointer = fields.read_pointer(to)
                yield from _leaf(at, to, group, on_key=group == "texts")
                if pointer and not isinstance(spec, str) and "unit" in spec:
                    yield from _of_unit((group, name, "unit"), pointer, spec["unit"])
                if pointer and not isinstance(spec, str) and "words" in spec:
                    yield from self._of_words((group, name, "words"), pointer, spec["words"])
                first = taken.setdefault(to, name)
                if first is not name and group != "texts":
                    yield Finding(
                        at,
                        f'{group}: "{short(first)}" and "{short(name)}" both feed {to}',
                        "keep one, or join them under texts:",
                        RULE,
                    )
        for i, step in enumerate(data.get("search", ())):
            known = fields.names(("search", 0))
            for part, spec in step.items():
                if part not in known:
                    yield Finding(
                        ("search", i, part),
                        f'search[{i}]: "{short(part)}" is no part of a search step',
                        did_you_mean(part, known, f"write one of {', '.join(known)}"),
                        RULE,
                        on_key=True,
                    )
                elif isinstance(spec, dict) and ("from" in spec) == ("fixed" in spec):
                    yield Finding(
                        ("search", i, part),
                        f"search[{i}].{part}: needs either from: or fixed:",
                        "write from: and a column, or fixed: and a value",
                        RULE,
                    )
                elif isinstance(spec, dict) and "unit" in spec:
                    yield from _of_unit(("search", i, part, "unit"), ("search", 0, part), spec["unit"])
                if part in known and isinstance(spec, dict) and "words" in spec:
                    yield from self._of_words(
                        ("search", i, part, "words"), ("search", 0, part), spec["words"]
                    )

    def _of_words(self, at: Pointer, pointer: Pointer, words: Mapping[str, str]) -> Iterator[Finding]:
        """Does the guide, or the schema, have what the words stand for? An empty one leaves the field out."""
        about = fields.about(pointer)
        many = about.get("type") == "array"
        if not {"x-vocabulary", "enum"} & (about["items"] if many else about).keys():
            return
        for said, meant in words.items():
            if not meant:
                continue
            trial = nested({pointer: [meant] if many else meant})
            for f in self._schemas.check("case", trial):
                if f.pointer[: len(pointer)] == pointer:
                    yield Finding((*at, said), f.message, f.instead, f.rule)

    def _of_fixed(self, data: Mapping[str, Any]) -> Iterator[Finding]:
        for to, value in data.get("fixed", {}).items():
            found = list(_leaf(("fixed", to), to, "fixed", on_key=True))
            yield from found
            pointer = fields.read_pointer(to)
            if found or pointer is None:
                continue
            trial = nested({pointer: value})
            for f in self._schemas.check("case", trial):
                if f.pointer[: len(pointer)] == pointer:
                    at = ("fixed", to, *f.pointer[len(pointer) :])
                    yield Finding(at, f.message, f.instead, f.rule)


def _sound(data: Any, findings: Iterable[Finding]) -> dict[str, Any]:
    """The map without what the schema refuses, so that the rest of it can be looked at in the same run."""
    if not isinstance(data, dict):
        return {}
    sound = copy.deepcopy(data)
    for finding in findings:
        place = finding.pointer
        _drop(sound, place[:-1] if len(place) > 2 and place[-1] in _CARRIES else place)
    return sound


def _drop(data: Any, place: Pointer) -> None:
    """Takes out what stands at `place`; an entry of a list becomes empty, for the others keep their numbers."""
    for i, part in enumerate(place):
        last = i == len(place) - 1
        if isinstance(data, dict) and part in data:
            data = data.pop(part) if last else data[part]
        elif isinstance(data, list) and isinstance(part, int) and part < len(data):
            if last:
                data[part] = {}
            data = data[part]
        else:
            return


def _hides_reading(finding: Finding) -> bool:
    """Does a finding of the schema leave open how the sheet is to be read? A misspelt key at the top may have said it."""
    top = len(finding.pointer) == 1
    return top and (finding.pointer[0] in _READING or finding.on_key)


def _reading(data: Mapping[str, Any]) -> Reading:
    return Reading(data.get("encoding"), data.get("delimiter"), int(data.get("header", 1)), data.get("sheet"))


def _leaf(at: Pointer, to: str, group: str, on_key: bool) -> Iterator[Finding]:
    """Is `to` a field that one cell can fill?"""
    pointer = fields.read_pointer(to)
    if pointer is None or pointer[0] in _NOT_TAKEN:
        yield Finding(
            at,
            f'{group}: "{short(to)}" is no field of a record that a sheet can fill',
            did_you_mean(to, leaves(), "write a path of the schema, for example cause.component"),
            RULE,
            on_key=on_key,
        )
        return
    about = fields.about(pointer)
    if group == "fixed":
        return
    if "properties" in about or "properties" in about.get("items", ()):
        inside = ", ".join(f"{to}.{name}" for name in fields.names(pointer)[:3]) or f"{to}[0].…"
        yield Finding(
            at, f'{group}: "{to}" holds several fields', f"write one of {inside}", RULE, on_key=on_key
        )
    elif (about.get("type") == "array") != (group == "lists"):
        told = (f'"{to}" is a list', "put the column under lists:")
        if group == "lists":
            told = (f'"{to}" is not a list', "put the column under columns:")
        yield Finding(at, f"{group}: {told[0]}", told[1], RULE, on_key=on_key)


def _of_unit(at: Pointer, pointer: Pointer, unit: str) -> Iterator[Finding]:
    dimension, name = fields.about(pointer).get("x-quantity"), ".".join(map(str, at))
    if dimension is None:
        yield Finding(at, f"{name}: this field is no quantity", "take the unit out", RULE)
        return
    try:
        quantity.read(f"1 {unit}", dimension)
    except QuantityError:
        message = f'{name}: "{short(unit)}" is no unit of this field'
        yield Finding(at, message, f"write the unit of {quantity.EXAMPLES[dimension]}", RULE)


def leaves(pointer: Pointer = ()) -> list[str]:
    """Paths of all fields that one cell can fill; the first entry stands for a list of blocks."""
    out = []
    for name in fields.names(pointer):
        place = (*pointer, name)
        about = fields.about(place)
        if place[0] in _NOT_TAKEN:
            continue
        if "properties" in about:
            out += leaves(place)
        elif "properties" in fields.about((*place, 0)) if about.get("type") == "array" else False:
            out += leaves((*place, 0))
        else:
            out.append("".join(f"[{p}]" if isinstance(p, int) else f".{p}" for p in place)[1:])
    return out


def nested(flat: Mapping[Pointer, Any]) -> Any:
    """A record from values by pointer; gaps in lists of blocks close."""
    tree: dict[str | int, Any] = {}
    for pointer, value in flat.items():
        place = tree
        for part in pointer[:-1]:
            inner = place.setdefault(part, {})
            if not isinstance(inner, dict):
                inner = place[part] = {}
            place = inner
        place[pointer[-1]] = value
    return _listed(tree)


def _listed(tree: Any) -> Any:
    if not isinstance(tree, dict):
        return tree
    if tree and all(isinstance(key, int) for key in tree):
        return [_listed(tree[key]) for key in sorted(tree)]
    return {key: _listed(value) for key, value in tree.items()}


def slots(template: str) -> list[str]:
    """Names of the columns that a text of the map names."""
    return [" ".join(name.split()) for name in _SLOT.findall(template)]


def filled(template: str, cells: Mapping[str, str]) -> str:
    """The text with cells in their places."""
    return _SLOT.sub(lambda hit: cells[" ".join(hit[1].split())], template)


def _missing(data: Mapping[str, Any], headers: tuple[str, ...], sheet: str) -> Iterator[Finding]:
    named: list[tuple[Pointer, Any, bool]] = []
    for group in ("columns", "lists"):
        named += [((group, name), name, True) for name in _block(data.get(group))]
    named += [((one,), data[one], False) for one in ("key", "skip_rows_without") if one in data]
    for to, template in _block(data.get("texts")).items():
        named += [(("texts", to), name, False) for name in slots(str(template))]
    steps = data.get("search")
    for i, step in enumerate(steps if isinstance(steps, list) else ()):
        for part, spec in _block(step).items():
            column = spec if isinstance(spec, str) else _block(spec).get("from")
            named.append((("search", i, part), column, False))
    for pointer, name, on_key in named:
        if isinstance(name, str) and name and _column(name) not in headers:
            yield Finding(
                pointer,
                f'{pointer[0]}: there is no column "{short(name)}" in {sheet}',
                did_you_mean(name, headers, f"its columns: {', '.join(map(short, headers[:8]))}"),
                RULE,
                on_key=on_key,
            )


def _block(data: Any) -> Mapping[str, Any]:
    """A block of keys; an empty one where something else stands in its place."""
    return data if isinstance(data, dict) else {}


def _column(name: str) -> str:
    return " ".join(name.split())


def _made(data: Mapping[str, Any]) -> Map:
    feeds: list[Feed] = []
    for group in ("columns", "lists"):
        for name, spec in data.get(group, {}).items():
            spec = {"to": spec} if isinstance(spec, str) else spec
            feeds.append(_feed(_pointer(spec["to"]), name, spec, group == "lists"))
    steps: list[dict[str, Any]] = []
    for i, step in enumerate(data.get("search", ())):
        steps.append({})
        for part, spec in step.items():
            spec = {"from": spec} if isinstance(spec, str) else spec
            if "fixed" in spec:
                value = spec["fixed"]
                steps[-1][part] = [value] if part == "at" and isinstance(value, str) else value
            else:
                feeds.append(_feed(("search", i, part), spec["from"], spec, part == "at"))
    return Map(
        feeds=tuple(feeds),
        texts={_pointer(to): text for to, text in data.get("texts", {}).items()},
        fixed={_pointer(to): value for to, value in data.get("fixed", {}).items()},
        steps=tuple(steps),
        reading=_reading(data),
        decimal=data.get("decimal", "."),
        skip_rows_without=_column(data["skip_rows_without"]) if "skip_rows_without" in data else None,
        key=_column(data["key"]) if "key" in data else None,
        book=data.get("book"),
        empty=frozenset(word.casefold().strip() for word in data.get("empty", ())),
    )


def _pointer(to: str) -> Pointer:
    pointer = fields.read_pointer(to)
    assert pointer is not None, to
    return pointer


def _feed(to: Pointer, column: str, spec: Mapping[str, Any], is_list: bool) -> Feed:
    return Feed(
        to=to,
        column=_column(column),
        words={" ".join(said.split()).casefold(): word for said, word in spec.get("words", {}).items()},
        near=spec.get("near", False),
        unit=spec.get("unit"),
        dates=tuple(form.strip() for form in spec.get("date", "").split("|") if form.strip()),
        split=spec.get("split", ",") if is_list else None,
    )
