"""Records that take little room in a pickle and are made of it quickly."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from operator import attrgetter
from typing import Any


class Compact:
    """A frozen dataclass that pickles as its class and the values of its fields, without their names."""

    __slots__ = ()
    __match_args__: tuple[str, ...]

    def __reduce__(self) -> tuple[Any, ...]:
        kind = type(self)
        return kind, _values(kind)(self)  # type: ignore[arg-type]  # a class is hashable, whatever mypy says


@cache
def _values(kind: type[Compact]) -> Callable[[Compact], tuple[Any, ...]]:
    names = kind.__match_args__
    return attrgetter(*names) if len(names) > 1 else lambda record: (getattr(record, names[0]),)
