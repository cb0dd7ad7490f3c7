"""From pieces and events to the channel table that drives the march."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.duty.course import NANOSECONDS, join
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
from ullage.duty.profile import ACCELERATIONS, STANDING_SPEED, Array, Profile, Stretch
from ullage.kernel.params import CHANNEL_INDEX, CHANNELS, ENGINE_TURNS, FIRST_MODE
from ullage.physics.atmosphere import pressure

AFTER_EVENT = 0.01


@dataclass(frozen=True)
class Bay:
    """Engine bay and block, SI units; `wet_factor` is how much more heat the parts give off in water."""

    offset: float
    stop_rise: float
    settling_time: float
    block_temperature: float
    block_warming_time: float
    block_cooling_time: float
    start_temperature: float
    wet_factor: float


@dataclass(frozen=True)
class Weather:
    """Ambient temperature by time, and the pressure offset, SI units."""

    times: tuple[float, ...]
    temperatures: tuple[float, ...]
    pressure_offset: float


@dataclass(frozen=True)
class ChannelTable:
    """Channels on one clock; two rows at one time are a jump.

    `output_rows` gives the row of the results for a row of the table, or -1. `kept` marks the results that stay when
    the output interval thins them; coordinates and extremes belong to all of them.
    """

    time: Array
    channels: Array
    output_rows: NDArray[np.int64]
    output_time: Array
    kept: NDArray[np.bool_]
    lap: NDArray[np.int64]
    distance: Array
    elevation: Array


def build_table(
    pieces: Sequence[Piece],
    events: Sequence[TimedEvent],
    weather: Weather,
    bay: Bay,
    sound: Sound,
    sample_interval: float,
    output_interval: float,
) -> ChannelTable:
    """Build the channel table of a race.

    Parameters
    ----------
    pieces : sequence of Piece
        The race, end to end.
    events : sequence of TimedEvent
        Events in order.
    weather : Weather
        Ambient conditions.
    bay : Bay
        What surrounds the parts.
    sound : Sound
        What faults change, without a fault.
    sample_interval, output_interval : float
        Steps of samples and of kept rows [s].

    Returns
    -------
    ChannelTable
        Rows at samples, knots of the pieces, events and their ends, and 10 ms after each event.
    """
    end = pieces[-1].end
    course = join(pieces)
    samples = np.append(np.arange(int(end / sample_interval + 1e-9) + 1) * sample_interval, end)
    kept = np.append(np.arange(int(end / output_interval + 1e-9) + 1) * output_interval, end)
    after = [min(event.time + AFTER_EVENT, end) for event in events]
    knots = _merged([samples, kept, course.knots.time, _breaks(pieces, events, weather), after], end)
    output_time = _merged([samples, kept, after], end)
    middle = 0.5 * (knots[:-1] + knots[1:])
    piece = course.piece[leg := course.leg(middle)]
    starts, ends = course.at(knots[:-1], leg), course.at(knots[1:], leg)
    running = _mode(middle, switch_times(events, ENGINE)) & np.array([piece.engine_on for piece in pieces])[piece]
    running &= 0.5 * (starts.engine_speed + ends.engine_speed) >= ENGINE_TURNS
    left, right = (_values(driven, running, pieces, weather) for driven in (starts, ends))
    for side in (left, right):
        _add_modes(side, middle, events)
        _add_faults(side, middle, events, sound, _mud(pieces)[piece])
    speed = 0.5 * (starts.vehicle_speed + ends.vehicle_speed)
    _add_bay(np.diff(knots), left, right, running, speed < STANDING_SPEED, bay)
    _add_ground((left, right), [piece.stretch for piece in pieces], piece, bay.wet_factor)
    time, channels = _rows(knots, left, right)
    wanted = np.isin(time, output_time)
    wanted[1:] &= time[1:] > time[:-1]
    output_rows = np.where(wanted, np.cumsum(wanted) - 1, -1)
    row = np.searchsorted(knots, output_time)
    lap = np.array([piece.lap for piece in pieces])[np.append(piece[0], piece)[row]]
    distance = np.append(0.0, np.cumsum(speed * np.diff(knots)))[row]
    elevation = np.append(starts.elevation[0], ends.elevation)[row]
    stays = np.isin(output_time, _merged([kept, after], end))
    return ChannelTable(time, channels, output_rows, output_time, stays, lap, distance, elevation)


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


def _values(driven: Profile, running: NDArray[np.bool_], pieces: Sequence[Piece], weather: Weather) -> Array:
    """Return the channels that pieces and weather give at one end of every interval."""
    values = np.zeros((len(running), len(CHANNELS)))
    values[:, CHANNEL_INDEX["vehicle_speed"]] = driven.vehicle_speed
    values[:, CHANNEL_INDEX["engine_speed"]] = np.where(running, driven.engine_speed, 0.0)
    values[:, CHANNEL_INDEX["steering_load"]] = np.where(running, driven.steering_load, 0.0)
    values[:, CHANNEL_INDEX["steering_position"]] = _position(driven.time, pieces)
    values[:, CHANNEL_INDEX["ambient_temperature"]] = np.interp(driven.time, weather.times, weather.temperatures)
    for name in ACCELERATIONS:
        values[:, CHANNEL_INDEX[name]] = getattr(driven, name)
    ambient = np.empty(len(running))
    _pressures(driven.elevation, ambient)
    values[:, CHANNEL_INDEX["ambient_pressure"]] = ambient + weather.pressure_offset
    return values


def _add_modes(side: Array, middle: Array, events: Sequence[TimedEvent]) -> None:
    """Set what is constant in every interval: cap, forced fan, the oil that is poured and the air that is put in."""
    side[:, CHANNEL_INDEX["cap_on"]] = _mode(middle, switch_times(events, CAP))
    side[:, CHANNEL_INDEX["fan_forced"]] = _mode(middle, [(0.0, False), *switch_times(events, FAN_OVERRIDE)])
    side[:, CHANNEL_INDEX["top_up_temperature"]] = 293.15
    for event in events:
        during = (middle > event.time) & (middle < event.time + event.duration)
        if event.name == TOP_UP:
            side[during, CHANNEL_INDEX["top_up_flow"]] = event.mass / event.duration
            side[during, CHANNEL_INDEX["top_up_temperature"]] = event.temperature
        elif event.name == RECHARGE:
            side[during, CHANNEL_INDEX["recharge_pressure"]] = event.size


def _add_faults(side: Array, middle: Array, events: Sequence[TimedEvent], sound: Sound, mud: Array) -> None:
    """Set the channels that faults change, in every interval; mud is a share of the cooler's core."""
    for name, value in sound._asdict().items():
        side[:, CHANNEL_INDEX[name]] = value
    side[:, CHANNEL_INDEX["core_blockage"]] = np.maximum(sound.core_blockage, mud)
    for spell in spells(events):
        effect = FAULTS[spell.name]
        faulty = (middle > spell.begin) & (middle < spell.end)
        column = CHANNEL_INDEX[effect.channel]
        side[faulty, column] = effect.combine(side[faulty, column], spell.size)


