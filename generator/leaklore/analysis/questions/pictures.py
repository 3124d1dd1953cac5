"""What the company's own cases give to ask: pictures of a failure mode, tell-tale findings, hold tests."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from leaklore.analysis import causes, leaks
from leaklore.analysis.advice import Adviser
from leaklore.analysis.causes import spread_over
from leaklore.analysis.evidence import Evidence
from leaklore.analysis.intervals import FEW, wilson
from leaklore.analysis.questions.words import MODE_TOPICS
from leaklore.analysis.techniques import outcomes
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import YEAR, Case
from leaklore.trade import data
from leaklore.trade.units import DAY

MOST = 300
"""Cases looked at; evenly spread where there are more."""
SURE = 0.6
"""Least probability of the right mode."""
BEHIND = 0.25
"""A wrong choice has at most this share of it."""
SPEAKS = 0.7
"""nat, about a factor of two; a finding that speaks less for the right mode than for the wrong ones is not named."""
HISTORY = ("sudden-loss", "loss-after-work", "loss-in-season")
"""How the loss began: tells of a cause as a sign at the leak does."""
ANYWHERE = ("oil-film", "smell")
"""Signs at the leak that most modes can give."""
CLEARER = 3.0
"""How many times as often the guide has to expect a tell-tale finding."""
LEAST_TIME = 14 * DAY
"""s; a charge lost in less is no steady leak."""
GUESSED = 2.0
"""A circuit's volume is guessed to a factor of two, so a verdict has to stand by as much."""


def _topic_of(mode: str, library: Library) -> str | None:
    family = library.guide.modes[mode]["family"]
    return next((topic for topic, families in MODE_TOPICS.items() if family in families), None)


def _telling() -> set[str]:
    """Findings that speak of a cause; those that any shortage of charge gives are not among them."""
    return {*data.load("practice")["order"]["shows_at_leak"], *HISTORY}


def stems(text: str) -> set[str]:
    """Beginnings of the words of a text that tell something, five letters each."""
    small = {"that", "with", "from", "your", "into", "the", "and", "for", "over", "between", "when", "too"}
    return {word[:5] for word in re.findall(r"[a-z]{3,}", text.lower()) if word not in small}


def _gives_away(symptom: str, mode: str, wrong: Sequence[str], library: Library) -> bool:
    """Does the name of a finding say this mode and none of the wrong ones, as "rub mark" says "rub-through"?"""
    names = {key: stems(library.guide.modes[key].name) for key in (mode, *wrong)}
    said = stems(library.guide.symptoms[symptom].name) & names[mode]
    return any(all(stem not in names[key] for key in wrong) for stem in said)


def _some(cases: Sequence[Case]) -> list[Case]:
    return [cases[i] for i in spread_over(len(cases), MOST)]


def pictures(library: Library, adviser: Adviser) -> dict[str, list[dict[str, Any]]]:
    """Topic -> cases whose findings point clearly at their proven mode, and the modes that it is mistaken for.

    At least one finding is a sign at the leak or of how the loss began, and not oil alone. Only what the question
    shows goes into the ranking: kind of equipment, age, what was seen, but for a finding that says the mode by its
    name, and what was not.
    """
    out: dict[str, list[dict[str, Any]]] = {topic: [] for topic in MODE_TOPICS}
    telling = _telling() - set(ANYWHERE)
    counted = {mode: adviser.causes.counted[i] for mode, i in adviser.causes.index.items()}
    for case in _some(library.counted):
        topic = _topic_of(case.cause.mode, library)
        if topic is None or counted[case.cause.mode] < FEW or not telling.intersection(case.symptoms):
            continue
        seen = list(case.symptoms)
        found = _picture(case, seen, library, adviser)
        if found:
            mode, wrong = case.cause.mode, found["wrong"]
            shown = [s for s in seen if not _gives_away(s, mode, wrong, library)]
            found = found if shown == seen else _picture(case, shown, library, adviser)
        if found and telling.intersection(found["seen"]):
            out[topic].append({**found, "n": counted[case.cause.mode], "cases": adviser.causes.cases})
    return out


def _picture(case: Case, seen: Sequence[str], library: Library, adviser: Adviser) -> dict[str, Any] | None:
    """What a question on a case shows, with these findings; None where they don't point clearly at its mode."""
    mode, age, kind = case.cause.mode, case.age_at_leak, case.equipment.kind
    if kind is None:
        return None
    evidence = Evidence(
        symptoms=frozenset(seen),
        absent=frozenset(case.not_seen),
        kinds=(kind,),
        age=age,
    )
    ranked = adviser.rank(adviser.joint(evidence))
    p = {cause.mode: cause.probability for cause in ranked}
    if ranked[0].mode != mode or p[mode] < SURE:
        return None
    likely = [c.mode for c in ranked[1:]]
    mistaken = [m for m in library.guide.modes[mode]["mistaken_for"] or () if m in p]
    wrong = [m for m in dict.fromkeys((*mistaken, *likely)) if p[m] <= BEHIND * p[mode]][:3]
    if len(wrong) < 3:
        return None
    return {
        "case": case.id,
        "kind": kind,
        "age": None if age is None or age < 1 / 12 else _round_age(age),
        "seen": list(seen),
        "absent": list(case.not_seen),
        "mode": mode,
        "wrong": wrong,
        "second": likely[0],
        "p": round(p[mode], 2),
        "q": round(p[likely[0]], 2),
        "tells": _tells(evidence, mode, wrong, library.guide, adviser),
    }


