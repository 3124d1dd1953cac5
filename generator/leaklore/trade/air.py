"""Refrigerant in the air of a room: units, what a leak builds up, and whether a reading means anything.

Concentrations as mole fractions (1 ppm = 1e-6 mol/mol), which for ideal gases are volume fractions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from leaklore.trade import data
from leaklore.trade.data import Citation, citation
from leaklore.trade.units import ATMOSPHERE, R, absolute_temperature, positive, require

REFERENCE = 298.15
"""K; 25 degC of the occupational convention mg/m3 = ppm M / 24.45 (the exact molar volume is 24.4654 l)."""


def density(
    fraction: float, molar_mass: float, temperature: float = REFERENCE, pressure: float = ATMOSPHERE
) -> float:
    """kg/m3 of a mole fraction in air: x M p / (R T). Source: ideal gas; NIOSH and ACGIH convention at 25 degC."""
    require("concentration", fraction, 0.0, 1.0, "mol/mol")
    absolute_temperature("temperature", temperature)
    return fraction * molar_mass * positive("pressure", pressure, "Pa") / (R * temperature)


def fraction(
    kg_per_m3: float, molar_mass: float, temperature: float = REFERENCE, pressure: float = ATMOSPHERE
) -> float:
    """Mole fraction of a concentration in kg/m3; inverse of `density`, refused above pure vapour."""
    positive("molar mass", molar_mass, "kg/mol")
    most = density(1.0, molar_mass, temperature, pressure)
    return require("concentration", kg_per_m3, 0.0, most * (1 + 1e-9), "kg/m3") / most


def vapour_flow(
    mass_per_second: float, molar_mass: float, temperature: float = REFERENCE, pressure: float = ATMOSPHERE
) -> float:
    """m3/s of vapour at room conditions from a leak in kg/s: G = m R T / (M p)."""
    require("leak rate", mass_per_second, 0.0, 1e3, "kg/s")
    absolute_temperature("temperature", temperature)
    return mass_per_second * R * temperature / (molar_mass * pressure)


@dataclass(frozen=True, slots=True)
class Space:
    """A room, chase, cabinet or bag: `volume` m3, `air` = fresh air in m3/s (0 when closed).

    Everything is taken as well mixed; heavy vapour in still air stands many times richer near the floor
    (mixing factors of 3 to 10 are in use; ACGIH, from memory).
    """

    volume: float
    air: float = 0.0

    @classmethod
    def with_changes(cls, volume: float, changes_per_hour: float) -> Space:
        """A space by its air changes an hour."""
        require("air changes", changes_per_hour, 0.0, 1000.0, "1/h")
        return cls(volume, positive("volume", volume, "m3") * changes_per_hour / 3600)

    def after(self, vapour: float, seconds: float, start: float = 0.0) -> float:
        """Mole fraction `seconds` after a leak of `vapour` m3/s began, from `start`.

        C(t) = G/Q + (C0 - G/Q) exp(-Q t/V), and C0 + G t/V where nothing flows; never above 1. The vapour's own
        volume is neglected, which holds up to some per cent.
        Source: room equation of industrial hygiene (Basic Concepts of Industrial Hygiene, p. 163, eqs. 3-5, citing
        Burgess 1989).
        """
        positive("volume", self.volume, "m3")
        require("vapour flow", vapour, 0.0, 1e3, "m3/s")
        require("time", seconds, 0.0, 1e10, "s")
        turns = self.air * seconds / self.volume
        if turns < 1e-9:
            return min(1.0, start + vapour * seconds / self.volume)
        return min(1.0, start * math.exp(-turns) - vapour / self.air * math.expm1(-turns))

    def steady(self, vapour: float) -> float:
        """Mole fraction that is reached in the end: G/Q, at most 1; 1 for a closed space with any leak."""
        require("vapour flow", vapour, 0.0, 1e3, "m3/s")
        if self.air <= 0:
            return 1.0 if vapour > 0 else 0.0
        return min(1.0, vapour / self.air)

    def time_to(self, target: float, vapour: float) -> float:
        """s until a leak of `vapour` m3/s brings clean air to `target`; infinite where it never does."""
        require("concentration", target, 0.0, 1.0, "mol/mol")
        if vapour <= 0:
            return math.inf
        if self.air <= 0:
            return target * self.volume / vapour
        share = target * self.air / vapour
        return math.inf if share >= 1 else -self.volume / self.air * math.log1p(-share)

    def purge_time(self, start: float, end: float) -> float:
        """s of ventilation from `start` to `end` with the leak stopped: t = V/Q ln(C0/C); infinite when closed."""
        require("end concentration", end, 1e-12, start, "mol/mol")
        return math.inf if self.air <= 0 else self.volume / self.air * math.log(start / end)


@dataclass(frozen=True, slots=True)
class Above:
    """Is a reading above what instrument and air explain?

    `above` None where no background was taken; `difference` and `needed` as mole fractions: `above` is
    difference > needed.
    """

    above: bool | None
    difference: float | None
    needed: float
    source: Citation


def above_background(
    reading: float, background: float | None, resolution: float, accuracy: float = 0.0
) -> Above:
    """A reading against the background of the same instrument on the same day (mole fractions).

    needed = 2 resolution + accuracy background: two steps of the display cover three standard deviations
    of the rounding of both readings (each q/sqrt(12)); `accuracy` is the spread of the background as a
    share of it. Common practice, no standard.
    """
    rule = data.load("practice")["air"]["background"]
    require("reading", reading, 0.0, 1.0, "mol/mol")
    positive("resolution", resolution, "mol/mol")
    require("accuracy", accuracy, 0.0, 1.0, "")
    needed = rule["steps"] * resolution
    if background is None:
        return Above(None, None, needed, citation(rule))
    needed += accuracy * require("background", background, 0.0, 1.0, "mol/mol")
    difference = reading - background
    return Above(difference > needed * (1 + 1e-9), difference, needed, citation(rule))
