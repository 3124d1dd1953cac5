"""The search held against published results and other libraries: order of checks, Bayes, edits, hashes, words, fits."""

from __future__ import annotations

from collections import Counter, namedtuple
from collections.abc import Mapping, Sequence
from itertools import permutations, product
from random import Random
from typing import Any

import bm25s
import numpy as np
import pytest
from rapidfuzz.distance import OSA
from scipy import optimize
from sklearn.linear_model import LogisticRegression

from leaklore.analysis import causes, text
from leaklore.analysis.causes import HOLD, START
from leaklore.analysis.detection import Detection
from leaklore.analysis.evidence import Check as Made
from leaklore.analysis.evidence import Evidence
from leaklore.analysis.order import Order, TechniqueFacts
from leaklore.analysis.places import Hypothesis, PlaceModel
from leaklore.search import index
from leaklore.search.documents import Document
from published import Check, each

NO_RULES: Mapping[str, Any] = {
    "sign": 1.0, "disturbs": 1.0, "low_first": 1.0, "strip_minutes": 0, "look_first": 1.0, "survey_share": 9.0,
    "survey_before": [], "opens_gauges": 99, "empty": 1.0, "empty_when": [], "limits": {}, "fooled": {},
    "sniffs": [], "touches": [], "not_at": {},
}  # fmt: skip
"""The trade's rules of order switched off: only chance and minutes count."""


def boxes(looks: Sequence[tuple[float, float]], copies: int = 1) -> Order:
    """Separate boxes with a look each (detection in thousandths, minutes) that may be made `copies` times."""
    modes = [f"m{i}" for i in range(len(looks))]
    techniques, chance, minutes = {}, {}, {}
    for i, (d, cost) in enumerate(looks):
        for n in range(copies):
            key = f"look-{i}-{n}"
            techniques[key] = TechniqueFacts(key, "points", 1, 1, {})
            chance[key] = {"part": {modes[i]: round(1000 * d)}, "area": {}}
            minutes[key] = {"part": (round(1000 * cost), round(1000 * cost)), "area": (0, 0)}
    rules = {**NO_RULES, "places": {key: ["part"] for key in techniques}}
    none: frozenset[str] = frozenset()
    return Order(PlaceModel((), {}, {}), Detection(chance, minutes), techniques, rules, none, none, none)


def joint(priors: Sequence[float]) -> list[Hypothesis]:
    """One hypothesis a box."""
    return [Hypothesis(f"m{i}", f"place-{i}", p) for i, p in enumerate(priors)]


def expected(sequence: Sequence[int], priors: Sequence[float], looks: Sequence[tuple[float, float]]) -> float:
    """Minutes until the first sign, counted box by box: P(no sign so far) times the minutes of each look."""
    left, total = list(priors), 0.0
    for box in sequence:
        total += sum(left) * looks[box][1]
        left[box] *= 1 - looks[box][0]
    return total


def drawn(rng: Random, most: int, perfect: bool) -> tuple[list[float], list[tuple[float, float]]]:
    """Priors and looks of up to `most` boxes."""
    n = rng.randint(2, most)
    raw = [rng.uniform(0.1, 1) for _ in range(n)]
    looks = [
        (1.0 if perfect else rng.randint(200, 950) / 1000, rng.randint(1000, 40000) / 1000) for _ in range(n)
    ]
    return [p / sum(raw) for p in raw], looks


GREEDY = "greedy by probability over cost is optimal for separate boxes (Blackwell; Matula, Am. Math. Monthly 71, 1964; from memory)"


@pytest.mark.parametrize("perfect", [True, False])
def test_order_of_checks_is_the_best_of_all_orders(perfect: bool) -> None:
    """Each box once: our plan takes no more minutes than the best permutation. 100 + 100 draws, up to 6 boxes.

    Source: the theorem named in GREEDY, from memory; the optimum is found here by trying every order.
    """
    rng, others = Random(4), 0
    for _ in range(100):
        priors, looks = drawn(rng, 6, perfect)
        plan = boxes(looks).plan(joint(priors), Evidence())
        every = [expected(p, priors, looks) for p in permutations(range(len(looks)))]
        assert len(plan.checks) == len(looks)
        assert plan.minutes == pytest.approx(min(every), rel=1e-9), GREEDY
        others += plan.minutes < np.median(every) * 0.95
    assert others > 60, "the orders hardly differ, so that nothing was shown"


