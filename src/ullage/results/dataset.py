"""Label a trace: the Dataset of one race."""

from __future__ import annotations

import datetime
import json
from importlib.metadata import version
from typing import Any

import numpy as np
import xarray as xr

from ullage.errors import failure_sentence
from ullage.kernel.modes import SWITCHES
from ullage.kernel.state import NODES
from ullage.results.balance import audit
from ullage.results.measured import measured_on_rows
from ullage.results.summary import figures
from ullage.results.trace import Trace
from ullage.results.variables import (
    CAP_STATES,
    COORDINATES,
    EVENT_VARIABLES,
    FORMAT_VERSION,
    TEXT_WIDTH,
    VARIABLES,
    attributes,
)
from ullage.scenario.compile import Problem
from ullage.scenario.load import Scenario
from ullage.scenario.race import duty_notes


def label(scenario: Scenario, problem: Problem, trace: Trace) -> xr.Dataset:
    """Make the Dataset of a race.

    Parameters
    ----------
    scenario : Scenario
        What was asked.
    problem : Problem
        What was marched.
    trace : Trace
        What came out.

    Returns
    -------
    xarray.Dataset
        SI variables with units and descriptions; dimensions time, node, event. What sensors of the truck said stands
        beside as `measured_...`.
    """
    rows, table = trace.rows, problem.table
    count = len(rows)
    data = {name: _variable(rows[name], name) for name in VARIABLES}
    coordinates = {
        "time": ("time", rows.time, attributes(COORDINATES["time"])),
        "lap": ("time", table.lap[:count], attributes(COORDINATES["lap"])),
        "distance": ("time", table.distance[:count], attributes(COORDINATES["distance"])),
        "elevation": ("time", table.elevation[:count], attributes(COORDINATES["elevation"])),
        "node": ("node", np.array(NODES), {"long_name": "oil node"}),
    }
    sensed = measured_on_rows(scenario.spec.measured, rows.time, rows.ambient_pressure)
    variables = {**data, **sensed.variables, **_events(problem, trace)}
    dataset = xr.Dataset(variables, coordinates, _global(scenario, problem, trace))
    dataset["cap_state"].attrs.update(flag_values=np.arange(len(CAP_STATES)), flag_meanings=" ".join(CAP_STATES))
    dataset.attrs["summary"] = json.dumps(figures(dataset, trace.state), allow_nan=False)
    kept = table.kept[:count] | sensed.readings
    return dataset if kept.all() else dataset.isel(time=np.flatnonzero(kept))


def _variable(values: Any, name: str) -> tuple[Any, ...]:
    if values.ndim == 2:
        return ("node", "time"), np.ascontiguousarray(values.T), attributes(VARIABLES[name])
    return "time", np.ascontiguousarray(values), attributes(VARIABLES[name])


def _events(problem: Problem, trace: Trace) -> dict[str, tuple[Any, ...]]:
    """Merge timed events and recorded switches by time; timed events come first at one time."""
    found = [(event.time, event.name, event.direction, 1) for event in problem.events if event.time <= trace.state.time]
    for minute, switch in np.argwhere(trace.log[:, :, 0] > 0.0):
        counted, first = trace.log[minute, switch]
        found.append((float(first), *SWITCHES[switch], int(counted)))
    found.sort(key=lambda event: event[0])
    columns = {
        "event_time": np.array([event[0] for event in found], dtype=np.float64),
        "event_name": np.array([event[1] for event in found], dtype=TEXT_WIDTH["event_name"]),
        "event_direction": np.array([event[2] for event in found], dtype=TEXT_WIDTH["event_direction"]),
        "event_count": np.array([event[3] for event in found], dtype=np.int64),
    }
    return {name: ("event", values, attributes(EVENT_VARIABLES[name])) for name, values in columns.items()}


def _global(scenario: Scenario, problem: Problem, trace: Trace) -> dict[str, Any]:
    now = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    installed = version("ullage")
    parameters = problem.parameters
    solver = {
        "temperature_tolerance": float(parameters.temperature_tolerance),
        "pressure_tolerance": float(parameters.pressure_tolerance),
        "mass_tolerance": float(parameters.mass_tolerance),
        "steps": int(trace.state.steps),
        "rejected": int(trace.state.rejected),
        "evaluations": int(trace.state.evaluations),
    }
    balances = audit(parameters, trace.rows)
    stops = [
        {"name": stop.name, "start": stop.start, "end": stop.end}
        for stop in problem.stops
        if stop.start < trace.state.time
    ]
    spec = scenario.spec
    cap = {"cap_relief_pressure": spec.cap.relief_pressure} if spec.cap.kind == "sealed" else {}
    return {
        "title": spec.title,
        "history": f"{now} simulated by ullage {installed}",
        "ullage_version": installed,
        "format_version": FORMAT_VERSION,
        "scenario_toml": scenario.to_toml(),
        "scenario_hash": scenario.hash,
        "air_model": spec.air.model,
        "solver": json.dumps(solver),
        "stops": json.dumps(stops),
        "duty_notes": json.dumps(duty_notes(spec)),
        "measured_notes": json.dumps(spec.measured.log.notes if spec.measured else ()),
        **cap,
        "return_port_level": spec.return_line.port_level,
        "tank_rating": spec.reservoir.rating.pascal,
        "seal_rating": spec.pump.seal_rating.pascal,
        "oil_balance": balances.oil,
        "air_balance": balances.air,
        "energy_balance": balances.energy,
        "status": failure_sentence(trace.status)[0],
    }
