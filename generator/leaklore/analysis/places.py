"""Where it may leak: every failure mode at every place that is known for it, on that kind of equipment."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from leaklore.analysis.evidence import Evidence
from leaklore.records.guide import Guide
from leaklore.records.model import Case

LISTED = 4000
"""Weight that the guide's places of a mode share, in thousandths of a case (judgement)."""
SAME_KIND = 2000
"""Extra weight of a case on the same kind of equipment."""
ELSEWHERE = 0.2
"""What is left of a place when somebody says that it shows at another (judgement)."""
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
    """All spots, in the order of the modes; `inside` area -> what it holds; `on` component -> kinds, empty: all."""

    spots: tuple[Spot, ...]
    inside: Mapping[str, frozenset[str]]
    on: Mapping[str, frozenset[str]]

    @cached_property
    def by_mode(self) -> Mapping[str, tuple[Spot, ...]]:
        """Spots of each mode."""
        out: dict[str, list[Spot]] = {}
        for spot in self.spots:
            out.setdefault(spot.mode, []).append(spot)
        return {mode: tuple(spots) for mode, spots in out.items()}

    def fits(self, place: str, kind: str | None) -> bool:
        """Can that place be on that kind of equipment?"""
        kinds = self.on.get(place)
        return kind is None or not kinds or kind in kinds

    def covers(self, place: str, component: str) -> bool:
        """Does a look at `place` cover `component`?"""
        return place == component or component in self.inside.get(place, frozenset())

    def within(self, places: Iterable[str]) -> set[str]:
        """All that looks at these places cover."""
        out = set(places)
        return out.union(*(self.inside.get(place, ()) for place in out))

    def shares(self, mode: str, kind: str | None) -> list[tuple[str, float]]:
        """(component, share) of a mode on a kind of equipment; shares sum to 1."""
        spots = self.by_mode.get(mode, ())
        fitting = [s for s in spots if self.fits(s.component, kind)] or list(spots)
        weights = [s.weight + (s.extra.get(kind, 0) if kind else 0) for s in fitting]
        total = sum(weights)
        return [(s.component, w / total) for s, w in zip(fitting, weights, strict=True)]

    def joint(self, modes: Sequence[str], weights: Sequence[float], evidence: Evidence) -> list[Hypothesis]:
        """Weight of each mode at each place, from the modes' weights and the places that were named."""
        out = []
        for mode, weight in zip(modes, weights, strict=True):
            for component, share in self.shares(mode, evidence.kind):
                w = weight * share
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
    return PlaceModel(tuple(spots), dict(guide.inside), on)
