"""Refrigerants as the guide describes them, in SI: composition, molar mass, GWP sets, limits in air."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import yaml

from leaklore.records.guide import SHIPPED
from leaklore.trade.units import AIR, ATMOSPHERE, R

GwpSet = Literal["ar4", "ar5", "eu-2024-573"]
GWP_SETS: Mapping[GwpSet, str] = {
    "ar4": "IPCC Fourth Assessment Report, 100 years: the values of the US rules (42 U.S.C. 7675, 40 CFR part 84)",
    "ar5": "IPCC Fifth Assessment Report, 100 years, without feedbacks",
    "eu-2024-573": "Regulation (EU) 2024/573, Annexes I, II and VI",
}
LIMIT_TEMPERATURE = 298.15
"""K; 25 degC, at which concentration limits are stated (with 101 325 Pa)."""


@dataclass(frozen=True, slots=True)
class Component:
    """One component of a blend; `share` is its mass fraction."""

    of: str
    share: float


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """Facts of one refrigerant.

    `molar_mass` kg/mol; `gwp` by set, None where the set has no value; `rcl` (refrigerant concentration
    limit) and `lfl` (lower flammability limit) as mol/mol in air, None where there is none; `marks` say
    how far each fact was read (see `leaklore.trade.data`).
    """

    key: str
    composition: tuple[Component, ...]
    molar_mass: float
    safety_group: str
    gwp: Mapping[GwpSet, float | None]
    rcl: float | None
    lfl: float | None
    marks: Mapping[str, str]

    @property
    def pure(self) -> bool:
        """One component only."""
        return len(self.composition) == 1

    @property
    def flammable(self) -> bool:
        """Group 2L, 2 or 3 of ISO 817 and ASHRAE 34."""
        return self.safety_group[-1] != "1"

    @property
    def relative_density(self) -> float:
        """Vapour density relative to air at the same temperature and pressure (ideal gases): M / M_air.

        The real ratio at 25 degC and 1 atm is 0.5 to 3 % higher (CoolProp).
        """
        return self.molar_mass / AIR

    @property
    def rcl_density(self) -> float | None:
        """RCL as kg/m3 at 25 degC and 101 325 Pa; None where there is none."""
        return None if self.rcl is None else limit_density(self.rcl, self.molar_mass)


def limit_density(fraction: float, molar_mass: float) -> float:
    """kg/m3 of a mole fraction in air at 25 degC and 101 325 Pa: x M p / (R T)."""
    return fraction * molar_mass * ATMOSPHERE / (R * LIMIT_TEMPERATURE)


def of(facts: Mapping[str, Any]) -> Refrigerant:
    """Refrigerant from an entry of guide/refrigerants.yaml (shipped or the company's own)."""
    ppm, lfl = facts.get("rcl_ppm"), facts.get("lfl_ppm")
    return Refrigerant(
        key=str(facts["key"]),
        composition=tuple(Component(str(c["of"]), float(c["share"])) for c in facts["composition"]),
        molar_mass=float(facts["molar_mass_g_mol"]) / 1000,
        safety_group=str(facts["safety_group"]),
        gwp={
            "ar4": facts.get("gwp_ar4"),
            "ar5": facts.get("gwp_ar5"),
            "eu-2024-573": facts.get("gwp_eu_2024_573"),
        },
        rcl=None if ppm is None else float(ppm) * 1e-6,
        lfl=None if lfl is None else float(lfl) * 1e-6,
        marks=dict(facts.get("marks") or {}),
    )


@cache
def shipped() -> Mapping[str, Refrigerant]:
    """The refrigerants of the shipped guide by key."""
    with (SHIPPED / "refrigerants.yaml").open(encoding="utf-8") as file:
        return {entry["key"]: of(entry) for entry in yaml.load(file, yaml.CSafeLoader)}
