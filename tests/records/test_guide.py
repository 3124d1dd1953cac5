"""The guide: the shipped one is right, and a company's own pages in house/ are told of, word for word."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from analysis.builders import demo
from leaklore.records.check_guide import read_guide
from leaklore.records.gather import Gathered
from leaklore.records.guide import SECTIONS, SHIPPED, SMALL, Guide, list_files, page_files
from leaklore.records.library import Library
from leaklore.records.model import Case

from .helpers import check, put, told

FLARE = "failure-modes/flare-joint.md"
BUBBLES = "techniques/bubble-test.md"
PLACE = "library/house"


house_only = pytest.mark.usefixtures("shipped_guide_trusted")


def _shipped(file: str) -> str:
    return (SHIPPED / file).read_text("utf-8")


def _house(library: Path, file: str, text: str | bytes) -> None:
    put(library, text, f"house/{file}")


def _changed(file: str, old: str, new: str) -> str:
    text = _shipped(file)
    assert old in text
    return text.replace(old, new, 1)


def _line_of(text: str, sign: str) -> int:
    return text[: text.index(sign)].count("\n") + 1


def _library(root: Path) -> Library:
    found = check(root).library
    assert found is not None
    return found


def test_the_shipped_guide_has_no_fault(library: Path) -> None:
    assert told(library) == ""


def test_every_shipped_file_is_read() -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide

    assert set(guide.modes) == {f.stem for f in (SHIPPED / "failure-modes").glob("*.md")}
    assert set(guide.techniques) == {f.stem for f in (SHIPPED / "techniques").glob("*.md")}
    assert set(guide.small) == set(SMALL)
    assert all(guide.small.values())
    assert min(map(len, (guide.symptoms, guide.components, guide.refrigerants, guide.cautions))) >= 10


def test_techniques_come_in_the_order_of_use() -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    orders = [entry["order"] for entry in guide.techniques.values()]

    assert orders == sorted(orders)


def test_an_area_covers_what_is_inside_it_at_any_depth() -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide

    assert guide.covers("plant-room", "rack-frame")
    assert guide.covers("indoor-cabinet", "indoor-flare")
    assert guide.covers("indoor-flare", "indoor-flare")
    assert not guide.covers("indoor-flare", "indoor-cabinet")
    deep = {part for area in guide.inside["plant-room"] for part in guide.inside.get(area, ())}
    assert deep
    assert deep <= guide.inside["plant-room"]


def _strangers(guide: Guide, cases: Iterable[Case]) -> set[str]:
    """Places that a record names on a kind of equipment that can't have them, by the guide."""
    return {
        f"{case.id}: {place} on {case.equipment.kind}"
        for case in cases
        for place in (
            *(cause.component for cause in case.causes),
            *(place for step in case.search for place in step.at),
            *(reading.at for reading in case.readings),
        )
        if not guide.on(place, case.equipment.kind)
    }


def test_every_place_of_the_demo_records_can_be_on_their_equipment() -> None:
    lib = demo()
    assert sum(case.equipment.kind is not None for case in lib.cases) > 200

    assert _strangers(lib.guide, lib.cases) == set()


def test_a_place_that_its_equipment_cannot_have_would_be_noticed() -> None:
    case = demo().by_id["DB-2021-001"]
    split = replace(case, equipment=replace(case.equipment, kind="ductless-split"))

    assert _strangers(demo().guide, [split]) == {
        "DB-2021-001: flange-joint on ductless-split",
        "DB-2021-001: compressor-gasket on ductless-split",
        "DB-2021-001: relief-valve on ductless-split",
    }


