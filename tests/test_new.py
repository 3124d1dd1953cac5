"""`leaklore new`: what is asked, what is understood, what is written, and that nothing is lost or overwritten."""

from __future__ import annotations

import dataclasses
import datetime as dt
import errno
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from leaklore.ask import ask_case
from leaklore.cli import main
from leaklore.errors import LeakloreError
from leaklore.records import convert, field, heard, parse
from leaklore.records.check import check
from leaklore.records.compose import compose
from leaklore.records.library import Library
from leaklore.records.vocabulary import Vocabulary

HERE = Path(__file__).parent
SMALL = HERE / "records" / "library"
TODAY = dt.date(2025, 12, 31)
Answers = dict[str, str | list[str]]
SHORT: Answers = {
    "Branch": "Ketterwick",
    "Reported": "2023-02-03",
    "System": "S-0001",
    "Title": "Flare on a wall unit weeps",
    "Symptoms": "short-of-charge, oil-film",
    "Search step 1, Technique": "bubble-test",
    "Search step 1, Places": "indoor-flare",
    "Search step 1, Minutes": "6",
    "Search step 1, Result": "pinpointed",
    "Cause, Failure mode": "flare-joint",
    "Cause, Component": "indoor-flare",
    "Cause, Proof": "section",
    "Story": ["The nut was tight, and still it frothed.", ""],
    "Write it?": "yes",
}
SHORT_RECORD = """\
# yaml-language-server: $schema=../../../schema/case.schema.json
id: KW-2023-001
title: Flare on a wall unit weeps
reported: 2023-02-03
branch: Ketterwick
system: S-0001
symptoms: [short-of-charge, oil-film]
search:
  - {technique: bubble-test, at: [indoor-flare], minutes: 6, result: pinpointed}
cause: {mode: flare-joint, component: indoor-flare, proof: section}
story: |
  The nut was tight, and still it frothed.
"""
CONFIRMED: Answers = {
    "Search step 2, Technique": "ir detector",
    "Search step 2, Places": "indoor flare",
    "Search step 2, Minutes": "12",
    "Search step 2, Result": "confirmed",
    "Cause, Proof": "point",
}
HELD: Answers = {
    "Fix, Action": "flare remade",
    "Hold test, Medium": "nitrogen",
    "Hold test, Start pressure": "38 bar",
    "Hold test, End pressure": "38 bar",
    "Hold test, Over": "2 h",
}


class Stop(Exception):
    """The script has come to the answer `STOP`."""


class Script:
    """Answers by the question's beginning, in order where there are several; Enter for every other question."""

    def __init__(self, answers: Answers) -> None:
        self.left = {label: [a] if isinstance(a, str) else list(a) for label, a in answers.items()}
        self.asked: list[str] = []
        self.offered: list[str] = []
        self.before: Callable[[str], None] = lambda label: None

    def __call__(self, question: str, enter: str) -> str:
        label = question.split(" (")[0]
        self.asked.append(label)
        self.offered.append(f"{question} [{enter}]")
        assert self.asked.count(label) < 20, f"asked without end: {label}"
        self.before(label)
        answer = self.left[label].pop(0) if self.left.get(label) else enter
        if answer == "STOP":
            raise Stop
        return answer


class Dialogue:
    """What one run asked, said and wrote."""

    def __init__(
        self, library: Library, answers: Answers, before: Callable[[str], None] | None = None
    ) -> None:
        self.script = Script(answers)
        if before:
            self.script.before = before
        self.said: list[str] = []
        self.path = ask_case(library, self.script, self.said.append, TODAY)
        unused = {label: left for label, left in self.script.left.items() if left}
        assert not unused, f"never asked: {unused}"
        self.text = self.path.read_text("utf-8")
        document = parse.parse(self.text.encode())
        assert isinstance(document, parse.Document)
        self.record = document.data

    def told(self, text: str) -> bool:
        """Was this said?"""
        return any(text in line for line in self.said)


@pytest.fixture(scope="module")
def checked() -> Library:
    """The small library, read once."""
    library = check(SMALL, today=TODAY).library
    assert library is not None
    return library


@pytest.fixture
def library(checked: Library, tmp_path: Path) -> Library:
    """The small library in a folder that a test may write to."""
    root = Path(shutil.copytree(SMALL, tmp_path / "cases"))
    return dataclasses.replace(checked, root=root)


