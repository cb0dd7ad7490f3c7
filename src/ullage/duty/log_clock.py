"""Compiled reading of clock times: `13:05:22.10`, `2026-05-02 13:05:22.1`, ISO 8601 with Z or an offset."""

from __future__ import annotations

from ullage.compiled import compiled
from ullage.duty.log_cells import READ, Bytes, digits_end, number, whole

DAY = 86400.0
NO_DATE, DATED = 1, 2  # kinds of clock times, added up
_COLON, _PLUS, _MINUS, _SLASH, _SPACE = 58, 43, 45, 47, 32
_MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@compiled
def clock_time(data: Bytes, begin: int, end: int, commas: bool, origin: int) -> tuple[float, int]:
    """Read a clock time.

    Parameters
    ----------
    data : Bytes
        Text.
    begin, end : int
        Where it stands.
    commas : bool
        Whether a comma is a decimal sign.
    origin : int
        Day from which seconds are counted, in days since 1970; times without a date are of day 0.

    Returns
    -------
    tuple
        Seconds, in UTC where the text has an offset, and its kind, or 0 if it is no clock time.
    """
    days, place, kind = 0, begin, NO_DATE
    if end - begin > 10 and (data[begin + 4] == _MINUS or data[begin + 4] == _SLASH):
        days, place = _date(data, begin, end)
        days, kind = days - origin, DATED
    hour, place = _field(data, place, end, 24)
    minute, place = _field(data, _past(data, place, end, _COLON), end, 60)
    begin = _past(data, place, end, _COLON)
    place = digits_end(data, begin, end)
    if place < end and (data[place] == 46 or (commas and data[place] == 44)):
        place = digits_end(data, place + 1, end)
    second, found, _ = number(data, begin, place, commas)
    shift, place = _offset(data, place, end)
    if place != end or begin == place or found != READ or second >= 61.0 or hour < 0 or minute < 0:
        return 0.0, 0
    return days * DAY + (hour * 3600.0 + minute * 60.0 + second) - shift, kind


@compiled
def _past(data: Bytes, place: int, end: int, sign: int) -> int:
    """Return the place behind a sign that must stand there, or the end beyond use."""
    return place + 1 if 0 <= place < end and data[place] == sign else end + 1


@compiled
def _field(data: Bytes, place: int, end: int, below: int) -> tuple[int, int]:
    """Return a whole number of one to four digits below a limit, and where it ends; -1 if there is none."""
    after = digits_end(data, place, end)
    if not 0 < after - place <= 4:
        return -1, end + 1
    value = whole(data, place, after, 0)
    return (value, after) if value < below else (-1, end + 1)


@compiled
def _date(data: Bytes, place: int, end: int) -> tuple[int, int]:
    """Return the days since 1970 of a date, year first, and where the time of day begins."""
    mark = data[place + 4]
    year, place = _field(data, place, end, 10000)
    month, place = _field(data, _past(data, place, end, mark), end, 13)
    day, place = _field(data, _past(data, place, end, mark), end, 32)
    if year < 1970 or month < 1 or day < 1 or day > _longest(year, month):
        return 0, end + 1
    if place < end and (data[place] == 84 or data[place] == 116):  # T
        place += 1
    while place < end and data[place] == _SPACE:
        place += 1
    # days from a civil date, years from March: H. Fliegel and T. Van Flandern, Comm. ACM 11 (1968), in another form
    late = year - (1 if month <= 2 else 0)
    months = (month + 9) % 12
    return 365 * late + late // 4 - late // 100 + late // 400 + (153 * months + 2) // 5 + day - 719469, place


@compiled
def _longest(year: int, month: int) -> int:
    """Return the number of days of a month."""
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return _MONTH_DAYS[month - 1] + (1 if leap and month == 2 else 0)


@compiled
def _offset(data: Bytes, place: int, end: int) -> tuple[float, int]:
    """Return the offset from UTC [s] and where it ends."""
    while place < end and data[place] == _SPACE:
        place += 1
    if place < end and (data[place] == 90 or data[place] == 122):  # Z
        return 0.0, place + 1
    if place >= end or (data[place] != _PLUS and data[place] != _MINUS):
        return 0.0, place
    sign = 1.0 if data[place] == _PLUS else -1.0
    after = digits_end(data, place + 1, end)
    if after - place == 5:  # +0530
        hour, minute = whole(data, place + 1, place + 3, 0), whole(data, place + 3, place + 5, 0)
        return sign * (hour * 3600.0 + minute * 60.0), after
    hour, after = _field(data, place + 1, end, 15)
    if after < end:
        minute, after = _field(data, _past(data, after, end, _COLON), end, 60)
        return sign * (hour * 3600.0 + minute * 60.0), after
    return sign * hour * 3600.0, after