@pytest.mark.parametrize(
    ("place", "kind", "expected"),
    [
        ("indoor-flare", "ductless-split", True),
        ("oil-separator", "ductless-split", False),
        ("water-exchanger", "ductless-split", False),
        ("cold-room-coil", "ductless-split", False),
        ("rack-frame", "ductless-split", False),
        ("rack-frame", "compressor-rack", True),
        ("indoor-coil", "chiller", False),
        ("line-run", "packaged-rooftop", False),
        ("self-contained-base", "self-contained", True),
        ("self-contained-base", "vrf", False),
        ("oil-separator", None, True),
        ("service-port", "self-contained", True),
        ("no-such-place", "vrf", True),
        ("oil-separator", "rink-carpet", True),
    ],
)
def test_a_place_is_on_the_equipment_that_can_have_it(place: str, kind: str | None, expected: bool) -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide

    assert guide.on(place, kind) is expected


def test_a_list_of_all_kinds_is_left_out() -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    kinds = set(guide.small["equipment_kinds"])
    listed = {key: set(entry["kinds"]) for key, entry in guide.components.items() if entry["kinds"]}

    assert [key for key, on in listed.items() if on == kinds] == []
    assert set().union(*listed.values()) == kinds
    assert guide.components["drain-pan"]["low"] is True
    assert guide.components["indoor-flare"]["covered"] is True


@house_only
@pytest.mark.parametrize("make", [str, lambda t: b"\xef\xbb\xbf" + t.replace("\n", "\r\n").encode()])
def test_a_copy_of_a_shipped_page_passes_and_wins(make: Callable[[str], str | bytes], library: Path) -> None:
    _house(library, FLARE, make(_changed(FLARE, "name: Flare joint leak", "name: Our flares")))
    _house(library, BUBBLES, make(_shipped(BUBBLES)))

    guide = _library(library).guide

    assert told(library) == ""
    assert guide.modes["flare-joint"].name == "Our flares"
    assert guide.modes["flare-joint"].path == f"{PLACE}/{FLARE}"
    assert guide.techniques["visual"].path == "guide/techniques/visual.md"


@house_only
@pytest.mark.parametrize(
    ("page", "expected"),
    [
        (
            "## What it is\n",
            "1:1: has no front matter; begin the file with `---`, the keys, and `---` [guide]",
        ),
        (
            "---\nkey: flare-joint\n",
            "1:1: has no front matter; begin the file with `---`, the keys, and `---` [guide]",
        ),
        ("", "1:1: has no front matter; begin the file with `---`, the keys, and `---` [guide]"),
        (
            "---\n- flare-joint\n---\n",
            "2:1: the front matter is not a block of keys; write `key: value` [guide]",
        ),
        ("---\n# nothing yet\n---\n", "2:1: is empty; fill it in or delete it [yaml]"),
        (b"---\nkey: flare-joint\nname: Caf\xe9\n---\n", "3:10: is not UTF-8 text (byte 0xe9); "),
        (
            _changed(FLARE, "family: joint", "family: [joint"),
            "5:9: a list in brackets is not closed or lacks a comma; "
            "write `[one, two]`, with quotes round text that holds a bracket [yaml]",
        ),
        (
            _changed(FLARE, "key: flare-joint", "key: flare-join"),
            '2:6: key: "flare-join" and the file name "flare-joint.md" differ; write key: flare-joint [id/file-name]',
        ),
        (
            _changed(FLARE, "key: flare-joint", "key: 5"),
            '2:6: key: "5" and the file name "flare-joint.md" differ; write key: flare-joint [id/file-name]',
        ),
        (
            _changed(FLARE, "key: flare-joint\n", ""),
            '2:1: key: "" and the file name "flare-joint.md" differ; write key: flare-joint [id/file-name]',
        ),
        (
            _changed(FLARE, "name: Flare joint leak\n", ""),
            '2:1: the file: "name" is missing; add it, for example `name: Flare joint leak` [schema/required]',
        ),
        (
            _changed(FLARE, "name: Flare joint leak", "name: [Flare]"),
            '3:7: name: ["Flare"] is not text; write for example Flare joint leak [schema/type]',
        ),
        (
            _changed(FLARE, "family: joint", "family: joints"),
            '5:9: family: "joints" is not one of the words allowed here; did you mean "joint"? [schema/enum]',
        ),
        (
            _changed(FLARE, "[indoor-flare, outdoor", "[indor-flare, outdoor"),
            '8:14: components[0]: "indor-flare" is not a component or place; did you mean "indoor-flare"? [reference]',
        ),
        (
            _changed(FLARE, "family: joint", "family: joint\nhouse: yes"),
            '6:1: the file: "house" is not a key here; known keys: key, name, also, summary, family, how_common, '
            "components, symptoms, … [schema/unknown-key]",
        ),
    ],
)
def test_a_broken_page_is_told_and_the_shipped_one_stands_in(
    page: str | bytes, expected: str, library: Path
) -> None:
    _house(library, FLARE, page)

    assert told(library).startswith(f"{PLACE}/{FLARE}:{expected}")
    assert len(told(library).splitlines()) == 1
    assert "flare-joint" in _library(library).guide.modes


