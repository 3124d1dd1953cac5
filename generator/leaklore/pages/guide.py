"""Pages of the guide: failure modes, techniques, symptoms, components, refrigerants, and their indexes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from leaklore.analysis import techniques as tech
from leaklore.analysis.intervals import wilson
from leaklore.language import gettext, later
from leaklore.pages import charts, display, links
from leaklore.pages.book import Book
from leaklore.pages.display import LB
from leaklore.pages.figures import Figure, share_figure, spread_figure, summary_figures
from leaklore.pages.figures import cases as count_cases
from leaklore.pages.markup import Prose, shorten
from leaklore.pages.once import once
from leaklore.pages.render import Templates
from leaklore.pages.rows import behind, proofs, some, tally
from leaklore.pages.spec import Fact, Page
from leaklore.records.guide import FREQUENCIES, Entry
from leaklore.records.model import Case

FAMILIES = later(
    {
        "joint": "Joints",
        "corrosion": "Corrosion",
        "fatigue-and-wear": "Fatigue and wear",
        "seal-and-valve": "Seals and valves",
        "damage": "Damage from outside",
        "defect": "Defects from new",
    }
)
FREQUENCY_WORDS = later(
    {
        "nearly-always": "nearly always",
        "often": "often",
        "sometimes": "sometimes",
        "rarely": "rarely",
    }
)
NOT_NAMED = later("not named")
HOW_COMMON = later(
    {"very-common": "Very common", "common": "Common", "occasional": "Occasional", "rare": "Rare"}
)
TITLES = later(
    {
        "mode": (
            "Failure modes",
            "Every way in which a circuit gives up its charge, with what our own cases say of it.",
        ),
        "technique": (
            "Techniques",
            "What each check can see, what fools it, and how often it found the leak in our cases.",
        ),
        "symptom": ("Symptoms", "What is seen, heard, smelled or read, and what leaked when it was."),
        "component": (
            "Components and places",
            "Where leaks sit and where to look; an area holds the parts inside it.",
        ),
        "refrigerant": ("Refrigerants", "How each behaves when it leaks, and what leaked with it here."),
    }
)


Unit = tuple[str, str]


def units(book: Book) -> list[Unit]:
    """("front", ""), ("index", kind) for each kind, then (kind, key) for each page."""
    guide = book.library.guide
    return [
        ("front", ""),
        *(("index", kind) for kind in TITLES),
        *((kind, key) for kind in TITLES for key in guide.entries(kind)),
    ]


def unit_pages(book: Book, templates: Templates, unit: Unit) -> Iterator[Page]:
    """The page of one unit."""
    kind, key = unit
    if kind == "front":
        yield _front(book, templates)
    elif kind == "index":
        yield _index(key, book, templates)
    else:
        yield MAKERS[kind](book.library.guide.entries(kind)[key], book, templates)


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """All pages of the guide."""
    for unit in units(book):
        yield from unit_pages(book, templates, unit)


def _page(
    kind: str, entry: Entry, template: str, text: str, book: Book, templates: Templates, **context: Any
) -> Page:
    url = links.address(kind, entry.key)
    body = templates.render(template, url, entry=entry, **context)
    return Page(url, entry.name, shorten(Prose.plain(text)), body, "guide", book.changed.get(entry.path))


def frequency(entry: Entry, symptom_key: str) -> str | None:
    """How often the guide says that a symptom goes with a failure mode."""
    for word in FREQUENCIES:
        if symptom_key in entry.facts["symptoms"].get(word, ()):
            return word
    return None


def mode(entry: Entry, book: Book, templates: Templates) -> Page:
    """A failure mode."""
    lib = book.library
    found = book.modes[entry.key]
    counted = found.counted
    seen = Counter(s for c in counted for s in c.symptoms)
    absent = Counter(s for c in counted for s in c.not_seen)
    keys = [s for word in FREQUENCIES for s in entry.facts["symptoms"].get(word, ())]
    keys += [s for s, _ in seen.most_common() if s not in keys]
    rows = []
    for key in keys:
        share = wilson(seen[key], len(counted))
        says = frequency(entry, key)
        drawn = charts.bar(share.value, 1, share.low, share.high) if share and not share.few else None
        rows.append(
            {
                "key": key,
                "says": gettext(FREQUENCY_WORDS.get(says or "", NOT_NAMED)),
                "n": seen[key],
                "absent": absent[key],
                "bar": drawn,
            }
        )
    finds: Counter[str] = Counter()
    misses: Counter[str] = Counter()
    for case in counted:
        for (_, used), hit in tech.outcomes(case, lib.guide).items():
            (finds if hit else misses)[used] += 1
    named = list(entry.facts["found_by"])
    order = named + [t for t in lib.guide.techniques if t not in named and finds[t] + misses[t]]
    return _page(
        "mode",
        entry,
        "mode.html",
        entry.facts["summary"],
        book,
        templates,
        family=gettext(FAMILIES[entry.facts["family"]]).lower(),
        frequency=gettext(HOW_COMMON[entry.facts["how_common"]]),
        summary=found,
        beside=len([c for c in lib.by_mode.get(entry.key, ()) if c.cause.mode != entry.key]),
        figures=summary_figures(found, book.display),
        chart=charts.strip_chart(
            [(c.lost.si, c.id) for c in counted if c.lost],
            found.lost,
            LB if book.display.us_first else 1.0,
            "lb" if book.display.us_first else "kg",
        ),
        proofs=proofs(found),
        symptoms=rows,
        component_counts=dict(found.components),
        techniques=[
            {
                "key": t,
                "says": gettext("good, no. {n}").format(n=named.index(t) + 1) if t in named else "",
                "found": finds[t],
                "missed": misses[t],
            }
            for t in order
        ],
        taken_for=some([c for c in found.cases if c.first_diagnosis and c.first_diagnosis.mode != entry.key]),
        behind=behind(found.cases, book, "mode", entry.key),
    )


def technique(entry: Entry, book: Book, templates: Templates) -> Page:
    """A technique."""
    t = book.techniques[entry.key]
    found = book.groups["technique"][entry.key]
    against = [v for v in book.versus if entry.key in (v.first, v.second)]
    return _page(
        "technique",
        entry,
        "technique.html",
        entry.facts["summary"],
        book,
        templates,
        t=t,
        figures=technique_figures(t),
        summary=found,
        leaks=summary_figures(found, book.display, "#searched"),
        proofs=proofs(found),
        searched=behind(found.cases, book, "technique", entry.key),
        missed=some(t.missed_cases),
        alarms=some(t.false_alarm_cases),
        versus=sorted((v for v in against if not v.few), key=lambda v: -(v.only_first + v.only_second))[:6]
        or against[:2],
        behind=behind(t.found_cases, book, "technique", entry.key),
    )


def technique_figures(t: tech.TechniqueSummary) -> list[Any]:
    """The figures at the head of a technique's page."""
    alarms = wilson(t.false_alarms, t.used)
    return [
        share_figure(
            gettext("Found the leak"),
            t.yield_,
            "#cases",
            gettext("whether it finds leaks"),
            gettext("checks that covered the leak"),
        ),
        spread_figure(
            gettext("Time it took"), t.minutes, display.minutes, "#cases", gettext("how long it takes")
        ),
        share_figure(
            gettext("False alarms"), alarms, "#figures", gettext("how often it errs"), gettext("uses")
        ),
    ]


