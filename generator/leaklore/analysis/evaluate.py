"""How far to trust the ranking and the order of checks: measured on the company's own proven cases.

Every case is judged by models that never saw it. Log loss is the mean of -ln(probability given to the true
cause), in nats; the Brier score the mean squared distance of the probabilities from the truth over all modes
(0 best, 2 worst). Brier, Monthly Weather Review 78, 1950 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from leaklore.analysis import advice, bm25, causes, text
from leaklore.analysis.advice import Adviser, Known
from leaklore.analysis.causes import Counts, LeftOut, spread_over
from leaklore.analysis.evidence import Check, Evidence, of_case
from leaklore.analysis.intervals import Share, Spread, spread, wilson
from leaklore.analysis.order import FALSE_SIGN, SMALLEST_FIND, Board, State
from leaklore.analysis.places import Hypothesis
from leaklore.records.library import Library
from leaklore.records.model import Case

Floats = npt.NDArray[np.float64]
BANDS = (0.0, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0)
"""Edges of the classes of the reliability diagram."""
LONGEST = 240.0
"""min; a simulated search that has not found it by then stops."""
MOST_SEARCHES = 300
FOLDS, FOLDS_OF_MANY, MANY = 10, 3, 1000
"""Parts that a library is cut into for the simulated searches; from MANY cases on a part is no great loss."""
RARE_PATH = 0.01
GUESSES = 3
"""How many guesses of the words alone get a probability of their own."""
AT_ONCE = 50
SPOKEN = {
    "symptom": "symptoms",
    "condition": "conditions",
    "setting": "settings",
    "kind": "equipment_kinds",
    "refrigerant": "refrigerants",
}
"""Kinds of finding that have a name to search for, with their vocabulary. Words can't say that a thing is absent."""


@dataclass(frozen=True, slots=True)
class Scores:
    """Figures of one way to rank causes."""

    name: str
    cases: int
    top1: Share | None
    top3: Share | None
    log_loss: float
    brier: float


@dataclass(frozen=True, slots=True)
class Reliability:
    """Of all causes that were given a probability in a class: mean probability, and how often it was the cause."""

    low: float
    high: float
    said: float
    true: Share


@dataclass(frozen=True, slots=True)
class Searches:
    """Minutes to find the leak, simulated on proven cases, by one order of checks."""

    name: str
    minutes: Spread | None
    mean: float
    within_30: float
    within_60: float


@dataclass(frozen=True)
class Trust:
    """All that the page "How far to trust this" shows."""

    ranking: tuple[Scores, ...]
    reliability: tuple[Reliability, ...]
    searches: tuple[Searches, ...]
    took: Spread | None
    searched: int
    left_out: LeftOut


def scores(name: str, p: Floats, truth: Sequence[int] | npt.NDArray[np.int64]) -> Scores:
    """Scores of probabilities `p[case, mode]`."""
    true = np.asarray(truth)
    n = len(true)
    given = p[np.arange(n), true]
    above = (p > given[:, None]).sum(axis=1) + ((p == given[:, None]).sum(axis=1) - 1) / 2
    square = ((p - np.eye(p.shape[1])[true]) ** 2).sum(axis=1)
    return Scores(
        name,
        n,
        wilson(int((above < 1).sum()), n),
        wilson(int((above < 3).sum()), n),
        float(-np.log(np.maximum(given, 1e-12)).mean()) if n else float("nan"),
        float(square.mean()) if n else float("nan"),
    )


def prevalence(truth: npt.NDArray[np.int64], modes: int) -> Floats:
    """Probabilities of each case from how common the modes are among the others; one is added to each mode."""
    of = np.bincount(truth, minlength=modes).astype(float)
    p = np.tile(of + 1, (len(truth), 1))
    p[np.arange(len(truth)), truth] -= 1
    out: Floats = p / p.sum(axis=1, keepdims=True)
    return out


def naive_bayes(counts: Counts, cases: Sequence[int]) -> Floats:
    """Bernoulli naive Bayes over the same findings, each present or not; each case is taken out of the counts.

    One is added to every count: present and absent of each finding (Laplace), and each mode's cases, so that a
    mode whose only case is left out keeps a chance. Source: McCallum and Nigam, AAAI workshop 1998 (from memory).
    """
    x = np.zeros((len(cases), len(counts.names)))
    for k, i in enumerate(cases):
        x[k, list(counts.rows[i])] = 1.0
    truth = np.array([counts.mode_of[i] for i in cases], dtype=np.int64)
    share = (counts.seen + 1) / (counts.of + 2)
    score = x @ np.log(share / (1 - share)) + np.log(1 - share).sum(axis=0) + np.log(counts.of + 1)
    # without itself only the column of a case's own mode changes
    of = counts.of[truth]
    own = (counts.seen[:, truth].T - x + 1) / (of[:, None] + 1)
    score[np.arange(len(cases)), truth] = np.where(x > 0, np.log(own), np.log(1 - own)).sum(axis=1) + np.log(
        of
    )
    score -= score.max(axis=1, keepdims=True)
    p = np.exp(score)
    out: Floats = p / p.sum(axis=1, keepdims=True)
    return out


