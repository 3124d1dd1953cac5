"""What several units need of a book and only one module knows: made when first asked for, kept with the book."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar, cast

from leaklore.pages.book import Book

T = TypeVar("T")


def once(make: Callable[[Book], T]) -> Callable[[Book], T]:
    """The same function, computed once a book, as the book's own properties are."""
    name = f"{make.__module__}.{make.__qualname__}"

    @wraps(make)
    def kept(book: Book) -> T:
        if name not in book.__dict__:
            book.__dict__[name] = make(book)
        return cast(T, book.__dict__[name])

    return kept