def symptom(entry: Entry, book: Book, templates: Templates) -> Page:
    """A symptom."""
    lib = book.library
    found = book.groups["symptom"][entry.key]
    counts = dict(found.modes)
    n = len(found.counted)
    says = {key: frequency(m, entry.key) for key, m in lib.guide.modes.items()}
    rank = {word: i for i, word in enumerate(FREQUENCIES)}
    keys = sorted(
        (k for k in lib.guide.modes if counts.get(k) or says[k]),
        key=lambda k: (-counts.get(k, 0), rank.get(says[k] or "", 9), k),
    )
    rows = []
    for key in keys:
        share = wilson(counts.get(key, 0), n)
        drawn = charts.bar(share.value, 1, share.low, share.high) if share and not share.few else None
        rows.append(
            {
                "key": key,
                "says": gettext(FREQUENCY_WORDS.get(says[key] or "", NOT_NAMED)),
                "n": counts.get(key, 0),
                "bar": drawn,
            }
        )
    finders = Counter(
        s.technique
        for c in found.counted
        for s in c.search
        if s.result == "pinpointed" and c.cause.component in s.at
    )
    return _page(
        "symptom",
        entry,
        "symptom.html",
        entry.facts["what"],
        book,
        templates,
        summary=found,
        causes=rows,
        finders=tally(sorted(finders.items(), key=lambda kv: (-kv[1], kv[0]))),
        components=tally(found.components),
        behind=behind(found.cases, book, "symptom", entry.key),
    )


