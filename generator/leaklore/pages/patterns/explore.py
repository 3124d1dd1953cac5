"""The page that filters every proven leak by brushing charts or by plain controls, and the data it reads.

The page shows counts and cases, no rates: what to make of the counts stands on the other pages of the section.
"""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import floor

from leaklore.analysis.intervals import FEW
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.markup import Prose
from leaklore.pages.patterns import explore_bundle
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.records.library import Library
from leaklore.records.model import Case

URL = "patterns/explore/"
TITLE = later("Explore the leaks")
LEAD = later("Choose causes, places and times, and see which cases are behind the counts.")
DATA = "data/explore.json"
VERSION = 1
FACETS = later(
    {
        "mode": "Failure mode",
        "branch": "Branch",
        "setting": "Kind of place",
        "refrigerant": "Refrigerant",
    }
)
"""What one chooses from by name, with its title."""
UNSAID = ("unsaid", later("Not on record"))
HELD = later(("fix held", "leaked again", "not looked at again"))
"""What became of the fix, in the order of the numbers in the data."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One value of a facet, and how many leaks have it."""

    key: str
    name: str
    leaks: int


@dataclass(frozen=True)
class Leaks:
    """Every proven leak of the cases that are not withdrawn, oldest first: twice the same mode in a case is one."""

    library: Library
    today: dt.date

    @cached_property
    def rows(self) -> tuple[tuple[Case, str], ...]:
        """Cases with the modes that are proven in them."""
        found = [(case, cause.mode) for case in self.library.active for cause in case.proven]
        return tuple(sorted(found, key=lambda row: (row[0].reported, row[0].id)))

    def _values(self, facet: str) -> list[str]:
        if facet == "mode":
            return [mode for _, mode in self.rows]
        if facet == "branch":
            return [case.branch for case, _ in self.rows]
        return [getattr(case.equipment, facet) or UNSAID[0] for case, _ in self.rows]

    def _name(self, facet: str, key: str) -> str:
        return gettext(UNSAID[1]) if key == UNSAID[0] else links.name_of(facet, key, self.library)

    @cached_property
    def facets(self) -> Mapping[str, tuple[Choice, ...]]:
        """The values that occur, the commonest first, what is not on record last."""
        return {
            facet: tuple(
                sorted(
                    (
                        Choice(key, self._name(facet, key), n)
                        for key, n in Counter(self._values(facet)).items()
                    ),
                    key=lambda c: (c.key == UNSAID[0], -c.leaks, c.name, c.key),
                )
            )
            for facet in FACETS
        }

    @cached_property
    def quarters(self) -> tuple[str, ...]:
        """`2021 Q1` and so on, from the first leak to the day of the edition without a gap."""
        if not self.rows:
            return ()
        first, last = (_quarter(self.rows[i][0].reported) for i in (0, -1))
        return tuple(_named(q) for q in range(first, max(last, _quarter(self.today)) + 1))

    @property
    def unfinished(self) -> str:
        """The quarter in which the edition was made, unless it was made on its last day."""
        now = _quarter(self.today)
        return "" if _quarter(self.today + dt.timedelta(days=1)) > now else _named(now)

    @cached_property
    def oldest(self) -> int:
        """The whole year of age before which every system with a known age had leaked."""
        return 1 + floor(max((c.age_at_leak or 0.0 for c, _ in self.rows), default=0.0))

    def columns(self) -> dict[str, list[object]]:
        """One value a leak in each column: facets and quarters by number, `lost` in kg, `age` in years."""
        out: dict[str, list[object]] = {}
        for facet, choices in self.facets.items():
            number = {c.key: i for i, c in enumerate(choices)}
            out[facet] = [number[key] for key in self._values(facet)]
        cases = [case for case, _ in self.rows]
        out["case"] = [c.id for c in cases]
        out["title"] = [Prose.plain(c.title) for c in cases]
        out["day"] = [c.reported.isoformat() for c in cases]
        out["quarter"] = [_quarter(c.reported) - _quarter(cases[0].reported) for c in cases]
        out["lost"] = [_short(c.lost.si if c.lost else None) for c in cases]
        out["age"] = [None if c.age_at_leak is None else max(0.0, round(c.age_at_leak, 2)) for c in cases]
        out["held"] = [{True: 0, False: 1, None: 2}[c.fix_held] for c in cases]
        return out


def _quarter(day: dt.date) -> int:
    return day.year * 4 + (day.month - 1) // 3


def _named(quarter: int) -> str:
    return f"{quarter // 4} Q{quarter % 4 + 1}"


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.4g}")


def page(book: Book, templates: Templates) -> Page:
    """The page with its plain controls; the script fills counts, charts and the list."""
    leaks = Leaks(book.library, book.today)
    body = templates.render(
        "patterns_explore.html",
        URL,
        title=gettext(TITLE),
        lead=gettext(LEAD),
        facets=[(key, gettext(FACETS[key]), choices) for key, choices in leaks.facets.items()],
        quarters=[(address_of(q), q) for q in leaks.quarters],
        years=_years(leaks.quarters),
        unfinished=leaks.unfinished,
        ages=[(year, year) for year in range(leaks.oldest + 1)],
        leaks=len(leaks.rows),
        cases=len({case.id for case, _ in leaks.rows}),
        few=FEW,
        packages=explore_bundle.packages(),
    )
    head = templates.render("patterns_explore_head.html", URL)
    return Page(URL, gettext(TITLE), gettext(LEAD), body, "patterns", head=head)


def address_of(quarter: str) -> str:
    """A quarter in an address: `2024 Q1` -> `2024-q1`."""
    return quarter.lower().replace(" ", "-")


def _years(quarters: Iterable[str]) -> list[tuple[str, str, str]]:
    """(year, its first quarter, its last) as far as they occur, in addresses."""
    by_year: dict[str, list[str]] = {}
    for quarter in quarters:
        by_year.setdefault(quarter[:4], []).append(address_of(quarter))
    return [(year, found[0], found[-1]) for year, found in by_year.items()]


def files(book: Book) -> list[DataFile]:
    """`data/explore.json`."""
    return [DataFile(DATA, _json(book))]


def _json(book: Book) -> bytes:
    leaks = Leaks(book.library, book.today)
    us = book.display.us_first
    data = {
        "version": VERSION,
        "edition": book.today.isoformat(),
        "mass": {"unit": "lb" if us else "kg", "kg": display.LB if us else 1.0},
        "held": [gettext(held) for held in HELD],
        "quarters": leaks.quarters,
        "oldest": leaks.oldest,
        "facets": {
            facet: {"keys": [c.key for c in choices], "names": [c.name for c in choices]}
            for facet, choices in leaks.facets.items()
        },
        "leaks": leaks.columns(),
    }
    return (json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n").encode()
