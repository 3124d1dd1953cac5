"""Reads zips that strangers may have made: names, sizes and packing are checked before and while bytes flow.

Nothing is ever extracted to disk; entries are read into memory, up to the limits.
"""

from __future__ import annotations

import re
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from leaklore.intake.fault import Fault, plain

_CHUNK = 65_536
_END, _END_SIZE, _LONGEST_COMMENT = b"PK\x05\x06", 22, 65_535
_ZIP64 = b"PK\x06\x07"
_MAGIC = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_BROKEN = (
    zipfile.BadZipFile,
    NotImplementedError,
    OSError,
    EOFError,
    RuntimeError,
    ValueError,
    struct.error,
    zlib.error,
    OverflowError,
    LookupError,
)
"""What zipfile raises on damaged files."""
SEND_AGAIN = "send it again from the phone, or pack it anew"


@dataclass(frozen=True, slots=True)
class Limits:
    """`each` and `whole` in bytes unpacked; `ratio` of unpacked to packed, not looked at up to `floor` bytes."""

    files: int
    each: int
    whole: int
    ratio: int
    floor: int = 0


PHONE = Limits(files=60, each=25_000_000, whole=120_000_000, ratio=200)
"""A record, its 40 photos, and what a computer adds that packs them anew."""
WORKBOOK = Limits(files=2_000, each=100_000_000, whole=120_000_000, ratio=200, floor=1_000_000)
"""Sheets of equal rows pack well, so small parts are not held to the ratio."""


def read(
    file: Path, limits: Limits, wanted: Callable[[str], Fault | None], keep: bool = True
) -> tuple[dict[str, bytes], list[Fault]]:
    """The entries of a zip by name, and every fault found; no entries where nothing of it can be trusted.

    `wanted` says what is wrong with an entry's name, if anything. With `keep` False bytes are counted and
    looked through but not kept.
    """
    fault = _not_a_zip(file, limits)
    if fault:
        return {}, [fault]
    try:
        with zipfile.ZipFile(file) as archive:
            return _entries(archive, file.stat().st_size, limits, wanted, keep)
    except _BROKEN:
        return {}, [Fault(None, "is cut off or damaged", SEND_AGAIN)]


def _not_a_zip(file: Path, limits: Limits) -> Fault | None:
    """A look at both ends: zipfile would read a directory of any length into memory."""
    try:
        size = file.stat().st_size
        if not file.is_file():
            return Fault(None, "is not a plain file", "name a file")
        with file.open("rb") as opened:
            head = opened.read(4)
            opened.seek(max(0, size - _END_SIZE - _LONGEST_COMMENT - 20))
            tail = opened.read(_END_SIZE + _LONGEST_COMMENT + 20)
    except OSError as fault:
        return Fault(None, f"can't be read ({fault.strerror})", "check its name and its permissions")
    if not size:
        return Fault(None, "is empty", SEND_AGAIN)
    if head not in _MAGIC:
        return Fault(None, "is not a zip", "give the zip as the phone made it")
    if size > limits.whole:
        return Fault(
            None,
            f"is {size / 1e6:.0f} MB long; at most {limits.whole / 1e6:.0f} MB are taken",
            "leave photos out",
        )
    at = tail.rfind(_END)
    if at < 0 or len(tail) - at < _END_SIZE:
        return Fault(None, "is cut off or damaged", SEND_AGAIN)
    count, length = struct.unpack("<HI", tail[at + 10 : at + 16])
    if tail[max(0, at - 20) : at].startswith(_ZIP64):
        return Fault(None, "is a ZIP64 file", "pack it as a plain zip")
    if count > limits.files or length > limits.files * 1_000:
        return Fault(None, f"holds more than {limits.files} files", "leave some out")
    return None


