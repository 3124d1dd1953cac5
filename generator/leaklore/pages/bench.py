"""The work bench: the trade's own computations on the phone, each page with an example worked out at build time.

Addresses can be shared: inputs stand in the query as number and unit, as on the page (`?lost=1.5+lb&over=14+month`); a
bare number is SI. `?system=S-0412` and `?case=KW-2025-014` fill in what the record knows.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from leaklore.language import foreign, gettext, later
from leaklore.pages import bench_asks as asks
from leaklore.pages import bench_sources, bench_units, bench_words, links
from leaklore.pages.bench_answers import Answer, Compute, World, leak_rates, pressure_temperature
from leaklore.pages.bench_answers_gas import (
    air_reading,
    leak_flow,
    standing_test,
    vacuum_hold,
    which_technique,
)
from leaklore.pages.bench_fields import Field, Group
from leaklore.pages.bench_units import Writer
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.spec import DataFile, Page
from leaklore.trade import data, refrigerants, tables, volume

VERSION = 1
"""Of data/bench.json; site_overrides/js/bench/wake.mjs reads the same one."""
SECTION = "bench"


@dataclass(frozen=True, slots=True)
class Bench:
    """One page: what it asks, what computes it, and which guide pages and cautions belong to it."""

    key: str
    title: str
    question: str
    lead: str
    groups: tuple[Group, ...]
    compute: Compute
    cautions: tuple[str, ...]
    techniques: tuple[str, ...] = ()
    at_a_system: bool = True
    """Does the page of a system open it, with what the register knows?"""

    @property
    def fields(self) -> tuple[Field, ...]:
        """All fields in the order of the page."""
        return tuple(f for g in self.groups for f in g.fields)

    @property
    def url(self) -> str:
        """Address, relative to the site's root."""
        return f"bench/{self.key}/"


NITROGEN = ("nitrogen-pressure", "never-oxygen")
BENCHES: tuple[Bench, ...] = (
    Bench(
        "pressure-temperature",
        later("Pressure and temperature"),
        later("What should the gauge show at rest, and how much superheat or subcooling is that?"),
        later(
            "The pressure at which a refrigerant stands when liquid and vapour are together, and back from a pressure to "
            "the temperature. A standing unit that reads below it has no liquid left. On a running one, with the temperature "
            "of the tube: superheat and subcooling."
        ),
        asks.PRESSURE_TEMPERATURE,
        pressure_temperature,
        ("frostbite", "moving-parts", "electricity", "carbon-dioxide", "ammonia"),
    ),
    Bench(
        "leak-rate",
        later("Leak rate and rules"),
        later("How much is that in a year, and who asks?"),
        later(
            "A charge lost over a time as grams and ounces a year, as a share of the charge, in t CO₂e and money, and which "
            "rule looks at it."
        ),
        asks.LEAK_RATE,
        leak_rates,
        ("venting",),
    ),
    Bench(
        "leak-flow",
        later("Leak, flow and hole"),
        later("How big is the hole, and what does it pass under nitrogen?"),
        later(
            "Grams a year as a gas flow in the units of detectors and leak standards, the round hole that would pass it, "
            "and what the same hole passes under test."
        ),
        asks.LEAK_FLOW,
        leak_flow,
        NITROGEN,
        ("bubble-test", "tracer-gas", "ultrasonic"),
        at_a_system=False,
    ),
    Bench(
        "standing-test",
        later("Standing pressure test"),
        later("What should the gauge show tomorrow, and would this test see the leak?"),
        later(
            "Temperature moves the gauge of a tight circuit. This page takes that out, tells the smallest leak that the "
            "test can show, and how long to wait for the one you look for."
        ),
        asks.STANDING_TEST,
        standing_test,
        NITROGEN,
        ("standing-pressure", "section-isolation"),
    ),
    Bench(
        "vacuum-hold",
        later("Vacuum hold"),
        later("Is the rise a leak or moisture?"),
        later(
            "What a rise after valving off means: as a leak, as moisture, and against the limits that the trade uses."
        ),
        asks.VACUUM_HOLD,
        vacuum_hold,
        ("electricity", *NITROGEN),
        ("vacuum-hold", "standing-pressure"),
    ),
    Bench(
        "air",
        later("Refrigerant in the air"),
        later("Does this reading mean anything, and may somebody go in?"),
        later(
            "A reading in grams, against its background and against the limits of the refrigerant, and what a leak builds "
            "up in a room over hours."
        ),
        asks.AIR,
        air_reading,
        ("confined-space", "flammable-refrigerant", "ammonia", "carbon-dioxide"),
        ("air-survey", "infrared-detector", "bagging"),
    ),
    Bench(
        "which-technique",
        later("Which technique sees it"),
        later("With what do I look for a leak of this size?"),
        later(
            "The leak’s rate against the smallest leak of each technique, the standing test worked out for this line set. "
            "Best first, each with its reason."
        ),
        asks.WHICH_TECHNIQUE,
        which_technique,
        (*NITROGEN, "flammable-refrigerant", "tracer-gas", "electricity"),
    ),
)

TICKED: Mapping[str, bool] = {"yes": True, "no": False}


