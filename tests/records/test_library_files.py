"""Broken settings, registers and reading lists: what is told of each, word for word."""

from __future__ import annotations

import datetime as dt
import os
import subprocess
import sys
from pathlib import Path

import pytest

from leaklore.errors import LeakloreError, LibraryNotFound
from leaklore.records.check import check as check_library

from .helpers import LIBRARY, PLACE, RECORD, check, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")

READING = (LIBRARY / "reading" / "first-week.yaml").read_text()
FIRST_WEEK = "reading/first-week.yaml"
# (old text, new text, what is told behind `library/FILE:`); an old text of "" stands for the whole file
CHANGES: dict[str, list[tuple[str, str, list[str]]]] = {
    "company.yaml": [
        ("", "", ["1:1: is empty; fill it in or delete it [yaml]"]),
        (
            "",
            "- Ketterwick Air & Cold\n",
            [
                '1:1: the file: ["Ketterwick Air & Cold"] is not a block of keys; '
                "write one key a line, and begin with `name:` [schema/type]"
            ],
        ),
        (
            "units: us",
            "units: imperial",
            [
                '4:8: units: "imperial" is not one of the words allowed here; write one of us, si [schema/enum]',
            ],
        ),
        (
            "currency: USD",
            "currency: dollars",
            [
                '5:11: currency: "dollars" does not have the form wanted here; write three capital letters, for example USD [schema/pattern]'
            ],
        ),
        (
            "96 USD",
            "96",
            [
                "6:14: labour_rate: 96 is a number, not text; "
                'write a number with its unit, for example "96 USD" [schema/type]'
            ],
        ),
        (
            "96 USD",
            "96 EUR",
            [
                '6:14: labour_rate: "96 EUR" is not in USD; write it in the currency of the line currency: [money/currency]'
            ],
        ),
        (
            "branches:",
            "branch:",
            [
                '7:1: the file: "branch" is not a key here; did you mean "branches"? [schema/unknown-key]',
            ],
        ),
        (
            "prefix: DB",
            "prefix: KW",
            ['10:28: branches[2].prefix: "KW" is used twice; give each its own [register/twice]'],
        ),
        (
            "prefix: DB",
            "prefix: Db",
            [
                '10:28: branches[2].prefix: "Db" does not have the form wanted here; write two to four capital letters, for example KW [schema/pattern]'
            ],
        ),
        (
            "key: D1",
            "key: K1",
            ['15:11: crews[3].key: "K1" is used twice; give each its own [register/twice]'],
        ),
        (
            "branch: Dunbrae}",
            "branch: Dunbray}",
            [
                '15:23: crews[3].branch: "Dunbray" is no branch of the company; '
                "write one of Ketterwick, Osmere, Dunbrae [register/site]"
            ],
        ),
        (
            "currency:",
            "site_url: leaks.example\ncurrency:",
            [
                '5:11: site_url: "leaks.example" does not have the form wanted here; '
                "write the whole address, with a / at its end, for example https://leaks.example/ [schema/pattern]"
            ],
        ),
        (
            "currency:",
            'records_since: 2031-01-01\nrefrigerant_price: {R-32: "30 EUR"}\ncurrency:',
            [
                "5:16: records_since: 2031-01-01 is after today, 2025-12-31; "
                "write the first day from which every leak was put on record [date/future]",
                '6:27: refrigerant_price.R-32: "30 EUR" is not in USD; '
                "write it in the currency of the line currency: [money/currency]",
            ],
        ),
        (
            "currency:",
            "phone: none\ncurrency:",
            [
                '5:1: the file: "phone" is not a key here; known keys: name, about, language, units, currency, '
                "labour_rate, site_url, records_since, … [schema/unknown-key]"
            ],
        ),
    ],
    "systems.yaml": [
        ("", "", ["1:1: is empty; fill it in or delete it [yaml]"]),
        (
            "",
            "sites: []\nsystems:\n",
            ["2:9: systems: is empty; write for example [], or leave it out [schema/type]"],
        ),
        (
            "sites:",
            "sites",
            [
                "2:9: a colon with a space stands inside text or the line is indented wrongly; put the text in "
                "quotes, line it up with the keys above, or end the key above with a colon [yaml]"
            ],
        ),
        (
            "charge: 1.1 kg",
            "charge: 1.1",
            [
                "7:108: systems[0].charge: 1.1 is a number, not text; "
                'write a number with its unit, for example "1.1 kg" [schema/type]'
            ],
        ),
        (
            "id: S-0006",
            "id: S-0001",
            ['23:10: systems[5].id: "S-0001" is used twice; give it a number of its own [register/twice]'],
        ),
        (
            "key: dunbrae-ice-rink",
            "key: lock-row",
            [
                '5:11: sites[3].key: "lock-row" is used twice; give it a key of its own [register/twice]',
                '10:24: systems[3].site: "dunbrae-ice-rink" is no site of the register; '
                "add it under sites:, or correct the key [register/site]",
            ],
        ),
        (
            "removed: 2024-09",
            'removed: "2011"',
            [
                "20:14: systems[4].removed: 2011 is before the installation in 2012-03; "
                "correct one of the two dates [date/order]"
            ],
        ),
        (
            "removed: 2024-09",
            "removed: 2024-00",
            [
                '20:14: systems[4].removed: "2024-00" does not exist; '
                "write YYYY, YYYY-MM or YYYY-MM-DD, for example 2022-06 [date]"
            ],
        ),
        (
            'installed: "2018"',
            "installed: 2018",
            [
                '8:151: systems[1].installed: 2018 is a number, not text; put it in quotes: "2018" [schema/type]',
            ],
        ),
        (
            "kind: condensing-unit",
            "kind: walk in",
            [
                '8:82: systems[1].kind: "walk in" is not a kind of equipment; did you mean "condensing-unit"? [reference]'
            ],
        ),
        (
            "crew: O1",
            "crew: O9",
            [
                '9:64: systems[2].crew: "O9" is not a crew of the company; write one of D1, K1, K2, O1 [reference]'
            ],
        ),
        (
            "note: Taken out",
            "note: Ring 0555 123 4567. Taken out",
            [
                '22:16: warning: systems[4].note: "0555 123 4567" looks like a telephone number; '
                "take it out; nothing private belongs here [privacy]"
            ],
        ),
        (
            "name: Lock Row terraces",
            "name: 14 Lock Row Road",
            [
                '2:27: warning: sites[0].name: "14 Lock Row Road" looks like a street address; '
                "take it out; nothing private belongs here [privacy]"
            ],
        ),
        ("removed: 2024-09", 'removed: "9999"', []),
    ],
    FIRST_WEEK: [
        ("", "", ["1:1: is empty; fill it in or delete it [yaml]"]),
        (
            "key: first-week",
            "key: first-month",
            [
                '1:6: key: "first-month" and the file name "first-week.yaml" differ; '
                "write key: first-week [id/file-name]"
            ],
        ),
        (
            "technique:visual",
            "technique:visula",
            [
                '8:12: items[0].read: "technique:visula" leads nowhere; did you mean "visual"? [reference/reading]'
            ],
        ),
        (
            "case:KW-2025-002",
            "case:KW-2025-003",
            [
                '9:12: items[1].read: "case:KW-2025-003" leads nowhere; did you mean "KW-2025-002"? [reference/reading]'
            ],
        ),
        (
            "case:KW-2025-002",
            "case:flare-joint",
            [
                '9:12: items[1].read: "case:flare-joint" leads nowhere; '
                "write the number of a case, such as case:KW-2025-014 [reference/reading]"
            ],
        ),
        (
            "mode:flare-joint",
            "mode:]]",
            [
                '10:12: items[2].read: "mode:]]" leads nowhere; write mode: and a key of the guide [reference/reading]'
            ],
        ),
        (
            "technique:visual",
            "system:S-0001",
            [
                '8:12: items[0].read: "system:S-0001" does not have the form wanted here; '
                "write for example technique:visual [schema/pattern]"
            ],
        ),
        (
            "level: apprentice\ndue_days: 7",
            "level: novice\ndue_days: 0",
            [
                '4:8: level: "novice" is not one of the words allowed here; '
                "write one of apprentice, technician, lead [schema/enum]",
                "5:11: due_days: 0 is too small; write at least 1 [schema/minimum]",
            ],
        ),
        (
            "why: Eyes first.",
            'why: "Eyes first, says [[visula]]."',
            [
                '8:55: items[0].why: "[[visula]]" leads nowhere; did you mean "visual"? [reference/prose]',
            ],
        ),
        (
            "for: New starters",
            "for: starter@house.example",
            [
                '3:6: warning: for: "starter@house.example" looks like an e-mail address; '
                "take it out; nothing private belongs here [privacy]"
            ],
        ),
    ],
}
ROWS = [
    pytest.param(file, *row, id=f"{file}-{i}") for file, rows in CHANGES.items() for i, row in enumerate(rows)
]


