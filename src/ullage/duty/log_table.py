"""The rows of a log as SI numbers, every fault with its line and column."""

from __future__ import annotations

from collections.abc import Mapping
from operator import itemgetter
from typing import NamedTuple

from ullage.duty.log_clock import DAY, clock_time
from ullage.duty.log_columns import TIME, Column, Wanted, column_of, is_unit, unit_named
from ullage.duty.log_faults import LogFaults
from ullage.duty.log_head import Head, find_head
from ullage.duty.log_rows import NO_CLOCK, Layout, Lines, RowReader
from ullage.duty.log_text import LogText
from ullage.duty.profile import Array
from ullage.errors import quoted
from ullage.hints import wanted as wanted_words
from ullage.units import UnitError


class LogTable(NamedTuple):
    """Rows of a log: SI numbers by channel, time among them if there is such a column, and the line of each row.

    What is missing is not a number. `day` is the POSIX time from which a clock with dates counts, `is_clock` whether
    times are of a clock without dates.
    """

    channels: dict[str, Array]
    lines: Lines
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
    head = find_head(text.data, wanted, delimiter, faults)
    columns, notes = _columns(head, wanted, faults)
    used = {place: wanted[name].label for name, place in sorted(head.places.items(), key=itemgetter(1))}
    day = _first_day(head.first_time) if head.is_clock else None
    layout = Layout(head.delimiter, head.width, used, head.places[TIME] if head.is_clock else -1, day or 0)
    values, lines, more = RowReader(text.data, head.begin, head.first_line, layout, faults).read()
    channels = {name: _si(values[head.places[name]], columns[name]) for name in columns}
    start = None if day is None else day * DAY
    return LogTable(
        channels, lines, columns, [*text.notes, *head.notes, *notes, *more], start, head.is_clock and start is None
    )


def _columns(head: Head, wanted: Mapping[str, Wanted], faults: LogFaults) -> tuple[dict[str, Column], list[str]]:
    """Return the columns with the unit that is given, else that of the file, and where the two differ."""
    columns, notes = {}, []
    for name, want in wanted.items():
        said = head.units.get(name, "")
        if name == TIME and head.is_clock:
            columns[name] = column_of(want, "s")
            continue
        if name == TIME and ":" in head.first_time:
            faults.add(head.first_line, f"{want.label}: {quoted(head.first_time)} {NO_CLOCK}")
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
    """Return the day of the first clock time, if it has one, in days since 1970."""
    try:
        return clock_time(time)[0]
    except ValueError:
        return None  # the rows refuse it with its line


def _si(numbers: Array, column: Column) -> Array:
    values: Array = numbers * column.factor
    values += column.zero
    return values
