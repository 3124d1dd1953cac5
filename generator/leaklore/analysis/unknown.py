"""The unknown case: a real case made into an exercise, what each check would say there, and how a learner did.

Answers are the record's where the crew made that check. Where nobody did they are computed: at the true place a check
finds the leak with its chance there, by a draw fixed for that case and check; at any other place it is clean. The
ranking and the order that a learner is measured against have never seen the case.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from leaklore.analysis import advice
from leaklore.analysis.advice import Adviser, Known
from leaklore.analysis.costs import minutes_to_find
from leaklore.analysis.evidence import Evidence, of_case
from leaklore.analysis.order import FALSE_SIGN, SMALLEST_FIND, Board, Order, State
from leaklore.analysis.places import Hypothesis
from leaklore.analysis.readings import above_background
from leaklore.records.guide import Guide
from leaklore.records.library import Library
from leaklore.records.model import Case, Reading, SearchStep
from leaklore.records.reading import no_exercise

MOST = 150
"""How many exercises a library gives: more than anybody solves, and few enough for a build and a phone."""
LEFT_OUT = 0.2
"""Share of the counted cases that a model may do without at once, so that it has seen none of its exercises."""
LONGEST = 480
"""min; where the order of checks has not found the leak by then, it is said not to."""
CLEARED = 0.3
"""A place is shown clean when a leak there would have stayed unseen with no more than this chance (judgement)."""
AGAINST = 20
"""Thousandths; a cause no likelier than this by what was seen speaks against it (judgement)."""
OPEN = 500
"""Thousandths; below this the findings leave the true cause open (judgement)."""
STRONG = 0.5
"""nat; a finding that speaks less than this against a cause is not named."""
PLACE, PINPOINTED, NAMED, CAUSE, PACE, AIM = 3, 2, 1, 3, 2, 2
"""Points for the place that two techniques of the learner pinpointed, that one did, and that was named without a find
or by its area; for the cause, for the minutes and for places searched in vain."""
OF = PLACE + CAUSE + PACE + AIM
CLEAN, SIGN, FOUND = "clean", "sign", "found"
TOGETHER = ("standing-pressure", "vacuum-hold")
"""Techniques that shut in all places of a step as one volume: whichever of them leaks, the gauge moves for all."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a check says: `clean`, `sign` (it shows something) or `found` (pinpointed); whole min as first use of its
    technique and later.

    `done`: on the record. `note` and `readings` are the record's; `hindsight`: the note tells what came out later.
    """

    result: str
    first: int
    later: int
    done: bool
    note: str = ""
    hindsight: bool = False
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """A technique at a place: its answers, the last for every further time; `sees` is the chance, in thousandths, that
    it would show a leak there.

    `confirms` is the answer where another technique has pinpointed the leak there before: so the crew made it.
    """

    technique: str
    place: str
    answers: tuple[Answer, ...]
    sees: int
    confirms: Answer | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """One check of a search that was made or simulated."""

    technique: str
    at: tuple[str, ...]
    result: str
    minutes: int


@dataclass(frozen=True, slots=True)
class Walk:
    """A search up to the find: `minutes` until then, None where it did not find; `vain` counts places without a leak."""

    stops: tuple[Stop, ...]
    minutes: int | None
    vain: int


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause: its likelihood from the call, in thousandths, the places where it can sit, and the findings (group,
    key) that speak most against it."""

    mode: str
    likely: int
    places: tuple[str, ...]
    against: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Unknown:
    """An exercise. `call` is the symptom that names it; `inside` holds the places within each place on offer.

    `grade` 0 to 2: the findings leave the cause open; something misled or was missed on the day. `solution` is
    (mode, component).
    """

    case: Case
    call: str
    grade: int
    checks: tuple[Asked, ...]
    inside: Mapping[str, tuple[str, ...]]
    suspects: tuple[Suspect, ...]
    solution: tuple[str, str]
    record: Walk
    way: Walk


