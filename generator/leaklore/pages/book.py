"""Everything that pages read: the library, its statistics, formats and prose, each computed once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from leaklore.analysis import similar, summary, techniques
from leaklore.pages.display import Display
from leaklore.pages.markup import Prose
from leaklore.records.library import Library, group
from leaklore.records.model import Case


@dataclass(frozen=True)
class Book:
    """`changed` gives the day of the last change of a file, by path; `today` dates the edition."""

    library: Library
    today: dt.date
    changed: Mapping[str, dt.date] = field(default_factory=dict)

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
            "technique": summary.of_groups(lib.by_technique, lib.guide.techniques, company),
            "symptom": summary.of_groups(lib.by_symptom, lib.guide.symptoms, company),
            "component": summary.of_groups(
                group(lib.active, lambda c: (c.cause.component,)), lib.guide.components, company
            ),
            "refrigerant": summary.of_groups(lib.by_refrigerant, lib.guide.refrigerants, company),
            "setting": summary.of_groups(lib.by_setting, lib.vocabulary.terms["settings"], company),
            "branch": summary.of_groups(lib.by_branch, company.branches, company),
        }

    @cached_property
    def techniques(self) -> Mapping[str, techniques.TechniqueSummary]:
        """How each technique did."""
        return techniques.technique_summaries(self.library)

    @cached_property
    def versus(self) -> list[techniques.Versus]:
        """Technique against technique."""
        return techniques.versus(self.library)

    @cached_property
    def avoided(self) -> techniques.Avoided:
        """Isolations that a detector made unnecessary."""
        return techniques.isolations_avoided(self.library)

    @cached_property
    def likeness(self) -> Mapping[str, tuple[similar.Likeness, ...]]:
        """Cases like each case."""
        return similar.like_these(self.library.active)

    @cached_property
    def pointed_at(self) -> Mapping[str, tuple[Case, ...]]:
        """Case number -> cases that name it as related."""
        return group(self.library.cases, lambda c: (r.case for r in c.related))

    def changed_on(self, path: str, otherwise: dt.date) -> dt.date:
        """Day of the last change of a file."""
        return self.changed.get(path, otherwise)
