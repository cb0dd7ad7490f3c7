"""Air: gas constants, its solubility in oil, and the exchange through the oil surface."""

from __future__ import annotations

from ullage.compiled import compiled

GAS_CONSTANT = 287.05
HEAT_RATIO = 1.4
HEAT_CONSTANT_VOLUME = GAS_CONSTANT / (HEAT_RATIO - 1.0)
HEAT_CONSTANT_PRESSURE = HEAT_RATIO * HEAT_CONSTANT_VOLUME
BUNSEN_TEMPERATURE = 273.15
ROUGH_SPEED = 5.0


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
def transfer_velocity(calm: float, rough_ground_factor: float, vehicle_speed: float, roughness: float) -> float:
    """Return the liquid-side transfer velocity of the oil surface in a truck that moves or stands.

    Parameters
    ----------
    calm : float
        Value of a calm surface [m s-1], about 2e-5 (weak).
    rough_ground_factor : float
        How much more on rough ground [1], 3 to 30 (weak).
    vehicle_speed : float
        Vehicle speed [m s-1]; the factor is reached at 5 m/s.
    roughness : float
        Of the ground [1]: 0 smooth, 1 rough.

    Returns
    -------
    float
        Transfer velocity [m s-1].

    Notes
    -----
    Engineering judgement: the surface is stirred by the ground, not by the engine.
    """
    return calm * stirred(rough_ground_factor, vehicle_speed, roughness)


@compiled
def stirred(factor: float, vehicle_speed: float, roughness: float) -> float:
    """Return a factor of rough ground [1] at a vehicle speed [m s-1]: one standing, all of it from 5 m/s.

    What it is over one goes with the roughness of the ground [1], 0 smooth and 1 rough.
    """
    return 1.0 + (factor - 1.0) * min(1.0, vehicle_speed / ROUGH_SPEED) * roughness


@compiled
def shared_pressure(
    pressure: float, gas_volume: float, dissolved_pressure: float, oil_volume: float, ostwald_coefficient: float
) -> float:
    """Return the pressure at which the air of a closed vessel ends, once oil and air space have shared it.

    Parameters
    ----------
    pressure : float
        Pressure of the air in the air space before [Pa].
    gas_volume, oil_volume : float
        Volumes of air space and oil [m3].
    dissolved_pressure : float
        Pressure at which the dissolved air is in equilibrium before [Pa].
    ostwald_coefficient : float
        Volume of air that a volume of oil dissolves [1].

    Returns
    -------
    float
        Pressure of the air [Pa], at constant temperature and volumes.

    References
    ----------
    Mass balance with Henry's law: `(p V_g + L p_d V_l) / (V_g + L V_l)`.
    """
    held = ostwald_coefficient * oil_volume
    return (pressure * gas_volume + held * dissolved_pressure) / (gas_volume + held)


@compiled
def uptake_rate(velocity: float, surface_area: float, oil_volume: float) -> float:
    """Return the rate at which the oil approaches Henry equilibrium with the headspace.

    Parameters
    ----------
    velocity : float
        Liquid-side transfer velocity [m s-1], from `transfer_velocity`.
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
    return velocity * surface_area / oil_volume
