"""The sheet for the customer: easy to read, honest, and nothing internal on it."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
import textstat
from lxml import html

from leaklore.analysis import readability
from leaklore.pages.book import Book
from leaklore.pages.learn import customer
from leaklore.pages.learn.advice import HARDEST, Sites, advice_of
from leaklore.pages.learn.handout import of_case, span
from leaklore.pages.render import Templates
from leaklore.pages.spec import Page
from leaklore.records.library import Library
from leaklore.records.model import (
    Case,
    Cause,
    FirstDiagnosis,
    Fix,
    FollowUp,
    HoldTest,
    Related,
    SearchStep,
)
from leaklore.records.prose import CASE_ID
from leaklore.records.quantity import read

TOO_HARD = (
    "Intermittent refrigerant migration necessitated comprehensive electronic interrogation of the evaporator, "
    "whereupon formicary deterioration was identified."
)


def _drawn(page: Page) -> tuple[str, html.HtmlElement]:
    """What stands on paper: the text of main without what only a screen shows, and main itself."""
    main = html.fromstring(f"<div>{page.body}</div>").find(".//main")
    for gone in main.xpath('.//*[contains(@class, "screen-only")]'):
        gone.drop_tree()
    for cell in main.iter("p", "li", "dt", "dd", "h1", "h2"):
        cell.tail = " " + (cell.tail or "")
    return " ".join(main.text_content().split()), main


def _read(page: Page) -> list[str]:
    """Paragraphs and list items: what is read as running text."""
    _, main = _drawn(page)
    skipped = ("handout__company", "handout__address")
    return [" ".join(e.text_content().split()) for e in main.iter("p", "li") if e.get("class") not in skipped]


@pytest.fixture(scope="module")
def templates(demo_book: Book) -> Templates:
    """The templates of the demo."""
    return Templates(demo_book)


@pytest.fixture(scope="module")
def sheets(demo_book: Book, templates: Templates) -> dict[str, Page]:
    """The sheets of the demo by mode or case number."""
    pages, files = customer.made(demo_book, templates)
    pages += [customer.sheet(demo_book, templates, number) for number in customer.numbers(demo_book)]
    assert not files
    assert pages[0].url == "for-customers/"
    return {page.url.split("/")[1]: page for page in pages[1:]}


def _sheet(case: Case, book: Book, templates: Templates) -> Page:
    sheet = of_case(case, book.library, Sites(book.library))
    return customer._case_page(case, sheet, book, templates)


def _text(case: Case, book: Book, templates: Templates) -> str:
    return _drawn(_sheet(case, book, templates))[0]


def _case(book: Book, key: str = "KW-2025-014") -> Case:
    return replace(book.library.by_id[key], advice=None)


# Reading ease.


def test_the_measure_gives_the_published_grade() -> None:
    """Wikipedia, "Flesch-Kincaid readability tests": 13 words and 24 syllables make 11.3."""
    text = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."

    assert textstat.flesch_kincaid_grade(text) == pytest.approx(11.3, abs=0.05)
    assert textstat.flesch_kincaid_grade(text) == pytest.approx(0.39 * 13 + 11.8 * 24 / 13 - 15.59)
    easy = "The cat sat on the mat."
    by_hand = 0.39 * 6 + 11.8 - 15.59  # six words of one syllable
    assert textstat.flesch_kincaid_grade(easy) == pytest.approx(by_hand)
    assert readability.grade([easy]) == pytest.approx(by_hand)
    assert textstat.flesch_kincaid_grade(TOO_HARD) > 15


def test_every_sheet_reads_at_grade_8_or_below(sheets: dict[str, Page]) -> None:
    grades = {key: textstat.flesch_kincaid_grade(" ".join(_read(page))) for key, page in sheets.items()}

    assert len(grades) > 230
    assert {key: grade for key, grade in grades.items() if grade > 8} == {}


def test_no_part_of_a_sheet_hides_behind_easier_ones(sheets: dict[str, Page]) -> None:
    """Paragraphs of 25 words or more are judged alone, too; each ends as a sentence does."""
    texts = {text for page in sheets.values() for text in _read(page)}
    long = {text for text in texts if len(text.split()) >= 25}

    assert len(long) > 30
    assert {t: g for t in long if (g := textstat.flesch_kincaid_grade(t)) > 9} == {}
    assert {text for text in texts if not text.endswith((".", "?", "!", ":"))} == set()
    assert not [text for text in texts if re.search(r"[…—]|\.\.|\{|\}|\bNone\b(?! needed)", text)]


def test_our_count_is_close_to_the_library_s(sheets: dict[str, Page]) -> None:
    """textstat counts syllables by the CMU pronouncing dictionary; ours goes by letters."""
    for key, page in sheets.items():
        texts = _read(page)
        ours = readability.grade(texts)
        assert ours == pytest.approx(textstat.flesch_kincaid_grade(" ".join(texts)), abs=0.6), key
    assert readability.grade([]) == 0


# What is never on it.


def _other_inside(case: Case) -> Case:
    """The same case as a customer may know it, everything internal written anew."""
    mark = "Zanzibar"
    system = case.system and replace(
        case.system,
        id="S-9999",
        crew="Z9",
        note=mark,
        site=replace(case.system.site, key="zz", name=f"{mark} store", note=mark),
    )
    fix = case.fix and replace(
        case.fix, parts=read("987654 USD", "money"), labour=read("987 h", "duration"), charge_added=None
    )
    if fix and case.fix and case.fix.charge_added:
        fix = replace(fix, charge_added=read("987 kg", "mass"))
    return replace(
        case,
        title=mark,
        story=mark,
        lesson=mark,
        crew="Z9",
        system=system,
        path=mark,
        digest=mark,
        fix=fix,
        search=tuple(
            replace(step, minutes=987, cost=read("987654 USD", "money"), note=mark) for step in case.search
        ),
        first_diagnosis=FirstDiagnosis("impact", 987, read("987654 USD", "money")),
        follow_up=tuple(replace(look, note=mark) for look in case.follow_up),
        related=(Related("KW-2021-001", "same-site"),),
        readings=(),
        instruments=(),
        photos=(),
        symptoms=(),
        not_seen=(),
        conditions=(),
        topics=(mark,),
        level="lead",
        avoided=None,
        topped_up=read("987 kg", "mass"),
        was=("KW-2020-001",),
    )


def test_internal_facts_change_nothing_on_a_sheet(demo_book: Book, templates: Templates) -> None:
    """Cost, minutes, crew, notes, first diagnosis, remarks of later visits, story, lesson, site: written anew."""
    for case in demo_book.library.active:
        bare = replace(case, advice=None)
        before, after = (_sheet(c, demo_book, templates) for c in (bare, _other_inside(bare)))
        assert before == replace(after, changed=before.changed), case.id


def test_a_sheet_holds_no_text_of_internal_fields(demo_library: Library, sheets: dict[str, Page]) -> None:
    sites = {site.name for site in demo_library.sites.values()}
    found = []
    for case in demo_library.active:
        page = sheets[case.id]
        text, main = _drawn(page)
        told = f"{text} {page.title} {page.description}"
        internal = {
            case.title,
            case.story,
            case.lesson,
            case.first_diagnosis and demo_library.guide.modes[case.first_diagnosis.mode].name,
            *(step.note for step in case.search),
            *(reading.note for reading in case.readings),
            *(look.note for look in case.follow_up),
            *(step.cost.written for step in case.search if step.cost),
            *(q.written for fix in [case.fix] if fix for q in (fix.parts, fix.labour) if q),
            *((case.system.id, case.system.note, case.system.site.note) if case.system else ()),
        }
        found += [(case.id, one) for one in internal | sites if one and one.casefold() in told.casefold()]
        found += [(case.id, other) for other in CASE_ID.findall(told) if other != case.id]
        found += [(case.id, crew) for crew in demo_library.company.crews if re.search(rf"\b{crew}\b", told)]
        found += [(case.id, a.get("href")) for a in main.iter("a")]
        found += [
            (case.id, hit) for hit in re.findall(rf"\d+ ?min\b|{demo_library.company.currency}|\$", told)
        ]

    assert found == []


def test_a_sheet_of_a_mode_names_no_case_and_leads_nowhere(
    demo_library: Library, sheets: dict[str, Page]
) -> None:
    for key in demo_library.guide.modes:
        text, main = _drawn(sheets[key])
        assert not CASE_ID.search(text)
        assert not list(main.iter("a"))
        assert " ".join(demo_library.guide.modes[key].facts["customer"].split()) in text


def test_a_withdrawn_case_has_no_sheet_and_no_link(demo_library: Library, sheets: dict[str, Page]) -> None:
    withdrawn = [case.id for case in demo_library.cases if case.withdrawn]

    assert withdrawn
    assert not set(withdrawn) & set(sheets)
    assert set(sheets) == {c.id for c in demo_library.active} | set(demo_library.guide.modes)


# What it says.


def test_a_guess_is_told_as_a_guess(demo_book: Book, templates: Templates, sheets: dict[str, Page]) -> None:
    for case in demo_book.library.active:
        text, _ = _drawn(sheets[case.id])
        guess = case.cause.proof == "suspected"
        assert ("We have not seen the leak there, so we can't be sure." in text) == guess, case.id
        assert ("No test has shown us the spot." in text) == guess, case.id
        assert ("We could not see the exact spot." in text) == (case.cause.proof == "section"), case.id
        assert ("We found the exact spot with two different tests" in text) == case.counted, case.id


def test_what_came_back_is_told_plainly(demo_book: Book, sheets: dict[str, Page]) -> None:
    again = [c for c in demo_book.library.active if any(f.result == "leaking-again" for f in c.follow_up)]

    assert again
    for case in demo_book.library.active:
        text, _ = _drawn(sheets[case.id])
        assert ("it was leaking again." in text) == (case in again), case.id


@pytest.mark.parametrize("action", ["no-repair", "replace-coil"])
def test_no_repair_is_said_to_hold_that_was_not_made(
    action: str, demo_book: Book, templates: Templates
) -> None:
    looks = tuple(
        FollowUp(dt.date(2026, 1, day), result)
        for day, result in enumerate(("holding", "other-leak", "leaking-again"), 1)
    )
    case = replace(_case(demo_book), fix=Fix(action), follow_up=looks)
    case = replace(case, cause=replace(case.cause, proof="point"))
    text = _text(case, demo_book, templates)

    assert ("The repair was holding." in text) == (action == "replace-coil")
    assert ("This repair had not held." in text) == (action == "replace-coil")
    assert ("It had kept its gas." in text) == (action == "no-repair")
    assert "On 2 January 2026 we found a new leak in another place." in text
    assert "On 3 January 2026 it was leaking again." in text


HELD = HoldTest("nitrogen", read("20 bar", "pressure"), read("20 bar", "pressure"), read("2 h", "duration"))
FELL = replace(HELD, end=read("12 bar", "pressure"))
VACUUM = replace(HELD, medium="vacuum", start=read("400 micron", "pressure"))


@pytest.mark.parametrize(
    ("fix", "says"),
    [
        (None, "We have no repair on record yet."),
        (Fix("no-repair"), "No repair was made."),
        (Fix("isolate-circuit"), "It has not been repaired yet."),
        (Fix("replace-coil"), "We have no pressure test of this repair on record."),
        (Fix("replace-coil", hold_test=HELD), "The pressure held."),
        (Fix("replace-coil", hold_test=FELL), "There may still be a leak."),
        (Fix("replace-coil", hold_test=VACUUM), "That alone is a weak test of a repair."),
    ],
)
def test_what_was_done_is_what_the_record_has(
    fix: Fix | None, says: str, demo_book: Book, templates: Templates
) -> None:
    text = _text(replace(_case(demo_book), fix=fix, follow_up=()), demo_book, templates)

    assert says in text
    assert ("Our records show no later visit." in text) == bool(
        fix and fix.action not in ("no-repair", "isolate-circuit")
    )
    assert text.count("The pressure held.") == (fix is not None and fix.hold_test is HELD)


@pytest.mark.parametrize(
    ("lost", "over", "says"),
    [
        ("0.5 kg", "5 months", "had lost about half of its gas in about 5 months."),
        ("1 kg", None, "had lost all of its gas."),
        ("1.2 kg", "2 years", "more than one full filling of gas."),
        (None, "5 months", "We have no figure for how much."),
    ],
)
def test_the_loss_is_told_as_a_share(
    lost: str | None, over: str | None, says: str, demo_book: Book, templates: Templates
) -> None:
    case = _case(demo_book)
    case = replace(
        case,
        equipment=replace(case.equipment, charge=read("1 kg", "mass")),
        lost=read(lost, "mass") if lost else None,
        lost_over=read(over, "duration") if over else None,
    )

    assert says in _text(case, demo_book, templates)


@pytest.mark.parametrize(
    ("time", "words"),
    [
        ("5 h", "less than a day"),
        ("1 days", "about a day"),
        ("9 days", "about 9 days"),
        ("3 weeks", "about 3 weeks"),
        ("14 months", "about 14 months"),
        ("3 years", "about 3 years"),
    ],
)
def test_a_time_in_words(time: str, words: str) -> None:
    assert span(read(time, "duration").si) == words


def test_the_tests_told_are_those_that_met_the_leaking_part(demo_book: Book, templates: Templates) -> None:
    steps = (
        SearchStep("visual", ("indoor-cabinet",), 5, "lead"),
        SearchStep("dye", ("outdoor-flare",), 5, "clean"),
        SearchStep("ultrasonic", ("outdoor-flare",), 5, "false-alarm"),
        SearchStep("bubble-test", ("indoor-flare",), 5, "pinpointed"),
        SearchStep("infrared-detector", ("indoor-flare",), 5, "confirmed"),
    )
    cause = Cause("flare-joint", "indoor-flare", "point")
    proven = _text(replace(_case(demo_book), search=steps, cause=cause), demo_book, templates)
    part = _text(
        replace(_case(demo_book), search=steps[:3], cause=replace(cause, proof="section")),
        demo_book,
        templates,
    )

    assert "We brushed on a soap film, and it bubbled right there." in proven
    assert "A tool that measures the gas in the air showed it right there." in proven
    assert "We saw signs of a leak on this part." in part
    assert not any(word in proven + part for word in ("glowed", "hiss of gas heard", "near this part"))


@pytest.mark.parametrize("gas", ["R-410A", "R-32", "R-290", "R-717", "R-744", None])
def test_safety_follows_the_gas(gas: str | None, demo_book: Book, templates: Templates) -> None:
    case = _case(demo_book)
    text = _text(replace(case, equipment=replace(case.equipment, refrigerant=gas)), demo_book, templates)
    can_burn = "can burn" in text or "burns as easily" in text

    assert can_burn == (gas in ("R-32", "R-290", "R-717"))
    assert ("ammonia" in text) == (gas == "R-717")
    assert ("carbon dioxide" in text) == (gas == "R-744")
    assert ("We have not noted which gas is in your unit." in text) == (gas is None)
    assert "Local rules and the plate on your unit come first." in text
    assert "Please don't open, tighten, tape or fill anything on the unit yourself." in text


def test_words_of_the_company_without_plain_ones_still_make_a_sheet(
    demo_book: Book, templates: Templates
) -> None:
    """A mode, a part, a technique and a repair that plain.yaml does not know."""
    library = demo_book.library
    guide = library.guide
    plain = replace(
        guide.plain,
        modes={},
        techniques={},
        texts={**guide.plain.texts, "components": {}, "actions": {}, "contributing": {}},
    )
    book = Book(replace(library, guide=replace(guide, plain=plain)), demo_book.today)
    case = next(
        c
        for c in library.active
        if c.cause.proof == "held" and c.fix and c.fix.action not in ("no-repair", "isolate-circuit")
    )
    told = " ".join(guide.modes[case.cause.mode].facts["customer"].split())
    text = _text(case, book, Templates(book))
    assert told in text
    assert "We did this: " in text
    assert "The gas came out at this part: " in text
    assert "We used this test, and it showed the spot: " in text
    guess = replace(case, cause=replace(case.cause, proof="suspected"), fix=Fix("no-repair"))
    assert told not in _text(guess, book, Templates(book)), "it tells of a repair that was not made"


# Advice.


@pytest.mark.parametrize(
    ("advice", "why"),
    [
        ("Told the owner to keep the caps on.", ""),
        ("Told the owner to keep the [[valve-core|small valve]] shut.", ""),
        (TOO_HARD, "too hard"),
        ("None needed.", "too short"),
        ("As in [[KW-2025-014]], keep the caps on.", "another case"),
        ("As in KW-2025-014, keep the caps on.", "another case"),
        ("The unit S-0101 is next to fail.", "system"),
        ("Ask K1 to come by in the fall.", "crew"),
        ("It is the same at Lock Row terraces, so call us.", "site"),
        ("A new one costs four times as much.", "money"),
        ("A new one is 400 USD to buy.", "money"),
        ("A new one is $400 to buy.", "money"),
    ],
)
def test_advice_is_told_where_it_is_easy_and_meant_for_the_customer(
    advice: str, why: str, demo_book: Book, templates: Templates
) -> None:
    library = demo_book.library
    shown, left_out = advice_of(advice, library, Sites(library))
    page = _sheet(replace(_case(demo_book), advice=advice), demo_book, templates)
    text, _ = _drawn(page)

    assert why in left_out
    assert bool(left_out) == bool(why)
    assert shown in text if shown else advice not in text
    assert "[[" not in text
    assert ("The advice in the record is not on this sheet" in page.body) == bool(why), (
        "the technician is told"
    )
    assert "not on this sheet" not in text, "the customer is not"


def test_the_index_names_what_was_left_out(demo_book: Book, templates: Templates) -> None:
    library = demo_book.library
    sites = Sites(library)
    advised = [c for c in library.active if c.advice]
    out = [c.id for c in advised if advice_of(c.advice or "", library, sites)[1]]
    index = customer.made(demo_book, templates)[0][0]
    shown = set(CASE_ID.findall(index.body))

    assert 0 < len(out) < len(advised)
    assert shown <= set(out)
    assert len(shown) == min(len(out), customer.MOST_LISTED)
    assert all(readability.grade([advice_of(c.advice or "", library, sites)[0]]) <= HARDEST for c in advised)


def test_the_company_and_its_address(demo_book: Book, templates: Templates) -> None:
    company = replace(demo_book.library.company, site_url="https://leaks.example/")
    book = Book(replace(demo_book.library, company=company), dt.date(2026, 12, 31))
    case = _case(demo_book)
    text = _text(case, book, Templates(book))

    assert company.name in text
    assert f"This sheet on the web: https://leaks.example/for-customers/{case.id}/" in text
    assert "on the web" not in _text(case, demo_book, templates)
    assert case.system is not None
    assert case.system.name in text