@pytest.mark.parametrize(("file", "old", "new", "expected"), ROWS)
def test_tells_exactly_what_is_wrong(
    file: str, old: str, new: str, expected: list[str], library: Path
) -> None:
    text = (library / file).read_text("utf-8")
    assert old in text
    (library / file).write_text(text.replace(old, new, 1) if old else new, "utf-8")

    assert told(library).splitlines() == [f"library/{file}:{line}" for line in expected]


def test_a_library_without_settings_is_told_and_no_more(library: Path) -> None:
    (library / "company.yaml").unlink()

    result = check(library)

    assert [p.text() for p in result.problems] == [
        "library/company.yaml:1:1: there is no company.yaml; "
        "write one with name:, units:, currency:, labour_rate: and branches: [file]"
    ]
    assert result.library is None
    assert result.failed
    assert result.counts == {"cases": 0, "systems": 0, "reading lists": 0}


def test_a_library_needs_neither_register_nor_records_nor_reading(tmp_path: Path) -> None:
    (tmp_path / "company.yaml").write_bytes((LIBRARY / "company.yaml").read_bytes())

    result = check(tmp_path)

    assert result.problems == ()
    assert not result.failed
    assert result.library is not None
    assert result.library.cases == ()


def test_without_a_register_each_named_system_is_told(library: Path) -> None:
    (library / "systems.yaml").unlink()

    assert told(library).splitlines() == [
        f'library/records/{case}:{line}: system: "{system}" is not in the register; '
        "add it to systems.yaml, or describe it under equipment: [reference/system]"
        for case, line, system in (
            ("2024/OS-2024-007.yaml", "6:9", "S-0003"),
            ("2025/KW-2025-002.yaml", "7:9", "S-0002"),
        )
    ]


