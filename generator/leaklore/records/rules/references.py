"""What a record points at exists."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from leaklore.problem import Finding, Pointer, pointer_text
from leaklore.records import prose
from leaklore.records.guide import REF_KINDS, Guide
from leaklore.records.model import Case
from leaklore.records.near import did_you_mean
from leaklore.records.rules.context import Context

DOCS = {
    "reference/system": "the system is in the register",
    "reference/case": "a related case exists",
    "reference/photo": "the photo lies in photos/ID/",
    "reference/prose": "a [[reference]] in prose leads somewhere",
    "reference/part": "the cause's component is a part, not an area",
    "reference/equipment": "setting, kind and refrigerant are known from the register or the record",
}


def system(case: Case, data: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The system is in the register."""
    named = data.get("system")
    if named and named not in ctx.systems and ctx.register_read:
        yield Finding(
            ("system",),
            f'system: "{named}" is not in the register',
            did_you_mean(named, list(ctx.systems), "add it to systems.yaml, or describe it under equipment:"),
            "reference/system",
        )


def equipment(case: Case, data: Mapping[str, Any], _: Context) -> Iterator[Finding]:
    """Setting, kind and refrigerant are known from the register or the record."""
    if case.system is None and "system" not in data:
        missing = [k for k in ("setting", "kind", "refrigerant") if getattr(case.equipment, k) is None]
        if missing:
            yield Finding(
                ("equipment",) if "equipment" in data else (),
                f"equipment: {', '.join(missing)} unknown, and no system is named",
                "name the system of the register, or write equipment: {setting: residential, kind: ductless-split, refrigerant: R-32}",
                "reference/equipment",
            )


def related(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """A related case exists."""
    for i, other in enumerate(case.related):
        if other.case not in ctx.case_ids or other.case == case.id:
            yield Finding(
                ("related", i, "case"),
                f'related[{i}].case: "{other.case}" is {"this case" if other.case == case.id else "no case of this library"}',
                did_you_mean(
                    other.case, [c for c in ctx.case_ids if c != case.id], "write the number of a case"
                ),
                "reference/case",
            )


def photos(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The photo lies in photos/ID/."""
    for i, photo in enumerate(case.photos):
        if f"{case.id}/{photo.file}" not in ctx.photos:
            there = [p.split("/", 1)[1] for p in ctx.photos if p.startswith(f"{case.id}/")]
            yield Finding(
                ("photos", i, "file"),
                f"photos[{i}].file: there is no photos/{case.id}/{photo.file}",
                did_you_mean(photo.file, there, "put the picture there or take the entry out"),
                "reference/photo",
            )


def part(case: Case, _: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """The cause's component is a part, not an area."""
    for pointer, cause in cause_pointers(case):
        entry = ctx.guide.components.get(cause.component)
        if entry is not None and entry["kind"] == "area":
            inside = sorted(
                k
                for k in ctx.guide.inside.get(cause.component, ())
                if ctx.guide.components[k]["kind"] == "part"
            )
            yield Finding(
                (*pointer, "component"),
                f'{pointer_text(pointer)}.component: "{cause.component}" is an area, not a part that can leak',
                f"write a part, such as {', '.join(inside[:3]) or 'indoor-flare'}",
                "reference/part",
            )


def cause_pointers(case: Case) -> Iterator[tuple[Pointer, Any]]:
    """The cause and the further leaks, each with its place in the record."""
    yield ("cause",), case.cause
    for i, cause in enumerate(case.also_found):
        yield ("also_found", i), cause


def prose_fields(data: Mapping[str, Any]) -> Iterator[tuple[Pointer, str]]:
    """Every field of a record that holds prose."""
    for key in ("title", "story", "lesson", "advice"):
        if isinstance(data.get(key), str):
            yield (key,), data[key]
    for group in ("readings", "search", "follow_up"):
        for i, item in enumerate(data.get(group, ())):
            if "note" in item:
                yield (group, i, "note"), item["note"]
    for i, item in enumerate(data.get("photos", ())):
        yield ("photos", i, "caption"), item["caption"]
    if "withdrawn" in data:
        yield ("withdrawn", "why"), data["withdrawn"]["why"]


def unknown_references(
    text: str, guide: Guide, case_ids: Collection[str], systems: Collection[str] | None
) -> Iterator[tuple[prose.Reference, str]]:
    """References of a text that lead nowhere, with what to write instead; `systems` None: not looked at."""
    for ref in prose.references(text):
        hit = prose.resolve(ref.target, guide)
        if hit is None:
            if guide.may_have(ref.target):
                continue
            known = [key for kind in REF_KINDS for key in guide.entries(kind)]
            yield (
                ref,
                did_you_mean(
                    ref.target.split(":")[-1], known, "write a key of the guide, a case or a system number"
                ),
            )
        elif hit[0] in ("case", "system"):
            there = case_ids if hit[0] == "case" else systems
            if there is not None and hit[1] not in there:
                yield ref, did_you_mean(ref.target, there, "write one that exists")


def in_prose(case: Case, data: Mapping[str, Any], ctx: Context) -> Iterator[Finding]:
    """A [[reference]] in prose leads somewhere."""
    for pointer, text in prose_fields(data):
        yield from lead_nowhere(pointer, text, ctx)


def lead_nowhere(pointer: Pointer, text: str, ctx: Context) -> Iterator[Finding]:
    """References of a text that lead nowhere."""
    systems = ctx.systems if ctx.register_read else None
    for ref, instead in unknown_references(text, ctx.guide, ctx.case_ids, systems):
        yield Finding(
            pointer,
            f'{pointer_text(pointer)}: "[[{ref.target}]]" leads nowhere',
            instead,
            "reference/prose",
            offset=prose.line_and_column(text, ref.start),
        )


RULES = (system, equipment, related, photos, part, in_prose)
