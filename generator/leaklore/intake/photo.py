"""Photos from outside: what they are is read from their content, and only the picture itself is kept.

Metadata (where and with what it was taken, by whom, previews, comments, sound and film behind the picture)
is never filed. A file that has none is copied byte for byte. A HEIC becomes a JPEG: it can be read here and not written.
"""

from __future__ import annotations

import io
import struct
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from leaklore.intake.fault import Fault
from leaklore.records.photo import (
    ENDINGS,
    MAX_BYTES,
    MAX_PIXELS,
    SAVE_AS,
    heic_fault,
    is_heic,
    kind,
    opened,
    other_kind,
)

QUALITY = 88
"""Of a picture that has to be encoded anew."""
_PLAIN_PNG = {
    b"IHDR",
    b"PLTE",
    b"IDAT",
    b"IEND",
    b"tRNS",
    b"gAMA",
    b"cHRM",
    b"sRGB",
    b"sBIT",
    b"bKGD",
    b"pHYs",
}
_PLAIN_WEBP = {b"VP8 ", b"VP8L", b"VP8X", b"ALPH"}
_LOCK = threading.Lock()


def clean(name: str, data: bytes) -> bytes | Fault:
    """The picture without metadata and upright; a fault where it is none, or not what its name says."""
    told = ENDINGS[name.rsplit(".", 1)[-1]]
    if not data:
        return _fault(name, "is empty", "send it again", "file")
    if data.startswith(b"PK\x03\x04"):
        return _fault(name, "is a zip in the zip", "put the picture itself there", "type")
    if is_heic(data) and (wrong := heic_fault(data)):
        again = wrong.instead if wrong.rule != "photo/whole" else "send it again"
        return Fault(f"photos/{name}", wrong.message, again, wrong.rule)
    try:
        with _limited():
            with opened(io.BytesIO(data)) as picture:
                found = kind(picture)
                if picture.width * picture.height > MAX_PIXELS:
                    return _too_many(name)
                if found != told:
                    wrong = other_kind(found, told)
                    return Fault(f"photos/{name}", wrong.message, wrong.instead, wrong.rule)
                picture.verify()
            with opened(io.BytesIO(data)) as picture:
                picture.load()  # a picture that is cut off is told here, not by a reader's browser
                made = data if bare(data, told) else _encoded(picture, filed_as(told))
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        return _too_many(name)
    except UnidentifiedImageError:
        return _fault(name, "is no picture that can be read", SAVE_AS, "type")
    except Exception:  # decoders raise anything on damaged data
        return _fault(name, "is cut off or damaged", "send it again", "whole")
    if len(made) > MAX_BYTES:
        return _fault(
            name, f"is {len(made) / 1e6:.1f} MB long without its metadata", "save it smaller", "file"
        )
    return made


def filed_as(told: str) -> str:
    """The kind of which a picture is when it is filed."""
    return "JPEG" if told == "HEIC" else told


def bare(data: bytes, told: str) -> bool:
    """Is there nothing but the picture? An AVIF always counts as full: its boxes can hide too much."""
    try:
        match told:
            case "JPEG":
                return _bare_jpeg(data)
            case "PNG":
                return _bare_png(data)
            case "WEBP":
                return _bare_webp(data)
    except (struct.error, IndexError):
        return False
    return False


def _fault(name: str, message: str, instead: str, rule: str) -> Fault:
    return Fault(f"photos/{name}", message, instead, f"photo/{rule}")


def _too_many(name: str) -> Fault:
    return _fault(name, f"has more than {MAX_PIXELS // 1_000_000} megapixels", "save it smaller", "pixels")


@contextmanager
def _limited() -> Iterator[None]:
    """Pillow's own limit is a warning and kept in its module; here it is an error, and put back."""
    with _LOCK, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        before, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, MAX_PIXELS
        try:
            yield
        finally:
            Image.MAX_IMAGE_PIXELS = before


def _encoded(picture: Image.Image, made: str) -> bytes:
    turned = kind(picture) == "HEIC"  # by its boxes; what EXIF repeats does not count
    upright: Image.Image = picture if turned else ImageOps.exif_transpose(picture)
    if upright.mode.startswith("I"):  # 16 bits of grey; Pillow's own conversion would cut off at 255
        upright = upright.point(lambda grey: grey * (1 / 257)).convert("L")
    clear = upright.has_transparency_data
    mode = "RGBA" if clear and made != "JPEG" else "L" if upright.mode in ("1", "L") else "RGB"
    if clear and made == "JPEG":
        upright = _on_white(upright)
    upright = _in_srgb(upright, mode)
    upright.info.clear()  # Pillow would write comments and profiles from here
    out = io.BytesIO()
    options = {"JPEG": {"optimize": True}, "PNG": {"optimize": True}}.get(made, {})
    upright.save(out, made, **({} if made == "PNG" else {"quality": QUALITY}), **options)
    return out.getvalue()


def _on_white(picture: Image.Image) -> Image.Image:
    ground = Image.new("RGBA", picture.size, "white")
    ground.alpha_composite(picture.convert("RGBA"))
    seen = ground.convert("RGB")
    seen.info.update(picture.info)
    return seen


def _in_srgb(picture: Image.Image, mode: str) -> Image.Image:
    """A profile is metadata too: colours are worked out by it before it goes."""
    profile = picture.info.get("icc_profile")
    if profile and picture.mode in ("RGB", "RGBA", "CMYK") and mode != "L":
        try:
            to = ImageCms.createProfile("sRGB")
            made = ImageCms.profileToProfile(
                picture, ImageCms.ImageCmsProfile(io.BytesIO(profile)), to, outputMode=mode
            )
            if made is not None:
                return made
        except (ImageCms.PyCMSError, OSError, ValueError):
            pass  # a profile that can't be read changes nothing
    return picture.convert(mode)


def _bare_jpeg(data: bytes) -> bool:
    """Only tables and scans, and nothing behind the end (ITU-T T.81, annex B)."""
    at = 2
    while True:
        if data[at] != 0xFF:
            return False
        marker = data[at + 1]
        if marker == 0xD9:
            return at + 2 == len(data)
        if marker == 0xFF:
            at += 1
            continue
        (length,) = struct.unpack(">H", data[at + 2 : at + 4])
        body = data[at + 4 : at + 2 + length]
        if marker == 0xE0:
            if not (body.startswith(b"JFIF\0") and length == 16):  # longer: a preview picture
                return False
        elif marker == 0xEE:
            if not (body.startswith(b"Adobe") and length == 14):
                return False
        elif marker not in (0xC4, 0xDB, 0xDD, 0xDA) and not 0xC0 <= marker <= 0xCF:
            return False
        at += 2 + length
        if marker == 0xDA:
            at = _behind_scan(data, at)


def _behind_scan(data: bytes, at: int) -> int:
    """Where the next marker begins; a stuffed zero or a restart belongs to the scan."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0:
            return len(data)
        if data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7:
            return at
        at += 2


def _bare_png(data: bytes) -> bool:
    at = 8
    while True:
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind = data[at + 4 : at + 8]
        if kind not in _PLAIN_PNG:
            return False
        at += 12 + length
        if kind == b"IEND":
            return bool(length == 0 and at == len(data))


def _bare_webp(data: bytes) -> bool:
    (whole,) = struct.unpack("<I", data[4:8])
    if whole + 8 != len(data):
        return False
    at = 12
    while at < len(data):
        (length,) = struct.unpack("<I", data[at + 4 : at + 8])
        if data[at : at + 4] not in _PLAIN_WEBP:
            return False
        at += 8 + length + length % 2
    return True