def test_a_crew_where_the_company_has_none(library: Path) -> None:
    settings = (library / "company.yaml").read_text().partition("crews:")[0]
    (library / "company.yaml").write_text(settings)
    (library / "systems.yaml").write_text("sites: []\nsystems: []\n")
    for file in (library / "records").rglob("*.yaml"):
        file.unlink()
    (library / FIRST_WEEK).unlink()
    record = RECORD.replace(
        "system: S-0001", "crew: K1\nequipment: {setting: residential, kind: vrf, refrigerant: R-32}"
    )
    put(library, record)

    assert told(library) == (
        'library/records/2025/KW-2025-014.yaml:5:7: crew: "K1" is not a crew of the company; '
        "leave it out, or add it to company.yaml [reference]"
    )


def test_two_reading_lists_of_one_name(library: Path) -> None:
    put(library, READING, "reading/more/first-week.yaml")

    assert told(library) == (
        'library/reading/more/first-week.yaml:1:6: key: "first-week" is used by library/reading/first-week.yaml '
        "already; give this list a name of its own [id/twice]"
    )


def test_a_reading_list_with_an_error_is_left_out_and_the_cases_stay(library: Path) -> None:
    (library / FIRST_WEEK).write_text(READING.replace("mode:flare-joint", "mode:flare"))

    result = check(library)

    assert result.library is not None
    assert result.library.reading == ()
    assert len(result.library.cases) == 2


def test_a_register_of_many_megabytes_is_read_and_a_record_is_not(library: Path) -> None:
    padding = "# " + "x" * 1_000_000 + "\n"
    register = library / "systems.yaml"
    register.write_text(padding + register.read_text())
    put(library, padding + RECORD)

    assert told(library) == (
        f"library/{PLACE}:1:1: is 1.0 MB long; at most 1 MB are read; "
        "look whether something else was saved under this name [file]"
    )


