"""A track beside a lap: joined by distance, each stretch over its part of the ground; or by time, row by row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ullage.duty.profile import Array, Ground, Profile, Stretch
from ullage.duty.track import Track, integral


def planned_length(lap: Sequence[Stretch]) -> float:
    """Return how far a lap goes as it is described [m]."""
    return sum(stretch.duration * stretch.vehicle_speed for stretch in lap)


def joined_by_distance(lap: Sequence[Stretch], track: Track, *, driven: bool) -> list[Stretch]:
    """Lay a lap over a track.

    Parameters
    ----------
    lap : sequence of Stretch
        All stretches of one lap, in order.
    track : Track
        The track, one lap of it.
    driven : bool
        Whether the track says how fast it is driven; it then has times.

    Returns
    -------
    list of Stretch
        The stretches with their ground. All lengths are scaled alike, so that the lap is as long as the track; speeds
        stay, durations follow, but not those of recorded stretches. What has no speed stands still at its place.
    """
    lengths = np.array([stretch.duration * stretch.vehicle_speed for stretch in lap])
    ends = np.cumsum(lengths) * (track.length / max(float(lengths.sum()), 1e-9))
    starts = np.concatenate([[0.0], ends[:-1]])
    last = np.flatnonzero(lengths > 0.0)
    ends[last[-1] if len(last) else 0 :] = track.length
    return [
        _laid(stretch, _ground(track, float(start), float(end), driven=driven))
        for stretch, start, end in zip(lap, starts, ends, strict=True)
    ]


def _laid(stretch: Stretch, ground: Ground) -> Stretch:
    """Return a stretch over its ground, with the duration and the mean speed that this makes."""
    length, height = float(ground.distance[-1]), float(ground.elevation[-1])
    if length == 0.0 or isinstance(stretch.variation, Profile):
        return replace(stretch, elevation=height, ground=ground)
    duration = length / stretch.vehicle_speed if ground.time is None else float(ground.time[-1])
    return replace(stretch, duration=duration, vehicle_speed=length / duration, elevation=height, ground=ground)


def _ground(track: Track, start: float, end: float, *, driven: bool) -> Ground:
    """Return what a track says from one distance to another."""
    if start == end:
        height = np.full(1, np.interp(start, track.distance, track.elevation))
        return Ground(np.zeros(1), height, None, None)
    if not driven or track.time is None or track.speed is None:
        at = _inside(track.distance, start, end)
        return Ground(at - start, np.interp(at, track.distance, track.elevation), None, None)
    begun = 0.0 if start == 0.0 else float(np.interp(start, track.distance, track.time))
    done = float(track.time[-1]) if end == track.length else float(np.interp(end, track.distance, track.time))
    at = _inside(track.time, begun, done)
    distance, elevation, speed = (
        np.interp(at, track.time, values) for values in (track.distance, track.elevation, track.speed)
    )
    return Ground(np.clip(distance, start, end) - start, elevation, at - begun, speed)


def _inside(knots: Array, start: float, end: float) -> Array:
    inner = knots[(knots > start) & (knots < end)]
    return np.concatenate([[start], inner, [end]])


def over_ground(profile: Profile, ground: Ground) -> Profile:
    """Put the ground under the channels of a stretch.

    Parameters
    ----------
    profile : Profile
        Channels as the stretch describes them, on the race clock.
    ground : Ground
        What the track says.

    Returns
    -------
    Profile
        Channels with the elevation of the ground, at the share of the way that is done at every knot; with the vehicle
        speed of the ground too if it says so. Where the stretch has knots at its ends only, the ground adds its own.
    """
    begin, end = float(profile.time[0]), float(profile.time[-1])
    if ground.time is not None and ground.vehicle_speed is not None:
        clock = np.clip(begin + ground.time, begin, end)
        finer = _refined(profile, clock)
        speed = np.interp(finer.time, clock, ground.vehicle_speed)
        return finer._replace(vehicle_speed=speed, elevation=np.interp(finer.time, clock, ground.elevation))
    way = float(ground.distance[-1])
    if way == 0.0:
        return profile._replace(elevation=np.full(len(profile.time), ground.elevation[0]))
    if len(profile.time) == 2:
        profile = _refined(profile, begin + (end - begin) * (ground.distance / way))
    travelled = integral(profile.vehicle_speed, profile.time)
    share = travelled / max(float(travelled[-1]), 1e-9)
    return profile._replace(elevation=np.interp(share * way, ground.distance, ground.elevation))


def _refined(profile: Profile, clock: Array) -> Profile:
    """Return a profile with knots at the times of a clock too; its jumps stay."""
    more = np.setdiff1d(clock, profile.time)
    place = np.searchsorted(profile.time, more)
    return Profile(*(np.insert(values, place, np.interp(more, profile.time, values)) for values in profile))


def joined_by_time(stretch: Stretch, track: Track, offset: float, *, driven: bool) -> Stretch:
    """Lay a recorded stretch over a track.

    Parameters
    ----------
    stretch : Stretch
        The recorded lap; it varies by a `Profile`.
    track : Track
        The track; it has times.
    offset : float
        Track time at which the recording begins [s].
    driven : bool
        Whether the track says how fast it is driven.

    Returns
    -------
    Stretch
        With the elevation, and the vehicle speed if it is driven, that the track has at the time of every row.
    """
    profile = stretch.variation
    if not isinstance(profile, Profile) or track.time is None or track.speed is None:
        return stretch
    at = offset + profile.time
    profile = profile._replace(elevation=np.interp(at, track.time, track.elevation))
    if driven:
        profile = profile._replace(vehicle_speed=np.interp(at, track.time, track.speed))
    mean = float(integral(profile.vehicle_speed, profile.time)[-1]) / stretch.duration
    return replace(stretch, vehicle_speed=mean, elevation=float(profile.elevation[-1]), variation=profile)
