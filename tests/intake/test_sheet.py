"""Job sheets: encodings, dialects, workbooks, what each cell becomes and how it is told where it can't."""

from __future__ import annotations

import datetime as dt
import json
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook

from leaklore.cli import main
from leaklore.errors import LeakloreError
from leaklore.intake import show, table
from leaklore.intake.fault import Fault
from leaklore.intake.mapping import MapFile
from leaklore.intake.take import suggest_map
from leaklore.problem import errors
from leaklore.records.check_guide import read_guide
from leaklore.records.schema import Schemas

from .conftest import checked, run, told
from .made import HEADERS, MAP, ROW, row, sheet, tree, workbook

TAKEN = "jobs.csv: row 2: taken as cases/records/2024/OS-2024-008.yaml"
RECORD = """\
# yaml-language-server: $schema=../../../schema/case.schema.json
# from: Job no J-1
id: OS-2024-008
title: Leak at Indoor flare, job J-1
reported: 2024-02-03
branch: Osmere
equipment: {setting: residential, kind: ductless-split, refrigerant: R-410A}
symptoms: [short-of-charge, oil-film]
charge: {lost: 4 lb}
search:
  - {technique: bubble-test, at: [indoor-flare], minutes: 10, result: pinpointed}
cause: {mode: flare-joint, component: indoor-flare, proof: suspected}
story: The nut was tight, and still it frothed.
"""


def write(text: str, encoding: str = "utf-8", name: str = "jobs.csv") -> str:
    """A job sheet in the working folder."""
    Path(name).write_bytes(text.encode(encoding))
    return name


def test_a_row_becomes_a_record() -> None:
    """Words, dates, units, lists, search steps, texts and what is fixed."""
    assert told(run(write(sheet(ROW)), map_text=MAP)) == [TAKEN]
    assert Path("cases/records/2024/OS-2024-008.yaml").read_text("utf-8") == RECORD
    assert not errors(checked().problems)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_encodings_and_dialects_are_found_out(encoding: str, delimiter: str, end: str) -> None:
    """Also with signs beyond ASCII, and a delimiter and a line break inside quotes."""
    story = f'Der Käfer saß im "Rohr"{delimiter} ganz\nhinten.'
    text = sheet(row(Notes=story), delimiter=delimiter, end=end)
    taken = run(write(text, encoding), map_text=MAP)
    assert told(taken) == [TAKEN]
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.story == story.replace("\t", " ")  # no record holds a tab
    assert taken.notes[0].startswith(f"jobs.csv: read as {encoding.removesuffix('-sig')}, columns apart by ")


@pytest.mark.parametrize("encoding", ["iso-8859-15", "cp437", "cp850", "mac-roman"])
def test_other_encodings_are_said_in_the_map(encoding: str) -> None:
    """No first bytes tell them apart."""
    name = write(sheet(row(Notes="Über der Küche war es nass.")), encoding)
    run(name, map_text=f"encoding: {encoding}\n{MAP}")
    assert checked().library.by_id["OS-2024-008"].story == "Über der Küche war es nass."  # type: ignore[union-attr]


def test_taken_twice_takes_nothing_twice() -> None:
    """Also after the map was mended, in another order and beside new rows; what a person changed stays."""
    name = write(sheet(ROW, row(Job_no="J-2", Notes="It leaked at the valve.")))
    run(name, map_text=MAP)
    before = tree(Path("cases"))
    assert told(run(name, map_text=MAP)) == [
        "jobs.csv: row 2: already taken as cases/records/2024/OS-2024-008.yaml",
        "jobs.csv: row 3: already taken as cases/records/2024/OS-2024-009.yaml",
    ]
    write(sheet(row(Job_no="J-3", Notes="Another one, on the roof."), ROW))
    mended = MAP.replace("job {Job no}", "no. {Job no}")
    assert told(run(name, map_text=mended)) == [
        "jobs.csv: row 2: taken as cases/records/2024/OS-2024-010.yaml",
        "jobs.csv: row 3: already taken as cases/records/2024/OS-2024-008.yaml "
        "(the record differs from the row by now; it is left as it is)",
    ]
    assert set(tree(Path("cases"))) - set(before) == {"records/2024/OS-2024-010.yaml"}


def test_without_a_key_the_whole_row_counts() -> None:
    """Equal rows are told: one job, or two that look the same."""
    plain = MAP.replace("key: Job no\n", "")
    name = write(sheet(ROW, ROW, row(Gas_added="5")))
    lines = [
        "jobs.csv: row 3: is the same row as jobs.csv: row 2; give each row a key of its own, or take one out [take/twice]",
        TAKEN,
        "jobs.csv: row 4: taken as cases/records/2024/OS-2024-009.yaml",
    ]
    assert told(run(name, map_text=plain)) == lines
    mark = Path("cases/records/2024/OS-2024-008.yaml").read_text("utf-8").splitlines()[1]
    assert mark == "# from: row f447dae654b127b5", (
        "another mark, and every row of an old sheet would be taken anew"
    )
    assert [o.status for o in run(name, map_text=plain).outcomes] == [
        "already taken",
        "already taken",
        "already taken",
    ]


def test_a_key_used_twice_is_told() -> None:
    """The first row has it."""
    assert told(run(write(sheet(ROW, row(Gas_added="5"))), map_text=MAP)) == [
        "jobs.csv: row 3: has the key of jobs.csv: row 2; give each row a key of its own, or take one out [take/twice]",
        TAKEN,
    ]


def test_two_books_are_kept_apart() -> None:
    """Job 1 of one book is not job 1 of another."""
    name = write(sheet(ROW))
    run(name, map_text=f"book: Osmere 2019\n{MAP}")
    write(sheet(row(Gas_added="5")))
    assert told(run(name, map_text=f"book: Dunbrae 2019\n{MAP}")) == [
        "jobs.csv: row 2: taken as cases/records/2024/OS-2024-009.yaml"
    ]


