"""What sensors of the truck said, as dots over the lines of the model."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from numpy.typing import NDArray

from ullage.report.traces import Floats

MEASURED = "measured"

_DOTS = 50  # of a sensor over the width of a picture: more would hide the lines
_FEW, _LARGE, _SMALL = 20, 4.0, 2.6  # readings that stand alone would be lost as small dots
_STYLE: dict[str, Any] = {"marker": "o", "linestyle": "none", "markeredgewidth": 0.5, "zorder": 3.0}


def plot_measured(axes: Axes, measured: xr.DataArray, color: Any) -> None:
    """Draw a sensor as dots in the colour of its line, with a light rim so that they are seen on it.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where.
    measured : xarray.DataArray
        Values over `time` in the displayed unit; not a number where there are none.
    color : str
        Colour of the line that the model draws of it.
    """
    rows = shown_rows(measured.time.values, measured.values)
    time, values = measured.time.values[rows], measured.values[rows]
    size = _LARGE if len(rows) <= _FEW else _SMALL
    axes.plot(time, values, color=color, markersize=size, markeredgecolor="white", label=MEASURED, **_STYLE)


def shown_rows(time: Floats, values: Floats) -> NDArray[np.intp]:
    """Return rows that are drawn: all that hold a value if they are few, else the first of each stretch of time."""
    known = np.flatnonzero(np.isfinite(values))
    if len(known) <= _DOTS:
        return known
    step = (time[-1] - time[0]) / _DOTS
    return known[np.unique(((time[known] - time[0]) / step).astype(np.int64), return_index=True)[1]]


def with_measured(axes: Axes, low: float, high: float, most: float) -> tuple[float, float]:
    """Widen the range of the lines for the dots.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where they are drawn.
    low, high : float
        Range of the lines.
    most : float
        How much more it may be on either side; a sensor that says something else altogether is left outside.

    Returns
    -------
    tuple of float
        Range to show.
    """
    dots = [np.asarray(line.get_ydata(), dtype=np.float64) for line in axes.lines if line.get_label() == MEASURED]
    values = np.concatenate([[low, high], *dots])
    return max(float(values.min()), low - most), min(float(values.max()), high + most)


def key(axes: Axes) -> str:
    """Return what the title of a panel says of the dots, or "" where there are none."""
    return f"; dots: {MEASURED}" if any(line.get_label() == MEASURED for line in axes.lines) else ""
