"""Recording a case on a phone: filled in by tapping and typing, never lost, checked as Python checks, sent as one ZIP."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
import yaml
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Locator, Page, expect

import heic_made
from leaklore.intake.take import take
from leaklore.records.check import CheckResult, check
from site_fixture import ROOT

from .conftest import DESK, PHONE, WIDE, Complaints, Visit

DAY = "2026-12-30"
"""The browser's today, one day before the demo's edition: rules look at both."""
CLOCK = f"""
{{ const Real = Date; const shift = Real.parse("{DAY}T10:42:00Z") - Real.now();
  window.Date = class extends Real {{ constructor(...all) {{ all.length ? super(...all) : super(Real.now() + shift); }}
    static now() {{ return Real.now() + shift; }} }}; }}
"""
NARROW = {"width": 320, "height": 640}
HOSTILE = '"><img src=x onerror=alert(1)>{{7*7}}[[flare-joint]]'


def opened(visit: Visit, path: str = "record/", **settings: Any) -> Page:
    """The page, once it listens and the register is there."""
    init = CLOCK + settings.pop("init", "")
    page = visit(path, init=init, **settings)
    expect(page.locator("[data-record]")).to_have_attribute("data-register", re.compile("here|broken"))
    return page


def again(page: Page) -> Page:
    """The page, loaded anew."""
    page.reload()
    expect(page.locator("[data-record]")).to_have_attribute("data-register", re.compile("here|broken"))
    return page


def step(page: Page, key: str) -> Locator:
    """A step of the form, open."""
    found = page.locator(f"#step-{key}")
    if found.get_attribute("open") is None:
        found.locator("> summary").click()
    return found


def unfold(inside: Locator, title: str) -> None:
    """Opens what stands behind a line."""
    inside.locator("summary", has_text=title).last.click()


def at(inside: Page | Locator, pointer: str) -> Locator:
    """A field by its pointer."""
    return inside.locator(f'[data-pointer="{pointer}"]')


def pick(inside: Page | Locator, pointer: str, typed: str, name: str) -> None:
    """Types a few letters and taps the row that is meant."""
    field = at(inside, pointer)
    field.get_by_role("combobox").fill(typed)
    field.get_by_role("option").filter(has_text=name).first.click()
    expect(field.locator("[data-chosen]")).to_contain_text(name)


def choose(inside: Page | Locator, pointer: str, word: str) -> None:
    """Taps one of a few large buttons."""
    at(inside, pointer).locator("label", has_text=re.compile(rf"^\s*{re.escape(word)}\b")).first.click()


def amount(inside: Page | Locator, pointer: str, number: str, unit: str) -> None:
    """Types a number and taps its unit."""
    field = at(inside, pointer)
    field.locator("[data-input]").fill(number)
    field.get_by_role("button", name=unit, exact=True).click()


def fill(inside: Page | Locator, pointer: str, text: str) -> None:
    """Types into a field."""
    at(inside, pointer).locator("[data-input]").fill(text)


def added(inside: Locator, kind: str) -> Locator:
    """A new entry of a list, open."""
    box = inside.locator(f'[data-list="{kind}"]')
    box.locator("[data-add]").click()
    return box.locator(".entry").last


def did(
    inside: Locator, technique: tuple[str, str], place: tuple[str, str], minutes: str, result: str
) -> None:
    """Records a check."""
    entry = added(inside, "search")
    pick(entry, "technique", *technique)
    pick(entry, "at", *place)
    fill(entry, "minutes", minutes)
    choose(entry, "result", result)
    entry.get_by_role("button", name="Done").click()


def problems(inside: Page | Locator, pointer: str) -> list[str]:
    """What is told at a field."""
    return at(inside, pointer).locator("[data-problem] span").all_inner_texts()


def kept(page: Page) -> list[dict[str, Any]]:
    """The drafts as they lie in the phone's database."""
    found = page.evaluate(
        """() => new Promise((done, refused) => {
          const asked = indexedDB.open("leaklore-record", 1);
          asked.onerror = () => refused(asked.error);
          asked.onsuccess = () => {
            const all = asked.result.transaction("drafts").objectStore("drafts").getAll();
            all.onsuccess = () => { asked.result.close(); done(all.result); };
          };
        })"""
    )
    return list(found)


def saved(page: Page, **expected: Any) -> dict[str, Any]:
    """The only draft, once its record holds what is expected."""
    for _ in range(100):
        found = kept(page)
        if len(found) == 1 and all(found[0]["record"].get(k) == v for k, v in expected.items()):
            return dict(found[0])
        page.wait_for_timeout(50)
    raise AssertionError(f"{expected} was not kept: {found}")


def sent(page: Page, button: str = "Save as a file") -> zipfile.ZipFile:
    """What leaves the phone."""
    with page.expect_download() as waiting:
        page.get_by_role("button", name=button).click()
    file = waiting.value
    assert re.fullmatch(r"draft-\d{8}-[0-9a-z]{6}\.zip", file.suggested_filename)
    expect(page.locator("[data-out-said]")).to_contain_text(file.suggested_filename)
    return zipfile.ZipFile(io.BytesIO(Path(file.path()).read_bytes()))


def filed(package: zipfile.ZipFile, tmp_path: Path) -> CheckResult:
    """A library that took it in, as `cases` of the folder."""
    library = tmp_path / "cases"
    (library / "records").mkdir(parents=True)
    for part in ("company.yaml", "systems.yaml"):
        (library / part).write_bytes((ROOT / "cases" / part).read_bytes())
    file = tmp_path / "sent.zip"
    assert package.fp is not None
    package.fp.seek(0)
    file.write_bytes(package.fp.read())
    today = dt.date.fromisoformat(DAY)
    taken = take(check(library, today=today), [file], today=today)
    assert not taken.failed, [p.text() for o in taken.outcomes for p in o.problems]
    result = check(library, today=today)
    assert not result.failed, [p.text() for p in result.problems]
    return result


