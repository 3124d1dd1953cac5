"""Tables behind the charts: on the page, as CSV, and as sheets of one Excel workbook, all from the same rows."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import json
import math
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from leaklore.language import gettext, later
from leaklore.pages import links
from leaklore.pages.data_form import cell as plain
from leaklore.pages.patterns.kept import once
from leaklore.pages.spec import DataFile

if TYPE_CHECKING:
    from openpyxl.cell import Cell
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

Kind = Literal["text", "whole", "number", "percent", "money", "date", "case", "system", "mode"]
Value = str | int | float | dt.date | tuple[str, ...] | None
FOLDER = "data/patterns"
LINKED = ("case", "system", "mode")
"""Kinds whose values are keys of pages."""
_TYPES: dict[str, tuple[type, ...]] = {
    "text": (str,),
    "whole": (int,),
    "number": (int, float),
    "percent": (int, float),
    "money": (int, float),
    "date": (dt.date,),
    "case": (str, tuple),
    "system": (str, tuple),
    "mode": (str, tuple),
}


@dataclass(frozen=True, slots=True)
class Column:
    """A column. A "percent" is a share of 1, "money" in the company's currency, "case" and the like are keys."""

    key: str
    title: str
    kind: Kind

    @property
    def numeric(self) -> bool:
        """Set to the right?"""
        return self.kind in ("whole", "number", "percent", "money")

    @property
    def linked(self) -> bool:
        """Are its values keys of pages?"""
        return self.kind in LINKED


@dataclass(frozen=True, slots=True)
class Table:
    """A table of raw values; None is an empty cell. `key` is unique in the site and begins with its topic's key.

    Raises ValueError for a row of another length, a value of another kind, or a number that is none.
    """

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    note: str = ""

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", self.key):
            raise ValueError(f'table key "{self.key}": small letters, digits and single hyphens only')
        for said in ("key", "title"):
            names = [str(getattr(c, said)).lower() for c in self.columns]
            if len(set(names)) < len(names):
                raise ValueError(f"table {self.key}: two columns have the same {said}")
        for number, row in enumerate(self.rows):
            if len(row) != len(self.columns):
                raise ValueError(
                    f"table {self.key}, row {number}: {len(row)} values, not {len(self.columns)}"
                )
            for column, value in zip(self.columns, row, strict=True):
                good = value is None or (isinstance(value, _TYPES[column.kind]) and type(value) is not bool)
                if not good or (isinstance(value, float) and not math.isfinite(value)):
                    raise ValueError(f"table {self.key}, row {number}: {column.key} can't be {value!r}")

    @property
    def csv(self) -> str:
        """Address of its CSV, relative to the site's root."""
        return f"{FOLDER}/{self.key}.csv"


LONGEST = 100
"""Rows of a table on a page, unless its topic says otherwise; its file has all."""


def cut(
    table: Table, which: str, rows: Sequence[tuple[Value, ...]] | None = None, most: int = LONGEST
) -> Table:
    """The table for a page: at most so many rows, the first of `rows` (all that it has, in the order of what matters).

    The note says how many there are, `which` what the first ones are: `The dearest 100 of 692. The file has all.`
    """
    if len(table.rows) <= most:
        return table
    note = (
        gettext("The {which} {most} of {rows}. The file has all. {note}")
        .format(which=which, most=most, rows=len(table.rows), note=table.note)
        .strip()
    )
    return replace(table, rows=tuple((rows or table.rows)[:most]), note=note)


def keys(value: Value) -> tuple[str, ...]:
    """The keys of a cell of a linked kind."""
    if isinstance(value, tuple):
        return value
    return (str(value),) if value is not None else ()


