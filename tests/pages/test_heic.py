"""HEICs for the pages: as JPEGs are, and their decoder is loaded for them alone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PIL import Image

from heic_made import AS_TAKEN, CORNERS, NAMES, SECRETS, coded_as, corners, file, near, tiles
from leaklore.pages import photos
from leaklore.pages.photos import Made, make, upright


def _seen(tmp_path: Path, data: bytes) -> Image.Image:
    place = tmp_path / "port.heic"
    place.write_bytes(data)
    return upright(place)


@pytest.mark.parametrize(("name", "size", "seen"), AS_TAKEN)
def test_it_is_seen_as_it_was_taken(
    name: str, size: tuple[int, int], seen: tuple[tuple[int, ...], ...], tmp_path: Path
) -> None:
    """Turned once: a phone tells the orientation in EXIF, too."""
    picture = _seen(tmp_path, file(name))

    assert (picture.mode, picture.size) == ("RGB", size)
    assert near(picture, *seen, by=6), corners(picture)


def test_tiles_are_put_together(tmp_path: Path) -> None:
    seen = _seen(tmp_path, tiles())
    assert seen.size == (192, 128)
    assert near(seen.crop((96, 64, 192, 128)), *CORNERS, by=6)


def test_ten_bits_of_grey_are_scaled(tmp_path: Path) -> None:
    seen = _seen(tmp_path, file("grey"))
    found = [seen.getpixel((x, 32)) for x in (12, 36, 60, 84)]
    assert found == [(0,) * 3, (85,) * 3, (170,) * 3, (255,) * 3]


def test_ten_bits_of_a_wide_range_do_not_stop_a_build(tmp_path: Path) -> None:
    seen = _seen(tmp_path, file("hdr"))
    assert (seen.mode, seen.size) == ("RGB", (96, 64))
    assert len(set(corners(seen))) == 4


@pytest.fixture
def root(tmp_path: Path) -> Path:
    folder = tmp_path / "cases/photos/KW-2025-014"
    folder.mkdir(parents=True)
    for name in NAMES:
        (folder / f"{name}.heic").write_bytes(file(name))
    return tmp_path / "cases"


def _made(root: Path, *names: str) -> Made:
    photographs = [SimpleNamespace(file=name) for name in names]
    library: Any = SimpleNamespace(root=root, cases=[SimpleNamespace(id="KW-2025-014", photos=photographs)])
    return make(library, root.parent / "cache")


def test_nothing_but_pixels_is_published(root: Path) -> None:
    """The same sizes and kinds as of a JPEG, without place, maker and mail."""
    assert all(word.encode() in file("turned") for word in (*SECRETS, "Exif", "xmpmeta"))

    made = _made(root, "turned.heic")

    assert made.problems == ()
    (picture,) = made.pictures.values()
    assert [(v.width, v.height, v.ending) for v in picture.variants] == [
        (480, 720, "avif"), (640, 960, "avif"), (640, 960, "jpg"),
    ]  # fmt: skip
    for _, published in picture.files():
        data = published.read_bytes()
        opened = Image.open(published)
        opened.load()
        assert dict(opened.getexif()) == {}
        assert not {"exif", "xmp", "icc_profile", "comment", "metadata"} & set(opened.info)
        for word in (*SECRETS, "Exif", "xmpmeta", "GPS"):
            assert word.encode() not in data, (published.name, word)


def test_what_was_made_is_kept_and_made_anew_for_another_decoder(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Image.new("RGB", (64, 64), "teal").save(root / "photos/KW-2025-014/nut.jpg")
    names = ("turned.heic", "nut.jpg")
    first = [picture.folder for picture in _made(root, *names).pictures.values()]
    with monkeypatch.context() as m:
        m.setattr(photos, "variants_of", lambda _: pytest.fail("made again"))
        assert [picture.folder for picture in _made(root, *names).pictures.values()] == first
    monkeypatch.setattr(photos, "_heic_reader", lambda: "another version")
    again = [picture.folder for picture in _made(root, *names).pictures.values()]
    assert again[0] != first[0]
    assert again[1] == first[1]


def test_one_process_or_several_same_bytes(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"{name}.heic" for name in NAMES]
    assert len(names) >= photos.MANY
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    several = _made(root, *names)
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    for place in sorted((root.parent / "cache").rglob("*"), reverse=True):
        place.rmdir() if place.is_dir() else place.unlink()
    assert _made(root, *names).pictures == several.pictures
    assert several.problems == ()


def test_what_can_not_be_decoded_is_told_and_the_others_are_made(root: Path) -> None:
    """A check looks at boxes, not into the picture; and one that it never saw is no traceback."""
    (root / "photos/KW-2025-014/other.heic").write_bytes(coded_as(b"av01"))

    made = _made(root, "plain.heic", "other.heic")

    assert list(made.pictures) == [("KW-2025-014", "plain.heic")]
    (line,) = (p.text() for p in made.problems)
    assert line.startswith("cases/photos/KW-2025-014/other.heic:1:1: can't be decoded (")
    assert line.endswith("; copy the picture there again [photo/whole]")
    assert str(root) not in line


def test_its_decoder_is_loaded_for_it_alone(root: Path) -> None:
    """Loading it takes time that a library without such photos does not spend."""
    Image.new("RGB", (64, 64), "teal").save(root / "photos/KW-2025-014/nut.jpg")
    program = (
        "import sys; from pathlib import Path; import leaklore.cli; from leaklore.pages.photos import upright;"
        "upright(Path(sys.argv[1])); print('pi_heif' in sys.modules, '_pi_heif' in sys.modules)"
    )

    def loaded(name: str) -> str:
        place = root / "photos/KW-2025-014" / name
        done = subprocess.run(
            [sys.executable, "-c", program, place], capture_output=True, text=True, check=True
        )
        return done.stdout.strip()

    assert loaded("nut.jpg") == "False False"
    assert loaded("plain.heic") == "True True"
