"""HEICs in a phone's zip: filed as JPEGs, upright and bare, and called so in the record."""

from __future__ import annotations

import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from heic_made import AS_TAKEN, NAMES, SECRETS, as_large, coded_as, corners, file, near, tiles
from leaklore.intake import photo
from leaklore.intake.fault import Fault
from leaklore.problem import errors

from .conftest import checked, run, told
from .made import RECORD, pack, picture, tagged, tree

TAKEN = "case.zip: taken as cases/records/2025/KW-2025-003.yaml"
ONE = "photos:\n  - {file: port.heic, caption: The port.}\n"
FOLDER = Path("cases/photos/KW-2025-003")


def _clean(data: bytes) -> Image.Image:
    made = photo.clean("port.heic", data)
    assert isinstance(made, bytes), made
    opened = Image.open(BytesIO(made))
    opened.load()
    assert opened.format == "JPEG"
    return opened


@pytest.mark.parametrize(("name", "size", "seen"), AS_TAKEN)
def test_it_lies_as_it_was_taken(name: str, size: tuple[int, int], seen: tuple[tuple[int, ...], ...]) -> None:
    opened = _clean(file(name))

    assert opened.size == size
    assert near(opened, *seen, by=12), corners(opened)


def test_ten_bits_and_tiles_are_read() -> None:
    assert _clean(file("hdr")).size == (96, 64)
    assert _clean(tiles()).size == (192, 128)
    assert _clean(file("turned") + b"SEFH and what a phone notes").size == (640, 960)
    grey = _clean(file("grey"))
    found = [grey.convert("L").getpixel((x, 32)) for x in (12, 36, 60, 84)]
    assert all(abs(a - b) <= 3 for a, b in zip(found, (0, 85, 170, 255), strict=True)), found


def test_sixteen_bits_of_grey_with_exif_are_not_cut_off() -> None:
    grey = Image.new("I;16", (8, 8), 257 * 100)
    out = BytesIO()
    grey.save(out, "PNG", exif=tagged())
    made = photo.clean("a.png", out.getvalue())
    assert isinstance(made, bytes)
    assert Image.open(BytesIO(made)).convert("L").getpixel((4, 4)) == 100


def test_a_zip_with_one_is_taken_and_the_record_follows() -> None:
    pack(Path("case.zip"), {"case.yaml": RECORD + ONE, "photos/port.heic": file("turned")})

    assert told(run("case.zip", dry=True)) == [
        f"{TAKEN.replace('taken', 'would be taken')} with 1 photo (port.heic is filed as port.jpg)"
    ]
    assert told(run("case.zip")) == [f"{TAKEN} with 1 photo (port.heic is filed as port.jpg)"]

    assert [p.name for p in FOLDER.iterdir()] == ["port.jpg"]
    data = (FOLDER / "port.jpg").read_bytes()
    assert all(word.encode() in file("turned") for word in SECRETS)
    assert not any(word.encode() in data for word in (*SECRETS, "Exif", "xmpmeta", "GPS", "ICC_PROFILE"))
    assert photo.bare(data, "JPEG")
    record = Path("cases/records/2025/KW-2025-003.yaml").read_text("utf-8")
    assert record.endswith(ONE.replace(".heic", ".jpg"))
    assert not errors(checked().problems)
    before = tree(Path("cases"))
    assert told(run("case.zip")) == ["case.zip: already taken as cases/records/2025/KW-2025-003.yaml"]
    assert tree(Path("cases")) == before


def test_names_that_are_in_use_stay_with_whoever_has_them() -> None:
    """However the record is written; what a caption says of a file stays as well."""
    record = (
        'photos: [{caption: "port.heic, again", file: "port.heic"}, {file: port.jpg, caption: Near.},\n'
        f"  {{file: port.heif, caption: Far.}}, {{file: {'a' * 75}.heic, caption: Long.}}]\n{RECORD}"
        "id: draft-1\n"
    )
    names = ("port.heic", "port.heif", f"{'a' * 75}.heic")
    packed = {f"photos/{name}": file("plain") for name in names}
    pack(Path("case.zip"), {"case.yaml": record, "photos/port.jpg": picture(), **packed})

    assert not run("case.zip").failed

    assert {p.name for p in FOLDER.iterdir()} == {"port.jpg", "port-2.jpg", "port-3.jpg", f"{'a' * 75}.jpg"}
    assert (FOLDER / "port.jpg").read_bytes() == picture()
    text = Path("cases/records/2025/KW-2025-003.yaml").read_text("utf-8")
    assert '{caption: "port.heic, again", file: port-2.jpg}, {file: port.jpg, caption: Near.},' in text
    assert "  {file: port-3.jpg, caption: Far.}" in text
    assert text.endswith("id: KW-2025-003\n")
    assert not errors(checked().problems)


