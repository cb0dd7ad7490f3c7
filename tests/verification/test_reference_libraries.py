"""Laws of air and water against public libraries that carry the same or a better correlation."""

import fluids
import numpy as np
import pytest
from chemicals import iapws
from chemicals.volume import ideal_gas
from fluids.constants import R as MOLAR_GAS_CONSTANT
from scipy.integrate import quad
from scipy.optimize import brentq

from outside import LIBRARY, Check
from ullage.physics import air, atmosphere, bubbles, water

ATMOSPHERE_1976 = "US Standard Atmosphere 1976: Python library fluids"
IDEAL_GAS = "ideal gas with the molar gas constant of the SI: Python libraries fluids and chemicals"
COMPRESSION = "isothermal and isentropic compression: Python library fluids"
IAPWS_95 = "IAPWS-95: Python library chemicals"
IAPWS_92 = "IAPWS 1992 equation for saturation (Wagner and Pruss): Python library chemicals"
IAPWS_97 = "IAPWS-IF97: Python library chemicals"

ZERO = 273.15
MOLAR_MASS = 28.9644e-3  # of dry air [kg/mol], ISO 2533
ELEVATIONS = [float(h) for h in range(-2000, 11001, 1000)]
STANDARD = [fluids.ATMOSPHERE_1976(h) for h in ELEVATIONS]
WET = [float(t) for t in np.linspace(273.16, 645.0, 40)]


def slope(law, at, step):
    return (law(at + step) - law(at - step)) / (2.0 * step)


def boiling_point(pressure):
    return brentq(lambda t: water.saturation_pressure(t) - pressure, 300.0, 450.0)