def test_order_of_repeated_looks_is_the_best_of_all_orders() -> None:
    """Each of three boxes twice, in any of the 90 orders. Source: as above, from memory."""
    rng = Random(5)
    for _ in range(60):
        priors, looks = drawn(rng, 3, perfect=False)
        plan = boxes(looks, 2).plan(joint(priors), Evidence())
        every = {p: expected(p, priors, looks) for p in set(permutations(list(range(len(looks))) * 2))}
        assert plan.minutes == pytest.approx(min(every.values()), rel=1e-9), GREEDY


def test_looks_of_equal_minutes_find_the_most_by_every_number_of_looks() -> None:
    """Of all sequences of 1 to 5 looks at 3 boxes, with repeats, none has the larger chance to have found it.

    Source: as above, from memory, for looks of equal cost.
    """
    rng = Random(6)
    for _ in range(30):
        priors, drawn_looks = drawn(rng, 3, perfect=False)
        looks = [(d, 7.0) for d, _ in drawn_looks]
        order = boxes(looks, 5)
        for n in range(1, 6):
            ours = order.plan(joint(priors), Evidence(), ahead=n)
            most = 0.0
            for sequence in product(range(len(looks)), repeat=n):
                left = list(priors)
                for box in sequence:
                    left[box] *= 1 - looks[box][0]
                most = max(most, 1 - sum(left))
            assert 1 - ours.missed == pytest.approx(most, rel=1e-9), GREEDY


def after_a_look(p: float, d: float, *, here: bool) -> float:
    """Our share of the searched place, or of the other, after a look that showed nothing."""
    order = boxes([(d, 1.0), (d, 1.0)])
    left = order.update(joint([p, 1 - p]), Made("look-0-0", ("place-0",)), Evidence())
    return left[0 if here else 1].weight / sum(h.weight for h in left)


BAYES = "Bayesian search theory: searched place p(1 - d)/(1 - pd), any other r/(1 - pd)"
CHECKS = [
    Check("searched place, p 0.5, d 0.5", lambda: after_a_look(0.5, 0.5, here=True), 1 / 3, 1e-12, BAYES, "from-memory"),
    Check("other place, p 0.5, d 0.5", lambda: after_a_look(0.5, 0.5, here=False), 2 / 3, 1e-12, BAYES, "from-memory"),
    Check("searched place, p 0.8, d 0.9", lambda: after_a_look(0.8, 0.9, here=True), 0.08 / 0.28, 1e-12, BAYES, "from-memory"),
    Check("other place, p 0.8, d 0.9", lambda: after_a_look(0.8, 0.9, here=False), 0.2 / 0.28, 1e-12, BAYES, "from-memory"),
    Check("a sure look leaves nothing", lambda: after_a_look(0.8, 1.0, here=True), 0.0, 1e-12, BAYES, "from-memory"),
]  # fmt: skip
ALIGNED = (
    "the usual example that tells optimal string alignment (3) from unrestricted Damerau-Levenshtein (2)"
)
LEVENSHTEIN = "the usual worked examples of the Levenshtein distance"
HASHES = "test vectors of the FNV reference page, FNV-1a 32 bits"
CHECKS += [
    Check("CA to ABC", lambda: text.distance("CA", "ABC", 9), 3, 0, ALIGNED, "from-memory"),
    Check("kitten to sitting", lambda: text.distance("kitten", "sitting", 9), 3, 0, LEVENSHTEIN, "from-memory"),
    Check("saturday to sunday", lambda: text.distance("saturday", "sunday", 9), 3, 0, LEVENSHTEIN, "from-memory"),
    Check("ab to ba", lambda: text.distance("ab", "ba", 9), 1, 0, ALIGNED, "from-memory"),
    Check("FNV-1a of nothing", lambda: index.fnv([""])[0], 0x811C9DC5, 0, HASHES, "from-memory"),
    Check("FNV-1a of a", lambda: index.fnv(["a"])[0], 0xE40C292C, 0, HASHES, "from-memory"),
    Check("FNV-1a of foobar", lambda: index.fnv(["foobar"])[0], 0xBF9CF968, 0, HASHES, "from-memory"),
]  # fmt: skip


