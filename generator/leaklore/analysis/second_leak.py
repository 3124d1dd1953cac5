"""Is there another leak? The charge lost against what the leak that was found passes."""

from __future__ import annotations

from dataclasses import dataclass

MORE = 3.0
"""From this many times on the loss is more than the leak explains: a bubble's rate is good to a factor of two or
three (judgement)."""


@dataclass(frozen=True, slots=True)
class Explained:
    """`lost` and `passes` kg/yr; `times` how often the leak goes into the loss; `more` is another leak likely?"""

    lost: float
    passes: float

    @property
    def times(self) -> float:
        """lost / passes."""
        return self.lost / self.passes

    @property
    def more(self) -> bool:
        """Does the loss ask for another leak?"""
        return self.times >= MORE
