"""Which check finds it: detection yield of each technique, and technique against technique.

Only counted cases tell: there the true place is known. A step *covers* a leak when one of its places
is the component or an area that holds it. Of the steps that cover, one found it (a lead, a section, the
spot or its confirmation) or missed it (clean). False alarms are counted over all active cases.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import combinations

from leaklore.analysis import costs
from leaklore.analysis.intervals import FEW, Share, Spread, mcnemar_exact, spread, wilson
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import Case, SearchStep

FOUND = frozenset({"lead", "section", "pinpointed", "confirmed"})


@dataclass(frozen=True, slots=True)
class TechniqueSummary:
    """How a technique did; counts are search steps, `minutes` a spread over steps (min)."""

    technique: str
    used: int
    covered: int
    found: int
    leads: int
    pinpointed: int
    missed: int
    false_alarms: int
    yield_: Share | None
    minutes: Spread | None
    found_cases: tuple[Case, ...] = ()
    missed_cases: tuple[Case, ...] = ()
    false_alarm_cases: tuple[Case, ...] = ()


@dataclass(frozen=True, slots=True)
class Versus:
    """Two techniques used on the same leak: in how many each found or missed it.

    `p` is the exact two-sided McNemar p over the pairs that disagree.
    """

    first: str
    second: str
    both: int
    only_first: int
    only_second: int
    neither: int
    p: float
    only_first_cases: tuple[Case, ...] = ()
    only_second_cases: tuple[Case, ...] = ()

    @property
    def pairs(self) -> int:
        """Leaks on which both were used."""
        return self.both + self.only_first + self.only_second + self.neither

    @property
    def few(self) -> bool:
        """Too few pairs for a finding?"""
        return self.pairs < FEW

    @property
    def better(self) -> str | None:
        """The one that found more, where chance alone hardly explains it (p < 0.05, enough pairs)."""
        if self.few or self.p >= 0.05:
            return None
        return self.first if self.only_first > self.only_second else self.second


@dataclass(frozen=True, slots=True)
class Avoided:
    """Section isolations that a detector made unnecessary, at the median cost of the company's own."""

    cases: tuple[Case, ...]
    cost: Spread | None
    by: Mapping[str, int] = field(default_factory=dict)

    @property
    def saved(self) -> float | None:
        """Cases times the median cost, in the company's currency."""
        return len(self.cases) * self.cost.median if self.cost else None


def covered(step: SearchStep, case: Case, guide: Guide) -> frozenset[str]:
    """Proven leaks of the case that the step covered."""
    inside = guide.inside  # as guide.covers, which is too slow to be called for every place
    return frozenset(
        component
        for component in case.proven_components
        if component in step.at or any(component in inside.get(place, ()) for place in step.at)
    )


def _once(cases: Iterable[Case]) -> tuple[Case, ...]:
    return tuple({case.id: case for case in cases}.values())


def technique_summaries(library: Library) -> dict[str, TechniqueSummary]:
    """One summary for each technique of the guide."""
    used: dict[str, int] = defaultdict(int)
    minutes: dict[str, list[float]] = defaultdict(list)
    found: dict[str, list[tuple[Case, SearchStep]]] = defaultdict(list)
    missed: dict[str, list[Case]] = defaultdict(list)
    alarms: dict[str, list[Case]] = defaultdict(list)
    for case in library.active:
        for step in case.search:
            used[step.technique] += 1
            minutes[step.technique].append(step.minutes)
            if step.result == "false-alarm":
                alarms[step.technique].append(case)
            elif case.counted and covered(step, case, library.guide):
                if step.result in FOUND:
                    found[step.technique].append((case, step))
                else:
                    missed[step.technique].append(case)
    out = {}
    for key in library.guide.techniques:
        hits = found[key]
        out[key] = TechniqueSummary(
            technique=key,
            used=used[key],
            covered=len(hits) + len(missed[key]),
            found=len(hits),
            leads=sum(s.result == "lead" for _, s in hits),
            pinpointed=sum(s.result in ("pinpointed", "confirmed") for _, s in hits),
            missed=len(missed[key]),
            false_alarms=len(alarms[key]),
            yield_=wilson(len(hits), len(hits) + len(missed[key])),
            minutes=spread(minutes[key]),
            found_cases=_once(c for c, _ in hits),
            missed_cases=_once(missed[key]),
            false_alarm_cases=_once(alarms[key]),
        )
    return out


def outcomes(case: Case, guide: Guide) -> dict[tuple[str, str], bool]:
    """(component, technique) -> was the leak found by it? Over a case's proven leaks and what covered them."""
    out: dict[tuple[str, str], bool] = {}
    for step in case.search:
        if step.result == "false-alarm":
            continue
        for component in covered(step, case, guide):
            key = component, step.technique
            out[key] = out.get(key, False) or step.result in FOUND
    return out


def versus(library: Library) -> list[Versus]:
    """Every pair of techniques used on the same leak, most pairs first."""
    order = {key: i for i, key in enumerate(library.guide.techniques)}
    tables: dict[tuple[str, str], dict[tuple[bool, bool], list[Case]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for case in library.counted:
        found = outcomes(case, library.guide)
        for component in sorted(case.proven_components):
            here = sorted((t for c, t in found if c == component), key=lambda t: order.get(t, 99))
            for a, b in combinations(here, 2):
                tables[a, b][found[component, a], found[component, b]].append(case)
    pairs = []
    for (a, b), table in tables.items():
        only_a, only_b = table[True, False], table[False, True]
        pairs.append(
            Versus(
                a,
                b,
                both=len(table[True, True]),
                only_first=len(only_a),
                only_second=len(only_b),
                neither=len(table[False, False]),
                p=mcnemar_exact(len(only_a), len(only_b)),
                only_first_cases=tuple(only_a),
                only_second_cases=tuple(only_b),
            )
        )
    return sorted(pairs, key=lambda v: (-v.pairs, v.first, v.second))


def isolations_avoided(library: Library) -> Avoided:
    """Isolation tests that a detector made unnecessary, priced by the company's own isolations."""
    cases = tuple(c for c in library.counted if c.avoided and c.avoided.technique == "section-isolation")
    own = [
        costs.step_cost(step, library.company, library.guide)
        for case in library.active
        for step in case.search
        if step.technique == "section-isolation" and library.company.labour_rate is not None
    ]
    by: dict[str, int] = defaultdict(int)
    for case in cases:
        assert case.avoided is not None
        by[case.avoided.because] += 1
    return Avoided(cases, spread(own), dict(sorted(by.items(), key=lambda kv: (-kv[1], kv[0]))))
