"""What comes back from learners, checked: codes as they are typed, and result sheets as files."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leaklore.analysis import results
from leaklore.pages import display
from leaklore.records.library import Library

NO_PROOF = "A code that fits shows that a sheet was not altered. It is no proof of who did the work."


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of one code or file: whether it is right, in words, and its figures for machines."""

    name: str
    right: bool
    says: str
    facts: dict[str, Any]


def verdict(given: str, library: Library | None) -> Verdict:
    """Checks a file where there is one of that name, else a code. `library` None: lists and company stay unchecked."""
    path = Path(given)
    if path.is_file() or path.suffix.lower() in (".json", ".txt") or "/" in given:
        return _file(path, library)
    return _code(given, library)


def _code(typed: str, library: Library | None) -> Verdict:
    try:
        carried = results.decode(typed)
    except results.NotACode as why:
        return Verdict(typed, False, f"not a code: {why}", {})
    titles = _titles(library)
    which = carried.which(titles)
    title = f'"{titles[which[0]]}"' if which else "a list that this library does not have"
    finished = (
        f"finished {display.day(carried.finished)}"
        if carried.finished
        else f"{carried.part} % of the items done"
    )
    score = "nothing scored" if carried.score is None else f"{carried.score} % of the points"
    says = f"well-formed: {carried.initials}, {title}, {finished}, {score}. Only the file shows whether its sheet says the same."
    facts = {
        "list": which[0] if which else None,
        "initials": carried.initials,
        "finished": carried.finished.isoformat() if carried.finished else None,
        "score": carried.score,
        "part": carried.part,
    }
    return Verdict(typed, True, says, facts)


def _file(path: Path, library: Library | None) -> Verdict:
    try:
        with path.open("rb") as stream:
            sheet, code = results.read(stream.read(results.LARGEST + 1))
        if not results.agrees(sheet, code):
            return Verdict(
                str(path), False, "altered after it was made: its code does not fit what it says", {}
            )
    except OSError as wrong:
        return Verdict(str(path), False, f"can't be read ({wrong.strerror})", {})
    except results.NotACode as why:
        return Verdict(str(path), False, f"its code is none: {why}", {})
    except results.NotASheet as why:
        return Verdict(str(path), False, str(why), {})
    if library is not None and sheet.company != library.company.name:
        return Verdict(str(path), False, f"it comes from another library: {sheet.company}", {})
    if library is not None and sheet.list not in _titles(library):
        return Verdict(str(path), False, f'this library has no list "{sheet.list}"', {})
    finished = f", finished {_written(sheet.finished)}" if sheet.finished else ""
    late = f" (due {_written(sheet.due)})" if sheet.due and (sheet.finished or "9999") > sheet.due else ""
    score = "" if sheet.score is None else f", {sheet.score} % of the points"
    says = f'as it was made: {sheet.initials}, "{sheet.title}", {sheet.done} of {len(sheet.items)} done{finished}{late}{score}'
    facts = {
        "list": sheet.list,
        "initials": sheet.initials,
        "due": sheet.due,
        "finished": sheet.finished,
        "done": sheet.done,
        "items": len(sheet.items),
        "score": sheet.score,
        "again": sheet.again,
        "code": code,
    }
    return Verdict(str(path), True, says, facts)


def _titles(library: Library | None) -> dict[str, str]:
    return {listing.key: listing.title for listing in library.reading} if library else {}


def _written(day: str | None) -> str:
    return display.day(dt.date.fromisoformat(day)) if day else ""
