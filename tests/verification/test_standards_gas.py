"""Heat of the oil, air, water and gas valves against published standards."""

import math

import pytest

from outside import LIBRARY, MEMORY, PUBLISHED, Check
from ullage.physics import air, atmosphere, bubbles, oil, valve, water

ZERO = 273.15

CRAGOE = "Cragoe, Thermal properties of petroleum products, Bureau of Standards Misc. Publ. 97 (1929)"
D2779 = "ASTM D2779, equation and constant for air"
ISO_2533 = "ISO 2533:1975, standard atmosphere"
US_1976 = "US Standard Atmosphere 1976"
API_520 = "API 520 Part I: sizing for gas, SI units"
IAPWS_95 = "IAPWS-95: release R6-95(2018), table 8"
IAPWS_97 = "IAPWS-IF97: release R7-97(2012), table 35"
WATER = "IAPWS-95: water"

RECOMPUTED = "constants of the standard, recomputed to the digits shown"
ALTITUDES = (0.0, 500.0, 1000.0, 1500.0, 2000.0, 3000.0, 4000.0)
ISO_PRESSURES = (101325.0, 95461.3, 89876.3, 84559.7, 79501.4, 70121.2, 61660.4)
ISO_TEMPERATURES = (288.150, 284.900, 281.651, 278.402, 275.154, 268.659, 262.166)
ISO_DENSITIES = (1.22500, 1.16727, 1.11166, 1.05810, 1.00655, 0.90925, 0.81935)


def heat_us(fahrenheit, relative_density):
    """Return the specific heat [J/(kg K)] of the formula in Btu, pounds and degrees Fahrenheit."""
    return 4186.8 * (0.388 + 0.00045 * fahrenheit) / math.sqrt(relative_density)


def heat(celsius, relative_density):
    return oil.specific_heat(ZERO + celsius, *oil.specific_heat_constants(999.0 * relative_density))


def enthalpy_rise(start, end, relative_density):
    constants = oil.specific_heat_constants(999.0 * relative_density)
    return oil.enthalpy(ZERO + end, *constants) - oil.enthalpy(ZERO + start, *constants)


def warmed(start, heat_added, relative_density):
    """Return the temperature [degC] of a kilogram of oil after heat [J]."""
    constants = oil.specific_heat_constants(999.0 * relative_density)
    return oil.temperature_from_energy(oil.enthalpy(ZERO + start, *constants) + heat_added, *constants) - ZERO


def from_geopotential(altitude):
    return 6356766.0 * altitude / (6356766.0 - altitude)


