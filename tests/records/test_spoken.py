"""What people type: the shipped phrases are right, and a company's house/spoken.yaml is told of, word for word."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import GRAMMAR, MOST_MEANT, SEVERAL, SPOKEN, Guide, vocabulary_of

from .helpers import check, put, told

house_only = pytest.mark.usefixtures("shipped_guide_trusted")


def _shipped() -> Guide:
    return read_guide(Path("no-house"), Path("no-library"), Gathered()).guide


def _house(library: Path, file: str, text: str) -> None:
    put(library, text, f"house/{file}")


def _said(phrases: Mapping[str, tuple[str, ...]]) -> list[tuple[str, str]]:
    """(key, phrase) of one kind."""
    return [(key, phrase) for key, said in phrases.items() for phrase in said]


def test_each_entry_has_phrases_of_its_own() -> None:
    guide = _shipped()
    terms = vocabulary_of(guide, {}, {}).terms
    named = {
        kind: [(key, text.lower()) for key, term in terms[kind].items() for text in (term.name, *term.also)]
        for kind in SPOKEN
    }

    assert list(guide.spoken) == list(SPOKEN)
    assert list(guide.grammar) == list(GRAMMAR)
    assert all(guide.grammar.values())
    for kind in SPOKEN:
        assert set(guide.spoken[kind]) == set(terms[kind]), kind
        said = _said(guide.spoken[kind])
        assert not set(said) & set(named[kind]), f"{kind}: repeats a name or `also`"
        if kind not in SEVERAL:
            texts = [text for _, text in {*said, *named[kind]}]
            twice = {phrase for _, phrase in said if texts.count(phrase) > 1}
            assert not twice, f"{kind}: means another entry as well"
    for kind in SEVERAL:
        meant: dict[str, set[str]] = {}
        for key, phrase in [*named[kind], *_said(guide.spoken[kind])]:
            meant.setdefault(phrase, set()).add(key)
        assert max(map(len, meant.values())) == MOST_MEANT, kind


def test_a_word_of_grammar_has_one_office() -> None:
    """What denies on both sides ("none seen at the flare", "at the flare, none seen") has two."""
    grammar = _shipped().grammar
    both = {*grammar["negators"]} & {*grammar["negators_after"], *grammar["clears"]}
    words = [word for office in grammar.values() for word in office]

    assert len(words) == len(set(words)) + len(both)
    assert both <= {word for word in words if words.count(word) == 2}
    assert all(len(office) == len(set(office)) for office in grammar.values())
    assert "no" in grammar["negators"]


def test_each_entry_has_phrases_in_spanish(library: Path) -> None:
    """Where the pages are Spanish, and nowhere else; a refrigerant's name is the same."""
    company = library / "company.yaml"
    company.write_text(f"{company.read_text('utf-8')}language: es-MX\n", "utf-8")

    result = check(library)
    english, library_found = _shipped(), result.library

    assert told(library) == ""
    assert library_found is not None
    spanish = library_found.guide
    for kind in SPOKEN:
        more = {key for key, said in spanish.spoken[kind].items() if said != english.spoken[kind][key]}
        assert more == set(english.spoken[kind]) or kind == "refrigerants", kind
    for office in GRAMMAR:
        assert set(spanish.grammar[office]) > set(english.grammar[office]), office
    words = [word for office in spanish.grammar.values() for word in office]
    both = {*spanish.grammar["negators"]} & {*spanish.grammar["negators_after"], *spanish.grammar["clears"]}
    assert len(words) == len(set(words)) + len(both)


@pytest.mark.parametrize(
    ("kind", "phrase", "keys"),
    [
        ("components", "coil", {"indoor-coil", "outdoor-coil", "case-coil", "cold-room-coil"}),
        ("components", "flare nut", {"indoor-flare", "outdoor-flare"}),
        ("components", "wall", {"wall-chase"}),
        ("symptoms", "iced over", {"ice-on-coil"}),
        ("symptoms", "no gas", {"sudden-loss"}),
        ("symptoms", "no cooling", {"weak-cooling"}),
        ("symptoms", "squealing", {"compressor-noise"}),
        ("symptoms", "spitting oil", {"oil-drip"}),
        ("modes", "gland leak", {"valve-packing-or-cap"}),
        ("techniques", "suds", {"bubble-test"}),
    ],
)
def test_a_phrase_means_what_a_technician_means_by_it(kind: str, phrase: str, keys: set[str]) -> None:
    spoken = _shipped().spoken

    assert {key for key, phrases in spoken[kind].items() if phrase in phrases} == keys


