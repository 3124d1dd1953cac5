"""Atom feed of the newest cases (RFC 4287) and the sitemap."""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import escape

from leaklore.language import current, foreign, gettext
from leaklore.pages import links
from leaklore.pages.book import Book
from leaklore.pages.markup import Prose, shorten
from leaklore.pages.spec import DataFile, Listed, Page

ENTRIES = 30
SITEMAP = "sitemap.xml"
IN_ONE = 5000
"""Pages of one sitemap; the protocol allows 50,000."""


def feed(book: Book) -> DataFile:
    """The newest cases; ids are tag-like and stay when the site moves."""
    lib = book.library
    base = lib.company.site_url or ""
    newest = [c for c in lib.newest if c.withdrawn is None][:ENTRIES]
    updated = max((book.changed_on(c.path, c.closed or c.reported) for c in newest), default=book.today)
    title = gettext("{company}: newest leak cases").format(company=lib.company.name)
    spoken = f' xml:lang="{current().tag}"' if foreign() else ""
    out = [
        '<?xml version="1.0" encoding="utf-8"?>',
        f'<feed xmlns="http://www.w3.org/2005/Atom"{spoken}>',
        f"<title>{escape(title)}</title>",
        "<id>urn:leaklore:feed:cases</id>",
        f"<updated>{updated.isoformat()}T00:00:00Z</updated>",
        f"<author><name>{escape(lib.company.name)}</name></author>",
        f'<link rel="self" href="{escape(base)}feed.xml"/>',
        f'<link href="{escape(base) or "./"}"/>',
    ]
    for case in newest:
        changed = book.changed_on(case.path, case.closed or case.reported)
        cause = links.name_of("mode", case.cause.mode, lib)
        out += [
            "<entry>",
            f"<title>{escape(Prose.plain(case.title))}</title>",
            f"<id>urn:leaklore:case:{escape(case.id)}</id>",
            f'<link href="{escape(base)}{links.address("case", case.id)}"/>',
            f"<published>{case.reported.isoformat()}T00:00:00Z</published>",
            f"<updated>{changed.isoformat()}T00:00:00Z</updated>",
            f'<category term="{escape(case.cause.mode)}" label="{escape(cause)}"/>',
            f"<summary>{escape(shorten(cause + '. ' + Prose.opening(case.story, 300), 300))}</summary>",
            "</entry>",
        ]
    out.append("</feed>")
    return DataFile("feed.xml", ("\n".join(out) + "\n").encode())


def sitemap(pages: Iterable[Listed | Page], base: str, path: str = SITEMAP) -> DataFile:
    """Those pages that are meant to be found; relative addresses where the site's own is not set."""
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<urlset xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">',
    ]
    found = [page for page in pages if page.listed]
    # at once, for there are thousands
    places = escape("\n".join(base + page.url for page in found)).split("\n") if found else []
    for page, place in zip(found, places, strict=True):
        changed = f"<lastmod>{page.changed.isoformat()}</lastmod>" if page.changed else ""
        out.append(f"<url><loc>{place}</loc>{changed}</url>")
    out.append("</urlset>")
    return DataFile(path, ("\n".join(out) + "\n").encode())


def sitemaps(pages: Iterable[Listed | Page], base: str) -> list[DataFile]:
    """`sitemap.xml` with all pages; of many, an index there and the pages in parts (sitemaps.org, protocol 0.9)."""
    found = [page for page in pages if page.listed]
    if len(found) <= IN_ONE:
        return [sitemap(found, base)]
    parts = [
        sitemap(found[start : start + IN_ONE], base, f"sitemap-{number}.xml")
        for number, start in enumerate(range(0, len(found), IN_ONE), 1)
    ]
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<sitemapindex xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">',
        *(f"<sitemap><loc>{escape(base + part.path)}</loc></sitemap>" for part in parts),
        "</sitemapindex>",
    ]
    return [DataFile(SITEMAP, ("\n".join(out) + "\n").encode()), *parts]
