"""Questions drawn from a seed: what people write about leaks, with slips, checks made and filters."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from random import Random
from typing import Any

from leaklore.analysis.evidence import Check
from leaklore.search.documents import FACETS
from leaklore.search.make import Made

LETTERS = "abcdefghijklmnopqrstuvwxyz"
AMOUNTS = (
    "lost {n} lb since spring", "{n} kg a year", "charge {n} kg", "{n} oz low", "{n} years old", "added {n} lb in 3 months",
    "holds {n} lb", "low {n} pounds since last summer", "installed 2019", "brand new", "{n} grams a month", "at {n} psig",
)  # fmt: skip
JOINS = (", ", " ", " and ", ". ", "; ", " but ", " at the ", "\n")
NOT = ("no ", "not ", "never any ", "ruled out ", "without ")
KINDS = (
    "symptom",
    "symptom",
    "symptom",
    "place",
    "place",
    "kind",
    "setting",
    "refrigerant",
    "condition",
    "technique",
    "mode",
)


@dataclass(frozen=True)
class Question:
    """A text, the checks made and the filter; `second`: is another leak looked for after a find?"""

    text: str
    checks: tuple[Check, ...]
    only: dict[str, str] | None
    second: bool = False


def slip(word: str, rng: Random) -> str:
    """One letter left out, doubled, changed or swapped with the next."""
    at = rng.randrange(len(word))
    how = rng.randrange(4)
    if how == 0:
        return word[:at] + word[at + 1 :]
    if how == 1:
        return word[:at] + word[at] + word[at:]
    if how == 2:
        return word[:at] + rng.choice(LETTERS) + word[at + 1 :]
    return word[:at] + word[at + 1 : at + 2] + word[at] + word[at + 2 :]


def _part(made: Made, prose: list[str], rng: Random) -> str:
    chance = rng.random()
    if chance < 0.03:
        return rng.choice(
            ("lost 6 g in a year", "lost 20 g in a year", "1 oz in 2 years")
        )  # near the limits of techniques
    if chance < 0.06:
        return rng.choice(
            ("heat pump", "reverse cycle", "split")
        )  # may be one of several kinds, or is of one
    if chance < 0.15:
        return rng.choice(AMOUNTS).format(n=rng.choice(("2", "1.5", "0,4", "12", "30")))
    if chance < 0.4:
        return " ".join(rng.choice(prose) for _ in range(rng.randint(1, 4)))
    phrases = made.phrases["phrases"][rng.choice(KINDS)]
    said: str = rng.choice(phrases[rng.choice(sorted(phrases))])
    return rng.choice(NOT) + said if rng.random() < 0.2 else said


def question(made: Made, prose: list[str], rng: Random) -> Question:
    """One question."""
    text = ""
    for _ in range(rng.randint(0 if rng.random() < 0.05 else 1, 5)):
        text += (rng.choice(JOINS) if text else "") + _part(made, prose, rng)
    if rng.random() < 0.4:
        words = text.split(" ")
        for i in rng.sample(range(len(words)), min(len(words), rng.randint(1, 2))):
            words[i] = slip(words[i], rng) if len(words[i]) > 3 else words[i]
        text = " ".join(words)
    if rng.random() < 0.1:
        text = text.upper()
    order = made.engine.adviser.order
    places = sorted(order.places.on)
    checks = []
    for _ in range(rng.choice((0, 0, 1, 2, 3, 4))):
        at = tuple(rng.sample(places, 1 if rng.random() < 0.8 else 2))
        technique = rng.choice([*order.techniques, "a-technique-of-others"])
        checks.append(Check(technique, at, rng.choice(("clean", "clean", "found", "skip"))))
    only = None
    if rng.random() < 0.25:
        values = _facets(made)
        only = {name: rng.choice(values[name]) for name in rng.sample(sorted(values), rng.choice((1, 1, 2)))}
    second = any(c.result == "found" for c in checks) and rng.random() < 0.4
    return Question(text, tuple(checks), only, second)


def _facets(made: Made) -> dict[str, list[str]]:
    return {
        name: [*codes, "nothing like it"] for name, codes in zip(FACETS, made.engine.index.codes, strict=True)
    }


def questions(made: Made, count: int, seed: int) -> list[Question]:
    """Questions of one seed about one library."""
    rng = Random(seed)
    prose = sorted({w for line in made.engine.index.lines for w in f"{line[1]} {line[2]}".split()})
    return [question(made, prose, rng) for _ in range(count)]


def options(asked: Question, today: dt.date) -> dict[str, Any]:
    """The same for the browser."""
    checks = [{"technique": c.technique, "at": list(c.at), "result": c.result} for c in asked.checks]
    day = {"year": today.year, "month": today.month, "day": today.day}
    return {"checks": checks, "only": asked.only, "today": day, "second": asked.second}
