"""What to check next: checks ordered by their chance to find the leak a minute, replanned after every result.

Greedy by chance over cost is the best order for a search among separate boxes (Blackwell; see Matula, Am. Math.
Monthly 71, 1964; from memory); ours overlap (an area holds parts), so it is near the best. On top come the
trade's own rules of order (trade/practice.yaml, `order`): an air survey before gauges are connected, looking
before stripping, low places first for a heavy vapour, what disturbs little before what disturbs much; and
what a technique can't see at the leak's rate isn't offered for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from leaklore.analysis.detection import LEVELS, Detection
from leaklore.analysis.evidence import Check, Evidence
from leaklore.analysis.places import Hypothesis, PlaceModel

LEAST = 1e-3
"""A check with a smaller chance than this is not offered."""
AHEAD = 12
FALSE_SIGN = 0.02
"""Weight left to a place that a find did not cover: instruments do cry wolf (judgement)."""
SMALLEST_FIND = 0.02
"""Chance taken for a find where the technique is thought blind: it was found after all."""
NEAR = 1e-9
"""Values of checks nearer than this share are equal: no rounding decides, here and in the browser alike."""


@dataclass(frozen=True, slots=True)
class TechniqueFacts:
    """What the order knows of a technique; `sees` refrigerant -> smallest leak in kg/yr, 0 where it is blind.

    `usual` is the mean factor of its limits over leaks of the library, for a leak whose rate nobody knows.
    """

    key: str
    finds: str
    order: int
    disturbs: int
    sees: Mapping[str, float]
    usual: float = 1.0


def judged(
    facts: TechniqueFacts,
    refrigerant: str | None,
    rate: float | None,
    limits: Mapping[str, float],
    comfortable: float,
) -> tuple[float, str]:
    """(factor, verdict) of a technique for a leak of `rate` kg/yr; the usual factor where rate or gas is unknown."""
    smallest = facts.sees.get(refrigerant or "")
    if smallest == 0:
        return limits["blind"], "blind"
    if smallest is None or rate is None:
        return facts.usual, ""
    margin = rate / smallest
    verdict = "sees" if margin >= comfortable else "at-limit" if margin >= 1 else "too-small"
    return limits[verdict], verdict


@dataclass(frozen=True, slots=True)
class Next:
    """A check to make: chance that it shows something when its turn comes, minutes, and the rules that moved it."""

    technique: str
    at: str
    probability: float
    minutes: float
    value: float
    why: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """Checks in order; `minutes` expected until the first sign, `missed` chance that none of them shows it."""

    checks: tuple[Next, ...]
    minutes: float
    missed: float


@dataclass(frozen=True)
class Order:
    """Plans checks. `rules` is `order` of practice.yaml; `low` and `covered` name places; `heavy` refrigerants."""

    places: PlaceModel
    detection: Detection
    techniques: Mapping[str, TechniqueFacts]
    rules: Mapping[str, Any]
    areas: frozenset[str]
    low: frozenset[str]
    covered: frozenset[str]
    light: frozenset[str] = field(default=frozenset())
    comfortable: float = 3.0

    def opens(self, technique: str) -> bool:
        """Does it connect gauges or let gas out?"""
        facts = self.techniques.get(technique)
        return facts is not None and facts.disturbs >= int(self.rules["opens_gauges"])

    def level(self, place: str) -> str:
        """part or area."""
        return LEVELS[1] if place in self.areas else LEVELS[0]

    def limit(self, technique: str, evidence: Evidence) -> tuple[float, str]:
        """(factor, verdict) of a technique for the leak's rate and refrigerant; no verdict where one is not known."""
        facts = self.techniques[technique]
        return judged(facts, evidence.refrigerant, evidence.rate, self.rules["limits"], self.comfortable)

    def hand(self, technique: str, evidence: Evidence) -> float:
        """Factor on a technique's chances from limits, conditions and an empty circuit."""
        factor, _ = self.limit(technique, evidence)
        fooled: Mapping[str, float] = self.rules["fooled"].get(technique, {})
        for condition in sorted(evidence.conditions):
            factor *= fooled.get(condition, 1.0)
        if technique in self.rules["sniffs"] and evidence.symptoms & set(self.rules["empty_when"]):
            factor *= self.rules["empty"]
        return factor

    def chance(self, technique: str, place: str, hypothesis: Hypothesis, hand: float) -> float:
        """Chance that a check shows the leak if it is this one; 0 where it does not cover the place."""
        if not self.places.covers(place, hypothesis.component):
            return 0.0
        known = self.detection.chance[technique][self.level(place)].get(hypothesis.mode, 0)
        return known / 1000 * hand

    def update(self, joint: Sequence[Hypothesis], check: Check, evidence: Evidence) -> list[Hypothesis]:
        """Weights after a check: a clean place loses weight by the chance to have found it, a find gains."""
        if check.result == "skip" or check.technique not in self.techniques:
            return list(joint)
        hand = self.hand(check.technique, evidence)
        out = []
        for h in joint:
            missed, covers = 1.0, False
            for place in check.at:
                if self.places.covers(place, h.component):
                    covers = True
                    missed *= 1 - self.chance(check.technique, place, h, hand)
            if check.result == "clean":
                out.append(Hypothesis(h.mode, h.component, h.weight * missed))
            else:
                sign = max(1 - missed, SMALLEST_FIND) if covers else FALSE_SIGN * SMALLEST_FIND
                out.append(Hypothesis(h.mode, h.component, h.weight * sign))
        return out

    def board(self, joint: Sequence[Hypothesis], evidence: Evidence) -> Board:
        """Every technique at every place that fits the equipment and could show one of these leaks."""
        places = sorted({h.component for h in joint} | self.areas)
        places = [p for p in places if self.places.fits(p, evidence.kind)]
        inside = {p: [i for i, h in enumerate(joint) if self.places.covers(p, h.component)] for p in places}
        found = []
        for key, facts in self.techniques.items():
            hand = self.hand(key, evidence)
            if hand == 0:
                continue
            used_on, never = self.rules["places"].get(key, ()), self.rules["not_at"].get(key, ())
            for place in places:
                level = self.level(place)
                if level not in used_on or not inside[place] or place in never:
                    continue
                known = self.detection.chance[key][level]
                chances = tuple((i, known.get(joint[i].mode, 0) / 1000 * hand) for i in inside[place])
                found.append(self._candidate(facts, place, level, chances, evidence))
        return Board(self, tuple(found), len(joint))

    def _candidate(
        self,
        facts: TechniqueFacts,
        place: str,
        level: str,
        chances: tuple[tuple[int, float], ...],
        evidence: Evidence,
    ) -> Candidate:
        rules, key = self.rules, facts.key
        worth = 1.0 if facts.finds == "points" and level == "part" else float(rules["sign"])
        worth *= float(rules["disturbs"]) ** max(facts.disturbs - 1, 0)
        why = []
        heavy = evidence.refrigerant not in self.light
        if heavy and place in self.low and key in rules["sniffs"]:
            worth *= rules["low_first"]
            why.append("low-first")
        if key == "visual" and any(self.places.covers(place, p) for p in self.covered):
            why.append("look-first")
        verdict = self.limit(key, evidence)[1]
        if verdict in ("at-limit", "too-small"):
            why.append(verdict)
        first, later = self.detection.minutes[key][level]
        strips = place in self.covered and key in rules["touches"]
        more = rules["strip_minutes"] if strips else 0
        return Candidate(
            key, place, chances, worth, first / 1000 + more, later / 1000 + more, strips, tuple(why)
        )

    def plan(self, joint: Sequence[Hypothesis], evidence: Evidence, ahead: int = AHEAD) -> Plan:
        """The next checks, each chosen as if those before it had been clean."""
        weights = np.array([h.weight for h in joint])
        if weights.sum() <= 0:
            return Plan((), 0.0, 1.0)
        board, state = self.board(joint, evidence), State.after(evidence.checks, self)
        checks: list[Next] = []
        expected, missed = 0.0, 1.0
        while len(checks) < ahead:
            picked = board.pick(weights, state)
            if picked is None:
                break
            number, nxt = picked
            checks.append(nxt)
            expected += missed * nxt.minutes
            missed *= 1 - nxt.probability
            weights = weights * board.misses[number]
            state = state.made(nxt.technique, nxt.at, self)
        return Plan(tuple(checks), expected, missed)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A technique at a place: chances by number of the hypothesis, worth of a find, minutes, rules that moved it."""

    technique: str
    place: str
    chances: tuple[tuple[int, float], ...]
    worth: float
    first: float
    later: float
    strips: bool
    why: tuple[str, ...]


@dataclass(frozen=True)
class Board:
    """All checks that could be made at a unit, against `size` hypotheses."""

    order: Order
    candidates: tuple[Candidate, ...]
    size: int

    @cached_property
    def chances(self) -> npt.NDArray[np.float64]:
        """[candidate, hypothesis]"""
        out = np.zeros((len(self.candidates), self.size))
        for row, c in enumerate(self.candidates):
            for i, d in c.chances:
                out[row, i] = d
        return out

    @cached_property
    def misses(self) -> npt.NDArray[np.float64]:
        """1 - chances."""
        return 1 - self.chances

    def pick(self, weights: npt.NDArray[np.float64], state: State) -> tuple[int, Next] | None:
        """The best check now: (number of the candidate, check); None where none could show anything."""
        rules, places = self.order.rules, self.order.places
        total = weights.sum()
        if total <= 0:
            return None
        found = self.chances @ weights / total
        best = survey = -1
        values = [0.0] * len(found)
        for n, (c, p) in enumerate(zip(self.candidates, found.tolist(), strict=True)):
            if p < LEAST or (c.technique, c.place) in state.done:
                continue
            if c.technique == "air-survey" and state.gauges_on:
                continue  # hoses have put gas into the air
            value = p * c.worth / (c.later if c.technique in state.used else c.first)
            if c.strips and not state.looked(c.place, places):
                value *= rules["look_first"]
            values[n] = value
            if best < 0 or value > values[best] * (1 + NEAR):
                best = n
            if c.technique == "air-survey" and (survey < 0 or value > values[survey] * (1 + NEAR)):
                survey = n
        if best < 0:
            return None
        chosen, why = best, self.candidates[best].why
        fresh = not state.found and "air-survey" not in state.used
        fresh = fresh and self.candidates[best].technique in rules["survey_before"]
        if survey >= 0 and fresh and values[survey] >= rules["survey_share"] * values[best] * (1 - NEAR):
            chosen, why = survey, (*self.candidates[survey].why, "before-gauges")
        c = self.candidates[chosen]
        minutes = c.later if c.technique in state.used else c.first
        return chosen, Next(c.technique, c.place, float(found[chosen]), minutes, values[chosen], why)


@dataclass(frozen=True, slots=True)
class State:
    """What has been done: checks, techniques set up, places looked at, gauges on or not, anything found or not."""

    done: frozenset[tuple[str, str]]
    used: frozenset[str]
    seen: frozenset[str]
    gauges_on: bool
    found: bool

    @classmethod
    def after(cls, checks: Sequence[Check], order: Order) -> State:
        """From the checks made and skipped."""
        made = [c for c in checks if c.result != "skip"]
        return cls(
            frozenset((c.technique, p) for c in checks for p in c.at),
            frozenset(c.technique for c in made),
            frozenset(p for c in made if c.technique == "visual" for p in c.at),
            any(order.opens(c.technique) for c in made),
            any(c.result == "found" for c in made),
        )

    def made(self, technique: str, place: str, order: Order) -> State:
        """After one more check."""
        return State(
            self.done | {(technique, place)},
            self.used | {technique},
            self.seen | {place} if technique == "visual" else self.seen,
            self.gauges_on or order.opens(technique),
            self.found,
        )

    def looked(self, place: str, places: PlaceModel) -> bool:
        """Has the eye been at that place, or over the area that holds it?"""
        return any(places.covers(p, place) for p in self.seen)