def picture(width: int, height: int, orientation: int = 1) -> bytes:
    """A photo as a phone takes it: left half red, right half blue, with the place where it was taken."""
    image = Image.new("RGB", (width, height), "blue")
    image.paste("red", (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Camera of nobody"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (54.0, 30.0, 0.0), "W", (3.0, 10.0, 0.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, comment=b"Lock Row 7")
    assert b"Camera of nobody" in out.getvalue()
    return out.getvalue()


def attach(page: Page, *files: tuple[str, str, bytes]) -> None:
    """Chooses photos."""
    chosen = [{"name": name, "mimeType": kind, "buffer": data} for name, kind, data in files]
    step(page, "photos").locator("[data-photo-input]").last.set_input_files(chosen)  # type: ignore[arg-type]


def whole(page: Page) -> None:
    """Fills in a complete record as a technician would, in the order of the page."""
    seen = step(page, "seen")
    for name, said in (("Short of charge", "Seen"), ("Oil film", "Seen"), ("Visible corrosion", "Not there")):
        seen.get_by_role("group", name=name, exact=True).get_by_role("button", name=said).click()
    amount(seen, "environment.ambient", "39", "°F")
    pick(seen, "environment.conditions", "cold day", "Cold outdoors")
    job = step(page, "job")
    choose(job, "branch", "Ketterwick")
    pick(job, "crew", "k1", "K1")
    fill(job, "reported", "2026-12-28")
    pick(job, "system", "lock row", "S-")
    lost = step(page, "lost")
    amount(lost, "charge.lost", "9", "oz")
    amount(lost, "charge.over", "14", "months")
    readings = added(step(page, "readings"), "readings")
    pick(readings, "at", "head", "Flare at the indoor unit")
    pick(readings, "by", "infra", "Infrared")
    amount(readings, "value", "85", "ppm")
    readings.get_by_role("button", name="Done").click()
    search = step(page, "search")
    did(search, ("look", "Looking"), ("condenser unit", "Outdoor"), "10", "Clean")
    did(search, ("infra", "Infrared"), ("indoor flare", "Flare at the indoor unit"), "12", "Pinpointed")
    did(search, ("soap", "Bubble"), ("indoor flare", "Flare at the indoor unit"), "6", "Confirmed")


def rest(page: Page) -> None:
    """What is told after the search."""
    cause = step(page, "cause")
    pick(cause, "cause.mode", "flare", "Flare")
    pick(cause, "cause.component", "indoor flare", "Flare at the indoor unit")
    choose(cause, "cause.proof", "Held")
    pick(cause, "cause.contributing", "overtight", "Over-tightened")
    fix = step(page, "fix")
    pick(fix, "fix.action", "remake", "Flare remade")
    amount(fix, "fix.labour", "1.5", "h")
    amount(fix, "fix.parts", "6", "USD")
    amount(fix, "fix.charge_added", "1", "lb")
    choose(fix, "fix.hold_test.medium", "Nitrogen")
    amount(fix, "fix.hold_test.start", "450", "psig")
    amount(fix, "fix.hold_test.end", "450", "psig")
    amount(fix, "fix.hold_test.over", "2", "h")
    fill(step(page, "after"), "closed", "2026-12-29")
    story = step(page, "story")
    fill(story, "title", "Flare on a wall unit weeps in the cold")
    fill(story, "lesson", "A flare that weeps is remade, not tightened again.")
    fill(
        story,
        "story",
        "Second visit in a year: the nut was tight, and it still frothed.\nUnder it the face was split.",
    )


def test_a_whole_record_with_photos_is_taken_by_the_library(
    visit: Visit, tmp_path: Path, complaints: Complaints
) -> None:
    """Filled in on a phone, loaded anew in the middle, sent as a ZIP, taken by `leaklore take`; nothing leaves its origin."""
    page = opened(visit)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(f"{request.method} {request.url}"))
    whole(page)
    again(page)  # with the last keys not yet saved by the clock
    rest(page)
    attach(
        page,
        ("IMG_1.jpg", "image/jpeg", picture(2400, 1200)),
        ("IMG_2.jpg", "image/jpeg", picture(400, 200, 6)),
    )
    captions = page.locator(".photo").get_by_label("Caption")
    expect(captions).to_have_count(2)
    page.get_by_role("button", name="Is it complete?").click()
    rows = [" ".join(row.split()) for row in page.locator("[data-problems] li").all_inner_texts()]
    assert rows == ["Caption This is still to be filled in."] * 2, "in the form's terms, not the file's"
    expect(page.locator("[data-checked-text]")).to_contain_text("2 things are missing or wrong")
    captions.nth(0).fill("Split flare face")
    captions.nth(1).fill("The nut")
    again(page)
    expect(page.locator("[data-todo]")).to_have_text("Complete")
    package = sent(page)
    assert sorted(package.namelist()) == ["case.yaml", "photos/photo-1.jpg", "photos/photo-2.jpg"]
    text = package.read("case.yaml").decode()
    assert text.splitlines()[1] == f"# from: {kept(page)[0]['key']}"
    record = yaml.safe_load(text)
    assert record["symptoms"] == ["short-of-charge", "oil-film"]
    assert record["not_seen"] == ["visible-corrosion"]
    assert record["charge"] == {"lost": "9 oz", "over": "14 months"}
    assert record["readings"] == [{"at": "indoor-flare", "by": "infrared-detector", "value": "85 ppm"}]
    assert [s["result"] for s in record["search"]] == ["clean", "pinpointed", "confirmed"]
    assert [s["minutes"] for s in record["search"]] == [10, 12, 6]
    assert record["cause"]["proof"] == "held"
    assert "id" not in record
    for name, size in (("photos/photo-1.jpg", (1600, 800)), ("photos/photo-2.jpg", (200, 400))):
        data = package.read(name)
        image = Image.open(io.BytesIO(data))
        assert (image.format, image.size) == ("JPEG", size)
        assert not image.getexif()
        assert not {"exif", "comment"} & set(image.info)
        assert not any(word in data for word in (b"Exif", b"Camera", b"Lock Row", b"GPS"))
    upright = Image.open(io.BytesIO(package.read("photos/photo-2.jpg"))).convert("RGB")
    assert upright.getpixel((100, 40))[0] > 200, "turned by a quarter: what was left is on top"
    assert upright.getpixel((100, 360))[2] > 200

    result = filed(package, tmp_path)
    assert result.library is not None
    assert [c.id for c in result.library.cases] == ["KW-2026-001"]
    photos = tmp_path.glob("cases/photos/KW-2026-001/*")
    assert {p.name for p in photos} == {"photo-1.jpg", "photo-2.jpg"}

    origin = page.evaluate("location.origin")
    assert asked
    assert not [one for one in asked if not one.startswith((f"GET {origin}", "GET blob:", "GET data:"))]
    expect(page.locator("[data-sent]")).to_contain_text("Handed over")
    assert kept(page)[0]["sent"]


def test_every_key_is_kept(visit: Visit) -> None:
    """Typed and left at once: by the clock, by leaving, and half a word in a list of words."""
    page = opened(visit)
    expect(page.locator("[data-saved]")).to_have_text("Nothing entered yet")
    story = step(page, "story")
    at(story, "title").locator("[data-input]").press_sequentially("Flare weeps", delay=5)
    again(page)
    expect(at(page, "title").locator("[data-input]")).to_have_value("Flare weeps")
    expect(page.locator("[data-saved]")).to_contain_text(
        re.compile(r"Saved on this phone .*10:42|Saved on this phone")
    )
    at(step(page, "cause"), "cause.mode").get_by_role("combobox").fill("gremlins")
    again(page)
    step(page, "cause")
    expect(at(page, "cause.mode").locator("[data-chosen]")).to_contain_text("gremlins")
    draft = saved(page, title="Flare weeps", cause={"mode": "gremlins"})
    assert page.url.endswith(f"?draft={draft['key']}")


def test_a_draft_is_resumed_without_its_address(visit: Visit) -> None:
    page = opened(visit)
    fill(step(page, "story"), "title", "Left in the middle")
    saved(page, title="Left in the middle")
    page.goto(page.url.split("?")[0])
    expect(page.locator("[data-note-text]")).to_contain_text("Going on with the draft")
    expect(at(page, "title").locator("[data-input]")).to_have_value("Left in the middle")


def record_text(page: Page, *parts: str) -> str:
    """The record as text, once it holds what was typed last: it is written a moment after its box opens."""
    page.locator("[data-text-box] > summary").click()
    box = page.locator("[data-text]")
    for part in parts:
        expect(box).to_contain_text(part)
    return box.inner_text()


def test_problems_are_told_in_pythons_words(visit: Visit, tmp_path: Path) -> None:
    """Five usual mistakes: at the field stands what `leaklore check` says of the same record, and only after leaving."""
    page = opened(visit)
    whole(page)
    rest(page)
    lost = step(page, "lost")
    box = at(lost, "charge.lost").locator("[data-input]")
    box.fill("1,500 lb")
    page.wait_for_timeout(500)
    assert not problems(page, "charge.lost"), "told while it is being typed"
    box.blur()
    expect(at(page, "charge.lost").locator("[data-problem]")).to_be_visible()
    cause = step(page, "cause")
    at(cause, "cause.mode").locator("[data-chosen] button").click()
    at(cause, "cause.mode").get_by_role("combobox").fill("flair joint")
    at(cause, "cause.mode").get_by_role("combobox").blur()
    fill(step(page, "story"), "title", "Short")
    fill(step(page, "story"), "story", "")
    entry = step(page, "search").locator(".entry").first
    entry.locator("> summary").click()
    fill(entry, "minutes", "ten")
    page.get_by_role("button", name="Is it complete?").click()
    told = python_says(record_text(page, "minutes: ten", "symptoms:", "branch:"), tmp_path)
    assert len(told) == 5
    shown = [
        *(t for p in ("charge.lost", "cause.mode", "title", "story") for t in problems(page, p)),
        *problems(entry, "minutes"),
    ]
    assert sorted(shown) == sorted(told)
    expect(page.locator("[data-todo]")).to_have_text("5 things to do")
    rows = page.locator("[data-problems] li")
    expect(rows).to_have_count(5)
    rows.nth(0).get_by_role("link").click()
    expect(at(page, "charge.lost").locator("[data-input]")).to_be_focused()


def python_says(text: str, folder: Path) -> list[str]:
    """What `leaklore check` says of this record in the demo's register."""
    library = folder / "checked"
    (library / "records" / "2026").mkdir(parents=True)
    for part in ("company.yaml", "systems.yaml"):
        (library / part).write_bytes((ROOT / "cases" / part).read_bytes())
    (library / "records" / "2026" / "KW-2026-999.yaml").write_text(f"id: KW-2026-999\n{text}", "utf-8")
    found = check(library, today=dt.date.fromisoformat(DAY)).problems
    mine = [p for p in found if p.path.endswith("KW-2026-999.yaml")]
    # the form names the field itself, where the message names its place in the file
    bare = [re.sub(r"^[a-z_.0-9\[\]]+: ", "", p.message) for p in mine]
    return [
        "This is still to be filled in." if p.rule == "schema/required" else f"{told}; {p.instead}"
        for p, told in zip(mine, bare, strict=True)
    ]


def test_rules_speak_like_python_once_the_schema_is_content(visit: Visit, tmp_path: Path) -> None:
    page = opened(visit)
    whole(page)
    rest(page)
    fix = step(page, "fix")
    choose(fix, "fix.hold_test.medium", "Vacuum")
    fill(step(page, "after"), "closed", "2026-12-01")
    fill(step(page, "lost"), "charge.lost", "900 lb")
    page.get_by_role("button", name="Is it complete?").click()
    told = python_says(record_text(page, "900 lb", "symptoms:", "branch:"), tmp_path)
    assert len(told) >= 4
    shown = [
        t
        for p in ("charge.lost", "closed", "cause.proof", "fix.hold_test.start", "fix.hold_test.end")
        for t in problems(page, p)
    ]
    assert sorted(shown) == sorted(told)


def test_quantities_are_read_back_in_the_other_unit(visit: Visit) -> None:
    page = opened(visit)
    lost = step(page, "lost")
    field = at(lost, "charge.lost")
    other = field.locator("[data-other]")
    amount(lost, "charge.lost", "9", "lb")
    field.locator("[data-input]").press_sequentially("8")
    field.get_by_role("button", name="oz", exact=True).click()
    expect(field.locator("[data-input]")).to_have_value("9 lb 8 oz")
    expect(other).to_have_text("= 4.31 kg")
    field.locator("[data-input]").fill("1.8 kg")
    expect(other).to_have_text("= 3 lb 15 oz")
    field.locator("[data-input]").fill("1.8 parsec")
    expect(other).to_have_text("")
    seen = step(page, "seen")
    amount(seen, "environment.ambient", "4", "°C")
    expect(at(seen, "environment.ambient").locator("[data-other]")).to_have_text("= 39 °F")
    at(seen, "environment.ambient").get_by_role("button", name="Above or below zero").click()
    expect(at(seen, "environment.ambient").locator("[data-input]")).to_have_value("-4 °C")


def test_a_temperature_is_written_as_its_button_says(visit: Visit) -> None:
    seen = step(opened(visit), "seen")
    amount(seen, "environment.ambient", "39", "°F")
    field = at(seen, "environment.ambient")
    expect(field.locator("[data-input]")).to_have_value("39 °F")
    expect(field.locator("[data-other]")).to_have_text("= 4 °C")
    amount(seen, "environment.ambient", "4", "°C")
    expect(field.locator("[data-other]")).to_have_text("= 39 °F")


@pytest.mark.parametrize(
    ("typed", "kept_as", "told"),
    [
        ("9,5 lb", "9.5 lb", ""),
        ("0,125 kg", "0.125 kg", ""),
        ("9 lb 8,5 oz", "9 lb 8.5 oz", ""),
        ("9 lb 8-1/2 oz", "9 lb 8 1/2 oz", ""),
        ("+3 kg", "3 kg", ""),
        ("1,250 kg", "1,250 kg", "can be read two ways"),
        ("1.250,5 kg", "1.250,5 kg", "can be read two ways"),
        ("1,2,3 kg", "1,2,3 kg", "can be read two ways"),
    ],
)
def test_a_comma_before_decimals_is_read(visit: Visit, typed: str, kept_as: str, told: str) -> None:
    """Where a phone's region writes a comma its number keys have no point; three digits may be thousands."""
    page = opened(visit)
    field = at(step(page, "lost"), "charge.lost")
    field.locator("[data-input]").fill(typed)
    field.locator("[data-input]").blur()
    assert (field.locator("[data-other]").inner_text() == "") == bool(told)
    expect(field.locator("[data-problem]")).to_contain_text(told)
    expect(field.locator("[data-problem]")).to_be_visible(visible=bool(told))
    saved(page, charge={"lost": kept_as})


def test_tubes_and_lengths_are_written_in_fractions(visit: Visit) -> None:
    page = opened(visit)
    where = step(page, "job")
    page.evaluate("() => { for (const d of document.querySelectorAll('.record-more')) d.open = true; }")
    for path, typed in (("suction", '1-1/8"'), ("liquid", "⅜ in"), ("length", "29' 6 1/2\"")):
        at(where, f"equipment.line_set.{path}").locator("[data-input]").fill(typed)
    expect(at(where, "equipment.line_set.length").locator("[data-other]")).to_have_text("= 9 m")
    lines = {"length": "29 ft 6 1/2 in", "liquid": "3/8 in", "suction": "1 1/8 in"}
    saved(page, equipment={"line_set": lines})


def test_a_vacuum_in_inches_of_mercury_has_its_button(visit: Visit) -> None:
    page = opened(visit)
    reading = added(step(page, "readings"), "readings")
    amount(reading, "value", "20", "inHg vac")
    field = at(reading, "value")
    expect(field.locator("[data-other]")).to_have_text("= 336 mbar")
    field.get_by_role("button", name="psig").click()
    expect(field.locator("[data-input]")).to_have_value("20 psig")
    field.locator("[data-input]").fill("20 inHg")
    field.locator("[data-input]").blur()
    expect(field.locator("[data-problem]")).to_contain_text("does not say whether it is vacuum or absolute")


def test_a_pressure_below_the_air_s_can_be_written(visit: Visit) -> None:
    """Without a minus among the keys, and with the dash that a phone makes of it."""
    page = opened(visit)
    reading = added(step(page, "readings"), "readings")
    field = at(reading, "value")
    amount(reading, "value", "5", "psig")
    field.get_by_role("button", name="Above or below zero").click()
    expect(field.locator("[data-input]")).to_have_value("-5 psig")
    saved(page, readings=[{"value": "-5 psig"}])
    field.locator("[data-input]").fill("– 5 psig")
    expect(field.locator("[data-other]")).to_have_text("= -0.345 bar")
    field.get_by_role("button", name="Above or below zero").click()
    expect(field.locator("[data-input]")).to_have_value("5 psig")
    check = added(step(page, "search"), "search")
    unfold(check, "More about it")
    expect(at(check, "pressure").get_by_role("button", name="Above or below zero")).to_be_visible()


def test_several_drafts(visit: Visit) -> None:
    """Made, opened, deleted, brought back."""
    page = opened(visit)
    fill(step(page, "story"), "title", "The first of two")
    saved(page, title="The first of two")
    page.get_by_role("button", name="New record").click()
    expect(at(page, "title").locator("[data-input]")).to_have_value("")
    step(page, "seen").get_by_role("group", name="Oil film", exact=True).get_by_role(
        "button", name="Seen"
    ).click()
    page.wait_for_timeout(400)
    box = page.locator("[data-drafts]")
    box.locator("summary").click()
    rows = box.locator(".draft")
    expect(rows).to_have_count(2)
    expect(rows.nth(0)).to_contain_text("Oil film")
    expect(rows.nth(0)).to_contain_text("open now")
    rows.nth(1).locator("[data-open]").click()
    expect(at(page, "title").locator("[data-input]")).to_have_value("The first of two")
    box.locator("summary").click()
    box.locator(".draft", has_text="The first of two").get_by_role("button", name="Delete").click()
    expect(rows).to_have_count(1)
    expect(at(page, "title").locator("[data-input]")).to_have_value("")
    page.get_by_role("button", name="Undo").click()
    expect(at(page, "title").locator("[data-input]")).to_have_value("The first of two")
    if box.get_attribute("open") is None:
        box.locator("summary").click()
    expect(rows).to_have_count(2)
    again(page)
    expect(rows).to_have_count(2)


def test_two_tabs_of_one_draft(visit: Visit, complaints: Complaints) -> None:
    """The later save wins; the other tab is told, and can show it."""
    page = opened(visit)
    fill(step(page, "story"), "title", "Written in the first tab")
    saved(page, title="Written in the first tab")
    other = page.context.new_page()
    complaints.listen(other)
    other.goto(page.url)
    expect(other.locator("[data-record]")).to_have_attribute("data-register", "here")
    fill(step(other, "story"), "title", "Written in the second tab")
    expect(page.locator("[data-note-text]")).to_contain_text("changed in another tab")
    expect(at(page, "title").locator("[data-input]")).to_have_value("Written in the first tab")
    page.get_by_role("button", name="Show that version").click()
    expect(at(page, "title").locator("[data-input]")).to_have_value("Written in the second tab")
    saved(page, title="Written in the second tab")


def test_a_system_is_filled_in(visit: Visit) -> None:
    """From the page of a system: its number, its branch, and what the register says."""
    page = visit("systems/S-0412/", init=CLOCK)
    page.get_by_role("link", name="Record a case here").click()
    expect(page.locator("[data-record]")).to_have_attribute("data-register", "here")
    register = yaml.safe_load((ROOT / "cases/systems.yaml").read_text("utf-8"))
    known = next(s for s in register["systems"] if s["id"] == "S-0412")
    branch = next(s["branch"] for s in register["sites"] if s["key"] == known["site"])
    saved(page, system="S-0412", branch=branch)
    job = step(page, "job")
    expect(at(job, "system").locator("[data-chosen]")).to_contain_text("S-0412")
    expect(job.locator("[data-register-said]")).to_contain_text(
        re.compile(rf"{branch}.*{known['refrigerant']}, {known['charge']}, {known['installed']}")
    )
    assert "system=" not in page.url
    unknown = opened(visit, "record/?system=S-9999")
    step(unknown, "job")
    expect(unknown.locator("[data-register-said]")).to_contain_text("no system S-9999")
    expect(at(unknown, "equipment.kind").get_by_role("combobox")).to_be_visible()


def test_the_search_hands_its_steps_over(visit: Visit) -> None:
    text = "oil at flare minisplit R-32, no bubbles, lost 9 oz in 14 months"
    page = visit(f"search/?q={text.replace(' ', '+')}", init=CLOCK)
    expect(page.locator("[data-search]")).to_have_attribute("data-answered", text)
    page.locator("[data-next] [data-check]").first.locator("[data-mark=clean]").click()
    expect(page.locator(".trail__list li")).to_have_count(1)
    page.locator("[data-next] [data-check]").first.locator("[data-mark=found]").click()
    expect(page.locator(".trail__list li")).to_have_count(2)
    page.get_by_role("button", name="Record this case").click()
    expect(page.locator("[data-record]")).to_have_attribute("data-register", "here")
    expect(page.locator("[data-note-text]")).to_contain_text("2 checks")
    record = saved(page)["record"]
    assert "oil-film" in record["symptoms"]
    assert record["charge"] == {"lost": "9 oz", "over": "14 months"}
    assert record["equipment"]["refrigerant"] == "R-32"
    assert record["search"][0]["result"] == "clean"
    assert record["search"][1]["result"] in ("pinpointed", "lead")
    again(page)
    assert len(kept(page)) == 1, "taken over once"


REFUSED = """
Object.defineProperty(window, "indexedDB", { value: { open() { throw new DOMException("no", "SecurityError"); } } });
"""


def test_refused_storage_is_told_and_the_record_still_goes_out(visit: Visit) -> None:
    page = opened(visit, init=REFUSED)
    expect(page.locator("[data-fault]")).to_contain_text("keeps nothing for this page")
    fill(step(page, "story"), "title", "In a private window")
    expect(page.locator("[data-saved]")).to_contain_text("Not kept")
    attach(page, ("a.jpg", "image/jpeg", picture(80, 60)))
    expect(page.locator(".photo")).to_have_count(1)
    package = sent(page)
    assert yaml.safe_load(package.read("case.yaml"))["title"] == "In a private window"
    assert "photos/photo-1.jpg" in package.namelist()
    expect(page.locator("[data-checked-text]")).to_contain_text("before it is taken in")


def test_the_browser_is_asked_not_to_clear_drafts_away(visit: Visit) -> None:
    """Once something was entered, and once; a browser short of room clears what nobody asked it to keep."""
    page = opened(
        visit,
        init="window.asked = 0; navigator.storage.persist = async () => { window.asked += 1; return false; };",
    )
    assert page.evaluate("window.asked") == 0
    fill(step(page, "story"), "title", "Worth keeping")
    saved(page, title="Worth keeping")
    fill(step(page, "story"), "title", "Worth keeping on")
    saved(page, title="Worth keeping on")
    assert page.evaluate("window.asked") == 1


def test_a_full_phone_is_told(visit: Visit) -> None:
    """Storage that fails later: the words say so, and nothing pretends to be saved."""
    page = opened(visit)
    page.evaluate(
        "() => { IDBObjectStore.prototype.put = () => { throw new DOMException('the quota is used up', 'QuotaExceededError'); }; }"
    )
    fill(step(page, "story"), "title", "No room left")
    expect(page.locator("[data-fault]")).to_contain_text("Not saved: the quota is used up")
    expect(page.locator("[data-saved]")).not_to_contain_text("Saved on this phone")


def test_hostile_text_stays_text(visit: Visit) -> None:
    """In every field that takes text, through a reload, in the list of problems, in the YAML."""
    page = opened(visit)
    page.evaluate(
        "() => { for (const d of document.querySelectorAll('.step, .record-more')) d.open = true; }"
    )
    for add in page.locator("[data-add]").all():
        add.click()
    page.evaluate(
        "() => { for (const d of document.querySelectorAll('.entry, .record-more')) d.open = true; }"
    )
    for box in page.locator("[data-input]:not([type=date]):visible").all():
        box.fill(HOSTILE)
    for name in [p.get_attribute("id") for p in page.get_by_role("combobox").all()]:
        box = page.locator(f"#{name}")
        box.fill(HOSTILE)
        box.blur()
    attach(page, (f"{HOSTILE}.jpg", "image/jpeg", b"no picture at all"))
    expect(page.locator("[data-photo-status]")).to_contain_text("is no picture that this browser can read")
    attach(page, (f"{HOSTILE}.jpg", "image/jpeg", picture(40, 40)))
    page.locator(".photo input").fill(HOSTILE)
    page.wait_for_timeout(500)
    again(page)
    page.get_by_role("button", name="Is it complete?").click()
    told = record_text(page, "story:")
    page.locator("[data-drafts] summary").click()
    assert page.locator("img").count() == 0
    record = yaml.safe_load(told)
    assert record["title"] == HOSTILE
    assert record["cause"]["mode"] == HOSTILE
    assert record["search"][0]["minutes"] == HOSTILE
    assert record["photos"] == [{"file": "photo-1.jpg", "caption": HOSTILE}]
    assert "49" not in page.locator("[data-drafts-list]").inner_text()
    assert yaml.safe_load(sent(page).read("case.yaml")) == record


NO_BLOBS = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (value, ...more) {
  if (Object.values(value).some((part) => part instanceof Blob)) throw new DOMException("no blobs here", "UnknownError");
  return put.call(this, value, ...more);
};
"""
OLD_PHOTO = """(key) => new Promise((done) => {
  const asked = indexedDB.open("leaklore-record", 1);
  asked.onsuccess = () => {
    const photos = asked.result.transaction("photos", "readwrite").objectStore("photos");
    photos.get([key, "photo-1.jpg"]).onsuccess = ({ target }) => {
      const { bytes, type, ...photo } = target.result;
      photos.put({ ...photo, blob: new Blob([bytes], { type }) }).onsuccess = () => done(true);
    };
  };
})"""
"""A photo as it was kept before: as a blob."""


def test_photos_are_kept_where_the_browser_keeps_no_blobs(visit: Visit) -> None:
    """As in private windows of WebKit, which an iPhone's are."""
    page = opened(visit, init=NO_BLOBS)
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)))
    expect(page.locator(".photo")).to_have_count(1)
    expect(page.locator("[data-photo-status]")).to_have_text("")
    again(page)
    expect(page.locator(".photo canvas")).to_have_js_property("width", 300)


