"""A check by several processes, or with what an earlier one kept, comes to what a plain check comes to."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import pickle
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from leaklore.records import harvest, quick, seen, source
from leaklore.records.check import CheckResult
from leaklore.records.check import check as check_library
from leaklore.workers import Processes

from .helpers import HERE, PLACE, RECORD, TODAY, copy_library, put

DEMO = HERE.parents[1] / "cases"


def _same(one: CheckResult, other: CheckResult) -> None:
    assert one.problems == other.problems
    assert one.counts == other.counts
    assert one.library == other.library


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library with every broken record at once: numbers used twice, references to what others lack, and so on."""
    root = copy_library(tmp_path_factory.mktemp("broken"))
    for number, file in enumerate(sorted((HERE / "invalid").glob("*/*.yaml"))):
        (root / "records" / "2025" / f"X-{number:03}.yaml").write_bytes(file.read_bytes())
    put(root, RECORD + "related: [{case: KW-2025-014, as: same-site}, {case: KW-2025-777, as: same-site}]\n")
    put(root, RECORD.replace("S-0001", "S-0099").replace("-014", "-015"), "records/2025/KW-2025-015.yaml")
    return root


def test_processes_tell_what_one_tells(broken: Path) -> None:
    alone = check_library(broken, today=TODAY)

    assert len(alone.problems) > 300
    _same(alone, check_library(broken, today=TODAY, workers=Processes(2)))


def test_the_store_tells_what_is_told_without(broken: Path, tmp_path: Path) -> None:
    alone = check_library(broken, today=TODAY)

    for _ in range(3):
        _same(alone, check_library(broken, today=TODAY, workers=Processes(2), cache=tmp_path / "kept"))


def test_the_demo_comes_out_the_same(tmp_path: Path) -> None:
    day = dt.date(2026, 12, 31)
    alone = check_library(DEMO, today=day)

    assert alone.library is not None
    for _ in range(2):
        _same(alone, check_library(DEMO, today=day, workers=Processes(2), cache=tmp_path / "kept"))


def test_progress_ends_with_all(library: Path) -> None:
    told: list[tuple[int, int]] = []

    check_library(library, today=TODAY, progress=lambda done, all_: told.append((done, all_)))

    assert told[-1] == (2, 2)


# After an edit

Edit = Callable[[Path], object]


def _replace(place: str, old: str, new: str) -> Edit:
    def edit(root: Path) -> None:
        text = (root / place).read_text("utf-8")
        assert old in text
        (root / place).write_text(text.replace(old, new), "utf-8")

    return edit


def _write(place: str, text: str | bytes) -> Edit:
    return lambda root: put(root, text, place)


def _drop(place: str) -> Edit:
    return lambda root: (root / place).unlink()


WITH_PHOTO = RECORD + "photos: [{file: one.png, caption: The nut}]\n"
EDITS: dict[str, list[Edit]] = {
    "a record": [_replace(PLACE, "minutes: 12", "minutes: 13")],
    "a record that is wrong and right again": [
        _replace(PLACE, "minutes: 12", "minutes: a lot"),
        _replace(PLACE, "minutes: a lot", "minutes: 12"),
    ],
    "a record that another names": [
        _write(
            "records/2025/KW-2025-015.yaml",
            RECORD.replace("-014", "-015") + "lesson: As in [[KW-2025-014]].\n",
        ),
        _drop(PLACE),
        _write(PLACE, RECORD),
    ],
    "a number used twice": [
        _write("records/2025/KW-2025-099.yaml", RECORD),
        _drop("records/2025/KW-2025-099.yaml"),
    ],
    "a record that is no text": [_write(PLACE, b"\xff"), _write(PLACE, RECORD)],
    "a record under another name": [lambda root: (root / PLACE).rename(root / "records/2025/other.yaml")],
    "a system": [
        _replace("systems.yaml", "id: S-0001", "id: S-0071"),
        _replace("systems.yaml", "id: S-0071", "id: S-0001"),
        _replace("systems.yaml", "2022-06", "2025-07"),
    ],
    "a name of the register": [_replace("systems.yaml", "name: ", "name: Old ")],
    "the register broken": [
        _replace("systems.yaml", "systems:", "system:"),
        _replace("systems.yaml", "system:", "systems:"),
    ],
    "the company": [
        _write(PLACE, RECORD + "first_diagnosis: {mode: flare-joint, cost: 6 USD}\n"),
        _replace("company.yaml", "USD", "EUR"),
    ],
    "a word of the house": [
        _write(PLACE, RECORD.replace("oil-film", "rink-odour")),
        _write(
            "house/symptoms.yaml",
            "- {key: rink-odour, name: Smell, what: It smells., ask: Since when?, also: [odour]}\n",
        ),
        _replace("house/symptoms.yaml", "It smells.", "See [[KW-2025-998]]."),
        _drop("house/symptoms.yaml"),
    ],
    "a photo": [
        _write(PLACE, WITH_PHOTO),
        _write("photos/KW-2025-014/one.png", b"no picture"),
        _write("photos/KW-2025-014/one.png", b""),
        _drop("photos/KW-2025-014/one.png"),
    ],
}


