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

    def known(self, technique: str, place: str) -> Mapping[str, int]:
        """How often in a thousand a check there shows a leak of each mode."""
        return self.detection.chance[technique][self.level(place)]

    def chance(self, technique: str, place: str, hypothesis: Hypothesis, hand: float) -> float:
        """Chance that a check shows the leak if it is this one; 0 where it does not cover the place."""
        if not self.places.covers(place, hypothesis.component):
            return 0.0
        return self.known(technique, place).get(hypothesis.mode, 0) / 1000 * hand

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
        layout = self.layout(joint, evidence.kinds)
        heavy = evidence.refrigerant not in self.light
        made = [
            layout.row(key, hand, heavy, self.limit(key, evidence)[1])
            for key in self.techniques
            if (hand := self.hand(key, evidence)) != 0
        ]
        candidates = tuple(c for row, _ in made for c in row)
        board = Board(self, candidates, len(joint))
        board.__dict__["chances"] = np.concatenate(
            [np.zeros((0, len(joint))), *(chances for _, chances in made)]
        )
        return board

    def layout(self, joint: Sequence[Hypothesis], kinds: tuple[str, ...]) -> Layout:
        """Which techniques fit where, against these leaks; made once for all that differ in their weights only."""
        key = kinds, tuple((h.mode, h.component) for h in joint)
        found = self._layouts.get(key)
        if found is None:
            found = self._layouts[key] = Layout(self, key[1], kinds)
        return found

    @cached_property
    def _layouts(self) -> dict[tuple[tuple[str, ...], tuple[tuple[str, str], ...]], Layout]:
        return {}

    def __getstate__(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "_layouts"}

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


Row = tuple[tuple[Candidate, ...], npt.NDArray[np.float64]]
"""A technique at all its places, and its chances [place, hypothesis]."""


class Layout:
    """Techniques and places on equipment of one of some kinds against leaks (mode, component), whatever their weights."""

    def __init__(self, order: Order, leaks: Sequence[tuple[str, str]], kinds: tuple[str, ...]) -> None:
        self.order, self.kinds = order, kinds
        self.modes = [mode for mode, _ in leaks]
        self.parts = [component for _, component in leaks]
        self.places = [p for p in sorted(set(self.parts) | order.areas) if order.places.fits(p, kinds)]
        self._inside: dict[str, tuple[int, ...]] = {}
        self._has: dict[str, tuple[float, ...]] = {}
        self._rows: dict[tuple[str, float, bool, str], Row] = {}

    def within(self, place: str) -> tuple[int, ...]:
        """Numbers of the leaks that a look at a place covers."""
        found = self._inside.get(place)
        if found is None:
            covered = self.order.places.within((place,))
            found = tuple(i for i, part in enumerate(self.parts) if part in covered)
            self._inside[place] = found
        return found

    def has(self, place: str) -> tuple[float, ...]:
        """How likely the unit has that place, for each of the leaks that a look at it covers."""
        found = self._has.get(place)
        if found is None:
            has = self.order.places.has
            found = tuple(has(place, self.parts[i], self.kinds) for i in self.within(place))
            self._has[place] = found
        return found

    def row(self, technique: str, hand: float, heavy: bool, verdict: str) -> Row:
        """A technique at every place that it fits; `hand` as of `Order.hand`, `verdict` of its limit."""
        key = technique, hand, heavy, verdict
        found = self._rows.get(key)
        if found is None:
            found = self._rows[key] = self._row(*key)
        return found

    def _row(self, technique: str, hand: float, heavy: bool, verdict: str) -> Row:
        order = self.order
        used_on = order.rules["places"].get(technique, ())
        never = order.rules["not_at"].get(technique, ())
        made, chances = [], []
        for place in self.places:
            level, inside = order.level(place), self.within(place)
            if level not in used_on or not inside or place in never:
                continue
            known = order.detection.chance[technique][level]
            shows = tuple(
                (i, known.get(self.modes[i], 0) / 1000 * hand * has)
                for i, has in zip(inside, self.has(place), strict=True)
            )
            made.append(self._candidate(technique, place, level, shows, heavy, verdict))
            line = np.zeros(len(self.modes))
            line[list(inside)] = [d for _, d in shows]
            chances.append(line)
        return tuple(made), np.array(chances).reshape(len(made), len(self.modes))

    def _candidate(
        self,
        key: str,
        place: str,
        level: str,
        chances: tuple[tuple[int, float], ...],
        heavy: bool,
        verdict: str,
    ) -> Candidate:
        order, rules = self.order, self.order.rules
        facts = order.techniques[key]
        worth = 1.0 if facts.finds == "points" and level == "part" else float(rules["sign"])
        worth *= float(rules["disturbs"]) ** max(facts.disturbs - 1, 0)
        why = []
        if heavy and place in order.low and key in rules["sniffs"]:
            worth *= rules["low_first"]
            why.append("low-first")
        if key == "visual" and any(order.places.covers(place, p) for p in order.covered):
            why.append("look-first")
        if verdict in ("at-limit", "too-small"):
            why.append(verdict)
        first, later = order.detection.minutes[key][level]
        strips = place in order.covered and key in rules["touches"]
        more = rules["strip_minutes"] if strips else 0
        return Candidate(
            key, place, chances, worth, first / 1000 + more, later / 1000 + more, strips, tuple(why)
        )


