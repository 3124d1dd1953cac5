"""Where a cause sits: shares of the places by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from leaklore.analysis import places
from leaklore.analysis.evidence import Check, Evidence
from leaklore.analysis.places import PlaceModel
from leaklore.records.guide import Entry, Guide
from leaklore.records.model import Case, Cause, Equipment

from .builders import case, demo, guide

LISTED = {"loose-flare": ("flare", "evaporator", "gone"), "corrosion": ("coil",), "rare-mode": ()}
"""Places by mode; `gone` is none of the guide's."""


def _guide() -> Guide:
    small = guide()
    modes = {
        k: Entry("mode", k, {"key": k, "name": k, "components": list(v) or None}, "", "guide", "0")
        for k, v in LISTED.items()
    }
    on = {"flare": ["split"], "evaporator": ["split", "rack"], "coil": ["rack"]}
    components = {k: replace(e, facts={**e.facts, "kinds": on.get(k)}) for k, e in small.components.items()}
    return replace(small, modes=modes, components=components)


def _case(number: int, component: str, kind: str | None = None, **more: object) -> Case:
    made = case(number, component=component, **more)  # type: ignore[arg-type]
    return replace(made, equipment=Equipment(kind=kind))


def _shares(model: PlaceModel, mode: str = "loose-flare", *kinds: str) -> dict[str, float]:
    return dict(model.shares(mode, kinds))


def test_without_cases_the_guides_places_share_alike() -> None:
    """Two known places, half each; a place that the guide does not know is left out."""
    model = places.fit((), _guide())
    assert _shares(model) == {"flare": 0.5, "evaporator": 0.5}
    assert _shares(model, "corrosion") == {"coil": 1}
    assert _shares(model, "rare-mode") == {}
    assert _shares(model, "no-such-mode") == {}


def test_a_case_adds_one_and_four_are_the_guides() -> None:
    """Flare 2 + 3 cases, evaporator 2, port (the guide does not list it) 1: 5/8, 2/8, 1/8."""
    cases = [*(_case(i, "flare") for i in range(3)), _case(9, "port")]
    assert _shares(places.fit(cases, _guide())) == pytest.approx(
        {"flare": 5 / 8, "evaporator": 2 / 8, "port": 1 / 8}
    )


def test_the_same_kind_counts_thrice() -> None:
    """On a split: flare 2 + 1 + 2 of 7; on a rack the flare can't be, so all is at the evaporator; on others 3 of 5."""
    model = places.fit([_case(1, "flare", "split")], _guide())
    assert _shares(model, "loose-flare", "split") == pytest.approx({"flare": 5 / 7, "evaporator": 2 / 7})
    assert _shares(model, "loose-flare", "rack") == {"evaporator": 1}
    assert _shares(model) == pytest.approx({"flare": 3 / 5, "evaporator": 2 / 5})


def test_one_of_several_kinds_has_the_places_and_cases_of_all() -> None:
    """A split or a rack, one case at a flare of a split, two at the evaporators of racks: flare 2 + 1 + 2, evaporator
    2 + 2 + 4 of 13. What is on neither is left out."""
    cases = [_case(1, "flare", "split"), _case(2, "evaporator", "rack"), _case(3, "evaporator", "rack")]
    model = places.fit(cases, _guide())
    both = _shares(model, "loose-flare", "split", "rack")
    assert both == pytest.approx({"flare": 5 / 13, "evaporator": 8 / 13})
    assert not model.fits("coil", ("split", "chiller"))
    assert model.fits("coil", ("split", "rack"))


def test_where_no_place_fits_the_kind_all_stay() -> None:
    """A cause is never without a place because the guide lists too few kinds."""
    model = places.fit((), _guide())
    assert not model.fits("coil", ("split",))
    assert model.fits("coil", ())
    assert model.fits("port", ("split",))
    assert _shares(model, "corrosion", "split") == {"coil": 1}


def test_only_proven_causes_count_and_each_place_of_a_case_once() -> None:
    """A suspected second cause says nothing; the same cause twice in a case is one."""
    also = (Cause("loose-flare", "port", "suspected"), Cause("loose-flare", "flare", "held"))
    model = places.fit([_case(1, "flare", also_found=also)], _guide())
    assert _shares(model) == pytest.approx({"flare": 3 / 5, "evaporator": 2 / 5})


def _weights(**known: object) -> dict[tuple[str, str], float]:
    model = places.fit((), _guide())
    joint = model.joint(("loose-flare", "corrosion"), (1.0, 0.5), Evidence(**known))  # type: ignore[arg-type]
    return {(h.mode, h.component): h.weight for h in joint}


