"""Standing pressure test: what temperature explains, what is left as a leak, and how small a leak shows.

A rigid volume, absolute units throughout. P2 = P1 T2/T1 is the law of an ideal gas; dry nitrogen changes a
little more: by 7 % of the change at 28 bar (400 psig, 75 to 60 degF: 12.4 psi and not 11.6), by 2 % at 10 bar.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from leaklore.trade.gas import Properties
from leaklore.trade.units import (
    ROOM_TEMPERATURE,
    absolute_pressure,
    absolute_temperature,
    positive,
    require,
)

STEADY_DROP = 0.10
"""Share of the pressure up to which Q = V dP / dt is used; the ASTM practice for pressure decay gives the same 10 %."""

_REPEATS = 6
"""Rounds of the fixed point for the real gas; each gains a factor of 50 or more."""


def expected_pressure(pressure: float, temperature: float, later: float) -> float:
    """Pa absolute that a tight circuit shows at `later` K after `pressure` Pa absolute at `temperature` K.

    P2 = P1 T2 / T1 (Gay-Lussac, constant volume). Gauge pressures or temperatures in degF or degC would be wrong
    and are refused where they show. Gas only: with liquid refrigerant inside, pressure follows the
    saturation curve instead.
    Source: fuel-gas code appendix (2015 Michigan Residential Code A.6.5, example 5, from the International
    Fuel Gas Code).
    """
    absolute_pressure("pressure", pressure)
    absolute_temperature("temperature", temperature)
    return pressure * absolute_temperature("later temperature", later) / temperature


def expected_nitrogen(properties: Properties, pressure: float, temperature: float, later: float) -> float:
    """Pa absolute that a tight circuit full of nitrogen shows at `later` K; as `expected_pressure`, for the real gas.

    P2 = P1 (T2 Z2) / (T1 Z1), Z2 being that of the answer: found by repeating. -40 to 65 degC, up to 20 MPa. Error
    below 0.01 % of the pressure (against the equation of state at constant density).
    """
    first = properties.nitrogen(temperature, absolute_pressure("pressure", pressure))
    found = expected_pressure(pressure, temperature, later)
    for _ in range(_REPEATS):
        second = properties.nitrogen(later, found)
        found = pressure * later * second.compressibility / (temperature * first.compressibility)
    return found


def leak(
    volume: float,
    seconds: float,
    start: float,
    end: float,
    start_temperature: float = ROOM_TEMPERATURE,
    end_temperature: float | None = None,
) -> float:
    """Pa m3/s (at `start_temperature`) lost between two readings; negative where the reading rose.

    Q = V (P1 - P2 T1/T2) / t: the second reading is brought to the first one's temperature. `volume` m3,
    pressures Pa absolute, temperatures K. Mean over the test; good while the drop stays below 10 %.
    """
    positive("volume", volume, "m3")
    positive("time", seconds, "s")
    absolute_temperature("start temperature", start_temperature)
    later = start_temperature if end_temperature is None else end_temperature
    absolute_temperature("end temperature", later)
    corrected = absolute_pressure("end pressure", end) * start_temperature / later
    return volume * (absolute_pressure("start pressure", start) - corrected) / seconds


def nitrogen_leak(
    properties: Properties,
    volume: float,
    seconds: float,
    start: float,
    end: float,
    start_temperature: float,
    end_temperature: float,
) -> float:
    """Pa m3/s, as `leak`, with the second reading brought back as the real gas; range as `expected_nitrogen`.

    400 psig, 75 to 60 degF, 2 psi lost: the ideal gas law alone would make 2.8 psi of it.
    """
    absolute_pressure("end pressure", end)
    back = expected_nitrogen(properties, end, end_temperature, start_temperature)
    return leak(volume, seconds, start, back, start_temperature)


def smallest_drop(
    resolution: float, pressure: float, temperature: float, temperature_uncertainty: float
) -> float:
    """Pa; smallest corrected fall of pressure that means a leak: sqrt(r^2 + (P dT/T)^2).

    `resolution` Pa = what two readings of one pressure may differ by; `temperature_uncertainty` K = how well
    the *change* of the gas temperature between the readings is known (1 K is good outdoors; the sun on one
    half of the circuit costs 5 K). Independent contributions add in quadrature (GUM). For a
    specification's sake the ASTM practice asks a resolution ten times finer than this.
    """
    positive("resolution", resolution, "Pa")
    absolute_pressure("pressure", pressure)
    absolute_temperature("temperature", temperature)
    require("temperature uncertainty", temperature_uncertainty, 0.0, 50.0, "K")
    return math.hypot(resolution, pressure * temperature_uncertainty / temperature)


def smallest_leak(
    volume: float,
    seconds: float,
    resolution: float,
    pressure: float,
    temperature: float = ROOM_TEMPERATURE,
    temperature_uncertainty: float = 0.0,
) -> float:
    """Pa m3/s; the smallest leak that a test of `seconds` shows: Q = V dP / t with dP of `smallest_drop`.

    In the test gas at the test pressure; see `flow.same_hole` for the refrigerant's own rate.
    """
    positive("volume", volume, "m3")
    positive("time", seconds, "s")
    return volume * smallest_drop(resolution, pressure, temperature, temperature_uncertainty) / seconds


@dataclass(frozen=True, slots=True)
class Wait:
    """Time until a leak shows. `seconds`; `drop` Pa it takes; `steady` = the drop is below 10 % of the pressure."""

    seconds: float
    drop: float
    steady: bool


def time_to_see(
    throughput: float,
    volume: float,
    resolution: float,
    pressure: float,
    temperature: float = ROOM_TEMPERATURE,
    temperature_uncertainty: float = 0.0,
) -> Wait:
    """How long to wait until a leak of `throughput` Pa m3/s shows: t = V dP / Q; inverse of `smallest_leak`.

    Where not `steady` the leak slows as the pressure falls and the true wait is longer.
    """
    positive("leak rate", throughput, "Pa m3/s")
    positive("volume", volume, "m3")
    drop = smallest_drop(resolution, pressure, temperature, temperature_uncertainty)
    return Wait(volume * drop / throughput, drop, drop <= STEADY_DROP * pressure)
