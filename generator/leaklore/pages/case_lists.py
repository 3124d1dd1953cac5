"""Lists of cases: the newest, those of each year, and those of failure modes with many."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from leaklore.language import gettext, ngettext
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.markup import Prose
from leaklore.pages.once import once
from leaklore.pages.paging import EACH, Sheet, sheets
from leaklore.pages.render import Templates
from leaklore.pages.rows import ALL as ROWS
from leaklore.pages.rows import SMALL
from leaklore.pages.spec import Page
from leaklore.records.library import Library
from leaklore.records.model import Case

LIGHT = 100
"""Entries of a page of a list whose cases are told in two lines."""

PROVEN, NOT_HELD = "proven", "did-not-hold"

Unit = tuple[str, str]


def units(book: Book) -> list[Unit]:
    """("newest", ""), one for each year, one for each failure mode with more cases than its page shows."""
    out = [("newest", "")]
    out += [("year", str(year)) for year, _ in _years(book)]
    often = Counter(case.cause.mode for case in book.library.active)
    out += [("mode", key) for key in book.library.guide.modes if often[key] > ROWS]
    return out


def unit_pages(book: Book, templates: Templates, unit: Unit) -> Iterator[Page]:
    """Pages of one unit."""
    kind, key = unit
    if kind == "newest":
        yield _newest(book, templates)
    elif kind == "year":
        yield from _year(int(key), book, templates)
    else:
        yield from _mode(key, book, templates)


def words(case: Case, book: Book) -> str:
    """What the plain filter of a list looks through, in lower case."""
    lib = book.library
    name = lib.vocabulary.name
    gear = case.equipment
    parts = [
        case.id,
        case.title,
        *(name("modes", c.mode) for c in case.causes),
        *(name("components", c.component) for c in case.causes),
        *(name("symptoms", s) for s in case.symptoms),
        gear.refrigerant or "",
        (gear.refrigerant or "").replace("-", ""),
        name("settings", gear.setting) if gear.setting else "",
        name("equipment_kinds", gear.kind) if gear.kind else "",
        case.branch,
        f"crew {case.crew}" if case.crew else "",
        case.cause.proof,
        "withdrawn" if case.withdrawn else "",
        {True: "held", False: NOT_HELD, None: ""}[case.fix_held],
        case.system.id if case.system else "",
        case.system.site.name if case.system else "",
        case.lesson or "",
        PROVEN if case.counted else "",
    ]
    return " ".join(" ".join(dict.fromkeys(Prose.plain(" ".join(parts)).lower().split())).split())


def marks(case: Case) -> str:
    """What the buttons of the filter ask for, exactly: of a withdrawn case nothing, as they count none."""
    if case.withdrawn is not None:
        return ""
    gas = case.equipment.refrigerant
    found = [PROVEN] if case.counted else []
    found += [links.slug(case.branch)] + ([links.slug(gas)] if gas else [])
    return " ".join(found + ([NOT_HELD] if case.fix_held is False else []))


@once
def _by_year(book: Book) -> dict[int, list[Case]]:
    """Cases of each year, oldest first; the newest year first."""
    out: dict[int, list[Case]] = {}
    for case in book.library.newest:
        out.setdefault(case.year, []).append(case)
    return {year: cases[::-1] for year, cases in out.items()}


def _years(book: Book) -> list[tuple[int, int]]:
    return [(year, len(cases)) for year, cases in _by_year(book).items()]


def _page(sheet: Sheet[Case], title: str, lead: str, book: Book, templates: Templates, **more: Any) -> Page:
    """`more`: what else the template takes. A list on one page is filtered there, a longer one leads to the search."""
    context = {
        "crumbs": [("cases/", gettext("Cases"))],
        "here": title,
        "kicker": gettext("Case library"),
        "light": False,
        "filter": "here" if sheet.alone else "search" if sheet.is_head else "",
        "words": {c.id: words(c, book) for c in sheet.items} if sheet.alone else {},
        "marks": {c.id: marks(c) for c in sheet.items} if sheet.alone else {},
        "quick": _quick(sheet.items, book) if sheet.alone else [],
        "groups": [],
        "years": _years(book) if sheet.is_head else [],
        "year": None,
        "all_there": len(book.library.cases) <= SMALL,
        "of": "",
    }
    context |= more
    if not sheet.is_head:
        part = gettext("{title}, {first} to {last}")
        title = part.format(title=title, first=sheet.first, last=sheet.last)
    body = templates.render("cases.html", sheet.url, title=title, lead=lead, sheet=sheet, **context)
    return Page(sheet.url, title, lead, body, "cases")


def _quick(shown: Sequence[Case], book: Book) -> list[tuple[str, str, int]]:
    """(label, mark, cases that have it) of the filter's buttons."""
    count = Counter(mark for case in shown for mark in marks(case).split())
    gases = Counter(c.equipment.refrigerant for c in shown if c.withdrawn is None and c.equipment.refrigerant)
    buttons = [
        (gettext("Pinpointed or held"), PROVEN),
        *((branch, links.slug(branch)) for branch in book.library.company.branches),
        *((gas, links.slug(gas)) for gas, _ in gases.most_common(3)),
        (gettext("Did not hold"), NOT_HELD),
    ]
    return [(label, mark, count[mark]) for label, mark in buttons]


