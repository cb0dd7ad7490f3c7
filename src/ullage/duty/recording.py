"""A recorded lap from a comma-separated file: clean files only, read line by line, every fault with its line."""

from __future__ import annotations

import csv
import hashlib
import math
import re
import stat
from array import array
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, NamedTuple, NoReturn

import numpy as np

from ullage.duty.log_columns import TIME, Column, Wanted, column_of
from ullage.duty.profile import Array
from ullage.errors import Fault, UllageError
from ullage.hints import did_you_mean

LARGEST_FILE = 200_000_000
LONGEST_LINE = 65_536
MOST_ROWS = 1_000_000
MOST_FAULTS = 20
SHORTEST_LAP = 0.1
OTHER_MARK = re.compile("[;\t|]")


class Form(NamedTuple):
    """How a log is read: mark between columns ("" finds it), rows a second in place of a time column, the part that is used [s], what may be filled [s]."""

    delimiter: str = ""
    sample_rate: float | None = None
    begin: float | None = None
    end: float | None = None
    longest_gap: float = 10.0


@dataclass(frozen=True)
class Recording:
    """A log: SI channels by name at `time`, which starts at zero. Equal bytes are equal recordings.

    `columns` says how each channel was read, `notes` what was mended, in sentences, and `begins_at` the POSIX time of
    the first row where the log has dates.
    """

    digest: str
    time: Array = field(compare=False)
    channels: Mapping[str, Array] = field(compare=False)
    columns: Mapping[str, Column] = field(compare=False)
    notes: tuple[str, ...] = field(default=(), compare=False)
    begins_at: float | None = field(default=None, compare=False)


