"""Short questions: one right answer, clear of the wrong ones, the same for the same seed, and true of the library."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache

import pytest

from analysis.builders import demo
from leaklore.analysis.causes import FREQUENCY
from leaklore.analysis.intervals import FEW
from leaklore.analysis.leaks import figures
from leaklore.analysis.questions.chance import Chance
from leaklore.analysis.questions.draw import MIXED, draw, one, topics
from leaklore.analysis.questions.material import SENSES, Material, _technique, material
from leaklore.analysis.questions.pictures import holds, tell_tales
from leaklore.analysis.questions.question import CLEAR, Question, Write, capital
from leaklore.analysis.questions.words import TEMPLATES, TOPICS, WORDS
from leaklore.pages.learn.questions import writer
from leaklore.records.library import Library
from leaklore.records.model import HoldTest
from leaklore.records.quantity import read
from leaklore.trade import proof, refrigerants, tables
from leaklore.trade.units import DAY, HOUR, INCH, OUNCE_PER_YEAR, POUND, YEAR

EACH = 300
NOTHING = {("lines", "finds-mode")}
"""Templates for which the demo's own cases leave nothing to ask: too many of them speak against the guide."""


@cache
def library(units: str = "us") -> Library:
    return replace(demo(), company=replace(demo().company, units=units))


@cache
def made(units: str = "us") -> tuple[Material, Write]:
    return material(library(units)), writer(library(units))


def every(units: str, each: int = EACH) -> Iterator[Question]:
    """Many questions of every template of every topic."""
    found, write = made(units)
    for topic, keys in found.content["topics"].items():
        for key in keys:
            for seed in range(each):
                question = one(topic, key, seed, found, write)
                assert (question is None) == ((topic, key) in NOTHING), (topic, key)
                if question:
                    yield question


def test_enough_of_them() -> None:
    """At least twelve templates in at least five topics, each with its sentences."""
    keys = {key for keys in TEMPLATES.values() for key in keys}
    assert len(keys) >= 12
    assert len(TOPICS) >= 5
    assert keys <= set(WORDS)
    assert set(topics(*made())) == set(TOPICS)


@pytest.mark.parametrize("units", ["us", "si"])
def test_one_right_answer_among_four_that_read_differently(units: str) -> None:
    """Thousands of draws: never two right where one is asked, never a right one that stands twice, no slot left open."""
    for q in every(units):
        assert len(q.choices) == 4 == len(set(q.choices)), q
        assert all(0 <= i < 4 for i in q.right)
        assert len(set(q.right)) == len(q.right)
        assert 1 <= len(q.right) <= 3 if q.several else len(q.right) == 1, q
        assert q.explanation.endswith((".", ")", "other.")) or q.explanation.endswith(")."), q.explanation
        for text in (q.text, q.explanation, *q.choices):
            assert "{" not in text, text
            assert "  " not in text, text
            assert text == text.strip(), text


def _figure(text: str) -> float | None:
    """A choice that is a figure, in one unit of its kind; None for words and days."""
    found = re.fullmatch(r"(?:About |It (?:rises|falls) by about )?(−?[\d.\u202f]+)[\xa0\u202f](.+)", text)
    if not found or found[2].startswith(("January", "February")) or re.search(r"\d{4}$", text):
        return None
    sign = -1 if "falls" in text else 1
    scale = {"oz": 1 / 16, "g": 1e-3, "min": 60, "h": 3600, "days": 86_400}.get(found[2], 1.0)
    return sign * float(found[1].replace("\u202f", "")) * scale


@pytest.mark.parametrize("units", ["us", "si"])
def test_wrong_figures_are_clear_of_the_right_one(units: str) -> None:
    """As printed, each is at least CLEAR away (less what two digits can round)."""
    held = 0
    for q in every(units):
        if q.several:
            continue
        right = _figure(q.choices[q.right[0]])
        for i, text in enumerate(q.choices):
            wrong = _figure(text)
            if i in q.right or right is None or wrong is None:
                continue
            assert abs(right - wrong) >= (CLEAR - 0.04) * max(abs(right), abs(wrong)), q
            held += 1
    assert held > 4000


