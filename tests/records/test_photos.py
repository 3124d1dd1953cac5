"""Photos that `leaklore check` refuses by their header, and those it must not; more in invalid/photos/."""

from __future__ import annotations

import io
import os
import shutil
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageFile

import heic_made
from leaklore.records.photo import ENDINGS, MAX_BYTES, fault

from .helpers import PHOTOS, RECORD, check, put, told

pytestmark = pytest.mark.usefixtures("guide_read_once")

FOLDER = "photos/KW-2025-014"
START = "library/records/2025/KW-2025-014.yaml:12:17: photos[0].file: photos/KW-2025-014/"
NOISE = Image.effect_noise((400, 300), 80).convert("RGB")


def _bytes(kind: str, picture: Image.Image = NOISE, **how: Any) -> bytes:
    if kind == "HEIC":  # which can't be written here; its own tests are in test_heic.py
        return heic_made.file("turned")
    stream = io.BytesIO()
    picture.save(stream, kind, **how)
    return stream.getvalue()


def _with(library: Path, name: str, data: bytes | None = None) -> Path:
    """The library with one record that names one photo."""
    put(library, RECORD + f"photos: [{{file: {name}, caption: Split flare face}}]\n")
    file = library / FOLDER / name
    if data is not None:
        file.write_bytes(data)
    return file


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_good_photo_of_each_kind_is_taken_and_not_decoded(
    ending: str, library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _with(library, f"good.{ending}", _bytes(ENDINGS[ending]))
    monkeypatch.setattr(ImageFile.ImageFile, "load", lambda _: pytest.fail("decoded"))

    assert told(library) == ""


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.999])
def test_a_photo_that_is_cut_off_is_told(ending: str, share: float, library: Path) -> None:
    whole = _bytes(ENDINGS[ending])
    _with(library, f"cut.{ending}", whole[: int(len(whole) * share)])

    line = told(library)

    assert line.startswith(f"{START}cut.{ending} ")
    assert line.endswith("; copy the picture there again [photo/whole]")
    assert " is cut off before its end;" in line or " has a damaged header;" in line


@pytest.mark.parametrize("start", [0, 3, 11])
def test_a_photo_of_a_few_bytes_is_told(start: int, library: Path) -> None:
    _with(library, "few.jpg", _bytes("JPEG")[: start + 1])

    assert told(library).startswith(f"{START}few.jpg ")


def test_an_end_in_the_header_is_no_end(library: Path) -> None:
    """The thumbnail that a camera puts into the header is a JPEG with an end of its own."""
    whole = _bytes(
        "JPEG", exif=b"Exif\0\0MM\0*\0\0\0\x08\0\0\0\0\0\0" + _bytes("JPEG", NOISE.resize((80, 60)))
    )
    assert whole.count(b"\xff\xd9") == 2
    _with(library, "thumb.jpg", whole[:-300])

    assert told(library) == (
        f"{START}thumb.jpg is cut off before its end; copy the picture there again [photo/whole]"
    )


def test_what_a_phone_hangs_on_behind_the_end_does_not_matter(library: Path) -> None:
    _with(library, "moving.jpg", _bytes("JPEG") + b"\0\0\0\x18ftypmp42" + b"\0" * 400_000)

    assert told(library) == ""


def test_a_photo_of_more_than_thirty_megabytes_is_told(library: Path) -> None:
    file = _with(library, "huge.jpg", _bytes("JPEG"))
    os.truncate(file, MAX_BYTES)
    assert told(library) == ""
    os.truncate(file, MAX_BYTES + 100_000)
    assert (
        told(library)
        == f"{START}huge.jpg is 30.1 MB long; at most 30 MB are read; save it smaller [photo/file]"
    )


@pytest.mark.parametrize(("width", "wrong"), [(7_745, False), (7_746, True), (15_000, True)])
def test_the_limit_of_pixels(width: int, wrong: bool, tmp_path: Path) -> None:
    """Below, just above, and so far above that the reader itself refuses."""
    file = tmp_path / "photos" / "wide.png"
    file.parent.mkdir()
    Image.new("1", (width, min(width, 15_000))).save(file)

    found = fault(file, tmp_path)

    assert (found.message if found else None) == ("has more than 60 megapixels" if wrong else None)


def test_a_link_that_leads_out_is_told(library: Path, tmp_path: Path) -> None:
    outside = tmp_path / "secret.jpg"
    outside.write_bytes(_bytes("JPEG"))
    _with(library, "link.jpg").symlink_to(outside)

    assert told(library) == (
        f"{START}link.jpg is a link that leads out of photos/; copy the picture itself there [photo/file]"
    )


def test_a_link_to_another_part_of_the_library_is_told(library: Path) -> None:
    (library / "house").mkdir()
    (library / "house" / "plan.jpg").write_bytes(_bytes("JPEG"))
    _with(library, "link.jpg").symlink_to(library / "house" / "plan.jpg")

    assert "leads out of photos/" in told(library)


def test_a_folder_that_is_a_link_out_is_told(library: Path, tmp_path: Path) -> None:
    outside = Path(shutil.copytree(PHOTOS, tmp_path / "elsewhere"))
    (library / "photos").mkdir()
    (library / FOLDER).symlink_to(outside)
    _with(library, "flare-face.jpg")

    assert "is a link that leads out of photos/" in told(library)


def test_a_link_within_the_photos_is_followed(library: Path) -> None:
    again = _with(library, "again.jpg")
    again.with_name(".kept.jpg").write_bytes(_bytes("JPEG"))
    again.symlink_to(again.with_name(".kept.jpg"))

    assert told(library) == ""


def test_a_link_to_nowhere_is_a_missing_photo(library: Path) -> None:
    _with(library, "gone.jpg").symlink_to(library / FOLDER / "nothing-of-the-kind.jpg")

    assert told(library).endswith("[reference/photo]")


def test_a_record_with_a_bad_photo_is_left_out(library: Path) -> None:
    _with(library, "bad.jpg", b"no picture")

    result = check(library)

    assert result.failed
    assert result.library is not None
    assert "KW-2025-014" not in result.library.by_id


def test_a_photo_that_nobody_names_is_not_looked_at(library: Path) -> None:
    put(library, "", f"{FOLDER}/odd.jpg")

    assert [p.rule for p in check(library).problems] == ["photo/unnamed"]
