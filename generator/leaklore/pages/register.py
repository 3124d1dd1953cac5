"""The register of installs: its pages by branch and site, and the page of each system."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from leaklore.language import gettext
from leaklore.pages import display, links
from leaklore.pages.bench import BENCHES
from leaklore.pages.book import Book
from leaklore.pages.case import kind_fact
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.once import once
from leaklore.pages.render import Templates
from leaklore.pages.spec import Fact, Page
from leaklore.records.model import Site, System
from leaklore.workers import cut

FRONT = "systems/"
ALL = 400
"""So many systems stand on one page."""
EACH = 200
"""Of more, about so many stand on each page: a page ends after the site that fills it."""
RUN = 20
"""Systems whose pages are made together."""


@dataclass(frozen=True)
class Part:
    """One page of the register. `sites` by name, each with its systems in the order of the register."""

    url: str
    branch: str
    sites: tuple[tuple[Site, tuple[System, ...]], ...]

    @property
    def title(self) -> str:
        """`Alder Court to Brook Lane`."""
        first, last = self.sites[0][0].name, self.sites[-1][0].name
        return first if first == last else gettext("{first} to {last}").format(first=first, last=last)

    @property
    def count(self) -> int:
        """Systems on it."""
        return sum(len(systems) for _, systems in self.sites)


@dataclass(frozen=True)
class Register:
    """All parts, and where each site is. In a small register the parts of all branches have the same address."""

    parts: tuple[Part, ...]
    place: Mapping[str, str]


@once
def register(book: Book) -> Register:
    """The register of a library."""
    lib = book.library
    at: dict[str, list[System]] = {}
    for system in lib.systems.values():
        at.setdefault(system.site.key, []).append(system)
    by_name = sorted((s for s in lib.sites.values() if s.key in at), key=lambda s: s.name)
    small = len(lib.systems) <= ALL
    parts = []
    for branch in lib.company.branches:
        runs: list[list[Site]] = [[]]
        filled = 0
        for site in by_name:
            if site.branch != branch:
                continue
            if filled >= EACH and not small:
                runs.append([])
                filled = 0
            runs[-1].append(site)
            filled += len(at[site.key])
        for number, run in enumerate(runs, 1):
            if run:
                url = FRONT if small else f"{FRONT}at/{links.slug(branch)}/{number}/"
                parts.append(Part(url, branch, tuple((s, tuple(at[s.key])) for s in run)))
    place = {site.key: part.url for part in parts for site, _ in part.sites}
    return Register(tuple(parts), place)


def addresses(book: Book) -> list[str]:
    """Addresses of the register's pages, the front page first."""
    return list(dict.fromkeys([FRONT, *(part.url for part in register(book).parts)]))


@once
def runs(book: Book) -> Mapping[str, tuple[System, ...]]:
    """The systems on each page of the register, RUN at a time, by a key that a system elsewhere does not change."""
    on: dict[str, list[System]] = {}
    for part in register(book).parts:
        on.setdefault(part.url, []).extend(system for _, systems in part.sites for system in systems)
    return {f"{url}{n}": tuple(run) for url, found in on.items() for n, run in enumerate(cut(found, RUN), 1)}


def page_at(url: str, book: Book, templates: Templates) -> Page:
    """A page of the register."""
    if url == FRONT:
        return _front(book, templates)
    [part] = [part for part in register(book).parts if part.url == url]
    return _part(part, book, templates)


def pages_of(key: str, book: Book, templates: Templates) -> Iterator[Page]:
    """The pages of some systems."""
    for system in runs(book)[key]:
        yield _system(system, book, templates)


def _entries(part: Part, book: Book) -> list[tuple[Site, int, list[tuple[System, int]]]]:
    """(site, leaks, its systems with theirs)."""
    leaks = book.library.by_system
    out = []
    for site, systems in part.sites:
        found = [(s, len(leaks.get(s.id, ()))) for s in systems]
        out.append((site, sum(n for _, n in found), found))
    return out


def _front(book: Book, templates: Templates) -> Page:
    lib = book.library
    found = register(book)
    whole = len(lib.systems) <= ALL
    lead = (
        gettext("{systems} systems at {sites} sites; the figure beside a name is its leaks on record.")
        if whole
        else gettext("{systems} systems at {sites} sites, by branch and name of the site.")
    ).format(systems=display.number(len(lib.systems)), sites=display.number(len(lib.sites)))
    if not lib.systems:
        lead = gettext("Every install that the company looks after, with its leaks.")
    branches = [
        (
            branch,
            [(part, _entries(part, book) if whole else []) for part in found.parts if part.branch == branch],
        )
        for branch in (lib.company.branches if lib.systems else ())
    ]
    body = templates.render("systems.html", FRONT, lead=lead, branches=branches, whole=whole)
    return Page(FRONT, gettext("Systems"), lead, body, "system")


