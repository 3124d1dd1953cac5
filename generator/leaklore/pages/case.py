"""The page of one case."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from leaklore.analysis import costs
from leaklore.analysis.readings import above_background
from leaklore.language import gettext, later
from leaklore.pages import charts, display, links
from leaklore.pages.book import Book
from leaklore.pages.case_leak import leak
from leaklore.pages.data_cases import records_address
from leaklore.pages.display import Display
from leaklore.pages.learn import customer
from leaklore.pages.markup import Prose, shorten
from leaklore.pages.render import Templates
from leaklore.pages.spec import Fact, Page
from leaklore.records.model import Case, Equipment, HoldTest, Reading, SearchStep
from leaklore.records.rules.proof import passed
from leaklore.records.vocabulary import Vocabulary

HOW = later(
    {
        "repair-did-not-hold": "The same leak: the repair did not hold.",
        "same-site": "At the same site.",
        "second-leak": "Another leak of the same system.",
    }
)
TORCH = frozenset(
    {"rebraze", "replace-tube-section", "replace-coil", "replace-line-set", "replace-small-tube"}
)
DESCRIPTION = 110
"""Characters told of a case to who lists its page."""
FEWEST_DRAWN = 3
"""Readings from which a picture tells more than the words."""
MOST_WHY = 3
"""Shared things told of a case like this one."""


@dataclass(frozen=True, slots=True)
class Step:
    """A search step with the minutes since the search began.

    `first`: the page names its technique here first; `places`: (key, name, whether it is a link) of where it was done.
    """

    step: SearchStep
    total: int
    how: str
    first: bool
    places: list[tuple[str, str, bool]]


@dataclass(frozen=True, slots=True)
class ShownReading:
    """A reading with its judgement; `dot` its place on the scale, where one is drawn."""

    reading: Reading
    place: str
    above: bool | None
    dot: charts.ReadingDot | None


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold test and what it proves."""

    test: HoldTest
    expected: float | None
    style: str
    sign: str
    verdict: str
    because: str


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """One page a case, withdrawn ones included."""
    for case in book.library.cases:
        yield page(case, book, templates)


def page(case: Case, book: Book, templates: Templates) -> Page:
    """The page of one case."""
    lib, show = book.library, book.display
    url = links.address("case", case.id)
    root = links.root_from(url)
    shown, scale = readings(case, book)
    changed = book.changed_on(case.path, case.closed or case.reported)
    body = templates.render(
        "case.html",
        url,
        case=case,
        contributing=[lib.vocabulary.name("contributing", k) for k in case.cause.contributing],
        conditions=[lib.vocabulary.name("conditions", k) for k in case.conditions],
        cautions=cautions(case, book),
        facts=facts(case, book, root),
        steps=steps(case, book),
        found_after=costs.minutes_to_find(case),
        readings=shown,
        scale=scale,
        hold=hold(case, book),
        photos=[
            {"picture": book.pictures[case.id, p.file], "caption": p.caption}
            for p in case.photos
            if (case.id, p.file) in book.pictures
        ],
        leak=leak(case, book),
        related=_related(case, book),
        similar=[
            {"number": s.number, "title": s.title, "score": s.score, "why": _reasons(s.why, book)}
            for s in book.likeness.shown(case.id)
        ],
        sheet=case.id in customer.with_sheet(book),
        changed=changed,
        record=records_address(case.id),
        permalink=(lib.company.site_url or "") + url,
    )
    where = f"{links.name_of('mode', case.cause.mode, lib)}: {lib.vocabulary.name('components', case.cause.component).lower()}"
    lost = gettext(", {mass} lost").format(mass=show.quantity(case.lost)) if case.lost else ""
    return Page(
        url,
        f"{Prose.plain(case.title)} ({case.id})",
        shorten(f"{where}{lost}. {Prose.opening(case.story, DESCRIPTION)}", DESCRIPTION),
        body,
        "cases",
        changed,
    )


