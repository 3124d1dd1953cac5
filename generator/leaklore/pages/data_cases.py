"""Cases as data: one table of all, and pieces of JSON and of records, each with few enough cases to be loaded for one."""

from __future__ import annotations

import csv
import gzip
import io
import tarfile
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from leaklore.analysis import costs
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.data_fields import CASE_FIELDS
from leaklore.pages.data_form import as_json, cell, rounded, table
from leaklore.pages.figures import grams_a_year
from leaklore.pages.once import once
from leaklore.pages.spec import DataFile
from leaklore.records.model import Case

VERSION = 2
"""Of the files with cases."""
NUMBERS = 200
"""So many numbers of one branch and year in a row make a piece. The address of a piece follows from a case's number, and
a new case changes one piece only. js/bench/prefill.mjs has the same figure."""
LEVEL = 5
"""Of gzip: most of what 9 saves in a fraction of the time."""


def piece_of(number: str) -> str:
    """The piece in which a case is: `KW-2024-417` is in `KW-2024-2`."""
    branch, year, n = number.split("-")
    return f"{branch}-{year}-{int(n) // NUMBERS}"


def cases_address(number: str) -> str:
    """Address of the JSON that has a case."""
    return f"data/cases/{piece_of(number)}.json"


def records_address(number: str) -> str:
    """Address of the archive that has a case's record as it was written."""
    return f"data/records/{piece_of(number)}.tar.gz"


@once
def pieces(book: Book) -> Mapping[str, Sequence[Case]]:
    """Cases by piece, both in order of the numbers."""
    found: dict[str, list[Case]] = {}
    for case in sorted(book.library.cases, key=lambda c: c.id):
        found.setdefault(piece_of(case.id), []).append(case)
    return found


def row(case: Case, book: Book) -> dict[str, Any]:
    """What table and JSON have of a case, by the keys of CASE_FIELDS."""
    gear, company, fix = case.equipment, book.library.company, case.fix
    return {
        "id": case.id,
        "title": case.title,
        "reported": case.reported.isoformat(),
        "closed": case.closed.isoformat() if case.closed else None,
        "branch": case.branch,
        "crew": case.crew,
        "system": case.system.id if case.system else None,
        "setting": gear.setting,
        "kind": gear.kind,
        "family": gear.family,
        "refrigerant": gear.refrigerant,
        "charge_kg": rounded(gear.charge.si if gear.charge else None),
        "installed": gear.installed.written if gear.installed else None,
        "age_years": rounded(case.age_at_leak),
        "symptoms": list(case.symptoms),
        "not_seen": list(case.not_seen),
        "conditions": list(case.conditions),
        "ambient_k": rounded(case.ambient.si if case.ambient else None),
        "lost_kg": rounded(case.lost.si if case.lost else None),
        "lost_over_s": rounded(case.lost_over.si if case.lost_over else None),
        "lost_share": rounded(case.lost_share),
        "leak_rate_g_per_year": rounded(None if case.leak_rate is None else grams_a_year(case.leak_rate)),
        "mode": case.cause.mode,
        "component": case.cause.component,
        "proof": case.cause.proof,
        "contributing": list(case.cause.contributing),
        "counted": case.counted,
        "minutes_to_find": costs.minutes_to_find(case),
        "search_minutes": sum(s.minutes for s in case.search) if case.search else None,
        "search_cost": rounded(costs.search_cost(case, company, book.library.guide))
        if company.labour_rate
        else None,
        "action": fix.action if fix else None,
        "repair_cost": rounded(costs.repair_cost(case, company)),
        "fix_held": case.fix_held,
        "withdrawn": case.withdrawn is not None,
        "url": links.address("case", case.id),
    }


def _more(case: Case) -> dict[str, Any]:
    """What only the JSON carries, in rows: the search, readings and further leaks."""
    return {
        "search": [[s.technique, s.at, s.minutes, s.result] for s in case.search],
        "readings": [
            [r.at, r.by, r.value.written, r.background.written if r.background else None]
            for r in case.readings
        ],
        "also_found": [[c.mode, c.component, c.proof] for c in case.also_found],
        "follow_up": [[f.date.isoformat(), f.result] for f in case.follow_up],
    }


def piece_files(piece: str, book: Book) -> Iterator[DataFile]:
    """The cases of a piece as JSON, and their records byte for byte as they were written, which only "all" may see."""
    cases = pieces(book)[piece]
    yield DataFile(cases_address(cases[0].id), cases_json(piece, book))
    if book.library.audience != "all":
        return
    folder = book.library.root.parent
    records = archive((f"{case.id}.yaml", (folder / case.path).read_bytes()) for case in cases)
    yield DataFile(records_address(cases[0].id), records)


def cases_json(piece: str, book: Book) -> bytes:
    """The cases of a piece, withdrawn ones marked."""
    told = table([row(case, book) | _more(case) for case in pieces(book)[piece]])
    return as_json({"cases": told}, book, VERSION)


def archive(files: Iterator[tuple[str, bytes]]) -> bytes:
    """Files as .tar.gz, which depends on names and contents alone. All in one stream, for records are much alike."""
    parts = []
    for name, content in files:
        head = tarfile.TarInfo(name)
        head.size = len(content)
        parts += [head.tobuf(tarfile.USTAR_FORMAT), content, bytes(-len(content) % tarfile.BLOCKSIZE)]
    parts.append(bytes(2 * tarfile.BLOCKSIZE))
    return gzip.compress(b"".join(parts), LEVEL, mtime=0)


def index_json(book: Book) -> bytes:
    """Which pieces there are, and how many cases each has."""
    counts = {piece: len(cases) for piece, cases in pieces(book).items()}
    data = {"cases": len(book.library.cases), "numbers": NUMBERS, "pieces": counts}
    return as_json(data, book, VERSION)


def cases_csv(book: Book) -> bytes:
    """One line a case, CRLF line ends, UTF-8 (RFC 4180)."""
    out = io.StringIO()
    names = [name for name, _ in CASE_FIELDS]
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(names)
    for case in book.library.cases:
        record = row(case, book)
        writer.writerow([cell(record[name]) for name in names])
    return out.getvalue().encode()
