"""Makes `tables.json` from CoolProp: `python -m leaklore.trade.fit` after a change of refrigerants.

Fits by least squares at Chebyshev nodes and measures the error on a finer grid in between, so that each
table states an error that was seen and not hoped for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.polynomial import chebyshev as cheb
from numpy.typing import NDArray

from leaklore.trade import live, tables
from leaklore.trade.gas import GasState, NoSaturation
from leaklore.trade.refrigerants import Refrigerant, shipped

SATURATION_DEGREE = 7
VAPOUR_DEGREE = 5
NITROGEN_DEGREE = 6
_NEAR_CRITICAL = 0.02
"""K below the critical temperature at which the saturation curve ends."""
_VAPOUR_END = 328.15
"""K; 55 degC. Above, and within 10 K of the critical temperature, Z falls too fast for a small table."""
_VAPOUR_MARGIN = 10.0
_LOWEST = 1e3
"""Pa; below, a refrigerant vapour is an ideal gas to 1e-3."""
_NITROGEN_HIGHEST = live.NITROGEN_HIGHEST
_DIGITS = 10

Numbers = NDArray[np.float64]


def nodes(count: int, low: float, high: float) -> Numbers:
    """Chebyshev nodes between `low` and `high`."""
    angle = np.pi * (2 * np.arange(count) + 1) / (2 * count)
    return (low + high) / 2 + (high - low) / 2 * np.cos(angle)


def _rounded(values: Any) -> Any:
    """Nested lists with `_DIGITS` significant digits."""
    if isinstance(values, list):
        return [_rounded(v) for v in values]
    return float(f"{values:.{_DIGITS}g}")


def _curve(pressure: Callable[[float], float], low: float, high: float) -> tuple[list[float], float]:
    """Coefficients of ln p in 1/T and the largest relative error of p."""
    inverse = nodes(32, 1 / high, 1 / low)
    x = [tables.scaled(float(u), 1 / high, 1 / low) for u in inverse]
    logs = [math.log(pressure(float(1 / u))) for u in inverse]
    coefficients: list[float] = _rounded(cheb.chebfit(x, logs, SATURATION_DEGREE).tolist())
    worst = 0.0
    for t in np.linspace(low, high, 421):
        value = math.exp(tables.chebyshev(coefficients, tables.scaled(1 / t, 1 / high, 1 / low)))
        worst = max(worst, abs(value / pressure(float(t)) - 1))
    return coefficients, worst


def _surfaces(
    state: Callable[[float, float], GasState],
    low: float,
    high: float,
    coarse: Numbers,
    fine: Numbers,
    highest: int = VAPOUR_DEGREE,
) -> dict[str, Any]:
    """Coefficients of n and Z over T and the second variable (-1..1), of the viscosity over T, and errors."""
    degree = [highest, highest]
    at = [(float(t), float(y)) for t in nodes(14, low, high) for y in coarse]
    found = [state(t, y) for t, y in at]
    x = np.array([tables.scaled(t, low, high) for t, _ in at])
    matrix = cheb.chebvander2d(x, np.array([y for _, y in at]), degree)
    out: dict[str, Any] = {"low": low, "high": high}
    error: dict[str, float] = {}
    probes = [(float(t), float(y)) for t in np.linspace(low, high, 17) for y in fine]
    for name in ("exponent", "compressibility"):
        values = np.array([getattr(s, name) for s in found])
        flat, *_ = np.linalg.lstsq(matrix, values, rcond=None)
        rows = _rounded(flat.reshape(highest + 1, highest + 1).tolist())
        out[name] = rows
        error[name] = max(
            abs(tables.chebyshev2(rows, tables.scaled(t, low, high), y) / getattr(state(t, y), name) - 1)
            for t, y in probes
        )
    viscosity = cheb.chebfit(x, np.array([s.viscosity for s in found]), 2)
    out["viscosity"] = _rounded(viscosity.tolist())
    error["viscosity"] = max(
        abs(tables.chebyshev(out["viscosity"], tables.scaled(t, low, high)) / state(t, 1.0).viscosity - 1)
        for t, y in probes
        if y == fine[-1]
    )
    out["error"] = {name: float(f"{value:.2g}") for name, value in error.items()}
    return out


def _pressure(value: float | NoSaturation) -> float:
    if isinstance(value, NoSaturation):
        raise ValueError(f"no saturation at {value.temperature} K")
    return value


def _refrigerant(refrigerant: Refrigerant, properties: live.CoolProp) -> dict[str, Any]:
    """Table of one refrigerant."""
    critical = properties.critical_temperature(refrigerant)
    low, high = live.COLDEST, min(live.WARMEST, critical - _NEAR_CRITICAL)
    coefficients, worst = _curve(lambda t: _pressure(properties.dew(refrigerant, t)), low, high)
    saturation: dict[str, Any] = {"low": low, "high": _rounded(high), "dew": coefficients}
    if not refrigerant.pure:
        bubble, other = _curve(lambda t: _pressure(properties.bubble(refrigerant, t)), low, high)
        saturation["bubble"], worst = bubble, max(worst, other)
    saturation["error"] = float(f"{worst:.2g}")

    def state(temperature: float, y: float) -> GasState:
        dew = _pressure(properties.dew(refrigerant, temperature))
        return properties.vapour(refrigerant, temperature, max(_LOWEST, min(dew * (y + 1) / 2, dew)))

    end = _rounded(min(_VAPOUR_END, critical - _VAPOUR_MARGIN))
    start = 2 * _LOWEST / _pressure(properties.dew(refrigerant, low)) - 1
    fine = np.array([start, -0.9, -0.7, -0.4, -0.1, 0.1, 0.4, 0.7, 0.9, 0.96, 1.0])
    vapour = _surfaces(state, low, end, nodes(14, start, 1.0), fine)
    return {
        "molar_mass": _rounded(state(low, 1.0).molar_mass),
        "critical": _rounded(critical),
        "saturation": saturation,
        "vapour": vapour,
    }


def _nitrogen(properties: live.CoolProp) -> dict[str, Any]:
    def state(temperature: float, y: float) -> GasState:
        return properties.nitrogen(temperature, max(_LOWEST, _NITROGEN_HIGHEST * (y + 1) / 2))

    coarse, fine = nodes(14, -1.0, 1.0), np.linspace(-0.99, 1.0, 12)
    found = _surfaces(state, live.COLDEST, live.WARMEST, coarse, fine, NITROGEN_DEGREE)
    return {"molar_mass": _rounded(state(300.0, 0.0).molar_mass), "highest": _NITROGEN_HIGHEST, **found}


def table(refrigerants: Mapping[str, Refrigerant] | None = None) -> dict[str, Any]:
    """All tables as plain data: see `tables` for their meaning; about 38 kB as JSON, 14 kB packed."""
    properties = live.CoolProp()
    chosen = shipped() if refrigerants is None else refrigerants
    return {
        "version": tables.VERSION,
        "made_with": f"CoolProp {live.version()}",
        "warmest": live.WARMEST,
        "refrigerants": {key: _refrigerant(chosen[key], properties) for key in sorted(chosen)},
        "nitrogen": _nitrogen(properties),
    }


def text(content: Mapping[str, Any]) -> str:
    """JSON with one refrigerant a line, so that a change shows where it is."""
    rows = [f"  {json.dumps(k)}: {json.dumps(v)}" for k, v in content["refrigerants"].items()]
    rest = {k: v for k, v in content.items() if k != "refrigerants"}
    head = ",\n ".join(f"{json.dumps(k)}: {json.dumps(v)}" for k, v in rest.items())
    return "{" + head + ',\n "refrigerants": {\n' + ",\n".join(rows) + "\n }}\n"


if __name__ == "__main__":
    tables.FILE.write_text(text(table()), encoding="utf-8")