@house_only
def test_a_broken_reference_in_a_page_is_told_at_its_line(library: Path) -> None:
    page = _changed(FLARE, "[[indoor-flare]]", "[[indor-flare]]")
    _house(library, FLARE, page)
    line = _line_of(page, "[[indor-flare]]")
    column = page.splitlines()[line - 1].index("[[indor-flare]]") + 1

    assert told(library) == (
        f'{PLACE}/{FLARE}:{line}:{column}: "[[indor-flare]]" leads nowhere; did you mean "indoor-flare"? [reference/prose]'
    )


@house_only
def test_a_heading_that_is_nearly_a_section_is_a_warning_at_its_line(library: Path) -> None:
    """A company's own heading is none, nor is one in its language or further down, nor a line of text."""
    page = _changed(FLARE, "## Tell-tales", "## Tell tales")
    page += "\n## On our vans\n\nText.\n\n## Dónde está\n\nText.\n\n### Fixes\n\n- Say\n  where it sat\n"
    _house(library, FLARE, page)
    assert told(library) == (
        f'{PLACE}/{FLARE}:{_line_of(page, "## Tell tales")}:4: warning: "Tell tales" is not the name of a section; '
        'did you mean "Tell-tales"? [guide/section]'
    )


@house_only
@pytest.mark.parametrize("order", ["first", "null", "[5]"])
def test_an_order_that_is_no_number_is_told(order: str, library: Path) -> None:
    page = _changed(BUBBLES, "order: 5", f"order: {order}")
    _house(library, BUBBLES, page)

    assert re.fullmatch(
        rf"{PLACE}/{BUBBLES}:{_line_of(page, 'order: ')}:8: order: .* \[schema/type\]", told(library)
    )


@house_only
def test_a_new_mode_can_be_used_by_records(library: Path) -> None:
    _house(library, "failure-modes/rink-pad.md", _changed(FLARE, "key: flare-joint", "key: rink-pad"))
    case = library / "records/2025/KW-2025-002.yaml"
    case.write_text(case.read_text().replace("mode: valve-core", "mode: rink-pad"))

    assert told(library) == ""


