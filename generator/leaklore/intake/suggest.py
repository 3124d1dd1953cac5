"""A first map for a job sheet, guessed from the names of its columns; the user mends it."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from leaklore.intake.fault import plain
from leaklore.intake.headings import BLANKS, KEYS, SAID, UNITS, plain_words
from leaklore.intake.mapping import leaves
from leaklore.intake.table import Table
from leaklore.problem import Pointer
from leaklore.records import field
from leaklore.records.library import Library
from leaklore.records.quantity import EXAMPLES

FIRST_LINE = "# yaml-language-server: $schema=schema/map.schema.json"
_ALIKE = 78.0
"""Of 100: from here on a column is mapped; below it stands as a comment."""
_LIKELY = 55.0
ENOUGH = 3
"""Known names of columns; a row with fewer may be a title or a job."""
_UNITS = {
    "mass": {"us": "lb", "si": "kg"},
    "temperature": {"us": "degF", "si": "degC"},
    "duration": {"us": "h", "si": "h"},
}
_FORMS = (
    "%Y-%m-%d",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d.%m.%Y",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%d/%m/%y",
    "%m/%d/%y",
    "%d.%m.%y",
    "%d %b %Y",
    "%d %B %Y",
    "%b %d, %Y",
    "%Y/%m/%d",
)
_DAY_OR_MONTH = {form: form[1] for form in _FORMS if form[1] in "dm" and "%m" in form}
"""What comes first, of forms that could be read the other way round."""
_NEEDS_NONE = "%Y-%m-%d"
_MOST_FORMS = 4
_TWO_NUMBERS = re.compile(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-][0-9]{2}")
_COMMA = re.compile(r"(?<![0-9.,])[0-9]+,[0-9]{1,2}(?![0-9,])")
_POINT = re.compile(r"(?<![0-9.,])[0-9]+\.[0-9]{1,2}(?![0-9.])")
_IN_BRACKETS = re.compile(r"\([^()]*\)|\[[^\[\]]*\]")
_CLOCK = {"over": "months", "labour": "h"}
_SAMPLES = 200


def suggest(table: Table, sheets: Sequence[str], file: Path, library: Library) -> str:
    """The text of a map: what is sure enough is mapped, the rest stands there as comments.

    `sheets` are all of the workbook, that of the table first.
    """
    guesses = _guessed(table.headers)
    key = _key(table.headers, guesses)
    first = _first_in_days(table, guesses)
    lines = [
        FIRST_LINE,
        f"# A first map of {plain(file.name)}, guessed from the names of its columns: mend it, then try it with",
        "# leaklore take FILE --map THIS --dry-run",
        f"# {table.note}",
    ]
    if len(sheets) > 1:
        others = ", ".join(_quoted(plain(name)) for name in sheets[1:])
        lines.append(f"sheet: {json.dumps(sheets[0])}  # there are others: {others}")
    if table.header_row != 1:
        lines.append(f"header: {table.header_row}")
    if comma := _decimal_comma(table, guesses):
        lines.append(f'decimal: ","  # as in {_quoted(comma)}')
    if key:
        lines += [f"key: {_quoted(key)}", f"skip_rows_without: {_quoted(key)}"]
    else:
        lines.append(
            "# key: COLUMN               # the column that names a job for good, so that none is taken twice"
        )
    if blanks := _blanks(table):
        lines.append(f"empty: [{', '.join(map(_quoted, blanks))}]")
    lines.append("columns:" if any(_group(to) == "columns" for to, _ in guesses.values()) else "columns: {}")
    lists, steps = ["lists:"], ["search:"]
    for name in table.headers:
        if name == key:
            continue
        to, likeness = guesses.get(name, ("", 0.0))
        sample = next((r.cells[name].text for r in table.rows if name in r.cells and r.cells[name].text), "")
        note = f"  # {likeness:.0f} of 100 sure" if to else "  # no field is like it"
        note += f"; first: {_quoted(plain(sample))}" if sample else "; empty"
        if not to or likeness < _ALIKE:
            best = to or _nearest(name)[0]
            lines.append(f"  # {_quoted(name)}: {best}{note}")
        elif _group(to) == "lists":
            lists.append(
                f"  {_quoted(name)}: {{to: {to}, split: {_quoted(_split(sample))}, near: true}}{note}"
            )
        elif _group(to) == "search":
            part = to.split(".")[1]
            near = f"{{from: {_quoted(name)}, near: true}}" if part in ("technique", "at") else _quoted(name)
            steps.append(f"  {'- ' if len(steps) == 1 else '  '}{part}: {near}{note}")
        else:
            spec, doubt = _spec(to, name, table, library, first)
            lines.append(f"  {_quoted(name)}: {spec}{note}{doubt}")
    lines += lists if len(lists) > 1 else []
    lines += steps if len(steps) > 1 else []
    return "\n".join([*lines, *_fixed(guesses, library)]) + "\n"


def known(headers: Sequence[str]) -> int:
    """How many of the names are like a field of a record, or like a key of jobs."""
    guesses = _guessed(headers)
    key = _key(headers, guesses)
    return sum(likeness >= _ALIKE for _, likeness in guesses.values()) + (key is not None)


def _fixed(guesses: dict[str, tuple[str, float]], library: Library) -> Iterator[str]:
    """What every record needs and no column seems to give."""
    given = {to for to, likeness in guesses.values() if likeness >= _ALIKE}
    branches = list(library.company.branches)
    if "title" not in given:
        some = next((n for n, (to, _) in guesses.items() if to == "cause.component"), None)
        yield "texts:"
        yield f"  title: {_quoted(f'Leak at {{{some}}}' if some else 'Leak taken from an old job sheet')}"
    yield "fixed:"
    if "branch" not in given:
        yield f"  branch: {branches[0]}" + (f"  # or {', '.join(branches[1:])}" if branches[1:] else "")
    yield "  cause.proof: suspected  # old sheets seldom prove more"
    if "symptoms" not in given:
        yield "  symptoms: []"
    for to in ("reported", "cause.mode", "cause.component", "story"):
        if to not in given:
            yield f"  # {to}: {field.about(_pointer(to))['examples'][0]}  # needed in every record"
    if "system" not in given:
        for to in ("equipment.setting", "equipment.kind", "equipment.refrigerant"):
            if to not in given:
                yield f"  # {to}: {field.about(_pointer(to))['examples'][0]}  # needed where no system is named"
    if not any(to.startswith("search") for to in given):
        yield "  # search: [{technique: visual, at: [outdoor-cabinet], minutes: 10, result: lead}]  # needed"


def _guessed(headers: Sequence[str]) -> dict[str, tuple[str, float]]:
    """Field and likeness for each column; a field goes to the column that is most like it."""
    ranked = sorted(
        ((_nearest(name), i, name) for i, name in enumerate(headers)), key=lambda r: (-r[0][1], r[1])
    )
    out: dict[str, tuple[str, float]] = {}
    used: set[str] = set()
    for (to, likeness), _, name in ranked:
        if likeness >= _LIKELY and to not in used:
            out[name] = to, likeness
            used.add(to)
    return out


def _nearest(name: str) -> tuple[str, float]:
    from rapidfuzz import fuzz, process

    said = plain_words(_IN_BRACKETS.sub(" ", name)) or plain_words(name)
    phrases: dict[str, str] = {}
    for to in leaves():
        if "[0]" in to and not to.startswith("search"):
            continue
        about = field.about(_pointer(to))
        for phrase in (*SAID.get(to, ()), str(about["title"]), re.sub(r"[^a-z]+", " ", to.split(".")[-1])):
            phrases.setdefault(plain_words(phrase), to)
    hit = process.extractOne(said, sorted(phrases), scorer=fuzz.token_sort_ratio)
    return (phrases[hit[0]], float(hit[1])) if hit and said else ("story", 0.0)


def _key(headers: Sequence[str], guesses: dict[str, tuple[str, float]]) -> str | None:
    from rapidfuzz import fuzz

    best = max(headers, key=lambda name: max(fuzz.ratio(plain_words(name), key) for key in KEYS), default="")
    sure = max((fuzz.ratio(plain_words(best), key) for key in KEYS), default=0)
    if sure < 85 or guesses.get(best, ("", 0.0))[1] > sure:
        return None
    guesses.pop(best, None)
    return best


def _spec(to: str, name: str, table: Table, library: Library, first: str | None) -> tuple[str, str]:
    """What the map says of a column, and what is to be asked about it; `first` is "d" or "m" where days tell."""
    about = field.about(_pointer(to))
    if _holds_days(to):
        samples = _samples(table, name)
        form = _form(samples, first or ("m" if library.company.units == "us" else "d"))
        doubt = not first and form and any(map(_TWO_NUMBERS.match, samples))
        asked = "; is the day or the month first? no row tells" if doubt else ""
        return f"{{to: {to}, date: {_quoted(form)}}}" if form else to, asked
    if "x-quantity" in about:
        unit = _unit(to, name, about["x-quantity"], library)
        return f"{{to: {to}, unit: {unit}}}" if unit else to, ""
    return f"{{to: {to}, near: true}}" if "x-vocabulary" in about else to, ""


def _holds_days(to: str) -> bool:
    about = field.about(_pointer(to))
    return about.get("format") == "date" or about.get("title") == "Installed"


def _samples(table: Table, name: str) -> list[str]:
    """What stands in the first cells of a column that are text, not days or numbers of a workbook."""
    cells = (row.cells[name] for row in table.rows[:_SAMPLES] if name in row.cells)
    return [cell.text for cell in cells if cell.text and not (cell.number or cell.day)]


def _first_in_days(table: Table, guesses: dict[str, tuple[str, float]]) -> str | None:
    """ "d" or "m", as the days of all columns tell by a number above twelve; None where they don't, or contradict."""
    texts = (text for name, (to, _) in guesses.items() if _holds_days(to) for text in _samples(table, name))
    told = set()
    for hit in filter(None, map(_TWO_NUMBERS.match, texts)):
        told |= {sign for sign, number in zip("dm", hit.groups(), strict=True) if int(number) > 12}
    return told.pop() if len(told) == 1 else None


