"""The figures of a pit study as JSON."""

from __future__ import annotations

import json
import math
from typing import Any, NamedTuple

import xarray as xr


class PitStudy(NamedTuple):
    """What each choice at a stop makes of the race, and what gauges read on a healthy truck and with faults."""

    choices: xr.Dataset
    gauges: xr.Dataset
    symptoms: xr.Dataset


def pit_json(study: PitStudy) -> str:
    """Write the figures of a pit study as JSON.

    Parameters
    ----------
    study : PitStudy
        The study.

    Returns
    -------
    str
        SI figures: attributes of the comparison, figures by choice (by model of the air too where they hang on it),
        the gauge table and the symptom table; null where there is no number.
    """
    choices = study.choices
    figures = choices.drop_dims("time_since_stop")
    by_choice = {str(label): _by_name(figures.sel(choice=label)) for label in figures.choice.values}
    found = {
        **_attributes(choices),
        **_by_name(figures.drop_dims("choice")),
        "choices": by_choice,
        "gauges": _table(study.gauges, "condition"),
        "symptoms": _table(study.symptoms, "fault"),
    }
    return json.dumps(found, indent=2, allow_nan=False)


def _attributes(data: xr.Dataset) -> dict[str, Any]:
    """Return the attributes of a Dataset; those that are JSON are taken apart."""
    return {
        str(name): json.loads(value) if name in ("left_out", "changes", "stops") else _plain(value)
        for name, value in data.attrs.items()
        if name != "scenario_toml"
    }


def _table(data: xr.Dataset, dimension: str) -> dict[str, Any]:
    rows = {str(label): _by_name(data.sel({dimension: label})) for label in data[dimension].values}
    return {**({"engine_speed": data.engine_speed.values.tolist()} if "engine_speed" in data.dims else {}), **rows}


def _by_name(data: xr.Dataset) -> dict[str, Any]:
    return {str(name): _values(variable) for name, variable in data.data_vars.items()}


def _values(variable: xr.DataArray) -> Any:
    """Return values as numbers, as lists, or by the label of a coordinate of text."""
    if variable.ndim == 0:
        return _plain(variable.item())
    dimension = str(variable.dims[0])
    parts = [_values(variable.isel({dimension: place})) for place in range(variable.sizes[dimension])]
    labels = variable[dimension].values
    return dict(zip(labels.tolist(), parts, strict=True)) if labels.dtype.kind == "U" else parts


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return value
    number = value.item() if hasattr(value, "item") else value
    return None if isinstance(number, float) and not math.isfinite(number) else number
