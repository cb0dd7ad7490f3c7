"""Gas in the pump over the race."""

from __future__ import annotations

import numpy as np
import xarray as xr
from matplotlib.axes import Axes

from ullage.kernel.extremes import FULL_EXPOSURE
from ullage.report.course import framed
from ullage.report.labels import NAME_COLUMN, PLAIN, short_duration
from ullage.report.traces import extremes_by_column
from ullage.results.summary import summarise

_FULL = 100.0 * FULL_EXPOSURE
_ROOM = 1.3


def plot_gas(data: xr.Dataset, axes: Axes | None = None) -> Axes:
    """Draw the share of the pump's chambers that oil does not fill, and from which share a second counts in full.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    axes : matplotlib.axes.Axes or None
        Where; None makes one.

    Returns
    -------
    matplotlib.axes.Axes
        The axes drawn on; a gap where the pump stands.
    """
    axes = framed(data, axes)
    time, share = extremes_by_column(data.time.values, 100.0 * data.pump_void_fraction.values)
    axes.fill_between(time, 0.0, share, facecolor="black", edgecolor="black", linewidth=0.7, label="gas in the pump, %")
    axes.axhline(_FULL, color="#c1272d", linewidth=1.2, linestyle=(0, (7, 2)), label="_full")
    across = axes.get_yaxis_transform()
    name = f"{_FULL:.0f} % counts full"
    axes.text(NAME_COLUMN, _FULL, name, transform=across, va="center_baseline", fontproperties=PLAIN)
    most = max(_FULL, float(np.max(share, where=np.isfinite(share), initial=0.0)))
    axes.set_ylim(0.0, _ROOM * most)
    ticks = [0.0, _FULL * (most // _FULL)]
    axes.set_yticks(ticks, [f"{tick:.0f}" for tick in ticks], fontproperties=PLAIN)
    counted = short_duration(summarise(data)["cavitation_exposure"])
    axes.set_title(f"gas in the pump, % (counts as {counted})", loc="left", fontproperties=PLAIN, pad=4)
    return axes
