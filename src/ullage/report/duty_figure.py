"""The duty cycle on a small page: speeds, steering load and elevation over the race clock."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ullage.report.course import course_rows, framed, plot_course
from ullage.report.labels import (
    BOLD,
    LINE,
    NAME_COLUMN,
    PLAIN,
    clipped,
    drawable,
    signed,
    time_ticks,
    unit_sign,
)
from ullage.report.picture import save_picture
from ullage.report.traces import extremes_by_column
from ullage.results.display import System, to_display
from ullage.units import digits

DUTY_FIGURE = "duty.png"

_DPI = 240.0
_WIDTH, _LEFT, _PLOT = 4.5, 0.56, 2.66
_TITLE_LETTERS, _TITLE_LINES = 46, 2
_PANEL = 0.78
_NEAR_RELIEF = 0.8
_LEAST_SPAN = {"vehicle_speed": 2.0, "engine_speed": 20.0, "steering_load": 1e6, "elevation": 30.0}
_LINES: dict[str, dict[str, Any]] = {
    "vehicle_speed": {"color": "#0072b2", "linewidth": 0.8},
    "engine_speed": {"color": "black", "linewidth": 0.8},
    "steering_load": {"color": "#d7301f", "linewidth": 0.8},
    "elevation": {"color": "#00805c", "linewidth": 1.6},
}
_RELIEF: dict[str, Any] = {"color": "0.3", "linestyle": (0, (7, 2)), "linewidth": 1.0}


def plot_duty(data: xr.Dataset, name: str, axes: Axes | None = None, units: System = "metric") -> Axes:
    """Draw one channel of a duty cycle over the race clock, with its numbers at the right.

    Parameters
    ----------
    data : xarray.Dataset
        As `duty_cycle` returns it, SI units.
    name : str
        "vehicle_speed", "engine_speed", "steering_load" or "elevation".
    axes : matplotlib.axes.Axes or None
        Where; None makes one.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on. A steering load that comes near the relief setting of the pump stands below its line.
    """
    axes = framed(data, axes)
    shown = to_display(data[[name]], units)[name]
    unit = unit_sign(shown.attrs["units"])
    size = _in_si(data, name, units)
    time, values = extremes_by_column(shown.time.values, shown.values)
    axes.plot(time, values, gid=name, label=f"{shown.attrs['long_name']}, {unit}", **_LINES[name])
    relief = data.attrs["pump_relief_pressure"] / size
    title = f"{name.replace('_', ' ')}, {unit}"
    if name == "steering_load" and shown.max() > _NEAR_RELIEF * relief:
        axes.axhline(relief, gid="relief", label=f"relief, {unit}", **_RELIEF)
        title += " (dashed: pump relief)"
    axes.set_title(title, loc="left", fontproperties=PLAIN, pad=4)
    _scale(axes, _LEAST_SPAN[name] / size, from_zero=name != "elevation")
    _numbers(axes, _said(json.loads(data.attrs["duty_statistics"])["race"], name, size))
    return axes


def _in_si(data: xr.Dataset, name: str, units: System) -> float:
    """Return what one of the unit in which a channel is shown is in SI."""
    one = xr.Dataset({name: ((), 1.0, data[name].attrs)})
    return 1.0 / float(to_display(one, units)[name])


def _scale(axes: Axes, least: float, from_zero: bool) -> None:
    """Set limits and ticks; what is never negative begins at zero."""
    values = np.concatenate([np.asarray(line.get_ydata(), dtype=np.float64) for line in axes.lines if line.get_gid()])
    low, high = float(values.min()), float(values.max())
    room = 0.5 * max(least - (high - low), 0.14 * (high - low))
    low, high = (0.0, max(1.08 * high, least)) if from_zero else (low - room, high + room)
    axes.set_ylim(low, high)
    ticks = [tick for tick in MaxNLocator(4, steps=[1, 2, 5, 10]).tick_values(low, high) if low <= tick <= high]
    axes.set_yticks(ticks, [signed(f"{tick:.6g}") for tick in ticks], fontproperties=PLAIN)
    axes.grid(axis="y", color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)


def _said(race: dict[str, Any], name: str, size: float) -> list[str]:
    """Return what is written beside a panel, from the top."""
    if name == "elevation":
        return [f"{way} {digits(race[figure] / size, 3)}" for way, figure in (("up", "climb"), ("down", "descent"))]
    found = {figure: digits(value / size, 3) for figure, value in race[name].items()}
    spread = [f"\N{PLUS-MINUS SIGN} {found['spread']}"] if race[name]["spread"] > 1e-6 * race[name]["highest"] else []
    lines = [f"mean {found['mean']}", *spread, f"highest {found['highest']}"]
    if name == "steering_load" and race["over_relief"] > 0.0:
        lines += ["over relief", f"{digits(100.0 * race['over_relief'], 2)} %"]
    return lines


def _numbers(axes: Axes, lines: list[str]) -> None:
    height = axes.get_window_extent().height / axes.figure.dpi
    for row, text in enumerate(lines):
        place = 1.0 - (row + 0.5) * LINE / height
        axes.text(NAME_COLUMN, place, text, transform=axes.transAxes, va="center", fontproperties=PLAIN)


def duty_figure(data: xr.Dataset, units: System = "metric") -> Figure:
    """Compose the page of a duty cycle.

    Parameters
    ----------
    data : xarray.Dataset
        As `duty_cycle` returns it, SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Portrait, on one time axis, without any state outside it.
    """
    title = clipped(drawable(str(data.attrs["title"] or "duty cycle")), _TITLE_LETTERS * _TITLE_LINES - 10, 40)
    heads = textwrap.wrap(title, _TITLE_LETTERS if len(title) <= _TITLE_LETTERS else len(title) // 2 + 9)
    course = LINE * course_rows(data, _PLOT)
    head, gap, foot = 0.14 + 0.17 * len(heads), 0.27, 0.4
    height = head + course + len(_LINES) * (gap + _PANEL) + foot
    figure = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    top = height - head - course
    first = figure.add_axes((_LEFT / _WIDTH, top / height, _PLOT / _WIDTH, course / height))
    plot_course(data, first)
    axes = first
    for name in _LINES:
        top -= gap + _PANEL
        box = (_LEFT / _WIDTH, top / height, _PLOT / _WIDTH, _PANEL / height)
        axes.tick_params(labelbottom=False, bottom=False)
        axes = plot_duty(data, name, figure.add_axes(box, sharex=first), units)
    ticks, texts, form = time_ticks(*axes.get_xlim())
    axes.set_xticks(ticks, texts, fontproperties=PLAIN)
    axes.set_xlabel(f"race time, {form}", fontproperties=PLAIN, labelpad=2)
    for side in ("left", "bottom"):
        first.spines[side].set_visible(False)
    for row, text in enumerate(heads):
        place = 1.0 - (0.08 + 0.17 * row) / height
        figure.text(0.04, place, text, va="top", fontproperties=BOLD, parse_math=False)
    return figure


def save_duty_figure(data: xr.Dataset, path: str | Path, units: System = "metric") -> None:
    """Write the page of a duty cycle as PNG, 1080 pixels wide.

    Parameters
    ----------
    data : xarray.Dataset
        As `duty_cycle` returns it, SI units.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.
    units : str
        "metric" or "us".

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    save_picture(duty_figure(data, units), path)
