"""Seeded channels of a stretch: speeds that wander about their means, and steering load in pulses.

The same seed gives the same lap on every machine: numbers come from PCG64 as whole numbers, and only + - * / and square
root touch them, which IEEE 754 rounds in one way. Sums are taken in order or rounded once. A change of any bit is a
results change.
"""

from __future__ import annotations

import math

import numpy as np

from ullage.duty.draws import near_normal, stream, uniform
from ullage.duty.gears import engine_speeds
from ullage.duty.profile import Array, Profile, Spread, Stretch

CORRELATION_TIME = 5.0  # of both speeds [s]; own choice
CLOCK_STEP = 1.0
SHARED, OWN = 0.6, 0.8  # parts of the engine's wandering; gears tie it to that of the vehicle; own choice
FURTHEST = math.sqrt(13.0)  # no wandering goes further, in standard deviations
ENGINE_FURTHEST = (SHARED + OWN) * FURTHEST
SHORTEST_PULSE, LONGEST_PULSE = 0.3, 2.0  # of the steering [s]; own choice
MOST_PULSED = 0.8  # largest share of time in pulses
MEAN_HEIGHT = 1.0 / 3.0  # of a pulse, as a share of the highest
LEAST_LOAD_SPREAD = 1e-9  # [Pa] no pulses below it: their share of the time goes with its square and would vanish
MARGIN = 1e-6  # whole seconds closer to an end are left out [s]


def largest_load_spread(mean: float, peak: float) -> float:
    """Return the largest standard deviation that steering pulses can give.

    Parameters
    ----------
    mean : float
        Mean load [Pa].
    peak : float
        Load that all pulses stay below [Pa].

    Returns
    -------
    float
        Standard deviation [Pa]: the base load is not below zero, and no more than `MOST_PULSED` of the time is pulsed.
    """
    reach = peak - mean
    drop = min(mean, MOST_PULSED * reach / (3.0 - MOST_PULSED))
    return math.sqrt(0.5 * drop * (reach - drop)) if drop > 0.0 else 0.0


def pulse_law(mean: float, spread: float, peak: float) -> tuple[float, float]:
    """Return base load and share of time in pulses that give a mean and a standard deviation.

    Parameters
    ----------
    mean, spread, peak : float
        Mean, standard deviation and upper bound of the load [Pa]; `spread` up to `largest_load_spread`.

    Returns
    -------
    tuple of float
        Base load [Pa], and share of time.

    Notes
    -----
    A pulse has the height `(peak - base) x` over the base; x has the density `2 (1 - x)` on [0, 1), so that low pulses
    are common and high ones rare (own choice), with E[x] = 1/3 and E[x^2] = 1/6. With d = mean - base both moments
    hold if `d^2 - (peak - mean) d + 2 spread^2 = 0`; the smaller root has the rarer, higher pulses.
    """
    reach = peak - mean
    drop = 4.0 * spread * spread / (reach + math.sqrt(reach * reach - 8.0 * spread * spread))
    return mean - drop, drop / (MEAN_HEIGHT * (reach + drop))


def draw_profile(
    stretch: Stretch, spread: Spread, start: float, elevation: float, key: tuple[int, int, int], step: float = 1.0
) -> Profile:
    """Draw the channels of a stretch.

    Parameters
    ----------
    stretch : Stretch
        Means, SI units.
    spread : Spread
        Standard deviations and peak, SI units.
    start : float
        Race time at which it begins [s].
    elevation : float
        Elevation there [m].
    key : tuple of int
        Seed, lap and number of the stretch in the lap. Each key has its own numbers, whatever else the race holds.
    step : float
        Step at which the steering load is to be seen [s]; no more than a second of it counts.

    Returns
    -------
    Profile
        Knots at both ends and at the whole seconds of the race between them; with a shorter step at its multiples too.

    Notes
    -----
    The vehicle speed has its mean exactly, so that the stretch is as long as it says and the race clock does not
    depend on the seed; in a stretch of some ten seconds its spread is therefore less than asked. The load at a knot is
    the mean over the time that is nearest to the knot: energy is kept, while the spread of these means is less than
    that of the load itself (about four fifths of it at one second). Speeds are drawn at whole seconds and linear
    between them, and pulses are drawn before they are cut up: the drive is the same whatever the step.
    """
    bits = stream(*key)
    end = start + stretch.duration
    whole = np.arange(math.floor(start + MARGIN) + CLOCK_STEP, end - MARGIN, CLOCK_STEP)
    time = np.concatenate([[start], whole, [end]])
    vehicle, engine = _wandering(bits, time), _wandering(bits, time)
    vehicle_speed = stretch.vehicle_speed + spread.vehicle_speed * _centred(vehicle, time)
    if spread.gearbox is None:
        engine_speed = stretch.engine_speed + spread.engine_speed * (SHARED * vehicle + OWN * engine)
    else:
        engine_speed = engine_speeds(vehicle_speed, spread.gearbox)
    height = stretch.elevation if stretch.elevation is not None else elevation
    knots = time if step >= CLOCK_STEP else _finer(time, step)
    load = np.full(len(knots), stretch.steering_load)
    if spread.steering_load > LEAST_LOAD_SPREAD:
        load = _pulses(bits, knots, stretch.steering_load, spread)
    return Profile(
        knots,
        np.interp(knots, time, vehicle_speed),
        np.interp(knots, time, engine_speed),
        load,
        elevation + (height - elevation) * ((knots - start) / (end - start)),
        *(np.full(len(knots), value) for value in stretch.acceleration),
    )


