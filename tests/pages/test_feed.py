"""The Atom feed by RFC 4287 and the sitemap."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from urllib.parse import urljoin

from lxml import etree
from markupsafe import Markup

from analysis.builders import COMPANY, case, library
from leaklore.pages.book import Book
from leaklore.pages.feed import ENTRIES, IN_ONE, feed, sitemap, sitemaps
from leaklore.pages.site import Edition
from leaklore.pages.spec import Page

ATOM = {"a": "http://www.w3.org/2005/Atom"}
MAP = {"s": "http://www.sitemaps.org/schemas/sitemap/0.9"}
TODAY = dt.date(2026, 12, 31)
HOME = "https://leaks.example/"


def parse(book: Book) -> etree._Element:
    """The feed as a strict XML parser reads it."""
    made = feed(book)
    assert made.path == "feed.xml"
    return etree.fromstring(made.content)


def text(node: etree._Element, path: str) -> str:
    """The text of the one element at `path`."""
    found = node.findall(path, ATOM)
    assert len(found) == 1, (path, len(found))
    return found[0].text or ""


def rfc_4287(root: etree._Element) -> None:
    """Required elements, each as often as it may occur (RFC 4287, sections 4.1.1 and 4.1.2)."""
    assert root.tag == "{http://www.w3.org/2005/Atom}feed"
    for node in (root, *root.findall("a:entry", ATOM)):
        assert text(node, "a:title").strip()
        assert ":" in text(node, "a:id"), "an id is a URI (4.2.6)"
        stamp = dt.datetime.fromisoformat(text(node, "a:updated"))  # RFC 3339 (3.3)
        assert stamp.tzinfo is not None
        assert len(node.findall("a:published", ATOM)) <= 1
        assert len(node.findall("a:summary", ATOM)) <= 1
        alternates = [x for x in node.findall("a:link", ATOM) if x.get("rel", "alternate") == "alternate"]
        assert len(alternates) == 1, "an entry without content must have one (4.1.2)"
        assert all(x.get("href") for x in node.findall("a:link", ATOM))
        assert all(x.get("term") for x in node.findall("a:category", ATOM))
    assert text(root, "a:author/a:name").strip(), "the feed's author stands for its entries (4.1.1)"
    selves = [x for x in root.findall("a:link", ATOM) if x.get("rel") == "self"]
    assert len(selves) == 1
    ids = [text(e, "a:id") for e in root.findall("a:entry", ATOM)]
    assert len(set(ids)) == len(ids)
    assert text(root, "a:id") not in ids
    known = {
        f"{{{ATOM['a']}}}{n}"
        for n in [
            "feed",
            "title",
            "id",
            "updated",
            "author",
            "name",
            "link",
            "entry",
            "published",
            "category",
            "summary",
        ]
    }
    assert {e.tag for e in root.iter()} <= known


def test_the_demo_feed_is_atom(demo_book: Book, demo_edition: Edition) -> None:
    """Well-formed, complete, and the same as in the built site."""
    root = parse(demo_book)
    rfc_4287(root)
    assert len(root.findall("a:entry", ATOM)) == ENTRIES == 30
    assert feed(demo_book) in demo_edition.files


def test_the_newest_cases_stand_first_and_withdrawn_ones_are_out(demo_book: Book) -> None:
    """By day of report."""
    root = parse(demo_book)
    days = [text(e, "a:published") for e in root.findall("a:entry", ATOM)]
    assert days == sorted(days, reverse=True)
    newest = max(c.reported for c in demo_book.library.active)
    assert days[0].startswith(newest.isoformat())
    told = {text(e, "a:id").rsplit(":", 1)[1] for e in root.findall("a:entry", ATOM)}
    assert told <= {c.id for c in demo_book.library.active}
    small = Book(library(case(1), case(2, withdrawn=True), case(3)), TODAY)
    entries = parse(small).findall("a:entry", ATOM)
    assert [text(e, "a:id")[-3:] for e in entries] == ["003", "001"]


def test_links_lead_to_the_pages(demo_book: Book, demo_edition: Edition) -> None:
    """Relative to where the feed lies, as long as the site has no address."""
    urls = {page.url for page in demo_edition.pages}
    assert demo_book.library.company.site_url is None or demo_book.library.company.site_url.endswith("/")
    base = demo_book.library.company.site_url or HOME
    for link in parse(demo_book).findall("a:entry/a:link", ATOM):
        assert urljoin(base, link.get("href")).removeprefix(base) in urls


def test_with_an_address_all_links_are_whole() -> None:
    """Feed readers don't resolve relative links alike."""
    book = Book(library(case(1), company=replace(COMPANY, site_url=HOME)), TODAY)
    root = parse(book)
    rfc_4287(root)
    hrefs = {link.get("rel", "alternate"): link.get("href") for link in root.findall("a:link", ATOM)}
    assert hrefs == {"self": f"{HOME}feed.xml", "alternate": HOME}
    assert root.find("a:entry/a:link", ATOM).get("href") == f"{HOME}cases/KW-2025-001/"


def test_ids_stay_when_the_site_moves() -> None:
    """A moved site must not show every case as new."""
    at_home = parse(Book(library(case(1)), TODAY))
    moved = parse(Book(library(case(1), company=replace(COMPANY, site_url=HOME)), TODAY))
    assert [e.text for e in at_home.iter("{*}id")] == [e.text for e in moved.iter("{*}id")]