@dataclass(frozen=True, slots=True)
class Lapse:
    """Where the reasoning left the evidence; `check` is the number of the check in the trail, from 0.

    Kinds: `again` (a place already shown clean), `guess` (no check showed it there), `sign-only` (shown, not
    pinpointed), `once` (one technique, not confirmed), `cleared` (named a place shown clean), `against` (a cause that
    the findings speak against), `elsewhere` (a cause that is not known at that place).
    """

    kind: str
    check: int | None = None


@dataclass(frozen=True, slots=True)
class Score:
    """Points of OF, and what they come from; minutes are whole, `found_after` None where the leak was not pinpointed."""

    place: int
    cause: int
    pace: int
    aim: int
    minutes: int
    found_after: int | None
    vain: int
    proof: str
    lapses: tuple[Lapse, ...]

    @property
    def points(self) -> int:
        """All points."""
        return self.place + self.cause + self.pace + self.aim


def suitable(library: Library) -> tuple[Case, ...]:
    """Cases that make an exercise (records/reading.py says which do) and were found at their place.

    Of more than MOST those are taken that a reading list names, and a fixed choice of the others, which one more case
    hardly changes.
    """
    named = {i.key for listed in library.reading for i in listed.items if i.kind == "unknown"}
    fit = [c for c in library.counted if not no_exercise(c, library.guide) and minutes_to_find(c) is not None]
    fit.sort(key=lambda c: (c.id not in named, _draw(c.id)))
    return tuple(sorted(fit[: max(MOST, len(named))], key=lambda c: c.id))


def exercises(library: Library, known: Known | None = None) -> Iterator[Unknown]:
    """All exercises, each by models that never saw its case."""
    cases, known = suitable(library), known or Known(library.guide)
    often = Counter(symptom for case in library.active for symptom in case.symptoms)
    parts = ceil(len(cases) / max(LEFT_OUT * len(library.counted), 1))
    for part in range(parts):
        out = cases[part::parts]
        gone = {case.id for case in out}
        adviser = advice.adviser(
            [c for c in library.counted if c.id not in gone],
            [c for c in library.active if c.id not in gone],
            library.guide,
            known=known,
        )
        for case in out:
            yield unknown(case, adviser, library.guide, often)


def unknown(case: Case, adviser: Adviser, guide: Guide, often: Mapping[str, int]) -> Unknown:
    """The exercise of one case; `often` says how common each symptom is: the commonest names it and tells least."""
    evidence, order, truth = of_case(case), adviser.order, case.cause
    joint = adviser.joint(evidence)
    checks = tuple(_checks(case, order, joint, evidence, guide))
    answers = {(c.technique, c.place): c.answers[0] for c in checks}
    places = sorted(
        {c.place for c in checks} | {h.component for h in joint if guide.on(h.component, case.equipment.kind)}
    )
    suspects = tuple(_suspects(adviser, joint, evidence))
    likely = next((s.likely for s in suspects if s.mode == truth.mode), 0)
    misled = any(_misled(s, truth.component, guide) for s in case.search)
    walk = follow(
        order.board(joint, evidence),
        [h.weight for h in joint],
        lambda technique, place: answers[technique, place],
        lambda place: guide.covers(place, truth.component),
    )
    return Unknown(
        case,
        min(case.symptoms, key=lambda s: (-often.get(s, 0), s)),
        (likely < OPEN) + misled,
        checks,
        {p: tuple(q for q in places if q != p and guide.covers(p, q)) for p in places},
        suspects,
        (truth.mode, truth.component),
        _crew(case, guide),
        walk,
    )


