"""The page on which a case is recorded after the job: its steps, every field of the record's schema, every word of its script.

What a field is called and takes comes from the schema; here stands only in which step it is asked for, and how.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.language import gettext, later
from leaklore.marked import HINT
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page
from leaklore.problem import Pointer
from leaklore.records import field
from leaklore.records.vocabulary import Vocabulary

URL = "record/"
TITLE = later("Record a case")
FEW = 4
"""Words of a vocabulary up to which each gets a button of its own; more are found by typing."""
LONG = 200
"""Letters; text that may be longer gets a box of several lines."""


@dataclass(frozen=True, slots=True)
class Part:
    """Fields that stand together, and `more` that are seldom asked for.

    `repeated`: entries of the list at this name; `folded`: behind a line to open.
    """

    fields: tuple[str, ...]
    more: tuple[str, ...] = ()
    title: str = ""
    note: str = ""
    folded: bool = False
    repeated: str = ""
    noun: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the form."""

    key: str
    title: str
    lead: str
    parts: tuple[Part, ...]


NITROGEN = ("nitrogen-pressure", "never-oxygen")
STEPS = later(
    (
        Step(
            "seen",
            "What you saw",
            "Tap what was there, and what you looked for and did not find.",
            (
                Part(("symptoms",)),
                Part(("environment.ambient", "environment.conditions"), title="The surroundings"),
            ),
        ),
        Step(
            "job",
            "The job",
            "Where and when. The register fills in the unit.",
            (
                Part(("branch", "crew", "reported", "system")),
                Part(
                    (
                        "equipment.setting",
                        "equipment.kind",
                        "equipment.refrigerant",
                        "equipment.charge",
                        "equipment.installed",
                        "equipment.family",
                        "equipment.line_set.route",
                        "equipment.line_set.length",
                        "equipment.line_set.liquid",
                        "equipment.line_set.suction",
                    ),
                    title="Not in the register, or something differs",
                    note="Where the system is registered, fill in only what is not as the register has it.",
                    folded=True,
                ),
            ),
        ),
        Step(
            "lost",
            "What was lost",
            "Weigh it where you can: a guess here is a wrong leak rate.",
            (Part(("charge.lost", "charge.over", "charge.topped_up")),),
        ),
        Step(
            "readings",
            "Readings",
            "Place, instrument, number. A reading of zero counts, too.",
            (
                Part(
                    ("at", "by", "value"),
                    ("background", "note"),
                    repeated="readings",
                    noun="Reading",
                ),
                Part(
                    ("technique", "set_for", "alarm_at", "verified", "warmed_up"),
                    title="Was the detector to be trusted?",
                    folded=True,
                    repeated="instruments",
                    noun="Instrument",
                ),
            ),
        ),
        Step(
            "search",
            "The search",
            "Every check in its order, the clean ones above all: they teach the next search.",
            (
                Part(
                    ("technique", "at", "minutes", "result"),
                    ("running", "pressure", "cost", "note"),
                    repeated="search",
                    noun="Check",
                    cautions=NITROGEN,
                ),
                Part(
                    ("first_diagnosis.mode", "first_diagnosis.minutes", "first_diagnosis.cost"),
                    title="Taken for something else at first",
                    folded=True,
                ),
                Part(
                    ("avoided.technique", "avoided.because"),
                    title="A test that was not needed",
                    folded=True,
                ),
            ),
        ),
        Step(
            "cause",
            "The cause",
            "What leaked, where, and how well that is proven. Never found? Name what you suspect most, as Suspected: "
            "no statistic counts it.",
            (
                Part(("cause.mode", "cause.component", "cause.proof", "cause.contributing")),
                Part(
                    ("mode", "component", "proof"),
                    ("contributing",),
                    title="Another leak on the same job",
                    folded=True,
                    repeated="also_found",
                    noun="Further leak",
                ),
            ),
        ),
        Step(
            "fix",
            "The fix",
            "What was done, and the test that it held.",
            (
                Part(
                    ("fix.action", "fix.labour", "fix.parts", "fix.charge_added"),
                    cautions=("torch", "venting", "flammable-refrigerant"),
                ),
                Part(
                    (
                        "fix.hold_test.medium",
                        "fix.hold_test.start",
                        "fix.hold_test.end",
                        "fix.hold_test.over",
                        "fix.hold_test.start_temp",
                        "fix.hold_test.end_temp",
                    ),
                    title="The hold test",
                    cautions=NITROGEN,
                ),
            ),
        ),
        Step(
            "after",
            "Afterwards",
            "When the job was closed, and every later look at the repair.",
            (
                Part(("closed", "advice")),
                Part(("date", "result"), ("note",), repeated="follow_up", noun="Later look"),
            ),
        ),
        Step(
            "story",
            "The story",
            "For the one who meets this leak next. No names, no streets, no telephone numbers.",
            (Part(("title", "lesson", "story")),),
        ),
        Step(
            "photos",
            "Photos",
            "The leak, its surroundings, the instrument. They are made smaller and lose place and time of taking.",
            (Part((), repeated="photos", noun="Photo"),),
        ),
    )
)
"""In the order of the work; fields by their pointer, those of a list by what follows its entry."""