LISTS: dict[str, tuple[str, str, list[str]]] = {
    "not a list": (
        "symptoms.yaml",
        "key: rink-odour\n",
        ["1:1: the file is not a list of entries; begin each entry with `- key:` [guide]"],
    ),
    "empty": ("symptoms.yaml", "", ["1:1: is empty; fill it in or delete it [yaml]"]),
    "no yaml": (
        "components.yaml",
        "- key: [\n",
        ["1:9: a bracket is opened and never closed; close it [yaml]"],
    ),
    "missing keys": (
        "symptoms.yaml",
        "- key: rink-odour\n  name: Smell on the ice\n",
        [
            '1:3: [0]: "ask" is missing; add it, for example `ask: Has anyone wiped it?` [schema/required]',
            '1:3: [0]: "what" is missing; add it, for example `what: Oil travels with refrigerant.` [schema/required]',
        ],
    ),
    "wrong types": (
        "symptoms.yaml",
        "- 7\n- {key: [a], name: Smell, what: It smells., ask: When?}\n"
        "- {key: rink-odour, name: 5, what: 4, ask: Since when?, also: wet}\n",
        [
            "1:3: [0]: 7 is not a block of keys; write one key a line, and begin with `key:` [schema/type]",
            '2:9: [1].key: ["a"] is not text; write for example flare-joint [schema/type]',
            '3:27: [2].name: 5 is a number, not text; put it in quotes: "5" [schema/type]',
            '3:36: [2].what: 4 is a number, not text; put it in quotes: "4" [schema/type]',
            '3:63: [2].also: "wet" is not a list; write [wet] [schema/type]',
        ],
    ),
    "twice": (
        "symptoms.yaml",
        "- {key: rink-odour, name: Smell, what: It smells., ask: Since when?}\n" * 2,
        ['2:9: [1].key: "rink-odour" is in this list twice; keep one of them [guide]'],
    ),
    "prose": (
        "symptoms.yaml",
        "- key: rink-odour\n  name: Smell\n  ask: Since when?\n  what: >-\n    The rink smells of\n    [[R-71]], says the man.\n",
        ['6:5: "[[R-71]]" leads nowhere; did you mean "R-717"? [reference/prose]'],
    ),
    "components": (
        "components.yaml",
        "- {key: ice-pad, name: Ice pad, kind: area, within: 5, what: The floor., look: Look.}\n"
        "- {key: pad-joint, name: Joint, kind: floor, within: [[a]], what: A joint., look: Look.}\n"
        "- {key: pad-valve, name: Valve, kind: part, within: [indor-flare], what: A valve., look: Look.}\n",
        [
            '1:53: [0].within: 5 is not a list; write for example ["indoor-cabinet"] [schema/type]',
            '2:39: [1].kind: "floor" is not one of the words allowed here; write one of part, area [schema/enum]',
            '2:55: [1].within[0]: ["a"] is not text; write text [schema/type]',
            '3:54: [2].within[0]: "indor-flare" is not a component or place; did you mean "indoor-flare"? [reference]',
        ],
    ),
    "components by equipment": (
        "components.yaml",
        "- {key: ice-pad, name: Ice pad, kind: area, within: [], kinds: 5, what: The floor., look: Look.}\n"
        "- {key: ice-mat, name: Mat, kind: area, within: [], kinds: [chiler], what: The floor., look: Look.}\n"
        "- {key: ice-hut, name: Hut, kind: area, within: [], kinds: [], what: The hut., look: Look.}\n"
        "- {key: ice-pit, name: Pit, kind: area, within: [], low: no, covered: 1, what: A pit., look: Look.}\n",
        [
            '1:64: [0].kinds: 5 is not a list; write for example ["ductless-split", "multi-split"] [schema/type]',
            '2:61: [1].kinds[0]: "chiler" is not a kind of equipment; did you mean "chiller"? [reference]',
            '3:60: [2].kinds: the list is empty; write for example ["ductless-split", "multi-split"] [schema/minItems]',
            '4:58: [3].low: "no" is not true or false; write true or false in small letters [schema/type]',
            '4:71: [3].covered: "1" is not true or false; write true or false in small letters [schema/type]',
        ],
    ),
    "refrigerants": (
        "refrigerants.yaml",
        "- {key: R-999, name: R-999, composition: [], molar_mass_g_mol: heavy, safety_group: A1,\n"
        "   what: Nobody has it., sources: []}\n",
        [
            '1:64: [0].molar_mass_g_mol: "heavy" is not a number; write for example 52.024 [schema/type]',
        ],
    ),
    "vocabulary": (
        "vocabulary.yaml",
        "actions:\n  - {key: pray, name: Prayed, also: hope}\n  - {key: wish}\n  - x\n  - {key: 5, name: Five}\n"
        "  - {key: seal-it, name: Sealed, glued or taped}\n  - {key: seal-it, name: Again}\n  - {key: a, name: A, tag: b}\n"
        "action: []\nsettings: residential\n",
        [
            "2:37: actions[0].also: is not a list of text; write [one, two] [guide]",
            "3:5: actions[1]: an entry needs key: and name:; add what is missing [guide]",
            "4:5: actions[2]: an entry needs key: and name:; add what is missing [guide]",
            "5:11: actions[3].key: is not text; write text, in quotes [guide]",
            '6:34: warning: actions[4]: "glued or taped" is not a key here; put text that holds a comma in quotes [guide]',
            '7:11: actions[5].key: "seal-it" is in this list twice; keep one of them [guide]',
            '8:23: warning: actions[6]: "tag" is not a key here; known keys: key: and name: and also: [guide]',
            '9:1: "action" is no list of words; did you mean "actions"? [guide]',
            "10:11: settings: is not a list; begin each entry with `- {key: …, name: …}` [guide]",
        ],
    ),
    "vocabulary as list": (
        "vocabulary.yaml",
        "- actions\n",
        ["1:1: the file is not a block of lists; begin with `settings:` [guide]"],
    ),
    "cautions": (
        "cautions.yaml",
        "- {key: ice, name: Ice}\n- {key: ice2, name: Ice, text: 5}\n"
        "- {key: ice3, name: Slippery floor, text: Wear spikes., source: common practice}\n",
        [
            "1:3: [0]: an entry needs key: and name: and text:; add what is missing [guide]",
            "2:32: [1].text: is not text; write text, in quotes [guide]",
        ],
    ),
}


