"""A photo as it lies on disk: what can be told from its name, its length and its header, without decoding it.

The only room of the records that knows pictures. A full decode, which takes a hundred times longer, is the build's.
"""

from __future__ import annotations

import mmap
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

MAX_BYTES = 30_000_000
MAX_PIXELS = 60_000_000
"""Limits of ours: a phone's largest photos have 48 to 50 megapixels (from memory) and some 10 to 20 MB."""
ENDINGS = {"jpg": "JPEG", "jpeg": "JPEG", "png": "PNG", "webp": "WEBP", "avif": "AVIF"}
FORMATS = ("JPEG", "PNG", "WEBP", "AVIF")
"""What is read; readers for other formats, some of which run other programs, are never asked."""
_SIGNS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"GIF8", "a GIF"),
    (0, b"BM", "a BMP"),
    (0, b"II*\0", "a TIFF"),
    (0, b"MM\0*", "a TIFF"),
    (0, b"%PDF", "a PDF"),
    (4, b"ftyphei", "a HEIC"),
    (4, b"ftyphev", "a HEIC"),
    (4, b"ftypmif1", "a HEIC"),
)
"""What is often saved under a wrong name: offset, first bytes, what it is."""
_OURS = ((0, b"\xff\xd8\xff"), (0, b"\x89PNG"), (8, b"WEBP"), (4, b"ftypavi"))
SHOWN = {"JPEG": "a JPEG", "PNG": "a PNG", "WEBP": "a WebP", "AVIF": "an AVIF"}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a photo, what to do, and the rule that says so."""

    message: str
    instead: str
    rule: str


def fault(file: Path, root: Path) -> Fault | None:
    """What is wrong with the photo at `file` of the library at `root`; None where nothing is. Raises nothing."""
    try:
        if not file.resolve().is_relative_to(root.resolve() / "photos"):
            return Fault("is a link that leads out of photos/", "copy the picture itself there", "photo/file")
        size = file.stat().st_size
        if size == 0:
            return Fault("is empty", "copy the picture there again", "photo/file")
        if size > MAX_BYTES:
            return Fault(
                f"is {size / 1e6:.1f} MB long; at most {MAX_BYTES / 1e6:.0f} MB are read",
                "save it smaller",
                "photo/file",
            )
        return _inside(file)
    except (OSError, RuntimeError) as wrong:
        why = getattr(wrong, "strerror", None) or "a link that leads to itself"
        return Fault(f"can't be read ({why})", "check the file and its permissions", "photo/file")


def _inside(file: Path) -> Fault | None:
    from PIL import Image, UnidentifiedImageError  # slow to import; only needed where there are photos

    wanted = ENDINGS[file.suffix.lower().lstrip(".")]
    with file.open("rb") as stream:
        start = stream.read(32)
        stream.seek(0)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # a spoilt EXIF block is no harm: it is not published
                warnings.simplefilter("error", Image.DecompressionBombWarning)
                picture = Image.open(stream, formats=FORMATS)
            found = (
                "JPEG" if picture.format == "MPO" else str(picture.format)
            )  # MPO: a JPEG with more behind it
            pixels = picture.width * picture.height
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            return _too_many()
        except UnidentifiedImageError:
            return _no_picture(start, wanted)
        except Exception:  # what a reader raises for a spoilt header is not foreseen
            return _damaged()
    if found != wanted:
        end = {"JPEG": "jpg"}.get(found, found.lower())
        return Fault(f"is {SHOWN[found]}, not {SHOWN[wanted]}", f"name it .{end}", "photo/type")
    if pixels > MAX_PIXELS:
        return _too_many()
    with file.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as data:
        whole = {"JPEG": _jpeg_ends, "PNG": _png_ends, "WEBP": _webp_ends, "AVIF": _avif_ends}[found](data)
    if not whole:
        return Fault("is cut off before its end", "copy the picture there again", "photo/whole")
    return None


def _damaged() -> Fault:
    return Fault("has a damaged header", "copy the picture there again", "photo/whole")


def _too_many() -> Fault:
    return Fault(f"has more than {MAX_PIXELS // 1_000_000} megapixels", "save it smaller", "photo/pixels")


def _no_picture(start: bytes, wanted: str) -> Fault:
    if any(start[at:].startswith(sign) for at, sign in _OURS):
        return _damaged()
    for at, sign, what in _SIGNS:
        if start[at:].startswith(sign):
            return Fault(
                f"is {what}, not {SHOWN[wanted]}", "save it as JPEG, PNG, WebP or AVIF", "photo/type"
            )
    return Fault("is no picture that can be read", "save it as JPEG, PNG, WebP or AVIF", "photo/type")


def _jpeg_ends(data: mmap.mmap) -> bool:
    """Is there an end of image behind the start of the scan? The two bytes can't stand inside a scan (ITU-T T.81).

    One of a thumbnail in the header does not count, and what phones hang on behind the end does not matter.
    """
    at = 2
    while data[at : at + 1] == b"\xff" and at + 4 <= len(data):
        marker = data[at + 1]
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        at += 2 + struct.unpack(">H", data[at + 2 : at + 4])[0]
        if marker == 0xDA:
            return data.find(b"\xff\xd9", at) >= 0
    return False


def _png_ends(data: mmap.mmap) -> bool:
    """Is there an IEND chunk?"""
    at = 8
    length: int
    name: bytes
    while at + 12 <= len(data):
        length, name = struct.unpack(">I4s", data[at : at + 8])
        at += 12 + length
        if name == b"IEND":
            return at <= len(data)
    return False


def _webp_ends(data: mmap.mmap) -> bool:
    """Is the file as long as its RIFF header says?"""
    length: int = struct.unpack("<I", data[4:8])[0]
    return len(data) >= 8 + length


def _avif_ends(data: mmap.mmap) -> bool:
    """Are all boxes there in full (ISO/IEC 14496-12)?"""
    at = 0
    while at + 8 <= len(data):
        length = struct.unpack(">I", data[at : at + 4])[0]
        if length == 0:  # to the end of the file
            return True
        if length == 1 and at + 16 <= len(data):
            length = struct.unpack(">Q", data[at + 8 : at + 16])[0]
        if length < 8:
            return False
        at += length
    return at == len(data)