LEFT_OUT = {
    "id": "whoever keeps the library gives the next free number when taking the record in",
    "related": "needs the numbers of other records; added when the record is taken in",
    "reading": "for trainers, at the desk",
    "withdrawn": "only for records that are in the library already",
    "was": "only for records that got another number",
}
"""Fields of the schema without a place in the form, and why."""

CHOICES: Mapping[str, tuple[tuple[str, str, str, str], ...]] = later(
    {
        "result": (
            ("clean", "Clean", "nothing found", "result-clean"),
            ("lead", "Lead", "a hint", "result-lead"),
            ("section", "Section", "narrowed to it", "result-section"),
            ("pinpointed", "Pinpointed", "the exact spot", "result-pinpointed"),
            ("confirmed", "Confirmed", "a second technique agrees", "result-confirmed"),
            ("false-alarm", "False alarm", "not the leak", "result-false-alarm"),
        ),
        "proof": (
            ("suspected", "Suspected", "not proven", "proof-suspected"),
            ("section", "Section", "narrowed down", "proof-section"),
            ("point", "Pinpointed", "and confirmed by a second technique", "proof-point"),
            ("held", "Held", "and the fix held a test or a later look", "proof-held"),
        ),
        "medium": (
            ("nitrogen", "Nitrogen", "", ""),
            ("nitrogen-with-tracer", "Nitrogen with tracer", "", ""),
            ("refrigerant", "Refrigerant", "", ""),
            ("vacuum", "Vacuum", "", ""),
        ),
        "verified": (
            ("reference-leak", "Reference leak", "", ""),
            ("function-check", "Function check", "", ""),
            ("none", "Not checked", "", ""),
        ),
        "after": (
            ("holding", "Holding", "", "after-holding"),
            ("leaking-again", "Leaking again", "at the repair", "after-leaking-again"),
            ("other-leak", "Another leak", "this one holds", "after-other-leak"),
        ),
    }
)
"""Value, word, what it means, mark."""
_CHOICES_OF: Mapping[Pointer, str] = {("follow_up", 0, "result"): "after"}

UNITS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "mass": (("lb", "oz", "kg", "g"), ("kg", "g", "lb", "oz")),
    "pressure": (("psig", "bar", "micron", "inHg vac", "kPa"), ("bar", "kPa", "micron", "psig", "inHg vac")),
    "temperature": (("°F", "°C"), ("°C", "°F")),
    "length": (("ft", "in", "m", "mm"), ("m", "mm", "ft", "in")),
    "reading": (
        ("ppm", "oz/yr", "g/yr", "dB", "micron", "inHg vac", "psig", "bar"),
        ("ppm", "g/yr", "oz/yr", "dB", "micron", "bar", "psig", "inHg vac"),
    ),
}
"""Buttons beside a quantity, for a company that thinks in US units and one in SI. Every other unit can be typed, but not
on a phone whose number keys have no letters."""
SUCH: Mapping[str, str] = {
    "mass": "1 lb 9 oz",
    "pressure": "400 psig",
    "temperature": "39 °F",
    "length": "30 ft",
}
"""Examples for a company that thinks in US units; the schema has those in SI."""
PLAINER = later(
    {
        "The failure mode, a key of the guide.": "What kind of failure it was.",
        "Markdown: what was seen, what was thought, what turned out.": "What was seen, what was thought, what turned out.",
    }
)
"""What the form says where the schema speaks to whoever writes a record by hand."""
DURATIONS: Mapping[str, tuple[str, ...]] = {
    "charge.over": ("h", "days", "weeks", "months", "years"),
    "fix.labour": ("min", "h"),
    "fix.hold_test.over": ("min", "h", "days"),
}
"""Times that a field is likely to take."""
TIMES = later({"days": "days", "weeks": "weeks", "months": "months", "years": "years"})
"""How the buttons of such times are called; the record has the English word."""
SIGNED = ("temperature", "pressure", "reading")
"""What may be below zero: the number keys of some phones have no minus."""

