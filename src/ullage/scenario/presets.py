"""Oils by public grade. Values are typical of the grade, no maker's data."""

from __future__ import annotations

from typing import Literal, NamedTuple

Preset = Literal["ISO VG 22", "ISO VG 32", "ISO VG 46", "ISO VG 68", "ATF"]


class Grade(NamedTuple):
    """Kinematic viscosities at 40 and 100 degC [m2 s-1] and density at 15 degC [kg m-3]."""

    viscosity_40: float
    viscosity_100: float
    density_15: float


GRADES: dict[Preset, Grade] = {
    # ISO 3448 fixes the mid-point viscosity at 40 degC; values at 100 degC and densities are typical, from memory
    "ISO VG 22": Grade(22e-6, 4.3e-6, 865.0),
    "ISO VG 32": Grade(32e-6, 5.4e-6, 870.0),
    "ISO VG 46": Grade(46e-6, 6.8e-6, 875.0),
    "ISO VG 68": Grade(68e-6, 8.7e-6, 880.0),
    # a generic automatic-transmission-type fluid; typical values, from memory
    "ATF": Grade(34e-6, 7.3e-6, 870.0),
}
