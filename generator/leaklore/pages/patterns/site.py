"""The section Patterns: its summary, a page for each topic, and all of it as data files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any

from leaklore.analysis.patterns.exposure import APART
from leaklore.analysis.patterns.findings import Findings
from leaklore.analysis.patterns.money import costs_data
from leaklore.analysis.patterns.rates import finite
from leaklore.analysis.patterns.signals import Signal
from leaklore.analysis.patterns.survival import survival_data
from leaklore.language import gettext, ngettext
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.data_form import as_json
from leaklore.pages.patterns import again, age, changes, cost, over_time, watch, where
from leaklore.pages.patterns.tables import columns_file, csv_file, workbook
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page

URL = "patterns/"
SECTION = "patterns"


def topics(book: Book, since: dt.date | None = None, branch: str | None = None) -> tuple[Topic, ...]:
    """All topics in the order in which a manager asks; of leaks since a day, of one branch, where that is asked."""
    found = (
        book.patterns
        if since is None and branch is None
        else Findings(book.library, book.today, branch, since)
    )
    return _topics(book, found, Templates(book))


def _topics(book: Book, found: Findings, templates: Templates) -> tuple[Topic, ...]:
    return (
        where.topic(book, found, templates),
        cost.topic(book, found.costs, templates),
        watch.topic(book, found.watch_list, templates),
        again.topic(book, found.recurrence, templates),
        age.topic(book, found.survival, templates),
        over_time.topic(book, found.over_time, templates),
        changes.topic(book, found.changes, templates),
    )


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files of the section."""
    found = _topics(book, book.patterns, templates)
    pages = [_summary(book, found, templates), *(_page(topic, templates) for topic in found)]
    tables = [table for topic in found for table in topic.tables]
    files = [csv_file(table) for table in tables]
    files.append(columns_file(tables, book.library.company.currency))
    modes = {key: entry.name for key, entry in book.library.guide.modes.items()}
    files.append(workbook(tables, book.library.company.site_url or "", modes))
    files.append(DataFile("data/patterns.json", as_json(patterns_data(book.patterns), book)))
    files.append(DataFile("data/survival.json", as_json(survival_data(book.patterns.survival), book)))
    files.append(DataFile("data/costs.json", as_json(costs_data(book.patterns.costs), book)))
    return pages, files


def _summary(book: Book, found: Sequence[Topic], templates: Templates) -> Page:
    fleet = book.patterns.fleet
    lead = gettext(
        "What keeps recurring, where, and whether it is real: {leaks} on {watched} in {years} "
        "system-years since {since}."
    ).format(
        leaks=ngettext("{n} proven leak", "{n} proven leaks", len(fleet.leaks)).format(n=len(fleet.leaks)),
        watched=ngettext("{n} registered system", "{n} registered systems", len(fleet.watched)).format(
            n=len(fleet.watched)
        ),
        years=display.number(fleet.years, 4),
        since=display.day(fleet.since),
    )
    if not (fleet.watched or fleet.leaks):
        lead = gettext("What keeps recurring, where, and whether it is real.")
    strongest = [s for s, _ in where.stories(book, book.patterns, own=True)][:3]
    body = templates.render("patterns.html", URL, topics=found, lead=lead, fleet=fleet, strongest=strongest)
    return Page(URL, gettext("Patterns"), lead, body, SECTION)


def _page(topic: Topic, templates: Templates) -> Page:
    body = templates.render("patterns_topic.html", topic.url, topic=topic)
    return Page(topic.url, topic.title, topic.lead, body, SECTION)


def patterns_data(found: Findings) -> dict[str, Any]:
    """What stands out, for machines; keys are documented in `data_fields.PATTERN_FIELDS`."""
    fleet, told = found.fleet, found.signals
    return {
        "since": fleet.since.isoformat(),
        "until": fleet.until.isoformat(),
        "systems": len(fleet.watched),
        "system_years": round(fleet.years, 6),
        "leaks": len(fleet.leaks),
        "left_out": {key: [c.id for c in fleet.apart[key]] for key in APART},
        "groups_looked_at": told.groups_looked_at,
        "looks": told.looks,
        "groups_too_small": told.too_small,
        "signals": list(_signals(told.found)),
    }


def _signals(found: Sequence[Signal]) -> Iterator[dict[str, Any]]:
    for s in found:
        yield {
            "by": s.by,
            "group": " / ".join(s.key),
            "mode": s.mode,
            "cases": s.rate.leaks,
            "system_years": round(s.rate.years, 6),
            "expected": round(s.expected, 6),
            "ratio": _tidy(s.ratio.value),
            "low": _tidy(s.ratio.low),
            "high": _tidy(s.ratio.high),
            "q_value": _tidy(s.q),
            "drawn_in": _tidy(s.shrunk),
            "like_by": s.like_by,
            "like_ratio": _tidy(s.like.value) if s.like else None,
            "like_low": _tidy(s.like.low) if s.like else None,
            "like_high": _tidy(s.like.high) if s.like else None,
            "age_ratio": _tidy(s.aged.value) if s.aged else None,
            "age_low": _tidy(s.aged.low) if s.aged else None,
            "age_high": _tidy(s.aged.high) if s.aged else None,
            "own": s.own,
            "within": s.within,
            "ids": list(dict.fromkeys(leak.case.id for leak in s.leaks)),
        }


def _tidy(value: float) -> float | None:
    told = finite(value)
    return None if told is None else float(f"{told:.6g}")
