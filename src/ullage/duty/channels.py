"""From pieces and events to the channel table that drives the march."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ullage.duty.events import CAP, ENGINE, TOP_UP, TimedEvent, switch_times
from ullage.duty.laps import Piece
from ullage.kernel.params import CHANNEL_INDEX, CHANNELS, ENGINE_TURNS
from ullage.physics.atmosphere import pressure

Array = NDArray[np.float64]

AFTER_EVENT = 0.01
STROKE_TIME = 1.0


@dataclass(frozen=True)
class Bay:
    """Engine bay and block, SI units."""

    offset: float
    stop_rise: float
    settling_time: float
    block_temperature: float
    block_warming_time: float
    block_cooling_time: float
    start_temperature: float


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
    sample_interval, output_interval : float
        Steps of samples and of kept rows [s].

    Returns
    -------
    ChannelTable
        Rows at samples, ends of pieces, events and 10 ms after each.
    """
    end = pieces[-1].end
    samples = np.append(np.arange(int(end / sample_interval + 1e-9) + 1) * sample_interval, end)
    kept = np.append(np.arange(int(end / output_interval + 1e-9) + 1) * output_interval, end)
    after = [min(event.time + AFTER_EVENT, end) for event in events]
    breaks = [piece.end for piece in pieces] + [event.time for event in events] + after
    breaks += [event.time + event.duration for event in events if event.name == TOP_UP]
    breaks += list(weather.times)
    breaks += [piece.start + _stroke(piece) for piece in pieces[1:] if piece.stretch.steering_position != 0.0]
    knots = _merged(np.concatenate([samples, kept, np.array(breaks)]), end)
    output_time = _merged(np.concatenate([samples, kept, np.array(after)]), end)
    stays = np.isin(output_time, _merged(np.concatenate([kept, np.array(after)]), end))
    left, right, running = _values(knots, pieces, events, weather)
    _add_bay(knots, left, right, running, pieces, bay)
    time, channels = _rows(knots, left, right)
    wanted = np.isin(time, output_time)
    wanted[1:] &= time[1:] > time[:-1]
    output_rows = np.where(wanted, np.cumsum(wanted) - 1, -1)
    lap, distance, elevation = _coordinates(output_time, pieces)
    return ChannelTable(time, channels, output_rows, output_time, stays, lap, distance, elevation)


def _merged(times: Array, end: float) -> Array:
    """Return sorted times within the race, those closer than a nanosecond made one."""
    unique = np.unique(np.round(times[(times >= 0.0) & (times <= end)], 9))
    unique[-1] = end
    return unique


def _piece_of(times: Array, pieces: Sequence[Piece]) -> NDArray[np.int64]:
    ends = np.array([piece.end for piece in pieces])
    return np.minimum(np.searchsorted(ends, times, side="left"), len(pieces) - 1)


def _elevation(times: Array, index: NDArray[np.int64], pieces: Sequence[Piece]) -> Array:
    start = np.array([piece.start for piece in pieces])[index]
    duration = np.array([piece.end - piece.start for piece in pieces])[index]
    low = np.array([piece.elevation_start for piece in pieces])[index]
    high = np.array([piece.elevation_end for piece in pieces])[index]
    heights: Array = low + (high - low) * np.clip((times - start) / duration, 0.0, 1.0)
    return heights


def _position(times: Array, pieces: Sequence[Piece]) -> Array:
    """Return the ram position; the ram takes a second, or a short piece, to its new place."""
    before, places, knots = pieces[0].stretch.steering_position, [], []
    for piece in pieces:
        after = piece.stretch.steering_position
        knots += [piece.start, piece.start + _stroke(piece)]
        places += [before, after]
        before = after
    return np.interp(times, knots, places)


def _stroke(piece: Piece) -> float:
    return min(STROKE_TIME, 0.5 * (piece.end - piece.start))


def _mode(middle: Array, switches: Sequence[tuple[float, bool]]) -> NDArray[np.bool_]:
    """Return a mode in each interval; it is on until it is switched."""
    mode = np.ones(middle.shape, dtype=bool)
    for time, value in switches:
        mode[middle > time] = value
    return mode


