"""The panels of a stop: the opening itself, then feed and gas at the pump on the road, one line a choice."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ullage.report.choice_lines import ChoiceLine, drawn, named
from ullage.report.choice_styles import (
    figure_of,
    labels_of,
    planned_stop,
    running_mean,
    short_name,
    standing,
    status_of,
    styles_of,
    waits,
)
from ullage.report.labels import PLAIN, short_duration, signed, time_ticks, unit_sign
from ullage.report.traces import Floats
from ullage.results.display import System, shown_value

WIDTH, LEFT, PLOT = 4.5, 0.52, 2.36

_AFTER_REFIT = 300.0
_BEFORE = 0.03  # of the first minutes, so that an opening as the stop begins does not lie on the axis
_LEAST_MEAN, _MEANS = 60.0, 60.0
_LEAST_SPAN = 20e3  # [Pa]
_BAND: dict[str, Any] = {"facecolor": "0.93", "edgecolor": "0.72", "hatch": "///", "linewidth": 0.0, "zorder": 0.3}
_AIR = {
    "frozen": " (air stays in the oil)",
    "kinetic": " (air moves in its time)",
    "equilibrium": " (air moves at once)",
}


def first_minutes(choices: xr.Dataset) -> float:
    """Return how long the picture of the stop itself is: a few minutes past the last refit that does not wait [s]."""
    refits = [figure_of(choices, "refitted", label) for label in labels_of(choices) if not waits(choices, label)]
    return _AFTER_REFIT + max((time for time in refits if math.isfinite(time)), default=planned_stop(choices))


def plot_stop(choices: xr.Dataset, axes: Axes | None = None, units: System = "metric") -> Axes:
    """Draw the pressure of the air space over the first minutes of the stop, and when the cap comes off and on.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on. A choice that waits longer than the picture has its time beside its name.
    """
    end = first_minutes(choices)
    lines = [
        _line(choices, "headspace_gauge_pressure", label, units, 0.0, note=opens_later(choices, label, end))
        for label in labels_of(choices)
    ]
    axes = _framed(axes, end, [(0.0, planned_stop(choices))])
    axes.set_xlim(-_BEFORE * end, end)
    _pressures(axes, lines, units)
    _title(axes, f"air space at the stop, {_gauge(units)} (\N{WHITE CIRCLE} cap off, \N{BLACK CIRCLE} on)")
    axes.set_xlabel(f"time since the stop began, {time_axis(axes)}", fontproperties=PLAIN, labelpad=1)
    return axes


def opens_later(choices: xr.Dataset, label: str, end: float) -> str:
    """Return when a choice opens, if that is past the end of the picture of the stop."""
    opened = figure_of(choices, "opened", label)
    return f"opens at {short_duration(opened)}" if opened > end else ""


def plot_feed(choices: xr.Dataset, axes: Axes | None = None, units: System = "metric") -> Axes:
    """Draw the running mean of the feed pressure at the pump over the time since the truck left the stop.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on; a gap where the pump stands. A choice that waits is drawn from where it drives off, so that
        the same place of the course is at the same place of the picture for all.
    """
    end = _drive(choices)
    window = max(_LEAST_MEAN, end / _MEANS)
    lines = [
        _line(choices, "feed_gauge_pressure", label, units, standing(choices, label), window=window)
        for label in labels_of(choices)
    ]
    axes = _framed(axes, end, _later_stops(choices))
    axes.axhline(0.0, color="0.3", linewidth=0.8, zorder=0.6, label="_zero")
    _pressures(axes, lines, units)
    _title(axes, f"feed at the pump, {_gauge(units)} (mean over {short_duration(window)})")
    return axes


def plot_gas_minutes(choices: xr.Dataset, axes: Axes | None = None) -> Axes:
    """Draw how long the pump has run with gas since the stop began, over the time since the truck left the stop.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    lines = [
        _line(choices, "exposure_since_stop", label, "metric", standing(choices, label)) for label in labels_of(choices)
    ]
    axes = _framed(axes, _drive(choices), _later_stops(choices))
    most = max((float(np.nanmax(line.values)) for line in lines if line.seen), default=0.0)
    axes.set_ylim(-0.04 * max(most, 1.0), 1.06 * max(most, 1.0))
    _ticks(axes)
    named(axes, drawn(axes, lines))
    _title(axes, f"gas at the pump, minutes{_AIR.get(choices.attrs.get('air_model', ''), '')}")
    return axes


