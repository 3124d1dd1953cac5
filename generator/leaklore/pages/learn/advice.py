"""The advice of a record: whether it can stand on the customer's sheet as it was written."""

from __future__ import annotations

import re

from leaklore.analysis import readability
from leaklore.pages.markup import Prose
from leaklore.records import prose
from leaklore.records.library import Library

HARDEST = 8.0
"""US grade above which advice is too hard for the sheet. It is judged alone: the easy rest must not hide it."""
FEWEST = 4
"""Words of advice that can stand alone; `None needed.` can't."""
MONEY = frozenset(
    {"bill", "bills", "billed", "budget", "cost", "costs", "costing", "invoice", "paid"}
    | {"price", "prices", "priced", "quote", "quoted", "quotation"}
)
"""Advice with one of these words speaks of money, which is told in the offer and not here."""
_WORD = re.compile(r"[\w-]+")


def advice_of(written: str, library: Library, sites: Sites) -> tuple[str, str]:
    """(advice as the sheet shows it, "") or ("", why it is left out)."""
    if internal(written, library, sites):
        return "", "it speaks of money, or names a site, system, crew or another case"
    advice = as_sentence(Prose.plain(written))
    if readability.grade([advice]) > HARDEST:
        return "", "it is too hard to read"
    if len(advice.split()) < FEWEST:
        return "", "it is too short to stand alone"
    return advice, ""


class Sites:
    """Names of all sites, to find one in a text."""

    def __init__(self, library: Library) -> None:
        self._by_first: dict[str, list[str]] = {}
        for site in library.sites.values():
            name = site.name.casefold()
            self._by_first.setdefault(_WORD.findall(name)[0], []).append(name)

    def named_in(self, text: str) -> bool:
        """Does the text name a site of the register?"""
        folded = " ".join(text.casefold().split())
        return any(name in folded for word in _WORD.findall(folded) for name in self._by_first.get(word, ()))


def internal(text: str, library: Library, sites: Sites) -> bool:
    """Does a text name another case, a system's number, a crew or a site, or speak of money?"""
    words = set(_WORD.findall(text))
    return (
        prose.CASE_ID.search(text) is not None
        or prose.SYSTEM_ID.search(text) is not None
        or library.company.currency in words
        or any(sign in text for sign in "$€£¥")
        or not MONEY.isdisjoint({w.lower() for w in words})
        or not words.isdisjoint(library.company.crews)
        or sites.named_in(text)
    )


def as_sentence(text: str) -> str:
    """A text as one line that ends a sentence."""
    joined = " ".join(text.split())
    return joined if joined.endswith((".", "!", "?")) else f"{joined}."
