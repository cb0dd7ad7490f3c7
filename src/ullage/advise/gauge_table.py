"""What a healthy circuit shows on a gauge at the pump inlet, against oil temperature and engine speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple, cast

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.duty.laps import StopTime
from ullage.duty.profile import ACCELERATIONS
from ullage.errors import STATUS_DONE, SimulationError
from ullage.hints import did_you_mean
from ullage.kernel.extremes import PUMP_FILLED
from ullage.kernel.modes import empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.kernel.params import CHANNEL_INDEX
from ullage.kernel.setting import begin
from ullage.kernel.state import RESERVOIR, State, copied
from ullage.results.trace import Trace, trace_on, trace_until
from ullage.results.variables import VARIABLES, Variable, attributes
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.load import Scenario

CONDITIONS = ("cold", "warming", "hot", "after_stop")
AFTER_STOP = 120.0  # how long the truck drives again before the last reading [s]; own choice
SPEED_STEP = 500.0 * math.pi / 30.0  # columns are at whole 500 rpm [rad s-1]
COLUMNS = 3  # besides idle

_NO_LOAD = ("vehicle_speed", "steering_load", *ACCELERATIONS)
_BY_SPEED = ("feed_gauge_pressure", "pump_chamber_pressure", "rating_margin")
_CONDITION_TIME = Variable("s", "race time of the condition")
ENGINE_SPEED = Variable("rad s-1", "engine speed of the reading")

Array = NDArray[np.float64]


class Columns(NamedTuple):
    """Engine speeds of the readings of a race [rad s-1]: all of them, idle, and the one nearest to how it is driven."""

    speeds: Array
    idle: float
    racing: float


def gauge_table(scenario: Scenario, stop: str, speeds: Sequence[float] | None = None) -> xr.Dataset:
    """Say what the feed gauge shows on a healthy truck, cold to hot, at some engine speeds.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario; faults among its events are left out, all else is as driven.
    stop : str
        Name of the stop before which the oil is hot.
    speeds : sequence of float, optional
        Engine speeds [rad s-1]; idle and three to the top speed of the race, in whole 500 rpm, if absent.

    Returns
    -------
    xarray.Dataset
        SI variables over `condition` and `engine_speed`: `feed_gauge_pressure`, `pump_chamber_pressure` and
        `rating_margin`; over `condition`: `headspace_gauge_pressure`, `oil_temperature` of the tank and
        `condition_time`.

    Raises
    ------
    ValueError
        If there is no such stop.
    SimulationError
        If the race cannot be marched to where the readings are taken.

    Notes
    -----
    Conditions are those of the race: `cold` is a few seconds after the start, `warming` when the oil of the tank is
    first half-way from there to its hottest, `hot` when the truck comes to the stop, `after_stop` two minutes after it
    drives on. See `reading` for how the gauge is read.
    """
    spec = healthy(scenario.spec)
    problem = compile_problem(spec)
    at = stop_time(problem, stop)
    columns = np.array(speeds, dtype=np.float64) if speeds is not None else columns_of(spec, problem, stop).speeds
    oil = finished(trace_until(problem, at.start)).rows
    tank = oil.oil_temperature[:, RESERVOIR]
    half_way = oil.time[np.argmax(tank >= 0.5 * (tank[0] + tank.max()))]
    times = [min(PUMP_FILLED, float(half_way)), float(half_way), at.start, at.end + AFTER_STOP]
    rows = readings(problem, times, columns)
    found: dict[str, Any] = {name: (("condition", "engine_speed"), rows[name], _told(name)) for name in _BY_SPEED}
    found["headspace_gauge_pressure"] = (
        "condition",
        rows.headspace_gauge_pressure[:, 0],
        _told("headspace_gauge_pressure"),
    )
    found["oil_temperature"] = "condition", rows.oil_temperature[:, 0, RESERVOIR], _told("oil_temperature")
    found["condition_time"] = "condition", rows.time[:, 0], attributes(_CONDITION_TIME)
    coordinates = {
        "condition": ("condition", np.array(CONDITIONS), {"long_name": "when the gauge is read"}),
        "engine_speed": ("engine_speed", columns, attributes(ENGINE_SPEED)),
    }
    return xr.Dataset(found, coordinates, {"title": spec.title, "stop": stop, "air_model": spec.air.model})


def _told(name: str) -> dict[str, str]:
    return attributes(VARIABLES[name])


def healthy(spec: ScenarioSpec) -> ScenarioSpec:
    """Return a specification without the faults among its events."""
    return spec.model_copy(update={"event": tuple(event for event in spec.event if event.fault is None)})


def stop_time(problem: Problem, name: str) -> StopTime:
    """Return when the truck stands at a named stop.

    Parameters
    ----------
    problem : Problem
        The race.
    name : str
        Name of the stop.

    Returns
    -------
    StopTime
        Its times [s].

    Raises
    ------
    ValueError
        If there is no such stop.
    """
    stops = {stop.name: stop for stop in problem.stops}
    if name not in stops:
        raise ValueError(f"{name!r} is no stop; there are: {', '.join(stops) or 'none'}{did_you_mean(name, stops)}")
    return stops[name]


def columns_of(spec: ScenarioSpec, problem: Problem, stop: str) -> Columns:
    """Return the engine speeds at which a gauge is read.

    Parameters
    ----------
    spec, problem : ScenarioSpec, Problem
        The race.
    stop : str
        Name of the stop; its idle speed is the lowest.

    Returns
    -------
    Columns
        Idle and up to three speeds in whole 500 rpm, evenly up to the highest of the race.
    """
    idle = next(each.engine_speed for each in spec.duty.stop if each.name == stop)
    driven = problem.table.channels[:, CHANNEL_INDEX["engine_speed"]]
    moving = driven[problem.table.channels[:, CHANNEL_INDEX["vehicle_speed"]] > 0.0]
    even = np.linspace(idle, max(idle, float(driven.max())), COLUMNS + 1)[1:]
    whole = np.unique(np.round(even / SPEED_STEP)) * SPEED_STEP
    above = whole[whole > idle]
    usual = float(np.mean(moving if moving.size else driven))
    racing = float(above[np.argmin(np.abs(above - usual))]) if above.size else idle
    return Columns(np.append(idle, above), idle, racing)


def readings(problem: Problem, times: Sequence[float], speeds: Sequence[float] | Array) -> Rows:
    """Read the gauges at race times and engine speeds.

    Parameters
    ----------
    problem : Problem
        The race.
    times : sequence of float
        Race times, not decreasing [s]; the reading is at the next row of its table, or at its end.
    speeds : sequence of float
        Engine speeds [rad s-1].

    Returns
    -------
    record array of shape (times, speeds)
        Every output, SI units; `time` is when it was read.

    Raises
    ------
    SimulationError
        If the race cannot be marched so far.

    Notes
    -----
    See `reading`.
    """
    rows = cast("Rows", np.recarray((len(times), len(speeds)), dtype=OUTPUT_DTYPE))
    trace = trace_until(problem, 0.0)
    for place, time in enumerate(times):
        trace = finished(trace_on(problem, trace, time))
        rows[place] = reading(problem, trace.state, speeds)
    return rows


def reading(problem: Problem, state: State, speeds: Sequence[float] | Array) -> Rows:
    """Read the gauges of a truck where a march stands, at other engine speeds.

    Parameters
    ----------
    problem : Problem
        The race.
    state : State
        Where its march stands; it is left as it is.
    speeds : sequence of float
        Engine speeds [rad s-1].

    Returns
    -------
    record array of shape (speeds,)
        Every output, SI units.

    Notes
    -----
    Temperatures, air and modes are those of the state; the truck stands level, nobody steers, and the oil in the feed
    line neither speeds up nor slows down. A reading is the first row of a race that would begin so.
    """
    table = problem.table
    channels = np.repeat(table.channels[[np.searchsorted(table.time, state.time)]], 2, axis=0)
    channels[:, [CHANNEL_INDEX[name] for name in _NO_LOAD]] = 0.0
    rows = cast("Rows", np.recarray(len(speeds), dtype=OUTPUT_DTYPE))
    for place, speed in enumerate(speeds):
        there = copied(state)
        there.feed_elapsed = 0.0
        channels[:, CHANNEL_INDEX["engine_speed"]] = speed
        row = cast("Rows", rows[place : place + 1])
        begin(problem.parameters, there, channels, row, empty_log(state.time, state.time))
    return rows


def finished(trace: Trace) -> Trace:
    """Return a march that came to its end.

    Parameters
    ----------
    trace : Trace
        What a march left.

    Returns
    -------
    Trace
        The same.

    Raises
    ------
    SimulationError
        If it had to end before.
    """
    if trace.status != STATUS_DONE:
        raise SimulationError(trace.status, float(trace.state.time))
    return trace
