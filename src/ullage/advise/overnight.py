"""What the tank of a parked truck does overnight: the last state of a race is handed to a night that begins there."""

from __future__ import annotations

import dataclasses
import math
from typing import NamedTuple

import numpy as np

from ullage.duty.events import CAP, CAP_VALVES, switch_times
from ullage.errors import STATUS_DONE
from ullage.kernel.params import CHANNEL_INDEX, Forcing
from ullage.kernel.state import RESERVOIR, State, copied
from ullage.results.trace import trace_race
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.duty_spec import Duty, ScenarioSpec, Weather, WeatherPoint
from ullage.scenario.lap_spec import Segment

SAMPLE_INTERVAL = 60.0
EVENING = 4 * 3600.0  # in which the weather goes from that of the finish to that of the night [s]; own choice
_SLACK = 1e-6  # events at the very finish have happened [s]

# what stays as it was at the finish: cap, faults, and where the wheels stand
_LASTING = (
    *CAP_VALVES,
    "leak_area",
    "core_blockage",
    "strainer_factor",
    "bore_share",
    "water_content",
    "steering_position",
)


class Morning(NamedTuple):
    """What a night leaves, SI units.

    Attributes
    ----------
    gauge_pressure, lowest_gauge_pressure : float
        Of the air space in the morning, and the lowest of the night by the minute [Pa].
    oil_level : float
        Share of the tank that oil and bubbles take in the morning [1].
    oil_temperature : float
        Of the oil in the tank in the morning [K].
    air_admitted : float
        Air that came in through cap or neck in the night [kg].
    air_dissolved : float
        Air that the oil took up in the night, negative if it gave some back [kg].
    """

    gauge_pressure: float
    lowest_gauge_pressure: float
    oil_level: float
    oil_temperature: float
    air_admitted: float
    air_dissolved: float


def overnight(spec: ScenarioSpec, problem: Problem, finish: State, *, duration: float, temperature: float) -> Morning:
    """Park a truck where a march stands, and say what the morning finds.

    Parameters
    ----------
    spec : ScenarioSpec
        The specification of the race.
    problem : Problem
        The race.
    finish : State
        Where its march stands; it is left as it is.
    duration : float
        How long the truck is parked [s], up to 24 h.
    temperature : float
        What the ambient temperature falls or rises to [K].

    Returns
    -------
    Morning
        Pressure, level and temperature in the morning; not a number if the night cannot be marched to its end.

    Notes
    -----
    See `parked` for what is assumed of the night.
    """
    night = trace_race(parked(spec, problem, finish, duration=duration, temperature=temperature))
    if night.status != STATUS_DONE:
        return Morning(*[math.nan] * len(Morning._fields))
    morning = night.rows[-1]
    return Morning(
        gauge_pressure=float(morning.headspace_gauge_pressure),
        lowest_gauge_pressure=float(night.rows.headspace_gauge_pressure.min()),
        oil_level=float(morning.oil_level),
        oil_temperature=float(morning.oil_temperature[RESERVOIR]),
        air_admitted=float(night.state.air_admitted - finish.air_admitted),
        air_dissolved=float(night.state.dissolved_air - finish.dissolved_air),
    )


def parked(spec: ScenarioSpec, problem: Problem, finish: State, *, duration: float, temperature: float) -> Problem:
    """Return the night that begins where a march stands, as a problem of its own with a clock of its own.

    Parameters
    ----------
    spec : ScenarioSpec
        The specification of the race.
    problem : Problem
        The race.
    finish : State
        Where its march stands; it is left as it is.
    duration : float
        How long the truck is parked [s], up to 24 h.
    temperature : float
        What the ambient temperature falls or rises to [K].

    Returns
    -------
    Problem
        A truck that stands with its engine off at the elevation of the finish. Its quadratures go on from there.

    Notes
    -----
    The ambient temperature goes in a straight line to that of the night over four hours, and stays. Engine block and
    bay cool from what they were at the finish. The cap stays on or off, and faults that were there stay; oil that was
    still being poured in or lost is not. An electric fan goes on as its thermostat says.
    """
    table = problem.table
    there = Forcing(*table.channels[np.searchsorted(table.time, finish.time)])
    elevation = float(np.interp(finish.time, table.output_time, table.elevation))
    night = compile_problem(_night(spec, there, elevation, duration, temperature))
    channels = night.table.channels
    for name in _LASTING:
        channels[:, CHANNEL_INDEX[name]] = getattr(there, name)
    moved = [on for time, on in switch_times(problem.events, CAP) if time <= finish.time + _SLACK]
    channels[:, CHANNEL_INDEX["cap_on"]] = moved[-1] if moved else there.cap_on
    # the bay follows by a lag, so that what it has over the ambient at the finish fades beside all else
    warmer = there.bay_temperature - there.ambient_temperature
    fading = np.exp(-night.table.time / spec.surroundings.bay_settling_time)
    channels[:, CHANNEL_INDEX["bay_temperature"]] += warmer * fading
    return dataclasses.replace(night, state=_at_midnight(finish))


def _night(spec: ScenarioSpec, there: Forcing, elevation: float, duration: float, temperature: float) -> ScenarioSpec:
    """Return the specification of a night; its start temperature is that of the engine block."""
    points = (
        WeatherPoint(time=0.0, temperature=there.ambient_temperature),
        WeatherPoint(time=EVENING, temperature=temperature),
    )
    changes = {
        "duty": Duty(sample_interval=SAMPLE_INTERVAL, segment=(Segment(duration=duration, engine_speed=0.0),)),
        "weather": Weather(pressure_offset=spec.weather.pressure_offset, point=points),
        "start": spec.start.model_copy(update={"temperature": there.block_temperature, "elevation": elevation}),
        "event": (),
        "output": spec.output.model_copy(update={"interval": None}),
    }
    return spec.model_copy(update=changes)


def _at_midnight(finish: State) -> State:
    """Return a copy of a state on a clock that begins; its valves are free to move, oil in the feed line rests."""
    state = copied(finish)
    state.time = state.valve_free_time = state.feed_elapsed = 0.0
    return state
