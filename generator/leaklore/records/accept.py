"""A fast yes to data that a schema accepts.

A check made here says True only where jsonschema finds nothing wrong. False means: ask jsonschema, which is a hundred
times slower and has the words for what is wrong. A keyword that is not known here makes its part of the schema False.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from leaklore.errors import QuantityError
from leaklore.records import quantity
from leaklore.records.days import is_date, is_partial_date
from leaklore.records.vocabulary import Vocabulary

Check = Callable[[Any], bool]
Schema = Mapping[str, Any]
Resolve = Callable[[str], Schema | None]

_SILENT = {"title", "description", "examples", "x-prose", "x-tube", "x-audience", "$schema", "$id", "$defs"}
_STRING = {"type", "minLength", "maxLength", "pattern", "format", "x-vocabulary", "x-quantity"}
_NUMBER = {"type", "minimum", "maximum", "exclusiveMinimum"}
_ARRAY = {"type", "items", "minItems", "maxItems", "uniqueItems"}
_OBJECT = {"type", "properties", "required", "additionalProperties"}


def accepts(schema: Schema, vocabulary: Vocabulary, resolve: Resolve, dates: frozenset[str]) -> Check:
    """The check of a schema. `resolve` follows a `$ref`; texts of the patterns in `dates` must be dates that exist."""
    keys = schema.keys() - _SILENT

    def below(part: Schema) -> Check:
        return accepts(part, vocabulary, resolve, dates)

    if keys == {"$ref"} and (target := resolve(schema["$ref"])):
        return below(target)
    if keys == {"enum"} and all(isinstance(word, str) for word in schema["enum"]):
        words = frozenset(schema["enum"])
        return lambda value: value.__class__ is str and value in words
    match schema.get("type"):
        case "string" if keys <= _STRING:
            return _string(schema, vocabulary, dates)
        case "integer" | "number" if keys <= _NUMBER:
            return _number(schema)
        case "boolean" if keys == {"type"}:
            return lambda value: value is True or value is False
        case "array" if keys <= _ARRAY and "items" in keys:
            return _array(schema, below(schema["items"]))
        case "object" if keys <= _OBJECT and schema.get("additionalProperties") is False:
            parts = {key: below(part) for key, part in schema.get("properties", {}).items()}
            return _object(parts, tuple(schema.get("required", ())))
    return lambda _: False


def _string(schema: Schema, vocabulary: Vocabulary, dates: frozenset[str]) -> Check:
    tests: list[Check] = []
    if kind := schema.get("x-vocabulary"):
        words = frozenset(vocabulary.terms.get(kind, ()))
        tests.append(partial(vocabulary.has, kind) if kind in vocabulary.open else words.__contains__)
    if "x-quantity" in schema:
        tests.append(_quantity(schema["x-quantity"]))
    if "pattern" in schema:
        tests.append(_pattern(schema["pattern"], dates))
    if schema.get("format") == "date":
        tests.append(is_date)
    elif "format" in schema:
        return lambda _: False
    least, most = schema.get("minLength", 0), schema.get("maxLength", float("inf"))
    if "minLength" in schema or "maxLength" in schema:
        tests.append(lambda text: least <= len(text) <= most)
    if len(tests) == 1:
        only = tests[0]
        return lambda value: value.__class__ is str and only(value)

    def test(value: Any) -> bool:
        if value.__class__ is not str:
            return False
        for one in tests:  # noqa: SIM110 (all() would take twice as long)
            if not one(value):
                return False
        return True

    return test


def _quantity(dimension: str) -> Check:
    def test(text: str) -> bool:
        try:
            quantity.read(text, dimension)
        except QuantityError:
            return False
        return True

    return test


def _pattern(pattern: str, dates: frozenset[str]) -> Check:
    search = re.compile(pattern, re.ASCII).search
    if pattern in dates:
        return lambda text: search(text) is not None and "\n" not in text and is_partial_date(text)
    return lambda text: search(text) is not None and "\n" not in text


def _number(schema: Schema) -> Check:
    kinds = (int,) if schema["type"] == "integer" else (int, float)
    least, most = schema.get("minimum", -float("inf")), schema.get("maximum", float("inf"))
    above = schema.get("exclusiveMinimum", -float("inf"))
    return lambda value: value.__class__ in kinds and least <= value <= most and value > above


def _array(schema: Schema, item: Check) -> Check:
    least, most = schema.get("minItems", 0), schema.get("maxItems", float("inf"))
    unique = schema.get("uniqueItems", False)

    def test(value: Any) -> bool:
        if value.__class__ is not list or not least <= len(value) <= most:
            return False
        for one in value:
            if not item(one) or (unique and one.__class__ is not str):
                return False
        return not unique or len(set(value)) == len(value)

    return test


def _object(parts: Mapping[str, Check], required: tuple[str, ...]) -> Check:
    def test(value: Any) -> bool:
        if value.__class__ is not dict:
            return False
        for key in required:
            if key not in value:
                return False
        try:
            for key, part in value.items():
                if not parts[key](part):
                    return False
        except KeyError:
            return False
        return True

    return test
