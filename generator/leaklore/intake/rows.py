"""One row of a job sheet -> one record, by the map; what does not fit is told by row and column."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from leaklore.errors import QuantityError
from leaklore.intake.candidate import MARK, Candidate
from leaklore.intake.fault import plain
from leaklore.intake.headings import plain_words
from leaklore.intake.mapping import Feed, Map, filled, nested, slots
from leaklore.intake.table import Cell, Row, Table
from leaklore.problem import Finding, Pointer, Problem, errors, pointer_text
from leaklore.records import field, heard, quantity
from leaklore.records.compose import compose
from leaklore.records.guide import MOST_MEANT
from leaklore.records.schema import is_date
from leaklore.records.vocabulary import NOUNS, Vocabulary

_NUMBER = re.compile(r"-?[0-9]*\.?[0-9]+|(?:[0-9]+ )?[0-9]+/[0-9]+")
_THOUSANDS = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?![0-9.])")
_POINT = re.compile(r"\.[0-9]")
Spoken = Mapping[str, Mapping[str, tuple[str, ...]]]
"""Phrases by kind and key."""
_DAY = re.compile(r"[0-9]{1,4}([./-])[0-9]{1,2}\1[0-9]{1,4}")
_LONGEST_KEY = 80
_YES_NO = {"yes": True, "y": True, "true": True, "x": True, "no": False, "n": False, "false": False}


def candidates(
    sheet: str, table: Table, how: Map, vocabulary: Vocabulary, spoken: Spoken
) -> Iterator[Candidate]:
    """The records that the rows hold; `sheet` is the file as shown, `spoken` what else technicians say for a word."""
    ear = _Ear(vocabulary, spoken)
    for row in table.rows:
        if how.skip_rows_without and not row.cells.get(how.skip_rows_without, Cell("")).text:
            continue
        yield _Row(sheet, row, table, how, ear).candidate()


class _Ear:
    """What is meant by a word; each word is worked out once for all rows."""

    def __init__(self, vocabulary: Vocabulary, spoken: Spoken) -> None:
        self.vocabulary = vocabulary
        self._spoken = {kind: _by_phrase(said) for kind, said in spoken.items()}
        self._heard: dict[tuple[str, str], tuple[heard.Heard, bool]] = {}

    def word(self, kind: str, said: str) -> tuple[heard.Heard, bool]:
        """The key that is meant, and whether it had to be guessed: no name or synonym letter by letter."""
        if (kind, said) not in self._heard:
            phrases = (*self.vocabulary.spoken.get(kind, {}), *self.vocabulary.terms.get(kind, {}))
            guessed = _letters(said) not in map(_letters, phrases)
            meant = heard.word(self.vocabulary, kind, said)
            keys = self._spoken.get(kind, {}).get(_singular(said), ())
            if meant.key and not guessed:  # an evaporator may be in a cold room as well
                keys = tuple(dict.fromkeys((meant.key, *keys)))
            if keys:  # what technicians say counts before a likeness of letters
                meant = heard.Heard(keys[0]) if len(keys) == 1 else heard.Heard(nearest=keys)
            self._heard[kind, said] = meant, guessed
        return self._heard[kind, said]


class _Row:
    def __init__(self, sheet: str, row: Row, table: Table, how: Map, ear: _Ear) -> None:
        self.origin = f"{sheet}: row {row.number}"
        self.row, self.table, self.map, self.ear = row, table, how, ear
        self.vocabulary = ear.vocabulary
        self.columns: dict[Pointer, str] = {}
        self.problems: list[Problem] = []
        self.failed: dict[Pointer, Problem] = {}

    def candidate(self) -> Candidate:
        data = nested(self._closed(self._values()))
        mark = self._mark()
        number = data.get("id")

        def render(given: str) -> str:
            first, _, rest = compose({**data, "id": given}).partition("\n")
            return f"{first}\n{mark}\n{rest}"

        return Candidate(
            origin=self.origin,
            data=data,
            number=number,
            render=render,
            tell=self.tell,
            problems=tuple(self.problems),
            mark=mark,
        )

    def tell(self, f: Finding) -> Problem:
        """A finding of the record as one of the row, and of the column that fed the field."""
        lacks = (*f.pointer, f.message.split('"')[1]) if f.rule == "schema/required" else f.pointer
        if lacks in self.failed:
            return self.failed[lacks]  # it is missing because its cell was wrong, which is told
        column = self._column_of(f.pointer)
        message, instead = f.message, f.instead
        if f.rule == "schema/required":
            message, instead = (
                f"{pointer_text(lacks)} is missing",
                "map a column to it, or write it under fixed:",
            )
        elif column and message.startswith(f"{pointer_text(f.pointer)}: "):
            message = message.removeprefix(f"{pointer_text(f.pointer)}: ")
        return self._problem(column, message, instead, f.rule, f.severity)

    def _problem(
        self, column: str | None, message: str, instead: str, rule: str = "take/cell", severity: Any = "error"
    ) -> Problem:
        path = f'{self.origin}, "{plain(column)}"' if column else self.origin
        at = self.table.headers.index(column) + 1 if column in self.table.headers else 1
        return Problem(path, self.row.number, at, message, instead, rule, severity)

    def _column_of(self, pointer: Pointer) -> str | None:
        for length in range(len(pointer), 0, -1):
            if column := self.columns.get(pointer[:length]):
                return column
        return None

    def _cell(self, column: str) -> Cell:
        cell = self.row.cells.get(column, Cell(""))
        return Cell("") if cell.text.casefold() in self.map.empty and not cell.fault else cell

    def _values(self) -> dict[Pointer, Any]:
        flat: dict[Pointer, Any] = {}
        steps: set[int] = set()
        for feed in self.map.feeds:
            cell = self._cell(feed.column)
            if cell.fault:
                instead = "save the sheet with its values, or write the value"
                self.failed[feed.to] = self._problem(feed.column, cell.fault, instead)
                self.problems.append(self.failed[feed.to])
                continue
            before = len(self.problems)
            value = self._value(feed, cell)
            if wrong := errors(self.problems[before:]):
                self.failed[feed.to] = wrong[0]
            if value in (None, "", []):
                continue
            flat[feed.to] = value
            self.columns[feed.to] = feed.column
            if feed.to[0] == "search" and len(feed.to) == 3 and isinstance(feed.to[1], int):
                steps.add(feed.to[1])
        for i in sorted(steps):
            parts = self.map.steps[i] if i < len(self.map.steps) else {}
            flat |= {("search", i, part): value for part, value in parts.items()}
        for to, template in self.map.texts.items():
            cells = {name: self._cell(name).text for name in slots(template)}
            if to not in flat and all(cells.values()):
                flat[to] = filled(template, cells)
        for to, value in self.map.fixed.items():
            if not any(there[: len(to)] == to for there in flat):
                flat[to] = value
        return flat

    def _closed(self, flat: dict[Pointer, Any]) -> dict[Pointer, Any]:
        """The same without gaps in lists of blocks, so that findings meet their columns."""
        used: dict[Pointer, set[int]] = {}
        for pointer in (*flat, *self.failed):
            for i, part in enumerate(pointer):
                if isinstance(part, int):
                    used.setdefault(pointer[:i], set()).add(part)

        def moved(pointer: Pointer) -> Pointer:
            return tuple(
                sorted(used[pointer[:i]]).index(part) if isinstance(part, int) else part
                for i, part in enumerate(pointer)
            )

        self.failed = {moved(p): problem for p, problem in self.failed.items()}
        self.columns = {moved(p): column for p, column in self.columns.items() if p in flat}
        return {moved(p): value for p, value in flat.items()}

    def _value(self, feed: Feed, cell: Cell) -> Any:
        about = field.about(feed.to)
        if feed.split is not None:
            inner = about["items"]
            words = [self._word(feed, inner, part.strip()) for part in cell.text.split(feed.split)]
            return list(dict.fromkeys(word for word in words if word))
        return self._single(feed, about, cell)

    def _single(self, feed: Feed, about: Mapping[str, Any], cell: Cell) -> Any:
        text = cell.text
        if not text:
            return None
        said = " ".join(text.split()).casefold()
        if said in feed.words:
            text = feed.words[said]
        elif about.get("format") == "date" or feed.dates or about.get("title") == "Installed":
            return self._date(feed, cell)
        elif "x-quantity" in about:
            return self._quantity(feed, about["x-quantity"], cell)
        elif "x-vocabulary" in about or "enum" in about:
            return self._word(feed, about, text)
        if about.get("type") == "integer":
            plain_number = self._decimals(replace(cell, text=text)).removesuffix(".0")
            return int(plain_number) if re.fullmatch(r"-?[0-9]{1,9}", plain_number, re.ASCII) else text
        if about.get("type") == "boolean":
            return _YES_NO.get(text.casefold(), text)
        if "x-tube" in about:
            return quantity.plain_size(text)
        return text if "x-prose" in about else " ".join(text.split())

    def _word(self, feed: Feed, about: Mapping[str, Any], text: str) -> str:
        """A key of a vocabulary or a word of a few; what is not known stays, and the schema tells."""
        said = " ".join(text.split())
        if said.casefold() in feed.words:
            return feed.words[said.casefold()]
        kind = about.get("x-vocabulary")
        known = self.vocabulary.terms.get(kind, {}) if kind else about.get("enum", ())
        same = {str(key).casefold(): str(key) for key in known}
        if said.casefold() in same or not said:
            return same.get(said.casefold(), "")
        if not kind:
            self.problems.append(
                self._problem(
                    feed.column,
                    f'"{plain(said)}" is not one of the words allowed here',
                    f"add it to words: with the one that is meant of {', '.join(map(str, known))}",
                )
            )
            return ""
        if not feed.near:
            return said
        meant, guessed = self.ear.word(kind, said)
        if meant.key:
            if guessed:
                self.problems.append(
                    self._problem(
                        feed.column,
                        f'"{plain(said)}" is read as {meant.key}',
                        "write it under words: if that is wrong",
                        "take/near",
                        "warning",
                    )
                )
            return meant.key
        instead = (
            f"add it to words:, as {' or '.join(meant.nearest[:MOST_MEANT])}"
            if meant.nearest
            else "add it to words: with the key that is meant"
        )
        self.problems.append(self._problem(feed.column, f'"{plain(said)}" is not {NOUNS[kind]}', instead))
        return ""

    def _decimals(self, cell: Cell) -> str:
        """The text with a point before decimals and none between thousands."""
        if self.map.decimal != "," or cell.number:
            return cell.text
        return _THOUSANDS.sub(lambda hit: hit[0].replace(".", ""), cell.text).replace(",", ".")

    def _odd_sign(self, cell: Cell) -> tuple[str, str] | None:
        """A decimal sign that is not the map's, and what to write; a factor of ten hangs on it."""
        if cell.number:
            return None
        said = f'"{plain(cell.text)}" has a'
        if self.map.decimal == "," and _POINT.search(_THOUSANDS.sub("", cell.text)):
            return f"{said} point, but the map says decimal: a comma", "write the cell with a comma"
        if self.map.decimal == "." and "," in cell.text:
            instead = 'write decimal: "," into the map where it stands before decimals, else take it out'
            return f"{said} comma, which can be read two ways", instead
        return None

    def _quantity(self, feed: Feed, dimension: str, cell: Cell) -> str | None:
        text = cell.text
        if odd := self._odd_sign(cell):
            self.problems.append(self._problem(feed.column, *odd))
            return None
        told = " ".join(quantity.plain_amount(self._decimals(cell)).split())
        if feed.unit and _NUMBER.fullmatch(told):
            told = f"{told} {feed.unit}"
        try:
            quantity.read(told, dimension)
        except QuantityError as fault:
            message, instead = str(fault), fault.instead
            if "does not begin with a number" in message:
                example = f"4 {feed.unit}" if feed.unit else quantity.EXAMPLES[dimension].split('"')[1]
                message = f'"{plain(text)}" is not a number with a unit'
                instead = f"write for example {example}"
            self.problems.append(self._problem(feed.column, message, instead))
            return None
        return told

    def _date(self, feed: Feed, cell: Cell) -> str | None:
        """A day; a month or a year for a field that takes them, where the form has no day."""
        if cell.day:
            return cell.day.isoformat()
        text = " ".join(cell.text.split())
        if is_date(text) and not any(form.startswith("%Y-") for form in feed.dates):
            return text
        if not feed.dates:
            if _DAY.fullmatch(text):
                instead = 'say in the map how days are written, for example date: "%d/%m/%Y"'
                self.problems.append(self._problem(feed.column, f'"{plain(text)}" is not a day', instead))
                return None
            return text
        for form in feed.dates:
            try:
                day = dt.datetime.strptime(text, form).date()
            except ValueError:
                continue
            if field.about(feed.to).get("format") == "date" or "%d" in form:
                return day.isoformat()
            months = any(sign in form for sign in ("%m", "%b", "%B"))
            return day.isoformat()[: 7 if months else 4]
        examples = " or ".join(dt.date(2025, 2, 3).strftime(form) for form in feed.dates)
        message = f'"{plain(text)}" is not a day written as {" or ".join(feed.dates)}'
        self.problems.append(self._problem(feed.column, message, f"write for example {examples}"))
        return None

    def _mark(self) -> str:
        """The line by which the row is known again."""
        book = f"{self.map.book}, " if self.map.book else ""
        key = self.row.cells.get(self.map.key, Cell("")).text if self.map.key else ""
        said = " ".join(f"{self.map.key} {key}".split())
        if key and len(said) <= _LONGEST_KEY:
            return f"{MARK}{book}{said}"
        cells = {name: cell.text for name, cell in self.row.cells.items() if cell.text}
        digest = hashlib.sha256(json.dumps(cells, sort_keys=True).encode()).hexdigest()[:16]
        return f"{MARK}{book}row {digest}"


def _by_phrase(said: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """The keys that each phrase may mean."""
    out: dict[str, tuple[str, ...]] = {}
    for key, phrases in said.items():
        for phrase in map(_singular, phrases):
            out[phrase] = tuple(dict.fromkeys((*out.get(phrase, ()), key)))
    return out


def _singular(text: str) -> str:
    """Words without accents and the s of the plural, as the phrases are written."""
    return " ".join(word.removesuffix("s") for word in plain_words(text).split())


def _letters(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum())
