"""Long lists cut into pages whose contents stay: counted from the oldest entry, so that a new one changes only the head.

The newest entries stand at the list's own address. A page behind it is full, never changes but by an entry that is
put in late, and has its number in its address: `cases/2024/`, then `cases/2024/3/`, `cases/2024/2/`, `cases/2024/1/`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

T = TypeVar("T")

EACH = 50
"""Entries of a full page. The head has up to twice as many less one, so that it is never nearly empty."""


@dataclass(frozen=True, slots=True)
class Sheet(Generic[T]):
    """One page of a list. `items` newest first; `first` to `last` are their places counted from the oldest, from 1.

    Addresses of the pages beside it and at both ends are empty where there is none.
    """

    url: str
    items: tuple[T, ...]
    first: int
    last: int
    total: int
    newest: str = ""
    newer: str = ""
    older: str = ""
    oldest: str = ""

    @property
    def is_head(self) -> bool:
        """Does it have the newest entries?"""
        return self.last == self.total

    @property
    def alone(self) -> bool:
        """Is it the whole list?"""
        return self.is_head and self.first <= 1


def sheets(items: Sequence[T], base: str, each: int = EACH) -> list[Sheet[T]]:
    """Pages of `items` (oldest first) at and below the address `base`, the head first. At least one."""
    total = len(items)
    count = max(1, total // each)

    def url(number: int) -> str:
        return base if number == count else f"{base}{number}/"

    out = []
    for number in range(count, 0, -1):
        start, end = (number - 1) * each, total if number == count else number * each
        out.append(
            Sheet(
                url(number),
                tuple(reversed(items[start:end])),
                start + 1,
                end,
                total,
                newest=base if number < count else "",
                newer=url(number + 1) if number < count else "",
                older=url(number - 1) if number > 1 else "",
                oldest=url(1) if number > 1 else "",
            )
        )
    return out