def files(root: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def typed(library: Library, answers: Answers) -> list[str]:
    """The lines that somebody types who answers so."""
    script = Script(answers)
    given: list[str] = []

    def prompt(question: str, enter: str) -> str:
        given.append(script(question, enter))
        return given[-1]

    ask_case(library, prompt, lambda text: None, TODAY).unlink()
    return given


# the command


def test_a_short_dialogue_writes_a_record_that_check_passes(library: Library) -> None:
    written = typed(library, SHORT)
    run = CliRunner().invoke(main, ["new", "--cases", str(library.root)], input="\n".join(written) + "\n")
    path = library.root / "records/2023/KW-2023-001.yaml"
    assert run.exit_code == 0, run.output
    assert run.stdout.endswith(f"wrote {path}\n")
    assert path.read_text("utf-8") == SHORT_RECORD
    told = CliRunner().invoke(main, ["check", str(path), "--cases", str(library.root)])
    assert (told.exit_code, told.stdout) == (0, "")


def test_json_tells_path_and_number(library: Library) -> None:
    written = typed(library, SHORT)
    run = CliRunner().invoke(
        main, ["new", "--json", "--cases", str(library.root)], input="\n".join(written) + "\n"
    )
    path = library.root / "records/2023/KW-2023-001.yaml"
    assert json.loads(run.stdout.splitlines()[-1]) == {"version": 1, "id": "KW-2023-001", "path": str(path)}


@pytest.mark.parametrize("ends", ["end of input", "Ctrl-C"])
def test_stopping_writes_nothing_and_says_so(
    library: Library, ends: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = files(library.root)
    if ends == "Ctrl-C":
        monkeypatch.setattr(click, "prompt", _interrupted)
    run = CliRunner().invoke(main, ["new", "--cases", str(library.root)], input="Ketterwick\n2023-02-03\n")
    assert run.exit_code == 1
    assert run.stderr.endswith("\nleaklore: stopped before the end; nothing was written\n")
    assert "Traceback" not in run.output
    assert files(library.root) == before


def _interrupted(*_: object, **__: object) -> str:
    raise KeyboardInterrupt


# nothing is written before the end


def test_stopping_at_any_question_writes_nothing(library: Library) -> None:
    before = files(library.root)
    answers = [*typed(library, SHORT | CONFIRMED | HELD)]
    for number in range(len(answers)):
        left = iter([*answers[:number], "STOP"])

        def prompt(question: str, enter: str, left: Iterator[str] = left) -> str:
            answer = next(left)
            if answer == "STOP":
                raise Stop
            return answer

        with pytest.raises(Stop):
            ask_case(library, prompt, lambda text: None, TODAY)
        assert files(library.root) == before


def test_no_writes_nothing(library: Library) -> None:
    before = files(library.root)
    with pytest.raises(LeakloreError, match="nothing was written, as you wished"):
        Dialogue(library, SHORT | {"Write it?": ["", "maybe", "no"]})
    assert files(library.root) == before


def test_a_file_that_is_there_is_never_overwritten(library: Library) -> None:
    theirs = library.root / "records/2023/KW-2023-001.yaml"

    def another_writes_first(label: str) -> None:
        if label == "Write it?" and not theirs.exists():
            theirs.parent.mkdir()
            theirs.write_text("theirs\n")

    run = Dialogue(library, SHORT | {"Write it?": ["yes", "yes"]}, another_writes_first)
    assert theirs.read_text() == "theirs\n"
    assert run.told("KW-2023-001.yaml is there already and was not overwritten")
    assert run.path.name == "KW-2023-002.yaml"
    assert run.record["id"] == "KW-2023-002"


def test_a_folder_that_cannot_be_written_can_be_put_right(library: Library) -> None:
    folder = library.root / "records/2023"
    folder.write_text("not a folder")

    def put_right(label: str) -> None:
        if label == "Write it?" and tried:
            folder.unlink(missing_ok=True)
        tried.append(label)

    tried: list[str] = []
    run = Dialogue(
        library, SHORT | {"Write it?": ["yes", "yes"]}, lambda q: put_right(q) if q == "Write it?" else None
    )
    assert run.told("KW-2023-001.yaml (File exists); put that right and try again")
    assert run.text == SHORT_RECORD


def test_a_full_disk_leaves_no_half_a_record(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = Path.open

    def full(path: Path, mode: str = "r", **more: Any) -> Any:
        file = whole(path, mode, **more)
        if mode == "x" and len(told) < 1:
            told.append(path)
            monkeypatch.setattr(file, "write", _no_space, raising=False)
        return file

    told: list[Path] = []
    monkeypatch.setattr(Path, "open", full)
    run = Dialogue(library, SHORT | {"Write it?": ["yes", "yes"]})
    assert run.told("KW-2023-001.yaml (No space left on device); put that right and try again")
    assert run.text == SHORT_RECORD


def _no_space(_: str) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


# numbers


def test_the_number_is_the_branch_s_next_one_of_the_year(library: Library) -> None:
    for name in ("KW-2023-004", "KW-2023-002", "OS-2023-009", "KW-2022-050"):
        file = library.root / f"records/{name[3:7]}/{name}.yaml"
        file.parent.mkdir(exist_ok=True)
        file.write_text("broken: [\n")  # it can't be read, and its number is used all the same
    assert Dialogue(library, SHORT).record["id"] == "KW-2023-005"
    assert Dialogue(library, SHORT | {"Branch": "Osmere"}).record["id"] == "OS-2023-010"
    assert Dialogue(library, SHORT | {"Branch": "Dunbrae"}).record["id"] == "DB-2023-001"
    assert Dialogue(library, SHORT | {"Reported": "2024-02-03"}).record["id"] == "KW-2024-001"


def test_a_number_in_use_is_refused(library: Library) -> None:
    run = Dialogue(library, SHORT | {"Case number": ["KW-2025-002", "kw1", "KW-2023-077"]})
    assert run.told('id: "KW-2025-002" is used already; give this record a number of its own')
    assert run.told('id: "kw1" does not have the form wanted here; write for example KW-2025-014')
    assert run.record["id"] == "KW-2023-077"


def test_a_number_of_another_branch_asks_for_both(library: Library) -> None:
    run = Dialogue(library, SHORT | {"Case number": ["OS-2023-001", "OS-2023-001", "KW-2023-001"]})
    assert run.told("branch: Ketterwick numbers its cases KW-…, this one is")
    assert (run.record["branch"], run.record["id"]) == ("Ketterwick", "KW-2023-001")


def test_today_is_the_day_of_report_unless_another_is_given(library: Library) -> None:
    today = {label: answer for label, answer in SHORT.items() if label != "Reported"}
    run = Dialogue(library, today)
    assert run.record["reported"] == "2025-12-31"
    assert run.record["id"].startswith("KW-2025-")


# wrong answers


@pytest.mark.parametrize(
    ("label", "wrong", "told"),
    [
        ("Branch", "", 'branch: "" is not a branch of the company; write one of Dunbrae, Ketterwick, Osmere'),
        ("Reported", "2023-02-30", 'reported: "2023-02-30" is not a day; write YYYY-MM-DD'),
        ("Reported", "2026-01-01", "reported: 2026-01-01 lies in the future"),
        ("Title", "", "title: is empty; write for example Flare on a wall unit"),
        ("Title", "Weeps", 'title: "Weeps" is too short; write for example Flare on a wall unit'),
        ("System", "S-0099", 'system: "S-0099" is not in the register; did you mean "S-000'),
        (
            "System",
            "kay street",
            'system: "kay street" is not in the register; did you mean "Quay Street café"?',
        ),
        ("Search step 1, Technique", "", 'search[0].technique: "" is not a technique'),
        ("Search step 1, Places", "", "search[0].at: the list is empty"),
        ("Search step 1, Minutes", "six", 'search[0].minutes: "six" is text, not a whole number'),
        ("Search step 1, Minutes", "-6", "search[0].minutes: -6 is too small; write at least 0"),
        ("Search step 1, Result", "found", 'search[0].result: "found" is not one of the words allowed here'),
        ("Cause, Component", "indoor-cabinet", 'cause.component: "indoor-cabinet" is an area, not a part'),
        ("Cause, Proof", "point", "cause.proof: point, but only bubble-test found indoor-flare; a second"),
        ("Cause, Proof", "certain", 'cause.proof: "certain" is not one of the words allowed here'),
        ("Story", "", "story: is empty; write for example"),
        (
            "Story",
            "See [[flare-jiont]].",
            'story: "[[flare-jiont]]" leads nowhere; did you mean "flare-joint"?',
        ),
    ],
)
def test_a_wrong_answer_is_told_and_asked_again(library: Library, label: str, wrong: str, told: str) -> None:
    right = SHORT[label]
    answers = SHORT | {label: [wrong, *([right] if isinstance(right, str) else right)]}
    run = Dialogue(library, answers)
    assert run.told(told), "\n".join(run.said)
    assert run.text == SHORT_RECORD


@pytest.mark.parametrize(
    ("label", "wrong", "told", "right"),
    [
        ("Charge lost, Lost", "2", 'charge.lost: "2" has no unit; write for example "4 lb"', "1 lb"),
        ("Charge lost, Lost", "2 kg", 'charge.lost: "2 kg" is more than was there: the system holds', "1 lb"),
        ("Surroundings, Temperature", "mild", 'environment.ambient: "mild" does not begin with', "4 degC"),
        ("Looked for and absent", "oil-film", 'not_seen[0]: "oil-film" is among the symptoms too', "smell"),
        (
            "Follow-up 1, Date",
            "2023-02-01",
            "follow_up[0].date: 2023-02-01 is before the report",
            "2023-03-01",
        ),
        ("Fix, Parts", "6 EUR", 'fix.parts: "6 EUR" is not in USD', "6 USD"),
    ],
)
def test_a_wrong_answer_to_what_may_be_left_out(
    library: Library, label: str, wrong: str, told: str, right: str
) -> None:
    more: Answers = {"Fix, Action": "remake-flare"} if label.startswith("Fix") else {}
    more |= {"Follow-up 1, Result": "holding"} if label.startswith("Follow") else {}
    run = Dialogue(library, SHORT | more | {label: [wrong, right]})
    assert run.told(told), "\n".join(run.said)
    assert right in run.text


def test_the_lines_of_a_story_before_a_wrong_one_stay(library: Library) -> None:
    story = ["First line of it.", "See [[nowhere]].", "Second line.", ""]
    assert (
        Dialogue(library, SHORT | {"Story": story}).record["story"] == "First line of it.\n\nSecond line.\n"
    )
    short = ["Dry.", "", "And yet it leaked.", ""]
    run = Dialogue(library, SHORT | {"Story": short, "Branch": "Osmere"})
    assert run.told('story: "Dry." is too short')
    assert run.record["story"] == "Dry.\n\nAnd yet it leaked.\n"


def test_signs_that_no_file_can_hold_are_left_out(library: Library) -> None:
    run = Dialogue(library, SHORT | {"Title": "\x1b[AFlare weeps\tagain, caf\xe9 \udcff"})
    assert run.record["title"] == "[AFlare weeps again, café"


def test_what_looks_private_is_warned_of(library: Library) -> None:
    run = Dialogue(library, SHORT | {"Lesson": "Ring 01234 567 890 before you drive there."})
    assert run.told('warning: lesson: "01234 567 890" looks like a telephone number; take it out')


def test_a_report_before_the_installation_asks_for_both(library: Library) -> None:
    answers = SHORT | {"Reported": ["2021-02-03", "2023-02-03"]}
    run = Dialogue(library, answers)
    assert run.told("reported: 2021-02-03 is before the installation in 2022-06")
    assert run.record["reported"] == "2023-02-03"


def test_a_unit_that_the_instrument_does_not_read_asks_for_the_instrument_too(library: Library) -> None:
    reading: Answers = {
        "Reading 1, Place": ["indoor-flare", "indoor-flare"],
        "Reading 1, Instrument": ["ultrasonic", "infrared-detector"],
        "Reading 1, Value": ["85 ppm", "85 ppm", "85 ppm", "85 ppm"],
    }
    run = Dialogue(library, SHORT | reading)
    assert run.told('readings[0].value: "85 ppm" is not what ultrasonic reads')
    assert run.record["readings"] == [{"at": "indoor-flare", "by": "infrared-detector", "value": "85 ppm"}]


# help and plain words


@pytest.mark.parametrize(
    ("label", "told"),
    [
        ("Symptoms", "oil-film                  Oil film"),
        ("Branch", "Dunbrae"),
        ("Search step 1, Result", "clean, lead, section, pinpointed, confirmed, false-alarm"),
        ("Charge lost, Lost", '"4 lb", "9 lb 8 oz" or "1.8 kg"'),
        ("Reported", "2025-02-03"),
        ("System", "S-0001  Lock Row terraces, House 3: ductless-split, R-32, 1.1 kg"),
        ("Story", "Second visit in a year."),
        ("Write it?", "first_diagnosis   Wrong first diagnosis"),
    ],
)
def test_a_question_mark_lists_what_can_be_written(library: Library, label: str, told: str) -> None:
    right = SHORT.get(label, "")
    run = Dialogue(library, SHORT | {label: ["?", *([right] if isinstance(right, str) else right)]})
    assert run.told(told), "\n".join(run.said)
    assert run.text == SHORT_RECORD


def test_every_question_is_explained_in_the_schema_s_words(library: Library) -> None:
    run = Dialogue(library, SHORT)
    for name in ("title", "symptoms", "story", "lesson"):
        assert run.told(field.about((name,))["description"])


def test_examples_are_the_company_s_own_where_it_has_some(library: Library) -> None:
    """A number or a branch of the made-up company would be taken for one that has to be."""
    run = Dialogue(library, SHORT | {"Branch": "Osmere"})
    examples = [line.split(" For example: ")[1] for line in run.said if " For example: " in line]
    assert examples[0] == next(iter(library.company.branches))
    assert {"OS-2023-001", next(iter(library.systems))} <= set(examples)
    assert not [said for said in examples if said.startswith("KW-")]


def test_plain_words_are_shown_back(library: Library) -> None:
    words: Answers = {
        "Symptoms": "oily, lost all, stain, ghost",
        'Instead of "stain"': ["?", "oil-film"],
        'Instead of "ghost"': ["gost", ""],
        "Surroundings, Conditions": "cold day, windy",
        "Cause, Contributing": "nut crushed",
    }
    run = Dialogue(library, SHORT | words)
    assert run.record["symptoms"] == ["oil-film", "sudden-loss"]
    assert run.record["environment"] == {"conditions": ["low-ambient", "wind"]}
    assert run.record["cause"]["contributing"] == ["over-torqued"]
    assert run.told("oily: oil-film (Oil film)")
    assert run.told("lost all: sudden-loss (Whole charge gone at once)")
    assert run.told('"stain" may be')
    assert run.told('"ghost" is not a symptom; write one of')


@pytest.mark.parametrize(
    ("kind", "typed", "key"),
    [
        ("symptoms", "oily", "oil-film"),
        ("symptoms", "Oil Film", "oil-film"),
        ("symptoms", "oil-fim", "oil-film"),
        ("symptoms", "lost all", "sudden-loss"),
        ("symptoms", "lp trip", "low-pressure-trip"),
        ("symptoms", "stain", None),
        ("symptoms", "ice", None),
        ("symptoms", "…", None),
        ("techniques", "sniffer", "heated-diode-detector"),
        ("techniques", "heated diode", "heated-diode-detector"),
        ("components", "service valve", "outdoor-service-valve"),
        ("components", "flare", None),
        ("refrigerants", "r32", "R-32"),
        ("refrigerants", "410A", "R-410A"),
        ("refrigerants", "R-33", None),
        ("settings", "super market", "food-retail"),
    ],
)
def test_words_as_a_technician_types_them(checked: Library, kind: str, typed: str, key: str | None) -> None:
    assert heard.word(checked.vocabulary, kind, typed).key == key


def test_a_word_of_a_vocabulary_without_words_is_not_understood() -> None:
    assert heard.word(Vocabulary({}), "crews", "K1") == heard.Heard()


# systems


@pytest.mark.parametrize("typed", ["S-0001", "s-1", "1", "house 3", "lock row house 3", "LOCK 3"])
def test_a_system_by_its_number_or_by_words_of_its_name(library: Library, typed: str) -> None:
    assert Dialogue(library, SHORT | {"System": typed}).text == SHORT_RECORD


def test_several_systems_of_a_name_are_listed(library: Library) -> None:
    run = Dialogue(library, SHORT | {"System": ["lock", "cafe", "1"]})
    assert run.told(
        "S-0005  Lock Row terraces, House 5: ductless-split, R-410A, 2 lb 6 oz (taken out 2024-09)"
    )
    assert run.told("S-0006  Quay Street café, Counter cabinet: self-contained, R-290, 110 g")
    assert run.text == SHORT_RECORD


def test_equipment_that_is_not_registered(library: Library) -> None:
    inline: Answers = {
        "System": "",
        "Equipment, Setting": "house",
        "Equipment, Kind": ["", "mini split"],
        "Equipment, Refrigerant": ["", "r32"],
        "Equipment, Full charge": "1.1 kg",
        "Equipment, Installed": ["2022-13", "2022-06"],
    }
    run = Dialogue(library, SHORT | inline)
    assert run.told("equipment: kind, refrigerant unknown, and no system is named")
    assert run.told('equipment.installed: "2022-13" does not exist')
    assert run.text == SHORT_RECORD.replace(
        "system: S-0001\n",
        "equipment: {setting: residential, kind: ductless-split, refrigerant: R-32, charge: 1.1 kg, "
        "installed: 2022-06}\n",
    )


# proof


def test_an_amount_is_read_as_the_form_reads_it(library: Library) -> None:
    """A decimal comma, a fraction, marks for feet and inches; three digits behind a comma are told."""
    run = Dialogue(
        library,
        SHORT
        | {
            "System": "",
            "Equipment, Setting": "residential",
            "Equipment, Kind": "ductless split",
            "Equipment, Refrigerant": "R-32",
            "Charge lost, Lost": ["1,250 kg", "0,35 kg"],
            "Write it?": ["equipment", "yes"],
            "Line set, Length": "29' 6 1/2\"",
            "Line set, Suction tube": '1-1/8"',
        },
    )
    assert run.told('"1,250 kg" has a comma, which can be read two ways')
    assert run.record["charge"]["lost"] == "0.35 kg"
    assert run.record["equipment"]["line_set"] == {"length": "29 ft 6 1/2 in", "suction": "1 1/8 in"}


def test_only_proofs_that_the_steps_carry_are_offered(library: Library) -> None:
    run = Dialogue(library, SHORT)
    assert run.told("Carried so far: suspected, section")
    assert run.told(
        "Not more: cause.proof: point, but only bubble-test found indoor-flare; a second technique"
    )
    bare = SHORT | {"Search step 1, Result": "clean", "Cause, Proof": "suspected", "Branch": "Osmere"}
    assert Dialogue(library, bare).told("Not more: cause.proof: section, but no search step narrowed it down")
    run = Dialogue(library, SHORT | CONFIRMED)
    assert run.told("Carried so far: suspected, section, point")
    assert run.told("asked again after the fix")


def test_held_is_offered_once_the_hold_test_has_passed(library: Library) -> None:
    run = Dialogue(library, SHORT | CONFIRMED | HELD)
    assert run.script.offered.count("Cause, Proof [held]") == 1
    assert run.record["cause"]["proof"] == "held"
    assert run.record["fix"] == {
        "action": "remake-flare",
        "hold_test": {"medium": "nitrogen", "start": "38 bar", "end": "38 bar", "over": "2 h"},
    }


@pytest.mark.parametrize(
    "more",
    [
        {"Hold test, End pressure": "30 bar"},
        {
            "Hold test, Medium": "vacuum",
            "Hold test, Start pressure": "400 micron",
            "Hold test, End pressure": "410 micron",
        },
        {"Follow-up 1, Date": "2023-03-01", "Follow-up 1, Result": "leaking"},
    ],
    ids=["lost pressure", "vacuum", "leaking again"],
)
def test_held_is_not_offered_where_it_is_not_earned(library: Library, more: Answers) -> None:
    run = Dialogue(library, SHORT | CONFIRMED | HELD | more)
    assert run.script.asked.count("Cause, Proof") == 1
    assert run.record["cause"]["proof"] == "point"


def test_a_place_pinpointed_elsewhere_asks_for_a_second_leak(library: Library) -> None:
    second: Answers = {
        "Search step 2, Technique": "bubbles",
        "Search step 2, Places": "service-port",
        "Search step 2, Minutes": "5",
        "Search step 2, Result": "pin",
        "Further leak 1, Failure mode": "valve core",
        "Further leak 1, Proof": "section",
    }
    run = Dialogue(library, SHORT | second)
    assert run.told("search[1].result: pinpointed at service-port, but the leak was at indoor-flare")
    assert run.record["also_found"] == [
        {"mode": "valve-core", "component": "service-port", "proof": "section"}
    ]
    none = SHORT | second | {"Branch": "Osmere", "Search step 2, Result": ["pin", "false-alarm"]}
    for label in ("Further leak 1, Failure mode", "Further leak 1, Proof"):
        del none[label]
    run = Dialogue(library, none)
    assert "also_found" not in run.record
    assert run.record["search"][1]["result"] == "false-alarm"


# the end


def test_any_field_can_be_answered_again_or_added(library: Library) -> None:
    more: Answers = {
        "Write it?": [
            "tilte",
            "title",
            "crew",
            "search[0].minutes",
            "search[1]",
            "search[9]",
            "environment",
            "equipment",
            "lesson",
            "system",
            "yes",
        ],
        "Title": ["Flare on a wall unit weeps", "Flare weeps after a second tightening"],
        "Crew": ["K9", "K1"],
        'Instead of "K9"': "",
        "Search step 1, Minutes": ["6", "8"],
        "Search step 2, Technique": ["", "visual"],
        "Search step 2, Places": "outdoor-cabinet",
        "Search step 2, Minutes": "10",
        "Search step 2, Result": "clean",
        "Search step 2, Running": "no",
        "Search step 2, Note": "Nothing wet, nothing green.",
        "Surroundings, Temperature": ["4 degC", "-"],
        "Line set, Route": "wall chase",
        "Line set, Length": ["9", "9 m"],
        "Lesson": ["Two spanners.", "-"],
        "System": ["S-0001", "S-0001"],
    }
    run = Dialogue(library, SHORT | more)
    assert run.told('there is no field "tilte"; did you mean "title"?')
    assert run.told('there is no field "search[9]"')
    assert run.record["title"] == "Flare weeps after a second tightening"
    assert run.record["crew"] == "K1"
    assert run.record["search"][0]["minutes"] == 8
    assert run.record["search"][1] == {
        "technique": "visual",
        "at": ["outdoor-cabinet"],
        "minutes": 10,
        "result": "clean",
        "running": False,
        "note": "Nothing wet, nothing green.",
    }
    assert run.record["equipment"] == {"line_set": {"route": "wall-chase", "length": "9 m"}}
    assert "environment" not in run.record
    assert "lesson" not in run.record
    assert list(run.record).index("crew") < list(run.record).index("system")


def test_entries_of_a_list_can_be_taken_out(library: Library) -> None:
    readings: Answers = {
        "Reading 1, Place": ["indoor-flare", "-"],
        "Reading 1, Instrument": "infrared-detector",
        "Reading 1, Value": "3 ppm",
        "Reading 2, Place": "service-port",
        "Reading 2, Instrument": "infrared-detector",
        "Reading 2, Value": "85 ppm",
        "Write it?": ["readings", "yes"],
    }
    run = Dialogue(library, SHORT | readings)
    assert run.record["readings"] == [{"at": "service-port", "by": "infrared-detector", "value": "85 ppm"}]


def test_the_record_is_shown_with_what_check_says_of_it(library: Library) -> None:
    first = Dialogue(library, SHORT)
    case = convert.case(first.record, "cases/records/2023/KW-2023-001.yaml", "", library.systems)
    library = dataclasses.replace(library, cases=(*library.cases, case))
    run = Dialogue(library, SHORT | {"Reported": "2023-02-10"})
    assert run.told(run.text)
    assert run.told(
        "warning: id: may be the same job as KW-2023-001 (same system, same failure mode, 7 days apart)"
    )


def test_a_long_dialogue_writes_a_record_that_check_passes(library: Library) -> None:
    more: Answers = {
        "Looked for and absent": "green deposit",
        "Charge lost, Lost": "0.4 kg",
        "Charge lost, Over": "14 months",
        "Surroundings, Temperature": "4 degC",
        "Surroundings, Conditions": "cold day",
        "Reading 1, Place": "indoor flare",
        "Reading 1, Instrument": "ir detector",
        "Reading 1, Value": "85 ppm",
        "Reading 1, Background": "1 ppm",
        "Cause, Contributing": "over-torqued",
        "Fix, Parts": "6 USD",
        "Fix, Labour": "1.5 h",
        "Fix, Charge added": "0.45 kg",
        "Hold test, Start temperature": "5 degC",
        "Hold test, End temperature": "5 degC",
        "Follow-up 1, Date": "2023-05-10",
        "Follow-up 1, Result": "holding",
        "Follow-up 1, Note": "Dry, and full.",
        "Lesson": "A flare that weeps after one correct tightening is remade.",
    }
    run = Dialogue(library, SHORT | CONFIRMED | HELD | more)
    result = check(library.root, today=TODAY)
    assert not result.problems
    assert result.library is not None
    assert run.path.stem in result.library.by_id
    assert (
        run.text
        == """\
# yaml-language-server: $schema=../../../schema/case.schema.json
id: KW-2023-001
title: Flare on a wall unit weeps
reported: 2023-02-03
branch: Ketterwick
system: S-0001
symptoms: [short-of-charge, oil-film]
not_seen: [green-deposit]
environment: {ambient: 4 degC, conditions: [low-ambient]}
charge: {lost: 0.4 kg, over: 14 months}
readings:
  - {at: indoor-flare, by: infrared-detector, value: 85 ppm, background: 1 ppm}
search:
  - {technique: bubble-test, at: [indoor-flare], minutes: 6, result: pinpointed}
  - {technique: infrared-detector, at: [indoor-flare], minutes: 12, result: confirmed}
cause: {mode: flare-joint, component: indoor-flare, proof: held, contributing: [over-torqued]}
fix:
  action: remake-flare
  parts: 6 USD
  labour: 1.5 h
  charge_added: 0.45 kg
  hold_test: {medium: nitrogen, start: 38 bar, end: 38 bar, start_temp: 5 degC, end_temp: 5 degC, over: 2 h}
follow_up: [{date: 2023-05-10, result: holding, note: "Dry, and full."}]
lesson: A flare that weeps after one correct tightening is remade.
story: |
  The nut was tight, and still it frothed.
"""
    )


# the house's form


def demo_records() -> list[Path]:
    found = [*(HERE.parent / "cases/records").rglob("*.yaml"), *(HERE / "records/valid").glob("*.yaml")]
    assert len(found) > 100
    return sorted(found)


def test_every_demo_record_keeps_everything() -> None:
    for file in demo_records():
        document = parse.parse(file.read_bytes())
        assert isinstance(document, parse.Document), file
        text = compose(document.data)
        again = parse.parse(text.encode())
        assert isinstance(again, parse.Document), text
        assert again.data == document.data, file
        assert compose(again.data) == text


def test_the_form_of_a_record() -> None:
    text = """\
# yaml-language-server: $schema=../../../schema/case.schema.json
id: KW-2025-014
title: Flare on a wall unit weeps after a second tightening
reported: 2025-02-03
closed: 2025-02-05
branch: Ketterwick
system: S-0412
equipment:
  setting: residential
  installed: "2022"
  line_set: {route: wall-chase, length: 9 m}
symptoms: [short-of-charge, ice-on-coil, oil-film]
environment: {ambient: 4 degC, conditions: [low-ambient]}
readings:
  - {at: indoor-flare, by: infrared-detector, value: 85 ppm, note: "Cold, wet and windy."}
search:
  - {technique: visual, at: [outdoor-cabinet], minutes: 10, result: clean, running: false}
cause: {mode: flare-joint, component: indoor-flare, proof: held}
fix:
  action: remake-flare
  hold_test: {medium: nitrogen, start: 38 bar, end: 38 bar, over: 2 h}
follow_up: [{date: 2025-05-10, result: holding}]
lesson: "Remade: not tightened again, nor #1 choice."
story: |
  First paragraph.

    - indented

  Last one.
reading: {level: apprentice, topics: [flares, "10"]}
"""
    document = parse.parse(text.encode())
    assert isinstance(document, parse.Document)
    mixed = dict(reversed(document.data.items()))
    assert compose(mixed) == text


@given(
    st.text(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn", "Co"])
        | st.sampled_from("\n\t :#-'\"[]{}|>*&!%@`?,~")
    )
)
@settings(deadline=None)
def test_any_text_is_read_back_as_it_was(text: str) -> None:
    record = {
        "title": text,
        "story": text,
        "symptoms": [text],
        "fix": {"action": text, "hold_test": {"over": text}},
    }
    document = parse.parse(compose(record).encode())
    assert isinstance(document, parse.Document), compose(record)
    assert document.data == record


# one field


def test_fields_by_pointer() -> None:
    record = {"search": [{"technique": "visual"}], "lesson": "One."}
    assert field.read_pointer("search[1].result") == ("search", 1, "result")
    assert field.read_pointer("fix.hold_test") == ("fix", "hold_test")
    for wrong in ("", "search.result", "serch", "title[0]", "search[x]", "fix..action!"):
        assert field.read_pointer(wrong) is None
    assert field.put(record, ("search", 1, "technique"), "dye")["search"] == [
        {"technique": "visual"},
        {"technique": "dye"},
    ]
    assert field.put(record, ("fix", "hold_test", "over"), "2 h")["fix"] == {"hold_test": {"over": "2 h"}}
    assert field.drop(record, ("search", 0, "technique")) == {"lesson": "One."}
    assert field.drop(record, ("search", 4)) == record
    assert record == {"search": [{"technique": "visual"}], "lesson": "One."}
    assert field.about(("system",))["title"] == "System"
    assert field.about(("system",))["pattern"].startswith("^S-")