def test_photos_kept_as_blobs_by_an_earlier_site_are_still_there(visit: Visit) -> None:
    page = opened(visit)
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)))
    expect(page.locator(".photo")).to_have_count(1)
    assert page.evaluate(OLD_PHOTO, page.evaluate("new URLSearchParams(location.search).get('draft')"))
    again(page)
    expect(page.locator(".photo canvas")).to_have_js_property("width", 300)
    assert Image.open(io.BytesIO(sent(page).read("photos/photo-1.jpg"))).size == (300, 200)


def test_photos_are_taken_out_and_back(visit: Visit) -> None:
    page = opened(visit)
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)), ("b.png", "image/png", png(50, 40)))
    expect(page.locator(".photo")).to_have_count(2)
    page.locator(".photo input").nth(0).fill("One")
    page.locator(".photo input").nth(1).fill("Two")
    page.locator(".photo").nth(0).get_by_role("button", name="Take out", exact=True).click()
    expect(page.locator(".photo")).to_have_count(1)
    expect(page.locator(".photo input")).to_have_value("Two")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".photo")).to_have_count(2)
    expect(page.locator(".photo input").first).to_have_value("One")
    expect(page.locator(".photo canvas").first).to_have_js_property("width", 300)
    package = sent(page)
    assert Image.open(io.BytesIO(package.read("photos/photo-2.jpg"))).format == "JPEG"


