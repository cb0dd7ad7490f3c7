"""Laps and stops, laid end to end on the race clock."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ullage.duty.draws import DURATION, drawn_duration
from ullage.duty.gears import engine_speeds
from ullage.duty.generator import MARGIN, draw_profile
from ullage.duty.joining import over_ground
from ullage.duty.lock_holds import draw_holds, with_holds
from ullage.duty.profile import Array, Profile, Spread, Stretch

STROKE_TIME = 1.0  # of the ram to a new place [s]


@dataclass(frozen=True)
class NamedStop:
    """A stop after a lap (0: before the first), or at a race time if it has one; SI units.

    `cooler_washed` says that mud is washed off the cooler by its end.
    """

    name: str
    after_lap: int | None
    duration: float
    engine_on: bool
    engine_speed: float
    steering_load: float
    time: float | None = None
    cooler_washed: bool = False


@dataclass(frozen=True)
class Piece:
    """A stretch, a part of one, or a stop in its place on the race clock.

    `key` is seed, lap and number of the stretch in the lap, `ram_start` where the ram is as the stretch begins, `stop`
    the name of a stop. What stops by time made later, or cut, is a part of a `whole` piece of the race without them,
    and `late` by their time [s]. `step` is that at which a drawn steering load is to be seen [s].
    """

    start: float
    end: float
    lap: int
    stretch: Stretch
    elevation_start: float
    elevation_end: float
    engine_on: bool
    key: tuple[int, int, int]
    ram_start: float
    stop: str | None = None
    late: float = 0.0
    whole: Piece | None = None
    step: float = 1.0

    @property
    def finished(self) -> bool:
        """Whether its stretch is done at its end; a stop by time may have cut it."""
        return self.whole is None or self.end >= self.whole.end + self.late - MARGIN

    @cached_property
    def profile(self) -> Profile:
        """Channels of the piece, made when they are first asked for."""
        if self.whole is not None:
            part = _between(self.whole.profile, self.start - self.late, self.end - self.late)
            return part._replace(time=part.time + self.late)
        holds, profile = self.stretch.lock_holds, self._over_ground()
        if holds is None:
            return profile
        return with_holds(profile, draw_holds(holds, self.start, self.end, self.key), holds.load)

    def _over_ground(self) -> Profile:
        """Return the channels with the ground of a track, if there is one, and the gears taken at its speeds."""
        ground, variation = self.stretch.ground, self.stretch.variation
        if ground is None:
            return self._described()
        profile = over_ground(self._described(), ground)
        if ground.vehicle_speed is None or not isinstance(variation, Spread) or variation.gearbox is None:
            return profile
        return profile._replace(engine_speed=engine_speeds(profile.vehicle_speed, variation.gearbox))

    def _described(self) -> Profile:
        """Return the channels as the stretch describes them."""
        steady, variation = self.stretch, self.stretch.variation
        if isinstance(variation, Spread):
            return draw_profile(steady, variation, self.start, self.elevation_start, self.key, self.step)
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

    @property
    def ram(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Race time [s] and position at the start, and where the ram is settled; it takes a second, or half a piece."""
        whole = self.whole or self
        settled = whole.start + min(STROKE_TIME, 0.5 * (whole.end - whole.start))
        times = [self.start, min(max(settled + self.late, self.start), self.end)]
        stroke = [whole.start + self.late, settled + self.late]
        first, last = np.interp(times, stroke, [self.ram_start, self.stretch.steering_position]).tolist()
        return (times[0], first), (times[1], last)

    def resumed(self, start: float, late: float) -> Piece:
        """Return what is left of the piece, driven in the same way from a race time on, later by `late` [s]."""
        whole = self.whole or self
        return replace(self, start=start, end=whole.end + late, late=late, whole=whole)

    def cut(self, time: float) -> tuple[Piece, Piece]:
        """Return what is driven before and after a race time [s] within the piece."""
        height = float(np.interp(time, self.profile.time, self.profile.elevation))
        whole = self.whole or self
        return (
            replace(self, end=time, elevation_end=height, whole=whole),
            replace(self, start=time, elevation_start=height, whole=whole),
        )


def _between(whole: Profile, begin: float, end: float) -> Profile:
    """Return a profile from one time to another."""
    inner = (whole.time > begin + MARGIN) & (whole.time < end - MARGIN)
    ends = [begin, end]

    def part(values: Array) -> Array:
        first, last = np.interp(ends, whole.time, values).tolist()
        return np.concatenate([[first], values[inner], [last]])

    return Profile(np.concatenate([ends[:1], whole.time[inner], ends[1:]]), *map(part, whole[1:]))


@dataclass(frozen=True)
class StopTime:
    """When the truck stands at a named stop [s]."""

    name: str
    start: float
    end: float


