"""Photos for the pages: upright, bare, sized, named by content, kept, and told where they can't be made."""

from __future__ import annotations

import hashlib
import io
import os
import re
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageCms, PngImagePlugin

from leaklore.errors import LeakloreError
from leaklore.pages import photos
from leaklore.pages.photos import Made, Picture, make, upright, variants_of

Pixels = npt.NDArray[np.uint8]


def _scene(width: int = 96, height: int = 64) -> Pixels:
    """Four corners of four colours on grey: no turn and no mirror image looks the same."""
    out = np.full((height, width, 3), 128, np.uint8)
    h, w = height // 2, width // 2
    out[:h, :w], out[:h, w:], out[h:, :w] = (220, 30, 30), (30, 200, 40), (40, 60, 220)
    return out


def _stored(seen: Pixels, orientation: int) -> Pixels:
    """What a camera stores of a scene, from the standard's words: where row 0 and column 0 are in the scene."""
    return {
        1: seen,  # top, left
        2: seen[:, ::-1],  # top, right
        3: seen[::-1, ::-1],  # bottom, right
        4: seen[::-1],  # bottom, left
        5: seen.swapaxes(0, 1),  # left, top
        6: seen.swapaxes(0, 1)[::-1],  # right, top
        7: seen[::-1, ::-1].swapaxes(0, 1),  # right, bottom
        8: seen[::-1].swapaxes(0, 1),  # left, bottom
    }[orientation]


def _save(file: Path, picture: Image.Image, kind: str = "", **how: Any) -> Path:
    file.parent.mkdir(parents=True, exist_ok=True)
    picture.save(file, kind or None, **how)
    return file


def _pixels(data: bytes) -> npt.NDArray[np.int16]:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(np.int16)


def _library(root: Path, *names: str) -> Any:
    cases = [SimpleNamespace(id="KW-2025-014", photos=[SimpleNamespace(file=name) for name in names])]
    return SimpleNamespace(root=root, cases=cases)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A library with one photo of 1600 by 1200."""
    noise = Image.effect_noise((200, 150), 60).resize((1600, 1200)).convert("RGB")
    _save(tmp_path / "cases/photos/KW-2025-014/nut.jpg", noise, quality=80)
    return tmp_path / "cases"


def _made(root: Path, *names: str, cache: str = "cache") -> Made:
    return make(_library(root, *(names or ("nut.jpg",))), root.parent / cache)


def _one(made: Made) -> Picture:
    assert made.problems == ()
    (picture,) = made.pictures.values()
    return picture


# Upright.


@pytest.mark.parametrize("kind", ["png", "webp"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_all_eight_orientations_give_the_same_picture(orientation: int, kind: str, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    stored = Image.fromarray(np.ascontiguousarray(_stored(_scene(), orientation)))
    how = {"lossless": True} if kind == "webp" else {}
    file = _save(tmp_path / f"a.{kind}", stored, exif=exif, **how)

    assert np.array_equal(np.asarray(upright(file)), _scene())


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_large_jpeg_too_is_turned_before_it_is_sized(orientation: int, tmp_path: Path) -> None:
    """It is decoded at a fraction of its size; the widths count what is seen."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    scene = _scene(2_720, 680)
    stored = Image.fromarray(np.ascontiguousarray(_stored(scene, orientation)))
    file = _save(tmp_path / "a.jpg", stored, exif=exif, quality=90)

    made = variants_of(file)

    assert [(w, h) for (w, h, _), _ in made] == [(480, 120), (1280, 320), (1280, 320)]
    for _, data in made:
        seen = _pixels(data)
        h, w = seen.shape[:2]
        corners = [seen[h // 4, w // 4], seen[h // 4, -w // 4], seen[-h // 4, w // 4], seen[-h // 4, -w // 4]]
        wanted = [scene[0, 0], scene[0, -1], scene[-1, 0], scene[-1, -1]]
        assert np.abs(np.array(corners) - np.array(wanted, np.int16)).max() < 8


@pytest.mark.parametrize("said", [0, 9, 77])
def test_an_orientation_that_does_not_exist_is_passed_over(said: int, tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = said
    file = _save(tmp_path / "a.png", Image.fromarray(_scene()), exif=exif)
    assert np.array_equal(np.asarray(upright(file)), _scene())


def test_spoilt_exif_does_not_cost_the_picture(tmp_path: Path) -> None:
    file = _save(tmp_path / "a.png", Image.fromarray(_scene()), exif=b"Exif\0\0MM\0*\xff\xff\xff\xff")
    assert np.array_equal(np.asarray(upright(file)), _scene())


# Bare.

SECRETS = ("Ada of the office", "SN-99887766", "photographer@example.net", "a note behind")


def _talkative(file: Path) -> Path:
    """A photo that tells who took it, where, and with what."""
    exif = Image.Exif()
    exif[0x013B], exif[0xC62F] = SECRETS[0], SECRETS[1]
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 12.5), 3: "W", 4: (0.0, 7.0, 39.9)})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    xmp = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><mail>{SECRETS[2]}</mail></x:xmpmeta>'.encode()
    how: dict[str, Any] = {"exif": exif, "icc_profile": profile, "xmp": xmp}
    if file.suffix == ".jpg":
        how["comment"] = SECRETS[3]
    if file.suffix == ".png":
        text = PngImagePlugin.PngInfo()
        text.add_text("Comment", SECRETS[3])
        text.add_itxt("XML:com.adobe.xmp", how.pop("xmp").decode())
        how["pnginfo"] = text
    return _save(file, Image.fromarray(_scene(1600, 1200)), **how)


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "avif"])
def test_nothing_but_pixels_is_published(ending: str, root: Path) -> None:
    original = _talkative(root / f"photos/KW-2025-014/talk.{ending}")
    before = Image.open(original)
    assert before.getexif().get_ifd(0x8825)[1] == "N", "the test's own photo tells its place"
    assert SECRETS[2].encode() in original.read_bytes()

    picture = _one(_made(root, f"talk.{ending}"))

    files = [file for _, file in picture.files()]
    assert len(files) == 3
    for file in files:
        data = file.read_bytes()
        opened = Image.open(file)
        opened.load()
        assert dict(opened.getexif()) == {}
        assert opened.getexif().get_ifd(0x8825) == {}
        assert not {"exif", "xmp", "icc_profile", "comment", "photoshop", "Comment"} & set(opened.info)
        assert opened.getxmp() == {}
        for word in (*SECRETS, "Exif", "xmpmeta", "GPS", "ICC_PROFILE"):
            assert word.encode() not in data, (file.name, word)
        assert data != original.read_bytes()