CHECKS = [
    Check(
        "oil.specific_heat_constants, oil.specific_heat",
        "relative density 0.87 at 20, 60 and 100 degC, and 0.85 and 0.90 at 60 degC",
        lambda: [heat(t, s) for s, t in ((0.87, 20.0), (0.87, 60.0), (0.87, 100.0), (0.85, 60.0), (0.90, 60.0))],
        (1879.0, 2024.4, 2169.9, 2048.1, 1990.4),
        "J/(kg K)",
        CRAGOE,
        PUBLISHED,
        "printed to 0.1",
        abs=0.06,
    ),
    Check(
        "oil.specific_heat_constants, oil.specific_heat",
        "relative density 0.87 at 32, 140 and 248 degF, by the formula in Btu, pounds and degF",
        lambda: [heat(t, 0.87) for t in (0.0, 60.0, 120.0)],
        lambda: [heat_us(f, 0.87) for f in (32.0, 140.0, 248.0)],
        "J/(kg K)",
        CRAGOE,
        PUBLISHED,
        "constants of the two systems of units rounded to five digits",
        rel=5e-5,
    ),
    Check(
        "oil.enthalpy",
        "heat to warm a kilogram of oil of relative density 0.87 from 68 to 212 degF, 144 degF at the mean of 140 degF",
        lambda: 1e-3 * enthalpy_rise(20.0, 100.0, 0.87),
        lambda: 1e-3 * heat_us(140.0, 0.87) * 80.0,
        "kJ/kg",
        CRAGOE,
        PUBLISHED,
        "constants of the two systems of units rounded to five digits",
        rel=5e-5,
    ),
    Check(
        "oil.temperature_from_energy",
        "temperature after the heat that warms oil of relative density 0.87 from 68 to 140 and to 212 degF",
        lambda: [warmed(20.0, heat_us(32.0 + 1.8 * (20.0 + t) / 2, 0.87) * (t - 20.0), 0.87) for t in (60.0, 100.0)],
        (60.0, 100.0),
        "degC",
        CRAGOE,
        PUBLISHED,
        "5e-5 of the heat, as above",
        abs=0.004,
    ),
    Check(
        "air.solubility, bubbles.ostwald",
        "Bunsen coefficient 0.09 without slope, oil of 870 kg/m3 at 25, 60 and 100 degC: air by volume",
        lambda: [
            bubbles.ostwald(ZERO + t, air.solubility(ZERO + t, 0.09, 0.0, 870.0), 870.0) for t in (25.0, 60.0, 100.0)
        ],
        (0.0969, 0.1156, 0.1358),
        "1",
        D2779,
        MEMORY,
        "oils differ by 20 %, and what temperature does is unsettled",
        rel=0.1,
    ),
    Check(
        "atmosphere.pressure",
        "at 0, 500, 1000, 1500, 2000, 3000 and 4000 m by the tape measure",
        lambda: [atmosphere.pressure(h) for h in ALTITUDES],
        ISO_PRESSURES,
        "Pa",
        ISO_2533,
        LIBRARY,
        "exponent rounded to six digits, value to 0.1 Pa",
        abs=0.1,
    ),
    Check(
        "atmosphere.pressure",
        "3000 m of geopotential altitude, 3001.4 m by the tape measure",
        lambda: atmosphere.pressure(from_geopotential(3000.0)),
        70108.5,
        "Pa",
        ISO_2533,
        LIBRARY,
        "value to 0.1 Pa",
        abs=0.1,
    ),
    Check(
        "atmosphere.pressure",
        "at -2000, -1000, 5000, 8000 and 11000 m by the tape measure",
        lambda: [atmosphere.pressure(h) for h in (-2000.0, -1000.0, 5000.0, 8000.0, 11000.0)],
        (127782.83, 113931.16, 54048.286, 35651.628, 22699.960),
        "Pa",
        US_1976,
        LIBRARY,
        "exponent rounded to six digits; constants recomputed",
        rel=2e-6,
    ),
    Check(
        "atmosphere.air_density",
        "at the pressures and temperatures of 0, 500, 1000, 1500, 2000, 3000 and 4000 m",
        lambda: [atmosphere.air_density(p, t) for p, t in zip(ISO_PRESSURES, ISO_TEMPERATURES, strict=True)],
        ISO_DENSITIES,
        "kg/m3",
        ISO_2533,
        LIBRARY,
        "printed to 0.00001, gas constant rounded",
        abs=2e-5,
    ),
    Check(
        "valve.gas_orifice_flow",
        "choked air through 100 mm2 from 200 kPa and 20 degC, coefficients one, 28.965 g/mol",
        lambda: 3600.0 * valve.gas_orifice_flow(1e-4, 200e3, 50e3, ZERO + 20.0),
        169.9492,
        "kg/h",
        API_520,
        LIBRARY,
        "constant 0.03948 of four digits",
        rel=3e-5,
    ),
    Check(
        "valve.gas_orifice_flow",
        "air through 100 mm2 at 20 degC from 150 and 110 kPa to one atmosphere, not choked",
        lambda: [3600.0 * valve.gas_orifice_flow(1e-4, p, 101325.0, ZERO + 20.0) for p in (150e3, 110e3)],
        (121.252, 51.904),
        "kg/h",
        API_520,
        LIBRARY,
        "constant 17.9 of three digits",
        rel=3e-3,
    ),
    Check(
        "water.saturation_pressure",
        "at 275, 450 and 625 K",
        lambda: [water.saturation_pressure(t) for t in (275.0, 450.0, 625.0)],
        (698.451167, 932203.564, 16908269.3),
        "Pa",
        IAPWS_95,
        PUBLISHED,
        "a fit to the full formulation, 2.2e-5 off at the coldest point",
        rel=3e-5,
    ),
    Check(
        "water.saturation_pressure",
        "at 300, 500 and 600 K",
        lambda: [water.saturation_pressure(t) for t in (300.0, 500.0, 600.0)],
        (3536.58941, 2638897.76, 12344314.6),
        "Pa",
        IAPWS_97,
        PUBLISHED,
        "the formulations of science and industry differ by up to 1.3e-4",
        rel=1.4e-4,
    ),
    Check(
        "water.saturation_pressure",
        "at 20, 40, 60, 80, 100 and 120 degC",
        lambda: [water.saturation_pressure(ZERO + t) for t in (20.0, 40.0, 60.0, 80.0, 100.0, 120.0)],
        (2339.3, 7384.9, 19946.4, 47414.5, 101418.0, 198674.4),
        "Pa",
        WATER,
        LIBRARY,
        "a fit to the full formulation, up to 5e-5 off",
        rel=5e-5,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_standard(check):
    assert check.misses() == []
