"""The demo site in Chromium, on a phone and at a desk."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

from chromium import CHROMIUM, FLAGS
from site_fixture import Site, tell

from .conftest import DESK, PHONE, USUAL, WIDE, Complaints, Visit

QUERY = "flare osmere"


def shown(items: Locator) -> int:
    """How many of these a reader sees."""
    return items.evaluate_all("all => all.filter((e) => e.checkVisibility()).length")


def query(page: Page) -> dict[str, list[str]]:
    """What stands behind the question mark of the address."""
    return parse_qs(urlsplit(page.url).query)


# Every kind of page.


def test_there_is_a_page_of_each_kind(kinds: dict[str, str], demo: Site) -> None:
    wanted = {
        "",
        "cases/",
        "cases/...",
        "cases/year",
        "search/",
        "guide/",
        "guide/failure-modes/...",
        "guide/techniques/...",
        "guide/symptoms/...",
        "guide/components/...",
        "guide/refrigerants/...",
        "systems/",
        "systems/...",
        "branches/",
        "branches/...",
        "settings/",
        "settings/...",
        "reading/",
        "data/",
        "how-we-count/",
        "moved",
        "withdrawn",
    }
    assert wanted <= set(kinds)
    assert ("reading/..." in kinds) == any(u.startswith("reading/") and u.count("/") == 2 for u in demo.urls)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_no_page_makes_the_browser_complain(
    visit: Visit, kinds: dict[str, str], address: str, viewport: Any, scheme: str
) -> None:
    page = visit(None, viewport=viewport, color_scheme=scheme)
    for path in kinds.values():
        page.goto(address + path)
        expect(page.locator("main h1:visible")).to_be_visible()
        expect(page.locator("html")).not_to_have_attribute("data-theme", re.compile("."))
        # an error in a script would leave the switch asleep
        if not path.startswith("for-customers/") or path == "for-customers/":  # sheets stand without the head
            expect(page.locator("[data-theme-switch]")).to_be_visible()


def test_light_and_dark_are_drawn_apart_and_readable(visit: Visit) -> None:
    """Words stand out from the paper: contrast of body text in both schemes, by the WCAG formula."""
    for scheme in ("light", "dark"):
        page = visit("cases/KW-2025-014/", color_scheme=scheme)
        ink, paper = page.evaluate(
            "() => { const s = getComputedStyle(document.body); return [s.color, s.backgroundColor]; }"
        )
        assert contrast(ink, paper) >= 7, f"{scheme}: {ink} on {paper}"
        assert (luminance(ink) < luminance(paper)) == (scheme == "light")


def test_a_filled_button_can_be_read_in_the_readers_own_colours(visit: Visit) -> None:
    """Chromium puts a plate of the paper's colour behind text: what is written in that colour would vanish."""
    page = visit("for-customers/KW-2025-014/", forced_colors="active")
    button = page.get_by_role("button", name="Print this sheet")
    words = button.evaluate("""e => {
      const range = document.createRange();
      range.selectNodeContents(e);
      const { x, y, width, height } = range.getBoundingClientRect();
      return { x, y, width, height };
    }""")
    shade = Image.open(BytesIO(page.screenshot(clip=words))).convert("L").histogram()
    dark, light = sum(shade[:64]), sum(shade[192:])
    assert min(dark, light) > 0.05 * sum(shade), f"{dark} dark and {light} light points"


