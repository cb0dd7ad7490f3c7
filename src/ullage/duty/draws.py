"""Random numbers of a race: each part of it has a stream of its own, made of the seed and a key.

Numbers come from PCG64 as whole numbers, and only + - * / and square root touch them: the same on every machine. A
stream that is added takes nothing from the others. A change of any bit is a results change.
"""

from __future__ import annotations

import math

import numpy as np

from ullage.duty.profile import Array

# last part of a key, after lap and place; speeds and steering load have keys without one
LOCK_HOLDS, DURATION, STOP_DURATION = 1, 2, 3
FURTHEST_SHOCK = math.sqrt(12.0)


def stream(seed: int, *key: int) -> np.random.PCG64:
    """Return the stream of a part of a race.

    Parameters
    ----------
    seed : int
        Seed of the race.
    *key : int
        What the numbers are for: lap, place in the lap, and kind.

    Returns
    -------
    numpy.random.PCG64
        Where its numbers come from, in order.
    """
    return np.random.PCG64(np.random.SeedSequence(seed, spawn_key=key))


def uniform(bits: np.random.PCG64, count: int) -> Array:
    """Return numbers in [0, 1), whole multiples of 2**-53."""
    return (bits.random_raw(count) >> np.uint64(11)).astype(np.float64) * 2.0**-53


def near_normal(bits: np.random.PCG64, count: int) -> Array:
    """Return sums of four uniform numbers, of mean 0 and variance 1, at most `FURTHEST_SHOCK` from 0."""
    shocks: Array = math.sqrt(3.0) * (uniform(bits, 4 * count).reshape(4, -1) - 0.5).cumsum(axis=0)[-1]
    return shocks


def drawn_duration(mean: float, spread: float, seed: int, *key: int) -> float:
    """Draw how long something takes.

    Parameters
    ----------
    mean, spread : float
        Mean and standard deviation [s].
    seed, *key : int
        As for `stream`.

    Returns
    -------
    float
        Duration [s], cut off at the shortest and as far above the mean, so that the mean is kept; the mean itself
        without a spread.
    """
    if spread == 0.0:
        return mean
    room = mean - _shortest(mean)
    return mean + min(max(spread * float(near_normal(stream(seed, *key), 1)[0]), -room), room)


def shortest_duration(mean: float, spread: float) -> float:
    """Return the shortest duration [s] that can be drawn."""
    return max(_shortest(mean), mean - spread * FURTHEST_SHOCK)


def _shortest(mean: float) -> float:
    """Return what no drawn duration is below [s]: a second or a tenth of the mean; own choice."""
    return min(mean, max(1.0, 0.1 * mean))
