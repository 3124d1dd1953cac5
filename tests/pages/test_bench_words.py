"""Words of the bench that are put together elsewhere: each is a message, and a sentence is said anew by the right one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from leaklore import language
from leaklore.pages import bench, bench_words
from leaklore.pages.bench import BENCHES, Sheet
from leaklore.pages.bench_units import Writer
from leaklore.pages.book import Book
from leaklore.trade import data
from site_fixture import ROOT

SCRIPTS = ROOT / "site_overrides" / "js" / "bench"
VARIED: tuple[dict[str, Any], ...] = (
    {},
    {"hermetic": True},
    {"hermetic": True, "charge": 0.3, "lost": 0.1},
    {"hermetic": True, "residential": True, "charge": 2.5, "lost": 0.1},
    {"detection": True, "light": True},
    {"charge": 500.0, "lost": 400.0, "detection": True},
    {"on": "2019-06-01", "charge": 40.0},
    {"on": "2010-06-01"},
    {"start": 1000.0},
    {"time": 60.0, "middle": None, "half": None},
    {"length": 0.0, "rest": 0.0},
    {"leak": 1e-12, "room": 50.0},
    {"leak": 1e-8, "test": None},
    {"temperature": 327.0},
)
"""Inputs that make the trade give each of its reasons, put over the example's."""


@pytest.fixture
def spanish() -> Iterator[None]:
    """Spanish, then English again."""
    language.use(language.load("es"))
    yield
    language.use(language.ENGLISH)


def reasons(book: Book) -> set[str]:
    """Why rules, limits and techniques decide, over all refrigerants and the varied inputs."""
    found: set[str] = set()
    around = bench.world(book)
    for b in BENCHES:
        inputs = Sheet(b, bench.writer(book), book).inputs()
        for name in around.refrigerants if b.key in ("leak-rate", "which-technique", "vacuum-hold") else ():
            for other in VARIED:
                given = {**inputs, "refrigerant": name, **{k: v for k, v in other.items() if k in inputs}}
                answer = b.compute(given, around)
                found |= {str(v) for k, v in answer.outs.items() if k.endswith("because")}
    return found


def test_every_reason_is_a_message_and_no_message_is_idle(demo_book: Book) -> None:
    """What no message fits is a figure with its unit; a message that fits nothing would be left from a sentence of old."""
    found = reasons(demo_book)
    unfit = [r for r in found if not any(bench_words.form(m).fullmatch(r) for m in bench_words.VERDICTS)]
    assert [r for r in unfit if not re.fullmatch(r"[\d.e+]+ (?:t CO₂e|kg)", r)] == []
    first = {
        next(m for m in bench_words.VERDICTS if bench_words.form(m).fullmatch(r)) for r in found - {*unfit}
    }
    assert set(data.load("techniques")["reasons"].values()) <= set(bench_words.VERDICTS)
    # no refrigerant of the guide without an HFC has a large GWP, or none
    assert {*bench_words.VERDICTS} - first <= {
        "{refrigerant} holds no HFC and we have no GWP of it",
        "{refrigerant} holds no HFC and its GWP of {gwp} is above {limit}",
        "no GWP for {refrigerant} in the regulation's annexes",
    }


def test_names_of_rules_and_limits_are_messages() -> None:
    """As the tables have them."""
    rules, practice = data.load("rules"), data.load("practice")
    named = [r["name"] for r in rules["us"]["rules"]] + [r["name"] for r in practice["vacuum"]["limits"]]
    assert {*named, rules["eu"]["name"], rules["advice"]} == set(bench_words.NAMED)


def test_what_the_scripts_say_is_a_message() -> None:
    """Both ways: every `say("...")`, and every message stands in a script, word by word between its slots."""
    text = "\n".join(f.read_text("utf-8") for f in sorted(SCRIPTS.glob("*.mjs")))
    said = set(re.findall(r'\bsay\("([^"]+)"', text))
    assert len(said) > 15
    assert said <= set(bench_words.SCRIPTS)
    pieces = [p for m in bench_words.SCRIPTS for p in re.split(r"\{\w+\}", m) if len(p) > 3]
    assert [p for p in pieces if p not in text] == []


def test_what_the_trade_refuses_is_a_message() -> None:
    """Every one stands in a script of the trade, word by word between its slots."""
    text = "\n".join(f.read_text("utf-8") for f in sorted((SCRIPTS.parent / "trade").glob("*.mjs")))
    pieces = [p for m in bench_words.REFUSED for p in re.split(r"\{\w+\}", m) if len(p) > 3]
    assert len(pieces) >= 3
    assert [p for p in pieces if p not in text] == []


@pytest.mark.usefixtures("spanish")
@pytest.mark.parametrize(
    ("english", "told"),
    [
        ("R-22 holds no HFC; part 82 takes it", "R-22 no contiene HFC; lo toma la parte 82"),
        ("900 micron against 500 micron", "900 micrones contra 500 micrones"),
        ("below 5 t CO₂e", "por debajo de 5 t CO₂e"),
        ("sealed and below 10 t CO₂e", "sellado y por debajo de 10 t CO₂e"),
        (
            "Dye: 12 g/yr (0.42 oz/yr), and it needs 7 g/yr; it would show after 3.5 days",
            "Dye: 12 g/yr (0.42 oz/yr), y necesita 7 g/yr; se vería después de 3.5 días",
        ),
        ("Dye: the test pressure is needed to tell", "Dye: para decirlo hace falta la presión de prueba"),
        ("64.5 t CO₂e", "64.5 t CO₂e"),
    ],
)
def test_a_sentence_is_said_anew(english: str, told: str) -> None:
    """With what stands in its slots; a mere figure stays."""
    assert bench_words.reworded(english) == told


@pytest.mark.usefixtures("spanish")
def test_units_and_their_singular() -> None:
    """Names of units that are words; English ones stay as they are in English."""
    write = Writer(us_first=True, currency="USD")
    assert write.write(86_400.0, "span") == "1\u00a0día"
    assert write.write(3 * 86_400.0, "span") == "3\u00a0días"
    assert write.unit("L", "circuit").name == "litros"
    language.use(language.ENGLISH)
    assert Writer(us_first=True, currency="USD").write(86_400.0, "span") == "1\u00a0day"
    assert bench_words.said() == []
