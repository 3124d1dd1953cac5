"""What is linked ahead of a build: what is taken over comes to its place, and of the rest nothing stays."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from leaklore.pages.site import Unit
from leaklore.website import ahead, memory
from leaklore.website.memory import FIRST, KNOWN, Kept, Past, load, shard
from leaklore.website.press import SEARCH, Printed, Written, settle

PAGE, OLD, PIECE = ("case", "KW-2025-001"), ("case", "KW-2025-002"), ("data", "KW-2025-0")
FILES: dict[Unit, tuple[str, ...]] = {
    PAGE: ("cases/KW-2025-001/index.html",),
    OLD: ("cases/KW-2025-002/index.html", "cases/KW-2025-002/more/page.html"),
    PIECE: ("data/cases/KW-2025-0.json", "data/records/KW-2025-0.tar.gz"),
    SEARCH: ("data/search/facets.bin",),
}


@pytest.fixture
def past(tmp_path: Path) -> Past:
    """A site with a few files, and what is kept of it in `kept`."""
    units = {}
    for unit, paths in FILES.items():
        files = tuple(settle(Written(p, 3, "", b"old"), tmp_path / "site") for p in paths)
        marks = tuple(memory._there(f"{tmp_path}/site/{p}") for p in paths)
        units[unit] = Kept("key", Printed(unit, (), files, {}), marks)
    past = Past(units, ("facts", {}))
    memory._save((past, {shard(unit) for unit in units}, True, tmp_path / "kept"))
    (tmp_path / "site.new").mkdir()
    return past


def begun(at: Path) -> ahead.Ahead:
    found = ahead.begin(at / "kept", at / "site", at / "site.new")
    assert found is not None
    return found


def entries(folder: Path) -> set[str]:
    """Files and folders."""
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*")}


def test_what_is_kept_is_read_in_two_steps(tmp_path: Path, past: Past) -> None:
    first = load(tmp_path / "kept", first=True)
    assert {*first.units} == {SEARCH}
    assert first.known == past.known
    whole = first.whole()
    assert {*whole.units} == {*FILES}
    assert whole.units[SEARCH] is first.units[SEARCH]
    assert {FIRST, KNOWN} < {p.name for p in (tmp_path / "kept").iterdir()}


@pytest.mark.parametrize("name", [KNOWN, FIRST])
def test_a_part_that_can_not_be_read_hides_nothing_that_was_linked(
    tmp_path: Path, past: Past, name: str
) -> None:
    """After a power loss a file may be empty: what the other process linked must still be known here."""
    (tmp_path / "kept" / name).write_bytes(b"")
    look, new = begun(tmp_path), tmp_path / "site.new"
    whole = load(tmp_path / "kept", first=True).whole()
    assert {*FILES} - {SEARCH} <= {*whole.units}
    look.settle(whole, {PAGE})
    assert {f for f in entries(new) if (new / f).is_file()} == {*FILES[PAGE]}


def test_a_new_file_leaves_alone_what_was_linked(tmp_path: Path) -> None:
    """The link and the site that is read meanwhile are one file."""
    settle(Written("cases/a.html", 3, "", b"old"), tmp_path / "site")
    memory.link(tmp_path / "site", ["cases/a.html"], tmp_path / "site.new")
    settle(Written("cases/a.html", 3, "", b"new"), tmp_path / "site.new")
    assert (tmp_path / "site/cases/a.html").read_bytes() == b"old"
    assert (tmp_path / "site.new/cases/a.html").read_bytes() == b"new"


def test_what_is_taken_over_comes_to_its_place_and_the_rest_goes(tmp_path: Path, past: Past) -> None:
    look, new = begun(tmp_path), tmp_path / "site.new"
    assert look.gone == frozenset()
    assert not look.covers(SEARCH)
    assert look.settle(past, [PAGE, PIECE])
    assert entries(new) == {
        *("cases", "cases/KW-2025-001", "cases/KW-2025-001/index.html"),
        *("data", "data/cases", "data/records", *FILES[PIECE]),
    }
    for path in (*FILES[PAGE], *FILES[PIECE]):
        assert os.path.samefile(new / path, tmp_path / "site" / path), "linked, not copied"


def test_a_file_that_somebody_touched_is_not_taken_over(tmp_path: Path, past: Past) -> None:
    (tmp_path / "site" / FILES[OLD][1]).write_text("somebody was here")
    (tmp_path / "site" / FILES[PAGE][0]).unlink()
    look = begun(tmp_path)
    assert look.gone == {OLD, PAGE}
    look.settle(past, [PIECE])
    assert not (tmp_path / "site.new" / "cases").exists()


def test_folders_that_are_there_already_are_filled(tmp_path: Path, past: Past) -> None:
    """The search is written while the site before is looked at."""
    look, new = begun(tmp_path), tmp_path / "site.new"
    settle(Written(FILES[SEARCH][0], 3, "", b"new"), new)
    (new / "cases").mkdir()
    look.settle(past, [PAGE, OLD, PIECE])
    assert {p for p in entries(new) if (new / p).is_file()} == {p for paths in FILES.values() for p in paths}
    assert (new / FILES[SEARCH][0]).read_bytes() == b"new"
    assert (tmp_path / "site" / FILES[SEARCH][0]).read_bytes() == b"old"


def test_what_is_made_anew_leaves_the_site_before_as_it_is(tmp_path: Path, past: Past) -> None:
    look, new = begun(tmp_path), tmp_path / "site.new"
    look.settle(past, [OLD, PIECE])
    settle(Written(FILES[PAGE][0], 3, "", b"new"), new)
    assert (new / FILES[PAGE][0]).read_bytes() == b"new"
    assert (tmp_path / "site" / FILES[PAGE][0]).read_bytes() == b"old"


def test_without_a_build_before_or_after_a_huge_one_nobody_looks(
    tmp_path: Path, past: Past, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ahead.begin(tmp_path / "nothing", tmp_path / "site", tmp_path / "site.new") is None
    (tmp_path / "empty").mkdir()
    assert ahead.begin(tmp_path / "empty", tmp_path / "site", tmp_path / "site.new") is None
    monkeypatch.setattr(ahead, "MANY_BYTES", 10)
    assert ahead.begin(tmp_path / "kept", tmp_path / "site", tmp_path / "site.new") is None


def test_a_look_that_nobody_asks_for_ends(
    tmp_path: Path, past: Past, monkeypatch: pytest.MonkeyPatch
) -> None:
    look = begun(tmp_path)
    assert look._looking is not None
    process = look._looking._process
    look.end()
    assert not process.is_alive()
    look.end()
