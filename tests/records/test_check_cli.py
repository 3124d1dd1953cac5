"""`leaklore check`: what it prints, where, and with which exit status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from leaklore import __version__
from leaklore.cli import main

from .helpers import RECORD, put

pytestmark = pytest.mark.usefixtures("guide_read_once")

BROKEN = RECORD.replace("S-0001", "S-0011")
LINE = (
    'library/records/2025/KW-2025-014.yaml:5:9: system: "S-0011" is not in the register; '
    'did you mean "S-0001"? [reference/system]\n'
)


@pytest.fixture(autouse=True)
def _end_of_2025(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1767139200")


def _run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["check", *map(str, words)])


def test_a_library_without_errors(library: Path) -> None:
    result = _run("--cases", library)

    assert result.exit_code == 0
    assert result.stdout == ""
    assert result.stderr == "2 cases, 6 systems, 1 reading list: no errors\n"


def test_an_error(library: Path) -> None:
    put(library, BROKEN)

    result = _run("--cases", library)

    assert result.exit_code == 1
    assert result.stdout == LINE
    assert result.stderr == "3 cases, 6 systems, 1 reading list: 1 error\n"


def test_a_warning_does_not_fail(library: Path) -> None:
    put(library, RECORD + "advice: Ring 0555 123 4567.\n")

    result = _run("--cases", library)

    assert result.exit_code == 0
    assert "warning: advice: " in result.stdout
    assert result.stderr.endswith(": no errors, 1 warning\n")


def test_another_library_s_folder_may_be_given_as_path(library: Path) -> None:
    put(library, BROKEN)

    assert _run(library).stdout == LINE


def test_the_folder_cases_is_checked_by_itself(library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    library.rename(library.parent / "cases")
    put(library.parent / "cases", BROKEN)
    monkeypatch.chdir(library.parent)

    result = _run()

    assert result.exit_code == 1
    assert result.stdout == LINE.replace("library/", "cases/")


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("records/2025/KW-2025-014.yaml", True),
        ("records/2025", True),
        ("records", True),
        ("records/2024", False),
        ("records/2025/KW-2025-002.yaml", False),
        ("systems.yaml", False),
    ],
)
@pytest.mark.parametrize("inside", [True, False], ids=["from inside", "from outside"])
def test_paths_narrow_down_what_is_told(
    path: str, told: bool, inside: bool, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(library, BROKEN)
    monkeypatch.chdir(library if inside else library.parent)

    result = _run("--cases", "." if inside else "library", path if inside else f"library/{path}")

    assert result.stdout == (LINE if told else "")
    assert result.exit_code == (1 if told else 0)


def test_several_paths_are_taken_together(library: Path) -> None:
    put(library, BROKEN)
    put(library, "", "records/2023/KW-2023-001.yaml")

    both = _run("--cases", library, library / "records/2025", library / "records/2023")

    assert both.stdout == (
        "library/records/2023/KW-2023-001.yaml:1:1: is empty; fill it in or delete it [yaml]\n" + LINE
    )


def test_a_library_that_is_reached_by_a_link(library: Path) -> None:
    put(library, BROKEN)
    link = library.parent / "cases"
    link.symlink_to(library)

    assert _run("--cases", link, link / "records/2025/KW-2025-014.yaml").stdout == LINE


def test_json_is_the_same_in_a_form_for_machines(library: Path) -> None:
    put(library, BROKEN)

    result = _run("--json", "--cases", library)
    told = json.loads(result.stdout)

    assert result.exit_code == 1
    assert result.stderr == ""
    assert told["counts"] == {"cases": 3, "systems": 6, "reading lists": 1}
    assert (told["errors"], told["warnings"]) == (1, 0)
    assert told["problems"] == [
        {
            "path": "library/records/2025/KW-2025-014.yaml",
            "line": 5,
            "column": 9,
            "message": 'system: "S-0011" is not in the register',
            "instead": 'did you mean "S-0001"?',
            "rule": "reference/system",
            "severity": "error",
        }
    ]


def test_json_without_problems(library: Path) -> None:
    result = _run("--json", "--cases", library)

    assert result.exit_code == 0
    assert json.loads(result.stdout)["problems"] == []


def test_json_is_narrowed_down_too(library: Path) -> None:
    put(library, BROKEN)

    result = _run("--json", "--cases", library, library / "records" / "2024")

    assert (result.exit_code, json.loads(result.stdout)["errors"]) == (0, 0)


def test_a_folder_that_is_not_there_is_told_in_one_line(tmp_path: Path) -> None:
    result = _run("--cases", tmp_path / "nowhere")

    assert result.exit_code == 1
    assert result.stdout == ""
    assert result.stderr == (
        f'leaklore: there is no folder "{tmp_path}/nowhere"; '
        "give the folder that holds company.yaml and records/\n"
    )


def test_a_path_that_is_not_there_is_told_in_one_line(library: Path) -> None:
    result = _run("--cases", library, library / "records" / "2019")

    assert result.exit_code == 1
    assert result.stderr == (
        f'leaklore: there is no "{library}/records/2019"; give a record or a folder of records\n'
    )


def test_a_folder_without_settings_is_told(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()

    result = _run("--cases", tmp_path / "empty")

    assert result.exit_code == 1
    assert result.stdout == (
        "empty/company.yaml:1:1: there is no company.yaml; "
        "write one with name:, units:, currency:, labour_rate: and branches: [file]\n"
    )
    assert result.stderr == "0 cases, 0 systems, 0 reading lists: 1 error\n"


@pytest.mark.parametrize("words", [["--jsn"], ["--cases"]])
def test_misuse_has_an_exit_status_of_its_own(words: list[str]) -> None:
    result = _run(*words)

    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_help_and_version() -> None:
    assert "PATHS narrow down" in _run("--help").stdout
    assert CliRunner().invoke(main, ["--version"]).stdout == f"leaklore, version {__version__}\n"


def test_a_record_of_another_alphabet_can_be_printed(library: Path) -> None:
    put(library, RECORD.replace("symptoms: [short-of-charge", "symptoms: [масло🔧"))

    result = _run("--cases", library)

    assert result.exit_code == 1
    assert '"масло🔧" is not a symptom' in result.stdout
