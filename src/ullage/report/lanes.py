"""What happens when: one lane each for a starving pump, cap, top-ups, recharges, a stopped pump and each fault."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from numpy.typing import NDArray

from ullage.duty.events import FAULTS, RECHARGE, TOP_UP
from ullage.kernel.hydraulics import STARVED_CHAMBERS, STARVED_LINE
from ullage.report.course import framed
from ullage.report.labels import NAME_COLUMN, PLAIN, short_duration
from ullage.report.traces import Floats, joined, spans_where
from ullage.results.summary import summarise
from ullage.results.variables import CAP_STATES

_TOLD = ("feed starves", "cap off", "cap lifts")
# of the names of faults those that are too long for their column
_SHORT = {
    "vacuum valve stuck open": "vacuum open",
    "vacuum valve stuck shut": "vacuum shut",
    "relief stuck open": "relief open",
    "relief stuck shut": "relief shut",
    "filled hot to the cold mark": "filled hot",
    "blocked strainer": "strainer",
    "blocked cooler": "cooler blocked",
}
_LEAST_WIDTH = 0.004
_BARS: dict[str, dict[str, Any]] = {
    "strong": {"facecolor": "black", "edgecolor": "black", "linewidth": 0.7},
    "plain": {"facecolor": "0.5", "edgecolor": "0.5", "linewidth": 0.7},
}


class Lane(NamedTuple):
    """One lane: what it tells, when [s], how it is drawn, and how long or how often in all."""

    name: str
    spans: Floats
    bar: str
    total: str


def lanes_of(data: xr.Dataset) -> list[Lane]:
    """Return the lanes of pump and cap.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.

    Returns
    -------
    list of Lane
        From the top. Starving, cap off and lifts are told even if they never happen.
    """
    lanes, figures = [], summarise(data)
    starved, names = data.starved.values, {STARVED_LINE: "feed starves", STARVED_CHAMBERS: "pump not filled"}
    for kind, figure in ((STARVED_LINE, "time_starved"), (STARVED_CHAMBERS, "time_chambers_unfilled")):
        lanes.append(_lasting(data, names[kind], starved == kind, "strong", figures[figure]))
    lanes.append(_spanning(data, "cap off", data.cap_state.values == CAP_STATES.index("off"), "strong"))
    if "cap_relief_pressure" in data.attrs or (data.event_name == "cap relief").any():
        lanes.append(_counted(data, "cap lifts", "cap relief", "open"))
    lanes.append(_counted(data, "cap draws air", "cap vacuum", "open"))
    lanes.append(_counted(data, "top-up", TOP_UP, "start"))
    lanes.append(_counted(data, "recharge", RECHARGE, "start"))
    lanes.append(_spanning(data, "pump stopped", data.pump_speed.values == 0.0, "plain"))
    lanes += [_fault(data, name, figures["faults"]) for name in {fault["name"]: None for fault in figures["faults"]}]
    return [lane for lane in lanes if lane.name in _TOLD or len(lane.spans)]


def _lasting(data: xr.Dataset, name: str, holds: NDArray[np.bool_], bar: str, seconds: float) -> Lane:
    return Lane(name, spans_where(data.time.values, holds), bar, short_duration(seconds) if seconds > 0.0 else "0")


def _spanning(data: xr.Dataset, name: str, holds: NDArray[np.bool_], bar: str) -> Lane:
    """Return the lane of a condition that no summary figure counts: it lasts as long as its rows."""
    spans = spans_where(data.time.values, holds)
    return _lasting(data, name, holds, bar, float(np.sum(spans[:, 1] - spans[:, 0])))


def _counted(data: xr.Dataset, name: str, event: str, direction: str) -> Lane:
    chosen = (data.event_name.values == event) & (data.event_direction.values == direction)
    times, count = data.event_time.values[chosen], int(data.event_count.values[chosen].sum())
    return Lane(name, np.stack([times, times], axis=1), "strong", f"{count}\N{MULTIPLICATION SIGN}" if count else "0")


def _fault(data: xr.Dataset, name: str, faults: list[dict[str, Any]]) -> Lane:
    """Return the lane of one fault: a bar while it lasts, or a tick for what is done in an instant."""
    last = float(data.time[-1])
    spells = [fault for fault in faults if fault["name"] == name]
    ends = [
        (last if FAULTS[name].curable else fault["begin"]) if fault["end"] is None else fault["end"] for fault in spells
    ]
    spans = np.array([[fault["begin"], end] for fault, end in zip(spells, ends, strict=True)])
    lasted = float(np.sum(spans[:, 1] - spans[:, 0]))
    return Lane(
        _SHORT.get(name, name),
        spans,
        "strong",
        short_duration(lasted) if lasted > 0.0 else f"{len(spans)}\N{MULTIPLICATION SIGN}",
    )


def plot_lanes(data: xr.Dataset, axes: Axes | None = None) -> Axes:
    """Draw when the pump starves, when the cap is off, lifts or draws air, when the pump stands, and the faults.

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
    axes, lanes = framed(data, axes), lanes_of(data)
    low, high = axes.get_xlim()
    least = _LEAST_WIDTH * (high - low)
    for place, lane in enumerate(lanes):
        axes.axhline(place, color="0.8", linewidth=0.6, zorder=0.5)
        spans = joined(lane.spans, low, high)
        width = np.maximum(spans[:, 1] - spans[:, 0], least)
        bars = zip(np.minimum(spans[:, 0], high - width), width, strict=True)
        axes.broken_barh(list(bars), (place - 0.32, 0.64), **_BARS[lane.bar])
        axes.text(
            NAME_COLUMN, place, lane.name, transform=axes.get_yaxis_transform(), va="center", fontproperties=PLAIN
        )
    axes.set_yticks(range(len(lanes)), [lane.total for lane in lanes], fontproperties=PLAIN)
    axes.tick_params(left=False, length=0.0, pad=3.0)
    axes.set_ylim(len(lanes) - 0.4, -0.6)
    return axes
