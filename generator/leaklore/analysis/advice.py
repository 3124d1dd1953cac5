"""From findings to causes and the next check: the four models of a library put together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from leaklore.analysis import causes, detection, places
from leaklore.analysis.causes import CauseModel, Findings
from leaklore.analysis.detection import Step, steps_of
from leaklore.analysis.evidence import Check, Evidence
from leaklore.analysis.order import Order, Plan, TechniqueFacts, judged
from leaklore.analysis.places import Hypothesis
from leaklore.language import later
from leaklore.records.guide import Guide
from leaklore.records.model import YEAR, Case
from leaklore.trade import data, flow, refrigerants

DIGITS = 12
"""Digits to which probabilities are told apart, so that no rounding decides an order."""
UNSURE = 0.25
"""No cause above this: we don't know (judgement)."""
WORDS = (
    (0.75, later("very likely")),
    (0.5, later("likely")),
    (0.25, later("possible")),
    (0.1, later("less likely")),
    (0.0, later("unlikely")),
)
"""Probability in words, from which one on (judgement)."""


@dataclass(frozen=True, slots=True)
class RankedCause:
    """A failure mode with its probability and where it would sit, likeliest places first."""

    mode: str
    probability: float
    places: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Advice:
    """Causes, likeliest first, and the plan of checks. `known` is False where nothing tells causes apart."""

    causes: tuple[RankedCause, ...]
    plan: Plan
    known: bool


@dataclass(frozen=True)
class Adviser:
    """Ranks causes and plans checks for one library."""

    causes: CauseModel
    order: Order

    def joint(self, evidence: Evidence) -> list[Hypothesis]:
        """Every mode at every place with its probability, after findings and checks."""
        found = self.order.places.joint(self.causes.modes, self.causes.weigh(evidence), evidence)
        for check in evidence.checks:
            found = self.order.update(found, check, evidence)
        total = sum(h.weight for h in found)
        if total <= 0:
            return found
        return [replace(h, weight=h.weight / total) for h in found]

    def rank(self, joint: Sequence[Hypothesis]) -> tuple[RankedCause, ...]:
        """Modes by probability; of equals, to DIGITS digits, the guide's order."""
        by_mode: dict[str, list[Hypothesis]] = {mode: [] for mode in self.causes.modes}
        for h in joint:
            by_mode[h.mode].append(h)
        out = []
        for mode, spots in by_mode.items():
            p = sum(h.weight for h in spots)
            ranked = sorted(spots, key=lambda h: (-round(h.weight, DIGITS), h.component))
            out.append(RankedCause(mode, p, tuple((h.component, h.weight) for h in ranked)))
        index = self.causes.index
        return tuple(sorted(out, key=lambda c: (-round(c.probability, DIGITS), index[c.mode])))

    def advise(self, evidence: Evidence) -> Advice:
        """All of it."""
        evidence = replace(evidence, kinds=self.order.places.kinds_for(evidence))
        joint = self.joint(evidence)
        ranked = self.rank(joint)
        said = bool(evidence.symptoms or evidence.absent or evidence.places or evidence.checks)
        return Advice(ranked, self.order.plan(joint, evidence), said and ranked[0].probability >= UNSURE)

    def without_find(self, evidence: Evidence) -> Evidence:
        """The same unit after a leak was found and set right: what was found no longer explains the loss.

        A second leak is looked for elsewhere: the places of finds count as clean and as not the place, and where
        it showed no longer draws, but still tells what the unit has.
        """
        kinds = self.order.places.kinds_for(evidence)
        found = tuple(c.at for c in evidence.checks if c.result == "found")
        kept = tuple(Check(c.technique, c.at, "clean") if c.result == "found" else c for c in evidence.checks)
        not_places = (*evidence.not_places, *found)
        return replace(evidence, kinds=kinds, checks=kept, places=(), not_places=not_places)


