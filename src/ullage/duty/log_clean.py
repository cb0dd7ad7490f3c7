"""What is mended in the rows of a log, by stated rules, and told in sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.log_columns import Column
from ullage.duty.log_faults import LogFaults
from ullage.duty.profile import Array

Lines = NDArray[np.int64]

MOST_SPIKES = 0.05  # of the values of a channel
MOST_MISSING = 0.2
A_LITTLE = 0.02  # of the accepted range, beyond it: noise of a sensor
GAP = 2.0  # usual steps that are no gap yet
SPARSE = 5.0  # usual steps that may be filled where rows are further apart than half of the longest gap
REMEDY = "cut the file there, use a part of it (begin, end), or allow a longer longest_gap"


class Jump(NamedTuple):
    """What a channel cannot do from one row to the next: jump by more than a floor and a rate [SI, SI s-1]."""

    floor: float
    rate: float


# own judgement, far above what trucks do; pressures, accelerations and shares have peaks that are real
JUMPS = {
    "speed": Jump(3.0, 30.0),
    "rotation": Jump(60.0, 2500.0),
    "length": Jump(20.0, 50.0),
    "temperature": Jump(5.0, 5.0),
}


class Rows(NamedTuple):
    """Rows of a log: times [s], SI channels, and the line of each row."""

    time: Array
    channels: dict[str, Array]
    lines: Lines

    def taken(self, which: NDArray[np.bool_] | NDArray[np.int64] | slice) -> Rows:
        """Return some of the rows."""
        return Rows(
            self.time[which], {name: numbers[which] for name, numbers in self.channels.items()}, self.lines[which]
        )


def limited(rows: Rows, columns: Mapping[str, Column], share: float, notes: list[str]) -> dict[str, str]:
    """Hold values against what is accepted, in place.

    Parameters
    ----------
    rows : Rows
        Rows as they are in the file. A value a little outside is set to the limit; one further out becomes infinite.
    columns : mapping
        What is accepted in each channel.
    share : float
        Of the accepted range, what counts as a little [1].
    notes : list of str
        What was mended is added.

    Returns
    -------
    dict
        The first value of each channel that cannot be, in words.
    """
    first = {}
    for name, numbers in rows.channels.items():
        column = columns[name]
        rounding = 1e-9 * max(abs(column.low), abs(column.high))
        outside = (numbers < column.low - rounding) | (numbers > column.high + rounding)
        if not outside.any():
            continue
        little = share * (column.high - column.low)
        near = outside & (numbers >= column.low - little) & (numbers <= column.high + little)
        if count := np.count_nonzero(near):
            notes.append(f"{name}: {_count(int(count), 'value')} a little outside {column.accepted}, set to the limit")
        numbers[near] = np.clip(numbers[near], column.low, column.high)
        far = outside & ~near
        if far.any():
            row = int(np.argmax(far))
            value = (float(numbers[row]) - column.zero) / column.factor
            first[name] = f" (line {rows.lines[row]}: {value:.6g} {column.unit}, outside {column.accepted})"
        numbers[far] = math.inf
    return first


def in_order(rows: Rows, longest_gap: float, faults: LogFaults, notes: list[str]) -> Rows:
    """Return rows in the order of their times, each time once.

    Parameters
    ----------
    rows : Rows
        Rows as they are in the file.
    longest_gap : float
        What time may go back by [s].
    faults : LogFaults
        Where faults go.
    notes : list of str
        What was mended is added.

    Returns
    -------
    Rows
        Rows without a time left out, others sorted; of rows with one time, equal ones are dropped and others averaged.
    """
    rows = _with_time(rows, faults, notes)
    steps = np.diff(rows.time)
    if not (steps <= 0.0).any():
        return rows
    latest = np.maximum.accumulate(rows.time)
    back = latest - rows.time
    if (back > longest_gap).any():
        row = int(np.argmax(back > longest_gap))
        text = f"time goes back by {back[row]:.4g} s: these are two recordings; cut the file here"
        faults.stop(int(rows.lines[row]), text)
    if late := np.count_nonzero(back > 0.0):
        notes.append(f"{_count(int(late), 'row')} out of order, sorted")
        rows = rows.taken(np.argsort(rows.time, kind="stable"))
    return _each_time_once(rows, notes) if (np.diff(rows.time) <= 0.0).any() else rows


def _with_time(rows: Rows, faults: LogFaults, notes: list[str]) -> Rows:
    timed = np.isfinite(rows.time)
    if timed.all():
        return rows
    lost = len(timed) - np.count_nonzero(timed)
    if lost > MOST_MISSING * len(timed):
        line = int(rows.lines[np.argmin(timed)])
        faults.stop(
            line, f"{_count(int(lost), 'row')} of {len(timed)} have no time, this one first: is it the right column?"
        )
    notes.append(f"{_count(int(lost), 'row')} without a time, left out")
    return rows.taken(timed)


def _each_time_once(rows: Rows, notes: list[str]) -> Rows:
    """Drop rows that are there twice, and average others of one time."""
    first = np.append(True, np.diff(rows.time) > 0.0)
    same = ~first
    for numbers in rows.channels.values():
        same[1:] &= (numbers[1:] == numbers[:-1]) | (np.isnan(numbers[1:]) & np.isnan(numbers[:-1]))
    if equal := np.count_nonzero(same):
        notes.append(f"{_count(int(equal), 'row')} there twice, left out")
    rows = rows.taken(~same)
    begins = np.flatnonzero(np.append(True, np.diff(rows.time) > 0.0))
    if len(begins) == len(rows.time):
        return rows
    shared = np.diff(np.append(begins, len(rows.time)))
    usual = int(np.median(shared[shared > 1]))
    count = int(shared[shared > 1].sum())
    notes.append(
        f"{count} rows share their time with others, {usual} to a time as a rule, and were averaged; "
        "if the clock is too coarse, give sample_rate in place of time"
    )
    means = {name: _means(numbers, begins) for name, numbers in rows.channels.items()}
    return Rows(rows.time[begins], means, rows.lines[begins])


def _means(numbers: Array, begins: NDArray[np.int64]) -> Array:
    """Return the means of groups of rows, of what is there."""
    there = np.isfinite(numbers)
    count = np.add.reduceat(there.astype(np.float64), begins)
    total = np.add.reduceat(np.where(there, numbers, 0.0), begins)
    means: Array = np.divide(total, count, out=np.full(len(begins), math.nan), where=count > 0.0)
    return means


def mend(
    rows: Rows,
    columns: Mapping[str, Column],
    first: Mapping[str, str],
    longest_gap: float,
    faults: LogFaults,
    notes: list[str],
) -> None:
    """Fill what is missing in rows, in place.

    Parameters
    ----------
    rows : Rows
        Rows in order.
    columns : mapping
        How each channel was read.
    first : mapping
        The first value of each channel that cannot be, in words.
    longest_gap : float
        What may be filled with a straight line [s].
    faults : LogFaults
        Where faults go.
    notes : list of str
        What was mended is added.
    """
    steps = np.diff(rows.time)
    usual = float(np.median(steps))
    longest = longest_of(usual, longest_gap)
    gaps = np.flatnonzero(steps > GAP * usual)
    for gap in gaps[steps[gaps] > longest].tolist():
        faults.add(int(rows.lines[gap + 1]), f"comes {steps[gap]:.4g} s after the row before: {REMEDY}")
    if len(gaps):
        notes.append(f"{_count(len(gaps), 'gap')}, longest {steps[gaps].max():.3g} s, filled linearly")
    for name, numbers in rows.channels.items():
        spikes = np.isinf(numbers) | _jumps(rows.time, numbers, JUMPS.get(columns[name].kind))
        numbers[spikes] = math.nan
        if not np.isnan(numbers).any():
            continue
        if text := _beyond_mending(numbers, spikes, columns[name], first.get(name, "")):
            faults.add(int(rows.lines[np.argmax(np.isnan(numbers))]), f"{name}: {text}")
        else:
            _fill(name, rows, spikes, longest_gap, faults, notes)


def longest_of(usual: float, longest_gap: float) -> float:
    """Return how long a gap may be [s]: where rows are far apart, some steps."""
    return longest_gap if GAP * usual <= longest_gap else SPARSE * usual


def _jumps(time: Array, numbers: Array, jump: Jump | None) -> NDArray[np.bool_]:
    """Find single values that jump away from their neighbours and back faster than the channel can."""
    found = np.zeros(len(numbers), dtype=bool)
    there = np.flatnonzero(np.isfinite(numbers))
    if jump is None or len(there) < 3:
        return found
    steps = np.diff(numbers[there])
    large = np.abs(steps) > jump.floor + jump.rate * np.diff(time[there])
    found[there[1:-1]] = large[:-1] & large[1:] & (steps[:-1] * steps[1:] < 0.0)
    return found


def _beyond_mending(numbers: Array, spikes: NDArray[np.bool_], column: Column, first: str) -> str:
    """Say why a channel has too little to go by, or nothing."""
    count, spiked, there = len(numbers), np.count_nonzero(spikes), np.flatnonzero(np.isfinite(numbers))
    unit = f"is the unit, {column.unit}, right?"
    if spiked > MOST_SPIKES * count:
        return f"{spiked} of {count} values cannot be{first}: {unit}"
    if len(there) == 0:
        return "holds no numbers: is it the right column?"
    lost = count - spiked - len(there) * _stride(there)
    if lost > MOST_MISSING * count:
        return f"{count - spiked - len(there)} of {count} values are missing: is it the right column, and {unit}"
    return ""


def _stride(there: NDArray[np.int64]) -> int:
    """Return how many rows one value of a channel stands for: a slow sensor leaves cells between empty."""
    return int(np.median(np.diff(there))) if len(there) > 1 else 1


def _fill(
    name: str, rows: Rows, spikes: NDArray[np.bool_], longest_gap: float, faults: LogFaults, notes: list[str]
) -> None:
    """Fill what is missing in a channel with straight lines, at the ends with what is nearest, and say so."""
    time, numbers = rows.time, rows.channels[name]
    there = np.flatnonzero(np.isfinite(numbers))
    stride = _stride(there)
    edges = np.concatenate([[0], there, [len(time) - 1]])
    spans, apart = np.diff(time[edges]), np.diff(edges)
    longest = longest_of(float(np.median(spans[1:-1])) if len(there) > 1 else 0.0, longest_gap)
    for place in np.flatnonzero((apart > 1) & (spans > longest)).tolist():
        line = int(rows.lines[min(edges[place] + 1, len(time) - 1)])
        faults.add(line, f"{name}: holds nothing for {spans[place]:.4g} s from here on: {REMEDY}")
    empty = np.isnan(numbers)
    numbers[empty] = np.interp(time[empty], time[there], numbers[there])
    if count := np.count_nonzero(spikes):
        notes.append(f"{name}: {_count(int(count), 'spike')} left out")
    if stride > 1:
        notes.append(f"{name}: a value every {stride} rows, straight lines between")
    allowed = np.full(len(apart), stride)
    allowed[[0, -1]] = stride - 1
    missing = np.maximum(apart - allowed, 0)
    if (lost := int(missing.sum()) - count) > 0:
        length = spans[missing > 0].max()
        notes.append(f"{name}: {_count(int(lost), 'missing value')}, longest {length:.3g} s, filled linearly")


def _count(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
