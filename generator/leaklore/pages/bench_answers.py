"""The answers of the work bench, worked out at build time for the example that stands on each page.

site_overrides/js/bench/answers*.mjs do the same in the browser, name by name; a test holds the two against each other.
Inputs are SI by the field's key, None where a field is empty.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from leaklore.trade import eu_rules, leak_rate, us_rules
from leaklore.trade.gas import GasState, NoSaturation
from leaklore.trade.refrigerants import GWP_SETS, Refrigerant
from leaklore.trade.tables import Tables
from leaklore.trade.units import ATMOSPHERE, DAY, YEAR, OutOfRange, require

Inputs = Mapping[str, Any]
TUBE = (193.15, 473.15)
"""The coldest and hottest tube of a refrigerating circuit, K (judgement)."""


@dataclass(frozen=True, slots=True)
class World:
    """What the answers compute with, besides the inputs."""

    tables: Tables
    refrigerants: Mapping[str, Refrigerant]
    names: Mapping[str, str]


@dataclass(slots=True)
class Answer:
    """`outs` fill the page's slots (SI, or text), `parts` say which of its parts are shown, `orders` sort its lists."""

    outs: dict[str, float | str] = field(default_factory=dict)
    parts: set[str] = field(default_factory=set)
    orders: dict[str, list[str]] = field(default_factory=dict)

    def put(self, **outs: float | str | None) -> None:
        """Fills slots; what is unknown or without end stays away. `a__b` is the slot a.b."""
        for key, value in outs.items():
            if value is not None and not (isinstance(value, float) and not math.isfinite(value)):
                self.outs[key.replace("__", ".").replace("_", "-")] = value

    def show(self, *parts: str) -> None:
        """Shows parts of the page."""
        self.parts.update(parts)


Compute = Callable[[Inputs, World], Answer]


def inside_at_rest(w: World, r: Refrigerant, temperature: float, a: Answer) -> GasState | None:
    """Vapour of a circuit at rest; None, and the reason shown, where nothing can be told."""
    pressure = w.tables.dew(r, temperature)
    if isinstance(pressure, NoSaturation):
        a.put(critical=pressure.critical)
        a.show("supercritical")
        return None
    a.put(inside=pressure)
    if pressure <= ATMOSPHERE:
        a.show("below-atmosphere")
        return None
    try:
        return w.tables.vapour(r, temperature, pressure)
    except OutOfRange:  # near its critical point or above 55 degC no vapour table was made
        a.show("no-vapour")
        return None


def pressure_temperature(i: Inputs, w: World) -> Answer:
    """Saturation pressure at a temperature, or the temperature at a pressure."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    low, high = w.tables.saturation_range(r)
    a.put(
        refrigerant=r.key,
        low=low,
        high=high,
        error=w.tables.saturation_error(r),
        group=r.safety_group,
        heavier=r.relative_density,
    )
    a.show("pure" if r.pure else "blend", "flammable" if r.flammable else "not-flammable")
    if i["given"] == "pressure":
        a.show("by-pressure")
        dew, boiling = (w.tables.temperature(r, i["pressure"], side) for side in ("dew", "bubble"))
        a.put(dew_temperature=dew, bubble_temperature=boiling, glide=dew - boiling, absolute=i["pressure"])
        _beyond(i["tube"], dew, boiling, a)
        return a
    pressure = w.tables.dew(r, i["temperature"])
    if isinstance(pressure, NoSaturation):
        a.put(critical=pressure.critical)
        a.show("supercritical")
        return a
    bubble = w.tables.bubble(r, i["temperature"])
    assert not isinstance(bubble, NoSaturation)
    a.show("by-temperature")
    a.put(dew=pressure, bubble=bubble, absolute=pressure, kelvin=i["temperature"])
    if not r.pure:
        try:
            a.put(glide=w.tables.glide(r, pressure))
            a.show("glide")
        except OutOfRange:  # the other side of the glide lies beyond the table
            pass
    return a


def _beyond(tube: float | None, dew: float, bubble: float, a: Answer) -> None:
    """How far a tube is above the dew point or below the bubble point, all K; raises OutOfRange beyond any tube."""
    if tube is None:
        return
    require("tube temperature", tube, *TUBE, "K")
    if tube > dew:
        a.put(superheat=tube - dew)
        a.show("superheat")
    elif tube < bubble:
        a.put(subcooling=bubble - tube)
        a.show("subcooling")
    else:
        a.show("two-phase")


def _warming(r: Refrigerant) -> tuple[float | None, str]:
    for key, name in GWP_SETS.items():
        if r.gwp[key] is not None:
            return r.gwp[key], name
    return None, ""


def leak_rates(i: Inputs, w: World) -> Answer:
    """Loss as a rate, in t CO2e and money, and the rules that look at it."""
    a, r = Answer(), w.refrigerants[i["refrigerant"]]
    loss = leak_rate.loss(i["lost"], i["over"], i["charge"])
    a.put(rate=loss.rate, share=loss.share, years=None if not loss.share else YEAR / loss.share)
    if "years" in a.outs:
        a.show("lasts")
    gwp, name = _warming(r)
    if gwp is not None:
        a.put(gwp=gwp, gwp_set=name, co2e=leak_rate.tonnes_co2e(i["lost"], gwp))
        a.put(co2e_year=leak_rate.tonnes_co2e(loss.rate * YEAR, gwp))
        a.show("gwp")
    if i["price"] is not None:
        a.put(
            cost=leak_rate.cost(i["lost"], i["price"]), cost_year=leak_rate.cost(loss.rate * YEAR, i["price"])
        )
        a.show("price")
    if i["charge"] is None:
        a.show("no-charge")
        return a
    a.show("charge")
    _us(i, r, a)
    check = eu_rules.leak_check(r, i["charge"], i["detection"], i["hermetic"], i["residential"])
    a.put(eu__because=check.because, eu__months=check.months, eu__source=check.source.where)
    a.show("eu.none" if check.months is None else "eu.checked")
    if check.detection:
        a.show("eu.detection")
    return a


def _us(i: Inputs, r: Refrigerant, a: Answer) -> None:
    """The rules of the day, by the annualizing method and by the rolling average where that can be told."""
    on = dt.date.fromisoformat(i["on"])
    days = i["over"] / DAY
    rates = [leak_rate.annualizing(i["lost"], i["charge"], days)]
    a.put(days=days, annualizing=rates[0])
    if i["added"] is not None:
        rates.append(leak_rate.rolling_average([leak_rate.Addition(on, i["added"])], i["charge"], on))
        a.put(rolling=rates[1])
        a.show("rolling")
    kind = us_rules.Appliance(i["kind"], i["light"])
    for rule in us_rules.rules(r, i["charge"], kind, on, max(rates)):
        a.show(rule.key)
        a.outs[f"{rule.key}.because"] = rule.because
        if not rule.holds or rule.threshold is None:
            a.show(f"{rule.key}.out")
            continue
        a.outs[f"{rule.key}.threshold"] = rule.threshold
        a.show(f"{rule.key}.over" if rule.over else f"{rule.key}.under")
        if rule.over:
            months, _ = us_rules.inspection_months(i["kind"], i["charge"])
            a.put(repair_by=us_rules.repair_by(on).day.isoformat(), inspection=months)
            a.show("us.over")
        if us_rules.chronic_report(i["lost"], i["charge"], on.year) is not None:
            a.show("us.chronic")
