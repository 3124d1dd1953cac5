"""Which cause fits: posterior over failure modes, from the guide's judgement and the company's counted cases.

A finding's share among the cases of a mode is a Beta posterior whose prior mean is the guide's judgement.
Findings are not independent of each other, so each kind of finding gets a weight, fitted by log loss on cases
that are left out of the counts: where findings repeat each other the weight falls below 1, and the
probabilities stay honest. Method: naive Bayes with fitted weights for groups of features (hybrid of a
generative and a discriminative model; Raina, Shen, Ng and McCallum, NIPS 2003; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import exp, log
from typing import Any

import numpy as np
import numpy.typing as npt

from leaklore.analysis.evidence import GROUPS, Evidence, of_case
from leaklore.records.guide import Guide
from leaklore.records.model import Case

Floats = npt.NDArray[np.float64]
Findings = tuple[tuple[str, str], ...]
FREQUENCY = {"nearly-always": 0.85, "often": 0.45, "sometimes": 0.15, "rarely": 0.04}
"""Share of a mode's cases in which a symptom is seen, for the guide's words (judgement, no source)."""
UNLISTED = 0.02
COMMON = {"very-common": 8.0, "common": 4.0, "occasional": 2.0, "rare": 1.0}
"""Relative frequency of a mode, for the guide's words (judgement, no source)."""
STRENGTHS = (4.0, 8.0, 16.0)
"""How many cases the guide's judgement is worth; the library's own cases choose among these."""
PRIOR_CASES = 40.0
START = (1.0, *(0.6 for _ in GROUPS), 0.3)
"""Weights of prior, groups and silence before any case has spoken (judgement), and what few cases are held to."""
TOLD = 4
"""Symptoms named, seen or not, from which on silence about the others counts in full: a short question leaves most
unsaid, a record says nearly all (judgement)."""
KIND = GROUPS.index("kind") + 1
"""Where the weights have that of the kind of equipment."""
HOLD = 2.0
NAMED = 4.0
"""What a cause gains that somebody names: a hunch has its reasons (judgement)."""
RULED_OUT = 0.1
"""What is left of a cause that somebody says it is not (judgement)."""
FIT_AT_MOST = 800
MILLI = 1000.0


@dataclass(frozen=True)
class Counts:
    """Sufficient statistics: `seen[f, m]` cases of mode m with finding f, `of[m]` cases of mode m."""

    modes: tuple[str, ...]
    names: tuple[tuple[str, str], ...]
    seen: Floats
    of: Floats
    rows: tuple[tuple[int, ...], ...]
    mode_of: tuple[int, ...]


@dataclass(frozen=True)
class Judgement:
    """The guide's word: `common[m]` sums to 1; `shows[m]` symptom -> share."""

    common: Floats
    shows: tuple[Mapping[str, float], ...]


