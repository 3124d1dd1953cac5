"""The part of a case page that takes the leak as a quantity."""

from __future__ import annotations

from dataclasses import dataclass, field

from leaklore.analysis.leaks import LeakFigures
from leaklore.language import gettext, later
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.display import number
from leaklore.pages.spec import Fact
from leaklore.records.model import Case
from leaklore.trade.proof import Proof

VERDICTS = later(
    {
        "sees": "Could see it",
        "at-limit": "At its limit",
        "too-small": "Too small for",
        "blind": "Blind to the gas",
        "no-data": "Can’t tell for",
    }
)
"""What is said of techniques, in this order; those without a figure are left to the work bench."""
DONE = later(
    {
        "clean": "clean",
        "lead": "lead",
        "section": "section",
        "pinpointed": "pinpointed",
        "confirmed": "confirmed",
        "false-alarm": "false alarm",
    }
)
"""Results of a search step inside a sentence."""


@dataclass(frozen=True, slots=True)
class Leak:
    """The leak in figures; `seen` which techniques could have seen it: (verdict, their names and what they did)."""

    facts: list[Fact] = field(default_factory=list)
    seen: list[tuple[str, str]] = field(default_factory=list)
    proof: str = ""
    proof_strong: str = ""
    weak: bool = False


def leak(case: Case, book: Book) -> Leak | None:
    """None where the record tells no rate."""
    found = book.leak(case)
    if found is None or case.leak_rate is None:
        return None
    verdict, words, weak = _proof(found.held, book) if found.held else ("", "", False)
    return Leak(_facts(case, found, book), _seen(case, found, book), words, verdict, weak)


def _facts(case: Case, found: LeakFigures, book: Book) -> list[Fact]:
    assert case.leak_rate is not None
    out = [
        Fact(
            gettext("Leak rate"),
            book.display.both(case.leak_rate, "leak rate"),
            gettext("as if it had leaked evenly"),
        )
    ]
    if found.co2e is not None:
        out.append(
            Fact(
                gettext("Warming"),
                f"{number(found.co2e)} t CO₂e",
                gettext("charge lost times GWP (IPCC AR4)"),
            )
        )
    return out


def _seen(case: Case, found: LeakFigures, book: Book) -> list[tuple[str, str]]:
    techniques = book.library.guide.techniques
    done = {s.technique: gettext(DONE[s.result]) for s in case.search}
    by: dict[str, list[str]] = {}
    for sight in found.sights:
        key = sight.technique
        if key in techniques:
            name = techniques[key].name.lower()
            by.setdefault(sight.verdict, []).append(f"{name} ({done[key]})" if key in done else name)
    return [(gettext(words), ", ".join(by[verdict])) for verdict, words in VERDICTS.items() if verdict in by]


def _proof(held: Proof, book: Book) -> tuple[str, str, bool]:
    show = book.display

    def rate(value: float | None) -> str:
        return show.both(value, "leak rate") if value is not None else ""

    small = rate(held.high) if held.high is not None else ""
    was = rate(held.leak)
    wait = display.minutes(held.wait / 60) if held.wait is not None else ""
    if held.verdict == "proves":
        told = gettext("This test shows a leak from {small} on; the old one was {was}.")
        return gettext("Sharp enough."), told.format(small=small, was=was), False
    if held.verdict == "doubtful":
        told = gettext(
            "It shows a leak of {low} to {high}, depending on the shape of the hole; the old one was {was}. "
            "{wait} would have settled it."
        )
        told = told.format(low=rate(held.low), high=small, was=was, wait=wait)
        return gettext("Only just sharp enough."), told, True
    if held.verdict == "too-coarse":
        told = gettext(
            "The smallest leak that it shows is {low} or more; the old one was {was}. The same test needs about {wait}."
        )
        told = told.format(low=rate(held.low), was=was, wait=wait)
        return gettext("Too short or too coarse to prove the fix."), told, True
    if held.verdict == "fell":
        told = gettext("It fell by more than gauge and temperature explain.")
        return gettext("The pressure fell."), told, True
    return (
        gettext("Says nothing about this leak."),
        gettext("While liquid is in the circuit its pressure follows the temperature."),
        True,
    )
