"""Every computation in Python and in the browser: the same answers, the same refusals in the same words."""

from __future__ import annotations

import copy
import json
from collections.abc import Mapping
from typing import Any

import pytest

from twins.browser import Answers, Browser
from twins.codec import answered, differences, for_browser, refused
from twins.every import TWINS

each = pytest.mark.parametrize("name", TWINS)
AT_LEAST = 200


@each
def test_both_sides_agree(name: str, answers: Answers) -> None:
    """Numbers within 1e-6 of each other, everything else equal."""
    twin = TWINS[name]
    wrong = []
    for args, theirs in zip(twin.calls(), answers[name], strict=True):
        ours = answered(twin.python, args)
        wrong += [f"{name}{json.dumps(args)}: {one}" for one in differences(ours, theirs)]
    assert wrong == [], f"{len(wrong)} differences, first: {wrong[:5]}"


@each
def test_the_calls_are_many_and_mostly_answered(name: str, answers: Answers) -> None:
    """What draws arguments draws 200 sets; most are answered, and some refused where refusal belongs to it."""
    twin, told = TWINS[name], answers[name]
    if twin.args == ():
        assert len(told) == 1
        assert not refused(told[0])
        return
    assert len(told) >= AT_LEAST
    no = sum(map(refused, told))
    assert 1 - no / len(told) >= twin.answered, f"{no} of {len(told)} refused"
    assert bool(no) == twin.refuses


@each
def test_the_answer_depends_on_the_question(name: str, answers: Answers) -> None:
    """Answers told in another order are noticed: the comparison can fail."""
    told = answers[name]
    if len(told) == 1:
        changed: Any = {"something": "else"}
        assert list(differences(told[0], changed))
        return
    moved = [*told[7:], *told[:7]]
    noticed = [1 for one, other in zip(told, moved, strict=True) if any(differences(one, other))]
    assert len(noticed) >= 0.05 * len(told)


@pytest.mark.parametrize(
    ("ours", "theirs", "count"),
    [
        (1.0, 1.0 + 9e-7, 0),
        (1.0, 1.0 + 2e-6, 1),
        (0.0, 1e-300, 1),
        (1, 1.0, 0),
        (1, True, 1),
        (None, 0, 1),
        ("a", "b", 1),
        ([1, 2], [1], 1),
        ({"a": 1}, {"b": 1}, 1),
        ({"a": [1, {"b": "c"}]}, {"a": [2, {"b": "d"}]}, 2),
        ({"$number": "inf"}, {"$number": "-inf"}, 1),
        ({"$number": "inf"}, 1e308, 1),
    ],
)
def test_the_comparison_itself(ours: Any, theirs: Any, count: int) -> None:
    """It sees what it is there to see."""
    assert len(list(differences(ours, theirs))) == count


CHANGES: dict[str, tuple[str, tuple[str, ...]]] = {
    "the molar gas constant": ("flow.massRate", ("constants", "units", "R")),
    "the discharge coefficient": ("flow.hole", ("constants", "flow", "DISCHARGE")),
    "a threshold of the US rules": (
        "usRules.rules",
        ("rules", "us", "rules", "3", "thresholds", "comfort-cooling"),
    ),
    "a limit of the EU rules": ("euRules.leakCheck", ("rules", "eu", "hermetic", "below_tonnes")),
    "a technique's sensitivity": ("detectability.judge", ("techniques", "techniques", "dye", "smallest")),
    "a limit of the vacuum": ("vacuum.limits", ("practice", "vacuum", "limits", "0", "stay_below_micron")),
    "a step of the display": ("air.aboveBackground", ("practice", "air", "background", "steps")),
    "the least oxygen": ("entry.limits", ("practice", "air", "oxygen", "least")),
    "a coefficient of nitrogen": ("tables.nitrogen", ("tables", "nitrogen", "viscosity", "0")),
    "a tube's wall": ("volume.tube", ("tubes", "sizes", "4", "wall")),
    "the gauge's step": ("proof.hold", ("constants", "gauge", "GAUGE_STEP")),
}


def _changed(content: Mapping[str, Any], way: tuple[str, ...], factor: float) -> dict[str, Any]:
    made: Any = copy.deepcopy(dict(content))
    node = made
    for step in way[:-1]:
        node = node[int(step) if isinstance(node, list) else step]
    last: Any = int(way[-1]) if isinstance(node, list) else way[-1]
    node[last] *= factor
    return dict(made)


@pytest.mark.parametrize("what", CHANGES)
def test_a_figure_changed_by_a_thousandth_is_noticed(
    what: str, content: dict[str, Any], browser: Browser
) -> None:
    """The browser computes from the data that Python wrote, and the comparison is that fine."""
    name, way = CHANGES[what]
    theirs = browser.asked(_changed(content, way, 1.001), {name: for_browser(TWINS[name].calls())})[name]
    ours = (answered(TWINS[name].python, args) for args in TWINS[name].calls())
    assert any(any(differences(one, other)) for one, other in zip(ours, theirs, strict=True))
