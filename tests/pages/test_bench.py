"""The work bench: every field is labelled, the example is what the trade's functions say, cautions stand on the pages."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from typing import Any

import html5lib
import pytest

from leaklore.pages import bench
from leaklore.pages.bench import BENCHES, Bench, Sheet
from leaklore.pages.bench_answers import Answer, pressure_temperature
from leaklore.pages.bench_units import Writer, number
from leaklore.pages.book import Book
from leaklore.pages.render import Templates
from leaklore.pages.site import Edition
from leaklore.pages.spec import Page
from leaklore.trade import (
    air,
    detectability,
    entry,
    eu_rules,
    flow,
    leak_rate,
    pressure_test,
    refrigerants,
    tables,
    us_rules,
    vacuum,
    volume,
)
from leaklore.trade.gas import standstill
from leaklore.trade.units import ATMOSPHERE, DAY, OUNCE_PER_YEAR, POUND, PSI, YEAR, OutOfRange

BY_KEY = {b.key: b for b in BENCHES}
TODAY = dt.date(2026, 12, 31)
TABLES = tables.shipped()
ALL = pytest.mark.parametrize("key", list(BY_KEY))


@pytest.fixture(scope="module")
def book(demo_book: Book) -> Book:
    """The demo company, which shows US units first."""
    return demo_book


@pytest.fixture(scope="module")
def drawn(book: Book) -> dict[str, Page]:
    """All pages by address."""
    return {p.url: p for p in bench.pages(book, Templates(book))}


def parsed(page: Page) -> Any:
    return html5lib.parse(str(page.body), namespaceHTMLElements=False)


def words(element: Any) -> str:
    return " ".join("".join(element.itertext()).split())


def example(key: str, book: Book) -> tuple[dict[str, Any], Answer]:
    """Inputs of the example and its answer."""
    inputs = Sheet(BY_KEY[key], bench.writer(book), book).inputs()
    return inputs, BY_KEY[key].compute(inputs, bench.world(book))


def test_there_is_a_page_for_each_computation(drawn: dict[str, Page]) -> None:
    assert len(BENCHES) >= 7
    assert set(drawn) == {"bench/", *(f"bench/{b.key}/" for b in BENCHES)}
    assert {p.section for p in drawn.values()} == {"bench"}


def test_the_page_of_a_system_opens_what_its_register_knows_enough_for(demo_edition: Edition) -> None:
    page = next(p for p in demo_edition.pages if p.url.startswith("systems/S-"))
    number = page.url.split("/")[1]
    (chips,) = [e for e in parsed(page).iter("ul") if e.get("class") == "chips"]
    assert [(a.get("href"), words(a)) for a in chips.iter("a")] == [
        (f"../../bench/{b.key}/?system={number}", b.title) for b in BENCHES if b.key != "leak-flow"
    ]


@ALL
def test_every_field_has_a_label_a_unit_and_a_place_for_what_is_wrong(
    key: str, drawn: dict[str, Page]
) -> None:
    tree = parsed(drawn[f"bench/{key}/"])
    ids = {e.get("id"): e for e in tree.iter() if e.get("id")}
    labels = {e.get("for"): words(e) for e in tree.iter("label")}
    found = {e.get("data-field"): e for e in tree.iter() if e.get("data-field")}
    assert list(found) == [f.key for f in BY_KEY[key].fields]
    for f in BY_KEY[key].fields:
        element = found[f.key]
        if f.kind == "quantity":
            (box,) = (e for e in element.iter("input") if e.get("type") == "text")
            assert labels[box.get("id")].startswith(f.label)
            assert box.get("inputmode") == "decimal"
            for told in box.get("aria-describedby").split():
                assert told in ids
            (units,) = element.iter("select")
            assert f.label in units.get("aria-label")
            assert len(list(units)) >= 1
        elif f.kind == "choice" and len(f.choices) <= 3:
            assert element.tag == "fieldset"
            assert words(next(element.iter("legend"))) == f.label
        elif f.kind == "tick":
            assert words(next(element.iter("label"))) == f.label
        else:
            assert labels[f"f-{f.key}"].startswith(f.label)
        assert f.waiting


@ALL
def test_the_example_names_its_inputs_and_leaves_no_slot_empty(key: str, drawn: dict[str, Page]) -> None:
    """Without JavaScript the page is complete: what is shown is filled, and every slot that waits is hidden."""
    tree = parsed(drawn[f"bench/{key}/"])
    parents = {child: parent for parent in tree.iter() for child in parent}

    def hidden(element: Any) -> bool:
        while element is not None:
            if element.get("hidden") is not None:
                return True
            element = parents.get(element)
        return False

    shown = [e for e in tree.iter() if (e.get("data-out") or e.get("data-in")) and not hidden(e)]
    assert len(shown) > 8
    for e in shown:
        assert words(e), e.attrib
        assert not re.search(r"nan|inf\b|None|Undefined", words(e)), e.attrib
    (still,) = (e for e in tree.iter() if e.get("data-bench-still") is not None)
    assert not hidden(still)
    text = words(next(tree.iter("main")))
    for heading in ("Answer", "How it is computed", "How far it holds", "Sources"):
        assert heading in text


@ALL
def test_cautions_stand_on_the_page_and_are_named_at_its_head(
    key: str, drawn: dict[str, Page], book: Book
) -> None:
    text = words(parsed(drawn[f"bench/{key}/"]))
    for caution in BY_KEY[key].cautions:
        facts = book.library.guide.cautions[caution]
        assert facts["name"] in text
        assert facts["text"].split(".")[0] in text
    if BY_KEY[key].cautions:
        assert "Local codes, the nameplate and licensed practice decide" in text


def test_nitrogen_and_confined_spaces_are_warned_of_where_they_hurt() -> None:
    for key in ("standing-test", "leak-flow", "which-technique"):
        assert {"nitrogen-pressure", "never-oxygen"} <= set(BY_KEY[key].cautions)
    assert "electricity" in BY_KEY["vacuum-hold"].cautions
    assert {"confined-space", "flammable-refrigerant"} <= set(BY_KEY["air"].cautions)


def test_sources_say_how_far_they_were_read() -> None:
    for key in BY_KEY:
        marks = {found.mark for _, found in bench.bench_sources.sources(key)}
        assert marks
        assert marks <= {"published", "from-memory", "common-practice", "computed"}


def test_each_source_of_a_smallest_leak_names_its_technique() -> None:
    told = [what for what, _ in bench.bench_sources.sources("which-technique")]
    assert len(told) == len(set(told))
    assert "bubble-test: smallest leak" in told


# The example's figures, worked out by calling the trade's functions directly.


def test_pressure_example(book: Book) -> None:
    _, a = example("pressure-temperature", book)
    r = refrigerants.shipped()["R-410A"]
    kelvin = (70 + 459.67) * 5 / 9
    assert a.outs["dew"] == pytest.approx(TABLES.dew(r, kelvin), rel=1e-12)
    assert a.outs["bubble"] == pytest.approx(TABLES.bubble(r, kelvin), rel=1e-12)
    assert {"by-temperature", "blend", "glide"} <= a.parts


@pytest.mark.parametrize("key", ["R-407C", "R-32"])
@pytest.mark.parametrize("kelvin", [9.0, 0.4, 0.0])
def test_superheat_is_told_from_the_dew_point_and_subcooling_from_the_bubble_point(
    book: Book, key: str, kelvin: float
) -> None:
    """Of a blend the two lie kelvins apart; on either point there is neither."""
    r, world = refrigerants.shipped()[key], bench.world(book)
    pressure = TABLES.dew(r, 280.0)
    assert isinstance(pressure, float)
    dew, bubble = (TABLES.temperature(r, pressure, side) for side in ("dew", "bubble"))
    asked = {"refrigerant": key, "given": "pressure", "pressure": pressure, "temperature": None}

    def told(tube: float | None) -> tuple[set[str], dict[str, float | str]]:
        a = pressure_temperature({**asked, "tube": tube}, world)
        found = {k: v for k, v in a.outs.items() if k in ("superheat", "subcooling")}
        return a.parts & {"superheat", "subcooling", "two-phase"}, found

    assert told(None) == (set(), {})
    if kelvin:
        assert told(dew + kelvin) == ({"superheat"}, {"superheat": pytest.approx(kelvin)})
        assert told(bubble - kelvin) == ({"subcooling"}, {"subcooling": pytest.approx(kelvin)})
    else:
        assert told(dew) == told(bubble) == ({"two-phase"}, {})


@pytest.mark.parametrize(
    ("psig", "tube", "superheat", "subcooling"),
    [(118, 52, 12, None), (365, 100, None, 10), (118, 40, 0, None)],
)
def test_superheat_and_subcooling_against_a_pressure_chart(
    book: Book, psig: float, tube: float, superheat: float | None, subcooling: float | None
) -> None:
    """R-410A on a technician's chart, from memory: 118 psig at 40 °F, 365 psig at 110 °F; to a degree."""
    kelvin = (tube - 32) / 1.8 + 273.15
    given = {
        "refrigerant": "R-410A",
        "given": "pressure",
        "pressure": psig * 6894.757 + 101325,
        "temperature": None,
    }
    found = pressure_temperature({**given, "tube": kelvin}, bench.world(book)).outs
    for key, asked in (("superheat", superheat), ("subcooling", subcooling)):
        told = found.get(key, 0.0)
        assert isinstance(told, float)
        assert told * 1.8 == pytest.approx(asked or 0.0, abs=1.0), key


