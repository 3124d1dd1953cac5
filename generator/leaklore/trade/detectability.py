"""Which technique can see this leak: its rate against each technique's smallest, ranked and with the reason.

A leak is given as refrigerant (kg/s) lost from the circuit at standstill. What the same hole passes as nitrogen
or air follows by the orifice and the laminar law (`flow.same_hole`); the smaller of the two counts, so that
a verdict "sees" is not owed to a favourable law.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from leaklore.trade import air, data, flow, pressure_test, vacuum
from leaklore.trade.data import Citation, citation
from leaklore.trade.gas import GasState, NoSaturation, Properties
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import (
    ATMOSPHERE,
    GRAM_PER_YEAR,
    HOUR,
    MICRON,
    OUNCE,
    ROOM_TEMPERATURE,
    OutOfRange,
    positive,
)

Verdict = Literal["sees", "at-limit", "no-number", "no-data", "too-small", "blind"]
RANK: tuple[Verdict, ...] = ("sees", "at-limit", "no-number", "no-data", "too-small", "blind")
FINDS = ("points", "narrows", "proves")
CRITICAL = "a temperature below the critical one"
NO_TABLE = "a temperature for which we hold a table of the vapour"
NO_PRESSURE = "pressure at rest above that of the air outside"
_PLAIN = 1e9
"""Figures from here on are told as powers."""
_DEEP = 1.0
"""Pa; inside of an evacuated circuit, as good as nothing against one atmosphere."""


@dataclass(frozen=True, slots=True)
class Situation:
    """The leak, and what is at hand to find it; fields None where unknown.

    `leak` kg/s of `refrigerant`; `temperature` K of the circuit at rest; `test_pressure` Pa absolute of
    nitrogen (or tracer mixture) if a test is made; `volume` m3 under test; `space` the room round the leak.
    The rest comes from techniques.yaml unless given: `hold` s, `gauge` Pa between two readings of one
    pressure, `temperature_uncertainty` K, `vacuum_hold` s, `vacuum_rise` Pa, `detector` and `background` mol/mol,
    `bag` m3, `bag_wait` s.
    """

    leak: float
    refrigerant: Refrigerant
    temperature: float = ROOM_TEMPERATURE
    test_pressure: float | None = None
    volume: float | None = None
    space: air.Space | None = None
    hold: float | None = None
    gauge: float | None = None
    temperature_uncertainty: float | None = None
    vacuum_hold: float | None = None
    vacuum_rise: float | None = None
    detector: float | None = None
    background: float | None = None
    bag: float | None = None
    bag_wait: float | None = None

    def setting(self, field: str, key: str, factor: float) -> float:
        """A field, or its default of techniques.yaml times `factor`."""
        given: float | None = getattr(self, field)
        return float(data.load("techniques")["defaults"][key]) * factor if given is None else given


@dataclass(frozen=True, slots=True)
class Sight:
    """Verdict on one technique.

    `leak` and `limit` in `unit` (g/yr, Pa m3/s or ppm), both None without a number; `margin` = leak / limit;
    `wait` s until it would show, where waiting helps; `missing` names what is needed to tell.
    """

    technique: str
    verdict: Verdict
    finds: str
    order: int
    source: Citation
    leak: float | None = None
    limit: float | None = None
    unit: str = ""
    wait: float | None = None
    missing: str = ""

    @property
    def margin(self) -> float | None:
        """How many times the smallest the leak is."""
        return None if self.leak is None or not self.limit else self.leak / self.limit


@dataclass(frozen=True, slots=True)
class _Flows:
    """The leak in other gases, Pa m3/s at the circuit's temperature; None where that can't be told, for want of `missing`."""

    refrigerant: float
    nitrogen: float | None
    inward: float | None
    missing: str = ""


def flows(situation: Situation, properties: Properties) -> _Flows:
    """The leak as throughput of refrigerant, of nitrogen at the test pressure, and of air into a vacuum."""
    t, refrigerant = situation.temperature, situation.refrigerant
    own = flow.throughput(positive("leak rate", situation.leak, "kg/s"), refrigerant.molar_mass, t)
    inside = _at_rest(properties, refrigerant, t)
    if isinstance(inside, str):
        return _Flows(own, None, None, inside)

    def other(gas: GasState, outside: float) -> float:
        passed = flow.same_hole(situation.leak, inside, gas, other_outside=outside)
        return flow.throughput(passed.low, gas.molar_mass, t)

    nitrogen = None
    if situation.test_pressure is not None:
        nitrogen = other(properties.nitrogen(t, situation.test_pressure), ATMOSPHERE)
    return _Flows(own, nitrogen, other(properties.nitrogen(t, ATMOSPHERE), _DEEP))


def _at_rest(properties: Properties, refrigerant: Refrigerant, temperature: float) -> GasState | str:
    """Vapour that comes out of the circuit at rest, or what is missing for it to be known."""
    pressure = properties.dew(refrigerant, temperature)
    if isinstance(pressure, NoSaturation):
        return CRITICAL
    if pressure <= ATMOSPHERE:
        return NO_PRESSURE
    try:
        return properties.vapour(refrigerant, temperature, pressure)
    except OutOfRange:  # near the critical point or above 55 degC no vapour table was made
        return NO_TABLE


@dataclass(frozen=True, slots=True)
class _Measured:
    leak: float
    limit: float
    unit: str
    wait: float | None = None


def _measure(by: str, smallest: float, situation: Situation, found: _Flows) -> _Measured | str:
    """Leak and limit in one unit, or the name of what is missing."""
    if found.missing == NO_PRESSURE:
        return found.missing
    if by == "mass":
        return _Measured(situation.leak / GRAM_PER_YEAR, smallest, "g/yr")
    if by == "throughput":
        return _Measured(max(found.refrigerant, found.nitrogen or 0.0), smallest, "Pa m3/s")
    if by in ("tracer", "standing", "sections"):
        if situation.test_pressure is None:
            return "the test pressure"
        if found.nitrogen is None:
            return found.missing
        if by == "tracer":
            return _Measured(found.nitrogen, smallest, "Pa m3/s")
        return _standing(by, situation, situation.test_pressure, found.nitrogen)
    if by == "vacuum":
        return _vacuum(situation, found)
    return _collected(by, situation)


def _standing(by: str, s: Situation, pressure: float, nitrogen: float) -> _Measured | str:
    if s.volume is None:
        return "the volume under test"
    share = float(data.load("techniques")["defaults"]["section_share"]) if by == "sections" else 1.0
    gauge, kelvin = (
        s.setting("gauge", "gauge_pa", 1.0),
        s.setting("temperature_uncertainty", "temperature_k", 1.0),
    )
    volume, hold = s.volume * share, s.setting("hold", "hold_hours", HOUR)
    limit = pressure_test.smallest_leak(volume, hold, gauge, pressure, s.temperature, kelvin)
    wait = pressure_test.time_to_see(nitrogen, volume, gauge, pressure, s.temperature, kelvin)
    return _Measured(nitrogen, limit, "Pa m3/s", wait.seconds)


def _vacuum(s: Situation, found: _Flows) -> _Measured | str:
    if s.volume is None:
        return "the volume under test"
    if found.inward is None:
        return found.missing
    rise = s.setting("vacuum_rise", "vacuum_micron", MICRON)
    limit = vacuum.rise_leak(s.volume, rise, s.setting("vacuum_hold", "vacuum_minutes", 60.0))
    return _Measured(found.inward, limit, "Pa m3/s", s.volume * rise / found.inward)


def _collected(by: str, s: Situation) -> _Measured | str:
    """Concentration in a room (at last) or a bag (after the wait) against the detector, in ppm."""
    vapour = air.vapour_flow(s.leak, s.refrigerant.molar_mass)
    background = s.setting("background", "background_ppm", 1e-6)
    needed = air.above_background(0.0, background, s.setting("detector", "detector_ppm", 1e-6)).needed
    if by == "bag":
        bag = air.Space(s.setting("bag", "bag_litres", 1e-3))
        reached = bag.after(vapour, s.setting("bag_wait", "bag_hours", HOUR))
        return _Measured(reached * 1e6, needed * 1e6, "ppm", bag.time_to(min(1.0, needed), vapour))
    if s.space is None:
        return "the room's volume and air change"
    if s.space.air <= 0:
        reached = s.space.after(vapour, 24 * HOUR)
        return _Measured(reached * 1e6, needed * 1e6, "ppm", s.space.time_to(min(1.0, needed), vapour))
    return _Measured(s.space.steady(vapour) * 1e6, needed * 1e6, "ppm")


@dataclass(frozen=True, slots=True)
class _Technique:
    """An entry of techniques.yaml; `smallest` in the unit of `by`, 0 where it has none."""

    key: str
    finds: str
    order: int
    source: Citation
    by: str
    smallest: float
    blind_to: frozenset[str]


@cache
def _techniques() -> tuple[_Technique, ...]:
    return tuple(
        _Technique(
            key,
            str(entry["finds"]),
            int(entry["order"]),
            citation(entry),
            str(entry["by"]),
            float(entry.get("smallest", 0.0)),
            frozenset(entry.get("blind_to", ())),
        )
        for key, entry in data.load("techniques")["techniques"].items()
    )


def _judge(technique: _Technique, situation: Situation, found: _Flows) -> Sight:
    key, finds, order, source = technique.key, technique.finds, technique.order, technique.source
    if situation.refrigerant.key in technique.blind_to:
        return Sight(key, "blind", finds, order, source)
    if technique.by == "none":
        return Sight(key, "no-number", finds, order, source)
    measured = _measure(technique.by, technique.smallest, situation, found)
    if isinstance(measured, str):
        return Sight(key, "no-data", finds, order, source, missing=measured)
    margin = measured.leak / measured.limit
    comfortable = float(data.load("techniques")["comfortable"])
    verdict: Verdict = "sees" if margin >= comfortable else "at-limit" if margin >= 1 else "too-small"
    m = measured
    return Sight(key, verdict, finds, order, source, m.leak, m.limit, m.unit, m.wait)


def judge(situation: Situation, properties: Properties) -> tuple[Sight, ...]:
    """All techniques, best first: those that see it, then those at their limit, and so on (RANK).

    Among equals the ones that point come first, then those that narrow it down and those that only prove;
    then the guide's order, from little to much disturbance.
    """
    found = flows(situation, properties)
    sights = [_judge(technique, situation, found) for technique in _techniques()]
    return tuple(sorted(sights, key=lambda s: (RANK.index(s.verdict), FINDS.index(s.finds), s.order)))


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def _short(value: float) -> str:
    """Three digits, or whole thousands: 0.88, 12.5, 3,160; very small and very large ones as 7.2 × 10⁻⁵, tied together."""
    if 999.5 <= value < _PLAIN:
        return f"{value:,.0f}"
    if 1e-3 <= value < _PLAIN or not value:
        return f"{value:.3g}"
    down = 3 if value < 1 else 0  # small enough to be written with a power
    mantissa, _, power = f"{value * 10.0**-down:.3g}".partition("e")
    return f"{mantissa}\u00a0×\u00a010{str(int(power) + down).translate(_RAISED)}"


def _two(value: float) -> str:
    """Two digits, or whole numbers: 1.5, 27, 1,148; very large ones as 2.9e+29."""
    return f"{value:,.0f}" if 99.5 <= value < _PLAIN else f"{value:.2g}"


def _figure(value: float, unit: str) -> str:
    """A figure with its unit, in both systems where the trade uses both."""
    if unit == "g/yr":
        return f"{_short(value)} g/yr ({_short(value * 1e-3 / OUNCE)} oz/yr)"
    return f"{_short(value)} {unit.replace('m3', 'm³')}"


def _span(seconds: float) -> str:
    for size, name in ((86_400.0, "days"), (HOUR, "h"), (60.0, "min")):
        if seconds >= 2 * size:
            return f"{_two(seconds / size)} {name}"
    return f"{_two(seconds)} s"


def reason(sight: Sight, name: str, refrigerant: str) -> str:
    """The verdict in a sentence, from the templates of techniques.yaml; `name` of the technique to be shown."""
    templates = data.load("techniques")["reasons"]
    key = "wait" if sight.verdict == "too-small" and sight.wait is not None else sight.verdict
    slots = {"name": name, "refrigerant": refrigerant, "missing": sight.missing}
    if sight.leak is not None and sight.limit is not None and sight.margin is not None:
        slots |= {"leak": _figure(sight.leak, sight.unit), "limit": _figure(sight.limit, sight.unit)}
        slots["times"] = _two(sight.margin)
    if sight.wait is not None:
        slots["wait"] = _span(sight.wait)
    return str(templates[key]).format(**slots)
