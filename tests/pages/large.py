"""A library many times as large as the demo: its cases and systems again, under other numbers and on other days."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from leaklore.records.library import Library
from leaklore.records.model import Case, Site, System


def times(library: Library, count: int) -> Library:
    """`count` copies of every case, site and system. Copies lie some days apart and stay inside their years."""
    sites: dict[str, Site] = {}
    systems: dict[str, System] = {}
    cases: list[Case] = []
    for n in range(count):
        for site in library.sites.values():
            key = f"{site.key}-{n}"
            sites[key] = replace(site, key=key, name=f"{site.name} {n}")
        for system in library.systems.values():
            number = f"{system.id}{n:02}"
            systems[number] = replace(system, id=number, site=sites[f"{system.site.key}-{n}"])
        for case in library.cases:
            day = min(case.reported + dt.timedelta(days=n), dt.date(case.year, 12, 31))
            own = systems[f"{case.system.id}{n:02}"] if case.system else None
            cases.append(
                replace(
                    case, id=f"{case.id}{n:02}", reported=day, closed=None, system=own, was=(), related=()
                )
            )
    ordered = tuple(sorted(cases, key=lambda c: c.id))
    return replace(library, sites=sites, systems=systems, cases=ordered, reading=())
