"""Properties interpolated from `tables.json`, which `fit` wrote: what the browser and the build use.

Saturation: ln(p/Pa) is a Chebyshev series in x, linear in 1/T. Vapour: Z and n are Chebyshev series in
x, linear in T, and y = 2 p/p_dew(T) - 1. Viscosity: a parabola in T. Each entry states its largest
relative error against CoolProp: saturation at most 1.1e-4, Z 4e-3, n and viscosity 6e-4.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from typing import Any, Literal

from leaklore.errors import LeakloreError
from leaklore.trade.data import FOLDER
from leaklore.trade.gas import GasState, NoSaturation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.units import require

VERSION = 1
FILE = FOLDER / "tables.json"
Side = Literal["bubble", "dew"]
_HALVINGS = 60
_REMEMBERED = 4096
"""States that are kept: most leaks are looked at from the same few."""


class NotInTables(LeakloreError):
    """A refrigerant for which no table was made (the company's own, say)."""


def chebyshev(coefficients: Sequence[float], x: float) -> float:
    """Sum of c_k T_k(x) by Clenshaw's recurrence; -1 <= x <= 1."""
    b1 = b2 = 0.0
    twice = 2 * x
    for c in coefficients[:0:-1]:
        b1, b2 = c + twice * b1 - b2, b1
    return coefficients[0] + x * b1 - b2


def chebyshev2(rows: Sequence[Sequence[float]], x: float, y: float) -> float:
    """Sum of c_ij T_i(x) T_j(y)."""
    return chebyshev([chebyshev(row, y) for row in rows], x)


def scaled(value: float, low: float, high: float) -> float:
    """`low`..`high` -> -1..1."""
    return (2 * value - low - high) / (high - low)


class Tables:
    """Provider of properties (see `gas.Properties`) from the content of `tables.json`."""

    def __init__(self, content: Mapping[str, Any]) -> None:
        if content["version"] != VERSION:
            raise LeakloreError(f"tables of version {content['version']}, this program reads {VERSION}")
        self.content = content
        self._saturation = lru_cache(_REMEMBERED)(self._saturation_of)
        self._vapour = lru_cache(_REMEMBERED)(self._vapour_of)
        self._nitrogen = lru_cache(_REMEMBERED)(self._nitrogen_of)
        self._isotherm = lru_cache(_REMEMBERED)(self._isotherm_of)

    def _entry(self, key: str) -> Mapping[str, Any]:
        entry: Mapping[str, Any] | None = self.content["refrigerants"].get(key)
        if entry is None:
            raise NotInTables(f"there is no table for {key}")
        return entry

    def saturation_error(self, refrigerant: Refrigerant) -> float:
        """Largest relative error of the saturation pressure against CoolProp."""
        return float(self._entry(refrigerant.key)["saturation"]["error"])

    def saturation_range(self, refrigerant: Refrigerant) -> tuple[float, float]:
        """K; lowest and highest temperature of the saturation curve."""
        saturation = self._entry(refrigerant.key)["saturation"]
        return float(saturation["low"]), float(saturation["high"])

    def saturation(self, refrigerant: Refrigerant, temperature: float, side: Side) -> float | NoSaturation:
        """Pa absolute at `temperature` (K), -40 to 65 degC; NoSaturation above the critical temperature."""
        return self._saturation(refrigerant.key, temperature, side)

    def _saturation_of(self, key: str, temperature: float, side: Side) -> float | NoSaturation:
        entry = self._entry(key)
        low, high = float(entry["saturation"]["low"]), float(entry["saturation"]["high"])
        critical = float(entry["critical"])
        if temperature > high and critical < high + 1:
            require("temperature", temperature, low, self.content["warmest"], "K")
            return NoSaturation(temperature, critical)
        temperature = require("temperature", temperature, low, high, "K")
        coefficients = entry["saturation"].get(side) or entry["saturation"]["dew"]
        return math.exp(chebyshev(coefficients, scaled(1 / temperature, 1 / high, 1 / low)))

    def bubble(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; saturation pressure at the bubble point."""
        return self.saturation(refrigerant, temperature, "bubble")

    def dew(self, refrigerant: Refrigerant, temperature: float) -> float | NoSaturation:
        """Pa absolute; saturation pressure at the dew point."""
        return self.saturation(refrigerant, temperature, "dew")

    def temperature(self, refrigerant: Refrigerant, pressure: float, side: Side) -> float:
        """K; saturation temperature at `pressure` (Pa absolute), by halving the range; inverse of the curve."""
        low, high = self.saturation_range(refrigerant)
        least, most = (self.saturation(refrigerant, t, side) for t in (low, high))
        if isinstance(least, float) and isinstance(most, float):
            require("pressure", pressure, least, most, "Pa")
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            found = self.saturation(refrigerant, middle, side)
            if isinstance(found, float) and found < pressure:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def glide(self, refrigerant: Refrigerant, pressure: float) -> float:
        """K between bubble and dew point at `pressure` (Pa absolute); 0 for a pure refrigerant."""
        return self.temperature(refrigerant, pressure, "dew") - self.temperature(
            refrigerant, pressure, "bubble"
        )

    def vapour(self, refrigerant: Refrigerant, temperature: float, pressure: float) -> GasState:
        """Vapour at or below its dew pressure, -40 to 55 degC (R-744: to 20.9 degC)."""
        return self._vapour(refrigerant.key, temperature, pressure)

    def _vapour_of(self, key: str, temperature: float, pressure: float) -> GasState:
        entry = self._entry(key)["vapour"]
        temperature = require("temperature", temperature, entry["low"], entry["high"], "K")
        dew = self._saturation(key, temperature, "dew")
        if isinstance(dew, NoSaturation):  # can't be: the vapour's range ends below
            raise NotInTables(f"{key} has no vapour table at {temperature:.2f} K")
        require("pressure", pressure, 1e3, dew * (1 + 1e-3), "Pa")
        x = scaled(temperature, entry["low"], entry["high"])
        y = 2 * min(pressure / dew, 1.0) - 1
        return GasState(
            molar_mass=float(self._entry(key)["molar_mass"]),
            temperature=temperature,
            pressure=pressure,
            exponent=chebyshev2(entry["exponent"], x, y),
            compressibility=chebyshev2(entry["compressibility"], x, y),
            viscosity=chebyshev(entry["viscosity"], x),
        )

    def nitrogen(self, temperature: float, pressure: float) -> GasState:
        """Nitrogen, -40 to 65 degC, up to 20 MPa."""
        return self._nitrogen(temperature, pressure)

    def _nitrogen_of(self, temperature: float, pressure: float) -> GasState:
        entry = self.content["nitrogen"]
        temperature = require("temperature", temperature, entry["low"], entry["high"], "K")
        require("pressure", pressure, 1e3, entry["highest"], "Pa")
        exponent, compressibility, viscosity = self._isotherm(temperature)
        y = scaled(pressure, 0.0, entry["highest"])
        return GasState(
            molar_mass=float(entry["molar_mass"]),
            temperature=temperature,
            pressure=pressure,
            exponent=chebyshev(exponent, y),
            compressibility=chebyshev(compressibility, y),
            viscosity=viscosity,
        )

    def _isotherm_of(self, temperature: float) -> tuple[list[float], list[float], float]:
        """Nitrogen's series in pressure of n and Z, and its viscosity; most tests are looked at at few temperatures."""
        entry = self.content["nitrogen"]
        x = scaled(temperature, entry["low"], entry["high"])
        exponent, compressibility = (
            [chebyshev(column, x) for column in zip(*entry[name], strict=True)]
            for name in ("exponent", "compressibility")
        )
        return exponent, compressibility, chebyshev(entry["viscosity"], x)


@cache
def shipped() -> Tables:
    """The tables made for the shipped refrigerants."""
    return Tables(json.loads(FILE.read_text(encoding="utf-8")))
