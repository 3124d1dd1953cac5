"""The report for the meeting: all topics of the section Patterns in one file to print or to send."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from html import escape
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin

from markupsafe import Markup

from leaklore.analysis.patterns import exposure
from leaklore.errors import LeakloreError
from leaklore.language import gettext, use
from leaklore.pages.book import Book
from leaklore.pages.patterns import drawing
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates, marks, styles
from leaklore.records.library import Library
from leaklore.records.near import did_you_mean

STYLES = (
    "tokens",
    "base",
    "shell",
    "prose",
    "cards",
    "facts",
    "figures",
    "chart",
    "tables",
    "patterns",
    "print",
)
"""Parts of the stylesheet that the report needs, in the order of the site's."""
BROAD = 10
"""A table of more columns is for the desk, not for a meeting."""
WHOLE = ("watch", "changes")
"""Topics that take the whole record, whatever the day from which on the report is."""
_CHARTED = re.compile(r'aria-details="([^"]+)-table"')
_DETAILS = re.compile(r' aria-details="[^"]+"')
_SITE = "https://site.invalid/"
"""Stands for the site's root while links are read."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the report is about: from a day on, of one branch; None for everything. `tables`: every table is wanted."""

    since: dt.date | None
    branch: str | None
    tables: bool = False


def asked(
    library: Library, today: dt.date, since: str | None, branch: str | None, tables: bool = False
) -> Asked:
    """Reads what was asked for. Raises LeakloreError for a day or a branch that can't be."""
    day = None
    if since is not None:
        like = "write it like 2025-07-01"
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", since, re.ASCII):
            raise LeakloreError(f'--since: "{since}" is no date; {like}')
        try:
            day = dt.date.fromisoformat(since)
        except ValueError:
            raise LeakloreError(f'--since: there is no day "{since}"; {like}') from None
        if day > today:
            raise LeakloreError(f"--since: {since} is after today, {today}; write an earlier day")
    branches = library.company.branches
    if branch is not None and branch not in branches:
        hint = did_you_mean(branch, branches, f"write {', '.join(branches)}")
        raise LeakloreError(f'branch "{branch}" is none of the company; {hint}')
    return Asked(day, branch, tables)


@dataclass(frozen=True, slots=True)
class Made:
    """The report, what it stands on in figures for machines, and the same in words."""

    html: str
    facts: Mapping[str, str | int | float | None]
    told: str


def made(library: Library, today: dt.date, what: Asked) -> Made:
    """Makes the report of a library; charts are kept where the site's builds keep theirs."""
    from leaklore.pages.patterns import site  # late: it imports all topics

    book = Book(library, today)
    use(book.language)
    base = library.root.absolute().parent
    with drawing.kept_in(base / ".cache" / "charts") if (base / "mkdocs.yml").exists() else nullcontext():
        topics = site.topics(book, what.since, what.branch)
    found = exposure.fleet(library, today, what.branch, what.since)
    facts = {
        "since": found.since.isoformat(),
        "until": found.until.isoformat(),
        "branch": what.branch,
        "topics": len(topics),
        "systems": len(found.watched),
        "system_years": float(f"{found.years:.12g}"),
        "leaks": len(found.leaks),
    }
    many = "" if len(topics) == 1 else "s"
    told = f"{len(topics)} topic{many} on {len(found.leaks)} leaks of {len(found.watched)} systems"
    return Made(html(book, topics, found, what), facts, told)


def html(book: Book, topics: Sequence[Topic], found: exposure.Fleet, what: Asked) -> str:
    """The report as one HTML file that needs nothing beside it. `found` is the fleet behind the topics."""
    site = book.library.company.site_url or ""
    parts = [(topic, standing_alone(topic, topics, site, what.tables)) for topic in topics]
    apart = [(gettext(exposure.APART[key]), len(cases)) for key, cases in found.apart.items() if cases]
    css = styles(STYLES)
    return str(
        Templates(book).render(
            "patterns_report.html",
            "",
            parts=parts,
            found=found,
            cases=len({leak.case.id for leak in found.leaks}),
            apart=apart,
            branch=what.branch,
            narrowed=what.since is not None,
            whole=WHOLE,
            tables=what.tables,
            css=Markup(css),
            marks=marks(),
        )
    )


