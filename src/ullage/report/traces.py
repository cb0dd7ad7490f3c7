"""Long traces and many spans cut down to what a picture can show, without losing an extreme."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

COLUMNS = 900


def extremes_by_column(time: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Keep the lowest and the highest value of each column of a picture.

    Parameters
    ----------
    time : array
        Times, not decreasing [s].
    values : array
        Values; NaN is a gap.

    Returns
    -------
    tuple of array
        Times and values: those given if they are few, else two points a column, each within its column.
    """
    if len(time) <= 2 * COLUMNS:
        return time, values
    column = _column(time, time[0], time[-1])
    first = np.flatnonzero(np.diff(column, prepend=-1))
    last = np.append(first[1:], len(time)) - 1
    low, high = np.fmin.reduceat(values, first), np.fmax.reduceat(values, first)
    falls = values[first] > 0.5 * (low + high)
    ordered = np.where(falls, (high, low), (low, high))
    return np.stack([time[first], time[last]], axis=1).ravel(), ordered.T.ravel()


def _column(time: Floats, start: float, end: float) -> NDArray[np.int64]:
    width = max(end - start, 1e-9) / COLUMNS
    return np.clip((time - start) / width, 0, COLUMNS - 1).astype(np.int64)


def spans_where(time: Floats, holds: NDArray[Any]) -> Floats:
    """Return when a condition holds.

    Parameters
    ----------
    time : array
        Times of the rows [s].
    holds : array of bool
        Whether it holds at each row, and so in the interval before it.

    Returns
    -------
    array of shape (spans, 2)
        Start and end of each span [s].
    """
    edge = np.diff(np.concatenate([[0], np.asarray(holds, dtype=np.int8), [0]]))
    first, after = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    return np.stack([time[np.maximum(first - 1, 0)], time[after - 1]], axis=1)


def joined(spans: Floats, start: float, end: float) -> Floats:
    """Join the spans that touch the same column of a picture.

    Parameters
    ----------
    spans : array of shape (spans, 2)
        Start and end of each, in order [s].
    start, end : float
        What the picture shows [s].

    Returns
    -------
    array of shape (spans, 2)
        At most one span a column; where a column was touched, it still is.
    """
    if not len(spans):
        return spans
    first, last = _column(spans[:, 0], start, end), np.maximum.accumulate(_column(spans[:, 1], start, end))
    begins = np.append(True, first[1:] > last[:-1])
    ends = np.append(begins[1:], True)
    return np.stack([spans[begins, 0], np.maximum.accumulate(spans[:, 1])[ends]], axis=1)
