"""What the scripts of the section say by themselves: they have it in English, another language comes with the page."""

from __future__ import annotations

from leaklore.language import foreign, gettext, later

PROGRESS = later(
    (
        "Done {score} of {of}",
        "Done {day}",
        "Read {day}",
        "Not done after all",
        "I have done this",
        "Not read after all",
        "I have read this",
        "{done} of {of} done on this phone.",
        "{done} of {of} done on this phone, due {day}.",
        "This browser keeps nothing, maybe because this is a private window: what you do here is lost when you leave the page.",
        "The phone is full: what you do now is lost when you leave the page. Make room and do the last thing again.",
        "What was kept of your reading could not be read. It was put aside, and a new record begins.",
        "A newer library has kept your reading on this phone, and this page can't read it. Nothing is changed. Load the page again with signal.",
    )
)
"""Of an item and of a list, on every page."""
SHEETS = later(
    (
        "1 item",
        "{n} items",
        "1 day",
        "{n} days",
        "1 question",
        "{n} questions",
        "1 sheet",
        "{n} sheets",
        "{score} of {of}",
        "{done} of {of}",
        "Topic and item",
        "Other",
        "it was altered after it was made: its code does not fit what it says",
        "it comes from another library: {company}",
        'this library has no list "{list}"',
        '{name}: there are two sheets of {initials} for "{title}"; the one with more done is shown.',
        '{name}: the list "{title}" has changed since; the sheet is of the library of {edition}.',
        "a code has {long} letters and digits, and this has {n}",
        '"{sign}" is in no code; look again',
        "a sign is wrong, or two are swapped; look again",
        "it is a code of another version",
        "it carries what no sheet has",
        "it has {n} bytes, more than a result sheet can have ({most})",
        "it is no result sheet: it can't be read as JSON",
        "it is no result sheet",
        "it is a result sheet of another version than {version}; build the site anew",
        "its code is no text",
        "it has no list of 1 to {most} items",
        "it has an item twice",
        "its finished day is not that of its last item",
        "the sheet has no {key}",
        "the sheet has more than a result sheet has",
        "item {n} has no {key}",
        "item {n} has more than a result sheet has",
        "item {n} is none",
        "item {n} is done and not done",
        "the score of item {n} can't be",
        "its key of item {n} can't be",
        "its list can't be",
        "its initials can't be",
        "its {what} is no whole number up to {most}",
        "its {what} is no text of up to {most} letters",
        "its {what} is no day",
    )
)
"""Of result sheets and codes, on the learner's page and the trainer's."""
FIELDS = later(
    {
        "company": "company",
        "title": "title",
        "edition": "edition",
        "due": "due",
        "finished": "finished",
        "again": "again",
        "item-title": "title of item {n}",
        "item-done": "done of item {n}",
        "item-score": "score of item {n}",
        "item-of": "whole of item {n}",
        "item-tries": "tries of item {n}",
        "item-minutes": "minutes of item {n}",
    }
)
"""What a sheet has, in the slot `what` of a sentence above."""


def script_words(*more: str) -> dict[str, str]:
    """English -> the language of the site, for the script of a page: of progress and `more`; empty in English."""
    return {text: gettext(text) for text in (*PROGRESS, *more)} if foreign() else {}
