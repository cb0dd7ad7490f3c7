"""From track points to what was driven: points in order, no jumps, places to stand, distance along the ground."""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from ullage.duty.gpx import Points
from ullage.duty.profile import Array

FASTEST, POSITION_NOISE = 90.0, 20.0  # a step beyond 90 m/s and the noise of two positions is a jump [m s-1, m]
STANDS_FOR, STANDS_WITHIN, STAYS_WITHIN = 20.0, 15.0, 30.0  # where a truck stands [s, m, m]; own choice
SHORTEST_CHORD = 10.0  # distance is counted in chords of no less [m]; own choice
LONGEST_GAP = 10.0  # what is not told [s]
SPIKE = 100.0  # an elevation so far from the middle one of five is a spike [m]; own choice
LONGEST_TIME = 48 * 3600.0
EQUATOR = 6378137.0  # equatorial radius of WGS 84 [m]
FLATTENING = 1.0 / 298.257223563
_SHARES = (0.25, 0.5, 0.75, 1.0)

Chosen = NDArray[np.bool_] | NDArray[np.int64]


class Driven(NamedTuple):
    """What was driven, at points: distance [m], elevation [m], time from the first [s], and the first's POSIX time."""

    distance: Array
    elevation: Array
    time: Array | None
    begins_at: float | None


class _Fixes(NamedTuple):
    """Points: geocentric places [m], elevation [m], POSIX time or None."""

    place: Array
    elevation: Array
    time: Array | None

    def chosen(self, which: Chosen) -> _Fixes:
        """Return some of the points."""
        return _Fixes(self.place[which], self.elevation[which], None if self.time is None else self.time[which])


def places(latitude: Array, longitude: Array) -> Array:
    """Return geocentric coordinates on the ellipsoid.

    Parameters
    ----------
    latitude, longitude : array
        Geodetic, WGS 84 [degrees].

    Returns
    -------
    array
        x, y, z [m]. The straight distance of two places is that along the ground within 1e-5 up to 100 km.

    References
    ----------
    .. [1] NIMA TR8350.2, Department of Defense World Geodetic System 1984, 3rd ed. (2000): constants, and section 4.3.
    """
    squared = FLATTENING * (2.0 - FLATTENING)
    north, east = np.radians(latitude), np.radians(longitude)
    radius = EQUATOR / np.sqrt(1.0 - squared * np.sin(north) ** 2)
    across = radius * np.cos(north)
    return np.column_stack([across * np.cos(east), across * np.sin(east), (1.0 - squared) * radius * np.sin(north)])


def driven(points: Points, notes: list[str]) -> Driven:
    """Return what was driven over track points.

    Parameters
    ----------
    points : Points
        Points in the order of the file.
    notes : list of str
        Gets a sentence on everything that was mended.

    Returns
    -------
    Driven
        Points that are left; the distance never falls.

    Raises
    ------
    ValueError
        If nothing of use is left; a sentence.

    Notes
    -----
    Own choices. Of points whose times do not increase as few as possible are left out. Steps that are too fast cut the
    track into runs; from the longest one outwards, runs that cannot be reached from what is kept are left out. A truck
    stands where it gets no further than `STANDS_WITHIN` in `STANDS_FOR`, and stays within `STAYS_WITHIN` of the middle
    in all; its points then have one place. Distance is counted from point to point at least `SHORTEST_CHORD` away, so
    that wandering does not add up; the points between share it.
    """
    _tell_origin(points, notes)
    fixes = _in_order(points, notes)
    if fixes.time is not None:
        if fixes.time[-1] - fixes.time[0] > LONGEST_TIME:
            hours = (fixes.time[-1] - fixes.time[0]) / 3600.0
            raise ValueError(f"lasts {hours:.4g} h from first to last point; the limit is {LONGEST_TIME / 3600:g} h")
        fixes, time = _without_jumps(fixes, fixes.time, notes)
        fixes = fixes._replace(place=_at_rest(fixes.place, time, notes))
    path = _added(_steps(fixes.place))
    distance = _counted(fixes.place, path)
    elevation = _mended(fixes.elevation, path, notes)
    if fixes.time is None:
        return Driven(distance, elevation, None, None)
    _tell_gaps(fixes.time, distance, notes)
    return Driven(distance, elevation, fixes.time - fixes.time[0], float(fixes.time[0]))


