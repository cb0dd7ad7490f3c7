"""The Dataset over the choices at a stop."""

from __future__ import annotations

import dataclasses
import datetime
import json
import math
from importlib.metadata import version
from typing import Any, NamedTuple

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.advise.cooling import Cooling
from ullage.advise.offers import Situation, overnight_temperature, recharge_pressure, top_up_volume
from ullage.duty.course import NANOSECONDS
from ullage.kernel.outputs import Rows
from ullage.kernel.state import NODES
from ullage.results.choice_variables import (
    BY_AIR_MODEL,
    CHOICE_COORDINATES,
    CHOICE_FIGURES,
    CHOICE_TRACES,
    EXPOSURE,
    EXPOSURE_SINCE_STOP,
    STOP_FIGURES,
)
from ullage.results.variables import AIR_MODELS, CAP_STATES, FORMAT_VERSION, attributes
from ullage.scenario.circuit import level_at
from ullage.scenario.race import race_pieces

MOST_ROWS = 20_000  # of a choice; a longer race is thinned
WORTH_SHARING = 500.0  # gauge pressure below which no share of it is told [Pa]
_SAME_TIME = 5e-9  # the clock of a table has whole nanoseconds [s]

_DAYS = np.arange(263.15, 319.0, 5.0)  # [K]


class ChoiceRun(NamedTuple):
    """A choice that was run: figures by model of the air, and rows since the stop with the model that was asked for."""

    label: str
    changes: dict[str, Any]
    figures: dict[str, dict[str, Any]]
    rows: Rows


def choice_dataset(
    x: Situation, cooling: dict[str, Cooling], runs: list[ChoiceRun], left_out: dict[str, str]
) -> xr.Dataset:
    """Make the Dataset over the choices.

    Parameters
    ----------
    x : Situation
        The stop.
    cooling : dict
        How the oil cools, by way.
    runs : list of ChoiceRun
        What was run, in its order.
    left_out : dict
        Reason by label of what was not.

    Returns
    -------
    xarray.Dataset
        As `compare_cap_opening` describes it.
    """
    asked = x.asked.spec.air.model
    _compare(runs)
    clock = _clock(x, runs)
    variables: dict[str, Any] = {name: _trace(name, clock, runs) for name in CHOICE_TRACES}
    for name, described in CHOICE_FIGURES.items():
        values = np.array([run.figures[asked][name] for run in runs])
        variables[name] = (("choice", "node")[: values.ndim], values, attributes(described))
    for name in BY_AIR_MODEL:
        values = np.array([[run.figures[model][name] for run in runs] for model in AIR_MODELS])
        variables[f"{name}_by_air_model"] = (("air_model", "choice"), values, attributes(CHOICE_FIGURES[name]))
    coordinates = {
        "choice": ("choice", np.array([run.label for run in runs]), {"long_name": "what the crew does"}),
        "time_since_stop": (
            "time_since_stop",
            clock - x.stop.start,
            attributes(CHOICE_COORDINATES["time_since_stop"]),
        ),
        "node": ("node", np.array(NODES), {"long_name": "oil node"}),
        "air_model": ("air_model", np.array(AIR_MODELS), {"long_name": "model of the air"}),
        "way": ("way", np.array(list(cooling)), {"long_name": "how the truck stands while its oil cools"}),
        "day_temperature": ("day_temperature", _DAYS, attributes(CHOICE_COORDINATES["day_temperature"])),
    }
    found = xr.Dataset({**variables, **_stop(x, cooling)}, coordinates, _global(x, runs, left_out))
    found["cap_state"].attrs.update(flag_values=np.arange(len(CAP_STATES)), flag_meanings=" ".join(CAP_STATES))
    return found


def _compare(runs: list[ChoiceRun]) -> None:
    """Add what is told beside the first choice, the one with the cap left shut: delay, and what pressure returns."""
    for model, shut in runs[0].figures.items():
        end, held = shut["finish_time"], shut["stint_gauge_pressure"]
        for run in runs:
            found = run.figures[model]
            found["finish_delay"] = found["finish_time"] - end
            found["returned_share"] = found["stint_gauge_pressure"] / held if held > WORTH_SHARING else math.nan