def test_the_place_of_the_right_answer_tells_nothing_much() -> None:
    """No template has its right answer at one place more than two times in three."""
    found, write = made()
    for topic, keys in TEMPLATES.items():
        for key in keys:
            if (topic, key) in NOTHING:
                continue
            at = [0] * 4
            for seed in range(EACH):
                question = one(topic, key, seed, found, write)
                assert question is not None
                at[question.right[0]] += 1
            assert max(at) < EACH * (0.45 if key == "hold-long-enough" else 0.67), (topic, key, at)


def test_the_same_seed_gives_the_same_and_another_other_ones() -> None:
    """Whole draws."""
    for topic in (*TOPICS, MIXED):
        first = draw(topic, 11, 8, *made())
        assert draw(topic, 11, 8, *made()) == first
        assert draw(topic, 12, 8, *made()) != first
        assert len({(q.text, q.choices) for q in first}) == len(first) == 8


def test_a_round_asks_nothing_twice() -> None:
    """The same answer to the same kind of question, with another gas or place in its text, is no second question."""
    for topic in (*TOPICS, MIXED):
        for seed in range(12):
            asked = [(q.key, {q.choices[i] for i in q.right}) for q in draw(topic, seed, 8, *made())]
            assert len(asked) == 8
            assert all(one not in asked[:i] for i, one in enumerate(asked)), (topic, seed)


def test_no_name_gives_the_answer_away() -> None:
    """“Rub mark on a tube” is no tell-tale for “Rub-through” that anybody has to know."""

    def words(text: str) -> set[str]:
        return {w[:5] for w in re.findall("[a-z]{3,}", text.lower())} - {"over", "and", "the", "for"}

    told = 0
    for q in every("us", 100):
        right = words(q.choices[q.right[0]])
        others = set().union(*(words(c) for i, c in enumerate(q.choices) if i not in q.right))
        if q.key == "tell-tale":
            first = re.match("It could be “(.+?)”", q.text)
            assert first is not None
            assert not right & words(first[1]) - others, q
        elif q.key == "fits-best":
            seen = re.search(r"Seen: (.+?)\.", q.text)
            assert seen is not None
            assert not right & words(seen[1]) - others, q
        told += q.key in ("tell-tale", "fits-best")
    assert told == 600


def test_no_technique_is_always_the_one_that_shows_the_leak() -> None:
    """Whoever learnt the names and reads no figures is wrong: most techniques are right on some days and wrong on others."""
    told: dict[str, set[bool]] = {}
    for q in every("us"):
        if q.key == "technique-sees":
            for i, name in enumerate(q.choices):
                told.setdefault(name, set()).add(i in q.right)
    both = {name for name, said in told.items() if len(said) == 2}
    assert {
        "Heated diode detector",
        "Isolating sections",
        "Standing pressure test",
        "Ultrasonic listening",
    } <= both


def test_our_cases_do_not_speak_against_what_is_said_to_find_a_failure() -> None:
    """Counted by a plain loop over the leaks that a technique was used on, as the page of the failure shows them."""
    lib = library()
    did: dict[tuple[str, str], list[bool]] = {}
    for case in lib.counted:
        shown: dict[tuple[str, str], bool] = {}
        for step in case.search:
            for component in case.proven_components if step.result != "false-alarm" else ():
                if any(lib.guide.covers(place, component) for place in step.at):
                    key = component, step.technique
                    shown[key] = shown.get(key, False) or step.result != "clean"
        for (_, technique), hit in shown.items():
            names = lib.guide.modes[case.cause.mode].name, lib.guide.techniques[technique].name
            did.setdefault(names, []).append(hit)
    told = 0
    for q in every("us", 150):
        if q.key not in ("finds-mode", "misses-mode"):
            continue
        mode = q.text.removeprefix("You suspect: ").split(". Which")[0]
        for i, name in enumerate(q.choices):
            hits = did.get((mode, name), [])
            good = (i in q.right) == (q.key == "finds-mode")
            if len(hits) < 2:
                assert f"{name} found" not in q.explanation
                continue
            assert (2 * sum(hits) >= len(hits)) if good else (2 * sum(hits) <= len(hits)), (q, name)
            assert f"{name} found {sum(hits)} of {len(hits)}" in q.explanation
            told += 1
    assert told > 500


def test_templates_take_turns() -> None:
    """A draw as long as the topic has templates asks each once."""
    for topic, keys in TEMPLATES.items():
        able = sorted(key for key in keys if (topic, key) not in NOTHING)
        assert sorted(q.key for q in draw(topic, 3, len(able), *made())) == able
    assert {q.topic for q in draw(MIXED, 3, 40, *made())} == set(TOPICS)


