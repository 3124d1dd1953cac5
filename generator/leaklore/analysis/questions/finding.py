"""Questions on techniques, readings and the order of checks."""

from __future__ import annotations

import math

from leaklore.analysis.questions.question import (
    CHOICES,
    CLEAR,
    LOOK,
    NITROGEN_SHOWS,
    Maker,
    Question,
    capital,
)
from leaklore.trade import detectability
from leaklore.trade.detectability import Sight, Situation
from leaklore.trade.units import AIR

_TOO_SMALL = 1 - CLEAR


def _two_digits(value: float) -> float:
    """Rounded to two digits where it has more before the point."""
    size = 1.0
    while value / size >= 100:
        size *= 10
    return math.floor(value / size + 0.5) * size if size > 1 else value


def _told(m: Maker, sight: Sight, gas: str) -> str:
    name = m.named("technique", sight.technique)
    if sight.verdict == "sees":
        return m.say("shows", name=name, times=m.write(_two_digits(sight.margin or 0.0), "rough"))
    if sight.verdict == "blind":
        return m.say("blind", name=name, gas=gas)
    return m.say("needs", name=name, times=m.write(_two_digits(1 / (sight.margin or 1.0)), "rough"))


def technique_sees(m: Maker) -> Question | None:
    """Which techniques show a leak of a given size: one, two or three of four. Large ones are among them, so that none
    is always right."""
    gas = m.gas("searched")
    rate, pressure = m.one("any-rates"), m.one("pressures")
    hold, volume = m.one("holds"), m.one("volumes")
    if pressure > m.most_nitrogen(gas):
        return None
    situation = Situation(rate, gas, test_pressure=pressure, volume=volume, hold=hold)
    sights = [
        s for s in detectability.judge(situation, m.properties) if s.technique in m.material["techniques"]
    ]
    sees = [s for s in sights if s.verdict == "sees"]
    misses = [s for s in sights if s.verdict == "blind" or (s.margin is not None and s.margin < _TOO_SMALL)]
    count = 1 + m.chance.below(CHOICES - 1)
    right = m.chance.shuffled(sees)[:count]
    wrong = m.chance.shuffled(misses)[: CHOICES - count]
    if len(right) + len(wrong) < CHOICES:
        return None
    slots = {
        "gas": gas.key,
        "rate": m.write(rate, "leak-rate"),
        "pressure": m.write(pressure, "pressure"),
        "hold": m.write(hold, "time"),
        "volume": m.write(volume, "circuit"),
        "shown": "; ".join(_told(m, s, gas.key) for s in right) + ".",
        "others": "; ".join(_told(m, s, gas.key) for s in wrong) + ".",
    }
    names, others = ([m.named("technique", s.technique) for s in some] for some in (right, wrong))
    return m.asked(names, others, "bench:which-technique", slots, several=True)


def readings_above(m: Maker) -> Question | None:
    """Which readings stand out of their background: one, two or three of four."""
    factor, step = m.material["reading"]["factor"], m.material["reading"]["step"]
    places = m.chance.shuffled(m.material["places"])[:CHOICES]
    if len(places) < CHOICES:
        return None
    count = 1 + m.chance.below(CHOICES - 1)
    right: list[str] = []
    wrong: list[str] = []
    for i, place in enumerate(places):
        background = m.one("backgrounds")
        least = max(factor * background, background + step)
        if i < count:
            value = math.ceil(least * m.chance.share(1.2, 4.0) * 1e6) * 1e-6
        else:
            most = (1 - CLEAR) * max(factor * background, background + step)
            value = math.floor((background + (most - background) * m.chance.share(0.3, 1.0)) * 1e6) * 1e-6
        text = m.say(
            "choice",
            place=m.named("component", place),
            value=m.write(value, "concentration"),
            background=m.write(background, "concentration"),
        )
        (right if i < count else wrong).append(text)
    slots = {"factor": f"{factor:g}", "step": m.write(step, "concentration")}
    return m.asked(right, wrong, "bench:air", slots, several=True)


def fools(m: Maker) -> Question | None:
    """What fools a technique."""
    asked = [
        key
        for key, facts in m.material["techniques"].items()
        if facts["fooled_by"] and len(facts["safe"]) >= CHOICES - 1
    ]
    if not asked:
        return None
    technique = m.chance.pick(asked)
    facts = m.material["techniques"][technique]
    right = m.chance.pick(facts["fooled_by"])
    wrong = m.chance.shuffled(facts["safe"])[: CHOICES - 1]
    others = [m.say("of", what=what, name=m.named("technique", of)) for what, of in wrong]
    slots = {"technique": m.named("technique", technique), "others": "; ".join(others) + "."}
    texts = [capital(what) for what, _ in wrong]
    return m.asked([capital(right)], texts, f"technique:{technique}", slots)


