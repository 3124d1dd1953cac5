"""Exercises: a real case that the learner has to solve."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.analysis.unknown import (
    AGAINST,
    AIM,
    CAUSE,
    CLEARED,
    NAMED,
    OF,
    PACE,
    PINPOINTED,
    PLACE,
    Answer,
    Unknown,
    Walk,
)
from leaklore.language import gettext, later
from leaklore.pages import display, links
from leaklore.pages.book import Book
from leaklore.pages.case import charge_facts
from leaklore.pages.learn.script_words import script_words
from leaklore.pages.markup import Prose
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Fact, Page
from leaklore.records.model import Case, Reading

URL = "reading/unknown/"
VERSION = 2
GRADES = later(("Straightforward", "Takes thought", "Hard"))
LEVELS = later(
    {"apprentice": "For apprentices", "technician": "For technicians", "lead": "For lead technicians"}
)
BY_GRADE = ("apprentice", "technician", "lead")
"""Who an exercise is for where its record does not say."""
GROUPS = {
    "symptom": "symptoms",
    "absent": "symptoms",
    "condition": "conditions",
    "setting": "settings",
    "kind": "equipment_kinds",
    "refrigerant": "refrigerants",
}
MEASURED = later(
    {
        "age": "the age of the unit",
        "rate": "how fast it loses charge",
        "share": "the share of the charge it loses",
    }
)
SAYS = later(
    {
        "loading": "Loading the case …",
        "broken": "This case could not be loaded. {why}",
        "unknown": "There is no such case here.",
        "no-connection": "The connection failed.",
        "other-version": "The case is of another version than this page: load the page again.",
        "ready": "Choose a technique, then a place.",
        "resumed": "Your checks from before still count: they stand under “Done so far”. Choose a technique, then a place.",
        "clock": "{n} min, {checks} checks",
        "clock-one": "{n} min, 1 check",
        "clean": "Clean",
        "sign": "It shows something",
        "sign-area": "It shows something in there",
        "found": "Pinpointed",
        "answer": "{result}. {technique}: {place}. {minutes} min, {total} min so far.",
        "computed": "not done on the day",
        "narrow": "Narrow it down.",
        "confirm": "A second technique there would confirm it.",
        "proven": "Two techniques agree.",
        "took": "{minutes} min",
        "costs": "about {first} min, then {later} min each",
        "costs-same": "about {first} min",
        "whole": "All of it: {area}",
        "elsewhere": "Other places",
        "only-area": "Only the area is sure",
        "marks-clean": "{n} clean",
        "marks-sign": "shows something",
        "marks-found": "pinpointed",
        "scored": "{points} of {of}",
        "right": "Right: {what}.",
        "wrong": "Not this time: {what}.",
        "was": "{cause} at the {place}",
        "points": "{n} of {of}",
        "for-place": "Place",
        "for-cause": "Cause",
        "for-pace": "Minutes to the find",
        "for-aim": "Places searched in vain",
        "why-place": "You named {named}; it was {true}.",
        "why-place-area": "You named {named}, which holds it: {true}.",
        "why-place-proven": "{true}: two techniques agree.",
        "why-place-once": "{true}, pinpointed by one technique. A second one at the same spot proves it.",
        "why-place-unproven": "{true}, and no check of yours pinpointed it.",
        "why-cause": "You named {named}; it was {true}.",
        "why-cause-right": "{true}.",
        "why-pace": "You {you} min; the crew {crew} min; the order of checks {way}.",
        "why-none": "No check of yours pinpointed it.",
        "why-elsewhere": "A check of yours pinpointed it, and you named another place.",
        "why-aim": "You {you}; the crew {crew}; the order of checks {way}.",
        "not-found": "did not find it",
        "min": "{n} min",
        "lapse-again": "Check {n}, {technique} at {place}: your own checks had shown that place clean. Each further check there costs minutes and tells little.",
        "lapse-guess": "No check showed a leak at the place that you named ({place}). That is a guess: a repair on a guess comes back.",
        "lapse-cleared": "Your own checks had shown the place that you named ({place}) clean.",
        "lapse-sign-only": "Something showed at the place that you named ({place}), and no check pinpointed it. One sign is not yet a place.",
        "lapse-once": "One technique pinpointed it. Proof takes a second one at the same spot.",
        "lapse-against": "{cause} was unlikely from the call on: {percent}. Against it spoke: {list}.",
        "lapse-against-plain": "{cause} was unlikely from the call on: {percent}.",
        "lapse-elsewhere": "{cause} is not known at the place that you named ({place}).",
        "practice": "This was practice: the answer was known. What counts is the first search: {score} of {of}.",
        "no-lapse": "Nowhere: each check followed from what was known, and the place was proven before it was named.",
        "under-one": "under 1 %",
        "percent": "about {n} %",
        "you": "You",
        "crew": "The crew on the day",
        "way": "The order of checks",
        "walk": "{n} min to the find; places searched in vain: {vain}",
        "walk-open": "Not found; places searched in vain: {vain}",
        "false": "A false sign",
        "missed": "Missed it here",
        "record-clean": "Clean",
        "record-lead": "Lead",
        "record-section": "Section",
        "record-pinpointed": "Pinpointed",
        "record-confirmed": "Confirmed",
        "record-false-alarm": "False alarm",
        "shown": "{n} of {all} unknown cases.",
        "shown-all": "{all} unknown cases.",
        "shown-none": "None of this kind. Take a filter away.",
    }
)
"""What the script says, by key; `{slots}` are filled there."""


@dataclass(frozen=True, slots=True)
class Listed:
    """An exercise as the list shows it; nothing here tells the cause or its place."""

    id: str
    title: str
    more: str
    level: str
    setting: str


def made(book: Book, templates: Templates) -> tuple[list[Page], list[DataFile]]:
    """Pages and data files."""
    found = list(book.exercises.values())
    lead = gettext("Real cases as they came in: ask for checks, each at its minutes, and name what leaks.")
    grades = [(name, [listed(u, book) for u in found if u.grade == i]) for i, name in enumerate(GRADES)]
    settings = {u.case.equipment.setting or "" for u in found}
    body = templates.render(
        "unknown.html",
        URL,
        lead=lead,
        n=len(found),
        shown=gettext(SAYS["shown-all"]).format(all=len(found)),
        grades=[
            (gettext(name), sorted(entries, key=lambda e: (e.title, e.id)))
            for name, entries in grades
            if entries
        ],
        levels={level: gettext(label) for level, label in LEVELS.items()},
        settings=[
            (key, t.name) for key, t in book.library.vocabulary.terms["settings"].items() if key in settings
        ],
        modes=sorted(((key, e.name) for key, e in book.library.guide.modes.items()), key=lambda m: m[1]),
        says=[(key, gettext(text)) for key, text in SAYS.items()],
    )
    head = templates.render("unknown_head.html", URL, told=script_words())
    files = [DataFile(f"data/learn/unknown/{u.case.id}.json", content(u, book)) for u in found]
    return [Page(URL, gettext("Unknown cases"), lead, body, "reading", head=head)], files


def title(unknown: Unknown, book: Book) -> str:
    """`Wall or floor split, home, R-32: short of charge`: the unit and its commonest symptom, nothing more."""
    gear, name = unknown.case.equipment, book.library.vocabulary.name
    parts = [name("equipment_kinds", gear.kind or "")]
    if gear.setting:
        parts.append(_small(name("settings", gear.setting)))
    if gear.refrigerant:
        parts.append(gear.refrigerant.replace("-", "\u2011"))
    return f"{', '.join(parts)}: {_small(name('symptoms', unknown.call))}"


def listed(unknown: Unknown, book: Book) -> Listed:
    """Its line in the list."""
    case = unknown.case
    more = []
    if case.age_at_leak is not None and case.age_at_leak > 0:
        more.append(gettext("{age} old").format(age=display.years(case.age_at_leak)))
    if case.lost:
        lost = gettext("{mass} lost in {time}") if case.lost_over else gettext("{mass} lost")
        over = case.lost_over.written if case.lost_over else ""
        more.append(lost.format(mass=book.display.quantity(case.lost), time=over))
    level = case.level or BY_GRADE[unknown.grade]
    return Listed(case.id, title(unknown, book), ", ".join(more), level, case.equipment.setting or "")


def content(unknown: Unknown, book: Book) -> bytes:
    """The data file: what is told at once in plain words, the rest packed, so that nobody reads it by accident."""
    packed = zlib.compress(_json(closed(unknown, book)), 9)
    told = {
        "version": VERSION,
        "id": unknown.case.id,
        "open": opened(unknown, book),
        "closed": base64.b64encode(packed).decode(),
    }
    return _json(told)


def opened(unknown: Unknown, book: Book) -> dict[str, Any]:
    """Call, symptoms, facts, and the techniques and places to choose from."""
    case, lib = unknown.case, book.library
    guide, name = lib.guide, lib.vocabulary.name
    used = {c.technique for c in unknown.checks}
    techniques = sorted(
        (e for k, e in guide.techniques.items() if k in used), key=lambda e: (int(e["order"]), e.key)
    )
    return {
        "title": title(unknown, book),
        "facts": [[f.label, f.value, f.more] for f in facts(case, book)],
        "symptoms": [name("symptoms", k) for k in case.symptoms],
        "absent": [name("symptoms", k) for k in case.not_seen],
        "techniques": [[e.key, e.name, cautions(case, e.key, book)] for e in techniques],
        "places": [[p, name("components", p), area(p, unknown, book)] for p in unknown.inside],
    }


def area(place: str, unknown: Unknown, book: Book) -> str:
    """The area under which a place is offered: itself for an area, empty where none on this unit holds it."""
    entry = book.library.guide.components[place]
    if entry["kind"] == "area":
        return place
    return next((str(a) for a in entry["within"] or () if a in unknown.inside), "")


def cautions(case: Case, technique: str, book: Book) -> list[str]:
    """The usual cautions of a technique on this unit, in the order of the guide."""
    guide = book.library.guide
    gas = guide.refrigerants.get(case.equipment.refrigerant or "")
    keys = {*(guide.techniques[technique]["cautions"] or ()), *((gas["cautions"] or ()) if gas else ())}
    if "confined-space" in case.conditions:
        keys.add("confined-space")
    return [key for key in guide.cautions if key in keys]


def facts(case: Case, book: Book) -> list[Fact]:
    """What the desk knows before anybody goes: the unit, what it lost, and the day."""
    lib, show, gear = book.library, book.display, case.equipment
    name = lib.vocabulary.name
    out = [Fact(gettext("Equipment"), name("equipment_kinds", gear.kind or ""))]
    if gear.setting:
        out.append(Fact(gettext("Place"), name("settings", gear.setting)))
    if gear.refrigerant:
        group = lib.guide.refrigerants[gear.refrigerant].facts["safety_group"]
        safety = gettext("safety group {group}").format(group=group)
        out.append(Fact(gettext("Refrigerant"), gear.refrigerant, safety))
    out += charge_facts(case, show)
    if case.age_at_leak is not None and case.age_at_leak > 0:
        out.append(Fact(gettext("Age"), display.years(case.age_at_leak)))
    if case.ambient:
        out.append(Fact(gettext("Air around it"), show.quantity(case.ambient)))
    if case.conditions:
        out.append(Fact(gettext("On the day"), "; ".join(name("conditions", k) for k in case.conditions)))
    return out


def closed(unknown: Unknown, book: Book) -> dict[str, Any]:
    """Answers, solution and the two other searches; all that a score is reckoned from."""
    case, lib = unknown.case, book.library
    mode, component = unknown.solution
    return {
        "rules": {
            "of": OF,
            "place": PLACE,
            "pinpointed": PINPOINTED,
            "named": NAMED,
            "cause": CAUSE,
            "pace": PACE,
            "aim": AIM,
            "cleared": CLEARED,
            "against": AGAINST,
        },
        "checks": [
            [
                c.technique,
                c.place,
                c.sees,
                [_answer(a, book) for a in c.answers],
                _answer(c.confirms, book) if c.confirms else None,
            ]
            for c in unknown.checks
        ],
        "inside": {k: list(v) for k, v in unknown.inside.items() if v},
        "suspects": [
            [s.mode, s.likely, list(s.places), [_finding(g, k, book) for g, k in s.against]]
            for s in unknown.suspects
        ],
        "solution": [mode, component],
        "record": _walk(unknown.record),
        "way": _walk(unknown.way),
        "case": {
            "title": Prose.plain(case.title),
            "cause": lib.guide.modes[mode].name,
            "mode": links.address("mode", mode),
            "place": lib.vocabulary.name("components", component),
            "url": links.address("case", case.id),
            "lesson": Prose.plain(case.lesson) if case.lesson else "",
        },
    }


def _answer(answer: Answer, book: Book) -> list[Any]:
    return [
        answer.result,
        answer.first,
        answer.later,
        int(answer.done),
        answer.note,
        int(answer.hindsight),
        [_reading(r, book) for r in answer.readings],
    ]


def _walk(walk: Walk) -> Mapping[str, Any]:
    return {
        "minutes": walk.minutes,
        "vain": walk.vain,
        "stops": [[s.technique, list(s.at), s.result, s.minutes] for s in walk.stops],
    }


def _reading(reading: Reading, book: Book) -> str:
    """`85 ppm, background 1 ppm. Under a cup.`"""
    said = book.display.quantity(reading.value)
    if reading.background:
        told, background = (
            gettext("{value}, background {background}"),
            book.display.quantity(reading.background),
        )
        said = told.format(value=said, background=background)
    return f"{said}. {reading.note}" if reading.note else said


def _finding(group: str, key: str, book: Book) -> str:
    if group in MEASURED:
        return gettext(MEASURED[group])
    name = _small(book.library.vocabulary.name(GROUPS[group], key))
    return gettext("no {name}").format(name=name) if group == "absent" else name


def _small(name: str) -> str:
    """A name inside a sentence; what begins with two capitals or a code stays."""
    return name if name[:2].isupper() or name[1:2] == "-" else name[:1].lower() + name[1:]


def _json(said: object) -> bytes:
    return json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()
