"""Fewer rows with the same integrals."""

from __future__ import annotations

import numpy as np

from ullage.duty.profile import Array


def time_averaged(time: Array, values: Array, knots: Array) -> Array:
    """Average rows over the time nearest to each knot.

    Parameters
    ----------
    time : Array
        Times of the rows [s]; they increase.
    values : Array
        One value a row, a straight line between rows.
    knots : Array
        Wanted times [s]; they increase, from the first row to the last.

    Returns
    -------
    Array
        One value a knot: the mean from half way to the knot before to half way to the knot after.

    Notes
    -----
    The integral of straight lines between the knots is that of the rows, to rounding.
    """
    edges = np.concatenate([knots[:1], 0.5 * (knots[:-1] + knots[1:]), knots[-1:]])
    steps = 0.5 * (values[1:] + values[:-1]) * np.diff(time)
    whole = np.append(0.0, np.cumsum(steps))
    row = np.clip(np.searchsorted(time, edges, side="right") - 1, 0, len(time) - 2)
    part = edges - time[row]
    slope = (values[row + 1] - values[row]) / (time[row + 1] - time[row])
    area = whole[row] + part * (values[row] + 0.5 * slope * part)
    mean: Array = np.diff(area) / np.diff(edges)
    return mean
