"""Makes the engine of a library, and the files that the browser's twin reads."""

from __future__ import annotations

import json
import zlib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from leaklore.analysis import advice
from leaklore.analysis.advice import Adviser
from leaklore.records.library import Library
from leaklore.records.model import Case
from leaklore.search import documents, index, lexicon, model, pieces
from leaklore.search.find import Engine
from leaklore.search.lexicon import Lexicon
from leaklore.search.pieces import Piece

Address = Callable[[str, str], str]
Read = Callable[[Library, Sequence[Case]], Piece]
"""Reads the texts of some cases, as `pieces.read` does."""
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
    read: Read = pieces.read,
) -> Made:
    """Everything for one library; withdrawn cases are not found. `adviser` where it is fitted already; `read` where
    somebody has read them before."""
    phrases = lexicon.phrases(library.guide, library.vocabulary)
    cases = sorted(library.active, key=lambda c: (c.cause.mode, c.id))  # like beside like: smaller files
    found = [read(library, some) for some in _cut(cases)]
    forms: Counter[str] = Counter()
    for piece in found:
        forms.update(piece.forms)
    others = [*documents.guide_documents(library, address), *documents.page_documents(pages)]
    phrases["plain"] = lexicon.plain_words(Lexicon(phrases), forms, 1 + len(cases) // MANY)
    engine = Engine(
        adviser or advice.adviser(library.counted, library.active, library.guide),
        Lexicon(phrases),
        index.join([*found, pieces.pack(others)], len(cases)),
    )
    return Made(engine, phrases, library)


def _cut(cases: Sequence[Case]) -> Iterator[Sequence[Case]]:
    """Where it is cut depends on the numbers alone, so that a new case changes no other piece."""
    start = 0
    for i, case in enumerate(cases, 1):
        if zlib.crc32(case.id.encode()) % PIECE == 0 or i - start == MOST:
            yield cases[start:i]
            start = i
    if start < len(cases):
        yield cases[start:]
