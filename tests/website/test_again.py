"""A build after a change makes only what the change touches, and gives the same site as one that makes all."""

from __future__ import annotations

import datetime as dt
import filecmp
import json
import re
import shutil
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
import yaml

from site_fixture import ENVIRONMENT, EPOCH, ROOT, run, write_config

sys.path.append(str(ROOT / "tests" / "benchmarks"))
import synthetic

CASES, SEED = 60, 5
Change = Callable[[Path], None]


def trees_differ(a: Path, b: Path) -> list[str]:
    """Paths, also of folders, that are in one tree only, and files that differ in a byte."""
    names = [{p.relative_to(x).as_posix() for p in x.rglob("*")} for x in (a, b)]
    same = {name for name in names[0] & names[1] if (a / name).is_file()}
    _, unequal, broken = filecmp.cmpfiles(a, b, sorted(same), shallow=False)
    return sorted({*(names[0] ^ names[1]), *unequal, *broken})


def built(config: Path, *options: str) -> dict[str, Any]:
    """What the command tells; a process of its own each time, as it is used."""
    done = run("leaklore", "build", "--config", config, "--processes", "2", "--json", *options)
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


class Twice:
    """One library with two sites: one built again after every change, one made whole each time."""

    def __init__(self, folder: Path) -> None:
        self.library = folder / "cases"
        synthetic.write_library(self.library, CASES, SEED)
        self.again = write_config(folder / "again", self.library)
        self.whole = write_config(folder / "whole", self.library)
        self.build()

    def build(self) -> Mapping[str, Any]:
        return built(self.again)

    def differ(self) -> list[str]:
        built(self.whole, "--afresh")
        return trees_differ(self.again.parent / "site", self.whole.parent / "site")


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory) -> Twice:
    return Twice(tmp_path_factory.mktemp("again"))


def records(library: Path) -> list[Path]:
    return sorted((library / "records").rglob("*.yaml"))


def edited(number: int, edit: Callable[[dict[str, Any]], object]) -> Change:
    """The record in that place, edited."""

    def change(library: Path) -> None:
        path = records(library)[number]
        data = yaml.safe_load(path.read_text("utf-8"))
        edit(data)
        path.write_text(yaml.safe_dump(data, allow_unicode=True, sort_keys=False), "utf-8")

    return change


def newer(library: Path) -> None:
    """One more case, by the same crew on the same day as another."""
    path = records(library)[-1]
    data = yaml.safe_load(path.read_text("utf-8"))
    prefix, year, _ = data["id"].split("-")
    data |= {
        "id": f"{prefix}-{year}-999",
        "title": "One more, on the other side of the yard",
        "story": "Found at once.",
    }
    data.pop("related", None)
    (path.parent / f"{data['id']}.yaml").write_text(yaml.safe_dump(data, allow_unicode=True), "utf-8")


def gone(library: Path) -> None:
    records(library)[-1].unlink()


def line(file: str, change: Callable[[str], str]) -> Change:
    def apply(library: Path) -> None:
        path = library / file
        before = path.read_text("utf-8")
        after = change(before)
        assert after != before
        path.write_text(after, "utf-8")

    return apply


def house_page(library: Path) -> None:
    shipped = Path(synthetic.GUIDE) / "failure-modes" / "flare-joint.md"
    folder = library / "house" / "failure-modes"
    folder.mkdir(parents=True)
    text = shipped.read_text("utf-8")
    (folder / "flare-joint.md").write_text(
        text + "\nIn our house the torque wrench stays in the van.\n", "utf-8"
    )


def reading_list(library: Path) -> None:
    folder = library / "reading"
    folder.mkdir(exist_ok=True)
    first = records(library)[0].stem
    (folder / "start.yaml").write_text(
        yaml.safe_dump(
            {
                "key": "start",
                "title": "For a start",
                "for": "Who is new",
                "level": "apprentice",
                "items": [{"read": f"case:{first}", "why": "It is short."}],
            }
        ),
        "utf-8",
    )


def naming(library: Path) -> None:
    """A story and a title that name the first system of the register, in cases of other systems."""
    number = first_system(library)[0]
    others = [p for p in records(library) if number not in p.read_text("utf-8")]
    for path, key in ((others[2], "story"), (others[4], "title")):
        edited(records(library).index(path), lambda data, k=key: data.update({k: f"Like [[{number}]]."}))(
            library
        )


def first_system(library: Path) -> tuple[str, str]:
    """Number and name."""
    found = re.search(
        r"- \{id: (S-\d+), site: [^,]+, name: ([^,]+),", (library / "systems.yaml").read_text("utf-8")
    )
    assert found
    return found[1], found[2]


def renamed(library: Path) -> None:
    _, name = first_system(library)
    line("systems.yaml", lambda text: text.replace(f"name: {name},", f"name: Former {name},", 1))(library)


def mode(library: Path) -> None:
    """Another failure mode of the same component, on a record in the middle."""

    def other(data: dict[str, Any]) -> None:
        data["cause"]["mode"] = "factory-defect" if data["cause"]["mode"] != "factory-defect" else "impact"

    edited(20, other)(library)


def later_look(library: Path) -> None:
    def leaks(data: dict[str, Any]) -> None:
        data["cause"]["proof"] = "point" if data["cause"]["proof"] == "held" else data["cause"]["proof"]
        data["follow_up"] = [{"date": "2026-08-30", "result": "leaking-again"}]

    edited(32, leaks)(library)


