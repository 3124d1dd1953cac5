"""Zips: what is right is filed, and every way of being wrong has its message."""

from __future__ import annotations

import stat
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from leaklore.intake import unpack
from leaklore.problem import errors

from .conftest import checked, run, told
from .made import PHOTO, RECORD, huge_png, pack, patched, picture, tagged, tree

FIRST = "# yaml-language-server: $schema=../../../schema/case.schema.json\n"
TAKEN = "case.zip: taken as cases/records/2025/KW-2025-003.yaml"


def test_a_record_gets_the_next_number_and_keeps_its_text() -> None:
    """Comments, order and line ends stay; only id: and the first line are new."""
    pack(Path("case.zip"), {"case.yaml": RECORD})
    assert told(run("case.zip")) == [TAKEN]
    text = Path("cases/records/2025/KW-2025-003.yaml").read_text("utf-8")
    assert text == FIRST + RECORD.replace("title:", "id: KW-2025-003\ntitle:")
    assert not errors(checked().problems)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (f"id: draft-7f3a # from the phone\n{RECORD}", f"id: KW-2025-003 # from the phone\n{RECORD}"),
        (f"{RECORD}id: 'draft-1'\n", f"{RECORD}id: KW-2025-003\n"),
        (f"id:\n{RECORD}", f"id: KW-2025-003\n{RECORD}"),
        (f"id: |\n  draft-1\n{RECORD}", f"id: KW-2025-003\n{RECORD}"),
        (f"# yaml-language-server: $schema=x.json\n{RECORD}id: draft-1\n", f"{RECORD}id: KW-2025-003\n"),
        (f"{RECORD}id: KW-2025-077", f"{RECORD}id: KW-2025-077\n"),
        (f"\ufeffid: draft-1\n{RECORD}", f"id: KW-2025-003\n{RECORD}"),
        (f"---\n{RECORD}id: draft-1\n", f"---\n{RECORD}id: KW-2025-003\n"),
    ],
)
def test_the_number_is_put_where_it_belongs(before: str, after: str) -> None:
    """However the phone wrote the line."""
    pack(Path("case.zip"), {"case.yaml": before})
    assert not run("case.zip").failed
    file = next(p for p in Path("cases/records/2025").iterdir() if p.name != "KW-2025-002.yaml")
    assert file.read_text("utf-8") == FIRST + after
    assert not errors(checked().problems)


def test_windows_line_ends_stay() -> None:
    """The lines put in have them too."""
    pack(Path("case.zip"), {"case.yaml": RECORD.replace("\n", "\r\n")})
    assert told(run("case.zip")) == [TAKEN]
    data = Path("cases/records/2025/KW-2025-003.yaml").read_bytes()
    assert data.count(b"\n") == data.count(b"\r\n") == RECORD.count("\n") + 2


def test_photos_are_filed_without_metadata_and_upright() -> None:
    """A clean one byte for byte, one with EXIF encoded anew."""
    plain, turned = picture(), picture(exif=tagged(6), comment=b"SECRET", icc_profile=b"SECRET")
    record = RECORD + PHOTO + "  - {file: turned.jpg, caption: Turned.}\n"
    pack(
        Path("case.zip"),
        {"case.yaml": record, "photos/nut.jpg": plain, "photos/turned.jpg": turned, "photos/": ""},
    )
    assert told(run("case.zip")) == [f"{TAKEN} with 2 photos"]
    folder = Path("cases/photos/KW-2025-003")
    assert sorted(p.name for p in folder.parent.rglob("*")) == ["KW-2025-003", "nut.jpg", "turned.jpg"]
    assert (folder / "nut.jpg").read_bytes() == plain
    made = (folder / "turned.jpg").read_bytes()
    assert b"SECRET" not in made
    assert b"Exif" not in made
    with Image.open(folder / "turned.jpg") as shown:
        assert shown.size == (32, 48)
        top, bottom = shown.convert("RGB").getpixel((16, 4)), shown.convert("RGB").getpixel((16, 44))
        assert top[0] > 200 > 60 > top[2]
        assert bottom[2] > 200 > 60 > bottom[0]
    assert not errors(checked().problems)


