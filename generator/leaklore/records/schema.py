"""The JSON Schemas, and what they say of data.

Keywords of our own: `x-vocabulary` (the text is a key of a vocabulary), `x-quantity` (the text is a quantity of a
dimension), `x-prose` (Markdown with references), `x-tube` (the text is the size of a tube) and `x-audience` (who sees it at least, see audience.py).
"""

from __future__ import annotations

from typing import Any

from leaklore.problem import Finding
from leaklore.records.accept import Check, accepts
from leaklore.records.days import is_date as is_date
from leaklore.records.days import is_partial_date as is_partial_date
from leaklore.records.schema_files import KINDS as KINDS
from leaklore.records.schema_files import MOST as MOST
from leaklore.records.schema_files import folder as folder
from leaklore.records.schema_files import load as load
from leaklore.records.schema_files import partial_date_pattern, resolve
from leaklore.records.vocabulary import Vocabulary


class Schemas:
    """Checks of all kinds, bound to one vocabulary."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self._vocabulary = vocabulary
        self._fast: dict[str, Check] = {}
        self._slow: Any = None

    def __reduce__(self) -> tuple[type[Schemas], tuple[Vocabulary]]:
        return Schemas, (self._vocabulary,)

    def accepts(self, kind: str, data: Any) -> bool:
        """Is it certain that `check` finds nothing?"""
        test = self._fast.get(kind)
        if test is None:
            dates = frozenset({partial_date_pattern()})
            test = self._fast[kind] = accepts(_schema(kind), self._vocabulary, resolve, dates)
        return test(data)

    def certain(self, kind: str, data: Any) -> bool:
        """Are all words of data that `check` lets pass words that could be read? Else its file must not be shown."""
        return not self._vocabulary.open or not Schemas(self._vocabulary.closed()).check(kind, data)

    def check(self, kind: str, data: Any) -> list[Finding]:
        """Findings for `data`; `kind` is a schema, or `guide/NAME` for one of the guide's entries."""
        if self.accepts(kind, data):
            return []
        if self._slow is None:
            from leaklore.records.refuse import (
                Refusals,  # slow to import; only needed where something may be wrong
            )

            self._slow = Refusals(self._vocabulary)
        found: list[Finding] = self._slow.of(kind, _schema(kind), data)
        return found


def _schema(kind: str) -> dict[str, Any]:
    name, _, part = kind.partition("/")
    return {"$ref": f"{load(name)['$id']}#/$defs/{part}"} if part else load(name)
