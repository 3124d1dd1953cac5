"""One topic of the section Patterns: what its page, the summary page and the printed report are made of."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from leaklore.pages.patterns.tables import Table


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic. Its page stands at `patterns/KEY/`.

    `lead` is one sentence under the title. `sections` are `<section>` elements whose heads begin at h2 and whose ids
    begin with `key`, so that a report can string all topics together. `tables` are all tables behind its charts.
    `headline` is one plain sentence with the figure that matters most.
    """

    key: str
    title: str
    lead: str
    sections: Markup
    tables: tuple[Table, ...]
    headline: str

    @property
    def url(self) -> str:
        """Address of its page, relative to the site's root."""
        return f"patterns/{self.key}/"