def _values(
    knots: Array, pieces: Sequence[Piece], events: Sequence[TimedEvent], weather: Weather
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return the channels at both ends of every interval, and whether the engine runs in it."""
    middle = 0.5 * (knots[:-1] + knots[1:])
    index = _piece_of(middle, pieces)
    turns = [piece.engine_on and piece.stretch.engine_speed >= ENGINE_TURNS for piece in pieces]
    running = _mode(middle, switch_times(events, ENGINE)) & np.array(turns)[index]
    left = np.zeros((len(middle), len(CHANNELS)))
    for name, engine_driven in (
        ("engine_speed", True),
        ("steering_load", True),
        ("vehicle_speed", False),
    ):
        values = np.array([getattr(piece.stretch, name) for piece in pieces])[index]
        left[:, CHANNEL_INDEX[name]] = np.where(running, values, 0.0) if engine_driven else values
    left[:, CHANNEL_INDEX["cap_on"]] = _mode(middle, switch_times(events, CAP))
    left[:, CHANNEL_INDEX["top_up_temperature"]] = 293.15
    for event in events:
        if event.name == TOP_UP:
            pouring = (middle > event.time) & (middle < event.time + event.duration)
            left[pouring, CHANNEL_INDEX["top_up_flow"]] = event.mass / event.duration
            left[pouring, CHANNEL_INDEX["top_up_temperature"]] = event.temperature
    right = left.copy()
    for side, times in ((left, knots[:-1]), (right, knots[1:])):
        side[:, CHANNEL_INDEX["ambient_temperature"]] = np.interp(times, weather.times, weather.temperatures)
        heights = _elevation(times, index, pieces)
        side[:, CHANNEL_INDEX["steering_position"]] = _position(times, pieces)
        side[:, CHANNEL_INDEX["ambient_pressure"]] = [pressure(h) for h in heights]
        side[:, CHANNEL_INDEX["ambient_pressure"]] += weather.pressure_offset
    return left, right, running


def _add_bay(
    knots: Array, left: Array, right: Array, running: NDArray[np.bool_], pieces: Sequence[Piece], bay: Bay
) -> None:
    """Let engine block and bay follow the engine by first-order lags, of second order in the interval."""
    length = np.diff(knots)
    standing = np.array([piece.standing for piece in pieces])[_piece_of(0.5 * (knots[:-1] + knots[1:]), pieces)]
    ambient = 0.5 * (left + right)[:, CHANNEL_INDEX["ambient_temperature"]]
    block_keep = np.exp(-length / np.where(running, bay.block_warming_time, bay.block_cooling_time))
    bay_keep = np.exp(-length / bay.settling_time)
    block, offset = bay.start_temperature, 0.0
    for i in range(len(length)):
        left[i, CHANNEL_INDEX["block_temperature"]] = block
        left[i, CHANNEL_INDEX["bay_temperature"]] = left[i, CHANNEL_INDEX["ambient_temperature"]] + offset
        target = bay.block_temperature if running[i] else ambient[i]
        middle = target + (block - target) * math.sqrt(block_keep[i])
        block = target + (block - target) * block_keep[i]
        full = bay.offset + (bay.stop_rise if standing[i] else 0.0)
        warmth = (middle - ambient[i]) / max(bay.block_temperature - ambient[i], 1.0)
        goal = full * min(1.0, max(0.0, warmth))
        offset = goal + (offset - goal) * bay_keep[i]
        right[i, CHANNEL_INDEX["block_temperature"]] = block
        right[i, CHANNEL_INDEX["bay_temperature"]] = right[i, CHANNEL_INDEX["ambient_temperature"]] + offset


def _rows(knots: Array, left: Array, right: Array) -> tuple[Array, Array]:
    """Interleave both ends of all intervals; a start that repeats the end before it is left out."""
    time = np.column_stack([knots[:-1], knots[1:]]).ravel()
    channels = np.empty((len(time), left.shape[1]))
    channels[0::2] = left
    channels[1::2] = right
    keep = np.ones(len(time), dtype=bool)
    keep[2::2] = np.any(np.abs(left[1:] - right[:-1]) > 1e-9 * (1.0 + np.abs(left[1:])), axis=1)
    return time[keep], channels[keep]


def _coordinates(times: Array, pieces: Sequence[Piece]) -> tuple[NDArray[np.int64], Array, Array]:
    index = _piece_of(times, pieces)
    lap = np.array([piece.lap for piece in pieces])[index]
    ends = np.array([0.0, *(piece.end for piece in pieces)])
    driven = np.array([(piece.end - piece.start) * piece.stretch.vehicle_speed for piece in pieces])
    distance = np.interp(times, ends, np.concatenate([[0.0], np.cumsum(driven)]))
    return lap, distance, _elevation(times, index, pieces)
