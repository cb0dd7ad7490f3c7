"""What sensors of the truck said, on the rows of the results, and how far the model is from it."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.duty.resampling import time_averaged
from ullage.kernel.state import NODES
from ullage.results.variables import MEASURED_VARIABLES, attributes
from ullage.scenario.measured_spec import Measured

Floats = NDArray[np.float64]


class OnRows(NamedTuple):
    """Measured variables by name, and which rows hold a reading that stands alone: no thinning may take those away."""

    variables: dict[str, tuple[Any, ...]]
    readings: NDArray[np.bool_]


class Misfit(NamedTuple):
    """Simulated less measured over the rows that have both, in the unit of the variable; None if there are none."""

    rows: int
    mean: float | None = None
    root_mean_square: float | None = None
    largest: float | None = None
    largest_time: float | None = None
    largest_lap: int | None = None


def measured_on_rows(measured: Measured | None, time: Floats, ambient_pressure: Floats) -> OnRows:
    """Lay what sensors said on the rows of the results.

    Parameters
    ----------
    measured : Measured or None
        The log; None for a race without one.
    time : array
        Race time of the rows, increasing [s].
    ambient_pressure : array
        Simulated ambient pressure of the rows [Pa], which turns absolute pressures to gauge and back.

    Returns
    -------
    OnRows
        Not a number where nothing was measured.
    """
    found: dict[str, tuple[Any, ...]] = {}
    readings = np.zeros(len(time), dtype=bool)
    if measured is None:
        return OnRows(found, readings)
    oil = np.full((len(NODES), len(time)), np.nan)
    for name, values in measured.log.channels.items():
        known = np.isfinite(values)
        log_time = measured.starts_at + measured.log.time[known]
        on_rows, alone = _on_rows(log_time, values[known], time, measured.longest_gap)
        readings |= alone
        node = name.removesuffix("_temperature")
        if node in NODES:
            oil[NODES.index(node)] = on_rows
        else:
            told = attributes(MEASURED_VARIABLES[f"measured_{name}"])
            found[f"measured_{name}"] = "time", on_rows + measured.over_ambient(name) * ambient_pressure, told
    sensors = [node for node in NODES if f"{node}_temperature" in measured.log.channels]
    if sensors:
        told = attributes(MEASURED_VARIABLES["measured_oil_temperature"])
        found["measured_oil_temperature"] = ("node", "time"), oil, {**told, "sensors": " ".join(sensors)}
    return OnRows({name: found[name] for name in MEASURED_VARIABLES if name in found}, readings)


def _on_rows(log_time: Floats, values: Floats, rows: Floats, gap: float) -> tuple[Floats, NDArray[np.bool_]]:
    """Return values on rows, and which of them are readings with a gap before and after."""
    wide = np.diff(log_time) > gap
    alone = np.ones(len(log_time), dtype=bool)
    alone[1:] &= wide
    alone[:-1] &= wide
    found = _nearest(log_time[alone], values[alone], rows)
    readings = np.isfinite(found)
    finer = min(len(rows), len(log_time)) > 1 and 2.0 * np.median(np.diff(log_time)) <= np.median(np.diff(rows))
    cuts = np.flatnonzero(wide) + 1
    for begin, end in zip([0, *cuts], [*cuts, len(log_time)], strict=True):
        if end - begin > 1:
            first, last = np.searchsorted(rows, log_time[begin]), np.searchsorted(rows, log_time[end - 1], side="right")
            laid = time_averaged if finer and last - first > 1 else _linear
            found[first:last] = laid(log_time[begin:end], values[begin:end], rows[first:last])
    return found, readings


def _linear(log_time: Floats, values: Floats, rows: Floats) -> Floats:
    return np.interp(rows, log_time, values)


def _nearest(log_time: Floats, values: Floats, rows: Floats) -> Floats:
    """Return each reading of the race on the row nearest to it; those that share a row as their mean."""
    within = (log_time >= rows[0]) & (log_time <= rows[-1])
    row = np.searchsorted(0.5 * (rows[1:] + rows[:-1]), log_time[within])
    count = np.bincount(row, minlength=len(rows))
    total = np.bincount(row, weights=values[within], minlength=len(rows))
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def misfits(data: xr.Dataset) -> dict[str, Any]:
    """Return how far a race is from what was measured in it.

    Parameters
    ----------
    data : xarray.Dataset
        Results in SI units, every row of them.

    Returns
    -------
    dict
        Fields of `Misfit` by variable, those of the oil by node; empty if nothing was measured.
    """
    found: dict[str, Any] = {}
    for measured in MEASURED_VARIABLES:
        if measured not in data:
            continue
        name = measured.removeprefix("measured_")
        off = data[name] - data[measured]
        if "node" in off.dims:
            sensors = data[measured].attrs["sensors"].split()
            found[name] = {node: _misfit(off.sel(node=node).values, data)._asdict() for node in sensors}
        else:
            found[name] = _misfit(off.values, data)._asdict()
    return found


def _misfit(off: Floats, data: xr.Dataset) -> Misfit:
    known = off[np.isfinite(off)]
    if not len(known):
        return Misfit(0)
    worst = int(np.nanargmax(np.abs(off)))
    root_mean_square = math.sqrt(float(np.mean(known**2)))
    time, lap = float(data.time[worst]), int(data.lap[worst])
    return Misfit(len(known), float(np.mean(known)), root_mean_square, float(off[worst]), time, lap)