def cautions(case: Case, book: Book) -> list[str]:
    """Which of the usual cautions this job calls for, in the order of the guide."""
    guide = book.library.guide
    keys: set[str] = set()
    refrigerant = guide.refrigerants.get(case.equipment.refrigerant or "")
    if refrigerant is not None:
        keys |= set(refrigerant["cautions"] or ())
    if case.fix and case.fix.hold_test and case.fix.hold_test.medium.startswith("nitrogen"):
        keys |= {"nitrogen-pressure", "never-oxygen"}
    for step in case.search:
        if step.technique in ("standing-pressure", "section-isolation"):
            keys |= {"nitrogen-pressure", "never-oxygen"}
        elif step.technique == "tracer-gas":
            keys |= {"tracer-gas", "nitrogen-pressure"}
        elif step.technique == "dye":
            keys.add("uv-lamp")
    if case.fix and case.fix.action in TORCH:
        keys.add("torch")
    if "confined-space" in case.conditions:
        keys.add("confined-space")
    keys.add("electricity")
    return [key for key in guide.cautions if key in keys]


def kind_fact(gear: Equipment, vocabulary: Vocabulary) -> list[Fact]:
    """What kind of equipment it is, and its family; nothing where that is unknown."""
    if not gear.kind:
        return []
    family = gettext("family {family}").format(family=gear.family) if gear.family else ""
    return [Fact(gettext("Equipment"), vocabulary.name("equipment_kinds", gear.kind), family)]


def charge_facts(case: Case, show: Display) -> list[Fact]:
    """The full charge, and how much of it was lost over what time."""
    out = []
    if case.equipment.charge:
        out.append(Fact(gettext("Full charge"), show.quantity(case.equipment.charge)))
    if case.lost:
        lost, share = show.quantity(case.lost), ""
        if case.lost_over:
            lost = gettext("{mass} in {time}").format(mass=lost, time=case.lost_over.written)
        if case.lost_share is not None:
            share = gettext("{share} of the charge").format(share=display.percent(case.lost_share))
        out.append(Fact(gettext("Charge lost"), lost, share))
    return out


def facts(case: Case, book: Book, root: str) -> list[Fact]:
    """The unit and what it lost."""
    lib, show = book.library, book.display
    gear, vocabulary = case.equipment, lib.vocabulary
    out: list[Fact] = []
    if case.system:
        out.append(
            Fact(
                gettext("System"),
                case.system.id,
                case.system.full_name,
                root + links.address("system", case.system.id),
            )
        )
    out += kind_fact(gear, vocabulary)
    if gear.setting:
        out.append(
            Fact(
                gettext("Place"),
                vocabulary.name("settings", gear.setting),
                "",
                root + links.address("setting", gear.setting),
            )
        )
    if gear.refrigerant:
        group = lib.guide.refrigerants[gear.refrigerant].facts["safety_group"]
        out.append(
            Fact(
                gettext("Refrigerant"),
                gear.refrigerant,
                gettext("safety group {group}").format(group=group),
                root + links.address("refrigerant", gear.refrigerant),
            )
        )
    out += charge_facts(case, show)
    if case.topped_up:
        out.append(Fact(gettext("Topped up meanwhile"), show.quantity(case.topped_up)))
    if gear.installed:
        age = case.age_at_leak
        ago = gettext("{years} before").format(years=display.years(age)) if age and age > 0 else ""
        out.append(Fact(gettext("Installed"), gear.installed.written, ago))
    if gear.line_set and gear.line_set.route:
        length = show.quantity(gear.line_set.length) if gear.line_set.length else ""
        out.append(Fact(gettext("Line set"), vocabulary.name("line_routes", gear.line_set.route), length))
    if lib.company.labour_rate is None:  # not for this audience
        return out
    search = costs.search_cost(case, lib.company, lib.guide)
    repair = costs.repair_cost(case, lib.company)
    cost = (
        gettext("{search} to find").format(search=show.money(search))
        if repair is None
        else gettext("{search} to find, {repair} to mend").format(
            search=show.money(search), repair=show.money(repair)
        )
    )
    out.append(Fact(gettext("Cost"), cost))
    return out