class Sheet:
    """What a template reads: the fields, and the example's figures in slots that the browser fills anew."""

    def __init__(self, bench: Bench, writer: Writer, book: Book) -> None:
        self.bench, self.writer, self.today = bench, writer, book.today.isoformat()

    def unit(self, f: Field) -> str:
        """The unit in which the field stands at first: the company's first with a default, else its first."""
        units = [u.key for u in self.writer.ordered(f.dimension)]
        return next((u for u in units if u in f.default), units[0])

    def text(self, f: Field) -> str:
        """What stands in the field at first."""
        return f.default.get(self.unit(f), "") if f.kind == "quantity" else f.default[""]

    def value(self, f: Field) -> Any:
        """The default in SI, or as the kind of field has it."""
        text = self.text(f)
        if f.kind == "quantity":
            return self.writer.si(text, self.unit(f), f.dimension) if text else None
        if f.kind == "tick":
            return TICKED[text]
        return self.today if f.kind == "day" else text or None

    def inputs(self) -> dict[str, Any]:
        """All defaults: the inputs of the example."""
        return {f.key: self.value(f) for f in self.bench.fields}

    def said(self, f: Field) -> str:
        """A default in words."""
        text = self.text(f)
        if f.kind == "quantity" and text:
            return f"{text.replace('-', '−')} {self.writer.unit(self.unit(f), f.dimension).name}"
        if f.kind == "choice":
            return gettext(dict(f.choices)[text])
        if f.kind == "day":
            return self.writer.write(self.today, "day")
        return text


class Slots:
    """Slots of one answer, as functions for a template."""

    def __init__(self, sheet: Sheet, answer: Answer) -> None:
        self.sheet, self.answer = sheet, answer

    def out(self, key: str, dimension: str = "", form: str = "both") -> Markup:
        """A figure of the answer."""
        value = self.answer.outs.get(key)
        text = "" if value is None else self.sheet.writer.write(value, dimension, form)
        if key.endswith("because"):
            text = bench_words.reworded(text)
        return Markup('<span data-out="{}" data-as="{}" data-form="{}">{}</span>').format(
            key, dimension, form, text
        )

    def typed(self, key: str) -> Markup:
        """An input as it was typed."""
        f = next(f for f in self.sheet.bench.fields if f.key == key)
        return Markup('<span class="together" data-in="{}">{}</span>').format(key, self.sheet.said(f))

    def part(self, *keys: str) -> Markup:
        """Attributes of an element that is shown only where the answer has one of these parts."""
        shown = any(key in self.answer.parts for key in keys)
        return Markup('data-part="{}"{}').format(" ".join(keys), Markup("" if shown else " hidden"))

    def order(self, name: str, rows: list[str]) -> list[str]:
        """Keys of a list, in the answer's order; those that it leaves out come last."""
        first = [key for key in self.answer.orders[name] if key in rows]
        return first + [key for key in rows if key not in first]


def world(book: Book) -> World:
    """Tables, and the refrigerants of the guide that have one."""
    guide = book.library.guide
    shipped = tables.shipped()
    known = {
        key: refrigerants.of(entry.facts)
        for key, entry in guide.refrigerants.items()
        if key in shipped.content["refrigerants"]
    }
    return World(shipped, known, {key: t.name for key, t in guide.techniques.items()})


def writer(book: Book) -> Writer:
    """The company's way to write figures."""
    return Writer(book.display.us_first, book.display.currency)


def tube_names(us_first: bool) -> list[str]:
    """Tube sizes, the company's system first."""
    return sorted(volume.tubes(), key=lambda name: name.endswith(" in") != us_first)


def pages(book: Book, templates: Templates) -> Iterator[Page]:
    """The index of the bench and its pages."""
    body = templates.render("bench.html", "bench/", benches=BENCHES)
    lead = gettext("The trade’s own computations: pressures, leak rates, tests and air, at the unit.")
    yield Page("bench/", gettext("Work bench"), lead, body, SECTION)
    around, write = world(book), writer(book)
    for bench in BENCHES:
        yield page(bench, book, templates, around, write)


def page(bench: Bench, book: Book, templates: Templates, around: World, write: Writer) -> Page:
    """One page with its example."""
    sheet = Sheet(bench, write, book)
    slots = Slots(sheet, bench.compute(sheet.inputs(), around))
    body = templates.render(
        f"bench_{bench.key}.html",
        bench.url,
        bench=bench,
        benches=BENCHES,
        sheet=sheet,
        units={d: write.ordered(d) for d in write.dimensions},
        signed={d for d, found in write.dimensions.items() if found.signed},
        refrigerants=list(around.refrigerants),
        tubes=tube_names(write.us_first),
        out=slots.out,
        typed=slots.typed,
        part=slots.part,
        order=slots.order,
        rules=data.load("rules"),
        practice=data.load("practice"),
        senses=data.load("techniques"),
        cited=bench_sources.cited(
            bench.key, lambda technique: links.name_of("technique", technique, book.library)
        ),
        said=bench_words.said(),
    )
    name = gettext(bench.title)
    title = gettext("Work bench, {page}").format(page=name[0].lower() + name[1:])
    return Page(bench.url, title, gettext(bench.lead), body, SECTION)


def files(book: Book) -> list[DataFile]:
    """Units and formats for the browser."""
    write = writer(book)
    content: dict[str, Any] = {"version": VERSION, "us_first": write.us_first, "dimensions": write.data()}
    if foreign():
        content |= bench_units.spoken()
    return [
        DataFile(
            "data/bench.json",
            (json.dumps(content, ensure_ascii=False, separators=(",", ":")) + "\n").encode(),
        )
    ]
