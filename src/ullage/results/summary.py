"""The figures of a race that a crew asks for first."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import xarray as xr

from ullage.results.display import System, shown_value
from ullage.units import digits

_START = 5.0


def summarise(data: xr.Dataset) -> dict[str, Any]:
    """Return the summary figures of a race.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.

    Returns
    -------
    dict
        SI figures by name; `peak_oil_temperature` by node. Extremes are over the rows of the Dataset; inlet figures
        count while the pump turns and from 5 s after the start, and are None if it never does.
    """
    turning = (data.pump_speed > 0.0) & (data.time >= _START)
    feed = data.feed_gauge_pressure.where(turning, drop=True)
    openings = data.event_count.where((data.event_name == "cap relief") & (data.event_direction == "open"), 0)
    return {
        "peak_oil_temperature": {
            str(node): float(data.oil_temperature.sel(node=node).max()) for node in data.node.values
        },
        "lowest_feed_gauge_pressure": float(feed.min()) if feed.size else None,
        "lowest_feed_lap": int(feed.lap[int(np.argmin(feed.values))]) if feed.size else None,
        "highest_headspace_gauge_pressure": float(data.headspace_gauge_pressure.max()),
        "highest_oil_level": float(data.oil_level.max()),
        "relief_openings": int(openings.sum()),
        "left_oil_range": bool((data.event_name == "oil over 200 degC").any()),
        "air_vented": float(data.air_vented[-1]),
        "oil_lost": float(data.oil_lost[-1]),
        "shaft_energy": float(data.shaft_work[-1]),
        "oil_balance": float(data.attrs["oil_balance"]),
        "air_balance": float(data.attrs["air_balance"]),
        "energy_balance": float(data.attrs["energy_balance"]),
        "status": str(data.attrs["status"]),
    }


def summary_text(data: xr.Dataset, units: System) -> str:
    """Write the summary of a race in a builder's words.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        Some lines; three significant digits.
    """
    figures = summarise(data)
    peaks = figures["peak_oil_temperature"]
    node = max(peaks, key=lambda name: peaks[name])
    laps = int(data.lap.max())
    distance = _shown(float(data.distance[-1]), "m", units)
    laps_word = "lap" if laps == 1 else "laps"
    hours = float(data.time[-1]) / 3600.0
    lines = [
        str(data.attrs["title"] or "race"),
        f"  length                {distance}, {laps} {laps_word}, {digits(hours, 3)} h",
        f"  hottest oil           {_shown(peaks[node], 'K', units)} in the {node.replace('_', ' ')}",
        f"  air space, highest    {_shown(figures['highest_headspace_gauge_pressure'], 'Pa', units)} gauge",
    ]
    if figures["lowest_feed_gauge_pressure"] is not None:
        feed = _shown(figures["lowest_feed_gauge_pressure"], "Pa", units)
        lines.append(f"  pump feed, lowest     {feed} gauge, lap {figures['lowest_feed_lap']}")
    lines += [
        f"  fullest tank          {100.0 * figures['highest_oil_level']:.0f} % of the tank",
        f"  oil lost              {1000.0 * figures['oil_lost']:.3g} g",
        f"  cap relief openings   {figures['relief_openings']}",
        f"  balances              oil {figures['oil_balance']:.1e}, air {figures['air_balance']:.1e}, "
        f"energy {figures['energy_balance']:.1e}",
    ]
    if figures["left_oil_range"]:
        lines.append("  warning: oil went over 200 degC: no oil stands that, and the figures after it mean little")
    return "\n".join(lines)


def summary_json(data: xr.Dataset) -> str:
    """Write the summary figures of a race as JSON, SI units."""
    return json.dumps(summarise(data), indent=2, allow_nan=False)


def _shown(value: float, si_units: str, system: System) -> str:
    number, unit = shown_value(value, si_units, system)
    return f"{digits(number, 3)} {unit}" if np.isfinite(number) else "unknown"