@pytest.mark.parametrize("edits", EDITS.values(), ids=EDITS)
def test_after_an_edit_the_store_tells_the_truth(edits: list[Edit], library: Path, tmp_path: Path) -> None:
    put(library, RECORD)
    before = check_library(library, today=TODAY, cache=tmp_path / "kept")
    for edit in edits:
        edit(library)

        now = check_library(library, today=TODAY)

        assert now != before
        _same(now, check_library(library, today=TODAY, cache=tmp_path / "kept"))
        _same(now, check_library(library, today=TODAY, cache=tmp_path / "kept"))
        before = now


def test_tomorrow_is_another_day(library: Path, tmp_path: Path) -> None:
    put(library, RECORD)
    days = [dt.date(2025, 2, 2), dt.date(2025, 2, 3), dt.date(2025, 12, 31), dt.date(2025, 2, 2)]

    told = []
    for day in days:
        result = check_library(library, today=day, cache=tmp_path / "kept")
        _same(result, check_library(library, today=day))
        told.append(any(p.rule == "date/future" and "KW-2025-014" in p.path for p in result.problems))

    assert told == [True, False, False, True]


# How much is done again


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[bytes]:
    """The records that were parsed."""
    parsed: list[bytes] = []
    parse = quick.data_of

    def note(data: bytes) -> object:
        parsed.append(data)
        return parse(data)

    monkeypatch.setattr(quick, "data_of", note)
    return parsed


def _digests(folder: Path) -> dict[str, str]:
    files = (file for file in folder.iterdir() if file.name != seen.NAME)
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}


