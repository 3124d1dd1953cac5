"""Questions drawn from a seed: the same seed gives the same questions, here and in the browser."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from leaklore.analysis.questions import finding, modes, pressure, rates
from leaklore.analysis.questions.chance import Chance
from leaklore.analysis.questions.material import Material
from leaklore.analysis.questions.question import Maker, Question, Write

MIXED = "mixed"
"""The topic that takes templates of all topics."""
TRIES = 60
"""Draws of one template before it is left out: most fail because figures lie too close together."""

_MAKE: Mapping[str, Callable[[Maker], Question | None]] = {
    "technique-sees": finding.technique_sees,
    "readings-above": finding.readings_above,
    "fools": finding.fools,
    "warms": pressure.warms,
    "what-is-left": pressure.what_is_left,
    "hold-long-enough": pressure.hold_long_enough,
    "vacuum-rise": pressure.vacuum_rise,
    "hold-case": pressure.hold_case,
    "per-year": rates.per_year,
    "share-a-year": rates.share_a_year,
    "co2e": rates.co2e,
    "explains": rates.explains,
    "fits-best": modes.fits_best,
    "tell-tale": modes.tell_tale,
    "finds-mode": modes.finds_mode,
    "misses-mode": modes.misses_mode,
    "least-disturbing": finding.least_disturbing,
    "before-gauges": finding.before_gauges,
    "low-first": finding.low_first,
    "empty-circuit": finding.empty_circuit,
    "second-technique": finding.second_technique,
    "annualized": rates.annualized,
    "repair-due": rates.repair_due,
    "repair-by": rates.repair_by,
    "check-interval": rates.check_interval,
    "check-after-repair": rates.check_after_repair,
}


def one(topic: str, key: str, seed: int, material: Material, write: Write) -> Question | None:
    """A question of one template; None where the library can't give one."""
    chance = Chance(seed)
    for _ in range(TRIES):
        inner = Chance(chance.whole())
        found = _MAKE[key](Maker(topic, key, inner, material.content, material.gases, write))
        if found is not None:
            return found
    return None


def draw(topic: str, seed: int, n: int, material: Material, write: Write) -> tuple[Question, ...]:
    """At most `n` different questions of a topic (or MIXED), its templates in turn; fewer where it can't give more.

    Those with the same answer as one before come last: another gas or place in the text often asks nothing new.
    `seed` is a whole number from 0 to 2^32 - 1. Raises KeyError for an unknown topic.
    """
    topics: Mapping[str, list[str]] = material.content["topics"]
    names = list(topics) if topic == MIXED else [topic]
    chance, out = Chance(seed), list[Question]()
    for told in (_answer, _content):
        pool = [(name, key) for name in names for key in topics[name]]
        seen = {told(question) for question in out}
        while pool and len(out) < n:
            for pair in chance.shuffled(pool):
                if len(out) == n:
                    break
                found = _fresh(pair, chance, told, seen, material, write)
                if found is None:
                    pool.remove(pair)
                else:
                    seen.add(told(found))
                    out.append(found)
    return tuple(out)


def _fresh(
    pair: tuple[str, str],
    chance: Chance,
    told: Callable[[Question], str],
    seen: set[str],
    material: Material,
    write: Write,
) -> Question | None:
    """A question that was not drawn yet."""
    for _ in range(TRIES // 4):
        found = one(*pair, chance.whole(), material, write)
        if found is not None and told(found) not in seen:
            return found
    return None


def _answer(question: Question) -> str:
    """Template and right choices."""
    return "\n".join((question.key, *sorted(question.choices[i] for i in question.right)))


def _content(question: Question) -> str:
    """What makes two questions the same one: text and right choices."""
    return "\n".join((question.text, *sorted(question.choices[i] for i in question.right)))


def topics(material: Material, write: Write, least: int = 3) -> dict[str, str]:
    """Topics of which the library gives at least so many questions, with their titles."""
    titles: Mapping[str, str] = material.content["titles"]
    return {key: title for key, title in titles.items() if len(draw(key, 1, least, material, write)) >= least}
