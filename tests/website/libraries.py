"""Libraries for builds: small ones written by the tests, and what a failed build must leave alone."""

from __future__ import annotations

import io
import shutil
from pathlib import Path
from typing import Any

import yaml
from PIL import Image

from site_fixture import ROOT, Site, built, copy_library, tree, write_config

COMPANY = {
    "name": "Ketterwick Air & Cold",
    "about": "Refrigeration and air-conditioning service on the Ketterwick coast",
    "units": "si",
    "currency": "USD",
    "labour_rate": "96 USD",
    "branches": [{"key": "Ketterwick", "prefix": "KW"}],
}
CASE: dict[str, Any] = {
    "id": "KW-2025-001",
    "title": "Flare on a wall unit weeps",
    "reported": "2025-02-03",
    "branch": "Ketterwick",
    "equipment": {"setting": "residential", "kind": "ductless-split", "refrigerant": "R-32"},
    "symptoms": ["short-of-charge", "oil-film"],
    "search": [
        {"technique": "heated-diode-detector", "at": ["indoor-flare"], "minutes": 12, "result": "pinpointed"},
        {"technique": "bubble-test", "at": ["indoor-flare"], "minutes": 6, "result": "confirmed"},
    ],
    "cause": {"mode": "flare-joint", "component": "indoor-flare", "proof": "point"},
    "story": "The nut was tight, and still it frothed.",
}


def _photo() -> bytes:
    """A small JPEG that tells where it was taken."""
    exif = Image.Exif()
    exif[0x010E] = "taken behind the bar"
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 12.5)})
    stream = io.BytesIO()
    picture = Image.linear_gradient("L").resize((640, 400)).convert("RGB")
    picture.save(stream, "JPEG", exif=exif, comment="its bytes are its own")
    return stream.getvalue()


PHOTO = _photo()
NOTE = """\
# Where *our* "racks" & <b>cylinders</b> stand

Cylinders stand in the cage, **never** in the van overnight. See [the other note](pump.md).

| Cage | Key |
|---|---|
| North | board |
"""


def write_yaml(file: Path, data: object) -> None:
    """Writes a file of a library."""
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(yaml.safe_dump(data, allow_unicode=True, sort_keys=False, width=10_000), "utf-8")


def write_case(library: Path, case: dict[str, Any]) -> Path:
    """Writes a record to where its number says."""
    file = library / "records" / case["id"].split("-")[1] / f"{case['id']}.yaml"
    write_yaml(file, case)
    return file


def library_of(library: Path, *cases: dict[str, Any], company: dict[str, Any] | None = None) -> Path:
    """A library with these cases and nothing else."""
    write_yaml(library / "company.yaml", {**COMPANY, **(company or {})})
    for case in cases:
        write_case(library, case)
    return library


def rich(folder: Path) -> Path:
    """The small library with a moved and a withdrawn case, a photo, notes and a guide entry of its own; built."""
    library = copy_library(folder)
    old = yaml.safe_load((library / "records/2025/KW-2025-002.yaml").read_text("utf-8"))
    old |= {"reported": str(old["reported"]), "closed": str(old["closed"]), "was": ["KW-2024-099"]}
    old["follow_up"] = [{"date": "2025-06-02", "result": "holding"}]
    old["photos"] = [{"file": "port.jpg", "caption": 'The port without its "cap" & core'}]
    write_case(library, old)
    photo = library / "photos" / old["id"] / "port.jpg"
    photo.parent.mkdir(parents=True, exist_ok=True)
    photo.write_bytes(PHOTO)
    photo.with_name("nobody-names-me.jpg").write_bytes(PHOTO)
    withdrawn = {"date": "2025-03-01", "why": "Written up twice; the other sheet carries the count."}
    write_case(library, {**CASE, "id": "KW-2025-031", "withdrawn": withdrawn})
    house = library / "house"
    house.mkdir()
    (house / "cylinders.md").write_text(NOTE, "utf-8")
    (house / "pump.md").write_text(
        "# The vacuum pump\n\nOil every month, [there](cylinders.md), for [[vacuum-hold|a hold]]. Not `[[visual]]`.\n",
        "utf-8",
    )
    own_entry(house, "failure-modes/flare-joint", "Flared joint, as we make it", "the bench by the window")
    own_entry(house, "techniques/visual", "Eyes, as we use them", "a lamp from the side")
    return built(write_config(folder, library))


def own_entry(house: Path, page: str, name: str, words: str) -> None:
    """The company's own version of a shipped guide page, with one heading that no shipped page has."""
    shipped = (ROOT / "generator/leaklore/guide" / f"{page}.md").read_text("utf-8")
    front, body = shipped.removeprefix("---\n").split("\n---\n", 1)
    assert words not in body
    facts = yaml.safe_load(front) | {"name": name}
    file = house / f"{page}.md"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(
        f"---\n{yaml.safe_dump(facts, allow_unicode=True)}---\n## Of the house\n\nHere it is {words}.\n",
        "utf-8",
    )


class Workshop:
    """A folder with mkdocs.yml, cases/ and a good site/, as a company keeps them."""

    def __init__(self, folder: Path, made: Path) -> None:
        self.folder = folder
        self.library = Path(shutil.copytree(made / "cases", folder / "cases"))
        shutil.copytree(made / "site", folder / "site")
        self.config = write_config(folder, self.library)
        self.before = tree(folder / "site")

    def own_theme(self) -> Path:
        """A copy of the theme that the company has changed."""
        theme = Path(shutil.copytree(ROOT / "site_overrides", self.folder / "theme"))
        write_config(self.folder, self.library, theme)
        return theme

    def untouched(self) -> bool:
        """The last good site stands as it was, and nothing half-made beside it."""
        beside = {p.name for p in self.folder.iterdir()} - {"mkdocs.yml", "cases", "site", "theme", ".cache"}
        return tree(self.folder / "site") == self.before and not beside


def shape(site: Site, urls: list[str]) -> dict[str, list[tuple[str, tuple[tuple[str, str], ...]]]]:
    """What the pages are made of, without their words: elements, attributes, and what attributes lead to."""
    kept = ("href", "src", "action", "class", "id", "type", "http-equiv", "role", "hidden")
    return {
        page.url: [
            (str(e.tag), tuple(sorted((k, v if k in kept else "") for k, v in e.attrib.items())))
            for e in page.elements
        ]
        for page in map(site.strict, urls)
    }
