"""The US rules on leaking appliances: which one holds, its threshold, and what follows from passing it.

All figures come from `rules.yaml` with their paragraph, date and mark. Nothing here is legal advice.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leaklore.trade import data
from leaklore.trade.data import Citation, citation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import POUND, positive, require


def _us() -> Mapping[str, Any]:
    found: Mapping[str, Any] = data.load("rules")["us"]
    return found


@dataclass(frozen=True, slots=True)
class Appliance:
    """Kind of appliance under the rules; `light` = may belong to residential and light commercial AC and heat pumps."""

    kind: str
    light: bool


def appliance(equipment_kind: str, setting: str | None = None) -> Appliance:
    """Kind of the rules for a record's equipment kind and setting; "other" for what we do not know."""
    found = _us()["appliances"].get(equipment_kind)
    if found is None:
        return Appliance("other", False)
    kind = found.get("setting", {}).get(setting, found["kind"])
    return Appliance(str(kind), bool(found.get("light", False)))


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule asked whether it holds for an appliance on a day.

    `holds`, and `because` in words; where it holds, `threshold` is the share of the full charge a year
    above which a repair is due. `over` is None without a rate. Additions before `counts_from` do not count in
    the rate (None: all do), and the first that counts is taken over 365 days.
    """

    key: str
    name: str
    holds: bool
    because: str
    threshold: float | None
    over: bool | None
    scope: Citation
    source: Citation
    counts_from: dt.date | None


def _contains(refrigerant: Refrigerant, list_name: str) -> bool:
    return any(c.of in _us()[list_name] for c in refrigerant.composition)


def _in_scope(rule: Mapping[str, Any], refrigerant: Refrigerant) -> tuple[bool, str]:
    """Does the rule take this refrigerant, and why (not)?"""
    wanted = rule["refrigerants"]
    ods, hfc = _contains(refrigerant, "ods"), _contains(refrigerant, "hfc")
    if wanted == "ods":
        word = "holds" if ods else "holds no"
        return ods, f"{refrigerant.key} {word} ozone-depleting substance"
    if wanted == "ods-or-hfc":
        word = "" if ods or hfc else "not "
        return ods or hfc, f"{refrigerant.key} is {word}among the refrigerants of that time"
    if hfc:
        return True, f"{refrigerant.key} holds an HFC"
    if ods:
        return False, f"{refrigerant.key} holds no HFC; part 82 takes it"
    gwp, limit = refrigerant.gwp["ar4"], float(rule["gwp_over"])
    if gwp is None:
        return False, f"{refrigerant.key} holds no HFC and we have no GWP of it"
    word = "" if gwp > limit else "not "
    return gwp > limit, f"{refrigerant.key} holds no HFC and its GWP of {gwp:g} is {word}above {limit:g}"


def rules(
    refrigerant: Refrigerant,
    full_charge: float,
    kind: Appliance,
    on: dt.date,
    rate: float | None = None,
    residential_or_light: bool | None = None,
) -> tuple[Rule, ...]:
    """The rules in force on a day, each with whether it holds for this appliance.

    `full_charge` kg; `rate` share of the full charge a year by one of the rules' methods. A repair is due
    when the rate is *over* the threshold, not at it. `residential_or_light` says whether the system is in
    the excluded subsector; None takes `kind.light`.
    """
    positive("full charge", full_charge, "kg")
    if rate is not None:
        require("leak rate", rate, 0.0, 1e6, "")
    found = []
    for rule in _us()["rules"]:
        if not (rule["from"] <= on and (rule["until"] is None or on <= rule["until"])):
            continue
        holds, because = _in_scope(rule, refrigerant)
        light = kind.light if residential_or_light is None else residential_or_light
        if holds and rule["light_excluded"] and light:
            holds, because = False, "residential and light commercial AC and heat pumps are excluded"
        if holds and full_charge < rule["least_charge"] * (1 - 1e-9):
            holds, because = False, f"the full charge is below {_pounds(rule['least_charge'])}"
        limit = float(rule["thresholds"][kind.kind]) if holds else None
        over = None if limit is None or rate is None else rate > limit + 1e-12
        scope, source = citation(rule["scope"]), citation(rule["threshold"])
        since = rule.get("counts_from")
        found.append(Rule(rule["key"], rule["name"], holds, because, limit, over, scope, source, since))
    return tuple(found)


def _pounds(kilogram: float) -> str:
    return f"{kilogram / POUND:.0f} lb ({kilogram:.1f} kg)"


@dataclass(frozen=True, slots=True)
class Deadline:
    """A day by which something is due, with its paragraph."""

    day: dt.date
    source: Citation


def repair_by(found: dt.date, process_shutdown: bool = False) -> Deadline:
    """Day by which leaks are repaired: 30 days from the addition that showed it, 120 with a process shutdown."""
    rule = _us()["repair"]
    days = rule["shutdown_days"] if process_shutdown else rule["days"]
    return Deadline(found + dt.timedelta(days=days), citation(rule))


def follow_up_by(initial_test: dt.date) -> Deadline:
    """Day by which the follow-up verification test is due: 10 days from the initial one that passed."""
    rule = _us()["follow_up"]
    return Deadline(initial_test + dt.timedelta(days=rule["days"]), citation(rule))


def inspection_months(kind: str, full_charge: float) -> tuple[int, Citation]:
    """Months between leak inspections once the threshold was passed: 3 from 500 lb of refrigeration, else 12."""
    rule = _us()["inspection"]
    large = positive("full charge", full_charge, "kg") >= rule["frequent_from"] * (1 - 1e-9)
    months = rule["frequent_months"] if large and kind in rule["frequent_kinds"] else rule["other_months"]
    return int(months), citation(rule)


def chronic_report(lost: float, full_charge: float, year: int) -> Deadline | None:
    """Report on an appliance that lost 125 % or more of its charge in calendar `year`: due 1 March after; else None."""
    rule = _us()["chronic"]
    share = require("charge lost", lost, 0.0, 1e9, "kg") / positive("full charge", full_charge, "kg")
    if share < rule["share"] * (1 - 1e-9):
        return None
    return Deadline(dt.date(year + 1, rule["month"], rule["day"]), citation(rule))


def detection_due(kind: str, full_charge: float, installed: dt.date) -> Deadline | None:
    """Day by which automatic leak detection is due (HFC refrigeration from 1500 lb), None where it is not."""
    rule = _us()["detection"]
    if kind not in rule["kinds"] or full_charge < rule["least_charge"] * (1 - 1e-9):
        return None
    if installed < rule["installed_from"]:
        return None
    if installed < rule["from"]:
        return Deadline(rule["existing_by"], citation(rule))
    return Deadline(installed + dt.timedelta(days=rule["new_within_days"]), citation(rule))


def alarm_loss(full_charge: float) -> float:
    """kg; loss at which an indirect detection system alarms: 50 lb or 10 % of the full charge, whichever is less."""
    rule = _us()["detection_alarm"]
    return min(float(rule["loss"]), float(rule["loss_share"]) * positive("full charge", full_charge, "kg"))
