"""The index on disk: read back by a decoder of our own, byte by byte."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from math import log

import numpy as np
import pytest

from analysis.builders import demo
from leaklore.analysis import advice
from leaklore.search import documents, index
from leaklore.search.documents import FACETS, Document
from leaklore.search.index import Index, Postings
from leaklore.search.make import Made, make
from leaklore.search.pieces import Tally

HEAD = "data/search/"


@pytest.fixture(scope="module")
def made() -> Made:
    """The demo's engine and files."""
    return make(demo())


@pytest.fixture(scope="module")
def files(made: Made) -> dict[str, bytes]:
    """Its files."""
    return dict(made.files())


class Reader:
    """Reads numbers of seven bits a byte, the lowest first."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def byte(self) -> int:
        self.at += 1
        return self.data[self.at - 1]

    def number(self) -> int:
        value = shift = 0
        while True:
            b = self.byte()
            value += (b & 0x7F) << shift
            shift += 7
            if b < 0x80:
                return value

    def take(self, n: int) -> bytes:
        self.at += n
        assert self.at <= len(self.data)
        return self.data[self.at - n : self.at]

    @property
    def done(self) -> bool:
        return self.at == len(self.data)


def decode(body: bytes) -> Postings:
    """Postings of an entry; nothing may be left over."""
    read = Reader(body)
    n = read.number()
    docs, last = [], -1
    for _ in range(n):
        last += read.number() + 1
        docs.append(last)
    shared = read.byte()
    impacts = [shared] * n if shared else list(read.take(n))
    assert read.done
    return Postings(tuple(docs), tuple(impacts))


def terms(body: bytes) -> Iterator[tuple[str, Postings]]:
    """(term, postings) of a bucket."""
    read = Reader(body)
    read.take(4)
    for _ in range(read.number()):
        name = read.take(read.number()).decode()
        yield name, decode(read.take(read.number()))
    assert read.done


def _document(words: dict[str, int], findings: dict[str, float] | None = None, **facets: str) -> Document:
    given = tuple(facets.get(name, "") for name in FACETS)
    return Document(("id", "title"), Counter(words), findings or {}, given)


def test_terms_hashed_at_once_have_the_hash_of_each() -> None:
    """FNV-1a as its reference page describes it, of words of many lengths, of none and beyond ASCII."""

    def alone(term: str) -> int:
        h = 2166136261
        for byte in term.encode():
            h = ((h ^ byte) * 16777619) & 0xFFFFFFFF
        return h

    terms = ["", "a", "w:oil", "w:öl", "p:distributor-tube", "w:" + "x" * 70, "a"]
    assert index.fnv(terms) == [alone(term) for term in terms]
    assert index.fnv([]) == []


def test_a_tally_sums_as_a_counter_does() -> None:
    counts = [{"oil": 1, "rag": 4}, {}, {"lamp": 2, "oil": 2}, {"rag": 1}]
    tally, peer = Tally(), Counter[str]()
    for some in counts:
        tally.add(some)
        peer.update(some)
    for least in range(7):
        assert sorted(tally.of_at_least(least)) == sorted(w for w, n in peer.items() if n >= least)


@pytest.mark.parametrize(
    "postings",
    [
        Postings((0,), (1,)),
        Postings((0, 1, 2), (9, 9, 9)),
        Postings((5, 6, 134, 135, 263, 40000), (1, 255, 3, 3, 128, 127)),
        Postings(tuple(range(0, 60000, 300)), (255,) * 200),
        Postings((127,), (255,)),
        Postings((128,), (7,)),
        Postings((2**21 + 5,), (7,)),
    ],
)
def test_encode_and_back(postings: Postings) -> None:
    """Gaps of one, two and four bytes; one impact for all or one each."""
    assert decode(*index.encode([postings])) == postings


def test_one_impact_for_all_is_written_once() -> None:
    """1 byte of length, 100 of gaps, 1 of impact; else 100 more."""
    docs = tuple(range(100))
    assert len(index.encode([Postings(docs, (4,) * 100)])[0]) == 102
    assert len(index.encode([Postings(docs, (4,) * 99 + (5,))])[0]) == 202


def test_every_posting_is_in_the_bucket_of_its_term(made: Made, files: dict[str, bytes]) -> None:
    """All terms, all documents, all impacts, each once; no bucket is missing or much too large."""
    paths = {p for p in files if p.startswith(f"{HEAD}terms/")}
    buckets = index.described(made.engine.index)["buckets"]
    assert paths == {f"{HEAD}terms/{b}.bin" for b in range(int(str(buckets)))}
    found: dict[str, Postings] = {}
    for path in paths:
        assert files[path][:4] == made.engine.index.number
        for term, postings in terms(files[path]):
            assert term not in found
            assert path == f"{HEAD}terms/{index.fnv([term])[0] % len(paths)}.bin"
            found[term] = postings
    assert found == made.engine.index.postings
    assert max(len(files[p]) for p in paths) < 3 * index.BUCKET


def test_hits_are_in_blocks_of_eight(made: Made, files: dict[str, bytes]) -> None:
    """Block n holds cases 8n to 8n + 7; all pages of the guide are in one."""
    lines, cases = made.engine.index.lines, made.engine.index.cases
    read = []
    for n in [*range(-(-cases // 8)), "guide"]:
        number, *rows = json.loads(files[f"{HEAD}hits/{n}.json"])
        assert number == made.engine.index.number.hex()
        assert n == "guide" or len(rows) == min(8, cases - 8 * n)
        read += rows
    assert read == [list(line) for line in lines]
    assert sum("/hits/" in p for p in files) == -(-cases // 8) + 1


def _facets(found: Index, body: bytes) -> list[tuple[str, ...]]:
    """Facets of each case: column after column, codes of one byte or two."""
    read = Reader(body)
    assert read.take(4) == found.number
    codes = index.described(found)["facets"]
    assert isinstance(codes, dict)
    columns = []
    for name in FACETS:
        width = 1 if len(codes[name]) <= 256 else 2
        columns.append([codes[name][int.from_bytes(read.take(width), "little")] for _ in range(found.cases)])
    assert read.done
    return list(zip(*columns, strict=True))


def test_facets_read_back(made: Made, files: dict[str, bytes]) -> None:
    """Every case's mode, setting, gas, branch, proof and whether it held."""
    found = made.engine.index
    read = _facets(found, files[f"{HEAD}facets.bin"])
    assert read == list(found.facets)
    by_id = {c.id: c for c in demo().cases}
    for line, row in zip(found.lines, read, strict=False):
        case = by_id[str(line[0])]
        assert row[0] == case.cause.mode
        assert row[3:5] == (case.branch, case.cause.proof)
        assert row[5] == {True: "yes", False: "no", None: "unknown"}[case.fix_held]


