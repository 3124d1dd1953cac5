"""A HEIC from the record to the site: seen upright, and nothing of what the camera wrote into it."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

import heic_made

from .libraries import CASE, built, library_of, write_config


def test_a_heic_is_published_as_a_jpeg_is(tmp_path: Path) -> None:
    case = {**CASE, "photos": [{"file": "port.heic", "caption": "The port behind the bar"}]}
    library = library_of(tmp_path / "cases", case)
    photo = library / "photos" / str(case["id"]) / "port.heic"
    photo.parent.mkdir(parents=True)
    photo.write_bytes(heic_made.file("turned"))

    site = built(write_config(tmp_path, library))

    made = {p.name.rpartition("-")[0] + p.suffix: p for p in (site / "photos" / str(case["id"])).iterdir()}
    assert set(made) == {"port-480.avif", "port-640.avif", "port-640.jpg"}
    with Image.open(made["port-640.jpg"]) as picture:
        assert picture.size == (640, 960), "upright"
        assert not picture.getexif()
    assert made["port-640.jpg"].name in (site / f"cases/{case['id']}/index.html").read_text("utf-8")
    for file in site.rglob("*"):
        if file.is_file():
            data = file.read_bytes()
            assert not any(word.encode() in data for word in heic_made.SECRETS), file
