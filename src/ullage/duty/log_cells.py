"""Compiled reading of the cells of a log: a number is that of Python's `float` to the last bit, or is left to it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled

Bytes = NDArray[np.uint8]
Numbers = NDArray[np.int64]

READ, ODD = 0, 1  # what a cell is
POINTS, COMMAS = 1, 2  # decimal signs, added up
TAB, LINE_FEED, RETURN, SPACE, _QUOTE = 9, 10, 13, 32, 34
_PLUS, _COMMA, _MINUS, _POINT, _ZERO, _NINE = 43, 44, 45, 46, 48, 57
_MOST_TENS = 22  # powers of ten up to this are exact
_TENS = tuple(10.0**power for power in range(_MOST_TENS + 1))
_SPLITTER = 134217729.0  # 2^27 + 1
_NEAR_TIE = 2.0**-48


@compiled
def survey(data: Bytes, longest: int) -> tuple[int, int]:
    """Count the lines that hold more than spaces, and find the first line (from 1) longer than `longest`, or 0."""
    rows, line, begin, blank, long = 0, 1, 0, True, 0
    for place in range(len(data)):
        sign = data[place]
        if sign in (LINE_FEED, RETURN):
            rows += 0 if blank else 1
            begin, blank = place + 1, True
            line += 1 if sign == LINE_FEED or _ends_line(data, place) else 0
            continue
        blank = blank and sign == SPACE
        if place - begin >= longest and long == 0:
            long = line
    return rows + (0 if blank else 1), long


@compiled
def _ends_line(data: Bytes, place: int) -> bool:
    """Return whether a carriage return is a line end of its own."""
    return place + 1 == len(data) or data[place + 1] != LINE_FEED


@compiled
def is_mark(sign: int, delimiter: int) -> bool:
    """Return whether a sign parts two cells; with blanks between columns a tab does too."""
    return sign == delimiter or (delimiter == SPACE and sign == TAB)


@compiled
def _past_cell(data: Bytes, place: int, delimiter: int) -> tuple[int, int]:
    """Return where a cell without quotes ends, without blanks behind it, and where the sign after it stands."""
    end = place
    while place < len(data):
        sign = data[place]
        if sign in (LINE_FEED, RETURN) or is_mark(sign, delimiter):
            break
        place += 1
        if sign != SPACE and sign != TAB:
            end = place
    return end, place


@compiled
def cell(data: Bytes, place: int, delimiter: int) -> tuple[int, int, int, int]:
    """Return begin and end of a cell without blanks and quotes, where the sign after it stands, and its line ends.

    Line ends stand within quotes only; -1 of them is a quote that is not closed.
    """
    while place < len(data) and (data[place] == SPACE or data[place] == TAB) and not is_mark(data[place], delimiter):
        place += 1
    if place == len(data) or data[place] != _QUOTE:
        end, after = _past_cell(data, place, delimiter)
        return place, end, after, 0
    begin, end, lines = _quoted(data, place)
    behind, after = _past_cell(data, min(end + 1, len(data)), delimiter)
    if behind > end + 1:  # more after the closing quote: a quote that was meant as one
        return place, behind, after, lines
    return begin, end, after, lines


@compiled
def _quoted(data: Bytes, place: int) -> tuple[int, int, int]:
    """Return begin and end of what stands in quotes, and the line ends within, or -1 without a closing quote."""
    begin, lines = place + 1, 0
    place = begin
    while place < len(data):
        if data[place] == _QUOTE:
            if place + 1 == len(data) or data[place + 1] != _QUOTE:
                return begin, place, lines
            place += 1
        elif data[place] == LINE_FEED or (data[place] == RETURN and _ends_line(data, place)):
            lines += 1
        place += 1
    return begin, place, -1


@compiled
def _quotient(mantissa: int, tens: int) -> tuple[float, bool]:
    """Return a whole number over 10^tens, and whether it is rounded as it must be.

    One division is; where the whole number itself is rounded, the rest is found exactly (T. Dekker, Numerische
    Mathematik 18, 1971).
    """
    high, power = float(mantissa), _TENS[tens]
    low = float(mantissa - np.int64(high))
    first = high / power
    if low == 0.0 and abs(mantissa) <= 2**53:
        return first, True
    product = first * power
    a = first * _SPLITTER - (first * _SPLITTER - first)
    b = power * _SPLITTER - (power * _SPLITTER - power)
    error = ((a * b - product) + a * (power - b) + (first - a) * b) + (first - a) * (power - b)
    rest = (((high - product) - error) + low) / power
    least, most = first + rest * (1.0 - _NEAR_TIE), first + rest * (1.0 + _NEAR_TIE)
    return least, least == most


@compiled
def digits_end(data: Bytes, place: int, end: int) -> int:
    """Return where digits end."""
    while place < end and _ZERO <= data[place] <= _NINE:
        place += 1
    return place


@compiled
def whole(data: Bytes, place: int, end: int, before: int) -> int:
    """Return a whole number with more digits behind it; they are too many from 10^17 on."""
    for digit in range(place, end):
        before = before * 10 + (int(np.int64(data[digit])) - _ZERO) if before < 10**17 else 10**18
    return before


@compiled
def number(data: Bytes, place: int, end: int, commas: bool) -> tuple[float, int, int]:
    """Return the number in a cell, whether it is one that was read, and its decimal sign."""
    negative = place < end and data[place] == _MINUS
    if place < end and (data[place] == _MINUS or data[place] == _PLUS):
        place += 1
    point = digits_end(data, place, end)
    mantissa, count, after, sign = whole(data, place, point, 0), point - place, point, 0
    if point < end and (data[point] == _POINT or (commas and data[point] == _COMMA)):
        sign = POINTS if data[point] == _POINT else COMMAS
        after = digits_end(data, point + 1, end)
        mantissa = whole(data, point + 1, after, mantissa)
    tens = max(after - point - 1, 0)
    count += tens
    if after < end and count > 0 and (data[after] == 69 or data[after] == 101):  # E, e
        begin = after + 1
        minus = begin < end and data[begin] == _MINUS
        begin += 1 if begin < end and (data[begin] == _MINUS or data[begin] == _PLUS) else 0
        after = digits_end(data, begin, end)
        power = whole(data, begin, after, 0)
        tens += power if minus else -power
        count = count if after > begin else 0
    if after < end or count == 0 or mantissa >= 10**18 or abs(tens) > _MOST_TENS:
        return np.nan, ODD, sign
    value, sure = _quotient(mantissa, tens) if tens >= 0 else (float(mantissa) * _TENS[-tens], mantissa <= 2**53)
    return (-value if negative else value), (READ if sure else ODD), sign


@compiled
def is_missing(data: Bytes, begin: int, end: int, words: Bytes) -> bool:
    """Return whether a cell holds a mark for missing, in any case."""
    if end == begin:
        return True
    if end - begin > words.shape[1]:
        return False
    for word in range(words.shape[0]):
        place = 0
        while place < end - begin and _small(data[begin + place]) == words[word, place]:
            place += 1
        if place == end - begin and (place == words.shape[1] or words[word, place] == 0):
            return True
    return False


@compiled
def _small(sign: int) -> int:
    return sign + 32 if 65 <= sign <= 90 else sign
