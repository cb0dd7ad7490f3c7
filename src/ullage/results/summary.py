"""The figures of a race that a crew asks for first."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr

from ullage.results.display import System, shown_value
from ullage.results.variables import CAP_STATES
from ullage.units import digits, factor

HOT_TO_OPEN = 323.15

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
        SI figures by name; `peak_oil_temperature` by node. Extremes are over all samples, also over those that an
        output interval left out; inlet figures count while the pump turns and from 5 s after the start, and are None
        if it never does. `cap_openings` gives time, hottest oil and gauge pressure just before each.
    """
    if "summary" in data.attrs:
        figures: dict[str, Any] = json.loads(data.attrs["summary"])
        return figures
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
        "at_vapour_pressure": bool((data.event_name == "air space at vapour pressure").any()),
        "feed_line_starves": bool((data.feed_pressure.where(turning, 0.0) < 0.0).any()),
        "lowest_seal_margin": float(data.seal_margin.min()),
        "lowest_tank_margin": float(data.tank_margin.min()),
        "cap_openings": _cap_openings(data),
        "cap_off_at_end": bool(data.cap_state[-1] == CAP_STATES.index("off")),
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
        f"  air space, highest    {_gauge(figures['highest_headspace_gauge_pressure'], units)}",
    ]
    if figures["lowest_feed_gauge_pressure"] is not None:
        feed = _gauge(figures["lowest_feed_gauge_pressure"], units)
        lines.append(f"  pump feed, lowest     {feed}, lap {figures['lowest_feed_lap']}")
    lines += [
        f"  fullest tank          {100.0 * figures['highest_oil_level']:.0f} % of the tank",
        f"  oil lost              {1000.0 * figures['oil_lost']:.3g} g",
        f"  cap relief openings   {figures['relief_openings']}",
        f"  balances              oil {figures['oil_balance']:.1e}, air {figures['air_balance']:.1e}, "
        f"energy {figures['energy_balance']:.1e}",
    ]
    return "\n".join([*lines, *[f"  warning: {text}" for text in _warnings(figures, units)]])


def _cap_openings(data: xr.Dataset) -> list[dict[str, float]]:
    """Return time, hottest oil and gauge pressure just before each opening of the cap."""
    off = (data.event_name == "cap") & (data.event_direction == "off")
    found = []
    for time in data.event_time.values[off.values]:
        row = data.isel(time=max(0, int(np.searchsorted(data.time.values, time, side="right")) - 1))
        oil, gauge = float(row.oil_temperature.max()), float(row.headspace_gauge_pressure)
        found.append({"time": float(time), "hottest_oil": oil, "gauge_pressure": gauge})
    return found


def _warnings(figures: dict[str, Any], units: System) -> Iterator[str]:
    for opening in figures["cap_openings"]:
        oil, gauge = _shown(opening["hottest_oil"], "K", units), _gauge(opening["gauge_pressure"], units)
        if opening["hottest_oil"] > HOT_TO_OPEN:
            yield f"the cap is taken off with oil at {oil} and {gauge}: that burns, and the pressure is spent"
    if figures["cap_off_at_end"]:
        yield "the cap is off at the end of the race"
    if figures["feed_line_starves"]:
        yield "the feed line cannot bring the flow: the pressure at the pump comes out below zero absolute"
    for part, name in (("shaft seal", "seal"), ("tank", "tank")):
        margin = figures[f"lowest_{name}_margin"]
        if margin < 0.0:
            yield f"the {part} is {_shown(-margin, 'Pa', units)} over its rating"
    if figures["left_oil_range"]:
        yield "oil went over 200 degC: no oil stands that, and the figures after it mean little"
    if figures["at_vapour_pressure"]:
        yield "the air space held hardly anything but vapour: the oil is too wet for its heat"


def _gauge(value: float, units: System) -> str:
    """Write a gauge pressure; below zero in inches of mercury of vacuum where psi are shown."""
    if units == "us" and value < 0.0:
        return f"{digits(-value / factor('inHg', 'Pa'), 3)} inHg vac"
    return f"{_shown(value, 'Pa', units)} gauge"


def summary_json(data: xr.Dataset) -> str:
    """Write the summary figures of a race as JSON, SI units."""
    return json.dumps(summarise(data), indent=2, allow_nan=False)


def _shown(value: float, si_units: str, system: System) -> str:
    number, unit = shown_value(value, si_units, system)
    return f"{digits(number, 3)} {unit}" if np.isfinite(number) else "unknown"
