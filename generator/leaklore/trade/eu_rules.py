"""Leak checks under Regulation (EU) 2024/573 by tonnes of CO2 equivalent or kilograms.

All figures come from `rules.yaml` with their article and mark. Nothing here is legal advice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.trade import data
from leaklore.trade.data import Citation, citation
from leaklore.trade.leak_rate import tonnes_co2e
from leaklore.trade.months import add_months
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import positive


def _eu() -> Mapping[str, Any]:
    found: Mapping[str, Any] = data.load("rules")["eu"]
    return found


@dataclass(frozen=True, slots=True)
class Check:
    """How often the circuit is checked for leaks.

    `months` between checks, None where no check is asked; `because` in words; `tonnes` CO2e of the charge
    (None where the regulation counts kilograms or does not take the gas); `detection` = a leakage
    detection system is required.
    """

    months: int | None
    because: str
    tonnes: float | None
    detection: bool
    source: Citation


def _annex(refrigerant: Refrigerant) -> int | None:
    """1 or 2 by the annex that decides; None for what the regulation does not take. A blend with an HFC counts as 1."""
    second = _eu()["annex_2_section_1"]
    if all(c.of in second for c in refrigerant.composition):
        return 2
    hfc = data.load("rules")["us"]["hfc"]
    return 1 if any(c.of in hfc for c in refrigerant.composition) else None


def leak_check(
    refrigerant: Refrigerant,
    charge: float,
    detection_system: bool = False,
    hermetic: bool = False,
    residential: bool = False,
) -> Check:
    """Interval of leak checks for a charge (kg) of stationary refrigeration, air conditioning or heat pump.

    `hermetic`: labelled hermetically sealed. Thresholds count from their value on: 50 t is checked every 6 months.
    """
    positive("charge", charge, "kg")
    rule = _eu()
    annex = _annex(refrigerant)
    annexes = citation(rule["annexes"])
    if annex is None:
        key = refrigerant.key if refrigerant.key in rule["outside"] else "natural"
        return Check(None, str(rule["outside"][key]), None, False, annexes)
    by_tonnes = annex == 1
    gwp = refrigerant.gwp["eu-2024-573"]
    if by_tonnes and gwp is None:
        return Check(None, f"no GWP for {refrigerant.key} in the regulation's annexes", None, False, annexes)
    tonnes = tonnes_co2e(charge, gwp) if by_tonnes and gwp is not None else None
    amount = charge if tonnes is None else tonnes
    unit = "tonnes" if by_tonnes else "kg"
    shown = "t CO₂e" if by_tonnes else "kg"
    duty, sealed, detection = rule["duty"], rule["hermetic"], rule["detection"]
    wants_detection = _reached(amount, detection[unit])
    if not _reached(amount, duty[f"least_{unit}"]):
        return Check(None, f"below {duty[f'least_{unit}']:g} {shown}", tonnes, False, citation(duty))
    if hermetic and not _reached(amount, sealed[f"below_{unit}"]):
        return Check(
            None, f"sealed and below {sealed[f'below_{unit}']:g} {shown}", tonnes, False, citation(sealed)
        )
    if hermetic and residential and charge < sealed["residential_below_kg"]:
        because = f"sealed, in a home and below {sealed['residential_below_kg']:g} kg"
        return Check(None, because, tonnes, False, citation(sealed))
    for row in rule["intervals"]:
        limit = row[f"below_{unit}"]
        if limit is None or not _reached(amount, limit):
            months = int(row["with_detection"] if detection_system else row["months"])
            with_it = " with a detection system" if detection_system else ""
            because = f"{amount:.4g} {shown}{with_it}"
            return Check(months, because, tonnes, wants_detection, citation(rule["interval"]))
    raise ValueError("rules.yaml: the last interval needs no limit")


def _reached(amount: float, limit: float) -> bool:
    """At or above, letting the rounding of a product of decimals pass."""
    return amount >= limit * (1 - 1e-12)


def recheck_window(repaired: dt.date, kind: str | None = None) -> tuple[dt.date, dt.date, Citation]:
    """First and last day of the check after a repair: after 24 hours of operation, within a month (Article 4).

    `kind` of equipment as in a record: what is mobile may be checked directly after the repair.
    """
    rule = _eu()["recheck"]
    hours = 0 if kind in rule["at_once"] else rule["earliest_hours"]
    first = repaired + dt.timedelta(hours=hours)
    return first, add_months(repaired, int(rule["latest_months"])), citation(rule)
