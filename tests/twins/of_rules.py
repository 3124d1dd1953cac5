"""Twins of entry, the rules of two continents, what each technique sees, and whether a fix was proven."""

from __future__ import annotations

import random
from collections.abc import Mapping
from functools import cache
from typing import Any

from analysis.builders import demo
from leaklore.records.model import HoldTest
from leaklore.records.quantity import Quantity
from leaklore.records.rules import plausibility
from leaklore.trade import air, data, detectability, entry, eu_rules, proof, us_rules
from twins import draw
from twins.codec import LEFT, camel
from twins.draw import choice, day, dicts, limited, maybe, number
from twins.twin import CHARGE, FLAG, HOURS, LEAK, SHARE, SPACE, VOLUME, R, T, Twin

KINDS = data.load("rules")["us"]["kinds"]
APPLIANCES = (*data.load("rules")["us"]["appliances"], "ice-cream-van")
RULE_DAYS = (
    "1995-01-01",
    "1994-12-31",
    "2018-12-31",
    "2019-01-01",
    "2020-04-09",
    "2020-04-10",
    "2025-12-31",
    "2026-01-01",
)
ON = day(edges=RULE_DAYS)
EDGES = [
    [{"$refrigerant": key}, charge * share, {"kind": kind, "light": False}, {"$day": on}, rate, None]
    for key in ("R-22", "R-410A", "R-1234yf", "R-744", "R-717")
    for charge in (22.6796185, 6.80388555)
    for share in (1, 1 - 1e-10, 1 - 1e-6)
    for on in RULE_DAYS
    for kind, rate in (("comfort-cooling", 0.1), ("industrial-process", 0.300001))
]
"""The first and the last day of each rule, with charges and rates at the thresholds."""


@cache
def names() -> dict[str, str]:
    """Name of each technique in the guide."""
    return {key: found.name for key, found in demo().guide.techniques.items()}


def _situation(given: Mapping[str, Any]) -> detectability.Situation:
    snake = {camel(name): name for name in detectability.Situation.__dataclass_fields__}
    filled = {snake[name]: value for name, value in given.items() if value is not None}
    if "space" in filled:
        filled["space"] = air.Space(**filled["space"])
    return detectability.Situation(**filled)


def _reasons(given: Mapping[str, Any]) -> list[str]:
    found = _situation(given)
    return [
        detectability.reason(one, names()[one.technique], found.refrigerant.key)
        for one in detectability.judge(found, T)
    ]


SITUATION = dicts(
    leak=LEAK,
    refrigerant=draw.refrigerant,
    temperature=maybe(number(250, 300, edges=(233.15, 303.15, 310.0), bad=(400.0, 70.0))),
    testPressure=maybe(number(2.5e5, 4.2e6, bad=(1e3, 2.1e7))),
    volume=maybe(VOLUME),
    space=maybe(SPACE),
    hold=maybe(HOURS, 0.6),
    gauge=maybe(number(500, 2e4), 0.6),
    temperatureUncertainty=maybe(limited(0, 50), 0.6),
    vacuumHold=maybe(number(60, 7200), 0.6),
    vacuumRise=maybe(number(1, 500, bad=()), 0.6),
    detector=maybe(number(1e-7, 1e-4, log=True), 0.6),
    background=maybe(number(0, 1e-4), 0.6),
    bag=maybe(number(1e-4, 1e-2, log=True), 0.6),
    bagWait=maybe(number(60, 1e5, log=True), 0.6),
)


def _hold(test: Mapping[str, Any], *rest: Any) -> proof.Proof:
    def quantity(name: str, dimension: str) -> Any:
        return None if test[name] is None else Quantity("", test[name], dimension)

    made = HoldTest(
        test["medium"],
        quantity("start", "pressure"),
        quantity("end", "pressure"),
        quantity("over", "duration"),
        quantity("startTemp", "temperature"),
        quantity("endTemp", "temperature"),
    )
    return proof.hold(made, *rest)


def _hold_test(rng: random.Random) -> list[Any]:
    medium = rng.choice(
        ("nitrogen", "nitrogen", "nitrogen", "nitrogen-hydrogen", "vacuum", "vacuum", "refrigerant")
    )
    start = number(20, 200)(rng) if medium == "vacuum" else number(3e5, 4.2e6, bad=(1e3, 2.1e7))(rng)
    end = start * rng.uniform(1, 5) if medium == "vacuum" else start * rng.uniform(0.97, 1.005)
    test = {
        "medium": medium,
        "start": start,
        "end": end,
        "over": HOURS(rng),
        "startTemp": maybe(number(253, 313))(rng),
        "endTemp": maybe(number(253, 313))(rng),
    }
    return [
        test,
        draw.refrigerant(rng),
        LEAK(rng),
        VOLUME(rng),
        draw.TABLES,
        maybe(number(255, 300), other=LEFT)(rng),
    ]


