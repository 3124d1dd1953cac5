"""The page behind "More": every part of the site in a line, so that no other page has to list them all."""

from __future__ import annotations

from leaklore.language import gettext, later
from leaklore.pages import audience
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.sketches import sketches
from leaklore.pages.spec import Page

PLACES = later(
    (
        (
            "At the unit",
            (
                ("search/", "Search", "Start from what you see, hear or measure."),
                ("search/key/", "Key on paper", "Signs, causes and first checks, to print for the van."),
                ("guide/", "Guide", "How things fail, how leaks are found, and what signs mean."),
                ("places/#leaks", "Where units leak", "Sketches of units, with our leaks at each place."),
                ("guide/cautions/", "Cautions", "What can hurt, in full."),
                (
                    "bench/",
                    "Work bench",
                    "Leak rate, pressure tests, gas in the air, which technique sees it.",
                ),
                ("keep/", "Keep it on this phone", "Cases and guide for where there is no signal."),
            ),
        ),
        (
            "After the job",
            (
                ("record/", "Record a case", "The form for a new case."),
                ("cases/", "Cases", "Every case on record."),
                ("cases/newest/", "Newest cases", "What came last."),
                ("systems/", "Systems", "Every install and its leaks."),
                ("for-customers/", "For customers", "Plain sheets to hand over."),
            ),
        ),
        ("Training", (("reading/", "Reading", "Lists to read and exercises to do."),)),
        (
            "At the desk",
            (
                ("patterns/", "Patterns", "What keeps recurring, where, and whether it is real."),
                ("branches/", "Branches", "Cases by branch."),
                ("settings/", "Kinds of place", "Cases by kind of place."),
                ("data/", "Data", "Everything as files to take away."),
                ("feed.xml", "Feed", "The newest cases for a feed reader."),
            ),
        ),
        (
            "About the figures",
            (
                ("how-we-count/", "How we count", "What is counted, and how sure it is."),
                (
                    "how-far-to-trust/",
                    "How far to trust this",
                    "How well causes and checks were ranked so far.",
                ),
            ),
        ),
    )
)
"""(address, name, what it is for) by the time at which one wants it."""


def page(book: Book, templates: Templates) -> Page:
    """The page of all places."""
    url = "places/"
    whom = book.library.audience
    there = [(title, [row for row in rows if audience.shown(whom, row[0])]) for title, rows in PLACES]
    shown = [(title, rows) for title, rows in there if rows]
    body = templates.render("places.html", url, places=shown, sketches=sketches(book))
    return Page(
        url, gettext("All places"), gettext("Every part of this library, and what it is for."), body, "places"
    )
