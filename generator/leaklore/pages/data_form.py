"""The form that data files share."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from leaklore.pages.book import Book

VERSION = 1


def as_json(data: Mapping[str, Any], book: Book, version: int = VERSION) -> bytes:
    """A data file: its version, the day of the edition, then `data`."""
    whole = {"version": version, "edition": book.today.isoformat(), **data}
    return (json.dumps(whole, ensure_ascii=False, separators=(",", ":")) + "\n").encode()


def table(records: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Records of the same keys: `keys` once, then a row of values for each; half the size of a map for each."""
    return {
        "keys": list(records[0]) if records else [],
        "rows": [list(record.values()) for record in records],
    }


def rounded(value: float | None) -> float | None:
    """Twelve significant figures: whoever computes with them gets our figures, and they stay short."""
    return None if value is None else float(f"{value:.12g}")


_FORMULA = tuple("=+-@\t\r\n＝＋－＠")
"""First signs at which a spreadsheet may begin to compute (OWASP, CSV Injection; the wide forms from memory)."""


def cell(value: Any) -> Any:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(value, list):
        value = " ".join(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    return value
