"""One plain sheet for the customer, for each failure mode and each case: `for-customers/`.

Never on it: cost, minutes, crew, notes, first diagnosis, remarks of later visits, story, lesson, site, other cases. Cases
that were withdrawn have none.
"""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.learn.advice import Sites
from leaklore.pages.learn.handout import Handout, of_case, of_mode
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Fact, Page
from leaklore.records.model import Case

INDEX = f"{links.FOLDERS['customer']}/"
MOST_LISTED = 40
"""Cases that the index names whose advice is not on the sheet."""


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files."""
    library = book.library
    pages = [_mode_page(key, book, templates) for key in library.guide.modes]
    sites = Sites(library)
    left_out: list[tuple[Case, str]] = []
    for case in library.active:
        sheet = of_case(case, library, sites)
        if sheet.left_out:
            left_out.append((case, sheet.left_out))
        pages.append(_case_page(case, sheet, book, templates))
    return [_index(left_out, book, templates), *pages], []


def _mode_page(key: str, book: Book, templates: Templates) -> Page:
    entry = book.library.guide.modes[key]
    sheet = of_mode(entry, book.library)
    way = [
        ("guide/", "Guide"),
        (f"{links.FOLDERS['mode']}/", "Failure modes"),
        (links.address("mode", key), entry.name),
    ]
    url = links.address("customer", key)
    body = _body(url, sheet, way, [Fact("What we call it", entry.name)], "", book, templates)
    title = f"For the customer: {entry.name}"
    return Page(url, title, sheet.happened[0].split(". ")[0] + ".", body, "guide")


def _case_page(case: Case, sheet: Handout, book: Book, templates: Templates) -> Page:
    url = links.address("customer", case.id)
    way = [("cases/", "Cases"), (links.address("case", case.id), case.id)]
    body = _body(url, sheet, way, list(_facts(case)), case.branch, book, templates)
    return Page(
        url,
        f"For the customer: {case.id}",
        sheet.happened[0].split(". ")[0].rstrip(".") + ".",
        body,
        "cases",
    )


def _body(
    url: str,
    sheet: Handout,
    way: list[tuple[str, str]],
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
        way=way,
        facts=facts,
        branch=branch,
        address=f"{company.site_url}{url}" if company.site_url else "",
    )


def _facts(case: Case) -> Iterator[Fact]:
    """Dates, the customer's own name of the unit, the gas and our number of the job."""
    yield Fact("Reported", display.day(case.reported))
    if case.closed:
        yield Fact("Finished", display.day(case.closed))
    system = case.system
    if system and system.site.name.casefold() not in system.name.casefold():
        yield Fact("Unit", system.name)
    if case.equipment.refrigerant:
        yield Fact("Gas", case.equipment.refrigerant)
    yield Fact("Our job number", case.id)


def _index(left_out: list[tuple[Case, str]], book: Book, templates: Templates) -> Page:
    newest = sorted(left_out, key=lambda item: (item[0].reported, item[0].id), reverse=True)
    body = templates.render(
        "customer_index.html",
        INDEX,
        modes=book.library.guide.modes.values(),
        sheets=len(book.library.active),
        left_out=newest[:MOST_LISTED],
        more=max(0, len(newest) - MOST_LISTED),
    )
    return Page(INDEX, "For customers", "One plain sheet for each kind of leak and each case.", body, "guide")
