"""Systems of the register on which the law asks for automatic leak detection, whether they have leaked or not.

The figures are those of trade/rules.yaml with their paragraphs. Whether a system has such detection the register does not
say. Local law decides.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import System
from leaklore.trade import data, eu_rules, refrigerants, us_rules
from leaklore.trade.data import Citation, citation
from leaklore.trade.refrigerants import Refrigerant

UNDER = "part-84"
"""The US rule whose refrigerants it is asked of."""


@dataclass(frozen=True)
class Wanted:
    """A system that is to have automatic detection; `day` by which, None where it has been so for years.

    `alarm` kg: loss at which detection that reckons from pressures, temperatures or levels has to tell (US); `tonnes`
    CO2e of the charge (EU; None where the regulation counts kilograms).
    """

    system: System
    day: dt.date | None
    source: Citation
    alarm: float | None = None
    tonnes: float | None = None


def in_the_us(library: Library, today: dt.date) -> tuple[Wanted, ...]:
    """By 40 CFR 84.108, the earliest day first; of a date of installation that is a month or a year its middle counts."""
    out = []
    for system, gas, charge in _in_use(library, today):
        gear = system.equipment
        kind = us_rules.appliance(gear.kind or "", gear.setting or system.site.setting)
        if gear.installed is None:
            continue
        due = us_rules.detection_due(kind.kind, charge, gear.installed.day)
        if due is not None and _holds(gas, charge, kind, due.day):
            out.append(Wanted(system, due.day, due.source, alarm=us_rules.alarm_loss(charge)))
    return tuple(sorted(out, key=lambda x: (x.day or dt.date.max, x.system.id)))


def in_the_eu(library: Library, today: dt.date) -> tuple[Wanted, ...]:
    """By Regulation (EU) 2024/573, the largest in tonnes first."""
    source = citation(data.load("rules")["eu"]["detection"])
    out = []
    for system, gas, charge in _in_use(library, today):
        check = eu_rules.leak_check(gas, charge)
        if check.detection:
            out.append(Wanted(system, None, source, tonnes=check.tonnes))
    return tuple(sorted(out, key=lambda x: (-(x.tonnes or 0.0), x.system.id)))


def _holds(gas: Refrigerant, charge: float, kind: us_rules.Appliance, on: dt.date) -> bool:
    return any(rule.holds for rule in us_rules.rules(gas, charge, kind, on) if rule.key == UNDER)


def _in_use(library: Library, today: dt.date) -> Iterator[tuple[System, Refrigerant, float]]:
    """Systems that are there on a day, with refrigerant and charge in kg, where both are known."""
    known: dict[str, Refrigerant | None] = {}
    for system in library.systems.values():
        gear = system.equipment
        if system.removed is not None and system.removed.day <= today:
            continue
        if gear.charge is None or gear.charge.si <= 0 or gear.refrigerant is None:
            continue
        if gear.refrigerant not in known:
            known[gear.refrigerant] = gas_of(gear.refrigerant, library.guide)
        gas = known[gear.refrigerant]
        if gas is not None:
            yield system, gas, gear.charge.si


def gas_of(key: str, guide: Guide) -> Refrigerant | None:
    """Properties of a refrigerant of the register; None for one that the guide does not know."""
    entry = guide.refrigerants.get(key)
    return refrigerants.of(entry.facts) if entry else None
