"""The rows of a log as SI numbers, every fault with its line and column."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

import numpy as np

from ullage.duty.log_cells import COMMAS, POINTS, Bytes, Numbers, survey
from ullage.duty.log_clock import DATED, DAY, NO_DATE
from ullage.duty.log_columns import TIME, Column, Wanted, column_of, is_unit, unit_named
from ullage.duty.log_faults import LogFaults
from ullage.duty.log_head import LONGEST_LINE, Head, find_head
from ullage.duty.log_scan import (
    CLOCKS,
    EVENT_FIELDS,
    EVENTS,
    LINE,
    ODD_CELL,
    OPEN_QUOTE,
    PLACE,
    ROW,
    SIGNS,
    STATE_LENGTH,
    Layout,
    scan,
)
from ullage.duty.log_text import LogText
from ullage.duty.profile import Array
from ullage.errors import quoted
from ullage.hints import wanted as wanted_words
from ullage.units import UnitError

MOST_ROWS = 5_000_000
_MOST_EVENTS = 4096
_MISSING = ("nan", "na", "n/a", "#n/a", "-nan", "null", "none", "nil", "-", "--", "---", "?")
_LONGEST_WORD = 8
_NO_NUMBER = "is not a number (a point for decimals, no unit)"
_DATE = re.compile(r"([0-9]{4})[-/]([0-9]{1,2})[-/]([0-9]{1,2})(?![0-9])")
_EPOCH = date(1970, 1, 1).toordinal()


class LogTable(NamedTuple):
    """Rows of a log: SI numbers by channel, time among them if there is such a column, and the line of each row.

    What is missing is not a number. `day` is the POSIX time from which a clock with dates counts, `is_clock` whether
    times are of a clock without dates.
    """

    channels: dict[str, Array]
    lines: Numbers
    columns: Mapping[str, Column]
    notes: list[str]
    day: float | None
    is_clock: bool


def read_table(text: LogText, wanted: Mapping[str, Wanted], delimiter: str, faults: LogFaults) -> LogTable:
    """Read the wanted columns of a log.

    Parameters
    ----------
    text : LogText
        What is read.
    wanted : mapping
        Columns by name of channel.
    delimiter : str
        Mark between columns, "tab" or "space"; "" finds it.
    faults : LogFaults
        Where faults go.

    Returns
    -------
    LogTable
        All rows.

    Raises
    ------
    RecordingError
        With the faults of the file.
    """
    data = np.frombuffer(text.data, dtype=np.uint8)
    rows, long = survey(data, LONGEST_LINE)
    if long:
        faults.stop(long, f"is longer than {LONGEST_LINE} characters")
    if rows > MOST_ROWS:
        faults.stop(0, f"has more than {MOST_ROWS} rows: take fewer a second, or cut it to one lap")
    head = find_head(text.data, wanted, delimiter, faults)
    columns, notes = _columns(head, wanted, faults)
    used = sorted(set(head.places.values()))
    slots = np.full(head.width, -1)
    slots[used] = np.arange(len(used))
    day = _first_day(head.first_time)
    clock = int(slots[head.places[TIME]]) if head.is_clock else -1
    words = np.array([list(word.ljust(_LONGEST_WORD, "\0").encode()) for word in _MISSING], dtype=np.uint8)
    layout = Layout(ord(head.delimiter), head.delimiter != ",", clock, day or 0, slots, words)
    rows_read = _Rows(np.empty((len(used), rows + 1)), np.empty(rows + 1, dtype=np.int64))
    names = {int(slots[place]): wanted[name].label for name, place in head.places.items()}
    state, left_out = _scan_all(data, layout, head, rows_read, names, faults)
    faults.check()
    notes = [*text.notes, *head.notes, *notes, *_signs(state, faults), *left_out]
    values, lines = rows_read.values[:, : state[ROW]], rows_read.lines[: state[ROW]]
    channels = {name: _si(values[slots[head.places[name]]], columns[name]) for name in columns}
    start = None if day is None or not head.is_clock else day * DAY
    return LogTable(channels, lines, columns, notes, start, head.is_clock and start is None)


class _Rows(NamedTuple):
    """Numbers by slot and row, and the line of each row."""

    values: Array
    lines: Numbers


def _columns(head: Head, wanted: Mapping[str, Wanted], faults: LogFaults) -> tuple[dict[str, Column], list[str]]:
    """Return the columns with the unit that is given, else that of the file, and where the two differ."""
    columns, notes = {}, []
    for name, want in wanted.items():
        said = head.units.get(name, "")
        if name == TIME and head.is_clock:
            columns[name] = column_of(want, "s")
            continue
        try:
            columns[name] = column_of(want, unit_named(want.unit or said, want.kind))
        except UnitError as error:
            where = (
                f"the unit in the file: {error}"
                if said
                else f"the file does not say its unit; {wanted_words(want.kind)}"
            )
            faults.add(head.header_line, f'{want.label}: {where}; give unit = "..."')
            continue
        if (
            want.unit
            and is_unit(said, want.kind)
            and _differ(column_of(want, unit_named(said, want.kind)), columns[name])
        ):
            notes.append(f"{name}: taken in {columns[name].unit} as told, though the file says {quoted(said)}")
    faults.check()
    return columns, notes


def _differ(one: Column, other: Column) -> bool:
    """Return whether the numbers of a column mean something else in another unit."""
    return (one.factor, one.zero, one.gauge) != (other.factor, other.zero, other.gauge)


def _first_day(time: str) -> int | None:
    """Return the day of a clock time with a date, in days since 1970, or None."""
    found = _DATE.match(time)
    try:
        return date(*map(int, found.groups())).toordinal() - _EPOCH if found else None
    except ValueError:
        return None  # the scan refuses it with its line


def _scanned(data: Bytes, layout: Layout, rows: _Rows, state: Numbers) -> Iterator[list[int]]:
    """Read all rows, and go through what is no plain number."""
    events = np.empty((_MOST_EVENTS + len(layout.slots), EVENT_FIELDS), dtype=np.int64)
    while state[PLACE] < len(data):
        scan(data, layout, rows.values, rows.lines, events, state)
        yield from events[: state[EVENTS]].tolist()


def _scan_all(
    data: Bytes, layout: Layout, head: Head, rows: _Rows, names: Mapping[int, str], faults: LogFaults
) -> tuple[Numbers, list[str]]:
    """Read all rows; return the last state of the scan, and what was left out."""
    state, notes = np.zeros(STATE_LENGTH, np.int64), []
    state[PLACE], state[LINE] = head.begin, head.first_line
    for what, line, where, begin, end, row in _scanned(data, layout, rows, state):
        if what == OPEN_QUOTE:
            faults.stop(line, "opens a quote that is never closed")
        if what == ODD_CELL:
            cell = data[begin:end].tobytes().decode(errors="replace")
            value, remedy = _odd_cell(cell, where == layout.clock, layout.commas)
            rows.values[where, row] = value
            if remedy:
                faults.add(line, f"{names[where]}: {quoted(cell)} {remedy}")
        elif end == len(data) and where < head.width:
            notes.append(f"line {line}, the last one, is cut off and was left out")
        else:
            faults.add(line, f"{where} cells under {head.width} headers")
    return state, notes


def _odd_cell(cell: str, clock: bool, commas: bool) -> tuple[float, str]:
    """Return the number in a cell as `float` reads it, or what is wrong; digits of other scripts are none."""
    if clock:
        return math.nan, "is no clock time such as 13:05:22.1 or 2026-05-02 13:05:22.1"
    if "_" in cell or not cell.isascii():
        return math.nan, _NO_NUMBER
    try:
        return float(cell.replace(",", ".") if commas and "." not in cell else cell), ""
    except ValueError:
        return math.nan, _NO_NUMBER


def _signs(state: Numbers, faults: LogFaults) -> list[str]:
    """Say which decimal signs there are; two kinds of them, or of clock times, mean nothing."""
    if state[CLOCKS] == NO_DATE | DATED:
        faults.stop(0, "has clock times with a date and without: write all in one way")
    if state[SIGNS] == POINTS | COMMAS:
        faults.stop(
            0, "has decimal points and decimal commas: write all numbers in one way, without marks for thousands"
        )
    return ["decimals are written with commas"] if state[SIGNS] == COMMAS else []


def _si(numbers: Array, column: Column) -> Array:
    values: Array = numbers * column.factor
    values += column.zero
    return values
