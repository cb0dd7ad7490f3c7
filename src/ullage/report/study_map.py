"""The builder's chart: a figure over two axes of a study, with what is forbidden hatched and named."""

from __future__ import annotations

import math
import textwrap
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from ullage.errors import UllageError
from ullage.report.figures import FOOTER
from ullage.report.labels import BOLD, LETTER, LINE, PLAIN, clipped, drawable, number_text, signed, unit_sign
from ullage.report.picture import save_picture
from ullage.report.study_regions import STYLES, Box, Flags, box_about, draw_region, edges, name_regions
from ullage.report.traces import Floats
from ullage.results.display import System, short, shown_value
from ullage.results.study_axes import DONE, figure_values, hottest_oil
from ullage.results.study_forbidden import Forbidden, forbidden
from ullage.results.study_grid import GridAxis, grid_axes, laid_out
from ullage.results.variables import SUMMARY_FIGURES
from ullage.results.verdict import WORRYING_OIL

MAP_FIGURE = "map.png"
GAS_FIGURE = "cavitation_exposure"

_DPI = 240.0
_WIDTH, _PLOT_HEIGHT = 4.5, 3.5
_ROW_LETTERS = 16
_LETTERS = 60
# grey where something that is forbidden holds all over the map
_GREY = LinearSegmentedColormap.from_list("grey", ["#dddddd", "#cccccc", "#999999"])
_PALE = LinearSegmentedColormap.from_list("pale", ["#ffffff", "#f3e3b3", "#d8b768"])
_DIAMOND: dict[str, Any] = {
    "marker": "D",
    "markersize": 8,
    "color": "white",
    "markeredgecolor": "black",
    "markeredgewidth": 2.0,
}
_LONG_GAS = 600.0  # [s] from which minutes are shown


class _Shown(NamedTuple):
    """A figure as the map shows it: cells, unit, name, and how far to trust it."""

    cells: Floats
    unit: str
    name: str
    trust: str = ""


def map_figure(data: xr.Dataset, units: System = "metric", figure: str | None = None) -> Figure:
    """Compose the map of a grid study.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a grid study in SI units, with two axes of two values or more.
    units : str
        "metric" or "us".
    figure : str or None
        The summary figure that the colours show; None takes the time with gas at the pump.

    Returns
    -------
    matplotlib.figure.Figure
        Portrait. Of more than two axes those with most values are drawn, at the worst over the others.

    Raises
    ------
    UllageError
        If there are no two axes to draw.
    """
    axes_there = grid_axes(data, units)
    if len([axis for axis in axes_there if len(axis.values) > 1]) < 2:
        raise UllageError("a map needs a grid with two axes of two values or more; this study has none")
    across, up = axes_there[:2]
    if across.rows and not up.rows:
        across, up = up, across
    axes_there[:2] = across, up
    shown = _shown(data, across, up, figure or GAS_FIGURE, units)
    regions = [each for each in forbidden(data, units) if each.members.any()]
    cells = {each.name: laid_out(across, up, each.members, np.logical_or) for each in regions}
    everywhere = {name for name, flags in cells.items() if flags.all()}
    heads = _heads(data, axes_there, shown, [each for each in regions if each.name in everywhere], units)
    regions = [each for each in regions if each.name not in everywhere]
    cells = {each.name: cells[each.name] for each in regions}
    legend = _legend(regions, across, up)
    left = 0.75 if not up.rows else 0.3 + LETTER * max(len(line) for row in up.rows for line in _row_lines(row))
    foot = 0.76 + LINE * (sum(len(lines) for _, lines in legend) + 0.4 * len(legend))
    head = 0.2 + 0.17 * len(heads)
    height = head + _PLOT_HEIGHT + foot + 0.15
    page = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    width = _WIDTH - left - 0.25
    axes = page.add_axes((left / _WIDTH, (foot + 0.1) / height, width / _WIDTH, _PLOT_HEIGHT / height))
    _draw(axes, across, up, shown, cells, _GREY if everywhere else _PALE)
    for row, (text, font) in enumerate(heads):
        page.text(0.04, 1.0 - (0.1 + 0.17 * row) / height, text, va="top", fontproperties=font, parse_math=False)
    _write_legend(page, legend, foot - 0.46)
    page.text(0.5, 0.07 / height, FOOTER, ha="center", va="bottom", fontproperties=PLAIN)
    return page


