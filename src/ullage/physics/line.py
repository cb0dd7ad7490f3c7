"""Feed line: friction in all regimes, fittings, velocity head, static head."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics.atmosphere import GRAVITY

LEAST_GRAVITY = 0.2 * GRAVITY


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

    Notes
    -----
    Below Re 1000 the laminar law alone, from which Churchill's formula there differs by less than 1e-12.

    References
    ----------
    Churchill, Chemical Engineering 84 (24), 1977, 91.
    """
    if reynolds_number < 1000.0:
        return 64.0 / reynolds_number
    inverse = 1.0 / reynolds_number
    smooth = math.exp(0.9 * math.log(7.0 * inverse))
    turbulent = _sixteenth_power(2.457 * math.log(smooth + 0.27 * relative_roughness))
    both = turbulent + _sixteenth_power(37530.0 * inverse)
    laminar = 8.0 * inverse
    cube = laminar * laminar * laminar
    return 8.0 * math.exp(1.0 / 12.0 * math.log(cube * cube * cube * cube + 1.0 / (both * math.sqrt(both))))


@compiled
def _sixteenth_power(x: float) -> float:
    square = x * x
    fourth = square * square
    eighth = fourth * fourth
    return eighth * eighth


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
def rated_drop(flow_ratio: float, viscosity_ratio: float, drop: float) -> float:
    """Return the drop over a part that is known by one rating point.

    Parameters
    ----------
    flow_ratio : float
        Flow over the flow of the rating point [1].
    viscosity_ratio : float
        Viscosity over the viscosity of the rating point [1].
    drop : float
        Drop at the rating point [Pa].

    Returns
    -------
    float
        Drop [Pa].

    Notes
    -----
    Half of the rated drop is taken as viscous, half as inertial (weak; engineering judgement).
    """
    return drop * 0.5 * flow_ratio * (viscosity_ratio + flow_ratio)


@compiled
def body_force(
    density: float, depth: float, height: float, forward: float, left: float, acceleration: tuple[float, float, float]
) -> float:
    """Return the pressure that gravity and the truck's acceleration add on the way from the surface to a point.

    Parameters
    ----------
    density : float
        Oil density [kg m-3].
    depth : float
        Depth of the outlet below the surface [m].
    height : float
        Height of the outlet over the point [m].
    forward, left : float
        Place of the point from the outlet [m].
    acceleration : tuple of float
        Acceleration of the truck, forward, left and up [m s-2].

    Returns
    -------
    float
        Pressure [Pa], `rho (g - a) . (r_point - r_surface)`.

    References
    ----------
    Hydrostatics in an accelerated frame, standard gravity 9.80665 m/s2.
    """
    along, across, up = acceleration
    return density * ((GRAVITY + up) * (depth + height) - along * forward - across * left)


@compiled
def outlet_depth(level: float, forward: float, left: float, acceleration: tuple[float, float, float]) -> float:
    """Return the depth of an outlet in the floor below the tilted surface.

    Parameters
    ----------
    level : float
        Height of the level surface above the floor [m].
    forward, left : float
        Place of the outlet from the middle of the tank [m].
    acceleration : tuple of float
        Acceleration of the truck, forward, left and up [m s-2].

    Returns
    -------
    float
        Depth [m]; negative where the surface lies below the floor at the outlet.

    Notes
    -----
    The surface stands at right angles to `g - a` and turns about its middle, as long as it meets neither floor nor lid.
    Slosh and swirl are left out. Less than a fifth of gravity is taken as a fifth.
    """
    along, across, up = acceleration
    return level - (along * forward + across * left) / max(GRAVITY + up, LEAST_GRAVITY)


@compiled
def uncovered_share(depth: float, bore: float, upward: float) -> float:
    """Return the share of gas that an outlet takes in.

    Parameters
    ----------
    depth : float
        Depth of the outlet below the surface [m].
    bore : float
        Bore of the outlet [m].
    upward : float
        Upward acceleration of the truck [m s-2].

    Returns
    -------
    float
        None while the surface is half a bore above it, all gas half a bore below, or in less than a fifth of
        gravity [1].

    Notes
    -----
    Engineering judgement (weak): nothing is known of the vortex over a real outlet.
    """
    if GRAVITY + upward < LEAST_GRAVITY:
        return 1.0
    return min(1.0, max(0.0, 0.5 - depth / bore))
