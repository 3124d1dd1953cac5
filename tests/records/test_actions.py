"""The company's changes: what is read, and what is told of a broken file, word for word."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from leaklore.records.model import Action

from .helpers import check, told

pytestmark = pytest.mark.usefixtures("shipped_guide_trusted")

GOOD = """\
actions:
  - key: torque-wrench
    date: 2025-03-01
    what: A torque wrench in every van.
    modes: [flare-joint]
    where: {crew: K1, setting: residential}
    applies_to: installs-after
    note: The old tool stayed in the workshop.
  - key: new-cores
    date: 2024-09-02
    what: A core that was opened is replaced.
    modes: [valve-core, valve-packing-or-cap]
"""
FILE = "house/actions.yaml"


def put(library: Path, text: str) -> None:
    (library / "house").mkdir(exist_ok=True)
    (library / FILE).write_text(text)


def test_changes_are_read_by_day(library: Path) -> None:
    put(library, GOOD)

    result = check(library)

    assert result.problems == ()
    assert result.library is not None
    assert result.library.actions == (
        Action(
            "new-cores",
            dt.date(2024, 9, 2),
            "A core that was opened is replaced.",
            ("valve-core", "valve-packing-or-cap"),
        ),
        Action(
            "torque-wrench",
            dt.date(2025, 3, 1),
            "A torque wrench in every van.",
            ("flare-joint",),
            {"crew": "K1", "setting": "residential"},
            "installs-after",
            "The old tool stayed in the workshop.",
        ),
    )


def test_without_the_file_there_is_no_change(library: Path) -> None:
    result = check(library)

    assert result.library is not None
    assert result.library.actions == ()


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            "    date: 2025-03-01\n",
            "",
            '2:5: actions[0]: "date" is missing; add it, for example `date: 2025-03-01` [schema/required]',
        ),
        (
            "2025-03-01",
            "2025-02-30",
            '3:11: actions[0].date: "2025-02-30" is not a day; write YYYY-MM-DD, for example 2025-02-03 [date]',
        ),
        (
            "2025-03-01",
            "2026-01-01",
            "3:11: actions[0].date: 2026-01-01 lies in the future; write the day on which it was first done, and "
            "nothing before it is done [date/future]",
        ),
        (
            "modes: [flare-joint]",
            "modes: [flare-jiont]",
            '5:13: actions[0].modes[0]: "flare-jiont" is not a failure mode; did you mean "flare-joint"? [reference]',
        ),
        (
            "modes: [flare-joint]",
            "modes: []",
            '5:12: actions[0].modes: the list is empty; write for example ["flare-joint"] [schema/minItems]',
        ),
        (
            "applies_to",
            "aplies_to",
            '7:5: actions[0]: "aplies_to" is not a key here; did you mean "applies_to"? [schema/unknown-key]',
        ),
        (
            "installs-after",
            "new-installs",
            '7:17: actions[0].applies_to: "new-installs" is not one of the words allowed here; '
            "write one of all, installs-after [schema/enum]",
        ),
        (
            "crew: K1",
            "crew: K9",
            '6:19: actions[0].where.crew: "K9" is not a crew of the company; write one of D1, K1, K2, O1 [reference]',
        ),
        (
            "crew: K1",
            "house: 3",
            '6:13: actions[0].where: "house" is not a key here; known keys: branch, crew, kind, family, refrigerant, '
            "setting, batch, line_route, … [schema/unknown-key]",
        ),
        (
            "crew: K1",
            "site: lock-raw",
            '6:19: actions[0].where.site: "lock-raw" is no site of the register; did you mean "lock-row"? [reference]',
        ),
        (
            "crew: K1",
            "family: DS-B",
            '6:21: actions[0].where.family: "DS-B" is no family of the register; did you mean "DS-A"? [reference]',
        ),
        (
            "crew: K1",
            "batch: Orchard",
            '6:20: actions[0].where.batch: "Orchard" is no batch of the register; '
            "write a batch as systems.yaml has it [reference]",
        ),
        (
            "key: new-cores",
            "key: torque-wrench",
            '9:10: actions[1].key: "torque-wrench" is used twice; give each change a key of its own [id/twice]',
        ),
        (
            "stayed",
            "[[flare-jiont]] stayed",
            '8:24: actions[0].note: "[[flare-jiont]]" leads nowhere; did you mean "flare-joint"? [reference/prose]',
        ),
        ("actions:", "\tactions:", "1:1: a tab stands where spaces must be; indent with spaces [yaml]"),
    ],
)
def test_tells_exactly_what_is_wrong(old: str, new: str, line: str, library: Path) -> None:
    put(library, GOOD.replace(old, new, 1))

    assert told(library) == f"library/{FILE}:{line}"


def test_a_broken_change_is_left_out_and_the_others_stay(library: Path) -> None:
    put(library, GOOD.replace("2025-03-01", "2026-01-01"))

    result = check(library)

    assert result.failed
    assert result.library is not None
    assert [a.key for a in result.library.actions] == ["new-cores"]
    assert len(result.library.cases) == 2


def test_while_the_register_is_broken_nobody_can_say_which_site_is_missing(library: Path) -> None:
    put(library, GOOD.replace("crew: K1", "site: elsewhere"))
    (library / "systems.yaml").write_text("sites: []\nsystems: [{id: nonsense}]\n")

    assert FILE not in told(library)
