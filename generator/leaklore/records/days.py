"""Days as text."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@lru_cache(maxsize=20_000)
def is_date(text: str) -> bool:
    """Is it a day that exists, written YYYY-MM-DD?"""
    if not _DAY.fullmatch(text):
        return False
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True


@lru_cache(maxsize=20_000)
def is_partial_date(text: str) -> bool:
    """Is it a year, a month or a day that exists, written YYYY, YYYY-MM or YYYY-MM-DD?"""
    return any(is_date(f"{text}{rest}") for rest in ("-01-01", "-01", ""))