@each(CHECKS)
def test_published(check: Check) -> None:
    check.hold()


def test_edits_as_another_library_counts_them() -> None:
    """3,000 pairs of words of few letters, also cut off at 1 and 2. Source: rapidfuzz.distance.OSA, computed here."""
    rng, seen = Random(7), set()
    for _ in range(3000):
        a = "".join(rng.choice("abcd") for _ in range(rng.randint(0, 8)))
        b = list(a) if rng.random() < 0.5 else [rng.choice("abcd") for _ in range(rng.randint(0, 8))]
        for _ in range(rng.randint(0, 3)):
            at = rng.randint(0, len(b))
            b[at : at + rng.randint(0, 2)] = rng.choice([[], [rng.choice("abcd")], b[at : at + 2][::-1]])
        other = "".join(b)
        theirs = OSA.distance(a, other)
        seen.add(theirs)
        for most in (1, 2, 20):
            assert text.distance(a, other, most) == min(theirs, most + 1), (a, other)
    assert seen >= {0, 1, 2, 3, 4, 5}


CORPUS = [
    "oil at the flare behind the wall unit and oil on the nut",
    "green copper on the indoor coil ants nest corrosion in the coil",
    "hissing at the flare of the wall unit",
    "cap missing on the service port core leaks",
    "rub mark where the line touches the cabinet and the line again and the line",
    "the oil",
]