def test_paths_are_told_from_the_library_s_folder_wherever_one_stands(
    library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(library, "")
    monkeypatch.chdir(library)

    assert check(Path(".")).problems[0].path == "library/records/2025/KW-2025-014.yaml"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(
        LibraryNotFound, match=r'^there is no folder ".*/nowhere"; give the folder that holds'
    ):
        check(tmp_path / "nowhere")


@pytest.mark.parametrize(("epoch", "future"), [("1738540800", True), ("1738627200", False), ("", False)])
def test_today_is_the_day_of_the_source_date_epoch(
    epoch: str, future: bool, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 1738540800 is 2025-02-03T00:00:00Z, 1738627200 a day later
    (library / "records/2025/KW-2025-002.yaml").unlink()
    (library / FIRST_WEEK).unlink()
    put(library, RECORD.replace("2025-02-03", "2025-02-04"))
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)

    assert [p.rule for p in check_library(library).problems] == ["date/future"] * future


def test_a_source_date_epoch_that_is_no_number(library: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")

    with pytest.raises(
        LeakloreError, match=r'^SOURCE_DATE_EPOCH is "yesterday"; write the seconds since 1970'
    ):
        check_library(library)


def test_progress_is_told_in_steps(library: Path) -> None:
    for i in range(60):
        put(
            library,
            RECORD.replace("KW-2025-014", f"KW-2025-{i + 100}"),
            f"records/2025/KW-2025-{i + 100}.yaml",
        )
    seen: list[tuple[int, int]] = []

    check_library(
        library, today=dt.date(2025, 12, 31), progress=lambda done, total: seen.append((done, total))
    )

    assert seen[0] == (0, 62)
    assert seen[-1] == (62, 62)
    assert seen == sorted(set(seen))
    assert len(seen) > 10


@pytest.mark.parametrize("seed", ["1", "2"])
def test_hints_do_not_depend_on_the_order_of_sets(seed: str, library: Path) -> None:
    for i in range(101, 160):
        put(library, RECORD.replace("KW-2025-014", f"KW-2025-{i}"), f"records/2025/KW-2025-{i}.yaml")
    put(library, RECORD + "related: [{case: KW-2025-998, as: same-site}]\nlesson: As in [[KW-2025-999]].\n")
    code = (
        "import sys, datetime; from pathlib import Path; from leaklore import report; "
        "from leaklore.records.check import check; "
        "print(report.as_text([p for p in check(Path(sys.argv[1]), today=datetime.date(2025, 12, 31)).problems"
        " if 'KW-2025-99' in p.message]))"
    )

    out = subprocess.run(
        [sys.executable, "-c", code, str(library)],
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert out.splitlines() == [
        f'library/{PLACE}:12:18: related[0].case: "KW-2025-998" is no case of this library; '
        'did you mean "KW-2025-108"? [reference/case]',
        f'library/{PLACE}:13:15: lesson: "[[KW-2025-999]]" leads nowhere; did you mean "KW-2025-109"? [reference/prose]',
    ]


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("currency: USD", "currency: dollars", "5:11: currency:"),
        ("currency: USD", "site_url: leaks.example\ncurrency: USD", "5:11: site_url:"),
        ("currency: USD", "language: klingon\ncurrency: USD", "5:11: language:"),
        ("units: us", "unts: us", '4:1: the file: "unts" is not a key here'),
        ("96 USD", "96", "6:14: labour_rate:"),
        ("prefix: OS", "prefix: Os", "9:27: branches[1].prefix:"),
        ("branches:", "branch:", '7:1: the file: "branch" is not a key here'),
        ("branch: Osmere", "branch: 7", "14:23: crews[2].branch:"),
        ("crews:", "crew:", '11:1: the file: "crew" is not a key here'),
        ("crews:", "crews:\nstaff:", "11:7: crews: is empty"),
        ("units: us", "units: [us", "4:8: a list in brackets is not closed"),
        ("units: us", "units: us #1", '4:10: "#1" would be lost'),
        ("units: us", "units: us\nunits: si", '5:1: "units" is given twice'),
        ("prefix: OS}", "prefix: OS", "9:5: a map in braces is not closed"),
        ("key: K1,", "key: K1", "12:"),
        ("name:", "- name:", "3:1: the indent"),
        ("name:", "\x07name:", "2:1: holds a control character"),
    ],
)
def test_an_error_in_the_settings_hides_no_other_and_brings_no_false_one(
    old: str, new: str, expected: str, library: Path
) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    (library / "company.yaml").write_text(text.replace(old, new, 1), "utf-8")
    put(library, RECORD.replace("mode: flare-joint", "mode: flare-jint"))

    result = check(library)

    settings = [p.text() for p in result.problems if p.path == "library/company.yaml"]
    assert any(line.startswith(f"library/company.yaml:{expected}") for line in settings)
    assert [p.text() for p in result.problems if p.path != "library/company.yaml"] == [
        'library/records/2025/KW-2025-014.yaml:10:15: cause.mode: "flare-jint" is not a failure mode; '
        'did you mean "flare-joint"? [reference]'
    ]
    assert result.library is None
    assert result.failed
    assert result.counts == {"cases": 3, "systems": 6, "reading lists": 1}


@pytest.mark.parametrize("settings", [b"", b"- Ketterwick\n", b"Ketterwick", b"a: [", b"\xff\xfea\0"])
def test_settings_of_which_nothing_can_be_read_do_not_hide_what_is_wrong_elsewhere(
    settings: bytes, library: Path
) -> None:
    (library / "company.yaml").write_bytes(settings)
    put(library, RECORD.replace("mode: flare-joint", "mode: flare-jint"))

    result = check(library)

    assert [(p.path, p.rule) for p in result.problems][1:] == [
        ("library/records/2025/KW-2025-014.yaml", "reference")
    ]
    assert result.problems[0].path == "library/company.yaml"
    assert result.library is None


def test_a_register_whose_lists_stand_behind_something_else_is_told(library: Path) -> None:
    """Of other data than keys before its last list."""
    (library / "systems.yaml").write_text("- sites\nsystems:\n  - {id: S-0001}\n")

    assert told(library).startswith("library/systems.yaml:2:1: the indent does not fit the list above;")


def test_an_error_of_form_in_the_register_does_not_hide_the_next(library: Path) -> None:
    text = (library / "systems.yaml").read_text("utf-8")
    text = text.replace("setting: process}", "setting: process #2}", 1).replace(
        "kind: chiller", "kind: chller"
    )
    (library / "systems.yaml").write_text(text, "utf-8")

    assert [line.partition(";")[0] for line in told(library).splitlines()] == [
        "library/systems.yaml:4:78: a number sign with a space before it begins a comment, "
        "so that the bracket before it is never closed",
        'library/systems.yaml:9:74: systems[2].kind: "chller" is not a kind of equipment',
        'library/systems.yaml:10:71: systems[3].kind: "chller" is not a kind of equipment',
    ]


@pytest.mark.parametrize(
    ("key", "good"),
    [
        ("Almería", True),
        ("Łódź", True),
        ("San José", True),
        ("Alcalá 2 - Norte", True),
        ("San  José", False),
        ("San/José", False),
        ("7th", False),
    ],
)
def test_the_name_of_a_branch_may_have_accents_and_spaces(key: str, good: bool, library: Path) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    text = text.replace("branches:\n", f"branches:\n  - {{key: {key}, prefix: AL}}\n")
    (library / "company.yaml").write_text(text, "utf-8")

    lines = told(library)
    assert (lines == "") is good
    assert good or "write letters, digits, hyphens and single spaces, for example Ketterwick" in lines


def test_a_branch_with_spaces_is_named_by_records_and_crews(library: Path) -> None:
    for file in library.rglob("*.yaml"):
        file.write_text(file.read_text("utf-8").replace("Ketterwick", "San José"), "utf-8")
    assert told(library) == ""
    case = next(library.rglob("KW-2025-002.yaml"))
    case.write_text(case.read_text("utf-8").replace("San José", "San Jose"), "utf-8")

    assert told(library).endswith(
        'branch: "San Jose" is not a branch of the company; did you mean "San José"? [reference]'
    )


def test_a_space_and_a_hyphen_are_one_in_an_address(library: Path) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    text = text.replace(
        "branches:\n", "branches:\n  - {key: New Quay, prefix: NQ}\n  - {key: New-Quay, prefix: QN}\n"
    )
    (library / "company.yaml").write_text(text, "utf-8")

    assert 'branches[1].key: "New-Quay" is used twice' in told(library)


@pytest.mark.parametrize("key", ["osmere", "Ósmere"])
def test_two_branches_of_one_address_are_told(key: str, library: Path) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    text = text.replace("branches:\n", f"branches:\n  - {{key: {key}, prefix: AL}}\n")
    (library / "company.yaml").write_text(text, "utf-8")

    assert told(library) == (
        'library/company.yaml:10:11: branches[2].key: "Osmere" is used twice; give each its own [register/twice]'
    )


def test_all_errors_of_the_settings_are_told_in_one_run(library: Path) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    text = (
        text.replace("units: us", "units: imperial").replace("96 USD", "96 EUR").replace("key: D1", "key: K1")
    )
    (library / "company.yaml").write_text(text, "utf-8")

    assert [line.split(": ")[1] for line in told(library).splitlines()] == [
        "units",
        "labour_rate",
        "crews[3].key",
    ]


@pytest.mark.parametrize("names", ["R-222: 95 USD", "R-222: 95", "R-32: 22 USD, R-222: 95 USD"])
def test_a_price_of_a_refrigerant_that_there_is_not(names: str, library: Path) -> None:
    text = (library / "company.yaml").read_text("utf-8")
    (library / "company.yaml").write_text(text.replace("units:", f"refrigerant_price: {{{names}}}\nunits:"))

    column = 21 + names.index("R-222")
    assert told(library).splitlines()[0] == (
        f'library/company.yaml:4:{column}: refrigerant_price: "R-222" is not a refrigerant; '
        'did you mean "R-22"? [reference]'
    )


EXERCISE = (
    "key: exercises\ntitle: Exercises\nfor: New starters\nlevel: apprentice\n"
    'items:\n  - {read: "unknown:KW-2025-014", why: Find it.}\nfrom: {settings: [light-commercial]}\n'
)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("kind: condensing-unit", "kind: wrongkind"),
        ("removed: 2024-09", "removed: 2024-13"),
        ("name: ", "name: Twice, name: "),
        ("", ""),
        ("", None),
    ],
)
def test_a_register_that_can_not_be_read_brings_no_error_of_a_list(
    old: str, new: str | None, library: Path
) -> None:
    put(
        library,
        RECORD.replace(
            "search:\n",
            "search:\n  - {technique: visual, at: [outdoor-cabinet], minutes: 5, result: clean}\n",
        ),
    )
    put(library, EXERCISE, "reading/exercises.yaml")
    assert told(library) == ""
    register = library / "systems.yaml"
    text = register.read_text("utf-8")
    assert old in text
    register.unlink()
    if new is None:
        register.mkdir()
    else:
        register.write_text(text.replace(old, new, 1) if old else new, "utf-8")

    assert {p.path for p in check(library).problems} == {"library/systems.yaml"}