def technique_facts(guide: Guide, counted: Sequence[Case] = ()) -> dict[str, TechniqueFacts]:
    """Facts of the techniques that leaks are looked for with; the smallest leaks are those of the trade's table."""
    known = data.load("techniques")["techniques"]
    out = {}
    gases = {key: refrigerants.of(entry.facts) for key, entry in guide.refrigerants.items()}
    rates: dict[str, list[float]] = {}
    for case in counted:
        if case.leak_rate is not None and case.equipment.refrigerant:
            rates.setdefault(case.equipment.refrigerant, []).append(case.leak_rate * YEAR)
    for key, entry in guide.techniques.items():
        limit = known.get(key, {})
        sees: dict[str, float] = {}
        for name, gas in gases.items():
            if name in limit.get("blind_to", ()):
                sees[name] = 0.0
            elif limit.get("by") == "mass":
                sees[name] = float(limit["smallest"]) / 1000
            elif limit.get("by") == "throughput":
                sees[name] = round(flow.mass_rate(float(limit["smallest"]), gas.molar_mass) * YEAR, 9)
        facts = TechniqueFacts(key, str(entry["finds"]), int(entry["order"]), int(entry["disturbs"]), sees)
        out[key] = replace(facts, usual=_usual(facts, rates))
    return out


def _usual(facts: TechniqueFacts, rates: Mapping[str, Sequence[float]]) -> float:
    """Mean factor of a technique's limits over leaks, kg/yr by refrigerant; 1 without any."""
    limits: Mapping[str, float] = data.load("practice")["order"]["limits"]
    comfortable = float(data.load("techniques")["comfortable"])
    found = Counter(
        factor
        for gas, smallest in facts.sees.items()
        if smallest > 0
        for rate in rates.get(gas, ())
        for factor, _ in (judged(facts, gas, rate, limits, comfortable),)
    )
    return round(sum(factor * n for factor, n in found.items()) / found.total(), 6) if found else 1.0


class Known:
    """What the models read of each case, found once for all fits that leave some cases out."""

    def __init__(self, guide: Guide) -> None:
        self.guide = guide
        self._findings: dict[str, Findings] = {}
        self._steps: dict[str, tuple[Step, ...]] = {}
        self._one: dict[Any, Any] = {}

    def findings(self, case: Case) -> Findings:
        """As causes.findings_of."""
        found = self._findings.get(case.id)
        if found is None:
            same = self._one.setdefault
            found = self._findings[case.id] = tuple([same(f, f) for f in causes.findings_of(case)])
        return found

    def steps(self, case: Case) -> tuple[Step, ...]:
        """As detection.steps_of."""
        found = self._steps.get(case.id)
        if found is None:
            same = self._one.setdefault
            found = self._steps[case.id] = tuple([same(s, s) for s in steps_of(case, self.guide)])
        return found


def adviser(
    counted: Sequence[Case],
    active: Sequence[Case],
    guide: Guide,
    model: CauseModel | None = None,
    known: Known | None = None,
) -> Adviser:
    """Fits all models; `counted` are cases with a proven cause, `active` all whose search steps count.

    `known` is there where more than one is fitted to the same cases.
    """
    known = known or Known(guide)
    rules = data.load("practice")["order"]
    components = guide.components
    light = frozenset(
        key
        for key, e in guide.refrigerants.items()
        if refrigerants.of(e.facts).molar_mass < float(rules["air_mass"])
    )
    order = Order(
        places.fit(counted, guide),
        detection.fit(active, guide, known.steps),
        technique_facts(guide, counted),
        rules,
        areas=frozenset(k for k, e in components.items() if e["kind"] == "area"),
        low=frozenset(k for k, e in components.items() if e["low"]),
        covered=frozenset(k for k, e in components.items() if e["covered"]),
        light=light,
        comfortable=float(data.load("techniques")["comfortable"]),
    )
    return Adviser(model or causes.fit(counted, guide, known.findings), order)
