"""The index that the phone reads in pieces: postings in buckets by hash of the term, hits in blocks.

A posting list is written as deltas in variable-length bytes, with one byte of impact for each document or one for
all; impacts hold everything that does not depend on the query, so that a score is a sum of products. Long lists
keep their strongest entries (static pruning). Every file begins with the index's number: pieces of two
builds are never mixed without being noticed.
"""

from __future__ import annotations

import hashlib
import json
from array import array
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from math import ceil, log

import numpy as np

from leaklore.search.documents import FACETS, Document
from leaklore.search.pieces import Array, Pairs, Piece, pack

K1, B = 1.2, 0.5
"""BM25's saturation of repeated words and of long texts."""
SCALE = 14.0
"""Impact steps for one unit of score."""
BUCKET = 2000
"""Bytes that a bucket should have."""
BLOCK = 8
"""Hits in a block."""
AT_ONCE = 1 << 20
"""Pairs of word and document that are computed with at once."""
SORTED = 1 << 21
"""Pairs that are put in the order of their terms at once."""
LISTS = 8000
"""Posting lists that are coded at once."""
KEEP = 1200
"""Most postings of a word."""
KEEP_FINDING = 4000
"""Most postings of a finding; a longer list says next to nothing and is cut to the best proven cases."""
WEIGHT = {"s": 1.2, "n": 0.5, "c": 0.9, "k": 1.3, "g": 0.6, "r": 0.8, "p": 1.6, "m": 1.8, "t": 0.5, "x": 0.6}
"""What a shared finding says, by its kind (judgement)."""
PROOF = {"held": 3, "point": 2, "section": 1}


class Postings:
    """Documents that hold a term, ascending, and the impact of each (1 to 255); packed, for there are millions."""

    __slots__ = ("bytes", "places")

    def __init__(self, docs: Iterable[int], impacts: Iterable[int]) -> None:
        self.places = array("i", docs)
        self.bytes = bytes(impacts)

    @property
    def docs(self) -> tuple[int, ...]:
        """The documents."""
        return tuple(self.places)

    @property
    def impacts(self) -> tuple[int, ...]:
        """Their impacts, in the same order."""
        return tuple(self.bytes)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Postings) and (self.places, self.bytes) == (other.places, other.bytes)

    __hash__ = None  # type: ignore[assignment]


@dataclass(frozen=True)
class Index:
    """`postings` by term: `w:` and a stem, or a letter of WEIGHT and a key; the first `cases` documents are cases."""

    postings: Mapping[str, Postings]
    lines: tuple[tuple[object, ...], ...]
    facets: tuple[tuple[str, ...], ...]
    cases: int

    @cached_property
    def number(self) -> bytes:
        """Four bytes that tell this index from another."""
        digest = hashlib.sha256()
        for told in (self.lines, self.facets, tuple(self.coded)):
            for start in range(0, len(told), AT_ONCE >> 10):  # never all of them as one text
                digest.update(_json(told[start : start + (AT_ONCE >> 10)]))
        for body in self.coded.values():
            digest.update(body)
        return digest.digest()[:4]

    @cached_property
    def coded(self) -> Mapping[str, bytes]:
        """Every posting list as it is written, by term."""
        terms = sorted(self.postings)
        found: dict[str, bytes] = {}
        for start in range(0, len(terms), LISTS):
            some = terms[start : start + LISTS]
            found.update(zip(some, encode([self.postings[term] for term in some]), strict=True))
        return found

    @cached_property
    def buckets(self) -> int:
        """So many that each has about BUCKET bytes."""
        size = sum(len(t.encode()) + len(b) + 3 for t, b in self.coded.items())
        return max(1, ceil(size / BUCKET))

    @cached_property
    def words(self) -> list[str]:
        """Stems that occur in at least two documents and may be what a misspelt word meant."""
        return sorted(
            t[2:]
            for t, p in self.postings.items()
            if t[:2] == "w:" and len(p.places) > 1 and len(t) > 5 and t[2:].isalpha()
        )


def fnv(term: str) -> int:
    """FNV-1a hash, 32 bits, of a term's UTF-8 bytes."""
    h = 2166136261
    for byte in term.encode():
        h = ((h ^ byte) * 16777619) & 0xFFFFFFFF
    return h


def build(documents: Sequence[Document], cases: int) -> Index:
    """Index of documents of which the first `cases` are cases."""
    return join([pack(documents)], cases)