@house_only
@pytest.mark.parametrize(("file", "text", "expected"), LISTS.values(), ids=LISTS)
def test_a_broken_list_is_told_and_the_shipped_words_stay(
    file: str, text: str, expected: list[str], library: Path
) -> None:
    _house(library, file, text)

    lines = told(library).splitlines()

    if file == "refrigerants.yaml":
        lines = [line for line in lines if "molar_mass" in line]
    assert lines == [f"{PLACE}/{file}:{line}" for line in expected]
    assert len(_library(library).cases) == 2


@house_only
def test_words_of_the_company_stand_beside_the_shipped(library: Path) -> None:
    _house(
        library, "vocabulary.yaml", "actions:\n  - {key: freeze-plug, name: Ice plug set, also: [ice plug]}\n"
    )
    _house(library, "cautions.yaml", "- {key: ice, name: Slippery floor, text: Wear spikes.}\n")
    _house(
        library,
        "components.yaml",
        "- {key: pad-joint, name: Joint in the rink floor, kind: part, within: [floor-duct], what: A joint., look: Dig.}\n",
    )
    case = library / "records/2025/KW-2025-002.yaml"
    case.write_text(case.read_text().replace("action: replace-core", "action: freeze-plug"))

    found = _library(library)

    assert told(library) == ""
    assert {"freeze-plug", "rebraze"} <= set(found.guide.small["actions"])
    assert {"ice", "nitrogen-pressure"} <= set(found.guide.cautions)
    assert found.guide.covers("floor-duct", "pad-joint")
    assert found.vocabulary.suggest("actions", "Ice plug") == 'did you mean "freeze-plug"?'