def test_updated_is_the_day_of_the_last_change() -> None:
    """Of the file where the history knows it, else of the closing, else of the report."""
    one, two, three = case(1), replace(case(2), closed=dt.date(2025, 5, 5)), case(3)
    book = Book(library(one, two, three), TODAY, changed={three.path: dt.date(2026, 2, 3)})
    root = parse(book)
    stamps = {text(e, "a:id")[-3:]: text(e, "a:updated") for e in root.findall("a:entry", ATOM)}
    assert stamps == {
        "001": "2025-01-02T00:00:00Z",
        "002": "2025-05-05T00:00:00Z",
        "003": "2026-02-03T00:00:00Z",
    }
    assert text(root, "a:updated") == "2026-02-03T00:00:00Z"


def test_a_feed_without_cases_is_still_a_feed() -> None:
    """On the day of the edition."""
    root = parse(Book(library(), TODAY))
    rfc_4287(root)
    assert text(root, "a:updated") == "2026-12-31T00:00:00Z"


def test_signs_of_xml_are_text() -> None:
    """Titles, names and stories with every sign that XML knows."""
    odd = "Leak < 5 g/yr & \"hiss\" ]]> 'x' é"
    company = replace(COMPANY, name="Cold & <Sons>", site_url="https://leaks.example/?a=1&b=2/")
    one = replace(case(1), title=odd, story="<script>alert(1)</script> **bold** [[flare|the flare]] & more")
    root = parse(Book(library(one, company=company), TODAY))
    rfc_4287(root)
    assert text(root, "a:entry/a:title") == odd
    assert text(root, "a:author/a:name") == "Cold & <Sons>"
    summary = text(root, "a:entry/a:summary")
    assert summary.endswith("alert(1)</script> bold the flare & more")
    assert root.find("a:entry/a:summary", ATOM).get("type", "text") == "text"


def test_summaries_are_short_plain_text(demo_book: Book) -> None:
    """The cause first, no marks, at most 300 signs."""
    for entry in parse(demo_book).findall("a:entry", ATOM):
        summary = text(entry, "a:summary")
        assert summary.startswith(entry.find("a:category", ATOM).get("label"))
        assert len(summary) <= 300
        assert not any(mark in summary + text(entry, "a:title") for mark in ("[[", "**", "`", "]("))


def page(url: str, **more: object) -> Page:
    """A page of nothing."""
    return Page(url, "T", "D", Markup(""), "", **more)  # type: ignore[arg-type]


def entries(content: bytes) -> dict[str, str | None]:
    """Address -> day of the last change, of a well-formed sitemap."""
    root = etree.fromstring(content)
    assert root.tag == f"{{{MAP['s']}}}urlset"
    urls = root.findall("s:url", MAP)
    assert len(urls) == len(root), "nothing but addresses"
    out = {u.findtext("s:loc", None, MAP): u.findtext("s:lastmod", None, MAP) for u in urls}
    assert len(out) == len(urls), "each once"
    return out


def test_sitemap_names_listed_pages_with_their_day() -> None:
    """Pages not meant to be found stay out."""
    made = sitemap(
        [page("", changed=dt.date(2026, 1, 2)), page("cases/A&B/"), page("cases/KW-2021-901/", listed=False)],
        HOME,
    )
    assert made.path == "sitemap.xml"
    assert entries(made.content) == {HOME: "2026-01-02", f"{HOME}cases/A&B/": None}


def test_many_pages_stand_in_parts_that_an_index_names() -> None:
    """An index and sitemaps as in the protocol of sitemaps.org, 0.9; nothing is lost or said twice."""
    found = [page(f"cases/{n}/") for n in range(2 * IN_ONE + 1)]
    index, *parts = sitemaps([*found, page("cases/old/", listed=False)], HOME)
    root = etree.fromstring(index.content)
    assert index.path == "sitemap.xml"
    assert root.tag == f"{{{MAP['s']}}}sitemapindex"
    assert [e.findtext("s:loc", None, MAP) for e in root] == [HOME + part.path for part in parts]
    assert [len(entries(part.content)) for part in parts] == [IN_ONE, IN_ONE, 1]
    assert {loc for part in parts for loc in entries(part.content)} == {HOME + p.url for p in found}


def test_few_pages_stand_in_one_sitemap() -> None:
    """Up to the limit there is no index."""
    (only,) = sitemaps([page(f"cases/{n}/") for n in range(IN_ONE)], HOME)
    assert only.path == "sitemap.xml"
    assert len(entries(only.content)) == IN_ONE


def test_sitemap_of_the_demo_library(demo_book: Book, demo_edition: Edition) -> None:
    """Every listed page, no other."""
    content = next(f.content for f in demo_edition.files if f.path == "sitemap.xml")
    base = demo_book.library.company.site_url or ""
    listed = {base + p.url for p in demo_edition.pages if p.listed}
    assert {loc or "" for loc in entries(content)} == listed
    assert len(listed) > len(demo_book.library.cases)


def test_pages_of_former_numbers_are_not_in_the_sitemap(demo_book: Book, demo_edition: Edition) -> None:
    """They only lead on."""
    content = next(f.content for f in demo_edition.files if f.path == "sitemap.xml").decode()
    pages = {p.url: p for p in demo_edition.pages}
    assert demo_book.library.former
    for former in demo_book.library.former:
        assert not pages[f"cases/{former}/"].listed
        assert former not in content
