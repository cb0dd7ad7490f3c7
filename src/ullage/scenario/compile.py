"""From a specification to what the march takes: parameter record, channel table, initial state."""

from __future__ import annotations

from dataclasses import dataclass

from ullage.duty.channels import Bay, ChannelTable, build_table
from ullage.duty.events import Sound, TimedEvent
from ullage.duty.laps import StopTime
from ullage.kernel.params import Parameters
from ullage.kernel.state import State, empty_record
from ullage.physics.air import GAS_CONSTANT
from ullage.scenario.circuit import hole_area, initial_gas, race_pieces, start_temperature, weather_of
from ullage.scenario.duty_spec import ScenarioSpec
from ullage.scenario.parameters import make_parameters
from ullage.scenario.timed_events import timed_events


@dataclass(frozen=True)
class Problem:
    """A race ready to march: parameters, channels, initial state; events and stops for the results."""

    parameters: Parameters
    table: ChannelTable
    state: State
    events: list[TimedEvent]
    stops: list[StopTime]


def compile_problem(spec: ScenarioSpec, tolerance_factor: float = 1.0) -> Problem:
    """Turn a specification into a problem.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on all tolerances; 1 is the default accuracy.

    Returns
    -------
    Problem
        What the march takes.
    """
    pieces, stops = race_pieces(spec)
    events = timed_events(spec)
    around = spec.surroundings
    bay = Bay(
        around.bay_offset,
        around.stop_rise,
        around.bay_settling_time,
        around.block_temperature,
        around.block_warming_time,
        around.block_cooling_time,
        start_temperature(spec),
    )
    sound = Sound(hole_area(spec.cap, spec.cap.leak_diameter), spec.cooler.blockage, spec.fluid.water_content)
    interval = spec.duty.sample_interval
    table = build_table(pieces, events, weather_of(spec), bay, sound, interval, spec.output.interval or interval)
    return Problem(make_parameters(spec, tolerance_factor), table, _initial_state(spec), events, stops)


def _initial_state(spec: ScenarioSpec) -> State:
    gas = initial_gas(spec)
    state = empty_record(State)
    state.temperature[:] = gas.temperature
    state.air_heat = gas.air_pressure * gas.headspace_volume / GAS_CONSTANT
    state.air_mass = state.air_heat / gas.temperature
    state.dissolved_air = gas.dissolved_air
    state.trapped_air = gas.trapped_air
    state.oil_mass = gas.oil_mass
    state.cap_on = 1
    opens = spec.cooler.thermostat_open_temperature
    state.cooler_open = 1 if opens is None or gas.temperature >= opens else 0
    starts = spec.cooler.fan_on_temperature
    has_fan = spec.cooler.fan_air_speed > 0.0
    state.fan_running = 1 if has_fan and (starts is None or gas.temperature >= starts) else 0
    state.oil_step = 1.0
    state.gas_step = 1e-3
    return state