@pytest.mark.parametrize(
    "entry",
    ["- file: 'port.heic'\n    caption: x x", "- file: |-\n      port.heic\n    caption: x x"],
)
def test_the_name_is_put_where_it_belongs(entry: str) -> None:
    pack(
        Path("case.zip"),
        {"case.yaml": f"{RECORD}photos:\n  {entry}\n", "photos/port.heic": file("plain")},
    )
    assert not run("case.zip").failed
    text = Path("cases/records/2025/KW-2025-003.yaml").read_text("utf-8")
    assert text.endswith("photos:\n  - file: port.jpg\n    caption: x x\n")


WRONG = {
    "not named": (
        RECORD,
        file("plain"),
        "case.zip: photos/port.heic:1:1: is not named under photos: of the record; "
        "name it with a caption, or leave it out [take/photo]",
    ),
    "AV1": (
        RECORD + ONE,
        coded_as(b"av01"),
        "case.zip: photos/port.heic:1:1: is a HEIF whose picture is coded as AV1, which is not read; "
        "save it as JPEG [photo/type]",
    ),
    "JPEG 2000": (
        RECORD + ONE,
        coded_as(b"j2k1", b"mif1"),
        "case.zip: photos/port.heic:1:1: is a HEIF whose picture is coded as JPEG 2000, which is not read; "
        "save it as JPEG [photo/type]",
    ),
    "a JPEG": (
        RECORD + ONE,
        picture(),
        "case.zip: photos/port.heic:1:1: is a JPEG, not a HEIC; name it .jpg [photo/type]",
    ),
    "cut": (
        RECORD + ONE,
        file("plain")[:-30],
        "case.zip: photos/port.heic:1:1: is cut off before its end; send it again [photo/whole]",
    ),
    "spoilt inside": (
        RECORD + ONE,
        file("plain")[:-220] + bytes(220),
        "case.zip: photos/port.heic:1:1: is cut off or damaged; send it again [photo/whole]",
    ),
    "pixels": (
        RECORD + ONE,
        as_large(10_000, 6_001),
        "case.zip: photos/port.heic:1:1: has more than 60 megapixels; save it smaller [photo/pixels]",
    ),
    "tiles that lie": (
        RECORD + ONE,
        tiles(30, 30, size=(30_000, 30_000)),
        "case.zip: photos/port.heic:1:1: has a damaged header; send it again [photo/whole]",
    ),
    "size that lies": (
        RECORD + ONE,
        as_large(8, 8, "turned"),
        "case.zip: photos/port.heic:1:1: is cut off or damaged; send it again [photo/whole]",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_told_and_nothing_written(name: str, place: Path) -> None:
    record, data, line = WRONG[name]
    pack(Path("case.zip"), {"case.yaml": record, "photos/port.heic": data})
    before = tree(place)

    taken = run("case.zip")

    assert told(taken) == [line]
    assert taken.failed
    assert tree(place) == before


def test_a_heic_called_a_jpeg_is_told() -> None:
    assert photo.clean("nut.jpg", file("plain")) == Fault(
        "photos/nut.jpg", "is a HEIC, not a JPEG", "name it .heic", "photo/type"
    )


def test_a_note_whose_kind_is_no_text_ends_nothing() -> None:
    """Its decoder would end the program; so in a process of its own."""
    kind = b"application/rdf+xml"
    data = file("turned").replace(kind, b"\xff" * len(kind))
    assert data != file("turned")
    Path("odd.heic").write_bytes(data)
    program = (
        "from pathlib import Path; from leaklore.intake.photo import clean;"
        "print(len(clean('odd.heic', Path('odd.heic').read_bytes())))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done
    assert int(done.stdout) > 1_000


def test_every_one_of_them_is_taken() -> None:
    entries = "".join(f"  - {{file: {name}.heic, caption: The port.}}\n" for name in NAMES)
    packed = {f"photos/{name}.heic": file(name) for name in NAMES}
    pack(Path("case.zip"), {"case.yaml": f"{RECORD}photos:\n{entries}", **packed})
    assert not run("case.zip").failed
    assert {p.name for p in FOLDER.iterdir()} == {f"{name}.jpg" for name in NAMES}
    assert not errors(checked().problems)
