"""Questions on pressure and vacuum tests."""

from __future__ import annotations

import math

from leaklore.analysis.questions.question import CLEAR, Maker, Question, apart
from leaklore.records.rules.plausibility import gauge_error
from leaklore.trade import flow, pressure_test, vacuum
from leaklore.trade.gas import NoSaturation, standstill
from leaklore.trade.proof import CONTINUUM, KNOWN_TEMPERATURE
from leaklore.trade.units import ATMOSPHERE, MICRON, ROOM_TEMPERATURE
from leaklore.trade.vacuum import VacuumReading

STANDING, VACUUM = "bench:standing-test", "bench:vacuum-hold"
HALF, WHOLE = 300.0, 600.0
"""s; times of the vacuum gauge's readings."""
_RANGE = (255.0, 335.0)
"""K; what a circuit at rest is met at."""


def warms(m: Maker) -> Question | None:
    """What a tight circuit's gauge does when its gas warms or cools."""
    start, at, step = m.one("pressures"), m.one("temperatures"), m.one("steps")
    warmer = m.chance.below(2) == 1
    later = at + step if warmer else at - step
    if not _RANGE[0] < later < _RANGE[1]:
        return None
    end = pressure_test.expected_nitrogen(m.properties, start, at, later)
    change = abs(end - start)
    ratio = step / (at - m.fixed("zero"))
    by_the_scale = (start - ATMOSPHERE) * ratio
    right, other = ("rises", "falls") if warmer else ("falls", "rises")
    wrong = [m.say(other, change=m.write(change, "pressure-step")), m.say("stays")]
    slip = by_the_scale if apart(change, by_the_scale) and by_the_scale < start - ATMOSPHERE else change / 4
    wrong.append(m.say(right, change=m.write(slip, "pressure-step")))
    slots = {
        "pressure": m.write(start, "pressure"),
        "temperature": m.write(at, "temperature"),
        "step": m.write(step, "temperature-step"),
        "way": m.words["warmer" if warmer else "cooler"],
        "later": m.write(later, "temperature"),
        "absolute": m.write(start, "absolute"),
        "zero": m.words["zero-us" if m.material["us"] else "zero-si"],
        "end": m.write(end, "pressure"),
    }
    return m.asked([m.say(right, change=m.write(change, "pressure-step"))], wrong, STANDING, slots)


def what_is_left(m: Maker) -> Question | None:
    """How much of a fall is left when temperature is taken out."""
    start, at, step = m.one("pressures"), m.one("temperatures"), m.one("steps")
    later = at - step if m.chance.below(4) else at + step
    lost, grid = m.one("leaks-of-pressure"), m.fixed("grid")
    if not _RANGE[0] < later < _RANGE[1]:
        return None
    expected = pressure_test.expected_nitrogen(m.properties, start, at, later)
    end = math.floor((expected - lost - ATMOSPHERE) / grid + 0.5) * grid + ATMOSPHERE
    drop = pressure_test.smallest_drop(gauge_error(start), start, at, KNOWN_TEMPERATURE)
    left, moved, by_heat = expected - end, abs(start - end), abs(start - expected)
    if left < 1.5 * drop if lost else abs(left) > 0.5 * drop:
        return None
    amounts = [moved, by_heat, moved + by_heat] if lost else [moved, 2 * moved, moved / 2]
    right = left if lost else 0.0
    wrong: list[float] = []
    for amount in (*amounts, 2 * moved, left / 2):
        clear = abs(amount - right) >= max(CLEAR * max(amount, right), drop)
        if clear and all(apart(amount, one) for one in wrong):
            wrong.append(amount)
    needed = 2 if lost else 3
    if len(wrong) < needed:
        return None

    def missing(amount: float) -> str:
        return m.say("missing", value=m.write(amount, "pressure-step"))

    nothing = m.say("nothing")
    slots = {
        "pressure": m.write(start, "pressure"),
        "temperature": m.write(at, "temperature"),
        "later": m.write(later, "temperature"),
        "end": m.write(end, "pressure"),
        "expected": m.write(expected, "pressure"),
        "drop": m.write(drop, "pressure-step"),
        "left": m.write(left, "pressure-step"),
    }
    texts = [missing(amount) for amount in wrong[:needed]]
    if lost:
        return m.asked([missing(left)], [nothing, *texts], STANDING, slots, "why-missing")
    return m.asked([nothing], texts, STANDING, slots, "why-nothing")