# Colours.


def _close(file: Path, wanted: tuple[int, int, int], at: tuple[int, int] = (0, 0), by: int = 3) -> None:
    seen = upright(file)
    assert seen.mode == "RGB"
    found = seen.getpixel(at)
    assert isinstance(found, tuple)
    assert max(abs(a - b) for a, b in zip(found, wanted, strict=True)) <= by, found


def test_cmyk(tmp_path: Path) -> None:
    _close(
        _save(tmp_path / "a.jpg", Image.new("CMYK", (64, 64), (0, 255, 255, 0)), quality=95),
        (255, 0, 0),
        by=6,
    )


def test_a_palette_with_a_transparent_colour_lies_on_white(tmp_path: Path) -> None:
    picture = Image.new("P", (8, 8), 1)
    picture.putpalette([0, 0, 0, 200, 40, 10] + [0] * 762)
    picture.putpixel((3, 3), 0)
    file = _save(tmp_path / "a.png", picture, transparency=0)
    _close(file, (200, 40, 10))
    _close(file, (255, 255, 255), (3, 3))


def test_sixteen_bits_of_grey_are_scaled_and_not_cut_off(tmp_path: Path) -> None:
    grey = np.array([[0, 257 * 100], [257 * 200, 65_535]], np.uint16)
    file = _save(tmp_path / "a.png", Image.fromarray(grey))
    assert Image.open(file).mode == "I;16"
    assert np.asarray(upright(file))[:, :, 1].tolist() == [[0, 100], [200, 255]]


@pytest.mark.parametrize("mode", ["RGBA", "LA"])
def test_what_is_transparent_lies_on_white(mode: str, tmp_path: Path) -> None:
    picture = Image.new(mode, (4, 1))
    colour = (100, 100, 100) if mode == "RGBA" else (100,)
    for x, alpha in enumerate((0, 255, 128, 64)):
        picture.putpixel((x, 0), (*colour, alpha))
    file = _save(tmp_path / "a.png", picture)
    for x, wanted in enumerate((255, 100, 177, 216)):
        _close(file, (wanted,) * 3, (x, 0), by=1)


