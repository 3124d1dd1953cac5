"""What an audience of the site may see: one border, right behind the check, after which nothing else is in memory.

`x-audience` in the schemas says who is the lowest that sees a field: "customer" < "crew" < "all". What is not marked goes
by its parent, and a child is never seen by more than its parent. A field at the top that nobody has marked goes by the mark
of its schema's root, which is "all": what nobody has thought about stays in the company.

A field is taken away by its default in the model, and where a record can't do without it by what NEUTRAL says.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, TypeVar, cast

from leaklore.errors import LeakloreError
from leaklore.records import model as m
from leaklore.records import schema_files
from leaklore.records.library import Library
from leaklore.records.model import AUDIENCES, Audience

KINDS = ("case", "system", "company", "reading", "actions")
"""Schemas of what the company writes down about itself and its work; the guide is knowledge of the trade."""
T = TypeVar("T")

MODELS: Mapping[str, Mapping[str, type]] = {
    "case": {
        "": m.Case,
        "equipment": m.Equipment,
        "equipment/line_set": m.LineSet,
        "readings": m.Reading,
        "instruments": m.Instrument,
        "search": m.SearchStep,
        "avoided": m.Avoided,
        "first_diagnosis": m.FirstDiagnosis,
        "cause": m.Cause,
        "also_found": m.Cause,
        "fix": m.Fix,
        "fix/hold_test": m.HoldTest,
        "follow_up": m.FollowUp,
        "related": m.Related,
        "photos": m.Photo,
        "withdrawn": m.Withdrawn,
    },
    "system": {
        "sites": m.Site,
        "systems": m.System,
        "systems/line_set": m.LineSet,
    },
    "company": {"": m.Company},
    "reading": {},
    "actions": {},
}
"""By schema: which class of the model holds what stands at a place. Reading lists and changes are seen whole or not at all."""
PLACES: Mapping[tuple[type, str], str] = {
    (m.Case, "ambient"): "environment/ambient",
    (m.Case, "conditions"): "environment/conditions",
    (m.Case, "lost"): "charge/lost",
    (m.Case, "lost_over"): "charge/over",
    (m.Case, "topped_up"): "charge/topped_up",
    (m.Case, "level"): "reading/level",
    (m.Case, "topics"): "reading/topics",
    (m.Related, "how"): "as",
}
"""Where a field of the model stands in its record, if not under its own name."""
OURS = frozenset({(m.Case, "path"), (m.Case, "digest"), (m.Case, "facts"), (m.System, "equipment")})
"""Fields that no record has."""
NEUTRAL: Mapping[tuple[type, str], Any] = {
    (m.Case, "search"): (),
    (m.Case, "story"): "",
    (m.Company, "labour_rate"): None,
    (m.Company, "crews"): {},
    (m.SearchStep, "minutes"): 0,
    (m.Withdrawn, "why"): "",
}
"""What stands in place of a field that has no default."""
NAMED = frozenset({"sites/key", "sites/name", "systems/site", "systems/name"})
"""Required words of the register, in place of which stands what kind of place or equipment it is (`_register`)."""


def seen_by(library: Library, audience: Audience) -> Library:
    """The library as `audience` may see it: "all" sees the library itself, whoever else sees a new one with less.

    Numbers of cases and systems stay. Raises LeakloreError where a schema hides a field that no record can do without.
    """
    if audience == "all":
        return library
    hidden = {kind: unseen(kind, audience) for kind in KINDS}
    for kind in KINDS:
        _possible(kind, hidden[kind])
    sites, systems = _register(library, hidden["system"])
    cases = tuple(_case(case, systems, hidden["case"], hidden["system"]) for case in library.cases)
    return dataclasses.replace(
        library,
        company=_without(library.company, "company", "", hidden["company"]),
        sites=sites,
        systems=systems,
        cases=cases,
        reading=() if hidden["reading"] else library.reading,
        actions=() if hidden["actions"] else library.actions,
        audience=audience,
    )


def unseen(kind: str, audience: Audience) -> frozenset[str]:
    """Places of a schema that the audience may not see."""
    return frozenset(place for place, least in lowest(kind).items() if not _sees(audience, least))


@cache
def lowest(kind: str) -> Mapping[str, Audience]:
    """By place (`search/note`; items of a list have no step of their own) the lowest audience that sees it.

    Raises LeakloreError where a schema names another audience.
    """
    schema = schema_files.load(kind)
    if "x-audience" not in schema:
        raise LeakloreError(
            f"schema/{kind}.schema.json: the root has no x-audience; write who sees a new field"
        )
    return dict(_walk(kind, schema, "", _mark(kind, schema, "", "all"), top=True))


def _walk(
    kind: str, schema: Mapping[str, Any], place: str, parent: Audience, top: bool = False
) -> Iterator[tuple[str, Audience]]:
    if "$ref" in schema:
        schema = {**(schema_files.resolve(schema["$ref"]) or {}), **schema}
    for name, node in schema.get("properties", {}).items():
        here = f"{place}/{name}" if place else name
        own = _mark(kind, node, here, parent)
        least = own if top else max(own, parent, key=AUDIENCES.index)
        yield here, least
        yield from _walk(kind, node, here, least)
    if isinstance(schema.get("items"), Mapping):
        items = schema["items"]
        yield from _walk(
            kind, items, place, max(_mark(kind, items, place, parent), parent, key=AUDIENCES.index)
        )


def _mark(kind: str, node: Mapping[str, Any], place: str, otherwise: Audience) -> Audience:
    mark = node.get("x-audience", otherwise)
    if mark not in AUDIENCES:
        told = ", ".join(f'"{a}"' for a in AUDIENCES)
        raise LeakloreError(
            f'schema/{kind}.schema.json: x-audience of "{place}" is {mark!r}; write one of {told}'
        )
    return cast(Audience, mark)


def _sees(audience: Audience, least: Audience) -> bool:
    return AUDIENCES.index(audience) >= AUDIENCES.index(least)


def _possible(kind: str, hidden: frozenset[str]) -> None:
    """Raises LeakloreError where a hidden place can't be taken away, neither by itself nor with what holds it."""
    able = takeable(kind)
    for place in sorted(hidden):
        parts = place.split("/")
        above = ("/".join(parts[:n]) for n in range(1, len(parts) + 1))
        below = [p for p in lowest(kind) if p.startswith(f"{place}/")]
        if not any(p in hidden and p in able for p in above) and not (
            below and all(p in able for p in below)
        ):
            raise LeakloreError(
                f'schema/{kind}.schema.json: x-audience of "{place}": no record can do without it; '
                "mark it for customers, or say in records/audience.py what stands in its place"
            )


