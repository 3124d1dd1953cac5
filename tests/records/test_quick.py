"""The quick ways say the same as the thorough ones, or nothing."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pint
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from leaklore.records import quick
from leaklore.records.accept import accepts
from leaklore.records.parse import Document, parse
from leaklore.records.quantity import FACTORS
from leaklore.records.refuse import Refusals
from leaklore.records.schema import Schemas, load
from leaklore.records.schema_files import resolve
from leaklore.records.vocabulary import Vocabulary

from .helpers import HERE, LIBRARY, check
from .test_hypothesis import REGISTER, VALID, WORDS, _data, _examples, _mutate, values, yaml_signs

RECORDS = sorted([*HERE.glob("valid/*.yaml"), *HERE.glob("invalid/*/*.yaml")])


def _agrees(data: bytes) -> bool:
    """Was it read the quick way? Then it is what the thorough way reads."""
    found = quick.data_of(data)
    thorough = parse(data)
    if found is None:
        return False
    assert isinstance(thorough, Document)
    assert json.dumps(found) == json.dumps(thorough.data)  # 1, 1.0 and true are equal to Python
    return True


def test_the_records_of_the_tests_are_read_alike() -> None:
    assert sum(_agrees(file.read_bytes()) for file in RECORDS) > 150


@_examples(1500)
@given(st.binary(max_size=120) | yaml_signs.map(str.encode))
def test_any_bytes_are_read_alike(data: bytes) -> None:
    _agrees(data)


@_examples(500)
@given(text=st.sampled_from(VALID), seed=st.integers(0, 2**32), insert=yaml_signs | st.sampled_from(WORDS))
def test_records_with_something_put_in_are_read_alike(text: str, seed: int, insert: str) -> None:
    at = random.Random(seed).randrange(len(text) + 1)

    _agrees((text[:at] + insert + text[at:]).encode())


@pytest.mark.parametrize("sign", ["*a", "&a b", "!a b", "!!str b", "? b", "- " * 30, "[" * 50 + "]" * 50])
@pytest.mark.parametrize(
    "before", ["a: ", "a: [1, ", "a:\n  ", "- ", 'a: ["x": ', "", "a: {b: c, ", "a: 'x'"]
)
def test_what_is_refused_is_not_read_the_quick_way(before: str, sign: str) -> None:
    assert quick.data_of((before + sign).encode()) is None or isinstance(
        parse((before + sign).encode()), Document
    )


def test_signs_inside_words_do_not_hold_up(library: Path) -> None:
    text = "story: Why? Because it leaked! At 5% a year (no joke)! So R&D said.\n"

    assert quick.data_of(text.encode()) == {"story": text[7:-1]}


@_examples(400)
@given(seed=st.integers(0, 2**32), insert=yaml_signs | st.sampled_from(WORDS), size=st.integers(1, 300))
def test_long_lists_are_cut_where_it_does_not_matter(seed: int, insert: str, size: int) -> None:
    dice = random.Random(seed)
    at = dice.randrange(len(REGISTER) + 1)
    data = (REGISTER[:at] + insert + REGISTER[at:]).encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(quick, "PIECE", size)
        found = quick.data_with_lists(data, ("sites", "systems"))

    if found is not None:
        whole = parse(data)
        assert isinstance(whole, Document)
        assert found == whole.data


@pytest.mark.parametrize("style", [None, "|", '"'])
def test_a_register_of_many_systems_is_read_quickly(style: str | None) -> None:
    first = _data(REGISTER)
    many = [
        {**first["systems"][0], "id": f"S-{i:05}", "note": "A text: with\n\n  - a dash"} for i in range(4_000)
    ]
    data = yaml.safe_dump(
        {"sites": first["sites"], "systems": many}, sort_keys=False, default_style=style
    ).encode()

    found = quick.data_with_lists(data, ("sites", "systems"))

    assert (
        found == {"sites": first["sites"], "systems": many} or style == '"'
    )  # there even keys stand in quotes


# A fast yes


def _vocabulary() -> Vocabulary:
    library = check(LIBRARY).library
    assert library is not None
    return library.vocabulary


VOCABULARY = _vocabulary()
SCHEMAS = Schemas(VOCABULARY)
THOROUGH = Refusals(VOCABULARY)


def _agree(kind: str, data: Any) -> bool:
    """Is it accepted? Then jsonschema finds nothing."""
    accepted = SCHEMAS.accepts(kind, data)
    if accepted:
        assert THOROUGH.of(kind, load(kind), data) == []
    return accepted


def test_valid_data_are_accepted_without_jsonschema() -> None:
    assert all(_agree("case", _data(text)) for text in VALID if "6.0" not in text)
    assert _agree("system", _data(REGISTER))
    assert _agree("company", _data((LIBRARY / "company.yaml").read_text("utf-8")))


@_examples(1200)
@given(
    text=st.sampled_from(VALID), seed=st.integers(0, 2**32), inserts=st.lists(values, min_size=1, max_size=2)
)
def test_what_is_accepted_jsonschema_accepts(text: str, seed: int, inserts: list[Any]) -> None:
    data, dice = _data(text), random.Random(seed)
    for value in inserts:
        data = _mutate(data, dice, value)

    _agree("case", data)


@_examples(400)
@given(seed=st.integers(0, 2**32), value=values)
def test_a_register_that_is_accepted_jsonschema_accepts(seed: int, value: Any) -> None:
    _agree("system", _mutate(_data(REGISTER), random.Random(seed), value))


@pytest.mark.parametrize("keyword", ["if", "not", "anyOf", "const", "unevaluatedProperties"])
def test_a_keyword_that_is_not_known_leaves_it_to_jsonschema(keyword: str) -> None:
    for schema, data in (
        (load("case"), _data(VALID[0])),
        ({"type": "string"}, "a"),
        ({"type": "integer"}, 1),
        ({"type": "array", "items": {"type": "boolean"}}, [True]),
        ({"enum": ["a"]}, "a"),
    ):
        assert accepts(schema, VOCABULARY, resolve, frozenset())(data)
        assert not accepts({**schema, keyword: {}}, VOCABULARY, resolve, frozenset())(data)


# Units against pint, an independent library


@pytest.mark.parametrize("unit", sorted(FACTORS.keys() - {"dB", "ppm", "micrometer_Hg"}))
def test_factors_are_those_of_pint(unit: str) -> None:
    registry: Any = pint.UnitRegistry()

    assert FACTORS[unit] == float(registry.parse_expression(unit).to_base_units().magnitude)


def test_a_micron_is_a_thousandth_of_a_torr_in_pint_too() -> None:
    assert FACTORS["micrometer_Hg"] == float(pint.Quantity("torr/1000").to_base_units().magnitude)
    assert (FACTORS["ppm"], FACTORS["dB"]) == (1e-6, 1.0)
