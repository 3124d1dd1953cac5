"""Reading lists: what a trainer assigns, in order, with the minutes it takes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import ceil

from markupsafe import Markup

from leaklore.analysis.questions.words import TOPICS
from leaklore.analysis.unknown import Unknown
from leaklore.language import gettext, later
from leaklore.pages import links
from leaklore.pages.bench import BENCHES
from leaklore.pages.book import Book
from leaklore.pages.learn import questions, unknown
from leaklore.pages.learn.script_words import script_words
from leaklore.pages.markup import Prose
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.records.guide import REF_KINDS, Entry
from leaklore.records.model import Case, ReadingItem, ReadingList, Taken

VERSION = 1
"""Of data/learn/lists.json."""
WORDS_A_MINUTE = 180
"""Reading speed for a page that has to be remembered.

Adults read English non-fiction in silence at 238 words a minute, most of them at 175 to 300 (M. Brysbaert, How many
words do we read per minute?, Journal of Memory and Language 109, 2019, 104047; from memory). Reading to learn is slower
than reading to follow, 200 against 300 words a minute, and 138 to learn by heart (R. P. Carver, Reading rate, Journal of
Reading 36, 1992; from memory). A guide page has figures to weigh and cautions to keep: the slow end of the first range,
and below the 200 of the second.
"""
ROW = 0.1
"""Minutes for a line of a table: a search step, a reading, a later look (judgement, no source)."""
FIELD = 0.5
"""Minutes for a field of the work bench, with its answer (judgement, no source)."""
CHECK = 2.0
"""Minutes for a check of an exercise: choose it, read what it says, think (judgement, no source)."""
QUESTION = 1.0
"""Minutes for a question and its explanation (judgement, no source)."""
EXERCISES = ("bench", "unknown", "questions")
NOUNS = later(
    {
        "mode": "Failure mode",
        "technique": "Technique",
        "symptom": "Symptom",
        "component": "Component",
        "refrigerant": "Refrigerant",
        "bench": "Work bench",
        "unknown": "Unknown case",
        "questions": "Short questions",
    }
)
ABOUT = later({"modes": "of {names}", "settings": "from {names}", "techniques": "searched with {names}"})
WRITTEN = later(
    {
        "apprentice": "written for apprentices",
        "technician": "written for technicians",
        "lead": "written for lead technicians",
    }
)
PROVEN = later(
    {
        "section": "narrowed to a section at least",
        "point": "pinpointed and confirmed",
        "held": "with a repair that held",
    }
)
BENCH = {bench.key: bench for bench in BENCHES}
_PROSE = ("summary", "look", "ask", "pressure", "customer")
"""Facts of a guide's entry that its page shows as prose, beside its body."""


@dataclass(frozen=True, slots=True)
class Shown:
    """An item as a list shows it; `url` is relative to the site's root, `minutes` whole."""

    item: ReadingItem
    title: str
    what: str
    url: str
    minutes: int


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """The pages of all lists, and the lists as data."""
    found = exercises(book, book.library.reading)
    lists = [(listing, shown(listing, book, found)) for listing in book.library.reading]
    return [*_pages(lists, templates)], [data(book, lists)]


def exercises(book: Book, lists: Iterable[ReadingList]) -> dict[str, Unknown]:
    """The unknown cases that lists name, by number; nothing is computed where they name none."""
    named = {i.key for listing in lists for i in listing.items if i.kind == "unknown"}
    return {key: u for key, u in book.exercises.items() if key in named} if named else {}


def shown(listing: ReadingList, book: Book, found: Mapping[str, Unknown]) -> list[Shown]:
    """The items of a list, in order; `found` are the exercises that it names."""
    return [_shown(item, book, found) for item in listing.items]


def reading_minutes(item: ReadingItem, book: Book) -> int:
    """Minutes that an item takes: its words at `WORDS_A_MINUTE`, and what is to be done on top; at least 1."""
    lib = book.library
    if item.kind == "questions":
        return ceil(questions.ASKED * QUESTION)
    if item.kind == "bench":
        bench = BENCH[item.key]
        asked = sum(len(group.fields) for group in bench.groups if not group.folded)
        return _minutes((bench.lead, bench.question), asked * FIELD)
    if item.kind in REF_KINDS:
        return _minutes(_said(lib.guide.entries(item.kind)[item.key], book))
    case = lib.by_id[item.key]
    if item.kind == "unknown":
        return ceil(len(case.search) * CHECK)
    return _minutes(_told(case), ROW * (len(case.search) + len(case.readings) + len(case.follow_up)))


