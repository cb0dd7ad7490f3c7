"""From a specification to what the march takes: parameter record, channel table, initial state."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from ullage.duty.channels import ChannelTable, build_table
from ullage.duty.events import Sound, TimedEvent
from ullage.duty.laps import Piece, StopTime
from ullage.duty.race_inputs import RaceInputs, Weather, race_inputs
from ullage.kernel.params import Parameters
from ullage.kernel.state import State
from ullage.kernel.unit import Units, empty_unit
from ullage.scenario.circuit import hole_area, weather_of
from ullage.scenario.duty_spec import Duty, ScenarioSpec
from ullage.scenario.parameters import prepared
from ullage.scenario.race import race_pieces
from ullage.scenario.settings import settings_of, start_temperature
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


_IN_NO_CHANNEL = {"ring_conductance"}  # of what surrounds the parts


class Forcing(NamedTuple):
    """All that a channel table depends on; equal ones have equal tables."""

    duty: Duty
    elevation: float
    loads: Loads
    events: tuple[TimedEvent, ...]
    weather: Weather
    surroundings: tuple[float, ...]
    start_temperature: float
    sound: Sound
    output_interval: float


Tables = dict[Forcing, ChannelTable]


def allowed_tolerance(factor: float) -> float:
    """Return a factor on the tolerances, or raise `ValueError` if it is out of range."""
    if not 1e-4 <= factor <= 10.0:
        raise ValueError(f"tolerance_factor is {factor}; 1e-4 to 10 is allowed")
    return factor


def compile_problem(spec: ScenarioSpec, tolerance_factor: float = 1.0) -> Problem:
    """Turn a specification into a problem.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.

    Returns
    -------
    Problem
        What the march takes.
    """
    return next(compile_problems([spec], tolerance_factor))


def compile_unit(spec: ScenarioSpec, tolerance_factor: float = 1.0) -> Units:
    """Turn a specification into a unit that is to be marched step by step, with the inputs that its race begins with.

    Parameters
    ----------
    spec : ScenarioSpec
        A checked specification.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.

    Returns
    -------
    record array of shape (1,)
        What `begin_unit` takes.
    """
    units = empty_unit()
    units["settings"] = settings_of(spec, tolerance_factor)
    units["inputs"][0, 1] = inputs_of(race_pieces(spec)[0], forcing_of(spec)).before[0]
    return units


def compile_problems(
    specs: Iterable[ScenarioSpec], tolerance_factor: float = 1.0, tables: Tables | None = None
) -> Iterator[Problem]:
    """Turn specifications into problems one by one; races with the same channels share one table.

    Parameters
    ----------
    specs : iterable of ScenarioSpec
        Checked specifications.
    tolerance_factor : float
        Factor on the tolerances; 1 is the default accuracy.
    tables : dict or None
        Channel tables that were built before; those that are built now are added.

    Yields
    ------
    Problem
        What the march takes, in the order of the specifications.

    Notes
    -----
    A table takes far longer to build than everything else; trucks that differ in tank, cap or cooler drive one race.
    """
    known: Tables = {} if tables is None else tables
    for spec in specs:
        pieces, stops = race_pieces(spec)
        forcing = forcing_of(spec)
        table = known.get(forcing)
        if table is None:
            table = known[forcing] = build_table(inputs_of(pieces, forcing), pieces, settings_of(spec))
        begin = prepared(spec, tolerance_factor)
        yield Problem(begin.parameters, table, begin.state, [*forcing.events], stops)


def inputs_of(pieces: list[Piece], forcing: Forcing) -> RaceInputs:
    """Return what a race gives at both ends of every step."""
    return race_inputs(
        pieces,
        forcing.events,
        forcing.weather,
        forcing.sound,
        forcing.duty.sample_interval,
        forcing.output_interval,
    )


def forcing_of(spec: ScenarioSpec) -> Forcing:
    """Return all that the channel table of a race depends on."""
    around = {name: value for name, value in spec.surroundings if name not in _IN_NO_CHANNEL}
    sound = Sound(hole_area(spec.cap, spec.cap.leak_diameter), spec.cooler.blockage, spec.fluid.water_content)
    return Forcing(
        spec.duty,
        spec.start.elevation,
        loads_of(spec),
        tuple(timed_events(spec)),
        weather_of(spec),
        tuple(around.values()),
        start_temperature(spec),
        sound,
        spec.output.interval or spec.duty.sample_interval,
    )
