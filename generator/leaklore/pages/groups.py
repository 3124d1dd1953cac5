"""Pages of branches, settings and systems."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.case import kind_fact
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.figures import summary_figures
from leaklore.pages.render import Templates
from leaklore.pages.rows import case_rows, proofs, tally
from leaklore.pages.spec import Fact, Page
from leaklore.records.model import System

KINDS = {
    "branch": ("Branches", "What leaks where the company works."),
    "setting": ("Kinds of place", "What leaks in homes, shops, food stores and plants."),
}


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """Branches, settings, systems and their lists."""
    for kind in KINDS:
        yield from _groups(kind, book, templates)
    yield _systems(book, templates)
    for system in book.library.systems.values():
        yield _system(system, book, templates)


def _groups(kind: str, book: Book, templates: Templates) -> Iterator[Page]:
    lib = book.library
    title, lead = KINDS[kind]
    systems = Counter(s.site.branch if kind == "branch" else s.site.setting for s in lib.systems.values())
    entries = []
    for key, found in book.groups[kind].items():
        name = links.name_of(kind, key, lib)
        registered = f"{systems[key]} registered system{'s' if systems[key] != 1 else ''}"
        entries.append(
            {"key": key, "name": name, "summary": registered, "count": count_cases(len(found.cases))}
        )
        leaky = Counter(c.system.id for c in found.cases if c.system is not None)
        worst = sorted(
            ((lib.systems[s], n) for s, n in leaky.items() if n > 1), key=lambda x: (-x[1], x[0].id)
        )
        url = links.address(kind, key)
        text = f"{count_cases(len(found.cases))} on {registered}."
        body = templates.render(
            "group.html",
            url,
            crumbs=[(links.FOLDERS[kind] + "/", title)],
            kicker="Branch" if kind == "branch" else "Kind of place",
            title=name,
            lead=text,
            summary=found,
            figures=summary_figures(found, book.display),
            proofs=proofs(found),
            modes=tally(found.modes),
            components=tally(found.components),
            refrigerants=tally(found.refrigerants),
            systems=worst[:10],
            rows=case_rows(found.cases, book),
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


def _systems(book: Book, templates: Templates) -> Page:
    lib = book.library
    leaks = {key: len(found) for key, found in lib.by_system.items()}
    by_site: dict[str, list[tuple[System, int]]] = {}
    for system in lib.systems.values():
        by_site.setdefault(system.site.key, []).append((system, leaks.get(system.id, 0)))
    branches = []
    for branch in lib.company.branches:
        sites = [
            (
                {"key": site.key, "name": site.name, "leaks": sum(n for _, n in by_site[site.key])},
                by_site[site.key],
            )
            for site in sorted(lib.sites.values(), key=lambda s: s.name)
            if site.branch == branch and site.key in by_site
        ]
        branches.append((branch, sites))
    lead = f"{len(lib.systems)} systems at {len(lib.sites)} sites; the figure beside a name is its leaks on record."
    return Page(
        "systems/",
        "Systems",
        lead,
        templates.render("systems.html", "systems/", lead=lead, branches=branches),
        "system",
    )


def _system(system: System, book: Book, templates: Templates) -> Page:
    lib, show, gear = book.library, book.display, system.equipment
    url = links.address("system", system.id)
    root = links.root_from(url)
    vocabulary = lib.vocabulary
    facts = [
        Fact("Site", system.site.name, system.site.note or "", f"{root}systems/#{system.site.key}"),
        Fact("Branch", system.site.branch, "", root + links.address("branch", system.site.branch)),
        Fact(
            "Place",
            vocabulary.name("settings", system.site.setting),
            "",
            root + links.address("setting", system.site.setting),
        ),
    ]
    facts += kind_fact(gear, vocabulary)
    if gear.refrigerant:
        facts.append(
            Fact("Refrigerant", gear.refrigerant, "", root + links.address("refrigerant", gear.refrigerant))
        )
    if gear.charge:
        facts.append(Fact("Full charge", show.quantity(gear.charge)))
    if gear.installed:
        facts.append(
            Fact("Installed", gear.installed.written, f"by crew {system.crew}" if system.crew else "")
        )
    if system.site.batch:
        facts.append(Fact("Building batch", system.site.batch))
    if gear.line_set and gear.line_set.route:
        tubes = " and ".join(t for t in (gear.line_set.liquid, gear.line_set.suction) if t)
        length = show.quantity(gear.line_set.length) if gear.line_set.length else ""
        facts.append(
            Fact(
                "Line set",
                vocabulary.name("line_routes", gear.line_set.route),
                ", ".join(x for x in (length, tubes) if x),
            )
        )
    events = []
    before = gear.installed.day if gear.installed else None
    modes: set[str] = set()
    history = lib.by_system.get(system.id, ())
    for case in history:
        gap = (
            f"after {display.years((case.reported - before).days / 365.25)}"
            if before and case.reported > before
            else ""
        )
        events.append({"case": case, "gap": gap, "again": case.cause.mode in modes})
        modes.add(case.cause.mode)
        before = case.closed or case.reported
    active = [c for c in history if c.withdrawn is None]
    if not history:
        now = "No leak on record."
    else:
        last = max((f.date for c in active for f in c.follow_up if f.result == "holding"), default=None)
        now = (
            f"Last found holding on {display.day(last)}."
            if last
            else "Nobody has noted since whether the last repair holds."
        )
    refrigerant = lib.guide.refrigerants.get(gear.refrigerant or "")
    kind = vocabulary.name("equipment_kinds", gear.kind) if gear.kind else "System"
    lead = f"{kind} on {gear.refrigerant}: {count_cases(len(active)) if active else 'no leak on record'}."
    neighbours = [
        (s, len(lib.by_system.get(s.id, ())))
        for s in lib.systems.values()
        if s.site.key == system.site.key and s.id != system.id
    ][:40]
    body = templates.render(
        "system.html",
        url,
        system=system,
        lead=lead,
        facts=facts,
        events=events,
        now=now,
        cautions=list((refrigerant["cautions"] if refrigerant else None) or ()),
        neighbours=neighbours,
    )
    return Page(url, f"{system.site.name}, {system.name} ({system.id})", lead, body, "system")
