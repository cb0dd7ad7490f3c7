"""What is driven: a stretch as it is described, and its channels at knots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ACCELERATIONS = ("forward_acceleration", "left_acceleration", "upward_acceleration")


class Profile(NamedTuple):
    """Channels at knots, SI units: linear between knots. `time` is race time; two knots at one time are a jump."""

    time: Array
    vehicle_speed: Array
    engine_speed: Array
    steering_load: Array
    elevation: Array
    forward_acceleration: Array
    left_acceleration: Array
    upward_acceleration: Array


class Gearbox(NamedTuple):
    """Engine over vehicle speed in every gear, lowest first [rad/m]; gears go down and up at these engine speeds."""

    ratios: tuple[float, ...]
    down: float
    up: float


@dataclass(frozen=True)
class LockHolds:
    """How often the wheel is held on the lock in a stretch, how long on average [s], and its load there [Pa]."""

    count: int
    duration: float
    load: float


@dataclass(frozen=True)
class Spread:
    """Standard deviations within a stretch, and the height that steering pulses stay below, SI units.

    With a gearbox the engine turns by gear and vehicle speed, and has no spread of its own.
    """

    vehicle_speed: float
    engine_speed: float
    steering_load: float
    steering_load_peak: float
    gearbox: Gearbox | None = None


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

    `ground_roughness` is 0 for smooth ground and 1 for rough, `water_temperature` that of a crossing, `mud` the share
    of the cooler's core that is covered when the stretch is done, until it is washed at a stop.

    `variation` is None for constant values with an even climb, a `Spread` for values to be drawn, or a `Profile` whose
    time counts from the start of the stretch. `ground`, if there is one, stands before all that it says otherwise.
    `duration_spread` is the standard deviation of its duration.

    It is driven from `first_lap` to `last_lap`, without one to the last of the race. `place` is the
    number of its segment, and `number` that of its random streams, where they are not its place in the list.
    """

    duration: float
    vehicle_speed: float
    engine_speed: float
    steering_load: float
    steering_position: float
    elevation: float | None
    variation: Spread | Profile | None = None
    acceleration: tuple[float, float, float] = (0.0, 0.0, 0.0)
    duration_spread: float = 0.0
    lock_holds: LockHolds | None = None
    ground_roughness: float = 1.0
    water_temperature: float | None = None
    mud: float = 0.0
    cooler_washed: bool = False
    first_lap: int = 1
    last_lap: int | None = None
    place: int | None = None
    number: int | None = None
    ground: Ground | None = None
