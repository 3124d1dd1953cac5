"""The figures that questions draw from: round in the company's units, held in SI."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from leaklore.trade.units import (
    ATMOSPHERE,
    DAY,
    GRAM_PER_YEAR,
    HOUR,
    INCH,
    MICRON,
    OUNCE_PER_YEAR,
    POUND,
    PSI,
    YEAR,
)

MONTH = YEAR / 12
GASES = {
    "common": ("R-410A", "R-32", "R-454B", "R-134a", "R-404A", "R-22", "R-449A", "R-407C", "R-290"),
    "searched": ("R-410A", "R-32", "R-454B", "R-134a", "R-404A", "R-22", "R-290", "R-717"),
    "weighed": ("R-410A", "R-32", "R-134a", "R-404A", "R-407C", "R-449A", "R-454B", "R-507A"),
    "cooled-rooms": ("R-134a", "R-404A", "R-449A", "R-448A", "R-290", "R-744"),
    "cooled-air": ("R-410A", "R-32", "R-454B", "R-407C"),
    "ruled-commercial-refrigeration": ("R-22", "R-404A", "R-449A", "R-448A", "R-134a", "R-744"),
    "ruled-industrial-process": ("R-22", "R-404A", "R-507A", "R-134a", "R-717"),
    "ruled-comfort-cooling": ("R-22", "R-410A", "R-407C", "R-134a", "R-513A"),
}
"""Refrigerants that a template draws from."""
ANY: Mapping[str, tuple[Any, ...]] = {
    "months": tuple(m * MONTH for m in (2, 3, 4, 5, 7, 8, 9, 10, 15, 18)),
    "parts": (0.05, 0.08, 0.1, 0.15, 0.2, 0.25),
    "backgrounds": tuple(p * 1e-6 for p in (1, 2, 3, 4, 5, 8, 10, 15, 20, 30)),
    "ladders": (
        (600.0, HOUR, 6 * HOUR, 36 * HOUR),
        (900.0, 2 * HOUR, 12 * HOUR, 72 * HOUR),
        (1800.0, 4 * HOUR, 24 * HOUR, 144 * HOUR),
        (HOUR, 8 * HOUR, 48 * HOUR, 336 * HOUR),
        (2 * HOUR, 12 * HOUR, 72 * HOUR, 432 * HOUR),
        (4 * HOUR, 24 * HOUR, 144 * HOUR, 720 * HOUR),
    ),
    "holds": (HOUR, 2 * HOUR, 4 * HOUR, 8 * HOUR, 24 * HOUR),
    "days": tuple(d * DAY for d in (40, 50, 60, 75, 90, 100, 120, 150, 180, 210, 240, 500)),
    "dates": (
        *("2026-02-03", "2026-03-10", "2026-04-14", "2026-05-05", "2026-06-18", "2026-07-01", "2026-08-11"),
        *("2026-09-22", "2026-10-06", "2026-11-12", "2026-12-15", "2027-01-19"),
    ),
    "appliances": ("commercial-refrigeration", "industrial-process", "comfort-cooling"),
    "vacua": tuple(m * MICRON for m in (200, 250, 300, 350, 400, 450)),
    "first-rises": tuple(m * MICRON for m in (200, 250, 300, 350, 400, 500, 600)),
}
US: Mapping[str, tuple[Any, ...]] = {
    "pressures": tuple(p * PSI + ATMOSPHERE for p in (150, 175, 200, 225, 250, 300, 350, 400, 450)),
    "temperatures": tuple((f + 459.67) * 5 / 9 for f in (50, 55, 60, 65, 70, 75, 80, 85)),
    "steps": tuple(f * 5 / 9 for f in (10, 15, 20, 25, 30, 40)),
    "leaks-of-pressure": tuple(p * PSI for p in (0, 0, 7, 9, 11, 14, 18, 24)),
    "grid": (PSI,),
    "zero": (459.67 * 5 / 9,),
    "any-rates": tuple(o * OUNCE_PER_YEAR for o in (0.5, 1, 1.5, 3, 6, 12, 24, 48, 96, 192, 320, 480, 640)),
    "rates": tuple(o * OUNCE_PER_YEAR for o in (3, 4, 6, 8, 12, 16, 20, 24, 32, 48, 64, 96)),
    "volumes": tuple(i * INCH**3 for i in (120, 150, 200, 250, 300, 400, 600, 800)),
    "losses": tuple(p * POUND for p in (0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 14, 20)),
    "charges": tuple(p * POUND for p in (5, 7, 9, 12, 15, 18, 24, 30, 40, 60, 80)),
    "ruled-charges": tuple(p * POUND for p in (9, 12, 30, 40, 60, 80, 100, 150, 200, 250, 400, 600)),
    "added": tuple(p * POUND for p in (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50)),
    "slip": (1 / POUND,),
}
SI: Mapping[str, tuple[Any, ...]] = {
    "pressures": tuple(b * 1e5 + ATMOSPHERE for b in (10, 12, 14, 16, 18, 20, 24, 28, 30)),
    "temperatures": tuple(c + 273.15 for c in (8, 10, 12, 15, 18, 20, 24, 28)),
    "steps": tuple(float(k) for k in (5, 8, 10, 12, 15, 20)),
    "leaks-of-pressure": tuple(b * 1e5 for b in (0, 0, 0.5, 0.6, 0.8, 1.0, 1.3, 1.7)),
    "grid": (1e4,),
    "zero": (273.15,),
    "any-rates": tuple(
        g * GRAM_PER_YEAR for g in (12, 20, 30, 80, 150, 400, 800, 1500, 3000, 6000, 9000, 15000)
    ),
    "rates": tuple(g * GRAM_PER_YEAR for g in (80, 120, 150, 200, 300, 400, 500, 700, 1000, 1500, 2500)),
    "volumes": tuple(v * 1e-3 for v in (2, 2.5, 3, 4, 5, 6, 8, 12)),
    "losses": (0.2, 0.3, 0.4, 0.5, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 9.0),
    "charges": (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 40.0),
    "ruled-charges": (0.8, 1.5, 3.0, 5.0, 8.0, 12.0, 20.0, 35.0, 60.0, 120.0, 200.0, 300.0),
    "added": (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 15.0),
    "slip": (2.0,),
}
"""`grid` is what a gauge is read to, `zero` (K) where the scale of temperature begins, `slip` the factor of a usual slip."""
