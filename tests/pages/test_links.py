"""Addresses and names of pages."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.builders import case, library
from leaklore.pages import links
from leaklore.pages.site import Edition
from leaklore.records.library import Library


@pytest.mark.parametrize(
    ("kind", "key", "address"),
    [
        ("mode", "flare-joint", "guide/failure-modes/flare-joint/"),
        ("technique", "bubble-test", "guide/techniques/bubble-test/"),
        ("symptom", "oil-film", "guide/symptoms/oil-film/"),
        ("component", "indoor-flare", "guide/components/indoor-flare/"),
        ("refrigerant", "R-32", "guide/refrigerants/r-32/"),
        ("refrigerant", "R-1234ze(E)", "guide/refrigerants/r-1234ze-e/"),
        ("case", "KW-2025-014", "cases/KW-2025-014/"),
        ("system", "S-0412", "systems/S-0412/"),
        ("branch", "Ketterwick", "branches/ketterwick/"),
        ("setting", "light-commercial", "settings/light-commercial/"),
        ("reading", "first-week", "reading/first-week/"),
    ],
)
def test_addresses_stay_what_they_are(kind: str, key: str, address: str) -> None:
    """Others link to these: a change here breaks their links."""
    assert links.address(kind, key) == address


@pytest.mark.parametrize(
    ("url", "root"),
    [
        ("", "./"),
        ("404.html", "./"),
        ("cases/", "../"),
        ("cases/KW-2025-014/", "../../"),
        ("guide/failure-modes/flare-joint/", "../../../"),
    ],
)
def test_way_back_to_the_root(url: str, root: str) -> None:
    """As many steps as folders."""
    assert links.root_from(url) == root


def test_letters_with_signs_become_plain_ones() -> None:
    assert [links.slug(key) for key in ("Almería", "Łódź", "Ærø", "R-1234ze(E)")] == [
        "almeria",
        "lodz",
        "aero",
        "r-1234ze-e",
    ]


@given(st.from_regex(r"[A-Za-z0-9À-ÖØ-öø-ž][A-Za-z0-9()À-ÖØ-öø-ž -]{0,20}", fullmatch=True))
def test_a_slug_needs_no_encoding(key: str) -> None:
    """Lower case, digits and hyphens only."""
    slug = links.slug(key)
    assert set(slug) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert links.slug(slug) == slug


def test_no_two_keys_share_an_address(demo_library: Library) -> None:
    """Slugs that fold letters together would hide a page."""
    lib = demo_library
    keys = [
        *(
            (kind, key)
            for kind in ("mode", "technique", "symptom", "component", "refrigerant")
            for key in lib.guide.entries(kind)
        ),
        *(("case", c.id) for c in lib.cases),
        *(("system", s) for s in lib.systems),
        *(("branch", b) for b in lib.company.branches),
        *(("setting", s) for s in lib.vocabulary.terms["settings"]),
        *(("reading", r.key) for r in lib.reading),
    ]
    addresses = [links.address(kind, key).lower() for kind, key in keys]
    assert len(set(addresses)) == len(addresses)


def test_every_address_is_a_page(demo_library: Library, demo_edition: Edition) -> None:
    """Whatever may be linked exists, once."""
    urls = [p.url for p in demo_edition.pages]
    assert len(set(urls)) == len(urls)
    lib, made = demo_library, set(urls)
    for kind in ("mode", "technique", "symptom", "component", "refrigerant"):
        for key in lib.guide.entries(kind):
            assert links.address(kind, key) in made, (kind, key)
    for kind, keys in (
        ("case", [c.id for c in lib.cases] + list(lib.former)),
        ("system", list(lib.systems)),
        ("branch", list(lib.company.branches)),
        ("setting", list(lib.vocabulary.terms["settings"])),
        ("reading", [r.key for r in lib.reading]),
    ):
        for key in keys:
            assert links.address(kind, key) in made, (kind, key)


def test_names_of_guide_entries_and_places(demo_library: Library) -> None:
    """Names, not keys; numbers of systems are told by site and name."""
    lib = demo_library
    assert links.name_of("mode", "flare-joint", lib) == lib.guide.modes["flare-joint"].name != "flare-joint"
    assert links.name_of("setting", "residential", lib) == "Home"
    assert links.name_of("branch", "Ketterwick", lib) == "Ketterwick"
    system = next(iter(lib.systems.values()))
    assert links.name_of("system", system.id, lib) == f"{system.site.name}, {system.name}"


def test_a_case_is_named_by_its_title_also_under_its_former_number() -> None:
    """And by the number itself where there is no such case, system or list."""
    lib = library(replace(case(1), was=("KW-2021-901",)))
    assert links.name_of("case", "KW-2025-001", lib) == "Case 1"
    assert links.name_of("case", "KW-2021-901", lib) == "Case 1"
    assert links.name_of("case", "KW-1999-001", lib) == "KW-1999-001"
    assert links.name_of("system", "S-9999", lib) == "S-9999"
    assert links.name_of("reading", "none-such", lib) == "none-such"
