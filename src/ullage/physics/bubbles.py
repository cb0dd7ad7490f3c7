"""Free air in the oil: how it forms, dissolves, rises, is drawn in, and what it does to light."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics.air import GAS_CONSTANT, stirred
from ullage.physics.atmosphere import GRAVITY
from ullage.physics.oil import REFERENCE_PRESSURE

_PORT_BAND = 0.05
_MOST_VOID = 0.3
_DRAG_PASSES = 3


@compiled
def gas_ratio(released: float, temperature: float, air_pressure: float, density: float) -> float:
    """Return the volume of free air per volume of oil.

    Parameters
    ----------
    released : float
        Mass of free air per mass of oil [1].
    temperature : float
        Oil temperature [K].
    air_pressure : float
        Pressure of the air in the bubbles [Pa], positive.
    density : float
        Oil density [kg m-3].

    Returns
    -------
    float
        Volume ratio [1]; over one more than itself it is the void fraction.

    References
    ----------
    Ideal gas.
    """
    return released * density * GAS_CONSTANT * temperature / air_pressure


@compiled
def oversaturation(content: float, solubility: float, air_pressure: float, threshold: float) -> float:
    """Return the air that can come out of solution where the pressure is low.

    Parameters
    ----------
    content : float
        Mass of dissolved air per mass of oil [1].
    solubility : float
        Mass of air per mass of oil and pascal [Pa-1].
    air_pressure : float
        Local pressure less vapour pressure [Pa].
    threshold : float
        Oversaturation that bubbles need to form [Pa] (weak).

    Returns
    -------
    float
        Mass of air per mass of oil [1], none while the oil is below saturation and threshold; with no threshold it is
        the free air of the equilibrium.

    References
    ----------
    Henry's law.
    """
    return max(0.0, content - solubility * max(0.0, air_pressure + threshold))


@compiled
def share_of_equilibrium(rate: float, time: float) -> float:
    """Return how far a first-order process goes in a time: `1 - exp(-rate time)` [1]."""
    return 1.0 - math.exp(-rate * time)


@compiled
def ostwald(temperature: float, solubility: float, density_15: float) -> float:
    """Return the Ostwald coefficient, the volume of air that a volume of oil dissolves.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    solubility : float
        Mass of air per mass of oil and pascal [Pa-1].
    density_15 : float
        Density at 15 degC [kg m-3].

    Returns
    -------
    float
        Ostwald coefficient [1], some 0.1.

    References
    ----------
    `L = B T / 273.15 K` with the Bunsen coefficient B.
    """
    return solubility * density_15 * GAS_CONSTANT * temperature


@compiled
def dissolution_rate(radius: float, diffusivity: float, ostwald_coefficient: float, saturation: float) -> float:
    """Return the rate at which a bubble goes into solution.

    Parameters
    ----------
    radius : float
        Bubble radius at the local pressure [m].
    diffusivity : float
        Of air in oil [m2 s-1], some 5e-10 within a factor of three (weak).
    ostwald_coefficient : float
        Volume of air dissolved per volume of oil [1].
    saturation : float
        Pressure at which the dissolved air is in equilibrium over the local pressure [1].

    Returns
    -------
    float
        One over the time to dissolve [s-1]; zero in saturated oil.

    References
    ----------
    Epstein and Plesset, J. Chem. Phys. 18 (1950) 1505, steady term without surface tension:
    `R^2 / (2 D L (1 - f))`.
    """
    return 2.0 * diffusivity * ostwald_coefficient * max(0.0, 1.0 - saturation) / (radius * radius)


@compiled
def compressed_radius(diameter: float, pressure: float) -> float:
    """Return the radius [m] at a pressure [Pa] of a bubble with a diameter [m] at atmospheric pressure, isothermal."""
    return 0.5 * diameter * math.exp(1.0 / 3.0 * math.log(REFERENCE_PRESSURE / pressure))


@compiled
def stokes_velocity(diameter: float, viscosity: float, density_ratio: float) -> float:
    """Return the rise velocity of a small rigid bubble.

    Parameters
    ----------
    diameter : float
        Bubble diameter [m].
    viscosity : float
        Kinematic viscosity of the oil [m2 s-1].
    density_ratio : float
        Density of the gas over that of the oil [1].

    Returns
    -------
    float
        Velocity [m s-1]; for Reynolds numbers well below one.

    References
    ----------
    Stokes: `g d^2 (rho - rho_g) / (18 mu)`. Used oil keeps the surface of a bubble rigid; a clean one is 1.5 times
    faster (Hadamard, Rybczynski).
    """
    return GRAVITY * diameter * diameter * (1.0 - density_ratio) / (18.0 * viscosity)


@compiled
def rise_velocity(diameter: float, viscosity: float) -> float:
    """Return the rise velocity of a bubble, also where it is too fast for Stokes' law.

    Parameters
    ----------
    diameter : float
        Bubble diameter [m].
    viscosity : float
        Kinematic viscosity of the oil [m2 s-1].

    Returns
    -------
    float
        Velocity [m s-1]; the density of the gas is neglected.

    References
    ----------
    Stokes with the drag of Schiller and Naumann (1933), `1 + 0.15 Re^0.687`, Re below 800; formula from memory.
    Newton's method on the logarithm of the Reynolds number.
    """
    stokes = math.log(stokes_velocity(diameter, viscosity, 0.0) * diameter / viscosity)
    reynolds = stokes
    for _ in range(_DRAG_PASSES):
        more = 0.15 * math.exp(0.687 * reynolds)
        reynolds += (stokes - reynolds - math.log(1.0 + more)) * (1.0 + more) / (1.0 + 1.687 * more)
    return math.exp(reynolds) * viscosity / diameter


@compiled
def drawn_in_share(
    submerged: float,
    plunging: float,
    port_level: float,
    level: float,
    slosh_factor: float,
    vehicle_speed: float,
    roughness: float,
) -> float:
    """Return the volume of gas that the return drags into the oil over its own flow.

    Parameters
    ----------
    submerged, plunging : float
        Share for a port below and above the surface, standing [1] (weak).
    port_level, level : float
        Level of the port and of the oil, shares of the tank volume [1].
    slosh_factor : float
        How much more on rough ground [1] (weak).
    vehicle_speed : float
        Vehicle speed [m s-1]; the factor is reached at 5 m/s.
    roughness : float
        Of the ground [1]: 0 smooth, 1 rough.

    Returns
    -------
    float
        Volume ratio [1]. The change from below to above goes over a twentieth of the tank.

    Notes
    -----
    Engineering judgement: 0 for a diffuser below the surface, 1e-4 for a good return, 0.002 along the wall, 0.02 for
    one that plunges. No measured value stands behind them.
    """
    above = min(1.0, max(0.0, (port_level - level) / _PORT_BAND + 0.5))
    return stirred(slosh_factor, vehicle_speed, roughness) * (submerged + above * (plunging - submerged))


@compiled
def room_for_bubbles(void: float) -> float:
    """Return the share of what would be drawn in that oil with a void fraction [1] still takes [1].

    Engineering judgement: none from 30 % on; beyond that it is foam on top of the oil, which is left out.
    """
    return max(0.0, 1.0 - void / _MOST_VOID)


@compiled
def transmittance(depth: float, void: float, diameter: float) -> float:
    """Return the share of light that passes a sight glass.

    Parameters
    ----------
    depth : float
        Path of the light through the oil [m].
    void : float
        Share of the volume taken by bubbles or drops [1].
    diameter : float
        Their diameter [m].

    Returns
    -------
    float
        Transmittance [1]; the colour of the oil itself is left out.

    References
    ----------
    Lambert and Beer with spheres that stop twice their cross-section (extinction efficiency 2, spheres much larger than
    the wavelength) but send half of it forward: `exp(-3 void depth / (2 diameter))`.
    """
    return math.exp(-1.5 * void * depth / diameter)
