"""Short questions: one page that asks, one file that it draws from, and questions for print."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from leaklore.analysis.advice import Adviser
from leaklore.analysis.questions.draw import MIXED, draw, topics
from leaklore.analysis.questions.material import Material, material
from leaklore.analysis.questions.question import REASON, Question, Write
from leaklore.language import foreign, gettext, later
from leaklore.pages import links
from leaklore.pages.bench import BENCHES
from leaklore.pages.bench_units import Dimension, Step, Writer, named, spoken
from leaklore.pages.bench_words import reasons, reworded
from leaklore.pages.book import Book
from leaklore.pages.learn.script_words import script_words
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.records.library import Library
from leaklore.trade.units import ATMOSPHERE, DAY, FOOT, HOUR, INCH, PSI, YEAR

URL = "reading/questions/"
PRINTED = 3
SEED = 7
"""Of the questions on the page without JavaScript."""
ASKED = 8
LETTERS = "ABCD"
MIXED_TITLE = later("Some of everything")
CAUTIONS = ("nitrogen-pressure", "never-oxygen", "flammable-refrigerant", "electricity")
SAYS = later(
    {
        "loading": "Loading the questions …",
        "broken": "The questions could not be loaded. {why} Those printed below work without it.",
        "no-connection": "The connection failed.",
        "no-answer": "The server answered {status}.",
        "editions": "This page and its questions are of different editions. Load the page again.",
        "unknown": "There is no such topic. Take one of these.",
        "none-due": "Nothing is due today. Take a topic.",
        "due": "{n} questions are due again",
        "due-one": "1 question is due again",
        "count": "{at} of {of}: {topic}",
        "several": "There may be more than one. Mark all, then check.",
        "mark-one": "Mark at least one, then check.",
        "mark-right": "Right",
        "mark-missed": "This one",
        "mark-wrong": "Not this",
        "right": "Right.",
        "wrong": "Not quite.",
        "not-all": "Not all of it.",
        "next": "Next question",
        "to-score": "To the score",
        "score": "{score} of {of} right",
        "all-right": "Every one. Take another topic, or the same with new numbers.",
        "come-back": "These come back tomorrow with new numbers:",
        "missed": "These went wrong:",
    }
)
"""What the script says, by key; `{slots}` are filled there."""


def _alike(*steps: Step) -> Dimension:
    return Dimension((), steps, steps)


MORE: Mapping[str, Dimension] = {
    "days": _alike(Step("days", DAY)),
    "count": _alike(Step("", 1, places=0)),
    "kilogram": _alike(Step("kg", 1)),
    "rough-share": _alike(Step("%", 0.01, digits=2)),
    "about-circuit": Dimension(
        (),
        (Step("in³", INCH**3, 0, FOOT**3, digits=2), Step("ft³", FOOT**3, digits=2)),
        (Step("litres", 1e-3, digits=2),),
    ),
    "rough": _alike(Step("", 1, digits=2)),
    "time": _alike(
        Step("s", 1, 0, 120, digits=2),
        Step("min", 60, 0, 2 * HOUR, digits=2),
        Step("h", HOUR, 0, 2 * DAY, digits=2),
        Step("days", DAY, 0, 2 * YEAR, digits=2),
        Step("years", YEAR, digits=2),
    ),
    "pressure": Dimension((), (Step("psig", PSI, ATMOSPHERE),), (Step("bar", 1e5, ATMOSPHERE),)),
    "absolute": Dimension((), (Step("psi absolute", PSI),), (Step("bar absolute", 1e5),)),
    "pressure-step": Dimension((), (Step("psi", PSI, digits=2),), (Step("bar", 1e5, digits=2),)),
    "temperature-step": Dimension((), (Step("°F", 5 / 9, digits=2),), (Step("K", 1, digits=2),)),
    "temperature": Dimension(
        (),
        (Step("°F", 5 / 9, 459.67 * 5 / 9, places=0),),
        (Step("°C", 1, 273.15, places=0),),
    ),
}
"""Ways to write a figure that the work bench has no use for, or that are shorter here."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A topic as it stands on the page without JavaScript."""

    key: str
    title: str
    questions: tuple[Question, ...]


def writer(library: Library) -> Write:
    """Writes figures of questions in the company's units."""
    writes = _writer(library)

    def written(value: float | str, dimension: str) -> str:
        return reworded(str(value)) if dimension == REASON else writes.write(value, dimension, "first")

    return written


def _writer(library: Library) -> Writer:
    company = library.company
    writes = Writer(company.units == "us", company.currency)
    writes.dimensions = {**writes.dimensions, **{key: named(d) for key, d in MORE.items()}}
    return writes


def questions_for_print(
    library: Library, topic: str, seed: int, n: int, adviser: Adviser | None = None
) -> tuple[Question, ...]:
    """At most `n` questions of a topic for a booklet; `adviser` is the book's, made anew where it is not given."""
    return draw(topic, seed, n, material(library, adviser, gettext), writer(library))


def link_of(key: str, library: Library) -> tuple[str, str]:
    """(address relative to the site's root, name) of what a question links to."""
    kind, _, name = key.partition(":")
    if kind == "bench":
        bench = next(b for b in BENCHES if b.key == name)
        return bench.url, gettext("Work bench: {title}").format(title=gettext(bench.title))
    return links.address(kind, name), links.name_of(kind, name, library)


def _links(found: Material, library: Library) -> dict[str, tuple[str, str]]:
    """Everything that a question of this library may link to."""
    names = found.content["names"]
    keys = [f"{kind}:{key}" for kind in ("technique", "mode", "component") for key in names[kind]]
    keys += [f"bench:{b.key}" for b in BENCHES]
    keys += [f"case:{test['case']}" for test in found.content["holds"]]
    return {key: link_of(key, library) for key in dict.fromkeys(keys)}


def data_file(found: Material, titles: Mapping[str, str], library: Library) -> DataFile:
    """`data/learn/questions.json`: what the browser draws the same questions from."""
    writes = _writer(library)
    units = {
        "us_first": writes.us_first,
        "dimensions": {key: asdict(d) for key, d in writes.dimensions.items()},
        **(spoken() if foreign() else {}),
    }
    content: dict[str, Any] = {
        **found.content,
        "asks": list(titles),
        "units": units,
        "links": _links(found, library),
        **({"says": reasons()} if foreign() else {}),
    }
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return DataFile("data/learn/questions.json", (text + "\n").encode())


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """The page and its data."""
    library = book.library
    found, write = material(library, book.adviser, gettext), writer(library)
    titles = topics(found, write, PRINTED)
    printed = [Printed(key, title, draw(key, SEED, PRINTED, found, write)) for key, title in titles.items()]
    lead = gettext(
        "Figures, readings and cases of our own. Each answer says why, and the numbers are new each time."
    )
    body = templates.render(
        "questions.html",
        URL,
        lead=lead,
        topics=printed,
        n=ASKED,
        mixed=MIXED,
        mixed_title=gettext(MIXED_TITLE),
        letters=LETTERS,
        says=[(key, gettext(text)) for key, text in SAYS.items()],
        cautions=CAUTIONS,
        link_of=lambda key: link_of(key, library),
    )
    head = templates.render("questions_head.html", URL, told=script_words())
    page = Page(URL, gettext("Short questions"), lead, body, "reading", head=head)
    return [page], [data_file(found, titles, library)]