@pytest.mark.parametrize(("values", "width"), [(256, 1), (257, 2)])
def test_facets_of_many_values_take_two_bytes(values: int, width: int) -> None:
    """At 256 one is still enough."""
    found = index.build([_document({"oil": 1}, branch=f"b{i:03}") for i in range(values)], values)
    body = dict(index.files(found))[f"{HEAD}facets.bin"]
    assert len(body) == 4 + values * (width + len(FACETS) - 1)
    assert [row[FACETS.index("branch")] for row in _facets(found, body)] == [
        f"b{i:03}" for i in range(values)
    ]


def test_words_that_a_slip_may_mean(made: Made, files: dict[str, bytes]) -> None:
    """Stems of letters only, four and longer, in two documents or more."""
    number, *words = json.loads(files[f"{HEAD}words.json"])
    assert number == made.engine.index.number.hex()
    expected = sorted(
        t[2:]
        for t, p in made.engine.index.postings.items()
        if t.startswith("w:") and len(p.docs) >= 2 and len(t[2:]) >= 4 and t[2:].isalpha()
    )
    assert words == expected
    assert {"flar", "corrosion"} <= set(words)


def test_pruning_keeps_the_strongest(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of five documents with a word the three with most of it, of equals the first; order stays that of the documents."""
    monkeypatch.setattr(index, "KEEP", 3)
    texts = [{"oil": 1, "x": 5}, {"oil": 6}, {"oil": 1, "x": 5}, {"oil": 4, "y": 2}, {"oil": 1, "x": 5}]
    found = index.build([_document(t) for t in texts], 5).postings
    assert found["w:oil"].docs == (0, 1, 3)
    assert found["w:x"].docs == (0, 2, 4), "as many as may be kept are kept"
    monkeypatch.setattr(index, "KEEP", 99)
    whole = index.build([_document(t) for t in texts], 5).postings["w:oil"]
    kept = dict(zip(found["w:oil"].docs, found["w:oil"].impacts, strict=True))
    assert all(dict(zip(whole.docs, whole.impacts, strict=True))[d] == i for d, i in kept.items())


def test_pruning_of_a_finding_keeps_the_best_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages first, then whole before partial, held before point before section before suspected, then the first."""
    monkeypatch.setattr(index, "KEEP_FINDING", 4)
    cases = [
        _document({"word": 1}, {"s:oil": 1.0}, proof="suspected"),
        _document({"word": 1}, {"s:oil": 1.0}, proof="point"),
        _document({"word": 1}, {"s:oil": 0.3}, proof="held"),
        _document({"word": 1}, {"s:oil": 1.0}, proof="held"),
        _document({"word": 1}, {"s:oil": 1.0}, proof="point"),
        _document({"word": 1}, {"s:other": 1.0}, proof="held"),
    ]
    page = Document(("page",), Counter({"word": 1}), {"s:oil": 1.0})
    others = [_document({"word": 1}) for _ in range(20)]
    found = index.build([*cases, *others, page], 26)
    assert found.postings["s:oil"].docs == (1, 3, 4, 26)


def test_impacts_of_findings_by_hand() -> None:
    """A symptom that 1 of 4 cases shows: 1.2 ln(1 + 3.5 / 1.5) x 14 = 20; a place at 0.3: 0.3 x 1.6 instead of 1.2, 8;
    one that no case shows but a page is about: 1.2 ln(1 + 4.5) x 14 = 29.
    """
    cases = [
        _document({"word": 1}, {"s:oil": 1.0, "p:flare": 0.3}),
        *(_document({"word": 1}) for _ in range(3)),
    ]
    page = Document(("page",), Counter(), {"s:ice": 1.0})
    found = index.build([*cases, page], 4).postings
    assert found["s:oil"].impacts == (round(1.2 * log(1 + 3.5 / 1.5) * 14),) == (20,)
    assert found["p:flare"].impacts == (round(0.3 * 1.6 * log(1 + 3.5 / 1.5) * 14),) == (8,)
    assert found["s:ice"].impacts == (round(1.2 * log(5.5) * 14),) == (29,)


def test_impacts_stay_within_a_byte(monkeypatch: pytest.MonkeyPatch) -> None:
    """Never 0, which means one for each; never above 255."""
    monkeypatch.setattr(index, "SCALE", 1e6)
    assert index.build([_document({"oil": 1})], 1).postings["w:oil"].impacts == (255,)
    monkeypatch.setattr(index, "SCALE", 1e-6)
    assert index.build([_document({"oil": 1})], 1).postings["w:oil"].impacts == (1,)


def test_the_number_changes_with_anything() -> None:
    """A line, a facet, a document of a posting, an impact, a term; it does not with the order of the terms."""
    base = Index(
        {"w:a": Postings((0,), (3,)), "w:b": Postings((0,), (3,))}, (("A", "title"),), (("m",) * 6,), 1
    )
    others = [
        replace(base, lines=(("A", "titles"),)),
        replace(base, facets=(("m",) * 5 + ("n",),)),
        replace(base, postings={**base.postings, "w:b": Postings((1,), (3,))}),
        replace(base, postings={**base.postings, "w:b": Postings((0,), (4,))}),
        replace(base, postings={"w:a": Postings((0,), (3,)), "w:c": Postings((0,), (3,))}),
        replace(base, postings={"w:a": Postings((0,), (3,))}),
    ]
    assert len({one.number for one in (base, *others)}) == len(others) + 1
    assert replace(base, postings=dict(reversed(base.postings.items()))).number == base.number


def test_the_same_library_gives_the_same_bytes(made: Made, files: dict[str, bytes]) -> None:
    """Also where its cases come in another order; another title changes the number in every file."""
    lib = demo()
    adviser = made.engine.adviser
    again = dict(make(replace(lib, cases=tuple(reversed(lib.cases))), adviser=adviser).files())
    assert again == files
    changed = (replace(lib.cases[0], title="Another title"), *lib.cases[1:])
    other = dict(make(replace(lib, cases=changed), adviser=adviser).files())
    assert all(other[p] != body for p, body in files.items() if p in other)


def test_withdrawn_cases_are_in_no_file(files: dict[str, bytes], made: Made) -> None:
    """By number: every other case is in one; by a word of their own: it is no term."""
    lib = demo()
    withdrawn = [c for c in lib.cases if c.withdrawn]
    assert withdrawn
    every = b"\n".join(files.values())
    assert all(c.id.encode() not in every for c in withdrawn)
    assert all(c.id.encode() in every for c in lib.active)
    story = replace(lib.active[0], story="Quixotry about xylophones.", lesson=None)
    told = make(replace(lib, cases=(story,)), adviser=made.engine.adviser).engine.index
    assert "w:quixotri" in told.postings
    gone = replace(story, withdrawn=withdrawn[0].withdrawn)
    told = make(replace(lib, cases=(gone, *lib.active[1:3])), adviser=made.engine.adviser).engine.index
    assert "w:quixotri" not in told.postings


def test_findings_of_a_case(made: Made) -> None:
    """Cause and its place in full, the area round it 0.6, where was only looked 0.3; a clean step as missed."""
    lib = demo()
    case = next(
        c
        for c in lib.active
        if c.cause.component == "indoor-flare" and any(s.result == "clean" for s in c.search)
    )
    found = documents.findings(case, lib.guide)
    assert found[f"m:{case.cause.mode}"] == found["p:indoor-flare"] == 1
    assert found["p:indoor-cabinet"] == 0.6
    assert {f"s:{s}" for s in case.symptoms} <= found.keys()
    proven = {c.component for c in case.causes}
    around = {a for a, inside in lib.guide.inside.items() if proven & inside}
    for step in case.search:
        assert ("x:" if step.result in ("clean", "false-alarm") else "t:") + step.technique in found
        for place in step.at:
            assert found[f"p:{place}"] == (1 if place in proven else 0.6 if place in around else 0.3)


def test_words_of_the_title_count_thrice() -> None:
    """Title 3, lesson 2, story 1."""
    lib = demo()
    case = replace(lib.active[0], title="zebra", lesson="zebra quagga", story="zebra quagga okapi")
    words = documents.case_document(case, lib).words
    assert (words["zebra"], words["quagga"], words["okapi"]) == (6, 3, 1)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("a  b\n c", "a b c"),
        ("one two three", "one two …"),
        ("one two, three", "one two …"),
        ("onetwothreefour", "onetwothre …"),
    ],
)
def test_clip(said: str, told: str) -> None:
    """At a word, without a comma in front of the dots."""
    assert documents.clip(said, 10) == told


