"""Keeping the site on a phone: the page for it, the page for what is not there, and the app's manifest and icons."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator

from leaklore.language import gettext
from leaklore.pages import display
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page

URL, OFFLINE = "keep/", "offline/"
KEPT = 1000
"""A phone keeps so many cases, the newest: some 6 MB, a minute on a weak connection, and years of a branch's own work."""
PAPER, FILL, COPPER, PATINA = "#f8f2e7", "#0c4b42", "#b5622f", "#2f6f62"
"""As in tokens.css (--paper, --fill) and mark.svg."""
FINE = 4
"""Icons are drawn so many times larger and scaled down, which smooths their edges."""


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """The page "keep" and the page that stands in for one that is not on the phone."""
    head = templates.render("keep_head.html", URL)
    total = len(book.library.cases)
    newest = KEPT if total > KEPT else None
    lead = gettext("All cases on this phone, for plant rooms and cellars without signal.")
    if newest:
        some = gettext("The newest {n} cases on this phone, for plant rooms and cellars without signal.")
        lead = some.format(n=display.number(newest))
    body = templates.render("keep.html", URL, newest=newest, total=total)
    yield Page(URL, gettext("Keep the library on this phone"), lead, body, "keep", head=head)
    body = templates.render("offline.html", OFFLINE, newest=newest, total=total)
    lead = gettext("There is no signal, and this page was not kept.")
    yield Page(OFFLINE, gettext("This page is not on this phone"), lead, body, "keep", listed=False)


def files(book: Book) -> Iterator[DataFile]:
    """`app.webmanifest` and the icons that it names."""
    company = book.library.company
    icons = [{"src": "img/mark.svg", "sizes": "any", "type": "image/svg+xml", "purpose": "any"}]
    for name, size, part, purpose in (
        ("app-192", 192, 0.8, "any"),
        ("app-512", 512, 0.8, "any"),
        ("app-maskable-512", 512, 0.56, "maskable"),  # all of it inside the safe circle of 80 %
    ):
        path = f"icons/{name}.png"
        yield DataFile(path, icon(size, part))
        icons.append({"src": path, "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose})
    said = {
        "id": "./",
        "name": f"Leaklore {company.name}",
        "short_name": "Leaklore",
        "description": company.about,
        "lang": book.language.tag,
        "start_url": "./",
        "scope": "./",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": FILL,
        "icons": icons,
    }
    yield DataFile("app.webmanifest", json.dumps(said, ensure_ascii=False, indent=1).encode() + b"\n")


def icon(size: int, part: float) -> bytes:
    """The mark on paper as a square PNG of `size` px; the mark takes `part` of its width. The same as mark.svg."""
    from PIL import Image, ImageDraw

    large = size * FINE
    image = Image.new("RGB", (large, large), PAPER)
    draw = ImageDraw.Draw(image)
    unit = large * part / 40  # the mark's own drawing is 40 wide
    edge = large * (1 - part) / 2

    def box(*at: float) -> tuple[float, float, float, float]:
        left, top, right, bottom = (edge + unit * v for v in at)
        return left, top, right, bottom

    draw.rectangle(box(2, 8, 23, 19), COPPER)
    draw.pieslice(box(14, 8, 32, 26), 270, 360, COPPER)
    draw.rectangle(box(21, 17, 32, 22), COPPER)
    draw.rectangle(box(18.5, 21.5, 34.5, 25.5), COPPER)
    draw.ellipse(box(20.5, 27, 32.5, 39), outline=PATINA, width=round(3 * unit))
    out = io.BytesIO()
    image.resize((size, size), Image.Resampling.LANCZOS).save(out, "PNG", optimize=True)
    return out.getvalue()