def data(book: Book, lists: Iterable[tuple[ReadingList, list[Shown]]]) -> DataFile:
    """`data/learn/lists.json`: what the progress on a phone and the tools of trainers read."""
    told = [
        {
            "key": listing.key,
            "title": Prose.plain(listing.title),
            "audience": Prose.plain(listing.audience),
            "level": listing.level,
            "due_days": listing.due_days,
            "minutes": sum(i.minutes for i in items),
            "able_to": [Prose.plain(text) for text in listing.able_to],
            "items": [
                {
                    "key": i.item.name,
                    "title": i.title,
                    "what": i.what,
                    "url": i.url,
                    "minutes": i.minutes,
                    "why": Prose.plain(i.item.why),
                }
                for i in items
            ],
        }
        for listing, items in lists
    ]
    content = {"version": VERSION, "edition": book.today.isoformat(), "lists": told}
    return DataFile(
        "data/learn/lists.json",
        (json.dumps(content, ensure_ascii=False, separators=(",", ":")) + "\n").encode(),
    )


def _pages(lists: Iterable[tuple[ReadingList, list[Shown]]], templates: Templates) -> Iterator[Page]:
    """A page for each list, and the page that names them all."""
    cards = []
    for listing, items in lists:
        total = sum(i.minutes for i in items)
        url = links.address("reading", listing.key)
        body = templates.render(
            "reading_list.html",
            url,
            list=listing,
            items=items,
            total=total,
            level=gettext(unknown.LEVELS[listing.level]),
            speed=WORDS_A_MINUTE,
            takes=takes(listing.taken, templates.book) if listing.taken else "",
        )
        about = gettext("Reading list: {audience}.").format(audience=Prose.plain(listing.audience))
        yield Page(url, Prose.plain(listing.title), about, body, "reading", head=_head(url, templates))
        cards.append((listing, total, [i for i in items if i.item.kind in EXERCISES]))
    lead = gettext("Guide pages, real cases and exercises in the order in which they teach best.")
    groups = [
        (gettext(label), [c for c in cards if c[0].level == level]) for level, label in unknown.LEVELS.items()
    ]
    url = "reading/"
    body = templates.render("reading.html", url, groups=[g for g in groups if g[1]], lead=lead)
    yield Page(url, gettext("Reading"), lead, body, "reading", head=_head(url, templates))


def takes(taken: Taken, book: Book) -> str:
    """What a list takes by itself, as a sentence."""
    name = book.library.vocabulary.name
    parts = []
    for kind, keys in (
        ("modes", taken.modes),
        ("settings", taken.settings),
        ("techniques", taken.techniques),
    ):
        if keys:
            names = gettext(" or ").join(name(kind, key).lower() for key in keys)
            parts.append(gettext(ABOUT[kind]).format(names=names))
    if taken.level:
        parts.append(gettext(WRITTEN[taken.level]))
    if taken.at_least_proof != "suspected":
        parts.append(gettext(PROVEN[taken.at_least_proof]))
    told = gettext("This list takes the newest case")
    if taken.newest > 1:
        told = gettext("This list takes the newest {n} cases").format(n=taken.newest)
    return f"{told}{' ' if parts else ''}{', '.join(parts)}."


def _head(url: str, templates: Templates) -> Markup:
    return templates.render("learn_head.html", url, told=script_words())


def _shown(item: ReadingItem, book: Book, found: Mapping[str, Unknown]) -> Shown:
    minutes = reading_minutes(item, book)
    what = gettext(NOUNS[item.kind]) if item.kind in NOUNS else gettext("Case {id}").format(id=item.key)
    if item.kind == "bench":
        return Shown(item, gettext(BENCH[item.key].title), what, BENCH[item.key].url, minutes)
    if item.kind == "questions":
        return Shown(item, gettext(TOPICS[item.key]), what, f"{questions.URL}?topic={item.key}", minutes)
    if item.kind == "unknown":
        exercise = found[item.key]
        return Shown(item, unknown.title(exercise, book), what, f"{unknown.URL}?case={item.key}", minutes)
    title = Prose.plain(links.name_of(item.kind, item.key, book.library))
    return Shown(item, title, what, links.address(item.kind, item.key), minutes)


def _said(entry: Entry, book: Book) -> Iterator[str]:
    """The prose of a guide page: its text, what fools the technique, and the cautions."""
    yield entry.body
    for key in _PROSE:
        yield str(entry[key] or "")
    yield from entry["fooled_by"] or ()
    for key in entry["cautions"] or ():
        yield book.library.guide.cautions[key]["text"]


def _told(case: Case) -> Iterator[str]:
    """The prose of a case."""
    yield from (case.title, case.story, case.lesson or "", case.advice or "")
    yield from (step.note or "" for step in case.search)
    yield from (reading.note or "" for reading in case.readings)
    yield from (look.note or "" for look in case.follow_up)


def _minutes(texts: Iterable[str], more: float = 0.0) -> int:
    words = sum(len(Prose.plain(text).split()) for text in texts)
    return max(1, ceil(words / WORDS_A_MINUTE + more))