@pytest.mark.parametrize("mode", ["1", "L"])
def test_black_and_white_and_grey(mode: str, tmp_path: Path) -> None:
    _close(_save(tmp_path / "a.png", Image.new(mode, (4, 4), 255)), (255, 255, 255))


@pytest.mark.parametrize("ending", ["webp", "png", "avif"])
def test_of_a_moving_picture_the_first_frame_is_taken(ending: str, tmp_path: Path) -> None:
    frames = [Image.new("RGB", (32, 32), c) for c in ((200, 20, 20), (20, 200, 20), (20, 20, 200))]
    file = _save(tmp_path / f"a.{ending}", frames[0], save_all=True, append_images=frames[1:], duration=100)
    assert getattr(Image.open(file), "n_frames", 1) == 3
    _close(file, (200, 20, 20), by=8)


def _profile(*primaries: tuple[float, float, float]) -> bytes:
    """A small ICC profile (version 2): three primaries and a gamma of 2.2."""

    def fixed(*values: float) -> bytes:
        return struct.pack(f">{len(values)}i", *(round(v * 65_536) for v in values))

    xyz = [b"XYZ \0\0\0\0" + fixed(*p) for p in primaries]
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256)) + b"\0\0"
    text = b"text\0\0\0\0of the test\0"
    desc = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + b"\0" * 78
    tags = [(b"desc", desc), (b"cprt", text), (b"wtpt", b"XYZ \0\0\0\0" + fixed(0.9642, 1, 0.8249))]
    tags += list(zip((b"rXYZ", b"gXYZ", b"bXYZ"), xyz, strict=True))
    tags += [(name, curve) for name in (b"rTRC", b"gTRC", b"bTRC")]
    at, table, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, data in tags:
        data += b"\0" * (-len(data) % 4)
        table += struct.pack(">4sII", name, at + len(body), len(data))
        body += data
    head = struct.pack(">I4sI4s4s4s", at + len(body), b"test", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H4s", 2025, 1, 1, 0, 0, 0, b"acsp") + b"\0" * 28 + fixed(0.9642, 1, 0.8249)
    return head + b"\0" * (128 - len(head)) + table + body


RED, GREEN, BLUE = (0.4361, 0.2225, 0.0139), (0.3851, 0.7169, 0.0971), (0.1431, 0.0606, 0.7141)
"""sRGB's primaries as in its ICC profiles."""


def test_colours_follow_their_profile(tmp_path: Path) -> None:
    """A profile whose red and blue have changed places turns a red picture blue."""
    picture = Image.new("RGB", (16, 16), (220, 60, 20))
    file = _save(tmp_path / "a.png", picture, icc_profile=_profile(BLUE, GREEN, RED))
    _close(file, (20, 60, 220), by=8)
    same = _save(tmp_path / "b.png", picture, icc_profile=_profile(RED, GREEN, BLUE))
    _close(same, (220, 60, 20), by=8)


@pytest.mark.parametrize("profile", [b"nonsense", b"\0" * 200, _profile(RED, GREEN, BLUE)[:150]])
def test_a_spoilt_profile_is_passed_over(profile: bytes, tmp_path: Path) -> None:
    file = _save(tmp_path / "a.png", Image.new("RGB", (16, 16), (220, 60, 20)), icc_profile=profile)
    _close(file, (220, 60, 20))


def test_a_profile_for_other_colours_is_passed_over(tmp_path: Path) -> None:
    file = _save(tmp_path / "a.png", Image.new("L", (16, 16), 90), icc_profile=_profile(RED, GREEN, BLUE))
    _close(file, (90, 90, 90))


# Sizes and names.


@pytest.mark.parametrize(
    ("width", "wanted"),
    [
        (3000, [480, 1280, 1280]),
        (1280, [480, 1280, 1280]),
        (900, [480, 900, 900]),
        (480, [480, 480]),
        (31, [31, 31]),
    ],
)
def test_nothing_is_enlarged(width: int, wanted: list[int], tmp_path: Path) -> None:
    made = variants_of(_save(tmp_path / "a.png", Image.new("RGB", (width, 50), "red")))
    assert [w for (w, _, _), _ in made] == wanted
    assert [e for (_, _, e), _ in made] == ["avif"] * (len(wanted) - 1) + ["jpg"]
    for (w, h, ending), data in made:
        opened = Image.open(io.BytesIO(data))
        assert opened.size == (w, h)
        assert opened.format == {"avif": "AVIF", "jpg": "JPEG"}[ending]


def test_a_strip_keeps_a_row(tmp_path: Path) -> None:
    made = variants_of(_save(tmp_path / "a.png", Image.new("RGB", (4000, 1), "red")))
    assert [(w, h) for (w, h, _), _ in made] == [(480, 1), (1280, 1), (1280, 1)]


def test_without_avif_webp_is_made(monkeypatch: pytest.MonkeyPatch, root: Path) -> None:
    monkeypatch.setattr(photos, "small_ending", lambda: "webp")
    picture = _one(_made(root))
    assert [v.ending for v in picture.variants] == ["webp", "webp", "jpg"]
    assert picture.type == "image/webp"
    assert [Image.open(f).format for _, f in picture.files()] == ["WEBP", "WEBP", "JPEG"]


def test_names_carry_the_hash_of_what_they_name(root: Path) -> None:
    picture = _one(_made(root))
    urls = dict(picture.files())
    assert len(urls) == 3
    for url, file in urls.items():
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        hit = re.fullmatch(r"photos/KW-2025-014/nut-(480|1280)-([0-9a-f]{8})\.(avif|jpg)", url)
        assert hit, url
        assert digest.startswith(hit[2])
    small, large = (picture.url(v) for v in picture.small)
    assert picture.srcset("../../") == f"../../{small} 480w, ../../{large} 1280w"
    assert (picture.fallback.width, picture.fallback.height, picture.fallback.ending) == (1280, 960, "jpg")


def test_the_small_one_is_small(root: Path) -> None:
    original = (root / "photos/KW-2025-014/nut.jpg").stat().st_size
    small, large = (picture.stat().st_size for _, picture in list(_one(_made(root)).files())[:2])
    assert small < large < original


# The cache.


def _state(folder: Path) -> dict[str, tuple[int, bytes]]:
    return {
        str(f.relative_to(folder)): (f.stat().st_mtime_ns, f.read_bytes())
        for f in folder.rglob("*")
        if f.is_file()
    }


def test_a_second_build_makes_nothing(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = _made(root)
    before = _state(root.parent / "cache")
    assert len(before) == 4
    monkeypatch.setattr(photos, "variants_of", lambda _: pytest.fail("made anew"))
    assert _made(root) == first
    assert _state(root.parent / "cache") == before


def _truncate(folder: Path) -> None:
    os.truncate(next(folder.glob("1280.avif")), 100)


def _flip(folder: Path) -> None:
    file = folder / "480.avif"
    data = bytearray(file.read_bytes())
    data[-1] ^= 1
    file.write_bytes(data)


def _lose(folder: Path) -> None:
    (folder / "1280.jpg").unlink()


def _list(text: str) -> Any:
    def spoil(folder: Path) -> None:
        (folder / "made.json").write_text(text)

    return spoil


@pytest.mark.parametrize(
    "spoil",
    [
        _truncate,
        _flip,
        _lose,
        _list(""),
        _list("{}"),
        _list("[]"),
        _list("[1]"),
        _list('[{"width": 1}]'),
        _list('[{"width": 1, "height": 1, "ending": "jpg", "digest": "x", "file": "../../../etc/passwd"}]'),
    ],
)
def test_a_damaged_cache_is_mended(spoil: Any, root: Path) -> None:
    first = _made(root)
    (folder,) = (root.parent / "cache").iterdir()
    good = {name: data for name, (_, data) in _state(folder).items()}
    spoil(folder)

    assert _made(root) == first
    assert {name: data for name, (_, data) in _state(folder).items()} == good


def test_other_content_and_other_settings_are_other_entries(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = _one(_made(root))
    monkeypatch.setattr(photos, "VERSION", photos.VERSION + 1)
    photos._settings.cache_clear()
    second = _one(_made(root))
    assert second.folder != first.folder
    _save(root / "photos/KW-2025-014/nut.jpg", Image.new("RGB", (1600, 1200), "teal"))
    third = _one(_made(root))
    photos._settings.cache_clear()
    assert third.folder not in (first.folder, second.folder)
    assert {url for url, _ in third.files()}.isdisjoint({url for url, _ in first.files()})


def test_one_process_or_several_same_bytes(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = []
    for i in range(photos.MANY):
        names.append(f"p{i}.jpg")
        noise = Image.effect_noise((400, 300), 30 + i).convert("RGB")
        _save(root / "photos/KW-2025-014" / names[-1], noise)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    several = _made(root, *names, cache="several")
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    one = _made(root, *names, cache="one")
    assert len(one.pictures) == photos.MANY
    assert [p.variants for p in one.pictures.values()] == [p.variants for p in several.pictures.values()]
    assert len({p.fallback.digest for p in one.pictures.values()}) == photos.MANY


CTRL_C = """
import sys
from pathlib import Path
from types import SimpleNamespace
from leaklore.pages import photos

if __name__ == "__main__":
    named = [SimpleNamespace(file=f"{n}.jpg") for n in range(8)]
    cases = [SimpleNamespace(id="KW-2025-014", photos=named)]
    try:
        photos.make(SimpleNamespace(root=Path(sys.argv[1]), cases=cases), Path(sys.argv[2]))
    except KeyboardInterrupt:
        print("stopped")
"""


def test_ctrl_c_while_processes_begin_is_told_by_none_of_them(root: Path) -> None:
    """A terminal sends it to each of them; one that is just starting would tell a page of where it was."""
    folder = root / "photos" / "KW-2025-014"
    for n in range(8):
        (folder / f"{n}.jpg").write_bytes((folder / "nut.jpg").read_bytes() + bytes([n]))
    script = root.parent / "script.py"
    script.write_text(CTRL_C, "utf-8")
    command = [sys.executable, str(script), str(root), str(root.parent / "cache")]
    making = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    children = Path(f"/proc/{making.pid}/task/{making.pid}/children")
    while (
        making.poll() is None and len(children.read_text().split()) < 2
    ):  # one looks after the others' resources
        time.sleep(0.002)
    time.sleep(0.03)
    os.killpg(making.pid, signal.SIGINT)
    assert making.communicate(timeout=30) == ("stopped\n", "")


def test_the_same_photo_twice_is_made_once(root: Path) -> None:
    (root / "photos/KW-2025-014/again.jpg").write_bytes((root / "photos/KW-2025-014/nut.jpg").read_bytes())
    made = _made(root, "nut.jpg", "again.jpg", "nut.jpg")
    assert len(made.pictures) == 2
    assert len(list((root.parent / "cache").iterdir())) == 1


def test_without_photos_there_is_no_cache(root: Path) -> None:
    assert make(_library(root), root.parent / "cache") == Made({}, ())
    assert not (root.parent / "cache").exists()


def test_a_cache_that_can_not_be_written_is_told(root: Path) -> None:
    (root.parent / "cache").write_text("a file where the folder should be")
    with pytest.raises(LeakloreError, match=r"photos can't be kept in .*cache \(File exists\)"):
        _made(root)


# What can't be made.


def test_what_can_not_be_decoded_is_told_and_the_others_are_made(root: Path) -> None:
    noise = io.BytesIO()
    Image.effect_noise((300, 200), 90).convert("RGB").save(noise, "PNG")
    data = bytearray(noise.getvalue())
    data[len(data) // 2] ^= 0xFF
    (root / "photos/KW-2025-014/spoilt.png").write_bytes(data)

    made = _made(root, "nut.jpg", "spoilt.png", "gone.jpg")

    assert list(made.pictures) == [("KW-2025-014", "nut.jpg")]
    gone, spoilt = (p.text() for p in made.problems)
    assert gone == (
        "cases/photos/KW-2025-014/gone.jpg:1:1: can't be read (No such file or directory); "
        "copy the picture there again [photo/whole]"
    )
    assert spoilt.startswith("cases/photos/KW-2025-014/spoilt.png:1:1: can't be decoded (")
    assert spoilt.endswith("; copy the picture there again [photo/whole]")
    assert str(root) not in spoilt
    assert len(list((root.parent / "cache").iterdir())) == 1


def test_more_pixels_than_check_lets_through_are_not_decoded(tmp_path: Path) -> None:
    file = _save(tmp_path / "a.png", Image.new("1", (7_800, 7_800)))
    with pytest.raises(photos.Spoilt, match="has more pixels than can be taken"):
        upright(file)
