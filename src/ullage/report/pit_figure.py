"""What each choice at a stop costs, on one page: the opening itself, then feed and gas at the pump on the road."""

from __future__ import annotations

import json
import math
import textwrap
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from ullage.report.choice_lines import ChoiceLine, drawn, named
from ullage.report.choices import (
    SHUT,
    choice_name,
    figure_of,
    labels_of,
    planned_stop,
    running_mean,
    standing,
    status_of,
    styles_of,
    waits,
)
from ullage.report.figures import FOOTER
from ullage.report.labels import (
    BOLD,
    HUGE,
    LINE,
    PLAIN,
    clipped,
    drawable,
    number_text,
    short_duration,
    signed,
    time_ticks,
    unit_sign,
)
from ullage.report.traces import Floats
from ullage.results.display import System, shown_value
from ullage.results.store import written_whole
from ullage.units import clock

PIT_FIGURE = "pit.png"

_DPI = 240.0
_WIDTH, _LEFT, _PLOT = 4.5, 0.52, 2.36
_LETTERS = 46
_AFTER_REFIT = 300.0
_LEAST_MEAN, _MEANS = 60.0, 60.0
_LEAST_SPAN = 20e3  # [Pa]
_ALARM = "#c1272d"
_BAND: dict[str, Any] = {"facecolor": "0.93", "edgecolor": "0.72", "hatch": "///", "linewidth": 0.0, "zorder": 0.3}


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
        _line(choices, "headspace_gauge_pressure", label, units, 0.0, note=_later(choices, label, end))
        for label in labels_of(choices)
    ]
    axes = _framed(axes, end, [(0.0, planned_stop(choices))])
    _pressures(axes, lines, units)
    _title(axes, f"air space at the stop, {_gauge(units)} (\N{WHITE CIRCLE} cap off, \N{BLACK CIRCLE} on)")
    axes.set_xlabel(f"time since the stop began, {_ticked(axes)}", fontproperties=PLAIN, labelpad=1)
    return axes


def _later(choices: xr.Dataset, label: str, end: float) -> str:
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
    _title(axes, "gas at the pump since the stop, minutes")
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
    return ChoiceLine(choice_name(label), note, time, values, styles_of(choices)[label], times, failed)


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
    axes = axes or Figure(figsize=(_WIDTH, 2.6)).add_axes((_LEFT / _WIDTH, 0.15, _PLOT / _WIDTH, 0.72))
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


def _ticked(axes: Axes) -> str:
    ticks, texts, form = time_ticks(*axes.get_xlim())
    axes.set_xticks(ticks, texts, fontproperties=PLAIN)
    return form


def _title(axes: Axes, title: str) -> None:
    axes.set_title(title, loc="left", fontproperties=PLAIN, pad=4, x=-0.14)


def _gauge(units: System) -> str:
    return unit_sign(shown_value(0.0, "Pa", units)[1])


def pit_figure(choices: xr.Dataset, units: System = "metric") -> Figure:
    """Compose the page of a stop.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Portrait, without any state outside it.
    """
    heads, numbers = _headlines(choices), _big_numbers(choices, units)
    many = LINE * (len(choices.choice) + 1)
    late = sum(bool(_later(choices, label, first_minutes(choices))) for label in labels_of(choices))
    heights = {"stop": max(1.6, many + LINE * late), "feed": max(1.7, many), "gas": max(1.6, many)}
    gaps = {"stop": 0.24, "feed": 0.62, "gas": 0.3}
    head, foot = 0.2 + 0.17 * len(heads) + (0.66 if numbers else 0.0), 0.62
    height = head + sum(heights.values()) + sum(gaps.values()) + foot
    figure = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    top = height - head
    panels: dict[str, Axes] = {}
    for name, high in heights.items():
        top -= gaps[name] + high
        panels[name] = figure.add_axes((_LEFT / _WIDTH, top / height, _PLOT / _WIDTH, high / height))
    plot_stop(choices, panels["stop"], units)
    plot_feed(choices, panels["feed"], units)
    plot_gas_minutes(choices, panels["gas"])
    _ticked(panels["feed"])
    panels["feed"].tick_params(labelbottom=False)
    form = _ticked(panels["gas"])
    panels["gas"].set_xlabel(f"time since leaving the stop, {form}", fontproperties=PLAIN, labelpad=1)
    for row, (text, color) in enumerate(heads):
        place = 1.0 - (0.1 + 0.17 * row) / height
        font = PLAIN if color == "0.2" else BOLD
        figure.text(0.04, place, text, va="top", color=color, fontproperties=font, parse_math=False)
    below = height - 0.18 - 0.17 * len(heads)
    for place, (number, words) in zip((0.04, 0.35, 0.66), numbers, strict=False):
        figure.text(place, below / height, number, va="top", fontproperties=HUGE)
        figure.text(place, (below - 0.28) / height, words, va="top", linespacing=1.35, fontproperties=PLAIN)
    figure.text(0.5, 0.07 / height, FOOTER, ha="center", va="bottom", fontproperties=PLAIN)
    return figure


def _headlines(choices: xr.Dataset) -> list[tuple[str, str]]:
    """Return the lines above the panels with their colours: title, stop, and what went wrong with a choice."""
    title = clipped(drawable(str(choices.attrs.get("title") or "race")), 3 * _LETTERS - 20, 40)
    lines = [(line, "black") for line in textwrap.wrap(title, _LETTERS)]
    name = clipped(drawable(str(choices.attrs.get("stop") or "stop")), 60, 0)
    stands = short_duration(planned_stop(choices))
    where = f"{name}, {clock(float(choices.attrs.get('stop_time', 0.0)))} into the race, planned {stands}"
    lines += [(line, "0.2") for line in textwrap.wrap(where, _LETTERS + 8)]
    for label in labels_of(choices):
        status = status_of(choices, label)
        if status != "done":
            lines += [(line, _ALARM) for line in textwrap.wrap(f"{choice_name(label)}: {status}", _LETTERS)]
    return lines


def _big_numbers(choices: xr.Dataset, units: System) -> list[tuple[str, str]]:
    """Return what stood in the air space, what a refit brings back, and the gas that it costs; as far as known."""
    numbers = []
    if "gauge_pressure_at_stop" in choices:
        spent = float(choices.gauge_pressure_at_stop)
        numbers.append((number_text(spent, "Pa", units), "in the air space\nas the truck stops"))
    returned = figure_of(choices, "regained_gauge_pressure", "refit")
    if math.isfinite(returned):
        numbers.append((number_text(returned, "Pa", units), "most that returns\nafter a refit"))
    more = figure_of(choices, "cavitation_exposure", "refit") - figure_of(choices, "cavitation_exposure", SHUT)
    if math.isfinite(more):
        sign = "+" if more >= 0.0 else "\N{MINUS SIGN}"
        numbers.append((f"{sign}{short_duration(abs(more))}", "gas at the pump,\nrefit against shut"))
    return numbers


def save_pit_figure(choices: xr.Dataset, path: str | Path, units: System = "metric") -> None:
    """Write the page of a stop as PNG, 1080 pixels wide.

    Parameters
    ----------
    choices : xarray.Dataset
        Choices at a stop, in SI units.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.
    units : str
        "metric" or "us".

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    figure = pit_figure(choices, units)
    FigureCanvasAgg(figure)
    with written_whole(path) as part, part.open("wb") as file:
        figure.savefig(file, format="png", dpi=_DPI, pil_kwargs={"compress_level": 1})