def _clock(x: Situation, runs: list[ChoiceRun]) -> NDArray[np.float64]:
    """Return the race times that all choices have rows at [s]: the beginning of the stop, and samples."""
    spec = x.asked.spec
    step = spec.output.interval or spec.duty.sample_interval
    end = max(float(run.rows.time[-1]) for run in runs)
    step *= max(1, math.ceil((end - x.stop.start) / step / MOST_ROWS))
    first = math.floor(x.stop.start / step + 1e-9) + 1
    samples = np.round(np.arange(first, math.floor(end / step + 1e-9) + 1) * step, NANOSECONDS)
    return np.append(x.stop.start, samples)


def _trace(name: str, clock: NDArray[np.float64], runs: list[ChoiceRun]) -> tuple[Any, ...]:
    field = EXPOSURE if name == EXPOSURE_SINCE_STOP else name
    shape = runs[0].rows[field].shape[1:]
    values = np.full((len(runs), len(clock), *shape), np.nan)
    for place, run in enumerate(runs):
        row = np.minimum(np.searchsorted(run.rows.time, clock - _SAME_TIME), len(run.rows) - 1)
        there = np.abs(run.rows.time[row] - clock) <= _SAME_TIME
        values[place, there] = run.rows[field][row[there]]
    dims = ("choice", "time_since_stop") if not shape else ("choice", "node", "time_since_stop")
    return dims, values if not shape else values.transpose(0, 2, 1), attributes(CHOICE_TRACES[name])


def _stop(x: Situation, cooling: dict[str, Cooling]) -> dict[str, Any]:
    """Return what does not hang on the choice."""
    row = x.before.rows[-1]
    tank = x.asked.spec.reservoir
    marks = np.array([level_at(x.asked.spec, float(day)) for day in _DAYS])
    values: dict[str, tuple[tuple[str, ...], Any]] = {
        "gauge_pressure_at_stop": ((), x.gauge_pressure),
        "oil_temperature_at_stop": (("node",), np.array(row.oil_temperature)),
        "oil_level_at_stop": ((), float(row.oil_level)),
        "cooling_time": (("way",), np.array([way.time for way in cooling.values()])),
        "coolest_oil": (("way",), np.array([way.coolest for way in cooling.values()])),
        "settled_time": (("way",), np.array([way.settled for way in cooling.values()])),
        "half_cooled_time": (("way",), np.array([way.half for way in cooling.values()])),
        "mark_by_temperature": (("day_temperature",), marks),
        "mark_height_by_temperature": (("day_temperature",), (marks - tank.fill) * tank.volume / tank.surface_area),
    }
    return {name: (*value, attributes(STOP_FIGURES[name])) for name, value in values.items()}


def _global(x: Situation, runs: list[ChoiceRun], left_out: dict[str, str]) -> dict[str, Any]:
    now = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    installed = version("ullage")
    spec, pit = x.asked.spec, x.pit
    sealed = spec.cap.kind == "sealed"
    return {
        "title": spec.title,
        "history": f"{now} compared by ullage {installed}",
        "ullage_version": installed,
        "format_version": FORMAT_VERSION,
        "scenario_toml": x.asked.to_toml(),
        "scenario_hash": x.asked.hash,
        "air_model": spec.air.model,
        "stop": x.stop.name,
        "stop_time": x.stop.start,
        "stop_planned": x.stop.duration,
        "stops": json.dumps([dataclasses.asdict(stop) for stop in race_pieces(x.shut.spec)[1]]),
        "open_for": pit.open_for,
        "open_below": pit.open_below,
        "longest_wait": pit.longest_wait,
        "top_up_volume": top_up_volume(x),
        **({"recharge_pressure": recharge_pressure(x)} if sealed else {}),
        "overnight": pit.overnight,
        "overnight_temperature": overnight_temperature(spec),
        "cold_mark": spec.reservoir.fill,
        "fill_temperature": spec.reservoir.fill_temperature,
        "fan": int(spec.cooler.fan_air_speed > 0.0),
        **({"cap_relief_pressure": spec.cap.relief_pressure} if sealed else {}),
        "tank_volume": spec.reservoir.volume,
        "tank_rating": spec.reservoir.rating.pascal,
        "seal_rating": spec.pump.seal_rating.pascal,
        "left_out": json.dumps(left_out),
        "changes": json.dumps({run.label: run.changes for run in runs}),
    }
