"""A log as a recording: read once for its bytes, every fault with its line, every mending in a sentence."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

import numpy as np

from ullage.duty.log_clean import A_LITTLE, Rows, in_order, limited, mend
from ullage.duty.log_clock import DAY
from ullage.duty.log_columns import TIME, Column, Wanted
from ullage.duty.log_faults import LogFaults
from ullage.duty.log_table import LogTable, read_table
from ullage.duty.log_text import LogText, read_bytes, text_of
from ullage.duty.profile import Array

SHORTEST_LAP = 0.1
_KEPT = 4
_MOST_NUMBERS = 30_000_000  # kept in memory of recordings other than the last, 8 bytes each


class Form(NamedTuple):
    """How a log is read.

    `delimiter` is the mark between columns, "tab" or "space" ("" finds it), `sample_rate` rows a second in place of a
    time column [Hz], `begin` and `end` the part that is used, from the first row [s], `longest_gap` what may be
    filled [s]. What is not `filled` stays open: values that are missing are not a number, and no gap is a fault.
    """

    delimiter: str = ""
    sample_rate: float | None = None
    begin: float | None = None
    end: float | None = None
    longest_gap: float = 10.0
    filled: bool = True


@dataclass(frozen=True)
class Recording:
    """A log: SI channels by name at `time`, which starts at zero. Equal bytes are equal recordings.

    `columns` says how each channel was read, `notes` what was mended, in sentences, and `begins_at` the POSIX time of
    the first row where the log has dates; times without an offset are taken as UTC.
    """

    digest: str
    time: Array = field(compare=False)
    channels: Mapping[str, Array] = field(compare=False)
    columns: Mapping[str, Column] = field(compare=False)
    notes: tuple[str, ...] = field(default=(), compare=False)
    begins_at: float | None = field(default=None, compare=False)

    @cached_property
    def usual_step(self) -> float:
        """Median step of the rows [s]."""
        return float(np.median(np.diff(self.time)))


# recordings that were read last, by bytes and by what was wanted of them: scenarios are made again and again
_recordings: OrderedDict[tuple[object, ...], Recording] = OrderedDict()


def read_recording(path: Path, wanted: Mapping[str, Wanted], form: Form | None = None) -> Recording:
    """Read a log.

    Parameters
    ----------
    path : Path
        Text with columns: lines to be skipped, a line of headers, perhaps a line of units, then rows of numbers.
    wanted : mapping
        Columns by name of channel; `TIME` is among them, or `form` has a sample rate.
    form : Form, optional
        How it is read.

    Returns
    -------
    Recording
        The rows, mended; do not write into its arrays.

    Raises
    ------
    RecordingError
        With the faults of the file.
    """
    faults, form = LogFaults(str(path)), form or Form()
    data = read_bytes(path, faults)
    digest = hashlib.sha256(data).hexdigest()
    key = (digest, tuple(wanted.items()), form)
    found = _recordings.pop(key, None) or _read(text_of(data, faults), digest, wanted, form, faults)
    _recordings[key] = found
    while len(_recordings) > _KEPT or (
        len(_recordings) > 1 and sum(map(_size, [*_recordings.values()])) > _MOST_NUMBERS
    ):
        _recordings.popitem(last=False)
    return found


def _size(lap: Recording) -> int:
    """Return how many numbers a recording holds."""
    return len(lap.time) * (1 + len(lap.channels))


def _read(text: LogText, digest: str, wanted: Mapping[str, Wanted], form: Form, faults: LogFaults) -> Recording:
    table = read_table(text, wanted, form.delimiter, faults)
    notes, columns = table.notes, {name: column for name, column in table.columns.items() if name != TIME}
    rows = Rows(_times(table, form), {name: table.channels[name] for name in columns}, table.lines)
    first = limited(rows, columns, A_LITTLE if form.filled else 0.0, notes)
    rows = _part(in_order(rows, form.longest_gap, faults, notes), form, notes)
    if len(rows.time) < 2:
        faults.stop(0, "has fewer than two rows" if form.begin is form.end is None else "has fewer than two rows there")
    if rows.time[-1] - rows.time[0] < SHORTEST_LAP:
        faults.stop(0, f"lasts {rows.time[-1] - rows.time[0]:.3g} s; a lap takes {SHORTEST_LAP} s or more")
    if form.filled:
        mend(rows, columns, first, form.longest_gap, faults, notes)
    else:
        _leave_open(rows, first, faults, notes)
    faults.check()
    begins_at = None if table.day is None else table.day + float(rows.time[0])
    time = rows.time - rows.time[0]
    for numbers in (time, *rows.channels.values()):
        numbers.setflags(write=False)
    return Recording(digest, time, rows.channels, columns, tuple(notes), begins_at)


def _leave_open(rows: Rows, first: Mapping[str, str], faults: LogFaults, notes: list[str]) -> None:
    """Leave open what is missing in rows, in place; of spikes only what cannot be is left out."""
    for name, numbers in rows.channels.items():
        beyond = np.isinf(numbers)
        numbers[beyond] = np.nan
        if not np.isfinite(numbers).any():
            faults.add(0, f"{name}: holds no numbers that can be{first.get(name, '')}: is it the right column?")
        elif count := np.count_nonzero(beyond):
            notes.append(f"{name}: {count} of {len(numbers)} values cannot be{first[name]}, left out")


def _times(table: LogTable, form: Form) -> Array:
    """Return the times of rows [s]; a clock without dates that falls by half a day or more has passed midnight."""
    if form.sample_rate is not None:
        return np.arange(len(table.lines)) / form.sample_rate
    time = table.channels[TIME]
    if table.is_clock:
        there = np.isfinite(time)
        steps = np.diff(time[there])
        days = np.cumsum(1.0 * (steps < -0.5 * DAY) - 1.0 * (steps > 0.5 * DAY))
        time[there] += DAY * np.append(0.0, days)[: np.count_nonzero(there)]
    return time


def _part(rows: Rows, form: Form, notes: list[str]) -> Rows:
    """Return the part of a log that is used."""
    if (form.begin is None and form.end is None) or len(rows.time) == 0:
        return rows
    time = rows.time - rows.time[0]
    end = np.inf if form.end is None else form.end
    if form.end is not None and time[-1] < form.end:
        notes.append(f"the file ends {time[-1]:.6g} s after its first row, before end")
    return rows.taken((time >= (form.begin or 0.0)) & (time <= end))