def _tells(
    evidence: Evidence, mode: str, wrong: Sequence[str], guide: Guide, adviser: Adviser
) -> list[list[str]]:
    """The findings, at most two, as (group, key), that tell a mode best from the wrong ones.

    A symptom is not named where the guide does not know it with the mode, or expects it more often with a wrong one: it
    may stand in our few cases by chance.
    """
    shares = [(m in wrong) / len(wrong) for m in adviser.causes.modes]
    shows = dict(zip(guide.modes, causes.judgement(guide).shows, strict=True))

    def expects(m: str, symptom: str) -> float:
        return shows[m].get(symptom, causes.UNLISTED)

    speaks = [
        (adviser.causes.shifts(g, k, shares)[mode], g, k)
        for g, k in evidence.findings()
        if g != "symptom" or (k in shows[mode] and expects(mode, k) >= max(expects(m, k) for m in wrong))
    ]
    best = sorted(speaks, key=lambda one: (-one[0], one[1:]))[:2]
    return [[group, key] for shift, group, key in best if shift >= SPEAKS]


def _round_age(years: float) -> float:
    """s; whole years, or whole months below two years."""
    return round(years) * YEAR if years >= 2 else max(1, round(years * 12)) * YEAR / 12


def tell_tales(library: Library) -> dict[str, list[dict[str, Any]]]:
    """Topic -> a mode, one that it is mistaken for, and findings that tell them apart by our cases.

    A right finding is a sign at the leak or of how the loss began, and its name does not say the mode; it is seen more
    often with the mode, the 95 % intervals of the two shares apart, and the guide expects it CLEARER times as often:
    among so many findings some stand apart by chance. A wrong one was seen with the other, no more often with the mode,
    and the guide does not expect it more often either.
    """
    out: dict[str, list[dict[str, Any]]] = {topic: [] for topic in MODE_TOPICS}
    shows = causes.judgement(library.guide).shows
    judged = dict(zip(library.guide.modes, shows, strict=True))
    groups: dict[str, list[Case]] = {}
    for case in library.counted:
        groups.setdefault(case.cause.mode, []).append(case)
    for mode, entry in library.guide.modes.items():
        topic = _topic_of(mode, library)
        mine = groups.get(mode, [])
        for other in entry["mistaken_for"] or ():
            theirs = groups.get(other, [])
            if topic is None or len(mine) < FEW or len(theirs) < FEW:
                continue
            expects = [judged[m] for m in (mode, other)]
            asks = [s for s in library.guide.symptoms if not _gives_away(s, mode, [other], library)]
            found = _between(mine, theirs, asks, expects)
            if found["right"] and len(found["wrong"]) >= 3:
                out[topic].append({"mode": mode, "other": other, "n": len(mine), "m": len(theirs), **found})
    return out


def _between(
    mine: Sequence[Case],
    theirs: Sequence[Case],
    symptoms: Sequence[str],
    expects: Sequence[Mapping[str, float]],
) -> dict[str, list[Any]]:
    right: list[Any] = []
    wrong: list[Any] = []
    telling = _telling()
    for symptom in symptoms:
        a = sum(symptom in c.symptoms for c in mine)
        b = sum(symptom in c.symptoms for c in theirs)
        first, second = wilson(a, len(mine)), wilson(b, len(theirs))
        if first is None or second is None:
            continue
        here, there = (shows.get(symptom, causes.UNLISTED) for shows in expects)
        if symptom in telling and first.low > second.high and here >= CLEARER * there:
            ends = [first.low, first.high, second.low, second.high]
            right.append({"sign": symptom, "a": a, "b": b, "ends": [round(v, 2) for v in ends]})
        elif b and first.value <= second.value and here <= there:
            wrong.append(symptom)
    return {"right": right, "wrong": wrong}


def searched(library: Library) -> dict[str, dict[str, list[int]]]:
    """Failure mode -> technique -> [leaks that it found, leaks that it was used on], as the mode's page counts them."""
    out: dict[str, dict[str, list[int]]] = {}
    for case in library.counted:
        by = out.setdefault(case.cause.mode, {})
        for (_, technique), hit in outcomes(case, library.guide).items():
            told = by.setdefault(technique, [0, 0])
            told[0] += hit
            told[1] += 1
    return out


def holds(library: Library) -> list[dict[str, Any]]:
    """Hold tests of cases whose verdict stands although the circuit's volume is guessed; SI."""
    out = []
    for case in _some(library.active):
        test = case.fix.hold_test if case.fix else None
        figures = leaks.figures(case, library.guide)
        if test is None or figures is None or figures.held is None or case.leak_rate is None:
            continue
        held = figures.held
        if held.verdict == "doubtful" or case.fix_held is False or (case.lost_share or 0.0) > 1.0:
            continue
        if case.lost_over is None or case.lost_over.si < LEAST_TIME:
            continue
        if held.verdict == "proves" and held.leak is not None and held.leak < GUESSED * (held.high or 0.0):
            continue
        if held.verdict == "too-coarse" and held.leak is not None and held.leak * GUESSED > (held.low or 0.0):
            continue
        known = test.start_temp is not None and test.end_temp is not None
        out.append(
            {
                "case": case.id,
                "gas": figures.refrigerant.key,
                "rate": case.leak_rate,
                "volume": figures.volume,
                "medium": test.medium,
                "start": test.start.si,
                "end": test.end.si,
                "over": test.over.si,
                "first": test.start_temp.si if known and test.start_temp else None,
                "last": test.end_temp.si if known and test.end_temp else None,
                "verdict": held.verdict,
                "wait": held.wait,
            }
        )
    return out
