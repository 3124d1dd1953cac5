"""A photo as it lies on disk: what can be told from its name, its length and its header, without decoding it.

The only room of the records that knows pictures. A full decode, which takes a hundred times longer, is the build's.
"""

from __future__ import annotations

import io
import mmap
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from leaklore.records import heif

if TYPE_CHECKING:
    from PIL import Image

MAX_BYTES = 30_000_000
MAX_PIXELS = 60_000_000
"""Limits of ours: a phone's largest photos have 48 to 50 megapixels (from memory) and some 10 to 20 MB."""
ENDINGS = {
    "jpg": "JPEG",
    "jpeg": "JPEG",
    "png": "PNG",
    "webp": "WEBP",
    "avif": "AVIF",
    "heic": "HEIC",
    "heif": "HEIC",
}
SAVE_AS = "save it as JPEG, PNG, WebP, AVIF or HEIC"
_FORMATS = ("JPEG", "PNG", "WEBP", "AVIF")
"""What Pillow reads; its readers for other formats, some of which run other programs, are never asked."""
_KINDS = {"MPO": "JPEG", "HEIF": "HEIC"}
"""By the reader's name for it. MPO: a JPEG with more behind it."""
_SIGNS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"GIF8", "a GIF"),
    (0, b"BM", "a BMP"),
    (0, b"II*\0", "a TIFF"),
    (0, b"MM\0*", "a TIFF"),
    (0, b"%PDF", "a PDF"),
)
"""What is often saved under a wrong name: offset, first bytes, what it is."""
_OURS = ((0, b"\xff\xd8\xff"), (0, b"\x89PNG"), (8, b"WEBP"), (4, b"ftypavi"))
SHOWN = {"JPEG": "a JPEG", "PNG": "a PNG", "WEBP": "a WebP", "AVIF": "an AVIF", "HEIC": "a HEIC"}
_CODINGS = {"av01": "AV1", "j2k1": "JPEG 2000", "avc1": "AVC", "vvc1": "VVC", "jpeg": "JPEG"}
"""What else than HEVC may lie in a HEIF."""


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


def opened(stream: BinaryIO) -> Image.Image:
    """A picture of which the header is read, of a HEIC the primary one, already turned. Raises what the readers raise."""
    from PIL import Image  # slow to import; only needed where there are photos

    start = stream.read(32)
    stream.seek(0)
    if heif.is_heif(start) and is_heic(data := stream.read()):
        return _heic(data)
    stream.seek(0)
    return Image.open(stream, formats=_FORMATS)


def _heic(data: bytes) -> Image.Image:
    from pi_heif import HeifImageFile, options

    options.THUMBNAILS = options.DEPTH_IMAGES = options.AUX_IMAGES = False  # less to go wrong in
    return HeifImageFile(io.BytesIO(heif.without_notes(data)))  # type: ignore[no-any-return]


def kind(picture: Image.Image) -> str:
    """Which of ENDINGS' kinds an opened picture is."""
    return _KINDS.get(str(picture.format), str(picture.format))


def is_heic(data: heif.Data) -> bool:
    """Is it a HEIF, and not an AVIF under a general name?"""
    if not heif.is_heif(data):
        return False
    found = heif.still(data) if data[8:12] in heif.GENERAL else None
    return found is None or found.coding != heif.AV1


def other_kind(found: str, wanted: str) -> Fault:
    """The name says another kind than the content."""
    end = {"JPEG": "jpg"}.get(found, found.lower())
    return Fault(f"is {SHOWN[found]}, not {SHOWN[wanted]}", f"name it .{end}", "photo/type")


def heic_fault(data: heif.Data) -> Fault | None:
    """What is wrong with a HEIC as far as its boxes tell."""
    found = heif.still(data)
    if found is None and heif.whole(data):
        return _damaged()
    if found is None or found.end > len(data):
        return _cut()
    if found.coding != heif.HEVC:
        coding = _CODINGS.get(
            found.coding,
            f'"{found.coding}"' if found.coding.isascii() and found.coding.isalnum() else "unknown",
        )
        return Fault(
            f"is a HEIF whose picture is coded as {coding}, which is not read",
            "save it as JPEG",
            "photo/type",
        )
    return _too_many() if found.pixels > MAX_PIXELS else None


def _inside(file: Path) -> Fault | None:
    wanted = ENDINGS[file.suffix.lower().lstrip(".")]
    with file.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as data:
        if is_heic(data):
            return heic_fault(data) or (other_kind("HEIC", wanted) if wanted != "HEIC" else None)
        return _inside_other(stream, data, wanted)


def _inside_other(stream: BinaryIO, data: mmap.mmap, wanted: str) -> Fault | None:
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a spoilt EXIF block is no harm: it is not published
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            picture = opened(stream)
        found = kind(picture)
        pixels = picture.width * picture.height
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        return _too_many()
    except UnidentifiedImageError:
        return _no_picture(data[:32], wanted)
    except Exception:  # what a reader raises for a spoilt header is not foreseen
        return _damaged()
    if found != wanted:
        return other_kind(found, wanted)
    if pixels > MAX_PIXELS:
        return _too_many()
    whole = {"JPEG": _jpeg_ends, "PNG": _png_ends, "WEBP": _webp_ends, "AVIF": heif.whole}[found](data)
    return None if whole else _cut()


def _cut() -> Fault:
    return Fault("is cut off before its end", "copy the picture there again", "photo/whole")


def _damaged() -> Fault:
    return Fault("has a damaged header", "copy the picture there again", "photo/whole")


def _too_many() -> Fault:
    return Fault(f"has more than {MAX_PIXELS // 1_000_000} megapixels", "save it smaller", "photo/pixels")


def _no_picture(start: bytes, wanted: str) -> Fault:
    if any(start[at:].startswith(sign) for at, sign in _OURS):
        return _damaged()
    for at, sign, what in _SIGNS:
        if start[at:].startswith(sign):
            return Fault(f"is {what}, not {SHOWN[wanted]}", SAVE_AS, "photo/type")
    return Fault("is no picture that can be read", SAVE_AS, "photo/type")


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
