"""What is driven, in numbers: times, lengths, and means and spreads of the channels, by segment and by lap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.course import join
from ullage.duty.laps import Piece
from ullage.duty.profile import Array, Profile
from ullage.kernel.inputs import STANDING_SPEED
from ullage.kernel.params import ENGINE_TURNS


class Distribution(NamedTuple):
    """Mean, standard deviation and range of a channel over time, SI units."""

    mean: float
    spread: float
    lowest: float
    highest: float


class DriveStatistics(NamedTuple):
    """What is driven in a segment, in a lap or in the race, stops left out; SI units.

    `laps` is the number of laps in which it is driven, `over_relief` the share of the time with a load over the pump's
    relief setting; `climb` and `descent` are both positive.
    """

    laps: int
    time: float
    distance: float
    vehicle_speed: Distribution
    engine_speed: Distribution
    steering_load: Distribution
    over_relief: float
    climb: float
    descent: float


class DutyStatistics(NamedTuple):
    """What is driven in the whole race, by number of the segment in the lap, and by lap; and the standing time [s]."""

    race: DriveStatistics
    segments: dict[int, DriveStatistics]
    laps: dict[int, DriveStatistics]
    standing_engine_on: float
    standing_engine_off: float


class _Legs(NamedTuple):
    """Straight lines between knots of one piece: length in time [s], their values at both ends, their piece."""

    step: Array
    starts: Profile
    ends: Profile
    piece: NDArray[np.int64]


def duty_statistics(
    pieces: Sequence[Piece], relief_pressure: float, engine_switches: Sequence[tuple[float, bool]] = ()
) -> DutyStatistics:
    """Measure what is driven.

    Parameters
    ----------
    pieces : sequence of Piece
        The race, end to end; at least one of them is no stop.
    relief_pressure : float
        Setting of the pump's relief valve [Pa].
    engine_switches : sequence of tuple
        Race times [s] at which the engine is switched by hand, in order, and whether it runs from then on. They part
        the standing time; the speeds are those that are driven.

    Returns
    -------
    DutyStatistics
        Exact integrals over the time of channels that are linear between knots; a jump takes no time.

    Notes
    -----
    The distance is the integral of the vehicle speed, as in the channel table. A stop belongs to no segment and no lap.
    The truck stands at stops and, within what is driven, wherever it is slower than `STANDING_SPEED`.
    """
    every = _legs(pieces)
    legs = _part(every, np.flatnonzero(np.array([part.stop is None for part in pieces])[every.piece]))
    lap = np.array([piece.lap for piece in pieces])[legs.piece]
    place = np.array([_segment(piece) for piece in pieces])[legs.piece]
    running, standing = _standing(every, pieces, engine_switches)
    return DutyStatistics(
        _grouped(legs, np.zeros_like(lap), lap, relief_pressure)[0],
        _grouped(legs, place, lap, relief_pressure),
        _grouped(legs, lap, lap, relief_pressure),
        running,
        standing - running,
    )


def _segment(piece: Piece) -> int:
    """Return the number of the segment that a piece drives; of a stop it means nothing."""
    return piece.key[2] if piece.stretch.place is None else piece.stretch.place


def _legs(pieces: Sequence[Piece]) -> _Legs:
    knots, piece = join(pieces)
    kept = np.flatnonzero(piece[1:] == piece[:-1])
    starts, ends = (Profile(*(values[rows] for values in knots)) for rows in (kept, kept + 1))
    return _Legs(ends.time - starts.time, starts, ends, piece[kept])


def _grouped(
    legs: _Legs, group: NDArray[np.int64], lap: NDArray[np.int64], relief: float
) -> dict[int, DriveStatistics]:
    """Return what is driven in each group of legs, by the number of the group."""
    order = np.argsort(group, kind="stable")
    numbers, first = np.unique(group[order], return_index=True)
    parts = np.split(order, first[1:])
    return {
        int(number): _driven(_part(legs, rows), lap[rows], relief) for number, rows in zip(numbers, parts, strict=True)
    }


def _part(legs: _Legs, rows: NDArray[np.int64]) -> _Legs:
    starts, ends = (Profile(*(values[rows] for values in side)) for side in (legs.starts, legs.ends))
    return _Legs(legs.step[rows], starts, ends, legs.piece[rows])


def _driven(legs: _Legs, lap: NDArray[np.int64], relief: float) -> DriveStatistics:
    step, starts, ends = legs.step, legs.starts, legs.ends
    time = float(step.sum())
    rise = ends.elevation - starts.elevation
    names = ("vehicle_speed", "engine_speed", "steering_load")
    speed, engine, load = (_distribution(getattr(starts, name), getattr(ends, name), step / time) for name in names)
    over = _share_over(starts.steering_load, ends.steering_load, relief)
    return DriveStatistics(
        len(np.unique(lap)),
        time,
        speed.mean * time,
        speed,
        engine,
        load,
        float(np.sum(step * over)) / time,
        float(rise[rise > 0.0].sum()),
        float((-rise[rise < 0.0]).sum()),
    )


def _distribution(starts: Array, ends: Array, weight: Array) -> Distribution:
    """Return the distribution of a channel over legs, each with its share of the time."""
    mean = 0.5 * float(np.sum(weight * (starts + ends)))
    below, above = starts - mean, ends - mean
    square = float(np.sum(weight * (below * below + below * above + above * above))) / 3.0
    lowest, highest = min(starts.min(), ends.min()), max(starts.max(), ends.max())
    return Distribution(mean, float(np.sqrt(square)), float(lowest), float(highest))


def _share_over(starts: Array, ends: Array, level: float) -> Array:
    """Return the share of each leg that is over a level."""
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    rise = high - low
    share: Array = np.clip((high - level) / np.where(rise > 0.0, rise, 1.0), 0.0, 1.0)
    return np.where(rise > 0.0, share, (high > level).astype(np.float64))


def _standing(every: _Legs, pieces: Sequence[Piece], switches: Sequence[tuple[float, bool]]) -> tuple[float, float]:
    """Return the time of legs that are slow from end to end, with the engine running and in all [s]."""
    slow = np.maximum(every.starts.vehicle_speed, every.ends.vehicle_speed) < STANDING_SPEED
    step, starts, ends, piece = _part(every, np.flatnonzero(slow))
    turning = 0.5 * (starts.engine_speed + ends.engine_speed) >= ENGINE_TURNS
    turning &= np.array([part.engine_on for part in pieces])[piece]
    times = [-np.inf, *(time for time, _ in switches), np.inf]
    running = sum(
        float(np.sum(turning * np.clip(np.minimum(ends.time, end) - np.maximum(starts.time, begin), 0.0, None)))
        for begin, end, on in zip(times[:-1], times[1:], [True, *(on for _, on in switches)], strict=True)
        if on
    )
    return running, float(step.sum())
