"""What leaves the phone: a ZIP that every program opens, and photos with nothing in them but the picture."""

from __future__ import annotations

import base64
import io
import random
import re
import subprocess
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw, ImageOps

from leaklore.intake import unpack
from leaklore.records import heif, source

from .desk import Phone

ROOT = Path(__file__).parents[2]

BYTES = "const bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));"
TEXT = "const text = (bytes) => { let out = ''; for (const b of bytes) out += String.fromCharCode(b); return btoa(out); };"
ZIP = f"""(call) => {{ {BYTES} {TEXT}
  const [files, day] = JSON.parse(call);
  return JSON.stringify(text(desk.zip(files.map(([name, content]) => ({{ name, bytes: bytes(content) }})), day)));
}}"""
PHOTO = f"""(call) => {{ {BYTES} {TEXT}
  return JSON.stringify(JSON.parse(call).map((content) => {{
    const picture = bytes(content);
    const way = desk.orientation(picture);
    try {{
      const left = desk.withoutMetadata(picture);
      return {{ way, turn: desk.turn(way), left: text(left), again: text(desk.withoutMetadata(left)) }};
    }} catch (fault) {{
      return {{ way, fault: fault.message }};
    }}
  }}));
}}"""
TAG = 0x0112


def told(data: bytes) -> str:
    """Bytes for the browser."""
    return base64.b64encode(data).decode()


def photographs(phone: Phone, *pictures: bytes) -> list[dict[str, Any]]:
    """What the phone makes of pictures."""
    found: list[dict[str, Any]] = phone.run(PHOTO, [told(one) for one in pictures])
    return found


def picture() -> Image.Image:
    """A picture that looks different however it is turned."""
    image = Image.new("RGB", (64, 48), "white")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, 31, 15), fill="red")
    draw.rectangle((48, 0, 63, 47), fill="blue")
    draw.rectangle((0, 40, 20, 47), fill="green")
    return image


def jpeg(image: Image.Image, **options: Any) -> bytes:
    """A JPEG file."""
    out = io.BytesIO()
    image.save(out, "JPEG", quality=95, **options)
    return out.getvalue()


def with_exif(way: int, **options: Any) -> bytes:
    """A JPEG as a phone takes it: how it lies, where and when, by what."""
    exif = Image.Exif()
    exif[TAG] = way
    exif[0x010F] = "Some maker of phones"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (55.0, 57.0, 11.0)
    return jpeg(picture(), exif=exif, **options)


@pytest.mark.parametrize("day", ["2026-11-26", "1980-01-01", "2024-02-29", "1970-05-06"])
def test_pythons_zipfile_opens_it(phone: Phone, day: str, tmp_path: Path) -> None:
    rng = random.Random(3)
    files = {
        "KW-2026-014.yaml": b"id: KW-2026-014\n",
        "photos/KW-2026-014/Ünsichtbar 🔧.jpg": rng.randbytes(70_000),
        "empty.txt": b"",
    }
    data = base64.b64decode(phone.run(ZIP, [[[name, told(content)] for name, content in files.items()], day]))
    with zipfile.ZipFile(io.BytesIO(data)) as found:
        assert found.testzip() is None
        assert found.namelist() == list(files)
        for info in found.infolist():
            assert found.read(info) == files[info.filename]
            assert info.compress_type == zipfile.ZIP_STORED
            assert zlib.crc32(files[info.filename]) == info.CRC
            assert info.flag_bits & 0x800, "the name is UTF-8"
            year, month, date = map(int, day.split("-"))
            assert info.date_time == (max(year, 1980), month, date, 0, 0, 0)
    again = base64.b64decode(
        phone.run(ZIP, [[[name, told(content)] for name, content in files.items()], day])
    )
    assert again == data, "the same in every run"


def test_no_files_make_a_zip_too(phone: Phone) -> None:
    with zipfile.ZipFile(io.BytesIO(base64.b64decode(phone.run(ZIP, [[], "2026-11-26"])))) as found:
        assert found.namelist() == []


def test_how_a_photo_lies_is_read_and_can_be_put_right(phone: Phone) -> None:
    """All eight ways; turned as the phone says, it is the picture that Pillow makes of it."""
    pictures = [with_exif(way) for way in range(1, 9)]
    for way, (data, found) in enumerate(zip(pictures, photographs(phone, *pictures), strict=True), 1):
        assert found["way"] == way
        with Image.open(io.BytesIO(data)) as opened:
            right = ImageOps.exif_transpose(opened).convert("RGB")
        with Image.open(io.BytesIO(base64.b64decode(found["left"]))) as opened:
            lies = opened.convert("RGB")
        turn = found["turn"]
        if turn["mirrored"]:
            lies = ImageOps.mirror(lies)
        lies = lies.rotate(-turn["degrees"], expand=True)
        assert turn["sides"] == (way >= 5)
        assert (lies.size, lies.tobytes()) == (right.size, right.tobytes()), way


def test_photos_that_say_nothing_or_nonsense_of_how_they_lie(phone: Phone) -> None:
    plain = jpeg(picture())
    cut = with_exif(6)
    wrong = [
        plain,
        with_exif(9),
        with_exif(0),
        b"",
        b"\xff\xd8",
        b"\x89PNG\r\n",
        cut[:30],
        cut[:40],
        b"\xff\xd8\xff\xe1\x00\x01",
    ]
    big = with_exif(6).replace(b"Exif\0\0II*\0", b"Exif\0\0XX*\0").replace(b"Exif\0\0MM\0*", b"Exif\0\0XX\0*")
    assert [one["way"] for one in photographs(phone, *wrong, big)] == [1] * 10


