"""Which kind of repair does not hold: of each kind how many were looked at again, and how many were found leaking.

A kind is held against all others by Fisher's exact test, one-sided, over every kind that was looked at FEW times; of
those named at most FALSE_SHARE are expected to be chance (Benjamini and Hochberg).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded where they are first used: they take long

from leaklore.analysis.intervals import FEW, Share, wilson
from leaklore.analysis.patterns.discoveries import false_discovery
from leaklore.analysis.patterns.signals import FALSE_SHARE, LEAST_LEAKS
from leaklore.records.model import Case

UNREPAIRED = frozenset({"no-repair", "isolate-circuit"})
"""Actions that mended nothing."""


@dataclass(frozen=True)
class KindOfRepair:
    """Repairs of one kind. `failed` of those looked at again, `others` the same of all other kinds; None where none was.

    `back` are the cases whose repair was found leaking. `q`: share of false alarms; 1 where too few were looked at.
    """

    action: str
    repairs: int
    failed: Share | None
    others: Share | None
    back: tuple[Case, ...]
    q: float

    @property
    def worse(self) -> bool:
        """Does it fail more often than the others, beyond what so many looks make by chance?"""
        return len(self.back) >= LEAST_LEAKS and self.q <= FALSE_SHARE


def kinds_of_repair(cases: Iterable[Case]) -> tuple[KindOfRepair, ...]:
    """Every kind of repair, those with most failures first; cases without a repair are left out."""
    of: dict[str, list[Case]] = {}
    for case in cases:
        if case.fix is not None and case.fix.action not in UNREPAIRED:
            of.setdefault(case.fix.action, []).append(case)
    looked = {key: [c for c in mine if c.fix_held is not None] for key, mine in of.items()}
    back = {key: tuple(c for c in mine if c.fix_held is False) for key, mine in looked.items()}
    seen, failed = sum(map(len, looked.values())), sum(map(len, back.values()))
    tested = sorted(key for key, mine in looked.items() if len(mine) >= FEW)
    p = [scipy.stats.hypergeom.sf(len(back[k]) - 1, seen, failed, len(looked[k])) for k in tested]
    q = dict(zip(tested, map(float, false_discovery(np.array(p))), strict=True)) if tested else {}
    out = [
        KindOfRepair(
            key,
            len(mine),
            wilson(len(back[key]), len(looked[key])),
            wilson(failed - len(back[key]), seen - len(looked[key])),
            back[key],
            q.get(key, 1.0),
        )
        for key, mine in of.items()
    ]
    return tuple(sorted(out, key=lambda x: (-len(x.back), -x.repairs, x.action)))
