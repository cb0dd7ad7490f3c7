"""Reservoir and passages: metal expansion and the pressure of the air space."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics import oil

VOLUME_TEMPERATURE = 293.15


@compiled
def expanded_volume(volume: float, expansion: float, temperature: float) -> float:
    """Return the inner volume of a metal part at a temperature.

    Parameters
    ----------
    volume : float
        Volume at 20 degC [m3].
    expansion : float
        Volumetric expansion [K-1]; aluminium 7.1e-5, steel 3.5e-5.
    temperature : float
        Metal temperature [K].

    Returns
    -------
    float
        Volume [m3].

    References
    ----------
    Linear expansion times three.
    """
    return volume * (1.0 + expansion * (temperature - VOLUME_TEMPERATURE))


@compiled
def total_compliance(wall: float, oil_mass: float, temperature: float, density_15: float) -> float:
    """Return by how much wall and liquid give way to pressure.

    Parameters
    ----------
    wall : float
        Compliance of the wall [m3 Pa-1].
    oil_mass : float
        Oil under the pressure [kg].
    temperature : float
        Its temperature [K].
    density_15 : float
        Its density at 15 degC [kg m-3].

    Returns
    -------
    float
        Compliance [m3 Pa-1].

    References
    ----------
    Definition of the bulk modulus, `V / K`, added to the wall's under one pressure.
    """
    volume = oil_mass / oil.density(temperature, density_15)
    return wall + volume / oil.bulk_modulus(temperature, density_15)


@compiled
def air_pressure(air: float, volume: float, compliance: float) -> float:
    """Return the pressure of the air in a space that yields.

    Parameters
    ----------
    air : float
        Gas constant times mass times temperature of the air [J], positive.
    volume : float
        Volume that the space would have at zero air pressure [m3]; negative when the tank is full of liquid.
    compliance : float
        Yield of wall and liquid [m3 Pa-1], positive.

    Returns
    -------
    float
        Partial pressure of the air [Pa].

    Notes
    -----
    Positive root of `p (V + C p) = m R T`, written so that it does not cancel on either side of V = 0.
    """
    root = math.sqrt(volume * volume + 4.0 * compliance * air)
    if volume >= 0.0:
        return 2.0 * air / (volume + root)
    return (root - volume) / (2.0 * compliance)
