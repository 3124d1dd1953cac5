"""Constants and factors of the trade in SI, and the error for a value outside a formula's range.

Constants: molar gas constant and standard atmosphere from CODATA 2018 (exact since 2019); pound, ounce and
psi from NIST SP 811, appendix B.8 (pound and ounce exact, psi to 16 digits from the exact pound and inch).
"""

from __future__ import annotations

import math

from leaklore.errors import LeakloreError
from leaklore.records.model import YEAR
from leaklore.records.quantity import ATMOSPHERE

__all__ = ["ATMOSPHERE", "YEAR", "OutOfRange", "gauge", "require"]

R = 8.314462618
"""J/(mol K); molar gas constant."""
AIR = 0.028965
"""kg/mol; molar mass of dry air."""
POUND = 0.45359237
"""kg"""
OUNCE = POUND / 16
"""kg"""
INCH = 0.0254
"""m"""
FOOT = 0.3048
"""m"""
PSI = POUND * 9.80665 / INCH**2
"""Pa"""
MICRON = ATMOSPHERE / 760_000
"""Pa; 1 micron = 1/1000 mmHg = 0.133322 Pa (torr; mmHg differs by 1.4e-7)."""
MILLIMETRE_MERCURY = ATMOSPHERE / 760
"""Pa"""
INCH_MERCURY = INCH * 13_595.1 * 9.80665
"""Pa; conventional inch of mercury (NIST SP 811 B.8: 3386.389 Pa)."""
HOUR = 3600.0
"""s"""
DAY = 86_400.0
"""s"""
GRAM_PER_YEAR = 1e-3 / YEAR
"""kg/s; the year is the Julian one of 365.25 days, 31 557 600 s."""
OUNCE_PER_YEAR = OUNCE / YEAR
"""kg/s"""
ROOM_TEMPERATURE = 293.15
"""K; 20 degC, at which leak rates are stated unless said otherwise."""


class OutOfRange(LeakloreError):
    """A value for which the formula does not hold; `field` names it, `low` and `high` are the limits."""

    def __init__(self, field: str, value: float, low: float, high: float, unit: str) -> None:
        tail = f" {unit}" if unit else ""
        limits = (
            f"is outside {low:.6g} to {high:.6g}{tail}"
            if high < math.inf
            else f"must be above {low:.6g}{tail if low else ''}"
        )
        super().__init__(f"{field} {value:.6g}{tail} {limits}")
        self.field, self.value, self.low, self.high, self.unit = field, value, low, high, unit


def require(field: str, value: float, low: float, high: float, unit: str) -> float:
    """`value` if `low` <= `value` <= `high`; raises OutOfRange otherwise (also for NaN).

    What is outside by rounding only (1e-9 of the limit: -40 degF and -40 degC are one) comes back as the limit.
    """
    if low <= value <= high:  # at once: it is asked some fifty times a case
        return value
    if not low - 1e-9 * abs(low) <= value <= high + 1e-9 * abs(high):
        raise OutOfRange(field, value, low, high, unit)
    return min(max(value, low), high)


def absolute_temperature(field: str, kelvin: float) -> float:
    """A temperature met at a refrigeration circuit, K (150 to 480); a figure in degF or degC is refused."""
    return require(field, kelvin, 150.0, 480.0, "K")


def absolute_pressure(field: str, pascal: float) -> float:
    """A pressure above vacuum met at a circuit, Pa absolute (1 kPa to 20 MPa); psi or bar are refused."""
    return require(field, pascal, 1e3, 2e7, "Pa")


def positive(field: str, value: float, unit: str) -> float:
    """`value` if above zero and finite; raises OutOfRange otherwise."""
    if not 0 < value < math.inf:
        raise OutOfRange(field, value, 0.0, math.inf, unit)
    return value


def gauge(pascal: float) -> float:
    """Pa gauge of Pa absolute, against the standard atmosphere."""
    return pascal - ATMOSPHERE
