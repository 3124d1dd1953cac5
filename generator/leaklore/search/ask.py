"""A question from the command line, checked, and its answer as data or as text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from leaklore.analysis.evidence import Check
from leaklore.analysis.second_leak import Explained
from leaklore.errors import LeakloreError, QuantityError
from leaklore.records.library import Library
from leaklore.records.model import PROOFS, YEAR
from leaklore.records.near import did_you_mean
from leaklore.records.quantity import read
from leaklore.records.today import today
from leaklore.records.vocabulary import NOUNS
from leaklore.search.documents import FACETS, HELD
from leaklore.search.lexicon import KINDS
from leaklore.search.make import make


@dataclass(frozen=True)
class Question:
    """A text, checks made, what the leak found passes (kg/yr), facets."""

    text: str
    checks: tuple[Check, ...] = ()
    passes: float | None = None
    only: Mapping[str, str] | None = None
    day: dt.date | None = None


def question(
    library: Library,
    text: str,
    checks: Mapping[str, Sequence[str]],
    passes: str | None = None,
    only: Sequence[str] = (),
) -> Question:
    """Checks every part; raises LeakloreError with what to write instead."""
    words = library.vocabulary
    made = []
    for result, listed in checks.items():
        for said in listed:
            technique, _, at = said.partition("@")
            places = tuple(p for p in at.split(",") if p)
            if not technique or not places:
                raise LeakloreError(
                    f'--{result} "{said}": write a technique and a place, as in visual@indoor-flare'
                )
            if not words.has("techniques", technique):
                raise LeakloreError(
                    f'--{result} "{said}": "{technique}" is not a technique; {words.suggest("techniques", technique)}'
                )
            for place in places:
                if not words.has("components", place):
                    raise LeakloreError(
                        f'--{result} "{said}": "{place}" is not a component or place; '
                        f"{words.suggest('components', place)}"
                    )
            made.append(Check(technique, places, result))
    facets = {}
    for said in only:
        name, equals, value = said.partition("=")
        if name not in FACETS:
            raise LeakloreError(f'--only "{said}": "{name}" is none of {", ".join(FACETS)}')
        if not equals:
            raise LeakloreError(f'--only "{said}": write a value, as in held=yes')
        wrong = _no_facet(library, name, value)
        if wrong:
            raise LeakloreError(f'--only "{said}": {wrong}')
        facets[name] = value
    rate = None
    if passes is not None:
        try:
            rate = read(passes, "leak rate").si * YEAR
        except QuantityError as fault:
            raise LeakloreError(f"--passes: {fault}; {fault.instead}") from None
        if rate <= 0:
            raise LeakloreError(f'--passes "{passes}": a leak passes something; write for example "60 g/yr"')
    return Question(text, tuple(made), rate, facets or None, today())


_VOCABULARIES = {
    "mode": "modes",
    "setting": "settings",
    "refrigerant": "refrigerants",
    "branch": "branches",
}
"""Facets whose values are words of a vocabulary."""
_MAY_LACK = ("setting", "refrigerant")
"""Facets that a case may be without: `setting=` asks for those."""
_WORDS = {"proof": PROOFS, "held": HELD}


def _no_facet(library: Library, name: str, value: str) -> str:
    """Why no case can have this value, and what to write instead; empty where one can."""
    if not value:
        return "" if name in _MAY_LACK else "write a value, as in held=yes"
    kind = _VOCABULARIES.get(name)
    if kind:
        words = library.vocabulary
        return (
            "" if words.has(kind, value) else f'"{value}" is not {NOUNS[kind]}; {words.suggest(kind, value)}'
        )
    known = _WORDS[name]
    if value in known:
        return ""
    otherwise = f"write one of {', '.join(known)}"
    return f'"{value}" is no value of {name}; {did_you_mean(value, known, otherwise)}'


def answer(library: Library, asked: Question) -> dict[str, Any]:
    """The answer as data; with `passes` it says whether the loss asks for another leak, and searches on if so."""
    engine = make(library).engine
    day = asked.day or today()
    first = engine.find(asked.text, day, asked.checks, asked.only)
    out: dict[str, Any] = {}
    if asked.passes and first.evidence.rate is not None:
        explained = Explained(first.evidence.rate, asked.passes)
        out["second_leak"] = {"times": round(explained.times, 6), "more": explained.more}
        if explained.more:
            first = engine.find(asked.text, day, asked.checks, asked.only, second=True)
    return {**engine.as_json(first), **out}


def as_text(found: Mapping[str, Any], library: Library, said: str) -> str:
    """The answer to `said` for a terminal."""
    name = library.vocabulary.name
    out = ["Understood: " + (", ".join(_heard(f, library, said) for f in found["understood"]) or "nothing")]
    if found["words"]:
        out.append("Words searched: " + ", ".join(found["words"]))
    out += ["", "Causes" if found["known"] else "Causes (these findings don't tell them apart yet)"]
    for cause in found["causes"][:5]:
        at = name("components", cause["places"][0]["at"]) if cause["places"] else ""
        out.append(f"  {cause['probability']:5.0%}  {cause['name']} ({cause['word']}); {at}")
    out += ["", "Check next"]
    for check in found["checks"][:6]:
        what = f"{name('techniques', check['technique'])}: {name('components', check['at'])}"
        out.append(f"  {check['probability']:5.0%}  {check['minutes']:3.0f} min  {what}")
    out += ["", "Cases like it"]
    out += [f"  {case['id']}  {case['title']}" for case in found["cases"][:8]] or ["  none"]
    if "second_leak" in found:
        times, more = found["second_leak"]["times"], found["second_leak"]["more"]
        out += [
            "",
            f"The loss is {times:.2g} times what that leak passes: "
            + ("look for another." if more else "it explains it."),
        ]
    return "\n".join(out)


_SAID = {
    "absent": "no {}", "not-place": "not at {}", "not-mode": "not {}", "clean": "{}: clean", "near": "near {}",
    "place": "at {}",
}  # fmt: skip
_PLURAL = {
    "absent": "symptoms",
    "not-place": "components",
    "near": "components",
    "not-mode": "modes",
    "clean": "techniques",
}


def _heard(finding: Mapping[str, Any], library: Library, text: str) -> str:
    """A finding in words; an amount as it was said, in its own units."""
    kind = finding["kind"]
    if not finding["keys"]:
        return f'{kind} "{text[finding["start"] : finding["end"]]}"'
    plural = _PLURAL.get(kind) or KINDS[kind]
    said = " or ".join(library.vocabulary.name(plural, k) for k in finding["keys"])
    if finding.get("at"):
        said += " at " + " or ".join(library.vocabulary.name("components", k) for k in finding["at"])
    return _SAID.get(kind, "{}").format(said)