def test_a_heic_that_the_browser_can_not_read_is_kept_as_it_is(visit: Visit, tmp_path: Path) -> None:
    """Told in a sentence, sent byte for byte under a name of its own, and filed by `leaklore take`."""
    page = opened(visit)
    whole(page)
    rest(page)
    port = heic_made.file("turned")
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)), ("IMG_7.HEIC", "image/heic", port))
    rows = page.locator(".photo")
    expect(rows).to_have_count(2)
    expect(page.locator("[data-photo-status]")).to_have_text("")
    expect(rows.nth(1).locator("[data-slot=size]")).to_have_text(
        "HEIC, 2 kB. This browser can't show it, so it is sent as it is, with the place and the time if the camera wrote "
        "them into it; they are taken out when the record is taken in."
    )
    expect(rows.nth(0).locator("canvas")).to_be_visible()
    expect(rows.nth(1).locator("canvas")).to_be_hidden()
    rows.nth(0).get_by_label("Caption").fill("The nut")
    rows.nth(1).get_by_label("Caption").fill("The port")
    again(page)
    expect(step(page, "photos").locator("[data-slot=size]").nth(1)).to_contain_text("sent as it is")
    rows.nth(0).get_by_role("button", name="Take out", exact=True).click()
    attach(page, ("b.jpg", "image/jpeg", picture(200, 300)))
    expect(rows).to_have_count(2)
    rows.nth(1).get_by_label("Caption").fill("The wall")
    expect(page.locator("[data-todo]")).to_have_text("Complete")
    package = sent(page)
    assert sorted(package.namelist()) == ["case.yaml", "photos/photo-2.heic", "photos/photo-3.jpg"]
    assert package.read("photos/photo-2.heic") == port

    filed(package, tmp_path)
    assert {p.name for p in tmp_path.glob("cases/photos/*/*")} == {"photo-2.jpg", "photo-3.jpg"}


