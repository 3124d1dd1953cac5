"""A key for the van: two printed sheets that lead from a symptom to causes and a first check, from the same model.

One symptom alone is little: the search weighs all of them with the equipment, and what was checked. The key is for
where no phone works.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leaklore.analysis.advice import UNSURE, Adviser
from leaklore.analysis.evidence import Evidence
from leaklore.analysis.order import Order
from leaklore.analysis.places import Hypothesis
from leaklore.language import gettext, later
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.markup import Prose, shorten
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page
from leaklore.records.guide import Entry

URL = "search/key/"
TITLE = later("Key for the van")
SYMPTOMS = 24
CAUSES, PLACES = 3, 2
TELL_TALE, ENOUGH = 130, 60
"""Letters of a tell-tale: what the printed column holds in two lines, and from which one sentence is enough."""
_HEADING = re.compile(r"^## Tell-tales\s*$(.*?)(?=^## |\Z)", re.MULTILINE | re.DOTALL)
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")


@dataclass(frozen=True, slots=True)
class Likely:
    """A cause with its probability after the symptom alone."""

    mode: str
    share: float


@dataclass(frozen=True, slots=True)
class Do:
    """A check: technique, place and minutes of its first use."""

    technique: str
    at: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Seen:
    """A row of the first sheet; `told` is how much the symptom moves the probabilities, in nats."""

    symptom: str
    told: float
    causes: tuple[Likely, ...]
    check: Do | None

    @property
    def sure(self) -> bool:
        """Does the symptom alone speak for a cause, by the search's own measure?"""
        return self.causes[0].share >= UNSURE


@dataclass(frozen=True, slots=True)
class Found:
    """A row of the second sheet."""

    mode: str
    cases: int
    places: tuple[str, ...]
    check: Do | None
    tell_tale: str
    cautions: tuple[str, ...]


def moved(adviser: Adviser, symptom: str) -> tuple[float, npt.NDArray[np.float64]]:
    """How far a symptom alone moves the causes' probabilities (Kullback and Leibler's divergence, nats), and to where."""
    before = np.array(adviser.causes.weigh(Evidence()))
    after = np.array(adviser.causes.weigh(Evidence(symptoms=frozenset({symptom}))))
    before, after = before / before.sum(), after / after.sum()
    return float((after * np.log(after / before)).sum()), after


def seen(adviser: Adviser, symptoms: list[str], most: int = SYMPTOMS) -> list[Seen]:
    """Rows of the first sheet: the symptoms that tell causes apart best, in the order given."""
    told = {s: moved(adviser, s)[0] for s in symptoms}
    kept = set(sorted(symptoms, key=lambda s: -told[s])[:most])
    rows = []
    for symptom in symptoms:
        if symptom not in kept:
            continue
        evidence = Evidence(symptoms=frozenset({symptom}))
        joint = adviser.joint(evidence)
        likely = tuple(Likely(c.mode, c.probability) for c in adviser.rank(joint)[:CAUSES])
        plan = adviser.order.plan(joint, evidence, ahead=1).checks
        first = Do(plan[0].technique, plan[0].at, plan[0].minutes) if plan else None
        rows.append(Seen(symptom, told[symptom], likely, first))
    return rows


def best_check(order: Order, mode: str, place: str) -> Do | None:
    """The check that points at a leak of that mode at that place with the highest chance a minute.

    What strips the place takes longer; where the place is no part but an area, the check goes over the area.
    """
    board = order.board([Hypothesis(mode, place, 1.0)], Evidence())
    options = [
        (chances[0][1] / c.first, c)
        for c in board.candidates
        if c.place == place and order.techniques[c.technique].finds == "points" and (chances := c.chances)
    ]
    if not options:
        return None
    best = max(options, key=lambda o: o[0])[1]
    return Do(best.technique, best.place, best.first)


def tell_tale(entry: Entry) -> str:
    """The first sentence of the guide's tell-tales (the summary where it has none), with the next if it is short."""
    section = _HEADING.search(entry.body)
    text = Prose.plain(section[1].strip() if section else str(entry["summary"] or ""))
    sentences = _SENTENCE.split(" ".join(text.split()))
    few = len(sentences[0]) < ENOUGH
    return shorten(" ".join(sentences[: 2 if few else 1]), TELL_TALE)


def found(book: Book) -> list[Found]:
    """Rows of the second sheet: every failure mode, the commonest of the company's cases first."""
    guide, order = book.library.guide, book.adviser.order
    cases = Counter(c.cause.mode for c in book.library.counted)
    rows = []
    for key in sorted(guide.modes, key=lambda m: -cases[m]):
        entry = guide.modes[key]
        places = sorted(order.places.shares(key, ()), key=lambda s: (-s[1], s[0]))
        names = tuple(p for p, _ in places[:PLACES])
        check = best_check(order, key, names[0]) if names else None
        rows.append(Found(key, cases[key], names, check, tell_tale(entry), tuple(entry["cautions"] or ())))
    return rows


def page(book: Book, templates: Templates) -> Page:
    """Both sheets on one page."""
    guide = book.library.guide
    first = seen(book.adviser, list(guide.symptoms))
    second = found(book)
    checks = [*(row.check for row in first), *(row.check for row in second)]
    used = {check.technique for check in checks if check}
    cautions = {c for t in used for c in guide.techniques[t]["cautions"] or ()}
    cautions |= {c for row in second for c in row.cautions}
    body = templates.render(
        "search_key.html",
        URL,
        seen=first,
        found=second,
        counted=len(book.library.counted),
        cautions=[c for c in guide.cautions if c in cautions],
        printed=display.day(book.today),
    )
    lead = gettext(
        "From what you see to the likely cause and the first check, on two sheets of A4 for where no phone works."
    )
    return Page(URL, gettext(TITLE), lead, body, "search")