def _finer(time: Array, step: float) -> Array:
    """Add the multiples of a step to knots, but for those that are knots already."""
    multiples = step * np.arange(math.floor(time[0] / step), math.ceil(time[-1] / step) + 1)
    multiples = multiples[(multiples > time[0]) & (multiples < time[-1])]
    after = np.searchsorted(time, multiples)
    apart = np.minimum(time[after] - multiples, multiples - time[after - 1])
    return np.sort(np.concatenate([time, multiples[apart > MARGIN]]))


def _wandering(bits: np.random.PCG64, time: Array) -> Array:
    """Return a process of mean 0 and standard deviation 1 that keeps within `FURTHEST`.

    An autoregressive process of first order, z' = k z + g(z) e, with near-normal shocks e = sqrt(3) (u1 + u2 + u3 + u4
    - 2), of variance 1 and at most sqrt(12). The shocks get weaker outwards, g^2 = (1 - k^2) (13 - z^2) / 12: with it
    the variance stays 1 for any step, and z^2 <= 13 follows from Cauchy's inequality. k is exp(-step / correlation
    time) in its rational form. Own choice.
    """
    shocks = near_normal(bits, len(time))
    step = np.diff(time)
    keep = (2.0 * CORRELATION_TIME - step) / (2.0 * CORRELATION_TIME + step)
    strength = np.sqrt((1.0 - keep * keep) / 12.0)
    values = [float(shocks[0])]
    for kept, strong, shock in zip(keep.tolist(), strength.tolist(), shocks[1:].tolist(), strict=True):
        room = max(0.0, 13.0 - values[-1] * values[-1])
        values.append(kept * values[-1] + strong * math.sqrt(room) * shock)
    return np.array(values)


def _centred(values: Array, time: Array) -> Array:
    """Draw a wandering towards its far limit until its mean over the time is zero; it stays within the limits."""
    mean = math.fsum((0.5 * (values[1:] + values[:-1]) * np.diff(time)).tolist()) / (time[-1] - time[0])
    limit = FURTHEST if mean < 0.0 else -FURTHEST
    centred: Array = limit + (values - limit) * (limit / (limit - mean))
    return centred


def _pulses(bits: np.random.PCG64, time: Array, mean: float, spread: Spread) -> Array:
    """Return the mean of the pulsed load over the time nearest to each knot.

    Gaps are uniform from nothing to twice their mean. The stretch begins at a random moment of an endless train of
    pulses, so that the mean holds from the first second on.
    """
    base, share = pulse_law(mean, spread.steering_load, spread.steering_load_peak)
    longest_gap = (SHORTEST_PULSE + LONGEST_PULSE) * (1.0 - share) / share
    edges = np.concatenate([[time[0]], 0.5 * (time[1:] + time[:-1]), [time[-1]]]) - time[0]
    count = int(edges[-1] / SHORTEST_PULSE) + 2
    pulsed, size, left = uniform(bits, 3).tolist()
    gaps = longest_gap * uniform(bits, count)
    lengths = SHORTEST_PULSE + (LONGEST_PULSE - SHORTEST_PULSE) * uniform(bits, count)
    heights = (spread.steering_load_peak - base) * (1.0 - np.sqrt(1.0 - uniform(bits, count)))
    if pulsed < share:
        gaps[0] = 0.0
        lengths[0] = left * _met(size, SHORTEST_PULSE, LONGEST_PULSE)
    else:
        gaps[0] = left * _met(size, 0.0, longest_gap)
    begins = np.cumsum(gaps + lengths) - lengths
    done = np.concatenate([[0.0], np.cumsum(heights * lengths)])
    last = np.searchsorted(begins, edges, side="right")
    current = np.maximum(last - 1, 0)
    begun = np.clip(edges - begins[current], 0.0, lengths[current])
    area = done[current] + heights[current] * begun
    load: Array = base + np.diff(area) / np.diff(edges)
    return load


def _met(share: float, shortest: float, longest: float) -> float:
    """Return the length of what is under way at a random moment; long ones are met more often."""
    return math.sqrt(shortest * shortest + share * (longest * longest - shortest * shortest))
