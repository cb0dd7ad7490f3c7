"""From pieces and events to what is given at both ends of every step of a race."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.course import NANOSECONDS, Course, join
from ullage.duty.events import (
    CAP,
    ENGINE,
    FAN_OVERRIDE,
    FAULTS,
    RECHARGE,
    TOP_UP,
    Sound,
    TimedEvent,
    spells,
    switch_times,
)
from ullage.duty.laps import Piece
from ullage.duty.profile import ACCELERATIONS, Array, Stretch
from ullage.kernel.inputs import Inputs
from ullage.kernel.state import record_dtype

AFTER_EVENT = 0.01
_DRY = 293.15  # temperature of a crossing's water, and of what is poured in, where there is none [K]

InputRows = np.recarray[Any, np.dtype[Any]]


@dataclass(frozen=True)
class Weather:
    """Ambient temperature by time, and the pressure offset, SI units."""

    times: tuple[float, ...]
    temperatures: tuple[float, ...]
    pressure_offset: float


class RaceInputs(NamedTuple):
    """What a race gives at both ends of every step.

    `knots` are the times of the ends [s], `before` and `after` the inputs at the two ends of each step, `piece` the
    piece in which it lies. `output_time` are the times of the results [s]; `stays` marks those that stay when the
    output interval thins them.
    """

    knots: Array
    before: InputRows
    after: InputRows
    piece: NDArray[np.int64]
    output_time: Array
    stays: NDArray[np.bool_]


def race_inputs(
    pieces: Sequence[Piece],
    events: Sequence[TimedEvent],
    weather: Weather,
    sound: Sound,
    sample_interval: float,
    output_interval: float,
) -> RaceInputs:
    """Return what a race gives.

    Parameters
    ----------
    pieces : sequence of Piece
        The race, end to end.
    events : sequence of TimedEvent
        Events in order.
    weather : Weather
        Ambient conditions.
    sound : Sound
        What faults change, without a fault.
    sample_interval, output_interval : float
        Steps of samples and of kept rows [s].

    Returns
    -------
    RaceInputs
        Steps end at samples, knots of the pieces, events and their ends, and 10 ms after each event.
    """
    end = pieces[-1].end
    course = join(pieces)
    samples = np.append(np.arange(int(end / sample_interval + 1e-9) + 1) * sample_interval, end)
    kept = np.append(np.arange(int(end / output_interval + 1e-9) + 1) * output_interval, end)
    after = [min(event.time + AFTER_EVENT, end) for event in events]
    knots = _merged([samples, kept, course.knots.time, _breaks(pieces, events, weather), after], end)
    output_time = _merged([samples, kept, after], end)
    stays = np.isin(output_time, _merged([kept, after], end))
    middle = 0.5 * (knots[:-1] + knots[1:])
    piece = course.piece[leg := course.leg(middle)]
    start, finish = (_driven(course, times, leg, pieces, weather) for times in (knots[:-1], knots[1:]))
    engine_on = _mode(middle, switch_times(events, ENGINE)) & np.array([each.engine_on for each in pieces])[piece]
    for side in (start, finish):
        side.engine_on = engine_on
        _add_modes(side, middle, events)
        _add_faults(side, middle, events, sound, _mud(pieces)[piece])
        _add_ground(side, [each.stretch for each in pieces], piece)
    return RaceInputs(knots, start, finish, piece, output_time, stays)


def _breaks(pieces: Sequence[Piece], events: Sequence[TimedEvent], weather: Weather) -> list[float]:
    """Return times at which a channel bends or jumps, other than knots of the pieces."""
    breaks = [event.time for event in events]
    breaks += [event.time + event.duration for event in events if event.duration > 0.0]
    breaks += weather.times
    strokes = [piece.ram for piece in pieces]
    return breaks + [settled for (_, before), (settled, after) in strokes if before != after]


def _merged(times: Sequence[Array | Sequence[float]], end: float) -> Array:
    """Return sorted times within the race, those closer than a nanosecond made one."""
    together = np.concatenate(times)
    unique: Array = np.unique(np.round(together[(together >= 0.0) & (together <= end)], NANOSECONDS))
    unique[-1] = end
    return unique


def _position(times: Array, pieces: Sequence[Piece]) -> Array:
    """Return the ram position."""
    knots, places = zip(*(knot for piece in pieces for knot in piece.ram), strict=True)
    position: Array = np.interp(times, knots, places)
    return position


def _mode(middle: Array, switches: Sequence[tuple[float, bool]]) -> NDArray[np.bool_]:
    """Return a mode in each interval; it is on until it is switched."""
    mode = np.ones(middle.shape, dtype=bool)
    for time, value in switches:
        mode[middle > time] = value
    return mode


def _driven(
    course: Course, times: Array, leg: NDArray[np.int64], pieces: Sequence[Piece], weather: Weather
) -> InputRows:
    """Return the inputs at one end of every step, with what pieces and weather give."""
    driven = course.at(times, leg)
    side = np.zeros(len(times), dtype=record_dtype(Inputs)).view(np.recarray)
    for name in ("vehicle_speed", "engine_speed", "steering_load", "elevation", *ACCELERATIONS):
        side[name] = getattr(driven, name)
    side.steering_position = _position(times, pieces)
    side.ambient_temperature = np.interp(times, weather.times, weather.temperatures)
    return side


def _add_modes(side: InputRows, middle: Array, events: Sequence[TimedEvent]) -> None:
    """Set what is held in every step: cap, fan, the oil that is poured and the air that is put in."""
    side.cap_on = _mode(middle, switch_times(events, CAP))
    side.fan_forced = _mode(middle, [(0.0, False), *switch_times(events, FAN_OVERRIDE)])
    side.fan_share = 1.0
    side.top_up_temperature = _DRY
    for event in events:
        during = (middle > event.time) & (middle < event.time + event.duration)
        if event.name == TOP_UP:
            side["top_up_flow"][during] = event.mass / event.duration
            side["top_up_temperature"][during] = event.temperature
        elif event.name == RECHARGE:
            side["recharge_pressure"][during] = event.size


def _add_faults(side: InputRows, middle: Array, events: Sequence[TimedEvent], sound: Sound, mud: Array) -> None:
    """Set what faults change, in every step; mud is a share of the cooler's core."""
    for name, value in sound._asdict().items():
        side[name] = value
    side.core_blockage = np.maximum(sound.core_blockage, mud)
    for spell in spells(events):
        effect = FAULTS[spell.name]
        faulty = (middle > spell.begin) & (middle < spell.end)
        side[effect.channel][faulty] = effect.combine(side[effect.channel][faulty], spell.size)


def _mud(pieces: Sequence[Piece]) -> Array:
    """Return the share of the cooler's core that mud covers during each piece."""
    covered, share = np.empty(len(pieces)), 0.0
    for place, piece in enumerate(pieces):
        covered[place] = share
        share = 0.0 if piece.stretch.cooler_washed else max(share, piece.stretch.mud if piece.finished else 0.0)
    return covered


def _add_ground(side: InputRows, stretches: Sequence[Stretch], place: NDArray[np.int64]) -> None:
    """Set what the ground does, in every step."""
    side.ground_roughness = np.array([stretch.ground_roughness for stretch in stretches])[place]
    water = np.array([np.nan if (at := stretch.water_temperature) is None else at for stretch in stretches])[place]
    side.in_water = ~np.isnan(water)
    side.water_temperature = np.where(np.isnan(water), _DRY, water)