def csv_file(table: Table) -> DataFile:
    """The table as CSV: keys of its columns first, CRLF, UTF-8 (RFC 4180); a share is of 1, keys stand apart by spaces."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.key for column in table.columns])
    for row in table.rows:
        writer.writerow([_written(value) for value in row])
    return DataFile(table.csv, out.getvalue().encode())


def _written(value: Value) -> Any:
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, dt.date):
        return value.isoformat()
    return plain(list(value) if isinstance(value, tuple) else value)


WRITTEN = later(
    {
        "text": "text",
        "whole": "a whole number",
        "number": "a number",
        "percent": "a share from 0 to 1",
        "money": "money in {currency}",
        "date": "a day, YYYY-MM-DD",
        "case": "case numbers, apart by spaces",
        "system": "system numbers, apart by spaces",
        "mode": "keys of failure modes, apart by spaces",
    }
)
"""How the values of a column are written in a CSV, by its kind."""


def columns_file(tables: Sequence[Table], currency: str) -> DataFile:
    """Every column of every table's CSV: what it is and how it is written, as CSV, too."""
    about = Table(
        "columns",
        gettext("Columns of the tables"),
        tuple(Column(key, key, "text") for key in ("file", "table", "column", "meaning", "written")),
        tuple(
            (
                table.csv.rpartition("/")[2],
                table.title,
                column.key,
                column.title,
                gettext(WRITTEN[column.kind]).format(currency=currency),
            )
            for table in tables
            for column in table.columns
        ),
    )
    return csv_file(about)


# The workbook.
_FORMATS = {"whole": "#,##0", "number": "#,##0.00", "percent": "0.0%", "money": "#,##0", "date": "yyyy-mm-dd"}
_LONGEST = 32_767
"""Letters of a cell (Excel specifications and limits)."""
_EPOCH = dt.datetime(1980, 1, 1)
"""A zip can't tell an earlier time; a fixed one, so that the same tables give the same bytes."""


def workbook(tables: Sequence[Table], address: str = "", names: Mapping[str, str] | None = None) -> DataFile:
    """All tables in one workbook, a sheet each after a list of them; `address` of the published site makes links.

    `names` of the failure modes stand for their keys. Kept beside the charts for the same tables.
    """
    names = names or {}
    told = [
        sorted(names.items()),
        [address + links.address(kind, "x") for kind in LINKED if address],
        [[t.key, t.title, t.note, [[c.title, c.kind] for c in t.columns], t.rows] for t in tables],
    ]
    made_from = hashlib.sha256(json.dumps(told, default=str).encode()).hexdigest()
    return DataFile(
        f"{FOLDER}/patterns.xlsx",
        once(["workbook", made_from], "xlsx", lambda: _workbook(tables, address, names)),
    )


def _workbook(tables: Sequence[Table], address: str, names: Mapping[str, str]) -> bytes:
    """Row by row, so that no sheet is held whole; what stands above the rows of a sheet has to be said before them."""
    from openpyxl import Workbook  # late: it is slow
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    contents = book.create_sheet(gettext("Contents"))
    for letter, width in zip("ABCD", (34, 60, 8, 90), strict=True):
        contents.column_dimensions[letter].width = width
    contents.freeze_panes = "A2"
    words = gettext("Table"), gettext("What it holds"), gettext("Rows"), gettext("Note")
    heads = [WriteOnlyCell(contents, word) for word in words]
    for head in heads:
        head.font = Font(bold=True)
    contents.append(heads)
    for table, name in zip(tables, _sheet_names(tables), strict=True):
        link = _put(WriteOnlyCell(contents), name)
        link.hyperlink = f"#'{name}'!A1"
        link.style = "Hyperlink"
        told = (_put(WriteOnlyCell(contents), value) for value in (table.title, len(table.rows), table.note))
        contents.append([link, *told])
        _sheet(book.create_sheet(name), table, address, names)
    book.properties.creator = "Leaklore"
    book.properties.created = _EPOCH
    out = io.BytesIO()
    book.save(out)
    return _same_bytes(out.getvalue())


