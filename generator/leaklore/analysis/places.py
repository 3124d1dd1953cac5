"""Where it may leak: every failure mode at every place that is known for it, on that kind of equipment."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from leaklore.analysis.evidence import Evidence
from leaklore.records.guide import Guide
from leaklore.records.model import Case

LISTED = 4000
"""Weight that the guide's places of a mode share, in thousandths of a case (judgement)."""
SAME_KIND = 2000
"""Extra weight of a case on the same kind of equipment."""
ELSEWHERE = 0.1
"""What is left of a place when somebody says that it shows at another.

Judgement: of 34 signs that the eye met at a place in the demo's searches 31 were the leak's; and it gives the causes and
places of the judged queries (tests/search/judged) more than 0.02 or 0.2 do.
"""
NOT_ON = 0.05
"""What is left of a cause that has no known place on the kind of equipment (judgement; the guide may list too few)."""
NOT_THERE = 0.3
"""What is left of a place that somebody says it is not (judgement)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One mode at one component; weights in thousandths of a case, `extra` by kind of equipment."""

    mode: str
    component: str
    weight: int
    extra: Mapping[str, int]


@dataclass(frozen=True)
class PlaceModel:
    """All spots, in the order of the modes; `inside` area -> what it holds; `on` component -> kinds, empty: all.

    `common` kind of equipment -> its cases.
    """

    spots: tuple[Spot, ...]
    inside: Mapping[str, frozenset[str]]
    on: Mapping[str, frozenset[str]]
    common: Mapping[str, int] = field(default_factory=dict)

    @cached_property
    def by_mode(self) -> Mapping[str, tuple[Spot, ...]]:
        """Spots of each mode."""
        out: dict[str, list[Spot]] = {}
        for spot in self.spots:
            out.setdefault(spot.mode, []).append(spot)
        return {mode: tuple(spots) for mode, spots in out.items()}

    def fits(self, place: str, kinds: Collection[str]) -> bool:
        """Can that place be on one of those kinds of equipment? Without kinds: on any."""
        on = self.on.get(place)
        return not kinds or not on or not on.isdisjoint(kinds)

    def has(self, place: str, component: str, kinds: Collection[str]) -> float:
        """How likely a unit of one of these kinds, which has the component, has the place, too: not each has a plant room."""
        on = self.on.get(place)
        if not on or place == component:
            return 1.0
        may_be = [kind for kind in kinds or self.common if self.fits(component, (kind,))]
        return self._met(kind for kind in may_be if kind in on) / self._met(may_be) if may_be else 1.0

    def _met(self, kinds: Iterable[str]) -> int:
        return sum(1 + self.common.get(kind, 0) for kind in kinds)

    def covers(self, place: str, component: str) -> bool:
        """Does a look at `place` cover `component`?"""
        return place == component or component in self.inside.get(place, frozenset())

    def within(self, places: Iterable[str]) -> set[str]:
        """All that looks at these places cover."""
        out = set(places)
        return out.union(*(self.inside.get(place, ()) for place in out))

    def kinds_for(self, evidence: Evidence) -> tuple[str, ...]:
        """The kind of equipment that was said; of several or none, those that have every place that was named or checked.

        Where no kind has all of them, those that were said; none where nothing tells.
        """
        if len(evidence.kinds) == 1:
            return evidence.kinds
        checked = ((place,) for check in evidence.checks if check.result != "skip" for place in check.at)
        having = [
            frozenset[str]().union(*(self.on[place] for place in meant))
            for meant in (*evidence.places, *checked)
            if all(self.on.get(place) for place in meant)
        ]
        if evidence.kinds:
            having.append(frozenset(evidence.kinds))
        return tuple(sorted(frozenset.intersection(*having) or evidence.kinds)) if having else ()

    def can_be_on(self, mode: str, kinds: Collection[str]) -> bool:
        """Has a mode a known place on one of those kinds of equipment?"""
        return any(self.fits(s.component, kinds) for s in self.by_mode.get(mode, ()))

    def left(self, mode: str, kinds: Collection[str]) -> float:
        """What is left of a mode on equipment of one of those kinds, for those on which it has no known place."""
        if not kinds:
            return 1.0
        able = self._met(kind for kind in kinds if self.can_be_on(mode, (kind,)))
        return NOT_ON + (1 - NOT_ON) * able / self._met(kinds)

    def shares(self, mode: str, kinds: Collection[str]) -> list[tuple[str, float]]:
        """(component, share) of a mode on equipment of one of those kinds; shares sum to 1."""
        spots = self.by_mode.get(mode, ())
        fitting = [s for s in spots if self.fits(s.component, kinds)] or list(spots)
        weights = [s.weight + sum(s.extra.get(kind, 0) for kind in kinds) for s in fitting]
        total = sum(weights)
        return [(s.component, w / total) for s, w in zip(fitting, weights, strict=True)]

    def _spread(self, mode: str, kinds: tuple[str, ...]) -> tuple[float, list[tuple[str, float]]]:
        found = self._spreads.get((mode, kinds))
        if found is None:
            found = self._spreads[mode, kinds] = self.left(mode, kinds), self.shares(mode, kinds)
        return found

    @cached_property
    def _spreads(self) -> dict[tuple[str, tuple[str, ...]], tuple[float, list[tuple[str, float]]]]:
        """`left` and `shares`, asked for again for every case."""
        return {}

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "_spreads"}

    def joint(self, modes: Sequence[str], weights: Sequence[float], evidence: Evidence) -> list[Hypothesis]:
        """Weight of each mode at each place, from the modes' weights and the places that were named."""
        out = []
        for mode, weight in zip(modes, weights, strict=True):
            left, shares = self._spread(mode, evidence.kinds)
            for component, share in shares:
                w = weight * left * share
                for named in evidence.places:
                    if not any(self.covers(p, component) for p in named):
                        w *= ELSEWHERE
                for named in evidence.not_places:
                    if any(self.covers(p, component) for p in named):
                        w *= NOT_THERE
                out.append(Hypothesis(mode, component, w))
        return out


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A mode at a component with its weight; weights are not normalised."""

    mode: str
    component: str
    weight: float


def fit(cases: Sequence[Case], guide: Guide) -> PlaceModel:
    """Places of each mode from the guide's lists and the proven causes of the cases."""
    seen: Counter[tuple[str, str]] = Counter()
    on_kind: Counter[tuple[str, str, str]] = Counter()
    for case in cases:
        for cause in {(c.mode, c.component) for c in case.causes if c.proof in ("point", "held")}:
            seen[cause] += 1
            if case.equipment.kind:
                on_kind[(*cause, case.equipment.kind)] += 1
    by_spot: dict[tuple[str, str], dict[str, int]] = {}
    for (mode, component, kind), n in sorted(on_kind.items()):
        by_spot.setdefault((mode, component), {})[kind] = SAME_KIND * n
    spots = []
    for mode, entry in guide.modes.items():
        listed = [c for c in (entry["components"] or ()) if c in guide.components]
        for component in sorted({*listed, *(c for m, c in seen if m == mode)}):
            weight = 1000 * seen[mode, component]
            if component in listed:
                weight += LISTED // len(listed)
            extra = by_spot.get((mode, component), {})
            spots.append(Spot(mode, component, weight, extra))
    on = {key: frozenset(e["kinds"] or ()) for key, e in guide.components.items()}
    common = Counter(case.equipment.kind for case in cases if case.equipment.kind)
    return PlaceModel(tuple(spots), dict(guide.inside), on, common)
