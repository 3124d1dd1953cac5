"""Writes docs/licences.md: whose work the site and the program stand on. Run by `make licences`.

The packages are those of requirements.lock, their licences as the installed packages state them; what the site ships to
browsers is told here in words, and tests/test_licences.py holds both to the lock file and to a built site.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import metadata
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / "requirements.lock"
DOCUMENT = ROOT / "docs" / "licences.md"
OURS = "leaklore (pyproject.toml)"
SHORT = 60
"""Characters; a package that puts its whole licence into the field is told by its classifier instead."""

_PIN = re.compile(r"([a-z0-9.-]+)==([^ \\]+)")
_TEXT = """\
# Whose work this stands on

Written by `make licences` from `requirements.lock`; `tests/test_licences.py` fails when a package of the lock file is
missing here or has another licence.

## What the site gives to browsers

| Files | What it is | Licence |
|---|---|---|
| `js/vega-bundle.js` | the charts of *Explore the leaks*: {vega} and the packages that they are made of, from inside the wheel of vl-convert-python | BSD-3-Clause, ISC, MIT, Unlicense; the texts are in `js/vega-bundle.LICENSE.txt`, which that page links to |
| all other scripts, styles, pages, pictures and icons | written and drawn for Leaklore | Leaklore's own |
| `data/trade.json` | properties of refrigerants: coefficients, fitted to values that {tables} computed; nothing of that program is in them | MIT (the program) |
| months and numbers in a language other than English | from the Unicode CLDR, by way of Babel | Unicode-3.0 |

No font is shipped: pages use those of the device. No script comes from a package registry, and nothing is fetched from
another host. Charts in pages are drawings (SVG) made at build time and hold no code.

Leaklore itself has no licence file yet: without one nobody but its owner may pass it on.

## What the program needs

With the licence as each package states it. Packages that are installed as wheels carry their licence texts, and those of
the libraries built into them (numpy and scipy: OpenBLAS and the GCC runtime), in their `.dist-info` folders. pi-heif's wheel
holds libheif and libde265 as files of their own, both under the LGPL-3.0. A site contains none of these packages, but for the
parts named above.

| Package | Version | Licence | Needed by |
|---|---|---|---|
{rows}
"""


@dataclass(frozen=True)
class Package:
    """One line of the lock file; `needed_by` are the packages that ask for it."""

    name: str
    version: str
    needed_by: tuple[str, ...]


def locked(text: str) -> Iterator[Package]:
    """The packages of a lock file that pip-compile wrote."""
    for block in re.split(r"\n(?=[a-z0-9])", text):
        if pin := _PIN.match(block):
            via = re.search(r"# via(.*)", block, re.DOTALL)
            names = [line.strip(" #") for line in via[1].splitlines()] if via else []
            yield Package(pin[1], pin[2], tuple("leaklore" if n == OURS else n for n in names if n))


def licence(name: str) -> str:
    """As the installed package states it. Raises ValueError where it states none."""
    said: Any = metadata(name)  # typed without `get`
    if expression := said.get("License-Expression"):
        return str(expression)
    field = str(said.get("License") or "").strip()
    if field and field != "UNKNOWN" and len(field) <= SHORT and "\n" not in field:
        return field
    classified = [c for c in said.get_all("Classifier") or () if c.startswith("License ::")]
    if not classified:
        raise ValueError(f"{name} states no licence; look into its files")
    return " AND ".join(c.rpartition(" :: ")[2] for c in classified)


def row(package: Package) -> str:
    """Its line of the table."""
    return (
        f"| {package.name} | {package.version} | {licence(package.name)} | {', '.join(package.needed_by)} |"
    )


def document() -> str:
    """The whole text of docs/licences.md."""
    from leaklore.pages.patterns.explore_bundle import packages
    from leaklore.trade.tables import shipped

    return _TEXT.format(
        vega=" and ".join(f"{name} {version}" for name, version in packages()),
        tables=shipped().content["made_with"],
        rows="\n".join(map(row, locked(LOCK.read_text("utf-8")))),
    )


if __name__ == "__main__":
    DOCUMENT.write_text(document(), "utf-8")