def test_impacts_of_words_are_bm25(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every word in every text of a small corpus: (K1 + 1) times the score, to 1e-9; kept in steps of 1/14.

    Source: bm25s, method `lucene` (idf ln(1 + (N - df + 0.5)/(df + 0.5)), without the factor K1 + 1), computed here.
    """
    texts = [line.split() for line in CORPUS]
    documents = [Document((i,), Counter(words), {}) for i, words in enumerate(texts)]
    kept = index.build(documents, 0).postings
    monkeypatch.setattr(index, "_impact", lambda value: value)
    unrounded = namedtuple("Unrounded", "docs impacts")

    def read(docs: bytes, impacts: bytes) -> Any:
        return unrounded(np.frombuffer(docs, np.int32).tolist(), np.frombuffer(impacts, np.float64).tolist())

    monkeypatch.setattr(index, "Postings", read)
    ours = index.build(documents, 0).postings
    peer = bm25s.BM25(k1=index.K1, b=index.B, method="lucene", dtype="float64")
    peer.index(texts, show_progress=False)
    for word in {w for words in texts for w in words}:
        mine = dict(zip(ours[f"w:{word}"].docs, ours[f"w:{word}"].impacts, strict=True))
        steps = dict(zip(kept[f"w:{word}"].docs, kept[f"w:{word}"].impacts, strict=True))
        for number, score in enumerate(peer.get_scores([word])):
            assert mine.get(number, 0.0) == pytest.approx((index.K1 + 1) * score, rel=1e-9)
            if number in steps:
                assert steps[number] / index.SCALE == pytest.approx(
                    mine[number], abs=0.5 / index.SCALE + 1e-9
                )


def scores(seed: int, cases: int, modes: int) -> tuple[np.ndarray[Any, Any], list[int]]:
    """Group scores of drawn cases, and causes drawn from some of the groups."""
    rng = np.random.default_rng(seed)
    found = rng.normal(-1, 1, (cases, len(START), modes))
    true = np.zeros(len(START))
    true[[0, 1, 3, 6]] = (1.0, 0.7, 1.4, 0.3)
    p = causes.softmax(found, true)
    return found, [int(rng.choice(modes, p=row)) for row in p]


def loss(w: np.ndarray[Any, Any], found: np.ndarray[Any, Any], truth: list[int], hold: float) -> float:
    """Log loss with the hold, written down anew: sum over cases of ln(sum exp) - the true one, plus the hold."""
    total = hold * float(((w - np.array(START)) ** 2).sum())
    for row, t in zip(found, truth, strict=True):
        z = w @ row
        total += float(np.log(np.exp(z - z.max()).sum()) + z.max() - z[t])
    return total


@pytest.mark.parametrize("seed", [1, 2])
def test_weights_are_the_minimum_of_the_log_loss(seed: int) -> None:
    """Slopes by differences are 0 inside the bounds and point outward at them; another method gets nowhere lower.

    Source: scipy.optimize, method SLSQP from another start, computed here; conditions of Karush, Kuhn and Tucker.
    """
    found, truth = scores(seed, 120, 4)
    w, mean = causes._fit(found, truth)
    slopes = optimize.approx_fprime(w, loss, 1e-6, found, truth, HOLD)
    for value, slope in zip(w, slopes, strict=True):
        if 0 < value < 2:
            assert slope == pytest.approx(0, abs=0.02)
        else:
            assert slope >= -0.02 if value == 0 else slope <= 0.02
    other = optimize.minimize(
        loss, np.full(len(START), 1.9), (found, truth, HOLD), method="SLSQP", bounds=[(0, 2)] * len(START)
    )
    assert loss(w, found, truth, HOLD) <= other.fun + 1e-4
    assert w == pytest.approx(other.x, abs=0.01)
    unheld = mean * len(truth) + HOLD * float(((w - np.array(START)) ** 2).sum())
    assert unheld == pytest.approx(loss(w, found, truth, HOLD))


def test_weights_of_two_causes_are_a_logistic_regression(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the hold, on the differences between two causes, where the solution lies inside the bounds.

    Source: scikit-learn's LogisticRegression without penalty and intercept, computed here; 0.005 allowed.
    """
    monkeypatch.setattr(causes, "HOLD", 0.0)
    rng = np.random.default_rng(8)
    found = rng.normal(-1, 1, (3000, len(START), 2))
    p = causes.softmax(found, np.linspace(0.4, 1.5, len(START)))
    truth = [int(rng.random() < row[1]) for row in p]
    w, _ = causes._fit(found, truth)
    peer = LogisticRegression(C=np.inf, fit_intercept=False, tol=1e-8).fit(
        found[:, :, 1] - found[:, :, 0], truth
    )
    assert (w > 0.2).all()
    assert (w < 1.9).all()
    assert w == pytest.approx(peer.coef_[0], abs=0.005)


def test_naive_bayes_by_hand() -> None:
    """Two causes, two findings, all weights 1: Bayes' rule on paper.

    A: 3 cases, oil in 2, noisy in 1; B: 1 case, oil in 0, noisy in 1. The guide: both alike common, oil 0.45 with A and
    0.02 with B, worth 8 cases; what it says nothing of is 2.5 of 5 for both. Prior (3 + 20)/44 and (1 + 20)/44.
    """
    counts = causes.Counts(
        ("A", "B"),
        (("absent", "oil"), ("condition", "noisy"), ("symptom", "oil")),
        np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 0.0]]),
        np.array([3.0, 1.0]),
        (),
        (),
    )
    judged = causes.Judgement(np.array([0.5, 0.5]), ({"oil": 0.45}, {}))
    model = causes._build(counts, judged, 8.0, np.ones(len(START)))
    weights = model.weigh(Evidence(symptoms=frozenset({"oil"}), conditions=frozenset({"noisy"})))
    a = 23 / 44 * (2 + 8 * 0.45) / 11 * (1 + 8 * 0.5) / 11
    b = 21 / 44 * (0 + 8 * 0.02) / 9 * (1 + 8 * 0.5) / 9
    assert weights[0] / sum(weights) == pytest.approx(a / (a + b), abs=1e-3)
