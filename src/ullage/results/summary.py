"""The figures of a race that a crew asks for first, in SI units and by name."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import xarray as xr

from ullage.kernel.state import NODES, State
from ullage.results.variables import CAP_STATES

_FROM_STATE = (
    "lowest_feed_gauge_pressure",
    "lowest_feed_time",
    "lowest_vapour_margin",
    "lowest_air_margin",
    "lowest_rating_margin",
    "lowest_rating_time",
    "lowest_seal_margin",
    "lowest_tank_margin",
    "highest_headspace_gauge_pressure",
    "highest_oil_level",
    "time_turning",
    "time_below_rating",
    "time_below_bubble_point",
    "time_starved",
    "air_vented",
    "oil_lost",
)


def figures(data: xr.Dataset, state: State) -> dict[str, Any]:
    """Return the summary figures of a race.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units, every row of them, with attributes.
    state : record
        The last state of the march, which carries the extremes.

    Returns
    -------
    dict
        SI figures by name; those of the pump inlet are None if the pump never turns.
    """
    found = {name: _known(float(getattr(state, name))) for name in _FROM_STATE}
    openings = data.event_count.where((data.event_name == "cap relief") & (data.event_direction == "open"), 0)
    hottest = int(np.argmax(data.oil_temperature.max("node").values))
    lowest = found["lowest_feed_time"]
    at_lowest = None if lowest is None else data.isel(time=_row(data, lowest))
    return {
        "peak_oil_temperature": {node: float(state.peak_oil_temperature[i]) for i, node in enumerate(NODES)},
        "peak_oil_lap": int(data.lap[hottest]),
        **found,
        "lowest_feed_lap": None if at_lowest is None else int(at_lowest.lap),
        "headspace_gauge_pressure_at_lowest_feed": None
        if at_lowest is None
        else float(at_lowest.headspace_gauge_pressure),
        "relief_openings": int(openings.sum()),
        "shaft_energy": float(state.shaft_work),
        "air_vented_share": float(state.air_vented) / float(data.headspace_air_mass[0]),
        "air_taken_up": 1.0 - math.exp(-float(state.uptake_extent)),
        "left_oil_range": bool((data.event_name == "oil over 200 degC").any()),
        "at_vapour_pressure": bool((data.event_name == "air space at vapour pressure").any()),
        "cap_openings": [_tank_at(data, time) for time in _times_of_opening(data)],
        "cap_off_at_end": bool(data.cap_state[-1] == CAP_STATES.index("off")),
        "stops": [{"name": stop["name"], **_tank_at(data, stop["start"])} for stop in json.loads(data.attrs["stops"])],
        "finish": _tank_at(data, float(data.time[-1])),
        "duration": float(data.time[-1]),
        "distance": float(data.distance[-1]),
        "laps": int(data.lap.max()),
        **{name: _known(float(data.attrs[name])) for name in ("oil_balance", "air_balance", "energy_balance")},
        "status": str(data.attrs["status"]),
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _row(data: xr.Dataset, time: float) -> int:
    """Return the last row not after a time; rows stand 10 ms after an event, so an event finds what was before it."""
    return max(0, int(np.searchsorted(data.time.values, time, side="right")) - 1)


def _tank_at(data: xr.Dataset, time: float) -> dict[str, float]:
    row = data.isel(time=_row(data, time))
    return {
        "time": time,
        "hottest_oil": float(row.oil_temperature.max()),
        "gauge_pressure": float(row.headspace_gauge_pressure),
    }


def _times_of_opening(data: xr.Dataset) -> list[float]:
    off = (data.event_name == "cap") & (data.event_direction == "off")
    return [float(time) for time in data.event_time.values[off.values]]


def summarise(data: xr.Dataset) -> dict[str, Any]:
    """Return the summary figures that the results of a race carry.

    Parameters
    ----------
    data : xarray.Dataset
        Results of `simulate` or `open_results`.

    Returns
    -------
    dict
        SI figures by name; `peak_oil_temperature` by node. Extremes and times are over all steps of the march, also
        those between rows and those that an output interval left out; inlet figures count while the pump turns and
        from 5 s after the start, and are None if it never does. `cap_openings`, `stops` and `finish` give time,
        hottest oil and gauge pressure of the air space just then.
    """
    found: dict[str, Any] = json.loads(data.attrs["summary"])
    return found


def summary_json(data: xr.Dataset) -> str:
    """Write the summary figures of a race as JSON, SI units, with what identifies the race."""
    head = {name: data.attrs[name] for name in ("title", "format_version", "ullage_version", "scenario_hash")}
    return json.dumps({**head, **summarise(data)}, indent=2, allow_nan=False)
