"""Causes: what the cases say against the guide's word, by hand and on the demo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import exp, log

import numpy as np
import pytest

from leaklore.analysis import causes
from leaklore.analysis.causes import START, CauseModel
from leaklore.analysis.evidence import EDGES, Evidence, band, of_case
from leaklore.records.guide import Entry, Guide
from leaklore.records.model import Case, Cause, Equipment

from .builders import case, demo, guide

MODES: Mapping[str, Mapping[str, object]] = {
    "loose-flare": {"how_common": "very-common", "symptoms": {"often": ["oil"], "rarely": ["ice"]}},
    "corrosion": {"how_common": "rare", "symptoms": {"often": ["hiss"], "sometimes": ["oil"]}},
    "rare-mode": {"how_common": "rare"},
}


def _guide(*modes: str) -> Guide:
    made = {
        key: Entry("mode", key, {"key": key, "name": key, **MODES[key]}, "", "guide", "0")
        for key in modes or MODES
    }
    return replace(guide(), modes=made)


def _case(number: int, mode: str, *symptoms: str, absent: Sequence[str] = (), **more: object) -> Case:
    return case(number, mode=mode, symptoms=symptoms, not_seen=tuple(absent), **more)  # type: ignore[arg-type]


def _p(model: CauseModel, **known: object) -> dict[str, float]:
    """Probabilities after these findings; sets are given as words apart by spaces."""
    sets = {
        k: frozenset(v.split()) if k in ("symptoms", "absent", "conditions", "named", "ruled_out") else v
        for k, v in known.items()
    }  # type: ignore[attr-defined]
    weights = model.weigh(Evidence(**sets))  # type: ignore[arg-type]
    return {m: w / sum(weights) for m, w in zip(model.modes, weights, strict=True)}


@pytest.fixture(scope="module")
def whole() -> CauseModel:
    """The demo's model."""
    return causes.fit(demo().counted, demo().guide)


@pytest.mark.parametrize(("value", "number"), [(0.0, 0), (0.29, 0), (0.3, 1), (2.99, 2), (40.0, 5), (1e6, 5)])
def test_bands_of_the_rate(value: float, number: int) -> None:
    """From an edge on it is the next class."""
    assert band("rate", value) == number
    assert all(list(edges) == sorted(edges) for edges in EDGES.values())


def test_evidence_of_a_case_is_what_was_known_before_the_search() -> None:
    """Neither the cause nor a step of the search is in it; 2 kg in half a year of 4 kg are 4 kg/yr, once a year."""
    made = _case(1, "corrosion", "oil", absent=["ice"], lost="2 kg", over="6 months", charge="4 kg", refrigerant="R-32",
                 conditions=("noisy",), setting="process", installed="2020-01-02")  # fmt: skip
    found = of_case(made)
    assert found.symptoms == {"oil"}
    assert found.absent == {"ice"}
    assert found.rate == pytest.approx(4.0, rel=0.01)
    assert found.share == pytest.approx(1.0, rel=0.01)
    assert found.age == pytest.approx(5.0, abs=0.01)
    assert (found.checks, found.places, found.named) == ((), (), frozenset())
    assert list(found.findings()) == [
        ("symptom", "oil"), ("absent", "ice"), ("condition", "noisy"), ("setting", "process"),
        ("refrigerant", "R-32"), ("age", "3"), ("rate", "3"), ("share", "1"),
    ]  # fmt: skip


def test_without_charge_or_rate_there_is_no_share() -> None:
    """Nothing is divided by nothing."""
    assert Evidence(rate=1.0).share is None
    assert Evidence(rate=1.0, charge=0.0).share is None
    assert Evidence(charge=2.0).share is None


