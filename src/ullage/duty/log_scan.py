"""Compiled reading of the rows of a log: wanted cells as numbers, all else as events that are dealt with outside."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ullage.compiled import compiled
from ullage.duty.log_cells import LINE_FEED, READ, RETURN, SPACE, TAB, Bytes, Numbers, cell, is_mark, is_missing, number
from ullage.duty.log_clock import clock_time
from ullage.duty.profile import Array

ODD_CELL, WRONG_COUNT, OPEN_QUOTE = 0, 1, 2  # what an event is
EVENT_FIELDS = 6  # what, line, slot or number of cells, begin, end, row


class Layout(NamedTuple):
    """How rows are written.

    `slots` holds for every column of the file where its numbers go, or -1; `clock` the slot of clock times, or -1,
    which are counted from day `origin`; `words` the marks for a missing value, in small letters, filled with zeros.
    """

    delimiter: int
    commas: bool
    clock: int
    origin: int
    slots: Numbers
    words: Bytes


# the state of a scan
PLACE, LINE, ROW, EVENTS, SIGNS, CLOCKS, STATE_LENGTH = 0, 1, 2, 3, 4, 5, 6


@compiled
def scan(data: Bytes, layout: Layout, values: Array, lines: Numbers, events: Numbers, state: Numbers) -> None:
    """Read rows on from a state until the text ends, or another row could have too many events.

    Parameters
    ----------
    data : Bytes
        Text.
    layout : Layout
        How it is written.
    values, lines : Array
        Numbers by slot and row, and the line of each row; written, one row more than there are. What is missing or an
        event is not a number.
    events : Array
        What the caller must look at, one row of `EVENT_FIELDS` each; written from the first on.
    state : Array
        Place in the text, its line, rows, events, and the kinds of decimal signs and of clock times seen; changed.
    """
    state[EVENTS] = 0
    while state[PLACE] < len(data) and state[EVENTS] + len(layout.slots) < len(events):
        _skip_blanks(data, layout.delimiter, state)
        if state[PLACE] < len(data) and not _at_line_end(data, state[PLACE]):
            _row(data, layout, values, lines, events, state)
        _next_line(data, state)


@compiled
def _row(data: Bytes, layout: Layout, values: Array, lines: Numbers, events: Numbers, state: Numbers) -> None:
    """Read one row; with too few cells, or more that hold something, it is an event and no row."""
    line, count, more, known = state[LINE], 0, False, state[EVENTS]
    start = state[PLACE]
    while True:
        begin, end, place, within = cell(data, state[PLACE], layout.delimiter)
        if within < 0:
            state[PLACE], state[EVENTS] = len(data), known
            _add_event(events, state, OPEN_QUOTE, line, 0, begin, end)
            return
        if count < len(layout.slots):
            _take(data, layout, layout.slots[count], begin, end, values, events, state)
        else:
            more = more or end > begin
        count += 1
        state[LINE] += within
        state[PLACE] = place
        if place == len(data) or not is_mark(data[place], layout.delimiter):
            break
        state[PLACE] += 1
        if layout.delimiter == SPACE:
            _skip_blanks(data, layout.delimiter, state)
            if state[PLACE] == len(data) or _at_line_end(data, state[PLACE]):
                break
    if count < len(layout.slots) or more:
        state[EVENTS] = known
        _add_event(events, state, WRONG_COUNT, line, count, start, state[PLACE])
        return
    lines[state[ROW]] = line
    state[ROW] += 1


@compiled
def _take(
    data: Bytes, layout: Layout, slot: int, begin: int, end: int, values: Array, events: Numbers, state: Numbers
) -> None:
    """Put a cell where it is wanted."""
    if slot < 0:
        return
    if slot == layout.clock:
        value, kind = clock_time(data, begin, end, layout.commas, layout.origin)
        state[CLOCKS] |= kind
        read = kind > 0
    else:
        value, found, sign = number(data, begin, end, layout.commas)
        read = found == READ
        state[SIGNS] |= sign if read else 0
    values[slot, state[ROW]] = value if read else np.nan
    if not read and not is_missing(data, begin, end, layout.words):
        _add_event(events, state, ODD_CELL, state[LINE], slot, begin, end)


@compiled
def _add_event(events: Numbers, state: Numbers, what: int, line: int, where: int, begin: int, end: int) -> None:
    event = events[state[EVENTS]]
    event[0], event[1], event[2], event[3], event[4], event[5] = what, line, where, begin, end, state[ROW]
    state[EVENTS] += 1


@compiled
def _at_line_end(data: Bytes, place: int) -> bool:
    return bool(data[place] == LINE_FEED or data[place] == RETURN)


@compiled
def _skip_blanks(data: Bytes, delimiter: int, state: Numbers) -> None:
    """Step over blanks; a tab is none where it parts columns."""
    while state[PLACE] < len(data):
        sign = data[state[PLACE]]
        if sign != SPACE and (sign != TAB or delimiter == TAB):
            return
        state[PLACE] += 1


@compiled
def _next_line(data: Bytes, state: Numbers) -> None:
    """Step over a line end of one or two signs."""
    place = state[PLACE]
    if place == len(data):
        return
    pair = data[place] == RETURN and place + 1 < len(data) and data[place + 1] == LINE_FEED
    state[PLACE] = place + (2 if pair else 1)
    state[LINE] += 1