def join(pieces: list[Piece], cases: int) -> Index:
    """Index of the documents of all pieces, of which the first `cases` are cases. Takes the pieces out of their list,
    so that each is let go as soon as it has been read."""
    lines = tuple(chain.from_iterable(p.lines for p in pieces))
    facets = tuple(chain.from_iterable(p.facets for p in pieces))
    words, findings = [p.words for p in pieces], [p.findings for p in pieces]
    pieces.clear()
    postings = _words(_gather(words), len(lines))
    postings |= _findings(_gather(findings), facets, cases)
    return Index(postings, lines, facets[:cases], cases)


@dataclass(frozen=True, slots=True)
class _Terms:
    """Every pair of document and term with its value, documents ascending; `terms` are places in `names`.

    `cuts`: runs of pairs that are computed with at once, for numpy takes many bytes for each on the way.
    """

    names: Sequence[str]
    docs: Array
    terms: Array
    values: Array
    cuts: Sequence[slice]


def _gather(pieces: list[Pairs]) -> _Terms:
    number: dict[str, int] = {}
    counts, terms, values = [], [], []
    pieces.reverse()
    while pieces:
        p = pieces.pop()
        place = np.array([number.setdefault(name, len(number)) for name in p.names], np.int32)
        counts.append(p.counts)
        terms.append(place[p.terms])
        values.append(p.values)
    each = np.concatenate(counts)
    docs = np.arange(len(each), dtype=np.int32).repeat(each)
    cuts = [slice(i, i + AT_ONCE) for i in range(0, len(docs), AT_ONCE)]
    return _Terms(list(number), docs, np.concatenate(terms), np.concatenate(values), cuts)


def _words(found: _Terms, n: int) -> dict[str, Postings]:
    """Posting lists of words, by BM25."""
    lengths = np.zeros(n)
    for at in found.cuts:
        lengths += np.bincount(found.docs[at], found.values[at], n)
    slack = K1 * (1 - B + B * lengths / (lengths.sum() / n if n else 1.0))
    rare = np.array([log(1 + (n - k + 0.5) / (k + 0.5)) for k in _counted(found).tolist()])

    def impact(at: slice) -> Array:
        values = found.values[at]
        return _impact(rare[found.terms[at]] * values * (K1 + 1) / (values + slack[found.docs[at]]))

    impacts = np.concatenate([np.zeros(0, np.int16), *map(impact, found.cuts)])
    return _lists("w:", found, impacts, KEEP, lambda at: [-impacts[at]])


def _findings(found: _Terms, facets: Sequence[Sequence[str]], cases: int) -> dict[str, Postings]:
    """Posting lists of findings, by how many cases show them."""
    shown = np.bincount(found.terms[found.docs < cases], minlength=len(found.names)).tolist()
    special = np.array([_special(t, k, cases) for t, k in zip(found.names, shown, strict=True)])
    impacts = _impact(special[found.terms] * found.values)
    standing = np.array([_standing(row) for row in facets], np.int8)

    def ranks(at: Array) -> list[Array]:
        docs = found.docs[at]
        return [docs < cases, -impacts[at], -standing[docs]]  # pages go first

    return _lists("", found, impacts, KEEP_FINDING, ranks)


def _lists(
    opening: str, found: _Terms, impacts: Array, most: int, ranks: Callable[[Array], list[Array]]
) -> dict[str, Postings]:
    """Posting lists by term. A list longer than `most` keeps the least by `ranks` of its pairs, of equals the first
    documents."""
    counts = _counted(found)
    lists = {}
    for terms in _runs(counts):
        order = _by_term(found, terms)
        docs, best = found.docs[order], impacts[order]
        start = 0
        for name, count in zip(found.names[terms], counts[terms].tolist(), strict=True):
            here: slice | Array = slice(start, start + count)
            if count > most:
                by = ranks(order[here])
                here = start + np.sort(np.lexsort([docs[here], *reversed(by)])[:most])
            lists[opening + name] = Postings(docs[here].tolist(), best[here].tolist())
            start += count
    return lists


def _runs(counts: Array) -> Iterator[slice]:
    """Runs of terms that have about SORTED pairs together."""
    ends = np.cumsum(counts)
    start = 0
    while start < len(counts):
        before = ends[start - 1] if start else 0
        end = max(start + 1, int(np.searchsorted(ends, before + SORTED, side="right")))
        yield slice(start, end)
        start = end


def _counted(found: _Terms) -> Array:
    """In how many documents each term is."""
    counts: Array = np.zeros(len(found.names), np.int64)
    for at in found.cuts:
        counts += np.bincount(found.terms[at], minlength=len(counts))
    return counts


