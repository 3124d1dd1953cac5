"""The index that the phone reads in pieces: postings in buckets by hash of the term, hits in blocks.

A posting list is written as deltas in variable-length bytes, with one byte of impact for each document or one for
all; impacts hold everything that does not depend on the query, so that a score is a sum of products. Long lists
keep their strongest entries (static pruning). Every file begins with the index's number: pieces of two
builds are never mixed without being noticed.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, log

from leaklore.search.documents import FACETS, Document

K1, B = 1.2, 0.5
"""BM25's saturation of repeated words and of long texts."""
SCALE = 14.0
"""Impact steps for one unit of score."""
BUCKET = 2000
"""Bytes that a bucket should have."""
BLOCK = 8
"""Hits in a block."""
KEEP = 1200
"""Most postings of a word."""
KEEP_FINDING = 4000
"""Most postings of a finding; a longer list says next to nothing and is cut to the best proven cases."""
WEIGHT = {"s": 1.2, "n": 0.5, "c": 0.9, "k": 1.3, "g": 0.6, "r": 0.8, "p": 1.6, "m": 1.8, "t": 0.5, "x": 0.6}
"""What a shared finding says, by its kind (judgement)."""
PROOF = {"held": 3, "point": 2, "section": 1}


@dataclass(frozen=True, slots=True)
class Postings:
    """Documents that hold a term, ascending, and the impact of each (1 to 255)."""

    docs: tuple[int, ...]
    impacts: tuple[int, ...]


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
        digest.update(json.dumps([self.lines, self.facets], ensure_ascii=False).encode())
        for term, found in sorted(self.postings.items()):
            digest.update(repr((term, found.docs, found.impacts)).encode())
        return digest.digest()[:4]

    @cached_property
    def coded(self) -> Mapping[str, bytes]:
        """Every posting list as it is written, by term."""
        return {term: encode(found) for term, found in sorted(self.postings.items())}

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
            if t[:2] == "w:" and len(p.docs) > 1 and len(t) > 5 and t[2:].isalpha()
        )


def fnv(term: str) -> int:
    """FNV-1a hash, 32 bits, of a term's UTF-8 bytes."""
    h = 2166136261
    for byte in term.encode():
        h = ((h ^ byte) * 16777619) & 0xFFFFFFFF
    return h


def build(documents: Sequence[Document], cases: int) -> Index:
    """Index of documents of which the first `cases` are cases."""
    n = len(documents)
    lengths = [sum(d.words.values()) for d in documents]
    mean = sum(lengths) / n if n else 1.0
    within = Counter(w for d in documents for w in d.words)
    shared: Counter[str] = Counter()
    for d in documents[:cases]:
        shared.update(d.findings.keys())
    lists: dict[str, list[tuple[int, int]]] = defaultdict(list)
    rare = {w: log(1 + (n - k + 0.5) / (k + 0.5)) for w, k in within.items()}
    special = {t: WEIGHT[t[0]] * log(1 + (cases - k + 0.5) / (k + 0.5)) for t, k in shared.items()}
    for number, d in enumerate(documents):
        slack = K1 * (1 - B + B * lengths[number] / mean)
        for w, tf in d.words.items():
            lists[f"w:{w}"].append((number, _impact(rare[w] * tf * (K1 + 1) / (tf + slack))))
        for term, share in d.findings.items():
            value = special.get(term, WEIGHT[term[0]] * log(1 + cases + 0.5))
            lists[term].append((number, _impact(value * share)))
    postings = {}
    for term, found in lists.items():
        kept = found
        if term[0] == "w" and len(found) > KEEP:
            kept = sorted(sorted(found, key=lambda p: (-p[1], p[0]))[:KEEP])
        elif len(found) > KEEP_FINDING:
            best = sorted(found, key=lambda p: (p[0] < cases, -p[1], -_standing(documents[p[0]]), p[0]))
            kept = sorted(best[:KEEP_FINDING])
        postings[term] = Postings(tuple(d for d, _ in kept), tuple(i for _, i in kept))
    return Index(
        postings, tuple(d.line for d in documents), tuple(d.facets for d in documents[:cases]), cases
    )


def _impact(value: float) -> int:
    return max(1, min(255, round(value * SCALE)))


def _standing(document: Document) -> int:
    return PROOF.get(document.facets[FACETS.index("proof")], 0) if document.facets else 0


def _varint(value: int, out: bytearray) -> None:
    while value > 127:
        out.append(value & 127 | 128)
        value >>= 7
    out.append(value)


def encode(found: Postings) -> bytes:
    """Number of postings, deltas, then 0 and every impact, or the one impact that all share."""
    out = bytearray()
    _varint(len(found.docs), out)
    last = -1
    for doc in found.docs:
        _varint(doc - last - 1, out)
        last = doc
    if len(set(found.impacts)) == 1:
        out.append(found.impacts[0])
    else:
        out.append(0)
        out.extend(found.impacts)
    return bytes(out)


def files(index: Index) -> Iterator[tuple[str, bytes]]:
    """(path, content) of buckets, blocks, facets and words."""
    coded, buckets = index.coded, index.buckets
    rows: dict[int, bytearray] = {b: bytearray() for b in range(buckets)}
    held = Counter(fnv(term) % buckets for term in coded)
    for term, body in coded.items():
        row, name = rows[fnv(term) % buckets], term.encode()
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
