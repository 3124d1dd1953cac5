"""Leak rates in the trade's units, and gas through a hole.

A leak rate is a throughput Q (pressure times volume a second, Pa m3/s, at a stated temperature) or a mass
rate m (kg/s). They are tied by the ideal gas law, m = Q M / (R T), so a temperature and, for grams a year,
the length of the year belong to every figure: 20 degC and the Julian year (31 557 600 s) unless said otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from leaklore.trade.gas import GasState
from leaklore.trade.units import (
    ATMOSPHERE,
    MICRON,
    OUNCE,
    ROOM_TEMPERATURE,
    YEAR,
    R,
    absolute_temperature,
    positive,
    require,
)

THROUGHPUT: Mapping[str, float] = {
    "Pa m3/s": 1.0,
    "mbar l/s": 0.1,
    "atm cc/s": ATMOSPHERE * 1e-6,
    "torr l/s": ATMOSPHERE / 760 * 1e-3,
    "micron l/s": MICRON * 1e-3,
}
"""Pa m3/s of one unit; exact by definition of bar, atmosphere and torr."""
MASS: Mapping[str, float] = {"g/yr": 1e-3, "kg/yr": 1.0, "oz/yr": OUNCE}
"""kg of the unit's mass; divided by the year."""
DISCHARGE = 0.65
"""Discharge coefficient of a sharp-edged hole, as printed under a published table of air through orifices
(publisher not named here); the same table gives 0.97 for a well-rounded entrance. Real leaks: 0.6 to 0.9."""

BUBBLE = 0.002
"""m; diameter of the bubble of the published timing table."""

Law = Literal["orifice", "laminar", "molecular"]
LAWS: tuple[Law, ...] = ("orifice", "laminar", "molecular")


