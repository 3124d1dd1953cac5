"""Documents packed small: what a large library keeps in memory of its texts."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, count
from typing import Any

import numpy as np

from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.search.documents import Document, case_document

Array = np.ndarray[Any, Any]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Terms of some documents, one document after the other: `terms` are places in `names`, `counts` terms a document."""

    names: tuple[str, ...]
    counts: Array
    terms: Array
    values: Array


@dataclass(frozen=True, slots=True)
class Piece:
    """Some documents. `forms`: in how many of them each word as written is."""

    lines: tuple[tuple[object, ...], ...]
    facets: tuple[tuple[str, ...], ...]
    words: Pairs
    findings: Pairs
    forms: Mapping[str, int]


def pack(documents: Sequence[Document]) -> Piece:
    """The documents as a piece."""
    return Piece(
        tuple(d.line for d in documents),
        tuple(d.facets for d in documents),
        _pairs([d.words for d in documents]),
        _pairs([d.findings for d in documents]),
        dict(Counter(chain.from_iterable(d.forms for d in documents))),
    )


def read(library: Library, cases: Sequence[Case]) -> Piece:
    """The texts of some cases."""
    return pack([case_document(case, library) for case in cases])


class Tally:
    """Sums of many counts by word, which a `Counter` would add word by word."""

    def __init__(self) -> None:
        self._number: defaultdict[str, int] = defaultdict(count().__next__)
        self._sums: Array = np.zeros(0, np.int64)

    def add(self, counts: Mapping[str, int]) -> None:
        """Adds one more."""
        size = len(counts)
        places = np.fromiter(map(self._number.__getitem__, counts), np.int64, size)
        new = len(self._number) - len(self._sums)
        self._sums = np.append(self._sums, np.zeros(new, np.int64))
        self._sums[places] += np.fromiter(counts.values(), np.int64, size)

    def of_at_least(self, least: int) -> list[str]:
        """Words whose sum is so much, in no order."""
        return [word for word, n in zip(self._number, self._sums.tolist(), strict=True) if n >= least]


def _pairs(rows: Sequence[Mapping[str, float]]) -> Pairs:
    number = {term: i for i, term in enumerate(dict.fromkeys(chain.from_iterable(rows)))}
    counts = np.array([len(row) for row in rows], np.int32)
    total = int(counts.sum())
    terms = np.fromiter(map(number.__getitem__, chain.from_iterable(rows)), np.int32, total)
    values: Array = np.fromiter(chain.from_iterable(row.values() for row in rows), np.float64, total)
    small = values.astype(np.uint16)
    return Pairs(tuple(number), counts, terms, small if (small == values).all() else values)