@dataclass(frozen=True)
class CauseModel:
    """What the ranking needs, in thousandths of a nat, weights already in it.

    `tables[group][key][m]` is the log likelihood of a finding under mode m, its largest entry 0; `silent[symptom][m]`
    that of a symptom which nobody spoke of; `counted[m]` the cases of a mode. `peaks[kind]` is what was taken off a row
    of kinds of equipment for its largest entry to be 0: rows that are added up need it.
    """

    modes: tuple[str, ...]
    prior: tuple[int, ...]
    tables: Mapping[str, Mapping[str, tuple[int, ...]]]
    silent: Mapping[str, tuple[int, ...]]
    weights: tuple[float, ...] = START
    strength: float = STRENGTHS[1]
    counted: tuple[int, ...] = ()
    peaks: Mapping[str, int] = field(default_factory=dict)

    @property
    def kind_weight(self) -> float:
        """Weight of the kind of equipment among the findings."""
        return self.weights[KIND]

    @property
    def cases(self) -> int:
        """Counted cases behind it."""
        return sum(self.counted)

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Mode -> its place in every row."""
        return {mode: i for i, mode in enumerate(self.modes)}

    def weigh(self, evidence: Evidence) -> list[float]:
        """Unnormalised weight of each mode, the largest 1, from all findings that are not places or checks."""
        total = [float(v) for v in self.prior]
        for group, key in evidence.findings():
            row = self.tables[group].get(key)
            if row is not None:
                total = [a + b for a, b in zip(total, row, strict=True)]
        total = [a + b for a, b in zip(total, self.one_of(evidence.kinds), strict=True)]
        share = told_share(len(evidence.symptoms) + len(evidence.absent))
        for symptom, row in self.silent.items() if share else ():
            if symptom not in evidence.symptoms and symptom not in evidence.absent:
                total = [a + share * b for a, b in zip(total, row, strict=True)]
        top = max(total)
        out = [exp((t - top) / MILLI) for t in total]
        for spoken, factor in ((evidence.named, NAMED), (evidence.ruled_out, RULED_OUT)):
            for mode in sorted(spoken):
                if mode in self.index:
                    out[self.index[mode]] *= factor
        return out

    def one_of(self, kinds: Sequence[str]) -> list[float]:
        """Log likelihood under each mode, thousandths of a nat, that the equipment is of one of several kinds.

        Likelihoods of the kinds are added before their common weight; of one kind alone the tables tell.
        """
        rows = [(self.tables["kind"][k], self.peaks[k]) for k in kinds if k in self.peaks]
        out = [0.0] * len(self.modes)
        if len(kinds) < 2 or not rows or not self.kind_weight:
            return out
        scale = MILLI * self.kind_weight
        for row, peak in rows:
            out = [a + exp((v + peak) / scale) for a, v in zip(out, row, strict=True)]
        return [scale * log(a) for a in out]

    def shifts(self, group: str, key: str, shares: Sequence[float]) -> dict[str, float]:
        """How much one finding speaks for each mode, in nats: its log likelihood less the average over `shares`."""
        row = self.tables[group].get(key)
        if row is None:
            return dict.fromkeys(self.modes, 0.0)
        mean = float(np.log(sum(exp(v / MILLI) * p for v, p in zip(row, shares, strict=True))))
        return {mode: v / MILLI - mean for mode, v in zip(self.modes, row, strict=True)}


def told_share(named: int) -> float:
    """How much silence about the other symptoms counts, 0 to 1, when so many were named."""
    return min(1.0, named / TOLD)


def judgement(guide: Guide) -> Judgement:
    """The guide's prior over modes and symptoms."""
    common = np.array([COMMON.get(str(e["how_common"]), 2.0) for e in guide.modes.values()])
    shows = tuple(
        {s: FREQUENCY[word] for word, listed in (e["symptoms"] or {}).items() for s in listed}
        for e in guide.modes.values()
    )
    return Judgement(common / common.sum(), shows)


def findings_of(case: Case) -> Findings:
    """What the model weighs of a case."""
    return tuple(of_case(case).findings())


def count(cases: Sequence[Case], guide: Guide, findings: Callable[[Case], Findings] = findings_of) -> Counts:
    """Counts over cases whose cause is proven."""
    modes = tuple(guide.modes)
    index = {mode: i for i, mode in enumerate(modes)}
    found = [findings(case) for case in cases]
    known = {("symptom", s) for s in guide.symptoms} | {("absent", s) for s in guide.symptoms}
    names = tuple(sorted(known | {f for row in found for f in row}))
    at = {name: i for i, name in enumerate(names)}
    rows = tuple(tuple([at[f] for f in row]) for row in found)
    mode_of = tuple(index[case.cause.mode] for case in cases)
    cells = [f * len(modes) + m for row, m in zip(rows, mode_of, strict=True) for f in row]
    seen = np.bincount(np.array(cells, dtype=int), minlength=len(names) * len(modes))
    of = np.bincount(np.array(mode_of, dtype=int), minlength=len(modes))
    return Counts(
        modes, names, seen.reshape(len(names), len(modes)).astype(float), of.astype(float), rows, mode_of
    )


