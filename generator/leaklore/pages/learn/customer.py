"""One plain sheet for the customer, for each failure mode and the newest cases: `for-customers/`.

Never on it: cost, minutes, crew, notes, first diagnosis, remarks of later visits, story, lesson, site, other cases. Cases
that were withdrawn have none.
"""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from leaklore.language import gettext
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.learn.advice import Sites
from leaklore.pages.learn.handout import Handout, of_case, of_mode
from leaklore.pages.once import once
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Fact, Page
from leaklore.records.model import Case

INDEX = f"{links.FOLDERS['customer']}/"
MOST_SHEETS = 1000
"""Cases with a sheet of their own, the newest by the day they were closed: a sheet is handed over with the bill, and a
thousand are a year or more of a large company. Of an older case the section "For the customer" of its page prints."""
MOST_LISTED = 40
"""Cases that the index names whose advice is not on the sheet."""


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """The list of sheets, and those of the failure modes."""
    pages = [_mode_page(key, book, templates) for key in book.library.guide.modes]
    by_id = book.library.by_id
    sheets = ((by_id[number], _of(book, number)) for number in numbers(book))
    left_out = [(case, sheet.left_out) for case, sheet in sheets if sheet.left_out]
    return [_index(left_out, len(with_sheet(book)), book, templates), *pages], []


def sheet(book: Book, templates: Templates, number: str) -> Page:
    """The sheet of one case."""
    return _case_page(book.library.by_id[number], _of(book, number), book, templates)


def numbers(book: Book) -> list[str]:
    """Cases with a sheet of their own, in the order of their numbers."""
    own = with_sheet(book)
    return [case.id for case in book.library.active if case.id in own]


@once
def with_sheet(book: Book) -> frozenset[str]:
    """Numbers of the cases that have a sheet of their own."""
    newest = sorted(book.library.active, key=lambda c: (c.closed or c.reported, c.id), reverse=True)
    return frozenset(case.id for case in newest[:MOST_SHEETS])


@once
def _sites(book: Book) -> Sites:
    return Sites(book.library)


def _of(book: Book, number: str) -> Handout:
    return of_case(book.library.by_id[number], book.library, _sites(book))


def _mode_page(key: str, book: Book, templates: Templates) -> Page:
    entry = book.library.guide.modes[key]
    sheet = of_mode(entry, book.library)
    back = (links.address("mode", key), entry.name)
    url = links.address("customer", key)
    body = _body(url, sheet, back, [Fact(gettext("What we call it"), entry.name)], "", book, templates)
    title = gettext("For the customer: {name}").format(name=entry.name)
    return Page(url, title, sheet.happened[0].split(". ")[0] + ".", body, "guide", light=True)


def _case_page(case: Case, sheet: Handout, book: Book, templates: Templates) -> Page:
    url = links.address("customer", case.id)
    back = (links.address("case", case.id), gettext("Case {id}").format(id=case.id))
    body = _body(url, sheet, back, list(_facts(case)), case.branch, book, templates)
    return Page(
        url,
        gettext("For the customer: {name}").format(name=case.id),
        sheet.happened[0].split(". ")[0].rstrip(".") + ".",
        body,
        "cases",
        light=True,
    )


def _body(
    url: str,
    sheet: Handout,
    back: tuple[str, str],
    facts: list[Fact],
    branch: str,
    book: Book,
    templates: Templates,
) -> Markup:
    company = book.library.company
    return templates.render(
        "customer.html",
        url,
        sheet=sheet,
        back=back,
        facts=facts,
        branch=branch,
        address=f"{company.site_url}{url}" if company.site_url else "",
    )


def _facts(case: Case) -> Iterator[Fact]:
    """Dates, the customer's own name of the unit, the gas and our number of the job."""
    yield Fact(gettext("Reported"), display.day(case.reported))
    if case.closed:
        yield Fact(gettext("Finished"), display.day(case.closed))
    system = case.system
    if system and system.site.name.casefold() not in system.name.casefold():
        yield Fact(gettext("Unit"), system.name)
    if case.equipment.refrigerant:
        yield Fact(gettext("Gas"), case.equipment.refrigerant)
    yield Fact(gettext("Our job number"), case.id)


def _index(left_out: list[tuple[Case, str]], sheets: int, book: Book, templates: Templates) -> Page:
    newest = sorted(left_out, key=lambda item: (item[0].reported, item[0].id), reverse=True)
    body = templates.render(
        "customer_index.html",
        INDEX,
        modes=book.library.guide.modes.values(),
        sheets=sheets,
        older=len(book.library.active) - sheets,
        left_out=newest[:MOST_LISTED],
        more=max(0, len(newest) - MOST_LISTED),
    )
    return Page(
        INDEX,
        gettext("For customers"),
        gettext("One plain sheet for each kind of leak and for the newest cases."),
        body,
        "guide",
    )