def _mud(pieces: Sequence[Piece]) -> Array:
    """Return the share of the cooler's core that mud covers during each piece."""
    covered, share = np.empty(len(pieces)), 0.0
    for place, piece in enumerate(pieces):
        covered[place] = share
        share = 0.0 if piece.stretch.cooler_washed else max(share, piece.stretch.mud if piece.finished else 0.0)
    return covered


def _add_ground(
    sides: tuple[Array, Array], stretches: Sequence[Stretch], place: NDArray[np.int64], wet_factor: float
) -> None:
    """Set what the ground does, in every interval; in a crossing the water takes the place of the air in the bay."""
    roughness = np.array([stretch.ground_roughness for stretch in stretches])[place]
    water = np.array([np.nan if (at := stretch.water_temperature) is None else at for stretch in stretches])[place]
    wet = ~np.isnan(water)
    for side in sides:
        side[:, CHANNEL_INDEX["ground_roughness"]] = roughness
        side[:, CHANNEL_INDEX["wetting"]] = np.where(wet, wet_factor, 1.0)
        side[wet, CHANNEL_INDEX["bay_temperature"]] = water[wet]


def _add_bay(
    length: Array, left: Array, right: Array, running: NDArray[np.bool_], standing: NDArray[np.bool_], bay: Bay
) -> None:
    """Let engine block and bay follow the engine by first-order lags, of second order in the interval."""
    outside = CHANNEL_INDEX["ambient_temperature"]
    ambient = 0.5 * (left + right)[:, outside]
    block_target = np.where(running, bay.block_temperature, ambient)
    block_keep = np.exp(-length / np.where(running, bay.block_warming_time, bay.block_cooling_time))
    block = _lag(bay.start_temperature, block_target, block_keep)
    middle = block_target + (block[:-1] - block_target) * np.sqrt(block_keep)
    warmth = (middle - ambient) / np.maximum(bay.block_temperature - ambient, 1.0)
    full = bay.offset + np.where(standing, bay.stop_rise, 0.0)
    offset = _lag(0.0, full * np.clip(warmth, 0.0, 1.0), np.exp(-length / bay.settling_time))
    for side, part in ((left, slice(None, -1)), (right, slice(1, None))):
        side[:, CHANNEL_INDEX["block_temperature"]] = block[part]
        side[:, CHANNEL_INDEX["bay_temperature"]] = side[:, outside] + offset[part]


@compiled
def _pressures(elevation: Array, ambient: Array) -> None:
    """Write the standard ambient pressure at every elevation [m] into `ambient` [Pa]."""
    for place in range(len(elevation)):
        ambient[place] = pressure(elevation[place])


def _lag(start: float, target: Array, keep: Array) -> Array:
    """Return a value at all knots that keeps a share of its distance from the target in every interval."""
    values = np.empty(len(target) + 1)
    values[0] = start
    _follow(target, keep, values)
    return values


@compiled
def _follow(target: Array, keep: Array, values: Array) -> None:
    """Write the values after the first into `values`."""
    for place in range(len(target)):
        values[place + 1] = target[place] + (values[place] - target[place]) * keep[place]


def _rows(knots: Array, left: Array, right: Array) -> tuple[Array, Array]:
    """Interleave both ends of all intervals; a start that repeats the end before it is left out."""
    time = np.column_stack([knots[:-1], knots[1:]]).ravel()
    channels = np.empty((len(time), left.shape[1]))
    channels[0::2] = left
    channels[1::2] = right
    keep = np.ones(len(time), dtype=bool)
    keep[2::2] = np.any(np.abs(left[1:] - right[:-1]) > 1e-9 * (1.0 + np.abs(left[1:])), axis=1)
    keep[2::2] |= np.any(left[1:, FIRST_MODE:] != right[:-1, FIRST_MODE:], axis=1)
    return time[keep], channels[keep]