class _Likelihoods:
    """Log likelihoods of findings for any subset of the cases."""

    def __init__(self, counts: Counts, judged: Judgement, strength: float) -> None:
        self.strength = strength
        names = counts.names
        at = {name: i for i, name in enumerate(names)}
        self.group = np.array([GROUPS.index(g) for g, _ in names])
        self.absent = self.group == GROUPS.index("absent")
        self.absences = np.flatnonzero(self.absent)
        self.like = np.arange(len(names))  # the row that a finding's share is counted in
        self.mean = np.full((len(names), len(counts.modes)), -1.0)
        for i, (group, key) in enumerate(names):
            if group in ("symptom", "absent"):
                self.like[i] = at["symptom", key]
                self.mean[i] = [shows.get(key, UNLISTED) for shows in judged.shows]
        self.common = judged.common

    def rows(self, ids: Sequence[int] | npt.NDArray[np.int64], seen: Floats, of: Floats) -> Floats:
        """Log likelihood, findings by modes; `seen` are the counts of the rows `like[ids]`."""
        ids = np.asarray(ids, dtype=int)
        mean = self.mean[ids]
        overall = (seen.sum(axis=1, keepdims=True) + 0.5) / (of.sum() + 1)
        mean = np.where(mean < 0, overall, mean)
        return self._logs(mean, seen, of, ids)

    def without(self, seen: Floats, of: Floats) -> tuple[Floats, Floats, Floats]:
        """`rows` of all findings for a case that is not counted itself, from counts that it is in.

        `usual[f, m]` where m is not its mode, `own[f, m]` where it is and the row of f counted the case,
        `beside[f, m]` where it is and that row did not. What no case can ask for has no meaning.
        """
        overall = (np.maximum(seen.sum(axis=1, keepdims=True) - 1, 0) + 0.5) / of.sum()
        mean = np.where(self.mean < 0, overall, self.mean)
        less = np.maximum(of - 1, 0)
        return (
            self._logs(mean, seen, of),
            self._logs(mean, np.maximum(seen - 1, 0), less),
            self._logs(mean, np.minimum(seen, less), less),
        )

    def _logs(self, mean: Floats, seen: Floats, of: Floats, ids: Any = slice(None)) -> Floats:
        share = (seen + self.strength * mean) / (of + self.strength)
        out: Floats = np.log(np.where(self.absent[ids, None], 1 - share, share))
        return out

    def prior_without(self, of: Floats) -> Floats:
        """Log prior [own mode, mode] for a case of each mode that is not counted."""
        less = np.maximum(of - np.eye(len(of)), 0)
        out: Floats = np.log((less + PRIOR_CASES * self.common) / (of.sum() - 1 + PRIOR_CASES))
        return out

    def prior(self, of: Floats) -> Floats:
        """Log prior of the modes."""
        out: Floats = np.log((of + PRIOR_CASES * self.common) / (of.sum() + PRIOR_CASES))
        return out


def _left_out(
    counts: Counts, like: _Likelihoods, cases: Sequence[int], outside: Sequence[int] = ()
) -> Floats:
    """Scores [case, prior and groups, mode] of each case, counted without itself and without `outside`.

    None of `cases` is in `outside`. Without a case only the column of its own mode changes, and what the share of
    a finding that the guide does not judge is drawn to; so all of it is looked up in tables.
    """
    seen, of = counts.seen.copy(), counts.of.copy()
    for i in outside:
        seen[list(counts.rows[i]), counts.mode_of[i]] -= 1
        of[counts.mode_of[i]] -= 1
    usual, own, beside = like.without(seen[like.like], of)
    mode = np.array([counts.mode_of[i] for i in cases], dtype=int)
    at = np.arange(len(cases))
    longest = max((len(counts.rows[i]) for i in cases), default=0)
    found = np.full((len(cases), longest), -1)
    has = np.zeros((len(cases), len(counts.names)), dtype=bool)
    for n, i in enumerate(cases):
        row = list(counts.rows[i])
        found[n, : len(row)] = row
        has[n, row] = True
    out = np.zeros((len(cases), len(START), len(counts.modes)))
    out[:, 0] = like.prior_without(of)[mode]
    for column in found.T:  # in the order of the findings, so that sums round as they do one by one
        k = at[column >= 0]
        f, m = column[k], mode[k]
        scores = usual[f]
        scores[np.arange(len(k)), m] = np.where(has[k, like.like[f]], own[f, m], beside[f, m])
        out[k, like.group[f] + 1] += scores
    told = has[:, like.absences] | has[:, like.like[like.absences]]
    silent = np.zeros((len(cases), len(counts.modes)))
    for absence, named in zip(like.absences.tolist(), told.T, strict=True):
        k = at[~named]
        m = mode[k]
        scores = np.tile(usual[absence], (len(k), 1))
        scores[np.arange(len(k)), m] = beside[absence, m]
        silent[k] += scores
    share = np.array([told_share(int(n)) for n in told.sum(axis=1)])
    out[:, -1] = share[:, None] * silent
    return out


def _fit(scores: Floats, truth: Sequence[int]) -> tuple[Floats, float]:
    """Weights 0 to 2 that minimise the log loss, held to START; and the mean log loss there."""
    from scipy.optimize import minimize

    start = np.array(START)
    true = np.asarray(truth)
    mine = scores[np.arange(len(true)), :, true]

    def loss(w: Floats) -> tuple[float, Floats]:
        p = softmax(scores, w)
        value = (
            -np.log(np.maximum(p[np.arange(len(true)), true], 1e-300)).sum() + HOLD * ((w - start) ** 2).sum()
        )
        slope = np.einsum("ngm,nm->g", scores, p) - mine.sum(axis=0) + 2 * HOLD * (w - start)
        return float(value), slope

    found = minimize(loss, start, jac=True, bounds=[(0.0, 2.0)] * len(start), method="L-BFGS-B")
    w: Floats = found.x
    p = softmax(scores, w)
    return w, float(-np.log(np.maximum(p[np.arange(len(true)), true], 1e-300)).mean())