def test_leak_rate_example(book: Book) -> None:
    i, a = example("leak-rate", book)
    assert i["lost"] == pytest.approx(9 * POUND)
    assert i["over"] == pytest.approx(14 / 12 * YEAR)
    found = leak_rate.loss(9 * POUND, 14 / 12 * YEAR, 32 * POUND)
    assert a.outs["rate"] == pytest.approx(found.rate)
    assert a.outs["share"] == pytest.approx(found.share)
    r = refrigerants.shipped()["R-404A"]
    assert a.outs["co2e"] == pytest.approx(leak_rate.tonnes_co2e(9 * POUND, r.gwp["ar4"] or 0))
    annual = leak_rate.annualizing(9 * POUND, 32 * POUND, i["over"] / DAY)
    assert a.outs["annualizing"] == pytest.approx(annual)
    kind = us_rules.Appliance("commercial-refrigeration", False)
    for rule in us_rules.rules(r, 32 * POUND, kind, TODAY, annual):
        assert rule.key in a.parts
        assert (f"{rule.key}.over" in a.parts) == bool(rule.over)
        assert (f"{rule.key}.out" in a.parts) == (not rule.holds)
    assert a.outs["eu.months"] == eu_rules.leak_check(r, 32 * POUND).months


def test_nothing_lost_says_nothing_of_how_long_a_charge_would_last(book: Book) -> None:
    inputs, a = example("leak-rate", book)
    assert "lasts" in a.parts
    found = BY_KEY["leak-rate"].compute({**inputs, "lost": 0.0}, bench.world(book))
    assert "lasts" not in found.parts
    assert "years" not in found.outs