def follow(
    board: Board,
    weights: Sequence[float],
    answer: Callable[[str, str], Answer],
    holds: Callable[[str], bool],
) -> Walk:
    """The order of checks, which does not know the leak, against fixed answers; `holds`: is the leak in that place?"""
    left, state = np.array(weights, dtype=float), State.after((), board.order)
    stops: list[Stop] = []
    spent, vain = 0, set[str]()
    while spent < LONGEST:
        picked = board.pick(left, state)
        if picked is None:
            break
        number, check = picked
        said = answer(check.technique, check.at)
        minutes = said.later if check.technique in state.used else said.first
        spent += minutes
        stops.append(Stop(check.technique, (check.at,), said.result, minutes))
        if said.result == FOUND:
            return Walk(tuple(stops), spent, len(vain))
        if not holds(check.at):
            vain.add(check.at)
        state = state.made(check.technique, check.at, board.order)
        if said.result == CLEAN:
            left = left * board.misses[number]
        else:
            chances = board.chances[number]
            left = left * np.where(
                chances > 0, np.maximum(chances, SMALLEST_FIND), FALSE_SIGN * SMALLEST_FIND
            )
            left, state = left / left.sum(), replace(state, found=True)
    return Walk(tuple(stops), None, len(vain))


def score(unknown: Unknown, trail: Sequence[tuple[str, str]], cause: str, place: str) -> Score:
    """How a search went that made the checks of `trail`, (technique, place) in order, and then named cause and place.

    Raises KeyError for a check that the exercise does not have.
    """
    at = {(c.technique, c.place): c for c in unknown.checks}
    mode, component = unknown.solution
    used, vain, times = set[str](), set[str](), Counter[tuple[str, str]]()
    cleared: list[tuple[str, int]] = []
    showed: dict[str, set[str]] = {SIGN: set(), FOUND: set()}
    lapses: list[Lapse] = []
    spent, found_after = 0, None
    for number, (technique, spot) in enumerate(trail):
        check = at[technique, spot]
        said = check.answers[min(times[technique, spot], len(check.answers) - 1)]
        if check.confirms and showed[FOUND] - {technique}:
            said = check.confirms
        spent += said.later if technique in used else said.first
        in_vain = not _holds(unknown, spot, component)
        if said.result == CLEAN:
            repeated = times[technique, spot] > 0
            if in_vain and (repeated or _unseen(unknown, cleared, spot) <= CLEARED):
                lapses.append(Lapse("again", number))
            cleared.append((spot, check.sees))
        elif said.result == FOUND or _holds(unknown, spot, place):
            showed[said.result].add(technique)
        if said.result == FOUND and found_after is None:
            found_after = spent
        if in_vain and found_after is None:
            vain.add(spot)
        used.add(technique)
        times[technique, spot] += 1
    right = place == component
    pinpointed = showed[FOUND] if right else set[str]()
    proof = (
        "point"
        if len(pinpointed) > 1
        else "once"
        if pinpointed
        else "section"
        if showed[SIGN]
        else "suspected"
    )
    if proof == "once":
        lapses.append(Lapse("once"))
    elif proof != "point" and not right and _unseen(unknown, cleared, place) <= CLEARED:
        lapses.append(Lapse("cleared"))
    elif proof != "point":
        lapses.append(Lapse("sign-only" if proof == "section" else "guess"))
    if cause != mode:
        named = next(s for s in unknown.suspects if s.mode == cause)
        if named.likely <= AGAINST:
            lapses.append(Lapse("against"))
        if not any(_holds(unknown, place, spot) for spot in named.places):
            lapses.append(Lapse("elsewhere"))
    pars = [w for w in (unknown.record, unknown.way) if w.minutes is not None]
    return Score(
        {"point": PLACE, "once": PINPOINTED}.get(proof, NAMED if _holds(unknown, place, component) else 0),
        CAUSE if cause == mode else 0,
        _against(found_after, [w.minutes or 0 for w in pars], PACE)
        if right and found_after is not None
        else 0,
        _against(len(vain), [w.vain for w in pars], AIM) if right and found_after is not None else 0,
        spent,
        found_after,
        len(vain),
        proof,
        tuple(lapses),
    )