WRONG = {
    'Gas added': [
        ({"Gas_added": "four"}, '"four" is not a number with a unit; write for example 4 lb [take/cell]'),
        ({"Gas_added": "4 psi"}, '"4 psi" is a pressure, not a mass; write for example "4 lb", "9 lb 8 oz" or "1.8 kg" [take/cell]'),
        ({"Gas_added": "1,5"}, '"1,5" has a comma, which can be read two ways; write decimal: "," into the map where it stands before decimals, else take it out [take/cell]'),
        ({"Gas_added": "=1+1"}, '"=1+1" is not a number with a unit; write for example 4 lb [take/cell]'),
        ({"Gas_added": "-4"}, '"-4 lb" is negative; write for example "4 lb", "9 lb 8 oz" or "1.8 kg" [take/cell]'),
    ],
    'Date in': [
        ({"Date_in": "31/02/2024"}, '"31/02/2024" is not a day written as %d/%m/%Y; write for example 03/02/2025 [take/cell]'),
        ({"Date_in": "2024/02/03"}, '"2024/02/03" is not a day written as %d/%m/%Y; write for example 03/02/2025 [take/cell]'),
        ({"Date_in": "03/02/2026"}, "2026-02-03 lies in the future; write the day on which it happened [date/future]"),
    ],
    'Leak found at': [
        ({"Leak_found_at": "the thingy"}, None),
    ],
    'Refrigerant': [({"Refrigerant": "R410"}, '"R410" is not a refrigerant; did you mean "R-410A"? [reference]')],
    'Result 1': [({"Result_1": "hm"}, '"hm" is not one of the words allowed here; add it to words: with the one that is meant of clean, lead, section, pinpointed, confirmed, false-alarm [take/cell]')],
    'Min 1': [({"Min_1": "ten"}, '"ten" is text, not a whole number; write plain digits, for example 6 [schema/type]')],
    'Symptoms': [({"Symptoms": "oil film; quite odd indeed"}, None)],
    'Notes': [({"Notes": "Short"}, '"Short" is too short; write for example')],
}  # fmt: skip


@pytest.mark.parametrize(
    ("column", "cells", "line"), [(c, *case) for c, cases in WRONG.items() for case in cases]
)
def test_what_is_wrong_is_told_by_row_and_column(
    column: str, cells: dict[str, str], line: str | None
) -> None:
    """The right row beside it is taken."""
    taken = run(write(sheet(ROW, row(Job_no="J-2", **cells))), map_text=MAP)
    lines = [show.line(p) for o in taken.outcomes for p in errors(o.problems)]
    assert len(lines) == 1
    assert lines[0].startswith(f'jobs.csv: row 3, "{column}": {line or ""}')
    assert told(taken)[-1] == TAKEN
    assert taken.failed
    assert len(list(Path("cases/records/2024").iterdir())) == 2


def test_a_missing_cell_says_what_is_missing() -> None:
    """With the way out that a map has."""
    taken = run(write(sheet(row(Notes="", Date_in=""))), map_text=MAP)
    assert told(taken) == [
        "jobs.csv: row 2: reported is missing; map a column to it, or write it under fixed: [schema/required]",
        "jobs.csv: row 2: story is missing; map a column to it, or write it under fixed: [schema/required]",
    ]


def test_what_was_guessed_is_told() -> None:
    """A misspelling is a guess; a synonym of the guide is none."""
    taken = run(write(sheet(row(Leak_found_at="indor flare"))), map_text=MAP)
    assert told(taken) == [
        'jobs.csv: row 2, "Leak found at": warning: "indor flare" is read as indoor-flare; '
        "write it under words: if that is wrong [take/near]",
        TAKEN,
    ]


@pytest.mark.parametrize(
    ("cell", "written"), [("4 1/2", "4 1/2 lb"), ("4½ lb", "4 1/2 lb"), ("9-1/4 oz", "9 1/4 oz")]
)
def test_fractions_are_read(cell: str, written: str) -> None:
    run(write(sheet(row(Gas_added=cell))), map_text=MAP)
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.lost is not None
    assert case.lost.written == written


def test_the_size_of_a_tube_is_written_as_the_tables_have_it() -> None:
    head, cells = sheet(ROW).splitlines()
    more = MAP.replace("columns:", "columns:\n  Suction: equipment.line_set.suction")
    run(write(f'{head},Suction\n{cells},"1-1/8"""\n'), map_text=more)
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.equipment.line_set is not None
    assert case.equipment.line_set.suction == "1 1/8 in"


def test_decimal_comma_empty_words_and_rows_to_skip() -> None:
    """As an office of the continent writes."""
    text = sheet(row(Gas_added="1.004,5", Method_2="-"), row(Job_no="", Notes="Sum"), delimiter=";")
    run(write(text), map_text=f'decimal: ","\nempty: ["-"]\n{MAP}'.replace("unit: lb", "unit: g"))
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.lost is not None
    assert case.lost.written == "1004.5 g"
    assert len(case.search) == 1


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        (4.5, "4.5 lb"),  # a number of the workbook is shown with a comma and kept without
        (1.004, "1.004 lb"),
        (4, "4 lb"),
        ("4,5", "4.5 lb"),
        ("1.004", "1004 lb"),
        ("12.345.678,5", "12345678.5 lb"),
    ],
)
def test_a_point_is_lost_only_where_it_parts_thousands(cell: object, written: str) -> None:
    """With `decimal: ","`. None of these is ten or a thousand times what the sheet says."""
    cells: list[object] = list(ROW)
    cells[3], cells[9] = cell, 10.0
    workbook(Path("jobs.xlsx"), [HEADERS, tuple(cells)])
    run("jobs.xlsx", map_text=f'decimal: ","\n{MAP}')
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.lost is not None
    assert (case.lost.written, case.search[0].minutes) == (written, 10)


@pytest.mark.parametrize(
    ("decimal", "cell", "told_of"),
    [
        (",", "4.5", '"4.5" has a point, but the map says decimal: a comma; write the cell with a comma'),
        (",", "1.2345", '"1.2345" has a point, but the map says decimal: a comma; write the cell with a comma'),
        (".", "4,5", '"4,5" has a comma, which can be read two ways; write decimal: "," into the map where it stands before decimals, else take it out'),
    ],
)  # fmt: skip
def test_the_other_decimal_sign_is_told(decimal: str, cell: str, told_of: str) -> None:
    """Nothing becomes ten times as much."""
    taken = run(write(sheet(row(Gas_added=cell), delimiter=";")), map_text=f'decimal: "{decimal}"\n{MAP}')
    assert told(taken) == [f'jobs.csv: row 2, "Gas added": {told_of} [take/cell]']


def test_a_number_of_a_workbook_has_a_point_whatever_the_map_says() -> None:
    """Beside cells of text, for which the map says it."""
    amount = HEADERS.index("Gas added")
    rows: list[list[object]] = [list(HEADERS), list(row(Job_no="J-1")), list(row(Job_no="J-2"))]
    rows[1][amount], rows[2][amount] = 4.5, "4,5 lb"
    workbook(Path("jobs.xlsx"), [tuple(one) for one in rows])
    run("jobs.xlsx", map_text=f'decimal: ","\n{MAP}')
    library = checked().library
    assert library is not None
    lost = [library.by_id[f"OS-2024-00{n}"].lost for n in (8, 9)]
    assert [one and one.written for one in lost] == ["4.5 lb", "4.5 lb"]