def test_systems_are_counted_though_one_is_wrong(library: Path) -> None:
    text = (library / "systems.yaml").read_text("utf-8")
    (library / "systems.yaml").write_text(
        text.replace("kind: condensing-unit", "kind: wrongkind", 1), "utf-8"
    )

    assert check(library).counts["systems"] == 6


@pytest.mark.parametrize(
    "place",
    ["records/2025/KW-2025-014.yaml", "records/2026.yaml", "records/more.YML", "reading/second-week.yaml"],
)
def test_a_folder_in_place_of_a_file_is_told(place: str, library: Path) -> None:
    (library / place).mkdir()

    assert told(library) == (
        f"library/{place}:1:1: is not a plain file; put a text file in its place, "
        f"or name the folder without {Path(place).suffix} [file]"
    )


def test_what_lies_in_a_folder_that_is_called_like_a_file_is_read(library: Path) -> None:
    put(
        library, RECORD.replace("mode: flare-joint", "mode: flare-jint"), "records/2025.yaml/KW-2025-014.yaml"
    )

    assert [p.path for p in check(library).problems] == [
        "library/records/2025.yaml",
        "library/records/2025.yaml/KW-2025-014.yaml",
    ]


@pytest.mark.parametrize("name", ["records", "reading", "photos", "house", "house/techniques"])
def test_a_file_in_place_of_a_folder_is_told(name: str, library: Path) -> None:
    (library / "reading" / "first-week.yaml").unlink()
    if (library / name).exists():
        (library / name).rename(library / "old")
    (library / name).parent.mkdir(exist_ok=True)
    (library / name).write_text("nothing: here\n")

    assert told(library) == (
        f"library/{name}:1:1: is not a folder; put a folder of this name in its place [file]"
    )