def prose(case: Case) -> str:
    """What a case says in words."""
    return " ".join(part for part in (case.title, case.story, case.lesson) if part)


def asked(case: Case, library: Library) -> str:
    """What somebody would type who knows a case's findings: their names."""
    name = library.vocabulary.name
    return " ".join(name(SPOKEN[g], key) for g, key in of_case(case).findings() if g in SPOKEN)


def plain_words(said: str) -> list[str]:
    """Words in lower case."""
    return text.words(text.fold(said))


FEW_NEW = 50
"""Records that are sooner read again than all are kept again."""


@dataclass(frozen=True, slots=True)
class Proses:
    """The prose of the counted cases, read for the words of the `queries`; by number and digest of the record."""

    queries: list[list[str]]
    number: dict[str, int]
    texts: dict[str, bm25.Text]

    def is_old(self, now: Proses) -> bool:
        """Would it spare the next one much to have `now` in place of this?"""
        return self.number != now.number or len(now.texts.keys() - self.texts.keys()) > FEW_NEW


def proses(library: Library, cases: Sequence[int], before: Proses | None = None) -> Proses:
    """Read for what is asked of `cases`; a record that `before` has, word for word, is not read again."""
    queries = [plain_words(asked(library.counted[i], library)) for i in cases]
    number = bm25.numbered({word for query in queries for word in query})
    known = before.texts if before is not None and before.number == number else {}
    return Proses(
        queries,
        number,
        {
            key: known.get(key) or bm25.read(plain_words(prose(case)), number)
            for key, case in ((_key(case), case) for case in library.counted)
        },
    )


def _key(case: Case) -> str:
    return f"{case.id} {case.digest}"


def words_alone(
    library: Library, modes: Sequence[str], cases: Sequence[int], read: Proses | None = None
) -> Floats:
    """Probabilities of the causes `modes` from those of the other cases whose prose fits the findings' names best, by
    BM25."""
    read = read or proses(library, cases)
    index = {mode: i for i, mode in enumerate(modes)}
    mode_of = np.array([index[case.cause.mode] for case in library.counted], dtype=np.int64)
    by_mode = np.argsort(mode_of, kind="stable")
    place = np.argsort(by_mode)
    present, starts = np.unique(mode_of[by_mode], return_index=True)
    texts = bm25.build([read.texts[_key(library.counted[i])] for i in by_mode], read.number)
    best = np.full((len(cases), len(modes)), -np.inf)
    for at in range(0, len(cases), AT_ONCE):
        some = list(cases[at : at + AT_ONCE])
        found = texts.scores(read.queries[at : at + AT_ONCE])
        found[np.arange(len(some)), place[some]] = -np.inf
        best[at : at + len(some), present] = np.maximum.reduceat(found, starts, axis=1)
    return by_guesses(best, mode_of[list(cases)])


def by_guesses(best: Floats, truth: npt.NDArray[np.int64]) -> Floats:
    """Probabilities from any score of the causes, `best[case, mode]`; of equals the guide's order.

    Its first, second and third cause get the share of the other cases in which that guess was right, the rest
    is shared evenly. So it knows its own error rate, which is generous to it.
    """
    n, modes = best.shape
    rank = np.argsort(-best, axis=1, kind="stable").argsort(axis=1)
    mine = np.minimum(rank[np.arange(n), truth], GUESSES)
    hits = np.bincount(mine, minlength=GUESSES + 1).astype(float)
    others = np.tile(hits, (n, 1))
    others[np.arange(n), mine] -= 1
    shares = (others + 1) / (others.sum(axis=1, keepdims=True) + GUESSES + 1)
    shares[:, GUESSES] /= max(modes - GUESSES, 1)
    out: Floats = np.take_along_axis(shares, np.minimum(rank, GUESSES), axis=1)
    return out


