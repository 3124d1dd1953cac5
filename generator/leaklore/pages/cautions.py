"""The page of the cautions in full; other pages have each in one sentence and lead here."""

from __future__ import annotations

from leaklore.language import gettext
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page

URL = "guide/cautions/"


def page(book: Book, templates: Templates) -> Page:
    """Every caution of the guide, the company's own among them."""
    cautions = [{"source": "", **facts} for facts in book.library.guide.cautions.values()]
    body = templates.render("cautions.html", URL, cautions=cautions)
    return Page(
        URL, gettext("Cautions"), gettext("What can hurt at the work on a leak, in full."), body, "guide"
    )
