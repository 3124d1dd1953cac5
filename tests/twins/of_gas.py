"""Twins of numbers, units, refrigerants, gases, tables and flow."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

from leaklore.trade import data, flow, gas, refrigerants, tables, units
from leaklore.trade.gas import NoSaturation
from leaklore.trade.refrigerants import Refrigerant
from twins import draw
from twins.codec import LEFT, encoded
from twins.draw import choice, limited, listed, maybe, number
from twins.twin import KELVIN, LEAK, MOLAR, OUTSIDE, PASCAL, RATE, ROOM, R, T, Twin

FILES = ("rules", "practice", "techniques", "tubes")
NAN = {"$number": "nan"}


def _refrigerant(one: Refrigerant) -> dict[str, Any]:
    """As the browser has it: with its name, which is the guide's."""
    return {"name": one.key, **encoded(one)}


def _saturated(rng: random.Random) -> list[Any]:
    """Refrigerant and temperature; its own limits are among them."""
    key = rng.choice(draw.KEYS)
    low, high = T.saturation_range(R[key])
    return [{"$refrigerant": key}, limited(low, high, edges=(304.11, 330.0, 338.15))(rng)]


def _with_pressure(rng: random.Random) -> list[Any]:
    """Refrigerant and a pressure of its saturation curve."""
    key = rng.choice(draw.KEYS)
    ends = [T.dew(R[key], t) for t in T.saturation_range(R[key])]
    low, high = (one for one in ends if not isinstance(one, NoSaturation))
    return [{"$refrigerant": key}, number(low * 1.02, high * 0.98, log=True, bad=(1.0, 3e7))(rng)]


def _has(one: Refrigerant | dict[str, str]) -> bool:
    key = one["key"] if isinstance(one, dict) else one.key
    return key in T.content["refrigerants"]


def _vapour(rng: random.Random) -> list[Any]:
    """Refrigerant, temperature and a pressure up to a little above the dew point."""
    key = rng.choice(draw.KEYS)
    table = T.content["refrigerants"][key]["vapour"]
    kelvin = limited(table["low"], table["high"])(rng)
    inside = min(max(kelvin, table["low"]), table["high"]) if kelvin == kelvin else table["low"]
    dew = T.dew(R[key], inside)
    assert isinstance(dew, float)
    pressure = limited(1e3, dew, log=True, edges=(dew * 1.0009, dew * 0.5))(rng)
    return [{"$refrigerant": key}, kelvin, pressure]


def _mixture(rng: random.Random) -> list[Any]:
    count = rng.randint(1, 4)
    shares = [rng.uniform(0.05, 1) for _ in range(count)]
    return [
        [s / sum(shares) for s in shares],
        [rng.uniform(7e-6, 2e-5) for _ in range(count)],
        [rng.uniform(0.017, 0.15) for _ in range(count)],
    ]


def _units_pair(rng: random.Random) -> list[Any]:
    """A rate, two units, and now and then no molar mass or an unknown unit."""
    names = (*flow.THROUGHPUT, *flow.MASS)
    molar = maybe(number(0.017, 0.15, bad=()), 0.15)
    unit, to = rng.choice(names), rng.choice((*names, *names, "stone/fortnight"))
    value = number(1e-9, 1e5, log=True, edges=(0.0,), bad=(-1.0, -1e-3))(rng)
    year = maybe(number(3.15e7, 3.16e7, bad=()), other=LEFT)(rng)
    return [value, unit, to, molar(rng), units.ROOM_TEMPERATURE if year != LEFT else ROOM(rng), year]


def _law(rng: random.Random) -> list[Any]:
    return [rng.choice(flow.LAWS), draw.gas(rng), OUTSIDE(rng)]


def _same_hole(rng: random.Random) -> list[Any]:
    return [LEAK(rng), draw.gas(rng), draw.gas(rng), OUTSIDE(rng), OUTSIDE(rng)]


def _formatted(spec: str) -> Callable[..., str]:
    return lambda value, digits=0: format(value, spec.format(digits))


def _figure(rng: random.Random) -> list[Any]:
    """Numbers of every size, ties among them."""
    if rng.random() < 0.4:
        return [rng.choice((1, -1)) * rng.randint(0, 20_000) / rng.choice((2, 4, 8, 16)), rng.randint(1, 6)]
    if rng.random() < 0.1:
        return [
            rng.choice((0.0, 1e-5, 99_999.95, 999.5, 9.995, 1e16, 123_456_789.5, 5e-324)),
            rng.randint(1, 6),
        ]
    return [rng.choice((1, -1)) * 10 ** rng.uniform(-12, 15), rng.randint(1, 6)]


