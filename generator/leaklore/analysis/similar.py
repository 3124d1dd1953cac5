"""Cases like this one, and why: cosine over what two cases share, rare things weighing more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from scipy import sparse

from leaklore.records.model import Case

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
BLOCK = 2048


@dataclass(frozen=True, slots=True)
class Likeness:
    """A case like another: `score` 0 to 1, `why` the shared (kind, key) that weigh most."""

    case: Case
    score: float
    why: tuple[tuple[str, str], ...]


def features(case: Case) -> dict[tuple[str, str], float]:
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


def like_these(cases: Sequence[Case], count: int = 5) -> dict[str, tuple[Likeness, ...]]:
    """For each case number the `count` most similar other cases, best first.

    Features are weighted by kind times log(1 + N / cases that share it); rows have length 1, so the
    score is a cosine. Of equal scores the lower case number comes first. Memory grows with N times
    BLOCK, not with N squared.
    """
    if len(cases) < 2:
        return {case.id: () for case in cases}
    rows = [features(case) for case in cases]
    shared_by = Counter(f for row in rows for f in row)
    names = {f: i for i, f in enumerate(sorted(shared_by))}
    idf = {f: log(1 + len(cases) / n) for f, n in shared_by.items()}
    indptr, indices, data = [0], [], []
    for row in rows:
        weights = {names[f]: w * idf[f] for f, w in row.items()}
        length = sum(w * w for w in weights.values()) ** 0.5 or 1.0
        for i in sorted(weights):
            indices.append(i)
            data.append(weights[i] / length)
        indptr.append(len(indices))
    matrix = sparse.csr_matrix((data, indices, indptr), shape=(len(cases), len(names)))
    out: dict[str, tuple[Likeness, ...]] = {}
    for start in range(0, len(cases), BLOCK):
        scores = np.asarray((matrix[start : start + BLOCK] @ matrix.T).todense())
        for offset, line in enumerate(scores):
            here = start + offset
            line[here] = -1.0
            take = min(count, len(cases) - 1)
            cut = float(np.partition(line, -take)[-take]) - 1e-9  # all that tie with the last one
            ties: list[int] = np.flatnonzero(line >= cut).tolist()
            best = sorted(ties, key=lambda j: (-round(float(line[j]), 9), cases[j].id))[:take]
            mine = rows[here]
            out[cases[here].id] = tuple(
                Likeness(cases[j], float(line[j]), _why(mine, rows[j], idf)) for j in best if line[j] > 0.05
            )
    return out


def _why(
    mine: dict[tuple[str, str], float], other: dict[tuple[str, str], float], idf: dict[tuple[str, str], float]
) -> tuple[tuple[str, str], ...]:
    shared = sorted(mine.keys() & other.keys(), key=lambda f: (-mine[f] * idf[f], f))
    return tuple(shared[:4])
