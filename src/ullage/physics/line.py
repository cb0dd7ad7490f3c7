"""Feed line: friction in all regimes, fittings, velocity head, static head."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics.atmosphere import GRAVITY


@compiled
def reynolds(flow: float, diameter: float, viscosity: float) -> float:
    """Return the Reynolds number of a round pipe.

    Parameters
    ----------
    flow : float
        Volume flow [m3 s-1], not negative.
    diameter : float
        Bore [m].
    viscosity : float
        Kinematic viscosity [m2 s-1].

    Returns
    -------
    float
        Reynolds number [1].

    References
    ----------
    `Re = 4 Q / (pi D nu)`.
    """
    return 4.0 * flow / (math.pi * diameter * viscosity)


@compiled
def friction_factor(reynolds_number: float, relative_roughness: float) -> float:
    """Return the Darcy friction factor, laminar to rough turbulent.

    Parameters
    ----------
    reynolds_number : float
        Reynolds number [1], positive.
    relative_roughness : float
        Roughness over bore [1].

    Returns
    -------
    float
        Darcy friction factor [1]; uncertain by 20 % between Re 2000 and 4000.

    References
    ----------
    Churchill, Chemical Engineering 84 (24), 1977, 91.
    """
    if reynolds_number < 100.0:
        return 64.0 / reynolds_number
    a = math.pow(2.457 * math.log(1.0 / (math.pow(7.0 / reynolds_number, 0.9) + 0.27 * relative_roughness)), 16.0)
    b = math.pow(37530.0 / reynolds_number, 16.0)
    return 8.0 * math.pow(math.pow(8.0 / reynolds_number, 12.0) + math.pow(a + b, -1.5), 1.0 / 12.0)


@compiled
def velocity_head(flow: float, diameter: float, density: float) -> float:
    """Return the dynamic pressure in a round pipe.

    Parameters
    ----------
    flow : float
        Volume flow [m3 s-1].
    diameter : float
        Bore [m].
    density : float
        Density [kg m-3].

    Returns
    -------
    float
        `rho v^2 / 2` [Pa].

    References
    ----------
    Bernoulli.
    """
    velocity = 4.0 * flow / (math.pi * diameter * diameter)
    return 0.5 * density * velocity * velocity


@compiled
def line_loss(
    flow: float,
    diameter: float,
    length: float,
    loss_coefficient: float,
    roughness: float,
    density: float,
    viscosity: float,
) -> float:
    """Return the pressure lost to friction and fittings in a round line.

    Parameters
    ----------
    flow : float
        Volume flow [m3 s-1], not negative.
    diameter, length, roughness : float
        Bore, length and wall roughness [m].
    loss_coefficient : float
        Sum of the loss coefficients of the fittings [1], velocity head at the port not included.
    density : float
        Density [kg m-3].
    viscosity : float
        Kinematic viscosity [m2 s-1].

    Returns
    -------
    float
        Pressure loss [Pa].

    References
    ----------
    Darcy and Weisbach with the friction factor of Churchill (1977).
    """
    if flow <= 0.0:
        return 0.0
    factor = friction_factor(reynolds(flow, diameter, viscosity), roughness / diameter)
    return (factor * length / diameter + loss_coefficient) * velocity_head(flow, diameter, density)


@compiled
def static_head(height: float, density: float) -> float:
    """Return the pressure of a standing column.

    Parameters
    ----------
    height : float
        Height of the surface above the point [m].
    density : float
        Density [kg m-3].

    Returns
    -------
    float
        Pressure [Pa].

    References
    ----------
    Hydrostatics, standard gravity 9.80665 m/s2.
    """
    return density * GRAVITY * height