def mass_rate(throughput: float, molar_mass: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """kg/s of a throughput (Pa m3/s at `temperature`): m = Q M / (R T), ideal gas.

    Error below 3 % for refrigerant vapour expanded to 1 atm and room temperature.
    """
    absolute_temperature("temperature", temperature)
    return throughput * molar_mass / (R * temperature)


def throughput(mass_per_second: float, molar_mass: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """Pa m3/s at `temperature` of a mass rate in kg/s: Q = m R T / M; inverse of `mass_rate`."""
    absolute_temperature("temperature", temperature)
    return mass_per_second * R * temperature / molar_mass


def convert(
    value: float,
    unit: str,
    to: str,
    molar_mass: float | None = None,
    temperature: float = ROOM_TEMPERATURE,
    year: float = YEAR,
) -> float:
    """A leak rate in another unit; units are the keys of THROUGHPUT and MASS.

    `molar_mass` (kg/mol) is needed between mass and throughput only; `temperature` (K) is that at which
    the throughput is stated; `year` in s. Negative rates and unknown units are refused.
    """
    require("leak rate", value, 0.0, math.inf, unit)
    known = (*THROUGHPUT, *MASS)
    for name in (unit, to):
        if name not in known:
            raise ValueError(f"{name!r} is not a unit of leak rate; known: {', '.join(known)}")
    if unit in THROUGHPUT and to in THROUGHPUT:
        return value * THROUGHPUT[unit] / THROUGHPUT[to]
    if unit in MASS and to in MASS:
        return value * MASS[unit] / MASS[to]
    if molar_mass is None:
        raise ValueError(f"from {unit} to {to} the molar mass of the gas is needed")
    if unit in MASS:
        return throughput(value * MASS[unit] / year, molar_mass, temperature) / THROUGHPUT[to]
    return mass_rate(value * THROUGHPUT[unit], molar_mass, temperature) * year / MASS[to]


def bubble_time(throughput_atm: float, diameter: float = BUBBLE, outside: float = ATMOSPHERE) -> float:
    """s until a leak of `throughput_atm` Pa m3/s has blown a bubble: t = (pi/6) d^3 p / Q.

    The bubble's own surface pressure (below 0.1 %) and the gas that dissolves in the fluid are neglected.
    Source: timing table of a leak-test maker (not named here): 1e-3 cm3/s at 1 atm, 2 mm, 4.2 s.
    """
    volume = math.pi / 6 * positive("diameter", diameter, "m") ** 3
    return volume * outside / positive("leak rate", throughput_atm, "Pa m3/s")


def critical_ratio(exponent: float) -> float:
    """p2/p0 at and below which the flow is choked: (2/(n+1))^(n/(n-1)); 1/sqrt(e) for n = 1.

    Valid for 0.5 <= n <= 2. Source: gas dynamics, e.g. the published range 0.487 (1.67) to 0.587 (about 1.1).
    """
    n = require("isentropic exponent", exponent, 0.5, 2.0, "")
    if abs(n - 1) < 1e-7:
        return math.exp(-0.5)
    return float((2 / (n + 1)) ** (n / (n - 1)))


@dataclass(frozen=True, slots=True)
class Flux:
    """Mass flux through the ideal hole: `mass` kg/(m2 s), `choked`, `critical` = pressure ratio of choking."""

    mass: float
    choked: bool
    critical: float


@lru_cache(maxsize=4096)
def orifice_flux(gas: GasState, outside: float = ATMOSPHERE) -> Flux:
    """Isentropic flux from rest to `outside` (Pa absolute), without the discharge coefficient.

    Choked: G = p0 sqrt(n M/(Z R T0)) (2/(n+1))^((n+1)/(2(n-1))). Subsonic, with r = p2/p0:
    G = p0 sqrt(2n/(n-1) M/(Z R T0) (r^(2/n) - r^((n+1)/n))). n constant along the expansion.

    Error against the exact expansion with CoolProp (equilibrium): below 0.7 % up to half the saturation
    pressure; for saturated vapour below 1.6 %, but R-32 3 to 4 %, R-717 4 to 5 % and R-744 at 20 degC 12 % too high,
    where the jet turns wet. An ideal gas instead (`gas.as_ideal`) gives 5 to 14 % too little for saturated vapour
    at 20 to 40 degC (R-744: 18 %). Liquid does not follow this.
    Source: same form in gas-dynamics references (choked flow); real exponent as in relief-valve practice.
    """
    n = gas.exponent
    critical = critical_ratio(n)
    ratio = require("outside pressure", outside, 0.0, gas.pressure, "Pa") / gas.pressure
    scale = gas.pressure * math.sqrt(gas.molar_mass / (gas.compressibility * R * gas.temperature))
    if abs(n - 1) < 1e-7:
        r = max(ratio, critical)
        return Flux(scale * r * math.sqrt(-2 * math.log(r)), ratio <= critical, critical)
    if ratio <= critical:
        mass = scale * math.sqrt(n) * (2 / (n + 1)) ** ((n + 1) / (2 * (n - 1)))
        return Flux(mass, True, critical)
    mass = scale * math.sqrt(2 * n / (n - 1) * (ratio ** (2 / n) - ratio ** ((n + 1) / n)))
    return Flux(mass, False, critical)


@dataclass(frozen=True, slots=True)
class Hole:
    """The sharp-edged round hole that would pass the leak.

    `diameter` m, `area` m2, `choked`; `knudsen` = mean free path inside / diameter: below 0.01 the gas is a
    continuum and the figure holds, above it the true hole is larger (see `continuum`).
    """

    diameter: float
    area: float
    choked: bool
    knudsen: float

    @property
    def continuum(self) -> bool:
        """Does the orifice law hold? Limit 0.01 as printed in a leak-tester manual (maker not named here)."""
        return self.knudsen < 0.01


def hole(
    mass_per_second: float, gas: GasState, outside: float = ATMOSPHERE, discharge: float = DISCHARGE
) -> Hole:
    """Equivalent hole of a leak (kg/s) from `gas` to `outside`: A = m / (Cd G), d = sqrt(4 A / pi).

    An order of size and not a drill: real leaks are cracks and pores, longer than wide.
    """
    positive("leak rate", mass_per_second, "kg/s")
    require("discharge coefficient", discharge, 0.1, 1.0, "")
    flux = orifice_flux(gas, outside)
    area = mass_per_second / (discharge * positive("flux", flux.mass, "kg/(m2 s)"))
    diameter = math.sqrt(4 * area / math.pi)
    return Hole(diameter, area, flux.choked, gas.mean_free_path / diameter)


def through(
    diameter: float, gas: GasState, outside: float = ATMOSPHERE, discharge: float = DISCHARGE
) -> float:
    """kg/s through a round hole of `diameter` (m); inverse of `hole`."""
    positive("diameter", diameter, "m")
    require("discharge coefficient", discharge, 0.1, 1.0, "")
    return discharge * math.pi / 4 * diameter**2 * orifice_flux(gas, outside).mass


@lru_cache(maxsize=4096)
def law_flux(law: Law, gas: GasState, outside: float = ATMOSPHERE) -> float:
    """Number proportional to the mass rate by a law, for ratios between two gases or pressures.

    orifice: the flux of `orifice_flux`; laminar (long narrow crack): (p0^2 - p2^2) M / (mu Z R T);
    molecular (pores far below a micrometre): (p0 - p2) sqrt(M / (R T)).
    """
    require("outside pressure", outside, 0.0, gas.pressure, "Pa")
    if law == "orifice":
        return orifice_flux(gas, outside).mass
    if law == "laminar":
        per_mole = gas.viscosity * gas.compressibility * R * gas.temperature
        return (gas.pressure**2 - outside**2) * gas.molar_mass / per_mole
    return (gas.pressure - outside) * math.sqrt(gas.molar_mass / (R * gas.temperature))


@dataclass(frozen=True, slots=True)
class SameHole:
    """Mass rates (kg/s) of another gas or pressure through the same leak, by each law; the truth lies among them."""

    orifice: float
    laminar: float
    molecular: float

    @property
    def low(self) -> float:
        """kg/s; smaller of the orifice and the laminar law, which cover leaks that a technician meets."""
        return min(self.orifice, self.laminar)

    @property
    def high(self) -> float:
        """kg/s; larger of the orifice and the laminar law."""
        return max(self.orifice, self.laminar)


def same_hole(
    mass_per_second: float,
    gas: GasState,
    other: GasState,
    outside: float = ATMOSPHERE,
    other_outside: float = ATMOSPHERE,
) -> SameHole:
    """What a leak of `gas` (kg/s to `outside`) passes of `other` to `other_outside`: m2 = m1 flux2 / flux1.

    For seals that open with pressure none of the laws holds.
    """
    positive("leak rate", mass_per_second, "kg/s")
    ratios = [law_flux(law, other, other_outside) / law_flux(law, gas, outside) for law in LAWS]
    return SameHole(*(mass_per_second * ratio for ratio in ratios))