def _line(
    choices: xr.Dataset, name: str, label: str, units: System, start: float, *, window: float = 0.0, note: str = ""
) -> ChoiceLine:
    """Return a choice as a line over the time since `start`, in the displayed unit, or in minutes."""
    since = choices.time_since_stop.values - start
    rows = since >= 0.0
    time, values = since[rows], choices[name].sel(choice=label).values[rows].astype(np.float64)
    if window:
        values = running_mean(time, values, window)
    unit = choices[name].attrs.get("units", "s")
    values = values / 60.0 if unit == "s" else np.asarray(shown_value(values, unit, units)[0])
    times = [figure_of(choices, mark, label) - start for mark in ("opened", "refitted")]
    failed = status_of(choices, label) != "done"
    return ChoiceLine(short_name(label), note, time, values, styles_of(choices)[label], times, failed)


def _drive(choices: xr.Dataset) -> float:
    """Return the longest time from leaving the stop to the finish [s]."""
    ends = [60.0]
    for label in labels_of(choices):
        told = np.isfinite(choices.exposure_since_stop.sel(choice=label).values)
        ends += list(choices.time_since_stop.values[told][-1:] - standing(choices, label))
    return float(max(ends))


def _later_stops(choices: xr.Dataset) -> list[tuple[float, float]]:
    """Return the stops after this one [s since the truck left it], if the results tell them."""
    left = float(choices.attrs.get("stop_time", 0.0)) + planned_stop(choices)
    stops = [(stop["start"] - left, stop["end"] - left) for stop in json.loads(choices.attrs.get("stops", "[]"))]
    return [stop for stop in stops if stop[0] > 0.0]


def _framed(axes: Axes | None, end: float, stops: list[tuple[float, float]]) -> Axes:
    axes = axes or Figure(figsize=(WIDTH, 2.6)).add_axes((LEFT / WIDTH, 0.15, PLOT / WIDTH, 0.72))
    axes.set_xlim(0.0, end)
    bands = [(start, stop - start) for start, stop in stops]
    axes.broken_barh(bands, (0.0, 1.0), transform=axes.get_xaxis_transform(), label="_stop", **_BAND)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(axis="y", color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)
    return axes


def _pressures(axes: Axes, lines: list[ChoiceLine], units: System) -> None:
    end = axes.get_xlim()[1]
    shown: Floats = np.concatenate([line.values[line.time <= end] for line in lines])
    shown = np.append(shown[np.isfinite(shown)], 0.0)
    low, high = float(shown.min()), float(shown.max())
    room = 0.5 * max(shown_value(_LEAST_SPAN, "Pa", units)[0] - (high - low), 0.12 * (high - low))
    axes.set_ylim(low - room, high + room)
    _ticks(axes)
    named(axes, drawn(axes, lines))


def _ticks(axes: Axes) -> None:
    low, high = axes.get_ylim()
    ticks = [tick for tick in MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(low, high) if low <= tick <= high]
    axes.set_yticks(ticks, [signed(f"{tick:.6g}") for tick in ticks], fontproperties=PLAIN)


def time_axis(axes: Axes) -> str:
    """Set the ticks of a panel's time axis, and return what they are."""
    ticks, texts, form = time_ticks(*axes.get_xlim())
    axes.set_xticks(ticks, texts, fontproperties=PLAIN)
    return form


def _title(axes: Axes, title: str) -> None:
    axes.set_title(title, loc="left", fontproperties=PLAIN, pad=4, x=-0.14)


def _gauge(units: System) -> str:
    return unit_sign(shown_value(0.0, "Pa", units)[1])
