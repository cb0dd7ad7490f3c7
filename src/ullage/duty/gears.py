"""The engine turns by gear and vehicle speed; gears are changed at the ends of a band of engine speed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ullage.duty.profile import Array, Gearbox
from ullage.kernel.inputs import STANDING_SPEED

IDLE = 900.0 * math.pi / 30.0  # of the engine of a truck that stands [rad s-1]; own choice


def gears_taken(vehicle_speed: Array, gearbox: Gearbox) -> NDArray[np.int64]:
    """Return the gear at every knot, 0 the lowest.

    Parameters
    ----------
    vehicle_speed : array
        Vehicle speed at the knots of a stretch, in order [m s-1].
    gearbox : Gearbox
        Ratios, and where gears are changed.

    Returns
    -------
    array of int
        It begins in the lowest gear that turns the engine no faster than the upper end of the band. A gear is kept
        while it keeps the engine within the band.
    """
    gear, last, taken = 0, len(gearbox.ratios) - 1, []
    for speed in vehicle_speed.tolist():
        while gear < last and gearbox.ratios[gear] * speed > gearbox.up:
            gear += 1
        while gear > 0 and gearbox.ratios[gear] * speed < gearbox.down:
            gear -= 1
        taken.append(gear)
    return np.array(taken, dtype=np.int64)


def engine_speeds(vehicle_speed: Array, gearbox: Gearbox) -> Array:
    """Return the engine speed at every knot.

    Parameters
    ----------
    vehicle_speed : array
        Vehicle speed at the knots of a stretch, in order [m s-1].
    gearbox : Gearbox
        Ratios, and where gears are changed.

    Returns
    -------
    array
        Engine speed [rad s-1]. A truck that stands idles. Too slow for the lowest gear, clutch or converter slips and
        the engine stays at the lower end of the band; in the highest gear nothing holds it at the upper end. A change
        takes from one knot to the next.
    """
    ratios = np.array(gearbox.ratios)[gears_taken(vehicle_speed, gearbox)]
    driven = np.maximum(ratios * vehicle_speed, gearbox.down)
    return np.where(vehicle_speed < STANDING_SPEED, min(IDLE, gearbox.down), driven)
