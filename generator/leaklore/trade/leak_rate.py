"""Charge lost as a rate: by the year, as a share of the charge, by the two methods of the US rules, in t CO2e, in money."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from leaklore.trade.units import YEAR, positive, require

RULE_YEAR = 365
"""days; the year of 40 CFR 82.152 and 84.102."""


@dataclass(frozen=True, slots=True)
class Loss:
    """A mean loss: `rate` kg/s; `share` of the full charge a year (1 = all of it), None without a charge."""

    rate: float
    share: float | None


def loss(lost: float, over: float, charge: float | None = None) -> Loss:
    """Mean loss of `lost` kg over `over` s from a full charge of `charge` kg: rate = lost / over.

    A plain physical rate (Julian year), not the rule's; as uncertain as the weighing: 0.1 kg of scale and
    hose error in 1 kg is 10 %.
    """
    require("charge lost", lost, 0.0, 1e6, "kg")
    positive("time", over, "s")
    rate = lost / over
    if charge is None:
        return Loss(rate, None)
    return Loss(rate, rate * YEAR / positive("full charge", charge, "kg"))


def annualizing(added: float, full_charge: float, days: float) -> float:
    """Leak rate by the annualizing method, as a share a year (0.2 = 20 %).

    rate = (added / full charge) / (min(days, 365) / 365); `days` since the last addition of refrigerant.
    Additions for one and the same leak are summed before. With no counted addition before, `days` is 365
    (40 CFR 84.106(b); from memory). Any one unit of mass; days > 0.
    Source: 40 CFR 82.152 and 84.102, "leak rate" (1), steps 1 to 4; formula read on secondary pages.
    """
    require("refrigerant added", added, 0.0, 1e6, "kg")
    positive("full charge", full_charge, "kg")
    positive("days since the last addition", days, "d")
    return (added / full_charge) / (min(days, RULE_YEAR) / RULE_YEAR)


@dataclass(frozen=True, slots=True)
class Addition:
    """Refrigerant added on a day, kg; `counts` is False for a new install, a retrofit or a seasonal variance."""

    day: dt.date
    mass: float
    counts: bool = True


def rolling_average(
    additions: Sequence[Addition], full_charge: float, on: dt.date, verified: dt.date | None = None
) -> float:
    """Leak rate by the rolling average method, as a share a year.

    rate = (sum of additions over the last 365 days, or since `verified` if that is shorter) / full charge;
    `verified` is the last successful follow-up verification test that showed all identified leaks repaired.
    The day of the test itself does not count, `on` does.
    Source: 40 CFR 82.152 and 84.102, "leak rate" (2); formula read on secondary pages.
    """
    positive("full charge", full_charge, "kg")
    start = on - dt.timedelta(days=RULE_YEAR)
    if verified is not None:
        start = max(start, verified)
    counted = (a for a in additions if a.counts and start < a.day <= on)
    return sum(require("refrigerant added", a.mass, 0.0, 1e6, "kg") for a in counted) / full_charge


def tonnes_co2e(mass: float, gwp: float) -> float:
    """t CO2e of `mass` kg: mass / 1000 times GWP (Regulation (EU) 2024/573, Article 3(3))."""
    require("mass", mass, 0.0, 1e9, "kg")
    return mass * require("GWP", gwp, 0.0, 50_000.0, "") / 1000


def cost(mass: float, price: float) -> float:
    """Cost of `mass` kg at `price` a kg, in the currency of the price."""
    return require("mass", mass, 0.0, 1e9, "kg") * require("price", price, 0.0, 1e6, "/kg")
