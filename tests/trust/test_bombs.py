"""Files that would fill the memory, run something or lead elsewhere when they are read: told in a line, and no more.

The limits themselves are tested where they stand (tests/records/test_parse.py, tests/intake); here each bomb goes into every
kind of file that somebody may send.
"""

from __future__ import annotations

import os
import re
import struct
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import leaklore.records.check as checking
from intake.conftest import _shipped
from intake.made import MAP, PHOTO, RECORD, ROW, pack, picture, sheet
from leaklore.cli import main
from leaklore.errors import QuantityError
from leaklore.pages.data_form import cell
from leaklore.records import quantity
from leaklore.records.check import check
from site_fixture import ROOT
from website.libraries import CASE, library_of, write_yaml

from .library import vectors

LONG = 900_000
YAML_BOMBS = {
    "aliases": "zz: &a [x, x, x]\nzy: &b [*a, *a, *a]\nzx: [*b, *b, *b]\n",
    "merge key": "zz: &a {id: x}\nzy: {<<: *a}\n",
    "flow nest": f"zz: {'[' * 50_000}\n",
    "block nest": "".join(" " * i + "zz:\n" for i in range(300)),
    "python tag": "zz: !!python/object/apply:os.mkdir [hit]\n",
    "python name": "zz: !!python/name:os.system\n",
    "own tag": "zz: !include /etc/passwd\n",
    "binary": "zz: !!binary aGl0\n",
    "directive": "%TAG ! tag:hit,2000:\n",
    "twice": "zz: 1\nzz: 2\n",
    "prototype": "__proto__: {id: x}\nconstructor: x\n",
    "list as key": "? [a, b]\n: x\n",
    "huge scalar": f"zz: {'a' * LONG}\n",
    "huge quoted scalar": f'zz: "{"0" * LONG}"\n',
    "huge key": f"{'k' * LONG}: 1\n",
    "huge number": f"zz: {'9' * 5000}\n",
    "many keys": "".join(f"k{i}: 1\n" for i in range(5_000)),
    "zero byte": "zz: a\0b\n",
    "escape": 'zz: "\\x1b[2J"\n',
    "other encoding": "zz: ".encode("utf-16").decode("latin-1") + "\n",
    "second document": "---\nzz: 1\n",
}
PLACE = re.compile(r"^[^\n]*?:\d+:\d+: \S", re.MULTILINE)


def front(name: str) -> str:
    """A page of the guide."""
    return (ROOT / "generator/leaklore/guide" / name).read_text("utf-8")


FILES: dict[str, str] = {
    "records/2025/KW-2025-001.yaml": "",
    "systems.yaml": "sites: []\nsystems: []\n",
    "company.yaml": "",
    "reading/a-list.yaml": "key: a-list\ntitle: A list\nfor: All\nlevel: apprentice\nitems: []\n",
    "house/actions.yaml": "actions: []\n",
    "house/failure-modes/flare-joint.md": front("failure-modes/flare-joint.md"),
}
"""What a bomb is put into; where the text is empty, the library has one."""


