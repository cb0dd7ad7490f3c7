"""The wheel held on the lock for some seconds, at drawn moments of a stretch."""

from __future__ import annotations

import numpy as np

from ullage.duty.draws import LOCK_HOLDS, stream, uniform
from ullage.duty.profile import Array, LockHolds, Profile

SHORTEST, LONGEST = 0.5, 1.5  # of a hold, as shares of the mean; own choice


def draw_holds(holds: LockHolds, start: float, end: float, key: tuple[int, int, int]) -> Array:
    """Draw when the wheel is held on the lock.

    Parameters
    ----------
    holds : LockHolds
        How often, and how long on average.
    start, end : float
        The stretch [s]; longer than all holds at their longest.
    key : tuple of int
        Seed, lap and number of the stretch in the lap.

    Returns
    -------
    array
        Begin and end of every hold [s], in order; none overlaps another. Every way to lay them out is as likely.
    """
    bits = stream(*key, LOCK_HOLDS)
    lengths = holds.duration * (SHORTEST + (LONGEST - SHORTEST) * uniform(bits, holds.count))
    free = (end - start - lengths.sum()) * np.sort(uniform(bits, holds.count))
    ends = start + free + np.cumsum(lengths)
    return np.column_stack([ends - lengths, ends])


def with_holds(profile: Profile, holds: Array, load: float) -> Profile:
    """Put holds into the channels of a stretch.

    Parameters
    ----------
    profile : Profile
        Channels without them; no two knots at one time.
    holds : array
        Begin and end of every hold [s], in order.
    load : float
        Steering load of a wheel on the lock [Pa].

    Returns
    -------
    Profile
        The load jumps at both ends of a hold, two knots at one time; all else, and the load elsewhere, is as before.
    """
    edges = holds.ravel()
    places = np.repeat(np.searchsorted(profile.time, edges), 2)
    twice = np.repeat(edges, 2)
    time = np.insert(profile.time, places, twice)
    channels = {
        name: np.insert(values, places, np.interp(twice, profile.time, values))
        for name, values in profile._asdict().items()
    }
    begun, done = (np.searchsorted(holds[:, column], time, side="right") for column in (0, 1))
    held = begun > done
    # of the two knots at a begin the first is before it, of the two at an end the first is still within
    begins = np.searchsorted(time, holds[:, 0])
    ends = np.searchsorted(time, holds[:, 1])
    held[begins], held[ends] = False, True
    channels["steering_load"] = np.where(held, load, channels["steering_load"])
    return Profile(**{**channels, "time": time})