@pytest.mark.parametrize("name", ["records", "records/2025", "house", "house/techniques", "photos"])
def test_a_link_in_place_of_a_folder_is_told_once(name: str, library: Path, tmp_path: Path) -> None:
    """It leads nowhere, to itself, or out of the library; what names a case is not at fault."""
    put(library, RECORD)
    (library / name).parent.mkdir(exist_ok=True)
    if (library / name).exists():
        (library / name).rename(tmp_path / "away")
    (library / "house").mkdir(exist_ok=True) if name != "house" else None
    (library / "reading" / "second.yaml").write_text(
        READING.replace("key: first-week", "key: second").replace(
            "items:", "items:\n  - {read: case:KW-2025-014, why: It is told there.}"
        ),
    )
    for target in ("nowhere", Path(name).name, str(tmp_path)):
        (library / name).symlink_to(target)
        said = [p for p in check(library).problems if p.severity == "error"]
        assert [(p.path, p.rule) for p in said] == [(f"library/{name}", "file")], target
        (library / name).unlink()


def test_a_file_in_place_of_a_year_is_told_once(library: Path) -> None:
    (library / "records").mkdir(exist_ok=True)
    (library / "records" / "2031").write_text("nothing\n")
    (library / "reading" / "first-week.yaml").write_text(
        READING.replace("items:", "items:\n  - {read: case:KW-2031-001, why: It is there.}")
    )

    assert told(library) == (
        "library/records/2031:1:1: is not a folder; put a folder of this name in its place [file]"
    )