def test_a_later_group_of_columns_may_stand_alone() -> None:
    """Gaps close, and a finding still names its column."""
    blank = {"Method_1": "", "Place_1": "", "Min_1": "", "Result_1": ""}
    taken = run(write(sheet(row(**blank, Method_2="visual"))), map_text=MAP)
    assert told(taken) == [TAKEN]
    assert "- {technique: visual, at: [outdoor-cabinet], minutes: 5, result: clean}" in Path(
        "cases/records/2024/OS-2024-008.yaml"
    ).read_text("utf-8")
    taken = run(write(sheet(row(Job_no="J-9", **blank, Method_2="dowsing"))), map_text=MAP)
    assert told(taken)[0].startswith('jobs.csv: row 2, "Method 2": "dowsing" is not a technique')


@pytest.mark.parametrize(
    ("cell", "running"), [("yes", True), ("X", True), ("No", False), (True, True), (False, False), ("", None)]
)
def test_yes_and_no_as_people_write_them(cell: object, running: bool | None) -> None:
    """In a column, or ticked in a workbook."""
    workbook(Path("jobs.xlsx"), [(*HEADERS, "Unit ran"), (*ROW, cell)])
    run("jobs.xlsx", map_text=MAP.replace("minutes: Min 1,", "minutes: Min 1, running: Unit ran,"))
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.search[0].running is running


def test_a_word_that_is_no_yes_and_a_number_that_has_no_unit_are_told() -> None:
    """With what to write."""
    bare = MAP.replace("Gas added: {to: charge.lost, unit: lb}", "Gas added: charge.lost")
    bare = bare.replace("minutes: Min 1,", "minutes: Min 1, running: Method 2,")
    bare = bare.replace(
        "  - {technique: Method 2, at: {fixed: outdoor-cabinet}, minutes: {fixed: 5}, result: {fixed: clean}}\n",
        "",
    )
    lines = told(run(write(sheet(row(Gas_added="some", Method_2="perhaps"))), map_text=bare))
    assert (
        lines[0]
        == 'jobs.csv: row 2, "Gas added": "some" is not a number with a unit; write for example 4 lb [take/cell]'
    )
    assert lines[1].startswith('jobs.csv: row 2, "Method 2": "perhaps" is ')


def test_own_numbers_are_kept() -> None:
    """Where the sheet's are ours."""
    own = MAP.replace("key: Job no\n", "").replace("columns:\n", "columns:\n  Job no: id\n")
    assert told(run(write(sheet(row(Job_no="OS-2024-099"))), map_text=own)) == [
        "jobs.csv: row 2: taken as cases/records/2024/OS-2024-099.yaml"
    ]
    write(sheet(row(Job_no="OS-2024-007"), row(Job_no="19")))
    lines = told(run("jobs.csv", map_text=own))
    assert lines[0].startswith('jobs.csv: row 2, "Job no": "OS-2024-007" is used')
    assert lines[1].startswith('jobs.csv: row 3, "Job no": "19" does not have the form wanted here')


def test_text_that_looks_like_a_formula_is_text() -> None:
    """Reading can't run it; the record holds it as it was."""
    for i, sign in enumerate("=+-@"):
        write(sheet(row(Job_no=f"J-{i}", Notes=f"{sign}HYPERLINK(1) and more")))
        run("jobs.csv", map_text=MAP)
        case = checked().library.by_id[f"OS-2024-{8 + i:03}"]  # type: ignore[union-attr]
        assert case.story == f"{sign}HYPERLINK(1) and more"


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", "is empty; export the sheet again"),
        (b"a,b\n\0", "holds zero bytes; it is no text; export the sheet as CSV"),
        (b'a,b\n"x', "a quote that opens in row 2 is not closed rightly; export it again"),
        (b",,\n1,2\n", "row 1 is empty; it must name the columns; write header: into the map"),
        (b"a\n" + b"1\n" * 20_001, "has more than 20000 rows; split it"),
        (b",".join(b"c%d" % i for i in range(300)), "has more than 256 columns; leave some out"),
        (
            b"\xff\xfea",
            "is not utf-16 (byte 0x61); write the right one as encoding: into the map, for example cp1252",
        ),
        (
            b"a\x81",
            "is not cp1252 (byte 0x81); write the right one as encoding: into the map, for example cp1252",
        ),
    ],
)
def test_a_sheet_that_can_t_be_read_is_told(data: bytes, line: str, place: Path) -> None:
    """In one line, and nothing is written."""
    Path("jobs.csv").write_bytes(data)
    before = tree(Path("cases"))
    assert told(run("jobs.csv", map_text=MAP)) == [f"jobs.csv:1:1: {line} [take/sheet]"]
    assert tree(Path("cases")) == before


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (("Gas added:", "Gas aded:"), 'map.yaml:6:3: columns: there is no column "Gas aded" in jobs.csv; did you mean "Gas added"? [take/map]'),
        (("key: Job no", "key: Job number"), 'map.yaml:1:6: key: there is no column "Job number" in jobs.csv; did you mean "Job no"? [take/map]'),
        (("minutes: Min 1", "minutes: Min 9"), 'map.yaml:12:89: search: there is no column "Min 9" in jobs.csv; did you mean "Min 1"? [take/map]'),
        (("{Job no}\"", "{Job nr}\""), 'map.yaml:14:16: texts: there is no column "Job nr" in jobs.csv; did you mean "Job no"? [take/map]'),
        (("to: charge.lost", "to: charge.lots"), 'map.yaml:6:19: columns: "charge.lots" is no field of a record that a sheet can fill; did you mean "charge.lost"? [take/map]'),
        (("Notes: story", "Notes: cause"), 'map.yaml:8:10: columns: "cause" holds several fields; write one of cause.mode, cause.component, cause.proof [take/map]'),
        (("Notes: story", "Notes: symptoms"), 'map.yaml:8:10: columns: "symptoms" is a list; put the column under lists: [take/map]'),
        (("to: symptoms", "to: title"), 'map.yaml:10:18: lists: "title" is not a list; put the column under columns: [take/map]'),
        (("to: cause.component", "to: story"), 'map.yaml:8:10: columns: "Leak found at" and "Notes" both feed story; keep one, or join them under texts: [take/map]'),
        (("unit: lb", "unit: lb, nier: true"), 'map.yaml:6:42: columns.Gas added: "nier" is not a key here; did you mean "near"? [schema/unknown-key]'),
        (("near: true}\n  Notes", "near: true, unit: lb}\n  Notes"), "map.yaml:7:58: columns.Leak found at.unit: this field is no quantity; take the unit out [take/map]"),
        (("unit: lb", "unit: kilos"), 'map.yaml:6:38: columns.Gas added.unit: "kilos" is no unit of this field; write the unit of "4 lb", "9 lb 8 oz" or "1.8 kg" [take/map]'),
        (("unit: lb", "unit: h"), 'map.yaml:6:38: columns.Gas added.unit: "h" is no unit of this field'),
        (("R410a: R-410A", "R410a: R410-A"), 'map.yaml:5:59: equipment.refrigerant: "R410-A" is not a refrigerant; did you mean "R-410A"? [reference]'),
        (('split: ";", near: true', 'split: ";", words: {low: lw}'), 'map.yaml:10:53: symptoms[0]: "lw" is not a symptom; write one of'),
        (("words: {Found: pinpointed}", "words: {Found: found}"), 'map.yaml:12:136: search[0].result: "found" is not one of the words allowed here'),
        (("branch: Osmere", "branch: Osmer"), 'map.yaml:16:11: branch: "Osmer" is not a branch of the company; did you mean "Osmere"? [reference]'),
        (("cause.mode:", "cause.moode:"), 'map.yaml:17:3: fixed: "cause.moode" is no field of a record that a sheet can fill; did you mean "cause.mode"? [take/map]'),
        (("%d/%m/%Y", "%d/%m/%Q"), 'map.yaml:4:33: columns.Date in.date: "%d/%m/%Q" does not have the form wanted here; write for example %d/%m/%Y [schema/pattern]'),
        (("{fixed: 5}", "{near: true}"), "map.yaml:13:66: search[1].minutes: needs either from: or fixed:; write from: and a column, or fixed: and a value [take/map]"),
        (("technique: Method 2", "tecnique: Method 2"), 'map.yaml:13:6: search[1]: "tecnique" is no part of a search step; did you mean "technique"? [take/map]'),
        (("columns:", "colums:"), 'map.yaml:3:1: the file: "colums" is not a key here; did you mean "columns"?'),
        (("key: Job no", "key: [Job no"), "map.yaml:"),
    ],
)  # fmt: skip
def test_a_map_that_is_wrong_is_told_by_line(change: tuple[str, str], line: str) -> None:
    """And no row is taken by it."""
    assert change[0] in MAP
    before = tree(Path("cases"))
    taken = run(write(sheet(ROW)), map_text=MAP.replace(*change, 1))
    assert any(text.startswith(line) for text in told(taken)), told(taken)
    assert taken.failed
    assert tree(Path("cases")) == before