def test_leak_flow_example(book: Book) -> None:
    _, a = example("leak-flow", book)
    r = refrigerants.shipped()["R-410A"]
    leak, kelvin = 8 * OUNCE_PER_YEAR, (68 + 459.67) * 5 / 9
    assert a.outs["flow"] == pytest.approx(flow.throughput(leak, r.molar_mass))
    inside = standstill(TABLES, r, kelvin)
    assert a.outs["diameter"] == pytest.approx(flow.hole(leak, inside).diameter)  # type: ignore[arg-type]
    nitrogen = TABLES.nitrogen(kelvin, 300 * PSI + ATMOSPHERE)
    same = flow.same_hole(leak, inside, nitrogen)  # type: ignore[arg-type]
    assert a.outs["mass-low"] == pytest.approx(same.low)
    assert a.outs["other-high"] == pytest.approx(flow.throughput(same.high, nitrogen.molar_mass))


def test_standing_test_example(book: Book) -> None:
    _, a = example("standing-test", book)
    start, first, later = 400 * PSI + ATMOSPHERE, (75 + 459.67) * 5 / 9, (60 + 459.67) * 5 / 9
    assert a.outs["expected"] == pytest.approx(pressure_test.expected_nitrogen(TABLES, start, first, later))
    size = volume.line_set("3/8 in", "3/4 in", 30 * 0.3048) + 180 * 0.0254**3
    assert a.outs["volume"] == pytest.approx(size)
    smallest = pressure_test.smallest_leak(size, 24 * 3600, PSI, start, first, 2 * 5 / 9)
    assert a.outs["smallest"] == pytest.approx(smallest)
    assert math.isfinite(float(a.outs["wait"]))
    assert "too-short" in a.parts


