"""Words alone: plain BM25 over texts, the yardstick that the ranking of causes is held against.

Weight of a word in a text: idf * tf / (tf + K1 (1 - B + B length / mean length)), with
idf = ln(1 + (N - df + 1/2) / (df + 1/2)), which is never negative. Source: Robertson and Zaragoza, Foundations
and Trends in Information Retrieval 3, 2009 (from memory); tests hold it against an independent implementation.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import sparse

Floats = npt.NDArray[np.float64]
K1, B = 1.2, 0.75


@dataclass(frozen=True)
class Bm25:
    """Texts made ready: `vocabulary` word -> row, `weights[word, text]`."""

    vocabulary: dict[str, int]
    weights: Any

    def scores(self, queries: Sequence[Sequence[str]]) -> Floats:
        """[query, text]; a word that is asked twice counts twice, words that no text has count nothing."""
        rows, columns = [], []
        for row, query in enumerate(queries):
            known = [self.vocabulary[word] for word in query if word in self.vocabulary]
            rows += [row] * len(known)
            columns += known
        asked = sparse.csr_array(
            (np.ones(len(rows)), (np.array(rows, dtype=int), np.array(columns, dtype=int))),
            shape=(len(queries), len(self.vocabulary)),
        )
        out: Floats = (asked @ self.weights).toarray()
        return out


def build(texts: Iterable[Sequence[str]], asked: Container[str]) -> Bm25:
    """From texts as words, for queries of the words `asked`; at least one text has a word."""
    vocabulary: dict[str, int] = {}
    rows, columns, lengths = [], [], []
    for column, words in enumerate(texts):
        lengths.append(len(words))
        known = [vocabulary.setdefault(word, len(vocabulary)) for word in words if word in asked]
        rows += known
        columns += [column] * len(known)
    shape = (len(vocabulary), len(lengths))
    counts = sparse.coo_array((np.ones(len(rows)), (rows, columns)), shape=shape).tocsr()
    counts.sum_duplicates()
    length = np.array(lengths)
    norm = K1 * (1 - B + B * length / length.mean())
    df = np.diff(counts.indptr)
    idf = np.log1p((len(lengths) - df + 0.5) / (df + 0.5))
    tf = counts.data
    counts.data = np.repeat(idf, df) * tf / (tf + norm[counts.indices])
    return Bm25(vocabulary, counts)
