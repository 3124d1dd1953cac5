"""One question, one answer: what was understood, causes, next checks, cases like it, pages that help.

`Engine` is the twin of js/search/find.mjs; both read the same model and the same index.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from leaklore.analysis import text
from leaklore.analysis.advice import WORDS, Advice, Adviser
from leaklore.analysis.evidence import Check, Evidence
from leaklore.search.documents import FACETS
from leaklore.search.index import SCALE, Index
from leaklore.search.lexicon import Lexicon
from leaklore.search.understand import Understood, evidence, understand

CASES, PAGES = 20, 6
LIKELY = 0.08
"""Causes from this probability on draw their cases in."""
DRAW = 0.6
"""How much a certain cause draws (judgement)."""
SPOKEN = 0.8
"""What a word counts in the prose when it was understood as a finding, too."""
SEVERAL = 0.8
"""What each of several places counts that a word may mean."""
AGAINST = -0.4
"""What a case loses that shows what was looked for and is absent."""
TERMS: Mapping[str, str] = {
    "symptom": "s", "absent": "n", "condition": "c", "kind": "k", "setting": "g", "refrigerant": "r",
    "place": "p", "near": "p", "technique": "t", "clean": "x", "mode": "m",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hit:
    """A case or page found: number of the document, score, and the terms that brought it, strongest first."""

    number: int
    score: float
    why: tuple[str, ...]


@dataclass(frozen=True)
class Answer:
    """Everything that the search page shows."""

    understood: Understood
    evidence: Evidence
    advice: Advice
    cases: tuple[Hit, ...]
    pages: tuple[Hit, ...]
    stems: tuple[str, ...]


@dataclass
class Engine:
    """A library made ready for questions."""

    adviser: Adviser
    lexicon: Lexicon
    index: Index
    _known: dict[str, str | None] = field(default_factory=dict)

    def find(
        self,
        said: str,
        today: dt.date,
        checks: Sequence[Check] = (),
        only: Mapping[str, str] | None = None,
        second: bool = False,
    ) -> Answer:
        """Answers a text with the checks made so far; `only` keeps cases whose facets have these values.

        `second`: what was found does not explain the loss, so another leak is looked for.
        """
        heard = understand(said, self.lexicon, today)
        known = evidence(heard, checks)
        if second:
            known = self.adviser.without_find(known)
        advice = self.adviser.advise(known)
        terms = self.terms(heard, advice)
        cases, pages = self.hits(terms, only)
        return Answer(heard, known, advice, cases, pages, self.marked(terms))

    def terms(self, heard: Understood, advice: Advice) -> dict[str, float]:
        """Terms of the index with the weight that the question gives them."""
        out: dict[str, float] = {}

        def add(term: str, weight: float) -> None:
            if abs(out.get(term, 0.0)) < abs(weight):
                out[term] = weight

        for f in heard.findings:
            letter = TERMS.get(f.kind)
            for key in f.keys:
                if letter is not None:
                    add(f"{letter}:{key}", 1.0 if len(f.keys) == 1 else SEVERAL)
                if f.kind == "absent":
                    add(f"s:{key}", AGAINST)
                elif f.kind == "not-place":
                    add(f"p:{key}", AGAINST)
                elif f.kind == "not-mode":
                    add(f"m:{key}", AGAINST)
            if f.kind in ("absent", "not-place", "not-mode") or not f.keys:
                continue
            for stem in f.stems:
                add(f"w:{stem}", SPOKEN)
        for stem in heard.stems:
            term = self.spelt(stem)
            if term is not None:
                out[f"w:{term}"] = 1.0
        if advice.known:
            for cause in advice.causes:
                if cause.probability >= LIKELY:
                    add(f"m:{cause.mode}", DRAW * cause.probability)
        return out

    def spelt(self, stem: str) -> str | None:
        """The stem itself where some text has it, else the nearest that two or more texts have."""
        if f"w:{stem}" in self.index.postings:
            return stem
        if stem not in self._known:
            self._known[stem] = nearest(stem, self.index.words)
        return self._known[stem]

    def marked(self, terms: Mapping[str, float]) -> tuple[str, ...]:
        """Stems to be highlighted."""
        return tuple(sorted(t[2:] for t, w in terms.items() if t[:2] == "w:" and w > 0))

    def hits(
        self, terms: Mapping[str, float], only: Mapping[str, str] | None
    ) -> tuple[tuple[Hit, ...], tuple[Hit, ...]]:
        """Cases and pages, best first; of equals the lower number."""
        scores: dict[int, float] = {}
        parts: dict[int, list[tuple[float, str]]] = {}
        for term in sorted(terms):
            found = self.index.postings.get(term)
            if found is None:
                continue
            for doc, impact in zip(found.places, found.bytes, strict=True):
                value = terms[term] * impact / SCALE
                scores[doc] = scores.get(doc, 0.0) + value
                parts.setdefault(doc, []).append((value, term))
        wanted = [(FACETS.index(name), value) for name, value in (only or {}).items()]
        cases, pages = [], []
        for doc, score in scores.items():
            score = round(score, 6)
            if score <= 0:
                continue
            if doc >= self.index.cases:
                pages.append((doc, score))
            elif all(self.index.facets[doc][i] == value for i, value in wanted):
                cases.append((doc, score))

        def best(found: list[tuple[int, float]], most: int) -> tuple[Hit, ...]:
            ranked = sorted(found, key=lambda f: (-f[1], f[0]))[:most]
            return tuple(
                Hit(
                    d,
                    s,
                    tuple(t for v, t in sorted(parts[d], key=lambda p: (-round(p[0], 9), p[1])) if v > 0),
                )
                for d, s in ranked
            )

        return best(cases, CASES), best(pages, PAGES)

    def as_json(self, answer: Answer) -> dict[str, Any]:
        """The answer in the shape that the command prints and the browser gives."""
        names = self.lexicon.names
        understood = []
        for f in answer.understood.findings:
            entry: dict[str, Any] = {"kind": f.kind, "keys": list(f.keys), "start": f.start, "end": f.end}
            if f.at:
                entry["at"] = list(f.at)
            if f.value is not None:
                entry["value"] = round(f.value, 9)
            understood.append(entry)
        return {
            "understood": understood,
            "words": list(answer.understood.words),
            "known": answer.advice.known,
            "causes": [
                {
                    "mode": c.mode,
                    "name": names["mode"][c.mode],
                    "probability": round(c.probability, 9),
                    "word": in_words(c.probability),
                    "places": [{"at": p, "probability": round(w, 9)} for p, w in c.places[:3]],
                }
                for c in answer.advice.causes
            ],
            "checks": [
                {
                    "technique": n.technique,
                    "at": n.at,
                    "probability": round(n.probability, 9),
                    "minutes": round(n.minutes, 3),
                    "why": list(n.why),
                }
                for n in answer.advice.plan.checks
            ],
            "minutes": round(answer.advice.plan.minutes, 6),
            "missed": round(answer.advice.plan.missed, 9),
            "cases": [
                {
                    "id": self.index.lines[h.number][0],
                    "title": self.index.lines[h.number][1],
                    "score": round(h.score, 6),
                    "why": list(h.why[:5]),
                }
                for h in answer.cases
            ],
            "pages": [
                {"kind": line[0], "title": line[1], "url": line[3], "score": round(h.score, 6)}
                for h in answer.pages
                for line in [self.index.lines[h.number]]
            ],
        }


def nearest(stem: str, known: Sequence[str]) -> str | None:
    """The known stem of the fewest edits, of equals the first; None where none is near enough."""
    allowed = most = text.edits_allowed(stem)
    best: str | None = None
    for other in known if allowed else ():
        if other[0] != stem[0]:
            continue
        d = text.distance(stem, other, most)
        if d < most or (d == most and best is None):
            best, most = other, d
            if d <= 1:
                break
    return best


def in_words(probability: float) -> str:
    """Probability in words."""
    return next(word for least, word in WORDS if probability >= least)