def test_both_orders_of_bytes_are_read(phone: Phone) -> None:
    def exif(order: bytes, way: int) -> bytes:
        little = order == b"II"

        def n(value: int, size: int) -> bytes:
            return value.to_bytes(size, "little" if little else "big")

        body = (
            order
            + n(42, 2)
            + n(8, 4)
            + n(1, 2)
            + n(TAG, 2)
            + n(3, 2)
            + n(1, 4)
            + n(way, 2)
            + n(0, 2)
            + n(0, 4)
        )
        plain = jpeg(picture())
        block = b"Exif\0\0" + body
        return plain[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2, "big") + block + plain[2:]

    found = photographs(phone, exif(b"II", 6), exif(b"MM", 8))
    assert [one["way"] for one in found] == [6, 8]


@pytest.mark.filterwarnings("ignore:Image appears to be a malformed MPO")
def test_metadata_is_gone_and_the_picture_is_the_same(phone: Phone) -> None:
    profile = b"profile of colours" * 20
    rich = with_exif(
        6,
        comment=b"taken at 12 Harbour Street",
        icc_profile=profile,
        xmp=b"<x>by a person</x>",
        progressive=True,
    )
    segment = b"Photoshop 3.0\x008BIM caption of a person"
    rich = rich[:2] + b"\xff\xed" + (len(segment) + 2).to_bytes(2, "big") + segment + rich[2:]
    rich = rich[:2] + b"\xff\xe2\x00\x0aMPF\0abcd" + rich[2:]
    rich += with_exif(1) + b"film behind the picture"
    restarts = with_exif(1, restart_marker_blocks=2)
    for data, found in zip((rich, restarts), photographs(phone, rich, restarts), strict=True):
        left = base64.b64decode(found["left"])
        assert base64.b64decode(found["again"]) == left
        for word in (b"Exif", b"Harbour", b"person", b"Photoshop", b"maker", b"film", b"MPF", b"xap"):
            assert word not in left, word
        with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(left)) as after:
            assert after.tobytes() == before.tobytes()
            assert dict(after.getexif()) == {}
            assert not {"exif", "comment", "xmp", "photoshop", "mp"} & set(after.info)
            assert after.info.get("icc_profile") == before.info.get("icc_profile")
    with Image.open(io.BytesIO(rich)) as before:
        assert before.info["icc_profile"] == profile
        assert before.getexif()[TAG] == 6, "it was there"


def test_what_is_no_jpeg_is_refused(phone: Phone) -> None:
    whole = with_exif(1)
    pictures = [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n" + bytes(40), whole[:50], whole[:2] + b"\x00" + whole[2:]]
    assert all("JPEG" in one["fault"] for one in photographs(phone, *pictures))


def test_a_heic_is_known_by_its_first_bytes_as_in_python(phone: Phone) -> None:
    starts = [b"", b"\xff\xd8\xff", b"\0\0\0\x1cftyp", *(b"\0\0\0\x1cftyp" + brand for brand in heif.BRANDS)]
    starts += [b"\0\0\0\x1cftypavif", b"\0\0\0\x1cftypmp42", b"ftypheic\0\0\0\0", b"\0\0\0\x1cftypHEIC"]
    script = f"(call) => {{ {BYTES} return JSON.stringify(JSON.parse(call).map((one) => desk.isHeif(bytes(one)))); }}"
    found = phone.run(script, [told(one) for one in starts])
    assert found == [heif.is_heif(one) for one in starts]
    assert sum(found) == len(heif.BRANDS)


def test_what_is_kept_as_it_is_is_taken() -> None:
    """The form's limits are those of `leaklore take`."""
    script = (ROOT / "site_overrides/js/record/photos_ui.mjs").read_text("utf-8")
    said = {name: float(value) for name, value in re.findall(r"const (LARGEST_\w+) = (\w+);", script)}
    assert said == {
        "LARGEST_KEPT": unpack.PHONE.each,
        "LARGEST_PARCEL": unpack.PHONE.whole - source.MAX_BYTES,
    }


def test_sizes_keep_their_shape(phone: Phone) -> None:
    asked = [(4000, 3000), (3000, 4000), (1600, 1200), (1601, 10), (640, 480), (100_000, 1), (1600, 1600)]
    script = "(sizes) => JSON.stringify(JSON.parse(sizes).map(([w, h]) => desk.targetSize(w, h)))"
    found = [(one["width"], one["height"]) for one in phone.run(script, asked)]
    assert found == [
        (1600, 1200),
        (1200, 1600),
        (1600, 1200),
        (1600, 10),
        (640, 480),
        (1600, 1),
        (1600, 1600),
    ]


def test_unzip_opens_it_too(phone: Phone, tmp_path: Path) -> None:
    """Another program than Python, where there is one."""
    file = tmp_path / "a.zip"
    file.write_bytes(base64.b64decode(phone.run(ZIP, [[["a/ä.txt", told(b"text")]], "2026-11-26"])))
    try:
        done = subprocess.run(["unzip", "-t", str(file)], capture_output=True, timeout=30, check=False)
    except FileNotFoundError:
        pytest.skip("there is no unzip here")
    assert done.returncode == 0, done.stdout
