"""Reading lists: each file checked like every other of the library, and filled with the cases that it takes by itself."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from leaklore.problem import Finding, Pointer
from leaklore.records import convert, source
from leaklore.records.gather import Gathered, load
from leaklore.records.guide import REF_KINDS, Guide
from leaklore.records.model import COUNTED, PROOFS, Case, ReadingItem, ReadingList, SearchStep, Taken
from leaklore.records.near import did_you_mean
from leaklore.records.rules import Context
from leaklore.records.rules.privacy import looks_private
from leaklore.records.rules.references import lead_nowhere
from leaklore.records.schema import Schemas

BENCHES = (
    "pressure-temperature",
    "leak-rate",
    "leak-flow",
    "standing-test",
    "vacuum-hold",
    "air",
    "which-technique",
)
"""Pages of the work bench that a list may name."""
TOPICS = (
    "detectors",
    "pressure-tests",
    "leak-rate",
    "flares",
    "coils",
    "lines",
    "order-of-checks",
    "rules",
)
"""Topics of the short questions that a list may name."""
TAKEN = ("unknown", "questions", "mine", "trainer")
"""Pages of the section that stand beside the lists, by the last part of their address."""
STEPS = 3
"""Search steps that a case needs to be an exercise: with fewer there is hardly anything to decide."""
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z\d“\"\[])")
_RULE = "reference/reading"


def read_lists(
    folder: Path, got: Gathered, schemas: Schemas, good: Sequence[Case], ctx: Context
) -> tuple[ReadingList, ...]:
    """The lists that are right, by path; problems are noted in `got`. `good` are the cases without an error."""
    lists: list[ReadingList] = []
    first: dict[str, str] = {}
    cases = {case.id: case for case in good}
    for file in source.find_yaml(folder):
        loaded = load(file, ctx.root, got, lambda data: schemas.check("reading", data))
        if loaded is None:
            continue
        found, document = loaded
        if got.add(found.path, document, schemas.check("reading", document.data)):
            continue
        written = convert.reading_list(document.data)
        made = filled(_there(written, cases, ctx.guide), good, ctx.guide)
        findings = [*_named(written, file, first.setdefault(written.key, found.path), found.path)]
        findings += _items(written, cases, ctx)
        whole = len(cases) == len(ctx.case_ids) and (
            ctx.register_read or not (written.taken and written.taken.settings)
        )
        if written.taken and not any(i.computed for i in made.items) and whole:
            findings.append(_nothing_taken(written))
        for at, text in _prose(document.data):
            findings += [*lead_nowhere(at, text, ctx), *looks_private(at, text)]
        wrong = got.add(found.path, document, findings)
        if not wrong and made.items and schemas.certain("reading", document.data):
            lists.append(made)
    return tuple(lists)


def filled(written: ReadingList, cases: Sequence[Case], guide: Guide) -> ReadingList:
    """The list with the cases that it takes by itself, newest first, behind what was written.

    A case that the list names already, to read or as an exercise, is not taken again, and withdrawn ones never are.
    """
    if written.taken is None:
        return written
    named = {item.key for item in written.items if item.kind in ("case", "unknown")}
    fitting = [c for c in cases if c.id not in named and matches(c, written.taken)]
    newest = sorted(fitting, key=lambda c: (c.reported, c.id), reverse=True)[: written.taken.newest]
    more = (ReadingItem("case", c.id, why(c, guide), computed=True) for c in newest)
    return replace(written, items=(*written.items, *more))


def matches(case: Case, taken: Taken) -> bool:
    """Is it a case that such a list takes?"""
    return (
        case.withdrawn is None
        and (not taken.modes or case.cause.mode in taken.modes)
        and (not taken.techniques or any(s.technique in taken.techniques for s in case.search))
        and (not taken.settings or case.equipment.setting in taken.settings)
        and (taken.level is None or case.level == taken.level)
        and PROOFS.index(case.cause.proof) >= PROOFS.index(taken.at_least_proof)
    )


def why(case: Case, guide: Guide) -> str:
    """What a case is there for, in one line: its failure mode, and what it teaches or else where it sat."""
    mode = guide.modes[case.cause.mode].name
    if case.lesson:
        return f"{mode}: {_SENTENCE.split(case.lesson.strip(), maxsplit=1)[0]}"
    return f"{mode}: {guide.components[case.cause.component].name.lower()}."


def no_exercise(case: Case, guide: Guide, register_read: bool = True) -> str:
    """Why a case can't be an exercise, in words that follow its number; empty where it can.

    A learner makes checks and names one cause and one place: the record must know both (and then rules/proof.py has
    seen to it that a step pinpointed the place), and the search must not have gone straight there. Where the register
    could not be read nobody can say that the equipment is missing.
    """
    if case.withdrawn is not None:
        return "is withdrawn"
    if case.cause.proof not in COUNTED:
        return f"is proven no further than {case.cause.proof}, so nobody can say who is right"
    if case.also_found:
        return "has more than one leak, and a learner names one"
    if (register_read and not case.equipment.kind) or not case.symptoms:
        return "does not say on what equipment it was and what was noticed there"
    if len(case.search) < STEPS:
        many = "" if len(case.search) == 1 else "s"
        return f"has {len(case.search)} search step{many}, and an exercise needs {STEPS}"
    if not any(_detour(step, case.cause.component, guide) for step in case.search):
        return "has a search that went straight to the leak"
    return ""


def _detour(step: SearchStep, part: str, guide: Guide) -> bool:
    """Did a step show nothing, or something where nothing leaked?"""
    return step.result in ("clean", "false-alarm") or not any(guide.covers(place, part) for place in step.at)


def _there(written: ReadingList, cases: Mapping[str, Case], guide: Guide) -> ReadingList:
    """Without what names a case that could not be read, or whose system could not: under `serve` the site is drawn so."""
    kept = (
        i
        for i in written.items
        if i.kind not in ("case", "unknown")
        or (i.key in cases and (i.kind == "case" or not no_exercise(cases[i.key], guide)))
    )
    return replace(written, items=tuple(kept))


def _named(made: ReadingList, file: Path, first: str, path: str) -> Iterator[Finding]:
    if made.key != file.stem:
        yield Finding(
            ("key",),
            f'key: "{made.key}" and the file name "{file.name}" differ',
            f"write key: {file.stem}",
            "id/file-name",
        )
    if made.key in TAKEN:
        yield Finding(
            ("key",),
            f'key: "{made.key}" is the address of another page of this section',
            f"write for example key: {made.key}-list, and name the file like it",
            "id/file-name",
        )
    if first != path:
        yield Finding(
            ("key",),
            f'key: "{made.key}" is used by {first} already',
            "give this list a name of its own",
            "id/twice",
        )


def _items(made: ReadingList, cases: Mapping[str, Case], ctx: Context) -> Iterator[Finding]:
    """What each item names exists, comes once, and can be done where it is an exercise."""
    seen: dict[str, int] = {}
    for i, item in enumerate(made.items):
        wrong, instead = _astray(item, ctx)
        if not wrong and item.name in seen:
            wrong, instead = f"is items[{seen[item.name]}] already", "keep one"
        if not wrong and item.kind == "unknown":
            wrong, instead = _unfit(item, cases, seen, ctx)
        if wrong:
            yield Finding(("items", i, "read"), f'items[{i}].read: "{item.name}" {wrong}', instead, _RULE)
        seen.setdefault(item.name, i)


def _astray(item: ReadingItem, ctx: Context) -> tuple[str, str]:
    known, otherwise = _known(item.kind, ctx)
    if item.key in known or (item.kind in REF_KINDS and ctx.guide.may_have(item.name)):
        return "", ""
    return "leads nowhere", did_you_mean(item.key, known, otherwise)


def _known(kind: str, ctx: Context) -> tuple[Collection[str], str]:
    """Keys that a kind of item may have, and what to write where none is near."""
    if kind in ("case", "unknown"):
        return ctx.case_ids, f"write the number of a case, such as {kind}:KW-2025-014"
    if kind in REF_KINDS:
        return ctx.guide.entries(kind), f"write {kind}: and a key of the guide"
    known = BENCHES if kind == "bench" else TOPICS
    return known, f"write {kind}: and one of {', '.join(known)}"


def _unfit(
    item: ReadingItem, cases: Mapping[str, Case], seen: Mapping[str, int], ctx: Context
) -> tuple[str, str]:
    case = cases.get(item.key)
    wrong = (
        no_exercise(case, ctx.guide, ctx.register_read) if case else ""
    )  # of a case with errors those are told
    if wrong:
        return wrong, f"write case:{item.key} to have it read, or take another case"
    told = seen.get(f"case:{item.key}")
    if told is not None:
        return f"comes after items[{told}], which gives its answer away", "put the exercise first"
    return "", ""


def _nothing_taken(made: ReadingList) -> Finding:
    """An error where the list has nothing else: it would be a page without anything to read."""
    return Finding(
        ("from",),
        "from: no case matches all of it" + (" beside those in items" if made.items else ""),
        "ask for less, or take `from` out",
        _RULE,
        "warning" if made.items else "error",
    )


def _prose(data: Mapping[str, Any]) -> Iterator[tuple[Pointer, str]]:
    yield ("title",), data["title"]
    yield ("for",), data["for"]
    for i, text in enumerate(data.get("able_to", ())):
        yield ("able_to", i), text
    for i, item in enumerate(data.get("items", ())):
        yield ("items", i, "why"), item["why"]