class RecordingError(UllageError):
    """A file that is no clean recording.

    Parameters
    ----------
    faults : list of Fault
        Everything that is wrong with it, each with file and line.
    """

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class _Faults:
    """Faults of a file in order: the first in words, the rest counted."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._found: list[Fault] = []
        self._more = 0

    def add(self, line: int, text: str) -> None:
        """Add a fault of a line, from 1; 0 is the whole file."""
        if len(self._found) == MOST_FAULTS:
            self._more += 1
            return
        self._found.append(Fault(self._name, line or None, "", text))

    def stop(self, line: int, text: str) -> NoReturn:
        """Add a fault after which the rest of the file means nothing, and raise them all."""
        self.add(line, text)
        raise self._error()

    def check(self) -> None:
        """Raise all faults, if there are any."""
        if self._found:
            raise self._error()

    def _error(self) -> RecordingError:
        more = [Fault(self._name, None, "", f"and {self._more} more")] if self._more else []
        return RecordingError(self._found + more)


def read_recording(path: Path, wanted: Mapping[str, Wanted], form: Form = Form()) -> Recording:
    """Read a recorded lap.

    Parameters
    ----------
    path : Path
        Comma-separated UTF-8 text: a line of headers, then rows of numbers. Empty lines do not count.
    columns : mapping
        Columns by name of channel; `TIME` is among them.

    Returns
    -------
    Recording
        All rows.

    Raises
    ------
    RecordingError
        With the faults of the file.
    """
    faults = _Faults(str(path))
    columns = {name: column_of(want, want.unit) for name, want in wanted.items()}
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            faults.stop(0, "is not a file")
        if found.st_size > LARGEST_FILE:
            faults.stop(0, f"is larger than {LARGEST_FILE // 1_000_000} MB: thin it out or cut it to one lap")
        digest = hashlib.sha256()
        with path.open("rb") as stream:
            values = _read(_lines(stream, digest, faults), columns, faults)
    except OSError as error:
        faults.stop(0, f"cannot be read: {(error.strerror or str(error)).lower()}")
    except ValueError as error:
        faults.stop(0, f"cannot be read: {error}")
    time = values.pop(TIME)
    return Recording(digest.hexdigest(), time - time[0], values, columns)


def _lines(stream: BinaryIO, digest: hashlib._Hash, faults: _Faults) -> Iterator[str]:
    number = 0
    while raw := stream.readline(LONGEST_LINE + 1):
        number += 1
        digest.update(raw)
        if len(raw) > LONGEST_LINE:
            faults.stop(number, f"is longer than {LONGEST_LINE} characters")
        if b"\0" in raw:
            faults.stop(number, "holds a NUL byte: this is no text file")
        try:
            yield raw.decode("utf-8-sig" if number == 1 else "utf-8")
        except UnicodeDecodeError:
            faults.stop(number, "is not UTF-8 text")


def _read(lines: Iterable[str], columns: Mapping[str, Column], faults: _Faults) -> dict[str, Array]:
    rows = csv.reader(lines, strict=True)
    try:
        headers = [header.strip() for header in next(rows, [])]
        if not headers:
            faults.stop(1, "has no line of headers")
        if len(headers) == 1 and (mark := OTHER_MARK.search(headers[0])):
            faults.stop(1, f"columns are separated by {mark[0]!r}: save it with commas, and points for decimals")
        places = _places(headers, columns, faults)
        numbered = ((rows.line_num, row) for row in rows if row)
        values = _values(numbered, len(headers), places, columns, faults)
    except csv.Error as error:
        faults.stop(rows.line_num, f"is no comma-separated text: {error}")
    faults.check()
    time = values[TIME]
    if len(time) < 2:
        faults.stop(0, "has fewer than two rows")
    if time[-1] - time[0] < SHORTEST_LAP:
        faults.stop(0, f"lasts {time[-1] - time[0]:.3g} s; a lap takes {SHORTEST_LAP} s or more")
    return {name: np.array(numbers) for name, numbers in values.items()}


def _places(headers: list[str], columns: Mapping[str, Column], faults: _Faults) -> dict[str, int]:
    """Return where the wanted columns are, as far as they are there."""
    places = {}
    for name, column in columns.items():
        if headers.count(column.header) == 1:
            places[name] = headers.index(column.header)
        elif column.header in headers:
            faults.add(1, f"column '{column.header}': is there {headers.count(column.header)} times")
        else:
            hint = did_you_mean(column.header, [header[:40] for header in headers])
            there = ", ".join(f"'{header[:40]}'" for header in headers[:20])
            more = f" and {len(headers) - 20} more" if len(headers) > 20 else ""
            faults.add(1, f"column '{column.header}': missing{hint}; there are: {there}{more}")
    return places


def _values(
    rows: Iterable[tuple[int, list[str]]],
    count: int,
    places: Mapping[str, int],
    columns: Mapping[str, Column],
    faults: _Faults,
) -> dict[str, array[float]]:
    """Return the SI values of all rows; those of a faulty cell are not a number."""
    values = {name: array("d") for name in columns}
    wanted = [(columns[name], place, values[name]) for name, place in places.items()]
    times, earlier = values[TIME], ""
    for line, row in rows:
        if len(row) != count:
            faults.add(line, f"{len(row)} cells under {count} headers; columns are separated by commas")
            continue
        for column, place, numbers in wanted:
            numbers.append(_si_value(row[place], column, line, faults))
        if len(times) > 1 and times[-1] <= times[-2]:
            text = f"time must increase, but {row[places[TIME]][:40]} follows {earlier[:40]} {columns[TIME].unit}"
            faults.add(line, f"column '{columns[TIME].header}': {text}")
        if len(times) > MOST_ROWS:
            faults.stop(line, f"is row {MOST_ROWS + 1}; take fewer a second")
        earlier = row[places.get(TIME, 0)]
    return values


def _si_value(cell: str, column: Column, line: int, faults: _Faults) -> float:
    """Return a cell in SI; what is no number or out of range is a fault, and not a number."""
    number = _number(cell)
    value = math.nan if number is None else number * column.factor + column.zero
    if column.low <= value <= column.high and math.isfinite(value):
        return value
    if number is None:
        text = "is not a number (a point for decimals, no unit)" if cell.strip() else "is empty"
    elif not math.isfinite(value):
        text = "is not a finite number"
    else:
        text = f"{column.unit} is outside {column.accepted}"
    faults.add(line, f"column '{column.header}': '{cell[:40]}' {text}")
    return math.nan


def _number(cell: str) -> float | None:
    """Return the number that a cell holds; underscores and digits of other scripts are none."""
    if "_" in cell or not cell.isascii():
        return None
    try:
        return float(cell)
    except ValueError:
        return None
