"""The simple ways to rank causes, held against independent libraries, on the demo's own cases."""

from __future__ import annotations

from dataclasses import replace

import bm25s
import numpy as np
import pytest
from sklearn.naive_bayes import BernoulliNB

from analysis.builders import demo
from leaklore.analysis import bm25, causes, evaluate
from leaklore.analysis.causes import LeftOut


def whole() -> LeftOut:
    """Every proven case of the demo, with probabilities that no test here reads."""
    counts = causes.count(demo().counted, demo().guide)
    n = len(counts.rows)
    return LeftOut(counts.modes, np.zeros((n, len(counts.modes))), np.array(counts.mode_of), tuple(range(n)))


def test_naive_bayes_is_scikit_learns() -> None:
    """Same probabilities as a model that is fitted anew without the case, with the same prior."""
    counts = causes.count(demo().counted, demo().guide)
    x = np.zeros((len(counts.rows), len(counts.names)))
    for i, row in enumerate(counts.rows):
        x[i, list(row)] = 1
    truth = np.array(counts.mode_of)
    modes = np.arange(len(counts.modes))
    chosen = list(range(0, len(x), 3))
    mine = evaluate.naive_bayes(counts, chosen)
    for k, i in enumerate(chosen):
        rest = np.arange(len(x)) != i
        of = np.bincount(truth[rest], minlength=len(modes)) + 1
        model = BernoulliNB(alpha=1.0, class_prior=of / of.sum())
        model.partial_fit(x[rest], truth[rest], classes=modes)
        assert mine[k] == pytest.approx(model.predict_proba(x[[i]])[0], abs=1e-9)


def test_naive_bayes_of_a_modes_only_case() -> None:
    """Without it the mode has no case left; it keeps a chance and no probability is lost."""
    lib = demo()
    few = [c for c in lib.counted if c.cause.mode == "flare-joint"][:4]
    lone = next(c for c in lib.counted if c.cause.mode == "vessel-rust")
    p = evaluate.naive_bayes(causes.count([*few, lone], lib.guide), [4])
    assert p.sum() == pytest.approx(1)
    assert 0 < p[0, list(lib.guide.modes).index("vessel-rust")] < 1


def test_bm25_is_bm25s_on_the_demo() -> None:
    """Same score of every case for every query, so the same best case or one of equal score."""
    lib = demo()
    texts = [evaluate.plain_words(evaluate.prose(c)) for c in lib.counted]
    asked = [evaluate.plain_words(evaluate.asked(c, lib)) for c in lib.counted]
    assert all(asked)
    number = bm25.numbered({word for query in asked for word in query})
    mine = bm25.build([bm25.read(words, number) for words in texts], number).scores(asked)
    peer = bm25s.BM25(k1=bm25.K1, b=bm25.B, method="lucene", dtype="float64")
    peer.index(texts, show_progress=False)
    for row, query in zip(mine, asked, strict=True):
        theirs = peer.get_scores(query)
        assert row == pytest.approx(theirs, abs=1e-6)
        assert theirs[row.argmax()] == pytest.approx(theirs.max(), abs=1e-6)


def test_bm25_by_hand() -> None:
    """Two texts of three words each: idf ln(1 + 1.5/1.5) = ln 2 for a word of one text, length factor 1."""
    number = bm25.numbered(["oil", "flare", "unheard"])
    texts = [["oil", "oil", "flare"], ["green", "coil", "flare"]]
    index = bm25.build([bm25.read(words, number) for words in texts], number)
    found = index.scores([["oil"], ["flare"], ["oil", "oil"], ["unheard"], []])
    assert found[0] == pytest.approx([np.log(2) * 2 / 3.2, 0])
    assert found[1] == pytest.approx([np.log(1.2) / 2.2] * 2)
    assert found[2] == pytest.approx(2 * found[0])
    assert not found[3:].any()


