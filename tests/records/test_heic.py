"""HEICs that `leaklore check` takes or refuses by their boxes alone."""

from __future__ import annotations

import random
import struct
import sys
from pathlib import Path

import pytest

from heic_made import NAMES, as_large, box, boxes, coded_as, file, full, tiles
from leaklore.records import heif
from leaklore.records.heif import Still, still

from .helpers import RECORD, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")

FOLDER = "photos/KW-2025-014"
START = "library/records/2025/KW-2025-014.yaml:12:17: photos[0].file: photos/KW-2025-014/"
AGAIN = "copy the picture there again [photo/whole]"


def _told(library: Path, name: str, data: bytes) -> str:
    put(library, RECORD + f"photos: [{{file: {name}, caption: Split flare face}}]\n")
    (library / FOLDER / name).write_bytes(data)
    return told(library).removeprefix(f"{START}{name} ")


@pytest.mark.parametrize("ending", ["heic", "heif"])
@pytest.mark.parametrize("name", NAMES)
def test_each_is_taken_and_its_decoder_not_loaded(
    name: str, ending: str, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pi_heif", None)

    assert _told(library, f"port.{ending}", file(name)) == ""


def test_one_of_tiles_is_taken(library: Path) -> None:
    assert _told(library, "port.heic", tiles()) == ""


@pytest.mark.parametrize(
    "more",
    [b"SEFH and what a phone notes", b"abc", bytes(50), box(b"mpvd", bytes(9)), box(b"mpvd", bytes(9))[:-3]],
)
def test_what_a_phone_hangs_on_behind_it_does_not_matter(more: bytes, library: Path) -> None:
    assert _told(library, "port.heic", file("turned") + more) == ""


WRONG = {
    "a HEIC by another name": (
        "port.jpg",
        file("plain"),
        "is a HEIC, not a JPEG; name it .heic [photo/type]",
    ),
    "AVIF 1": (
        "port.heic",
        coded_as(b"av01"),
        "is a HEIF whose picture is coded as AV1, which is not read; save it as JPEG [photo/type]",
    ),
    "JPEG 2000": (
        "port.heic",
        coded_as(b"j2k1", b"mif1"),
        "is a HEIF whose picture is coded as JPEG 2000, which is not read; save it as JPEG [photo/type]",
    ),
    "by the brand of JPEG 2000": (
        "port.heic",
        coded_as(b"j2k1", b"j2ki"),
        "is a HEIF whose picture is coded as JPEG 2000, which is not read; save it as JPEG [photo/type]",
    ),
    "something new": (
        "port.heic",
        coded_as(b"new1"),
        'is a HEIF whose picture is coded as "new1", which is not read; save it as JPEG [photo/type]',
    ),
    "tiles of AV1": (
        "port.heic",
        tiles().replace(b"hvc1", b"av01"),
        "is a HEIF whose picture is coded as AV1, which is not read; save it as JPEG [photo/type]",
    ),
    "cut": ("port.heic", file("turned")[:-9], f"is cut off before its end; {AGAIN}"),
    "cut in its boxes": ("port.heic", file("turned")[:99], f"is cut off before its end; {AGAIN}"),
    "nothing but its name": ("port.heic", file("plain")[:28], f"has a damaged header; {AGAIN}"),
    "no primary": ("port.heic", file("plain").replace(b"pitm", b"free"), f"has a damaged header; {AGAIN}"),
    "large": (
        "port.heic",
        as_large(10_000, 6_001),
        "has more than 60 megapixels; save it smaller [photo/pixels]",
    ),
    "large under another name": (
        "port.jpg",
        as_large(10_000, 6_001),
        "has more than 60 megapixels; save it smaller [photo/pixels]",
    ),
    "large tiles": (
        "port.heic",
        tiles(8, 8, tile=(1_000, 1_000)),
        "has more than 60 megapixels; save it smaller [photo/pixels]",
    ),
    "tiles that say two sizes": ("port.heic", tiles(size=(30_000, 30_000)), f"has a damaged header; {AGAIN}"),
    "all said twice": (
        "port.heic",
        file("plain") + file("plain")[28:],
        f"has a damaged header; {AGAIN}",
    ),
    "told twice, the second cut": (
        "port.heic",
        file("plain") + file("plain")[28:99],
        f"is cut off before its end; {AGAIN}",
    ),
    "a film": ("port.heic", box(b"ftyp", b"mp42") + box(b"moov"), "is no picture that can be read; "
        "save it as JPEG, PNG, WebP, AVIF or HEIC [photo/type]"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_told(name: str, library: Path) -> None:
    shown, data, line = WRONG[name]

    assert _told(library, shown, data) == line


def test_the_primary_picture_counts() -> None:
    """The first of the two has 64 by 64."""
    found = still(file("two"))
    assert found is not None
    assert found.pixels == 96 * 64


def test_a_mask_can_be_too_large_as_well() -> None:
    """It is decoded with the picture."""
    data = file("clear")
    at = data.index(b"ispe")
    assert data.count(b"ispe") == 1, "picture and mask have one property"
    assert still(data) == Still("hvc1", 96 * 64, len(data))
    assert still(data.replace(data[at : at + 16], b"free" + bytes(12))) is None


def test_damaged_boxes_raise_nothing() -> None:
    rng = random.Random(7)
    for whole in (file("turned"), file("clear"), tiles()):
        for _ in range(1_500):
            data = bytearray(whole)
            for _ in range(rng.randint(1, 4)):
                data[rng.randrange(8, min(len(data), 900))] = rng.choice(
                    (0, 1, 2, 127, 255, rng.randrange(256))
                )
            cut = bytes(data[: rng.randint(40, len(data))])
            assert still(cut) is None or isinstance(still(cut), Still)
            assert heif.whole(cut) in (True, False)


def test_parts_without_a_length_are_refused() -> None:
    """Each picture could lie in 65,535 of them, which take no bytes here: some hundred kB would be read for hours."""
    top = dict(boxes(file("plain")))
    meta = dict(boxes(top[b"meta"][4:]))
    meta[b"iloc"] = struct.pack(">IBBHHHH", 0, 0, 0, 1, 1, 0, 65_535)
    data = box(b"ftyp", top[b"ftyp"]) + full(b"meta", *(box(kind, inside) for kind, inside in meta.items()))

    assert still(data) is None