def counted(number: int, what: str) -> str:
    """Return a number of things in words."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _tell_origin(points: Points, notes: list[str]) -> None:
    segments = len(np.unique(points.piece))
    if segments > 1:
        tracks = f"{counted(points.tracks, 'track')} with " if points.tracks > 1 else ""
        notes.append(
            f"{tracks}{segments} segments: joined in the order of the file, driven straight from one to the next"
        )
    if points.without_zone:
        notes.append(f"{counted(points.without_zone, 'time')} without a time zone: taken as UTC")


def _in_order(points: Points, notes: list[str]) -> _Fixes:
    """Return the points in order of time; without times, if less than half of them have one."""
    fixes = _Fixes(places(points.latitude, points.longitude), points.elevation, points.time)
    has_time = np.isfinite(points.time)
    count, missing = len(has_time), int(np.count_nonzero(~has_time))
    if 2 * missing > count:
        few = "no times" if missing == count else f"times at {count - missing} of {counted(count, 'point')} only"
        notes.append(f"{few}: nothing is known of speed, and neither stands nor jumps of position can be found")
        return fixes._replace(time=None)
    if missing:
        notes.append(f"{counted(missing, 'point')} without a time: left out")
        fixes = fixes.chosen(has_time)
    time = points.time[has_time]
    if np.all(np.diff(time) > 0.0):
        return fixes
    kept = _longest_increasing(time.tolist())
    notes.append(f"{counted(len(time) - len(kept), 'point')} out of the order of time, or at the same time: left out")
    if len(kept) < 2:
        raise ValueError("all points have the same time, or run backwards")
    return fixes.chosen(kept)


def _longest_increasing(values: list[float]) -> NDArray[np.int64]:
    """Return the places of a longest sequence of values that increases (patience sorting)."""
    tails: list[float] = []
    ends: list[int] = []
    before = [-1] * len(values)
    for place, value in enumerate(values):
        rank = bisect.bisect_left(tails, value)
        before[place] = ends[rank - 1] if rank else -1
        tails[rank : rank + 1] = [value]
        ends[rank : rank + 1] = [place]
    chain, place = [], ends[-1]
    while place >= 0:
        chain.append(place)
        place = before[place]
    return np.array(chain[::-1], dtype=np.int64)


def _steps(place: Array) -> Array:
    steps: Array = np.sqrt(np.sum(np.diff(place, axis=0) ** 2, axis=1))
    return steps


def _added(steps: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(steps)])


def _without_jumps(fixes: _Fixes, time: Array, notes: list[str]) -> tuple[_Fixes, Array]:
    jumps = np.flatnonzero(_steps(fixes.place) > FASTEST * np.diff(time) + POSITION_NOISE) + 1
    if len(jumps) == 0:
        return fixes, time
    firsts, lasts = [0, *jumps.tolist()], [*(jumps - 1).tolist(), len(time) - 1]
    keep = np.zeros(len(time), dtype=bool)
    for run in _reached(firsts, lasts, fixes.place.tolist(), time.tolist()):
        keep[firsts[run] : lasts[run] + 1] = True
    lost = int(np.count_nonzero(~keep))
    if 2 * lost > len(keep):
        raise ValueError(f"cannot be driven: {lost} of {len(keep)} points are only reached faster than {FASTEST:g} m/s")
    notes.append(f"{counted(lost, 'point')} that could only be reached faster than {FASTEST:g} m/s: left out")
    return fixes.chosen(keep), time[keep]


def _reached(firsts: list[int], lasts: list[int], place: list[list[float]], time: list[float]) -> Iterator[int]:
    """Go through the runs that are kept: the longest, and those that can be reached from what is kept."""
    longest = max(range(len(firsts)), key=lambda run: lasts[run] - firsts[run])
    yield longest
    for order, leave, enter in (
        (range(longest + 1, len(firsts)), lasts, firsts),
        (range(longest)[::-1], firsts, lasts),
    ):
        end = leave[longest]
        for run in order:
            reach = FASTEST * abs(time[enter[run]] - time[end]) + POSITION_NOISE
            if math.dist(place[enter[run]], place[end]) <= reach:
                yield run
                end = leave[run]


def _at_rest(place: Array, time: Array, notes: list[str]) -> Array:
    """Return the places with one for each stand."""
    near = time + STANDS_FOR <= time[-1]
    for share in _SHARES:
        later = np.column_stack([np.interp(time + share * STANDS_FOR, time, values) for values in place.T])
        near &= np.sum((later - place) ** 2, axis=1) <= STANDS_WITHIN**2
    ends = np.searchsorted(time, time[near] + STANDS_FOR, side="right")
    change = np.bincount(np.flatnonzero(near), minlength=len(time) + 1) - np.bincount(ends, minlength=len(time) + 1)
    within = np.concatenate([[False], np.cumsum(change)[:-1] > 0, [False]])
    edges = np.flatnonzero(np.diff(within)).reshape(-1, 2)
    rested, stood = place.copy(), list[float]()
    for first, end in edges.tolist():
        middle = np.median(place[first:end], axis=0)
        away = np.sqrt(np.sum((place[first:end] - middle) ** 2, axis=1))
        inner = first + np.flatnonzero(away <= 0.5 * STANDS_WITHIN)
        span = float(time[inner[-1]] - time[inner[0]]) if len(inner) else 0.0
        if span >= 0.5 * STANDS_FOR and away.max() <= STAYS_WITHIN:
            rested[inner[0] : inner[-1] + 1] = middle
            stood.append(span)
    if stood:
        what = f"stands {counted(len(stood), 'time')}, {sum(stood) / 60.0:.3g} min in all"
        rule = f"points that get no further than {STANDS_WITHIN:g} m in {STANDS_FOR:g} s are one place"
        notes.append(f"{what}: {rule}")
    return rested


def _counted(place: Array, path: Array) -> Array:
    """Return the distance at every point, counted in chords."""
    spots = place.tolist()
    corners, chords, last = [0], [0.0], spots[0]
    for number, spot in enumerate(spots):
        chord = math.dist(spot, last)
        if chord >= SHORTEST_CHORD or number == len(spots) - 1:
            corners.append(number)
            chords.append(chord)
            last = spot
    distance: Array = np.interp(path, path[corners], np.cumsum(chords))
    return distance


def _mended(elevation: Array, path: Array, notes: list[str]) -> Array:
    """Return elevations with those that are missing, or spikes, filled evenly over the distance."""
    there = np.isfinite(elevation)
    if not there.any():
        raise ValueError("has no elevations: take a track with <ele>, or do without a track")
    if missing := int(np.count_nonzero(~there)):
        notes.append(f"{counted(missing, 'elevation')} missing or impossible: filled evenly from those around")
    around = sliding_window_view(np.pad(elevation[there], 2, mode="edge"), 5)
    spike = np.abs(elevation[there] - np.median(around, axis=1)) > SPIKE
    if spikes := int(np.count_nonzero(spike)):
        notes.append(f"{counted(spikes, 'elevation')} off by more than {SPIKE:g} m: filled evenly from those around")
        there[np.flatnonzero(there)[spike]] = False
    filled: Array = np.interp(path, path[there], elevation[there])
    return filled


def _tell_gaps(time: Array, distance: Array, notes: list[str]) -> None:
    gaps = np.diff(time)[(np.diff(time) > LONGEST_GAP) & (np.diff(distance) > 0.0)]
    if len(gaps):
        notes.append(
            f"{counted(len(gaps), 'gap')} of more than {LONGEST_GAP:g} s, longest {gaps.max():.4g} s: "
            "driven straight and at an even speed"
        )
