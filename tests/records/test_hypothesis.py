"""Whatever is in a file: problems with a place and words, or a record; never an exception.

The examples are the same in every run (derandomized).
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leaklore import report
from leaklore.errors import QuantityError
from leaklore.problem import Problem
from leaklore.records.check import CheckResult
from leaklore.records.guide import SHIPPED
from leaklore.records.parse import BREAK, Document, decode, parse
from leaklore.records.quantity import EXAMPLES, Quantity, read
from leaklore.records.rules import RULES

from .helpers import HERE, LIBRARY, PLACE, RECORD, check

pytestmark = pytest.mark.usefixtures("guide_read_once")

VALID = [
    file.read_text("utf-8-sig")
    for file in sorted((HERE / "valid").glob("*.yaml"))
    if not file.read_text("utf-8-sig").startswith("# file: ")
]
REGISTER = """\
sites:
  - {key: lock-row, name: Lock Row terraces, branch: Ketterwick, setting: residential}
systems:
  - {id: S-0001, site: lock-row, name: House 3, kind: ductless-split, refrigerant: R-32, charge: 1.1 kg, installed: 2022-06}
  - {id: S-0002, site: lock-row, name: House 4, kind: ductless-split, refrigerant: R-32, charge: 1.1 kg, installed: 2022-06}
"""
READING = (LIBRARY / "reading" / "first-week.yaml").read_text()


def _examples(number: int) -> settings:
    return settings(
        max_examples=number,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
    )


def _tiny_library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library so small that checking it takes no time."""
    place = tmp_path_factory.mktemp("tiny") / "library"
    (place / "records" / "2025").mkdir(parents=True)
    (place / "reading").mkdir()
    (place / "company.yaml").write_bytes((LIBRARY / "company.yaml").read_bytes())
    (place / "systems.yaml").write_text(REGISTER)
    return place


root = pytest.fixture(scope="module", name="root")(_tiny_library)
root_with_house = pytest.fixture(scope="module", name="root_with_house")(_tiny_library)


def _checked(root: Path, data: bytes, place: str = PLACE) -> CheckResult:
    """Checks the library with `data` as one of its files, which afterwards is as before."""
    file = root / place
    before = file.read_bytes() if file.exists() else None
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    try:
        result = check(root)
    finally:
        if before is None:
            file.unlink()
        else:
            file.write_bytes(before)
    _well_told(result.problems, f"library/{place}", data)
    return result


def _well_told(problems: tuple[Problem, ...], path: str, data: bytes) -> None:
    lines = len(BREAK.findall(data.decode("utf-8", "replace"))) + 1
    for problem in problems:
        assert 1 <= problem.line <= (lines if problem.path == path else 10_000)
        assert problem.column >= 1
        assert problem.message.strip()
        assert problem.rule in RULES or problem.rule.startswith("schema/")
        assert len(problem.text().splitlines()) == 1
        assert len(problem.text()) < 900
    told = report.as_text(problems) + report.as_json(problems, {})
    assert told.encode("utf-8")  # can be printed
    assert len(problems) <= 250


def _record_or_problem(result: CheckResult) -> None:
    assert result.library is not None
    assert bool(result.library.cases) is not result.failed


# Anything at all

letters = st.text(st.characters(codec="utf-8"), max_size=40)
yaml_signs = st.text(
    st.sampled_from(list("ab1-: \n\n  ,[]{}&*!|>'\"%@`?#~.\t\r\x00é\u2028\ufeff🔧")), max_size=80
)


@_examples(800)
@given(st.binary(max_size=120) | yaml_signs.map(str.encode) | letters.map(str.encode))
def test_any_bytes_are_a_document_or_findings(data: bytes) -> None:
    found = parse(data)

    if isinstance(found, Document):
        assert isinstance(decode(data), str)
        json.dumps(found.data)
    else:
        assert found
        for finding in found:
            assert finding.message
            assert finding.instead
            assert (finding.line or 0) >= 1
            assert (finding.column or 0) >= 1


