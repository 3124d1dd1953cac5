"""Five hundred questions drawn in Python and in the browser are the same, to the letter."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Any

import pytest

from analysis.builders import demo
from leaklore.analysis.questions.chance import Chance
from leaklore.analysis.questions.draw import MIXED, draw
from leaklore.analysis.questions.material import material
from leaklore.analysis.questions.words import WORDS
from leaklore.pages import trade_data
from leaklore.pages.learn.questions import data_file, writer
from leaklore.records.library import Library
from twins.browser import Browser

COUNT = 500
A_SEED = 8

DRAW = """async ([data, tradeJson, asked]) => {
  const { QuestionDrawer } = await import("/learn/questions.mjs");
  const { trade } = await import("/trade/index.mjs");
  const { write } = await import("/bench/units.mjs");
  const material = JSON.parse(data);
  const t = trade(JSON.parse(tradeJson));
  const drawer = new QuestionDrawer(material, t, (value, dimension) => write(value, dimension, "first", material.units));
  return JSON.stringify(JSON.parse(asked).map(([topic, seed, n]) => drawer.draw(topic, seed, n)));
}"""
CHANCE = """async ([seed, n]) => {
  const { QuestionChance } = await import("/learn/questions_make.mjs");
  const chance = new QuestionChance(seed);
  return JSON.stringify(Array.from({ length: n }, () => chance.whole()));
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """An empty page beside our modules."""
    found = Browser()
    yield found
    found.close()


def _in(units: str) -> Library:
    library = demo()
    return replace(library, company=replace(library.company, units=units))


def _both(library: Library, browser: Browser) -> tuple[list[list[Any]], list[list[Any]]]:
    """Questions of every topic and of all mixed: by Python, by the browser."""
    found, write = material(library), writer(library)
    topics = [*found.content["topics"], MIXED]
    each = COUNT // (A_SEED * len(topics)) + 2
    asked = [(topic, seed * 7919 + i, A_SEED) for i, topic in enumerate(topics) for seed in range(each)]
    here = [[asdict(q) for q in draw(topic, seed, n, found, write)] for topic, seed, n in asked]
    data = data_file(found, found.content["titles"], library).content.decode()
    there = browser.run(DRAW, [data, json.dumps(trade_data.trade_json(library.guide)), json.dumps(asked)])
    return json.loads(json.dumps(here)), there


@pytest.mark.parametrize("units", ["us", "si"])
def test_both_draw_the_same_questions(units: str, browser: Browser) -> None:
    """Text, choices, right answers, explanation and link, in the units of either company."""
    here, there = _both(_in(units), browser)
    assert sum(map(len, here)) >= COUNT
    for mine, theirs in zip(here, there, strict=True):
        assert [q["text"] for q in theirs] == [q["text"] for q in mine]
        assert theirs == mine


def test_every_template_is_among_them(browser: Browser) -> None:
    """No template is left out by both."""
    drawn = {q["key"] for units in ("us", "si") for row in _both(_in(units), browser)[1] for q in row}
    assert drawn == set(WORDS)


def test_chance_is_the_same(browser: Browser) -> None:
    """The numbers of one seed, also of the largest."""
    for seed in (0, 1, 12345, 2**31, 2**32 - 1):
        chance = Chance(seed)
        assert browser.run(CHANCE, [seed, 50]) == [chance.whole() for _ in range(50)]
