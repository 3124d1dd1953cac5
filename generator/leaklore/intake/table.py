"""Old job sheets as plain rows: CSV in the encodings and dialects of the trade's programs, XLSX by its values."""

from __future__ import annotations

import codecs
import csv
import datetime as dt
import io
import itertools
import re
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from leaklore.intake import unpack
from leaklore.intake.fault import Fault, plain
from leaklore.records.near import did_you_mean

MAX_BYTES = 25_000_000
MAX_ROWS = 20_000
MAX_COLUMNS = 256
MAX_SHEETS = 20
MAX_CELL = 20_000
"""Characters; a story holds 12,000."""
T = TypeVar("T")
_AGAIN = re.compile(r" \([0-9]+\)$")
DELIMITERS = ",;\t|"
_BOMS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


@dataclass(frozen=True, slots=True)
class Cell:
    """`text` as a person reads it; `day` where the workbook holds a date; `fault` where there is no value.

    `number`: the workbook holds a number, whose decimal sign is a point whatever the sheet shows.
    """

    text: str
    day: dt.date | None = None
    fault: str = ""
    number: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """`number` counts from 1, the header among them, as the sheet's program shows it."""

    number: int
    cells: dict[str, Cell]


@dataclass(frozen=True, slots=True)
class Table:
    """`headers` in their order; `note` says how the file was read."""

    headers: tuple[str, ...]
    rows: tuple[Row, ...]
    note: str
    header_row: int = 1


@dataclass(frozen=True, slots=True)
class Reading:
    """How to read a sheet; None where it is to be found out."""

    encoding: str | None = None
    delimiter: str | None = None
    header: int = 1
    sheet: str | None = None


def read(file: Path, how: Reading) -> Table | Fault:
    """A job sheet by its ending: .xlsx and .xlsm as workbooks, everything else as CSV."""
    return _opened(file, lambda: _workbook(file, how), lambda data: _csv(data, how))


def first_names(file: Path, count: int) -> dict[str, list[tuple[str, ...]]] | Fault:
    """What each of the first `count` rows would call the columns, by the name of the sheet, "" for a CSV.

    The rest of the file is not read, nor are sheets beyond MAX_SHEETS.
    """
    return _opened(file, lambda: _workbook_names(file, count), lambda data: _csv_names(data, count))


def _opened(file: Path, workbook: Callable[[], T | Fault], text: Callable[[bytes], T | Fault]) -> T | Fault:
    """What is made of a workbook, or of the bytes of any other file."""
    try:
        size = file.stat().st_size
        if not file.is_file():
            return _fault("is not a plain file", "name a file")
        if size > MAX_BYTES:
            return _fault(
                f"is {size / 1e6:.0f} MB long; at most {MAX_BYTES // 1_000_000} MB are read", "split it"
            )
        if file.suffix.lower() in (".xlsx", ".xlsm"):
            return workbook()
        data = file.read_bytes()
    except OSError as fault:
        return _fault(f"can't be read ({fault.strerror})", "check its name and its permissions")
    return text(data)


def _fault(message: str, instead: str) -> Fault:
    return Fault(None, message, instead, "take/sheet")


def _text(data: bytes, encoding: str | None) -> tuple[str, str] | Fault:
    """The text of a CSV and its encoding."""
    if not data.strip():
        return _fault("is empty", "export the sheet again")
    decoded = _decoded(data, encoding)
    if not isinstance(decoded, Fault) and "\0" in decoded[0]:
        return _fault("holds zero bytes; it is no text", "export the sheet as CSV")
    return decoded


def _csv_names(data: bytes, count: int) -> dict[str, list[tuple[str, ...]]] | Fault:
    found = _text(data, None)
    if isinstance(found, Fault):
        return found
    out = []
    for number in range(1, count + 1):
        rows = csv.reader(io.StringIO(found[0], newline=""), delimiter=_sniffed(found[0], number))
        try:
            row = next(itertools.islice(rows, number - 1, None), [])
        except csv.Error:  # told when the whole is read
            row = []
        out.append(_shown_names(_names([Cell(text) for text in row])))
    return {"": out}