@pytest.mark.parametrize(
    ("name", "data", "whole"),
    [
        ("a.png", picture("PNG"), True),
        ("a.png", picture("PNG", exif=tagged()), False),
        ("a.webp", picture("WEBP"), True),
        ("a.webp", picture("WEBP", exif=tagged(), xmp=b"SECRETMAKER"), False),
        ("a.avif", picture("AVIF", exif=tagged()), False),
        ("a.jpeg", picture(progressive=True), True),
        ("a.jpg", picture() + b"SECRETMAKER behind the end", False),
        ("a.jpg", picture(xmp=b"SECRETMAKER"), False),
        ("a.jpg", picture(comment=b"SECRETMAKER"), False),
        ("a.png", picture("PNG", dpi=(72, 72)), True),
        ("a.png", picture("PNG") + b"SECRETMAKER", False),
    ],
)
def test_metadata_of_every_kind_goes(name: str, data: bytes, whole: bool) -> None:
    """And a picture without any is not touched."""
    record = RECORD + PHOTO.replace("nut.jpg", name)
    pack(Path("case.zip"), {"case.yaml": record, f"photos/{name}": data})
    assert told(run("case.zip")) == [f"{TAKEN} with 1 photo"]
    made = Path("cases/photos/KW-2025-003", name).read_bytes()
    assert (made == data) == whole
    assert b"SECRETMAKER" not in made
    with Image.open(Path("cases/photos/KW-2025-003", name)) as shown:
        assert not dict(shown.getexif())
        assert "xmp" not in shown.info


def test_the_same_zip_is_taken_once() -> None:
    """By a number of its own or without one, in one run or two."""
    data = {"case.yaml": RECORD + PHOTO, "photos/nut.jpg": picture(exif=tagged(3))}
    pack(Path("case.zip"), data)
    pack(Path("copy.zip"), data)
    assert told(run("case.zip", "copy.zip")) == [
        f"{TAKEN} with 1 photo",
        "copy.zip: already taken (the same as case.zip)",
    ]
    before = tree(Path("cases"))
    assert told(run("case.zip", "copy.zip")) == [
        "case.zip: already taken as cases/records/2025/KW-2025-003.yaml",
        "copy.zip: already taken as cases/records/2025/KW-2025-003.yaml",
    ]
    pack(Path("own.zip"), {"case.yaml": RECORD.replace("2025-02-03", "2025-08-03") + "id: KW-2025-077\n"})
    run("own.zip")
    assert told(run("own.zip")) == ["own.zip: already taken as cases/records/2025/KW-2025-077.yaml"]
    assert set(tree(Path("cases"))) - set(before) == {"records/2025/KW-2025-077.yaml"}


def test_a_draft_is_taken_once_however_often_it_comes() -> None:
    """Sent again as it was, after the office mended its record, with a photo more, or with other words."""
    draft = f"{FIRST}# from: draft-20250203-a1b2c3\n{RECORD}"
    pack(Path("case.zip"), {"case.yaml": draft})
    pack(Path("copy.zip"), {"case.yaml": draft})
    assert told(run("case.zip", "copy.zip")) == [TAKEN, "copy.zip: already taken (the same as case.zip)"]
    file = Path("cases/records/2025/KW-2025-003.yaml")
    assert file.read_text("utf-8").splitlines()[1] == "# from: draft-20250203-a1b2c3"
    there = f"already taken as {file}"
    assert told(run("copy.zip")) == [f"copy.zip: {there}"]
    new = "KW-2025-003 differs from what comes now and is left as it is: look what is new"
    pack(Path("more.zip"), {"case.yaml": draft + PHOTO, "photos/nut.jpg": picture()})
    pack(Path("less.zip"), {"case.yaml": draft.replace("still it frothed", "it frothed")})
    before = tree(Path("cases"))
    assert told(run("more.zip")) == [f"more.zip: {there} ({new})"]
    assert told(run("less.zip")) == [f"less.zip: {there} ({new})"]
    file.write_text(file.read_text("utf-8").replace("weeps", "weeps again"), "utf-8")
    assert told(run("case.zip")) == [f"case.zip: {there} ({new})"]
    assert before.keys() == tree(Path("cases")).keys()


