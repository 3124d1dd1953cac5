"""Words alone: plain BM25 over texts, the yardstick that the ranking of causes is held against.

Weight of a word in a text: idf * tf / (tf + K1 (1 - B + B length / mean length)), with
idf = ln(1 + (N - df + 1/2) / (df + 1/2)), which is never negative. Source: Robertson and Zaragoza, Foundations
and Trends in Information Retrieval 3, 2009 (from memory); tests hold it against an independent implementation.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy  # its parts are loaded where they are first used: they take long

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
        asked = scipy.sparse.csr_array(
            (np.ones(len(rows)), (np.array(rows, dtype=int), np.array(columns, dtype=int))),
            shape=(len(queries), len(self.vocabulary)),
        )
        out: Floats = (asked @ self.weights).toarray()
        return out


@dataclass(frozen=True, slots=True)
class Text:
    """What `build` needs of a text: how many words it has, and those that are `asked`, packed as their numbers."""

    length: int
    known: bytes


def read(words: Sequence[str], number: Mapping[str, int]) -> Text:
    """A text as words, for queries of the words that `number` numbers."""
    return Text(len(words), array("i", [number[word] for word in words if word in number]).tobytes())


def numbered(asked: Iterable[str]) -> dict[str, int]:
    """Numbers of words, the same whatever the texts are."""
    return {word: i for i, word in enumerate(sorted(asked))}


def build(texts: Sequence[Text], number: dict[str, int]) -> Bm25:
    """From texts, for queries of the words that `number` numbers; at least one text has a word."""
    rows = np.frombuffer(b"".join(t.known for t in texts), np.int32)
    columns = np.repeat(np.arange(len(texts)), [len(t.known) // rows.itemsize for t in texts])
    counts = scipy.sparse.coo_array(
        (np.ones(len(rows)), (rows, columns)), shape=(len(number), len(texts))
    ).tocsr()
    counts.sum_duplicates()
    length = np.array([t.length for t in texts])
    norm = K1 * (1 - B + B * length / length.mean())
    df = np.diff(counts.indptr)
    idf = np.log1p((len(texts) - df + 0.5) / (df + 0.5))
    tf = counts.data
    counts.data = np.repeat(idf, df) * tf / (tf + norm[counts.indices])
    return Bm25(number, counts)