@_examples(150)
@given(data=st.binary(max_size=200) | yaml_signs.map(str.encode))
def test_any_bytes_as_a_record(root: Path, data: bytes) -> None:
    _record_or_problem(_checked(root, data))


@_examples(60)
@given(data=st.binary(max_size=80) | yaml_signs.map(str.encode))
def test_any_bytes_as_any_other_file(root: Path, data: bytes) -> None:
    for place in ("company.yaml", "systems.yaml", "reading/first-week.yaml"):
        _checked(root, data, place)


@_examples(800)
@given(
    letters | st.from_regex(r"\A-?[0-9.,eE+ ]{0,8} ?(lb|oz|kg|psig|degF|K|USD|ppm| h|min|[a-z]{0,4}){1,3}\Z")
)
def test_any_text_as_a_quantity(text: str) -> None:
    for dimension in EXAMPLES:
        got = _read(text, dimension)
        if isinstance(got, Quantity):
            assert -1e15 < got.si < 1e15
        else:
            assert str(got)
            assert got.instead


def _read(text: str, dimension: str) -> Quantity | QuantityError:
    try:
        return read(text, dimension)
    except QuantityError as fault:
        return fault


# Data of any shape, written as YAML in one of three ways

WORDS = sorted(
    {word for text in VALID for word in text.replace("[", " ").replace("]", " ").replace(",", " ").split()}
    | {
        "2025-02-30",
        "9999",
        "9999-12",
        "0000",
        "0 K",
        "-273.15 degC",
        "1e400 kg",
        "NO",
        "\x1b[0m",
        "[[x]]",
        "a\nb",
        "\u2028",
    }
)
KEYS = sorted({word[:-1] for word in WORDS if word.endswith(":")} | {"", "~", "<<", "1", "a b"})
scalars = (
    st.none()
    | st.booleans()
    | st.integers(-5, 40)
    | st.integers()
    | st.floats(allow_nan=False)
    | st.sampled_from(WORDS)
    | letters
)
values = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(KEYS) | letters, inner, max_size=4)
    ),
    max_leaves=12,
)
writers = st.sampled_from(
    [
        lambda data: json.dumps(data, ensure_ascii=False),
        lambda data: yaml.safe_dump(data, allow_unicode=True, sort_keys=False),
        lambda data: yaml.safe_dump(data, allow_unicode=True, default_style="|", width=20),
    ]
)


@_examples(130)
@given(data=values | st.dictionaries(st.sampled_from(KEYS), values, max_size=12), write=writers)
def test_any_data_as_a_record(root: Path, data: Any, write: Any) -> None:
    _record_or_problem(_checked(root, write(data).encode("utf-8", "replace")))


# Valid records with something wrong in them