def test_a_record_as_text_is_taken() -> None:
    """Copied from the form into a mail; its draft is known again when the zip follows."""
    draft = f"{FIRST}# from: draft-20250203-a1b2c3\n{RECORD}"
    Path("mail.yaml").write_text(draft, "utf-8")
    pack(Path("case.zip"), {"case.yaml": draft})
    file = "cases/records/2025/KW-2025-003.yaml"
    assert told(run("mail.yaml")) == [f"mail.yaml: taken as {file}"]
    brought = ("case.zip", "mail.yaml", file)
    assert told(run(*brought)) == [f"{one}: already taken as {file}" for one in brought]
    Path("mail.yml").write_text(RECORD + PHOTO, "utf-8")
    assert told(run("mail.yml"))[1:] == [  # and that it may be the same job
        "mail.yml:13:12: photos[0].file: photos/nut.jpg did not come with the text; "
        "take the phone's .zip, which holds it, or take the entry out [reference/photo]"
    ]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (b"", "mail.yaml:1:1: "),
        (b"title: [", "mail.yaml:1:9: "),
        (b"\xff", "mail.yaml:1:1: "),
        (b"# " + b"x" * 1_000_001, "mail.yaml:1:1: is 1.0 MB long; at most 1 MB are read; leave prose out"),
        (None, "mail.yaml:1:1: can't be read (No such file or directory)"),
    ],
)
def test_a_text_that_is_no_record_is_told(text: bytes | None, line: str) -> None:
    before = tree(Path("cases"))
    if text is not None:
        Path("mail.yaml").write_bytes(text)
    taken = run("mail.yaml")
    assert taken.failed
    assert told(taken)[0].startswith(line)
    assert tree(Path("cases")) == before


def test_two_states_of_a_draft_in_one_run_are_told() -> None:
    draft = f"{FIRST}# from: draft-20250203-a1b2c3\n{RECORD}"
    pack(Path("case.zip"), {"case.yaml": draft})
    pack(Path("later.zip"), {"case.yaml": draft + PHOTO, "photos/nut.jpg": picture()})
    taken = run("case.zip", "later.zip")
    assert told(taken) == [
        f"{one}.zip: case.yaml:4:1: is another state of the draft in {other}.zip; take only the later of the two [take/twice]"
        for one, other in (("case", "later"), ("later", "case"))
    ]
    assert [o.status for o in taken.outcomes] == ["refused", "refused"]


@pytest.mark.parametrize("record", ["[1, 2]\n", "5\n", f"{RECORD}id: KW-2025-003\n", "? id\n"])
def test_a_draft_s_line_above_anything_else(record: str) -> None:
    line = "# from: draft-20250203-a1b2c3\n"
    pack(Path("case.zip"), {"case.yaml": line + RECORD})
    run("case.zip")
    before = tree(Path("cases"))
    pack(Path("odd.zip"), {"case.yaml": line + record})
    assert told(run("odd.zip"))
    assert tree(Path("cases")) == before


def test_a_zip_that_a_computer_packed_anew_is_taken() -> None:
    """With the folder around it, and what computers add unasked."""
    around = "draft-20250203-a1b2c3/"
    pack(
        Path("case.zip"),
        [
            (zipfile.ZipInfo(around), ""),
            (f"{around}case.yaml", RECORD + PHOTO),
            (zipfile.ZipInfo(f"{around}photos/"), ""),
            (f"{around}photos/nut.jpg", picture()),
            (f"{around}photos/Thumbs.db", "thumbs"),
            (f"{around}.DS_Store", "store"),
            (f"__MACOSX/{around}._case.yaml", "fork"),
            (f"__MACOSX/{around}photos/._nut.jpg", "fork"),
        ],
    )
    assert told(run("case.zip")) == [f"{TAKEN} with 1 photo"]
    assert sorted(tree(Path("cases/photos"))) == ["KW-2025-003", "KW-2025-003/nut.jpg"]


def test_what_lies_beside_the_folder_is_told() -> None:
    """Nobody can tell which of two records is meant, or whose photo it is."""
    pack(Path("case.zip"), {"case.yaml": RECORD, "a/case.yaml": RECORD, "b/photos/nut.jpg": picture()})
    assert told(run("case.zip")) == [
        f"case.zip: {entry}:1:1: is nothing that is taken; {HINT}"
        for entry in ("a/case.yaml", "b/photos/nut.jpg")
    ]
    pack(Path("case.zip"), {"a/case.yaml": RECORD + PHOTO, "a/photos/nut.jpg": b"PK\x03\x04"})
    assert told(run("case.zip")) == [
        "case.zip: photos/nut.jpg:1:1: is a zip in the zip; put the picture itself there [photo/type]"
    ]