def test_guesses_get_the_share_of_the_other_cases() -> None:
    """Four cases, five causes: right at once, at once, second, never; each counted without itself, one added."""
    best = np.array([[9, 5, 4, 3, 2.0]] * 4)
    p = evaluate.by_guesses(best, np.array([0, 0, 1, 4]))
    # without the first: one at once, one second, none third, one never; plus one each
    assert p[0] == pytest.approx([2 / 7, 2 / 7, 1 / 7, 2 / 7 / 2, 2 / 7 / 2])
    assert p[2] == pytest.approx([3 / 7, 1 / 7, 1 / 7, 1 / 7, 1 / 7])
    assert p.sum(axis=1) == pytest.approx(1)


def test_words_alone_never_asks_the_case_itself() -> None:
    """A case whose prose nobody else shares, with its own findings as words, is no help to itself."""
    lib = demo()
    cases = [replace(c, title="x", story="x", lesson=None) for c in lib.counted[:8]]
    first = cases[0]
    cases[0] = replace(first, story=evaluate.asked(first, lib))
    small = replace(lib, cases=tuple(cases))
    counts = causes.count(small.counted, lib.guide)
    with_words = evaluate.words_alone(small, counts.modes, range(8))
    plain = replace(lib, cases=(first, *cases[1:]))
    assert with_words[0] == pytest.approx(evaluate.words_alone(plain, counts.modes, range(8))[0])


def test_prose_read_before_is_not_read_again_unless_it_changed() -> None:
    lib = demo()
    of = range(len(lib.counted))
    read = evaluate.proses(lib, of)
    first = lib.counted[0]
    edited = replace(first, story="oil, oil and oil", digest="another")
    other = replace(lib, cases=tuple(edited if c is first else c for c in lib.cases))
    again = evaluate.proses(other, of, read)
    assert again == evaluate.proses(other, of)
    assert again.texts[f"{first.id} another"] != read.texts[f"{first.id} {first.digest}"]
    assert all(again.texts[key] is text for key, text in read.texts.items() if not key.startswith(first.id))
    assert read.number == again.number


def test_words_alone_agrees_with_bm25s() -> None:
    """The same probabilities from the other library's scores, but where equal scores part ways."""
    lib, left = demo(), whole()
    counts = causes.count(lib.counted, lib.guide)
    peer = bm25s.BM25(k1=bm25.K1, b=bm25.B, method="lucene", dtype="float64")
    peer.index([evaluate.plain_words(evaluate.prose(c)) for c in lib.counted], show_progress=False)
    best = np.full((len(left.of), len(counts.modes)), -np.inf)
    for i, case in enumerate(lib.counted):
        got = np.round(peer.get_scores(evaluate.plain_words(evaluate.asked(case, lib))), 6)
        for j, score in enumerate(got):
            if j != i:
                best[i, counts.mode_of[j]] = max(best[i, counts.mode_of[j]], score)
    theirs = evaluate.by_guesses(best, left.truth)
    mine = evaluate.words_alone(lib, counts.modes, left.of)
    same = np.isclose(mine, theirs, atol=0.02).all(axis=1)
    assert same.mean() > 0.97


def test_rankings_are_four_ways_and_every_one_sums_to_one() -> None:
    """Ours is handed through; the others are probabilities of the same cases."""
    left = whole()
    found = evaluate.rankings(demo(), left)
    assert list(found) == ["Leaklore", "How common each cause is", "Naive Bayes", "Words alone"]
    for name in list(found)[1:]:
        assert found[name].shape == left.p.shape
        assert found[name].sum(axis=1) == pytest.approx(1)
        assert (found[name] > 0).all()


def test_no_cases_no_figures() -> None:
    """An empty library is measured without a fault."""
    trust = evaluate.trust(replace(demo(), cases=()))
    assert all(s.cases == 0 and s.top1 is None for s in trust.ranking)
    assert trust.reliability == ()
    assert trust.took is None
