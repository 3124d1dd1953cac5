"""Labels to print and stick on the units: each has a code that opens the system's history on a phone."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import segno

from leaklore import whole
from leaklore.errors import LeakloreError
from leaklore.language import gettext, ngettext
from leaklore.pages import links, printing
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.records.library import Library
from leaklore.records.model import System
from leaklore.records.near import did_you_mean

LABEL = (64.0, 34.0)
"""Width and height of a label, mm: 24 of them on A4 leave margins of 9 and 12.5 mm."""
CODE = 29.0
"""Side of the code with its quiet zone, mm."""
QUIET = 4
"""Modules of white around a code (ISO/IEC 18004)."""
MODULE = 0.4
"""Smallest module that a phone reads from a hand's breadth to a forearm, mm; common practice, no source."""
TALLEST = 7.2
"""Height of the system number's letters' body, mm; narrower where the number is long."""
DIGIT = 0.56
"""Width of a bold digit by its font size, rounded up."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, mm; `rows` leave margins that home printers can keep white (common practice, no source)."""

    name: str
    width: float
    height: float
    rows: int
    columns: int = 3

    @property
    def margins(self) -> tuple[float, float]:
        """Left and right, top and bottom, mm."""
        across, down = LABEL[0] * self.columns, LABEL[1] * self.rows
        return (self.width - across) / 2, (self.height - down) / 2

    @property
    def each(self) -> int:
        """Labels of one sheet."""
        return self.rows * self.columns

    @property
    def marks(self) -> str:
        """SVG path of the cut marks, in mm: ticks in the margins, small crosses where labels meet."""
        left, top = self.margins
        right, bottom = self.width - left, self.height - top
        xs = [left + LABEL[0] * i for i in range(self.columns + 1)]
        ys = [top + LABEL[1] * i for i in range(self.rows + 1)]
        out = [f"M{x:g} {top - 1:g}v-3M{x:g} {bottom + 1:g}v3" for x in xs]
        out += [f"M{left - 1:g} {y:g}h-3M{right + 1:g} {y:g}h3" for y in ys]
        out += [f"M{x - 1:g} {y:g}h2M{x:g} {y - 1:g}v2" for x in xs[1:-1] for y in ys[1:-1]]
        return "".join(out)


PAPERS = {"a4": Paper("A4", 210.0, 297.0, 8), "letter": Paper("letter", 215.9, 279.4, 7)}
"""US letter takes 21: an eighth row would leave 3.7 mm at top and bottom, which many printers can't reach."""


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label. `tall` is the size of its number, mm."""

    system: System
    url: str
    code: Code
    tall: float
    group: str
    flammable: bool


@dataclass(frozen=True, slots=True)
class Code:
    """A QR code: modules of a side with the quiet zone, and the dark ones as an SVG path in modules."""

    side: int
    path: str


def choose(library: Library, numbers: Sequence[str], site: str | None, branch: str | None) -> list[System]:
    """Systems by number in the order given, or all that are in use at a site or of a branch, or all in use.

    Raises LeakloreError for a number, site or branch that is not in the register.
    """
    if numbers and (site or branch):
        raise LeakloreError("give system numbers, or --site and --branch, not both")
    for number in numbers:
        if number not in library.systems:
            hint = did_you_mean(number, library.systems, "write one of systems.yaml")
            raise LeakloreError(f'system "{number}" is not in the register; {hint}')
    if site is not None and site not in library.sites:
        hint = did_you_mean(site, library.sites, "write the key of a site in systems.yaml")
        raise LeakloreError(f'site "{site}" is not in the register; {hint}')
    if branch is not None and branch not in library.company.branches:
        hint = did_you_mean(branch, library.company.branches, f"write {', '.join(library.company.branches)}")
        raise LeakloreError(f'branch "{branch}" is none of the company; {hint}')
    if numbers:
        return [library.systems[number] for number in dict.fromkeys(numbers)]
    found = [
        system
        for system in library.systems.values()
        if system.removed is None and site in (None, system.site.key) and branch in (None, system.site.branch)
    ]
    if not found:
        raise LeakloreError("there is no system in use to print a label for; look into systems.yaml")
    return found


def base(library: Library, address: str | None) -> str:
    """The published site's address with a slash at its end. Raises LeakloreError where a code would lead nowhere."""
    told = address if address is not None else library.company.site_url
    where = "--address" if address is not None else "site_url in company.yaml"
    like = "write it like https://leaks.example/"
    if not told:
        raise LeakloreError(
            "the codes need the address of the published site; "
            "write --address https://leaks.example/, or site_url: https://leaks.example/ in company.yaml"
        )
    try:
        parts = urlsplit(told)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        good = False
    if not good or re.search(r"[\s\x00-\x1f]", told):
        raise LeakloreError(f'{where}: "{told}" is no web address; {like}')
    if parts.query or parts.fragment or parts.username or parts.password:
        raise LeakloreError(f'{where}: "{told}" has more than a host and a path; {like}')
    return told if told.endswith("/") else told + "/"