def test_what_is_no_picture_or_too_long_a_heic_is_told(visit: Visit) -> None:
    page = opened(visit)
    attach(page, ("a.heic", "image/heic", b"no picture at all"))
    status = page.locator("[data-photo-status]")
    expect(status).to_contain_text("a.heic is no picture that this browser can read.")
    long = heic_made.file("plain") + b"\0\0\0\0free" + bytes(25_000_000)
    attach(page, ("b.heic", "image/heic", long))
    expect(status).to_have_text(
        "b.heic can't be made smaller in this browser, and with its 26 MB it can't be sent: at most 25 MB are taken. "
        "Take it as JPEG."
    )
    expect(page.locator(".photo")).to_have_count(0)


HELD = """
const plain = window.createImageBitmap;
window.createImageBitmap = (...given) => {
  window.createImageBitmap = plain;
  return new Promise((done) => { window.developed = () => done(plain(...given)); });
};
undefined;
"""


def test_a_photo_that_gets_ready_does_not_take_the_caption_of_another(visit: Visit) -> None:
    page = opened(visit)
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)))
    expect(page.locator(".photo input")).to_be_focused()
    page.evaluate(HELD)  # the next photo
    attach(page, ("b.jpg", "image/jpeg", picture(400, 200)))
    page.locator(".photo input").press_sequentially("Split ")
    page.evaluate("window.developed()")
    expect(page.locator(".photo")).to_have_count(2)
    expect(page.locator(".photo input").first).to_be_focused()
    page.keyboard.type("flare")
    expect(page.locator(".photo input").first).to_have_value("Split flare")
    expect(page.locator(".photo input").nth(1)).to_have_value("")
    record = yaml.safe_load(sent(page).read("case.yaml"))
    assert record["photos"] == [{"file": "photo-1.jpg", "caption": "Split flare"}, {"file": "photo-2.jpg"}]


