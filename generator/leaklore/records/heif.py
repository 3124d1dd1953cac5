"""What the boxes of a HEIF say of the picture that counts, without decoding it (ISO/IEC 14496-12 and 23008-12, from memory).

One file can hold many pictures: a burst, tiles, a depth map, a thumbnail. The primary one counts. It is read here and not
by a decoder: a check needs no more, and what is told to a decoder's limits may be a lie.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

Data = bytes | mmap.mmap
Size = tuple[int, int]
K = TypeVar("K")
V = TypeVar("V")

BRANDS = frozenset(
    b"heic heix heim heis hevc hevx hevm hevs mif1 mif2 msf1 j2ki j2is avci avcs jpeg jpgs vvic vvis".split()
)
"""First names in the first box; an AVIF has one of its own, or one of the general ones."""
GENERAL = (b"mif1", b"mif2", b"msf1")
HEVC, AV1 = "hvc1", "av01"
_READ = (b"pitm", b"iinf", b"iprp", b"iref", b"iloc", b"idat")
MOST_META = 4_000_000
"""Bytes of the box that tells of all pictures; phones write some 10 to 50 kB (from memory)."""


@dataclass(frozen=True, slots=True)
class Still:
    """`coding`: four letters, of its tiles where it is put together of some; `pixels`: most that one picture of it takes;
    `end`: as many bytes of the file are needed for it."""

    coding: str
    pixels: int
    end: int


def is_heif(start: Data) -> bool:
    """Do the first bytes of a file say so?"""
    return start[4:8] == b"ftyp" and start[8:12] in BRANDS


def whole(data: Data) -> bool:
    """Are all boxes there in full?"""
    try:
        ends = [end for _, _, end in _boxes(data, 0, len(data))]
    except (struct.error, ValueError):
        return False
    return ends[-1:] == [len(data)]


def still(data: Data) -> Still | None:
    """The primary picture; None where there is none or the boxes are damaged. Raises nothing."""
    try:
        items = _items(data)
        coding = items.coding(items.primary)
        seen = [items.primary, *(item for item, to in items.extra.items() if items.primary in to)]
        needed = [part for item in seen for part in (item, *items.parts.get(item, ()))]
        return Still(coding, max(map(items.pixels, seen)), max(items.ends.get(item, 0) for item in needed))
    except (struct.error, ValueError, LookupError):
        return None


def without_notes(data: bytes) -> bytes:
    """The same, but that nothing ties EXIF and other notes to a picture: a decoder does not read them.

    pi_heif 1.4.0 ends the program at a kind of note whose name is not UTF-8.
    """
    out = bytearray(data)
    metas = (box for box in _outer(data) if box[0] == b"meta")
    irefs = (box for _, start, end in metas for box in _boxes(data, start + 4, end) if box[0] == b"iref")
    for kind, at, _ in (box for _, start, end in irefs for box in _boxes(data, start + 4, end)):
        if kind == b"cdsc":
            name = out.rindex(kind, 0, at)
            out[name : name + 4] = b"free"
    return bytes(out)


@dataclass(frozen=True, slots=True)
class _Items:
    """By number of a picture: its kind, its size, its parts; to what it is an extra, as a mask; width and height that a
    grid says itself; where its bytes end in the file."""

    primary: int
    kinds: Mapping[int, str]
    sizes: Mapping[int, Size]
    parts: Mapping[int, list[int]]
    extra: Mapping[int, list[int]]
    grids: Mapping[int, Size]
    ends: Mapping[int, int]

    def coding(self, item: int) -> str:
        """How it is coded; of a grid the first coding of a tile that is not the usual one, if any."""
        if self.kinds[item] != "grid":
            return self.kinds[item]
        codings = [self.kinds[part] for part in self.parts[item]]
        return next((c for c in codings if c != HEVC), codings[0])

    def pixels(self, item: int) -> int:
        """Of the picture or of its tiles, whichever are more. Raises ValueError for a grid that says two sizes."""
        width, height = self.sizes[item]
        if self.kinds[item] == "grid" and self.grids.get(item) != (width, height):
            raise ValueError
        tiles = (self.sizes[part] for part in self.parts.get(item, ()))
        return max(width * height, sum(w * h for w, h in tiles))


def _items(data: Data) -> _Items:
    """Raises ValueError also where something is said twice: of two sizes a decoder may go by the other."""
    start, end = _once((k, (a, b)) for k, a, b in _outer(data) if k == b"meta")[b"meta"]
    if end - start > MOST_META:
        raise ValueError
    boxes = _once((k, (a, b)) for k, a, b in _boxes(data, start + 4, end) if k in _READ)
    primary = _Cursor(data, *boxes[b"pitm"])
    kinds = _once(_kinds(data, *boxes[b"iinf"]))
    places = _once(_places(_Cursor(data, *boxes[b"iloc"])))
    references = list(_references(data, *boxes[b"iref"])) if b"iref" in boxes else []
    return _Items(
        primary=primary.number(2 if primary.version == 0 else 4),
        kinds=kinds,
        sizes=_once(_sizes(data, *boxes[b"iprp"])),
        parts=_once((item, others) for kind, item, others in references if kind == b"dimg"),
        extra=_once((item, others) for kind, item, others in references if kind == b"auxl"),
        grids=dict(_grids(data, boxes, {i: at for i, at in places.items() if kinds.get(i) == "grid"})),
        ends={item: place.end for item, place in places.items() if place.method == 0},
    )


def _once(pairs: Iterable[tuple[K, V]]) -> dict[K, V]:
    out: dict[K, V] = {}
    for key, value in pairs:
        if key in out:
            raise ValueError
        out[key] = value
    return out


def _outer(data: Data) -> Iterator[tuple[bytes, int, int]]:
    """The boxes of the file, up to what is none or is cut off: some phones hang things on behind them."""
    end = 0
    try:
        for box in _boxes(data, 0, len(data)):
            yield box
            end = box[2]
    except (struct.error, ValueError):
        if data[end + 4 : end + 8] in (b"meta", b"mdat"):
            raise


def _boxes(data: Data, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """(kind, start, end) of the content of each box. Raises ValueError where one is longer than what holds it."""
    while at + 8 <= end:
        length, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if length == 1:
            (length,) = struct.unpack_from(">Q", data, at + 8)
            head = 16
        elif length == 0:
            length = end - at
        if length < head or at + length > end:
            raise ValueError
        yield kind, at + head, at + length
        at += length


class _Cursor:
    """Reads numbers one behind the other from a box that begins with its version and flags."""

    def __init__(self, data: Data, at: int, end: int) -> None:
        self._data, self.at, self._end = data, at, end
        self.version = self.number(1)
        self.flags = self.number(3)

    def number(self, size: int) -> int:
        """The next `size` bytes. Raises ValueError at the end of the box."""
        if self.at + size > self._end:
            raise ValueError
        self.at += size
        return int.from_bytes(self._data[self.at - size : self.at])


def _kinds(data: Data, at: int, end: int) -> Iterator[tuple[int, str]]:
    head = _Cursor(data, at, end)
    head.number(2 if head.version == 0 else 4)
    for kind, start, stop in _boxes(data, head.at, end):
        entry = _Cursor(data, start, stop)
        if kind == b"infe" and entry.version >= 2:
            item = entry.number(2 if entry.version == 2 else 4)
            entry.number(2)
            yield item, entry.number(4).to_bytes(4).decode("latin-1")


def _sizes(data: Data, at: int, end: int) -> Iterator[tuple[int, Size]]:
    """Of each picture that has one."""
    properties: list[Size | None] = []
    tied: list[tuple[int, list[int]]] = []
    for kind, start, stop in _boxes(data, at, end):
        if kind == b"ipco":
            for name, first, last in _boxes(data, start, stop):
                size = _Cursor(data, first, last) if name == b"ispe" else None
                properties.append((size.number(4), size.number(4)) if size else None)
        elif kind == b"ipma":
            tied += _tied(_Cursor(data, start, stop))
    for item, numbers in tied:
        for number in numbers:
            if number and (of := properties[number - 1]):
                yield item, of


def _tied(box: _Cursor) -> Iterator[tuple[int, list[int]]]:
    """Which properties, counted from 1, each picture has."""
    wide = box.flags & 1
    for _ in range(box.number(4)):
        item = box.number(2 if box.version == 0 else 4)
        yield item, [box.number(1 + wide) & (0x7FFF if wide else 0x7F) for _ in range(box.number(1))]


def _references(data: Data, at: int, end: int) -> Iterator[tuple[bytes, int, list[int]]]:
    size = 2 if _Cursor(data, at, end).version == 0 else 4
    for kind, start, stop in _boxes(data, at + 4, end):
        numbers = [int.from_bytes(data[i : i + size]) for i in range(start, start + size, size)]
        (count,) = struct.unpack_from(">H", data, start + size)
        first = start + size + 2
        if first + count * size > stop:
            raise ValueError
        others = [int.from_bytes(data[i : i + size]) for i in range(first, first + count * size, size)]
        yield kind, numbers[0], others


def _grids(
    data: Data, boxes: Mapping[bytes, tuple[int, int]], places: Mapping[int, _Place]
) -> Iterator[tuple[int, Size]]:
    """Width and height that each grid says in its own few bytes, which a decoder goes by."""
    within = boxes.get(b"idat", (0, 0))[0]
    for item, place in places.items():
        start = place.start + (within if place.method == 1 else 0)
        form = ">II" if data[start + 1] & 1 else ">HH"
        width, height = struct.unpack_from(form, data, start + 4)
        yield item, (width, height)


class _Place(NamedTuple):
    """Where the bytes of a picture lie: in the file (method 0) or in the box idat (1)."""

    method: int
    start: int
    end: int


def _places(box: _Cursor) -> Iterator[tuple[int, _Place]]:
    """Of each picture; its bytes can lie in several parts."""
    sizes, more = box.number(1), box.number(1)
    offset, length, base, index = sizes >> 4, sizes & 15, more >> 4, more & 15
    wide = 2 if box.version < 2 else 4
    for _ in range(box.number(wide)):
        item = box.number(wide)
        method = box.number(2) & 15 if box.version else 0
        box.number(2)
        first, parts, starts, ends = box.number(base), box.number(2), [], [0]
        if parts > 1 and not length:
            raise ValueError  # so many parts could take no bytes here and hours to read
        for _ in range(parts):
            box.number(index if box.version else 0)
            starts.append(first + box.number(offset))
            ends.append(starts[-1] + box.number(length))
        if starts:
            yield item, _Place(method, starts[0], max(ends))