def reliability(p: Floats, truth: npt.NDArray[np.int64]) -> Iterator[Reliability]:
    """Said against true, over every cause of every case; classes with nothing in them are left out."""
    hit = np.eye(p.shape[1])[truth] > 0
    for low, high in pairwise(BANDS):
        inside = (p >= low) & ((p < high) if high < 1 else (p <= high))
        n = int(inside.sum())
        share = wilson(int((inside & hit).sum()), n)
        if share is not None:
            yield Reliability(low, high, float(p[inside].mean()), share)


@dataclass(frozen=True)
class Trial:
    """One proven case searched again: its leak (number of the hypothesis) and the board of checks at that unit."""

    adviser: Adviser
    evidence: Evidence
    joint: tuple[Hypothesis, ...]
    board: Board
    leak: int

    @classmethod
    def of(cls, case: Case, adviser: Adviser) -> Trial | None:
        """None where the model has no such place for that mode: then our order would never look there."""
        evidence = of_case(case)
        joint = tuple(adviser.joint(evidence))
        cause = case.cause
        at = [i for i, h in enumerate(joint) if (h.mode, h.component) == (cause.mode, cause.component)]
        return cls(adviser, evidence, joint, adviser.order.board(joint, evidence), at[0]) if at else None


def minutes_by_plan(trial: Trial) -> list[tuple[float, float]]:
    """(minutes, probability) until our order finds the leak; its place is known to us and not to the searcher.

    Each check shows it with its chance there. A sign in an area narrows the search, a find at the part itself
    ends it. Paths less likely than RARE_PATH count as not found within LONGEST.
    """
    order, board = trial.adviser.order, trial.board
    truth = trial.joint[trial.leak]
    found: list[tuple[float, float]] = []
    start = np.array([h.weight for h in trial.joint])
    paths = [(1.0, 0.0, start, State.after((), order))]
    while paths:
        path, spent, weights, state = paths.pop()
        while True:
            picked = board.pick(weights, state)
            if picked is None or path < RARE_PATH or spent >= LONGEST:
                found.append((LONGEST, path))
                break
            number, check = picked
            spent += check.minutes
            shows = float(board.chances[number, trial.leak])
            state = state.made(check.technique, check.at, order)
            if shows > 0:
                if check.at == truth.component and order.techniques[check.technique].finds == "points":
                    found.append((min(spent, LONGEST), path * shows))
                else:
                    sign = np.where(
                        board.chances[number] > 0, board.chances[number], FALSE_SIGN * SMALLEST_FIND
                    )
                    paths.append((path * shows, spent, weights * sign, replace(state, found=True)))
            path *= 1 - shows
            weights = weights * board.misses[number]
    return found


def minutes_by_list(trial: Trial, checks: Sequence[Check]) -> list[tuple[float, float]]:
    """The same for a given order of checks, from the start again when it is through.

    A sign in an area doesn't change the order: those who keep to a list go on with it, and what they
    find at the part itself ends it.
    """
    order, truth = trial.adviser.order, trial.joint[trial.leak]
    found: list[tuple[float, float]] = []
    path, spent, used = 1.0, 0.0, set[str]()
    for check in list(checks) * 8:
        if path < RARE_PATH or spent >= LONGEST:
            break
        level = "area" if len(check.at) > 1 else order.level(check.at[0])
        spent += order.detection.minutes[check.technique][level][check.technique in used] / 1000
        used.add(check.technique)
        hand = order.hand(check.technique, trial.evidence)
        missed = 1.0
        for place in check.at:
            missed *= 1 - order.chance(check.technique, place, truth, hand)
        if truth.component in check.at and order.techniques[check.technique].finds == "points":
            found.append((min(spent, LONGEST), path * (1 - missed)))
            path *= missed
    found.append((LONGEST, path))
    return found


def fixed_order(adviser: Adviser, case: Case) -> tuple[Check, ...]:
    """The same round for every job: look over the areas, then detector and bubbles at each part, those that leak
    most first."""
    order, evidence = adviser.order, of_case(case)
    leaks: dict[str, int] = {}
    for spot in order.places.spots:
        if order.places.fits(spot.component, evidence.kinds):
            leaks[spot.component] = leaks.get(spot.component, 0) + spot.weight
    areas = [a for a in sorted(order.areas) if order.places.fits(a, evidence.kinds)]
    areas = [a for a in areas if any(order.places.covers(a, p) for p in leaks)]
    parts = sorted((p for p in leaks if p not in order.areas), key=lambda p: (-leaks[p], p))
    detectors = [t for t in ("heated-diode-detector", "infrared-detector") if order.hand(t, evidence) > 0]
    detector = (detectors or ["ultrasonic"])[0]
    return (
        *(Check("visual", (a,)) for a in areas),
        *(Check(t, (p,)) for p in parts for t in (detector, "bubble-test")),
    )


