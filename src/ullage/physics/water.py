"""Water dissolved in the oil: the vapour it adds above the oil."""

from __future__ import annotations

import math

from ullage.compiled import compiled

CRITICAL_TEMPERATURE = 647.096
CRITICAL_PRESSURE = 22.064e6


@compiled
def saturation_pressure(temperature: float) -> float:
    """Return the vapour pressure of pure water.

    Parameters
    ----------
    temperature : float
        Temperature [K]; 273.16 to 647, used below freezing as an extrapolation.

    Returns
    -------
    float
        Saturation pressure [Pa].

    References
    ----------
    Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, auxiliary equation 2.5 (constants from memory, held
    against IAPWS-95 in the tests).
    """
    limited = min(temperature, CRITICAL_TEMPERATURE)
    v = 1.0 - limited / CRITICAL_TEMPERATURE
    root = math.sqrt(v)
    cube = v * v * v
    series = (
        -7.85951783 * v
        + 1.84408259 * v * root
        - 11.7866497 * cube
        + 22.6807411 * cube * root
        - 15.9618719 * cube * v
        + 1.80122502 * cube * cube * v * root
    )
    return CRITICAL_PRESSURE * math.exp(CRITICAL_TEMPERATURE / limited * series)


@compiled
def saturation_content(temperature: float, content_at_20: float) -> float:
    """Return the mass share of water at which the oil is saturated.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    content_at_20 : float
        Saturation content at 20 degC [1], about 1e-4 for a mineral oil (weak).

    Returns
    -------
    float
        Saturation content [1].

    Notes
    -----
    Weak: the exponent of 3000 K is a typical value for mineral oil, from memory, uncertain by a third.
    """
    return content_at_20 * math.exp(3000.0 * (1.0 / 293.15 - 1.0 / temperature))


@compiled
def vapour_pressure(temperature: float, content: float, content_at_20: float) -> float:
    """Return the partial pressure of water above the oil.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    content : float
        Mass share of water in the oil [1]; 0 is dry oil.
    content_at_20 : float
        Saturation content at 20 degC [1] (weak).

    Returns
    -------
    float
        Vapour pressure [Pa]; that of pure water as soon as free water is there.

    Notes
    -----
    Activity = content over saturation content, at most one; Raoult-like, weak.
    """
    if content <= 0.0:
        return 0.0
    activity = min(1.0, content / saturation_content(temperature, content_at_20))
    return activity * saturation_pressure(temperature)


@compiled
def free_water(temperature: float, content: float, content_at_20: float) -> float:
    """Return the mass share of water that the oil cannot dissolve [1]; drops, that make it milky and stay.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    content : float
        Mass share of water in the oil [1].
    content_at_20 : float
        Saturation content at 20 degC [1] (weak).

    Returns
    -------
    float
        Mass share of free water [1].

    References
    ----------
    What is over `saturation_content`.
    """
    return max(0.0, content - saturation_content(temperature, content_at_20))