def lay_out(
    stretches: Sequence[Stretch],
    stops: Sequence[NamedStop],
    laps: int,
    elevation: float,
    seed: int = 0,
    step: float = 1.0,
    laid_over: Callable[[list[Stretch]], list[Stretch]] | None = None,
) -> tuple[list[Piece], list[StopTime]]:
    """Lay laps and stops end to end.

    Parameters
    ----------
    stretches : sequence of Stretch
        What is driven, in the order of a lap; each in the laps that it names.
    stops : sequence of NamedStop
        Stops; several after one lap follow each other in this order.
    laps : int
        Number of laps.
    elevation : float
        Elevation of the start [m].
    seed : int
        Seed of the stretches that are drawn.
    step : float
        Step at which a drawn steering load is to be seen [s].
    laid_over : callable or None
        What puts the stretches of a lap on their ground.

    Returns
    -------
    tuple
        Pieces in order, and the stops with their times, in order.

    Notes
    -----
    At the time of a stop the truck stands in the middle of what it does, the ram where it is, and drives on from there:
    the drive is that without the stop. A time that falls on the boundary of two pieces puts the stop between them; one
    within another stop, after that; one after the end of the race, at its end.
    """
    pieces: list[Piece] = []

    def add(stretch: Stretch, lap: int, place: int, stop: NamedStop | None) -> None:
        begin = pieces[-1].end if pieces else 0.0
        low = pieces[-1].elevation_end if pieces else elevation
        high = low if stretch.elevation is None else stretch.elevation
        ram = (pieces[-1].stretch if pieces else stretch).steering_position
        engine_on, name = (True, None) if stop is None else (stop.engine_on, stop.name)
        end = begin + stretch.duration
        pieces.append(Piece(begin, end, lap, stretch, low, high, engine_on, (seed, lap, place), ram, name, step=step))

    driven = by_lap(stretches, laps)
    for lap in range(laps + 1):
        described = [_of_this_lap(stretch, seed, lap, place) for place, stretch in driven[lap]]
        lap_driven = laid_over(described) if laid_over and described else described
        for (place, _), stretch in zip(driven[lap], lap_driven, strict=True):
            add(stretch, lap, place, None)
        for place, stop in enumerate(stop for stop in stops if stop.after_lap == lap):
            add(_standing(stop, 0.0), max(lap, 1), place, stop)
    pieces = _with_timed_stops(pieces, stops)
    return pieces, [StopTime(piece.stop, piece.start, piece.end) for piece in pieces if piece.stop is not None]


def by_lap(stretches: Sequence[Stretch], laps: int) -> list[list[tuple[int, Stretch]]]:
    """Return the stretches of every lap with their numbers; nothing is driven in lap 0."""
    driven: list[list[tuple[int, Stretch]]] = [[] for _ in range(laps + 1)]
    for place, stretch in enumerate(stretches):
        for lap in range(stretch.first_lap, min(stretch.last_lap or laps, laps) + 1):
            driven[lap].append((place if stretch.number is None else stretch.number, stretch))
    return driven


def _of_this_lap(stretch: Stretch, seed: int, lap: int, place: int) -> Stretch:
    """Return a stretch with the duration that is drawn for a lap, if there is one to be drawn."""
    if stretch.duration_spread == 0.0:
        return stretch
    duration = drawn_duration(stretch.duration, stretch.duration_spread, seed, lap, place, DURATION)
    return replace(stretch, duration=duration)


def _standing(stop: NamedStop, ram: float) -> Stretch:
    standing = Stretch(stop.duration, 0.0, stop.engine_speed, stop.steering_load, ram, None)
    return replace(standing, cooler_washed=stop.cooler_washed)


def _with_timed_stops(pieces: Sequence[Piece], stops: Sequence[NamedStop]) -> list[Piece]:
    """Put the stops that have a time into a race; what comes later is delayed by them."""
    timed = sorted(((stop.time, stop) for stop in stops if stop.time is not None), key=lambda item: item[0])
    waiting, laid, late = deque(timed), list[Piece](), 0.0
    for piece in pieces:
        rest = piece.resumed(laid[-1].end, late) if late > 0.0 else piece
        while waiting and waiting[0][0] < _latest(rest):
            time, stop = waiting.popleft()
            if time > rest.start + MARGIN:
                begun, rest = rest.cut(time)
                laid.append(begun)
            laid.append(_halt(stop, laid[-1] if laid else None, rest))
            late += stop.duration
            rest = rest.resumed(laid[-1].end, late)
        laid.append(rest)
    for _, stop in waiting:
        laid.append(_halt(stop, laid[-1], laid[-1]))
    return laid


def _latest(piece: Piece) -> float:
    """Return the race time [s] before which a stop by time belongs to a piece, or to the boundary before it."""
    return piece.end - MARGIN if piece.stop is None else piece.start + MARGIN


def _halt(stop: NamedStop, before: Piece | None, after: Piece) -> Piece:
    """Return a stop by time behind a piece, or before the first; the ram stays where it is."""
    if before is None:
        start, height, ram, lap = after.start, after.elevation_start, after.ram_start, after.lap
    else:
        start, height, ram, lap = before.end, before.elevation_end, before.ram[1][1], before.lap
    end, key = start + stop.duration, (0, lap, 0)
    return Piece(start, end, lap, _standing(stop, ram), height, height, stop.engine_on, key, ram, stop.name)
