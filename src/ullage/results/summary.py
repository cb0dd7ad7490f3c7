"""The figures of a race that a crew asks for first, in SI units and by name."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.kernel.state import NODES, State
from ullage.results.answer import DONE
from ullage.results.measured import misfits
from ullage.results.openings import cap_openings, faults, row_before, tank_at
from ullage.results.variables import CAP_STATES

STATE_FIGURES = (
    "peak_oil_temperature",
    "peak_oil_time",
    "lowest_feed_gauge_pressure",
    "lowest_feed_time",
    "headspace_gauge_pressure_at_lowest_feed",
    "lowest_vapour_margin",
    "lowest_air_margin",
    "lowest_rating_margin",
    "lowest_rating_time",
    "lowest_seal_margin",
    "lowest_tank_margin",
    "highest_headspace_gauge_pressure",
    "highest_oil_level",
    "lowest_oil_level",
    "highest_vapour_pressure",
    "time_turning",
    "time_below_rating",
    "time_below_bubble_point",
    "time_starved",
    "time_chambers_unfilled",
    "time_outlet_uncovered",
    "first_uncovered_time",
    "highest_inlet_void_fraction",
    "highest_pump_void_fraction",
    "highest_pump_void_time",
    "highest_steering_flow",
    "lowest_steering_flow_with_gas",
    "cavitation_exposure",
    "lowest_sight_glass_transmittance",
    "relief_openings",
    "air_vented",
    "oil_lost",
    "oil_drawn_off",
)
LITTLE_DRIVE = 2e3  # [Pa] over the pressure of the oil's air at the start: nothing to be taken up; own choice
# what depends on how fast air goes in and out of the oil
BY_AIR_MODEL = (
    "cavitation_exposure",
    "highest_inlet_void_fraction",
    "highest_pump_void_fraction",
    "lowest_sight_glass_transmittance",
    "time_starved",
    "time_chambers_unfilled",
    "time_below_rating",
    "time_below_bubble_point",
    "lowest_feed_gauge_pressure",
    "lowest_rating_margin",
    "highest_headspace_gauge_pressure",
)


def state_figures(states: NDArray[np.void]) -> dict[str, NDArray[Any]]:
    """Return the summary figures that last states of marches carry.

    Parameters
    ----------
    states : record array
        The last states of races, an array of any shape.

    Returns
    -------
    dict
        SI figures by name, arrays of that shape; `peak_oil_temperature` over its nodes as well. Not a number where a
        race has none: those of the pump inlet if the pump never turned.
    """
    found = {name: _finite(states[name]) for name in STATE_FIGURES}
    found["shaft_energy"] = _finite(states["shaft_work"])
    never_turned = np.isnan(found["lowest_feed_time"])
    for name in ("highest_inlet_void_fraction", "highest_pump_void_fraction"):
        found[name] = np.where(never_turned, np.nan, found[name])
    return found


def _finite(values: NDArray[Any]) -> NDArray[Any]:
    return np.asarray(values) if values.dtype.kind == "i" else np.where(np.isfinite(values), values, np.nan)


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
    found = state_figures(np.array(state))
    peaks = found.pop("peak_oil_temperature")
    known = {name: _known(value.item()) for name, value in found.items()}
    return {
        "peak_oil_temperature": dict(zip(NODES, map(_known, peaks.tolist()), strict=True)),
        **known,
        "peak_oil_lap": _lap_at(data, known["peak_oil_time"]),
        "lowest_feed_lap": _lap_at(data, known["lowest_feed_time"]),
        "highest_pump_void_lap": _lap_at(data, known["highest_pump_void_time"]),
        "first_uncovered_lap": _lap_at(data, known["first_uncovered_time"]),
        **_air(data),
        "left_oil_range": bool((data.event_name == "oil over 200 degC").any()),
        "at_vapour_pressure": bool((data.event_name == "air space at vapour pressure").any()),
        "cap_openings": cap_openings(data),
        "faults": faults(data),
        "misfit": misfits(data),
        "cap_off_at_end": bool(data.cap_state[-1] == CAP_STATES.index("off")),
        "stops": [{"name": stop["name"], **tank_at(data, stop["start"])} for stop in json.loads(data.attrs["stops"])],
        "finish": tank_at(data, float(data.time[-1])),
        "duration": float(data.time[-1]),
        "distance": float(data.distance[-1]),
        "laps": int(data.lap.max()),
        **{name: _known(float(data.attrs[name])) for name in ("oil_balance", "air_balance", "energy_balance")},
        "status": str(data.attrs["status"]),
    }


def _lap_at(data: xr.Dataset, time: float | None) -> int | None:
    return None if time is None else int(data.lap[row_before(data, time)])


def _air(data: xr.Dataset) -> dict[str, float | None]:
    """Return where the air has gone: through the cap, into or out of the oil, out of the hoses."""
    start, end = data.isel(time=0), data.isel(time=-1)
    held = sum(float(start[f"{place}_air_mass"]) for place in ("headspace", "dissolved", "free", "trapped"))
    dissolved = float(start.dissolved_air_mass)
    begun, gone = float(start.dissolved_air_pressure), float(end.dissolved_air_pressure)
    over = float(end.headspace_pressure) - float(end.vapour_pressure)
    drive = over - begun
    return {
        "air_missing_share": (float(end.air_vented) - float(end.air_admitted)) / held,
        "air_taken_up": min(1.0, max(0.0, (gone - begun) / drive)) if drive > LITTLE_DRIVE else 1.0,
        "air_excess_pressure": gone - over,
        "air_dissolved_share": float(end.dissolved_air_mass) / dissolved if dissolved > 0.0 else None,
        "trapped_air_freed": float(start.trapped_air_mass) - float(end.trapped_air_mass),
        "trapped_air_left": float(end.trapped_air_mass),
    }


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


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
        those between rows and those that an output interval left out; inlet figures count while the pump turns and from
        5 s after the start, and are None if it never does. `cap_openings`, `stops` and `finish` give time, hottest oil
        and gauge pressure of the air space just then, by the rows. Of a bracket, the figures of each model of the air.
    """
    found: dict[str, Any] = json.loads(data.attrs["summary"])
    return found


def side_by_side(bracket: dict[str, dict[str, Any]]) -> dict[str, dict[str, float | None]]:
    """Return what the models of the air say of gas and pressures.

    Parameters
    ----------
    bracket : dict
        Summary figures by model; a race that a model could not finish is left out.

    Returns
    -------
    dict
        SI figure by name and model; `finish_gauge_pressure` is that of `finish`.
    """
    done = {model: figures for model, figures in bracket.items() if figures["status"] == "done"}
    found = {name: {model: figures[name] for model, figures in done.items()} for name in BY_AIR_MODEL}
    found["finish_gauge_pressure"] = {model: figures["finish"]["gauge_pressure"] for model, figures in done.items()}
    return found


def summary_json(data: xr.Dataset, bracket: dict[str, dict[str, Any]]) -> str:
    """Write the summary figures of a race as JSON.

    Parameters
    ----------
    data : xarray.Dataset
        Results of the race as asked.
    bracket : dict
        Summary figures by model of the air.

    Returns
    -------
    str
        SI figures, what identifies the race, and `air_models`: figure by name and model, as `summary_schema` says.
    """
    head = {name: data.attrs[name] for name in ("title", "format_version", "ullage_version", "scenario_hash")}
    found = {**head, "outcome": DONE, **summarise(data), "air_models": side_by_side(bracket)}
    return json.dumps(found, indent=2, allow_nan=False)
