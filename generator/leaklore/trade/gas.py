"""State of a gas as the flow formulas need it, and where such states come from.

Two providers give the same answers: `live.CoolProp` computes, `tables.Tables` interpolates what was
computed (the browser does the same). Formulas take states, so they know neither.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import R

NITROGEN = 0.0280134
"""kg/mol; molar mass of nitrogen (CoolProp: 28.01348 g/mol)."""


@dataclass(frozen=True, slots=True)
class NoSaturation:
    """Above the critical temperature there is no liquid and so no saturation pressure. Temperatures in K."""

    temperature: float
    critical: float


@dataclass(frozen=True, slots=True)
class GasState:
    """A gas at rest.

    `molar_mass` kg/mol, `temperature` K, `pressure` Pa absolute, `exponent` the isentropic exponent
    n = rho c^2 / p, `compressibility` Z = p M / (rho R T), `viscosity` Pa s at low pressure.
    """

    molar_mass: float
    temperature: float
    pressure: float
    exponent: float
    compressibility: float
    viscosity: float

    @property
    def density(self) -> float:
        """kg/m3: p M / (Z R T)."""
        return self.pressure * self.molar_mass / (self.compressibility * R * self.temperature)

    @property
    def mean_free_path(self) -> float:
        """m; mean way of a molecule between collisions: (mu / p) sqrt(pi R T / (2 M)) (kinetic theory)."""
        return (self.viscosity / self.pressure) * math.sqrt(
            math.pi * R * self.temperature / (2 * self.molar_mass)
        )

    def as_ideal(self, exponent: float) -> GasState:
        """The same state taken as an ideal gas with a constant ratio of specific heats."""
        return replace(self, exponent=exponent, compressibility=1.0)


class Properties(Protocol):
    """Where properties come from."""

    def dew(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; saturation pressure at the dew point."""
        ...

    def bubble(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; saturation pressure at the bubble point."""
        ...

    def vapour(self, refrigerant: Refrigerant, temperature: float, pressure: float) -> GasState:
        """Vapour at or below its dew pressure."""
        ...

    def nitrogen(self, temperature: float, pressure: float) -> GasState:
        """Nitrogen, dry."""
        ...


def mixture_viscosity(
    fractions: Sequence[float], viscosities: Sequence[float], molar_masses: Sequence[float]
) -> float:
    """Pa s of a gas mixture at low pressure, by Wilke's rule (1950, J. Chem. Phys. 18, 517).

    `fractions` mol/mol. mu = sum_i x_i mu_i / sum_j x_j phi_ij with
    phi_ij = [1 + (mu_i/mu_j)^1/2 (M_j/M_i)^1/4]^2 / [8 (1 + M_i/M_j)]^1/2. Within about 2 % of measurements
    for mixtures of like molecules.
    """
    total = 0.0
    for x_i, mu_i, m_i in zip(fractions, viscosities, molar_masses, strict=True):
        below = sum(
            x_j * (1 + math.sqrt(mu_i / mu_j) * (m_j / m_i) ** 0.25) ** 2 / math.sqrt(8 * (1 + m_i / m_j))
            for x_j, mu_j, m_j in zip(fractions, viscosities, molar_masses, strict=True)
        )
        total += x_i * mu_i / below
    return total


def standstill(
    properties: Properties, refrigerant: Refrigerant, temperature: float
) -> GasState | NoSaturation:
    """Vapour inside a circuit at rest that still holds liquid, all of it at `temperature` (K).

    Its pressure is taken as the dew pressure of the nominal composition. In a blend with glide the true
    pressure lies between dew and bubble (R-407C at 20 degC: up to 18 % more), and the vapour is richer
    in the lighter components.
    """
    pressure = properties.dew(refrigerant, temperature)
    if isinstance(pressure, NoSaturation):
        return pressure
    return properties.vapour(refrigerant, temperature, pressure)
