"""The cases behind a page's figures, and tallies with bars: shared by all pages that count."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from urllib.parse import urlencode

from leaklore.analysis import costs
from leaklore.analysis.summary import Summary
from leaklore.language import gettext
from leaklore.pages import charts, display, links
from leaklore.pages.book import Book
from leaklore.pages.once import once
from leaklore.records.model import PROOFS, Case

ALL = 50
"""So many cases are all shown on a page."""
SHOWN = 20
"""So many of more."""
SMALL = 250
"""A library of up to so many cases stands on one page with a filter, some 40 kB, which a phone still loads at once; a
branch, a kind of place and a refrigerant then show all of theirs."""


@dataclass(frozen=True, slots=True)
class Row:
    """One case with the values that entered the figures."""

    case: Case
    lost: str
    share: str
    rate: str
    minutes: str
    cost: str
    held: str


@dataclass(frozen=True, slots=True)
class Behind:
    """Cases behind the figures of a page: some of `total`; `list` and `search` are where the others are, or empty."""

    rows: tuple[Row, ...]
    total: int
    list: str = ""
    search: str = ""

    @property
    def cut(self) -> bool:
        """Are there more than those shown?"""
        return len(self.rows) < self.total


@dataclass(frozen=True, slots=True)
class Some:
    """The newest of cases that are only named, and how many there are."""

    cases: tuple[Case, ...]
    total: int


def case_rows(cases: Iterable[Case], book: Book) -> list[Row]:
    """Values of cases, in the order given."""
    show, company = book.display, book.library.company
    out = []
    for case in cases:
        found = costs.minutes_to_find(case)
        cost = costs.repair_cost(case, company)
        out.append(
            Row(
                case,
                show.quantity(case.lost),
                display.percent(case.lost_share) if case.lost_share is not None else "",
                show.first(case.leak_rate, "leak rate") if case.leak_rate else "",
                display.minutes(found) if found is not None else "",
                show.money(cost) if cost is not None else "",
                {True: gettext("held"), False: gettext("did not hold"), None: ""}[case.fix_held],
            )
        )
    return out


@once
def _row(book: Book) -> tuple[list[Case], dict[str, int]]:
    """All cases, counted ones first, newest first; and the place of each by its number."""
    row = sorted(book.library.cases, key=lambda c: (not c.counted, -c.reported.toordinal(), c.id))
    return row, {case.id: place for place, case in enumerate(row)}


def behind(cases: Sequence[Case], book: Book, kind: str, key: str) -> Behind:
    """The cases of a page on `key`: counted ones first, newest first; all of them or, of many, some."""
    total = len(cases)
    row, place = _row(book)
    small = len(row) <= SMALL and kind in ("branch", "setting", "refrigerant")
    first = sorted([place[case.id] for case in cases])[: total if small or total <= ALL else SHOWN]
    rows = tuple(case_rows([row[n] for n in first], book))
    if len(rows) == total:
        return Behind(rows, total)
    if kind == "mode":
        return Behind(rows, total, list=links.cases_of(key))
    asked = urlencode({"q": links.name_of(kind, key, book.library)})
    return Behind(rows, total, search=f"search/?{asked}")


def some(cases: Sequence[Case], limit: int = SHOWN) -> Some:
    """The newest of cases."""
    newest = nsmallest(limit, cases, lambda c: (-c.reported.toordinal(), c.id))
    return Some(tuple(newest), len(cases))


def proofs(found: Summary) -> list[tuple[str, int, charts.Bar]]:
    """(proof level, cases, bar), best proof first."""
    most = max(found.by_proof.values(), default=0)
    return [
        (level, found.by_proof[level], charts.bar(found.by_proof[level], most)) for level in reversed(PROOFS)
    ]


def tally(counts: Sequence[tuple[str, int]], limit: int = 12) -> list[tuple[str, int, charts.Bar]]:
    """(key, cases, bar) of the commonest keys."""
    most = max((n for _, n in counts), default=0)
    return [(key, n, charts.bar(n, most)) for key, n in counts[:limit]]