def _newest(book: Book, templates: Templates) -> Page:
    lib = book.library
    total = len(lib.cases)
    shown = lib.newest if total <= SMALL else lib.newest[:EACH]
    sheet = Sheet("cases/", shown, total - len(shown) + 1, total, total)
    gases = sorted(lib.by_refrigerant.items(), key=lambda x: (-len(x[1]), x[0]))[:3]
    return _page(
        sheet,
        gettext("Cases") if not sheet.alone else gettext("All cases"),
        _told(lib),
        book,
        templates,
        crumbs=[],
        here=gettext("Cases"),
        groups=[]
        if sheet.alone
        else [
            *(("branch", b, len(lib.by_branch.get(b, ()))) for b in lib.company.branches),
            *(("refrigerant", gas, len(cases)) for gas, cases in gases),
        ],
    )


def _told(lib: Library) -> str:
    """How many cases there are; the list below has the withdrawn ones, too."""
    if not lib.cases:
        return gettext("None yet.")
    told = gettext("{cases} on record, {counted} pinpointed or held.").format(
        cases=count_cases(len(lib.active)), counted=len(lib.counted)
    )
    gone = len(lib.cases) - len(lib.active)
    if not gone:
        return told
    more = ngettext(
        "{n} more is withdrawn and counts nowhere.", "{n} more are withdrawn and count nowhere.", gone
    )
    return f"{told} {more.format(n=gone)}"


def _year(year: int, book: Book, templates: Templates) -> Iterator[Page]:
    cases = _by_year(book)[year]
    lead = gettext("{cases} reported in {year}.").format(cases=count_cases(len(cases)), year=year)
    over = year < book.library.newest[0].year
    for sheet in sheets(cases, f"cases/{year}/"):
        # a page of the running year does not say how many there are by now: it would change with each case
        yield _page(
            sheet,
            gettext("Cases of {year}").format(year=year),
            lead if sheet.is_head or over else gettext("Reported in {year}.").format(year=year),
            book,
            templates,
            crumbs=[
                ("cases/", gettext("Cases")),
                *([] if sheet.is_head else [(f"cases/{year}/", str(year))]),
            ],
            here=str(year) if sheet.is_head else _part(sheet),
            year=year,
            of=display.number(sheet.total)
            if sheet.is_head or over
            else gettext("{year} so far").format(year=year),
        )


def _part(sheet: Sheet[Case]) -> str:
    return gettext("{first} to {last}").format(first=sheet.first, last=sheet.last)


def _mode(key: str, book: Book, templates: Templates) -> Iterator[Page]:
    cases = sorted(book.modes[key].cases, key=lambda c: (c.reported, c.id))
    name, url = links.name_of("mode", key, book.library), links.cases_of(key)
    way = [
        ("guide/", gettext("Guide")),
        ("guide/failure-modes/", gettext("Failure modes")),
        (links.address("mode", key), name),
    ]
    for sheet in sheets(cases, url, LIGHT):
        yield _page(
            sheet,
            gettext("{name}: all cases").format(name=name),
            gettext("{cases}, counted or not.").format(cases=count_cases(len(cases)))
            if sheet.is_head
            else gettext("Counted or not."),
            book,
            templates,
            crumbs=way if sheet.is_head else [*way, (url, gettext("All cases"))],
            here=gettext("All cases") if sheet.is_head else _part(sheet),
            kicker=gettext("Failure mode"),
            light=True,
            filter="",
            years=[],
            of=display.number(sheet.total) if sheet.is_head else gettext("all"),
        )