SAYS = later(
    {
        "saved": "Saved on this phone {time}",
        "new": "Nothing entered yet",
        "not-kept": "Not kept: this browser refuses storage",
        "unsaved": "Not saved",
        "not-saved": "Not saved: {why}",
        "refused": "This browser keeps nothing for this page (a private window, or storage is turned off). The form works, "
        "and the record can be sent or saved as a file; but when the page is closed, what stands here is gone.",
        "missing-none": "Complete",
        "missing-one": "1 thing to do",
        "missing": "{n} things to do",
        "first": "Go to {name}",
        "broken": "The form could not be loaded. {why} On a computer with the library the command leaklore new asks the same questions.",
        "no-connection": "The connection failed.",
        "other-edition": "This page and its data are of different editions: load the page again.",
        "other-unit": "= {text}",
        "pick-none": "Nothing like it. Other words?",
        "problem": "{message}; {instead}",
        "needed": "This is still to be filled in.",
        "warning": "Look again: {message}; {instead}",
        "entry": "{noun} {n}",
        "entry-said": "{n}. {said}",
        "entry-gone": "{noun} {n} is taken out.",
        "step-done": "done",
        "step-todo": "{n} to do",
        "step-empty": "nothing yet",
        "resumed": "Going on with the draft of {time}.",
        "no-system": "There is no system {number} in the register; describe the unit below.",
        "begun-search": "Taken over from the search: {n} checks and what you saw. The minutes are as planned: put in what it took.",
        "untitled": "Nothing in it yet",
        "draft-sent": "sent {day}",
        "draft-here": "open now",
        "draft-gone": "The draft is deleted.",
        "elsewhere": "This draft was changed in another tab at {time}. Whichever saves last wins.",
        "photo-reading": "Reading {n} of {all} …",
        "photo-not": "{name} is no picture that this browser can read. Take it as JPEG, or send a picture of it.",
        "photo-long": "{name} can't be made smaller in this browser, and with its {mb} MB it can't be sent: at most {most} MB "
        "are taken. Take it as JPEG.",
        "photo-kept": "HEIC, {kb} kB. This browser can't show it, so it is sent as it is, with the place and the time if "
        "the camera wrote them into it; they are taken out when the record is taken in.",
        "photo-huge": "{name} is too large to be read here.",
        "photo-gone": "The photo is taken out.",
        "photo-size": "{width} × {height}, {kb} kB",
        "photo-lost": "This photo is not on this phone any more. Take it out, and take it again.",
        "checked-none": "Complete. Nothing is missing, and nothing is wrong as far as it can be told here.",
        "checked-one": "One thing is missing or wrong. You can send it as it is: whoever keeps the library has to put it right "
        "before it is taken in.",
        "checked": "{n} things are missing or wrong. You can send it as it is: whoever keeps the library has to put them right "
        "before it is taken in.",
        "sent": "Handed over {time}. The draft stays here until you delete it.",
        "sent-changed": "Handed over {time}, changed since.",
        "file": "Saved as {name}, {kb} kB: you find it among the downloads. Send it to whoever keeps the library.",
        "shared": "Given on as {name}, {kb} kB.",
        "out-failed": "It could not be put together: {why}",
        "copied": "Copied.",
        "not-copied": "Copying was refused: hold the text and copy it by hand.",
        "register": "{where}: {what}",
        "register-removed": "taken out {when}",
        "register-loading": "The register is being loaded …",
        "register-broken": "The register could not be loaded. Describe the unit below.",
        "title-of-share": "Leak case",
    }
)
"""What the script says, by key; `{slots}` are filled there."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One field as the template draws it. `path` is its pointer, inside a list what follows the entry."""

    path: str
    pointer: Pointer
    kind: str
    title: str
    hint: str
    such: str
    required: bool
    choices: tuple[tuple[str, str, str, str], ...] = ()
    words: str = ""
    dimension: str = ""
    units: tuple[str, ...] = ()
    signed: bool = False
    most: int = 0


