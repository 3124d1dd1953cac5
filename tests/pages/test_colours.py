"""The colours of tokens.css: words keep 7:1 on every ground they may stand on, in the sun and in the dark."""

from __future__ import annotations

import re

import pytest

from leaklore.pages.render import theme

WORDS = ("ink", "ink-soft", "copper", "verdigris", "brass", "iron")
GROUNDS = ("paper", "sheet", "sunk", "wash", "brass-wash", "iron-wash")
TEXT, SHAPE = 7, 3
"""Least contrast by WCAG 2.2: of text for the sun (1.4.6), and of what is drawn (1.4.11)."""


def _sets() -> dict[str, dict[str, str]]:
    """Colours of each scheme by the name of their token."""
    text = (theme() / "css" / "tokens.css").read_text("utf-8")
    blocks = re.findall(r"color-scheme: (light|dark);(.*?)\n *}", text, re.DOTALL)
    return {
        f"{scheme}-{n}": dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
        for n, (scheme, block) in enumerate(blocks)
    }


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


SETS = _sets()


def test_the_dark_set_stands_twice_and_is_the_same() -> None:
    assert list(SETS) == ["light-0", "dark-1", "dark-2"]
    assert SETS["dark-1"] == SETS["dark-2"]
    assert SETS["light-0"].keys() == SETS["dark-1"].keys()


@pytest.mark.parametrize("scheme", SETS)
def test_words_can_be_read_in_the_sun(scheme: str) -> None:
    of = SETS[scheme]
    pairs = [(word, ground) for word in WORDS for ground in GROUNDS]
    pairs += [("on-fill", "fill"), ("ink", "found")]  # a button's words, and what the search marks
    low = {pair: round(seen, 2) for pair in pairs if (seen := _contrast(of[pair[0]], of[pair[1]])) < TEXT}
    assert low == {}


@pytest.mark.parametrize("scheme", SETS)
def test_edges_of_what_is_pressed_are_seen(scheme: str) -> None:
    of = SETS[scheme]
    pairs = [(edge, ground) for edge in ("edge", "rule", "fill") for ground in GROUNDS[:4]]
    low = {pair: round(seen, 2) for pair in pairs if (seen := _contrast(of[pair[0]], of[pair[1]])) < SHAPE}
    assert low == {}
