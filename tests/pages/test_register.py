"""The register of installs: what the search is told of a unit."""

from __future__ import annotations

import pytest

from leaklore import language
from leaklore.pages.book import Book
from leaklore.pages.register import asked
from leaklore.search.make import make
from leaklore.search.understand import evidence, understand


@pytest.mark.parametrize("tag", ["en", "es"])
def test_the_search_understands_all_that_it_is_told_of_a_unit(demo_book: Book, tag: str) -> None:
    """Kind, refrigerant, charge and age are those of the register; no word is left over."""
    library = demo_book.library
    lexicon = make(library).engine.lexicon
    before = language.current()
    language.use(language.load(tag))
    try:
        for system in library.systems.values():
            heard = understand(asked(system, demo_book), lexicon, demo_book.today)
            gear, known = system.equipment, evidence(heard)
            assert heard.words == (), system.id
            assert (known.kinds, known.refrigerant) == ((gear.kind,), gear.refrigerant), system.id
            assert known.charge == pytest.approx(gear.charge and gear.charge.si), system.id
            assert (known.age is None) == (gear.installed is None), system.id
            assert (known.places, known.symptoms) == ((), frozenset()), system.id
    finally:
        language.use(before)