def png(width: int, height: int) -> bytes:
    """A picture of a screen, with a transparent ground."""
    out = io.BytesIO()
    Image.new("RGBA", (width, height), (0, 0, 0, 0)).save(out, "PNG")
    return out.getvalue()


def test_entries_move_and_come_back(visit: Visit) -> None:
    page = opened(visit)
    search = step(page, "search")
    did(search, ("look", "Looking"), ("indoor flare", "Flare at the indoor unit"), "10", "Clean")
    did(search, ("soap", "Bubble"), ("indoor flare", "Flare at the indoor unit"), "6", "Lead")
    second = search.locator(".entry").nth(1)
    expect(second.locator("> summary")).to_contain_text("flare at the indoor unit, 6 min, lead")
    second.locator("> summary").click()
    second.get_by_role("button", name="Earlier").click()
    expect(search.locator(".entry > summary").first).to_contain_text("1. Bubble")
    search.locator(".entry").first.get_by_role("button", name="Take out", exact=True).click()
    expect(search.locator(".entry")).to_have_count(1)
    page.get_by_role("button", name="Undo").click()
    expect(search.locator(".entry")).to_have_count(2)
    page.wait_for_timeout(400)
    record = kept(page)[0]["record"]
    assert [s["minutes"] for s in record["search"]] == [6, 10]