def test_the_guide_alone() -> None:
    """8 : 1 : 1 by how common; then one symptom of four told, so silence counts a quarter.

    By hand: prior^1, oil 0.45 : 0.15 : 0.02 to the power 0.6, silence on ice (0.04, 0.02, 0.02) and hiss (0.02,
    0.45, 0.02) as (1 - share)^(0.3 / 4).
    """
    model = causes.fit((), _guide())
    assert model.weights == START
    assert _p(model) == pytest.approx({"loose-flare": 0.8, "corrosion": 0.1, "rare-mode": 0.1}, abs=1e-3)
    by_hand = [
        0.8 * 0.45**0.6 * (0.96 * 0.98) ** 0.075,
        0.1 * 0.15**0.6 * (0.98 * 0.55) ** 0.075,
        0.1 * 0.02**0.6 * (0.98 * 0.98) ** 0.075,
    ]
    found = _p(model, symptoms="oil")
    assert list(found.values()) == pytest.approx([w / sum(by_hand) for w in by_hand], abs=2e-3)


def test_four_symptoms_named_make_silence_count_in_full() -> None:
    """None, one, two and four, five."""
    assert [causes.told_share(n) for n in (0, 1, 2, 4, 5)] == [0, 0.25, 0.5, 1, 1]


def test_more_cases_with_a_finding_raise_its_mode() -> None:
    """Ice is seen with corrosion only: once, five times, twenty times."""
    found = []
    for n in (0, 1, 5, 20):
        cases = [_case(i, "corrosion", "ice") for i in range(n)] + [
            _case(50 + i, "corrosion", "oil") for i in range(20 - n)
        ]
        counts = causes.count(cases, _guide())
        found.append(
            _p(causes._build(counts, causes.judgement(_guide()), 8.0, np.array(START)), symptoms="ice")[
                "corrosion"
            ]
        )
    assert found == sorted(found)
    assert found[-1] > 2 * found[0]


def test_absent_lowers_and_seen_raises() -> None:
    """Hissing speaks for corrosion."""
    model = causes.fit((), _guide())
    before = _p(model)["corrosion"]
    assert _p(model, absent="hiss")["corrosion"] < before < _p(model, symptoms="hiss")["corrosion"]


def test_unknown_keys_change_nothing(whole: CauseModel) -> None:
    """A gas, a kind, a condition and a setting that no case has; a cause that the guide has not."""
    known = {"symptoms": "oil-film", "refrigerant": "R-410A"}
    base = _p(whole, **known)
    assert _p(whole, symptoms="oil-film", refrigerant="R-9999") == _p(whole, symptoms="oil-film")
    for more in (
        {"kinds": ("boiler",)},
        {"conditions": "snow"},
        {"setting": "moon"},
        {"named": "gremlin"},
        {"ruled_out": "gremlin"},
    ):
        assert _p(whole, **known, **more) == base
    assert set(whole.shifts("symptom", "no-such", list(base.values())).values()) == {0.0}


def test_what_somebody_names_or_rules_out(whole: CauseModel) -> None:
    """Odds times 4, odds times 0.1."""
    base = _p(whole, symptoms="hissing")
    mode = "flare-joint"

    def odds(p: Mapping[str, float]) -> float:
        return p[mode] / (1 - p[mode])

    assert odds(_p(whole, symptoms="hissing", named=mode)) == pytest.approx(4 * odds(base))
    assert odds(_p(whole, symptoms="hissing", ruled_out=mode)) == pytest.approx(0.1 * odds(base))


def test_posterior_is_a_probability(whole: CauseModel) -> None:
    """Of every case of the demo: the largest weight 1, none negative, none nothing."""
    for one in demo().counted:
        weights = whole.weigh(of_case(one))
        assert max(weights) == 1
        assert min(weights) > 0


def test_shift_is_what_a_finding_adds(whole: CauseModel) -> None:
    """Nats over the average: exp(shift) is the new share over the old, where nothing else is weighed."""
    bare = replace(whole, silent={})
    before = _p(bare)
    after = _p(bare, symptoms="rub-mark")
    for mode, shift in bare.shifts("symptom", "rub-mark", list(before.values())).items():
        assert exp(shift) == pytest.approx(after[mode] / before[mode], rel=1e-9)