@once
def _searched(book: Book) -> dict[str, Counter[str]]:
    """How the search steps came out that name a place, by place."""
    out: dict[str, Counter[str]] = {}
    for case in book.library.active:
        for step in case.search:
            for place in set(step.at):
                out.setdefault(place, Counter())[step.result] += 1
    return out


def component(entry: Entry, book: Book, templates: Templates) -> Page:
    """A component or a place."""
    lib = book.library
    found = book.groups["component"][entry.key]
    inside = lib.guide.inside.get(entry.key, frozenset())
    named = _searched(book).get(entry.key, Counter())
    cases: tuple[Case, ...] = found.cases
    if inside:
        cases = tuple(c for k in inside for c in book.groups["component"][k].cases)
    return _page(
        "component",
        entry,
        "component.html",
        entry.facts["what"],
        book,
        templates,
        summary=found,
        proofs=proofs(found),
        figures=summary_figures(found, book.display),
        modes=tally(found.modes),
        guide_modes=[k for k, m in lib.guide.modes.items() if entry.key in m.facts["components"]],
        inside=[k for k in lib.guide.components if k in inside],
        inside_counts={k: len(book.groups["component"][k].cases) for k in inside},
        searched={
            "steps": named.total(),
            "clean": named["clean"],
            "hit": sum(named[result] for result in tech.FOUND),
            "alarm": named["false-alarm"],
        },
        behind=behind(cases, book, "component", entry.key),
    )


@once
def _filled(book: Book) -> Counter[str | None]:
    """Registered systems by refrigerant."""
    return Counter(s.equipment.refrigerant for s in book.library.systems.values())


def refrigerant(entry: Entry, book: Book, templates: Templates) -> Page:
    """A refrigerant."""
    facts, marks = entry.facts, entry.facts.get("marks", {})
    found = book.groups["refrigerant"][entry.key]
    words = {
        "published": gettext("published"),
        "computed": gettext("computed"),
        "from-memory": gettext("from memory"),
        "common-practice": gettext("common practice"),
    }

    def mark(key: str) -> str:
        return words.get(marks.get(key, ""), "")

    shown = [
        Fact(
            gettext("Composition"),
            " / ".join(f"{c['of']} {display.number(c['share'] * 100, 3)} %" for c in facts["composition"])
            if len(facts["composition"]) > 1
            else gettext("single fluid"),
            mark("composition"),
        ),
        Fact(gettext("Molar mass"), f"{facts['molar_mass_g_mol']} g/mol", mark("molar_mass_g_mol")),
        Fact(gettext("Safety group"), facts["safety_group"], mark("safety_group")),
    ]
    for label, key, unit in (
        (gettext("GWP, IPCC AR4"), "gwp_ar4", ""),
        (gettext("GWP, IPCC AR5"), "gwp_ar5", ""),
        (gettext("GWP, Regulation (EU) 2024/573"), "gwp_eu_2024_573", ""),
        (gettext("Vapour density, air = 1"), "relative_vapour_density", ""),
        (gettext("Concentration limit"), "rcl_ppm", " ppm"),
        (gettext("Lower flammability limit"), "lfl_ppm", " ppm"),
    ):
        value = facts.get(key)
        if value is not None:
            text = f"{value:,}".replace(",", display.NARROW)
            extra = (
                f"; {display.number(facts['lfl_g_m3'], 3)} g/m³"
                if key == "lfl_ppm" and facts.get("lfl_g_m3")
                else ""
            )
            shown.append(Fact(label, f"{text}{unit}", mark(key) + extra))
    if facts.get("gwp_note"):
        shown.append(Fact(gettext("Note"), facts["gwp_note"]))
    density = facts.get("relative_vapour_density")
    heavy = (
        gettext("Vapour {density} times as heavy as air: it sinks; search low places first.").format(
            density=density
        )
        if density and density > 1
        else gettext("Vapour lighter than air: it rises; search high places too.")
    )
    return _page(
        "refrigerant",
        entry,
        "refrigerant.html",
        entry.facts["what"],
        book,
        templates,
        density=heavy,
        facts=shown,
        systems=_filled(book)[entry.key],
        summary=found,
        proofs=proofs(found),
        figures=summary_figures(found, book.display),
        modes=tally(found.modes),
        components=tally(found.components),
        behind=behind(found.cases, book, "refrigerant", entry.key),
    )