def test_an_empty_library_has_its_guide() -> None:
    """No case, no facet value; pages are found, nothing is divided by nothing."""
    lib = replace(demo(), cases=())
    empty = make(lib, adviser=advice.adviser((), (), lib.guide))
    assert empty.engine.index.cases == 0
    files = dict(empty.files())
    assert files[f"{HEAD}facets.bin"] == empty.engine.index.number
    assert len(empty.engine.index.lines) > 100
    nothing = index.build([], 0)
    assert dict(nothing.postings) == {}
    assert [p for p, _ in index.files(nothing)] == [
        f"{HEAD}terms/0.bin",
        f"{HEAD}hits/guide.json",
        f"{HEAD}facets.bin",
        f"{HEAD}words.json",
    ]


@pytest.mark.parametrize("terms", [300, 70_000])
def test_pairs_come_term_by_term_and_as_they_were(terms: int) -> None:
    """Also of more terms than a short number counts."""
    rng = np.random.default_rng(6)
    of = rng.integers(0, terms, 200_000).astype(np.int32)
    found = index._Terms([str(n) for n in range(terms)], of, of, of, [])
    for some in (slice(0, terms), slice(terms // 3, terms)):
        inside = np.flatnonzero((of >= some.start) & (of < some.stop))
        plain = inside[np.argsort(of[inside], kind="stable")]
        assert np.array_equal(index._by_term(found, some), plain)