@pytest.mark.parametrize("name", ["systems.yaml", "company.yaml", "house/actions.yaml", "house/note.md"])
def test_a_link_that_leads_nowhere_is_told(name: str, library: Path) -> None:
    (library / "house").mkdir(exist_ok=True)
    (library / name).unlink(missing_ok=True)
    (library / name).symlink_to("nowhere")

    assert [(p.path, p.rule) for p in check(library).problems] == [(f"library/{name}", "file")]


def test_a_note_is_not_fetched_from_outside_of_the_library(library: Path, tmp_path: Path) -> None:
    (library / "house").mkdir(exist_ok=True)
    (tmp_path / "private.md").write_text("# Private\n")
    (library / "house" / "note.md").symlink_to(tmp_path / "private.md")

    assert told(library) == (
        "library/house/note.md:1:1: is a link to a file outside the library; copy the file into the library [file]"
    )


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (b'\xef\xbb\xbfmsgid "Cases"\nmsgstr "Casos"\n', ""),
        (
            b'msgid "Cases"\nmsgstr "Fugas \xe1"\n',
            "2:1: is not UTF-8 text (byte 0xe1); save the file with the encoding UTF-8",
        ),
    ],
    ids=["byte order mark", "another encoding"],
)
def test_words_that_an_editor_saved_in_its_own_way(words: bytes, expected: str, library: Path) -> None:
    (library / "house").mkdir(exist_ok=True)
    (library / "house" / "words.po").write_bytes(words)

    assert told(library) == (f"library/house/words.po:{expected} [words]" if expected else "")


def test_a_copy_in_the_folder_of_another_year_is_told_and_not_the_record(library: Path) -> None:
    put(library, RECORD)
    put(library, RECORD, "records/2024/KW-2025-014.yaml")

    assert [(p.path, p.rule) for p in check(library).problems] == [
        ("library/records/2024/KW-2025-014.yaml", "id/twice"),
        ("library/records/2024/KW-2025-014.yaml", "id/folder"),
    ]


@pytest.mark.parametrize("number", ["id: true", "idd: KW-2025-014", "id:"])
def test_a_record_without_a_number_still_exists_for_others(number: str, library: Path) -> None:
    put(library, RECORD.replace("id: KW-2025-014", number))
    other = RECORD.replace("014", "015").replace(
        "story:", "related: [{case: KW-2025-014, as: repair-did-not-hold}]\nstory:"
    )
    put(library, other, "records/2025/KW-2025-015.yaml")

    assert {p.path for p in check(library).problems if p.severity == "error"} == {f"library/{PLACE}"}


@pytest.mark.parametrize(
    ("name", "instead"),
    [
        ("action.yaml", 'did you mean "actions.yaml"?'),
        ("symptom.yaml", 'did you mean "symptoms.yaml"?'),
        ("Symptoms.yml", 'did you mean "symptoms.yaml"?'),
        ("word.po", 'did you mean "words.po"?'),
        ("failure_modes/", 'did you mean "failure-modes/"?'),
        ("technique.yaml", 'did you mean "techniques/"?'),
        ("sketches.yaml", "take it out; this file of the guide can't be changed here"),
    ],
)
def test_a_misspelt_name_in_the_house_is_a_warning(name: str, instead: str, library: Path) -> None:
    house = library / "house"
    house.mkdir()
    (house / name).mkdir() if name.endswith("/") else (house / name).write_text("- key: x\n")

    result = check(library)

    assert [p.text() for p in result.problems] == [
        f"library/house/{name.rstrip('/')}:1:1: warning: is read by nothing; {instead} [file]"
    ]
    assert not result.failed


@pytest.mark.parametrize(
    ("name", "instead"),
    [
        ("records/2025/KW-2025-077.yaml.txt", "save it as text and call it KW-2025-077.yaml"),
        ("records/2025/KW-2025-077.docx", "save it as text and call it KW-2025-077.yaml"),
        ("reading/second-week.yml.TXT", "save it as text and call it second-week.yaml"),
        ("KW-2025-077.yaml", "move it to records/, into the folder of its year"),
        ("systems.yml", 'did you mean "systems.yaml"?'),
        ("system.yaml", 'did you mean "systems.yaml"?'),
        ("company.yaml.txt", 'did you mean "company.yaml"?'),
        ("record/", 'did you mean "records/"?'),
        ("Photo/", 'did you mean "photos/"?'),
        ("photos/IMG_1.JPG", "put it into a folder that is called like the number of its case"),
        ("photos/flares/", "call the folder like the number of the case"),
    ],
)
def test_what_was_meant_for_the_library_is_a_warning(name: str, instead: str, library: Path) -> None:
    """Nothing that somebody wrote down is left out without a word."""
    place = library / name
    place.parent.mkdir(exist_ok=True)
    place.mkdir() if name.endswith("/") else place.write_text("ours\n")

    result = check(library)

    assert [p.text() for p in result.problems] == [
        f"library/{name.rstrip('/')}:1:1: warning: is read by nothing; {instead} [file]"
    ]
    assert not result.failed