FILES: dict[str, tuple[str, list[str]]] = {
    "everything": (
        "symptoms:\n  oil-flim: [wet shine]\n  oil-film: [rink shine, 5, gone green]\n  oil-drip: [rink shine, Rink Drop, wont-ice]\n"
        "components:\n  indor-flare: [rink flare]\n  flange-joint: [coil, rink joint]\n"
        "refrigerants:\n  R-32: [32 rink, 32 rink]\n  R-22: rink gas\n"
        "modes: [flare-joint]\nfillers: [rink, the]\nenders: [but, [still]]\nsymptom: {}\n",
        [
            '2:3: symptoms: "oil-flim" is not a symptom; did you mean "oil-film"? [reference]',
            '3:26: symptoms.oil-film[1]: 5 is a number, not text; put it in quotes: "5" [schema/type]',
            '3:29: symptoms.oil-film[2]: "gone green" stands under "green-deposit" already; keep one of them [guide]',
            '4:14: symptoms.oil-drip[0]: "rink shine" stands under "oil-film" already; keep one of them [guide]',
            '4:26: symptoms.oil-drip[1]: "Rink Drop" does not have the form wanted here; '
            "write small letters without punctuation, for example oil on [schema/pattern]",
            '6:3: components: "indor-flare" is not a component or place; did you mean "indoor-flare"? [reference]',
            '7:18: components.flange-joint[0]: "coil" stands under 4 places already: '
            "outdoor-coil, indoor-coil, case-coil, cold-room-coil; leave it out, or say which in the phrase [guide]",
            '9:19: refrigerants.R-32: "32 rink" is in the list twice; keep one [schema/twice]',
            '10:9: refrigerants.R-22: "rink gas" is not a list; write [rink gas] [schema/type]',
            '11:8: modes: ["flare-joint"] is not a block of keys; write for example '
            '{"flare-joint": ["split flare"]} [schema/type]',
            '13:15: enders[1]: ["still"] is not text; write for example oil on [schema/type]',
            '14:1: the file: "symptom" is not a key here; did you mean "symptoms"? [schema/unknown-key]',
        ],
    ),
    "a list": (
        "- symptoms\n",
        ["1:1: the file is not a block of kinds; begin with `symptoms:` [guide]"],
    ),
    "a short form of nothing": (
        "shortened: [hi, lo low, temps]\n",
        [
            '1:13: shortened[0]: "hi" is too short; write for example hi high [schema/minLength]',
            '1:25: shortened[2]: "temps" does not have the form wanted here; '
            "write for example hi high [schema/pattern]",
        ],
    ),
    "empty": ("", ["1:1: is empty; fill it in or delete it [yaml]"]),
}


@house_only
@pytest.mark.parametrize(("text", "expected"), FILES.values(), ids=FILES)
def test_what_is_wrong_is_told(text: str, expected: list[str], library: Path) -> None:
    _house(library, "spoken.yaml", text)

    assert told(library).splitlines() == [f"library/house/spoken.yaml:{line}" for line in expected]


@house_only
def test_phrases_of_the_company_stand_behind_the_shipped(library: Path) -> None:
    shipped = _shipped()
    _house(
        library,
        "symptoms.yaml",
        "- {key: rink-odour, name: Smell on the ice, what: It smells., ask: Since when?}\n",
    )
    _house(
        library,
        "spoken.yaml",
        "symptoms:\n  oil-film: [oil, slimy]\n  rink-odour: [rink reek]\n"
        "components:\n  flange-joint: [flare nut]\nnegators: ['no', nought]\n",
    )

    result = check(library)
    assert result.library is not None
    found = result.library.guide

    assert told(library) == ""
    assert found.spoken["symptoms"]["oil-film"] == (*shipped.spoken["symptoms"]["oil-film"], "slimy")
    assert found.spoken["symptoms"]["rink-odour"] == ("rink reek",)
    assert {key for key, said in found.spoken["components"].items() if "flare nut" in said} == {
        "indoor-flare",
        "outdoor-flare",
        "flange-joint",
    }
    assert found.grammar["negators"] == (*shipped.grammar["negators"], "nought")
    assert found.spoken["modes"] == shipped.spoken["modes"]


@house_only
def test_a_broken_file_of_phrases_leaves_the_good_ones(library: Path) -> None:
    _house(library, "spoken.yaml", "symptoms:\n  oil-film: [5, slimy]\nenders: [[still], mind]\n")

    guide = read_guide(library / "house", library, Gathered()).guide

    assert guide.spoken["symptoms"]["oil-film"][-1] == "slimy"
    assert guide.grammar["enders"][-1] == "mind"
