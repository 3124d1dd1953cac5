"""Broken records: what is told of each, word for word. A new case is two files in invalid/, see helpers.py."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from leaklore.records.rules import RULES
from leaklore.records.schema import load
from leaklore.records.vocabulary import NOUNS

from .helpers import HERE, PLACE, RECORD, check, copy_library, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")

RECORDS = sorted((HERE / "invalid").rglob("*.yaml"))
ABOUT_OTHER_FILES = {"file", "guide", "register/twice", "register/site", "reference/reading"}


def _name(file: Path) -> str:
    return file.relative_to(HERE / "invalid").with_suffix("").as_posix()


@pytest.mark.parametrize("file", RECORDS, ids=_name)
def test_tells_exactly_what_is_wrong(file: Path, library: Path) -> None:
    put(library, file.read_bytes())

    assert told(library) + "\n" == file.with_suffix(".expected").read_text("utf-8")


def test_every_record_has_its_expectation_and_the_other_way_round() -> None:
    expected = {f.with_suffix("") for f in (HERE / "invalid").rglob("*.expected")}

    assert {f.with_suffix("") for f in RECORDS} == expected
    assert len({f.read_bytes() for f in RECORDS}) == len(RECORDS) > 200


def test_every_rule_is_broken_by_a_record() -> None:
    seen = {
        re.sub(r"^schema/.*", "schema/…", rule)
        for file in RECORDS
        for rule in re.findall(r" \[([a-z/-]+)\]$", file.with_suffix(".expected").read_text("utf-8"), re.M)
    }

    assert seen == set(RULES) - ABOUT_OTHER_FILES


def _walk(schema: Any) -> Iterator[tuple[str, Any]]:
    """Every keyword of a schema with its value; names of fields are no keywords."""
    for key, value in schema.items():
        yield key, value
        if key in ("properties", "$defs"):
            for sub in value.values():
                yield from _walk(sub)
        elif key == "items":
            yield from _walk(value)


KEYWORDS = [pair for kind in ("case", "common") for pair in _walk(load(kind))]
ALL_TOLD = "".join(file.with_suffix(".expected").read_text("utf-8") for file in RECORDS)


@pytest.mark.parametrize("noun", sorted({NOUNS[value] for key, value in KEYWORDS if key == "x-vocabulary"}))
def test_every_vocabulary_is_missed_by_a_record(noun: str) -> None:
    assert f"is not {noun}; " in ALL_TOLD


def test_every_keyword_of_the_schema_is_broken_by_a_record() -> None:
    silent = {
        "$schema",
        "$id",
        "$defs",
        "$ref",
        "title",
        "description",
        "examples",
        "properties",
        "items",
        "x-audience",
        "x-prose",
        "x-tube",
    }
    own = {
        "x-vocabulary": "reference",
        "x-quantity": "quantity",
        "format": "date",
        "additionalProperties": "schema/unknown-key",
        "uniqueItems": "schema/twice",
    }
    used = {key for key, _ in KEYWORDS} - silent

    assert {key for key in used if f"[{own.get(key, f'schema/{key}')}]" not in ALL_TOLD} == set()
    assert len(used) > 10


def test_rules_about_other_files_are_broken_by_other_tests() -> None:
    tests = "".join(f.read_text("utf-8") for f in HERE.glob("test_*.py"))

    assert {rule for rule in ABOUT_OTHER_FILES if f" [{rule}]" not in tests} == set()


@pytest.mark.parametrize("file", [f for f in RECORDS if f.parent.name in ("reference", "privacy")], ids=_name)
def test_what_is_quoted_stands_at_the_place_that_is_told(file: Path, library: Path) -> None:
    text = put(library, file.read_bytes()).read_text("utf-8")
    lines = text.split("\n")

    for problem in check(library).problems:
        quoted = re.search(r': "([^"]+)" (leads|looks|is not|is no) ', problem.message)
        if quoted:
            assert lines[problem.line - 1][problem.column - 1 :].lstrip("\"'").startswith(quoted[1])


# What would be too large or too odd to lie in a repository.


def test_a_file_of_ten_megabytes_is_not_read(library: Path) -> None:
    put(library, RECORD + "# " + "x" * 10_000_000)

    assert told(library) == (
        "library/records/2025/KW-2025-014.yaml:1:1: is 10.0 MB long; at most 1 MB are read; "
        "look whether something else was saved under this name [file]"
    )


@pytest.mark.parametrize(
    ("start", "sign", "expected"),
    [
        ("story: ", "[", "11:1007: is nested far too deep"),
        ("story: ", "{a: ", "11:164: is nested more than 40 deep"),
        ("story:\n  ", "- ", "12:81: is nested more than 40 deep"),
        ("story:\n  ", "? ", "12:81: is nested more than 40 deep"),
    ],
    ids=["lists", "maps", "dashes", "keys"],
)
def test_a_hundred_thousand_levels_are_refused(start: str, sign: str, expected: str, library: Path) -> None:
    put(library, RECORD.replace("story: The nut was tight, and still it frothed.", start + sign * 100_000))

    assert told(library) == f"library/records/2025/KW-2025-014.yaml:{expected}; write it flatter [yaml]"


def test_a_record_that_is_wrong_throughout_ends_after_a_hundred_errors(library: Path) -> None:
    words = ", ".join(f"word-{i}" for i in range(5_000))
    put(library, RECORD.replace("[short-of-charge, oil-film]", f"[{words}]"))

    problems = check(library).problems

    assert len(problems) == 101
    assert problems[0].text() == (
        "library/records/2025/KW-2025-014.yaml:1:1: has more than 100 errors; the first 100 are told; "
        "correct them and check again [schema/more]"
    )


def test_a_link_out_of_the_library_is_not_followed(library: Path, tmp_path: Path) -> None:
    outside = tmp_path / "KW-2025-014.yaml"
    outside.write_text(RECORD)
    (library / PLACE).symlink_to(outside)

    result = check(library)

    assert [p.text() for p in result.problems] == [
        "library/records/2025/KW-2025-014.yaml:1:1: is a link to a file outside the library; "
        "copy the file into the library [file]"
    ]
    assert result.library is not None
    assert "KW-2025-014" not in result.library.by_id


def test_a_link_inside_the_library_is_followed(library: Path) -> None:
    (library / "written").mkdir()
    (library / "written" / "one.txt").write_text(RECORD)
    (library / PLACE).symlink_to(library / "written" / "one.txt")

    result = check(library)

    assert result.problems == ()
    assert result.library is not None
    assert "KW-2025-014" in result.library.by_id


def test_a_link_to_itself_is_told(library: Path) -> None:
    (library / PLACE).symlink_to(library / PLACE)

    assert told(library).startswith("library/records/2025/KW-2025-014.yaml:1:1: can't be read (")
    assert told(library).endswith("; check the file and its permissions [file]")


def test_a_link_to_nowhere_is_told(library: Path) -> None:
    (library / PLACE).symlink_to(library / "gone.yaml")

    assert told(library) == (
        "library/records/2025/KW-2025-014.yaml:1:1: can't be read (No such file or directory); "
        "check the file and its permissions [file]"
    )


@pytest.mark.parametrize("place", ["records/2023", "records"])
def test_a_link_to_a_folder_is_told_instead_of_left_out(place: str, library: Path, tmp_path: Path) -> None:
    outside = copy_library(tmp_path / "other") / "records"
    if place == "records":
        (library / "records").rename(library / "old")
    (library / place).symlink_to(outside)
    (library / "reading" / "first-week.yaml").unlink()

    assert told(library) == (
        f"library/{place}:1:1: is a link to a folder; put the folder itself into the library [file]"
    )


def test_a_pipe_is_not_waited_for(library: Path) -> None:
    os.mkfifo(library / PLACE)

    assert told(library) == (
        "library/records/2025/KW-2025-014.yaml:1:1: is not a plain file; put a text file in its place [file]"
    )


def test_a_file_name_that_can_not_be_printed_is_told_all_the_same(library: Path) -> None:
    name = os.fsencode(library / "records" / "2025") + b"/KW-\xff\n\x1b[31m.yaml"
    Path(os.fsdecode(name)).write_text(RECORD)

    assert told(library) == (
        "library/records/2025/KW-\ufffd\ufffd\ufffd[31m.yaml:1:5: "
        'id: "KW-2025-014" and the file name "KW-\ufffd\ufffd\ufffd[31m.yaml" differ; '
        "rename the file to KW-2025-014.yaml [id/file-name]"
    )


def test_a_record_that_can_not_be_read_still_exists_for_others(library: Path) -> None:
    put(library, RECORD + "related: [{case: KW-2025-002, as: same-site}]\n")
    (library / "records/2025/KW-2025-002.yaml").write_text("id: [")

    lines = told(library).splitlines()

    assert len(lines) == 1
    assert lines[0].startswith("library/records/2025/KW-2025-002.yaml:")


def test_hidden_files_and_other_endings_are_no_records(library: Path) -> None:
    for name in (".KW-2025-014.yaml", "KW-2025-014.yaml~", "KW-2025-014.csv", ".trash/KW-2025-014.yaml"):
        put(library, "not a record: [", f"records/2025/{name}")

    assert told(library) == ""


def test_an_ending_in_capitals_is_a_record(library: Path) -> None:
    put(library, RECORD, "records/2025/KW-2025-014.YAML")

    result = check(library)

    assert result.problems == ()
    assert result.counts["cases"] == 3
