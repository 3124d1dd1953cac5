"""Records without a fault pass, and between them use every field, word and unit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from leaklore.records import convert, parse, quantity
from leaklore.records.schema import load

from .helpers import HERE, RECORD, check, put

pytestmark = pytest.mark.usefixtures("guide_read_once")

RECORDS = sorted((HERE / "valid").glob("*.yaml"))


def _data(file: Path) -> Any:
    document = parse.parse(file.read_bytes())
    assert isinstance(document, parse.Document)
    return document.data


@pytest.mark.parametrize("file", RECORDS, ids=lambda f: f.stem)
def test_passes_and_is_in_the_library(file: Path, library: Path) -> None:
    put(library, file.read_bytes())

    result = check(library)

    assert result.problems == ()
    assert result.library is not None
    assert _data(file)["id"] in result.library.by_id
    assert len(result.library.cases) == 3


def test_the_short_record_of_the_tests_is_among_them() -> None:
    assert (HERE / "valid" / "short.yaml").read_text() == RECORD


def _fields(schema: dict[str, Any], at: str = "") -> Iterator[tuple[str, list[str]]]:
    """Every field of a schema by its path, with the words that it may hold."""
    if "$ref" in schema:
        schema = load("common")["$defs"][schema["$ref"].rsplit("/", 1)[1]] | {
            k: v for k, v in schema.items() if k != "$ref"
        }
    yield at, schema.get("enum", [])
    for key, sub in schema.get("properties", {}).items():
        yield from _fields(sub, f"{at}.{key}")
    if "items" in schema:
        yield from _fields(schema["items"], f"{at}[]")


def _used(data: Any, at: str = "") -> Iterator[tuple[str, Any]]:
    yield at, data
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _used(value, f"{at}.{key}")
    elif isinstance(data, list):
        for value in data:
            yield from _used(value, f"{at}[]")


def test_every_field_and_every_word_of_the_schema_is_used() -> None:
    used = [pair for file in RECORDS for pair in _used(_data(file))]
    paths = {path for path, _ in used}
    words = {(path, value) for path, value in used if isinstance(value, str)}

    for path, allowed in _fields(load("case")):
        assert path in paths
        for word in allowed:
            assert (path, word) in words


def test_every_unit_is_used() -> None:
    texts = [value for file in RECORDS for _, value in _used(_data(file)) if isinstance(value, str)]
    used = {unit for text in texts for *_, unit in quantity._TERM.findall(text)}

    assert set(quantity._UNITS) - used == set()


def test_every_pair_of_units_is_used() -> None:
    pairs = set()
    for file in RECORDS:
        for _, text in _used(_data(file)):
            terms = quantity._TERM.findall(text) if isinstance(text, str) else []
            if len(terms) == 2 and all(unit in quantity._UNITS for *_, unit in terms):
                pairs.add(tuple(quantity._UNITS[unit][1] for *_, unit in terms))

    assert pairs == quantity._COMPOUND


def test_what_looks_like_something_else_stays_text(library: Path) -> None:
    put(library, (HERE / "valid" / "looks-like-something-else.yaml").read_bytes())

    library_read = check(library).library
    assert library_read is not None
    case = library_read.by_id["KW-2025-014"]

    assert case.equipment.family == "NO"
    assert case.equipment.line_set is not None
    assert (case.equipment.line_set.liquid, case.equipment.line_set.suction) == ("010", "12:30")
    assert [step.note for step in case.search] == ["on", "1e3"]
    assert case.topics == ("yes", "22", "12:30:45", "2025-02-03", "1_000", "==")
    assert case.title == "20251231"


def test_quantities_and_dates_arrive_in_si(library: Path) -> None:
    put(library, (HERE / "valid" / "every-field-us.yaml").read_bytes())

    library_read = check(library).library
    assert library_read is not None
    case = library_read.by_id["KW-2025-014"]
    fix, charge = case.fix, case.equipment.charge
    assert fix is not None
    assert fix.hold_test is not None
    assert charge is not None

    assert charge.si == pytest.approx((2 + 7 / 16) * 0.45359237, rel=1e-12)
    assert case.equipment.installed is not None
    assert case.equipment.installed.day == dt.date(2022, 6, 14)
    assert fix.hold_test.start.si == pytest.approx(551 * 6894.757293168 + 101_325, rel=1e-9)
    assert fix.hold_test.expected == pytest.approx(
        (551 * 6894.757293168 + 101_325) * (41 + 459.67) / (50 + 459.67), rel=1e-9
    )
    assert case.counted is False
    assert (case.first_diagnosis, case.withdrawn) != (None, None)


def test_the_record_overrides_the_register_and_keeps_the_rest(library: Path) -> None:
    put(library, RECORD.replace("system: S-0001", "system: S-0001\nequipment: {refrigerant: R-454B}"))

    library_read = check(library).library
    assert library_read is not None
    case = library_read.by_id["KW-2025-014"]

    assert case.equipment.refrigerant == "R-454B"
    assert case.equipment.kind == "ductless-split"
    assert case.equipment.charge is not None
    assert case.equipment.charge.written == "1.1 kg"


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("setting", "process"),
        ("kind", "chiller"),
        ("family", "Scroll"),
        ("refrigerant", "R-454B"),
        ("charge", "2 kg"),
        ("installed", "2019"),
        ("line_set", {"route": "buried"}),
    ],
)
def test_one_word_of_a_record_leaves_the_others_of_the_register(name: str, written: Any) -> None:
    """Whichever it is: the record says what is different, the register all that is not."""
    told = {
        "setting": "residential",
        "kind": "vrf",
        "family": "Quay",
        "refrigerant": "R-32",
        "charge": "1.1 kg",
    }
    told |= {"installed": "2022-06", "line_set": {"route": "attic"}}  # type: ignore[dict-item]
    register = convert.equipment(told)

    found, wanted = convert.equipment({name: written}, register), convert.equipment({**told, name: written})

    assert found == wanted
    assert found != register
    assert convert.equipment({}, register) == register


def test_a_whole_number_written_as_decimal_becomes_whole(library: Path) -> None:
    put(library, RECORD.replace("minutes: 12", "minutes: 12.0"))

    result = check(library)

    assert result.problems == ()
    assert result.library is not None
    assert repr(result.library.by_id["KW-2025-014"].search[0].minutes) == "12"
