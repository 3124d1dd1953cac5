"""What the questions need of a library, as plain data: the browser draws the same questions from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from leaklore.analysis import advice, readings
from leaklore.analysis.advice import Adviser
from leaklore.analysis.questions import numbers, pictures
from leaklore.analysis.questions.question import LOOK, NITROGEN_SHOWS
from leaklore.analysis.questions.words import (
    MARKS,
    MODE_TOPICS,
    RULES_SI,
    TEMPLATES,
    TOPICS,
    WORDS,
)
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.trade import data, proof, refrigerants, tables
from leaklore.trade.data import citation
from leaklore.trade.refrigerants import Refrigerant
from leaklore.trade.tables import NotInTables
from leaklore.trade.units import ROOM_TEMPERATURE

VERSION = 2
SENSES: Mapping[str, str] = {
    "air-survey": "air",
    "heated-diode-detector": "air",
    "infrared-detector": "air",
    "bagging": "air",
    "tracer-gas": "air",
    "visual": "eye",
    "bubble-test": "eye",
    "dye": "eye",
    "ultrasonic": "ear",
    "section-isolation": "gauge",
    "standing-pressure": "gauge",
    "vacuum-hold": "gauge",
}
"""What a technique goes by: what fools one by the same sense is no safe wrong answer for another."""
NEEDS_GAS = ("heated-diode-detector", "infrared-detector", "bubble-test", "ultrasonic")
"""Techniques that need gas that blows out."""
SMELLS = ("air-survey", "heated-diode-detector", "infrared-detector")
"""Techniques that need refrigerant; a bag would fill with nitrogen, too."""
SECOND = ("heated-diode-detector", "infrared-detector", "bagging", "ultrasonic")
"""What a bubble test confirms where it has pinpointed a leak."""
_SAYS = 2
"""Leaks of a mode on which a technique has to be used before that says anything: one is chance."""
JOINTS = (
    "indoor-flare",
    "outdoor-flare",
    "service-port",
    "isolation-valve",
    "threaded-fitting",
    "line-joint",
)
"""Parts that fluid reaches."""
VAGUE = frozenset(
    (
        *(
            "wind",
            "fan",
            "fans",
            "rain",
            "valve",
            "solen",
            "oil",
            "insul",
            "laggi",
            "liqui",
            "tempe",
            "cold",
            "froze",
        ),
        *(
            "sudde",
            "quick",
            "dead",
            "doors",
            "exhau",
            "purgi",
            "leaki",
            "leak",
            "caps",
            "foam",
            "vapou",
            "gas",
        ),
        *("insid", "film", "dirt", "bag", "dye", "bubbl", "sun", "trapp"),
    )
)
"""Beginnings of words (five letters) of items that trouble many techniques, or name their own: never wrong answers."""


@dataclass(frozen=True)
class Material:
    """`content` is plain data, for JSON as it stands; `gases` are the refrigerants it names."""

    content: Mapping[str, Any]
    gases: Mapping[str, Refrigerant]


def material(library: Library, adviser: Adviser | None = None, told: Callable[[str], str] = str) -> Material:
    """Of one library. `adviser` is the ranking of causes; made here where it is not given.

    `told` puts an English sentence into the language of the questions.
    """
    guide = library.guide
    model = adviser or advice.adviser(library.counted, library.active, guide)
    us = library.company.units == "us"
    gases = _gases(guide)
    ours = pictures.searched(library)
    templates = {**TEMPLATES, **({} if us else {"rules": RULES_SI})}
    found = {
        "version": VERSION,
        "us": us,
        "titles": {topic: told(title) for topic, title in TOPICS.items()},
        "topics": {topic: list(keys) for topic, keys in templates.items()},
        "words": {key: {name: told(text) for name, text in words.items()} for key, words in WORDS.items()},
        "marks": {mark: told(text) for mark, text in MARKS.items()},
        "numbers": _numbers(us, gases),
        "names": _names(library),
        "techniques": {key: _technique(key, guide) for key in guide.techniques},
        "reading": {"factor": readings.FACTOR, "step": readings.RESOLUTION},
        "places": _places(guide, "part"),
        "rooms": _rooms(guide),
        "survey_before": [t for t in _practice()["survey_before"] if t in guide.techniques],
        "low": _low(guide),
        "empty": _empty(guide),
        "second": _second(guide),
        "modes": {topic: _modes(guide, families, ours) for topic, families in MODE_TOPICS.items()},
        "about": {kind: _summaries(guide, kind) for kind in ("technique", "mode")},
        "pictures": pictures.pictures(library, model),
        "tell_tales": pictures.tell_tales(library),
        "holds": pictures.holds(library),
        "sources": _sources(told),
        "kelvin": proof.KNOWN_TEMPERATURE,
        "laws": list(proof.CONTINUUM),
        "limits": dict(data.load("rules")["us"]["rules"][0]["thresholds"]),
        "eu_limits": _eu_limits(),
        "advice": told(data.load("rules")["advice"]),
    }
    return Material(found, gases)


def _practice() -> Mapping[str, Any]:
    found: Mapping[str, Any] = data.load("practice")["order"]
    return found


def _gases(guide: Guide) -> dict[str, Refrigerant]:
    """Refrigerants of the guide whose properties are in the tables."""
    out = {}
    for key, entry in guide.refrigerants.items():
        gas = refrigerants.of(entry.facts)
        try:
            tables.shipped().dew(gas, ROOM_TEMPERATURE)
        except NotInTables:
            continue
        out[key] = gas
    return out


def _numbers(us: bool, gases: Mapping[str, Refrigerant]) -> dict[str, list[Any]]:
    own = numbers.US if us else numbers.SI
    named = {
        name: [
            key for key in keys if key in gases and (name != "weighed" or gases[key].gwp["ar4"] is not None)
        ]
        for name, keys in numbers.GASES.items()
    }
    return {name: list(values) for name, values in {**numbers.ANY, **own, **named}.items()}


def _names(library: Library) -> dict[str, dict[str, str]]:
    guide = library.guide
    return {
        **{
            kind: {key: entry.name for key, entry in guide.entries(kind).items()}
            for kind in ("technique", "mode", "symptom", "component")
        },
        "kind": {key: term.name for key, term in guide.small["equipment_kinds"].items()},
    }


def _technique(key: str, guide: Guide) -> dict[str, Any]:
    """What fools it, and what fools others and surely not this one, with whose it is."""
    entry = guide.techniques[key]
    own = [str(item) for item in entry["fooled_by"] or ()]
    stems = set().union(*map(pictures.stems, own)) if own else set()
    safe = [
        [str(item), other]
        for other, facts in guide.techniques.items()
        if key in SENSES and SENSES.get(other, SENSES[key]) != SENSES[key]
        for item in facts["fooled_by"] or ()
        if not pictures.stems(str(item)) & (stems | VAGUE)
    ]
    return {"fooled_by": own, "safe": safe, "disturbs": int(entry["disturbs"])}


def _places(guide: Guide, kind: str) -> list[str]:
    return [key for key, entry in guide.components.items() if entry["kind"] == kind]


def _met_with(area: str, guide: Guide) -> str:
    """Name of the list of refrigerants that are met at an area: refrigeration, or air conditioning."""
    return "cooled-air" if "ductless-split" in (guide.components[area]["kinds"] or ()) else "cooled-rooms"


def _rooms(guide: Guide) -> list[dict[str, str]]:
    """Areas whose air can be surveyed, and in which somebody can stand."""
    never = _practice()["not_at"]["air-survey"]
    roomy = {"plant-room", "cold-room", "case-line-up", "ceiling-void", "floor-duct", "indoor-cabinet"}
    areas = [key for key in _places(guide, "area") if key in roomy and key not in never]
    return [{"area": key, "gases": _met_with(key, guide)} for key in areas]


def _low(guide: Guide) -> list[dict[str, Any]]:
    """Low places inside an area, with at least three parts of that area that are not low."""
    out = []
    for area in _places(guide, "area"):
        inside = guide.inside.get(area, frozenset())
        low = [k for k in guide.components if k in inside and guide.components[k]["low"]]
        parts = [
            k
            for k in guide.components
            if k in inside and guide.components[k]["kind"] == "part" and not guide.components[k]["low"]
        ]
        parts = [k for k in parts if not any(k in guide.inside.get(low_one, frozenset()) for low_one in low)]
        gases = _met_with(area, guide)
        out += [{"area": area, "gases": gases, "low": k, "others": parts} for k in low if len(parts) >= 3]
    return out


def _empty(guide: Guide) -> dict[str, list[str]]:
    """What shows nothing at an empty circuit, and what shows nothing while it stands on nitrogen; none without the right one."""
    there = guide.techniques
    return {
        "stands": [key for key in NEEDS_GAS if key in there and LOOK in there],
        "nitrogen": [key for key in SMELLS if key in there and NITROGEN_SHOWS in there],
    }


def _second(guide: Guide) -> dict[str, list[str]]:
    """Techniques that pinpoint and that a bubble test confirms, and parts where it can."""
    firsts = [key for key in SECOND if key in guide.techniques and NITROGEN_SHOWS in guide.techniques]
    return {"firsts": firsts, "places": [key for key in JOINTS if key in guide.components]}


def _modes(
    guide: Guide, families: tuple[str, ...], ours: Mapping[str, Mapping[str, Sequence[int]]]
) -> dict[str, dict[str, Any]]:
    """Failure modes of some families, with the techniques that the guide holds good and poor for each, and what these
    did on it in our cases (`pictures.searched`). Where most of our cases speak against the guide nothing is asked."""
    out: dict[str, dict[str, Any]] = {}
    for key, entry in guide.modes.items():
        if entry["family"] not in families:
            continue
        by, did = entry["found_by"] or (), ours.get(key, {})
        good = [t for t, e in guide.techniques.items() if key in (e["good_for"] or ()) and t in by]
        poor = [t for t, e in guide.techniques.items() if key in (e["poor_for"] or ()) and t not in by]
        good = [t for t in good if _found_mostly(did.get(t)) is not False]
        poor = [t for t in poor if _found_mostly(did.get(t)) is not True]
        out[key] = {
            "good": good,
            "poor": poor,
            "ours": {t: list(did[t]) for t in (*good, *poor) if t in did and did[t][1] >= _SAYS},
        }
    return out


def _found_mostly(did: Sequence[int] | None) -> bool | None:
    """Did a technique find more of so many leaks than it missed? None where it was as many, or used on fewer than _SAYS."""
    if did is None or did[1] < _SAYS or 2 * did[0] == did[1]:
        return None
    return 2 * did[0] > did[1]


def _summaries(guide: Guide, kind: str) -> dict[str, str]:
    return {key: " ".join(str(entry["summary"]).split()) for key, entry in guide.entries(kind).items()}


def _sources(told: Callable[[str], str]) -> dict[str, str]:
    """Sources of the rules, in words."""
    us = data.load("rules")["us"]
    return {name: _source(us[name], told) for name in ("method", "repair", "follow_up")} | {
        "recheck": _source(data.load("rules")["eu"]["recheck"], told)
    }


def _eu_limits() -> list[float]:
    """t CO2e at which the interval of leak checks changes."""
    eu = data.load("rules")["eu"]
    found = [row["below_tonnes"] for row in eu["intervals"] if row["below_tonnes"] is not None]
    return [float(eu["duty"]["least_tonnes"]), *map(float, found)]


def _source(entry: Mapping[str, Any], told: Callable[[str], str]) -> str:
    found = citation(entry)
    return told(MARKS[found.mark]).replace("{where}", found.where)
