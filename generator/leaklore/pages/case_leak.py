"""The part of a case page that takes the leak as a quantity."""

from __future__ import annotations

from dataclasses import dataclass, field

from leaklore.analysis.leaks import LeakFigures
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.display import number
from leaklore.pages.spec import Fact
from leaklore.records.model import Case
from leaklore.trade import detectability
from leaklore.trade.proof import Proof

VERDICTS = {
    "sees": "sees it",
    "at-limit": "at its limit",
    "no-number": "no figure",
    "no-data": "can’t tell",
    "too-small": "too small for it",
    "blind": "blind to this gas",
}


@dataclass(frozen=True, slots=True)
class Seen:
    """One technique: could it have seen this leak, and why; `did` is what it did in this case."""

    technique: str
    verdict: str
    reason: str
    did: str


@dataclass(frozen=True, slots=True)
class Leak:
    """The leak in figures."""

    facts: list[Fact] = field(default_factory=list)
    seen: list[Seen] = field(default_factory=list)
    proof: str = ""
    proof_strong: str = ""
    weak: bool = False


def leak(case: Case, book: Book) -> Leak | None:
    """None where the record tells no rate."""
    found = book.leaks.get(case.id)
    if found is None or case.leak_rate is None:
        return None
    verdict, words, weak = _proof(found.held, book) if found.held else ("", "", False)
    return Leak(_facts(case, found, book), _seen(case, found, book), words, verdict, weak)


def _facts(case: Case, found: LeakFigures, book: Book) -> list[Fact]:
    assert case.leak_rate is not None
    out = [Fact("Leak rate", book.display.both(case.leak_rate, "leak rate"), "as if it had leaked evenly")]
    if found.co2e is not None:
        out.append(Fact("Warming", f"{number(found.co2e)} t CO₂e", "charge lost times GWP (IPCC AR4)"))
    if found.hole is not None and found.pressure is not None:
        out.append(
            Fact(
                "A round hole of",
                f"{number(found.hole.diameter * 1e6)} µm",
                f"would pass as much vapour at {book.display.both(found.pressure, 'pressure')}, standstill at 20 °C"
                + ("" if found.hole.continuum else "; the true pore is larger"),
            )
        )
    if found.volume is not None:
        out.append(
            Fact(
                "Circuit volume",
                f"about {number(found.volume * 1000)} litres",
                "guessed from charge and line set",
            )
        )
    return out


def _seen(case: Case, found: LeakFigures, book: Book) -> list[Seen]:
    guide = book.library.guide
    done = {s.technique: s.result for s in case.search}
    return [
        Seen(
            s.technique,
            VERDICTS[s.verdict],
            detectability.reason(s, guide.techniques[s.technique].name, found.refrigerant.key),
            {"clean": "used: clean", "false-alarm": "used: false alarm"}.get(
                done[s.technique], f"used: {done[s.technique]}"
            )
            if s.technique in done
            else "",
        )
        for s in found.sights
        if s.technique in guide.techniques
    ]


def _proof(held: Proof, book: Book) -> tuple[str, str, bool]:
    show = book.display

    def rate(value: float | None) -> str:
        return show.both(value, "leak rate") if value is not None else ""

    small = rate(held.high) if held.high is not None else ""
    was = rate(held.leak)
    wait = display.minutes(held.wait / 60) if held.wait is not None else ""
    if held.verdict == "proves":
        return "Sharp enough.", f"This test shows a leak from {small} on; the old one was {was}.", False
    if held.verdict == "doubtful":
        return (
            "Only just sharp enough.",
            f"It shows a leak of {rate(held.low)} to {small}, depending on the shape of the hole; the old one was {was}. "
            f"{wait} would have settled it.",
            True,
        )
    if held.verdict == "too-coarse":
        return (
            "Too short or too coarse to prove the fix.",
            f"The smallest leak that it shows is {rate(held.low)} or more; the old one was {was}. The same test needs about {wait}.",
            True,
        )
    if held.verdict == "fell":
        return "The pressure fell.", "It fell by more than gauge and temperature explain.", True
    return (
        "Says nothing about this leak.",
        "While liquid is in the circuit its pressure follows the temperature.",
        True,
    )