def test_cases_behind_the_model(whole: CauseModel) -> None:
    """Every counted case once."""
    assert whole.cases == len(demo().counted)
    assert dict(zip(whole.modes, whole.counted, strict=True))["flare-joint"] == sum(
        c.cause.mode == "flare-joint" for c in demo().counted
    )


def test_prior_moves_with_the_cases() -> None:
    """40 cases' worth of judgement: 20 cases of the rare mode give (20 + 4) / 60."""
    cases = [_case(i, "corrosion") for i in range(20)]
    counts = causes.count(cases, _guide())
    model = causes._build(counts, causes.judgement(_guide()), 8.0, np.array(START))
    assert _p(model)["corrosion"] == pytest.approx(24 / 60, abs=1e-3)
    assert _p(model)["rare-mode"] == pytest.approx(4 / 60, abs=1e-3)


def test_a_group_of_no_use_loses_its_weight() -> None:
    """Two symptoms always together, and a setting drawn without regard to the cause, against one that tells it."""
    rng = np.random.default_rng(3)
    cases = []
    for i in range(120):
        mode = ("loose-flare", "corrosion")[i % 2]
        cases.append(
            replace(
                _case(i, mode),
                equipment=Equipment(setting=str(rng.integers(2)), kind=f"{mode}-{rng.random() < 0.9}"),
            )
        )
    model = causes.fit(cases, _guide())
    weight = dict(zip(("prior", *causes.GROUPS, "silent"), model.weights, strict=True))
    assert weight["kind"] > 0.9
    assert weight["setting"] < 0.6
    assert all(0 <= w <= 2 for w in model.weights)


def test_one_of_several_kinds_weighs_as_if_they_were_one_kind() -> None:
    """The law of total probability: cases on splits and racks, asked for one of both, against the same cases with both
    recorded as one kind. Where a kind has no case it adds nothing; where the kind has no weight, nothing moves."""
    rng = np.random.default_rng(8)
    of = {"loose-flare": (0.6, 0.1, 0.3), "corrosion": (0.1, 0.5, 0.4), "rare-mode": (0.1, 0.1, 0.8)}
    cases = [
        replace(
            _case(i, mode := rng.choice(list(of))),
            equipment=Equipment(kind=rng.choice(["split", "rack", "chiller"], p=of[mode])),
        )
        for i in range(900)
    ]
    as_one = [
        replace(c, equipment=Equipment(kind="either" if c.equipment.kind != "chiller" else "chiller"))
        for c in cases
    ]

    def model(some: Sequence[Case], weights: Sequence[float] = START) -> CauseModel:
        return causes._build(causes.count(some, _guide()), causes.judgement(_guide()), 8.0, np.array(weights))

    asked = _p(model(cases), kinds=("split", "rack"))
    assert asked == pytest.approx(_p(model(as_one), kinds=("either",)), abs=2e-3)
    assert asked != pytest.approx(_p(model(cases)), abs=0.05)
    assert asked == _p(model(cases), kinds=("rack", "boiler", "split"))
    without = [0.0 if i == causes.KIND else w for i, w in enumerate(START)]
    assert _p(model(cases, without), kinds=("split", "rack")) == _p(model(cases, without))


def test_spread_over() -> None:
    """All where they are few, else evenly spread from the first on."""
    assert causes.spread_over(3, 5) == [0, 1, 2]
    assert causes.spread_over(10, 5) == [0, 2, 4, 6, 8]
    assert causes.spread_over(0, 5) == []


def test_left_out_rows_are_probabilities_of_every_case() -> None:
    """Each case once, each row sums to 1; better than guessing by how common a cause is."""
    found = causes.leave_out(demo().counted, demo().guide)
    assert found.of == tuple(range(len(demo().counted)))
    assert found.p.sum(axis=1) == pytest.approx(1)
    assert found.p.min() > 0
    told = -np.log(found.p[np.arange(len(found.truth)), found.truth]).mean()
    common = np.bincount(found.truth, minlength=len(found.modes)) / len(found.truth)
    assert told < -np.log(common[found.truth]).mean() - 0.3