CHECKS = [
    Check(
        "atmosphere.pressure",
        "every 1000 m from -2000 to 11000 m",
        lambda: [atmosphere.pressure(h) for h in ELEVATIONS],
        [state.P for state in STANDARD],
        "Pa",
        ATMOSPHERE_1976,
        LIBRARY,
        "exponent rounded to six digits",
        rel=5e-6,
    ),
    Check(
        "atmosphere.air_density",
        "at standard pressure and temperature, every 1000 m from -2000 to 11000 m",
        lambda: [atmosphere.air_density(state.P, state.T) for state in STANDARD],
        [state.rho for state in STANDARD],
        "kg/m3",
        ATMOSPHERE_1976,
        LIBRARY,
        "gas constant rounded to five digits",
        rel=2e-5,
    ),
    Check(
        "air.GAS_CONSTANT",
        "specific gas constant of dry air, 28.9644 g/mol",
        lambda: air.GAS_CONSTANT,
        MOLAR_GAS_CONSTANT / MOLAR_MASS,
        "J/(kg K)",
        IDEAL_GAS,
        LIBRARY,
        "ISO 2533 has an older molar constant, 2e-5 smaller, and rounds",
        rel=4e-5,
    ),
    Check(
        "bubbles.gas_ratio",
        "a gram of air per kilogram of oil of 850 kg/m3, 0 and 100 degC, 0.5 and 5 bar",
        lambda: [bubbles.gas_ratio(1e-3, ZERO + t, p, 850.0) for t in (0.0, 100.0) for p in (0.5e5, 5e5)],
        lambda: [0.85 / MOLAR_MASS * ideal_gas(ZERO + t, p) for t in (0.0, 100.0) for p in (0.5e5, 5e5)],
        "1",
        IDEAL_GAS,
        LIBRARY,
        "gas constant rounded, as above",
        rel=4e-5,
    ),
    Check(
        "bubbles.gas_ratio",
        "work of pressing a kilogram of air from 1 to 10 bar at 300 K, by quadrature of its volume",
        lambda: quad(lambda p: bubbles.gas_ratio(1.0, 300.0, p, 1.0), 1e5, 10e5, epsrel=1e-10)[0],
        lambda: fluids.isothermal_work_compression(1e5, 10e5, 300.0) / MOLAR_MASS,
        "J/kg",
        COMPRESSION,
        LIBRARY,
        "gas constant rounded, as above",
        rel=4e-5,
    ),
    Check(
        "air.GAS_CONSTANT, air.HEAT_CONSTANT_PRESSURE",
        "temperature of air pressed without heat loss from 20 degC and 1 bar to 2 and 10 bar",
        lambda: [293.15 * ratio ** (air.GAS_CONSTANT / air.HEAT_CONSTANT_PRESSURE) for ratio in (2.0, 10.0)],
        lambda: [fluids.isentropic_T_rise_compression(293.15, 1e5, ratio * 1e5, 1.4) for ratio in (2.0, 10.0)],
        "K",
        COMPRESSION,
        LIBRARY,
        "the same constants, rounding",
        rel=1e-12,
    ),
    Check(
        "air.HEAT_CONSTANT_VOLUME, air.HEAT_CONSTANT_PRESSURE",
        "pressure of air in a space that shrinks without heat loss to 0.6 of its volume, from 1 bar",
        lambda: 1e5 * 0.6 ** (-air.HEAT_CONSTANT_PRESSURE / air.HEAT_CONSTANT_VOLUME),
        lambda: brentq(
            lambda p: fluids.isentropic_T_rise_compression(1.0, 1e5, p, 1.4) * 1e5 / p - 0.6, 1e5, 9e5, xtol=1e-6
        ),
        "Pa",
        COMPRESSION,
        LIBRARY,
        "the same constants, tolerance of the root",
        rel=1e-10,
    ),
    Check(
        "air.HEAT_CONSTANT_PRESSURE",
        "work of pressing a kilogram of air without heat loss from 293.15 K and 1 bar to 2 bar (357.35 K)",
        lambda: air.HEAT_CONSTANT_PRESSURE * (fluids.isentropic_T_rise_compression(293.15, 1e5, 2e5, 1.4) - 293.15),
        lambda: fluids.isentropic_work_compression(293.15, 1.4, P1=1e5, P2=2e5, eta=1.0) / MOLAR_MASS,
        "J/kg",
        COMPRESSION,
        LIBRARY,
        "gas constant rounded, as above",
        rel=4e-5,
    ),
    Check(
        "water.saturation_pressure",
        "40 temperatures from the triple point to 645 K",
        lambda: [water.saturation_pressure(t) for t in WET],
        lambda: [iapws.iapws95_Psat(t) for t in WET],
        "Pa",
        IAPWS_95,
        LIBRARY,
        "the equation leaves the full formulation by up to 7e-5",
        rel=1e-4,
    ),
    Check(
        "water.saturation_pressure",
        "the same equation as the library holds it, 40 temperatures from the triple point to 645 K",
        lambda: [water.saturation_pressure(t) for t in WET],
        lambda: [iapws.iapws92_Psat(t) for t in WET],
        "Pa",
        IAPWS_92,
        LIBRARY,
        "the same constants, rounding",
        rel=1e-10,
    ),
    Check(
        "water.saturation_pressure",
        "40 temperatures from the triple point to 645 K, by the equation of industry",
        lambda: [water.saturation_pressure(t) for t in WET],
        lambda: [iapws.Psat_IAPWS(t) for t in WET],
        "Pa",
        IAPWS_97,
        LIBRARY,
        "the two formulations differ by up to 1.2e-4",
        rel=2e-4,
    ),
    Check(
        "water.saturation_pressure",
        "rise per kelvin at 20, 60, 100 and 140 degC, central difference",
        lambda: [slope(water.saturation_pressure, ZERO + t, 0.01) for t in (20.0, 60.0, 100.0, 140.0)],
        lambda: [iapws.iapws95_dPsat_dT(ZERO + t)[0] for t in (20.0, 60.0, 100.0, 140.0)],
        "Pa/K",
        IAPWS_95,
        LIBRARY,
        "the slopes of two fits differ, as the fits do",
        rel=1e-4,
    ),
    Check(
        "water.saturation_pressure",
        "where water boils at 0.7, 1.01325 and 2 bar, by root solve",
        lambda: [boiling_point(p) for p in (0.7e5, 101325.0, 2e5)],
        lambda: [iapws.iapws95_Tsat(p) for p in (0.7e5, 101325.0, 2e5)],
        "K",
        IAPWS_95,
        LIBRARY,
        "1e-4 of the pressure is worth 3 mK",
        abs=0.003,
    ),
    Check(
        "water.vapour_pressure",
        "oil with 1 % of water, saturated at 100 ppm at 20 degC: that of pure water at 20, 60 and 100 degC",
        lambda: [water.vapour_pressure(ZERO + t, 0.01, 1e-4) for t in (20.0, 60.0, 100.0)],
        lambda: [iapws.iapws95_Psat(ZERO + t) for t in (20.0, 60.0, 100.0)],
        "Pa",
        IAPWS_95,
        LIBRARY,
        "the equation leaves the full formulation by up to 7e-5",
        rel=1e-4,
    ),
    Check(
        "water.vapour_pressure",
        "oil at 20 degC with a quarter and a half of the water that saturates it there",
        lambda: [water.vapour_pressure(293.15, share * 1e-4, 1e-4) for share in (0.25, 0.5)],
        lambda: [share * iapws.iapws95_Psat(293.15) for share in (0.25, 0.5)],
        "Pa",
        IAPWS_95,
        LIBRARY,
        "the equation leaves the full formulation by up to 7e-5",
        rel=1e-4,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_library(check):
    assert check.misses() == []
