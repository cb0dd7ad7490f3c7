"""The time axis of a race: its laps, its named stops, and the frame that every panel shares."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ullage.report.labels import LETTER, NAME_COLUMN, PLAIN, clipped, drawable, rows_for
from ullage.report.traces import Floats, joined

_LAPS = 8
_NAME_LENGTH = 15
_NAME_ROWS = 3
_BAND: dict[str, Any] = {"facecolor": "0.93", "edgecolor": "0.72", "hatch": "///", "linewidth": 0.0, "zorder": 0.3}
_PAPER = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
_EVERY = [factor * 10**power for power in range(9) for factor in (1, 2, 5)]


class Stop(NamedTuple):
    """A named stop: its times [s], and where its name stands: time of the centre [s] and row, -1 for no room."""

    name: str
    start: float
    end: float
    centre: float
    row: int


def lap_starts(data: xr.Dataset) -> list[tuple[float, int]]:
    """Return start [s] and number of the laps to mark: all, or every so many if they are many."""
    time, lap = data.time.values, data.lap.values
    rows = np.flatnonzero(np.diff(lap, prepend=lap[0] - 1) > 0)
    every = next(step for step in _EVERY if len(rows) <= _LAPS * step)
    starts = [(float(time[max(0, row - 1)]), int(lap[row])) for row in rows]
    return [(start, number) for start, number in starts if number % every == 0]


def stops_of(data: xr.Dataset, width: float) -> list[Stop]:
    """Return the named stops that began before the results end.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    width : float
        Width of the picture's time axis [in].

    Returns
    -------
    list of Stop
        In the order of the race.
    """
    low, high = time_limits(data)
    written = [stop for stop in json.loads(data.attrs.get("stops", "[]")) if stop["start"] < high]
    names = [clipped(drawable(stop["name"]), _NAME_LENGTH, 0) for stop in written]
    spans = [(stop["start"], min(stop["end"], high)) for stop in written]
    centres = np.array([0.5 * (start + end) for start, end in spans])
    widths = np.array([(len(name) + 1) * LETTER for name in names]) * (high - low) / width
    centres, rows = rows_for(centres, widths, low, high, _NAME_ROWS)
    return [Stop(name, *span, centre, row) for name, span, centre, row in zip(names, spans, centres, rows, strict=True)]


def time_limits(data: xr.Dataset) -> tuple[float, float]:
    """Return the first and the last time to show [s]; at least a second."""
    first, last = float(data.time[0]), float(data.time[-1])
    return first, max(last, first + 1.0)


def framed(data: xr.Dataset, axes: Axes | None) -> Axes:
    """Prepare a panel: limits in time, thin lines where laps begin, hatched bands where the truck stops.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.

    Returns
    -------
    matplotlib.axes.Axes
        The axes prepared.
    """
    axes = axes or Figure(figsize=(4.5, 3.0)).add_axes((0.12, 0.15, 0.62, 0.72))
    low, high = time_limits(data)
    axes.set_xlim(low, high)
    for start, _ in lap_starts(data):
        axes.axvline(start, color="0.8", linewidth=0.6, zorder=0.4, label="_lap")
    spans: Floats = np.array([[stop.start, stop.end] for stop in stops_of(data, 1.0)]).reshape(-1, 2)
    bands = [(start, end - start) for start, end in joined(spans, low, high)]
    axes.broken_barh(bands, (0.0, 1.0), transform=axes.get_xaxis_transform(), label="_stop", **_BAND)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return axes


def course_rows(data: xr.Dataset, width: float) -> int:
    """Return how many rows of words `plot_course` needs on a time axis of some width [in]."""
    return 2 + max((stop.row for stop in stops_of(data, width)), default=-1)


def plot_course(data: xr.Dataset, axes: Axes | None = None) -> Axes:
    """Write the numbers of the laps and the names of the stops along the time axis.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    axes = framed(data, axes)
    width = axes.get_window_extent().width / axes.figure.dpi
    gap = 0.03 / width * (axes.get_xlim()[1] - axes.get_xlim()[0])
    axes.set_ylim(course_rows(data, width) - 0.5, -0.5)
    letter = LETTER / width * (axes.get_xlim()[1] - axes.get_xlim()[0])
    laps = [lap for lap in lap_starts(data) if lap[0] + gap + letter * len(str(lap[1])) < axes.get_xlim()[1]]
    for start, number in laps:
        axes.text(start + gap, 0.0, str(number), va="center_baseline", fontproperties=PLAIN, bbox=_PAPER)
    stops = stops_of(data, width)
    for stop in stops:
        if stop.row >= 0:
            place = (stop.centre, 1.0 + stop.row)
            name = axes.text(*place, stop.name, ha="center", va="center_baseline", fontproperties=PLAIN, bbox=_PAPER)
            name.set_parse_math(False)
    across = axes.get_yaxis_transform()
    for row, word in enumerate(["lap", "stop"] if stops else ["lap"]):
        axes.text(NAME_COLUMN, row, word, transform=across, va="center_baseline", fontproperties=PLAIN)
    axes.set_yticks([])
    return axes