TWINS = (
    # numbers as text
    Twin("format.general", _formatted(".{}g"), _figure, [[NAN, 3], [{"$number": "-inf"}, 3]], 1, False, 4000),
    Twin(
        "format.fixed",
        _formatted(".{}f"),
        _figure,
        [[NAN, 1], [0.5, 0], [1.5, 0], [2.5, 0], [-0.5, 0]],
        1,
        False,
        4000,
    ),
    Twin(
        "format.grouped",
        lambda value, _=0: f"{value:,.0f}",
        _figure,
        [[999_999.5], [1e21 / 3]],
        1,
        False,
        4000,
    ),
    # data and units
    Twin("data.checked", lambda: [data.checked(name) for name in FILES]),
    Twin("data.advice", lambda: data.load("rules")["advice"]),
    Twin(
        "units.require",
        units.require,
        (
            choice("charge"),
            number(-2, 12, edges=(0.0, 10.0, 10 + 1e-9)),
            choice(0.0),
            choice(10.0),
            choice("kg"),
        ),
    ),
    Twin("units.positive", units.positive, (choice("charge", "time"), number(-1, 5), choice("kg", ""))),
    Twin("units.absoluteTemperature", units.absolute_temperature, (choice("temperature"), KELVIN)),
    Twin("units.absolutePressure", units.absolute_pressure, (choice("pressure"), PASCAL)),
    Twin("units.gauge", units.gauge, (number(0, 1e7, bad=()),), [], 1, False),
    # refrigerants
    Twin("refrigerants.keys", lambda: list(R)),
    Twin(
        "refrigerants.get",
        lambda key: _refrigerant(R[key]),
        lambda rng: [rng.choice(draw.KEYS)],
        [[key] for key in R],
        1,
        False,
    ),
    Twin(
        "refrigerants.limitDensity", refrigerants.limit_density, (number(0, 1, bad=()), MOLAR), [], 1, False
    ),
    # gases
    Twin("gas.state", gas.GasState, lambda rng: draw.gas(rng)["$gas"], [], 1, False),
    Twin("gas.asIdeal", gas.GasState.as_ideal, (draw.gas, number(1.0, 1.7, bad=())), [], 1, False),
    Twin(
        "gas.isNoSaturation",
        lambda found: isinstance(found, dict),
        (choice(None, 1e5, 0.0, {"noSaturation": True, "temperature": 310.0, "critical": 304.1}),),
        [],
        1,
        False,
    ),
    Twin("gas.mixtureViscosity", gas.mixture_viscosity, _mixture, [], 1, False),
    Twin(
        "gas.standstill",
        gas.standstill,
        lambda rng: [draw.TABLES, draw.refrigerant(rng), limited(233.15, 328.15, edges=(303.9, 310.0))(rng)],
    ),
    # tables
    Twin("tables.has", _has, (maybe(draw.refrigerant, other={"key": "R-998"}),), [], 1, False),
    Twin("tables.dew", T.dew, _saturated),
    Twin("tables.bubble", T.bubble, _saturated),
    Twin("tables.saturation", T.saturation, lambda rng: [*_saturated(rng), rng.choice(("dew", "bubble"))]),
    Twin("tables.saturationRange", T.saturation_range, (draw.refrigerant,), [], 1, False),
    Twin("tables.saturationError", T.saturation_error, (draw.refrigerant,), [], 1, False),
    Twin(
        "tables.temperature", T.temperature, lambda rng: [*_with_pressure(rng), rng.choice(("dew", "bubble"))]
    ),
    Twin("tables.glide", T.glide, _with_pressure, [], 0.8),
    Twin("tables.vapour", T.vapour, _vapour),
    Twin("tables.nitrogen", T.nitrogen, (limited(233.15, 338.15), limited(1e3, 2e7, log=True))),
    Twin(
        "tables.chebyshev",
        tables.chebyshev,
        (listed(number(-2, 2, bad=()), 1, 9), number(-1, 1, bad=())),
        [],
        1,
        False,
    ),
    Twin(
        "tables.chebyshev2",
        tables.chebyshev2,
        (listed(listed(number(-2, 2, bad=()), 1, 6), 1, 6), number(-1, 1, bad=()), number(-1, 1, bad=())),
        [],
        1,
        False,
    ),
    # flow
    Twin("flow.massRate", flow.mass_rate, (RATE, MOLAR, ROOM)),
    Twin("flow.throughput", flow.throughput, (LEAK, MOLAR, ROOM)),
    Twin("flow.convert", flow.convert, _units_pair),
    Twin(
        "flow.bubbleTime",
        flow.bubble_time,
        (RATE, maybe(number(1e-4, 1e-2), other=LEFT), maybe(number(1e4, 2e5, bad=()), other=LEFT)),
    ),
    Twin(
        "flow.criticalRatio",
        flow.critical_ratio,
        (limited(0.5, 2, edges=(1.0, 1 + 5e-8, 1 - 5e-8, 1 + 2e-7)),),
    ),
    Twin("flow.orificeFlux", flow.orifice_flux, (draw.gas, OUTSIDE)),
    Twin("flow.hole", flow.hole, (LEAK, draw.gas, OUTSIDE, maybe(limited(0.1, 1.0), other=LEFT))),
    Twin(
        "flow.through",
        flow.through,
        (number(1e-7, 1e-3, log=True), draw.gas, OUTSIDE, maybe(limited(0.1, 1.0), other=LEFT)),
    ),
    Twin("flow.lawFlux", flow.law_flux, _law),
    Twin("flow.sameHole", flow.same_hole, _same_hole),
)