def _shown(data: xr.Dataset, across: GridAxis, up: GridAxis, figure: str, units: System) -> _Shown:
    """Lay the figure out, at the worst over other axes: the lowest of what is called lowest, else the highest."""
    known = np.where(data.status.values == DONE, figure_values(data, figure), np.nan)
    cells = laid_out(across, up, known, np.fmin if figure.startswith("lowest_") else np.fmax)
    variable = SUMMARY_FIGURES[figure]
    if figure == GAS_FIGURE:
        minutes = np.nanmax(cells, initial=0.0) >= _LONG_GAS
        shown, unit = (cells / 60.0, "min") if minutes else (cells, "s")
        return _Shown(shown, unit, "time with gas at the pump", "; good to a factor of a few")
    zero, unit = shown_value(0.0, variable.units, units)
    one, _ = shown_value(1.0, variable.units, units)
    gauge = " gauge" if variable.pressure == "gauge" else ""
    return _Shown(zero + (one - zero) * cells, "" if unit == "1" else unit + gauge, variable.long_name.split(",")[0])


def _draw(
    axes: Axes, across: GridAxis, up: GridAxis, shown: _Shown, cells: dict[str, Flags], colors: LinearSegmentedColormap
) -> None:
    right, top = edges(across.values), edges(up.values)
    found = np.ma.masked_invalid(shown.cells)
    least = 0.0 if not found.count() or found.min() >= 0.0 else None  # a time or a share of nothing is white
    axes.pcolormesh(right, top, found, cmap=colors, vmin=least, rasterized=True, zorder=0.5)
    for name, flags in cells.items():
        draw_region(axes, right, top, flags, name)
    axes.set_xlim(right[0], right[-1])
    axes.set_ylim(top[0], top[-1])
    for axis, setting, naming in ((across, axes.set_xticks, axes.set_xlabel), (up, axes.set_yticks, axes.set_ylabel)):
        ticks, texts = _ticks(axis)
        setting(ticks, texts, fontproperties=PLAIN)
        unit = f", {unit_sign(axis.unit)}" if axis.unit else ""
        naming("" if axis.rows else f"{axis.name}{unit}", fontproperties=PLAIN, labelpad=3)
    axes.tick_params(length=3)
    taken = []
    if _in_map(across, up):
        axes.plot([across.base], [up.base], zorder=7, **_DIAMOND)
        taken.append(box_about(axes, across.base, up.base, "oo"))
    name_regions(axes, cells, taken)
    _numbers(axes, right, top, shown, taken)


def _row_lines(row: str) -> list[str]:
    return [clipped(drawable(part), _ROW_LETTERS, 6) for part in row.split(", ", 2)]