def hold_long_enough(m: Maker) -> Question | None:
    """The shortest of four holds that would have shown a leak."""
    gas = m.gas("common")
    rate, volume, pressure = m.one("rates"), m.one("volumes"), m.one("pressures")
    inside = standstill(m.properties, gas, ROOM_TEMPERATURE)
    if isinstance(inside, NoSaturation) or pressure > m.most_nitrogen(gas):
        return None
    nitrogen = m.properties.nitrogen(ROOM_TEMPERATURE, pressure)
    gauge = gauge_error(pressure)
    drop = pressure_test.smallest_drop(gauge, pressure, ROOM_TEMPERATURE, KNOWN_TEMPERATURE)
    passes = rate * min(flow.law_flux(law, nitrogen) / flow.law_flux(law, inside) for law in CONTINUUM)
    wait = volume * drop / flow.throughput(passes, nitrogen.molar_mass, ROOM_TEMPERATURE)
    ladder = m.one("ladders")
    long_enough = [hold for hold in ladder if hold >= wait]
    if not long_enough or not all(apart(wait, hold) for hold in ladder):
        return None
    slots = {
        "rate": m.write(rate, "leak-rate"),
        "gas": gas.key,
        "volume": m.write(volume, "circuit"),
        "pressure": m.write(pressure, "pressure"),
        "gauge": m.write(gauge, "pressure-step"),
        "doubt": m.write(KNOWN_TEMPERATURE, "temperature-step"),
        "drop": m.write(drop, "pressure-step"),
        "wait": m.write(wait, "time"),
    }
    others = [hold for hold in ladder if hold != long_enough[0]]
    return m.measured(long_enough[0], others, "time", STANDING, slots)


def vacuum_rise(m: Maker) -> Question | None:
    """What the rise of a vacuum points to."""
    start, early = m.one("vacua"), m.one("first-rises")
    kind = m.chance.pick(("moisture", "leak", "leak", "moisture", "quiet"))
    grid = 10 * MICRON
    if kind == "quiet":
        early = m.chance.pick((2, 3, 4)) * grid
        late = m.chance.pick((0, 1, 2)) * grid
    else:
        share = m.chance.share(0.05, 0.25) if kind == "moisture" else m.chance.share(0.9, 1.1)
        late = math.floor(early * share / grid + 0.5) * grid
    middle, end = start + early, start + early + late
    readings = (VacuumReading(0.0, start), VacuumReading(HALF, middle), VacuumReading(WHOLE, end))
    if vacuum.judge(readings).shape != kind:
        return None
    slots = {
        "start": m.write(start, "vacuum"),
        "middle": m.write(middle, "vacuum"),
        "end": m.write(end, "vacuum"),
        "early": m.write(early, "vacuum"),
        "late": m.write(late, "vacuum"),
        "rise": m.write(early + late, "vacuum"),
    }
    wrong = [m.say(key) for key in ("moisture", "leak", "quiet", "pump") if key != kind]
    return m.asked([m.say(kind)], wrong, VACUUM, slots, f"why-{kind}")


def hold_case(m: Maker) -> Question | None:
    """What the hold test of one of our cases proves."""
    if not m.material["holds"]:
        return None
    verdicts = sorted({test["verdict"] for test in m.material["holds"]})
    verdict = m.chance.pick(verdicts)
    test = m.chance.pick([one for one in m.material["holds"] if one["verdict"] == verdict])
    dimension = "vacuum" if test["medium"] == "vacuum" else "pressure"
    temps = ""
    if test["first"] is not None:
        ends = {name: m.write(test[name], "temperature") for name in ("first", "last")}
        temps = m.say("temps", **ends)
    slots = {
        "gas": test["gas"],
        "rate": m.write(test["rate"], "leak-rate"),
        "volume": m.write(test["volume"], "about-circuit"),
        "medium": m.words[test["medium"]],
        "start": m.write(test["start"], dimension),
        "end": m.write(test["end"], dimension),
        "over": m.write(test["over"], "time"),
        "temps": temps,
        "wait": "" if test["wait"] is None else m.write(test["wait"], "time"),
    }
    all_said = ("proves", "too-coarse", "says-nothing", "fell")
    wrong = [m.say(key) for key in all_said if key != verdict]
    return m.asked([m.say(verdict)], wrong, f"case:{test['case']}", slots, f"why-{verdict}")