def _part(part: Part, book: Book, templates: Templates) -> Page:
    mine = [p for p in register(book).parts if p.branch == part.branch]
    here = mine.index(part)
    lead = gettext("{n} systems; the figure beside a name is its leaks on record.").format(n=part.count)
    body = templates.render(
        "systems_part.html",
        part.url,
        part=part,
        lead=lead,
        sites=_entries(part, book),
        before=mine[here - 1] if here else None,
        after=mine[here + 1] if here + 1 < len(mine) else None,
    )
    title = gettext("Systems of {branch}, {part}").format(branch=part.branch, part=part.title)
    return Page(part.url, title, lead, body, "system")


def asked(system: System, book: Book) -> str:
    """What the search is told of a unit before anything is seen: its kind, refrigerant, charge and year, in its words."""
    gear = system.equipment
    told = [
        book.library.vocabulary.name("equipment_kinds", gear.kind) if gear.kind else "",
        gear.refrigerant or "",
        gettext("charge {amount}").format(amount=gear.charge.written) if gear.charge else "",
        gettext("installed {year}").format(year=gear.installed.day.year) if gear.installed else "",
    ]
    return "".join(f"{words}, " for words in told if words)


def _system(system: System, book: Book, templates: Templates) -> Page:
    lib, show, gear = book.library, book.display, system.equipment
    found = register(book)
    url = links.address("system", system.id)
    root = links.root_from(url)
    vocabulary = lib.vocabulary
    facts = [
        Fact(
            gettext("Site"),
            system.site.name,
            system.site.note or "",
            f"{root}{found.place[system.site.key]}#{system.site.key}",
        ),
        Fact(gettext("Branch"), system.site.branch, "", root + links.address("branch", system.site.branch)),
        Fact(
            gettext("Place"),
            vocabulary.name("settings", system.site.setting),
            "",
            root + links.address("setting", system.site.setting),
        ),
    ]
    facts += kind_fact(gear, vocabulary)
    if gear.refrigerant:
        facts.append(
            Fact(
                gettext("Refrigerant"),
                gear.refrigerant,
                "",
                root + links.address("refrigerant", gear.refrigerant),
            )
        )
    if gear.charge:
        facts.append(Fact(gettext("Full charge"), show.quantity(gear.charge)))
    if gear.installed:
        by = gettext("by crew {crew}").format(crew=system.crew) if system.crew else ""
        facts.append(Fact(gettext("Installed"), gear.installed.written, by))
    if system.site.batch:
        facts.append(Fact(gettext("Building batch"), system.site.batch))
    if gear.line_set and gear.line_set.route:
        tubes = gettext(" and ").join(t for t in (gear.line_set.liquid, gear.line_set.suction) if t)
        length = show.quantity(gear.line_set.length) if gear.line_set.length else ""
        facts.append(
            Fact(
                gettext("Line set"),
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
            gettext("after {years}").format(years=display.years((case.reported - before).days / 365.25))
            if before and case.reported > before
            else ""
        )
        events.append({"case": case, "gap": gap, "again": case.cause.mode in modes})
        modes.add(case.cause.mode)
        before = case.closed or case.reported
    active = [c for c in history if c.withdrawn is None]
    if not history:
        now = gettext("No leak on record.")
    else:
        last = max((f.date for c in active for f in c.follow_up if f.result == "holding"), default=None)
        now = (
            gettext("Last found holding on {day}.").format(day=display.day(last))
            if last
            else gettext("Nobody has noted since whether the last repair holds.")
        )
    refrigerant = lib.guide.refrigerants.get(gear.refrigerant or "")
    kind = vocabulary.name("equipment_kinds", gear.kind) if gear.kind else gettext("System")
    leaks = count_cases(len(active)) if active else gettext("no leak on record")
    lead = gettext("{kind} on {refrigerant}: {leaks}.").format(
        kind=kind, refrigerant=gear.refrigerant, leaks=leaks
    )
    body = templates.render(
        "system.html",
        url,
        system=system,
        lead=lead,
        facts=facts,
        events=events,
        now=now,
        asked=asked(system, book),
        cautions=list((refrigerant["cautions"] if refrigerant else None) or ()),
        benches=[bench for bench in BENCHES if bench.at_a_system],
    )
    return Page(url, f"{system.full_name} ({system.id})", lead, body, "system")