def test_chance_is_mulberry32() -> None:
    """Against the generator written out anew, in unbounded arithmetic and from its published C."""

    def published(a: int, n: int) -> list[int]:
        out = []
        for _ in range(n):
            a = (a + 0x6D2B79F5) % 2**32
            z = a
            z = (z ^ z >> 15) * (z | 1) % 2**32
            z = z ^ (z + (z ^ z >> 7) * (z | 61)) % 2**32
            out.append(z ^ z >> 14)
        return out

    for seed in (0, 1, 42, 2**32 - 1):
        chance = Chance(seed)
        assert [chance.whole() for _ in range(500)] == published(seed, 500)


def test_shuffles_are_even() -> None:
    """Each item comes first about as often as any other."""
    chance = Chance(1)
    first = [0] * 4
    for _ in range(8000):
        first[chance.shuffled([0, 1, 2, 3])[0]] += 1
    assert all(abs(n - 2000) < 5 * 39 for n in first)  # five standard deviations


def _si(text: str) -> float:
    number, unit = text.split("\xa0", 1)
    value = float(number.replace("\u202f", ""))
    factors = {
        "oz/yr": OUNCE_PER_YEAR,
        "lb/yr": POUND / YEAR,
        "in³": INCH**3,
        "ft³": 1728 * INCH**3,
        "min": 60.0,
        "h": HOUR,
        "days": DAY,
    }
    return value * factors[unit]


def test_the_hold_called_long_enough_proves_and_the_next_shorter_does_not() -> None:
    """By the judgement of hold tests that the case pages use, on the printed figures."""
    for q in list(every("us", 60)):
        if q.key != "hold-long-enough":
            continue
        said = re.search(r"leak of ([^ ]+/yr) of (\S+) was.* holds ([^ ]+) and .* at ([^ ]+)\. Two", q.text)
        assert said is not None
        pressure = read(said[4].replace("\xa0", " "), "pressure")
        room = read("68 degF", "temperature")
        gas = refrigerants.of(library().guide.refrigerants[said[2]].facts)
        holds = sorted(_si(c) for c in q.choices)
        longest_first = holds.index(_si(q.choices[q.right[0]]))
        for i, seconds in enumerate(holds):
            test = HoldTest(
                "nitrogen", pressure, pressure, replace(read("1 h", "duration"), si=seconds), room, room
            )
            verdict = proof.hold(test, gas, _si(said[1]), _si(said[3]), tables.shipped()).verdict
            assert (verdict == "proves") == (i >= longest_first), q


def test_what_a_hold_test_proves_can_be_worked_out_from_what_is_told() -> None:
    """By the judgement that the case pages use, on the printed figures alone, the circuit's volume among them."""
    right = {
        "proves": "That leak is gone",
        "too-coarse": "Too short or too coarse",
        "says-nothing": "Nothing, however long",
        "fell": "It still leaks",
    }
    told = set()
    for q in list(every("us", 150)):
        if q.key != "hold-case":
            continue
        said = re.search(
            r"with (\S+) that holds about ([^ ]+) and had lost ([^ ]+): (.+) from ([^ ]+) to ([^ ]+) in ([^ ,]+)"
            r"(?:, at ([^ ]+) and ([^ ]+))?\. What",
            q.text,
        )
        assert said is not None, q.text
        gas, size, rate, medium, start, end, over, *temps = said.groups()
        name = next(key for key, word in WORDS["hold-case"].items() if word == medium and key != "text")
        kind = "vacuum" if name == "vacuum" else "pressure"
        test = HoldTest(
            name,
            *(read(re.sub(r"(?<=\d)\u202f(?=\d)", "", t).replace("\xa0", " "), kind) for t in (start, end)),
            replace(read("1 h", "duration"), si=_si(over)),
            *(read(t.replace("\xa0°F", " degF"), "temperature") if t else None for t in temps),
        )
        facts = refrigerants.of(library().guide.refrigerants[gas].facts)
        verdict = proof.hold(test, facts, _si(rate), _si(size), tables.shipped()).verdict
        assert q.choices[q.right[0]].startswith(right[verdict]), q
        told.add(verdict)
    assert {"proves", "too-coarse"} <= told