@cache
def takeable(kind: str) -> frozenset[str]:
    """Places that can be taken away."""
    if kind in ("reading", "actions"):
        return frozenset(lowest(kind))
    found = set(NAMED) if kind == "system" else set()
    for at, model in MODELS[kind].items():
        for field in dataclasses.fields(model):
            if _can(model, field):
                found.add(_place(model, field.name, at))
    if kind == "system":
        found |= {_place(m.Equipment, field.name, "systems") for field in dataclasses.fields(m.Equipment)}
    return frozenset(found)


def _can(model: type, field: dataclasses.Field[Any]) -> bool:
    default = field.default is not dataclasses.MISSING or field.default_factory is not dataclasses.MISSING
    return (model, field.name) not in OURS and (default or (model, field.name) in NEUTRAL)


def _place(model: type, name: str, at: str) -> str:
    told = PLACES.get((model, name), name)
    return f"{at}/{told}" if at else told


def _empty(model: type, field: dataclasses.Field[Any]) -> Any:
    if (model, field.name) in NEUTRAL:
        return NEUTRAL[model, field.name]
    if field.default_factory is not dataclasses.MISSING:
        return field.default_factory()
    return field.default


def _without(record: T, kind: str, at: str, hidden: frozenset[str]) -> T:
    """A record of the model, and what it holds, less what is hidden; the record itself where nothing is."""
    model = type(record)
    changed: dict[str, Any] = {}
    for field in dataclasses.fields(cast(Any, record)):
        value = getattr(record, field.name)
        place = _place(model, field.name, at)
        if place in hidden and _can(model, field):
            new = _empty(model, field)
        elif place not in MODELS[kind]:
            continue
        elif isinstance(value, tuple):
            new = tuple(_without(item, kind, place, hidden) for item in value)
        elif value is not None:
            new = _without(value, kind, place, hidden)
        else:
            continue
        if new is not value:
            changed[field.name] = new
    return cast(T, dataclasses.replace(cast(Any, record), **changed)) if changed else record


def _case(
    case: m.Case, systems: Mapping[str, m.System], hidden: frozenset[str], register: frozenset[str]
) -> m.Case:
    """A case. Its equipment came from the register where the record does not say, so what is hidden there is here, too."""
    of_register = {f"equipment/{p.removeprefix('systems/')}" for p in register if p.startswith("systems/")}
    if "sites/setting" in register:
        of_register.add("equipment/setting")
    seen = _without(case, "case", "", hidden | of_register)
    if seen.system is None:
        return seen
    return dataclasses.replace(seen, system=systems[seen.system.id])


def _register(
    library: Library, hidden: frozenset[str]
) -> tuple[Mapping[str, m.Site], Mapping[str, m.System]]:
    """Sites by key and systems by number. A hidden name becomes the kind of place, or of equipment."""
    term = library.vocabulary.name
    sites: dict[str, m.Site] = {}
    for number, site in enumerate(library.sites.values(), 1):
        seen = _without(site, "system", "sites", hidden)
        if "sites/name" in hidden:
            seen = dataclasses.replace(seen, name=term("settings", site.setting))
        if not hidden.isdisjoint({"sites/key", "systems/site"}):
            seen = dataclasses.replace(seen, key=f"site-{number}")
        sites[site.key] = seen
    systems: dict[str, m.System] = {}
    for system in library.systems.values():
        seen_system = _without(system, "system", "systems", hidden)
        gear = _without(system.equipment, "system", "systems", hidden)
        name = system.name
        if "systems/name" in hidden:
            name = term("equipment_kinds", gear.kind) if gear.kind else system.id
        systems[system.id] = dataclasses.replace(
            seen_system, site=sites[system.site.key], name=name, equipment=gear
        )
    return {site.key: site for site in sites.values()}, systems