def test_a_record_with_as_many_photos_as_it_may_name_is_taken() -> None:
    names = [f"photo-{n}.jpg" for n in range(1, 41)]
    listed = "".join(f"  - {{file: {name}, caption: The nut.}}\n" for name in names)
    photos = {f"photos/{name}": picture(size=(40 + n, 32)) for n, name in enumerate(names)}
    pack(Path("case.zip"), {"case.yaml": f"{RECORD}photos:\n{listed}", **photos})
    assert told(run("case.zip")) == [f"{TAKEN} with 40 photos"]


def test_a_number_in_use_is_refused_and_nothing_overwritten() -> None:
    """Also where only the photo differs."""
    pack(Path("case.zip"), {"case.yaml": RECORD + PHOTO + "id: KW-2025-077\n", "photos/nut.jpg": picture()})
    run("case.zip")
    before = tree(Path("cases"))
    pack(
        Path("case.zip"),
        {"case.yaml": RECORD + PHOTO + "id: KW-2025-077\n", "photos/nut.jpg": picture(size=(9, 9))},
    )
    line = (
        'case.zip: case.yaml:14:5: id: "KW-2025-077" is used by cases/records/2025/KW-2025-077.yaml already; '
        "give this record a number of its own [id/twice]"
    )
    assert line in told(run("case.zip"))
    assert run("case.zip").failed
    assert tree(Path("cases")) == before


def test_what_is_right_is_taken_beside_what_is_wrong() -> None:
    """And numbers have no gap for it."""
    pack(Path("a.zip"), {"case.yaml": RECORD.replace("S-0001", "S-0009")})
    pack(Path("b.zip"), {"case.yaml": RECORD})
    assert told(run("a.zip", "b.zip")) == [
        'a.zip: case.yaml:5:9: system: "S-0009" is not in the register; did you mean "S-0001"? [reference/system]',
        "b.zip: taken as cases/records/2025/KW-2025-003.yaml",
    ]


def test_records_of_one_run_may_name_each_other() -> None:
    """Unless one of them is refused: then the other leads nowhere."""
    other = RECORD.replace("S-0001", "S-0005").replace("2025-02-03", "2024-02-03")
    one = f"{RECORD}id: KW-2025-050\nrelated: [{{case: KW-2024-050, as: same-site}}]\n"
    two = f"{other}id: KW-2024-050\nrelated: [{{case: KW-2025-050, as: same-site}}]\n"
    pack(Path("one.zip"), {"case.yaml": one})
    pack(Path("two.zip"), {"case.yaml": two.replace("flare-joint", "flare-join")})
    assert [o.status for o in run("one.zip", "two.zip").outcomes] == ["refused", "refused"]
    pack(Path("two.zip"), {"case.yaml": two})
    assert [o.status for o in run("one.zip", "two.zip").outcomes] == ["taken", "taken"]
    assert not errors(checked().problems)


def test_a_dry_run_writes_nothing() -> None:
    """It says the number that would be given."""
    pack(Path("case.zip"), {"case.yaml": RECORD})
    before = tree(Path())
    assert told(run("case.zip", dry=True)) == [TAKEN.replace("taken as", "would be taken as")]
    assert tree(Path()) == before


def test_photos_without_a_record_are_not_mixed_with_new_ones() -> None:
    """A folder of that number is told, not filled."""
    Path("cases/photos/KW-2025-003").mkdir(parents=True)
    pack(Path("case.zip"), {"case.yaml": RECORD + PHOTO, "photos/nut.jpg": picture()})
    assert told(run("case.zip")) == [
        "case.zip: case.yaml:2:1: id: there is a folder photos/KW-2025-003 already, without this record; "
        "look what it holds, and move it away [take/id]"
    ]


def test_a_library_that_leads_out_is_not_followed(place: Path) -> None:
    """A link in place of photos/."""
    (place / "away").mkdir()
    Path("cases/photos").symlink_to(place / "away")
    pack(Path("case.zip"), {"case.yaml": RECORD + PHOTO, "photos/nut.jpg": picture()})
    assert told(run("case.zip")) == [
        "case.zip:1:1: KW-2025-003.yaml can't be written (photos is a link out of the library); "
        "put that right and take it again [file]"
    ]
    assert not list((place / "away").iterdir())