def _by_term(found: _Terms, terms: slice) -> Array:
    """Places of all pairs of a run of terms, those of one term together and as they come."""
    start, end = terms.start, terms.stop
    pairs = np.arange(len(found.terms), dtype=np.int32)
    if (start, end) != (0, len(found.names)):
        pairs = pairs[(found.terms >= start) & (found.terms < end)]
    term = found.terms[pairs] - start
    order = np.argsort(term.astype(np.uint16), kind="stable")  # numbers so short are counted, not compared
    if end - start > 1 << 16:
        order = order[np.argsort((term >> 16).astype(np.uint16)[order], kind="stable")]
    places: Array = pairs[order]
    return places


def _special(term: str, shown: int, cases: int) -> float:
    """What a finding says that so many cases show; one that only pages have says most."""
    return WEIGHT[term[0]] * log(1 + ((cases - shown + 0.5) / (shown + 0.5) if shown else cases + 0.5))


def _impact(value: Array) -> Array:
    return np.clip(np.rint(value * SCALE), 1, 255).astype(np.int16)


def _standing(facets: Sequence[str]) -> int:
    return PROOF.get(facets[FACETS.index("proof")], 0) if facets else 0


def _varint(value: int, out: bytearray) -> None:
    while value > 127:
        out.append(value & 127 | 128)
        value >>= 7
    out.append(value)


def encode(lists: Sequence[Postings]) -> list[bytes]:
    """Of each list: number of postings, deltas, then 0 and every impact, or the one impact that all share."""
    if not lists:
        return []
    counts = [len(found.places) for found in lists]
    docs = np.fromiter(chain.from_iterable(found.places for found in lists), np.int64, sum(counts))
    gaps = np.diff(docs, prepend=-1) - 1
    first = np.cumsum([0, *counts[:-1]])
    gaps[first] = docs[first]
    width = np.searchsorted([1 << 7, 1 << 14, 1 << 21, 1 << 28], gaps, side="right") + 1
    ends = np.cumsum(width)
    stream = np.empty(int(ends[-1]), np.uint8)
    for i in range(int(width.max())):
        here = np.flatnonzero(width > i)
        more = np.where(width[here] > i + 1, 128, 0)
        stream[ends[here] - width[here] + i] = gaps[here] >> 7 * i & 127 | more
    written, coded, start = stream.tobytes(), [], 0
    for found, end in zip(lists, ends[first + counts - 1].tolist(), strict=True):
        out = bytearray()
        _varint(len(found.places), out)
        out += written[start:end]
        shared = len(set(found.bytes)) == 1
        out += found.bytes[:1] if shared else b"\0" + found.bytes
        coded.append(bytes(out))
        start = end
    return coded


def files(index: Index) -> Iterator[tuple[str, bytes]]:
    """(path, content) of buckets, blocks, facets and words."""
    coded, buckets = index.coded, index.buckets
    rows: dict[int, bytearray] = {b: bytearray() for b in range(buckets)}
    place = {term: fnv(term) % buckets for term in coded}
    held = Counter(place.values())
    for term, body in coded.items():
        row, name = rows[place[term]], term.encode()
        _varint(len(name), row)
        row.extend(name)
        _varint(len(body), row)
        row.extend(body)
    for b, row in rows.items():
        opening = bytearray(index.number)
        _varint(held[b], opening)  # how many terms follow: a bucket cut between two is noticed
        yield f"data/search/terms/{b}.bin", bytes(opening + row)
    head = index.number.hex()
    for start in range(0, index.cases, BLOCK):
        block = [head, *index.lines[start : min(start + BLOCK, index.cases)]]
        yield f"data/search/hits/{start // BLOCK}.json", _json(block)
    yield (
        "data/search/hits/guide.json",
        _json([head, *index.lines[index.cases :]]),
    )  # few, and asked for together
    codes = facet_codes(index)
    columns = bytearray(index.number)
    for i in range(len(FACETS)):
        at = {value: n for n, value in enumerate(codes[i])}
        width = 1 if len(at) <= 256 else 2
        for values in index.facets:
            columns.extend(at[values[i]].to_bytes(width, "little"))
    yield "data/search/facets.bin", bytes(columns)
    yield "data/search/words.json", _json([head, *index.words])


def _json(content: object) -> bytes:
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()


def facet_codes(index: Index) -> list[list[str]]:
    """Values of each facet, sorted; a case's byte in facets.bin points into it (two bytes above 256 values)."""
    return [sorted({row[i] for row in index.facets}) for i in range(len(FACETS))]


def described(index: Index) -> dict[str, object]:
    """What the phone must know of the index beforehand."""
    return {
        "number": index.number.hex(),
        "buckets": index.buckets,
        "block": BLOCK,
        "documents": len(index.lines),
        "cases": index.cases,
        "facets": dict(zip(FACETS, facet_codes(index), strict=True)),
    }
