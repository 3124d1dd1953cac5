"""Months on the calendar, as rules on leaks count them."""

from __future__ import annotations

import calendar
import datetime as dt


def add_months(day: dt.date, months: int) -> dt.date:
    """The same day of a later month, or its last day."""
    year, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + year, month + 1
    return dt.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
