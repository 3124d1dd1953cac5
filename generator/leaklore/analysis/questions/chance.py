"""Seeded chance that runs alike in Python and in the browser."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")
_MASK = 0xFFFFFFFF
_STEP = 0x6D2B79F5


class Chance:
    """Mulberry32, a generator of 32 bits of state by Tommy Ettinger (2017, public domain), from a whole-number seed."""

    def __init__(self, seed: int) -> None:
        self.state = seed & _MASK

    def whole(self) -> int:
        """The next number, 0 to 2^32 - 1."""
        self.state = (self.state + _STEP) & _MASK
        t = self.state
        t = ((t ^ (t >> 15)) * (t | 1)) & _MASK
        t ^= (t + (((t ^ (t >> 7)) * (t | 61)) & _MASK)) & _MASK
        return (t ^ (t >> 14)) & _MASK

    def below(self, n: int) -> int:
        """A whole number from 0 to n - 1."""
        return self.whole() * n >> 32

    def share(self, low: float, high: float) -> float:
        """A number from `low` up to `high`."""
        return low + (high - low) * (self.whole() / 4294967296)

    def pick(self, items: Sequence[T]) -> T:
        """One of them."""
        return items[self.below(len(items))]

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """All of them in another order (Fisher and Yates)."""
        out = list(items)
        for i in range(len(out) - 1, 0, -1):
            j = self.below(i + 1)
            out[i], out[j] = out[j], out[i]
        return out