def code(url: str) -> Code:
    """The code of an address, error level M or better at the same size. Raises LeakloreError for a long one."""
    made = segno.make_qr(url, error="m")  # never a micro code, which phones don't read
    side = len(made.matrix) + 2 * QUIET
    if CODE / side < MODULE:
        longest = max(n for n in range(1, 400) if _side(n) <= CODE / MODULE)
        raise LeakloreError(
            f"the address of a system's page has {len(url)} letters, too many for a code of {CODE:g} mm; "
            f"at most {longest} fit"
        )
    out = []
    for y, row in enumerate(made.matrix):
        for run in re.finditer(rb"\x01+", bytes(row)):
            out.append(
                f"M{run.start() + QUIET} {y + QUIET}h{run.end() - run.start()}v1h{run.start() - run.end()}z"
            )
    return Code(side, "".join(out))


def _side(letters: int) -> int:
    return 17 + 4 * int(segno.make_qr("a" * letters, error="m").version) + 2 * QUIET


def sheets(book: Book, systems: Sequence[System], address: str, paper: Paper) -> str:
    """The sheets as one HTML file that needs nothing beside it. `address` as `base` gives it."""
    guide = book.library.guide
    templates = Templates(book)
    labels = []
    for system in systems:
        url = address + links.address("system", system.id)
        gas = guide.refrigerants.get(system.equipment.refrigerant or "")
        labels.append(
            Label(
                system=system,
                url=url,
                code=code(url),
                tall=round(min(TALLEST, 30 / (DIGIT * len(system.id))), 2),
                group=str(gas["safety_group"]) if gas else "",
                flammable=bool(gas and "flammable-refrigerant" in (gas["cautions"] or ())),
            )
        )
    count = math.ceil(len(labels) / paper.each)
    pages = [labels[i * paper.each : (i + 1) * paper.each] for i in range(count)]
    headline = gettext("{labels} on {sheets} of {paper}").format(
        labels=ngettext("{n} label", "{n} labels", len(labels)).format(n=len(labels)),
        sheets=ngettext("{n} sheet", "{n} sheets", count).format(n=count),
        paper=paper.name,
    )
    return str(
        templates.render(
            "labels.html", "", pages=pages, paper=paper, label=LABEL, side=CODE, headline=headline
        )
    )


def write(html: str, file: Path) -> None:
    """Writes the sheets as .html, or prints them to .pdf by Chromium; a file that is there is replaced at the end.

    Raises LeakloreError where the ending is another, the folder is missing, or there is no Chromium for a PDF.
    """
    ending = file.suffix.lower()
    if ending not in (".html", ".pdf"):
        raise LeakloreError(f'"{file}" ends neither in .html nor in .pdf; write -o labels.html')
    if not file.parent.is_dir():
        raise LeakloreError(f'there is no folder "{file.parent}"; make it first')
    data = (
        printing.pdf(html, "write -o labels.html and print that from any browser")
        if ending == ".pdf"
        else html.encode()
    )
    try:
        whole.write(file, data)
    except OSError as wrong:
        raise LeakloreError(f'"{file}" can\'t be written ({wrong.strerror})') from None
