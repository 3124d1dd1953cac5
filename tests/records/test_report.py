"""Printing of problems, for people and for machines."""

from __future__ import annotations

import json

from leaklore import report
from leaklore.problem import Problem, errors, pointer_text

ERROR = Problem(
    "cases/records/2025/KW-2025-014.yaml", 12, 9, 'mode: "x" is not a failure mode', "did you?", "reference"
)
WARNING = Problem(
    "cases/a.yaml", 3, 1, "id: may be the same job", "withdraw one", "near-duplicate", "warning"
)
BARE = Problem("cases/a.yaml", 20, 1, "is odd", "", "yaml")
COUNTS = {"cases": 3, "systems": 6}


def test_a_problem_is_one_line() -> None:
    assert ERROR.text() == (
        'cases/records/2025/KW-2025-014.yaml:12:9: mode: "x" is not a failure mode; did you? [reference]'
    )
    assert (
        WARNING.text() == "cases/a.yaml:3:1: warning: id: may be the same job; withdraw one [near-duplicate]"
    )
    assert BARE.text() == "cases/a.yaml:20:1: is odd [yaml]"


def test_text_is_sorted_by_path_and_by_place_as_numbers() -> None:
    assert report.as_text([ERROR, BARE, WARNING]) == "\n".join(p.text() for p in (WARNING, BARE, ERROR))
    assert report.as_text([]) == ""


def test_json_holds_all_that_the_text_does() -> None:
    told = json.loads(report.as_json([ERROR, BARE, WARNING], COUNTS))

    assert told == {
        "version": 1,
        "counts": COUNTS,
        "errors": 2,
        "warnings": 1,
        "problems": [
            {
                "path": p.path,
                "line": p.line,
                "column": p.column,
                "message": p.message,
                "instead": p.instead,
                "rule": p.rule,
                "severity": p.severity,
            }
            for p in (WARNING, BARE, ERROR)
        ],
    }


def test_json_keeps_letters_as_they_are() -> None:
    assert "café" in report.as_json([Problem("café.yaml", 1, 1, "x", "", "y")], {})


def test_the_closing_line_counts_what_was_read_and_what_is_wrong() -> None:
    assert report.summary([], COUNTS) == "3 cases, 6 systems: no errors"
    assert report.summary([ERROR], COUNTS) == "3 cases, 6 systems: 1 error"
    assert report.summary([ERROR, BARE, WARNING], COUNTS) == "3 cases, 6 systems: 2 errors, 1 warning"
    assert report.summary([WARNING, WARNING], COUNTS) == "3 cases, 6 systems: no errors, 2 warnings"


def test_only_errors_fail_a_build() -> None:
    assert errors([ERROR, WARNING, BARE]) == [ERROR, BARE]


def test_a_pointer_reads_as_in_the_file() -> None:
    assert pointer_text(()) == ""
    assert pointer_text(("search", 2, "at", 0)) == "search[2].at[0]"
    assert pointer_text((3, "key")) == "[3].key"
