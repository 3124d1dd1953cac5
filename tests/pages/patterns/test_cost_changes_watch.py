"""The topics cost, changes and watch: what they say of the demo, of an SI company, and where there is nothing yet."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import TypeVar

import html5lib
import pytest

from analysis.builders import COMPANY, case, demo, library, step
from analysis.patterns import fleet as small_fleet
from analysis.patterns import leak, watched
from leaklore.analysis.patterns.changes import changes
from leaklore.analysis.patterns.exposure import fleet
from leaklore.analysis.patterns.money import money
from leaklore.analysis.patterns.spent import case_cost
from leaklore.analysis.patterns.watch_list import watch_list
from leaklore.pages.book import Book
from leaklore.pages.patterns import changes as changes_page
from leaklore.pages.patterns import cost as cost_page
from leaklore.pages.patterns import watch as watch_page
from leaklore.pages.patterns.report import BROAD
from leaklore.pages.patterns.topic import Topic
from leaklore.pages.render import Templates
from leaklore.records.library import Library
from leaklore.records.model import Action, Avoided
from leaklore.records.quantity import read

T = TypeVar("T")
TODAY = dt.date(2026, 11, 26)
TOPICS: dict[str, Callable[[Library], Topic]] = {
    "cost": lambda lib: cost_page.topic(*_book(lib, money(lib, fleet(lib, TODAY)))),
    "changes": lambda lib: changes_page.topic(*_book(lib, changes(lib, fleet(lib, TODAY)))),
    "watch": lambda lib: watch_page.topic(*_book(lib, watch_list(lib, fleet(lib, TODAY)))),
}


def _book(lib: Library, found: T) -> tuple[Book, T, Templates]:
    book = Book(lib, TODAY)
    return book, found, Templates(book)


@cache
def of_demo(key: str) -> Topic:
    return TOPICS[key](demo())


@cache
def metric(key: str) -> Topic:
    lib = demo()
    return TOPICS[key](replace(lib, company=replace(lib.company, units="si")))


def text(topic: Topic) -> str:
    """What a reader sees."""
    return " ".join(re.sub(r"<svg.*?</svg>|<[^>]+>", " ", str(topic.sections), flags=re.S).split())


@pytest.mark.parametrize("key", TOPICS)
def test_ids_heads_and_tables_are_the_topic_s_own(key: str) -> None:
    topic = of_demo(key)
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parseFragment(str(topic.sections))
    ids = [e.get("id") for e in tree.iter() if isinstance(e.tag, str) and e.get("id")]

    assert topic.key == key
    assert all(i.startswith(f"{key}-") for i in ids)
    assert len(set(ids)) == len(ids)
    assert {e.tag for e in tree} == {"section"}
    assert not tree.findall(".//h1")
    assert all(t.key.startswith(f"{key}-") and f'id="{t.key}-table"' in topic.sections for t in topic.tables)
    assert topic.headline.endswith(".")
    assert "—" not in text(topic)


def test_the_cost_page_says_how_sure_its_order_is() -> None:
    said = text(of_demo("cost"))
    assert "another one stands first, so don’t plan by the order of the first bars" in said
    assert "Not priced:" in said
    assert re.search(
        r"\d+ of 21 failures carry half of it \(\d+\u202f%; \d+ to \d+\u202f%, 95 % sure\)",
        of_demo("cost").headline,
    )


def test_the_cost_page_counts_cases_and_not_leaks_and_repairs_among_their_own() -> None:
    """A case with two leaks costs once; hours of work are no days of a clock."""
    found, said = money(demo(), fleet(demo(), TODAY)), text(of_demo("cost"))
    table = next(t for t in of_demo("cost").tables if t.key == "cost-by-cases")
    cases = sum(int(str(row[-1])) for row in table.rows)
    assert of_demo("cost").headline.startswith(f"{cases} cases with a proven cause cost")
    looked = sum(c.fix_held is not None for c in demo().active if c.counted)
    assert f"be known to have come back: in {looked} of {cases} cases." in said
    hours = sum(c.first_diagnosis.minutes or 0 for c in demo().active if c.first_diagnosis) / 60
    assert f"That took {hours:.0f} h of work" in said
    assert f"{found.looked_at} were looked at again, and {len(found.came_back)} had not held" in said


def test_each_year_has_what_its_records_add_up_to() -> None:
    """Against the cases one by one; search, repair and refrigerant are the money, all years all cases."""
    table = next(t for t in of_demo("cost").tables if t.key == "cost-by-year")
    rows = [dict(zip([c.key for c in table.columns], row, strict=True)) for row in table.rows]
    lib = demo()
    assert [r["year"] for r in rows] == ["2021", "2022", "2023", "2024", "2025", "2026, not whole"]
    assert len(table.columns) <= BROAD, "the report for a meeting has it"
    for r in rows:
        mine = [c for c in lib.active if str(c.reported.year) == str(r["year"])[:4]]
        assert r["cases"] == len(mine)
        assert r["money"] == pytest.approx(sum(case_cost(c, lib.company, lib.guide)[0] for c in mine))
        assert r["money"] == pytest.approx(
            sum(float(str(r[of])) for of in ("search", "repair", "refrigerant"))
        )
        assert r["lost_lb"] == pytest.approx(sum(c.lost.si for c in mine if c.lost) / 0.45359237)
        assert r["callbacks"] == sum(c.fix_held is False for c in mine)
    whole = sorted(float(str(r["money"])) for r in rows if str(r["year"]).isdecimal())
    said = re.sub(r"(?<=\d) (?=\d{3}\b)", "", text(of_demo("cost")))
    assert (
        f"The 5 whole years cost from {whole[0]:.0f} USD to {whole[-1]:.0f} USD, {whole[2]:.0f} USD in the middle."
        in said
    )


def test_two_years_are_no_span() -> None:
    one = replace(case(1, labour="1 h"), reported=dt.date(2024, 5, 1))
    topic = TOPICS["cost"](library(one, replace(case(2, labour="2 h"), reported=dt.date(2025, 5, 1))))
    assert "whole years cost" not in text(topic)
    assert 'id="cost-by-year-table"' in topic.sections


def test_a_phone_shows_the_names_of_failures_whole() -> None:
    """A name cut short by dots has to be looked up in the table."""
    drawn = re.findall(r"<svg.*?</svg>", str(of_demo("cost").sections), flags=re.S)
    assert len(drawn) == 4
    for picture in drawn:
        assert "…" not in picture
        words = " ".join(re.findall(r">([^<>]+)<", picture))
        assert "Freeze burst of a water exchanger" in " ".join(words.split())


def test_a_company_without_any_price_is_told_so() -> None:
    free = replace(COMPANY, labour_rate=read("0 USD", "money"))
    topic = TOPICS["cost"](library(*(case(i + 1, labour="1 h") for i in range(6)), company=free))
    assert topic.headline == "6 cases with a proven cause, and no cost of any is on record."
    assert "No cost on record" in text(topic)
    assert any(t.key == "cost-by-hours" for t in topic.tables)


def test_one_failure_alone_is_not_said_to_carry_half() -> None:
    cases = [case(i + 1, labour="1 h") for i in range(6)]
    assert TOPICS["cost"](library(*cases)).headline == (
        "6 cases with a proven cause cost 360 USD as far as they tell it."
    )
    priced = replace(COMPANY, refrigerant_price={"R-32": read("10 USD", "money")})
    cases = [case(i + 1, labour="1 h", lost="1 kg", refrigerant="R-32") for i in range(6)]
    told = TOPICS["cost"](library(*cases, company=priced)).headline
    assert told == "6 cases with a proven cause cost 420 USD."


def test_what_an_avoided_test_saved_is_told_only_where_such_a_test_is_on_record() -> None:
    avoided = Avoided("section-isolation", "detector")
    isolation = step("section-isolation", "coil", "section", 60)
    cases = [case(1, avoided=avoided), case(2, avoided=replace(avoided, technique="visual"))]
    said = "In 2 cases a detector made a planned test unnecessary."
    assert f"{said} Such a test is not on record" in text(TOPICS["cost"](library(*cases)))
    assert f"{said} Such a test is not on record" in text(TOPICS["cost"](library(*cases, case(3, isolation))))
    assert "saved about 60 USD" in text(TOPICS["cost"](library(cases[0], case(3, isolation))))


def test_the_changes_page_says_what_can_t_be_told_yet() -> None:
    said = text(of_demo("changes"))
    assert "Too early to tell" in said
    assert "Fewer leaks since" in said
    assert "even a halving would not show within 20 years" in said
    assert "that would show with a chance of 80 of 100 after" in said


def test_a_change_that_never_will_show_is_not_called_too_early() -> None:
    """A card that says so of a wait beyond twenty years would ask a manager to wait."""
    cards = re.findall(r"<article.*?</article>", str(of_demo("changes").sections), flags=re.S)
    assert cards
    for card in cards:
        assert not ("Too early to tell" in card and "even a halving would not show" in card)


def changed(before: tuple[int, int], after: tuple[int, int]) -> Topic:
    """One change of a hundred systems: leaks of its failure and of another, before it and after."""
    systems = [watched(f"S-{i}", dt.date(2015, 1, 1)) for i in range(100)]
    leaks = [
        leak(1000 * late + 500 * other + i, systems[i], dt.date(2022 + 3 * late, 1, 1), mode)
        for late, counts in enumerate((before, after))
        for other, (mode, n) in enumerate(zip(("loose-flare", "corrosion"), counts, strict=True))
        for i in range(n)
    ]
    action = Action("it", dt.date(2024, 1, 1), "Something else.", ("loose-flare",))
    lib = replace(library(), actions=(action,))
    return changes_page.topic(*_book(lib, changes(lib, small_fleet(systems, leaks))))


def test_new_installs_are_compared_at_the_same_ages_not_in_the_same_time() -> None:
    cards = re.findall(r"<article.*?</article>", str(of_demo("changes").sections), flags=re.S)
    installs = [card for card in cards if "only those installed since" in card]
    assert installs
    for card in cards:
        assert ("Other leaks of these systems, at the same ages:" in card) is (card in installs)


def test_what_moved_with_the_rest_is_not_called_chance_nor_unknown() -> None:
    topic = changed((40, 40), (4, 4))
    said = text(topic)
    assert "Fewer, but perhaps so has the rest" in said
    assert "chance alone could do that" not in said
    assert "That it went further than the rest can be chance." in said
    assert topic.headline == "Changes that we made: 1; fewer leaks since: 0; no sign of an effect: 1."
    assert "can’t be told" not in said


def test_a_change_that_would_have_shown_is_not_called_unknown() -> None:
    topic = changed((90, 20), (60, 13))
    assert "No halving" in text(topic)
    assert topic.headline.endswith("; no sign of an effect: 1.")
    assert changed((90, 20), (6, 13)).headline.startswith("Changes that we made: 1; fewer leaks since: 1. ")


def test_the_watch_page_says_how_such_a_list_did_and_names_paragraphs() -> None:
    said = text(of_demo("watch"))
    assert "It can’t be said to do better than the largest charge alone." in said
    assert "Local law and the nameplate decide." in said
    dues = next(t for t in of_demo("watch").tables if t.key == "watch-dues")
    at = [c.key for c in dues.columns].index("paragraph")
    assert dues.rows
    assert all(re.match(r"40 CFR 8[24]\.|42 U\.S\.C\.", str(row[at])) for row in dues.rows)


def test_the_sentence_of_the_list_says_that_the_charge_alone_may_do_as_well() -> None:
    said = of_demo("watch").headline
    assert re.match(
        r"\d+ % of the charge expected to be lost in the next year is on \d+ of \d+ systems\.", said
    )
    assert "95 % sure); a list by the largest charge alone may do as well." in said


def test_only_systems_that_a_rule_takes_for_sure_are_said_to_be_past_their_day() -> None:
    """What residential and light commercial air conditioning would be excluded from is told as a question."""
    over = watch_list(demo(), fleet(demo(), TODAY)).law.us
    late = [x for x in over if any(d.state(TODAY) == "overdue" for d in x.dues)]
    sure = [x for x in late if not x.light]
    assert len(sure) < len(late)
    assert (
        f"On {len(sure)} systems something that the law asks for is past its day" in of_demo("watch").headline
    )
    assert f"On {len(sure)} of them something is past its day" in text(of_demo("watch"))


def test_what_is_past_its_day_stands_first_and_a_rule_that_may_not_hold_says_so_beside_it() -> None:
    over = watch_list(demo(), fleet(demo(), TODAY)).law.us
    light = {x.watched.system.id for x in over if x.light}
    table = next(t for t in of_demo("watch").tables if t.key == "watch-dues")
    rows = [dict(zip([c.key for c in table.columns], row, strict=True)) for row in table.rows]
    assert light
    assert {r["system"] for r in rows if "only if it is not residential" in str(r["paragraph"])} == light
    standing = [str(r["state"]) for r in rows]
    in_order = ["past its day", "to come", "done late", "done"]
    assert standing == sorted(standing, key=in_order.index)
    late = [r for r in rows if r["state"] == "past its day"]
    assert [r["system"] in light for r in late] == sorted(r["system"] in light for r in late)
    to_come = [r["day"] for r in rows if r["state"] == "to come"]
    assert len(set(to_come)) > 2
    assert to_come == sorted(to_come)


@pytest.mark.parametrize("reports", [1, 4, 5])
def test_a_list_from_fewer_than_five_losses_is_no_finding(reports: int) -> None:
    systems = [watched(f"S-{i}", dt.date(2015, 1, 1)) for i in range(10)]
    leaks = [leak(i, systems[i], dt.date(2024, 1, 1), lost="1 lb") for i in range(reports)]
    lib = replace(library(), systems={w.system.id: w.system for w in systems})
    topic = watch_page.topic(*_book(lib, watch_list(lib, small_fleet(systems, leaks))))
    assert ("too few to tell which systems will lose the most" in topic.headline) is (reports < 5)
    assert ("is expected to lose" in text(topic)) is (reports == 5)


def test_leaks_that_tell_no_loss_foresee_none() -> None:
    """What a leak takes was taken for the whole charge where no record told it."""
    systems = [watched(f"S-{i}", dt.date(2015, 1, 1)) for i in range(10)]
    leaks = [leak(i, systems[i], dt.date(2024, 1, 1)) for i in range(8)]
    lib = replace(library(), systems={w.system.id: w.system for w in systems})
    topic = watch_page.topic(*_book(lib, watch_list(lib, small_fleet(systems, leaks))))
    assert topic.headline == (
        "No loss of charge is on record: too few to tell which systems will lose the most."
    )
    assert "is expected to lose" not in text(topic)


def test_an_si_company_reads_kilograms_and_the_union_s_rules() -> None:
    watch = metric("watch")
    columns = {c.key for t in watch.tables for c in t.columns}
    assert "expected_kg" in columns
    assert "expected_lb" not in columns
    assert "Regulation (EU) 2024/573" in text(watch)
    dues = next(t for t in watch.tables if t.key == "watch-dues")
    at = [c.key for c in dues.columns].index("what")
    assert {row[at] for row in dues.rows} == {"look again", "leak check"}
    assert any(c.key == "lost_kg" for t in metric("cost").tables for c in t.columns)


@pytest.mark.parametrize("key", TOPICS)
@pytest.mark.parametrize("cases", [0, 1, 4])
def test_a_young_library_says_what_is_missing(key: str, cases: int) -> None:
    topic = TOPICS[key](library(*(case(i + 1, labour="1 h") for i in range(cases))))
    said = text(topic)
    assert 'class="empty"' in topic.sections
    assert "carry half" not in topic.headline
    if key == "cost" and cases:
        assert f"Only {cases} proven case" in said
