"""Everyday words for the customer: the shipped ones are whole, and a company's house/plain.yaml is told of, word for word."""

from __future__ import annotations

from pathlib import Path

import pytest

from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import Guide, vocabulary_of
from leaklore.records.model import PROOFS

from .helpers import check, put, told

house_only = pytest.mark.usefixtures("shipped_guide_trusted")


def _shipped() -> Guide:
    return read_guide(Path("no-house"), Path("no-library"), Gathered()).guide


def _house(library: Path, text: str, file: str = "plain.yaml") -> None:
    put(library, text, f"house/{file}")


def test_every_word_that_a_record_can_use_has_everyday_ones() -> None:
    guide = _shipped()
    terms = vocabulary_of(guide, {}, {}).terms
    plain = guide.plain

    assert set(plain.modes) == set(guide.modes)
    assert set(plain.techniques) == set(guide.techniques)
    for group in ("equipment_kinds", "contributing", "actions"):
        assert set(plain.texts[group]) == set(terms[group]), group
    parts = {key for key, entry in guide.components.items() if entry["kind"] == "part"}
    assert set(plain.texts["components"]) == parts
    groups = {entry.facts["safety_group"] for entry in guide.refrigerants.values()}
    assert groups <= set(plain.texts["safety"])
    for proof in PROOFS:
        assert {f"where-{proof}", f"know-{proof}"} <= set(plain.texts["says"])


def test_shares_go_up_to_the_whole() -> None:
    plain = _shipped().plain
    bounds = [bound for bound, _ in plain.shares]

    assert bounds == sorted(set(bounds))
    assert bounds[-1] == 1
    assert plain.share(0.5) == "about half"
    assert plain.share(1) == "all"
    assert plain.share(1.01) is None


def test_what_is_filled_in_is_filled_in() -> None:
    says = _shipped().plain.says("lost-share", kind="heat pump", share="about half")

    assert says == "Your heat pump had lost about half of its gas."


FILES: dict[str, tuple[str, list[str]]] = {
    "everything": (
        "says:\n  heading: Why {what}?\n  questons: Ask us.\n"
        "components:\n  filter-dryer: the filter\n  filter-drier: the filter.\n"
        "modes:\n  rub-through: {why: A pipe rubbed.}\n  impact: It was hit.\n"
        "actions: [rebraze]\n"
        "shares:\n  - {up_to: 2, says: much}\n",
        [
            '2:12: says.heading: "Why {what}?" does not have the form wanted here; '
            "write for example Why did your {kind} lose its gas? [schema/pattern]",
            '3:3: says: "questons" is not a key here; did you mean "questions"? [schema/unknown-key]',
            '5:3: components: "filter-dryer" is not a component or place; did you mean "filter-drier"? [reference]',
            '6:17: components.filter-drier: "the filter." does not have the form wanted here; '
            "write for example the filter in the pipe [schema/pattern]",
            '8:16: modes.rub-through: "you" is missing; add it, for example `you: ["If you hear a new rattle, call us. '
            'It is often the first sign of rubbing."]` [schema/required]',
            '9:11: modes.impact: "It was hit." is not a block of keys; write for example {"why": "A pipe lay against '
            'another metal part. Each time the machine ran, the two rubbed, until the pipe was worn through.", '
            '"you": ["If you hear a new rattle, call us. It is often the first sign of rubbing."]} [schema/type]',
            '10:10: actions: ["rebraze"] is not a block of keys; write for example '
            '{"replace-coil": "We put in a new coil."} [schema/type]',
            "12:13: shares[0].up_to: 2 is too large; write at most 1 [schema/maximum]",
        ],
    ),
    "a list": ("- says\n", ["1:1: the file is not a block of groups; begin with `says:` [guide]"]),
}


@house_only
@pytest.mark.parametrize(("text", "expected"), FILES.values(), ids=FILES)
def test_what_is_wrong_is_told(text: str, expected: list[str], library: Path) -> None:
    _house(library, text)

    assert told(library).splitlines() == [f"library/house/plain.yaml:{line}" for line in expected]


@house_only
def test_words_of_the_company_stand_over_the_shipped(library: Path) -> None:
    shipped = _shipped().plain
    _house(library, "actions:\n  - {key: weld-on-ice, name: Welded on the ice}\n", "vocabulary.yaml")
    _house(
        library,
        "says:\n  questions: Call us.\nactions:\n  weld-on-ice: We welded it on the ice.\n"
        "modes:\n  impact: {why: It was hit., you: [Keep away.]}\nshares:\n  - {up_to: 1, says: some}\n",
    )

    result = check(library)

    assert told(library) == ""
    assert result.library is not None
    plain = result.library.guide.plain
    assert plain.says("questions") == "Call us."
    assert plain.text("actions", "weld-on-ice") == "We welded it on the ice."
    assert plain.text("actions", "rebraze") == shipped.text("actions", "rebraze")
    assert (plain.modes["impact"].why, plain.modes["impact"].you) == ("It was hit.", ("Keep away.",))
    assert plain.modes["rub-through"] == shipped.modes["rub-through"]
    assert plain.share(0.01) == "some"


@house_only
def test_a_broken_file_leaves_the_good_words(library: Path) -> None:
    _house(
        library,
        "says:\n  questions: 5\n  rules: Rules first.\nmodes:\n  impact: hit\nshares: 3\n"
        "techniques:\n  dye: {how: We dye.}\n",
    )

    plain = read_guide(library / "house", library, Gathered()).guide.plain
    shipped = _shipped().plain

    assert plain.says("rules") == "Rules first."
    assert plain.says("questions") == shipped.says("questions")
    assert plain.modes["impact"] == shipped.modes["impact"]
    assert plain.techniques["dye"] == shipped.techniques["dye"]
    assert plain.shares == shipped.shares