def least_disturbing(m: Maker) -> Question | None:
    """Which of four techniques comes first because it disturbs least."""
    gas, rate = m.gas("searched"), m.one("rates")
    verdicts = {s.technique: s.verdict for s in detectability.judge(Situation(rate, gas), m.properties)}
    disturbs = {key: facts["disturbs"] for key, facts in m.material["techniques"].items()}
    least = min(disturbs.values())
    right = [key for key, d in disturbs.items() if d == least and verdicts.get(key) in ("sees", "no-number")]
    if not right:
        return None
    first = m.chance.pick(right)
    later = [key for key, d in disturbs.items() if d >= disturbs[first] + 2]
    if len(later) < CHOICES - 1:
        return None
    wrong = m.chance.shuffled(later)[: CHOICES - 1]
    others = [m.say("one", name=m.named("technique", key), d=str(disturbs[key])) for key in wrong]
    slots = {
        "gas": gas.key,
        "rate": m.write(rate, "leak-rate"),
        "right": m.named("technique", first),
        "d": str(disturbs[first]),
        "others": ", ".join(others),
    }
    names = [m.named("technique", key) for key in wrong]
    return m.asked([m.named("technique", first)], names, f"technique:{first}", slots)


def before_gauges(m: Maker) -> Question | None:
    """The survey of the air comes before gauges go on; where it was made, the look."""
    later = m.material["survey_before"]
    if "air-survey" not in m.material["techniques"] or len(later) < CHOICES - 1 or not m.material["rooms"]:
        return None
    room = m.chance.pick(m.material["rooms"])
    gas = m.gas(room["gases"])
    disturbs = {key: facts["disturbs"] for key, facts in m.material["techniques"].items()}
    heavy = [key for key in later if LOOK in disturbs and disturbs[key] >= disturbs[LOOK] + 3]
    read = m.chance.below(2) == 1 and len(heavy) >= CHOICES - 2
    others = ["air-survey", *m.chance.shuffled(heavy)[: CHOICES - 2]] if read else m.chance.shuffled(later)
    right = LOOK if read else "air-survey"
    slots = {
        "gas": gas.key,
        "place": m.named("component", room["area"]),
        "state": m.say("read") if read else "",
        "right": m.named("technique", right),
    }
    names = [m.named("technique", key) for key in others[: CHOICES - 1]]
    why = "why-read" if read else "why"
    return m.asked([slots["right"]], names, f"technique:{right}", slots, why)


def empty_circuit(m: Maker) -> Question | None:
    """What shows the leak of a circuit whose charge is gone: as it stands, and on nitrogen."""
    filled = m.chance.below(2) == 1
    gas, pressure = m.gas("common"), m.one("pressures")
    wrong = m.material["empty"]["nitrogen" if filled else "stands"]
    if len(wrong) < CHOICES - 1 or pressure > m.most_nitrogen(gas):
        return None
    wrong = [m.named("technique", key) for key in m.chance.shuffled(wrong)[: CHOICES - 1]]
    right = NITROGEN_SHOWS if filled else LOOK
    slots = {
        "gas": gas.key,
        "state": m.say("nitrogen", pressure=m.write(pressure, "pressure")) if filled else m.say("stands"),
        "right": m.named("technique", right),
        "others": ", ".join(wrong),
    }
    why = "why-nitrogen" if filled else "why-stands"
    return m.asked([m.named("technique", right)], wrong, f"technique:{right}", slots, why)


def second_technique(m: Maker) -> Question | None:
    """What comes after one technique has pinpointed a leak: another one at the same spot."""
    firsts, places = m.material["second"]["firsts"], m.material["second"]["places"]
    if not firsts or not places:
        return None
    names = {
        "first": m.named("technique", m.chance.pick(firsts)),
        "second": m.named("technique", NITROGEN_SHOWS),
        "place": m.named("component", m.chance.pick(places)),
    }
    wrong = [m.say(key, **names) for key in ("again", "turn", "vacuum")]
    return m.asked([m.say("right", **names)], wrong, f"technique:{NITROGEN_SHOWS}", names)


def low_first(m: Maker) -> Question | None:
    """Where the probe goes first for a vapour heavier than air."""
    if not m.material["low"]:
        return None
    spot = m.chance.pick(m.material["low"])
    gas = m.gas(spot["gases"])
    times = gas.molar_mass / AIR
    if times < 1 + CLEAR:
        return None
    wrong = m.chance.shuffled(spot["others"])[: CHOICES - 1]
    slots = {
        "gas": gas.key,
        "area": m.named("component", spot["area"]),
        "times": m.write(times, "times"),
    }
    names = [m.named("component", key) for key in wrong]
    return m.asked([m.named("component", spot["low"])], names, f"component:{spot['low']}", slots)
