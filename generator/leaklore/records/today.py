"""The day of this run: a build can be repeated for another day by SOURCE_DATE_EPOCH."""

from __future__ import annotations

import datetime as dt
import os

from leaklore.errors import LeakloreError


def today() -> dt.date:
    """Today, or the day of SOURCE_DATE_EPOCH (seconds since 1970, UTC). Raises LeakloreError for nonsense there."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if not epoch:
        return dt.date.today()
    try:
        return dt.datetime.fromtimestamp(int(epoch), dt.UTC).date()
    except (ValueError, OverflowError, OSError):
        raise LeakloreError(
            f'SOURCE_DATE_EPOCH is "{epoch}"; write the seconds since 1970, or take it out'
        ) from None
