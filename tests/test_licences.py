"""docs/licences.md names every package of the lock file, with the licence that the package states."""

from __future__ import annotations

import re

import pytest

import licences

DOCUMENT = licences.DOCUMENT.read_text("utf-8")
LOCK = licences.LOCK.read_text("utf-8")
LOOKED_AT = {
    *(
        "MIT",
        "MIT License",
        "MIT-CMU",
        "BSD License",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "0BSD",
        "Zlib",
        "CC0-1.0",
    ),
    *("Apache-2.0", "Apache Software License", "PSFL", "PSF-2.0", "Mozilla Public License 2.0 (MPL 2.0)"),
}
"""What asks for no more than to be named; another licence has to be read before its package is used."""


def listed(text: str) -> dict[str, str]:
    """Package -> version in the document's table."""
    return dict(re.findall(r"^\| ([a-z0-9.-]+) \| ([^| ]+) \| [^|]+ \| [^|]+ \|$", text, re.MULTILINE))


def test_the_document_is_what_the_lock_file_and_the_packages_say() -> None:
    assert licences.document() == DOCUMENT, "run `make licences`"


def test_every_package_of_the_lock_file_is_read() -> None:
    pins = dict(re.findall(r"^([a-z0-9.-]+)==(\S+) \\$", LOCK, re.MULTILINE))
    assert len(pins) > 30
    assert listed(DOCUMENT) == pins
    named = {p.name: p.needed_by for p in licences.locked(LOCK)}
    assert named["mkdocs"] == ("leaklore",)
    assert named["markupsafe"] == ("jinja2", "mkdocs")
    assert all(named.values())


def test_a_package_that_is_not_listed_is_missed() -> None:
    more = f"{LOCK}newcomer==1.0 \\\n    --hash=sha256:00\n    # via leaklore (pyproject.toml)\n"
    found = list(licences.locked(more))
    assert found[-1] == licences.Package("newcomer", "1.0", ("leaklore",))
    assert {p.name for p in found} - set(listed(DOCUMENT)) == {"newcomer"}


@pytest.mark.parametrize("name", [p.name for p in licences.locked(LOCK)])
def test_each_licence_has_been_looked_at(name: str) -> None:
    said = licences.licence(name)
    assert set(re.split(r" (?:AND|OR) ", said)) <= LOOKED_AT, said