def _required(pointer: Pointer) -> bool:
    holder = field.about(pointer[:-1]) if len(pointer) > 1 else field.about(())
    return pointer[-1] in holder.get("required", ())


def _kind(about: Mapping[str, Any], vocabulary: Vocabulary) -> str:
    if "x-quantity" in about:
        return "quantity"
    if about.get("format") == "date":
        return "day"
    if about.get("type") == "array":
        return "picks"
    if "x-vocabulary" in about:
        return "choice" if len(vocabulary.terms[about["x-vocabulary"]]) <= FEW else "pick"
    if "enum" in about:
        return "choice"
    if "x-tube" in about:
        return "tube"
    kind = {"boolean": "yes-no", "integer": "integer"}.get(str(about.get("type")), "text")
    return "prose" if kind == "text" and about.get("maxLength", 0) > LONG else kind


def ask(path: str, within: str, book: Book) -> Ask:
    """The field at `path` (inside the entries of the list `within`) by the schema; KeyError where there is none."""
    vocabulary = book.library.vocabulary
    parts: Pointer = tuple(path.split("."))
    pointer: Pointer = (within, 0, *parts) if within else parts
    about = field.about(pointer)
    kind = {"symptoms": "symptoms", "system": "pick"}.get(path) or _kind(about, vocabulary)
    words = about.get("x-vocabulary") or about.get("items", {}).get("x-vocabulary", "")
    if pointer == ("system",):
        words = "systems"
    choices: tuple[tuple[str, str, str, str], ...] = ()
    if kind == "choice":
        if "enum" in about:
            told = CHOICES[_CHOICES_OF.get(pointer, str(pointer[-1]))]
            assert [c[0] for c in told] == about["enum"], pointer
            choices = tuple(
                (key, gettext(word), gettext(means) if means else "", mark) for key, word, means, mark in told
            )
        else:
            terms = vocabulary.terms[words].values()
            choices = tuple((t.key, t.name, "", "") for t in terms)
    dimension = about.get("x-quantity", "")
    if dimension == "money":
        units: tuple[str, ...] = (book.library.company.currency,)
    else:
        units = DURATIONS.get(path) or (
            UNITS[dimension][0 if book.display.us_first else 1] if dimension else ()
        )
    example = str(about["examples"][0]) if about.get("examples") else ""
    if dimension:
        example = (SUCH.get(dimension) if book.display.us_first else None) or example.replace("deg", "°")
    described: str = about["description"]
    return Ask(
        path=path,
        pointer=pointer,
        kind=kind,
        title=gettext(about["title"]),
        hint=""
        if (kind == "choice" and "enum" in about) or len(described) < HINT
        else gettext(PLAINER.get(described, described)),
        such=example if kind in ("text", "tube", "quantity", "prose") else "",
        required=_required(pointer),
        choices=choices,
        words=words,
        dimension=dimension,
        units=units,
        signed=dimension in SIGNED,
        most=int(about.get("maxLength", 0)),
    )


def asks(book: Book) -> Iterator[tuple[Step, Part, tuple[Ask, ...], tuple[Ask, ...]]]:
    """Every field of the form in its order; those of the last tuple stand behind a line to open."""
    for step in STEPS:
        for part in step.parts:
            fields, more = (
                tuple(ask(path, part.repeated, book) for path in names) for names in (part.fields, part.more)
            )
            yield step, part, fields, more


def page(book: Book, templates: Templates) -> Page:
    """The form, empty; the script fills it from a draft."""
    guide, counts = book.library.guide, book.groups["symptom"]
    steps = [(step, [found for s, *found in asks(book) if s is step]) for step in STEPS]
    symptoms = sorted(guide.symptoms.values(), key=lambda e: (-len(counts[e.key].cases), e.name))
    lead = gettext(
        "After the job: what you saw, searched, found and did. It stays on this phone until you send it."
    )
    body = templates.render(
        "record.html", URL, steps=steps, times=TIMES, symptoms=symptoms, says=list(SAYS.items())
    )
    return Page(URL, gettext(TITLE), lead, body, "record", head=templates.render("record_head.html", URL))