def pointing(library: Path) -> None:
    fields = {"related": [{"case": records(library)[40].stem, "as": "same-site"}]}
    edited(33, lambda data: data.update(fields))(library)


def alone(data: dict[str, Any]) -> None:
    """Without its system in the register."""
    data.pop("system", None)
    data["equipment"] = {
        "setting": "residential",
        "kind": "ductless-split",
        "refrigerant": "R-32",
        "charge": "20 kg",
        "installed": "2015",
    }


def other_words(library: Path) -> None:
    """One word of the interface in the company's own."""
    (library / "house").mkdir(exist_ok=True)
    (library / "house" / "words.po").write_text(
        'msgid ""\nmsgstr ""\n\nmsgid "Check next"\nmsgstr "Look here next"\n', "utf-8"
    )


def speaking(tag: str) -> Change:
    """In that language, whatever it was before."""

    def change(library: Path) -> None:
        file = library / "company.yaml"
        kept = [row for row in file.read_text("utf-8").splitlines() if not row.startswith("language:")]
        file.write_text("\n".join([*kept, f"language: {tag}", ""]), "utf-8")

    return change


def built_between(library: Path) -> None:
    """Stands for a build: what comes after is a change of its own."""


CHANGES: Mapping[str, tuple[Change, ...]] = {
    "words": (
        edited(3, lambda data: data.update(story="It was a wet day, and nobody had looked behind the drum.")),
        edited(10, lambda data: data.update(title='Another title, with <b>signs & "marks" in it')),
        edited(-1, lambda data: data.update(story="Nothing at first.", advice="Keep the **cap** on.")),
        lambda library: records(library)[45].touch(),
    ),
    "facts": (
        mode,
        edited(21, lambda data: data.update(symptoms=["short-of-charge", "hissing"], not_seen=[])),
        edited(22, alone),
    ),
    "fates": (
        edited(30, lambda data: data.update(withdrawn={"date": "2026-06-01", "why": "A duplicate."})),
        edited(31, lambda data: data.update(was=["ZZ-2019-001"])),
        later_look,
        pointing,
        newer,
    ),
    "one less": (gone, line("systems.yaml", lambda text: text.replace("name: ", "name: Old ", 3))),
    "a system that others name": (naming, built_between, renamed),
    "the company": (line("company.yaml", lambda text: text.replace("name: ", "name: New ", 1)),),
    "the house": (house_page, reading_list),
    "words of one's own": (other_words,),
    "another language": (speaking("en"), built_between, speaking("es")),
    "English again": (speaking("es"), built_between, speaking("en")),
}


@pytest.mark.parametrize("name", CHANGES)
def test_changes_give_the_site_that_a_whole_build_gives(twice: Twice, name: str) -> None:
    """One after the other in one library, so that each builds on what the one before left."""
    for change in CHANGES[name]:
        if change is built_between:
            twice.build()
        else:
            change(twice.library)
    twice.build()
    assert twice.differ() == []


def test_what_a_change_does_not_touch_is_taken_over(twice: Twice) -> None:
    twice.build()  # a test before may have left the site of another day
    built = twice.build()
    assert built["as_before"] == built["pages"] - 1  # the page about the data files knows all others
    edited(5, lambda data: data.update(story="Nobody had looked behind the second drum."))(twice.library)
    built = twice.build()
    cases = len(records(twice.library))
    assert built["as_before"] > cases - 5


def test_files_that_somebody_changed_in_the_site_are_made_again(twice: Twice) -> None:
    """The site lies open; what was not written by the build is not trusted."""
    page = twice.again.parent / "site" / "cases" / records(twice.library)[7].stem / "index.html"
    page.write_text("somebody was here", "utf-8")
    twice.build()
    assert twice.differ() == []


@pytest.mark.parametrize("content", [b"", b"not a pickle", b"\x80\x05N."])
def test_a_broken_memory_is_left_aside(twice: Twice, content: bytes) -> None:
    files = list((twice.again.parent / ".cache" / "sites").glob("*/pages/*.pickle"))
    for file in files:
        file.write_bytes(content)
    assert twice.build()["as_before"] == 0
    assert (whole := twice.build()["as_before"]) > 0
    for file in files[::2]:
        file.write_bytes(content)
    assert 0 < twice.build()["as_before"] < whole
    assert twice.build()["as_before"] == whole


def test_after_an_edit_little_is_kept_anew(twice: Twice) -> None:
    twice.build()
    folder = twice.again.parent / ".cache" / "sites"
    before = {file: file.stat().st_mtime_ns for file in folder.glob("*/pages/*.pickle")}
    edited(3, lambda data: data.update(story="The bell rang twice, and so did the kettle."))(twice.library)
    twice.build()
    after = {file: file.stat().st_mtime_ns for file in folder.glob("*/pages/*.pickle")}
    assert before.keys() == after.keys()
    assert 0 < sum(before[file] != after[file] for file in after) < len(after) / 2


def test_another_day_makes_every_page_anew(twice: Twice, monkeypatch: pytest.MonkeyPatch) -> None:
    twice.build()
    day = dt.datetime.fromtimestamp(int(EPOCH), dt.UTC) + dt.timedelta(days=1)
    monkeypatch.setitem(ENVIRONMENT, "SOURCE_DATE_EPOCH", str(int(day.timestamp())))
    assert twice.build()["as_before"] == 0


def test_a_site_that_is_gone_is_made_anew(twice: Twice) -> None:
    shutil.rmtree(twice.again.parent / "site")
    assert twice.build()["as_before"] == 0