def _blanks(table: Table) -> list[str]:
    """What stands in cells that say nothing."""
    said = {cell.text.casefold() for row in table.rows[:_SAMPLES] for cell in row.cells.values()}
    return [word for word in BLANKS if word in said]


def _decimal_comma(table: Table, guesses: dict[str, tuple[str, float]]) -> str | None:
    """An amount with a decimal comma, where no amount has a point."""
    texts = [
        text
        for name, (to, _) in guesses.items()
        if "x-quantity" in field.about(_pointer(to))
        for text in _samples(table, name)
    ]
    comma = next(filter(_COMMA.search, texts), None)
    return None if any(map(_POINT.search, texts)) else comma and plain(comma)


def _form(said: Sequence[str], first: str) -> str | None:
    """The forms that the days have, those of most days first, with | between; None where more than half have none.

    Of two that as many have, the one that begins with `first`; all have day and month in the same order.
    """
    forms = sorted(_FORMS, key=lambda form: form[1] in "dm" and form[1] != first)
    chosen: list[str] = []
    left = list(said)
    while left and len(chosen) < _MOST_FORMS:
        fits = {form: sum(_reads(text, form) for text in left) for form in forms}
        best = max(forms, key=lambda form: fits[form])
        if not fits[best]:
            break
        chosen.append(best)
        left = [text for text in left if not _reads(text, best)]
        forms = [
            form for form in forms if _DAY_OR_MONTH.get(form) in (None, _DAY_OR_MONTH.get(best))
        ] or forms
    if len(left) * 2 >= len(said):
        return None
    return " | ".join(form for form in chosen if len(chosen) == 1 or form != _NEEDS_NONE)


