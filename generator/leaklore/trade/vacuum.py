"""Vacuum hold: rate of rise, what it means, and the limits that the trade uses.

A vacuum test puts at most one atmosphere across the leak, inward: never the only test of a repair.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from leaklore.trade import data
from leaklore.trade.data import Citation, citation
from leaklore.trade.units import MICRON, positive, require

Shape = Literal["quiet", "moisture", "leak", "both", "unknown"]
MINUTE = 60.0


@dataclass(frozen=True, slots=True)
class VacuumReading:
    """Pressure (Pa absolute) `after` s from valving the pump off."""

    after: float
    pressure: float


def rise_leak(volume: float, rise: float, seconds: float) -> float:
    """Pa m3/s that a rise means if it is a leak: Q = V dP / t. `volume` m3, `rise` Pa, air inward at 1 atm.

    An upper limit: moisture and gas out of oil raise the pressure too. Linear while far below 1 atm.
    """
    positive("volume", volume, "m3")
    positive("time", seconds, "s")
    return volume * require("rise", rise, 0.0, 1.1e5, "Pa") / seconds


def water_vapour_pressure(temperature: float) -> float:
    """Pa; vapour pressure of water at `temperature` K: 611.2 exp(17.62 t / (243.12 + t)), t in degC.

    Over water, 0 to 65 degC, error below 0.5 % (0.32 % up to 60 degC); below 0 degC over ice: 611.2 exp(22.46 t / (272.62 + t)), to -40 degC,
    below 0.6 %. Source: Magnus formula in the form of WMO No. 8, annex 4.B.
    A wet circuit levels off at this pressure: 17.5 mmHg at 20 degC; where ice has formed, far lower.
    """
    t = require("temperature", temperature, 233.15, 338.15, "K") - 273.15
    if t < 0:
        return 611.2 * math.exp(22.46 * t / (272.62 + t))
    return 611.2 * math.exp(17.62 * t / (243.12 + t))


@dataclass(frozen=True, slots=True)
class Rise:
    """What the readings say.

    `shape`: quiet = too small a rise to tell, moisture = it levels off, leak = it goes on, both = in
    between, unknown = too few readings; `steepness` = slope of the second half over that of the first, None
    where it can't be told; `rate` Pa/s over all; `levels_at` Pa, where the curve would end if it slows on
    (compare `water_vapour_pressure`: an end far above it is no moisture).
    """

    shape: Shape
    steepness: float | None
    rate: float
    levels_at: float | None
    source: Citation


def judge(readings: Sequence[VacuumReading]) -> Rise:
    """Tells leak from moisture by whether the rise slows: three readings or more, in order of time.

    The middle reading nearest to half time splits the curve. Slopes s1 and s2; with s2/s1 = q < 1 an
    exponential approach p = p_end - a exp(-t/tau) has its end at p0 + (p1-p0)/(1-q) for equal halves.
    Limits of q by our judgement, in practice.yaml. A tiny leak into a wet circuit looks like moisture:
    repeat after drying.
    """
    shape = data.load("practice")["vacuum"]["shape"]
    source = citation(shape)
    for before, after in pairwise(readings):
        least = (before.after + 1e-9) * (1 + 2e-9)  # later even by what `require` lets pass as rounding
        require("time of a reading", after.after, least, math.inf, "s")
    for one in readings:
        require("pressure", one.pressure, 0.0, 1.1e5, "Pa")
    if len(readings) < 2:
        return Rise("unknown", None, 0.0, None, source)
    first, last = readings[0], readings[-1]
    rate = (last.pressure - first.pressure) / (last.after - first.after)
    if last.pressure - first.pressure < shape["quiet_micron"] * MICRON:
        return Rise("quiet", None, rate, None, source)
    if len(readings) < 3:
        return Rise("unknown", None, rate, None, source)
    half = (first.after + last.after) / 2
    middle = min(readings[1:-1], key=lambda r: abs(r.after - half))
    early = (middle.pressure - first.pressure) / (middle.after - first.after)
    late = (last.pressure - middle.pressure) / (last.after - middle.after)
    if early <= 0:
        return Rise("unknown", None, rate, None, source)
    steepness = late / early
    if steepness >= shape["leak_from"]:
        return Rise("leak", steepness, rate, None, source)
    end = first.pressure + (middle.pressure - first.pressure) / (1 - max(steepness, 0.0))
    kind: Shape = "moisture" if steepness < shape["moisture_below"] else "both"
    return Rise(kind, steepness, rate, max(end, last.pressure), source)


@dataclass(frozen=True, slots=True)
class Limit:
    """One practice limit applied: `passed` is None where the test doesn't fit it, `because` says why."""

    key: str
    name: str
    passed: bool | None
    because: str
    source: Citation


def limits(start: float, end: float, seconds: float) -> tuple[Limit, ...]:
    """The trade's limits for a hold from `start` to `end` (Pa absolute) over `seconds`."""
    require("start pressure", start, 0.0, 1.1e5, "Pa")
    require("end pressure", end, 0.0, 1.1e5, "Pa")
    positive("time", seconds, "s")
    found = []
    for row in data.load("practice")["vacuum"]["limits"]:
        top, below = row["from_micron"], row.get("stay_below_micron")
        ceiling = row["not_above_micron"] if below is None else below
        slack = 1e-9 if below is None else -1e-9
        passed: bool | None = end < ceiling * MICRON * (1 + slack)
        because = f"{end / MICRON:.0f} micron against {ceiling} micron"
        if start > top * MICRON * (1 + 1e-9):
            passed, because = None, f"it began above {top} micron"
        elif row["minutes"] and seconds < row["minutes"] * MINUTE * (1 - 1e-9) and passed:
            passed, because = None, f"shorter than {row['minutes']} minutes"
        found.append(Limit(row["key"], row["name"], passed, because, citation(row)))
    return tuple(found)
