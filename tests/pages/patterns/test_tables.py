"""Tables: what CSV and workbook give back, read by Python's csv, by openpyxl and by pandas, and what the page shows."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from typing import Any

import html5lib
import openpyxl
import pandas as pd
import pytest

from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.patterns.tables import Column, Table, Value, csv_file, keys, workbook
from leaklore.pages.render import Templates, hrefs

FORMULA = '=HYPERLINK("https://elsewhere.example/","press")'
COLUMNS = (
    Column("mode", "Failure", "mode"),
    Column("note", "Note", "text"),
    Column("leaks", "Leaks", "whole"),
    Column("rate", "Leaks in 100 system-years", "number"),
    Column("share", "Share", "percent"),
    Column("cost", "Cost", "money"),
    Column("last", "Last", "date"),
    Column("case", "One case", "case"),
    Column("cases", "Cases", "case"),
)
ROWS: tuple[tuple[Value, ...], ...] = (
    (
        "flare-joint",
        FORMULA,
        12_345,
        3.141592653589793,
        0.375,
        1234.5,
        dt.date(2026, 2, 3),
        "KW-2025-014",
        ("KW-2025-014", "OS-2024-003"),
    ),
    ("shaft-seal", 'two "words", a comma\nand a line', 0, -0.5, 0.0, 0.0, None, None, ()),
    ("valve-core", "+1 -2 @x ünï \u202f", None, None, None, None, dt.date(2021, 1, 1), "OS-2024-003", None),
    ("impact", "#N/A", 7, 1e-9, 1.0, 1e9, None, None, tuple(f"KW-2025-{n:03}" for n in range(8))),
)
TABLE = Table("rates-modes", "Rates: [by] failure, all that we have on record", COLUMNS, ROWS, "A note.")


def _workbook(*tables: Table, address: str = "") -> Any:
    return openpyxl.load_workbook(io.BytesIO(workbook(tables, address).content))


def test_csv_gives_the_values_back() -> None:
    made = csv_file(TABLE)
    assert made.path == "data/patterns/rates-modes.csv"
    assert made.content.count(b"\r\n") == len(ROWS) + 1
    head, *rows = csv.reader(io.StringIO(made.content.decode("utf-8"), newline=""))
    assert head == [c.key for c in COLUMNS]
    for row, read in zip(ROWS, rows, strict=True):
        for column, value, text in zip(COLUMNS, row, read, strict=True):
            if value is None:
                assert text == ""
            elif isinstance(value, float):
                assert float(text) == pytest.approx(value, rel=1e-11)
            elif isinstance(value, dt.date):
                assert dt.date.fromisoformat(text) == value
            elif column.kind == "text":
                assert text.removeprefix("'") == value
            else:
                assert text == (" ".join(value) if isinstance(value, tuple) else str(value))


def test_the_workbook_calls_failures_by_their_names() -> None:
    """It goes to a meeting; whoever takes the data by a program takes the CSV, which has the keys."""
    both = Table(
        "both", "Both", (Column("mode", "Failure", "mode"),), ((("valve-core", "impact"),), ("impact",))
    )
    names = {"valve-core": "Valve core leak", "flare-joint": "Flare joint leak"}
    made = workbook((TABLE, both), "https://leaks.example/", names)
    book = openpyxl.load_workbook(io.BytesIO(made.content))
    first, second = book.worksheets[1:]
    assert [first.cell(row, 1).value for row in (2, 3, 4)] == [
        "Flare joint leak",
        "shaft-seal",
        "Valve core leak",
    ]
    assert first.cell(2, 1).hyperlink.target.endswith("flare-joint/")
    assert [second.cell(row, 1).value for row in (2, 3)] == ["Valve core leak, impact", "impact"]
    assert made.content != workbook((TABLE, both), "https://leaks.example/").content


def test_a_formula_stays_text_in_csv() -> None:
    text = csv_file(TABLE).content.decode()
    assert "'=HYPERLINK" in text
    assert "'+1 -2" in text
    assert not any(
        cell[:1] in ("=", "+", "@") for row in csv.reader(io.StringIO(text, newline="")) for cell in row
    )


def test_the_workbook_gives_the_values_back() -> None:
    sheet = _workbook(TABLE).worksheets[1]
    assert [c.value for c in sheet[1]] == [c.title for c in COLUMNS]
    for row, cells in zip(ROWS, sheet.iter_rows(min_row=2), strict=True):
        for column, value, cell in zip(COLUMNS, row, cells, strict=True):
            if value is None or value == ():
                assert cell.value is None
            elif isinstance(value, dt.date):
                assert cell.value == dt.datetime.combine(value, dt.time())
                assert cell.is_date
            elif column.linked:
                assert cell.value == " ".join(keys(value))
            else:
                assert cell.value == value
    assert sheet.freeze_panes == "A2"
    assert sheet["E2"].number_format == "0.0%"
    assert sheet["G2"].number_format == "yyyy-mm-dd"


def test_a_formula_stays_text_in_the_workbook() -> None:
    book = _workbook(TABLE)
    for sheet in book.worksheets:
        assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert book.worksheets[1]["B2"].value == FORMULA
    assert book.worksheets[1]["B5"].data_type == "s", "#N/A is a word here, not an error"
    with zipfile.ZipFile(io.BytesIO(workbook([TABLE]).content)) as parts:
        assert not any(b"<f>" in parts.read(name) for name in parts.namelist())


def test_pandas_reads_the_same_from_both() -> None:
    """An independent reader: pandas."""
    made = workbook([TABLE])
    options: dict[str, Any] = {"keep_default_na": False, "na_values": {c.key: [""] for c in COLUMNS}}
    comma = pd.read_csv(io.BytesIO(csv_file(TABLE).content), parse_dates=["last"], **options)
    sheet = pd.read_excel(io.BytesIO(made.content), sheet_name=1, keep_default_na=False, na_values=[""])
    sheet.columns = comma.columns
    for key in ("leaks", "rate", "share", "cost"):
        at = [c.key for c in COLUMNS].index(key)
        truth = pd.Series([row[at] for row in ROWS], dtype=float)
        pd.testing.assert_series_equal(comma[key].astype(float), truth, check_names=False, rtol=1e-11)
        pd.testing.assert_series_equal(sheet[key].astype(float), truth, check_names=False, rtol=1e-11)
    assert (
        list(sheet["last"].dropna())
        == list(comma["last"].dropna())
        == [pd.Timestamp("2026-02-03"), pd.Timestamp("2021-01-01")]
    )
    assert list(sheet["mode"]) == list(comma["mode"]) == [row[0] for row in ROWS]
    assert list(sheet["note"]) == [row[1] for row in ROWS]


def test_sheets_and_lists_have_names_of_their_own() -> None:
    twin = Table("rates-modes-2", TABLE.title.upper(), COLUMNS, ROWS)
    empty = Table("rates-none", "Nothing", COLUMNS, ())
    named = Table("rates-contents", "Contents", COLUMNS, ROWS)
    book = _workbook(TABLE, twin, empty, named)
    names = [sheet.title for sheet in book.worksheets]
    assert names[0] == "Contents"
    assert len({name.lower() for name in names}) == 5
    assert all(len(name) <= 31 and not set(name) & set("[]:*?/\\'") for name in names)
    listed = [name for sheet in book.worksheets for name in sheet.tables]
    assert listed == ["t_rates_modes", "t_rates_modes_2", "t_rates_contents"], (
        "an empty one would be called damaged"
    )
    contents = book["Contents"]
    assert [row[1] for row in contents.iter_rows(min_row=2, values_only=True)] == [
        TABLE.title,
        twin.title,
        "Nothing",
        "Contents",
    ]
    for row, name in zip(contents.iter_rows(min_row=2), names[1:], strict=True):
        assert row[0].hyperlink.location == f"'{name}'!A1" or row[0].hyperlink.target == f"#'{name}'!A1"


def test_links_only_where_the_address_is_known() -> None:
    assert all(cell.hyperlink is None for row in _workbook(TABLE).worksheets[1].iter_rows() for cell in row)
    sheet = _workbook(TABLE, address="https://leaks.example/").worksheets[1]
    targets = {
        cell.coordinate: cell.hyperlink.target for row in sheet.iter_rows() for cell in row if cell.hyperlink
    }
    assert targets["H2"] == "https://leaks.example/" + links.address("case", "KW-2025-014")
    assert targets["A2"] == "https://leaks.example/guide/failure-modes/flare-joint/"
    assert "I2" not in targets, "two cases can't be one link"


def test_the_same_tables_give_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    first = workbook([TABLE]).content
    monkeypatch.setattr("time.time", lambda: 4e9)
    monkeypatch.setattr("time.localtime", lambda *_: dt.datetime(2096, 1, 1).timetuple())
    later = workbook([TABLE]).content
    assert later == first
    with zipfile.ZipFile(io.BytesIO(first)) as parts:
        assert {part.date_time[0] for part in parts.infolist()} == {1980}
        core = parts.read("docProps/core.xml")
        assert core.count(b"1980-01-01T00:00:00Z") == 2


def test_more_cases_than_a_cell_can_hold_are_counted() -> None:
    many = tuple(f"KW-2025-{n:05}" for n in range(9000))
    table = Table("rates-many", "Many", (Column("cases", "Cases", "case"),), ((many,),))
    text = _workbook(table).worksheets[1]["A2"].value
    assert len(text) <= 32_767
    shown = [word for word in text.split() if word.startswith("KW-")]
    assert tuple(shown) == many[: len(shown)]
    assert text.endswith(f" and {9000 - len(shown)} more, see the CSV")
    (_, row) = csv.reader(io.StringIO(csv_file(table).content.decode()), strict=True)
    assert tuple(row[0].split()) == many


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("whole", 1.5),
        ("whole", True),
        ("number", float("nan")),
        ("percent", float("inf")),
        ("date", "2025-01-01"),
        ("text", 3),
        ("case", ["KW-2025-014"]),
    ],
)
def test_a_value_of_another_kind_is_refused(kind: Any, value: Any) -> None:
    with pytest.raises(ValueError, match="table rates-x, row 0: a can't be"):
        Table("rates-x", "X", (Column("a", "A", kind),), ((value,),))


def test_a_row_of_another_length_and_twin_columns_are_refused() -> None:
    with pytest.raises(ValueError, match="2 values, not 1"):
        Table("rates-x", "X", (Column("a", "A", "text"),), (("b", "c"),))
    with pytest.raises(ValueError, match="two columns have the same title"):
        Table("rates-x", "X", (Column("a", "A", "text"), Column("b", "a", "text")), ())
    with pytest.raises(ValueError, match="small letters"):
        Table("Rates x", "X", (), ())


def test_the_page_shows_the_table_with_scopes_and_links(demo_book: Book) -> None:
    cases = [c.id for c in demo_book.library.active]
    mode = demo_book.library.active[0].cause.mode
    system = next(iter(demo_book.library.systems))
    columns = (*COLUMNS[:-2], Column("system", "System", "system"), COLUMNS[-1])
    rows: tuple[tuple[Value, ...], ...] = (
        (mode, "<b>&", 12_345, 3.14159, 0.375, 1234.5, dt.date(2026, 2, 3), system, tuple(cases[:2])),
        (mode, "", None, None, None, None, None, None, tuple(cases[:9])),
    )
    table = Table("rates-modes", "By <failure>", columns, rows, "A note.")
    source = '{% import "patterns_macros.html" as p with context %}{{ p.table(table) }}'
    html = (
        Templates(demo_book).env.from_string(source).render(root="../../", href=hrefs("../../"), table=table)
    )
    tree = html5lib.parseFragment(html, namespaceHTMLElements=False)
    assert ["".join(c.itertext()) for c in tree.iter("caption")] == ["By <failure>"]
    assert [th.get("scope") for th in tree.iter("th")] == ["col"] * 9 + ["row"] * 2
    assert len({node.get("id") for node in tree.iter() if node.get("id")}) == 2
    cells = [" ".join("".join(td.itertext()).split()) for td in tree.iter("td")]
    assert cells[:6] == ["<b>&", "12 345", "3.14", "38 %", "1 234 USD", "3 February 2026"]
    to = [a.get("href") for a in tree.iter("a")]
    assert to[:4] == [
        f"../../{links.address('mode', mode)}",
        f"../../{links.address('system', system)}",
        *(f"../../cases/{c}/" for c in cases[:2]),
    ]
    assert [f"../../cases/{c}/" for c in cases[:9]] == to[5:14]
    assert ["".join(s.itertext()) for s in tree.iter("summary")] == ["9 cases"]
    assert to[-1] == "../../data/patterns/rates-modes.csv"


@pytest.mark.parametrize(("lines", "named"), [(2, 36), (25, 20)])
def test_a_short_table_names_every_case_that_it_counts(demo_book: Book, lines: int, named: int) -> None:
    """A long one names the newest and says how many there are."""
    cases = tuple(c.id for c in demo_book.library.active[:36])
    table = Table("rates-x", "X", (Column("cases", "Cases", "case"),), ((cases,),) * lines)
    source = '{% import "patterns_macros.html" as p with context %}{{ p.table(table) }}'
    made = (
        Templates(demo_book).env.from_string(source).render(root="../../", href=hrefs("../../"), table=table)
    )
    first = next(html5lib.parseFragment(made, namespaceHTMLElements=False).iter("tbody")).find("tr")
    told = {a.get("href") for a in first.iter("a")}
    assert told == {f"../../cases/{c}/" for c in cases[-named:]}
    said = "".join(first.itertext())
    assert "36 cases" in said
    assert ("20 of 36, all in the file" in said) is (named < 36)
