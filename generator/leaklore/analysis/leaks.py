"""A case's leak as a quantity: t CO2e, what could have seen it, what its hold test proves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from leaklore.records.guide import Guide
from leaklore.records.model import Case, Equipment, HoldTest
from leaklore.trade import detectability, leak_rate, proof, refrigerants, tables, volume
from leaklore.trade.gas import standstill
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.tables import NotInTables
from leaklore.trade.units import ATMOSPHERE, ROOM_TEMPERATURE, OutOfRange
from leaklore.trade.volume import UnknownTube

LIQUID = {"R-290": 500.0, "R-600a": 550.0, "R-717": 600.0, "R-744": 800.0}
OTHER_LIQUID = 1100.0
"""kg/m3; liquid density about 20 degC, good to 12 %, for guessing a circuit's volume."""


@dataclass(frozen=True, slots=True)
class LeakFigures:
    """What follows from the leak rate of a case; parts are None where the record does not tell enough.

    `co2e` t by IPCC AR4; `volume` m3 as guessed from charge and line set;
    `sights` best technique first; `held` judges the hold test.
    """

    refrigerant: Refrigerant
    co2e: float | None
    volume: float | None
    sights: tuple[detectability.Sight, ...]
    held: proof.Proof | None


class _Same:
    """A guide as a key: two are the same only where they are one."""

    __slots__ = ("guide",)

    def __init__(self, guide: Guide) -> None:
        self.guide = guide

    def __hash__(self) -> int:
        return id(self.guide)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.guide is self.guide


@lru_cache(maxsize=4)
def _gases(of: _Same) -> Mapping[str, Refrigerant]:
    return {key: refrigerants.of(entry.facts) for key, entry in of.guide.refrigerants.items()}


def refrigerant_of(case: Case, guide: Guide) -> Refrigerant | None:
    """The case's refrigerant with its facts."""
    return _gases(_Same(guide)).get(case.equipment.refrigerant or "")


def co2e(case: Case, guide: Guide) -> float | None:
    """t CO2e of the charge lost, by IPCC AR4 as the US rules use it; None where loss or GWP is unknown."""
    found = refrigerant_of(case, guide)
    gwp = found.gwp.get("ar4") if found else None
    if case.lost is None or gwp is None:
        return None
    return leak_rate.tonnes_co2e(case.lost.si, gwp)


def circuit_volume(gear: Equipment) -> float | None:
    """m3, good to a factor of two: guessed from the charge, but no less than the line set by its tubes."""
    if gear.charge is None or gear.charge.si <= 0:
        return None
    guessed = volume.circuit_guess(gear.charge.si, LIQUID.get(gear.refrigerant or "", OTHER_LIQUID))
    lines = gear.line_set
    if lines is None or lines.length is None:
        return guessed
    try:
        return max(guessed, volume.line_set(lines.liquid, lines.suction, lines.length.si))
    except (UnknownTube, OutOfRange):
        return guessed


def figures(case: Case, guide: Guide) -> LeakFigures | None:
    """Everything that follows from the leak rate; None without refrigerant or rate."""
    found = refrigerant_of(case, guide)
    if found is None or not case.leak_rate:
        return None
    properties = tables.shipped()
    try:
        standstill(properties, found, ROOM_TEMPERATURE)
    except NotInTables:  # a refrigerant of the company's own guide
        return None
    size = circuit_volume(case.equipment)
    test = case.fix.hold_test if case.fix else None
    raised = _raised(test) if test else None
    situation = detectability.Situation(
        leak=case.leak_rate,
        refrigerant=found,
        test_pressure=raised,
        volume=size,
        hold=test.over.si if test and raised and test.over.si > 0 else None,
    )
    return LeakFigures(
        refrigerant=found,
        co2e=co2e(case, guide),
        volume=size,
        sights=detectability.judge(situation, properties),
        held=_held(test, found, case.leak_rate, size) if test and size else None,
    )


def _raised(test: HoldTest) -> float | None:
    """Pa absolute of nitrogen; None for another medium, without pressure, and beyond our table of nitrogen."""
    if not test.medium.startswith("nitrogen") or test.start.si <= ATMOSPHERE:
        return None
    try:
        return tables.shipped().nitrogen(ROOM_TEMPERATURE, test.start.si).pressure
    except OutOfRange:
        return None


def _held(test: HoldTest, gas: Refrigerant, leak: float, size: float) -> proof.Proof | None:
    """None for a test that our formulas and tables don't reach: -45 degC, 250 bar, or no pressure at all."""
    try:
        return proof.hold(test, gas, leak, size, tables.shipped())
    except OutOfRange:
        return None
