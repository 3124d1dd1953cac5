"""Everything that pages read: the library, its statistics, formats and prose, each computed once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from leaklore.analysis import advice, evaluate, leaks, similar, summary, unknown
from leaklore.analysis import techniques as tech
from leaklore.analysis.leaks import LeakFigures
from leaklore.analysis.patterns.findings import Findings
from leaklore.analysis.unknown import Unknown
from leaklore.pages.display import Display
from leaklore.pages.markup import Prose
from leaklore.pages.photos import Picture
from leaklore.records.library import Library, group
from leaklore.records.model import Case


@dataclass(frozen=True)
class Book:
    """`changed` gives the day of the last change of a file, by path; `today` dates the edition.

    `pictures` are the photos that were made for the pages, by case number and name of the original.
    """

    library: Library
    today: dt.date
    changed: Mapping[str, dt.date] = field(default_factory=dict)
    pictures: Mapping[tuple[str, str], Picture] = field(default_factory=dict)

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
        return summary.by_main_mode(self.library)

    @cached_property
    def groups(self) -> Mapping[str, Mapping[str, summary.Summary]]:
        """Summaries by kind of page and key, failure modes included."""
        lib = self.library
        company = lib.company
        return {
            "mode": self.modes,
            "technique": summary.of_groups(lib.by_technique, lib.guide.techniques, company, lib.guide),
            "symptom": summary.of_groups(lib.by_symptom, lib.guide.symptoms, company, lib.guide),
            "component": summary.of_groups(
                group(lib.active, lambda c: (c.cause.component,)), lib.guide.components, company, lib.guide
            ),
            "refrigerant": summary.of_groups(lib.by_refrigerant, lib.guide.refrigerants, company, lib.guide),
            "setting": summary.of_groups(
                lib.by_setting, lib.vocabulary.terms["settings"], company, lib.guide
            ),
            "branch": summary.of_groups(lib.by_branch, company.branches, company, lib.guide),
        }

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
    def likeness(self) -> Mapping[str, tuple[similar.Likeness, ...]]:
        """Cases like each case."""
        return similar.like_these(self.library.active)

    @cached_property
    def leaks(self) -> Mapping[str, LeakFigures | None]:
        """What follows from each case's leak rate, by case number."""
        return {c.id: leaks.figures(c, self.library.guide) for c in self.library.cases}

    @cached_property
    def adviser(self) -> advice.Adviser:
        """Ranks causes and plans checks."""
        lib = self.library
        return advice.adviser(lib.counted, lib.active, lib.guide)

    @cached_property
    def trust(self) -> evaluate.Trust:
        """How well ranking and order did on the library's own cases."""
        return evaluate.trust(self.library)

    @cached_property
    def patterns(self) -> Findings:
        """What recurs across installs."""
        return Findings(self.library, self.today)

    @cached_property
    def exercises(self) -> Mapping[str, Unknown]:
        """Unknown cases, by the number of the case that each is made of."""
        return {u.case.id: u for u in unknown.exercises(self.library)}

    @cached_property
    def pointed_at(self) -> Mapping[str, tuple[Case, ...]]:
        """Case number -> cases that name it as related."""
        return group(self.library.cases, lambda c: (r.case for r in c.related))

    def changed_on(self, path: str, otherwise: dt.date) -> dt.date:
        """Day of the last change of a file."""
        return self.changed.get(path, otherwise)
