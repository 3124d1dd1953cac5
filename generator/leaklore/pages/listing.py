"""Home, search, lists of cases, how we count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from leaklore.analysis import intervals, summary
from leaklore.pages import links, search
from leaklore.pages.book import Book
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.markup import Prose
from leaklore.pages.render import Templates
from leaklore.pages.rows import tally
from leaklore.pages.spec import Page
from leaklore.records.model import Case

NEWEST = 40


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """All pages that are neither a case nor the guide nor a group."""
    yield home(book, templates)
    yield search.page(book, templates)
    yield from case_lists(book, templates)
    yield methods(book, templates)
    for old, case in sorted(book.library.former.items()):
        url = links.address("case", old)
        body = templates.render("moved.html", url, old=old, case=case)
        yield Page(
            url, f"{old} is now {case.id}", f"{old} has moved to {case.id}.", body, "cases", listed=False
        )


def home(book: Book, templates: Templates) -> Page:
    """The home page."""
    lib = book.library
    everything = summary.summarize(lib.active, lib.company)
    body = templates.render(
        "home.html",
        "",
        symptoms=[key for key, _ in everything.symptoms[:7]],
        newest=[c for c in lib.newest if c.withdrawn is None][:6],
        counted=len(lib.counted),
        total=len(lib.active),
        modes=tally(everything.modes, 8),
    )
    return Page(
        "",
        lib.company.name,
        f"{lib.company.about}. Refrigerant leaks: what gave way, how it was found, and how we know.",
        body,
        "home",
    )


def words(case: Case, book: Book) -> str:
    """What the plain filter of a list looks through, in lower case."""
    lib = book.library
    name = lib.vocabulary.name
    gear = case.equipment
    parts = [
        case.id,
        case.title,
        *(name("modes", c.mode) for c in case.causes),
        *(name("components", c.component) for c in case.causes),
        *(name("symptoms", s) for s in case.symptoms),
        gear.refrigerant or "",
        (gear.refrigerant or "").replace("-", ""),
        name("settings", gear.setting) if gear.setting else "",
        name("equipment_kinds", gear.kind) if gear.kind else "",
        case.branch,
        f"crew {case.crew}" if case.crew else "",
        case.cause.proof,
        "withdrawn" if case.withdrawn else "",
        {True: "held", False: "did-not-hold", None: ""}[case.fix_held],
        case.system.id if case.system else "",
        case.system.site.name if case.system else "",
        case.lesson or "",
    ]
    return " ".join(" ".join(dict.fromkeys(Prose.plain(" ".join(parts)).lower().split())).split())


def case_lists(book: Book, templates: Templates) -> Iterator[Page]:
    """All cases with a filter, one list a year, and the newest."""
    lib = book.library
    years = sorted(Counter(c.year for c in lib.cases).items(), reverse=True)
    index = {c.id: words(c, book) for c in lib.cases}
    active = lib.active
    quick = [
        ("Pinpointed or held", "proven", len(lib.counted)),
        *((b, b.lower(), len(lib.by_branch.get(b, ()))) for b in lib.company.branches),
        *(
            (r, r.lower(), n)
            for r, n in Counter(
                c.equipment.refrigerant for c in active if c.equipment.refrigerant
            ).most_common(3)
        ),
        ("Did not hold", "did-not-hold", sum(c.fix_held is False for c in active)),
    ]
    for case in lib.counted:
        index[case.id] += " proven"
    all_lead = (
        f"{count_cases(len(active))} on record, {len(lib.counted)} pinpointed or held."
        if active
        else "None yet."
    )

    def make(
        url: str, title: str, here: str, lead: str, shown: tuple[Case, ...], year: int | None, filtered: bool
    ) -> Page:
        crumbs = [] if url == "cases/" else [("cases/", "Cases")]
        body = templates.render(
            "cases.html",
            url,
            crumbs=crumbs,
            here=here,
            title=title,
            lead=lead,
            cases=shown,
            filter=filtered,
            words=index,
            quick=quick,
            years=years,
            year=year,
        )
        return Page(url, title, lead, body, "cases")

    yield make("cases/", "All cases", "Cases", all_lead, lib.newest, None, True)
    yield make(
        "cases/newest/",
        "Newest cases",
        "Newest",
        f"The last {min(NEWEST, len(lib.cases))} reported.",
        lib.newest[:NEWEST],
        None,
        False,
    )
    for year, n in years:
        shown = tuple(c for c in lib.newest if c.year == year)
        yield make(
            f"cases/{year}/",
            f"Cases of {year}",
            str(year),
            f"{count_cases(n)} reported in {year}.",
            shown,
            year,
            True,
        )


def methods(book: Book, templates: Templates) -> Page:
    """How we count."""
    lib = book.library
    ranks = []
    for n in (6, 10, 15, 20, 30, 50):
        found = intervals.median_ranks(n)
        assert found is not None
        ranks.append((n, *found))
    body = templates.render(
        "methods.html",
        "how-we-count/",
        levels=Counter(c.cause.proof for c in lib.active),
        counted=len(lib.counted),
        total=len(lib.active),
        withdrawn=len(lib.cases) - len(lib.active),
        few=intervals.FEW,
        ranks=ranks,
    )
    return Page(
        "how-we-count/",
        "How we count",
        "Proof levels, medians and their intervals, yields: how every figure is made.",
        body,
        "methods",
    )
