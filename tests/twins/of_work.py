"""Twins of leak rate, standing pressure test, volumes, vacuum and air."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

from leaklore.trade import air, leak_rate, pressure_test, units, vacuum, volume
from twins import draw
from twins.codec import LEFT
from twins.draw import choice, day, dicts, limited, listed, maybe, number
from twins.twin import (
    CHARGE,
    HOURS,
    KELVIN,
    MOLAR,
    PASCAL,
    RATE,
    ROOM,
    SHARE,
    SPACE,
    VAPOUR,
    VOLUME,
    Twin,
)


def _readings(rng: random.Random) -> list[Any]:
    """Readings of a vacuum hold: rising on, levelling off, quiet, too few, or out of order."""
    count = rng.choice((0, 1, 2, 3, 3, 4, 5, 8, 12))
    times = sorted(rng.uniform(0, 3600) for _ in range(count))
    tau, rise, start = rng.uniform(200, 1e4), rng.uniform(1, 900), rng.uniform(5, 120)
    found = [
        {"after": t, "pressure": start + rise * (1 - math.exp(-t / tau)) + rng.gauss(0, 1)} for t in times
    ]
    if rng.random() < 0.08 and count > 1:
        found.reverse()
    if rng.random() < 0.05 and count:
        found[-1]["pressure"] = rng.choice((-5.0, 2e5))
    return [[one for one in found if one["pressure"] >= -5]]


def _additions(rng: random.Random) -> list[Any]:
    one = dicts(day=day("2023-01-01", "2026-12-31"), mass=number(0.1, 20), counts=choice(True, True, False))
    when = day("2024-06-01", "2026-12-31")
    return [listed(one, 0, 8)(rng), CHARGE(rng), when(rng), maybe(day("2023-06-01", "2026-12-31"))(rng)]


def _rolling(additions: list[dict[str, Any]], *rest: Any) -> float:
    return leak_rate.rolling_average([leak_rate.Addition(**a) for a in additions], *rest)


def _purge(rng: random.Random) -> list[Any]:
    start = rng.uniform(1e-5, 1)
    return [SPACE(rng), start, limited(1e-12, start, log=True)(rng)]


def _size(rng: random.Random) -> list[Any]:
    """Tube sizes as people write them, known or not."""
    inch = (
        *volume.tubes(),
        "1-1/8",
        "3/8",
        '3/8"',
        "7/8inch",
        "  1  3/8   in ",
        "1 5/8 inch",
        "9/7 in",
        "⅜″",
        "1-1/8”",
        "3/8 Inches",
    )
    other = (
        "10mm",
        "10.0 mm",
        "6.350 mm",
        "28.57mm",
        "11 mm",
        "",
        "1 in",
        '1"',
        "half",
        "3/8 in flare",
        "3 / 8 in",
    )
    return [rng.choice((*inch, *other))]


def _length(rng: random.Random) -> list[Any]:
    """A tube as the browser has it, and a length."""
    found = volume.tube(rng.choice([*volume.tubes()]))
    return [{"name": found.name, "area": found.area}, limited(0, 5000)(rng)]


def _run(rng: random.Random) -> list[Any]:
    """Two tubes, either of which may be missing, and a length."""
    sizes = [maybe(lambda r: _size(r)[0], 0.2)(rng) for _ in range(2)]
    return [*sizes, limited(0, 5000)(rng)]


def _space(volume_: float, fresh: float = 0.0) -> air.Space:
    return air.Space(volume_, fresh)


def _of_space(method: str) -> Callable[..., Any]:
    return lambda space, *rest: getattr(air.Space(**space), method)(*rest)


MICRON = units.MICRON
VACUUM_EDGES = [
    [start * MICRON * more, end * MICRON * less, seconds]
    for start, more in ((500, 1.0), (500, 1 + 1e-10), (500, 1 + 1e-8), (1000, 1.0), (400, 1.0))
    for end, less in ((500, 1.0), (1000, 1.0), (1000, 1 - 1e-8), (2500, 1.0), (2500, 1 + 1e-8), (450, 1.0))
    for seconds in (600.0, 600 * (1 - 1e-10), 599.9999, 605.0, 60.0)
]
"""At the limits, by less than rounding beyond them, and by a little more."""
STILL: list[list[Any]] = [
    [{"volume": 5.0, "air": air_}, vapour] for air_ in (0.0, 0.005, 0.01) for vapour in (0.0, 0.005)
]


TWINS = (
    # leak rate
    Twin("leakRate.loss", leak_rate.loss, (limited(0, 100), number(3600, 2e8, log=True), maybe(CHARGE))),
    Twin(
        "leakRate.annualizing",
        leak_rate.annualizing,
        (limited(0, 100), CHARGE, number(1, 1500, log=True, edges=(365.0, 364.0, 366.0))),
    ),
    Twin(
        "leakRate.rollingAverage",
        _rolling,
        _additions,
        edges=[
            [[{"day": {"$day": "2026-03-01"}, "mass": 2.0}], 20.0, {"$day": "2026-03-01"}, None],
            [[{"day": {"$day": "2025-03-01"}, "mass": 2.0}], 20.0, {"$day": "2026-03-01"}, None],
            [
                [{"day": {"$day": "2026-02-01"}, "mass": 2.0}],
                20.0,
                {"$day": "2026-03-01"},
                {"$day": "2026-02-01"},
            ],
        ],
    ),
    Twin("leakRate.tonnesCo2e", leak_rate.tonnes_co2e, (limited(0, 1e4), limited(0, 50_000))),
    Twin("leakRate.cost", leak_rate.cost, (limited(0, 1e4), limited(0, 500))),
    # standing pressure test
    Twin("pressureTest.expectedPressure", pressure_test.expected_pressure, (PASCAL, KELVIN, KELVIN)),
    Twin(
        "pressureTest.expectedNitrogen",
        pressure_test.expected_nitrogen,
        (choice(draw.TABLES), limited(1e5, 1.2e7, log=True), limited(240, 330), limited(240, 330)),
    ),
    Twin("volume.tubeVolume", lambda tube, length: volume.tube(tube["name"]).volume(length), _length),
    Twin("pressureTest.leak", pressure_test.leak, (VOLUME, HOURS, PASCAL, PASCAL, ROOM, maybe(KELVIN))),
    Twin(
        "pressureTest.nitrogenLeak",
        pressure_test.nitrogen_leak,
        (
            choice(draw.TABLES),
            VOLUME,
            HOURS,
            limited(1e5, 1.2e7, log=True),
            limited(1e5, 1.2e7, log=True),
            limited(240, 330),
            limited(240, 330),
        ),
    ),
    Twin(
        "pressureTest.smallestDrop",
        pressure_test.smallest_drop,
        (number(100, 5e4), PASCAL, KELVIN, limited(0, 50)),
    ),
    Twin(
        "pressureTest.smallestLeak",
        pressure_test.smallest_leak,
        (VOLUME, HOURS, number(100, 5e4), PASCAL, ROOM, maybe(limited(0, 50), other=LEFT)),
    ),
    Twin(
        "pressureTest.timeToSee",
        pressure_test.time_to_see,
        (RATE, VOLUME, number(100, 5e4), PASCAL, ROOM, maybe(limited(0, 50), other=LEFT)),
    ),
    # volumes
    Twin("volume.tubes", lambda: list(volume.tubes().values())),
    Twin("volume.tube", volume.tube, _size, answered=0.4),
    Twin("volume.lineSet", volume.line_set, _run, answered=0.2),
    Twin(
        "volume.circuitGuess",
        volume.circuit_guess,
        (CHARGE, limited(300, 1600), maybe(limited(0.1, 0.9), other=LEFT)),
    ),
    # vacuum
    Twin("vacuum.riseLeak", vacuum.rise_leak, (VOLUME, limited(0, 1.1e5), HOURS)),
    Twin(
        "vacuum.waterVapourPressure",
        vacuum.water_vapour_pressure,
        (limited(233.15, 338.15, edges=(273.15, 273.1499)),),
    ),
    Twin(
        "vacuum.judge", lambda found: vacuum.judge([vacuum.VacuumReading(**one) for one in found]), _readings
    ),
    Twin(
        "vacuum.limits",
        vacuum.limits,
        (
            number(1, 400, edges=(66.661184, 133.322368)),
            number(1, 700, edges=(133.322368, 333.30592, 66.661184)),
            number(30, 3600, edges=(600.0, 599.0)),
        ),
        edges=VACUUM_EDGES,
    ),
    # air
    Twin("air.density", air.density, (SHARE, MOLAR, ROOM, maybe(number(5e4, 2e5), other=LEFT))),
    Twin(
        "air.fraction",
        air.fraction,
        (number(0, 5), number(0.017, 0.15), ROOM, maybe(number(5e4, 2e5), other=LEFT)),
    ),
    Twin(
        "air.vapourFlow",
        air.vapour_flow,
        (number(1e-12, 1e-2, log=True), MOLAR, ROOM, maybe(number(5e4, 2e5, bad=()), other=LEFT)),
    ),
    Twin("air.space", _space, (VOLUME, maybe(number(1e-5, 2, bad=()), other=LEFT)), [], 1, False),
    Twin("air.spaceWithChanges", air.Space.with_changes, (VOLUME, limited(0, 1000))),
    Twin(
        "air.after",
        _of_space("after"),
        (SPACE, VAPOUR, limited(0, 1e7), maybe(number(0, 1, bad=()), other=LEFT)),
        [[{"volume": 0.0, "air": 0.0}, 1e-6, 60.0]],
    ),
    Twin("air.steady", _of_space("steady"), (SPACE, VAPOUR), edges=STILL),
    Twin(
        "air.timeTo",
        _of_space("time_to"),
        (SPACE, number(1e-6, 1, log=True), number(-1e-6, 1e-2, bad=())),
        edges=[
            [{"volume": 5.0, "air": 0.0201}, 0.5, 0.01],
            [{"volume": 5.0, "air": 0.0}, 0.5, 0.0],
            [{"volume": 5.0, "air": 0.0}, 0.0, 0.0],
        ],
    ),
    Twin("air.purgeTime", _of_space("purge_time"), _purge),
    Twin(
        "air.aboveBackground",
        air.above_background,
        (
            number(0, 1e-4, edges=(2e-6, 2.0000001e-6)),
            maybe(number(0, 5e-5)),
            number(1e-7, 1e-5, log=True, edges=(1e-6,)),
            maybe(limited(0, 1), other=LEFT),
        ),
        [[2e-6, 0.0, 1e-6], [3e-6, 0.0, 1e-6]],
    ),
)