def test_named_places_lower_the_others() -> None:
    """Seen in the cabinet: what is inside keeps all, the evaporator a tenth; one of two meant is enough."""
    assert _weights(places=(("cabinet",),)) == pytest.approx(
        {("loose-flare", "flare"): 0.5, ("loose-flare", "evaporator"): 0.05, ("corrosion", "coil"): 0.5}
    )
    assert _weights(places=(("port", "evaporator"),))["loose-flare", "evaporator"] == 0.5
    assert _weights(places=(("port",), ("cabinet",)))["loose-flare", "flare"] == pytest.approx(0.05)


def test_a_cause_without_a_place_on_that_kind_keeps_a_twentieth() -> None:
    """Corrosion is known at coils, which a split has not; a rack has. Of both, it counts as often as there are racks."""
    assert _weights(kinds=("split",))["corrosion", "coil"] == pytest.approx(0.025)
    assert _weights(kinds=("rack",))["corrosion", "coil"] == pytest.approx(0.5)
    assert _weights(kinds=("split", "rack"))["corrosion", "coil"] == pytest.approx(0.5 * (1 + 0.05) / 2)
    cases = [_case(i, "flare", "split") for i in range(3)]
    assert places.fit(cases, _guide()).left("corrosion", ("split", "rack")) == pytest.approx(
        (4 * 0.05 + 1) / 5
    )
    assert _weights()["corrosion", "coil"] == 0.5


def test_not_every_unit_has_a_room_that_only_some_kinds_have() -> None:
    """A flare is on splits only; of four known units one is a split, each kind counting one more than was met."""
    cases = [
        _case(1, "flare", "split"),
        *(_case(i, "evaporator", "rack") for i in (2, 3, 4)),
        _case(5, "port", "other"),
    ]
    room = frozenset({"flare", "evaporator", "port"})
    model = places.fit(cases, _guide())
    model = replace(model, inside={"room": room}, on={**model.on, "room": frozenset({"rack"})})
    assert model.common == {"split": 1, "rack": 3, "other": 1}
    assert model.has("room", "port", ()) == 4 / 8  # a port is on all kinds
    assert model.has("room", "evaporator", ()) == 4 / 6  # on split and rack
    assert model.has("room", "evaporator", ("split",)) == 0
    assert model.has("room", "evaporator", ("rack",)) == 1
    assert model.has("evaporator", "evaporator", ()) == 1
    assert model.has("room", "flare", ("rack",)) == 1  # nothing is known where the guide lists too few kinds


def test_places_that_were_named_or_checked_tell_the_kind() -> None:
    """Flares are on splits, evaporators on both, coils on racks; ports on anything."""
    model = places.fit((), _guide())

    def told(
        *named: str, checked: str = "", result: str = "clean", kinds: tuple[str, ...] = ()
    ) -> tuple[str, ...]:
        checks = (Check("visual", tuple(checked.split()), result),)
        return model.kinds_for(
            Evidence(kinds=kinds, places=tuple(tuple(p.split()) for p in named), checks=checks)
        )

    assert told("flare") == told("flare", "evaporator") == ("split",)
    assert told("evaporator") == told("flare coil") == ("rack", "split")
    assert told("port") == told("flare port") == told() == (), "a port can be on any"
    assert told("flare", "coil") == (), "no kind has both"
    assert told(checked="coil") == told("evaporator", checked="coil") == ("rack",)
    assert told(checked="evaporator coil", result="found") == ("rack",)
    assert told(checked="coil", result="skip") == ()
    assert told("coil", kinds=("split",)) == ("split",), "what was said goes first"
    assert told("coil", kinds=("split", "rack", "chiller")) == ("rack",)
    assert told("coil", kinds=("split", "chiller")) == ("chiller", "split"), "neither has it"
    assert told(kinds=("split", "chiller")) == ("chiller", "split")


def test_places_that_it_is_not() -> None:
    """Three tenths are left in the cabinet, all elsewhere."""
    assert _weights(not_places=(("cabinet",),)) == pytest.approx(
        {("loose-flare", "flare"): 0.15, ("loose-flare", "evaporator"): 0.5, ("corrosion", "coil"): 0.15}
    )


def test_covers_as_the_guide_does() -> None:
    """Areas at any depth, parts only themselves."""
    made = _guide()
    model = places.fit((), made)
    for place in made.components:
        for component in made.components:
            assert model.covers(place, component) == made.covers(place, component)


def test_shares_of_the_demo_sum_to_one_for_every_cause_and_kind() -> None:
    """And none is at a place that can't be on the kind, unless none of its places can."""
    lib = demo()
    model = places.fit(lib.counted, lib.guide)
    every = tuple(lib.guide.small["equipment_kinds"])
    for kinds in ((), *((kind,) for kind in every), *pairwise(every), every):
        for mode in lib.guide.modes:
            shares = model.shares(mode, kinds)
            assert sum(s for _, s in shares) == pytest.approx(1)
            assert all(s > 0 for _, s in shares)
            fitting = [model.fits(c, kinds) for c, _ in shares]
            assert all(fitting) or not any(model.fits(s.component, kinds) for s in model.by_mode[mode])
