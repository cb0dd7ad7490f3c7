"""Laps and stops, laid end to end on the race clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ullage.duty.generator import draw_profile
from ullage.duty.profile import Profile, Spread, Stretch


@dataclass(frozen=True)
class NamedStop:
    """A stop after a lap (0: before the first), SI units."""

    name: str
    after_lap: int
    duration: float
    engine_on: bool
    engine_speed: float
    steering_load: float


@dataclass(frozen=True)
class Piece:
    """A stretch or a stop in its place on the race clock; `key` is seed, lap and number of the stretch in the lap."""

    start: float
    end: float
    lap: int
    stretch: Stretch
    elevation_start: float
    elevation_end: float
    engine_on: bool
    key: tuple[int, int, int]

    @cached_property
    def profile(self) -> Profile:
        """Channels of the piece, made when they are first asked for."""
        steady, variation = self.stretch, self.stretch.variation
        if isinstance(variation, Spread):
            return draw_profile(steady, variation, self.start, self.elevation_start, self.key)
        if isinstance(variation, Profile):
            return variation._replace(time=self.start + variation.time)
        return Profile(
            np.array([self.start, self.end]),
            np.full(2, steady.vehicle_speed),
            np.full(2, steady.engine_speed),
            np.full(2, steady.steering_load),
            np.array([self.elevation_start, self.elevation_end]),
            *(np.full(2, value) for value in steady.acceleration),
        )


@dataclass(frozen=True)
class StopTime:
    """When the truck stands at a named stop [s]."""

    name: str
    start: float
    end: float


def lay_out(
    stretches: Sequence[Stretch], stops: Sequence[NamedStop], laps: int, elevation: float, seed: int = 0
) -> tuple[list[Piece], list[StopTime]]:
    """Lay laps and stops end to end.

    Parameters
    ----------
    stretches : sequence of Stretch
        One lap.
    stops : sequence of NamedStop
        Stops; several after one lap follow each other in this order.
    laps : int
        Number of laps.
    elevation : float
        Elevation of the start [m].
    seed : int
        Seed of the stretches that are drawn.

    Returns
    -------
    tuple
        Pieces in order, and the stops with their times.
    """
    pieces: list[Piece] = []
    times: list[StopTime] = []

    def add(stretch: Stretch, lap: int, place: int, engine_on: bool) -> None:
        begin = pieces[-1].end if pieces else 0.0
        low = pieces[-1].elevation_end if pieces else elevation
        high = low if stretch.elevation is None else stretch.elevation
        key = (seed, lap, place)
        pieces.append(Piece(begin, begin + stretch.duration, lap, stretch, low, high, engine_on, key))

    for lap in range(laps + 1):
        if lap > 0:
            for place, stretch in enumerate(stretches):
                add(stretch, lap, place, engine_on=True)
        for place, stop in enumerate(stop for stop in stops if stop.after_lap == lap):
            standing = Stretch(stop.duration, 0.0, stop.engine_speed, stop.steering_load, 0.0, None)
            add(standing, max(lap, 1), place, stop.engine_on)
            times.append(StopTime(stop.name, pieces[-1].start, pieces[-1].end))
    return pieces, times