def _csv(data: bytes, how: Reading) -> Table | Fault:
    found = _text(data, how.encoding)
    if isinstance(found, Fault):
        return found
    text, encoding = found
    delimiter = how.delimiter or _sniffed(text, how.header)
    rows: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for row in reader:
            rows.append(row)
            if len(rows) > MAX_ROWS + how.header:
                return _fault(f"has more than {MAX_ROWS} rows", "split it")
    except csv.Error:
        return _fault(f"a quote that opens in row {len(rows) + 1} is not closed rightly", "export it again")
    note = f"read as {encoding}, columns apart by {_word(delimiter)}"
    return _table(([Cell(text) for text in row] for row in rows), how, note)


def _word(delimiter: str) -> str:
    return {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}.get(delimiter, delimiter)


def _decoded(data: bytes, encoding: str | None) -> tuple[str, str] | Fault:
    marked = next((name for bom, name in _BOMS.items() if data.startswith(bom)), None)
    for name in [encoding] if encoding else [marked] if marked else ["utf-8", "cp1252"]:
        try:
            shown = (name or "").removesuffix("-sig")
            return data.decode("utf-8-sig" if name == "utf-8" else str(name)), shown
        except UnicodeDecodeError as fault:
            wrong = f"is not {name.removesuffix('-sig') if name else ''} (byte 0x{data[fault.start]:02x})"
    return _fault(wrong, "write the right one as encoding: into the map, for example cp1252")


def _sniffed(text: str, header: int) -> str:
    """The delimiter that gives most columns in most of the first rows."""
    best, most = ",", (0, 0)
    for sign in DELIMITERS:
        try:
            rows = list(
                itertools.islice(csv.reader(io.StringIO(text, newline=""), delimiter=sign), header + 20)
            )
        except csv.Error:
            continue
        widths = [len(row) for row in rows[header - 1 :] if row]
        if widths and widths[0] > 1:
            rank = (sum(width == widths[0] for width in widths), widths[0])
            if rank > most:
                best, most = sign, rank
    return best


def _workbook(file: Path, how: Reading) -> Table | Fault:
    def rows(values: Any, formulas: Any) -> tuple[list[list[Cell]], str] | Fault:
        names = [sheet.title for sheet in values.worksheets]
        name = how.sheet or names[0]
        if name not in names:
            known = f"sheets: {', '.join(map(plain, names[:8]))}"
            return _fault(f'has no sheet "{plain(name)}"', did_you_mean(name, names, known))
        return list(_sheet_rows(values[name], formulas[name], how)), name

    found = _of_workbook(file, rows)
    if isinstance(found, Fault):
        return found
    if len(found[0]) > MAX_ROWS + how.header:
        return _fault(f"has more than {MAX_ROWS} rows", "split it")
    return _table(found[0], how, f'read the sheet "{plain(found[1])}"')


def _workbook_names(file: Path, count: int) -> dict[str, list[tuple[str, ...]]] | Fault:
    def names(values: Any, _: Any) -> dict[str, list[tuple[str, ...]]]:
        out = {}
        for sheet in values.worksheets[:MAX_SHEETS]:
            rows = sheet.iter_rows(max_row=count, max_col=MAX_COLUMNS)
            out[sheet.title] = [_shown_names(_names([_cell(cell, None) for cell in row])) for row in rows]
        return out

    return _of_workbook(file, names)


def _of_workbook(file: Path, use: Callable[[Any, Any], T | Fault]) -> T | Fault:
    """What `use` makes of a workbook with its values and of the same with its formulas; both have a sheet."""
    _, faults = unpack.read(file, unpack.WORKBOOK, lambda name: None, keep=False)
    if faults:
        told = faults[0]
        message = told.message if told.name is None else f"{plain(told.name)} in it {told.message}"
        message = "is not a workbook" if told.message == "is not a zip" else message
        return _fault(message, "save it again as .xlsx")
    from openpyxl import load_workbook  # slow to import

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # styles and extensions that openpyxl does not know
            values = load_workbook(file, read_only=True, data_only=True)
            formulas = load_workbook(file, read_only=True)
            try:
                if not values.worksheets:
                    return _fault("holds no sheet", "save it again as .xlsx")
                return use(values, formulas)
            finally:
                values.close()
                formulas.close()
    except Exception:  # openpyxl raises anything on damaged files
        return _fault("is damaged, or no workbook", "save it again as .xlsx")


