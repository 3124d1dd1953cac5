"""Cases like this one: reasons are true, scores symmetric, the result the same in blocks of any size."""

from __future__ import annotations

from math import log, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leaklore.analysis import similar
from leaklore.analysis.similar import WEIGHT, Likenesses, features, likest
from leaklore.records.library import Library
from leaklore.records.model import Case, Cause

from .builders import case

MODES = ("loose-flare", "corrosion", "rare-mode")
PARTS = ("flare", "coil", "port", "evaporator")
SYMPTOMS = ("ice", "oil", "hiss")
FEWER = settings(max_examples=30)
"""Making cases takes longer than comparing them."""


def like_these(cases: list[Case], count: int = 5) -> Likenesses:
    """For each case number the most similar other cases."""
    return Likenesses(cases, likest(cases, count))


@st.composite
def some_cases(draw: st.DrawFn, most: int = 25) -> list[Case]:
    """Cases with few words, so that many share some and some tie."""
    count = draw(st.integers(2, most))
    return [
        case(
            n,
            mode=draw(st.sampled_from(MODES)),
            component=draw(st.sampled_from(PARTS)),
            symptoms=tuple(draw(st.lists(st.sampled_from(SYMPTOMS), unique=True, max_size=3))),
            refrigerant=draw(st.sampled_from(("R-32", "R-410A", None))),
        )
        for n in range(count)
    ]


@given(some_cases())
@FEWER
def test_every_reason_is_shared_by_both(cases: list[Case]) -> None:
    """Nothing is told as common that only one of them has, and the weightiest stands first."""
    by_id = {c.id: c for c in cases}
    shared_by = {f: sum(f in features(c) for c in cases) for c in cases for f in features(c)}
    for key, found in like_these(cases).items():
        for like in found:
            mine, other = features(by_id[key]), features(like.case)
            assert like.why
            assert len(like.why) <= 4
            assert set(like.why) <= mine.keys() & other.keys()
            weights = [mine[f] * log(1 + len(cases) / shared_by[f]) for f in like.why]
            assert weights == sorted(weights, reverse=True)
            left_out = (mine.keys() & other.keys()) - set(like.why)
            assert not left_out or len(like.why) == 4
            assert all(mine[f] * log(1 + len(cases) / shared_by[f]) <= weights[-1] + 1e-12 for f in left_out)


@given(some_cases())
@FEWER
def test_no_case_is_like_itself_and_none_comes_twice(cases: list[Case]) -> None:
    """At most five others, each once, best first."""
    found = like_these(cases)
    assert set(found) == {c.id for c in cases}
    for key, likes in found.items():
        names = [like.case.id for like in likes]
        assert key not in names
        assert len(names) == len(set(names)) <= min(5, len(cases) - 1)
        scores = [round(like.score, 9) for like in likes]
        assert scores == sorted(scores, reverse=True)
        assert all(0.05 < s <= 1 + 1e-9 for s in scores)


@given(some_cases())
@FEWER
def test_scores_are_symmetric(cases: list[Case]) -> None:
    """As like A is to B, so is B to A."""
    found = like_these(cases, count=len(cases))
    score = {(key, like.case.id): like.score for key, likes in found.items() for like in likes}
    for (a, b), value in score.items():
        assert score[b, a] == pytest.approx(value, rel=1e-12)


@given(some_cases())
@FEWER
def test_score_is_the_cosine_of_weighted_features(cases: list[Case]) -> None:
    """Worked out once more without matrices."""
    rows = [features(c) for c in cases]
    shared_by = {f: sum(f in row for row in rows) for row in rows for f in row}
    vectors = [{f: w * log(1 + len(cases) / shared_by[f]) for f, w in row.items()} for row in rows]
    where = {c.id: i for i, c in enumerate(cases)}
    for key, likes in like_these(cases, count=len(cases)).items():
        a = vectors[where[key]]
        told = {like.case.id: like.score for like in likes}
        for other, j in where.items():
            b = vectors[j]
            dot = sum(a[f] * b[f] for f in a.keys() & b.keys())
            cosine = dot / sqrt(sum(v * v for v in a.values()) * sum(v * v for v in b.values()))
            if other != key and abs(cosine - 0.05) > 1e-9:
                assert (other in told) == (cosine > 0.05)
                assert told.get(other, cosine) == pytest.approx(cosine, rel=1e-9)


