"""One question, and what every template needs to make one."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from leaklore.analysis.questions.chance import Chance
from leaklore.trade import tables
from leaklore.trade.gas import NoSaturation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.tables import Tables

Write = Callable[[float | str, str], str]
"""Text of a figure (SI, or a day as `2026-03-01`) of a dimension of the work bench, in the company's units.

Of the dimension REASON it takes a sentence of `leaklore.trade` and says it in the language of the questions.
"""
REASON = "reason"
CLEAR = 0.15
"""Least distance of a wrong figure from the right one, as a share of the larger."""
CHOICES = 4
LOOK, NITROGEN_SHOWS = "visual", "bubble-test"
"""Techniques that show the leak of an empty circuit: as it stands, and while it holds nothing but nitrogen."""
HIGH_SIDE = 328.15
"""K; 55 degC, at whose saturation pressure the high side of an air-cooled system is laid out at least (EN 378-2, from memory)."""
_SLOT = re.compile(r"\{([\w-]+)\}")


@dataclass(frozen=True, slots=True)
class Question:
    """One question. `key` is its template; `right` holds the indices of the right choices.

    `several`: all that are right are to be marked, otherwise exactly one is right. `link` is an item key such as
    `technique:bubble-test`, `case:KW-2025-014` or `bench:leak-rate`.
    """

    topic: str
    key: str
    text: str
    choices: tuple[str, ...]
    right: tuple[int, ...]
    explanation: str
    link: str
    several: bool = False


def fill(text: str, slots: Mapping[str, str]) -> str:
    """`text` with its `{slots}` filled."""
    return _SLOT.sub(lambda hit: slots[hit[1]], text)


def capital(text: str) -> str:
    """`text` as it begins a sentence."""
    return text[:1].upper() + text[1:]


def apart(right: float, wrong: float) -> bool:
    """Is a wrong figure far enough from the right one?"""
    return abs(right - wrong) >= CLEAR * max(abs(right), abs(wrong))


@dataclass(frozen=True)
class Maker:
    """What a template draws from: chance, the material of a library (plain data), and how figures are written."""

    topic: str
    key: str
    chance: Chance
    material: Mapping[str, Any]
    gases: Mapping[str, Refrigerant]
    write: Write

    @cached_property
    def words(self) -> Mapping[str, str]:
        """Sentences of this template."""
        found: Mapping[str, str] = self.material["words"][self.key]
        return found

    @property
    def properties(self) -> Tables:
        """Properties of refrigerants and nitrogen."""
        return tables.shipped()

    def one(self, name: str) -> Any:
        """One of the numbers (SI) or words that the material lists under a name."""
        return self.chance.pick(self.material["numbers"][name])

    def fixed(self, name: str) -> float:
        """A number of which there is one."""
        return float(self.material["numbers"][name][0])

    def gas(self, name: str) -> Refrigerant:
        """One of the refrigerants listed under a name."""
        return self.gases[self.one(name)]

    def most_nitrogen(self, gas: Refrigerant) -> float:
        """Pa absolute; no question puts a circuit on more, which its nameplate may not allow."""
        found = self.properties.bubble(gas, HIGH_SIDE)
        return 0.0 if isinstance(found, NoSaturation) else found

    def named(self, kind: str, key: str) -> str:
        """Name of a guide entry or vocabulary term."""
        found: str = self.material["names"][kind][key]
        return found

    def say(self, sentence: str, /, **slots: str) -> str:
        """A sentence of this template."""
        return fill(self.words[sentence], slots)

    def asked(
        self,
        right: Sequence[str],
        wrong: Sequence[str],
        link: str,
        slots: Mapping[str, str],
        why: str = "why",
        several: bool = False,
    ) -> Question | None:
        """The question with its choices shuffled; None where two choices read the same."""
        texts = self.chance.shuffled([*right, *wrong])
        if len(set(texts)) < len(texts):
            return None
        marks = tuple(i for i, text in enumerate(texts) if text in right)
        text, because = self.say("text", **slots), self.say(why, **slots)
        return Question(self.topic, self.key, text, tuple(texts), marks, because, link, several)

    def measured(
        self,
        right: float,
        wrong: Sequence[float],
        dimension: str,
        link: str,
        slots: Mapping[str, str],
    ) -> Question | None:
        """A question whose choices are figures, in order of size; None where too few wrong ones are clear of it.

        Chance decides how many of them are below the right one, so that its place tells nothing.
        """
        taken: list[float] = []
        for value in wrong:
            if apart(right, value) and all(apart(value, other) for other in taken):
                taken.append(value)
        below, above = [v for v in taken if v < right], [v for v in taken if v > right]
        least, most = max(0, CHOICES - 1 - len(above)), min(CHOICES - 1, len(below))
        if least > most:
            return None
        lower = least + self.chance.below(most - least + 1)
        values = sorted([right, *below[:lower], *above[: CHOICES - 1 - lower]])
        texts = tuple(self.write(v, dimension) for v in values)
        if len(set(texts)) < len(texts):
            return None
        text, because = self.say("text", **slots), self.say("why", **slots)
        return Question(self.topic, self.key, text, texts, (values.index(right),), because, link)
