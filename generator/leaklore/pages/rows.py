"""The cases behind a page's figures, and tallies with bars: shared by all pages that count."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from leaklore.analysis import costs
from leaklore.analysis.summary import Summary
from leaklore.pages import charts, display
from leaklore.pages.book import Book
from leaklore.records.model import PROOFS, Case


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


def case_rows(cases: Iterable[Case], book: Book) -> list[Row]:
    """Counted cases first, newest first."""
    show, company = book.display, book.library.company
    out = []
    for case in sorted(cases, key=lambda c: (not c.counted, -c.reported.toordinal(), c.id)):
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
                {True: "held", False: "did not hold", None: ""}[case.fix_held],
            )
        )
    return out


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
