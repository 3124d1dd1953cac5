"""Makes the engine of a library, and the files that the browser's twin reads."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from leaklore.analysis import advice
from leaklore.analysis.advice import Adviser
from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.search import documents, index, lexicon, model, pieces
from leaklore.search.find import Engine
from leaklore.search.lexicon import Lexicon
from leaklore.search.pieces import Piece
from leaklore.workers import runs

Address = Callable[[str, str], str]
PIECE, MOST = 250, 1000
"""Cases whose texts are packed together, in the mean and at the most: never all of them lie in memory as words."""
MANY = 2000
"""For so many cases a word has to occur in one more of them, to be no slip of the pen."""
OtherPage = tuple[str, str, str, str]
"""(kind, title, lead, address) of a page that is found, too."""


def no_address(kind: str, key: str) -> str:
    """For an engine without a site."""
    return f"{kind}/{key}/"


@dataclass(frozen=True)
class Made:
    """An engine and what it was made of."""

    engine: Engine
    phrases: dict[str, Any]
    library: Library

    def files(self) -> Iterator[tuple[str, bytes]]:
        """(path, content) of every file that the browser may ask for."""
        yield from index.files(self.engine.index)
        said = model.content(self.engine, self.phrases, self.library.guide)
        yield "data/search/model.json", json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()


def make(
    library: Library,
    address: Address = no_address,
    pages: Sequence[OtherPage] = (),
    adviser: Adviser | None = None,
    texts: Iterable[Piece] | None = None,
) -> Made:
    """Everything for one library; withdrawn cases are not found. `adviser` where it is fitted already; `texts` of the
    `cuts`, where somebody has read them before."""
    phrases = lexicon.phrases(library.guide, library.vocabulary)
    found: list[Piece] = []
    forms = pieces.Tally()
    for piece in texts or (pieces.read(library, some) for some in cuts(library)):
        forms.add(piece.forms)
        found.append(replace(piece, forms={}))  # they are most of a piece
    others = [*documents.guide_documents(library, address), *documents.page_documents(pages)]
    found.append(pieces.pack(others))
    compiled = Lexicon(phrases)
    often = forms.of_at_least(1 + len(library.active) // MANY)
    phrases["plain"] = lexicon.plain_words(compiled, often)
    compiled.plain = frozenset(phrases["plain"])
    engine = Engine(
        adviser or advice.adviser(library.counted, library.active, library.guide),
        compiled,
        index.join(found, len(library.active)),
    )
    return Made(engine, phrases, library)


def cuts(library: Library) -> Iterator[Sequence[Case]]:
    """The cases in pieces whose texts are read together. Where it is cut depends on the numbers alone, so that a new case
    changes no other piece."""
    cases = sorted(library.active, key=lambda c: (c.cause.mode, c.id))  # like beside like: smaller files
    return runs(cases, lambda case: case.id.encode(), PIECE, MOST)
