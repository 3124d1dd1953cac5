"""A reading list as one booklet: guide pages, cases on a page each, exercises with room to write, answers at the back."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape, unescape
from typing import Any

from markupsafe import Markup

from leaklore.analysis.questions.question import Question
from leaklore.analysis.unknown import Unknown
from leaklore.errors import LeakloreError
from leaklore.language import gettext
from leaklore.pages import case as case_page
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.learn import lists, questions, unknown
from leaklore.pages.render import Templates, marks, styles
from leaklore.pages.spec import Fact
from leaklore.records.library import Library
from leaklore.records.model import Case, ReadingList
from leaklore.records.near import did_you_mean

STYLES = ("tokens", "base", "shell", "prose", "facts", "tables", "cautions", "print")
"""Parts of the stylesheet that a booklet needs, in the order of the site's."""
STORY = 270
"""Words of a case's story that fit on its page beside a short search (measured on Letter and A4)."""
A_STEP = 20
"""Words of the story that each search step beyond the third takes away."""
LEAST = 90
"""Words of a story that are printed in any case."""
ROOM = 8
"""Lines for checks under an unknown case."""
LETTERS = "ABCDEFGH"
_STOP = re.compile(r"(?<=[.!?])\s+")


@dataclass(frozen=True, slots=True)
class Part:
    """One item in the booklet; `number` is its place in the list, `mark` its anchor, `content` what its template reads."""

    number: int
    shown: lists.Shown
    mark: str
    content: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question on paper: choices with their letters, and the letters of the right ones."""

    question: Question
    choices: tuple[tuple[str, str], ...]
    right: str


@dataclass(frozen=True, slots=True)
class Made:
    """The booklet, and what it holds in figures for machines."""

    html: str
    facts: Mapping[str, str | int]


def chosen(library: Library, key: str) -> ReadingList:
    """The list of a key. Raises LeakloreError with the nearest key where there is none."""
    known = {listing.key: listing for listing in library.reading}
    if not known:
        raise LeakloreError("the library has no reading list; write one into reading/ beside the records")
    if key not in known:
        raise LeakloreError(
            f'there is no reading list "{key}"; {did_you_mean(key, known, "write " + ", ".join(known))}'
        )
    return known[key]


def made(listing: ReadingList, book: Book) -> Made:
    """Makes the booklet of a list as one HTML file that needs nothing beside it.

    Questions are drawn from the list's key, so that a booklet printed anew asks the same.
    """
    templates = Templates(book)  # first: what follows speaks its language
    items = lists.shown(listing, book, found := lists.exercises(book, [listing]))
    parts = [
        Part(n, item, f"item-{n}", _content(item, listing, book, found)) for n, item in enumerate(items, 1)
    ]
    inside = {p.shown.url: f"#{p.mark}" for p in parts if p.shown.item.kind not in lists.EXERCISES}
    css = styles(STYLES)
    html = templates.render(
        "booklet.html",
        "",
        list=listing,
        level=gettext(unknown.LEVELS[listing.level]),
        parts=parts,
        total=sum(i.minutes for i in items),
        cautions=_cautions(parts, book),
        room=range(ROOM),
        css=Markup(css),
        marks=marks(),
    )
    kinds = [p.shown.item.kind for p in parts]
    facts: dict[str, str | int] = {
        "list": listing.key,
        "items": len(parts),
        "cases": kinds.count("case"),
        "exercises": sum(kind in lists.EXERCISES for kind in kinds),
        "minutes": sum(i.minutes for i in items),
    }
    return Made(led(str(html), inside, book.library.company.site_url or ""), facts)


def led(html: str, inside: Mapping[str, str], site: str) -> str:
    """Links where paper and a lone file can follow them: inside the booklet, else on the published site, else as text.

    `inside` gives the anchor of each address of the site (relative to its root) that the booklet holds.
    """

    def lead(hit: re.Match[str]) -> str:
        to, text = unescape(hit[1]).removeprefix("./"), hit[2]
        if to.startswith("#"):
            return hit[0]
        if to in inside:
            return f'<a href="{inside[to]}">{text}</a>'
        return f'<a href="{escape(site.rstrip("/") + "/" + to)}">{text}</a>' if site else text

    return links.ANCHOR.sub(lead, html)


def shortened(story: str, words: int) -> tuple[str, bool]:
    """A story of at most `words` words, cut behind a sentence, paragraphs kept; and whether something was cut.

    The first sentence stays whole, however long it is.
    """
    kept: list[str] = []
    left = words
    for paragraph in story.strip().split("\n\n"):
        taken: list[str] = []
        for sentence in _STOP.split(paragraph.strip()):
            left -= len(sentence.split())
            if left < 0 and (kept or taken):
                return "\n\n".join([*kept, *([" ".join(taken)] if taken else [])]), True
            taken.append(sentence)
        kept.append(" ".join(taken))
    return "\n\n".join(kept), False


def _content(
    item: lists.Shown, listing: ReadingList, book: Book, found: Mapping[str, Unknown]
) -> dict[str, Any]:
    key, lib = item.item.key, book.library
    match item.item.kind:
        case "case":
            return _case(lib.by_id[key], book)
        case "unknown":
            return _unknown(found[key], book)
        case "bench":
            bench = lists.BENCH[key]
            asked = [f for group in bench.groups if not group.folded for f in group.fields]
            return {"bench": bench, "fields": asked, "cautions": bench.cautions}
        case "questions":
            seed = zlib.crc32(f"{listing.key} {key}".encode())
            drawn = questions.questions_for_print(lib, key, seed, questions.ASKED, book.adviser)
            return {"asked": [_asked(question) for question in drawn], "cautions": ()}
        case kind:
            entry = lib.guide.entries(kind)[key]
            return {"entry": entry, "cautions": entry["cautions"] or ()}


def _case(case: Case, book: Book) -> dict[str, Any]:
    steps = case_page.steps(case, book)
    story, cut = shortened(case.story, max(LEAST, STORY - A_STEP * max(0, len(steps) - 3)))
    unit = [f for f in case_page.facts(case, book, "") if f.label != gettext("Cost")]
    return {
        "case": case,
        "unit": [Fact(f.label, f.value, f.more) for f in unit],
        "steps": steps,
        "story": story,
        "cut": cut,
        "hold": case_page.hold(case, book),
        "cautions": case_page.cautions(case, book),
    }


def _unknown(exercise: Unknown, book: Book) -> dict[str, Any]:
    case = exercise.case
    return {
        "case": case,
        "unit": unknown.facts(case, book),
        "steps": case_page.steps(case, book),
        "exercise": exercise,
        "cautions": case_page.cautions(case, book),
    }


def _asked(question: Question) -> Asked:
    choices = tuple(zip(LETTERS, question.choices, strict=False))
    return Asked(question, choices, ", ".join(LETTERS[i] for i in question.right))


def _cautions(parts: Iterable[Part], book: Book) -> list[str]:
    """Every caution that something in the booklet calls for, in the order of the guide."""
    wanted = {key for part in parts for key in part.content["cautions"]}
    return [key for key in book.library.guide.cautions if key in wanted]