OWN = {
    "symptoms.yaml": "- {key: rink-odour, name: Smell, what: The rink smells., ask: Since when?}\n",
    "components.yaml": "- {key: pad-joint, name: Pad joint, kind: part, within: [floor-duct], what: A joint., look: Dig.}\n",
    "vocabulary.yaml": "actions:\n  - {key: freeze-plug, name: Ice plug set}\n"
    "equipment_kinds:\n  - {key: rink-plant, name: Rink plant}\n",
    "failure-modes/rink-pad.md": _changed(FLARE, "key: flare-joint", "key: rink-pad"),
}
"""A company's own words."""
USERS = (
    ("records/2025/KW-2025-002.yaml", "mode: valve-core", "mode: rink-pad"),
    ("records/2025/KW-2025-002.yaml", "service-port", "pad-joint"),
    ("records/2025/KW-2025-002.yaml", "action: replace-core", "action: freeze-plug"),
    ("records/2025/KW-2025-002.yaml", "symptoms: [", "symptoms: [rink-odour, "),
    ("systems.yaml", "kind: condensing-unit", "kind: rink-plant"),
    ("reading/first-week.yaml", "items:\n", "items:\n  - {read: 'symptom:rink-odour', why: It smells.}\n"),
    ("house/note.md", "", "Of [[rink-odour]] and [[mode:rink-pad]].\n"),
    ("house/spoken.yaml", "", "symptoms:\n  rink-odour: [smelly rink]\n"),
    ("house/plain.yaml", "", "actions:\n  freeze-plug: We set a plug of ice.\n"),
)
"""What uses them: the file, what stands in it, and what instead."""


def _own_words(library: Path) -> None:
    for file, text in OWN.items():
        _house(library, file, text)
    for place, old, new in USERS:
        file = library / place
        text = file.read_text("utf-8") if old else ""
        assert old in text, place
        put(library, text.replace(old, new) if old else new, place)


@house_only
@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("symptoms.yaml", "name: Smell,", "name: 'Smell,"),
        ("symptoms.yaml", "name: Smell,", "nam: Smell,"),
        ("symptoms.yaml", "key: rink-odour", "kez: rink-odour"),
        ("symptoms.yaml", "- {key", "own:\n- {key"),
        ("symptoms.yaml", "smells.", "smells \\xe9."),
        ("symptoms.yaml", "", ""),
        ("components.yaml", "within: [floor-duct]", "within: floor-duct"),
        ("components.yaml", "name: Pad joint,", "name: Pad joint"),
        ("vocabulary.yaml", "actions:", "action:"),
        ("vocabulary.yaml", "name: Ice plug set", "name: [Ice plug set]"),
        ("vocabulary.yaml", "name: Rink plant}", "name: Rink plant"),
        ("vocabulary.yaml", "equipment_kinds:\n  - ", "equipment_kinds:\n    "),
        ("failure-modes/rink-pad.md", "key: rink-pad", "key: rink-pat"),
        ("failure-modes/rink-pad.md", "family: joint", "family: 'joint"),
        ("failure-modes/rink-pad.md", "", ""),
    ],
)
def test_a_file_of_words_with_an_error_brings_no_error_where_they_are_used(
    file: str, old: str, new: str, library: Path
) -> None:
    _own_words(library)
    assert told(library) == ""
    place = library / "house" / file
    text = place.read_text("utf-8")
    assert old in text
    if old:
        place.write_bytes(
            text.replace(old, new, 1).replace("\\xe9", "\udce9").encode("utf-8", "surrogateescape")
        )
    else:
        place.unlink()
        place.mkdir()

    found = check(library)

    assert {problem.path for problem in found.problems} == {f"{PLACE}/{file}"}
    assert found.failed
    assert found.library is not None
    known = found.library.vocabulary
    for case in found.library.cases:
        assert known.has("modes", case.cause.mode)
        assert all(known.has("symptoms", key) for key in case.symptoms)
    for system in found.library.systems.values():
        assert system.equipment.kind is None or known.has("equipment_kinds", system.equipment.kind)
    assert not known.has("symptoms", "anything")


@house_only
def test_a_word_that_a_broken_file_does_not_hold_is_told_all_the_same(library: Path) -> None:
    _own_words(library)
    put(library, OWN["symptoms.yaml"].replace("name: Smell", "name: 'Smell"), "house/symptoms.yaml")
    put(library, OWN["components.yaml"].replace("[floor-duct]", "floor-duct"), "house/components.yaml")
    case = library / "records/2025/KW-2025-002.yaml"
    case.write_text(
        case.read_text("utf-8")
        .replace("rink-odour", "rink-odor")
        .replace("component: pad-joint", "component: pad"),
        "utf-8",
    )

    lines = told(library).splitlines()

    assert len(lines) == 4
    assert '"rink-odor" is not a symptom' in lines[2]
    assert '"pad" is not a component or place' in lines[3]