def test_the_truth_of_a_case_never_enters_its_own_row() -> None:
    """Another cause written into a case: its own row stays to the last bit, and rows of others move."""
    lib = demo()
    cases = list(lib.counted)
    before = causes.leave_out(cases, lib.guide)
    for i in (0, 40, len(cases) - 1):
        other = next(m for m in ("flare-joint", "shaft-seal") if m != cases[i].cause.mode)
        changed = [*cases[:i], replace(cases[i], cause=Cause(other, "line-joint", "point")), *cases[i + 1 :]]
        after = causes.leave_out(changed, lib.guide)
        assert after.truth[i] != before.truth[i]
        assert np.array_equal(after.p[i], before.p[i])
        assert not np.array_equal(np.delete(after.p, i, 0), np.delete(before.p, i, 0))


def test_the_same_case_counted_in_speaks_for_itself() -> None:
    """What leaving out is for: a lone case with a sign of its own is sure of itself only where it is counted."""
    lone = replace(_case(1, "rare-mode", "ice"), equipment=Equipment(kind="odd"))
    cases = [lone, *(_case(10 + i, "loose-flare", "oil") for i in range(12))]
    left = causes.leave_out(cases, _guide(), folds=3)
    at = left.modes.index("rare-mode")
    counted = _p(causes.fit(cases, _guide()), symptoms="ice", kinds=("odd",))["rare-mode"]
    assert counted > 1.5 * left.p[0, at]


def test_leave_out_takes_few_cases_and_none() -> None:
    """Fewer cases than folds; none at all."""
    two = causes.leave_out([_case(1, "corrosion", "oil"), _case(2, "loose-flare")], _guide())
    assert two.p.shape == (2, 3)
    assert two.p.sum(axis=1) == pytest.approx(1)
    assert causes.leave_out([], _guide()).p.shape == (0, 3)


def test_left_out_by_hand() -> None:
    """A case of three of its mode, counted without itself: prior (2 + 40 x 0.8) / (3 + 40), oil (1 + 8 x 0.45) / 10.

    Without the first of: flare with oil, flare with oil, flare without, corrosion without.
    """
    cases = [
        _case(1, "loose-flare", "oil"),
        _case(2, "loose-flare", "oil"),
        _case(3, "loose-flare"),
        _case(4, "corrosion"),
    ]
    made = _guide()
    like = causes._Likelihoods(causes.count(cases, made), causes.judgement(made), 8.0)
    scores = causes._left_out(causes.count(cases, made), like, [0])[0]
    assert scores[0] == pytest.approx([log(34 / 43), log(5 / 43), log(4 / 43)])
    assert scores[1] == pytest.approx([log(4.6 / 10), log(1.2 / 9), log(0.16 / 8)])
    # an ice share of 0.04 x 8 of 10 and a hiss share of 0.02 x 8 of 10, both not spoken of, one symptom of four told
    assert scores[-1][0] == pytest.approx(0.25 * (log(1 - 0.32 / 10) + log(1 - 0.16 / 10)))
    assert not scores[2:-1].any()


def test_an_absent_symptom_is_counted_as_not_seen() -> None:
    """A case where it was looked for and not found is a case without it: 1 - (0 + 8 x 0.45) / (1 + 8)."""
    cases = [_case(1, "loose-flare", absent=["oil"])]
    made = _guide()
    counts = causes.count(cases, made)
    model = causes._build(counts, causes.judgement(made), 8.0, np.ones(len(START)))
    assert sum(counts.seen[counts.names.index(("symptom", "oil"))]) == 0
    row = model.tables["absent"]["oil"]
    by_hand = [log(1 - 3.6 / 9), log(1 - 0.15), log(1 - 0.02)]
    assert row == tuple(round(1000 * (v - max(by_hand))) for v in by_hand)
