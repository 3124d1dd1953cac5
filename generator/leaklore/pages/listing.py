"""Home, search, how we count, and where pages have moved; with them the lists of cases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from markupsafe import Markup

from leaklore.analysis import intervals, similar, summary
from leaklore.language import gettext
from leaklore.pages import case_lists, links, search
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.rows import tally
from leaklore.pages.spec import Page

Unit = tuple[str, str]
LEADS_ON = Markup('<meta http-equiv="refresh" content="0; url=../"><link rel="canonical" href="../">')
FRONT = ("front", "")


def units(book: Book) -> list[Unit]:
    """The single pages in one, then the lists of cases."""
    return [FRONT, *case_lists.units(book)]


def unit_pages(book: Book, templates: Templates, unit: Unit) -> Iterator[Page]:
    """Pages of one unit."""
    if unit == FRONT:
        yield from _front(book, templates)
    else:
        yield from case_lists.unit_pages(book, templates, unit)


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """All pages that are neither a case nor the guide nor a group."""
    for unit in units(book):
        yield from unit_pages(book, templates, unit)


def _front(book: Book, templates: Templates) -> Iterator[Page]:
    yield home(book, templates)
    yield search.page(book, templates)
    yield methods(book, templates)
    yield Page(
        "cases/newest/",
        gettext("Newest cases"),
        gettext("The newest cases have moved to cases/."),
        templates.render("newest_moved.html", "cases/newest/"),
        "cases",
        listed=False,
        head=LEADS_ON,
    )
    for old, case in sorted(book.library.former.items()):
        url = links.address("case", old)
        body = templates.render("moved.html", url, old=old, case=case)
        title = gettext("{old} is now {new}").format(old=old, new=case.id)
        lead = gettext("{old} has moved to {new}.").format(old=old, new=case.id)
        yield Page(url, title, lead, body, "cases", listed=False)


def home(book: Book, templates: Templates) -> Page:
    """The home page."""
    lib = book.library
    everything = summary.summarize(lib.active, lib.company)
    body = templates.render(
        "home.html",
        "",
        symptoms=[key for key, _ in everything.symptoms[:7]],
        newest=[c for c in lib.newest if c.withdrawn is None][:6],
        counted=len(lib.counted),
        total=len(lib.active),
        modes=tally(everything.modes, 8),
    )
    return Page(
        "",
        lib.company.name,
        gettext("{about}. Refrigerant leaks: what gave way, how it was found, and how we know.").format(
            about=lib.company.about
        ),
        body,
        "home",
    )


def methods(book: Book, templates: Templates) -> Page:
    """How we count."""
    lib = book.library
    ranks = []
    for n in (6, 10, 15, 20, 30, 50):
        found = intervals.median_ranks(n)
        assert found is not None
        ranks.append((n, *found))
    body = templates.render(
        "methods.html",
        "how-we-count/",
        levels=Counter(c.cause.proof for c in lib.active),
        counted=len(lib.counted),
        total=len(lib.active),
        withdrawn=len(lib.cases) - len(lib.active),
        few=intervals.FEW,
        exact=similar.EXACT,
        most=similar.MOST,
        ranks=ranks,
    )
    return Page(
        "how-we-count/",
        gettext("How we count"),
        gettext("Proof levels, medians and their intervals, yields: how every figure is made."),
        body,
        "methods",
    )