def test_a_leak_is_worked_out_from_the_fall_that_is_told(book: Book) -> None:
    """2 psi below what the cold explains in real nitrogen; taken as an ideal gas it would be 2.8 psi, 40 % too much."""
    i, a = example("standing-test", book)
    around, fall = bench.world(book), 2 * PSI
    found = BY_KEY["standing-test"].compute({**i, "end": float(a.outs["expected"]) - fall}, around)

    assert found.outs["lost"] == pytest.approx(fall)
    by_the_fall = float(found.outs["volume"]) * fall / i["time"]
    assert found.outs["measured"] == pytest.approx(by_the_fall, rel=0.04)  # brought to the first temperature


def test_vacuum_example(book: Book) -> None:
    i, a = example("vacuum-hold", book)
    readings = [vacuum.VacuumReading(0, i["start"]), vacuum.VacuumReading(i["half"], i["middle"])]
    found = vacuum.judge([*readings, vacuum.VacuumReading(i["time"], i["end"])])
    assert f"shape-{found.shape}" in a.parts
    assert a.outs["leak"] == pytest.approx(vacuum.rise_leak(i["volume"], i["end"] - i["start"], i["time"]))
    for limit in vacuum.limits(i["start"], i["end"], i["time"]):
        assert a.outs[f"{limit.key}.because"] == limit.because


def test_air_example(book: Book) -> None:
    i, a = example("air", book)
    r = refrigerants.shipped()["R-410A"]
    assert a.outs["density"] == pytest.approx(air.density(180e-6, r.molar_mass))
    above = air.above_background(180e-6, 12e-6, 1e-6, 0.2)
    assert a.outs["needed"] == pytest.approx(above.needed)
    assert "above" in a.parts
    assert f"entry-{entry.check(r, 180e-6).verdict}" in a.parts
    space = air.Space.with_changes(i["room"], 0.2)
    assert a.outs["after"] == pytest.approx(space.after(air.vapour_flow(i["leak"], r.molar_mass), 24 * 3600))


@pytest.mark.parametrize(
    ("typed", "part", "clean", "seconds"),
    [
        # 180 to 12 ppm at 0.2 changes an hour: ln(15) / 0.2 = 13.54 h
        ({}, "clears", 12e-6, 13.540 * 3600),
        ({"background": None}, "clears", 1e-6, math.log(180) / 0.2 * 3600),
        ({"background": 0.0}, "clears", 1e-6, math.log(180) / 0.2 * 3600),
        ({"changes": 0.0}, "stays", 12e-6, None),
        ({"reading": 12e-6}, None, None, None),
    ],
)
def test_how_long_the_room_is_aired_before_a_detector_tells_anything(
    typed: dict[str, Any], part: str | None, clean: float | None, seconds: float | None, book: Book
) -> None:
    """t = V / Q ln(C0 / C), Basic Concepts of Industrial Hygiene, p. 163; worked out by hand."""
    i, _ = example("air", book)
    a = BY_KEY["air"].compute({**i, **typed}, bench.world(book))
    assert a.parts & {"clears", "stays"} == ({part} if part else set())
    assert a.outs.get("clean") == (pytest.approx(clean) if clean else None)
    assert a.outs.get("clears") == (pytest.approx(seconds, rel=1e-4) if seconds else None)


def test_technique_example(book: Book) -> None:
    i, a = example("which-technique", book)
    situation = detectability.Situation(
        leak=8 * OUNCE_PER_YEAR,
        refrigerant=refrigerants.shipped()["R-410A"],
        temperature=(68 + 459.67) * 5 / 9,
        test_pressure=300 * PSI + ATMOSPHERE,
        volume=volume.line_set("3/8 in", "3/4 in", i["length"]) + i["rest"],
        hold=i["time"],
        gauge=PSI,
        temperature_uncertainty=2 * 5 / 9,
    )
    sights = detectability.judge(situation, TABLES)
    assert a.orders["techniques"] == [s.technique for s in sights]
    for s in sights:
        assert f"{s.technique}.{s.verdict}" in a.parts


def test_every_technique_links_to_its_guide_page(drawn: dict[str, Page], book: Book) -> None:
    hrefs = {e.get("href") for e in parsed(drawn["bench/which-technique/"]).iter("a")}
    for key in book.library.guide.techniques:
        assert f"../../guide/techniques/{key}/" in hrefs


