"""How far to trust the search: how its ranking and its order of checks did on the company's own proven cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log

from leaklore.analysis.evaluate import GUESSES, LONGEST, Reliability, Scores, Searches, Trust
from leaklore.analysis.intervals import FEW, Share, Spread
from leaklore.pages import charts, display
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page

URL = "how-far-to-trust/"
TITLE = "How far to trust this"
WAYS = {
    "Leaklore": "The search of this site: every finding weighed by the guide and by our other cases.",
    "How common each cause is": "The same list for every job, the commonest cause first. It looks at no finding.",
    "Naive Bayes": "A plain textbook method. It counts how often each finding was noted with each cause and takes every "
    "finding for a fact of its own, as if oil and hissing had nothing to do with each other.",
    "Words alone": "A plain text search (BM25) for the names of the findings in our other cases. The cause of the case "
    "that fits best is its first guess, and it is told how often such guesses were right.",
}
ORDERS = {
    "Our order": "The checks in the order that the search page gives, planned anew after every result.",
    "The crew's own order": "The checks that the crew made on that job, in its own order, with the same chances and minutes.",
    "One round for every job": "A look over every area, then detector and bubbles at every part, the parts that leak most "
    "first.",
}
SHAPES = {
    "as-said": "as often as said",
    "more": "more often than said",
    "less": "less often than said",
    "few": "too few to tell",
}


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
    lead = "How often the search named the right cause, whether its percentages hold, and how soon its checks find a leak."
    return Page(URL, TITLE, lead, body, "")


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
        "shapes": [(shape, word) for shape, word in SHAPES.items() if any(r.shape == shape for r in said)],
        "chart": charts.said_chart([(r.said, r.true, shape_of(r)) for r in trust.reliability]),
        "orders": [_minutes(s) for s in trust.searches],
        "took": _took(trust.took),
        "searched": trust.searched,
        "enough": trust.took is not None and not trust.took.few,
        "longest": display.minutes(LONGEST),
        "strength": round(book.adviser.causes.strength),
    }


def _between(low: float, high: float) -> str:
    return f"{display.percent(low)} to {display.percent(high)}"


def _share(found: Share | None) -> tuple[str, str]:
    if found is None:
        return "", ""
    return display.percent(found.value), f"{found.k} of {found.n}; {_between(found.low, found.high)}"


def _way(s: Scores) -> Way:
    return Way(
        s.name, WAYS[s.name], s.cases, *_share(s.top1), *_share(s.top3), f"{s.log_loss:.2f}", f"{s.brier:.2f}"
    )


def _lead(trust: Trust) -> str:
    """The figure that a technician asks for first."""
    ours = trust.ranking[0]
    assert ours.top1 is not None
    assert ours.top3 is not None
    return (
        f"Of {ours.cases} proven cases the search put the right cause first in {ours.top1.k} and among its first three "
        f"in {ours.top3.k}. In {ours.cases - ours.top3.k} it did not: there the page would have sent you elsewhere first."
    )


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
            f"{100 * r.true.low:.1f} to {100 * r.true.high:.1f}{display.NARROW}%",
            shape,
            SHAPES[shape],
        )


def _interval(found: Spread) -> str:
    if found.low is None or found.high is None:
        return "too few for an interval"
    return f"{display.minutes(found.low)} to {display.minutes(found.high)}"


def _minutes(s: Searches) -> Minutes:
    assert s.minutes is not None
    return Minutes(
        s.name,
        ORDERS[s.name],
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
    return (
        f"{display.minutes(found.median)} in the middle ({_interval(found)}), half of them between "
        f"{display.minutes(found.q1)} and {display.minutes(found.q3)}"
    )