def _against(value: int, pars: Sequence[int], points: int) -> int:
    """All points where none of the two others did better, one where one of them did worse or as well."""
    return points if value <= min(pars) else 1 if value <= max(pars) else 0


def _holds(unknown: Unknown, place: str, component: str) -> bool:
    return place == component or component in unknown.inside.get(place, ())


def _unseen(unknown: Unknown, cleared: Sequence[tuple[str, int]], place: str) -> float:
    """Chance that a leak at a place would have stayed unseen by all the clean checks over it."""
    left = 1.0
    for spot, sees in cleared:
        if _holds(unknown, spot, place):
            left *= 1 - sees / 1000
    return left


def _draw(*of: str) -> float:
    """A number from 0 to 1 that is the same in every build."""
    return int.from_bytes(hashlib.sha256(" ".join(of).encode()).digest()[:6], "big") / 2**48


def _misled(step: SearchStep, component: str, guide: Guide) -> bool:
    """Did the step show what was not there, or miss what was?"""
    holds = any(guide.covers(p, component) for p in step.at)
    return step.result == "false-alarm" or holds == (step.result == CLEAN)


def _said(step: SearchStep, place: str, component: str, order: Order, guide: Guide) -> str:
    """A step's answer at one of its places; of several places what was found is at the one that holds the leak, but for
    what was shut in TOGETHER."""
    if step.result == CLEAN:
        return CLEAN
    if step.result == "false-alarm":
        return SIGN
    at_one = step.technique not in TOGETHER and any(guide.covers(p, component) for p in step.at)
    if at_one and not guide.covers(place, component):
        return CLEAN
    exact = step.result in ("pinpointed", "confirmed") and place == component and order.level(place) == "part"
    return FOUND if exact else SIGN


def _readings(case: Case) -> tuple[list[list[Reading]], list[Reading]]:
    """Readings of each step, and those of no step. Of several steps that fit, the one that agrees and has none yet."""
    by_step: list[list[Reading]] = [[] for _ in case.search]
    loose = []
    for reading in case.readings:
        high = above_background(reading)
        fit = [
            i
            for i, s in enumerate(case.search)
            if reading.at in s.at
            and (
                s.technique == reading.by
                or (s.technique, reading.by) == ("section-isolation", "standing-pressure")
            )
        ]
        agree = [i for i in fit if high is None or high == (case.search[i].result != CLEAN)] or fit
        if agree:
            by_step[min(agree, key=lambda i: (len(by_step[i]), i))].append(reading)
        else:
            loose.append(reading)
    return by_step, loose


