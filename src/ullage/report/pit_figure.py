"""What each choice at a stop costs, on one page."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path

import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ullage.report.choice_styles import figure_of, gas_minutes, labels_of, planned_stop, short_name, status_of
from ullage.report.figures import FOOTER
from ullage.report.labels import BOLD, HUGE, LINE, PLAIN, clipped, drawable, number_text, short_duration
from ullage.report.picture import save_picture
from ullage.report.pit_panels import (
    LEFT,
    PLOT,
    WIDTH,
    first_minutes,
    opens_later,
    plot_feed,
    plot_gas_minutes,
    plot_stop,
    time_axis,
)
from ullage.results.display import System
from ullage.units import clock

PIT_FIGURE = "pit.png"

_DPI = 240.0
_LETTERS = 46
_ALARM = "#c1272d"


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
    late = sum(bool(opens_later(choices, label, first_minutes(choices))) for label in labels_of(choices))
    heights = {"stop": max(1.6, many + LINE * late), "feed": max(1.7, many), "gas": max(1.6, many)}
    gaps = {"stop": 0.24, "feed": 0.62, "gas": 0.3}
    head, foot = 0.2 + 0.17 * len(heads) + (0.66 if numbers else 0.0), 0.62
    height = head + sum(heights.values()) + sum(gaps.values()) + foot
    figure = Figure(figsize=(WIDTH, height), dpi=_DPI)
    top = height - head
    panels: dict[str, Axes] = {}
    for name, high in heights.items():
        top -= gaps[name] + high
        panels[name] = figure.add_axes((LEFT / WIDTH, top / height, PLOT / WIDTH, high / height))
    plot_stop(choices, panels["stop"], units)
    plot_feed(choices, panels["feed"], units)
    plot_gas_minutes(choices, panels["gas"])
    time_axis(panels["feed"])
    panels["feed"].tick_params(labelbottom=False)
    form = time_axis(panels["gas"])
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
            lines += [(line, _ALARM) for line in textwrap.wrap(f"{short_name(label)}: {status}", _LETTERS)]
    return lines


def _big_numbers(choices: xr.Dataset, units: System) -> list[tuple[str, str]]:
    """Return what stood in the air space, what a refit brings back, and the gas that it costs; as far as known."""
    numbers = []
    if "gauge_pressure_at_stop" in choices:
        spent = float(choices.gauge_pressure_at_stop)
        numbers.append((number_text(spent, "Pa", units), "in the air space\nas the truck stops"))
    returned = figure_of(choices, "stint_gauge_pressure", "refit")
    if math.isfinite(returned):
        numbers.append((number_text(returned, "Pa", units), "mean of the stint\nafter a refit"))
    if "refit" in labels_of(choices) and (minutes := gas_minutes(choices, "refit")):
        numbers.append((minutes, "min more gas at the\npump, refit than shut"))
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
    save_picture(pit_figure(choices, units), path)