def _sheet_names(tables: Sequence[Table]) -> Iterator[str]:
    """Titles as Excel allows them: 31 letters, none of []:*?/\\', each once whatever its capitals."""
    taken = {gettext("Contents").lower(), "contents", "history"}
    for table in tables:
        plain_title = re.sub(r"[\[\]:*?/\\'\x00-\x1f]", " ", table.title).strip() or table.key
        name, number = plain_title[:31].strip(), 2
        while name.lower() in taken:
            tail = f" {number}"
            name, number = plain_title[: 31 - len(tail)].strip() + tail, number + 1
        taken.add(name.lower())
        yield name


def _sheet(sheet: WriteOnlyWorksheet, table: Table, address: str, names: Mapping[str, str]) -> None:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.table import Table as Listed
    from openpyxl.worksheet.table import TableStyleInfo

    def text(column: Column, value: Value) -> str:
        if column.kind == "mode":
            return ", ".join(names.get(key, key) for key in keys(value))
        return _text(value)

    for at, column in enumerate(table.columns, start=1):
        widest = max((len(text(column, row[at - 1])) for row in table.rows), default=0)
        sheet.column_dimensions[get_column_letter(at)].width = min(
            max(widest, 10, len(column.title) / 2) + 3, 60
        )
    sheet.freeze_panes = "A2"
    heads = [_put(WriteOnlyCell(sheet), column.title) for column in table.columns]
    for head in heads:
        head.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.append(heads)
    plain_cells = [_cell_of(sheet, column) for column in table.columns]
    link_cells = [_cell_of(sheet, column) for column in table.columns]
    for cell in link_cells:
        cell.style = "Hyperlink"
    for row in table.rows:
        line: list[Cell | None] = []
        for column, cell, link, value in zip(table.columns, plain_cells, link_cells, row, strict=True):
            found = keys(value) if address and column.linked else ()
            if len(found) == 1:
                cell = _put(link, text(column, value))
                cell.hyperlink = address + links.address(column.kind, found[0])
            elif value is not None:
                _put(cell, text(column, value) if column.linked else value)
            line.append(None if value is None else cell)
        sheet.append(line)
    if table.rows:  # Excel calls a table without a row damaged
        last = f"{get_column_letter(len(table.columns))}{len(table.rows) + 1}"
        listed = Listed(displayName=f"t_{table.key.replace('-', '_')}", ref=f"A1:{last}")
        listed.tableStyleInfo = TableStyleInfo(name="TableStyleLight1", showRowStripes=True)
        listed._initialise_columns()  # rows that are written can't be asked for their heads
        for named, column in zip(listed.tableColumns, table.columns, strict=True):
            named.name = _put(WriteOnlyCell(sheet), column.title).value
        sheet.tables.add(listed)  # `add_table` warns that the columns are needed, which are there


def _cell_of(sheet: WriteOnlyWorksheet, column: Column) -> Cell:
    """A cell that a column's values are put into one after the other: each row is written at once."""
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet)
    if column.kind in _FORMATS:
        cell.number_format = _FORMATS[column.kind]
    return cell


def _text(value: Value) -> str:
    """As text; keys apart by spaces, and where a cell can't hold them all, how many are left out."""
    if value is None:
        return ""
    if not isinstance(value, tuple):
        return str(value)
    text = " ".join(value)
    if len(text) <= _LONGEST:
        return text
    short = text[: _LONGEST - 40].rpartition(" ")[0]
    return gettext("{short} and {x} more, see the CSV").format(
        short=short, x=len(value) - short.count(" ") - 1
    )


def _put(cell: Cell, value: Value) -> Cell:
    """A string stays a string, whatever it begins with."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub("", value)[:_LONGEST] or None
        if cell.value is not None:
            cell.data_type = "s"
            cell.quotePrefix = value[:1] in ("=", "+", "-", "@")
    else:
        cell.value = value
    return cell


def _same_bytes(made: bytes) -> bytes:
    """The workbook without the time of day at which it was saved."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(made)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(
                    rb"(<dcterms:modified[^>]*>)[^<]*",
                    rb"\g<1>" + _EPOCH.isoformat().encode() + b"Z",
                    content,
                )
            new.writestr(zipfile.ZipInfo(name, _EPOCH.timetuple()[:6]), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
