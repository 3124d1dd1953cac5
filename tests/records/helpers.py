"""A small library, a record put into it, and what `leaklore check` says about that.

A record of `valid/` or `invalid/FAMILY/` is put into the library as `records/2025/KW-2025-014.yaml`. One that
must lie elsewhere says so in its first line: `# file: records/2024/OS-2024-031.yaml`. Beside each record of
`invalid/` stands `NAME.expected`: every line that `leaklore check` prints.
"""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

from leaklore import report
from leaklore.records.check import CheckResult
from leaklore.records.check import check as check_library

HERE = Path(__file__).parent
LIBRARY = HERE / "library"
PHOTOS = HERE / "photos"
"""Whole and spoilt ones for records that name them."""
PLACE = "records/2025/KW-2025-014.yaml"
TODAY = dt.date(2025, 12, 31)
RECORD = """\
id: KW-2025-014
title: Flare on a wall unit weeps
reported: 2025-02-03
branch: Ketterwick
system: S-0001
symptoms: [short-of-charge, oil-film]
search:
  - {technique: heated-diode-detector, at: [indoor-flare], minutes: 12, result: pinpointed}
  - {technique: bubble-test, at: [indoor-flare], minutes: 6, result: confirmed}
cause: {mode: flare-joint, component: indoor-flare, proof: point}
story: The nut was tight, and still it frothed.
"""
"""A valid record, as short as it may be."""


def copy_library(into: Path) -> Path:
    """A copy of the small library that a test may change."""
    return Path(shutil.copytree(LIBRARY, into / "library"))


def put(root: Path, record: str | bytes, place: str = PLACE) -> Path:
    """Writes a record into the library, to where its first line says or to `place`."""
    data = record.encode() if isinstance(record, str) else record
    first = data.split(b"\n", 1)[0].decode("utf-8", "replace").strip()
    if first.startswith("# file: "):
        place = first.removeprefix("# file: ")
    file = root / place
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    if b"photos:" in data:
        _put_photos(root / "photos" / "KW-2025-014", data)
    return file


def _put_photos(folder: Path, record: bytes) -> None:
    """The pictures that the record names, and one that it may have misspelt."""
    folder.mkdir(parents=True, exist_ok=True)
    for picture in PHOTOS.iterdir():
        if picture.name.encode() in record or (picture.name == "flare-face.jpg" and b"flare-f" in record):
            shutil.copy(picture, folder)


def check(root: Path) -> CheckResult:
    """Checks the library as on the last day of 2025."""
    return check_library(root, today=TODAY)


def told(root: Path) -> str:
    """Every line that `leaklore check` prints for this library."""
    return report.as_text(check(root).problems)