def steps(case: Case, book: Book) -> list[Step]:
    """The search with its running total."""
    out: list[Step] = []
    total = 0
    name = book.library.vocabulary.name
    met = {case.cause.component}
    for step in case.search:
        total += step.minutes
        how = []
        if step.running is not None:
            how.append(gettext("running") if step.running else gettext("stopped"))
        if step.pressure:
            how.append(gettext("at {pressure}").format(pressure=book.display.quantity(step.pressure)))
        if step.cost:
            how.append(gettext("{cost} for gas or hire").format(cost=step.cost.written))
        telling = step.result != "clean"
        places = [(at, name("components", at), telling and at not in met) for at in step.at]
        out.append(Step(step, total, ", ".join(how), step.technique not in met, places))
        met.add(step.technique)
        met |= {at for at, _, linked in places if linked}
    return out


def readings(case: Case, book: Book) -> tuple[list[ShownReading], tuple[charts.Tick, ...]]:
    """The readings in their order, and the scale where there are enough in ppm to draw them."""
    name = book.library.vocabulary.name
    found = [(i, r, name("components", r.at), above_background(r)) for i, r in enumerate(case.readings)]
    enough = sum(r.value.dimension == "fraction" for r in case.readings) >= FEWEST_DRAWN
    chart = charts.readings_chart(found) if enough else None
    if chart is None:
        return [ShownReading(r, at, above, None) for _, r, at, above in found], ()
    dots = {dot.order: dot for dot in chart.dots}
    return [ShownReading(r, at, above, dots.get(i)) for i, r, at, above in found], chart.ticks


def hold(case: Case, book: Book) -> Hold | None:
    """The hold test with its verdict."""
    test = case.fix.hold_test if case.fix else None
    if test is None:
        return None
    expected = test.expected
    if test.medium == "vacuum":
        return Hold(
            test,
            None,
            " hold-test--weak",
            "test-weak",
            gettext("Proves little."),
            gettext("A vacuum puts at most one atmosphere across a leak, and in the wrong direction."),
        )
    with_what = {
        "nitrogen": gettext("The dry nitrogen"),
        "nitrogen-with-tracer": gettext("The nitrogen with tracer gas"),
        "refrigerant": gettext("The refrigerant"),
    }[test.medium]
    if not passed(test):
        shown = expected if expected is not None else test.start.si
        drop = book.display.both(shown, "pressure")
        return Hold(
            test,
            expected,
            " hold-test--failed",
            "result-false-alarm",
            gettext("Did not hold."),
            gettext("{gas} should have stood at {pressure}.").format(gas=with_what, pressure=drop),
        )
    if test.medium == "refrigerant":
        return Hold(
            test,
            None,
            " hold-test--weak",
            "test-weak",
            gettext("Proves little."),
            gettext("While there is liquid, the pressure follows the temperature and not the charge."),
        )
    if expected is None:
        because = gettext("{gas} did not fall. No temperatures were noted.").format(gas=with_what)
        return Hold(test, None, "", "after-holding", gettext("Held."), because)
    because = gettext("{gas} followed the temperature.").format(gas=with_what)
    return Hold(test, expected, "", "after-holding", gettext("Held."), because)


def _related(case: Case, book: Book) -> list[dict[str, Any]]:
    lib = book.library
    out: dict[str, str] = {}
    for other in case.related:
        if other.case in lib.by_id:
            out[other.case] = gettext(HOW[other.how])
    for other_case in book.pointed_at.get(case.id, ()):
        how = next(r.how for r in other_case.related if r.case == case.id)
        out.setdefault(other_case.id, gettext(HOW[how]))
    return [{"case": lib.by_id[key], "how": how} for key, how in out.items()]


_WORDS_OF = {
    "mode": "modes",
    "component": "components",
    "symptom": "symptoms",
    "condition": "conditions",
    "contributing": "contributing",
    "kind": "equipment_kinds",
    "setting": "settings",
}


def _reasons(why: Sequence[tuple[str, str]], book: Book) -> str:
    """What two cases share, what weighs most first; cause and place, which most have in common, in short."""
    vocabulary = book.library.vocabulary
    kinds = {kind for kind, _ in why}
    said = []
    for kind, key in why:
        if kind == "mode" and "component" in kinds:
            said.append(gettext("cause and place"))
        elif kind == "family":
            said.append(gettext("model family {family}").format(family=key))
        elif not (kind == "component" and "mode" in kinds):
            said.append(vocabulary.name(_WORDS_OF[kind], key).lower() if kind in _WORDS_OF else key)
    return ", ".join(said[:MOST_WHY])