@pytest.mark.parametrize("viewport", [PHONE, {"width": 844, "height": 390}], ids=["upright", "across"])
def test_a_list_to_pick_from_is_in_sight_once_its_box_is_tapped(visit: Visit, viewport: Any) -> None:
    """A box at the very foot: its list comes up from behind the bar, and the box stays in sight."""
    page = opened(visit, viewport=viewport, has_touch=True)
    box = at(step(page, "job"), "system").get_by_role("combobox")
    bar = page.locator(".site-bar").bounding_box()
    assert bar is not None
    box.evaluate("(e, foot) => scrollBy(0, e.getBoundingClientRect().bottom - foot)", bar["y"] - 4)
    box.tap()
    covered = """(all) => all.map((e) => { const { left, top, bottom } = e.getBoundingClientRect();
      return [top + 4, bottom - 4].every((y) => e.contains(document.elementFromPoint(left + 20, y))); })"""
    rows = at(page, "system").get_by_role("option")
    expect(rows.first).to_be_visible()
    page.wait_for_timeout(600)
    assert rows.evaluate_all(covered)[:2] == [True, True]
    assert box.evaluate_all(covered) == [True]


def test_by_keyboard(visit: Visit) -> None:
    """A word is found and chosen, a choice made, without a pointer."""
    page = opened(visit)
    cause = step(page, "cause")
    box = at(cause, "cause.component").get_by_role("combobox")
    box.focus()
    page.keyboard.type("servce port")
    expect(box).to_have_attribute("aria-expanded", "true")
    active = box.get_attribute("aria-activedescendant")
    assert active
    expect(page.locator(f"#{active}")).to_contain_text("ervice")
    page.keyboard.press("Enter")
    expect(at(cause, "cause.component").locator("[data-chosen]")).to_contain_text("ervice")
    expect(box).to_be_hidden()
    page.keyboard.press("Enter")  # the chip has the cursor: takes it out again
    expect(box).to_be_focused()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Escape")
    expect(box).to_have_attribute("aria-expanded", "false")
    at(cause, "cause.proof").locator("input").first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    saved(page, cause={"proof": "section"})


