"""Standard atmosphere by geometric elevation, and air density."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics.air import GAS_CONSTANT

GRAVITY = 9.80665


@compiled
def pressure(elevation: float) -> float:
    """Return the standard ambient pressure at an elevation.

    Parameters
    ----------
    elevation : float
        Geometric elevation above sea level [m]; -2000 to 11000.

    Returns
    -------
    float
        Absolute pressure [Pa]. The weather moves it by some 2 %.

    References
    ----------
    ISO 2533:1975, troposphere; geopotential altitude `H = 6356766 h / (6356766 + h)`.
    """
    geopotential = 6356766.0 * elevation / (6356766.0 + elevation)
    return 101325.0 * math.pow(1.0 - 0.0065 * geopotential / 288.15, 5.25588)


@compiled
def air_density(ambient_pressure: float, temperature: float) -> float:
    """Return the density of dry air.

    Parameters
    ----------
    ambient_pressure : float
        Absolute pressure [Pa].
    temperature : float
        Air temperature [K].

    Returns
    -------
    float
        Density [kg m-3].

    References
    ----------
    Ideal gas, ISO 2533 gas constant.
    """
    return ambient_pressure / (GAS_CONSTANT * temperature)
