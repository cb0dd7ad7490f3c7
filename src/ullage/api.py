"""Simulate a race: compile, march, label. Once as asked, or with each model of the air."""

from __future__ import annotations

import dataclasses
from typing import Any

import xarray as xr

from ullage.errors import STATUS_DONE, SimulationError
from ullage.results.bracket import bracket
from ullage.results.dataset import label
from ullage.results.summary import summarise
from ullage.results.trace import Trace, trace_race
from ullage.results.variables import AIR_MODELS
from ullage.scenario.compile import Problem, allowed_tolerance, compile_problem
from ullage.scenario.load import Scenario, a_scenario
from ullage.scenario.parameters import make_parameters


def simulate(scenario: Scenario, *, tolerance_factor: float = 1.0) -> xr.Dataset:
    """Simulate a race.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.
    tolerance_factor : float
        Factor on the tolerances, 1e-4 to 10; 1 is the default accuracy of some 0.01 K and 10 Pa. Below 1 it acts on
        that of the oil by its power of 1.5.

    Returns
    -------
    xarray.Dataset
        SI variables on `time`, `node` and `event`, with the audit of oil, air and energy in the attributes.

    Raises
    ------
    ValueError
        If the tolerance factor is out of range.
    TypeError
        If `scenario` is not one.
    SimulationError
        If the race cannot be finished; it carries time, remedy and the results up to there.
    """
    return _finished(scenario, compile_problem(a_scenario(scenario).spec, allowed_tolerance(tolerance_factor)))


def bracket_air(scenario: Scenario) -> xr.Dataset:
    """Simulate a race under three assumptions on the air: it never moves, moves in its time, or moves at once.

    How fast air goes in and out of the oil is known to a factor of a few only, and everything about gas hangs on it.
    The three are assumptions, not limits: their spread, lowest to highest of the three, shows how much an answer hangs
    on it.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario. The model that it names (`air.model`) is overridden, all else is kept.

    Returns
    -------
    xarray.Dataset
        SI variables. Over `air_model`: every trace of `simulate`, and the numeric summary figures that are not also
        traces (`peak_oil_temperature` by node; not a number where a pump that never turns has none). Events are left
        out. The attribute `summary` holds the summary figures of each model as JSON.

        - `frozen`: no air goes in or out of solution; the only gas is what the return stream and slosh draw in.
        - `kinetic`: air goes in and out at the times that the scenario gives.
        - `equilibrium`: air goes in and out at once, as fast as the pressure asks for it.

    Raises
    ------
    SimulationError
        If one of the three cannot be finished.

    Notes
    -----
    Validity: that of `simulate`. The race with `kinetic` can lie outside the other two: bubbles that a return draws in
    dissolve under the pressure of the pump and come out only slowly in the tank, so that its oil holds more air than
    either of the others allows. The bracket covers the speed of the exchange only; how much air the oil can hold, how
    much the return stream draws in and how big the bubbles are stay as given.
    """
    problem = compile_problem(scenario.spec)
    runs = {model: _finished(*_with_air(scenario, problem, model)) for model in AIR_MODELS}
    return bracket(runs, runs[scenario.spec.air.model].attrs)


def simulate_with_bracket(scenario: Scenario) -> tuple[xr.Dataset, dict[str, dict[str, Any]]]:
    """Simulate a race, and find its summary figures with each model of the air.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.

    Returns
    -------
    tuple
        Results as asked, and summary figures by model; those of a model that could not finish say so in `status`.

    Raises
    ------
    SimulationError
        If the race as asked cannot be finished.
    """
    problem = compile_problem(scenario.spec)
    asked = _finished(scenario, problem)
    runs: dict[str, xr.Dataset] = {scenario.spec.air.model: asked}
    for model in AIR_MODELS:
        if model not in runs:
            runs[model] = _race(*_with_air(scenario, problem, model))[0]
    return asked, {model: summarise(runs[model]) for model in AIR_MODELS}


def _with_air(scenario: Scenario, problem: Problem, model: str) -> tuple[Scenario, Problem]:
    """Return scenario and problem with another model of the air; the table of channels is shared."""
    if model == scenario.spec.air.model:
        return scenario, problem
    changed = scenario.replace({"air.model": model})
    return changed, dataclasses.replace(problem, parameters=make_parameters(changed.spec, 1.0))


def _race(scenario: Scenario, problem: Problem) -> tuple[xr.Dataset, Trace]:
    trace = trace_race(problem)
    return label(scenario, problem, trace), trace


def _finished(scenario: Scenario, problem: Problem) -> xr.Dataset:
    data, trace = _race(scenario, problem)
    if trace.status != STATUS_DONE:
        raise SimulationError(trace.status, float(trace.state.time), data)
    return data