def test_without_javascript_it_says_so(visit: Visit) -> None:
    page = visit("record/", java_script_enabled=False)
    expect(page.locator("noscript b")).to_have_text("This form needs JavaScript.")
    expect(page.locator("noscript code")).to_have_text("leaklore new")
    expect(page.locator("noscript b")).to_be_visible()
    expect(page.locator("[data-form]")).to_be_hidden()


def unfolded(page: Page) -> Page:
    """Everything open, one entry in each list."""
    page.evaluate(
        "() => { for (const d of document.querySelectorAll('.step, .record-more')) d.open = true; }"
    )
    for add in page.locator("[data-add]").all():
        add.click()
    page.evaluate(
        "() => { for (const d of document.querySelectorAll('.entry, .record-more')) d.open = true; }"
    )
    attach(page, ("a.jpg", "image/jpeg", picture(300, 200)))
    expect(page.locator(".photo")).to_have_count(1)
    page.get_by_role("button", name="Is it complete?").click()
    return page


@pytest.mark.parametrize("viewport", [NARROW, PHONE, DESK], ids=["narrow", "phone", "desk"])
def test_it_fits_and_is_large_enough_for_gloves(visit: Visit, viewport: Any) -> None:
    page = unfolded(opened(visit, viewport=viewport))
    assert page.evaluate(WIDE) == [0, False, []]
    small = page.evaluate(
        """() => [...document.querySelectorAll(".record button, .record input:not(.unseen), .record summary, .record label.choice, .record textarea")]
          .filter((e) => e.checkVisibility() && !e.closest("label.choice input") && e.type !== "radio")
          .filter((e) => e.getBoundingClientRect().height < 47.5 || e.getBoundingClientRect().width < 44)
          .map((e) => `${e.getBoundingClientRect().height} ${e.outerHTML.slice(0, 90)}`)"""
    )
    assert small == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_is_accessible(visit: Visit, scheme: str) -> None:
    page = unfolded(opened(visit, color_scheme=scheme))
    found = Axe().run(page).response["violations"]
    assert not found, json.dumps(
        [(v["id"], [n["html"][:140] for n in v["nodes"][:4]]) for v in found], indent=1
    )


def test_ids_are_given_once(visit: Visit) -> None:
    page = opened(visit)
    for _ in range(2):
        for add in page.locator("[data-add]").all():
            add.evaluate("e => e.click()")
    twice = page.evaluate(
        """() => { const all = [...document.querySelectorAll("[id]")].map((e) => e.id); return all.filter((id, i) => all.indexOf(id) !== i); }"""
    )
    assert twice == []
    lost = page.evaluate(
        """() => [...document.querySelectorAll(".record [for], .record [aria-describedby], .record [aria-controls]")].flatMap((e) =>
          ["for", "aria-describedby", "aria-controls"].flatMap((name) => (e.getAttribute(name) ?? "").split(" ").filter(Boolean)).filter((id) => !document.getElementById(id)))"""
    )
    assert lost == []
