"""Every key of every schema is explained, and every example in them would be accepted."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from referencing import Registry, Resource

from analysis.builders import CASES
from leaklore.errors import QuantityError
from leaklore.records import quantity
from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import SHIPPED, vocabulary_of
from leaklore.records.schema import is_date, is_partial_date
from leaklore.records.vocabulary import Vocabulary

FOLDER = Path(__file__).parents[1] / "schema"
SCHEMAS: dict[str, dict[str, Any]] = {
    f.name.removesuffix(".schema.json"): json.loads(f.read_text("utf-8"))
    for f in sorted(FOLDER.glob("*.json"))
}
REGISTRY: Registry[Any] = Registry().with_resources(
    [(s["$id"], Resource.from_contents(s)) for s in SCHEMAS.values()]
)


def nodes(node: Any, way: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """(place, schema) of every schema inside a schema: properties, items and definitions."""
    yield way, node
    for group in ("properties", "$defs"):
        for key, value in node.get(group, {}).items():
            yield from nodes(value, f"{way}/{group}/{key}")
    if isinstance(node.get("items"), dict):
        yield from nodes(node["items"], f"{way}/items")


EVERY = [pair for name, schema in SCHEMAS.items() for pair in nodes(schema, name)]
PROPERTIES = [(way, node) for way, node in EVERY if way.split("/")[-2:-1] in (["properties"], ["$defs"])]
EXAMPLES = [(way, node, i) for way, node in EVERY for i in range(len(node.get("examples", ())))]


@cache
def vocabulary() -> Vocabulary:
    """The words of the shipped guide and of a company with the branches and crews of the examples."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    return vocabulary_of(guide, {"Ketterwick": "KW"}, {"K1": "Ketterwick"})


def resolve(node: dict[str, Any]) -> dict[str, Any]:
    """A schema with what its $ref says."""
    if "$ref" not in node:
        return node
    found = REGISTRY.resolver().lookup(node["$ref"]).contents
    return {**found, **node}


def faults(node: dict[str, Any], value: Any, way: str) -> Iterator[str]:
    """What is wrong with an example: by JSON Schema, and by the keywords of our own."""
    plain = Draft202012Validator(node, registry=REGISTRY)
    yield from (f"{way}{e.json_path[1:]}: {e.message}" for e in plain.iter_errors(value))
    yield from own(node, value, way)


def own(node: dict[str, Any], value: Any, way: str) -> Iterator[str]:
    """Vocabularies, quantities and dates, at any depth."""
    node = resolve(node)
    if isinstance(value, str):
        kind = node.get("x-vocabulary")
        if kind and not vocabulary().has(kind, value):
            yield f'{way}: "{value}" is not one of {kind}'
        if "x-quantity" in node:
            try:
                quantity.read(value, node["x-quantity"])
            except QuantityError as fault:
                yield f"{way}: {fault}"
        if node.get("format") == "date" and not is_date(value):
            yield f'{way}: "{value}" is no day'
        if node.get("title") == "Installed" and not is_partial_date(value):
            yield f'{way}: "{value}" is no year, month or day'
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from own(node.get("items", {}), item, f"{way}[{i}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from own(node.get("properties", {}).get(key, {}), item, f"{way}.{key}")


def test_all_schemas_are_here() -> None:
    """And hold what they should."""
    assert set(SCHEMAS) == {"actions", "case", "common", "company", "guide", "map", "reading", "system"}
    assert len(PROPERTIES) > 150


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_json_schema_2020_12(name: str) -> None:
    """With a number in its id, so that a later form can be told apart."""
    schema = SCHEMAS[name]
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"urn:leaklore:schema:{name}:1"
    Draft202012Validator.check_schema(schema)
    assert schema["title"]
    assert schema["description"]


@pytest.mark.parametrize(("way", "node"), PROPERTIES, ids=[way for way, _ in PROPERTIES])
def test_every_property_is_explained(way: str, node: dict[str, Any]) -> None:
    """A title, a sentence, an example: editors show them, and our messages quote them."""
    assert node.get("title", "").strip(), f"{way} has no title"
    description = node.get("description", "").strip()
    assert len(description) > 3, f"{way} has no description"
    assert description[-1] in ".?!", f"{way}: {description}"
    assert node.get("examples"), f"{way} has no example"


@pytest.mark.parametrize(("way", "node", "i"), EXAMPLES, ids=[f"{way}-{i}" for way, _, i in EXAMPLES])
def test_every_example_is_accepted(way: str, node: dict[str, Any], i: int) -> None:
    """Whoever copies it has written no mistake."""
    assert list(faults(node, node["examples"][i], way)) == []


@pytest.mark.parametrize(("way", "node"), EVERY, ids=[way for way, _ in EVERY])
def test_maps_are_closed_and_lists_have_an_end(way: str, node: dict[str, Any]) -> None:
    """A misspelled key must be told; a list says what it holds; our own keywords name what exists."""
    if node.get("type") == "object":
        assert "additionalProperties" in node, way
        assert set(node.get("required", ())) <= set(node.get("properties", {})), way
    if node.get("type") == "array":
        assert isinstance(node.get("items"), dict), way
    if "x-vocabulary" in node:
        assert node["x-vocabulary"] in vocabulary().terms, way
    if "x-quantity" in node:
        assert node["x-quantity"] in quantity.EXAMPLES, way


@pytest.mark.parametrize(
    ("way", "value"),
    [
        ("case/properties/id", "KW-25-1"),
        ("case/properties/reported", "2025-02-30"),
        ("case/properties/equipment/properties/charge", "1.1"),
        ("case/properties/equipment", {"refrigerant": "R-0"}),
        ("case/properties/search", [{"technique": "bubble-test", "at": [], "minutes": 6, "result": "clean"}]),
        ("company/properties/currency", "usd"),
    ],
)
def test_the_check_of_examples_can_fail(way: str, value: Any) -> None:
    """A wrong example would be told."""
    assert list(faults(dict(EVERY)[way], value, way))


def test_the_demo_library_uses_what_the_schema_offers() -> None:
    """The folder that these examples speak of is there."""
    assert SHIPPED.is_dir()
    assert (CASES / "company.yaml").is_file()
