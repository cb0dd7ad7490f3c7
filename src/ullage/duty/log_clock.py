"""Clock times in a log: `13:05:22.10`, with a date `2026-05-02` or `02.05.2026`, ISO 8601 with Z or an offset."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache

DAY = 86400.0
_CLOCK = re.compile(
    r"([^:]+:[0-9]{1,2}):([0-9]{1,2}(?:[.,][0-9]*)?) *(Z|[-+][0-9]{1,2}(?::?[0-9]{2})?)? *", re.IGNORECASE
)
_MINUTE = re.compile(
    r"(?:(?:(?P<year>[0-9]{4})([-/])(?P<month>[0-9]{1,2})\2(?P<day>[0-9]{1,2})"
    r"|(?P<day_first>[0-9]{1,2})\.(?P<its_month>[0-9]{1,2})\.(?P<its_year>[0-9]{4}))(?:T *| +))?"
    r"(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{1,2})",
    re.IGNORECASE,
)
_OFFSET = re.compile(r"([-+])([0-9]{1,2}):?([0-9]{2})?")
_EPOCH = date(1970, 1, 1).toordinal()


def clock_time(text: str) -> tuple[int | None, float]:
    """Read a clock time.

    Parameters
    ----------
    text : str
        Text of a cell.

    Returns
    -------
    tuple
        Days since 1970 of the date, None without a date, and seconds of that day, in UTC where the text has an offset.

    Raises
    ------
    ValueError
        If it is no clock time.
    """
    found = _CLOCK.fullmatch(text)
    if not found:
        raise ValueError("no clock time")
    minute, second, offset = found.groups()
    day, seconds = _minute(minute, offset)
    after = float(second.replace(",", "."))
    if after >= 61.0:
        raise ValueError("no second")
    return day, seconds + after


@lru_cache(maxsize=64)  # many rows in a minute
def _minute(text: str, offset: str | None) -> tuple[int | None, float]:
    """Return the day of a minute, and the seconds of the day at its begin in UTC."""
    found = _MINUTE.fullmatch(text)
    if not found or int(found["hour"]) > 23 or int(found["minute"]) > 59:
        raise ValueError("no minute")
    year_first, day_first = found.group("year", "month", "day"), found.group("its_year", "its_month", "day_first")
    written = next((parts for parts in (year_first, day_first) if parts[0]), None)
    day = date(*map(int, written)).toordinal() - _EPOCH if written else None
    return day, int(found["hour"]) * 3600.0 + int(found["minute"]) * 60.0 - _offset(offset)


def _offset(text: str | None) -> float:
    """Return an offset from UTC [s]."""
    found = _OFFSET.fullmatch(text or "Z")
    if not found:
        return 0.0
    hours, minutes = int(found[2]), int(found[3] or 0)
    if hours > 14 or minutes > 59:
        raise ValueError("no offset")
    return (-1.0 if found[1] == "-" else 1.0) * (hours * 3600.0 + minutes * 60.0)