def _places(data: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield at
    for key, value in (
        data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    ):
        yield from _places(value, (*at, key))


def _data(text: str) -> Any:
    found = parse(text.encode())
    assert isinstance(found, Document)
    return found.data


def _mutate(data: Any, dice: random.Random, value: Any) -> Any:
    """The data with one value deleted, replaced, doubled, or with one put in."""
    places = list(_places(data))[1:]
    if not places:
        return value
    *above, last = dice.choice(places)
    around = data
    for step in above:
        around = around[step]
    match dice.choice(("delete", "replace", "replace", "insert", "double", "wrap")):
        case "delete":
            del around[last]
        case "replace":
            around[last] = value
        case "insert" if isinstance(around, list):
            around.insert(dice.randrange(len(around) + 1), value)
        case "insert":
            around[dice.choice(KEYS)] = value
        case "double" if isinstance(around, list):
            around.append(around[last])
        case _:
            around[last] = [around[last]]
    return data


@_examples(220)
@given(
    text=st.sampled_from(VALID),
    seed=st.integers(0, 2**32),
    inserts=st.lists(values, min_size=1, max_size=3),
    write=writers,
)
def test_valid_records_with_other_values(
    root: Path, text: str, seed: int, inserts: list[Any], write: Any
) -> None:
    data = _data(text)
    dice = random.Random(seed)
    for value in inserts:
        data = _mutate(data, dice, value)

    _record_or_problem(_checked(root, write(data).encode("utf-8", "replace")))


@_examples(240)
@given(text=st.sampled_from(VALID), seed=st.integers(0, 2**32), insert=yaml_signs | st.sampled_from(WORDS))
def test_valid_records_with_lines_out_of_place(root: Path, text: str, seed: int, insert: str) -> None:
    dice = random.Random(seed)
    lines = text.split("\n")
    for _ in range(dice.randrange(1, 4)):
        one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
        match dice.choice(("swap", "double", "delete", "cut", "insert", "indent")):
            case "swap":
                lines[one], lines[other] = lines[other], lines[one]
            case "double":
                lines.insert(other, lines[one])
            case "delete" if len(lines) > 1:
                del lines[one]
            case "cut":
                lines[one] = lines[one][: dice.randrange(len(lines[one]) + 1)]
            case "insert":
                at = dice.randrange(len(lines[one]) + 1)
                lines[one] = lines[one][:at] + insert + lines[one][at:]
            case _:
                lines[one] = " " * dice.randrange(1, 5) + lines[one]

    _record_or_problem(_checked(root, "\n".join(lines).encode()))


@_examples(90)
@given(
    place=st.sampled_from(["company.yaml", "systems.yaml", "reading/first-week.yaml"]),
    seed=st.integers(0, 2**32),
    value=values,
    write=writers,
)
def test_other_files_with_other_values(root: Path, place: str, seed: int, value: Any, write: Any) -> None:
    text = {
        "company.yaml": (LIBRARY / "company.yaml").read_text(),
        "systems.yaml": REGISTER,
        "reading/first-week.yaml": READING,
    }[place]
    data = _mutate(_data(text), random.Random(seed), value)

    _checked(root, write(data).encode("utf-8", "replace"), place)


def test_a_record_that_was_not_touched_is_a_record(root: Path) -> None:
    assert not _checked(root, RECORD.encode()).failed


HOUSE = {
    "house/symptoms.yaml": "- {key: rink-odour, name: Smell, what: It smells., ask: Since when?, also: [odour]}\n",
    "house/components.yaml": "- {key: ice-pad, name: Pad, kind: area, within: [plant-room], what: Ice., look: Look.}\n",
    "house/refrigerants.yaml": (SHIPPED / "refrigerants.yaml")
    .read_text("utf-8")
    .partition("\n- key: R-32")[0],
    "house/cautions.yaml": "- {key: ice, name: Slippery floor, text: Wear spikes., also: [slip]}\n",
    "house/vocabulary.yaml": "actions: [{key: freeze-plug, name: Ice plug set, also: [plug]}]\nsettings: []\n",
}
PAGES = ["failure-modes/flare-joint.md", "techniques/bubble-test.md"]


@pytest.mark.usefixtures("shipped_guide_trusted")
@settings(_examples(50), suppress_health_check=list(HealthCheck))
@given(place=st.sampled_from(sorted(HOUSE)), seed=st.integers(0, 2**32), value=values, write=writers)
def test_lists_of_the_company_with_other_values(
    root_with_house: Path, place: str, seed: int, value: Any, write: Any
) -> None:
    data = _mutate(_data(HOUSE[place]), random.Random(seed), value)

    _checked(root_with_house, write(data).encode("utf-8", "replace"), place)


@pytest.mark.usefixtures("shipped_guide_trusted")
@settings(_examples(35), suppress_health_check=list(HealthCheck))
@given(page=st.sampled_from(PAGES), seed=st.integers(0, 2**32), value=values, write=writers)
def test_pages_of_the_company_with_other_values(
    root_with_house: Path, page: str, seed: int, value: Any, write: Any
) -> None:
    _, front, body = (SHIPPED / page).read_text("utf-8").split("---\n", 2)
    data = _mutate(_data(front), random.Random(seed), value)

    _checked(root_with_house, f"---\n{write(data)}\n---\n{body}".encode("utf-8", "replace"), f"house/{page}")