def softmax(scores: Floats, weights: Floats) -> Floats:
    """Probabilities [case, mode] from group scores and weights."""
    z = np.einsum("ngm,g->nm", scores, weights)
    z -= z.max(axis=1, keepdims=True)
    p = np.exp(z)
    out: Floats = p / p.sum(axis=1, keepdims=True)
    return out


def _choose(
    counts: Counts, judged: Judgement, cases: Sequence[int], outside: Sequence[int] = ()
) -> tuple[float, Floats]:
    """Strength of the guide's word and weights of the groups, by the cases given, each left out in turn."""
    if not cases:
        return STRENGTHS[1], np.array(START)
    truth = [counts.mode_of[i] for i in cases]
    tried = []
    for strength in STRENGTHS:
        like = _Likelihoods(counts, judged, strength)
        w, loss = _fit(_left_out(counts, like, cases, outside), truth)
        tried.append((loss, strength, w))
    _, strength, w = min(tried, key=lambda t: t[:2])
    return strength, w


def spread_over(n: int, most: int) -> list[int]:
    """At most `most` of the numbers below n, evenly spread."""
    return list(range(n)) if n <= most else sorted({i * n // most for i in range(most)})


def fit(
    cases: Sequence[Case], guide: Guide, findings: Callable[[Case], Findings] = findings_of
) -> CauseModel:
    """The model of a library's counted cases. Without cases it is the guide's judgement alone."""
    counts, judged = count(cases, guide, findings), judgement(guide)
    strength, weights = _choose(counts, judged, spread_over(len(cases), FIT_AT_MOST))
    return _build(counts, judged, strength, weights)


def _build(counts: Counts, judged: Judgement, strength: float, weights: Floats) -> CauseModel:
    like = _Likelihoods(counts, judged, strength)
    ids = range(len(counts.names))
    rows = like.rows(ids, counts.seen[like.like], counts.of) * weights[like.group + 1][:, None]
    tables: dict[str, dict[str, tuple[int, ...]]] = {group: {} for group in GROUPS}
    peaks: dict[str, int] = {}
    for (group, key), row in zip(counts.names, rows, strict=True):
        tables[group][key] = _milli(row)
        if group == "kind":
            peaks[key] = round(float(row.max()) * MILLI)
    quiet = like.rows(like.absences, counts.seen[like.like[like.absences]], counts.of) * weights[-1]
    silent = {counts.names[i][1]: _milli(row) for i, row in zip(like.absences, quiet, strict=True)}
    prior = like.prior(counts.of) * weights[0]
    return CauseModel(
        counts.modes,
        _milli(prior),
        tables,
        silent,
        tuple(round(float(w), 4) for w in weights),
        strength,
        tuple(int(n) for n in counts.of),
        peaks,
    )


def _milli(row: Floats) -> tuple[int, ...]:
    """Thousandths of a nat below the largest."""
    return tuple(int(v) for v in np.rint((row - row.max()) * MILLI))


@dataclass(frozen=True)
class LeftOut:
    """Probabilities for cases that the model had never seen: `p[i, m]`, `truth[i]` and which cases (`of`)."""

    modes: tuple[str, ...]
    p: Floats
    truth: npt.NDArray[np.int64]
    of: tuple[int, ...]


def leave_out(
    cases: Sequence[Case],
    guide: Guide,
    folds: int = 10,
    most: int = FIT_AT_MOST,
    counts: Counts | None = None,
) -> LeftOut:
    """Each case ranked by a model that never saw it: neither in its counts nor in the fit of its weights.

    Weights come from the other folds, which are themselves counted without the whole fold; the counts for
    the case are those of all other cases.
    """
    counts, judged = counts or count(cases, guide), judgement(guide)
    chosen = spread_over(len(cases), most)
    order = np.random.default_rng(20).permutation(len(chosen))
    p = np.zeros((len(chosen), len(counts.modes)))
    for fold in range(folds):
        out = [int(k) for k in order[fold::folds]]
        if not out:
            continue
        inside = set(chosen) - {chosen[k] for k in out}
        strength, w = _choose(counts, judged, sorted(inside), [chosen[k] for k in out])
        like = _Likelihoods(counts, judged, strength)
        p[out] = softmax(_left_out(counts, like, [chosen[k] for k in out]), w)
    truth = np.array([counts.mode_of[i] for i in chosen], dtype=np.int64)
    return LeftOut(counts.modes, p, truth, tuple(chosen))
