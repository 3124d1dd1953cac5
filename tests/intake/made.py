"""What a phone or an office may bring, made in code: zips whole and hostile, pictures, sheets."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from PIL import Image

RECORD = """\
# written in the van
title: Flare on a wall unit weeps
reported: 2025-02-03
branch: Ketterwick
system: S-0001
symptoms: [short-of-charge, oil-film]
search:
  - {technique: heated-diode-detector, at: [indoor-flare], minutes: 12, result: pinpointed}
  - {technique: bubble-test, at: [indoor-flare], minutes: 6, result: confirmed}
cause: {mode: flare-joint, component: indoor-flare, proof: point}  # seen twice
story: The nut was tight, and still it frothed.
"""
"""A valid record without a number."""
PHOTO = "photos:\n  - {file: nut.jpg, caption: The nut.}\n"
MAP = """\
key: Job no
skip_rows_without: Job no
columns:
  Date in: {to: reported, date: "%d/%m/%Y"}
  Refrigerant: {to: equipment.refrigerant, words: {R410a: R-410A}}
  Gas added: {to: charge.lost, unit: lb}
  Leak found at: {to: cause.component, near: true}
  Notes: story
lists:
  Symptoms: {to: symptoms, split: ";", near: true}
search:
  - {technique: {from: Method 1, near: true}, at: {from: Place 1, near: true}, minutes: Min 1, result: {from: Result 1, words: {Found: pinpointed}}}
  - {technique: Method 2, at: {fixed: outdoor-cabinet}, minutes: {fixed: 5}, result: {fixed: clean}}
texts: {title: "Leak at {Leak found at}, job {Job no}"}
fixed:
  branch: Osmere
  cause.mode: flare-joint
  cause.proof: suspected
  equipment.setting: residential
  equipment.kind: ductless-split
"""
HEADERS = (
    "Job no", "Date in", "Refrigerant", "Gas added", "Leak found at", "Notes", "Symptoms",
    "Method 1", "Place 1", "Min 1", "Result 1", "Method 2",
)  # fmt: skip
ROW = (
    "J-1", "03/02/2024", "R410a", "4", "Indoor flare", "The nut was tight, and still it frothed.",
    "short-of-charge; oil film", "Bubble test", "indoor-flare", "10", "found", "",
)  # fmt: skip


def row(**cells: str) -> tuple[str, ...]:
    """A row with some cells changed; underscores stand for spaces."""
    changed = {name.replace("_", " "): text for name, text in cells.items()}
    assert set(changed) <= set(HEADERS), changed
    return tuple(changed.get(name, cell) for name, cell in zip(HEADERS, ROW, strict=True))


def sheet(*rows: tuple[str, ...], delimiter: str = ",", end: str = "\r\n") -> str:
    """A CSV with the usual columns."""

    def cell(text: str) -> str:
        quoted = any(sign in text for sign in (delimiter, '"', "\n", "\r"))
        return '"' + text.replace('"', '""') + '"' if quoted else text

    return end.join(delimiter.join(map(cell, line)) for line in (HEADERS, *rows)) + end


def workbook(file: Path, rows: list[tuple[Any, ...]], title: str = "Jobs") -> Path:
    """An XLSX."""
    book = Workbook()
    book.active.title = title
    for line in rows:
        book.active.append(line)
    book.save(file)
    return file


def picture(kind: str = "JPEG", size: tuple[int, int] = (48, 32), **more: Any) -> bytes:
    """A picture, red on the left and blue on the right."""
    made = Image.new("RGB", size, "red")
    made.paste("blue", (size[0] // 2, 0, size[0], size[1]))
    out = io.BytesIO()
    made.save(out, kind, **more)
    return out.getvalue()


def tagged(turned: int = 1) -> Image.Exif:
    """EXIF with a maker, a place on earth and an orientation."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = turned, "SECRETMAKER"
    exif.get_ifd(0x8825).update({1: "N", 2: (54.0, 1.0, 2.0)})
    return exif


def huge_png(width: int, height: int) -> bytes:
    """A PNG whose header says that it is huge."""
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


def pack(file: Path, entries: Mapping[str, bytes | str] | list[tuple[Any, bytes | str]]) -> Path:
    """A zip with these entries; a name may be a ZipInfo."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items() if isinstance(entries, Mapping) else entries:
            packing = zipfile.ZIP_DEFLATED if isinstance(name, str) else name.compress_type
            archive.writestr(name, data, packing)
    return file


def patched(file: Path, **fields: int) -> Path:
    """The zip with other values in the directory's entry of its last file: flags, method, packed, size."""
    data = bytearray(file.read_bytes())
    at = data.rindex(b"PK\x01\x02")
    for name, (offset, form) in {
        "flags": (8, "<H"),
        "method": (10, "<H"),
        "packed": (20, "<I"),
        "size": (24, "<I"),
    }.items():
        if name in fields:
            struct.pack_into(form, data, at + offset, fields[name])
    file.write_bytes(data)
    return file


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file below a folder with its bytes, and every folder."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() if p.is_file() else None
        for p in sorted(folder.rglob("*"))
    }