def test_what_else_lies_in_the_library_is_somebody_s_own(library: Path) -> None:
    for name in (
        "prices.yaml",
        "README.txt",
        "old-records/a.yaml",
        "records/README.txt",
        "records/2025/KW-2025-002.txt",
        "reading/second-week.txt",
        "records/2025/KW-2025-001.yaml~",
        "records/2025/~$KW-2025-001.docx",
        "records/2025/.KW-2025-001.yaml.txt",
        "photos/README.txt",
        "photos/KW-2025-001/notes.txt",
        "photos/KW-2025-001/.x.jpg",
    ):
        put(library, "ours\n", name)

    assert told(library) == ""


def test_a_photo_that_no_record_names_is_a_warning(library: Path) -> None:
    """Put beside the record by hand and forgotten in it; a folder of pictures without a record is told once."""
    put(library, RECORD + "photos: [{file: flare-face.jpg, caption: Split flare face}]\n")
    for name in ("KW-2025-014/IMG_2.JPG", "KW-2025-002/a.heic", "KW-2025-077/a.jpg", "KW-2025-077/b.png"):
        put(library, "a picture\n", f"photos/{name}")
    unseen = "warning: is named by no record, so nobody sees it"

    result = check(library)

    assert [p.text() for p in result.problems] == [
        f"library/photos/KW-2025-002/a.heic:1:1: {unseen}; name it under photos: of "
        "library/records/2025/KW-2025-002.yaml, or take it out [photo/unnamed]",
        f"library/photos/KW-2025-014/IMG_2.JPG:1:1: {unseen}; name it under photos: of "
        "library/records/2025/KW-2025-014.yaml, or take it out [photo/unnamed]",
        f"library/photos/KW-2025-077:1:1: {unseen}; there is no record KW-2025-077: "
        "call the folder like the number of its case [photo/unnamed]",
    ]
    assert not result.failed


def test_photos_of_a_record_with_an_error_are_not_told_of(library: Path) -> None:
    """The name may be misspelt, which is told already."""
    put(library, RECORD + "photos: [{file: flare-fase.jpg, caption: Split flare face}]\n")

    assert [p.rule for p in check(library).problems] == ["reference/photo"]


def test_a_note_that_is_no_text_is_told(library: Path) -> None:
    (library / "house").mkdir()
    (library / "house" / "van-stock.md").write_bytes(b"# Van\n\nK\xe4lte\n")

    assert told(library) == (
        "library/house/van-stock.md:3:2: is not UTF-8 text (byte 0xe4); save the file with the encoding UTF-8 [yaml]"
    )


def test_a_reference_of_a_note_that_leads_nowhere_is_a_warning(library: Path) -> None:
    (library / "house").mkdir()
    (library / "house" / "van-stock.md").write_text(
        "# Van\n\nFor [[flare-joint]], [[flare-jont]]\nand [[KW-2025-002]].\n"
    )

    result = check(library)

    assert [p.text() for p in result.problems] == [
        'library/house/van-stock.md:3:22: warning: "[[flare-jont]]" leads nowhere; did you mean "flare-joint"? [reference/prose]'
    ]
    assert not result.failed


def test_two_front_pages_of_the_notes_are_a_warning(library: Path) -> None:
    (library / "house").mkdir()
    for name in ("index.md", "README.md"):
        (library / "house" / name).write_text("# Notes\n")

    result = check(library)

    assert [p.text() for p in result.problems] == [
        "library/house/README.md:1:1: warning: is not shown, for index.md is the front page; join the two [file]"
    ]
    assert not result.failed
    (library / "house" / "index.md").unlink()
    assert not check(library).problems


def test_what_is_the_house_s_own_is_not_warned_of(library: Path) -> None:
    for name in (
        "van-stock.md",
        "symptom.md",
        "prices.yaml",
        "symptom.txt",
        ".action.yaml",
        "pictures/van.png",
    ):
        put(library, "ours\n", f"house/{name}")
    for name in ("techniques", "failure-modes"):
        (library / "house" / name).mkdir()

    assert told(library) == ""


def test_a_folder_in_place_of_a_list_of_the_house_is_told(library: Path) -> None:
    (library / "house" / "plain.yaml").mkdir(parents=True)

    assert told(library).startswith("library/house/plain.yaml:1:1: is not a plain file; ")
