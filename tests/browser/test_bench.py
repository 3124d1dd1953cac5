"""The work bench in Chromium: it answers while one types, keeps units, shares addresses, tells what is wrong."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Page, Route, expect

from leaklore.pages.bench import BENCHES
from site_fixture import Site, text_of

from .conftest import DESK, PHONE, Complaints, Visit

KEYS = [b.key for b in BENCHES]
VIEWS = pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
HEADLINE = ".bench .answer__value:visible"


def awake(page: Page) -> Page:
    """The page once it computes."""
    page.wait_for_selector("[data-awake]")
    return page


def headline(page: Page) -> str:
    return page.locator(HEADLINE).first.inner_text().replace("\u00a0", " ")


def narrow(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


@VIEWS
@pytest.mark.parametrize("key", KEYS)
def test_the_live_answer_is_the_example_to_the_letter(
    visit: Visit, demo: Site, key: str, viewport: Any
) -> None:
    """Python at build time and the browser fill every slot, part and list alike; nothing scrolls sideways."""
    url = f"bench/{key}/"
    page = awake(visit(f"{url}?on=2026-12-31", viewport=viewport))
    built = demo.page(f"{url}index.html").elements
    slots = [
        (e.get("data-out") or e.get("data-in"), text_of(e))
        for e in built
        if e.get("data-out") or e.get("data-in")
    ]
    live = page.eval_on_selector_all(
        "[data-out], [data-in]",
        "all => all.map((e) => [e.dataset.out ?? e.dataset.in, e.textContent.split(/\\s+/).filter(Boolean).join(' ')])",
    )
    assert [tuple(one) for one in live] == slots
    parts = [(e.get("data-part"), e.get("hidden") is not None) for e in built if e.get("data-part")]
    assert [
        tuple(one)
        for one in page.eval_on_selector_all(
            "[data-part]", "all => all.map((e) => [e.dataset.part, e.hidden])"
        )
    ] == parts
    rows = [e.get("data-row") for e in built if e.get("data-row")]
    assert page.eval_on_selector_all("[data-row]", "all => all.map((e) => e.dataset.row)") == rows
    assert narrow(page)
    expect(page.locator("[data-bench-still]")).to_be_hidden()
    for box in page.locator(".bench-field input[type=text]:visible, .bench-field select:visible").all():
        size = box.bounding_box()
        assert size is not None
        assert size["height"] >= 56


@VIEWS
def test_typing_changes_the_answer_and_the_formula(visit: Visit, viewport: Any) -> None:
    page = awake(visit("bench/leak-rate/", viewport=viewport))
    page.get_by_label("Charge lost", exact=True).fill("2")
    page.get_by_label("Over", exact=True).fill("12")
    expect(page.locator(HEADLINE).first).to_have_text("2 lb/yr")
    expect(page.locator(".bench-formula")).to_contain_text("rate = lost ÷ time = 2 lb ÷ 12 months")
    if viewport is PHONE:
        expect(page.locator("[data-bench-peeked]")).to_have_text("2 lb/yr")
    assert narrow(page)


def test_what_stands_at_the_foot_is_not_what_was_typed(visit: Visit) -> None:
    page = awake(visit("bench/leak-flow/"))
    expect(page.locator("[data-bench-peeked]")).to_have_text("2.41\u00a0×\u00a010⁻⁴\u00a0Pa m³/s")
    page.get_by_label("a gas flow").check()
    expect(page.locator("[data-bench-peeked]")).to_contain_text("/yr")


def test_nothing_lost_leaves_no_half_sentence(visit: Visit) -> None:
    page = awake(visit("bench/leak-rate/"))
    lasts = page.get_by_text("a full charge would last")
    expect(lasts).to_be_visible()
    page.get_by_label("Charge lost", exact=True).fill("0")
    expect(page.locator(HEADLINE).first).to_have_text("0 oz/yr")
    expect(lasts).to_be_hidden()


def test_it_computes_on_when_the_signal_is_gone(visit: Visit) -> None:
    """Everything is there once the page is awake; keeping it for the next visit is another matter."""
    page = awake(visit("bench/leak-rate/"))
    page.context.set_offline(True)
    page.get_by_label("Charge lost", exact=True).fill("2")
    page.get_by_label("Over", exact=True).fill("12")
    expect(page.locator(HEADLINE).first).to_have_text("2 lb/yr")


def test_switching_a_unit_keeps_the_amount_and_is_kept(visit: Visit) -> None:
    """On this page, after a reload, and on another page that has such a field."""
    page = awake(visit("bench/leak-rate/"))
    before = headline(page)
    page.get_by_label("Unit: Charge lost").select_option("kg")
    expect(page.get_by_label("Charge lost", exact=True)).to_have_value("4.08233")
    expect(page.get_by_label("Unit: Full charge")).to_have_value("kg")
    assert headline(page) == before
    page.wait_for_url("**lost=4.0823*")
    page.reload()
    awake(page)
    expect(page.get_by_label("Unit: Charge lost")).to_have_value("kg")
    assert headline(page) == before
    page.goto(page.url.split("bench/")[0] + "bench/air/")
    awake(page)
    expect(page.get_by_label("Unit: Full charge")).to_have_value("kg")
    expect(page.locator("[name=charge]")).to_have_value("3.9")


@pytest.mark.parametrize("key", KEYS)
def test_a_shared_address_gives_the_same_answer(visit: Visit, key: str) -> None:
    """To somebody with other units kept: every figure that the first one saw."""
    first = awake(visit(f"bench/{key}/"))
    box = first.locator(".bench-field input[type=text]:visible").first
    typed = box.input_value()
    box.fill(str(round(float(typed) * 1.1, 3)))
    first.get_by_role("button", name="Copy the address").click()
    first.wait_for_function("location.search.length > 1")
    kept = """for (const [d, u] of [["mass", "g"], ["temperature", "degC"], ["leak-rate", "kg/yr"], ["pressure", "kPa"]])
      localStorage.setItem(`leaklore-unit-${d}`, u);"""
    second = visit(None, init=kept)
    second.goto(first.url)
    awake(second)
    out = "all => all.filter((e) => e.checkVisibility()).map((e) => e.textContent)"
    assert second.eval_on_selector_all("[data-out], [data-in]", out) == first.eval_on_selector_all(
        "[data-out], [data-in]", out
    )


def test_a_bare_number_in_the_address_is_si(visit: Visit) -> None:
    page = awake(visit("bench/leak-rate/?lost=0.45359237&over=31557600"))
    assert headline(page) == "1 lb/yr"


@pytest.mark.parametrize(
    ("key", "field", "typed", "told"),
    [
        ("leak-rate", "Charge lost", "2,,4", "“2,,4” is not a number. Write it like 2.4."),
        ("leak-rate", "Charge lost", "1,234", "“1,234” can be read in two ways. Write 1234 or 1.234."),
        ("leak-rate", "Full charge", "0", "This has to be more than zero."),
        ("leak-rate", "Over", "-3", "This has to be more than zero."),
        (
            "pressure-temperature",
            "Temperature of the liquid and its vapour",
            "300",
            "This has to lie between −40 °F and 149 °F.",
        ),
        (
            "standing-test",
            "Temperature at the second reading",
            "-100",
            "This has to lie between −40 °F and 149 °F.",
        ),
        ("standing-test", "Time between the readings", "0", "This has to be more than zero."),
        (
            "standing-test",
            "Nitrogen pressure at the start",
            "0",
            "A test needs more pressure than the air outside.",
        ),
        (
            "standing-test",
            "Nitrogen pressure at the start",
            "-5",
            "A test needs more pressure than the air outside.",
        ),
        ("which-technique", "Test pressure", "-5", "A test needs more pressure than the air outside."),
        ("vacuum-hold", "After", "0", "This has to be more than zero."),
        ("vacuum-hold", "That was after", "0", "This has to be more than zero."),
        ("vacuum-hold", "That was after", "-5", "This has to be more than zero."),
        ("vacuum-hold", "That was after", "1e9", "This has to lie before the end (10 min)."),
        ("air", "Highest reading", "-5", "This has to lie between 0 ppm and 1000000 ppm."),
        ("which-technique", "Leak rate", "0", "This has to be more than zero."),
    ],
)
def test_bad_input_is_told_at_its_field(visit: Visit, key: str, field: str, typed: str, told: str) -> None:
    """In plain words and in the unit that stands there; the answer steps back and no NaN is shown."""
    page = awake(visit(f"bench/{key}/"))
    box = page.get_by_label(field, exact=True).or_(
        page.get_by_role("textbox", name=re.compile(f"^{re.escape(field)}"))
    )
    box.first.fill(typed)
    problem = page.locator(f"#p-{box.first.get_attribute('name')}")
    expect(problem).to_be_visible()
    expect(problem).to_have_text(told)
    expect(box.first).to_have_attribute("aria-invalid", "true")
    expect(page.locator(HEADLINE)).to_have_count(0)
    assert "NaN" not in page.locator("main").inner_text()
    box.first.fill("8" if key == "vacuum-hold" else "12")  # min of a hold of 10
    expect(problem).to_be_hidden()
    expect(page.locator(HEADLINE).first).to_be_visible()


def test_a_hold_that_ends_before_its_half_way_reading_asks_for_another(visit: Visit) -> None:
    page = awake(visit("bench/vacuum-hold/"))
    page.locator("[name=time]").fill("4")
    expect(page.locator("#p-half")).to_have_text("This has to lie before the end (4 min).")
    expect(page.locator("#p-time")).to_be_hidden()
    expect(page.locator("[data-bench-state]")).to_have_text(
        "No answer for this field (the time of the half-way reading); what it takes is told there."
    )
    page.locator("[name=middle]").fill("")  # without its pressure the time says nothing
    expect(page.locator("#p-half")).to_be_hidden()
    expect(page.locator(HEADLINE).first).to_be_visible()


def test_an_empty_field_is_waited_for_and_no_mistake(visit: Visit) -> None:
    page = awake(visit("bench/leak-rate/"))
    page.get_by_label("Charge lost", exact=True).fill("")
    page.get_by_label("Over", exact=True).fill("")
    expect(page.locator("[data-bench-state]")).to_have_text("Waiting for: charge lost, the time it took.")
    expect(page.locator("[aria-invalid=true]")).to_have_count(0)
    page.get_by_label("Charge lost", exact=True).fill("1,5")
    page.get_by_label("Over", exact=True).fill("6")
    expect(page.locator(HEADLINE).first).to_have_text("3 lb/yr")


def test_a_test_above_the_nameplate_is_warned_of(visit: Visit) -> None:
    page = awake(visit("bench/standing-test/"))
    page.locator("[name=nameplate]").fill("350")
    expect(page.get_by_text("Above the nameplate’s low-side test pressure of 350 psig")).to_be_visible()
    page.locator("[name=pressure]").fill("350")
    expect(page.get_by_text("Above the nameplate’s low-side test pressure of")).to_be_hidden()


def test_above_the_critical_temperature_there_is_no_saturation(visit: Visit) -> None:
    page = awake(visit("bench/pressure-temperature/"))
    page.get_by_label("Refrigerant").select_option("R-744")
    page.locator("[name=temperature]").fill("100")
    expect(page.locator(HEADLINE).first).to_have_text("No saturation")


def test_pressure_leads_back_to_temperature(visit: Visit) -> None:
    page = awake(visit("bench/pressure-temperature/?refrigerant=R-32&given=temperature&temperature=20+degC"))
    bar = page.locator("[data-out=dew][data-form=other]").first.inner_text()
    page.get_by_label("pressure", exact=True).check()
    page.get_by_label("Unit: Pressure on the gauge").select_option("bar")
    page.locator("[name=pressure]").fill(bar.split()[0])
    expect(page.locator("[data-out=dew-temperature][data-form=other]").first).to_have_text("20 °C")


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        ("pressure=118+psig&tube=55+degF", "10.1 °F superheat"),
        ("pressure=340+psig&tube=90+degF", "18.2 °F subcooling"),
        ("pressure=340+psig&tube=43+degC", "Liquid and vapour"),
        ("pressure=340+psig", "108.2 °F"),
    ],
)
def test_with_a_tube_s_temperature_it_tells_superheat_or_subcooling(
    visit: Visit, asked: str, first: str
) -> None:
    """R-454B at 118 psig boils from 42.2 to 44.9 °F, at 340 psig from 108.2 to 110.8 °F: dew for superheat, bubble for
    subcooling, and neither between them. It stands at the foot of a phone, too."""
    page = awake(visit(f"bench/pressure-temperature/?refrigerant=R-454B&given=pressure&{asked}"))
    assert headline(page) == first
    expect(page.locator("[data-bench-peeked]")).to_have_text(first)
    targets = page.get_by_text("What it should be stands on the unit’s plate or chart")
    expect(targets).to_be_visible(visible="tube" in asked)
    page.locator("[name=tube]").fill("900")
    expect(page.locator(".field__problem:visible")).to_contain_text(re.compile("392 °F|200 °C"))
    page.get_by_label("temperature", exact=True).check()
    expect(page.locator("[name=tube]")).to_be_hidden()
    expect(targets).to_be_hidden()


def test_a_compound_gauge_is_read_below_the_air_outside(visit: Visit) -> None:
    """10 inHg of vacuum are 67.5 kPa absolute; at -35 °C R-134a has 66.1 kPa (from memory)."""
    page = awake(visit("bench/pressure-temperature/?refrigerant=R-134a&given=pressure&pressure=10+inHg-vac"))
    expect(page.locator("[data-out=dew-temperature][data-form=other]").first).to_have_text("−34.6 °C")
    page.locator("[name=pressure]").fill("40")
    expect(page.locator(".field__problem:visible").first).to_contain_text("psig")


def test_the_sign_button_turns_a_temperature_round(visit: Visit) -> None:
    """Keypads for figures often have no minus."""
    page = awake(visit("bench/pressure-temperature/"))
    page.locator("[name=temperature]").fill("10")
    page.get_by_role("button", name=re.compile("Above or below zero")).click()
    expect(page.locator("[name=temperature]")).to_have_value("-10")
    expect(page.locator(".bench-formula")).to_contain_text("−10 °F")


@VIEWS
def test_a_system_fills_in_what_the_register_knows(visit: Visit, demo: Site, viewport: Any) -> None:
    systems = demo.records("data/systems.json", "systems")
    record = next(s for s in systems if s["line_set_length_m"] and s["line_set_liquid"] and s["charge_kg"])
    page = awake(visit(f"bench/standing-test/?system={record['system']}", viewport=viewport))
    expect(page.get_by_label("Refrigerant")).to_have_value(record["refrigerant"])
    expect(page.locator("[name=liquid]")).to_have_value(record["line_set_liquid"])
    length = float(page.locator("[name=length]").input_value())
    assert length * 0.3048 == pytest.approx(record["line_set_length_m"], rel=1e-4)
    line = page.locator("[data-bench-from]")
    expect(line).to_contain_text(record["system"])
    expect(line.get_by_role("link")).to_have_attribute("href", f"../../systems/{record['system']}/")
    assert narrow(page)
    page.goto(page.url.split("bench/")[0] + f"bench/leak-rate/?system={record['system']}")
    awake(page)
    # the register knows no loss: it is asked for and not left at the example's
    expect(page.locator("[data-bench-state]")).to_contain_text("Waiting for: charge lost")
    charge = float(page.locator("[name=charge]").input_value())
    assert charge * 0.45359237 == pytest.approx(record["charge_kg"], rel=1e-4)


def test_a_case_fills_in_its_loss(visit: Visit, demo: Site) -> None:
    cases = demo.cases
    record = next(c for c in cases if c["id"] == "KW-2025-014")
    page = awake(visit("bench/leak-rate/?case=KW-2025-014"))
    grams = record["leak_rate_g_per_year"]
    shown, unit = page.locator("[data-out=rate][data-form=other]").first.inner_text().split()
    assert float(shown) * {"g/yr": 1, "kg/yr": 1000}[unit] == pytest.approx(grams, rel=5e-3)
    expect(page.locator("[data-bench-from]")).to_contain_text("KW-2025-014")
    # what the address names itself stays
    page.goto(page.url.split("bench/")[0] + "bench/leak-rate/?case=KW-2025-014&lost=2+kg")
    awake(page)
    expect(page.get_by_label("Charge lost", exact=True)).to_have_value("2")


def test_a_guess_of_the_record_is_not_told_to_six_digits(visit: Visit) -> None:
    page = awake(visit("bench/which-technique/?case=DB-2024-014"))
    expect(page.locator("[name=length]")).to_have_value("39.37")
    expect(page.locator("[name=rest]")).to_have_value("136")


def test_an_unknown_record_is_told_and_the_example_stays(visit: Visit) -> None:
    page = awake(visit("bench/leak-rate/?system=S-9999"))
    expect(page.locator("[data-bench-from]")).to_contain_text("There is no system S-9999")
    expect(page.locator(HEADLINE).first).to_be_visible()


@pytest.mark.parametrize("answer", ["missing", "other edition", "broken"])
def test_without_its_figures_the_example_stays(
    visit: Visit, address: str, complaints: Complaints, answer: str
) -> None:
    """Told in plain words; fields can't be changed then."""

    def reply(route: Route) -> None:
        if answer == "missing":
            route.fulfill(status=404, body="")
        else:
            route.fulfill(
                status=200,
                content_type="application/json",
                body='{"version": 99}' if answer == "other edition" else "{",
            )

    page = visit(None)
    page.route("**/data/trade.json", reply)
    page.goto(address + "bench/air/")
    still = page.locator("[data-bench-still]")
    expect(still).to_contain_text("worked example")
    expect(page.locator(HEADLINE).first).to_be_visible()
    expect(page.locator("[name=reading]")).to_be_disabled()
    complaints[:] = [c for c in complaints if answer != "missing" or "404" not in c]


@VIEWS
@pytest.mark.parametrize("key", KEYS)
def test_without_javascript_the_example_is_there(visit: Visit, key: str, viewport: Any) -> None:
    page = visit(f"bench/{key}/", viewport=viewport, java_script_enabled=False)
    expect(page.locator(HEADLINE).first).to_be_visible()
    expect(page.locator("[data-bench-still]")).to_be_visible()
    expect(page.locator(".caution")).to_be_visible()
    expect(page.locator("[data-bench-acts]")).to_be_hidden()


def test_starting_again_brings_the_example_back(visit: Visit) -> None:
    page = awake(visit("bench/leak-rate/?lost=1+lb"))
    page.get_by_role("button", name="Start again").click()
    expect(page.get_by_label("Charge lost", exact=True)).to_have_value("9")
    assert parse_qs(urlsplit(page.url).query) == {}


def test_the_bench_is_fetched_only_where_there_is_one(visit: Visit, address: str) -> None:
    asked: list[str] = []
    page = visit(None)
    page.on("request", lambda r: asked.append(r.url))
    page.goto(address + "guide/")
    expect(page.locator("[data-theme-switch]")).to_be_visible()
    assert not [url for url in asked if "/bench/" in url or "/trade" in url]
