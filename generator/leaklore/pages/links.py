"""Addresses of all pages, relative to the site's root. Stable: others link to them."""

from __future__ import annotations

import re

from leaklore.records.library import Library
from leaklore.records.vocabulary import as_address

ANCHOR = re.compile(r'<a\b[^>]*?\bhref="([^"]*)"[^>]*>(.*?)</a>', re.DOTALL)
"""A link in a page that we made: its address, and what it holds."""
FOLDERS = {
    "mode": "guide/failure-modes",
    "technique": "guide/techniques",
    "symptom": "guide/symptoms",
    "component": "guide/components",
    "refrigerant": "guide/refrigerants",
    "case": "cases",
    "system": "systems",
    "branch": "branches",
    "setting": "settings",
    "reading": "reading",
    "customer": "for-customers",
}


def slug(key: str) -> str:
    """A key as part of an address; case and system numbers stay as they are."""
    return as_address(key)


def address(kind: str, key: str) -> str:
    """Address of a page, with a slash at the end and none at the start."""
    part = key if kind in ("case", "system", "customer") else slug(key)
    return f"{FOLDERS[kind]}/{part}/"


def cases_of(mode: str) -> str:
    """Address of the list of all cases of a failure mode; with the cases, as a phone keeps both together."""
    return f"{FOLDERS['case']}/failure-modes/{slug(mode)}/"


def name_of(kind: str, key: str, library: Library) -> str:
    """What a link to a page says."""
    guide = library.guide
    if kind == "case":
        case = library.case(key)
        return case.title if case else key
    if kind == "system":
        system = library.systems.get(key)
        return system.full_name if system else key
    if kind == "setting":
        return library.vocabulary.name("settings", key)
    if kind == "reading":
        return next((r.title for r in library.reading if r.key == key), key)
    if kind == "branch":
        return key
    return guide.entries(kind)[key].name


def root_from(url: str) -> str:
    """The way from a page back to the site's root: `cases/KW-2025-014/` -> `../../`."""
    return "../" * url.count("/") or "./"
