"""The whole run: read every file, judge all records together, file those that are right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from leaklore.errors import LeakloreError
from leaklore.intake import package, rows, suggest, table
from leaklore.intake.candidate import Candidate, Outcome
from leaklore.intake.desk import Desk
from leaklore.intake.fault import Fault, shown
from leaklore.intake.mapping import MapFile
from leaklore.problem import Problem, errors
from leaklore.records.check import CheckResult
from leaklore.records.schema import Schemas
from leaklore.records.today import today as this_day

_FIRST_ROWS = 10
"""Among these stands the row that names the columns."""
ZIPS, TEXTS, SHEETS = (".zip",), (".yaml", ".yml"), (".csv", ".tsv", ".txt", ".xlsx", ".xlsm")


@dataclass(frozen=True)
class Taken:
    """What came of a run. `notes` say how sheets were read; a dry run wrote nothing."""

    outcomes: tuple[Outcome, ...]
    notes: tuple[str, ...]
    dry: bool

    @property
    def failed(self) -> bool:
        """Was anything refused?"""
        return any(o.status == "refused" for o in self.outcomes)


def take(
    result: CheckResult,
    files: Sequence[Path],
    map_file: Path | None = None,
    dry: bool = False,
    today: dt.date | None = None,
) -> Taken:
    """Takes zips, CSV and XLSX into a checked library.

    Raises LeakloreError where nothing can begin: no library, a sheet without a map.
    """
    desk = Desk(result, today or this_day())
    schemas = Schemas(desk.library.vocabulary)
    brought: list[Candidate | Outcome] = []
    notes: list[str] = []
    mapped: MapFile | None = None
    for file in dict.fromkeys(files):
        if _ending(file) in (*ZIPS, *TEXTS):
            found = package.read(file) if _ending(file) in ZIPS else package.read_text(file)
            brought.append(found if isinstance(found, Candidate) else _refused(file, found))
        elif _ending(file) in SHEETS:
            if map_file is None:
                raise LeakloreError(
                    f'"{shown(file)}" needs a map of its columns: begin with '
                    f"`leaklore take {shown(file)} --suggest-map > map.yaml`, then give --map map.yaml"
                )
            mapped = mapped or MapFile(map_file, schemas)
            brought += _sheet(file, mapped, desk, notes)
        else:
            odd = Fault(
                None,
                "is no .zip, .yaml, .csv or .xlsx",
                "give the phone's .zip, or save the sheet as .xlsx or .csv",
            )
            brought.append(_refused(file, [odd.problem(shown(file))]))
    judged = iter(desk.judge([one for one in brought if isinstance(one, Candidate)]))
    outcomes = []
    for one in brought:
        outcome = next(judged) if isinstance(one, Candidate) else one
        if isinstance(one, Candidate) and outcome.status == "taken" and not dry:
            outcome = _filed(desk, one, outcome)
        outcomes.append(outcome)
    return Taken(tuple(outcomes), tuple(notes), dry)


def suggest_map(result: CheckResult, file: Path) -> str:
    """A first map for a job sheet. Raises LeakloreError where it can't be read."""
    if result.library is None:
        raise LeakloreError("the library can't be read; run `leaklore check` first")
    if _ending(file) not in SHEETS:
        raise LeakloreError(f'"{shown(file)}" is no job sheet; --suggest-map reads .csv and .xlsx')
    found = _with_names(file)
    if isinstance(found, Fault):
        raise LeakloreError(f"{shown(file)} {found.message}; {found.instead}")
    return suggest.suggest(*found, file, result.library)


def _with_names(file: Path) -> tuple[table.Table, list[str]] | Fault:
    """The sheet from the row whose cells are most like names of columns, and the names of all sheets, its own first.

    Often a title and blank rows stand before that row, or a sheet of its own.
    """
    sheets = table.first_names(file, _FIRST_ROWS)
    if isinstance(sheets, Fault):
        return sheets
    heads = [(sheet, i, names) for sheet, rows in sheets.items() for i, names in enumerate(rows, 1)]
    known = [suggest.known(names) for _, _, names in heads]
    best = 0
    if known and known[0] < suggest.ENOUGH:
        best = max(range(len(heads)), key=lambda i: (known[i], len(heads[i][2]) if known[i] else 0, -i))
    sheet, header, _ = heads[best] if heads else ("", 1, ())
    found = table.read(file, table.Reading(header=header, sheet=sheet or None))
    others = [name for name in sheets if name != sheet]
    return found if isinstance(found, Fault) else (found, [sheet, *others])


def _sheet(file: Path, mapped: MapFile, desk: Desk, notes: list[str]) -> Iterable[Candidate | Outcome]:
    name = shown(file)
    if mapped.reading is None:
        return [_refused(file, mapped.problems)]
    found = table.read(file, mapped.reading)
    if isinstance(found, Fault):
        return [_refused(file, [*mapped.problems, found.problem(name)])]
    notes.append(f"{name}: {found.note}")
    if not mapped.fits(found, name) or mapped.map is None:
        return [_refused(file, mapped.problems)]
    words, spoken = desk.library.vocabulary, desk.library.guide.spoken
    made = list(rows.candidates(name, found, mapped.map, words, spoken))
    if not made:
        empty = Fault(None, "holds no row to take", "look at header: and skip_rows_without: of the map")
        return [_refused(file, [replace(empty, rule="take/sheet").problem(name)])]
    return made


def _filed(desk: Desk, one: Candidate, outcome: Outcome) -> Outcome:
    assert outcome.number is not None
    try:
        return replace(outcome, path=desk.file(one, outcome.number))
    except OSError as fault:
        what = outcome.path.name if outcome.path else outcome.number
        why = Fault(None, f"{what} can't be written ({fault.strerror})", "put that right and take it again")
        problem = replace(why, rule="file").problem(one.origin)
        return replace(outcome, status="refused", path=None, problems=(*outcome.problems, problem))


def _refused(file: Path, problems: Sequence[Problem]) -> Outcome:
    assert errors(problems)
    return Outcome(shown(file), "refused", problems=tuple(sorted(set(problems))))


def _ending(file: Path) -> str:
    return file.suffix.lower()
