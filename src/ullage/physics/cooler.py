"""Oil cooler: effectiveness of a cross-flow core and its conductance."""

from __future__ import annotations

import math

from ullage.compiled import compiled


@compiled
def crossflow_effectiveness(transfer_units: float, capacity_ratio: float) -> float:
    """Return the effectiveness of a cross-flow exchanger with both fluids unmixed.

    Parameters
    ----------
    transfer_units : float
        Number of transfer units, UA over the smaller heat-capacity flow [1].
    capacity_ratio : float
        Smaller over larger heat-capacity flow, 0 to 1 [1].

    Returns
    -------
    float
        Effectiveness, 0 to 1 [1]; within 1.7 % of the exact series for 1 to 5 transfer units, 4 % elsewhere.

    References
    ----------
    Kays and London, the usual approximation:
    `1 - exp{NTU^0.22 / Cr [exp(-Cr NTU^0.78) - 1]}`.
    """
    if transfer_units <= 0.0:
        return 0.0
    if capacity_ratio < 1e-9:
        return 1.0 - math.exp(-transfer_units)
    power = math.exp(0.78 * math.log(transfer_units))
    return 1.0 - math.exp(transfer_units / power / capacity_ratio * math.expm1(-capacity_ratio * power))


@compiled
def core_conductance(oil_side: float, air_side: float) -> float:
    """Return the conductance of a core from those of its two sides.

    Parameters
    ----------
    oil_side, air_side : float
        Conductances [W K-1], not negative.

    Returns
    -------
    float
        Conductance [W K-1].

    References
    ----------
    Two thermal resistances in series; the wall's is neglected.
    """
    if oil_side <= 0.0 or air_side <= 0.0:
        return 0.0
    return oil_side * air_side / (oil_side + air_side)


@compiled
def scaled_conductance(rated: float, ratio: float, exponent: float) -> float:
    """Return a conductance away from its rating point.

    Parameters
    ----------
    rated : float
        Conductance at the rating point [W K-1].
    ratio : float
        Flow or speed over that of the rating point [1], not negative.
    exponent : float
        Power [1]; about 0.5 for laminar oil, 0.6 for air.

    Returns
    -------
    float
        Conductance [W K-1].

    Notes
    -----
    A power law through one rating point; weak far from it.
    """
    if ratio <= 0.0:
        return 0.0
    return rated * math.exp(exponent * math.log(ratio))


@compiled
def core_heat_rate(conductance: float, oil_capacity: float, air_capacity: float) -> float:
    """Return the heat rate of a core per kelvin between oil inlet and air inlet.

    Parameters
    ----------
    conductance : float
        Core conductance [W K-1].
    oil_capacity, air_capacity : float
        Heat-capacity flows [W K-1].

    Returns
    -------
    float
        Effectiveness times the smaller heat-capacity flow [W K-1].

    References
    ----------
    Effectiveness-NTU method with `crossflow_effectiveness`.
    """
    least = min(oil_capacity, air_capacity)
    most = max(oil_capacity, air_capacity)
    if least <= 1e-9:
        return 0.0
    return least * crossflow_effectiveness(conductance / least, least / most)


@compiled
def outside_conductance(rated: float, vehicle_speed: float, wetting: float) -> float:
    """Return the conductance from a part to the air around it.

    Parameters
    ----------
    rated : float
        Conductance of the standing truck [W K-1].
    vehicle_speed : float
        Vehicle speed [m s-1].
    wetting : float
        How much more in the water of a crossing [1]; 1 is dry.

    Returns
    -------
    float
        Conductance [W K-1].

    Notes
    -----
    `(1 + v / 10)^0.5`; weak, engineering judgement.
    """
    return rated * math.sqrt(1.0 + 0.1 * vehicle_speed) * wetting
