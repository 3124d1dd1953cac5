"""HEICs for tests. Nothing in them is a photograph.

tests/heic/*.heic were made once, by hand, with pillow_heif 1.8.1 and its encoder x265, which the project does not need:
a picture of four rectangles (`CORNERS` on grey, 96 by 64 but for `turned`, 960 by 640), by `Image.save(file, "HEIF",
quality=80)`. With EXIF (orientation 6, maker, place on earth) and XMP: turned; with orientation 5: mirrored, both of
which the encoder tells again in boxes of its own. By `pillow_heif.from_bytes` of 16 bits: hdr (10 bits, BT.2020, PQ)
and grey (10 bits, four steps). By `HeifFile.save(primary_index=1)`: two, first a yellow square. RGBA with one corner
clear: clear. The others are put together here from the boxes of `plain` (ISO/IEC 14496-12 and 23008-12).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

from PIL import Image

FOLDER = Path(__file__).parent / "heic"
NAMES = tuple(sorted(file.stem for file in FOLDER.glob("*.heic")))
RED, GREEN, BLUE, GREY = CORNERS = (220, 30, 30), (30, 200, 40), (40, 60, 220), (128, 128, 128)
"""Left above, right above, left below, right below; as seen in `plain`."""
AS_TAKEN = (
    ("plain", (96, 64), (RED, GREEN, BLUE, GREY)),
    ("turned", (640, 960), (BLUE, RED, GREY, GREEN)),  # orientation 6: a quarter clockwise
    ("mirrored", (64, 96), (RED, BLUE, GREEN, GREY)),  # orientation 5: along the falling diagonal
    ("two", (96, 64), (RED, GREEN, BLUE, GREY)),
    ("clear", (96, 64), (RED, GREEN, BLUE, (255, 255, 255))),  # on white
)
"""Name, size and corners of each that can be seen in colours, upright."""
SECRETS = ("SECRETMAKER", "SECRETMAIL")
"""In `turned`, beside the place on earth."""


def file(name: str) -> bytes:
    """One of tests/heic/."""
    return (FOLDER / f"{name}.heic").read_bytes()


def corners(picture: Image.Image) -> list[tuple[int, ...]]:
    """Colours of its four quarters, in the order of `CORNERS`."""
    w, h = picture.size
    places = ((w // 4, h // 4), (3 * w // 4, h // 4), (w // 4, 3 * h // 4), (3 * w // 4, 3 * h // 4))
    found = [picture.convert("RGB").getpixel(place) for place in places]
    return [pixel for pixel in found if isinstance(pixel, tuple)]


def near(picture: Image.Image, *wanted: tuple[int, ...], by: int) -> bool:
    """Are its four quarters of these colours, but for `by` of 255 at the most?"""
    pairs = zip(corners(picture), wanted, strict=True)
    return all(abs(a - b) <= by for one, other in pairs for a, b in zip(one, other, strict=True))


def coded_as(coding: bytes, brand: bytes = b"heic", name: str = "plain") -> bytes:
    """A HEIF that says that its picture is coded in another way."""
    data = file(name)
    assert data.count(b"hvc1") == 1
    return data[:8] + brand + data[12:].replace(b"hvc1", coding)


def as_large(width: int, height: int, name: str = "plain") -> bytes:
    """A HEIC that says it has this size."""
    data = bytearray(file(name))
    struct.pack_into(">II", data, data.index(b"ispe") + 8, width, height)
    return bytes(data)


def box(kind: bytes, *content: bytes) -> bytes:
    """A box."""
    body = b"".join(content)
    return struct.pack(">I", 8 + len(body)) + kind + body


def full(kind: bytes, *content: bytes, version: int = 0) -> bytes:
    """A box with version and flags."""
    return box(kind, struct.pack(">I", version << 24), *content)


def boxes(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kinds and contents."""
    at = 0
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        yield data[at + 4 : at + 8], data[at + 8 : at + length]
        at += length


def tiles(
    rows: int = 2, columns: int = 2, size: tuple[int, int] | None = None, tile: tuple[int, int] = (96, 64)
) -> bytes:
    """`plain` beside and below itself, as phones put their photos together.

    `size` is what the grid says itself, while its property goes on telling the truth; `tile` what is told of each tile.
    """
    top = dict(boxes(file("plain")))
    meta = dict(boxes(top[b"meta"][4:]))
    coded = dict(boxes(dict(boxes(meta[b"iprp"]))[b"ipco"]))[b"hvcC"]
    count, true = rows * columns, (columns * tile[0], rows * tile[1])
    grid = struct.pack(">BBBBII", 0, 1, rows - 1, columns - 1, *(size or true))
    parts = range(2, 2 + count)

    def head(at: int) -> bytes:
        kinds = [(1, b"grid"), *((item, b"hvc1") for item in parts)]
        entries = [full(b"infe", struct.pack(">HH", i, 0), kind + b"\0", version=2) for i, kind in kinds]
        properties = (
            box(b"hvcC", coded),
            full(b"ispe", struct.pack(">II", *tile)),
            full(b"ispe", struct.pack(">II", *true)),
        )
        tied = [struct.pack(">HBB", 1, 1, 3), *(struct.pack(">HBBB", i, 2, 0x81, 2) for i in parts)]
        places = [
            struct.pack(">HHHHII", 1, 1, 0, 1, 0, len(grid)),
            *(struct.pack(">HHHHII", i, 0, 0, 1, at, len(top[b"mdat"])) for i in parts),
        ]
        whole = struct.pack(">H", 1 + count)
        return box(b"ftyp", b"heic\0\0\0\0mif1heic") + full(
            b"meta",
            full(b"hdlr", b"\0\0\0\0pict", bytes(13)),
            full(b"pitm", struct.pack(">H", 1)),
            full(b"iinf", whole, *entries),
            full(b"iref", box(b"dimg", struct.pack(f">HH{count}H", 1, count, *parts))),
            box(b"iprp", box(b"ipco", *properties), full(b"ipma", struct.pack(">I", 1 + count), *tied)),
            box(b"idat", grid),
            full(b"iloc", b"\x44\0", whole, *places, version=1),
        )

    return head(len(head(0)) + 8) + box(b"mdat", top[b"mdat"])