def _ticks(axis: GridAxis) -> tuple[list[float], list[str]]:
    if axis.rows:
        return axis.values.tolist(), ["\n".join(_row_lines(row)) for row in axis.rows]
    low, high = float(axis.values[0]), float(axis.values[-1])
    if len(axis.values) <= 6:
        return axis.values.tolist(), [signed(short(value)) for value in axis.values]
    slack = 1e-6 * (high - low)
    found = MaxNLocator(6, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    ticks = [tick for tick in found if low - slack <= tick <= high + slack]
    return ticks, [signed(f"{tick:.6g}") for tick in ticks]


def _numbers(axes: Axes, right: Floats, top: Floats, shown: _Shown, taken: list[Box]) -> None:
    """Write the figure into some cells, well apart, where nothing is written yet."""
    rows, columns = shown.cells.shape
    wide, high = (math.ceil(size) for size in (columns / 5, rows / 7))
    for row in range(high // 2, rows, high):
        for column in range(wide // 2, columns, wide):
            value = shown.cells[row, column]
            text = signed(f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}")
            x, y = 0.5 * (right[column] + right[column + 1]), 0.5 * (top[row] + top[row + 1])
            if not np.isfinite(value) or box_about(axes, x, y, text).meets(taken):
                continue
            box = {"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
            axes.text(x, y, text, ha="center", va="center", fontproperties=PLAIN, bbox=box, zorder=5)


def _in_map(across: GridAxis, up: GridAxis) -> bool:
    """Tell whether the scenario's own point lies among the members."""
    return all(bool(axis.values[0] <= axis.base <= axis.values[-1]) for axis in (across, up))


def _heads(
    data: xr.Dataset, axes_there: list[GridAxis], shown: _Shown, everywhere: list[Forbidden], units: System
) -> list[tuple[str, FontProperties]]:
    """Return the lines above the map and their letters: title, what is shown, what holds for all of it."""
    title = clipped(drawable(str(data.attrs["title"] or "study")), 90, 30)
    unit = f", {unit_sign(shown.unit)}" if shown.unit else ""
    texts = [f"numbers and colour (darker is more): {shown.name}{unit}{shown.trust}"]
    for axis, where in zip(axes_there[:2], ("across", "up"), strict=True):
        texts += [f"{where}: {axis.name}"] if axis.rows else []
    if others := [axis.name for axis in axes_there[2:]]:
        texts.append(f"everywhere the worst over {', '.join(others)}")
    texts += [unit_sign(f"ALL OVER THE MAP, hence grey: {each.name}, {each.number}") for each in everywhere]
    worried = int((hottest_oil(data) >= WORRYING_OIL).sum())
    if worried:
        limit = number_text(WORRYING_OIL, "K", units)
        texts.append(f"oil at {limit} or more, which worries, in {worried} of {len(data.member)} races")
    lines = [line for text in texts for line in textwrap.wrap(text, _LETTERS)]
    return [(line, BOLD) for line in textwrap.wrap(title, 46)[:2]] + [(line, PLAIN) for line in lines]


def _legend(regions: list[Forbidden], across: GridAxis, up: GridAxis) -> list[tuple[str, list[str]]]:
    """Return the rows of the legend: the name of a region, and its lines."""
    rows = [(each.name, textwrap.wrap(unit_sign(f"{each.name}: {each.number}"), _LETTERS - 8)) for each in regions]
    if _in_map(across, up):
        rows.append(("", ["the scenario as it is"]))
    return rows


def _write_legend(page: Figure, legend: list[tuple[str, list[str]]], top: float) -> None:
    width, height = page.get_figwidth(), page.get_figheight()
    for name, lines in legend:
        if name:
            style = STYLES[name]
            place = 0.16 / width, (top - 0.2) / height
            swatch = Rectangle(
                place, 0.5 / width, 0.19 / height, facecolor="none", edgecolor=style.color, hatch=style.hatch
            )
            page.add_artist(swatch)
        else:
            axes = page.add_axes((0.16 / width, (top - 0.2) / height, 0.5 / width, 0.19 / height))
            axes.set_axis_off()
            axes.plot([0.5], [0.5], **_DIAMOND)
        for row, line in enumerate(lines):
            place_up = (top - 0.04 - LINE * row) / height
            page.text(0.75 / width, place_up, line, va="top", fontproperties=PLAIN, parse_math=False)
        top -= LINE * (len(lines) + 0.4)


def save_study_map(data: xr.Dataset, path: str | Path, units: System = "metric", figure: str | None = None) -> None:
    """Write the map of a grid study as PNG, 1080 pixels wide.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a grid study in SI units.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.
    units : str
        "metric" or "us".
    figure : str or None
        The summary figure that the colours show; None takes the time with gas at the pump.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    UllageError
        If there are no two axes to draw.
    """
    save_picture(map_figure(data, units, figure), path)
