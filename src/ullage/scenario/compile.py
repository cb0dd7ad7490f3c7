"""From a specification to what the march takes: parameter record, channel table, initial state."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from ullage.duty.channels import Bay, ChannelTable, Weather, build_table
from ullage.duty.events import Sound, TimedEvent
from ullage.duty.laps import StopTime
from ullage.kernel.params import Parameters
from ullage.kernel.state import State
from ullage.scenario.circuit import hole_area, weather_of
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.parameters import prepared
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import start_temperature
from ullage.scenario.stretches import Loads, loads_of
from ullage.scenario.timed_events import timed_events


@dataclass(frozen=True)
class Problem:
    """A race ready to march: parameters, channels, initial state; events and stops for the results."""

    parameters: Parameters
    table: ChannelTable
    state: State
    events: list[TimedEvent]
    stops: list[StopTime]


class Forcing(NamedTuple):
    """All that a channel table depends on; equal ones have equal tables."""

    duty: Duty
    elevation: float
    loads: Loads
    events: tuple[TimedEvent, ...]
    weather: Weather
    bay: Bay
    sound: Sound
    output_interval: float


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
    return next(compile_problems([spec], tolerance_factor))


def compile_problems(specs: Iterable[ScenarioSpec], tolerance_factor: float = 1.0) -> Iterator[Problem]:
    """Turn specifications into problems one by one; races with the same channels share one table.

    Parameters
    ----------
    specs : iterable of ScenarioSpec
        Checked specifications.
    tolerance_factor : float
        Factor on all tolerances; 1 is the default accuracy.

    Yields
    ------
    Problem
        What the march takes, in the order of the specifications.

    Notes
    -----
    A table takes far longer to build than everything else; trucks that differ in tank, cap or cooler drive one race.
    """
    tables: dict[Forcing, ChannelTable] = {}
    for spec in specs:
        pieces, stops = race_pieces(spec)
        forcing = forcing_of(spec)
        if forcing not in tables:
            tables[forcing] = build_table(
                pieces,
                forcing.events,
                forcing.weather,
                forcing.bay,
                forcing.sound,
                forcing.duty.sample_interval,
                forcing.output_interval,
            )
        begin = prepared(spec, tolerance_factor)
        yield Problem(begin.parameters, tables[forcing], begin.state, [*forcing.events], stops)


def forcing_of(spec: ScenarioSpec) -> Forcing:
    """Return all that the channel table of a race depends on."""
    around = spec.surroundings
    bay = Bay(
        around.bay_offset,
        around.stop_rise,
        around.bay_settling_time,
        around.block_temperature,
        around.block_warming_time,
        around.block_cooling_time,
        start_temperature(spec),
        around.wet_factor,
    )
    sound = Sound(hole_area(spec.cap, spec.cap.leak_diameter), spec.cooler.blockage, spec.fluid.water_content)
    return Forcing(
        spec.duty,
        spec.start.elevation,
        loads_of(spec),
        tuple(timed_events(spec)),
        weather_of(spec),
        bay,
        sound,
        spec.output.interval or spec.duty.sample_interval,
    )
