"""What happened to tank and cap: openings and what came back after them, faults, and what the tank held then."""

from __future__ import annotations

import json

import numpy as np
import xarray as xr

from ullage.duty.events import FAULTS, RECHARGE
from ullage.physics.air import GAS_CONSTANT, shared_pressure

SHORT_SOAK = 600.0


def row_before(data: xr.Dataset, time: float) -> int:
    """Return the last row not after a time; rows stand 10 ms after an event, so an event finds what was before it."""
    return max(0, int(np.searchsorted(data.time.values, time, side="right")) - 1)


def tank_at(data: xr.Dataset, time: float) -> dict[str, float]:
    """Return time [s], hottest oil [K] and gauge pressure [Pa] of the air space just before a time."""
    row = data.isel(time=row_before(data, time))
    return {
        "time": time,
        "hottest_oil": float(row.oil_temperature.max()),
        "gauge_pressure": float(row.headspace_gauge_pressure),
    }


def cap_openings(data: xr.Dataset) -> list[dict[str, float | None]]:
    """Return what each opening of the cap found and what came back after it.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units, every row of them.

    Returns
    -------
    list of dict
        As `SUMMARY_FIGURES` describes them, in the order of the race.
    """
    opened, refitted = _times(data, "cap", "off"), _times(data, "cap", "on")
    ends = [*opened, float(data.time[-1])][1:]
    return [
        {**tank_at(data, start), **_after(data, next((time for time in refitted if start <= time < end), None), end)}
        for start, end in zip(opened, ends, strict=True)
    ]


def _times(data: xr.Dataset, name: str, direction: str) -> list[float]:
    chosen = (data.event_name.values == name) & (data.event_direction.values == direction)
    return [float(time) for time in data.event_time.values[chosen]]


def _after(data: xr.Dataset, refitted: float | None, end: float) -> dict[str, float | None]:
    names = ("refitted", "regained_by", "regained_gauge_pressure", "gauge_pressure_in_oil", "gauge_pressure_from_oil")
    if refitted is None:
        return dict.fromkeys(names)
    stops = [stop["end"] for stop in json.loads(data.attrs["stops"]) if stop["start"] <= refitted < stop["end"]]
    recharges = [time for time in _times(data, RECHARGE, "start") if time >= refitted]
    until = min(end, refitted + SHORT_SOAK, *stops, *recharges)
    since = slice(row_before(data, refitted) + 1, max(row_before(data, until), row_before(data, refitted) + 1) + 1)
    regained = float(data.headspace_gauge_pressure[since].max())
    return dict(zip(names, (refitted, until, regained, *_from_oil(data, row_before(data, refitted))), strict=True))


def _from_oil(data: xr.Dataset, place: int) -> tuple[float | None, float | None]:
    """Return the gauge pressure of the oil's air, and that of the tank once air space and oil have shared it [Pa].

    A tank that is quickly opened and then rests: temperature and volumes stay, heat adds nothing, bubbles end in the
    air space. None if the oil holds no air.
    """
    row = data.isel(time=place)
    vapour, ambient = float(row.vapour_pressure), float(row.ambient_pressure)
    dissolved, air_pressure = float(row.dissolved_air_pressure), float(row.headspace_pressure) - vapour
    if dissolved == 0.0:
        return None, None
    per_mass = GAS_CONSTANT * float(row.oil_temperature.sel(node="reservoir"))
    held = float(row.dissolved_air_mass) * per_mass / dissolved
    gas = float(row.headspace_volume) + float(row.free_air_mass) * per_mass / air_pressure
    shared = shared_pressure(air_pressure, gas, dissolved, held, 1.0)
    return dissolved + vapour - ambient, shared + vapour - ambient


def faults(data: xr.Dataset) -> list[dict[str, str | float | None]]:
    """Return every fault of a race with its beginning and its end.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units.

    Returns
    -------
    list of dict
        Name, begin [s], end [s] (None if nothing ended it) and lap in which it began, in the order of the race.
    """
    found: list[dict[str, str | float | None]] = []
    for name, direction, time in zip(
        data.event_name.values, data.event_direction.values, data.event_time.values, strict=True
    ):
        if name not in FAULTS:
            continue
        if direction == "off":
            next(fault for fault in reversed(found) if fault["name"] == name)["end"] = float(time)
            continue
        lap = int(data.lap[row_before(data, time)])
        found.append({"name": str(name), "begin": float(time), "end": None, "lap": lap})
    return found
