"""A page before it has a shell around it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from markupsafe import Markup

NOTHING = Markup()


@dataclass(frozen=True, slots=True)
class Page:
    """One page: `url` relative to the site's root (empty for the home page), `body` its finished HTML.

    `section` is the place in the head and the bottom bar that it belongs to; `head` goes into the page's head.
    """

    url: str
    title: str
    description: str
    body: Markup
    section: str
    changed: dt.date | None = None
    listed: bool = True
    head: Markup = NOTHING


@dataclass(frozen=True, slots=True)
class DataFile:
    """One file beside the pages."""

    path: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Fact:
    """A label with its value."""

    label: str
    value: str
    more: str = ""
    href: str = ""
