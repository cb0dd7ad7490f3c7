"""Open the cap in a stop, or leave it shut: what each choice makes of the rest of the race."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from typing import Any

import xarray as xr

from ullage.advise.choice_data import ChoiceRun, choice_dataset
from ullage.advise.choices import PlannedStop, left_shut, planned_stop
from ullage.advise.offers import SHUT, Offer, Situation, offers, overnight_temperature, ways_to_cool
from ullage.advise.overnight import overnight
from ullage.advise.stint import stint_figures
from ullage.advise.stop_asked import settled
from ullage.errors import STATUS_DONE, Fault, ScenarioError, SimulationError, quoted
from ullage.hints import did_you_mean
from ullage.kernel.extremes import clear_extremes
from ullage.results.trace import Trace, trace_on, trace_race, trace_until
from ullage.results.variables import AIR_MODELS
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario
from ullage.scenario.parameters import make_parameters


def compare_cap_opening(
    scenario: Scenario,
    *,
    stop: str | float | None = None,
    open_for: str | float | None = None,
    choices: Iterable[str | Mapping[str, Any]] | None = None,
) -> xr.Dataset:
    """Compare what a crew can do with the pressure cap at a stop, all from the same hot state.

    Parameters
    ----------
    scenario : Scenario
        The race. Its table `[pit]` says what is not given here.
    stop : str, float or None
        Name of a stop, or a race time, as text or in seconds: there a stop of five minutes is put in, unless the truck
        stands there anyway. None is `pit.stop`, else the first stop.
    open_for : str, float or None
        How long the cap is off, as text or in seconds; None is `pit.open_for`.
    choices : iterable or None
        Labels of choices, and choices of the crew's own as mappings like a `[[pit.choice]]` of the scenario file. None
        is all of them. `shut` is always there.

        - `shut`: nobody touches the cap.
        - `refit`: off as the stop begins, on again after `open_for`.
        - `top_up`: the same, and oil is poured in.
        - `recharge`: the same, and then air is let in through a regulator up to what the tank had.
        - `cool_then_open`: wait until the oil is below `pit.open_below`, idling with the fan on, then as `refit`.
        - `cool_then_open_engine_off`: the same with the engine off.
        - `left_off`: off as the stop begins, and never on again.
        - `as_planned`: what the scenario itself does with the cap at that stop, if it does anything.

    Returns
    -------
    xarray.Dataset
        SI variables over `choice`: traces over `time_since_stop`, not a number after its finish; what each choice
        costs, counted from the stop; the same by `air_model` for what hangs on the air. The attribute `left_out` says
        as JSON which choices cannot be had and why; `changes`, what makes each choice of the scenario in
        `scenario_toml`: `simulate` runs the race that `Scenario.replace` makes of them with the same numbers, to the
        last bit.

    Raises
    ------
    ScenarioError
        If there is no such stop or choice, or a value cannot be used.
    SimulationError
        If the race does not get as far as the stop. A choice that cannot be finished says so in `status`.

    Notes
    -----
    Nothing here is a permission to open a cap. Gas at the pump is good to a factor of a few; read choices against each
    other, and against the three models of the air.
    """
    wanted = _listed(choices)
    own = [choice for choice in wanted if isinstance(choice, Mapping)]
    asked, name = settled(scenario, stop, open_for, own)
    at = planned_stop(asked, name)
    shut = asked.replace(left_shut(asked, at))
    before = _up_to_the_stop(shut, at)
    situation = Situation(asked, shut, at, before[asked.spec.air.model])
    cooling = ways_to_cool(situation)
    offered = offers(situation, cooling)
    if choices is not None:
        names = [choice if isinstance(choice, str) else str(choice.get("name")) for choice in wanted]
        offered = _chosen(offered, names)
    runs = [_run(situation, before, offer, offer.scenario.spec) for offer in offered if offer.scenario]
    left_out = {offer.label: offer.reason for offer in offered if offer.scenario is None}
    return choice_dataset(situation, cooling, runs, left_out)


def _listed(choices: Iterable[str | Mapping[str, Any]] | None) -> list[str | Mapping[str, Any]]:
    """Return the choices that are asked for as a list of labels and mappings."""
    found = [] if choices is None else choices
    listed = [] if isinstance(found, str | bytes | Mapping) or not isinstance(found, Iterable) else [*found]
    wrong = [choice for choice in listed if not isinstance(choice, str | Mapping)]
    if wrong or not isinstance(found, Iterable) or isinstance(found, str | bytes | Mapping):
        text = f"a list of labels and of mappings is wanted, got {quoted(wrong[0] if wrong else choices)}"
        raise ScenarioError([Fault("", None, "choices", text)])
    return listed


def _chosen(offered: list[Offer], wanted: list[str]) -> list[Offer]:
    there = [offer.label for offer in offered]
    faults = [
        Fault("", None, "choices", f"{quoted(label)} is no choice here; there are: {', '.join(there)}{near}")
        for label in wanted
        if label not in there
        for near in (did_you_mean(label, there),)
    ]
    if faults:
        raise ScenarioError(faults)
    return [offer for offer in offered if offer.label == SHUT or offer.label in wanted]


def _with_air(spec: ScenarioSpec, problem: Problem, model: str) -> tuple[ScenarioSpec, Problem]:
    """Return a race with another model of the air; channels and initial state are the same."""
    changed = spec.model_copy(update={"air": spec.air.model_copy(update={"model": model})})
    return changed, dataclasses.replace(problem, parameters=make_parameters(changed, 1.0))


def _up_to_the_stop(shut: Scenario, stop: PlannedStop) -> dict[str, Trace]:
    """March up to the stop with each model of the air, and begin the extremes anew there."""
    problem = compile_problem(shut.spec)
    found = {}
    for model in AIR_MODELS:
        trace = trace_until(_with_air(shut.spec, problem, model)[1], stop.start)
        if trace.status != STATUS_DONE:
            raise SimulationError(trace.status, float(trace.state.time))
        if trace.state.cap_on == 0:
            text = f"the cap is off already when the stop {quoted(stop.name)} begins: put it on before, or take another"
            raise ScenarioError([Fault("", None, "pit.stop", text)])
        clear_extremes(trace.state)
        found[model] = trace
    return found


def _run(x: Situation, before: dict[str, Trace], offer: Offer, spec: ScenarioSpec) -> ChoiceRun:
    problem = compile_problem(spec)
    figures, rows = {}, x.before.rows
    for model in AIR_MODELS:
        there, one = _with_air(spec, problem, model)
        trace = trace_on(one, before[model]) if x.stop.start > 0.0 else trace_race(one)
        figures[model] = {**stint_figures(one, trace, x.stop.name), **_night(x, there, one, trace)}
        if model == spec.air.model:
            rows = trace.rows
    return ChoiceRun(offer.label, offer.changes, figures, rows)


def _night(x: Situation, spec: ScenarioSpec, problem: Problem, trace: Trace) -> dict[str, float]:
    """Return what the tank does in the night after the race; not a number if the race was not finished."""
    names = ("gauge_pressure", "lowest_gauge_pressure", "oil_level", "air_admitted")
    if trace.status != STATUS_DONE:
        return {f"overnight_{name}": math.nan for name in names}
    temperature = overnight_temperature(x.asked.spec)
    morning = overnight(spec, problem, trace.state, duration=x.pit.overnight, temperature=temperature)
    return {f"overnight_{name}": getattr(morning, name) for name in names}
