"""What is driven: a stretch as it is described, and its channels at knots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ACCELERATIONS = ("forward_acceleration", "left_acceleration", "upward_acceleration")


class Profile(NamedTuple):
    """Channels at knots, SI units: linear between knots. `time` is race time and increases."""

    time: Array
    vehicle_speed: Array
    engine_speed: Array
    steering_load: Array
    elevation: Array
    forward_acceleration: Array
    left_acceleration: Array
    upward_acceleration: Array


@dataclass(frozen=True)
class Spread:
    """Standard deviations within a stretch, and the height that steering pulses stay below, SI units."""

    vehicle_speed: float
    engine_speed: float
    steering_load: float
    steering_load_peak: float


class Ground(NamedTuple):
    """What a track says of a stretch, at knots from its start, SI units.

    `time` and `vehicle_speed` are None where the stretch says how fast it is driven.
    """

    distance: Array
    elevation: Array
    time: Array | None
    vehicle_speed: Array | None


@dataclass(frozen=True)
class Stretch:
    """A stretch of a lap, SI units: means, the elevation at its end, and the acceleration forward, left and up.

    `variation` is None for constant values with an even climb, a `Spread` for values to be drawn, or a `Profile` whose
    time counts from the start of the stretch. `ground`, if there is one, stands before all that it says otherwise.
    """

    duration: float
    vehicle_speed: float
    engine_speed: float
    steering_load: float
    steering_position: float
    elevation: float | None
    variation: Spread | Profile | None = None
    acceleration: tuple[float, float, float] = (0.0, 0.0, 0.0)
    ground: Ground | None = None
