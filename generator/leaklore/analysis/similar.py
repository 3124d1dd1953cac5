"""Cases like this one, and why: cosine over what two cases share, rare things weighing more."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy  # its parts are loaded where they are first used: they take long

from leaklore.records.model import Case

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.integer[Any]]
Feature = tuple[str, str]

WEIGHT = {
    "mode": 3.0,
    "component": 2.5,
    "symptom": 1.5,
    "condition": 1.0,
    "contributing": 1.5,
    "kind": 1.0,
    "refrigerant": 0.7,
    "setting": 0.5,
    "family": 0.5,
}
"""How much a shared thing of each kind says (judgement, no source)."""
BLOCK = 512
"""How many cases are compared at once."""
EXACT = 25_000
"""Up to so many cases every case is compared with every other that could be among its likest."""
MOST = 2_000
"""In larger libraries: with how many, the newest of those that share its failure mode and its component."""
SPARSE = 50
"""In larger libraries: where fewer share both, those that share one of them are looked at too."""
LEAST = 0.05
"""A score below which two cases are not alike."""
NEAR = 1e-9
"""Scores nearer than this are equal."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """A case like another: `score` 0 to 1, `why` the shared (kind, key) that weigh most."""

    case: Case
    score: float
    why: tuple[Feature, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Cases and the likest of each, best first, by their places: those of case i are `starts[i]` to `starts[i + 1]` of
    `others`, `scores` and `whys`, the last of which are places in `reasons`."""

    starts: Numbers
    others: Numbers
    scores: Floats
    whys: Numbers
    reasons: tuple[tuple[Feature, ...], ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A likeness as a page shows it: number and title of the other case."""

    number: str
    title: str
    score: float
    why: tuple[Feature, ...]


class Likenesses(Mapping[str, tuple[Likeness, ...]]):
    """By case number the likest other cases, best first. Numbers alone are kept: a large library has half a million."""

    def __init__(self, cases: Sequence[Case], pairs: Pairs) -> None:
        self.cases = cases
        self.pairs = pairs
        self._place = {case.id: i for i, case in enumerate(cases)}
        self._names: bytes | None = None
        self._ends = np.zeros(1, np.int64)

    def ready(self) -> None:
        """Reads what `shown` tells of all cases, so that it need look at none of them."""
        names = [f"{case.id}\n{case.title}".encode() for case in self.cases]
        self._names = b"".join(names)
        self._ends = np.cumsum([0, *map(len, names)])

    def __getitem__(self, number: str) -> tuple[Likeness, ...]:
        p = self.pairs
        return tuple(
            Likeness(self.cases[p.others[k]], float(p.scores[k]), p.reasons[p.whys[k]])
            for k in self._of(number)
        )

    def shown(self, number: str) -> Iterator[Shown]:
        """The same by name; once `ready`, without a look at the other cases, which a forked process would copy by that."""
        p = self.pairs
        for k in self._of(number) if number in self._place else ():
            yield Shown(*self._name(p.others[k]), float(p.scores[k]), p.reasons[p.whys[k]])

    def _name(self, at: int) -> tuple[str, str]:
        if self._names is None:
            return self.cases[at].id, self.cases[at].title
        number, _, title = self._names[self._ends[at] : self._ends[at + 1]].decode().partition("\n")
        return number, title

    def _of(self, number: str) -> range:
        i = self._place[number]
        return range(self.pairs.starts[i], self.pairs.starts[i + 1])

    def __iter__(self) -> Iterator[str]:
        return iter(self._place)

    def __len__(self) -> int:
        return len(self._place)


def features(case: Case) -> dict[Feature, float]:
    """What is known of a case, each with its weight by kind."""
    gear = case.equipment
    pairs: list[tuple[str, str | None]] = [
        *(("mode", c.mode) for c in case.causes),
        *(("component", c.component) for c in case.causes),
        *(("symptom", s) for s in case.symptoms),
        *(("condition", c) for c in case.conditions),
        *(("contributing", k) for c in case.causes for k in c.contributing),
        ("kind", gear.kind),
        ("refrigerant", gear.refrigerant),
        ("setting", gear.setting),
        ("family", gear.family),
    ]
    return {(kind, key): WEIGHT[kind] for kind, key in pairs if key}


def likest(cases: Sequence[Case], count: int = 5) -> Pairs:
    """For each case the `count` most similar other cases, best first, as places in `cases`.

    Features are weighted by kind times log(1 + N / cases that share it); rows have length 1, so the
    score is a cosine. Of equal scores the lower case number comes first. Beyond EXACT cases only MOST are looked at
    for each case, so that time and memory grow with N.
    """
    starts, others, scores, whys = [0], list[int](), list[float](), list[int]()
    reasons: dict[tuple[Feature, ...], int] = {}
    best: dict[int, list[tuple[float, str, int, float]]] = defaultdict(list)
    if len(cases) > 1:
        space = _Space(cases)
        count = min(count, len(cases) - 1)
        found = list(space.near(count) if len(cases) <= EXACT else space.near_enough(count))
        mine, near = (np.concatenate(side) for side in zip(*found, strict=True))
        for i, j, score in zip(mine.tolist(), near.tolist(), space.scores(mine, near), strict=True):
            if score > LEAST:
                best[i].append((-round(score, 9), cases[j].id, j, score))
    for i in range(len(cases)):
        for _, _, j, score in sorted(best[i])[:count]:
            others.append(j)
            scores.append(score)
            whys.append(reasons.setdefault(space.why(i, j), len(reasons)))
        starts.append(len(others))
    return Pairs(
        np.array(starts, np.int32),
        np.array(others, np.int32),
        np.array(scores, np.float64),
        np.array(whys, np.int32),
        tuple(reasons),
    )


class _Space:
    """Cases as rows of length 1 over all features, in the order of their names."""

    def __init__(self, cases: Sequence[Case]) -> None:
        self.cases = cases
        rows = [features(case) for case in cases]
        shared_by = Counter(f for row in rows for f in row)
        names = sorted(shared_by)
        number = {f: n for n, f in enumerate(names)}
        weight = {f: WEIGHT[f[0]] * log(1 + len(cases) / n) for f, n in shared_by.items()}
        indptr, indices, data = [0], list[int](), list[float]()
        for row in rows:
            at = sorted(number[f] for f in row)
            weights = [weight[names[n]] for n in at]
            length = sum(weight[f] ** 2 for f in row) ** 0.5 or 1.0
            indices += at
            data += [w / length for w in weights]
            indptr.append(len(indices))
        self.matrix = scipy.sparse.csr_matrix((data, indices, indptr), shape=(len(cases), len(names)))
        self.whole = self.matrix.toarray() if len(cases) <= EXACT else None
        self.weightiest = sorted(names, key=lambda f: (-weight[f], f))
        rank = {f: n for n, f in enumerate(self.weightiest)}
        self.ranks = [sorted(rank[f] for f in row) for row in rows]
        self.shared: dict[tuple[int, ...], tuple[Feature, ...]] = {}
        by_day = sorted(range(len(cases)), key=lambda i: (cases[i].reported, cases[i].id))
        age = np.empty(len(cases), dtype=np.int64)
        age[by_day] = np.arange(len(cases))
        self.age = age
        columns = self.matrix.tocsc()
        self.having = {
            f: np.sort(columns.indices[columns.indptr[n] : columns.indptr[n + 1]]).astype(np.int64)
            for n, f in enumerate(names)
            if f[0] in ("mode", "component")
        }
        self.mass = [
            {
                f: data[k] ** 2
                for k in range(indptr[i], indptr[i + 1])
                if (f := names[indices[k]]) in self.having
            }
            for i in range(len(cases))
        ]
        """Of each case what its modes and components make up of it; all features sum to 1."""

    def near(self, take: int) -> Iterator[tuple[Numbers, Numbers]]:
        """(case, other) that hold the likest of every case: of those that share its mode and component, where no
        other can be as like; else of those that share one of them; else of all.

        What shares features of the mass m only has a cosine of at most the root of m (Cauchy and Schwarz).
        """
        everybody = np.arange(len(self.cases))
        left: list[int] = []
        for key, asking in self._by(everybody.tolist(), self._cause):
            bounds = [(1 - min(self.mass[i][f] for f in key)) ** 0.5 for i in asking]
            left += yield from self._settle(asking, self._with_all(key), bounds, take)
        last: list[int] = []
        for key, asking in self._by(left, lambda i: tuple(sorted(self.mass[i]))):
            bounds = [max(0.0, 1 - sum(self.mass[i].values())) ** 0.5 for i in asking]
            last += yield from self._settle(asking, self._with_any(key), bounds, take)
        yield from self._settle(last, everybody, [-1.0] * len(last), take)

    def near_enough(self, take: int) -> Iterator[tuple[Numbers, Numbers]]:
        """The same of at most MOST others each, and no proof that none was missed."""
        for key, asking in self._by(range(len(self.cases)), self._cause):
            others = self._with_all(key)
            if len(others) < SPARSE:
                others = np.union1d(others, self._newest(self._with_any(key)))
            yield from self._settle(asking, self._newest(others), [-1.0] * len(asking), take)

    def _rows(self, some: Numbers) -> Floats:
        found: Floats = self.matrix[some].toarray() if self.whole is None else self.whole[some]
        return found

    def _cause(self, i: int) -> tuple[Feature, ...]:
        cause = self.cases[i].cause
        return ("mode", cause.mode), ("component", cause.component)

    def _newest(self, some: Numbers) -> Numbers:
        return np.sort(some[np.argsort(-self.age[some])[:MOST]])

    @staticmethod
    def _by(
        some: Iterable[int], key: Callable[[int], tuple[Feature, ...]]
    ) -> list[tuple[tuple[Feature, ...], list[int]]]:
        groups: dict[tuple[Feature, ...], list[int]] = defaultdict(list)
        for i in some:
            groups[key(i)].append(i)
        return sorted(groups.items())

    def _with_all(self, key: Sequence[Feature]) -> Numbers:
        found = self.having[key[0]]
        for f in key[1:]:
            found = np.intersect1d(found, self.having[f], assume_unique=True)
        return found

    def _with_any(self, key: Sequence[Feature]) -> Numbers:
        return np.unique(np.concatenate([self.having[f] for f in key]))

    def _settle(
        self, asking: Sequence[int], others: Numbers, bounds: Sequence[float], take: int
    ) -> Generator[tuple[Numbers, Numbers], None, list[int]]:
        """Pairs of each case with its `take` likest of `others` and all that tie with the last; what is left are the
        cases of which one that is not in `others` could be as like: its score is up to the case's bound."""
        left: list[int] = []
        theirs = self._rows(others).T
        for at in range(0, len(asking), BLOCK):
            some = np.array(asking[at : at + BLOCK], dtype=np.int64)
            scores = self._rows(some) @ theirs
            scores[some[:, None] == others] = -1.0
            cut = np.full(len(some), -1.0)
            if len(others) >= take:
                cut = np.partition(scores, -take, axis=1)[:, -take]
            bound = np.array(bounds[at : at + BLOCK])
            settled = (cut > bound + 10 * NEAR) | (bound < 0)
            left += some[~settled].tolist()
            near = (scores >= (cut - 2 * NEAR)[:, None]) & settled[:, None] & (scores > 0)
            i, j = np.nonzero(near)
            yield some[i], others[j]
        return left

    def scores(self, mine: Numbers, other: Numbers) -> list[float]:
        """Cosines of pairs, each summed in the order of the features, so that no way to find a pair changes a bit."""
        out: list[float] = []
        for at in range(0, len(mine), 4 * BLOCK):
            a, b = (self._rows(side[at : at + 4 * BLOCK]) for side in (mine, other))
            out += np.ascontiguousarray((a * b).T).sum(axis=0).tolist()
        return out

    def why(self, i: int, j: int) -> tuple[Feature, ...]:
        """The four weightiest features that both have."""
        theirs = set(self.ranks[j])
        first = tuple([n for n in self.ranks[i] if n in theirs][:4])
        known = self.shared.get(first)
        if known is None:
            known = self.shared[first] = tuple(self.weightiest[n] for n in first)
        return known