MAP_WITH_MANY_ERRORS = """\
key: Job number
empty: "-"
columns:
  Date in: {to: reported, date: "%d/%m/%Q"}
  Refrigerent: {to: equipment.refrigerant, nier: true}
  Gas added: {to: charge.lots, unit: lb}
  Leak found at: {near: true}
  Cause: [cause.mode]
  Notes: symptoms
lists:
  Symptoms: {to: title, split: 5}
search:
  - {technique: {from: Method 9}, at: 5, minutes: Min 1, rezult: Result 1}
  - {technique: {near: true}, at: {from: Place 2, split: ""}}
texts:
  titel: "{Job nr}"
fixed: {branch: Osmer, cause.moode: flare-joint}
"""


def test_words_of_a_map_may_leave_a_field_out_or_stand_for_a_number() -> None:
    """Or for text."""
    changed = MAP.replace("minutes: Min 1", 'minutes: {from: Min 1, words: {some: "10"}}')
    changed = changed.replace('split: ";",', 'split: ";", words: {oil film: ""},').replace(
        "Notes: story", "Notes: {to: story, words: {x: long ago}}"
    )
    assert changed.count("words:") == MAP.count("words:") + 3
    run(write(sheet(row(Min_1="some"))), map_text=changed)
    library = checked().library
    assert library is not None
    case = library.by_id["OS-2024-008"]
    assert (case.search[0].minutes, case.symptoms) == (10, ("short-of-charge",))


def test_a_map_tells_all_its_errors_in_one_run() -> None:
    """What the schema refuses, paths that lead nowhere and columns that the sheet does not have, sorted by place."""
    found = told(run(write(sheet(ROW)), map_text=MAP_WITH_MANY_ERRORS))
    assert " ".join(line.partition(": ")[0].removeprefix("map.yaml:") for line in found) == (
        "1:6 2:8 4:33 5:3 5:44 6:19 7:18 8:3 8:10 9:10 11:18 11:32 13:17 13:39 13:58 14:17 14:35 14:58 16:3 16:10 17:17 17:24"
    )


@pytest.mark.parametrize(
    ("change", "more"),
    [
        (("key:", "headr: 2\nkey:"), ()),
        (("key:", 'header: "2"\nkey:'), ()),
        (("key:", "encoding: utf-16\nkey:"), ("jobs.csv:1:1: is not utf-16",)),
        (("Gas added:", "Gas aded:"), ('map.yaml:6:3: columns: there is no column "Gas aded"',)),
    ],
)
def test_columns_are_looked_for_only_where_it_is_known_how_to_read_the_sheet(
    change: tuple[str, str], more: Sequence[str]
) -> None:
    """No column is told as missing because the row with the names was looked for in the wrong place."""
    taken = run(write(sheet(ROW)), map_text=MAP.replace("branch: Osmere", "branch: Osmer").replace(*change))
    lines = [
        line for line in told(taken) if "Osmer" not in line and ": header" not in line and "headr" not in line
    ]
    assert len(lines) == len(more)
    assert all(line.startswith(begin) for line, begin in zip(lines, more, strict=True)), lines


def test_the_map_in_the_readme_is_right() -> None:
    """Whoever copies it has a map that works."""
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    text = readme.split("schema/map.schema.json\n", 1)[1].split("```", 1)[0]
    library = checked().library
    assert library is not None
    Path("map.yaml").write_text(text, encoding="utf-8")
    assert MapFile(Path("map.yaml"), Schemas(library.vocabulary)).problems == ()
    heads = (
        "Job no",
        "Date in",
        "Refrigerant",
        "Gas added",
        "Leak found at",
        "Cause",
        "Notes",
        "Symptoms",
        "Method 1",
        "Place 1",
        "Min 1",
        "Result 1",
    )
    cells = (
        "J-1",
        "03/02/2024",
        "R410a",
        "0.4",
        "indoor flare",
        "Loose nut",
        "The nut was tight.",
        "oil film",
        "bubbles",
        "indoor flare/outdoor cabinet",
        "5",
        "Found",
    )
    Path("jobs.csv").write_text("\n".join(",".join(line) for line in (heads, cells)), encoding="utf-8")
    assert told(run("jobs.csv", map_text=text))[-1] == TAKEN


