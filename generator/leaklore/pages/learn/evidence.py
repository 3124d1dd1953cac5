"""What a learner has done, on this phone, and what a trainer sees of it."""

from __future__ import annotations

import json
from collections.abc import Mapping

from leaklore.language import gettext, later
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.learn.script_words import FIELDS, SHEETS, script_words
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page

MINE, TRAINER = "reading/mine/", "reading/trainer/"
VERSION = 1
"""Of data/learn/evidence.json."""
OTHER = later("Other")
_TOPICS = later(
    {
        "symptom": "Symptoms",
        "component": "Components",
        "refrigerant": "Refrigerants",
        "bench": "Work bench",
        "unknown": "Unknown cases",
        "questions": "Short questions",
    }
)
"""An unknown case stands under no failure mode: that would be its answer, before everybody has solved it."""
_SHARED = later(
    {
        "not-yet": "not yet",
        "no-connection": "The lists could not be loaded. Open this page again with signal; what is kept on this phone is "
        "safe.",
    }
)
SAYS_MINE: Mapping[str, str] = later(
    {
        **_SHARED,
        "offer-no-list": "The link names a list that this library does not have. Ask your trainer for a new link.",
        "offer-no-one": "The link names no initials. Ask your trainer for a new link.",
        "offer-no-day": "The link names a day that there is not. Ask your trainer for a new link.",
        "offer-for": "For {initials}.",
        "offer-size": "{items}, about {minutes} min.",
        "offer-other": "On this phone somebody with the initials {initials} has lists, too. What is done on this phone "
        "counts for both.",
        "due-on": "Due {day}.",
        "due-in": "Due {day}, in {days}",
        "due-today": "Due today",
        "late": "Due {day}, {days} late",
        "no-due": "No due day",
        "finished": "Finished {day}",
        "finished-late": "Finished {day}, after the due day",
        "done-of": "{done} of {of} done",
        "gone": "This library does not have the list any more.",
        "accepted": "It is yours now. Open the list and begin.",
        "taken-off": "“{title}” is off this phone; what you did in it stays.",
        "forgotten": "All of it is forgotten.",
        "back-now": "{questions} to answer today.",
        "back-none": "Nothing to answer today.",
        "back-later": "{questions} later, the next on {day}.",
        "none": "none",
        "not-finished": "not finished: {done} of {of} done",
        "no-score": "nothing was scored",
        "tries": "best of {n}",
        "tries-first": "first of {n}",
        "no-sheet": "No sheet can be made: {why}.",
        "share-title": "{title}: result of {initials}",
        "sent-shared": "Handed over. Whether it was sent, the other app knows.",
        "sent-file": "Saved as a file. Send it to your trainer by mail or message.",
        "sent-kept": "Not sent.",
    }
)
SAYS_TRAINER: Mapping[str, str] = later(
    {
        **_SHARED,
        "not-given": "was not given",
        "copied": "Copied.",
        "shared": "Handed over.",
        "copy-by-hand": "The browser refuses; the link is marked, copy it by hand.",
        "code-good": "A well-formed code of {initials} for {list}.",
        "code-no-list": "a list that this library does not have",
        "code-finished": "Finished {day}.",
        "code-open": "Not finished: {part} % of the items done.",
        "code-score": "{score} % of the points.",
        "code-no-score": "Nothing in it was scored.",
        "code-sheet": "It belongs to a sheet that you opened below, and fits it.",
        "code-alone": "Whether the sheet says the same, only its file can show: open it below.",
        "code-bad": "Not a code: {why}.",
        "pasted": "Pasted {n}",
        "nothing-pasted": "No sheet in what is pasted: a sheet begins with { and ends with }.",
        "took": "{right} of {all} taken.",
        "cleared": "Cleared.",
        "not-finished": "not finished",
        "due-on": "due {day}",
        "was-due": "was due {day}",
    }
)


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """The learner's page, the trainer's page, and the data that they need beside data/learn/lists.json."""
    pages = [
        _page(
            MINE,
            gettext("My reading"),
            gettext("What you were given, what is done and what comes back."),
            "mine",
            SAYS_MINE,
            templates,
        ),
        _page(
            TRAINER,
            gettext("For trainers"),
            gettext("Give a list, see who has read what."),
            "trainer",
            SAYS_TRAINER,
            templates,
        ),
    ]
    told = {
        "version": VERSION,
        "edition": book.today.isoformat(),
        "company": book.library.company.name,
        "topics": topics(book),
    }
    return pages, [
        DataFile("data/learn/evidence.json", json.dumps(told, ensure_ascii=False, indent=1).encode())
    ]


def topics(book: Book) -> dict[str, str]:
    """Topic of every item of every list: the failure mode or technique that it teaches, or its kind."""
    items = {item.name: item for listing in book.library.reading for item in listing.items}
    return {name: _topic(item.kind, item.key, book) for name, item in sorted(items.items())}


def _topic(kind: str, key: str, book: Book) -> str:
    lib = book.library
    if kind == "case":
        case = lib.by_id.get(key)
        return links.name_of("mode", case.cause.mode, lib) if case else gettext(OTHER)
    if kind in ("mode", "technique"):
        return links.name_of(kind, key, lib)
    return gettext(_TOPICS.get(kind, OTHER))


def _page(url: str, title: str, lead: str, name: str, says: Mapping[str, str], templates: Templates) -> Page:
    body = templates.render(f"{name}.html", url, says=[(key, gettext(text)) for key, text in says.items()])
    told = script_words(*SHEETS, *FIELDS.values())
    return Page(url, title, lead, body, "reading", head=templates.render("learn_head.html", url, told=told))
