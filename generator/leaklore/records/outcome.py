"""What comes of one record file, as far as the others need not be known: the map step of a check.

Rules ask whether a case exists. Before all files are read nobody knows; so the answer is yes, and the name is noted.
Where it was wrong the file is read again with the truth.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from leaklore.problem import Finding, Problem
from leaklore.records import convert, parse, quick, source
from leaklore.records.compact import Compact
from leaklore.records.gather import Gathered
from leaklore.records.model import Case, System
from leaklore.records.rules import CASE_RULES, Context, dates
from leaklore.records.schema import Schemas
from leaklore.records.source import Unreadable
from leaklore.records.store import pack

Place = tuple[str, str]
"""A file: where it is, and its path as shown."""


@dataclass(frozen=True, slots=True)
class Outcome(Compact):
    """One file read: its case, where the schema lets it be one, and its problems."""

    path: str
    digest: str
    name: str | None
    """The case number that exists because of this file."""
    case: Case | None = None
    failed: bool = True
    """Is there an error among the problems, or a word of which nobody knows whether it is one?"""
    problems: tuple[Problem, ...] = ()
    cases: tuple[str, ...] = ()
    """Numbers of cases that were taken to exist."""
    all_cases: bool = False
    """Was the list of all cases asked for, which nobody had?"""
    systems: tuple[tuple[str, bytes], ...] = ()
    """Systems of the register that were asked for, with their digest."""
    photos: tuple[tuple[str, ...], ...] = ()
    latest: dt.date | None = None
    lasting: bool = False
    """Does the next check come to the same, if nothing noted here changes?"""


@dataclass(frozen=True)
class Shared:
    """What all files are checked against; `names` are the numbers of all cases, None before they are known."""

    schemas: Schemas
    context: Context
    marks: Mapping[str, bytes]
    names: frozenset[str] | None = None


class _Names(Collection[str]):
    """Says of each case that it exists, and notes it."""

    def __init__(self) -> None:
        self.asked: dict[str, None] = {}
        self.all = False

    def __contains__(self, name: object) -> bool:
        self.asked[str(name)] = None
        return True

    def __iter__(self) -> Iterator[str]:
        self.all = True
        return iter(())

    def __len__(self) -> int:
        self.all = True
        return 0


class _Systems(Mapping[str, System]):
    """The register, which notes what is asked for."""

    def __init__(self, systems: Mapping[str, System]) -> None:
        self._systems = systems
        self.asked: dict[str, None] = {}

    def __getitem__(self, number: str) -> System:
        self.asked[number] = None
        return self._systems[number]

    def __iter__(self) -> Iterator[str]:
        return iter(self._systems)

    def __len__(self) -> int:
        return len(self._systems)


def read_piece(shared: Shared, places: Sequence[Place]) -> bytes:
    """The outcomes of some files, packed."""
    return pack([read_one(shared, place) for place in places])


def read_one(shared: Shared, place: Place) -> Outcome:
    """The outcome of one file."""
    got = Gathered()
    file, path = Path(place[0]), place[1]
    found = source.read(file, shared.context.root, path=path)
    if isinstance(found, Unreadable):
        got.unreadable(found)
        # its case exists, though it can't be read: one error is enough
        return Outcome(path, "", file.stem, problems=tuple(got.problems))
    document: parse.Document | None = None
    data = quick.data_of(found.data)
    if data is None:
        read = parse.parse(found.data)
        if isinstance(read, list):
            got.broken(path, read, lambda data: shared.schemas.check("case", data))
            return Outcome(path, found.digest, file.stem, problems=tuple(got.problems), lasting=True)
        document, data = read, read.data
    name = data["id"] if isinstance(data, dict) and isinstance(data.get("id"), str) else file.stem

    def tell(findings: list[Finding]) -> bool:
        nonlocal document
        if findings and document is None:
            again = parse.parse(found.data)
            document = again if isinstance(again, parse.Document) else None
        return got.add(path, document, findings)

    if tell(shared.schemas.check("case", data)):
        return Outcome(path, found.digest, name, problems=tuple(got.problems), lasting=True)
    names, systems = _Names(), _Systems(shared.context.systems)
    case = convert.case(data, path, found.digest, systems if "system" in data else {})
    context = replace(
        shared.context, systems=systems, case_ids=names if shared.names is None else shared.names
    )
    failed = tell([finding for rule in CASE_RULES for finding in rule(case, data, context)])
    failed |= not shared.schemas.certain("case", data)
    latest = dates.latest(case)
    return Outcome(
        path,
        found.digest,
        name,
        case,
        failed,
        tuple(got.problems),
        tuple(names.asked),
        names.all,
        tuple((number, shared.marks.get(number, b"")) for number in systems.asked),
        photo_marks(context.root, case),
        latest,
        latest <= context.today and all(number in shared.marks for number in systems.asked),
    )


def holds(outcome: Outcome, context: Context, marks: Mapping[str, bytes]) -> bool:
    """Would a file of the same bytes come to the same again?"""
    return (
        (outcome.latest is None or outcome.latest <= context.today)
        and all(marks.get(number) == mark for number, mark in outcome.systems)
        and (outcome.case is None or outcome.photos == photo_marks(context.root, outcome.case))
    )


def photo_marks(root: Path, case: Case) -> tuple[tuple[str, ...], ...]:
    """What changes when a picture of the case does: names, where links lead, lengths and times."""
    if not case.photos:
        return ()
    folder = root / "photos" / case.id
    try:
        files = sorted(folder.iterdir())
    except OSError:
        return ()
    return ((_real(folder, root),), *(_mark(file, root) for file in files))


def _real(file: Path, root: Path) -> str:
    return str(file.resolve()) if file.is_symlink() or (root / "photos").is_symlink() else ""


def _mark(file: Path, root: Path) -> tuple[str, ...]:
    try:
        about = file.stat()
    except (OSError, RuntimeError):
        return (file.name,)
    sizes = (about.st_mode, about.st_size, about.st_mtime_ns, about.st_ctime_ns)
    return (file.name, _real(file, root), *map(str, sizes))