@pytest.mark.parametrize("block", [1, 2, 7, 1000])
def test_the_demo_library_is_the_same_in_blocks_of_any_size(
    block: int, demo_library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The seams between blocks don't show: the last row of one, the first of the next."""
    cases = demo_library.active
    whole = like_these(cases)
    assert len(cases) < similar.BLOCK, "the whole library is one block by default"
    monkeypatch.setattr(similar, "BLOCK", block)
    parts = like_these(cases)
    assert list(parts) == list(whole)
    for key, likes in parts.items():
        assert [(x.case.id, x.why) for x in likes] == [(x.case.id, x.why) for x in whole[key]]
        assert [x.score for x in likes] == pytest.approx([x.score for x in whole[key]], rel=1e-12)


@given(some_cases(12), st.integers(1, 6))
@FEWER
def test_blocks_of_any_size_agree(cases: list[Case], block: int) -> None:
    """The same with many ties."""
    whole = like_these(cases)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(similar, "BLOCK", block)
        parts = like_these(cases)
    for key, likes in whole.items():
        assert [x.case.id for x in parts[key]] == [x.case.id for x in likes]


def test_of_equal_cases_the_lowest_numbers_come_first() -> None:
    """Also where more tie than are shown, so that two machines show the same."""
    found = like_these([case(n) for n in range(40)], count=5)
    assert [x.case.id[-3:] for x in found["KW-2025-020"]] == ["000", "001", "002", "003", "004"]
    assert [x.case.id[-3:] for x in found["KW-2025-002"]] == ["000", "001", "003", "004", "005"]


def test_the_order_of_the_cases_does_not_matter(demo_library: Library) -> None:
    """Sorted or not, the same neighbours."""
    a = like_these(demo_library.active)
    b = like_these(demo_library.active[::-1])
    assert {k: [x.case.id for x in v] for k, v in a.items()} == {
        k: [x.case.id for x in v] for k, v in b.items()
    }


def test_no_case_that_is_more_alike_is_passed_over(demo_library: Library) -> None:
    """Looking first where mode and part are shared finds the five that looking at all of them finds."""
    cases = demo_library.active
    few, all_of_them = like_these(cases), like_these(cases, count=len(cases))
    assert {k: [x.case.id for x in v] for k, v in few.items()} == {
        k: [x.case.id for x in v[:5]] for k, v in all_of_them.items()
    }


def test_a_shared_rarity_says_more_than_a_shared_commonplace() -> None:
    """Two cases of a rare mode are more alike than two of the common one, all else equal."""
    common = [case(n, mode="corrosion", component=PARTS[n % 2]) for n in range(2, 20)]
    a, b = case(0, mode="rare-mode"), case(1, mode="rare-mode", component="port")
    found = like_these([a, b, *common])
    assert found[a.id][0].case is b
    assert found[a.id][0].why == (("mode", "rare-mode"),)


def test_cases_that_share_nothing_are_not_alike() -> None:
    """No filling up to five."""
    a = case(1, mode="loose-flare", component="flare")
    b = case(2, mode="corrosion", component="coil")
    assert like_these([a, b]) == {a.id: (), b.id: ()}


def test_one_case_or_none_has_no_likeness() -> None:
    """Nothing to compare with."""
    assert like_these([]) == {}
    assert like_these([case(1)]) == {"KW-2025-001": ()}


def test_features_name_everything_that_is_known_with_its_weight() -> None:
    """Both causes, symptoms, conditions, contributing factors and the equipment; unknowns are left out."""
    one = case(
        1,
        mode="corrosion",
        component="coil",
        symptoms=("ice",),
        conditions=("wind",),
        refrigerant="R-32",
        also_found=(Cause("loose-flare", "flare", "suspected", ("salt",)),),
    )
    assert features(one) == {
        ("mode", "corrosion"): WEIGHT["mode"],
        ("mode", "loose-flare"): WEIGHT["mode"],
        ("component", "coil"): WEIGHT["component"],
        ("component", "flare"): WEIGHT["component"],
        ("symptom", "ice"): WEIGHT["symptom"],
        ("condition", "wind"): WEIGHT["condition"],
        ("contributing", "salt"): WEIGHT["contributing"],
        ("refrigerant", "R-32"): WEIGHT["refrigerant"],
    }


def test_a_large_library_finds_nearly_the_same(
    demo_library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking only where cause or part is shared: true scores and reasons, in order, and seldom another first case."""
    cases = demo_library.active
    whole = like_these(cases)
    monkeypatch.setattr(similar, "EXACT", 0)
    quick = like_these(cases)
    assert list(quick) == list(whole)
    everything = {(k, x.case.id): x for k, likes in like_these(cases, count=20).items() for x in likes}
    for key, likes in quick.items():
        scores = [x.score for x in likes]
        assert scores == sorted(scores, reverse=True)
        assert all(x == everything.get((key, x.case.id), x) for x in likes)
        assert all(mine.score <= best.score for mine, best in zip(likes, whole[key], strict=False))
    same = sum(quick[k][:1] == whole[k][:1] for k in whole)
    assert same >= 0.95 * len(whole)


def test_a_large_library_looks_at_the_newest_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """With more alike than are looked at, the newest are shown, never the case itself."""
    monkeypatch.setattr(similar, "EXACT", 0)
    monkeypatch.setattr(similar, "MOST", 10)
    cases = [case(n) for n in range(60)]
    newest = {c.id for c in sorted(cases, key=lambda c: (c.reported, c.id))[-10:]}
    for key, likes in like_these(cases).items():
        names = {x.case.id for x in likes}
        assert len(names) == 5
        assert names <= newest - {key}