def _entries(
    archive: zipfile.ZipFile, size: int, limits: Limits, wanted: Callable[[str], Fault | None], keep: bool
) -> tuple[dict[str, bytes], list[Fault]]:
    entries = archive.infolist()
    if not entries:
        return {}, [Fault(None, "holds nothing", SEND_AGAIN)]
    if len(entries) > limits.files:
        return {}, [Fault(None, f"holds more than {limits.files} files", "leave some out")]
    if sum(entry.compress_size for entry in entries) > size:  # entries that overlap, or lie
        return {}, [Fault(None, "is cut off or damaged", SEND_AGAIN)]
    if _declared(entries) > limits.whole:
        return {}, [_too_much(limits)]
    faults: list[Fault] = []
    got: dict[str, bytes] = {}
    seen: dict[str, str] = {}
    whole = 0
    for entry in entries:
        name = entry.orig_filename  # zipfile cuts `filename` at a zero byte
        found = list(_of_name(name)) or list(_of_entry(entry, limits))
        same = seen.setdefault(_folded(name), name)
        if same is not name:
            found.append(Fault(name, f'is called like "{plain(same)}"', "give each a name of its own"))
        if not found and not entry.is_dir() and (odd := wanted(name)):
            found.append(odd)
        faults += found
        if found or entry.is_dir():
            continue
        parts: list[bytes] = []
        read = 0
        try:
            for chunk in _stream(archive, entry):
                read += len(chunk)
                whole += len(chunk)
                fault = _while_streaming(name, read, whole, entry.compress_size, limits)
                if fault:
                    faults.append(fault)
                    break
                if keep:
                    parts.append(chunk)
            else:
                got[name] = b"".join(parts)
        except _BROKEN:
            faults.append(Fault(name, "is cut off or damaged", SEND_AGAIN))
        if whole > limits.whole:
            return {}, faults
    return got, faults


def _declared(entries: list[zipfile.ZipInfo]) -> int:
    return sum(entry.file_size for entry in entries)


def _stream(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    with archive.open(entry) as opened:
        while chunk := opened.read(_CHUNK):
            yield chunk


def _while_streaming(name: str, read: int, whole: int, packed: int, limits: Limits) -> Fault | None:
    if read > limits.each:
        return _too_long(name, limits)
    if whole > limits.whole:
        return _too_much(limits)
    if read > limits.floor and read > limits.ratio * max(packed, 1):
        return Fault(name, f"unpacks to more than {limits.ratio} times its size", "leave it out")
    return None


def _too_much(limits: Limits) -> Fault:
    return Fault(None, f"unpacks to more than {limits.whole / 1e6:.0f} MB", "leave photos out")


def _too_long(name: str, limits: Limits) -> Fault:
    return Fault(name, f"is more than {limits.each / 1e6:.0f} MB long", "make it smaller or leave it out")


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _of_name(name: str) -> Iterator[Fault]:
    """Names that lead out of the folder, on any system."""
    if "\\" in name:
        yield Fault(name, "has a backslash in its name", "name it with plain letters and digits")
    elif name.startswith("/") or re.match(r"[A-Za-z]:", name):
        yield Fault(name, "has an absolute path", "name it as photos/NAME.jpg")
    elif ".." in PurePosixPath(name).parts:
        yield Fault(name, "leads out of the zip", "name it as photos/NAME.jpg")
    elif not name or not name.isprintable():
        yield Fault(name, "has a name that can't be printed", "name it with plain letters and digits")


def _of_entry(entry: zipfile.ZipInfo, limits: Limits) -> Iterator[Fault]:
    name, kind = entry.orig_filename, stat.S_IFMT(entry.external_attr >> 16)
    if kind == stat.S_IFLNK:
        yield Fault(name, "is a link", "put the file itself into the zip")
    elif kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        yield Fault(name, "is not a plain file", "leave it out")
    elif entry.flag_bits & _ENCRYPTED:
        yield Fault(name, "is encrypted", "pack it without a password")
    elif entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        yield Fault(name, "is packed in a way that is not read here", "pack it as a plain zip")
    elif entry.file_size > limits.each:
        yield _too_long(name, limits)
    elif entry.file_size > limits.floor and entry.file_size > limits.ratio * max(entry.compress_size, 1):
        yield Fault(name, f"unpacks to more than {limits.ratio} times its size", "leave it out")
