"""How far to trust the search: how its ranking and its order of checks did on the company's own proven cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log

from leaklore.analysis.evaluate import GUESSES, LONGEST, Reliability, Scores, Searches, Trust
from leaklore.analysis.intervals import FEW, Share, Spread
from leaklore.language import gettext, later
from leaklore.pages import charts, display
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page

URL = "how-far-to-trust/"
WAYS = later(
    {
        "Leaklore": (
            "Leaklore",
            "The search of this site: every finding weighed by the guide and by our other cases.",
        ),
        "How common each cause is": (
            "How common each cause is",
            "The same list for every job, the commonest cause first. It looks at no finding.",
        ),
        "Naive Bayes": (
            "Naive Bayes",
            "A plain textbook method. It counts how often each finding was noted with each cause and takes every "
            "finding for a fact of its own, as if oil and hissing had nothing to do with each other.",
        ),
        "Words alone": (
            "Words alone",
            "A plain text search (BM25) for the names of the findings in our other cases. The cause of the case "
            "that fits best is its first guess, and it is told how often such guesses were right.",
        ),
    }
)
"""By the name that the evaluation gives: name and what it is."""
ORDERS = later(
    {
        "Our order": (
            "Our order",
            "The checks in the order that the search page gives, planned anew after every result.",
        ),
        "The crew's own order": (
            "The crew’s own order",
            "The checks that the crew made on that job, in its own order, with the same chances and minutes.",
        ),
        "One round for every job": (
            "One round for every job",
            "A look over every area, then detector and bubbles at every part, the parts that leak most "
            "first.",
        ),
    }
)
SHAPES = later(
    {
        "as-said": "as often as said",
        "more": "more often than said",
        "less": "less often than said",
        "few": "too few to tell",
    }
)


@dataclass(frozen=True, slots=True)
class Way:
    """A row of the ranking: one way to rank causes, its figures written."""

    name: str
    text: str
    cases: int
    first: str
    first_doubt: str
    three: str
    three_doubt: str
    log_loss: str
    brier: str


@dataclass(frozen=True, slots=True)
class Said:
    """A row behind a dot of the diagram."""

    band: str
    n: int
    said: str
    true: int
    came: str
    doubt: str
    shape: str
    word: str


@dataclass(frozen=True, slots=True)
class Minutes:
    """A row of the simulated searches."""

    name: str
    text: str
    median: str
    doubt: str
    mean: str
    within_30: str
    within_60: str


def page(book: Book, templates: Templates) -> Page:
    """The page; a library with fewer than FEW proven cases gets one that says what will stand there."""
    counted = len(book.library.counted)
    trust = book.trust if counted >= FEW else None
    body = templates.render(
        "trust.html",
        URL,
        counted=counted,
        few=FEW,
        found=_found(trust, book) if trust else None,
    )
    lead = gettext(
        "How often the search named the right cause, whether its percentages hold, and how soon its checks find a leak."
    )
    return Page(URL, gettext("How far to trust this"), lead, body, "")


def _found(trust: Trust, book: Book) -> dict[str, object]:
    modes = len(trust.left_out.modes)
    said = list(_said(trust))
    return {
        "ways": [_way(s) for s in trust.ranking],
        "lead": _lead(trust),
        "modes": modes,
        "judged": len(trust.left_out.of),
        "blind": f"{log(modes):.2f}",
        "guesses": GUESSES,
        "said": said,
        "shapes": [
            (shape, gettext(word)) for shape, word in SHAPES.items() if any(r.shape == shape for r in said)
        ],
        "chart": charts.said_chart([(r.said, r.true, shape_of(r)) for r in trust.reliability]),
        "orders": [_minutes(s) for s in trust.searches],
        "took": _took(trust.took),
        "searched": trust.searched,
        "enough": trust.took is not None and not trust.took.few,
        "longest": display.minutes(LONGEST),
        "strength": round(book.adviser.causes.strength),
    }


def _between(low: float, high: float) -> str:
    return _to(display.percent(low), display.percent(high))


def _to(low: str, high: str) -> str:
    return gettext("{low} to {high}").format(low=low, high=high)


def _share(found: Share | None) -> tuple[str, str]:
    if found is None:
        return "", ""
    return display.percent(found.value), gettext("{k} of {n}; {between}").format(
        k=found.k, n=found.n, between=_between(found.low, found.high)
    )


def _way(s: Scores) -> Way:
    name, text = map(gettext, WAYS[s.name])
    return Way(name, text, s.cases, *_share(s.top1), *_share(s.top3), f"{s.log_loss:.2f}", f"{s.brier:.2f}")


def _lead(trust: Trust) -> str:
    """The figure that a technician asks for first."""
    ours = trust.ranking[0]
    assert ours.top1 is not None
    assert ours.top3 is not None
    return gettext(
        "Of {n} proven cases the search put the right cause first in {first} and among its first three "
        "in {three}. In {rest} it did not: there the page would have sent you elsewhere first."
    ).format(n=ours.cases, first=ours.top1.k, three=ours.top3.k, rest=ours.cases - ours.top3.k)


def shape_of(r: Reliability) -> str:
    """Does what was said lie inside the interval of what came true?"""
    if r.true.few:
        return "few"
    if r.said < r.true.low:
        return "more"
    return "less" if r.said > r.true.high else "as-said"


def _said(trust: Trust) -> Iterator[Said]:
    for r in trust.reliability:
        shape = shape_of(r)
        yield Said(
            _between(r.low, r.high),
            r.true.n,
            f"{100 * r.said:.1f}{display.NARROW}%",
            r.true.k,
            f"{100 * r.true.value:.1f}{display.NARROW}%",
            _to(f"{100 * r.true.low:.1f}", f"{100 * r.true.high:.1f}{display.NARROW}%"),
            shape,
            gettext(SHAPES[shape]),
        )


def _interval(found: Spread) -> str:
    if found.low is None or found.high is None:
        return gettext("too few for an interval")
    return _to(display.minutes(found.low), display.minutes(found.high))


def _minutes(s: Searches) -> Minutes:
    assert s.minutes is not None
    name, text = map(gettext, ORDERS[s.name])
    return Minutes(
        name,
        text,
        display.minutes(s.minutes.median),
        _interval(s.minutes),
        display.minutes(s.mean),
        display.percent(s.within_30),
        display.percent(s.within_60),
    )


def _took(found: Spread | None) -> str:
    """What the crews' own clocks say."""
    if found is None:
        return ""
    return gettext("{median} in the middle ({interval}), half of them between {low} and {high}").format(
        median=display.minutes(found.median),
        interval=_interval(found),
        low=display.minutes(found.q1),
        high=display.minutes(found.q3),
    )