def test_pictures_are_of_proven_cases_and_mistaken_modes() -> None:
    """The right mode is what was proven; the wrong ones lead with those that the guide says it is mistaken for."""
    found, _ = made()
    cases = library().by_id
    told = 0
    for pictures in found.content["pictures"].values():
        for picture in pictures:
            case = cases[picture["case"]]
            assert case.counted
            assert case.cause.mode == picture["mode"] not in picture["wrong"]
            assert set(picture["seen"]) <= set(case.symptoms)
            assert picture["n"] == sum(c.cause.mode == case.cause.mode for c in library().counted) >= FEW
            assert picture["p"] >= 2 * picture["q"] or picture["second"] not in picture["wrong"]
            mistaken = library().guide.modes[picture["mode"]]["mistaken_for"]
            told += bool(set(picture["wrong"]) & set(mistaken))
    assert told >= 50


def test_what_tells_a_picture_is_in_it_and_in_the_guide() -> None:
    """A symptom that is named was seen; the guide knows it with this mode and expects it no more often with a wrong one."""
    lib = library()

    def expected(mode: str, symptom: str) -> float:
        listed = lib.guide.modes[mode]["symptoms"]
        return max((FREQUENCY[w] for w, found in listed.items() if symptom in found), default=0.02)

    named = 0
    for pictures in made()[0].content["pictures"].values():
        for picture in pictures:
            assert len(picture["tells"]) <= 2
            for group, key in picture["tells"]:
                assert group in ("symptom", "absent", "kind", "age")
                if group == "symptom":
                    assert key in picture["seen"]
                    here = expected(picture["mode"], key)
                    assert here > 0.02
                    assert all(here >= expected(wrong, key) for wrong in picture["wrong"])
                assert group != "absent" or key in picture["absent"]
                named += group == "symptom"
    assert named > 30


def test_tell_tales_are_counted() -> None:
    """Counts by a plain loop over the library, and the guide's word on the same side."""
    lib = library()
    for pairs in made()[0].content["tell_tales"].values():
        for pair in pairs:
            mine = [c for c in lib.counted if c.cause.mode == pair["mode"]]
            theirs = [c for c in lib.counted if c.cause.mode == pair["other"]]
            assert (len(mine), len(theirs)) == (pair["n"], pair["m"])
            assert min(len(mine), len(theirs)) >= FEW

            def expected(mode: str, symptom: str) -> float:
                listed = lib.guide.modes[mode]["symptoms"]
                return max((FREQUENCY[w] for w, found in listed.items() if symptom in found), default=0.02)

            for sign in pair["right"]:
                assert sign["a"] == sum(sign["sign"] in c.symptoms for c in mine)
                assert sign["b"] == sum(sign["sign"] in c.symptoms for c in theirs)
                assert sign["a"] / len(mine) > 2 * sign["b"] / len(theirs)
                assert expected(pair["mode"], sign["sign"]) >= 3 * expected(pair["other"], sign["sign"])
            for symptom in pair["wrong"]:
                share = [sum(symptom in c.symptoms for c in some) / len(some) for some in (mine, theirs)]
                assert share[0] <= share[1]
                assert share[1] > 0


def test_what_fools_a_technique_is_its_own() -> None:
    """The right item stands on its guide page; the wrong ones stand on pages of techniques that go by another sense."""
    techniques = library().guide.techniques
    for q in every("us", 100):
        if q.key != "fools":
            continue
        technique = q.link.removeprefix("technique:")
        listed = {k: [capital(item) for item in e["fooled_by"]] for k, e in techniques.items()}
        own = listed[technique]
        for i, text in enumerate(q.choices):
            assert (text in own) == (i in q.right), q
            of = [k for k, items in listed.items() if text in items]
            assert i in q.right or all(SENSES[k] != SENSES[technique] for k in of), q


def test_units_of_the_company() -> None:
    """No question of a company in US units speaks of kilograms, bars or degrees Celsius, but for t CO2e; nor the other way round."""
    foreign = {"us": r"\xa0(?:kg|g|bar|°C|litres)\b", "si": r"\xa0(?:lb|oz|psig|psi|°F|in³|ft³)\b"}
    for units, pattern in foreign.items():
        for q in every(units, 60):
            if q.key in ("co2e", "repair-due", "check-interval"):
                continue
            assert not re.search(pattern, " ".join((q.text, q.explanation, *q.choices))), q


