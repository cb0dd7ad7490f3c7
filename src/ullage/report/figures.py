"""The race on one page: oil temperatures, pressures, gas in the pump, and what happens at pump and cap."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from ullage.report.course import course_rows, framed, plot_course
from ullage.report.gas import plot_gas
from ullage.report.labels import (
    BOLD,
    HUGE,
    LINE,
    NAME_COLUMN,
    PLAIN,
    clipped,
    drawable,
    number_text,
    short_duration,
    signed,
    spread,
    time_ticks,
    unit_sign,
)
from ullage.report.lanes import lanes_of, plot_lanes
from ullage.report.measured_dots import key, plot_measured, with_measured
from ullage.report.picture import save_picture
from ullage.report.traces import Floats, extremes_by_column
from ullage.results.display import System, shown_value, to_display
from ullage.results.summary import summarise
from ullage.results.verdict import OVER_RATING, over_rating
from ullage.units import digits

RACE_FIGURE = "race.png"
FOOTER = "Estimates, never a permission to open a hot reservoir."

_DPI = 240.0
_WIDTH, _LEFT, _PLOT = 4.5, 0.56, 2.66
_TITLE_LETTERS, _TITLE_LINES = 46, 2
_LEAST_SPAN = {"K": 10.0, "Pa": 20e3}
_NEAR_RATING = 0.8
_ALARM = "#c1272d"

_NODES: dict[str, dict[str, Any]] = {
    "reservoir": {"color": "black", "linestyle": "-", "linewidth": 1.1},
    "pump": {"color": "#d7301f", "linestyle": "-", "linewidth": 2.8},
    "steering_gear": {"color": "#0072b2", "linestyle": (0, (5, 1.6)), "linewidth": 1.2},
    "cooler": {"color": "#00805c", "linestyle": (0, (1, 1.1)), "linewidth": 1.4},
}
_AMBIENT: dict[str, Any] = {"color": "0.45", "linestyle": "-", "linewidth": 0.8}
_AIR_SPACE: dict[str, Any] = {"color": "black", "linestyle": "-", "linewidth": 2.8}
_FEED: dict[str, Any] = {"color": "#4aa3df", "linestyle": "-", "linewidth": 1.1}
_CAP: dict[str, Any] = {"color": "#c1272d", "linestyle": (0, (7, 2)), "linewidth": 1.6}
_NEEDED: dict[str, Any] = {"color": "#7b3294", "linestyle": (0, (1, 1.2)), "linewidth": 1.8}
_RATING: dict[str, Any] = {"color": "#c1272d", "linestyle": (0, (4, 1.5, 1, 1.5)), "linewidth": 1.2}


def plot_temperatures(data: xr.Dataset, axes: Axes | None = None, units: System = "metric") -> Axes:
    """Draw the four oil temperatures and, thin, the ambient temperature; dots are measured.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on.
    """
    axes = framed(data, axes)
    shown = to_display(_with_measured(data, ["oil_temperature", "ambient_temperature"]), units)
    _trace(axes, shown.ambient_temperature, "outside air", _AMBIENT)
    for node, style in _NODES.items():
        _trace(axes, shown.oil_temperature.sel(node=node), node.replace("_", " "), style)
        if "measured_oil_temperature" in shown:
            plot_measured(axes, shown.measured_oil_temperature.sel(node=node), style["color"])
    if "measured_ambient_temperature" in shown:
        plot_measured(axes, shown.measured_ambient_temperature, _AMBIENT["color"])
    axes.set_title(_name(shown.oil_temperature) + key(axes), loc="left", fontproperties=PLAIN, pad=4)
    _finish(axes, "K", units)
    return axes


def plot_pressures(data: xr.Dataset, axes: Axes | None = None, units: System = "metric") -> Axes:
    """Draw the gauge pressures of air space and pump feed, the cap setting and what the pump needs; dots are measured.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on. A rating of tank or shaft seal is drawn once its pressure comes near it.
    """
    axes = framed(data, axes)
    names = ["headspace_gauge_pressure", "feed_gauge_pressure", "rating_margin"]
    shown = to_display(_with_measured(data, names), units)
    axes.axhline(0.0, color="0.3", linewidth=0.8, zorder=0.6, label="_zero")
    _trace(axes, shown.headspace_gauge_pressure, "air space", _AIR_SPACE)
    _trace(axes, shown.feed_gauge_pressure, "feed at pump", _FEED)
    if "rating_margin" in shown:
        needed = shown.feed_gauge_pressure - shown.rating_margin
        needed.attrs.update(long_name="required inlet pressure over ambient", units=shown.rating_margin.attrs["units"])
        _trace(axes, needed, "pump needs", _NEEDED)
    if "cap_relief_pressure" in data.attrs:
        _level(axes, data.attrs["cap_relief_pressure"], "cap", _CAP, units)
    for part, gauge in (("tank", "headspace_gauge_pressure"), ("seal", "feed_gauge_pressure")):
        rating = data.attrs.get(f"{part}_rating", np.inf)
        if float(data[gauge].max()) > _NEAR_RATING * rating:
            _level(axes, rating, f"{part} limit", _RATING, units)
    for name, style in (("headspace_gauge_pressure", _AIR_SPACE), ("feed_gauge_pressure", _FEED)):
        if f"measured_{name}" in shown:
            plot_measured(axes, shown[f"measured_{name}"], style["color"])
    unit = unit_sign(shown.feed_gauge_pressure.attrs["units"])
    axes.set_title(f"gauge pressure, {unit} (below 0 is vacuum){key(axes)}", loc="left", fontproperties=PLAIN, pad=4)
    _finish(axes, "Pa", units)
    return axes


def _with_measured(data: xr.Dataset, names: list[str]) -> xr.Dataset:
    """Return those of some variables that there are, and what was measured of them."""
    both = [*names, *(f"measured_{name}" for name in names)]
    return data[[name for name in both if name in data]]


def _name(variable: xr.DataArray) -> str:
    return f"{variable.attrs['long_name']}, {unit_sign(variable.attrs['units'])}"


def _trace(axes: Axes, variable: xr.DataArray, name: str, style: dict[str, Any]) -> None:
    time, values = extremes_by_column(variable.time.values, variable.values)
    marker = "o" if len(time) == 1 else ""
    axes.plot(time, values, label=_name(variable), gid=name, marker=marker, solid_joinstyle="round", **style)


def _level(axes: Axes, pressure: float, name: str, style: dict[str, Any], units: System) -> None:
    value, unit = shown_value(pressure, "Pa", units)
    axes.axhline(value, label=f"{name}, {unit}", gid=f"{name} {digits(value, 3)} {unit}", **style)


def _finish(axes: Axes, si_units: str, units: System) -> None:
    """Set limits and ticks, and name each line at its right end."""
    lines = [line for line in axes.lines if line.get_gid() and np.isfinite(_values(line)).any()]
    values = np.concatenate([_values(line) for line in lines])
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if si_units == "Pa":
        low = max(min(low, 0.0), -shown_value(110e3, "Pa", units)[0])
    least = shown_value(_LEAST_SPAN[si_units], si_units, units)[0] - shown_value(0.0, si_units, units)[0]
    low, high = with_measured(axes, low, high, max(least, high - low))
    room = 0.5 * max(least - (high - low), 0.1 * (high - low))
    low, high = low - room, high + room
    axes.set_ylim(low, high)
    ticks = [tick for tick in MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(low, high) if low <= tick <= high]
    axes.set_yticks(ticks, [signed(f"{tick:.6g}") for tick in ticks], fontproperties=PLAIN)
    axes.grid(axis="y", color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)
    height = axes.get_window_extent().height / axes.figure.dpi
    last = np.array([_values(line)[np.isfinite(_values(line))][-1] for line in lines])
    half = 0.5 * LINE / height * (high - low)
    places = spread(np.clip(last, low, high), 2.0 * half, low + 0.5 * half, high - 0.5 * half)
    for line, end, place in zip(lines, last, places, strict=True):
        across = axes.get_yaxis_transform()
        leader = Line2D([1.0, NAME_COLUMN - 0.05, NAME_COLUMN - 0.01], [end, place, place])
        leader.update_from(line)
        leader.set(transform=across, clip_on=False, label="_leader", gid=None, marker="")
        axes.add_artist(leader)
        axes.text(NAME_COLUMN, place, str(line.get_gid()), transform=across, va="center_baseline", fontproperties=PLAIN)


def _values(line: Line2D) -> Floats:
    return np.asarray(line.get_ydata(), dtype=np.float64)


def race_figure(data: xr.Dataset, units: System = "metric") -> Figure:
    """Compose the page of a race.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units; also those of a race that could not be finished.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Portrait, on one time axis, without any state outside it.
    """
    heads = _headlines(data)
    heights = {
        "course": LINE * course_rows(data, _PLOT),
        "temperatures": 1.9,
        "pressures": 1.55,
        "gas": 0.36,
        "lanes": 1.25 * LINE * len(lanes_of(data)),
    }
    gaps = {"course": 0.05, "temperatures": 0.24, "pressures": 0.26, "gas": 0.26, "lanes": 0.1}
    head, foot = 0.14 + 0.17 * len(heads) + 0.62, 0.62
    height = head + sum(heights.values()) + sum(gaps.values()) + foot
    figure = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    panels: dict[str, Axes] = {}
    top = height - head
    for name, high in heights.items():
        top -= gaps[name] + high
        box = (_LEFT / _WIDTH, top / height, _PLOT / _WIDTH, high / height)
        panels[name] = figure.add_axes(box, sharex=panels.get("course"))
    plot_course(data, panels["course"])
    plot_temperatures(data, panels["temperatures"], units)
    plot_pressures(data, panels["pressures"], units)
    plot_gas(data, panels["gas"])
    plot_lanes(data, panels["lanes"])
    _time_axis(panels)
    for row, (text, color) in enumerate(heads):
        place = 1.0 - (0.08 + 0.17 * row) / height
        figure.text(0.04, place, text, va="top", color=color, fontproperties=BOLD, parse_math=False)
    _big_numbers(figure, data, units, height - 0.13 - 0.17 * len(heads))
    figure.text(0.5, 0.07 / height, FOOTER, ha="center", va="bottom", fontproperties=PLAIN)
    return figure


def _headlines(data: xr.Dataset) -> list[tuple[str, str]]:
    """Return the lines of the title, and what takes the worth from the figures; with their colours."""
    title = clipped(drawable(str(data.attrs["title"] or "race")), _TITLE_LETTERS * _TITLE_LINES - 10, 40)
    half = len(title) // 2 + 9
    lines = [(line, "black") for line in textwrap.wrap(title, _TITLE_LETTERS if len(title) <= _TITLE_LETTERS else half)]
    if over_rating(summarise(data)):
        lines.append((OVER_RATING, _ALARM))
    if data.attrs["status"] == "done":
        return lines
    stopped = f"Stopped after {short_duration(float(data.time[-1]))}: {data.attrs['status']}"
    return lines + [(line, _ALARM) for line in textwrap.wrap(stopped, _TITLE_LETTERS)]


def _time_axis(panels: dict[str, Axes]) -> None:
    ticks, texts, form = time_ticks(*panels["lanes"].get_xlim())
    panels["lanes"].set_xticks(ticks, texts, fontproperties=PLAIN)
    panels["lanes"].set_xlabel(f"race time, {form}", fontproperties=PLAIN, labelpad=2)
    for name in ("course", "temperatures", "pressures", "gas"):
        panels[name].tick_params(labelbottom=False, bottom=False)
    for name in ("course", "lanes"):
        panels[name].spines["left"].set_visible(False)
    panels["course"].spines["bottom"].set_visible(False)


def _big_numbers(figure: Figure, data: xr.Dataset, units: System, top: float) -> None:
    figures = summarise(data)
    peaks = figures["peak_oil_temperature"]
    node = max(peaks, key=lambda name: peaks[name])
    numbers = [
        (number_text(peaks[node], "K", units), f"hottest oil,\n{node.replace('_', ' ')}"),
        (number_text(figures["highest_headspace_gauge_pressure"], "Pa", units), "highest in\nthe air space"),
    ]
    if (lowest := figures["lowest_feed_gauge_pressure"]) is not None:
        text = "starves" if figures["time_starved"] > 0.0 else number_text(lowest, "Pa", units)
        numbers.append((text, f"lowest feed pressure\nat the pump, lap {figures['lowest_feed_lap']}"))
    height = figure.get_figheight()
    for place, (number, words) in zip((0.04, 0.33, 0.62), numbers, strict=False):
        figure.text(place, top / height, number, va="top", fontproperties=HUGE)
        figure.text(place, (top - 0.28) / height, words, va="top", linespacing=1.35, fontproperties=PLAIN)


def save_race_figure(data: xr.Dataset, path: str | Path, units: System = "metric") -> None:
    """Write the page of a race as PNG, 1080 pixels wide.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.
    units : str
        "metric" or "us".

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    save_picture(race_figure(data, units), path)
