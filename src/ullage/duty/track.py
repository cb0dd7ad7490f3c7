"""A track: elevation over the distance along the ground, and speed over time if its points have times."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np

from ullage.duty.fixes import Driven, driven
from ullage.duty.gpx import Points, TrackError, digest_of, read_points
from ullage.duty.profile import Array
from ullage.errors import Fault

CELLS = 5  # of a mean, odd: a mean over a length has so many cells
CLOCK_STEP = 1.0  # of a speed; it is the mean over `CELLS` of them [s]; own choice
MOST_KNOTS = 200_000
SHORTEST_TRACK = 100.0  # [m]


@dataclass(frozen=True)
class Track:
    """A track at knots, SI units, linear between them. Equal bytes are equal tracks.

    `distance` is along the ground, level, from 0; it grows from knot to knot except where a truck stands. `time` counts
    from the first point and increases; it and `speed` are None if the file has no times. `distance` is the integral of
    `speed`. `begins_at` is the POSIX time of the first point, `notes` are sentences on what was mended.
    """

    digest: str
    distance: Array = field(compare=False)
    elevation: Array = field(compare=False)
    speed: Array | None = field(compare=False)
    time: Array | None = field(compare=False)
    begins_at: float | None = field(compare=False)
    points: int = field(compare=False)
    notes: tuple[str, ...] = field(compare=False)

    @property
    def length(self) -> float:
        """Length along the ground [m]."""
        return float(self.distance[-1])

    @property
    def climb(self) -> float:
        """Sum of all rises [m]."""
        return _climb(self.elevation)


class Part(NamedTuple):
    """The part of a track that is wanted: distances [m], or times from its first point [s]. None is no limit."""

    begin: float | None = None
    end: float | None = None
    by_time: bool = False


def read_track(path: Path, smoothing: float, part: Part) -> Track:
    """Read a track from a GPX file.

    Parameters
    ----------
    path : Path
        GPX 1.1.
    smoothing : float
        Length over which elevations are averaged, twice [m].
    part : Part
        What is wanted of it.

    Returns
    -------
    Track
        The track, with notes on all that was mended.

    Raises
    ------
    TrackError
        If the file is no usable track.
    """
    return _read(path, digest_of(path), smoothing, part)


@functools.lru_cache(maxsize=4)
def _read(path: Path, _digest: str, smoothing: float, part: Part) -> Track:
    """Return a track, made once for the bytes of a file: scenarios are made again and again."""
    try:
        return track_of(read_points(path), smoothing, part)
    except ValueError as error:
        raise TrackError([Fault(str(path), None, "", str(error))]) from None


def track_of(points: Points, smoothing: float, part: Part) -> Track:
    """Make a track of track points, as `read_track` does; a ValueError says why there is none."""
    notes: list[str] = []
    whole = _part(driven(points, notes), part)
    if whole.distance[-1] < SHORTEST_TRACK:
        raise ValueError(f"is {whole.distance[-1]:.3g} m long; a lap takes {SHORTEST_TRACK:g} m or more")
    places, heights = _level(whole, smoothing)
    rough, smooth = _climb(whole.elevation), _climb(heights)
    notes.append(
        f"elevation is its mean over {smoothing:g} m, taken twice: climbs {smooth:.0f} m in place of {rough:.0f} m"
    )
    if whole.time is None:
        speed, distance, elevation, time = None, places, heights, None
    else:
        time, speed = _speeds(whole.distance, whole.time)
        distance = integral(speed, time)
        elevation = np.interp(distance, places, heights)
    count = len(whole.distance)
    return Track(points.digest, distance, elevation, speed, time, whole.begins_at, count, tuple(notes))


def integral(values: Array, at: Array) -> Array:
    """Return the integral of values that are linear between knots, from the first knot to each."""
    return np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(at))])


def _climb(elevation: Array) -> float:
    return float(np.maximum(np.diff(elevation), 0.0).sum())


def _part(whole: Driven, part: Part) -> Driven:
    """Return a part of what was driven, from distance 0 and time 0 on."""
    if part.begin is None and part.end is None:
        return whole
    scale, unit = (whole.time, "s") if part.by_time else (whole.distance, "m")
    if scale is None:
        raise ValueError("has no times: cut it by distance, with begin and end")
    last = float(scale[-1])
    begin = 0.0 if part.begin is None else part.begin
    end = last if part.end is None else part.end
    if not begin < end <= last * (1.0 + 1e-9):
        raise ValueError(f"has no part from {begin:.6g} {unit} to {end:.6g} {unit}: it is {last:.6g} {unit} long")
    # without a limit, what is at the same distance as the end belongs to the part
    inner = (scale > begin if part.begin is not None else scale > -1.0) & (scale < end)
    inner |= (part.end is None) & (scale >= end)

    def cut(values: Array) -> Array:
        first = [] if part.begin is None else [np.interp(begin, scale, values)]
        rest = [] if part.end is None else [np.interp(end, scale, values)]
        return np.concatenate([first, values[inner], rest])

    distance, elevation = cut(whole.distance), cut(whole.elevation)
    if whole.time is None or whole.begins_at is None:
        return Driven(distance - distance[0], elevation, None, None)
    time = cut(whole.time)
    return Driven(distance - distance[0], elevation, time - time[0], whole.begins_at + float(time[0]))


def _level(whole: Driven, smoothing: float) -> tuple[Array, Array]:
    """Return distances, and elevations without their noise; the mean elevation over the distance is kept."""
    places, number = np.unique(whole.distance, return_inverse=True)
    heights = np.bincount(number, weights=whole.elevation) / np.bincount(number)
    edges = _edges(float(places[-1]), smoothing / CELLS)
    finer = np.union1d(places, edges)
    area = integral(np.interp(finer, places, heights), finer)
    cells = np.diff(np.interp(edges, finer, area)) / np.diff(edges)
    return _at_knots(edges, _averaged(_averaged(cells)))


def _speeds(distance: Array, time: Array) -> tuple[Array, Array]:
    """Return times and the speed at them, whose integral is the distance."""
    edges = _edges(float(time[-1]), CLOCK_STEP)
    return _at_knots(edges, _averaged(np.diff(np.interp(edges, time, distance)) / np.diff(edges)))


def _edges(length: float, step: float) -> Array:
    """Return the edges of even cells that are about a step long."""
    return np.linspace(0.0, length, min(math.ceil(length / step), MOST_KNOTS) + 1)


def _averaged(cells: Array) -> Array:
    """Return the mean over `CELLS` cells around each; beyond the ends they are mirrored, so that their sum is kept."""
    mirrored = np.pad(cells, CELLS // 2, mode="symmetric")
    return np.convolve(mirrored, np.full(CELLS, 1.0 / CELLS), mode="valid")


def _at_knots(edges: Array, cells: Array) -> tuple[Array, Array]:
    """Return knots at both ends and in the middle of cells, and values with the integral of the cells."""
    middle = 0.5 * (edges[1:] + edges[:-1])
    knots = np.concatenate([edges[:1], middle, edges[-1:]])
    return knots, np.concatenate([cells[:1], cells, cells[-1:]])