def test_a_library_without_cases_still_asks() -> None:
    """What needs cases is left out; the rest stays."""
    empty = replace(demo(), cases=(), systems={}, sites={})
    found, write = material(empty), writer(empty)
    asked = topics(found, write)
    assert {"detectors", "pressure-tests", "leak-rate", "order-of-checks", "rules"} <= set(asked)
    keys = {q.key for topic in asked for q in draw(topic, 5, 12, found, write)}
    assert not keys & {"fits-best", "tell-tale", "hold-case"}


def _beginnings(items: Iterable[str]) -> set[str]:
    """First five letters of the words of three letters and more."""
    return {word[:5] for item in items for word in re.split(r"[^a-z]+", item.lower()) if len(word) > 2}


def test_what_shares_a_word_with_what_fools_a_technique_is_no_wrong_answer() -> None:
    """Small words aside. Wind and sun trouble many: sun drowns the dye's glow, warms air in threads, moves a gauge."""
    small = _beginnings(["that with from your into the and for over between when too"])
    told = material(replace(demo(), cases=(), systems={}, sites={})).content["techniques"]
    assert set(told) == set(SENSES)
    for key, facts in told.items():
        assert facts["safe"], key
        own = _beginnings(facts["fooled_by"]) - small
        for item, other in facts["safe"]:
            assert SENSES[other] != SENSES[key]
            assert not _beginnings([item]) & own, (key, item)
            assert not {"wind", "sun"} & set(item.lower().split())


def test_a_technique_whose_sense_we_do_not_know_lends_no_wrong_answers() -> None:
    """One of the company's own guide may be fooled by the same things as any other."""
    guide = demo().guide
    own = replace(guide.techniques["ultrasonic"], key="listening-stick")
    more = replace(guide, techniques={**guide.techniques, "listening-stick": own})
    for key in SENSES:
        assert "listening-stick" not in {other for _, other in _technique(key, more)["safe"]}
    assert _technique("listening-stick", more)["safe"] == []


def test_five_cases_are_enough_for_a_tell_tale_and_four_are_not() -> None:
    lib = library()
    told = dict.fromkeys((FEW - 1, FEW), 0)
    for pairs in tell_tales(lib).values():
        for pair in pairs:
            signs = [sign["sign"] for sign in pair["right"]]
            mine = [c for c in lib.counted if c.cause.mode == pair["mode"]]
            mine.sort(key=lambda c: not set(signs) & set(c.symptoms))
            theirs = tuple(c for c in lib.counted if c.cause.mode == pair["other"])
            for n in told:
                few = tell_tales(replace(lib, cases=(*mine[:n], *theirs)))
                told[n] += sum(
                    (p["mode"], p["n"]) == (pair["mode"], n) for found in few.values() for p in found
                )
    assert told[FEW - 1] == 0
    assert told[FEW] > 0


def test_hold_tests_are_asked_about_only_where_twice_the_volume_changes_nothing() -> None:
    """And none is left out that is clear: a steady leak, a repair not known to have failed."""
    lib, asked = library(), {row["case"]: row["verdict"] for row in holds(library())}
    close = 0
    for case in lib.active:
        found = figures(case, lib.guide)
        held = found.held if found else None
        steady = case.lost_over is not None and case.lost_over.si >= 14 * DAY
        if held is None or not steady or case.fix_held is False or (case.lost_share or 0.0) > 1:
            assert case.id not in asked
            continue
        leak, low, high = held.leak or 0.0, held.low or 0.0, held.high or 0.0
        clear = held.verdict != "doubtful"
        if held.verdict in ("proves", "too-coarse"):
            clear = leak >= 2 * high if held.verdict == "proves" else 2 * leak <= low
        assert (asked.get(case.id) == held.verdict) is clear, case.id
        close += not clear
    assert {"proves", "too-coarse"} <= set(asked.values())
    assert close > 0


def test_wrong_choices_of_a_picture_lead_with_what_it_is_mistaken_for() -> None:
    """However likely the others are: those are what a technician would think of first."""
    guide = library().guide
    for pictures in made()[0].content["pictures"].values():
        for picture in pictures:
            mistaken = guide.modes[picture["mode"]]["mistaken_for"] or ()
            told = [mode in mistaken for mode in picture["wrong"]]
            assert told == sorted(told, reverse=True), picture["case"]
