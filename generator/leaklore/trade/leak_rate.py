"""Charge lost as a rate: by the year, as a share of the charge, by the two methods of the US rules, in t CO2e, in money."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from leaklore.trade.units import GRAM_PER_YEAR, OUNCE_PER_YEAR, YEAR, positive, require

RULE_YEAR = 365
"""days; the year of 40 CFR 82.152 and 84.102."""


@dataclass(frozen=True, slots=True)
class Loss:
    """A mean loss: `rate` kg/s; `share` of the full charge a year (1 = all of it), None without a charge."""

    rate: float
    share: float | None

    @property
    def grams_per_year(self) -> float:
        """g in 365.25 days."""
        return self.rate / GRAM_PER_YEAR

    @property
    def ounces_per_year(self) -> float:
        """oz in 365.25 days."""
        return self.rate / OUNCE_PER_YEAR

    @property
    def years_to_empty(self) -> float | None:
        """Years until a full charge is gone at this rate; None without a charge or a loss."""
        return 1 / self.share if self.share else None


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


def established_charge(low: float, high: float) -> float:
    """kg; full charge of an established range is its midpoint (40 CFR 82.152, "full charge" (4))."""
    require("range of the charge", high, low, 1e6, "kg")
    return (positive("full charge", low, "kg") + high) / 2


def lost_after(share: float, years: float, compounding: bool = True) -> float:
    """Share of the charge lost after `years` without topping up, at `share` of it lost a year.

    Compounding, 1 - (1 - share)^years: the loss follows what is left. Not compounding, share years (at most
    1): the loss keeps its first rate, as liquid at a steady pressure does. `share` 0 to 1.
    """
    require("share lost a year", share, 0.0, 1.0, "")
    require("years", years, 0.0, 200.0, "yr")
    return float(1 - (1 - share) ** years) if compounding else min(1.0, share * years)


def tonnes_co2e(mass: float, gwp: float) -> float:
    """t CO2e of `mass` kg: mass / 1000 times GWP (Regulation (EU) 2024/573, Article 3(3))."""
    require("mass", mass, 0.0, 1e9, "kg")
    return mass * require("GWP", gwp, 0.0, 50_000.0, "") / 1000


def charge_at(tonnes: float, gwp: float) -> float:
    """kg of refrigerant that equal `tonnes` t CO2e: 1000 t / GWP."""
    return 1000 * require("t CO2e", tonnes, 0.0, 1e9, "t") / positive("GWP", gwp, "")


def cost(mass: float, price: float) -> float:
    """Cost of `mass` kg at `price` a kg, in the currency of the price."""
    return require("mass", mass, 0.0, 1e9, "kg") * require("price", price, 0.0, 1e6, "/kg")