TWINS = (
    # entry
    Twin("entry.displaced", entry.displaced, (SHARE,)),
    Twin("entry.oxygenLimit", entry.oxygen_limit),
    Twin("entry.limits", entry.limits, (draw.refrigerant,), [[{"$refrigerant": key}] for key in R], 1, False),
    Twin(
        "entry.caution", entry.caution, (draw.refrigerant,), [[{"$refrigerant": key}] for key in R], 1, False
    ),
    Twin(
        "entry.check",
        entry.check,
        (
            draw.refrigerant,
            number(1e-6, 1, log=True, edges=(400e-6, 25e-6, 0.0)),
            maybe(number(0.15, 0.25, edges=(0.195, 0.235, 0.2095))),
        ),
        edges=[[{"$refrigerant": "R-410A"}, 1e-6, oxygen] for oxygen in (0.235, 0.195, 0.2350001, 0.1949999)],
    ),
    Twin("entry.release", entry.release, (draw.refrigerant, CHARGE, number(0.5, 2000, log=True))),
    # US rules
    Twin("usRules.kinds", lambda: KINDS),
    Twin(
        "usRules.appliance",
        us_rules.appliance,
        (
            choice(*APPLIANCES),
            choice(None, "residential", "process", "transport", "food-retail", "cold-store", "toString"),
        ),
        [],
        1,
        False,
    ),
    Twin(
        "usRules.rules",
        lambda r, c, kind, on, rate, light: us_rules.rules(r, c, us_rules.Appliance(**kind), on, rate, light),
        (
            draw.refrigerant,
            CHARGE,
            dicts(kind=choice(*KINDS), light=FLAG),
            ON,
            maybe(number(0, 2, edges=(0.1, 0.2, 0.3))),
            maybe(FLAG),
        ),
        EDGES,
    ),
    Twin("usRules.repairBy", us_rules.repair_by, (ON, maybe(FLAG, other=LEFT)), [], 1, False),
    Twin("usRules.followUpBy", us_rules.follow_up_by, (ON,), [], 1, False),
    Twin("usRules.inspectionMonths", us_rules.inspection_months, (choice(*KINDS), CHARGE)),
    Twin(
        "usRules.chronicReport",
        us_rules.chronic_report,
        (number(0, 100), number(5, 60, edges=(40.0,)), choice(2024, 2025, 2026)),
        [[50.0, 40.0, 2026], [49.99, 40.0, 2026]],
    ),
    Twin(
        "usRules.detectionDue",
        us_rules.detection_due,
        (
            choice(*KINDS),
            number(400, 2000, edges=(680.388555, 680.38), bad=()),
            day("2016-01-01", "2028-12-31", ("2016-12-31", "2017-01-01", "2025-12-31", "2026-01-01")),
        ),
        [],
        1,
        False,
    ),
    Twin("usRules.alarmLoss", us_rules.alarm_loss, (CHARGE,)),
    # EU rules
    Twin(
        "euRules.leakCheck",
        eu_rules.leak_check,
        (
            draw.refrigerant,
            number(0.2, 3000, log=True, edges=(1.0, 2.0, 3.0, 10.0, 100.0)),
            maybe(FLAG, other=LEFT),
            FLAG,
            FLAG,
        ),
        [
            [{"$refrigerant": "R-134a"}, 5000 / 1430],
            [{"$refrigerant": "R-404A"}, 50_000 / 3921.6],
            [{"$refrigerant": "R-404A"}, 500_000 / 3921.6],
        ],
    ),
    Twin(
        "euRules.recheckWindow",
        eu_rules.recheck_window,
        (day(), maybe(choice("transport-unit", "chiller"))),
        [],
        1,
        False,
    ),
    # which technique, and was it proven
    Twin(
        "detectability.flows",
        lambda s, p: detectability.flows(_situation(s), p),
        (SITUATION, choice(draw.TABLES)),
    ),
    Twin(
        "detectability.judge",
        lambda s, p: detectability.judge(_situation(s), p),
        (SITUATION, choice(draw.TABLES)),
    ),
    Twin("proof.hold", _hold, _hold_test),
    Twin("proof.gaugeError", plausibility.gauge_error, (number(0, 5e6, bad=()),), [], 1, False),
    Twin("detectability.reasons", _reasons, (SITUATION,)),
)
