"""Words for ground and steering, and the numbers that they stand for: own choice, no measured values.

Pulses stay below the usual setting of the relief: a wheel that is held against it is a lock hold.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

SurfaceWord = Literal["dry lake", "hard pack", "gravel", "two-track", "sand", "silt", "whoops", "rock"]
SteeringWord = Literal["light", "medium", "heavy", "severe"]

_BAR = 1e5


class Surface(NamedTuple):
    """What a ground does: its roughness over the usual, spreads as shares of mean speeds, and the steering on it."""

    ground_roughness: float
    vehicle_speed_share: float
    engine_speed_share: float
    steering: SteeringWord


class Severity(NamedTuple):
    """Steering load: mean, standard deviation, and what its pulses stay below [Pa]."""

    load: float
    spread: float
    peak: float


SURFACES: dict[SurfaceWord, Surface] = {
    "dry lake": Surface(0.2, 0.06, 0.05, "light"),
    "hard pack": Surface(0.4, 0.12, 0.08, "light"),
    "gravel": Surface(0.6, 0.12, 0.10, "light"),
    "two-track": Surface(0.9, 0.15, 0.10, "medium"),
    "sand": Surface(0.6, 0.15, 0.12, "medium"),
    "silt": Surface(0.5, 0.16, 0.12, "heavy"),
    "whoops": Surface(1.6, 0.16, 0.12, "heavy"),
    "rock": Surface(1.2, 0.20, 0.15, "severe"),
}

STEERING: dict[SteeringWord, Severity] = {
    "light": Severity(7 * _BAR, 5 * _BAR, 45 * _BAR),
    "medium": Severity(15 * _BAR, 12 * _BAR, 90 * _BAR),
    "heavy": Severity(25 * _BAR, 14 * _BAR, 95 * _BAR),
    "severe": Severity(45 * _BAR, 16 * _BAR, 100 * _BAR),
}
