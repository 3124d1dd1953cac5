"""Documents packed small: what a large library keeps in memory of its texts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
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


def _pairs(rows: Sequence[Mapping[str, float]]) -> Pairs:
    number = {term: i for i, term in enumerate(dict.fromkeys(chain.from_iterable(rows)))}
    counts = np.array([len(row) for row in rows], np.int32)
    total = int(counts.sum())
    terms = np.fromiter(map(number.__getitem__, chain.from_iterable(rows)), np.int32, total)
    values: Array = np.fromiter(chain.from_iterable(row.values() for row in rows), np.float64, total)
    small = values.astype(np.uint16)
    return Pairs(tuple(number), counts, terms, small if (small == values).all() else values)