def test_a_sheet_needs_a_map() -> None:
    """And is told how to get one."""
    with pytest.raises(LeakloreError, match=r"--suggest-map > map\.yaml`, then give --map map\.yaml"):
        run(write(sheet(ROW)))


def test_a_workbook_by_its_values() -> None:
    """Dates and numbers need no form; numbers that were typed as text are the same."""
    cells: list[object] = list(ROW)
    cells[0], cells[1], cells[3], cells[9] = 17, dt.datetime(2024, 2, 3), 4.0, 10
    workbook(Path("jobs.xlsx"), [HEADERS, tuple(cells)])
    taken = run("jobs.xlsx", map_text=MAP)
    assert told(taken) == [TAKEN.replace(".csv", ".xlsx")]
    assert taken.notes == ('jobs.xlsx: read the sheet "Jobs"',)
    assert Path("cases/records/2024/OS-2024-008.yaml").read_text("utf-8") == RECORD.replace("J-1", "17")


def test_a_workbook_s_other_sheet_and_header_row() -> None:
    """Named in the map."""
    workbook(Path("jobs.xlsx"), [("Our jobs",), (), HEADERS, ROW])
    how = f"sheet: Jobs\nheader: 3\n{MAP}"
    assert told(run("jobs.xlsx", map_text=how)) == [TAKEN.replace(".csv: row 2", ".xlsx: row 4")]
    assert told(run("jobs.xlsx", map_text=how.replace("sheet: Jobs", "sheet: Jibs"))) == [
        'jobs.xlsx:1:1: has no sheet "Jibs"; did you mean "Jobs"? [take/sheet]'
    ]


def test_a_formula_without_a_value_is_told() -> None:
    """openpyxl writes formulas without one; so do programs that never worked them out."""
    cells: list[object] = list(ROW)
    cells[3] = "=2+2"
    workbook(Path("jobs.xlsx"), [HEADERS, tuple(cells)])
    assert told(run("jobs.xlsx", map_text=MAP)) == [
        'jobs.xlsx: row 2, "Gas added": is a formula without a value; '
        "save the sheet with its values, or write the value [take/cell]"
    ]


def test_a_formula_s_value_and_an_error_value() -> None:
    """The value that its program left there is taken."""
    cells: list[object] = list(ROW)
    cells[3] = "=2+2"
    workbook(Path("jobs.xlsx"), [HEADERS, tuple(cells)])
    _edit(Path("jobs.xlsx"), "xl/worksheets/sheet1.xml", b"<v/>", b"<v>4</v>")
    assert told(run("jobs.xlsx", map_text=MAP)) == [TAKEN.replace(".csv", ".xlsx")]
    cells[0], cells[3] = "J-2", "#N/A"
    workbook(Path("jobs.xlsx"), [HEADERS, tuple(cells)])
    assert told(run("jobs.xlsx", map_text=MAP)) == [
        'jobs.xlsx: row 2, "Gas added": holds the error "#N/A"; save the sheet with its values, or write the value [take/cell]'
    ]


def _edit(file: Path, name: str, old: bytes, new: bytes) -> None:
    with zipfile.ZipFile(file) as archive:
        parts = {n: archive.read(n) for n in archive.namelist()}
    part = parts[name].replace(b"<v />", b"<v/>").replace(b"<v></v>", b"<v/>")  # writers of XML differ
    assert old in part, part
    parts[name] = part.replace(old, new)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for n, data in parts.items():
            archive.writestr(n, data)