@house_only
def test_areas_that_hold_each_other_do_not_hang(library: Path) -> None:
    _house(
        library,
        "components.yaml",
        "- {key: a-room, name: A, kind: area, within: [b-room], what: One., look: Look.}\n"
        "- {key: b-room, name: B, kind: area, within: [a-room], what: Two., look: Look.}\n",
    )

    assert _library(library).guide.inside["a-room"] == {"b-room"}


@house_only
def test_a_folder_named_as_a_file_of_house_is_told(library: Path) -> None:
    for name in ("vocabulary", "plain"):
        (library / "house" / f"{name}.yaml").mkdir(parents=True)

    instead = "put a text file in its place, or name the folder without .yaml [file]"
    assert told(library).splitlines() == [
        f"library/house/{name}.yaml:1:1: is not a plain file; {instead}" for name in ("plain", "vocabulary")
    ]


def test_files_of_house_are_listed_behind_the_shipped(tmp_path: Path) -> None:
    put(tmp_path, "x", "house/symptoms.yaml")
    put(tmp_path, "x", f"house/{FLARE}")

    assert list_files(tmp_path / "house")["symptoms"] == [
        SHIPPED / "symptoms.yaml",
        tmp_path / "house" / "symptoms.yaml",
    ]
    assert page_files(tmp_path / "house")["failure-modes", "flare-joint"] == tmp_path / "house" / FLARE
    assert page_files(None)["failure-modes", "flare-joint"] == SHIPPED / FLARE


def test_a_refrigerant_that_burns_says_so_and_what_a_torch_does() -> None:
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    burning = {k: r for k, r in guide.refrigerants.items() if not str(r["safety_group"]).endswith("1")}

    assert len(burning) >= 5
    for key, entry in burning.items():
        assert {"flammable-refrigerant", "torch"} <= set(entry["cautions"]), key


def test_a_technique_with_gas_about_it_says_what_gas_does() -> None:
    """Those that open a charged circuit, cut it, or are chosen for air that is full of gas."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    wanted = {
        "ultrasonic": {"flammable-refrigerant", "confined-space", "carbon-dioxide"},
        "dye": {"flammable-refrigerant"},
        "section-isolation": {"flammable-refrigerant", "torch"},
    }
    for key, cautions in wanted.items():
        assert cautions <= set(guide.techniques[key]["cautions"]), key


def test_what_may_be_let_out_is_the_same_on_both_cautions() -> None:
    """The tracer page has the mixture let out; the caution on venting names it."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    assert "venting" in guide.techniques["tracer-gas"]["cautions"]
    for form in ("short", "text"):
        assert "hydrogen" in guide.cautions["venting"][form]


def test_the_pages_of_the_guide_have_the_sections_of_their_kind() -> None:
    found = {
        page: re.findall(r"^## (.+)$", file.read_text("utf-8"), re.MULTILINE)
        for page, file in page_files(None).items()
    }
    assert len(found) > 30
    assert {
        page: heads
        for page, heads in found.items()
        if heads != [*SECTIONS["mode" if page[0] == "failure-modes" else "technique"]]
    } == {}


def test_the_pages_of_the_guide_show_the_cautions_that_belong_together() -> None:
    """Who is sent for nitrogen is told of oxygen, who is sent to recover of venting, and any charge may burn."""
    guide = read_guide(Path("no-house"), Path("no-library"), Gathered()).guide
    for key, entry in (*guide.modes.items(), *guide.techniques.items()):
        cautions = set(entry["cautions"])
        assert "flammable-refrigerant" in cautions, key
        assert ("nitrogen-pressure" in cautions) <= ("never-oxygen" in cautions), key
        if re.search(r"\b[Rr]ecover\b", entry.body):
            assert "venting" in cautions, key
