"""What uncertain inputs do to a race: percentile bands of traced variables over race time."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from ullage.errors import UllageError
from ullage.report.figures import FOOTER
from ullage.report.labels import (
    BOLD,
    LINE,
    NAME_COLUMN,
    PLAIN,
    clipped,
    drawable,
    number_text,
    signed,
    spread,
    time_ticks,
    unit_sign,
)
from ullage.report.picture import save_picture
from ullage.report.traces import Floats
from ullage.results.display import System, shown_value
from ullage.results.study_axes import done, is_sample, sampling_of
from ullage.results.variables import VARIABLES
from ullage.results.verdict import COLD_SUCTION, FULL_TANK, STOPPING_OIL, WORRYING_OIL
from ullage.units import factor

BANDS_FIGURE = "bands.png"
PERCENTS = (5.0, 25.0, 50.0, 75.0, 95.0)

_DPI = 240.0
_WIDTH, _LEFT, _PLOT = 4.5, 0.6, 2.5
_PANEL, _GAP = 1.75, 0.46
_LETTERS = 60
_OUTER, _INNER = "#bcd7ea", "#6fa8cf"
_LIMIT = "#c1272d"
_STILL_RACING = 0.5  # own choice: share of the members that have to race on for a band to be drawn
_LEAST_SPAN = {"K": 10.0, "Pa": 20e3, "1": 0.05}


class Limit(NamedTuple):
    """A limit in SI units, and its name on the picture."""

    value: float
    name: str


def percentiles(data: xr.Dataset, name: str) -> tuple[Floats, Floats]:
    """Return race times, and percentiles of a traced variable over the members there.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study with traces.
    name : str
        A traced variable; of one with places the highest of them.

    Returns
    -------
    tuple
        Times [s] as long as half of the traced members race on, and values in SI units of shape (percents, times); not
        a number where fewer than half have any, as of the pump while it stands.
    """
    traced = data[name].max("node") if "node" in data[name].dims else data[name]
    values = traced.transpose("traced_member", "time").values
    racing = np.isfinite(values).mean(axis=0) >= _STILL_RACING
    found = np.full((len(PERCENTS), len(racing)), np.nan)
    found[:, racing] = np.nanpercentile(values[:, racing], PERCENTS, axis=0)
    end = int(np.flatnonzero(racing).max(initial=-1)) + 1
    return data.time.values[:end], found[:, :end]


def limits_of(data: xr.Dataset, name: str) -> list[Limit]:
    """Return the limits that matter to a traced variable, in SI units."""
    relief, tank, seal = (data.attrs.get(key) for key in ("cap_relief_pressure", "tank_rating", "seal_rating"))
    known: dict[str, list[tuple[float | None, str]]] = {
        "oil_temperature": [(WORRYING_OIL, "worrying"), (STOPPING_OIL, "stop")],
        "headspace_gauge_pressure": [(relief, "cap"), (tank, "tank")],
        "feed_gauge_pressure": [(-COLD_SUCTION * factor("inHg", "Pa"), "suction"), (seal, "seal")],
        "oil_level": [(FULL_TANK, "full")],
        "rating_margin": [(0.0, "pump's need")],
        "vapour_margin": [(0.0, "boils")],
        "air_margin": [(0.0, "bubbles")],
        "seal_margin": [(0.0, "seal limit")],
        "tank_margin": [(0.0, "tank limit")],
    }
    return [Limit(value, words) for value, words in known.get(name, []) if value is not None]


def bands_figure(data: xr.Dataset, units: System = "metric") -> Figure:
    """Compose the bands of a study.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study with traces in SI units, its members all of equal weight.
    units : str
        "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Portrait, one panel for each traced variable.

    Raises
    ------
    UllageError
        If the members are those of a grid or a table, or nothing was traced.
    """
    method = sampling_of(data)
    if not is_sample(data):
        raise UllageError(
            f"bands need members of equal weight: a {method} has none; use random, latin hypercube or sobol"
        )
    traced = [str(name) for name, variable in data.data_vars.items() if "traced_member" in variable.dims]
    names = [name for name in traced if percentiles(data, name)[0].size]
    if not names:
        raise UllageError("bands need traces: give `[traces]` with its variables and interval in the study file")
    heads = _heads(data)
    head, foot = 0.2 + 0.17 * len(heads), 0.62
    height = head + len(names) * (_PANEL + _GAP) + foot
    page = Figure(figsize=(_WIDTH, height), dpi=_DPI)
    top = height - head
    panels = []
    for name in names:
        top -= _GAP + _PANEL
        panel = page.add_axes((_LEFT / _WIDTH, top / height, _PLOT / _WIDTH, _PANEL / height))
        plot_bands(data, name, panel, units)
        panels.append(panel)
    _time_axis(data, panels)
    for row, (text, font) in enumerate(heads):
        page.text(0.04, 1.0 - (0.1 + 0.17 * row) / height, text, va="top", fontproperties=font, parse_math=False)
    page.text(0.5, 0.07 / height, FOOTER, ha="center", va="bottom", fontproperties=PLAIN)
    return page


def plot_bands(data: xr.Dataset, name: str, axes: Axes, units: System = "metric") -> None:
    """Draw the bands of one traced variable, and the limits that it comes near.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study with traces in SI units.
    name : str
        The variable.
    axes : matplotlib.axes.Axes
        Where.
    units : str
        "metric" or "us".
    """
    time, found = percentiles(data, name)
    si_units = VARIABLES[name].units
    zero, unit = shown_value(0.0, si_units, units)
    scale = shown_value(1.0, si_units, units)[0] - zero
    low, quarter, median, three, high = zero + scale * found
    axes.fill_between(time, low, high, color=_OUTER, linewidth=0.0)
    axes.fill_between(time, quarter, three, color=_INNER, linewidth=0.0)
    for edge in (low, high):
        axes.plot(time, edge, color="0.25", linewidth=0.5, linestyle=(0, (2, 1)))
    axes.plot(time, median, color="black", linewidth=1.6)
    bottom, top = float(np.nanmin(low)), float(np.nanmax(high))
    near = [limit for limit in limits_of(data, name) if _near(limit.value, found, si_units)]
    shown = [zero + scale * limit.value for limit in near]
    bottom, top = min([bottom, *shown]), max([top, *shown])
    room = 0.5 * max(scale * _LEAST_SPAN.get(si_units, 0.0) - (top - bottom), 0.12 * (top - bottom))
    room = room or 0.05 * abs(top) or 1.0  # of bands without any height
    axes.set_ylim(bottom - room, top + room)
    axes.set_xlim(float(data.time[0]), float(time[-1]))
    if si_units == "Pa" and bottom < 0.0 < top:
        axes.axhline(0.0, color="0.3", linewidth=0.8, zorder=0.6)
    for value in shown:
        axes.axhline(value, color=_LIMIT, linewidth=1.4, linestyle=(0, (7, 2)))
    names = [
        (f"{percent:.0f} %", row[-1], "0.25")
        for percent, row in zip(PERCENTS, (low, quarter, median, three, high), strict=True)
    ]
    names += [(_limit_text(limit, si_units, units), value, _LIMIT) for limit, value in zip(near, shown, strict=True)]
    _name_ends(axes, names)
    axes.set_title(_title(name, unit), loc="left", fontproperties=PLAIN, pad=4)
    ticks = MaxNLocator(5, steps=[1, 2, 5, 10]).tick_values(*axes.get_ylim())
    inside = [tick for tick in ticks if axes.get_ylim()[0] <= tick <= axes.get_ylim()[1]]
    axes.set_yticks(inside, [signed(f"{tick:.6g}") for tick in inside], fontproperties=PLAIN)
    axes.grid(axis="y", color="0.9", linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _title(name: str, unit: str) -> str:
    words = "hottest oil anywhere" if name == "oil_temperature" else VARIABLES[name].long_name.partition(";")[0]
    sign = f", {unit_sign(unit)}" if unit not in ("1", "") else ""
    return clipped(f"{words}{sign}", 58, len(sign) + 1)


def _limit_text(limit: Limit, si_units: str, units: System) -> str:
    if si_units == "1":
        return f"{limit.name} {limit.value:g}"
    return f"{limit.name} {number_text(limit.value, si_units, units)}"


def _near(value: float, found: Floats, si_units: str) -> bool:
    """Tell whether a limit lies in the band, or not much further from it than the band is wide."""
    low, high = float(np.nanmin(found)), float(np.nanmax(found))
    reach = max(0.35 * (high - low), 0.5 * _LEAST_SPAN.get(si_units, 0.0))
    return low - reach <= value <= high + reach


def _name_ends(axes: Axes, names: list[tuple[str, float, str]]) -> None:
    """Write the name of each percentile and limit at its right end."""
    low, high = axes.get_ylim()
    half = 0.5 * LINE / (axes.get_window_extent().height / axes.figure.dpi) * (high - low)
    ends = np.array([end for _, end, _ in names])
    places = spread(np.clip(ends, low, high), 2.0 * half, low + 0.5 * half, high - 0.5 * half)
    across = axes.get_yaxis_transform()
    for (text, end, color), place in zip(names, places, strict=True):
        leader = Line2D([1.0, NAME_COLUMN - 0.03, NAME_COLUMN - 0.005], [end, place, place], color=color, linewidth=0.9)
        leader.set(transform=across, clip_on=False)
        axes.add_artist(leader)
        axes.text(NAME_COLUMN, place, text, transform=across, va="center_baseline", color=color, fontproperties=PLAIN)


def _time_axis(data: xr.Dataset, panels: list[Axes]) -> None:
    latest = max(panel.get_xlim()[1] for panel in panels)
    ticks, texts, form = time_ticks(float(data.time[0]), latest)
    for panel in panels:
        panel.set_xlim(float(data.time[0]), latest)
        panel.set_xticks(ticks, texts if panel is panels[-1] else [], fontproperties=PLAIN)
    panels[-1].set_xlabel(f"race time, {form}", fontproperties=PLAIN, labelpad=2)


def _heads(data: xr.Dataset) -> list[tuple[str, FontProperties]]:
    title = clipped(drawable(str(data.attrs["title"] or "study")), 90, 30)
    traced = np.isin(data.member.values, data.traced_member.values)
    failed = int((~done(data) & traced).sum())
    races = (
        f"{int(traced.sum())} races, {failed} not finished, counted till they stop"
        if failed
        else f"{int(traced.sum())} races"
    )
    words = f"{races}. Each line: so many of them stay under it just then. Dark: the middle half; pale: nine in ten."
    words += " Between the moments that were traced it gets worse: see the figures."
    titles = textwrap.wrap(title, 46)[:2]
    return [(line, BOLD) for line in titles] + [(line, PLAIN) for line in textwrap.wrap(words, _LETTERS)]


def save_study_bands(data: xr.Dataset, path: str | Path, units: System = "metric") -> None:
    """Write the bands of a study as PNG, 1080 pixels wide.

    Parameters
    ----------
    data : xarray.Dataset
        Results of a study with traces in SI units, its members all of equal weight.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.
    units : str
        "metric" or "us".

    Raises
    ------
    ResultsError
        If the file cannot be written.
    UllageError
        If the members are those of a grid or a table, or nothing was traced.
    """
    save_picture(bands_figure(data, units), path)