@pytest.mark.parametrize("us_first", [True, False])
@ALL
def test_defaults_answer_in_both_systems(key: str, us_first: bool, book: Book) -> None:
    """A company that shows SI first gets round SI figures, and an answer."""
    write = Writer(us_first, "USD")
    sheet = Sheet(BY_KEY[key], write, book)
    assert BY_KEY[key].compute(sheet.inputs(), bench.world(book)).outs
    for f in BY_KEY[key].fields:
        if f.kind == "quantity" and f.default:
            system = next(u for u in write.dimensions[f.dimension].units if u.key == sheet.unit(f)).system
            assert system in ("us" if us_first else "si", "both"), f.key


def test_what_the_trade_refuses_has_a_field() -> None:
    """Names that leaklore.trade gives what it refuses lead to one of the page's fields."""
    for b in BENCHES:
        told = {name for f in b.fields for name in f.told}
        for f in b.fields:
            assert f.kind != "quantity" or f.told, (b.key, f.key)
        assert "pressure" in told or not any(f.dimension == "pressure" for f in b.fields), b.key


@pytest.mark.parametrize(("key", "field"), [("standing-test", "pressure"), ("which-technique", "test")])
@pytest.mark.parametrize("above", [0.0, -5 * PSI])
def test_a_test_below_the_air_outside_is_refused_at_its_field(
    key: str, field: str, above: float, book: Book
) -> None:
    inputs, _ = example(key, book)
    with pytest.raises(OutOfRange) as refused:
        BY_KEY[key].compute({**inputs, field: ATMOSPHERE + above}, bench.world(book))
    assert [f.key for f in BY_KEY[key].fields if refused.value.field in f.told] == [field]
    assert refused.value.low == ATMOSPHERE


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"half": 0.0}, "half"),
        ({"half": -300.0}, "half"),
        ({"half": 6e10}, "half"),
        ({"time": 240.0}, "half"),
        ({"time": 0.0}, "time"),
        ({"time": 0.0, "half": None}, "time"),
    ],
)
def test_a_time_that_no_hold_has_is_refused_at_its_field(
    given: dict[str, float | None], field: str, book: Book
) -> None:
    inputs, _ = example("vacuum-hold", book)
    with pytest.raises(OutOfRange) as refused:
        BY_KEY["vacuum-hold"].compute({**inputs, **given}, bench.world(book))
    assert [f.key for f in BY_KEY["vacuum-hold"].fields if refused.value.field in f.told] == [field]
    assert refused.value.low == 0


@ALL
def test_no_refrigerant_breaks_a_page(key: str, book: Book) -> None:
    """Every refrigerant gives an answer at the defaults, and no figure that is none."""
    b: Bench = BY_KEY[key]
    around = bench.world(book)
    inputs = Sheet(b, bench.writer(book), book).inputs()
    for name in around.refrigerants:
        found = b.compute({**inputs, "refrigerant": name}, around)
        assert all(isinstance(v, str) or math.isfinite(v) for v in found.outs.values()), name


@pytest.mark.parametrize(
    ("value", "digits", "places", "text"),
    [
        (0.0, 3, None, "0"),
        (12.5, 2, None, "12"),
        (13.5, 2, None, "14"),
        (1234567.0, 3, None, "1.23\u00a0×\u00a010⁶"),
        (0.000241, 3, None, "2.41\u00a0×\u00a010⁻⁴"),
        (69212.4, 3, None, "69\u202f212"),
        (-40.0, 3, 1, "−40"),
        (69.64, 3, 1, "69.6"),
    ],
)
def test_figures_are_written_for_readers(value: float, digits: int, places: int | None, text: str) -> None:
    assert number(value, digits, places) == text


def test_the_browser_gets_the_same_units(book: Book) -> None:
    (file,) = bench.files(book)
    content = json.loads(file.content)
    assert content["version"] == bench.VERSION
    assert content["us_first"] is True
    pound = next(u for u in content["dimensions"]["mass"]["units"] if u["key"] == "lb")
    assert pound["factor"] == POUND
    for b in BENCHES:
        for f in b.fields:
            if f.dimension:
                assert content["dimensions"][f.dimension]["units"], f.key
                assert set(f.default) <= {u["key"] for u in content["dimensions"][f.dimension]["units"]}
