"""Reading lists: what they take by themselves, and what is told of a broken one, word for word."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from leaklore.analysis.questions import words
from leaklore.pages import bench
from leaklore.records.model import ReadingList, Taken
from leaklore.records.reading import BENCHES, TOPICS, filled, matches, no_exercise

from .helpers import RECORD, check, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")

LIST = "reading/first-week.yaml"
HEAD = "key: first-week\ntitle: First week with a detector\nfor: New starters\nlevel: apprentice\n"
LONG = RECORD.replace(
    "search:\n",
    "search:\n  - {technique: visual, at: [outdoor-cabinet], minutes: 5, result: clean}\n",
)
"""The shortest record with a search of three steps."""
GEAR = "equipment: {setting: residential, kind: ductless-split, refrigerant: R-32}"
"""Instead of a system: cases of one system would be taken for one job."""


def write(library: Path, items: str = "", rest: str = "") -> None:
    """Writes the list of the small library anew."""
    body = "items:\n" + items if items else ""
    (library / LIST).write_text(HEAD + body + rest, "utf-8")


def case(library: Path, number: int, **changes: str) -> None:
    """Puts a pinpointed case with a search of three steps into the library."""
    text = LONG.replace("KW-2025-014", f"KW-2025-{number}").replace("system: S-0001", GEAR)
    for old, new in changes.items():
        text = re.sub(rf"(?m)^{old}: .*$", f"{old}: {new}", text)
    put(library, text, f"records/2025/KW-2025-{number}.yaml")


def the_list(library: Path) -> ReadingList:
    """The only list, of a library without a problem."""
    result = check(library)
    assert [p.text() for p in result.problems] == []
    assert result.library is not None
    (only,) = result.library.reading
    return only


def names(library: Path) -> list[str]:
    """What the list holds, in order."""
    return [item.name for item in the_list(library).items]


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        (
            '  - {read: "bench:leek-rate", why: Work it out.}\n',
            '6:12: items[0].read: "bench:leek-rate" leads nowhere; did you mean "leak-rate"? [reference/reading]',
        ),
        (
            '  - {read: "bench:xyz", why: Work it out.}\n',
            '6:12: items[0].read: "bench:xyz" leads nowhere; write bench: and one of pressure-temperature, leak-rate, '
            "leak-flow, standing-test, vacuum-hold, air, which-technique [reference/reading]",
        ),
        (
            '  - {read: "unknown:KW-2025-015", why: Find it.}\n',
            '6:12: items[0].read: "unknown:KW-2025-015" leads nowhere; did you mean "KW-2025-014"? [reference/reading]',
        ),
        (
            '  - {read: "unknown:KW-2025-014", why: Find it.}\n',
            '6:12: items[0].read: "unknown:KW-2025-014" has 2 search steps, and an exercise needs 3; '
            "write case:KW-2025-014 to have it read, or take another case [reference/reading]",
        ),
        (
            '  - {read: "case:KW-2025-114", why: Read it.}\n  - {read: "unknown:KW-2025-114", why: Find it.}\n',
            '7:12: items[1].read: "unknown:KW-2025-114" comes after items[0], which gives its answer away; '
            "put the exercise first [reference/reading]",
        ),
        (
            '  - {read: "technique:visual", why: Eyes first.}\n  - {read: "technique:visual", why: Eyes last.}\n',
            '7:12: items[1].read: "technique:visual" is items[0] already; keep one [reference/reading]',
        ),
    ],
)
def test_an_item_that_leads_nowhere_or_does_not_fit(items: str, expected: str, library: Path) -> None:
    put(library, RECORD)
    case(library, 114, title="Another flare, on the landing")
    write(library, items)

    assert told(library) == f"library/{LIST}:{expected}"


@pytest.mark.parametrize(
    ("old", "new", "because"),
    [
        ("story: ", "withdrawn: {date: 2025-03-01, why: Twice on record.}\nstory: ", "is withdrawn"),
        (
            "proof: point",
            "proof: suspected",
            "is proven no further than suspected, so nobody can say who is right",
        ),
        (
            "story: ",
            "also_found:\n  - {mode: valve-core, component: service-port, proof: point}\nstory: ",
            "has more than one leak, and a learner names one",
        ),
        (
            "symptoms: [short-of-charge, oil-film]",
            "symptoms: []",
            "does not say on what equipment it was and what was noticed there",
        ),
        (
            "at: [outdoor-cabinet], minutes: 5, result: clean",
            "at: [indoor-flare], minutes: 5, result: lead",
            "has a search that went straight to the leak",
        ),
    ],
)
def test_a_case_without_a_sure_answer_is_no_exercise(old: str, new: str, because: str, library: Path) -> None:
    put(library, LONG.replace(old, new))
    write(library, '  - {read: "unknown:KW-2025-014", why: Find it.}\n')

    assert told(library) == (
        f'library/{LIST}:6:12: items[0].read: "unknown:KW-2025-014" {because}; '
        "write case:KW-2025-014 to have it read, or take another case [reference/reading]"
    )


@pytest.mark.parametrize("key", ["unknown", "questions", "mine", "trainer"])
def test_a_list_does_not_take_the_address_of_another_page(key: str, library: Path) -> None:
    text = (library / LIST).read_text("utf-8").replace("key: first-week", f"key: {key}")
    (library / LIST).unlink()
    (library / f"reading/{key}.yaml").write_text(text, "utf-8")

    assert told(library) == (
        f'library/reading/{key}.yaml:1:6: key: "{key}" is the address of another page of this section; '
        f"write for example key: {key}-list, and name the file like it [id/file-name]"
    )


def test_an_exercise_may_come_before_its_case(library: Path) -> None:
    put(library, LONG)
    write(
        library,
        '  - {read: "unknown:KW-2025-014", why: Find it.}\n  - {read: "case:KW-2025-014", why: Compare.}\n',
    )

    assert names(library) == ["unknown:KW-2025-014", "case:KW-2025-014"]


@pytest.mark.parametrize(
    ("rest", "expected"),
    [
        (
            "",
            '1:1: the file: "items" is missing; add `items:` (what to read in order, or `from:` and which cases to '
            "take) [schema/required]",
        ),
        ("from: {newest: 0}\n", "5:16: from.newest: 0 is too small; write at least 1 [schema/minimum]"),
        (
            "from: {modes: [flare-jiont]}\n",
            '5:16: from.modes[0]: "flare-jiont" is not a failure mode; did you mean "flare-joint"? [reference]',
        ),
        (
            "from: {at_least_proof: pinpointed}\n",
            '5:24: from.at_least_proof: "pinpointed" is not one of the words allowed here; '
            "write one of suspected, section, point, held [schema/enum]",
        ),
        (
            "from: {modes: [impact]}\n",
            "5:7: from: no case matches all of it; ask for less, or take `from` out [reference/reading]",
        ),
        (
            'items: [{read: "technique:visual", why: Eyes first.}]\nfrom: {modes: [impact]}\n',
            "6:7: warning: from: no case matches all of it beside those in items; "
            "ask for less, or take `from` out [reference/reading]",
        ),
    ],
)
def test_a_broken_from(rest: str, expected: str, library: Path) -> None:
    write(library, rest=rest)

    assert told(library) == f"library/{LIST}:{expected}"


def test_a_list_follows_the_library(library: Path) -> None:
    write(library, rest="from: {modes: [flare-joint], at_least_proof: point, newest: 2}\n")
    case(library, 101, reported="2025-02-01")
    case(library, 102, reported="2025-04-01", title="Another flare, on the landing")
    assert names(library) == ["case:KW-2025-102", "case:KW-2025-101"]

    case(library, 103, reported="2025-03-01", title="Flare of the bedroom unit")
    assert names(library) == ["case:KW-2025-102", "case:KW-2025-103"]


def test_equal_days_stand_in_the_order_of_their_numbers(library: Path) -> None:
    write(library, rest="from: {modes: [flare-joint], at_least_proof: point}\n")
    for number, title in ((103, "Flare of the bedroom unit"), (101, "Flare weeps"), (102, "On the landing")):
        case(library, number, title=title)

    assert names(library) == [f"case:KW-2025-{n}" for n in (103, 102, 101)]


def test_what_was_written_comes_first_and_no_case_comes_twice(library: Path) -> None:
    case(library, 101)
    case(library, 102, title="Another flare, on the landing")
    case(library, 103, title="Flare of the bedroom unit")
    write(
        library,
        '  - {read: "case:KW-2025-101", why: A plain one.}\n  - {read: "unknown:KW-2025-102", why: Find it.}\n',
        "from: {modes: [flare-joint], at_least_proof: point}\n",
    )

    made = the_list(library)

    assert [(i.name, i.computed) for i in made.items] == [
        ("case:KW-2025-101", False),
        ("unknown:KW-2025-102", False),
        ("case:KW-2025-103", True),
    ]


@pytest.mark.parametrize(
    ("lesson", "why"),
    [
        ("", "Flare joint leak: flare at the indoor unit."),
        ("lesson: Remake it. Never tighten twice.\n", "Flare joint leak: Remake it."),
        (
            "lesson: Half a turn is 0.5 of one. [[visual|Look]] first.\n",
            "Flare joint leak: Half a turn is 0.5 of one.",
        ),
        ("lesson: Without a stop at the end\n", "Flare joint leak: Without a stop at the end"),
    ],
)
def test_why_a_case_is_there(lesson: str, why: str, library: Path) -> None:
    put(library, LONG + lesson)
    write(library, rest="from: {modes: [flare-joint], at_least_proof: point}\n")

    (item,) = the_list(library).items

    assert item.why == why


def test_each_condition_is_a_condition(library: Path) -> None:
    put(library, LONG + "reading: {level: apprentice}\n")
    found = check(library).library
    assert found is not None
    one = found.by_id["KW-2025-014"]

    fits = Taken(1, ("flare-joint",), ("visual",), ("residential",), "apprentice", "point")

    assert matches(one, fits)
    assert not matches(one, Taken(1, modes=("shaft-seal",)))
    assert not matches(one, Taken(1, techniques=("dye",)))
    assert not matches(one, Taken(1, settings=("transport",)))
    assert not matches(one, Taken(1, level="lead"))
    assert not matches(one, Taken(1, at_least_proof="held"))


def test_withdrawn_cases_are_never_taken(library: Path) -> None:
    put(library, LONG.replace("story: ", "withdrawn: {date: 2025-03-01, why: Twice on record.}\nstory: "))
    found = check(library).library
    assert found is not None

    made = filled(ReadingList("a", "A", "All", "lead", (), taken=Taken(12)), found.cases, found.guide)

    assert "KW-2025-014" in found.by_id
    assert "KW-2025-014" not in [i.key for i in made.items]


def test_one_error_is_enough(library: Path) -> None:
    """A record with an error is told; that a list finds no case then, is not."""
    put(library, LONG.replace("proof: point", "proof: sure"))
    write(library, rest="from: {modes: [flare-joint], at_least_proof: point}\n")

    result = check(library)

    assert [p.rule for p in result.problems] == ["schema/enum"]
    assert result.library is not None
    assert result.library.reading == ()


def test_under_serve_a_list_goes_without_a_broken_case(library: Path) -> None:
    put(library, LONG.replace("proof: point", "proof: sure"))
    write(
        library,
        '  - {read: "case:KW-2025-014", why: A plain one.}\n  - {read: "technique:visual", why: Eyes first.}\n',
    )

    result = check(library)

    assert result.library is not None
    assert [i.name for r in result.library.reading for i in r.items] == ["technique:visual"]


def test_an_exercise_needs_a_search(library: Path) -> None:
    put(library, LONG)
    put(library, RECORD.replace("014", "015"), "records/2025/KW-2025-015.yaml")
    found = check(library).library
    assert found is not None

    assert no_exercise(found.by_id["KW-2025-014"], found.guide) == ""
    assert (
        no_exercise(found.by_id["KW-2025-015"], found.guide) == "has 2 search steps, and an exercise needs 3"
    )


def test_the_work_bench_has_the_pages_that_a_list_may_name() -> None:
    assert tuple(b.key for b in bench.BENCHES) == BENCHES


def test_there_are_questions_on_each_topic_that_a_list_may_name() -> None:
    assert tuple(words.TOPICS) == TOPICS
