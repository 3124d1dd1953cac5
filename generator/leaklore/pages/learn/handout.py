"""What the customer's sheet says: sentences chosen from everyday words, for a failure mode and for a case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from leaklore.analysis.patterns.repairs import UNREPAIRED
from leaklore.language import gettext
from leaklore.pages import display
from leaklore.pages.learn.advice import Sites, advice_of, as_sentence
from leaklore.records.guide import Entry
from leaklore.records.library import Library
from leaklore.records.model import COUNTED, YEAR, Case, Cause, Fix
from leaklore.records.plain import Plain
from leaklore.records.rules.proof import passed

MOST_TESTS = 3
"""Tests told on one sheet."""
DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class Handout:
    """Paragraphs and list items of one sheet; `left_out` tells why the advice of the record is not on it."""

    heading: str
    happened: tuple[str, ...]
    know: tuple[str, ...]
    did: tuple[str, ...]
    can: tuple[str, ...]
    safety: tuple[str, ...]
    questions: str
    advice_lead: str = ""
    advice: str = ""
    left_out: str = ""

    @property
    def texts(self) -> Iterator[str]:
        """Everything that reads as running text, in the order of the sheet; headings and facts left out."""
        yield from (*self.happened, *self.know, *self.did)
        if self.advice:
            yield from (self.advice_lead, self.advice)
        yield from (*self.can, *self.safety, self.questions)


def of_mode(entry: Entry, library: Library) -> Handout:
    """The sheet of a failure mode: the guide's words for the customer, and what goes for every such leak."""
    plain = library.guide.plain
    tests = (plain.techniques.get(key) for key in entry.facts["found_by"])
    return Handout(
        heading=plain.says("heading-mode"),
        happened=(as_sentence(entry.facts["customer"]),),
        know=tuple(test.how for test in tests if test)[:MOST_TESTS],
        did=(),
        can=(plain.says("call-early"), plain.says("no-top-up"), plain.says("leave-to-us")),
        safety=(plain.says("any-gas"), plain.says("rules")),
        questions=plain.says("questions"),
    )


def of_case(case: Case, library: Library, sites: Sites) -> Handout:
    """The sheet of a case; its advice is on it where it tells nothing internal and is easy to read."""
    plain = library.guide.plain
    kind = plain.text("equipment_kinds", case.equipment.kind) or plain.says("kind-other")
    mode = plain.modes.get(case.cause.mode)
    sheet = Handout(
        heading=plain.says("heading", kind=kind),
        happened=tuple(_happened(case, library, kind)),
        know=tuple(_know(case, library)),
        did=tuple(_did(case, library)),
        can=(
            *(mode.you if mode else ()),
            plain.says("call-early"),
            plain.says("no-top-up"),
            plain.says("leave-to-us"),
        ),
        safety=(_safety(case, library), plain.says("rules")),
        questions=plain.says("questions"),
    )
    if not case.advice:
        return sheet
    advice, left_out = advice_of(case.advice, library, sites)
    lead = plain.says("advice") if advice else ""
    return replace(sheet, advice_lead=lead, advice=advice, left_out=left_out)


def _happened(case: Case, library: Library, kind: str) -> Iterator[str]:
    plain = library.guide.plain
    cause = case.cause
    lost = _lost(case, plain, kind)
    where = plain.says(f"where-{cause.proof}", place=_place(cause, library))
    yield f"{lost} {where}"
    mode = plain.modes.get(cause.mode)
    if mode is not None:
        guess = f"{plain.says('if-right')} " if cause.proof == "suspected" else ""
        why = [mode.why]
        if case.counted:
            factors = [text for key in cause.contributing if (text := plain.text("contributing", key))]
            why += [plain.says("factors"), *factors] if factors else []
        yield guess + " ".join(why)
    elif case.counted and case.fix is not None and case.fix.action not in UNREPAIRED:
        yield as_sentence(library.guide.modes[cause.mode].facts["customer"])  # it tells of a repair
    for other in case.also_found:
        key = "also-shown" if other.proof in COUNTED else "also-guessed"
        yield plain.says(key, place=_place(other, library))


def _lost(case: Case, plain: Plain, kind: str) -> str:
    if case.lost_share is None:
        return plain.says("lost-unknown", kind=kind)
    share = plain.share(case.lost_share)
    if share is None:
        return plain.says("lost-more", kind=kind)
    if case.lost_over is None:
        return plain.says("lost-share", kind=kind, share=share)
    return plain.says("lost-share-time", kind=kind, share=share, time=span(case.lost_over.si))


def span(seconds: float) -> str:
    """A time in words: `about 3 weeks`."""
    days = seconds / DAY
    for told, size, least in (
        (gettext("about {n} years"), YEAR, 2.0),
        (gettext("about {n} months"), YEAR / 12, 2.0),
        (gettext("about {n} weeks"), 7 * DAY, 2.0),
    ):
        if seconds >= least * size * 0.97:
            return told.format(n=round(seconds / size))
    if days < 0.9:
        return gettext("less than a day")
    return gettext("about {n} days").format(n=round(days)) if round(days) > 1 else gettext("about a day")


def _place(cause: Cause, library: Library) -> str:
    plain = library.guide.plain
    known = plain.text("components", cause.component)
    name = library.vocabulary.name("components", cause.component).lower()
    return known or plain.says("component-other", name=name)


def _know(case: Case, library: Library) -> Iterator[str]:
    plain, guide = library.guide.plain, library.guide
    proven = case.cause.proof in COUNTED
    results = ("pinpointed", "confirmed") if proven else ("section", "lead", "pinpointed", "confirmed")
    yield plain.says(f"know-{case.cause.proof}")
    used: dict[str, None] = {}
    for step in case.search:
        if step.result in results and any(guide.covers(place, case.cause.component) for place in step.at):
            used[step.technique] = None
    for technique in list(used)[-MOST_TESTS:]:
        test = plain.techniques.get(technique)
        if test is not None:
            yield test.shown if proven else test.narrowed
        else:
            key = "technique-shown" if proven else "technique-narrowed"
            yield plain.says(key, name=library.vocabulary.name("techniques", technique).lower())


def _did(case: Case, library: Library) -> Iterator[str]:
    plain, fix = library.guide.plain, case.fix
    repaired = fix is not None and fix.action not in UNREPAIRED
    if fix is None:
        yield plain.says("no-fix")
    else:
        name = library.vocabulary.name("actions", fix.action)
        yield plain.text("actions", fix.action) or plain.says("action-other", name=name.lower())
        if repaired and case.cause.proof == "suspected":
            yield plain.says("unsure-repair")
        if fix.hold_test or (repaired and fix.action != "replace-unit"):  # a new unit comes tested
            yield plain.says(f"test-{_tested(fix)}")
        if fix.charge_added:
            yield plain.says("gas-added")
    told = "after" if repaired else "later"  # of a repair that nobody made none can hold
    for look in case.follow_up:
        yield plain.says(f"{told}-{look.result}", date=display.day(look.date))
    if repaired and not case.follow_up:
        yield plain.says("after-none")


def _tested(fix: Fix) -> str:
    if fix.hold_test is None:
        return "none"
    if fix.hold_test.medium == "vacuum" or passed(fix.hold_test):
        return fix.hold_test.medium
    return "failed"


def _safety(case: Case, library: Library) -> str:
    plain = library.guide.plain
    gas = case.equipment.refrigerant
    own = plain.text("refrigerants", gas)
    entry = library.guide.refrigerants.get(gas or "")
    group = str(entry.facts["safety_group"]) if entry else "unknown"
    return own or plain.text("safety", group) or plain.texts["safety"]["unknown"]
