"""Pages of branches and settings; with them the register of systems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from leaklore.language import gettext, later, ngettext
from leaklore.pages import links, register
from leaklore.pages.book import Book
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.figures import summary_figures
from leaklore.pages.render import Templates
from leaklore.pages.rows import behind, proofs, tally
from leaklore.pages.spec import Page

KINDS = later(
    {
        "branch": ("Branches", "What leaks where the company works."),
        "setting": ("Kinds of place", "What leaks in homes, shops, food stores and plants."),
    }
)


WHOLE = tuple(f"group/{kind}" for kind in KINDS)
"""Keys of the units that read all cases, as the site writes them."""
Unit = tuple[str, str]


def units(book: Book) -> list[Unit]:
    """("group", kind) for both kinds, then ("register", address) for each page of the register, and ("systems", key) for
    the systems on it, some at a time."""
    return [
        *(("group", kind) for kind in KINDS),
        *(("register", url) for url in register.addresses(book)),
        *(("systems", key) for key in register.runs(book)),
    ]


def unit_pages(book: Book, templates: Templates, unit: Unit) -> Iterator[Page]:
    """Pages of one unit."""
    what, key = unit
    if what == "group":
        yield from _groups(key, book, templates)
    elif what == "register":
        yield register.page_at(key, book, templates)
    else:
        yield from register.pages_of(key, book, templates)


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """Branches, settings, systems and their lists."""
    for unit in units(book):
        yield from unit_pages(book, templates, unit)


def _groups(kind: str, book: Book, templates: Templates) -> Iterator[Page]:
    lib = book.library
    title, lead = map(gettext, KINDS[kind])
    systems = Counter(s.site.branch if kind == "branch" else s.site.setting for s in lib.systems.values())
    entries = []
    for key, found in book.groups[kind].items():
        name = links.name_of(kind, key, lib)
        registered = ngettext("{n} registered system", "{n} registered systems", systems[key]).format(
            n=systems[key]
        )
        entries.append(
            {"key": key, "name": name, "summary": registered, "count": count_cases(len(found.cases))}
        )
        leaky = Counter(c.system.id for c in found.cases if c.system is not None)
        worst = sorted(
            ((lib.systems[s], n) for s, n in leaky.items() if n > 1), key=lambda x: (-x[1], x[0].id)
        )
        url = links.address(kind, key)
        text = gettext("{cases} on {systems}.").format(
            cases=count_cases(len(found.cases)), systems=registered
        )
        if not (found.cases or systems[key]):
            text = gettext("No case and no system yet.")
        body = templates.render(
            "group.html",
            url,
            crumbs=[(links.FOLDERS[kind] + "/", title)],
            kicker=gettext("Branch") if kind == "branch" else gettext("Kind of place"),
            title=name,
            lead=text,
            summary=found,
            figures=summary_figures(found, book.display),
            proofs=proofs(found),
            modes=tally(found.modes),
            components=tally(found.components),
            refrigerants=tally(found.refrigerants),
            systems=worst[:10],
            behind=behind(found.cases, book, kind, key),
        )
        yield Page(url, name, text, body, kind)
    url = links.FOLDERS[kind] + "/"
    yield Page(
        url,
        title,
        lead,
        templates.render("groups.html", url, kind=kind, title=title, lead=lead, entries=entries),
        kind,
    )
