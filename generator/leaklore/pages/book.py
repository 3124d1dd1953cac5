"""Everything that pages read: the library, its statistics, formats and prose, each computed once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from leaklore import own_words
from leaklore.analysis import advice, evaluate, leaks, similar, summary, unknown
from leaklore.analysis import techniques as tech
from leaklore.analysis.leaks import LeakFigures
from leaklore.analysis.unknown import Unknown
from leaklore.language import Language
from leaklore.pages.display import Display
from leaklore.pages.markup import Prose
from leaklore.pages.photos import Picture
from leaklore.pages.recall import Recall
from leaklore.records.library import Library, group
from leaklore.records.model import Case
from leaklore.workers import Apart

if TYPE_CHECKING:
    from leaklore.analysis.patterns.findings import Findings

_ALIKE, _JUDGED = "_alike", "_judged_apart"
"""Where a book notes what a process apart is working out."""
_OWN = ("prose", _ALIKE, _JUDGED)
"""What another book, or a copy of this one elsewhere, can't use."""


@dataclass(frozen=True)
class Book:
    """`changed` gives the day of the last change of a file, by path; `today` dates the edition.

    `pictures` are the photos that were made for the pages, by case number and name of the original. `recall` finds what
    follows from the facts of the library (`Needs.facts`) alone, `words` what was read of the words of its records.
    """

    library: Library
    today: dt.date
    changed: Mapping[str, dt.date] = field(default_factory=dict)
    pictures: Mapping[tuple[str, str], Picture] = field(default_factory=dict)
    recall: Recall = field(default_factory=Recall)
    words: Recall = field(default_factory=Recall)

    @cached_property
    def language(self) -> Language:
        """What the pages are written in."""
        library = self.library
        return own_words.spoken(library.company.language, library.root / "house" / "words.po")

    @cached_property
    def display(self) -> Display:
        """Formats in the company's units."""
        return Display(self.library.company)

    @cached_property
    def prose(self) -> Prose:
        """Markdown with references."""
        return Prose(self.library)

    @cached_property
    def modes(self) -> Mapping[str, summary.Summary]:
        """Summary of each failure mode."""
        return self.groups["mode"]

    @cached_property
    def groups(self) -> Mapping[str, Mapping[str, summary.Summary]]:
        """Summaries by kind of page and key, failure modes included."""
        return summary.of_library(self.library)

    @cached_property
    def techniques(self) -> Mapping[str, tech.TechniqueSummary]:
        """How each technique did."""
        return tech.technique_summaries(self.library)

    @cached_property
    def versus(self) -> list[tech.Versus]:
        """Technique against technique."""
        return tech.versus(self.library)

    @cached_property
    def avoided(self) -> tech.Avoided:
        """Isolations that a detector made unnecessary."""
        return tech.isolations_avoided(self.library)

    @cached_property
    def likeness(self) -> similar.Likenesses:
        """Cases like each case."""
        cases = self.library.active

        def make() -> similar.Likenesses:
            begun: Apart[similar.Pairs] | None = self.__dict__.pop(_ALIKE, None)
            return similar.Likenesses(cases, (begun or Apart(similar.likest, cases)).answer())

        return self.recall(
            "likeness",
            make,
            lambda made: made.pairs,
            lambda kept: similar.Likenesses(cases, kept),
        )

    def leak(self, case: Case) -> LeakFigures | None:
        """What follows from a case's leak rate."""
        return leaks.figures(case, self.library.guide)

    @cached_property
    def _known(self) -> advice.Known:
        return advice.Known(self.library.guide)

    @cached_property
    def adviser(self) -> advice.Adviser:
        """Ranks causes and plans checks."""
        lib = self.library
        return self.recall(
            "adviser", lambda: advice.adviser(lib.counted, lib.active, lib.guide, known=self._known)
        )

    @cached_property
    def trust(self) -> evaluate.Trust:
        """How well ranking and order did on the library's own cases."""
        begun: Apart[evaluate.Trust] | None = self.__dict__.pop(_JUDGED, None)
        return begun.answer() if begun else self._judged()

    def _judged(self) -> evaluate.Trust:
        facts = self.recall("trust", lambda: evaluate.of_facts(self.library, self._known))
        of = facts.left_out.of
        read = self.words.renewed(
            "proses", lambda kept: evaluate.proses(self.library, of, kept), evaluate.Proses.is_old
        )
        return evaluate.with_words(self.library, facts, read)

    @cached_property
    def patterns(self) -> Findings:
        """What recurs across installs."""
        from leaklore.analysis.patterns.findings import Findings  # takes long to load; one room reads it

        return Findings(self.library, self.today)

    @cached_property
    def exercises(self) -> Mapping[str, Unknown]:
        """Unknown cases, by the number of the case that each is made of."""
        return {u.case.id: u for u in unknown.exercises(self.library, self._known)}

    @cached_property
    def pointed_at(self) -> Mapping[str, tuple[Case, ...]]:
        """Case number -> cases that name it as related."""
        return group(self.library.cases, lambda c: (r.case for r in c.related))

    def begin(self, early: bool = False) -> None:
        """Begins in a process apart what takes long: cases alike, for which `likeness` waits. `early`, before it is known
        which pages will be made: also the row of `trust` that reads prose, where the others are recalled."""
        if self.recall.folder is None and early:
            return
        if not self.__dict__.keys() & {"likeness", _ALIKE} and not self.recall.has("likeness"):
            self.__dict__[_ALIKE] = Apart(similar.likest, self.library.active)
        elif early and self.recall.has("trust"):
            self.__dict__[_JUDGED] = Apart(Book._judged, self)

    def collect(self) -> None:
        """Waits for what began early: a process that is forked now would work it out again."""
        if _JUDGED in self.__dict__:
            _ = self.trust

    def ready(self) -> Book:
        """Computes what many pages read, so that what is forked from this process need not; returns itself.

        What one page alone reads (`trust`, `patterns`, `exercises`) is left to whoever makes that page, and `likeness`
        to the first that asks for it.
        """
        for name in (
            "language",
            "groups",
            "techniques",
            "versus",
            "avoided",
            "adviser",
            "pointed_at",
        ):
            getattr(self, name)
        return self

    def with_case(self, case: Case) -> Book:
        """The book with one record edited; its statistics stay those of before."""
        library = replace(
            self.library, cases=tuple(case if c.id == case.id else c for c in self.library.cases)
        )
        # without recall: what is kept is not this library's
        other = Book(library, self.today, self.changed, self.pictures)
        known = {k: v for k, v in self.__dict__.items() if k not in other.__dict__ and k not in _OWN}
        other.__dict__.update(known)
        return other

    def __getstate__(self) -> dict[str, Any]:
        """All that was computed, without what renders prose: that is made again from the library."""
        return {name: value for name, value in self.__dict__.items() if name not in (*_OWN, "_known")}

    def changed_on(self, path: str, otherwise: dt.date) -> dt.date:
        """Day of the last change of a file."""
        return self.changed.get(path, otherwise)
