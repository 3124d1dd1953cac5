"""A computation with its two sides, and the draws that several of them use."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from leaklore.trade import refrigerants, tables
from twins import draw
from twins.codec import LEFT
from twins.draw import choice, dicts, limited, maybe, number

Calls = list[list[Any]]
T = tables.shipped()
R = refrigerants.shipped()


@dataclass(frozen=True)
class Twin:
    """`python` on arguments that `args` draws (a draw for each, or all at once), and on `edges` word for word.

    `answered` is the least share of the calls that must not be refused; `refuses` whether some must be.
    """

    name: str
    python: Callable[..., Any]
    args: tuple[draw.Draw, ...] | draw.Draw = ()
    edges: Calls = field(default_factory=list)
    answered: float = 0.5
    refuses: bool = True
    count: int = 220

    def calls(self) -> Calls:
        """The same every day; at least 200 of them at random where there is anything to draw."""
        rng = random.Random(self.name)
        if self.args == ():
            return [[], *self.edges]
        drawn = (
            [self.args(rng) for _ in range(self.count)]
            if callable(self.args)
            else [[one(rng) for one in self.args] for _ in range(self.count)]
        )
        return [*drawn, *self.edges]


# --- draws that several use
KELVIN = limited(150, 480)
ROOM = maybe(KELVIN, other=LEFT)
MOLAR = number(0.017, 0.15, bad=())
PASCAL = limited(1e3, 2e7, log=True)
LEAK = number(1e-13, 1e-4, log=True)
RATE = number(1e-9, 1.0, log=True)
SHARE = limited(0, 1)
VOLUME = number(1e-4, 2.0, log=True)
HOURS = number(60, 4e5, log=True)
CHARGE = number(0.05, 2000, log=True, edges=(22.6796185, 6.80388555, 226.796185, 680.388555))
SPACE = dicts(
    volume=number(0.05, 500, log=True, bad=()), air=maybe(number(1e-5, 2, log=True, bad=()), other=0.0)
)
VAPOUR = number(1e-12, 1e-2, log=True, edges=(0.0, 1e3))
OUTSIDE = maybe(number(1, 2e5, log=True, edges=(0.0, 101_325.0), bad=(-1.0, 1e30)), other=LEFT)
FLAG = choice(True, False)
