"""Air: gas constants, its solubility in oil, and the exchange through the oil surface."""

from __future__ import annotations

from ullage.compiled import compiled

GAS_CONSTANT = 287.05
HEAT_RATIO = 1.4
HEAT_CONSTANT_VOLUME = GAS_CONSTANT / (HEAT_RATIO - 1.0)
HEAT_CONSTANT_PRESSURE = HEAT_RATIO * HEAT_CONSTANT_VOLUME
BUNSEN_TEMPERATURE = 273.15


@compiled
def solubility(temperature: float, bunsen: float, slope: float, density_15: float) -> float:
    """Return the mass of air that a mass of oil dissolves per pascal of partial air pressure.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    bunsen : float
        Bunsen coefficient at 20 degC [1], about 0.09 (20 %).
    slope : float
        Relative change of the Bunsen coefficient with temperature [K-1]; even its sign is unsettled, default 0.
    density_15 : float
        Oil density at 15 degC [kg m-3].

    Returns
    -------
    float
        Solubility [Pa-1], mass of air over mass of oil. Never below a tenth of the value at 20 degC.

    References
    ----------
    Henry's law with the Bunsen coefficient (IUPAC): gas volume at 273.15 K dissolved per oil volume.
    """
    factor = max(0.1, 1.0 + slope * (temperature - 293.15))
    return bunsen * factor / (GAS_CONSTANT * BUNSEN_TEMPERATURE * density_15)


@compiled
def uptake_rate(transfer_velocity: float, surface_area: float, oil_volume: float) -> float:
    """Return the rate at which the oil approaches Henry equilibrium with the headspace.

    Parameters
    ----------
    transfer_velocity : float
        Liquid-side transfer velocity [m s-1]; about 2e-5 calm, 3 to 30 times more on rough ground (weak).
    surface_area : float
        Oil surface [m2].
    oil_volume : float
        Oil volume that takes part [m3].

    Returns
    -------
    float
        First-order rate, one over the time constant [s-1].

    References
    ----------
    Two-film theory with the resistance on the liquid side.
    """
    return transfer_velocity * surface_area / oil_volume