MAKERS: Mapping[str, Callable[[Entry, Book, Templates], Page]] = {
    "mode": mode,
    "technique": technique,
    "symptom": symptom,
    "component": component,
    "refrigerant": refrigerant,
}


def _card(kind: str, entry: Entry, book: Book) -> dict[str, Any]:
    found = book.groups[kind][entry.key]
    n = len(found.cases)
    if kind == "technique" and not book.library.searched:
        count = ""
    elif kind == "technique":
        t = book.techniques[entry.key]
        count = gettext("used {used} times, found {found}, missed {missed}").format(
            used=t.used, found=t.found, missed=t.missed
        )
    elif n == 0:
        count = gettext("no case yet")
    else:
        count = gettext("{cases}, {counted} counted").format(cases=count_cases(n), counted=len(found.counted))
    text = entry["summary"] or entry["look"] or ""
    if kind == "symptom":
        text = ", ".join((entry["also"] or [])[:4])
    if kind == "refrigerant":
        text = gettext("Safety group {group}").format(group=entry["safety_group"])
    return {"key": entry.key, "name": entry.name, "summary": text, "count": count, "n": n}


def _front(book: Book, templates: Templates) -> Page:
    guide = book.library.guide
    parts = [
        (
            kind,
            gettext(title),
            links.FOLDERS[kind] + "/",
            [_card(kind, e, book) for e in guide.entries(kind).values()],
        )
        for kind, (title, _) in TITLES.items()
    ]
    lead = gettext(
        "{modes} failure modes, {techniques} techniques, {symptoms} symptoms; the counts are our own cases."
    ).format(modes=len(guide.modes), techniques=len(guide.techniques), symptoms=len(guide.symptoms))
    return Page(
        "guide/",
        gettext("Field guide"),
        lead,
        templates.render("guide.html", "guide/", parts=parts, lead=lead),
        "guide",
    )


def _index(kind: str, book: Book, templates: Templates) -> Page:
    title, lead = map(gettext, TITLES[kind])
    entries = list(book.library.guide.entries(kind).values())
    cards = {e.key: _card(kind, e, book) for e in entries}
    groups: list[tuple[str, list[dict[str, Any]]]]
    if kind == "mode":
        groups = [
            (gettext(label), [cards[e.key] for e in entries if e.facts["family"] == key])
            for key, label in FAMILIES.items()
        ]
    elif kind == "component":
        groups = [
            (label, [cards[e.key] for e in entries if e.facts["kind"] == key])
            for key, label in (("part", gettext("Components")), ("area", gettext("Places to search")))
        ]
    else:
        groups = [(title, list(cards.values()))]
    extra: dict[str, Any] = {"yields": None}
    if kind == "technique" and book.library.searched:
        saved = book.avoided.saved
        extra = {
            "yields": [
                {
                    "t": t,
                    "bar": charts.bar(t.yield_.value, 1, t.yield_.low, t.yield_.high)
                    if t.yield_ and not t.yield_.few
                    else None,
                }
                for t in book.techniques.values()
            ],
            "versus": sorted(
                (v for v in book.versus if not v.few), key=lambda v: -(v.only_first + v.only_second)
            )[:8],
            "avoided": book.avoided,
            "avoided_cases": some(book.avoided.cases),
            "avoided_figures": [
                *(
                    [
                        spread_figure(
                            gettext("What an isolation costs here"),
                            book.avoided.cost,
                            book.display.money,
                            "#avoided",
                            gettext("the cost of an isolation"),
                        )
                    ]
                    if book.display.priced
                    else []
                ),
                *(
                    [
                        _saved(len(book.avoided.cases), saved, book),
                    ]
                    if saved is not None
                    else []
                ),
            ],
        }
    url = links.FOLDERS[kind] + "/"
    body = templates.render(
        "index.html", url, kind=kind, title=title, lead=lead, groups=[g for g in groups if g[1]], **extra
    )
    return Page(url, title, lead, body, "guide")


def _saved(n: int, saved: float, book: Book) -> Figure:
    return Figure(
        gettext("Saved by not isolating"),
        book.display.money(saved),
        gettext("{cases} in which a planned isolation was not needed, each at the median cost").format(
            cases=count_cases(n)
        ),
        "#avoided",
    )
