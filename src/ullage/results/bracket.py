"""One race under the three models of the air, as one Dataset."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import xarray as xr

from ullage.results.summary import summarise
from ullage.results.variables import AIR_MODELS, SUMMARY_FIGURES, attributes

# what belongs to one of the three runs only
_OF_ONE_RUN = ("air_model", "solver", "oil_balance", "air_balance", "energy_balance")


def bracket(runs: dict[str, xr.Dataset], attrs: dict[str, Any]) -> xr.Dataset:
    """Put the races of a bracket side by side.

    Parameters
    ----------
    runs : dict
        Results by model of the air, each on the same times.
    attrs : dict
        Attributes of the run that was asked for.

    Returns
    -------
    xarray.Dataset
        Traces over `air_model`, and those numeric summary figures over it that are no trace; without events.
    """
    figures = {model: summarise(runs[model]) for model in AIR_MODELS}
    models = xr.DataArray(list(AIR_MODELS), dims="air_model", name="air_model", attrs={"long_name": "model of the air"})
    traces = xr.concat(
        [runs[model].drop_dims("event") for model in AIR_MODELS],
        dim=models,
        data_vars="all",
        coords="minimal",
        compat="override",
        join="exact",
        combine_attrs="override",
    )
    numbers = {
        name: _figure(name, [figures[model][name] for model in AIR_MODELS])
        for name in SUMMARY_FIGURES
        if name not in traces.variables and SUMMARY_FIGURES[name].units
    }
    found = traces.assign(numbers)
    found.attrs = {name: value for name, value in attrs.items() if name not in _OF_ONE_RUN}
    found.attrs["summary"] = json.dumps(figures, allow_nan=False)
    return found


def _figure(name: str, values: list[Any]) -> tuple[Any, ...]:
    """Return a summary figure as a variable; unknown is not a number."""
    told = attributes(SUMMARY_FIGURES[name])
    if isinstance(values[0], dict):
        return ("air_model", "node"), np.array([list(of_one.values()) for of_one in values]), told
    return "air_model", np.array([np.nan if value is None else value for value in values]), told