def own_order(case: Case) -> tuple[Check, ...]:
    """What the crew did, in its order."""
    return tuple(Check(s.technique, s.at) for s in case.search if s.result != "false-alarm")


def minutes_taken(case: Case) -> float | None:
    """Minutes that the crew really spent until the spot was found."""
    spent = 0.0
    for step in case.search:
        spent += step.minutes
        if step.result in ("pinpointed", "confirmed"):
            return spent
    return None


def _searches(library: Library, read: Known) -> tuple[list[Searches], Spread | None, int]:
    cases = library.counted
    chosen = spread_over(len(cases), MOST_SEARCHES)
    names = ("Our order", "The crew's own order", "One round for every job")
    times: dict[str, list[float]] = {name: [] for name in names}
    soon: dict[str, list[tuple[float, float]]] = {name: [] for name in names}
    taken = []
    folds = FOLDS if len(cases) < MANY else FOLDS_OF_MANY
    for fold in range(folds):
        out = chosen[fold::folds]
        if not out:
            continue
        gone = {cases[i].id for i in out}
        rest = [c for c in cases if c.id not in gone]
        known = advice.adviser(
            rest, [c for c in library.active if c.id not in gone], library.guide, known=read
        )
        for i in out:
            case = cases[i]
            took = minutes_taken(case)
            if took is None:
                continue
            taken.append(took)
            trial = Trial.of(case, known)
            for name in names:
                if trial is None:
                    times[name].append(LONGEST)
                    soon[name].append((0.0, 0.0))
                    continue
                if name == names[0]:
                    found = minutes_by_plan(trial)
                elif name == names[1]:
                    found = minutes_by_list(trial, own_order(case))
                else:
                    found = minutes_by_list(trial, fixed_order(known, case))
                times[name].append(sum(t * p for t, p in found))
                soon[name].append((sum(p for t, p in found if t <= 30), sum(p for t, p in found if t <= 60)))
    made = [
        Searches(
            name,
            spread(times[name]),
            float(np.mean(times[name])) if times[name] else float("nan"),
            float(np.mean([a for a, _ in soon[name]])) if times[name] else float("nan"),
            float(np.mean([b for _, b in soon[name]])) if times[name] else float("nan"),
        )
        for name in names
    ]
    return made, spread(taken), len(taken)


def rankings(library: Library, left: LeftOut) -> dict[str, Floats]:
    """Probabilities of the same left-out cases by each way to rank causes, ours first."""
    return by_facts(library, left) | by_words(library, left)


def by_facts(library: Library, left: LeftOut, counts: Counts | None = None) -> dict[str, Floats]:
    """Those ways that read no prose."""
    out = {
        "Leaklore": left.p,
        "How common each cause is": prevalence(left.truth, len(left.modes)),
    }
    if left.of:
        counts = counts or causes.count(library.counted, library.guide)
        out["Naive Bayes"] = naive_bayes(counts, left.of)
    return out


def by_words(library: Library, left: LeftOut, read: Proses | None = None) -> dict[str, Floats]:
    """Those that read prose alone."""
    return {"Words alone": words_alone(library, left.modes, left.of, read)} if left.of else {}


def trust(library: Library, known: Known | None = None) -> Trust:
    """Measures it on at most FIT_AT_MOST cases and MOST_SEARCHES searches."""
    return with_words(library, of_facts(library, known))


def of_facts(library: Library, known: Known | None = None) -> Trust:
    """What follows from the facts of the cases and not from their prose."""
    known = known or Known(library.guide)
    counts = causes.count(library.counted, library.guide, known.findings)
    left = causes.leave_out(library.counted, library.guide, counts=counts)
    searches, took, n = _searches(library, known)
    ranking = _scored(by_facts(library, left, counts), left)
    return Trust(ranking, tuple(reliability(left.p, left.truth)), tuple(searches), took, n, left)


def with_words(library: Library, facts: Trust, read: Proses | None = None) -> Trust:
    """The same with the ways that read prose, which `read` may hold."""
    left = facts.left_out
    return replace(facts, ranking=(*facts.ranking, *_scored(by_words(library, left, read), left)))


def _scored(found: dict[str, Floats], left: LeftOut) -> tuple[Scores, ...]:
    return tuple(scores(name, p, left.truth) for name, p in found.items())
