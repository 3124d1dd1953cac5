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
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import chain, count
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

    def __init__(self, docs: Iterable[int] | bytes, impacts: Iterable[int]) -> None:
        """`docs` as numbers, or as the bytes of 32-bit ones."""
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
        for told in (*self.blocks, self.others, _json(self.codes), self.columns):
            digest.update(_json(len(told)) + told)
        for term, body in self.coded.items():
            digest.update(b"%d %s\0" % (len(body), term.encode()) + body)
        return digest.digest()[:4]

    @cached_property
    def blocks(self) -> list[bytes]:
        """Lines of the cases as JSON, BLOCK at a time."""
        return [
            _json(self.lines[start : min(start + BLOCK, self.cases)]) for start in range(0, self.cases, BLOCK)
        ]

    @cached_property
    def others(self) -> bytes:
        """Lines of all that is no case: few, and asked for together."""
        return _json(self.lines[self.cases :])

    @cached_property
    def codes(self) -> list[list[str]]:
        """Values of each facet, sorted; a case's code in facets.bin points into it."""
        return [sorted({row[i] for row in self.facets}) for i in range(len(FACETS))]

    @cached_property
    def columns(self) -> bytes:
        """Of each facet the code of every case: one byte, two above 256 values."""
        found = bytearray()
        for i, values in enumerate(self.codes):
            at = {value: n for n, value in enumerate(values)}
            wide = np.dtype("<u2" if len(at) > 256 else "u1")
            found += np.fromiter((at[row[i]] for row in self.facets), wide, len(self.facets)).tobytes()
        return bytes(found)

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


def fnv(terms: Sequence[str]) -> list[int]:
    """FNV-1a hash, 32 bits, of the UTF-8 bytes of every term, byte by byte of all of them at once."""
    written = [term.encode() for term in terms]
    lengths = np.fromiter(map(len, written), np.int64, len(written))
    letters = np.frombuffer(b"".join(written), np.uint8)
    first = np.cumsum(lengths) - lengths
    h = np.full(len(written), 2166136261, np.uint64)
    for i in range(int(lengths.max(initial=0))):
        here = np.flatnonzero(lengths > i)
        h[here] = (h[here] ^ letters[first[here] + i]) * np.uint64(16777619) & np.uint64(0xFFFFFFFF)
    found: list[int] = h.tolist()
    return found


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
    number: defaultdict[str, int] = defaultdict(count().__next__)
    counts, terms, values = [], [], []
    pieces.reverse()
    while pieces:
        p = pieces.pop()
        place = np.fromiter(map(number.__getitem__, p.names), np.int32, len(p.names))
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

    impacts = np.concatenate([np.zeros(0, np.uint8), *map(impact, found.cuts)])
    return _lists("w:", found, impacts, KEEP, lambda at: [255 - impacts[at]])


def _findings(found: _Terms, facets: Sequence[Sequence[str]], cases: int) -> dict[str, Postings]:
    """Posting lists of findings, by how many cases show them."""
    shown = np.bincount(found.terms[found.docs < cases], minlength=len(found.names)).tolist()
    special = np.array([_special(t, k, cases) for t, k in zip(found.names, shown, strict=True)])
    impacts = _impact(special[found.terms] * found.values)
    standing = np.array([_standing(row) for row in facets], np.int8)

    def ranks(at: Array) -> list[Array]:
        docs = found.docs[at]
        return [docs < cases, 255 - impacts[at], -standing[docs]]  # pages go first

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
        cut = _cutter(docs), _cutter(best)
        start = 0
        for name, shown in zip(found.names[terms], counts[terms].tolist(), strict=True):
            end = start + shown
            if shown > most:
                by = ranks(order[start:end])
                kept = start + np.sort(np.lexsort([docs[start:end], *reversed(by)])[:most])
                lists[opening + name] = Postings(docs[kept].tobytes(), best[kept].tobytes())
            else:
                lists[opening + name] = Postings(*(of(start, end) for of in cut))
            start = end
    return lists


def _cutter(values: Array) -> Callable[[int, int], bytes]:
    """Cuts pieces out of an array as bytes, in less time than numpy does."""
    whole, width = values.tobytes(), values.itemsize
    return lambda start, end: whole[width * start : width * end]


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
    return np.clip(np.rint(value * SCALE), 1, 255).astype(np.uint8)


def _standing(facets: Sequence[str]) -> int:
    return PROOF.get(facets[FACETS.index("proof")], 0) if facets else 0


@cache
def _varint(value: int) -> bytes:
    out = bytearray()
    while value > 127:
        out.append(value & 127 | 128)
        value >>= 7
    return bytes((*out, value))


def encode(lists: Sequence[Postings]) -> list[bytes]:
    """Of each list: number of postings, deltas, then 0 and every impact, or the one impact that all share."""
    if not lists:
        return []
    counts = [len(found.places) for found in lists]
    docs = np.frombuffer(b"".join(found.places for found in lists), np.int32).astype(np.int64)
    impacts = np.frombuffer(b"".join(found.bytes for found in lists), np.uint8)
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
    shared = np.minimum.reduceat(impacts, first) == np.maximum.reduceat(impacts, first)
    written, coded, start = stream.tobytes(), [], 0
    for found, end, one in zip(lists, ends[first + counts - 1].tolist(), shared.tolist(), strict=True):
        said = found.bytes[:1] if one else b"\0" + found.bytes
        coded.append(_varint(len(found.places)) + written[start:end] + said)
        start = end
    return coded


def files(index: Index) -> Iterator[tuple[str, bytes]]:
    """(path, content) of buckets, blocks, facets and words."""
    coded, buckets = index.coded, index.buckets
    rows: list[list[bytes]] = [[] for _ in range(buckets)]
    for (term, body), place in zip(coded.items(), fnv(tuple(coded)), strict=True):
        name = term.encode()
        rows[place % buckets] += (_varint(len(name)), name, _varint(len(body)), body)
    for b, row in enumerate(rows):
        # how many terms follow: a bucket cut between two is noticed
        yield f"data/search/terms/{b}.bin", b"".join((index.number, _varint(len(row) // 4), *row))
    for b, block in enumerate(index.blocks):
        yield f"data/search/hits/{b}.json", _headed(index, block)
    yield "data/search/hits/guide.json", _headed(index, index.others)
    yield "data/search/facets.bin", index.number + index.columns
    yield "data/search/words.json", _headed(index, _json(index.words))


def _headed(index: Index, told: bytes) -> bytes:
    """A list in JSON with the index's number before all else."""
    return _json([index.number.hex()])[:-1] + (b"," if told != b"[]" else b"") + told[1:]


def _json(content: object) -> bytes:
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()


def described(index: Index) -> dict[str, object]:
    """What the phone must know of the index beforehand."""
    return {
        "number": index.number.hex(),
        "buckets": index.buckets,
        "block": BLOCK,
        "documents": len(index.lines),
        "cases": index.cases,
        "facets": dict(zip(FACETS, index.codes, strict=True)),
    }
