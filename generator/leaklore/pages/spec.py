"""A page before it has a shell around it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from markupsafe import Markup

from leaklore.records.compact import Compact

NOTHING = Markup()


@dataclass(frozen=True, slots=True)
class Listed(Compact):
    """What is said of a page elsewhere: in the search, in the sitemap."""

    url: str
    title: str
    description: str
    section: str
    changed: dt.date | None = None
    listed: bool = True

    @property
    def address(self) -> Listed:
        """What the sitemap needs: a large site has too many to keep more in memory."""
        return replace(self, title="", description="")


@dataclass(frozen=True, slots=True)
class Page:
    """One page: `url` relative to the site's root (empty for the home page), `body` its finished HTML.

    `light`: the page stands without head, foot and bar, as a sheet to hand over. `section` is the place in the head and the bottom bar that it belongs to; `head` goes into the page's head.
    """

    url: str
    title: str
    description: str
    body: Markup
    section: str
    changed: dt.date | None = None
    listed: bool = True
    head: Markup = NOTHING
    light: bool = False

    @property
    def listing(self) -> Listed:
        """The page without its text."""
        return Listed(self.url, self.title, self.description, self.section, self.changed, self.listed)


@dataclass(frozen=True, slots=True)
class DataFile:
    """One file beside the pages."""

    path: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Made:
    """Pages and files of one unit of the site."""

    pages: Iterable[Page] = ()
    files: Iterable[DataFile] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """A label with its value."""

    label: str
    value: str
    more: str = ""
    href: str = ""
