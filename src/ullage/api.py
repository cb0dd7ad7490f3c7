"""Simulate a race: compile, march, label."""

from __future__ import annotations

import xarray as xr

from ullage.errors import STATUS_DONE, SimulationError
from ullage.results.dataset import label
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario


def simulate(scenario: Scenario, *, tolerance_factor: float = 1.0) -> xr.Dataset:
    """Simulate a race.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.
    tolerance_factor : float
        Factor on all tolerances, 1e-4 to 10; 1 is the default accuracy of some 0.01 K and 10 Pa.

    Returns
    -------
    xarray.Dataset
        SI variables on `time`, `node` and `event`, with the audit of oil, air and energy in the attributes.

    Raises
    ------
    ValueError
        If the tolerance factor is out of range.
    SimulationError
        If the race cannot be finished; it carries time, remedy and the results up to there.
    """
    if not 1e-4 <= tolerance_factor <= 10.0:
        raise ValueError(f"tolerance_factor is {tolerance_factor}; 1e-4 to 10 is allowed")
    problem = compile_problem(scenario.spec, tolerance_factor)
    trace = trace_race(problem)
    data = label(scenario, problem, trace)
    if trace.status != STATUS_DONE:
        raise SimulationError(trace.status, float(trace.state.time), data)
    return data