def luminance(colour: str) -> float:
    """Relative luminance of `rgb(r, g, b)`."""
    parts = [int(n) / 255 for n in re.findall(r"\d+", colour)[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_a_missing_page_leads_back_from_any_depth(visit: Visit, rooted: str, complaints: Complaints) -> None:
    page = visit(None)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        answer = page.goto(rooted + "cases/no/such/page/")
        assert answer is not None
        assert answer.status == 404
        expect(page.locator("h1")).to_have_text("There is no page here")
        expect(page.locator("[data-theme-switch]")).to_be_visible()
    # the browser rightly complains of the page itself, twice, in two ways; of nothing else
    assert len(complaints) == 4
    assert all("no/such/page/" in said for said in complaints)
    complaints.clear()
    page.get_by_role("link", name="Look through the cases").click()
    expect(page.locator("h1")).to_have_text("All cases")
    assert page.url == rooted + "cases/"


def test_a_moved_case_leads_on(visit: Visit, kinds: dict[str, str], address: str) -> None:
    page = visit(kinds["moved"])
    page.wait_for_url(lambda url: kinds["moved"] not in url)
    old = kinds["moved"].split("/")[1]
    expect(page.locator(".cite")).to_contain_text(old)


def test_nothing_scrolls_sideways(visit: Visit, kinds: dict[str, str], address: str, rooted: str) -> None:
    page = visit(None)
    faults = []
    for kind, path in kinds.items():
        if kind == "moved":
            continue  # leads on at once, and its target is of another kind
        page.goto(address + path)
        page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        for width in (320, 390, 820, 1280):
            page.set_viewport_size({"width": width, "height": 844})
            wide = page.evaluate(WIDE)
            if wide != [0, False, []]:
                faults.append(f"{path} at {width}: {wide}")
    assert not faults, tell(faults)


@pytest.fixture(scope="module")
def large_letters(browser: Browser) -> Iterator[Browser]:
    """Chromium of a reader who set letters twice as large: lengths in rem and queries for them follow.

    The flag does what the preference does, which the browser without furniture doesn't read.
    """
    flags = [*FLAGS, "--blink-settings=defaultFontSize=32"]
    made = browser.browser_type.launch(executable_path=CHROMIUM, args=flags)
    yield made
    made.close()


def test_letters_twice_as_large_make_no_page_wider_than_a_phone(
    large_letters: Browser, address: str, demo: Site, complaints: Complaints
) -> None:
    page = large_letters.new_page(**USUAL)
    complaints.listen(page)
    heavy = [
        max((u for u in demo.urls if u.startswith(folder)), key=lambda u: (demo.folder / u).stat().st_size)
        for folder in ("branches/", "settings/", "guide/failure-modes/", "guide/techniques/", "systems/")
    ]
    faults = []
    for path in (
        *("", "search/", "guide/", "cases/", "cases/KW-2024-010/", "patterns/explore/", "record/"),
        *("bench/leak-rate/", "bench/pressure-temperature/", "reading/trainer/"),
        *(url.removesuffix("index.html") for url in heavy),
    ):
        page.goto(address + path)
        assert page.evaluate("() => matchMedia('(width < 12.5rem)').matches"), "letters are not large"
        expect(page.locator("[data-theme-switch]")).to_be_in_viewport(ratio=1)
        page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        wide = page.evaluate(WIDE)
        if wide != [0, False, []]:
            faults.append(f"{path}: {wide}")
    assert not faults, tell(faults)


SQUEEZED = """() => {
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), found = [];
  while (texts.nextNode()) {
    const { data, parentElement: of } = texts.currentNode;
    if (data.trim().length < 5 || !of.checkVisibility() || of.closest(".unseen, svg, option")) continue;
    const range = document.createRange();
    range.selectNodeContents(texts.currentNode);
    const lines = range.getClientRects().length;
    if (lines > 2 && data.trim().length < 3 * lines) found.push(`${data.trim().slice(0, 30)}: ${lines} lines`);
  }
  return found;
}"""
"""Words that stand a letter or two to the line."""


@pytest.mark.parametrize(("width", "letters"), [(390, 32), (320, 32), (320, 40)])
def test_large_letters_leave_every_page_within_a_phone_and_its_words_whole(
    browser: Browser, kinds: dict[str, str], address: str, complaints: Complaints, width: int, letters: int
) -> None:
    flags = [*FLAGS, f"--blink-settings=defaultFontSize={letters}"]
    with browser.browser_type.launch(executable_path=CHROMIUM, args=flags) as made:
        page = made.new_page(**{**USUAL, "viewport": {"width": width, "height": 640}})
        complaints.listen(page)
        faults = []
        for kind, path in {**kinds, "answered": "search/?q=oil+at+flare"}.items():
            if kind == "moved":
                continue
            page.goto(address + path)
            awake = {"answered": "[data-answered]", "record/": "[data-record][data-awake]"}.get(kind)
            if awake:
                page.wait_for_selector(awake, state="attached")
            page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
            wide = page.evaluate(WIDE)
            if wide != [0, False, []]:
                faults.append(f"{path}: {wide}")
            if width > 12 * letters and (squeezed := page.evaluate(SQUEEZED)):
                faults.append(f"{path}: {squeezed}")
    assert not faults, tell(faults)


def test_letters_twice_as_large_leave_the_bar_low_and_its_words_apart(
    large_letters: Browser, address: str, complaints: Complaints
) -> None:
    page = large_letters.new_page(**USUAL)
    complaints.listen(page)
    page.goto(address + "cases/")
    bar = page.locator(".site-bar").bounding_box()
    assert bar is not None
    assert bar["height"] <= 844 / 5
    assert bar["y"] + bar["height"] == pytest.approx(844, abs=1)
    words = page.locator(".site-bar a:visible").evaluate_all("""all => all.map((e) => {
      const range = document.createRange();
      range.selectNodeContents(e);
      const [word, place] = [range, e].map((one) => one.getBoundingClientRect());
      return [word.left - place.left, place.right - word.right, place.width, place.height];
    })""")
    assert len(words) == 5
    for before, after, width, height in words:
        assert min(before, after) >= 4, "words run into each other"
        assert min(width, height) >= 48
    page.evaluate("() => scrollTo(0, document.body.scrollHeight)")
    last = page.locator(".site-foot p").last.bounding_box()
    assert last is not None
    assert last["y"] + last["height"] <= bar["y"], "the bar covers the last words"


def test_letters_twice_as_large_leave_room_for_the_number_beside_its_unit(
    large_letters: Browser, address: str, complaints: Complaints
) -> None:
    page = large_letters.new_page(**USUAL)
    complaints.listen(page)
    page.goto(address + "bench/pressure-temperature/")
    narrow = page.locator(".field__with-unit input:visible").evaluate_all("""all => all.filter((e) => {
      const { paddingLeft, paddingRight } = getComputedStyle(e);
      return e.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight) < 128;
    }).map((e) => e.id)""")
    assert not narrow, "four digits don't fit"


# The bar under the thumb.


def test_the_bottom_bar_is_as_large_as_a_glove_needs(visit: Visit) -> None:
    page = visit("cases/")
    bar = page.locator(".site-bar")
    expect(bar).to_be_visible()
    box = bar.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] == pytest.approx(844, abs=1)
    links = bar.locator("a:visible").all()
    assert [link.inner_text().strip() for link in links] == ["Search", "Guide", "Cases", "Reading", "More"]
    for link in links:
        at = link.bounding_box()
        assert at is not None
        assert at["height"] >= 48
        assert at["width"] >= 48
        expect(link).to_be_in_viewport(ratio=1)
    page.evaluate("() => scrollTo(0, document.body.scrollHeight)")
    expect(bar).to_be_in_viewport(ratio=1)
    last = page.locator(".site-foot p").last.bounding_box()
    assert last is not None
    assert last["y"] + last["height"] <= box["y"], "the bar covers the last words"
    links[1].click()
    expect(page.locator("h1")).to_contain_text("What leaks")
    expect(page.locator(".site-bar [aria-current=page]")).to_have_text("Guide")


TALL = "all => all.filter((e) => e.checkVisibility()).map((e) => e.getBoundingClientRect().height)"


@pytest.mark.parametrize(
    ("path", "links"),
    [
        ("patterns/where/", ".behind__keys a, .behind__more a"),
        ("guide/techniques/bubble-test/", ".versus td a"),
    ],
)
def test_numbers_of_cases_in_a_row_are_as_tall_as_a_glove_needs(visit: Visit, path: str, links: str) -> None:
    page = visit(path)
    page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    tall = page.locator(links).evaluate_all(TALL)
    assert len(tall) > 10
    assert min(tall) >= 44


@pytest.mark.parametrize("letters", [16, 32])
def test_on_a_narrow_phone_two_techniques_are_compared_one_below_the_other(
    browser: Browser, address: str, complaints: Complaints, letters: int
) -> None:
    flags = [*FLAGS, f"--blink-settings=defaultFontSize={letters}"]
    with browser.browser_type.launch(executable_path=CHROMIUM, args=flags) as made:
        page = made.new_page(**{**USUAL, "viewport": {"width": 320, "height": 640}})
        complaints.listen(page)
        page.goto(address + "guide/techniques/bubble-test/")
        inside = page.locator(".versus tbody :is(th, td)").evaluate_all(
            "all => all.map((e) => e.closest('.table-box').clientWidth - e.getBoundingClientRect().width)"
        )
        assert len(inside) >= 12
        assert max(inside) < 2, "a cell does not have the width of its table"
        numbers = page.locator(".versus td a").evaluate_all(
            f"all => all.map((e) => e.getBoundingClientRect().height / {letters})"
        )
        assert max(numbers) < 4, "a number is broken into pieces"


def test_on_a_phone_held_across_the_bar_is_one_line_and_the_box_is_seen(visit: Visit) -> None:
    page = visit("", viewport={"width": 844, "height": 390})
    bar = page.locator(".site-bar").bounding_box()
    box = page.get_by_role("searchbox").bounding_box()
    assert bar is not None
    assert box is not None
    assert 48 <= bar["height"] <= 52
    assert bar["y"] + bar["height"] == pytest.approx(390, abs=1)
    assert box["y"] + box["height"] <= bar["y"], "the bar covers the box that everything begins with"


def test_a_page_four_times_as_large_is_not_covered_by_the_bar(visit: Visit) -> None:
    """1280 by 900 at 400 %: the places scroll away with the head."""
    page = visit("cases/KW-2025-014/", viewport={"width": 320, "height": 225})
    places = page.locator(".site-bar a:visible")
    assert min(places.evaluate_all("all => all.map((e) => e.getBoundingClientRect().height)")) >= 44
    page.evaluate("() => scrollTo(0, 600)")
    expect(page.locator(".site-bar")).not_to_be_in_viewport()
    assert page.evaluate(WIDE) == [0, False, []]


def test_at_a_desk_the_places_stand_in_the_head(visit: Visit) -> None:
    page = visit("cases/", viewport=DESK)
    places = page.get_by_role("navigation", name="Places", exact=True)
    expect(places.get_by_role("link")).to_have_text(
        ["Search", "Guide", "Cases", "Reading", "Work bench", "Patterns", "More"]
    )
    expect(places.locator("[aria-current=page]")).to_have_text("Cases")
    head = page.locator(".site-head").bounding_box()
    bar = page.locator(".site-bar").bounding_box()
    assert head is not None
    assert bar is not None
    assert bar["y"] + bar["height"] <= head["y"] + head["height"]


def test_on_a_phone_every_link_that_stands_alone_is_easy_to_hit(visit: Visit) -> None:
    for path, selector in (
        ("", ".door a"),
        ("search/", ".chip, .index-card"),
        ("", ".case-list + p > a"),
        ("", ".home-hero__chips .chip"),
        ("places/", ".places > div"),
        ("guide/", ".section__body > p > a"),
        ("guide/components/", ".page-head__meta > a"),
        ("search/?q=oil+at+flare", ".next-check__what a"),
        ("search/?q=oil+at+flare", ".ranking__sure a:visible"),
        ("cases/", ".case-card, .chip:visible, .filter__input"),
        ("cases/KW-2025-014/", ".crumbs a, .likes a, .chips a, .button:visible, .cause__mode a"),
        ("cases/KW-2025-014/", ".facts dd > a:only-of-type, .timeline p > a:only-of-type"),
        ("guide/", ".section__label a"),
        ("guide/failure-modes/flare-joint/", "table:not(.bar-table) tbody th > a:not(:has(span))"),
        ("systems/", ".section__label a"),
        ("patterns/watch/", ".behind tbody th > a:visible, .behind td > a:only-of-type:visible"),
    ):
        page = visit(path)
        awake(page)
        expect(page.locator(selector).first).to_be_visible()
        low = page.locator(selector).evaluate_all(
            "all => all.map((e) => [e.getBoundingClientRect().height, e.outerHTML.slice(0, 90)])"
            ".filter(([height]) => height < 44)"
        )
        assert not low, f"{path}: {low[:3]}"


TABLES = (
    "patterns/where/",
    "patterns/cost/",
    "patterns/watch/",
    "patterns/again/",
    "patterns/age/",
    "patterns/changes/",
    "patterns/over-time/",
)

BROAD = """all => all.flatMap((table) => [...table.tHead.rows[0].cells].flatMap((head, n) => {
  const cells = [...table.tBodies[0].rows].map((row) => row.cells[n]);
  const longest = Math.max(...cells.map((cell) => cell.textContent.length));
  return longest < 14 && head.offsetWidth > 200 ? [`${table.id}: ${head.textContent}`] : [];
}))"""
"""Columns of short words that are wider than half a phone."""


@pytest.mark.parametrize("path", TABLES)
def test_a_wide_table_on_a_phone_shows_what_belongs_to_a_row(visit: Visit, path: str) -> None:
    """No column of one short key holds the others off the screen, no sentence stands one word to a line."""
    page = visit(path)
    rows = page.locator(".behind tbody tr").evaluate_all(
        "all => all.filter((r) => r.checkVisibility()).map((r) => [r.offsetHeight, r.innerText])"
    )
    assert not [r for r in rows if r[0] > 180]
    page.evaluate("() => document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    broad = page.locator(".behind__table").evaluate_all(BROAD)
    assert not broad


def test_the_name_of_a_row_stays_while_its_figures_are_moved(visit: Visit) -> None:
    page = visit("patterns/cost/")
    box = page.locator(".behind .table-box").first
    name = box.locator("tbody th").first
    at = name.bounding_box()
    box.evaluate("e => { e.scrollLeft = e.scrollWidth; }")
    assert name.bounding_box() == at
    cell = box.locator("tbody td").first.bounding_box()
    assert cell is not None
    assert cell["x"] < 0, "the table was not moved"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_shade_says_where_a_table_goes_on(visit: Visit, scheme: str) -> None:
    page = visit("patterns/cost/", color_scheme=scheme)
    box = page.locator(".behind .table-box").first
    box.scroll_into_view_if_needed()

    def edges() -> tuple[bool, bool]:
        """Whether the left and the right edge differ from the ground, in the head, where the table is empty."""
        picture = Image.open(BytesIO(box.screenshot())).convert("RGB")
        ground = picture.getpixel((picture.width // 2, 6))
        return picture.getpixel((1, 6)) != ground, picture.getpixel((picture.width - 2, 6)) != ground

    assert edges() == (False, True)
    box.evaluate("e => { e.scrollLeft = e.scrollWidth; }")
    assert edges() == (True, False)


# Finding.


def words_of(page: Page) -> list[str]:
    """What each entry of the list can be found by."""
    found: list[str] = page.locator("#case-list > li").evaluate_all("all => all.map((e) => e.dataset.words)")
    return found


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_words_narrow_the_list_and_stand_in_the_address(visit: Visit, viewport: Any) -> None:
    page = visit("cases/", viewport=viewport)
    items = page.locator("#case-list > li")
    everything = items.count()
    assert everything > 200
    count = page.locator("[data-filter-count]")
    expect(count).to_have_text(f"{everything} cases")
    field = page.get_by_role("searchbox")
    field.press_sequentially(QUERY)
    wanted = sum(all(word in words for word in QUERY.split()) for words in words_of(page))
    assert 0 < wanted < everything / 4
    expect(count).to_have_text(f"{wanted} of {everything} cases")
    assert shown(items) == wanted
    for text in items.locator("visible=true").all_inner_texts():
        assert "flare" in text.lower()
    assert query(page) == {"q": [QUERY]}

    again = visit(None, viewport=viewport)
    again.goto(page.url)
    expect(again.get_by_role("searchbox")).to_have_value(QUERY)
    expect(again.locator("[data-filter-count]")).to_have_text(f"{wanted} of {everything} cases")
    assert shown(again.locator("#case-list > li")) == wanted

    page.get_by_role("button", name="Clear").click()
    expect(count).to_have_text(f"{everything} cases")
    assert shown(items) == everything
    assert query(page) == {}
    expect(field).to_have_value("")
    expect(field).to_be_focused()


def test_an_impossible_query_says_so(visit: Visit) -> None:
    page = visit("cases/")
    empty = page.locator("#case-list-empty")
    expect(empty).to_be_hidden()
    page.get_by_role("searchbox").fill("flare xyzzy")
    expect(empty).to_be_visible()
    expect(empty).to_contain_text("No case has all of these words")
    expect(page.locator("[data-filter-count]")).to_have_text(re.compile(r"^0 of \d+ cases$"))
    assert shown(page.locator("#case-list > li")) == 0
    page.get_by_role("searchbox").fill("flare")
    expect(empty).to_be_hidden()
    assert shown(page.locator("#case-list > li")) > 0


@pytest.mark.parametrize(
    ("asked", "same"),
    [
        ("FLARE", "flare"),
        ("  flare   ", "flare"),
        ("r32", "R-32"),
        ("flar", "flare"),
        ("ﬂare".replace("ﬂ", "fl"), "flare"),
    ],
)
def test_words_are_taken_as_they_are_typed(visit: Visit, asked: str, same: str) -> None:
    page = visit("cases/")
    field, items = page.get_by_role("searchbox"), page.locator("#case-list > li")
    field.fill(same)
    wanted = shown(items)
    assert wanted > 0
    field.fill(asked)
    assert shown(items) >= wanted
    if asked != "flar":
        assert shown(items) == wanted


def test_hostile_words_in_the_address_stay_words(visit: Visit) -> None:
    page = visit("cases/?q=%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E&with=%22%5D%20osmere")
    expect(page.get_by_role("searchbox")).to_have_value("<img src=x onerror=alert(1)>")
    assert page.locator("img").count() == 0
    expect(page.locator("[data-filter-count]")).to_contain_text("of")


@pytest.mark.parametrize("list_at", ["cases/", "cases/2021/", "cases/2023/"])
def test_each_chip_leaves_as_many_cases_as_it_tells(visit: Visit, list_at: str) -> None:
    """Withdrawn cases are counted nowhere; that a case is proven stands in its record, not in a word of its story."""
    page = visit(list_at)
    items, chips = page.locator("#case-list > li"), page.locator("[data-filter-chips] button")
    assert chips.count() > 5
    assert page.locator("[data-withdrawn]").count() > 0
    for chip in chips.all():
        chip.click()
        assert (chip.inner_text(), shown(items)) == (
            chip.inner_text(),
            int(chip.locator(".chip__count").inner_text()),
        )
        chip.click()


def test_chips_narrow_the_list_too(visit: Visit) -> None:
    page = visit("cases/")
    items = page.locator("#case-list > li")
    everything = items.count()
    chip = page.locator("[data-filter-chips] button", has_text="Osmere")
    expect(chip).to_have_attribute("aria-pressed", "false")
    chip.click()
    expect(chip).to_have_attribute("aria-pressed", "true")
    assert query(page) == {"with": ["osmere"]}
    some = shown(items)
    assert 0 < some < everything
    told = chip.locator(".chip__count").inner_text()
    assert some == int(told), "the chip tells how many it leaves"
    page.get_by_role("searchbox").fill("flare")
    assert 0 < shown(items) < some
    again = visit(None)
    again.goto(page.url)
    expect(again.locator("[data-filter-chips] button", has_text="Osmere")).to_have_attribute(
        "aria-pressed", "true"
    )
    assert shown(again.locator("#case-list > li")) == shown(items)
    page.get_by_role("searchbox").fill("")
    chip.click()
    assert shown(items) == everything
    assert query(page) == {}


# Light and dark.

AT_BODY = """
new MutationObserver((_, self) => {
  if (!document.body) return;
  window.themeAtBody = document.documentElement.dataset.theme ?? "none";
  self.disconnect();
}).observe(document, { childList: true, subtree: true });
"""


def test_the_theme_switch_goes_round_and_survives_a_reload(visit: Visit) -> None:
    page = visit("", init=AT_BODY)
    switch, html = page.locator("[data-theme-switch]"), page.locator("html")
    paper = "() => getComputedStyle(document.body).backgroundColor"
    expect(switch).to_have_text("As device")
    assert page.evaluate("themeAtBody") == "none"
    light = page.evaluate(paper)
    switch.click()
    expect(switch).to_have_text("Light")
    expect(html).to_have_attribute("data-theme", "light")
    switch.click()
    expect(switch).to_have_text("Dark")
    expect(html).to_have_attribute("data-theme", "dark")
    dark = page.evaluate(paper)
    assert luminance(dark) < luminance(light)

    page.reload()
    assert page.evaluate("themeAtBody") == "dark", "kept, and there before the body is drawn"
    expect(switch).to_have_text("Dark")
    assert page.evaluate(paper) == dark
    page.locator(".site-bar a", has_text="Guide").click()
    expect(page.locator("h1")).to_contain_text("What leaks")
    assert page.evaluate("themeAtBody") == "dark", "on every page"

    switch.click()
    expect(switch).to_have_text("As device")
    expect(html).not_to_have_attribute("data-theme", re.compile("."))
    page.reload()
    assert page.evaluate("themeAtBody") == "none"
    assert page.evaluate(paper) == light


def test_a_kept_theme_doesn_t_wait_for_the_modules(visit: Visit, complaints: Complaints) -> None:
    page = visit("")
    page.locator("[data-theme-switch]").click()
    page.locator("[data-theme-switch]").click()
    page.route("**/*.mjs", lambda route: route.abort())
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    expect(page.locator("[data-theme-switch]")).to_be_hidden()
    complaints[:] = [said for said in complaints if ".mjs" not in said]
    early = page.locator("head script[src$='early.js']")
    assert early.evaluate(
        "e => !e.async && !e.defer && e.type === '' && e.compareDocumentPosition(document.body) === 4"
    )


def test_light_is_kept_on_a_dark_device(visit: Visit) -> None:
    page = visit("", color_scheme="dark")
    dark = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    page.locator("[data-theme-switch]").click()
    expect(page.locator("[data-theme-switch]")).to_have_text("Light")
    assert luminance(page.evaluate("() => getComputedStyle(document.body).backgroundColor")) > luminance(dark)


def test_pages_work_where_storage_is_refused(visit: Visit) -> None:
    refuse = (
        "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('refused'); } });"
    )
    page = visit("cases/", init=refuse)
    switch = page.locator("[data-theme-switch]")
    switch.click()
    switch.click()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    page.get_by_role("searchbox").fill(QUERY)
    assert 0 < shown(page.locator("#case-list > li")) < 100


# Without script.


def test_without_script_every_page_shows_everything(
    visit: Visit, kinds: dict[str, str], address: str
) -> None:
    page = visit(None, java_script_enabled=False)
    opened = set()
    for name, path in kinds.items():
        if name == "moved":
            continue
        page.goto(address + path)
        expect(page.locator("main h1:visible")).to_be_visible()
        assert len(page.locator("main").inner_text()) > 120, path
        for sleeping in ("[data-theme-switch]", "[data-filter-chips]", "[data-print]", ".empty[id]"):
            assert shown(page.locator(sleeping)) == 0, f"{path}: {sleeping} does nothing without script"
        details = page.locator("main details:visible")
        closed = [i for i, now in enumerate(details.evaluate_all("all => all.map((d) => d.open)")) if not now]
        if closed:
            first = details.nth(closed[0])
            inside = first.locator(":scope > :not(summary)").first
            expect(inside).to_be_hidden()
            first.locator("summary").click()
            expect(inside).to_be_visible()
            assert inside.inner_text().strip(), f"{path}: details hold nothing"
            opened.add(name)
    assert {"systems/", "guide/techniques/..."} <= opened


def test_without_script_the_case_list_is_full(visit: Visit, demo: Site) -> None:
    page = visit("cases/", java_script_enabled=False)
    items = page.locator("#case-list > li")
    assert shown(items) == items.count() == len(demo.cases)
    expect(page.locator("[data-filter-count]")).to_have_text(f"{items.count()} cases")


def test_without_script_a_moved_case_leads_on(visit: Visit, kinds: dict[str, str]) -> None:
    page = visit(kinds["moved"], java_script_enabled=False)
    page.wait_for_url(lambda url: kinds["moved"] not in url)


# On paper.

PRINT = "window.printed = 0; window.print = () => { window.printed += 1; };"


def test_a_printed_case_is_whole_and_without_furniture(visit: Visit, demo: Site) -> None:
    path = next(c["url"] for c in demo.cases if len(c["readings"]) >= 3)
    page = visit(path, viewport=DESK)
    page.emulate_media(media="print")
    parts = page.locator("main > *:not(.on-this-page)")
    assert shown(parts) == parts.count() > 12
    for gone in (".site-bar", ".crumbs", ".theme-switch", ".button", ".on-this-page"):
        assert shown(page.locator(gone)) == 0, gone
    ink, paper = page.evaluate(
        "() => { const s = getComputedStyle(document.body); return [s.color, s.backgroundColor]; }"
    )
    assert luminance(ink) < 0.05, ink
    assert paper in ("rgba(0, 0, 0, 0)", "rgb(255, 255, 255)") or luminance(paper) > 0.8, paper


def test_a_dark_page_prints_dark_on_light(visit: Visit) -> None:
    page = visit("cases/KW-2025-014/", color_scheme="dark")
    page.locator("[data-theme-switch]").click()
    page.locator("[data-theme-switch]").click()
    page.emulate_media(media="print", color_scheme="dark")
    ink, paper = page.evaluate(
        "() => { const s = getComputedStyle(document.body); return [s.color, s.backgroundColor]; }"
    )
    assert luminance(ink) < 0.05, ink
    assert paper == "rgba(0, 0, 0, 0)" or luminance(paper) > 0.8, paper


# With the keyboard.


def awake(page: Page) -> None:
    """The search is shown once its data are there; other pages stand at once."""
    for search in page.locator("[data-search]").all():
        expect(search).to_have_attribute("data-awake", "")


FOCUSED = """() => {
  const e = document.activeElement, box = e.getBoundingClientRect(), s = getComputedStyle(e);
  return { tag: e.tagName, text: e.textContent.trim().slice(0, 40), inMain: !!e.closest("main"),
           top: box.top, bottom: box.bottom, width: box.width,
           ring: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2,
           bar: matchMedia("(min-width: 64rem)").matches ? innerHeight : document.querySelector(".site-bar").getBoundingClientRect().top, inBar: !!e.closest(".site-bar") };
}"""


def test_the_skip_link_comes_first_and_skips(visit: Visit) -> None:
    for viewport in (PHONE, DESK):
        page = visit("cases/KW-2025-014/", viewport=viewport)
        skip = page.get_by_role("link", name="Skip to the text")
        expect(skip).not_to_be_in_viewport()
        page.keyboard.press("Tab")
        expect(skip).to_be_focused()
        expect(skip).to_be_in_viewport(ratio=1)
        page.keyboard.press("Enter")
        expect(page).to_have_url(re.compile("#text$"))
        expect(page.locator("#text")).to_be_in_viewport()
        page.keyboard.press("Tab")
        assert page.evaluate(FOCUSED)["inMain"], "the next thing is in the text"


@pytest.mark.parametrize("path", ["", "cases/", "cases/KW-2025-014/", "search/"])
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_what_has_the_focus_is_seen(visit: Visit, path: str, viewport: Any) -> None:
    page = visit(path, viewport=viewport)
    awake(page)
    for _ in range(30):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        assert at["tag"] in ("A", "BUTTON", "INPUT", "SUMMARY", "DIV"), at
        assert at["ring"], f"no ring round {at}"
        assert at["width"] > 0, at
        assert at["bottom"] > 0, at
        assert at["top"] < viewport["height"], at
        if viewport is PHONE and not at["inBar"]:
            assert at["top"] < at["bar"], f"behind the bar: {at}"


def test_details_open_from_the_keyboard(visit: Visit) -> None:
    page = visit("guide/techniques/bubble-test/")
    details = page.locator("details", has_text="Missed:")
    cases = details.get_by_role("listitem").first
    expect(cases).to_be_hidden()
    details.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(details).to_have_attribute("open", "")
    expect(cases).to_be_visible()
