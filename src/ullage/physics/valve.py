"""Orifices and the pressure-cap valves."""

from __future__ import annotations

import math

from ullage.compiled import compiled
from ullage.physics.air import GAS_CONSTANT, HEAT_RATIO

CRITICAL_RATIO: float = (2.0 / (HEAT_RATIO + 1.0)) ** (HEAT_RATIO / (HEAT_RATIO - 1.0))
CHOKED_FACTOR: float = math.sqrt(HEAT_RATIO) * (2.0 / (HEAT_RATIO + 1.0)) ** (
    (HEAT_RATIO + 1.0) / (2.0 * (HEAT_RATIO - 1.0))
)
LAMINAR_DIFFERENCE = 20.0
LEAST_LIFT = 0.03


@compiled
def laminar_factor(difference: float) -> float:
    """Return the factor that gives an orifice a finite slope at zero pressure difference.

    Parameters
    ----------
    difference : float
        Pressure difference over the orifice [Pa], not negative.

    Returns
    -------
    float
        Between 0 and 1 [1]; above 1 kPa within 1e-4 of one.

    Notes
    -----
    `(1 + (20 Pa / dp)^2)^(-1/4)`: the flow is proportional to dp far below 20 Pa and to its root far above.
    """
    ratio = difference / LAMINAR_DIFFERENCE
    square = ratio * ratio
    return math.sqrt(math.sqrt(square / (1.0 + square)))


@compiled
def gas_orifice_flow(area: float, upstream: float, downstream: float, temperature: float) -> float:
    """Return the mass flow of air through an orifice, choked or not.

    Parameters
    ----------
    area : float
        Effective area, discharge coefficient included [m2].
    upstream, downstream : float
        Absolute pressures [Pa], upstream at least downstream.
    temperature : float
        Upstream temperature [K].

    Returns
    -------
    float
        Mass flow [kg s-1].

    References
    ----------
    Saint-Venant and Wantzel; choked below the critical pressure ratio 0.5283.
    """
    if upstream <= downstream:
        return 0.0
    ratio = downstream / upstream
    if ratio <= CRITICAL_RATIO:
        shape = CHOKED_FACTOR
    else:
        root = math.exp(math.log(ratio) / HEAT_RATIO)
        shape = math.sqrt(2.0 * HEAT_RATIO / (HEAT_RATIO - 1.0) * max(0.0, root * root - ratio * root))
    return area * upstream * shape / math.sqrt(GAS_CONSTANT * temperature) * laminar_factor(upstream - downstream)


@compiled
def liquid_orifice_flow(area: float, difference: float, density: float) -> float:
    """Return the mass flow of oil through an orifice.

    Parameters
    ----------
    area : float
        Effective area, discharge coefficient included [m2].
    difference : float
        Pressure difference [Pa]; no flow below zero.
    density : float
        Oil density [kg m-3].

    Returns
    -------
    float
        Mass flow [kg s-1].

    References
    ----------
    Torricelli, `Q = Cd A sqrt(2 dp / rho)`.
    """
    if difference <= 0.0:
        return 0.0
    return area * math.sqrt(2.0 * density * difference) * laminar_factor(difference)


@compiled
def lift_share(difference: float, reseat: float, full: float) -> float:
    """Return the lift of an open spring valve as a share of its full lift.

    Parameters
    ----------
    difference : float
        Pressure difference over the valve [Pa].
    reseat : float
        Difference at which the valve shuts [Pa].
    full : float
        Difference at full lift [Pa], above `reseat`.

    Returns
    -------
    float
        Share of the full area, 0.03 to 1 [1].

    Notes
    -----
    The least lift lets the valve reach its reseat pressure while the gas below it still expands; a lift that went to
    zero there would never shut.
    """
    return min(1.0, max(LEAST_LIFT, (difference - reseat) / (full - reseat)))
