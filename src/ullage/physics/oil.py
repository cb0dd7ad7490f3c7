"""Hydraulic oil: density, expansion, compressibility, viscosity, specific heat."""

from __future__ import annotations

import math

from ullage.compiled import compiled

ZERO_CELSIUS = 273.15
REFERENCE_TEMPERATURE = 288.15
REFERENCE_PRESSURE = 101325.0
WALTHER_OFFSET = 0.7
HIGHEST_VISCOSITY = 0.02
HIGHEST_TEMPERATURE = 673.15
_MM2_PER_M2 = 1e6


@compiled
def expansion_constant(density_15: float) -> float:
    """Return the base expansion coefficient of a lubricating oil at 15 degC.

    Parameters
    ----------
    density_15 : float
        Density at 15 degC and atmospheric pressure [kg m-3].

    Returns
    -------
    float
        Expansion coefficient at 15 degC [K-1].

    Notes
    -----
    `0.6278 / density_15`; 800 to 1164 kg/m3.

    References
    ----------
    API MPMS 11.1 (2004) / ASTM D1250, table 54D, generalised lubricating oils.
    """
    return 0.6278 / density_15


@compiled
def density(temperature: float, density_15: float) -> float:
    """Return the oil density at atmospheric pressure.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    density_15 : float
        Density at 15 degC [kg m-3].

    Returns
    -------
    float
        Density [kg m-3]; within 0.3 % to 100 degC and 0.9 % to 155 degC for a mineral oil. Above 400 degC, where oil
        cracks, the value there.

    References
    ----------
    API MPMS 11.1 (2004) / ASTM D1250, volume correction `exp(-a dT (1 + 0.8 a dT))`.
    """
    u = expansion_constant(density_15) * (min(temperature, HIGHEST_TEMPERATURE) - REFERENCE_TEMPERATURE)
    return density_15 * math.exp(-u * (1.0 + 0.8 * u))


@compiled
def expansion_coefficient(temperature: float, density_15: float) -> float:
    """Return the volumetric expansion coefficient `-(d rho / d T) / rho` that belongs to `density`.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    density_15 : float
        Density at 15 degC [kg m-3].

    Returns
    -------
    float
        Expansion coefficient [K-1]; 7e-4 cold, 8e-4 hot, zero above 400 degC where `density` ends.

    References
    ----------
    Derivative of the volume correction of API MPMS 11.1 (2004) / ASTM D1250.
    """
    if temperature > HIGHEST_TEMPERATURE:
        return 0.0
    a = expansion_constant(density_15)
    return a * (1.0 + 1.6 * a * (temperature - REFERENCE_TEMPERATURE))


@compiled
def bulk_modulus(temperature: float, density_15: float) -> float:
    """Return the isothermal secant bulk modulus at low pressure.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    density_15 : float
        Density at 15 degC [kg m-3]; 638 to 1074.

    Returns
    -------
    float
        Bulk modulus [Pa]; about 10 % at pressures of a reservoir. Above 400 degC the value there.

    References
    ----------
    API MPMS 11.2.1M (1984), compressibility factors for hydrocarbons.
    """
    t = min(temperature, HIGHEST_TEMPERATURE) - ZERO_CELSIUS
    inverse_square = 1e6 / (density_15 * density_15)
    factor = math.exp(-1.62080 + 0.00021592 * t + (0.87096 + 0.0042092 * t) * inverse_square)
    return 1e9 / factor


@compiled
def walther_constants(
    temperature_1: float, viscosity_1: float, temperature_2: float, viscosity_2: float
) -> tuple[float, float]:
    """Return the two constants of the viscosity line through two points.

    Parameters
    ----------
    temperature_1, temperature_2 : float
        Temperatures [K], not equal.
    viscosity_1, viscosity_2 : float
        Kinematic viscosities [m2 s-1], above 2e-6.

    Returns
    -------
    tuple of float
        A and B of `ln ln(nu + 0.7 mm2/s) = A - B ln T` (natural logarithms).

    References
    ----------
    ASTM D341, simplified equation for viscosities above 2 mm2/s.
    """
    w_1 = math.log(math.log(viscosity_1 * _MM2_PER_M2 + WALTHER_OFFSET))
    w_2 = math.log(math.log(viscosity_2 * _MM2_PER_M2 + WALTHER_OFFSET))
    slope = (w_1 - w_2) / (math.log(temperature_2) - math.log(temperature_1))
    return w_1 + slope * math.log(temperature_1), slope


@compiled
def kinematic_viscosity(temperature: float, constant: float, slope: float) -> float:
    """Return the kinematic viscosity on a Walther line.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    constant, slope : float
        From `walther_constants`.

    Returns
    -------
    float
        Kinematic viscosity [m2 s-1], not above 0.02: a colder oil does not flow and the equation says nothing about it.

    Notes
    -----
    1 to 3 % between the two points; extrapolated to cold it is weak (tens of per cent): give a cold third point.

    References
    ----------
    ASTM D341.
    """
    exponent = min(constant - slope * math.log(temperature), 2.5)
    viscosity = 1.0 / _MM2_PER_M2 * (math.exp(math.exp(exponent)) - WALTHER_OFFSET)
    return min(viscosity, HIGHEST_VISCOSITY)


@compiled
def specific_heat_constants(density_15: float) -> tuple[float, float]:
    """Return the two constants of the specific heat, `c = c0 + c1 T` with T in kelvin.

    Parameters
    ----------
    density_15 : float
        Density at 15 degC [kg m-3].

    Returns
    -------
    tuple of float
        Value at 0 K [J kg-1 K-1] and slope [J kg-1 K-2].

    Notes
    -----
    Valid 0 to 200 degC; 1.5 to 4 % below tabulated engine oil.

    References
    ----------
    Cragoe, Thermal properties of petroleum products, Bureau of Standards Misc. Publ. 97 (1929).
    """
    root = math.sqrt(density_15 / 999.0)
    return (1684.8 - 3.3913 * ZERO_CELSIUS) / root, 3.3913 / root


@compiled
def specific_heat(temperature: float, constant: float, slope: float) -> float:
    """Return the specific heat; being linear, its mean between two temperatures is its value at their mean.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    constant, slope : float
        From `specific_heat_constants`.

    Returns
    -------
    float
        Specific heat [J kg-1 K-1].

    References
    ----------
    Cragoe (1929), see `specific_heat_constants`.
    """
    return constant + slope * temperature


@compiled
def enthalpy(temperature: float, constant: float, slope: float) -> float:
    """Return the specific enthalpy, the integral of the specific heat from 0 K.

    Parameters
    ----------
    temperature : float
        Oil temperature [K].
    constant, slope : float
        From `specific_heat_constants`.

    Returns
    -------
    float
        Enthalpy [J kg-1]; pressure terms are neglected, as the balances of the circuit state.

    References
    ----------
    Integral of Cragoe (1929).
    """
    return (constant + 0.5 * slope * temperature) * temperature


@compiled
def temperature_from_energy(energy: float, linear: float, quadratic: float) -> float:
    """Return the temperature at which `linear T + quadratic T^2 / 2` equals an energy.

    Parameters
    ----------
    energy : float
        Energy above 0 K [J].
    linear : float
        Heat capacity at 0 K [J K-1], positive.
    quadratic : float
        Rise of the heat capacity with temperature [J K-2], not negative.

    Returns
    -------
    float
        Temperature [K].

    References
    ----------
    Positive root of the quadratic, in the form that does not cancel.
    """
    return 2.0 * energy / (linear + math.sqrt(linear * linear + 2.0 * quadratic * energy))