@pytest.fixture(autouse=True)
def quick(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The shipped guide is read once for all; where a test asks about the guide, anew."""
    if "failure-modes" not in request.node.name:
        monkeypatch.setattr(checking, "read_guide", lambda *_: _shipped())
        monkeypatch.setattr(checking, "check_entries", lambda *_: None)
        monkeypatch.setattr(checking, "check_prose", lambda *_: None)


def said(done: Result) -> str:
    """What a run said: it ended by itself, with a status and no traceback."""
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert "Traceback" not in done.output
    return done.output


@pytest.mark.parametrize("file", FILES)
def test_a_bomb_in_any_file_of_the_library_is_a_line(file: str, tmp_path: Path) -> None:
    library = library_of(tmp_path / "cases", CASE)
    at = library / file
    at.parent.mkdir(parents=True, exist_ok=True)
    good = FILES[file] or at.read_text("utf-8")
    for name, bomb in YAML_BOMBS.items():
        text = good.replace("---\n", f"---\n{bomb}", 1) if file.endswith(".md") else good + bomb
        at.write_text(text, "utf-8")
        found = check(library)
        lines = [p.text() for p in found.problems if p.severity == "error"]
        assert lines, f"{name} was taken"
        assert all(PLACE.match(line) for line in lines), (name, lines[0][:300])
        assert any(line.startswith(f"{library.name}/{file}:") for line in lines), (name, lines[0][:300])
        assert max(map(len, lines)) < 2_000, name
        assert len(lines) <= 110, name
    assert not (Path.cwd() / "hit").exists()


def test_check_ends_with_status_1_and_says_where(tmp_path: Path) -> None:
    library = library_of(tmp_path / "cases", CASE)
    write_yaml(library / "systems.yaml", {"sites": [], "systems": []})
    for bomb in ("aliases", "python tag", "zero byte", "escape"):
        file = library / "records/2025/KW-2025-001.yaml"
        write_yaml(file, CASE)
        file.write_text(file.read_text("utf-8") + YAML_BOMBS[bomb], "utf-8")
        done = CliRunner().invoke(main, ["check", "--cases", str(library)])
        assert done.exit_code == 1
        assert PLACE.search(said(done)), done.output
        assert "\x1b[2J" not in done.output


@pytest.mark.parametrize("bomb", YAML_BOMBS)
def test_a_bomb_in_the_map_of_a_sheet_is_a_line(
    bomb: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    library_of(Path("cases"), CASE)
    Path("jobs.csv").write_text(sheet(ROW), "utf-8")
    Path("map.yaml").write_text(MAP + YAML_BOMBS[bomb], "utf-8")
    done = CliRunner().invoke(main, ["take", "jobs.csv", "--map", "map.yaml", "--cases", "cases"])
    assert done.exit_code == 1
    assert PLACE.search(said(done)), done.output[:500]
    assert len(done.output) < 100_000
    assert sorted(p.name for p in Path("cases/records").rglob("*.yaml")) == ["KW-2025-001.yaml"]
    assert not Path("hit").exists()


def test_every_sign_that_no_text_holds_is_refused_where_it_stands(tmp_path: Path) -> None:
    """As it is, and written as an escape in quotes."""
    library = library_of(tmp_path / "cases", CASE)
    file = library / "records/2025/KW-2025-001.yaml"
    good = file.read_text("utf-8")
    assert not [p for p in check(library).problems if p.severity == "error"]
    for text in vectors(refused=True):
        sign = next(c for c in text if not (c.isprintable() or c.isspace()) or c in "\x0b\x0c")
        quoted = text.encode("unicode_escape").decode("ascii")
        for line in (f"lesson: {text}\n", f'lesson: "{quoted}"\n'):
            file.write_bytes((good + line).encode("utf-8"))
            (problem,) = [p for p in check(library).problems if p.severity == "error"]
            assert f"holds a control character (U+{ord(sign):04X})" in problem.message, text
            assert problem.text().startswith(
                f"cases/records/2025/KW-2025-001.yaml:{good.count(chr(10)) + 1}:"
            )


@pytest.mark.parametrize(
    "text", ["0" * LONG + "x", "1 kg" + " " * LONG + "1", "9" * LONG, "-." * LONG, "1 " + "k" * LONG]
)
def test_an_endless_quantity_is_told_at_once_and_shortly(text: str) -> None:
    for dimension in ("mass", "money", "reading"):
        with pytest.raises(QuantityError, match="is too long for a quantity") as fault:
            quantity.read(text, dimension)
        assert len(str(fault.value)) < 100


# Zips and pictures.


def overlapping(file: Path) -> None:
    """Many entries in the directory that all lead to the same packed bytes (the way of the 42-type bombs without nesting)."""
    pack(file, {"case.yaml": RECORD, "photos/a0.jpg": os.urandom(50_000)})
    data = bytearray(file.read_bytes())
    end = data.rindex(b"PK\x05\x06")
    at = data.rindex(b"PK\x01\x02")
    entry = bytes(data[at:end])
    more = b"".join(entry.replace(b"photos/a0.jpg", b"photos/a%d.jpg" % i) for i in range(1, 10))
    count, size = struct.unpack("<HI", data[end + 10 : end + 16])
    tail = bytearray(data[end:])
    struct.pack_into("<HHI", tail, 8, count + 9, count + 9, size + len(more))
    file.write_bytes(bytes(data[:end]) + more + bytes(tail))


def stretched(kind: bytes, head: bytes) -> bytes:
    """A small PNG with a chunk that unpacks to 60 MB."""
    plain = picture("PNG")
    body = head + zlib.compress(bytes(60_000_000), 9)
    chunk = struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return plain[:33] + chunk + plain[33:]


def with_photo(data: bytes, name: str = "nut.png") -> Callable[[Path], object]:
    """A zip whose record names one photo."""
    record = RECORD + PHOTO.replace("nut.jpg", name)
    return lambda file: pack(file, {"case.yaml": record, f"photos/{name}": data})


ZIPS: dict[str, tuple[Callable[[Path], object], str]] = {
    "overlapping": (overlapping, "case.zip:1:1: is cut off or damaged"),
    "ten thousand": (
        lambda f: pack(f, {"case.yaml": RECORD, **{f"photos/{i}.jpg": "x" for i in range(10_000)}}),
        "case.zip:1:1: holds more than 60 files",
    ),
    "only the case differs": (
        lambda f: pack(f, {"case.yaml": RECORD, "photos/nut.jpg": "x", "photos/NUT.jpg": "x"}),
        'case.zip: photos/NUT.jpg:1:1: is called like "photos/nut.jpg"',
    ),
    "a link for the folder": (
        lambda f: pack(f, [("case.yaml", RECORD), (_link("photos"), "/etc")]),
        "case.zip: photos:1:1: is a link",
    ),
    "a long name": (
        lambda f: pack(f, {"case.yaml": RECORD, f"photos/{'a' * 30_000}.jpg": "x"}),
        "case.zip: photos/aaa",
    ),
    "network path": (
        lambda f: pack(f, {"case.yaml": RECORD, "//127.0.0.1/share/a.jpg": "x"}),
        "case.zip: //127.0.0.1/share/a.jpg:1:1: has an absolute path",
    ),
    "text that stretches": (with_photo(stretched(b"zTXt", b"Comment\0\0")), "case.zip: photos/nut.png:1:1: is cut off or damaged"),
    "cut webp": (with_photo(picture("WEBP", (200, 200))[:-40], "nut.webp"), "case.zip: photos/nut.webp:1:1: is cut off or damaged"),
    "cut avif": (with_photo(picture("AVIF", (200, 200))[:-40], "nut.avif"), "case.zip: photos/nut.avif:1:1: is cut off or damaged"),
}  # fmt: skip


def _link(name: str) -> zipfile.ZipInfo:
    made = zipfile.ZipInfo(name)
    made.create_system, made.external_attr = 3, 0o120777 << 16
    return made


@pytest.mark.parametrize("name", ZIPS)
def test_a_hostile_zip_is_told_and_nothing_written(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    library_of(Path("cases"), CASE)
    make, line = ZIPS[name]
    make(Path("case.zip"))
    before = sorted(Path("cases").rglob("*"))
    done = CliRunner().invoke(main, ["take", "case.zip", "--cases", "cases"])
    assert done.exit_code == 1
    assert line in said(done)
    assert max(map(len, done.output.splitlines())) < 2_000
    assert sorted(Path("cases").rglob("*")) == before
    assert {p.name for p in Path().iterdir()} <= {"cases", "case.zip", ".cache"}


def test_a_profile_that_stretches_is_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A colour profile of 60 MB is not kept, and the picture loses nothing."""
    monkeypatch.chdir(tmp_path)
    write_yaml(
        library_of(Path("cases"), CASE) / "systems.yaml",
        {
            "sites": [{"key": "row", "name": "Row", "branch": "Ketterwick", "setting": "residential"}],
            "systems": [{"id": "S-0001", "site": "row", "kind": "ductless-split", "refrigerant": "R-32"}],
        },
    )
    with_photo(stretched(b"iCCP", b"icc\0\0"))(Path("case.zip"))
    done = CliRunner().invoke(main, ["take", "case.zip", "--cases", "cases"])
    said(done)
    for photo in Path("cases").rglob("*.png"):
        assert photo.stat().st_size < 10_000
        assert b"iCCP" not in photo.read_bytes()


def test_no_cell_of_a_table_begins_a_formula() -> None:
    """But for the apostrophe nothing is changed."""
    for text in vectors():
        made = cell(text)
        assert made in (text, f"'{text}")
        assert not re.match(r"[=+\-@\t\r\n＝＋－＠]", made), text