def _reads(text: str, form: str) -> bool:
    try:
        dt.datetime.strptime(text, form)
    except ValueError:
        return False
    return True


def _unit(to: str, name: str, dimension: str, library: Library) -> str | None:
    """A unit in the column's name, `Gas added (kg)`, or the company's usual one."""
    from leaklore.errors import QuantityError
    from leaklore.records.quantity import read

    words = re.findall(r"(?:[^\W\d_]|[°/])+", name)[::-1]
    for word in [said for one in words for said in (one, one.lower(), UNITS.get(plain_words(one), one))]:
        try:
            read(f"1 {word}", dimension)
        except QuantityError:
            continue
        return str(word)
    if dimension == "money":
        return library.company.currency
    known = _CLOCK.get(to.split(".")[-1]) or _UNITS.get(dimension, {}).get(library.company.units)
    return known if dimension in EXAMPLES else None


def _split(sample: str) -> str:
    return next((sign for sign in (";", "|", "/") if sign in sample), ",")


def _group(to: str) -> str:
    if to.startswith("search"):
        return "search"
    return "lists" if field.about(_pointer(to)).get("type") == "array" else "columns"


def _pointer(to: str) -> Pointer:
    pointer = field.read_pointer(to)
    assert pointer is not None, to
    return pointer


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