def _sheet_rows(values: Any, formulas: Any, how: Reading) -> Iterator[list[Cell]]:
    """Each row by its values; the second look tells a formula without a value from an empty cell."""
    head = next(values.iter_rows(min_row=how.header, max_row=how.header, max_col=MAX_COLUMNS + 1), ())
    width = max((i for i, cell in enumerate(head, 1) if cell.value is not None), default=1)
    span = {"max_row": MAX_ROWS + how.header + 1, "max_col": width}
    for row, beside in itertools.zip_longest(
        values.iter_rows(**span), formulas.iter_rows(**span), fillvalue=()
    ):
        yield [_cell(a, b) for a, b in itertools.zip_longest(row, beside)]


def _cell(cell: Any, beside: Any) -> Cell:
    value = getattr(cell, "value", None)
    kind = getattr(cell, "data_type", None)
    if value is None:
        formula = getattr(beside, "data_type", None) == "f"
        return Cell("", fault="is a formula without a value") if formula else Cell("")
    if kind == "e":
        return Cell("", fault=f'holds the error "{plain(str(value))}"')
    if isinstance(value, dt.datetime):
        day = value.date()
        return Cell(day.isoformat() if value.time() == dt.time() else value.isoformat(" "), day)
    if isinstance(value, dt.date):
        return Cell(value.isoformat(), value)
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, float):
        return Cell(f"{value:.10g}" if "e" not in f"{value:.10g}" else str(value), number=True)
    return Cell(str(value))


def _table(rows: Sequence[list[Cell]] | Iterator[list[Cell]], how: Reading, note: str) -> Table | Fault:
    listed = list(rows)
    if len(listed) < how.header:
        return _fault(f"has no row {how.header} with the names of the columns", "write header: into the map")
    names = _names(listed[how.header - 1])
    if not names:
        return _fault(f"row {how.header} is empty; it must name the columns", "write header: into the map")
    if len(names) > MAX_COLUMNS:
        return _fault(f"has more than {MAX_COLUMNS} columns", "leave some out")
    again = [name for name in names if _AGAIN.search(name) and name not in map(_said, listed[how.header - 1])]
    if again:
        note += f"; of columns with the same name the later ones are called {', '.join(map(plain, again))}"
    made = []
    for number, row in enumerate(listed[how.header :], how.header + 1):
        cells = {
            name: replace(cell, text=plain_cell(cell.text))
            for name, cell in zip(names, row, strict=False)
            if name
        }
        if any(cell.text or cell.fault for cell in cells.values()):
            made.append(Row(number, cells))
    return Table(_shown_names(names), tuple(made), note, how.header)


def _names(row: Sequence[Cell]) -> list[str]:
    """What a row calls the columns, "" where nothing; the second `Date` is `Date (2)`."""
    names: list[str] = []
    given = [_said(cell) for cell in row]
    while given and not given[-1]:
        given.pop()
    for name in given:
        number, unique = 1, name
        while name and unique in (names if number == 1 else (*names, *given)):
            number += 1
            unique = f"{name} ({number})"
        names.append(unique)
    return names


def _said(cell: Cell) -> str:
    return " ".join(plain_cell(cell.text).split())


def _shown_names(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(filter(None, names))


def plain_cell(text: str) -> str:
    """The text of a cell without signs that no record can hold; line breaks stay."""
    lines = text[:MAX_CELL].replace("\r\n", "\n").replace("\r", "\n").split("\n")
    kept = ("".join(s if s.isprintable() else " " for s in line).strip() for line in lines)
    return "\n".join(kept).strip()