@pytest.mark.parametrize("fail", ["open", "rename"])
def test_a_full_disk_leaves_nothing_behind(fail: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither photos nor half a record."""
    pack(Path("case.zip"), {"case.yaml": RECORD + PHOTO, "photos/nut.jpg": picture()})
    before = {n: d for n, d in tree(Path("cases")).items() if d is not None}
    true_open, true_rename = Path.open, Path.rename

    def full(self: Path, *args: object, **more: object) -> object:
        if (fail == "open" and self.name == "KW-2025-003.yaml") or (
            fail == "rename" and "photos" in self.parts
        ):
            raise OSError(28, "No space left on device")
        return (true_open if fail == "open" else true_rename)(self, *args, **more)  # type: ignore[call-overload]

    with monkeypatch.context() as patch:
        patch.setattr(Path, fail, full)
        lines = told(run("case.zip"))
    assert lines == [
        "case.zip:1:1: KW-2025-003.yaml can't be written (No space left on device); "
        "put that right and take it again [file]"
    ]
    assert {n: d for n, d in tree(Path("cases")).items() if d is not None} == before


def _info(name: str, mode: int = 0, method: int = zipfile.ZIP_DEFLATED) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.external_attr, info.compress_type = mode << 16, method
    return info


def _good(*more: tuple[object, bytes | str]) -> list[tuple[object, bytes | str]]:
    return [("case.yaml", RECORD), *more]


def _zip(*more: tuple[object, bytes | str]) -> Callable[[Path], object]:
    return lambda file: pack(file, _good(*more))


def _photo(data: bytes, name: str = "nut.jpg") -> Callable[[Path], object]:
    record = RECORD + PHOTO.replace("nut.jpg", name)
    return lambda file: pack(file, {"case.yaml": record, f"photos/{name}": data})


def _record(text: str | bytes) -> Callable[[Path], object]:
    return lambda file: pack(file, {"case.yaml": text})


def _cut(file: Path) -> None:
    pack(file, _good())
    file.write_bytes(file.read_bytes()[:-30])


def _spoilt(file: Path) -> None:
    pack(file, [(_info("case.yaml", method=zipfile.ZIP_STORED), RECORD)])
    file.write_bytes(file.read_bytes().replace(b"still it frothed", b"still it FROTHED", 1))


def _zip64(file: Path) -> None:
    pack(file, _good())
    data = file.read_bytes()
    at = data.rindex(b"PK\x05\x06")
    file.write_bytes(data[:at] + b"PK\x06\x07" + bytes(16) + data[at:])


def _two_names(file: Path) -> None:
    with pytest.warns(UserWarning, match="Duplicate name"):
        pack(file, [("case.yaml", RECORD), ("case.yaml", RECORD)])


def _lying(file: Path) -> None:
    """Its directory says a small size; the real one is larger."""
    pack(file, _good(("photos/a.jpg", bytes(3_000_000))))
    patched(file, size=1_000, packed=1_000)


def _cd_of_many(file: Path) -> None:
    pack(file, _good())
    data = bytearray(file.read_bytes())
    struct.pack_into("<H", data, data.rindex(b"PK\x05\x06") + 10, 60_000)
    file.write_bytes(data)


def _zero_first(file: Path) -> None:
    pack(file, _good(("photos/Z.jpg", "x")))
    file.write_bytes(file.read_bytes().replace(b"photos/Z.jpg", b"\0hotos/Z.jpg"))


HINT = "a zip holds case.yaml and photos/NAME.jpg, .jpeg, .png, .webp, .avif, .heic or .heif [take/zip]"
AGAIN = "send it again from the phone, or pack it anew [take/zip]"
PLAIN_NAME = "name it with plain letters and digits [take/zip]"
WHOLE = "case.zip:1:1: "
HOSTILE: dict[str, tuple[Callable[[Path], object], list[str]]] = {
    "empty": (lambda f: f.write_bytes(b""), [f"{WHOLE}is empty; {AGAIN}"]),
    "no zip": (lambda f: f.write_bytes(b"hello"), [f"{WHOLE}is not a zip; give the zip as the phone made it [take/zip]"]),
    "a folder": (lambda f: f.mkdir(), [f"{WHOLE}is not a plain file; name a file [take/zip]"]),
    "not there": (lambda f: None, [f"{WHOLE}can't be read (No such file or directory); check its name and its permissions [take/zip]"]),
    "cut": (_cut, [f"{WHOLE}is cut off or damaged; {AGAIN}"]),
    "only the magic": (lambda f: f.write_bytes(b"PK\x03\x04" + bytes(80)), [f"{WHOLE}is cut off or damaged; {AGAIN}"]),
    "spoilt": (_spoilt, [f"case.zip: case.yaml:1:1: is cut off or damaged; {AGAIN}"]),
    "nothing in it": (lambda f: pack(f, {}), [f"{WHOLE}holds nothing; {AGAIN}"]),
    "zip64": (_zip64, [f"{WHOLE}is a ZIP64 file; pack it as a plain zip [take/zip]"]),
    "no record": (lambda f: pack(f, {"photos/": ""}), [f"{WHOLE}holds no case.yaml; write one record of that name into it [take/zip]"]),
    "dots": (_zip(("../evil.yaml", "x")), ["case.zip: ../evil.yaml:1:1: leads out of the zip; name it as photos/NAME.jpg [take/zip]"]),
    "dots inside": (_zip(("photos/../../evil.jpg", "x")), ["case.zip: photos/../../evil.jpg:1:1: leads out of the zip; name it as photos/NAME.jpg [take/zip]"]),
    "absolute": (_zip(("/etc/evil", "x")), ["case.zip: /etc/evil:1:1: has an absolute path; name it as photos/NAME.jpg [take/zip]"]),
    "drive": (_zip(("C:/evil.jpg", "x")), ["case.zip: C:/evil.jpg:1:1: has an absolute path; name it as photos/NAME.jpg [take/zip]"]),
    "backslash": (_zip(("photos\\..\\evil.jpg", "x")), [f"case.zip: photos\\..\\evil.jpg:1:1: has a backslash in its name; {PLAIN_NAME}"]),
    "escape in a name": (_zip(("photos/\x1b[2J.jpg", "x")), [f"case.zip: photos/\ufffd[2J.jpg:1:1: has a name that can't be printed; {PLAIN_NAME}"]),
    "zero byte in a name": (_zero_first, [f"case.zip: \ufffdhotos/Z.jpg:1:1: has a name that can't be printed; {PLAIN_NAME}"]),
    "link": (_zip((_info("photos/a.jpg", stat.S_IFLNK | 0o777), "/etc/passwd")), ["case.zip: photos/a.jpg:1:1: is a link; put the file itself into the zip [take/zip]"]),
    "pipe": (_zip((_info("photos/a.jpg", stat.S_IFIFO), "")), ["case.zip: photos/a.jpg:1:1: is not a plain file; leave it out [take/zip]"]),
    "encrypted": (lambda f: patched(pack(f, _good(("photos/a.jpg", "x"))), flags=1), ["case.zip: photos/a.jpg:1:1: is encrypted; pack it without a password [take/zip]"]),
    "odd packing": (_zip((_info("photos/a.jpg", method=zipfile.ZIP_LZMA), b"x" * 99)), ["case.zip: photos/a.jpg:1:1: is packed in a way that is not read here; pack it as a plain zip [take/zip]"]),
    "zip in zip": (_zip(("more.zip", "PK")), [f"case.zip: more.zip:1:1: is a zip in the zip; {HINT}"]),
    "zip as photo": (_photo(b"PK\x03\x04 and more"), ["case.zip: photos/nut.jpg:1:1: is a zip in the zip; put the picture itself there [photo/type]"]),
    "unknown": (_zip(("notes.txt", "x")), [f"case.zip: notes.txt:1:1: is nothing that is taken; {HINT}"]),
    "deep": (_zip(("photos/more/a.jpg", "x")), [f"case.zip: photos/more/a.jpg:1:1: is nothing that is taken; {HINT}"]),
    "second record": (_zip(("Case.YAML", "x")), ['case.zip: Case.YAML:1:1: is called like "case.yaml"; give each a name of its own [take/zip]']),
    "two of a name": (_two_names, ['case.zip: case.yaml:1:1: is called like "case.yaml"; give each a name of its own [take/zip]']),
    "odd photo name": (_zip(("photos/a b.jpg", "x")), ["case.zip: photos/a b.jpg:1:1: has a name that no record can hold; write letters, digits, . _ - and end in .jpg, .jpeg, .png, .webp, .avif, .heic or .heif [take/zip]"]),
    "capital ending": (_zip(("photos/a.JPG", "x")), ["case.zip: photos/a.JPG:1:1: has a name that no record can hold; write letters, digits, . _ - and end in .jpg, .jpeg, .png, .webp, .avif, .heic or .heif [take/zip]"]),
    "too many": (_zip(*((f"photos/{i}.jpg", "x") for i in range(60))), [f"{WHOLE}holds more than 60 files; leave some out [take/zip]"]),
    "says too many": (_cd_of_many, [f"{WHOLE}holds more than 60 files; leave some out [take/zip]"]),
    "too long": (lambda f: patched(pack(f, _good(("photos/a.jpg", "x"))), size=25_000_001), ["case.zip: photos/a.jpg:1:1: is more than 25 MB long; make it smaller or leave it out [take/zip]"]),
    "too much": (lambda f: patched(pack(f, _good(("photos/a.jpg", "x"))), size=120_000_001), [f"{WHOLE}unpacks to more than 120 MB; leave photos out [take/zip]"]),
    "bomb": (_zip(("photos/a.jpg", bytes(3_000_000))), ["case.zip: photos/a.jpg:1:1: unpacks to more than 200 times its size; leave it out [take/zip]"]),
    "lying bomb": (_lying, [f"case.zip: photos/a.jpg:1:1: is cut off or damaged; {AGAIN}"]),
    "not named": (_zip(("photos/a.jpg", picture())), ["case.zip: photos/a.jpg:1:1: is not named under photos: of the record; name it with a caption, or leave it out [take/photo]"]),
    "not there photo": (_record(RECORD + PHOTO), ["case.zip: case.yaml:13:12: photos[0].file: there is no photos/nut.jpg in the zip; put the picture there or take the entry out [reference/photo]"]),
    "named twice": (
        lambda f: pack(f, {"case.yaml": RECORD + PHOTO + "  - {file: nut.jpg, caption: Again.}\n", "photos/nut.jpg": picture()}),
        ['case.zip: case.yaml:14:12: photos[1].file: "nut.jpg" is named twice; keep one of the two [reference/photo]'],
    ),
    "wrong type": (_photo(picture("PNG")), ["case.zip: photos/nut.jpg:1:1: is a PNG, not a JPEG; name it .png [photo/type]"]),
    "other type": (_photo(picture("GIF")), ["case.zip: photos/nut.jpg:1:1: is no picture that can be read; save it as JPEG, PNG, WebP, AVIF or HEIC [photo/type]"]),
    "no picture": (_photo(b"<svg onload='x'/>", "a.png"), ["case.zip: photos/a.png:1:1: is no picture that can be read; save it as JPEG, PNG, WebP, AVIF or HEIC [photo/type]"]),
    "empty photo": (_photo(b""), ["case.zip: photos/nut.jpg:1:1: is empty; send it again [photo/file]"]),
    "cut photo": (_photo(picture(size=(200, 200), quality=95)[:1500]), ["case.zip: photos/nut.jpg:1:1: is cut off or damaged; send it again [photo/whole]"]),
    "cut png": (_photo(picture("PNG", size=(200, 200))[:-30], "a.png"), ["case.zip: photos/a.png:1:1: is cut off or damaged; send it again [photo/whole]"]),
    "pixels": (_photo(huge_png(10_000, 6_001), "a.png"), ["case.zip: photos/a.png:1:1: has more than 60 megapixels; save it smaller [photo/pixels]"]),
    "pixel bomb": (_photo(huge_png(60_000, 60_000), "a.png"), ["case.zip: photos/a.png:1:1: has more than 60 megapixels; save it smaller [photo/pixels]"]),
    "record not utf-8": (_record(RECORD.encode() + b"# \xff"), ["case.zip: case.yaml:12:3: is not UTF-8 text (byte 0xff); save the file with the encoding UTF-8 [yaml]"]),
    "record empty": (_record(""), ["case.zip: case.yaml:1:1: is empty; fill it in or delete it [yaml]"]),
    "record a list": (_record("- a\n"), ["case.zip: case.yaml:1:1: the file: [\"a\"] is not a block of keys; write one key a line, and begin with `id:` [schema/type]"]),
    "record too long": (_record(RECORD + "# " + " ".join(map(str, range(180_000)))), ["case.zip: case.yaml:1:1: is 1.1 MB long; at most 1 MB are read; leave prose out [take/zip]"]),
    "anchor": (_record(RECORD.replace("title: ", "title: &a ")), ['case.zip: case.yaml:2:8: "&a" begins with &, which means an anchor in YAML; put the text in quotes, or leave it out [yaml]']),
    "no branch": (_record(RECORD.replace("branch: Ketterwick\n", "")), ['case.zip: case.yaml:2:1: the file: "branch" is missing; add it, for example `branch: Ketterwick` [schema/required]']),
    "unknown branch": (_record(RECORD.replace("Ketterwick", "Ketterwik")), ['case.zip: case.yaml:4:9: branch: "Ketterwik" is not a branch of the company; did you mean "Ketterwick"? [reference]']),
    "bad number": (_record(f"id: ../../x\n{RECORD}"), ['case.zip: case.yaml:1:5: id: "../../x" does not have the form wanted here; write for example KW-2025-014 [schema/pattern]']),
    "number of elsewhere": (_record(f"id: OS-2025-001\n{RECORD}"), ['case.zip: case.yaml:5:9: branch: Ketterwick numbers its cases KW-…, this one is "OS-2025-001"; correct the branch or the number [id/branch]']),
    "future": (_record(RECORD.replace("2025-02-03", "2026-02-03")), ["case.zip: case.yaml:3:11: reported: 2026-02-03 lies in the future; write the day on which it happened [date/future]"]),
    "proof": (_record(RECORD.replace("proof: point", "proof: held")), ["case.zip: case.yaml:10:60: cause.proof: held, but there is neither a hold test nor a follow-up that found it holding; add fix.hold_test: or follow_up:, or write proof: point [proof/held]"]),
    "reference": (_record(RECORD.replace("frothed", "frothed, see [[KW-2025-088]]")), ['case.zip: case.yaml:11:53: story: "[[KW-2025-088]]" leads nowhere; did you mean "KW-2025-002"? [reference/prose]']),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_wrong_is_told_exactly_and_nothing_written(name: str, place: Path) -> None:
    """Exit status 1, one line for each fault, not a file more than before."""
    make, lines = HOSTILE[name]
    make(Path("case.zip"))
    before = tree(place)
    taken = run("case.zip")
    assert told(taken) == lines
    assert taken.failed
    assert tree(place) == before


def test_there_are_enough_of_them() -> None:
    """Forty ways at least."""
    assert len(HOSTILE) >= 40


def test_all_faults_of_a_file_come_in_one_run() -> None:
    """Of its packing, its photos and its record."""
    record = RECORD.replace("S-0001", "S-0009") + PHOTO
    pack(Path("case.zip"), {"case.yaml": record, "photos/nut.jpg": b"x", "../a": "x", "b.zip": "x"})
    assert [line.split("[")[-1] for line in told(run("case.zip"))] == [
        "take/zip]", "take/zip]", "reference/system]", "photo/type]",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("limits", "line"),
    [
        (unpack.PHONE, "unpacks to more than 200 times its size"),
        (replace(unpack.PHONE, ratio=9_999, each=1_000_000), "is more than 1 MB long"),
        (replace(unpack.PHONE, ratio=9_999, whole=2_000_000), "unpacks to more than 2 MB"),
    ],
)
def test_a_bomb_is_stopped_while_it_flows(
    limits: unpack.Limits, line: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where nothing was seen in its directory: not more than the limit is unpacked."""
    pack(Path("case.zip"), [("photos/a.jpg", bytes(3_000_000))])
    read = []
    true_read = zipfile.ZipExtFile.read
    monkeypatch.setattr(unpack, "_of_entry", lambda *_: iter(()))
    monkeypatch.setattr(unpack, "_declared", lambda _: 0)
    monkeypatch.setattr(
        zipfile.ZipExtFile,
        "read",
        lambda self, n: read.append(n) or true_read(self, n),  # type: ignore[func-returns-value]
    )
    entries, faults = unpack.read(Path("case.zip"), limits, lambda _: None)
    assert entries == {}
    assert [f.message for f in faults] == [line]
    assert sum(read) <= 2_100_000