def test_hostile_workbooks() -> None:
    """Bombs, entities, far cells, other zips, cut ones: one line each."""
    told_of = {}
    for name in ("bomb", "entity", "far", "other", "cut", "text"):
        workbook(Path("jobs.xlsx"), [HEADERS, ROW])
        if name == "bomb":
            with zipfile.ZipFile("jobs.xlsx", "a", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr("xl/media/big.bin", bytes(5_000_000))
        elif name == "entity":
            _edit(
                Path("jobs.xlsx"), "xl/workbook.xml", b"<workbook", b'<!DOCTYPE a [<!ENTITY b "c">]><workbook',
            )  # fmt: skip
        elif name == "far":
            _edit(Path("jobs.xlsx"), "xl/worksheets/sheet1.xml", b'r="2"', b'r="1048576"')
        elif name == "other":
            with zipfile.ZipFile("jobs.xlsx", "w") as archive:
                archive.writestr("a.txt", "x")
        elif name == "cut":
            Path("jobs.xlsx").write_bytes(Path("jobs.xlsx").read_bytes()[:-40])
        else:
            Path("jobs.xlsx").write_text("Job no,Date in\n")
        (line,) = told(run("jobs.xlsx", map_text=MAP))
        told_of[name] = line
    damaged = "jobs.xlsx:1:1: is damaged, or no workbook; save it again as .xlsx [take/sheet]"
    assert told_of == {
        "bomb": "jobs.xlsx:1:1: xl/media/big.bin in it unpacks to more than 200 times its size; save it again as .xlsx [take/sheet]",
        "entity": damaged,
        "far": told_of["far"],
        "other": damaged,
        "cut": "jobs.xlsx:1:1: is cut off or damaged; save it again as .xlsx [take/sheet]",
        "text": "jobs.xlsx:1:1: is not a workbook; save it again as .xlsx [take/sheet]",
    }
    assert told_of["far"].split(":1:1: ")[1].startswith(("has more than 20000 rows", "holds no row to take"))


def test_a_suggested_map_can_be_used_as_it_is() -> None:
    """It is a valid map, it finds the usual columns, and its first try takes the row."""
    Path("map.yaml").write_text(suggest_map(checked(), Path(write(sheet(ROW)))), encoding="utf-8")
    library = checked().library
    assert library is not None
    made = MapFile(Path("map.yaml"), Schemas(library.vocabulary))
    assert made.problems == ()
    assert made.map is not None
    assert made.map.key == "Job no"
    feeds = {feed.column: ".".join(map(str, feed.to)) for feed in made.map.feeds}
    assert feeds == {
        "Date in": "reported", "Refrigerant": "equipment.refrigerant", "Gas added": "charge.lost",
        "Leak found at": "cause.component", "Notes": "story", "Symptoms": "symptoms",
        "Method 1": "search.0.technique", "Place 1": "search.0.at", "Min 1": "search.0.minutes", "Result 1": "search.0.result",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("units", "column", "fed"),
    [
        ("us", "Gas added (kg)", "{to: charge.lost, unit: kg}"),
        ("us", "Gas added (KG)", "{to: charge.lost, unit: kg}"),
        ("si", "Gas added Lbs", "{to: charge.lost, unit: lbs}"),
        ("us", "Gas added", "{to: charge.lost, unit: lb}"),
        ("si", "Gas added", "{to: charge.lost, unit: kg}"),
        ("us", "Labour Hours", "{to: fix.labour, unit: hours}"),
        ("us", "Labour", "{to: fix.labour, unit: h}"),
        ("si", "Outside temperature °F", "{to: environment.ambient, unit: °F}"),
        ("si", "Outside temperature", "{to: environment.ambient, unit: degC}"),
        ("us", "Parts cost", "{to: fix.parts, unit: USD}"),
    ],
)
def test_a_unit_is_that_of_the_column_s_name_else_the_company_s(units: str, column: str, fed: str) -> None:
    company = Path("cases/company.yaml")
    company.write_text(company.read_text("utf-8").replace("units: us", f"units: {units}"), "utf-8")
    map_text = suggest_map(checked(), Path(write(f"{column};Notes\n4;It leaked.\n")))
    assert f'  "{column}": {fed}  #' in map_text, map_text


def test_a_suggested_map_names_what_a_record_needs_and_no_column_gives() -> None:
    """All of it filled in, the first row is right."""
    text = suggest_map(checked(), Path(write("Job no;Refrigerant;Notes\nJ-1;R-32;It leaked at the flare.\n")))
    lacking = re.findall(r"^  # (\S+): .*  # needed", text, re.MULTILINE)
    assert lacking == [
        *("reported", "cause.mode", "cause.component", "equipment.setting", "equipment.kind", "search")
    ]
    filled = re.sub(r"^  # (?=\S+: )", "  ", text, flags=re.MULTILINE)
    taken = run(Path("jobs.csv"), map_text=filled)
    assert told(taken)[-1].startswith("jobs.csv: row 2: taken as "), told(taken)
    mapped = suggest_map(checked(), Path(write("Job no;System\nJ-1;S-0412\n")))
    assert "equipment." not in mapped


@pytest.mark.parametrize(
    ("units", "days", "form"),
    [
        ("us", ("03/04/2024",), "%m/%d/%Y"),
        ("si", ("03/04/2024",), "%d/%m/%Y"),
        ("us", ("03/04/2024", "25/04/2024"), "%d/%m/%Y"),  # there is no month 25
        ("si", ("03/04/2024", "04/25/2024"), "%m/%d/%Y"),
        ("us", ("03-04-2024",), "%m-%d-%Y"),
        ("si", ("03-04-2024",), "%d-%m-%Y"),
        ("us", ("03/04/24",), "%m/%d/%y"),
        ("si", ("03.04.2024",), "%d.%m.%Y"),
        ("si", ("2024-04-03",), "%Y-%m-%d"),
        ("us", ("3 Apr 2024", "25/04/2024"), "%d/%m/%Y | %d %b %Y"),
        ("us", ("25/04/2024", "26/04/2024", "3.4.24", "2024-04-05"), "%d/%m/%Y"),
        ("us", ("25/04/2024", "26.04.2024", "27.04.2024", "04/28/2024"), "%d.%m.%Y | %d/%m/%Y"),
        ("us", ("soon", "later", "25/04/2024"), None),
    ],
)
def test_day_or_month_first_is_told_by_the_days_else_by_the_company_s_units(
    units: str, days: tuple[str, ...], form: str | None
) -> None:
    company = Path("cases/company.yaml")
    company.write_text(company.read_text("utf-8").replace("units: us", f"units: {units}"), "utf-8")
    name = write(sheet(*(row(Date_in=day) for day in days)))
    map_text = suggest_map(checked(), Path(name))
    said = f'"Date in": {{to: reported, date: "{form}"}}' if form else '"Date in": reported'
    assert f"  {said}  #" in map_text, map_text


@pytest.mark.parametrize(
    "before", [["Jobs of 2019"], [""], ["Osmere, jobs of 2019", "", "Date: today"], ["J-0", "J-1"]]
)
def test_a_suggested_map_finds_the_row_with_the_names(before: list[str]) -> None:
    """Below a title and blank rows, in both kinds of sheets; and its first try takes the row."""
    workbook(Path("jobs.xlsx"), [*((text or None,) for text in before), HEADERS, ROW])
    write("".join(f"{text}{',' * (len(HEADERS) - 1)}\r\n" for text in before) + sheet(ROW))
    for name in ("jobs.xlsx", "jobs.csv"):
        text = suggest_map(checked(), Path(name))
        assert f"\nheader: {len(before) + 1}\n" in text
        assert '"Date in": {to: reported' in text


@pytest.mark.parametrize("name", ["jobs.xlsx", "jobs.csv"])
def test_a_sheet_is_read_once_to_find_its_names(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """However far below the title they stand."""
    lines = [("Jobs of 2019", *[""] * (len(HEADERS) - 1)), *[("",) * len(HEADERS)] * 7, HEADERS, ROW]
    workbook(Path("jobs.xlsx"), [tuple(cell or None for cell in line) for line in lines])
    Path("jobs.csv").write_text("\r\n".join(",".join(f'"{c}"' for c in line) for line in lines), "utf-8")
    whole: list[int] = []
    read = table.read
    monkeypatch.setattr(table, "read", lambda file, how: whole.append(how.header) or read(file, how))

    assert "\nheader: 9\n" in suggest_map(checked(), Path(name))
    assert whole == [9]


def test_a_suggested_map_takes_the_row_below_a_merged_one() -> None:
    """Of two rows that look alike the one that names more columns."""
    rows = [
        ("Leaks",),
        ("Job", None, "Gas", None),
        ("No", "Date in", "Type", "Cause"),
        ("7", None, "R-32", "flare"),
    ]
    text = suggest_map(checked(), workbook(Path("jobs.xlsx"), rows))
    assert "\nheader: 3\n" in text
    assert '"Date in": reported' in text


def test_a_suggested_map_finds_the_sheet_with_the_jobs() -> None:
    """Behind a cover; where each year has its own the first of them, and the others are named."""
    book = Workbook()
    book.active.title = "Cover"
    book.active.append(["Ours since 2019", "Notes"])
    for year in ("2023", "20\u00e4 \u202e24"):
        page = book.create_sheet(year)
        page.append(["Leaks"])
        page.append(list(HEADERS))
        page.append(list(ROW))
    book.save("jobs.xlsx")
    text = suggest_map(checked(), Path("jobs.xlsx"))
    assert '\nsheet: "2023"  # there are others: "Cover", "20ä' in text
    assert "\nheader: 2\n" in text
    book.remove(book["2023"])
    book.save("jobs.xlsx")
    Path("map.yaml").write_text(suggest_map(checked(), Path("jobs.xlsx")), encoding="utf-8")
    library = checked().library
    assert library is not None
    made = MapFile(Path("map.yaml"), Schemas(library.vocabulary)).map
    assert made is not None
    assert made.reading.sheet == "20\u00e4 \u202e24"


SPANISH = (
    "Nº de parte;Fecha;Tipo de equipo;Refrigerante;Carga añadida (kg);Años desde la última carga;Síntomas;Método;"
    "Resultado;Minutos;Ubicación de la fuga;Causa;Reparación;Observaciones;Sucursal\r\n"
    "P-1;25/02/2024;mini split;R-410A;0,9;2;ice on coil;bubble test;clean;15;indoor flare;flare joint;-;La tuerca;Osmere\r\n"
)


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8-sig"])
def test_a_suggested_map_knows_spanish_names(encoding: str) -> None:
    Path("jobs.csv").write_bytes(SPANISH.encode(encoding))
    text = suggest_map(checked(), Path("jobs.csv"))
    Path("map.yaml").write_text(text, encoding="utf-8")
    library = checked().library
    assert library is not None
    made = MapFile(Path("map.yaml"), Schemas(library.vocabulary)).map
    assert made is not None
    assert (made.key, made.decimal, made.empty) == ("Nº de parte", ",", frozenset({"-"}))
    feeds = {
        feed.column: (".".join(map(str, feed.to)), feed.unit or "".join(feed.dates)) for feed in made.feeds
    }
    assert feeds == {
        "Fecha": ("reported", "%d/%m/%Y"), "Tipo de equipo": ("equipment.kind", ""),
        "Refrigerante": ("equipment.refrigerant", ""), "Carga añadida (kg)": ("charge.lost", "kg"),
        "Años desde la última carga": ("charge.over", "years"), "Síntomas": ("symptoms", ""),
        "Método": ("search.0.technique", ""), "Resultado": ("search.0.result", ""),
        "Minutos": ("search.0.minutes", ""), "Ubicación de la fuga": ("cause.component", ""),
        "Causa": ("cause.mode", ""), "Reparación": ("fix.action", ""), "Observaciones": ("story", ""),
        "Sucursal": ("branch", ""),
    }  # fmt: skip


def test_days_of_a_workbook_say_nothing_of_how_days_are_written() -> None:
    rows = [
        ("Date in", "Notes"),
        *[(dt.date(2024, 3, n), "It leaked.") for n in (1, 2, 3)],
        ("25/03/2024", "Too."),
    ]
    assert 'date: "%d/%m/%Y"' in suggest_map(checked(), workbook(Path("jobs.xlsx"), rows))


def test_columns_of_one_name_are_told_apart() -> None:
    """As a sheet with "Date" twice is common, and nobody can rename the columns of an old one."""
    lines = [
        f"{line},{more}"
        for line, more in zip(sheet(ROW).splitlines(), ("Date in,Notes", "09/02/2024,told"), strict=True)
    ]
    Path("jobs.csv").write_text("\r\n".join(lines), encoding="utf-8")
    more = MAP.replace("columns:\n", 'columns:\n  Date in (2): {to: closed, date: "%d/%m/%Y"}\n')

    taken = run("jobs.csv", map_text=more)

    assert not taken.failed, told(taken)
    assert "of columns with the same name the later ones are called Date in (2), Notes (2)" in taken.notes[0]
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert (case.reported, case.closed) == (dt.date(2024, 2, 3), dt.date(2024, 2, 9))


def test_what_technicians_say_is_read_and_told() -> None:
    """Beyond the names of the guide: the phrases that the search knows, in the company's language, too."""
    phrases = row(Method_1="soap bubbles", Symptoms="lost its gas; oil film")
    write(sheet(phrases))
    taken = run("jobs.csv", map_text=MAP)
    assert not taken.failed, told(taken)
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert (case.symptoms[0], case.search[0].technique) == ("sudden-loss", "bubble-test")
    assert (
        'jobs.csv: row 2, "Symptoms": warning: "lost its gas" is read as sudden-loss; write it under words: if that is wrong [take/near]'
        in told(taken)
    )


def test_what_technicians_say_counts_before_a_likeness_of_letters() -> None:
    """`lost charge` looks like `low charge` and means that it went at once."""
    taken = run(write(sheet(row(Symptoms="lost charge; frozen up"))), map_text=MAP)
    assert not taken.failed, told(taken)
    case = checked().library.by_id["OS-2024-008"]  # type: ignore[union-attr]
    assert case.symptoms == ("sudden-loss", "ice-on-coil")


def test_what_may_be_several_is_asked_for_as_in_the_search() -> None:
    """Although the phrase is also another name of one of them."""
    of_kind = MAP.replace("  equipment.kind: ductless-split\n", "").replace(
        "  Notes: story\n", "  Notes: story\n  Method 2: {to: equipment.kind, near: true}\n"
    )
    of_kind = "".join(line for line in of_kind.splitlines(keepends=True) if "technique: Method 2" not in line)
    name = write(sheet(row(Method_2="Heat pump", Leak_found_at="evaporator")))
    assert told(run(name, map_text=of_kind)) == [
        'jobs.csv: row 2, "Leak found at": "evaporator" is not a component or place; '
        "add it to words:, as indoor-coil or case-coil or cold-room-coil [take/cell]",
        'jobs.csv: row 2, "Method 2": "Heat pump" is not a kind of equipment; '
        "add it to words:, as heat-pump or ductless-split or ducted-split or packaged-rooftop [take/cell]",
    ]
    by_key = run(write(sheet(row(Leak_found_at="indoor-coil"))), map_text=MAP, dry=True)
    assert not any("is not a component" in line for line in told(by_key)), told(by_key)


def test_what_is_said_in_spanish_is_read_where_the_pages_are_spanish(monkeypatch: pytest.MonkeyPatch) -> None:
    import leaklore.records.check as checking

    monkeypatch.setattr(checking, "read_guide", read_guide)
    company = Path("cases/company.yaml")
    write(sheet(row(Method_1="burbujas", Symptoms="falta de gas")))
    assert run("jobs.csv", map_text=MAP, dry=True).failed
    company.write_text(company.read_text("utf-8") + "language: es\n", "utf-8")
    taken = run("jobs.csv", map_text=MAP)
    assert not taken.failed, told(taken)


def test_days_written_in_several_ways_are_read() -> None:
    """As hands wrote them over the years; YYYY-MM-DD needs no form."""
    days = ["03/02/2024", "4.2.2024", "05/02/24", "2024-02-06", "2024/02/07", "31/31/2024"]
    write(sheet(*(row(Job_no=f"J-{n}", Date_in=day) for n, day in enumerate(days))))
    taken = run("jobs.csv", map_text=MAP.replace("%d/%m/%Y", "%d/%m/%Y | %d.%m.%Y | %d/%m/%y"))
    read = [case.reported.isoformat() for case in checked().library.cases if case.id > "OS-2024-007"]  # type: ignore[union-attr]
    assert sorted(read) == ["2024-02-03", "2024-02-04", "2024-02-05", "2024-02-06"]
    assert told(taken)[0] == (
        'jobs.csv: row 6, "Date in": "2024/02/07" is not a day written as %d/%m/%Y or %d.%m.%Y or %d/%m/%y; '
        "write for example 03/02/2025 or 03.02.2025 or 03/02/25 [take/cell]"
    )
    assert len([o for o in taken.outcomes if o.status == "refused"]) == 2


def test_a_day_without_its_form_says_where_to_put_it() -> None:
    write(sheet(ROW))
    line = 'jobs.csv: row 2, "Date in": "03/02/2024" is not a day; say in the map how days are written, for example date: "%d/%m/%Y" [take/cell]'
    assert line in told(run("jobs.csv", map_text=MAP.replace('{to: reported, date: "%d/%m/%Y"}', "reported")))


def test_a_name_with_a_number_of_its_own_stays() -> None:
    Path("a.csv").write_text("a,a (2),a,a\n1,2,3,4\n", encoding="utf-8")
    found = table.read(Path("a.csv"), table.Reading())
    assert isinstance(found, table.Table)
    assert found.headers == ("a", "a (2)", "a (3)", "a (4)")
    assert "later ones are called a (3), a (4)" in found.note


@pytest.mark.parametrize(
    ("days", "form", "asked"),
    [
        (["03/02/2024", "04/02/2024"], "%m/%d/%Y", True),
        (["03/02/2024", "13/02/2024"], "%d/%m/%Y", False),
        (["03/02/2024", "04/02/2024", "13/05/2024", "2024-06-07"], "%d/%m/%Y", False),
        (["03/02/2024", "02/13/2024"], "%m/%d/%Y", False),
        (["03.02.2024"], "%d.%m.%Y", True),
        (["2024-02-03"], "%Y-%m-%d", False),
        (["soon", "2024-02-03"], None, False),
    ],
)
def test_a_suggested_map_says_which_of_day_and_month_is_first(
    days: list[str], form: str | None, asked: bool
) -> None:
    """Where no row tells the company's units decide, and the map asks."""
    rows = [row(Job_no=f"J-{n}", Date_in=day) for n, day in enumerate(days)]
    text = suggest_map(checked(), Path(write(sheet(*rows))))
    line = next(line for line in text.splitlines() if '"Date in"' in line)
    assert (f'date: "{form}"' in line) if form else ("date:" not in line)
    assert ("is the day or the month first?" in line) == asked


def test_a_suggested_map_learns_of_the_day_from_another_column() -> None:
    """As a sheet has one form for all its days."""
    text = "Date in,Date out\n03/02/2024,13/02/2024\n04/02/2024,05/02/2024\n"
    Path("jobs.csv").write_text(text, encoding="utf-8")
    made = suggest_map(checked(), Path("jobs.csv"))
    assert made.count('date: "%d/%m/%Y"') == 2


@pytest.mark.parametrize(
    ("amounts", "comma"),
    [(["4,5", "1.004,5 g"], True), (["4.5"], False), (["4,5", "4.5"], False), (["1,200"], False)],
)
def test_a_suggested_map_finds_a_decimal_comma(amounts: list[str], comma: bool) -> None:
    """Unless a point stands there, too, or three digits follow."""
    rows = [row(Job_no=f"J-{n}", Gas_added=amount) for n, amount in enumerate(amounts)]
    made = suggest_map(checked(), Path(write(sheet(*rows, delimiter=";"))))
    assert ('decimal: ","' in made) == comma


@pytest.mark.parametrize(
    "header",
    [
        "=cmd",
        "a: b",
        "{x}",
        '"',
        "# no",
        "\u202e",
        "ß" * 300,
        "- a",
        "null",
        "1",
        "[[x]]",
        "'",
        "%",
        "&a",
        "*a",
        "@x",
    ],
)
def test_any_header_gives_a_map_that_can_be_read(header: str) -> None:
    """Quoted as it must be."""
    Path("jobs.csv").write_text('"' + header.replace('"', '""') + '",Notes\nx,y\n', encoding="utf-8")
    Path("map.yaml").write_text(suggest_map(checked(), Path("jobs.csv")), encoding="utf-8")
    library = checked().library
    assert library is not None
    assert MapFile(Path("map.yaml"), Schemas(library.vocabulary)).problems == ()


def test_the_command() -> None:
    """Table, JSON, exit status."""
    write(sheet(ROW, row(Job_no="J-2", Gas_added="four")))
    Path("map.yaml").write_text(MAP, encoding="utf-8")
    args = ["take", "jobs.csv", "--map", "map.yaml"]
    dry = CliRunner().invoke(main, [*args, "--dry-run"])
    assert dry.exit_code == 1
    assert "2024/OS-2024-008.yaml" in dry.stdout
    assert '"Gas added": "four" is not a number with a unit; write for example 4 lb' in dry.stdout
    assert "1 would be taken, 1 refused: jobs.csv: row 3" in dry.stderr
    asked = CliRunner().invoke(main, [*args, "--json"])
    data = json.loads(asked.stdout)
    assert (data["version"], data["taken"], data["refused"], data["dry_run"]) == (1, 1, 1, False)
    assert data["results"][0]["path"] == "cases/records/2024/OS-2024-008.yaml"
    assert data["results"][1]["problems"][0]["text"].startswith('jobs.csv: row 3, "Gas added": "four"')
    write(sheet(ROW))
    assert CliRunner().invoke(main, args).exit_code == 0
    assert "columns:" in CliRunner().invoke(main, ["take", "jobs.csv", "--suggest-map"]).stdout
    assert "Example:" in CliRunner().invoke(main, ["take", "--help"]).stdout
    odd = CliRunner().invoke(main, ["take", "jobs.pdf"])
    assert odd.exit_code == 1
    assert "jobs.pdf:1:1: is no .zip, .yaml, .csv or .xlsx" in odd.stdout


def test_what_table_reads() -> None:
    """Rows that are empty are left out and still counted."""
    Path("a.csv").write_text("a,b\n\n1,2\n,\n3\n", encoding="utf-8")
    found = table.read(Path("a.csv"), table.Reading())
    assert not isinstance(found, Fault)
    assert [(r.number, {n: c.text for n, c in r.cells.items()}) for r in found.rows] == [
        (3, {"a": "1", "b": "2"}),
        (5, {"a": "3"}),
    ]
