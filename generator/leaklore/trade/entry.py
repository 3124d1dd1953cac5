"""May somebody go in? A reading against the limits of the refrigerant and against the oxygen that is left.

A check, not a permit: the RCL is a limit for acute hazards and no value to work in, and pits can need a permit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from leaklore.trade import air, data
from leaklore.trade.data import Citation, citation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import positive, require

Verdict = Literal["stay-out", "ventilate", "below-limits"]
ENRICHED = 0.235
"""mol/mol; above 23.5 % the air is oxygen-enriched (29 CFR 1910.146(b))."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit in air as mole fraction. `key`: rcl, flammable, oxygen or immediate."""

    key: str
    fraction: float
    source: Citation


def _air() -> Mapping[str, Any]:
    found: Mapping[str, Any] = data.load("practice")["air"]
    return found


def displaced(fraction: float) -> float:
    """Oxygen left, mol/mol, when vapour takes the place of air: 0.2095 (1 - x)."""
    return float(_air()["oxygen"]["normal"]) * (1 - require("concentration", fraction, 0.0, 1.0, "mol/mol"))


def oxygen_limit() -> float:
    """Mole fraction of any vapour that brings oxygen down to 19.5 %: 1 - 0.195/0.2095 = 69 200 ppm."""
    oxygen = _air()["oxygen"]
    return 1 - float(oxygen["least"]) / float(oxygen["normal"])


def limits(refrigerant: Refrigerant) -> tuple[Limit, ...]:
    """The limits for a refrigerant, lowest first: RCL, 25 % of the LFL, oxygen, and IDLH where we hold one.

    The oxygen limit (69 200 ppm) lies below the RCL of several A1 refrigerants: RCL allows for a short escape,
    the 19.5 % of 29 CFR 1910.146 is for going in.
    """
    rules = _air()
    found = [Limit("oxygen", oxygen_limit(), citation(rules["oxygen"]))]
    if refrigerant.rcl is not None:
        found.append(Limit("rcl", refrigerant.rcl, citation(rules["rcl"])))
    if refrigerant.lfl is not None:
        share = float(rules["flammable"]["share"])
        found.append(Limit("flammable", share * refrigerant.lfl, citation(rules["flammable"])))
    immediate = rules["immediate"].get(refrigerant.key)
    if immediate is not None:
        found.append(Limit("immediate", immediate["ppm"] * 1e-6, citation(immediate)))
    return tuple(sorted(found, key=lambda limit: (limit.fraction, limit.key)))


def caution(refrigerant: Refrigerant) -> Limit:
    """Mole fraction above which the reason is found and the room ventilated before work goes on."""
    table = _air()["caution"]
    found = table.get(refrigerant.key) or table[refrigerant.safety_group[0]]
    return Limit("caution", found["ppm"] * 1e-6, citation(found))


@dataclass(frozen=True, slots=True)
class Entry:
    """`verdict`; `limit` = the lowest limit (or the caution) that was compared; `reached` the limits met or passed."""

    verdict: Verdict
    limit: Limit
    reached: tuple[Limit, ...]
    oxygen_low: bool
    oxygen_high: bool


def check(refrigerant: Refrigerant, reading: float, oxygen: float | None = None) -> Entry:
    """Verdict on a reading (mole fraction, the highest found, low down for heavy vapour).

    `oxygen` is a measured mole fraction; without it only the displacement by this vapour is known, and
    other gases can have taken oxygen too. Equality counts as reached.
    """
    require("reading", reading, 0.0, 1.0, "mol/mol")
    all_limits = limits(refrigerant)
    reached = tuple(limit for limit in all_limits if reading >= limit.fraction)
    low = high = False
    if oxygen is not None:
        require("oxygen", oxygen, 0.0, 1.0, "mol/mol")
        low, high = oxygen < _air()["oxygen"]["least"], oxygen > ENRICHED
    if reached or low or high:
        return Entry("stay-out", all_limits[0], reached, low, high)
    warning = caution(refrigerant)
    if reading > warning.fraction:
        return Entry("ventilate", warning, (), low, high)
    return Entry("below-limits", all_limits[0], (), low, high)


@dataclass(frozen=True, slots=True)
class Release:
    """A whole charge let out into a closed room: `density` kg/m3 and `fraction` if well mixed, against the RCL."""

    density: float
    fraction: float
    above_rcl: bool | None
    volume_needed: float | None


def release(refrigerant: Refrigerant, charge: float, volume: float) -> Release:
    """Concentration of a full charge (kg) in a closed room (m3): m/V; and the room that keeps to the RCL.

    Well mixed at 25 degC; the floor layer is richer. Source: quantity limit of ASHRAE 15 (from memory).
    """
    amount = positive("charge", charge, "kg") / positive("volume", volume, "m3")
    pure = air.density(1.0, refrigerant.molar_mass)
    limit = refrigerant.rcl_density
    if limit is None:
        return Release(amount, min(1.0, amount / pure), None, None)
    return Release(amount, min(1.0, amount / pure), amount > limit, charge / limit)