class _Columns:
    """What `Board.pick` reads of all candidates at once."""

    def __init__(self, candidates: Sequence[Candidate]) -> None:
        self.worth = np.array([c.worth for c in candidates])
        self.first = np.array([c.first for c in candidates])
        self.later = np.array([c.later for c in candidates])
        self.number = {(c.technique, c.place): n for n, c in enumerate(candidates)}
        self.strips = [(n, c.place) for n, c in enumerate(candidates) if c.strips]
        self.of: dict[str, list[int]] = {}
        for n, c in enumerate(candidates):
            self.of.setdefault(c.technique, []).append(n)


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

    @cached_property
    def _columns(self) -> _Columns:
        return _Columns(self.candidates)

    def pick(self, weights: npt.NDArray[np.float64], state: State) -> tuple[int, Next] | None:
        """The best check now: (number of the candidate, check); None where none could show anything."""
        rules, places, columns = self.order.rules, self.order.places, self._columns
        total = weights.sum()
        if total <= 0 or not self.candidates:
            return None
        found = self.chances @ weights / total
        minutes = columns.first
        used = [n for technique in state.used for n in columns.of.get(technique, ())]
        if used:
            minutes = minutes.copy()
            minutes[used] = columns.later[used]
        values = found * columns.worth / minutes
        if columns.strips:
            looked = places.within(state.seen)
            values[[n for n, place in columns.strips if place not in looked]] *= rules["look_first"]
        open_ = found >= LEAST
        open_[[columns.number[key] for key in state.done if key in columns.number]] = False
        surveys = columns.of.get("air-survey", [])
        if state.gauges_on:
            open_[surveys] = False  # hoses have put gas into the air
        values[~open_] = -1.0
        best = _first_best(values)
        if best < 0:
            return None
        chosen, why = best, self.candidates[best].why
        fresh = not state.found and "air-survey" not in state.used
        if fresh and surveys and self.candidates[best].technique in rules["survey_before"]:
            at = _first_best(values[surveys])
            if at >= 0 and values[surveys[at]] >= rules["survey_share"] * values[best] * (1 - NEAR):
                chosen = surveys[at]
                why = (*self.candidates[chosen].why, "before-gauges")
        c = self.candidates[chosen]
        return chosen, Next(
            c.technique, c.place, float(found[chosen]), float(minutes[chosen]), float(values[chosen]), why
        )


def _first_best(values: npt.NDArray[np.float64]) -> int:
    """The number of the largest value, the first of those that are equal to NEAR; -1 where none is 0 or more."""
    top = float(values.max(initial=-1.0))
    if top < 0:
        return -1
    best, most = -1, 0.0
    for n in np.flatnonzero(values >= top * (1 - 1000 * NEAR)).tolist():
        value = float(values[n])
        if best < 0 or value > most * (1 + NEAR):
            best, most = n, value
    return best


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
