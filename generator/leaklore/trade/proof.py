"""Was a hold test sensitive enough to prove the fix? The leak that was, against the smallest it could have shown."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from leaklore.records.model import HoldTest
from leaklore.records.rules.plausibility import gauge_error
from leaklore.trade import flow, pressure_test, vacuum
from leaklore.trade.gas import GasState, NoSaturation, Properties, standstill
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import ATMOSPHERE, MICRON, ROOM_TEMPERATURE, gauge, positive

Verdict = Literal["proves", "doubtful", "too-coarse", "says-nothing", "fell"]
KNOWN_TEMPERATURE = 1.0
"""K; how well the change of gas temperature is known where both temperatures were written down (common practice)."""
UNKNOWN_TEMPERATURE = 3.0
"""K; where they were not: what a few hours outdoors change (common practice)."""
VACUUM_STEP = 50.0 * MICRON
"""Pa; what two readings of a vacuum gauge may differ by (common practice)."""
_DEEP = 1.0
CONTINUUM: tuple[flow.Law, ...] = ("orifice", "laminar")


@dataclass(frozen=True, slots=True)
class Proof:
    """What a hold test says about a leak of the size that was there before.

    `low`..`high` kg/s of refrigerant: the smallest leak that the test shows, by the more and the less
    favourable flow law; `leak` kg/s as it was; `wait` s that the same test would have needed; `drop` Pa below
    what temperature explains.

    proves = the leak is at or above `high`; doubtful = between; too-coarse = below `low`; fell = the pressure
    fell by more than gauge and temperature explain; says-nothing = liquid refrigerant inside, or above the
    critical temperature. The rise of a vacuum can be moisture: any leak up to that rise may hide in it.
    """

    verdict: Verdict
    low: float | None = None
    high: float | None = None
    leak: float | None = None
    wait: float | None = None
    drop: float | None = None


def hold(
    test: HoldTest,
    refrigerant: Refrigerant,
    leak: float,
    volume: float,
    properties: Properties,
    temperature: float = ROOM_TEMPERATURE,
) -> Proof:
    """Judges the hold test of a repair.

    `leak` kg/s lost before the repair, from a circuit at standstill at `temperature` K; `volume` m3 under test.
    Nitrogen with 5 % hydrogen counts as nitrogen. Gauge: the larger of 1 psi and 0.5 % of the reading.
    Raises OutOfRange for a test without pressure and for one that the table of nitrogen does not reach (200 bar).
    """
    positive("leak rate", leak, "kg/s")
    positive("volume", volume, "m3")
    inside = standstill(properties, refrigerant, temperature)
    if test.medium == "refrigerant" or isinstance(inside, NoSaturation):
        return Proof("says-nothing", leak=leak)
    if test.medium == "vacuum":
        return _vacuum(test, inside, leak, volume, properties)
    positive("test pressure", gauge(test.start.si), "Pa")
    at = temperature if test.start_temp is None else test.start_temp.si
    known = test.start_temp is not None and test.end_temp is not None
    kelvin = KNOWN_TEMPERATURE if known else UNKNOWN_TEMPERATURE
    expected = test.start.si
    if test.start_temp is not None and test.end_temp is not None:
        pressures = (test.start.si, test.start_temp.si, test.end_temp.si)
        expected = pressure_test.expected_nitrogen(properties, *pressures)
    smallest = pressure_test.smallest_drop(gauge_error(test.start.si), test.start.si, at, kelvin)
    drop = expected - test.end.si
    seen = volume * smallest / positive("time", test.over.si, "s")
    gas = properties.nitrogen(at, test.start.si)
    return _judge(inside, gas, ATMOSPHERE, seen, leak, drop, smallest, test.over.si)


def _vacuum(test: HoldTest, inside: GasState, leak: float, volume: float, properties: Properties) -> Proof:
    gas = properties.nitrogen(inside.temperature, ATMOSPHERE)
    rise = test.end.si - test.start.si
    seen = vacuum.rise_leak(volume, max(rise, VACUUM_STEP), test.over.si)
    return _judge(inside, gas, _DEEP, seen, leak, rise, math.inf, test.over.si)


def _judge(
    inside: GasState,
    gas: GasState,
    outside: float,
    seen: float,
    leak: float,
    change: float,
    smallest: float,
    seconds: float,
) -> Proof:
    """`seen` Pa m3/s of `gas` -> kg/s of refrigerant by both laws, and the verdict."""
    mass = flow.mass_rate(seen, gas.molar_mass, gas.temperature)
    ratios = [flow.law_flux(law, inside) / flow.law_flux(law, gas, outside) for law in CONTINUUM]
    low, high = mass * min(ratios), mass * max(ratios)
    wait = seconds * high / leak
    if change > smallest:
        return Proof("fell", low, high, leak, wait, change)
    verdict: Verdict = "proves" if leak >= high else "doubtful" if leak >= low else "too-coarse"
    return Proof(verdict, low, high, leak, wait, change)
