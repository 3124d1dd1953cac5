"""What a manager calls a group of systems."""

from __future__ import annotations

from leaklore.analysis.patterns.signals import ALL, Key
from leaklore.language import gettext, later
from leaklore.pages import links
from leaklore.records.library import Library

SORTS = later(
    {
        "branch": "Branch",
        "crew": "Crew that installed",
        "crew-setting": "Crew and kind of place",
        "kind": "Kind of equipment",
        "family": "Model family",
        "refrigerant": "Refrigerant",
        "setting": "Kind of place",
        "install-year": "Year of installation",
        "line-route": "Way of the lines",
        "batch": "Building batch",
    }
)
"""Ways of sorting, by their key."""


def group(by: str, key: Key, library: Library) -> str:
    """`Osmere, crew O3, homes`; a batch and a branch speak for themselves."""
    words, first = library.vocabulary, key[0]
    if by in ("crew", "crew-setting"):
        branch = library.company.crews.get(first)
        crew = (
            gettext("{branch}, crew {crew}").format(branch=branch, crew=first)
            if branch
            else gettext("Crew {crew}").format(crew=first)
        )
        return crew if by == "crew" else f"{crew}, {words.name('settings', key[1]).lower()}"
    if by == "kind":
        return words.name("equipment_kinds", first)
    if by == "setting":
        return words.name("settings", first)
    if by == "line-route":
        return gettext("Lines: {lower}").format(lower=words.name("line_routes", first).lower())
    if by == "family":
        return gettext("Model family {first}").format(first=first)
    if by == "install-year":
        return gettext("Installed in {first}").format(first=first)
    return first


def leak(mode: str, library: Library, many: bool = True) -> str:
    """`flare joint leaks`, `leaks of all kinds`; modes keep the guide's name in small letters."""
    if mode == ALL:
        return gettext("leaks of all kinds") if many else gettext("all kinds of leak")
    name = links.name_of("mode", mode, library)
    name = name[0].lower() + name[1:]
    if not many or name.endswith("s"):
        return name
    return name + "s" if name.endswith("leak") else gettext("leaks by {mode}").format(mode=name)