def standing_alone(topic: Topic, topics: Sequence[Topic], site: str, tables: bool = True) -> Markup:
    """The sections of a topic for a file of its own: no link leads nowhere, nothing is fetched.

    A link to a topic or a part of it stays in the report. Other links lead to the published site at `site`; without
    one their text remains. What is only of use on the site (`data-online`), the tail of long tables and lists
    (`data-rest`) is left out, and what is said in its place (`data-report`) is shown. Without `tables` those behind a
    chart and the broad ones are left out.
    """
    sections = str(topic.sections)
    without = (
        set()
        if tables
        else {t.key for t in topic.tables if len(t.columns) > BROAD} | set(_CHARTED.findall(sections))
    )
    if without:
        sections = _DETAILS.sub("", sections)
    reader = _Alone(topic, {t.url: t.key for t in topics}, site, without)
    reader.feed(sections)
    reader.close()
    return Markup("".join(reader.out))


class _Alone(HTMLParser):
    """Passes everything on as it is written but for links, shapes of the sprite, and what is only for the site."""

    def __init__(self, topic: Topic, inside: Mapping[str, str], site: str, without: set[str]) -> None:
        super().__init__(convert_charrefs=False)
        self._without = without
        self.out: list[str] = []
        self._topic, self._inside, self._site = topic, inside, site
        self._links: list[str] = []
        self._left_out: tuple[str, int] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A link is led where it can go."""
        if self._left_out:
            name, depth = self._left_out
            self._left_out = (name, depth + (tag == name))
            return
        given = dict(attrs)
        if "data-online" in given or "data-rest" in given or given.get("data-table") in self._without:
            self._left_out = (tag, 1)
            return
        if tag == "a":
            to = self._to(given.get("href") or "")
            self._links.append("a" if to else "span")
            words = {"href": to, "class": given.get("class"), "aria-label": to and given.get("aria-label")}
            written = "".join(f' {name}="{escape(value)}"' for name, value in words.items() if value)
            self._say(f"<{self._links[-1]}{written}>")
        elif "data-report" in given:
            self._say((self.get_starttag_text() or "").replace(" hidden", ""))
        else:
            self._say(self._shape(given) if tag == "use" else self.get_starttag_text() or "")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Shapes of drawings."""
        if not self._left_out:
            self._say(self._shape(dict(attrs)) + "</use>" if tag == "use" else self.get_starttag_text() or "")

    def handle_endtag(self, tag: str) -> None:
        """The end of what was left out, or of a link, which may have become plain text."""
        if self._left_out:
            name, depth = self._left_out
            depth -= tag == name
            self._left_out = (name, depth) if depth else None
        else:
            self._say(f"</{self._links.pop() if tag == 'a' and self._links else tag}>")

    def handle_data(self, data: str) -> None:
        """Text."""
        self._say(data)

    def handle_entityref(self, name: str) -> None:
        """Text, as it was escaped."""
        self._say(f"&{name};")

    def handle_charref(self, name: str) -> None:
        """Text, as it was escaped."""
        self._say(f"&#{name};")

    def _say(self, text: str) -> None:
        if not self._left_out:
            self.out.append(text)

    def _shape(self, given: Mapping[str, str | None]) -> str:
        """The report carries the sprite itself."""
        return f'<use href="#{escape(urldefrag(given.get("href") or "")[1])}">'

    def _to(self, href: str) -> str:
        """Where a link leads; empty where it can't."""
        if href.startswith("#"):
            return href
        full = urljoin(_SITE + self._topic.url, href)
        if not full.startswith(_SITE):
            return full  # out of the site: it was absolute
        address, part = urldefrag(full.removeprefix(_SITE))
        if address in self._inside:
            return f"#{part or self._inside[address]}"
        if not self._site:
            return ""
        return urljoin(self._site.rstrip("/") + "/", address) + (f"#{part}" if part else "")