def _checks(
    case: Case, order: Order, joint: Sequence[Hypothesis], evidence: Evidence, guide: Guide
) -> Iterator[Asked]:
    """Every check on offer: all that fit the equipment, blind techniques and useless places too, and all of the crew's."""
    truth = Hypothesis(case.cause.mode, case.cause.component, 1.0)
    # without the gas no technique is left out as blind: choosing it well is the learner's task
    board = order.board(joint, replace(evidence, refrigerant=None))
    minutes = {
        (c.technique, c.place): (max(round(c.first), 1), max(round(c.later), 1)) for c in board.candidates
    }
    by_step, loose = _readings(case)
    made: dict[tuple[str, str], list[Answer]] = {}
    confirmed: dict[tuple[str, str], Answer] = {}
    pinpointed = False
    for step, readings in zip(case.search, by_step, strict=True):
        each = max(round(step.minutes / len(step.at)), 1)
        hindsight = _misled(step, truth.component, guide)
        for place in step.at:
            said = _said(step, place, truth.component, order, guide)
            here = tuple(r for r in readings if r.at == place)
            # a note on what was found would tell at a clean place where to go
            note = "" if said == CLEAN != step.result else step.note or ""
            answer = Answer(said, each, each, True, note, hindsight, here)
            if said == FOUND and step.result == "confirmed" and pinpointed:
                confirmed.setdefault((step.technique, place), answer)
            else:
                made.setdefault((step.technique, place), []).append(answer)
        pinpointed |= step.result == "pinpointed" and truth.component in step.at
    for reading in loose:
        key, high = (reading.by, reading.at), above_background(reading)
        if key in minutes and key not in made and high is not None:
            made[key] = [Answer(SIGN if high else CLEAN, *minutes[key], True, readings=(reading,))]
    for key, answer in confirmed.items():
        minutes.setdefault(key, (answer.first, answer.later))
    minutes |= _beside({*made, *confirmed}, minutes, order)
    hands = {technique: order.hand(technique, evidence) for technique in order.techniques}
    asked = sorted(minutes.keys() | made.keys())
    inside = order.layout(joint, evidence.kinds).within
    leaks = {place: [(joint[i].weight, joint[i].mode) for i in inside(place)] for _, place in asked}
    all_of = {place: sum(weight for weight, _ in found) for place, found in leaks.items()}
    for technique, place in asked:
        hand, weight = hands[technique], all_of[place]
        known = order.known(technique, place)
        shown = sum(w * (known.get(mode, 0) / 1000 * hand) for w, mode in leaks[place])
        sees = round(1000 * shown / weight) if weight > 0 else 0
        answers = made.get((technique, place))
        if answers is None and place in order.rules["not_at"].get(technique, ()):
            sees, answers = 0, [Answer(CLEAN, *minutes[technique, place], False)]
        if answers is None:
            said = CLEAN
            if _draw(case.id, technique, place) < order.chance(technique, place, truth, hand):
                points = order.techniques[technique].finds == "points"
                said = FOUND if points and place == truth.component and order.level(place) == "part" else SIGN
            answers = [Answer(said, *minutes[technique, place], False)]
        yield Asked(technique, place, tuple(answers), sees, confirmed.get((technique, place)))


def _beside(
    crew: Set[tuple[str, str]], offered: Mapping[tuple[str, str], tuple[int, int]], order: Order
) -> dict[tuple[str, str], tuple[int, int]]:
    """Minutes of the checks that are not on offer: each technique at all parts or all areas, as it is used on one of them.

    Offered besides the usual places at those of the crew alone it would tell where the leak is.
    """
    places = {place for _, place in {*offered, *crew}}
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for technique, level in {(technique, order.level(place)) for technique, place in {*offered, *crew}}:
        first, later = (max(round(m / 1000), 1) for m in order.detection.minutes[technique][level])
        here = {(technique, place) for place in places if order.level(place) == level}
        found |= dict.fromkeys(here - offered.keys(), (first, later))
    return found


def _suspects(adviser: Adviser, joint: Sequence[Hypothesis], evidence: Evidence) -> Iterator[Suspect]:
    ranked = {r.mode: r for r in adviser.rank(joint)}
    shares = [ranked[mode].probability for mode in adviser.causes.modes]
    findings = list(evidence.findings())
    speaks = [adviser.causes.shifts(g, k, shares) for g, k in findings]
    for mode in adviser.causes.modes:
        shifts = sorted((told[mode], g, k) for told, (g, k) in zip(speaks, findings, strict=True))
        against = tuple((g, k) for shift, g, k in shifts if shift < -STRONG)[:2]
        places = tuple(place for place, _ in ranked[mode].places)
        yield Suspect(mode, round(1000 * ranked[mode].probability), places, against)


def _crew(case: Case, guide: Guide) -> Walk:
    """The record's own search up to the step that pinpointed it."""
    stops: list[Stop] = []
    vain, spent = set[str](), 0
    for step in case.search:
        spent += step.minutes
        stops.append(Stop(step.technique, step.at, step.result, step.minutes))
        vain |= {p for p in step.at if not guide.covers(p, case.cause.component)}
        if step.result in ("pinpointed", "confirmed") and case.cause.component in step.at:
            return Walk(tuple(stops), spent, len(vain))
    raise ValueError(f"{case.id}: no step pinpointed the cause")