def test_one_record_edited_is_one_record_read(library: Path, tmp_path: Path, read: list[bytes]) -> None:
    for i in range(300, 400):
        put(library, RECORD.replace("-014", f"-{i}"), f"records/2025/KW-2025-{i}.yaml")
    kept = tmp_path / "kept"
    check_library(library, today=TODAY, cache=kept)
    before = _digests(kept)
    assert len(read) > 100
    read.clear()

    check_library(library, today=TODAY, cache=kept)
    assert (len(read), _digests(kept)) == (0, before)

    file = put(library, RECORD.replace("-014", "-333") + "level: nonsense\n", "records/2025/KW-2025-333.yaml")
    check_library(library, today=TODAY, cache=kept)
    assert read == [file.read_bytes()]
    assert len(_digests(kept).items() - before.items()) == 1
    assert len(before) <= 2.5 * harvest.SHARDS + 2


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the records that were read."""
    names: list[str] = []
    read = source.read

    def note(file: Path, root: Path, *more: Any, **named: Any) -> object:
        if "records" in file.parts:
            names.append(file.name)
        return read(file, root, *more, **named)

    monkeypatch.setattr(source, "read", note)
    return names


def test_what_nobody_touched_is_not_opened(library: Path, tmp_path: Path, opened: list[str]) -> None:
    file, kept = put(library, RECORD), tmp_path / "kept"

    def check() -> list[str]:
        opened.clear()
        result = check_library(library, today=TODAY, cache=kept)
        names = sorted(set(opened))
        _same(result, check_library(library, today=TODAY))
        return names

    def age(seconds: float) -> None:
        """As if so much time had passed since all files were changed, however long the checks take."""
        patch.setattr(seen.time, "time_ns", lambda: now + int(seconds * 1e9))

    now = time.time_ns()
    with pytest.MonkeyPatch.context() as patch:
        age(0)
        all_ = check()
        assert len(all_) == 3
        assert check() == all_, "changed just now, and so perhaps again in the same tick"
        age(60)
        assert check() == all_
        assert check() == []
        times = file.stat().st_atime_ns, file.stat().st_mtime_ns
        text = file.read_bytes()
        file.write_bytes(text.replace(b"2025-02-0", b"2025-02-1"))
        os.utime(file, ns=times)  # of the same length, and as old, to whoever looks at these alone
        assert file.stat().st_mtime_ns == times[1]
        assert file.stat().st_size == len(text)
        assert check() == [file.name]
        other = file.with_name("KW-2025-015.yaml")
        os.rename(file, other)
        assert check() == [other.name]
        os.rename(other, file)
        file.chmod(0o640)
        assert check() == [file.name]
        assert check() == []
        file.unlink()
        file.symlink_to(put(library, RECORD, "elsewhere/KW-2025-014.yaml"))
        assert check() == [file.name]
        assert check() == [file.name], "what a link leads to may change without it"


@pytest.mark.parametrize("count", [1, 5, 64, 129, 1000, 5000])
def test_a_new_file_changes_one_file_of_the_store_or_two(count: int) -> None:
    """Files that follow each other lie together, in 64 to 160 runs of a large library, none much longer than others."""
    places = [("", f"records/2025/KW-2025-{n:04}.yaml") for n in range(1, 2 * count, 2)]
    before = dict(harvest._shards(places))
    assert [place for run in before.values() for place in run] == places
    assert len(before) <= 160
    assert len(before) >= min(count / 2, 60)
    assert max(map(len, before.values())) <= 4 * max(1, count // 64)
    new = ("", f"records/2025/KW-2025-{count:04}.yaml")
    after = dict(harvest._shards(sorted([*places, new])))
    if count.bit_length() == (count + 1).bit_length() and count % 64 != 63:
        changed = [name for name, run in after.items() if before.get(name) != run]
        assert len(changed) <= 2


def test_what_no_run_is_called_by_is_taken_away(library: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    check_library(library, today=TODAY, cache=kept)
    before = _digests(kept)
    (kept / "records-of-another-cut.pickle").write_bytes(b"old")
    check_library(library, today=TODAY, cache=kept)
    assert _digests(kept) == before


# A store that is not as it should be


def _cut(data: bytes) -> bytes:
    return data[: len(data) // 2]


def _flipped(data: bytes) -> bytes:
    return data[:-9] + bytes([data[-9] ^ 1]) + data[-8:]


def _foreign(data: bytes) -> bytes:
    payload = pickle.dumps("something else")
    return data[:32] + hashlib.sha256(payload).digest() + payload


@pytest.mark.parametrize("spoil", [_cut, _flipped, _foreign, lambda _: b"", lambda _: b"\x80\x05garbage"])
def test_a_broken_store_is_made_anew(spoil: Callable[[bytes], bytes], library: Path, tmp_path: Path) -> None:
    put(library, RECORD)
    kept = tmp_path / "kept"
    good = check_library(library, today=TODAY, cache=kept)
    before = _digests(kept)
    for file in kept.iterdir():
        file.write_bytes(spoil(file.read_bytes()))

    _same(good, check_library(library, today=TODAY, cache=kept))
    assert _digests(kept).keys() == before.keys()
    assert not {name for name, digest in _digests(kept).items() if name.startswith("part-") or not digest}
    _same(good, check_library(library, today=TODAY, cache=kept))


def test_a_folder_that_can_not_be_written_is_no_fault(library: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")

    _same(check_library(library, today=TODAY), check_library(library, today=TODAY, cache=tmp_path / "file"))


def test_two_libraries_of_one_name_do_not_mix(library: Path, tmp_path: Path) -> None:
    other = Path(shutil.copytree(library, tmp_path / "other" / "library"))
    put(other, RECORD.replace("S-0001", "S-0002"))
    put(library, RECORD)

    for root in (library, other, library):
        _same(check_library(root, today=TODAY), check_library(root, today=TODAY, cache=tmp_path / "kept"))
