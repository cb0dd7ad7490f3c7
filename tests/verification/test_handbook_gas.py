"""Laws of gas valve, air, cooler and water against examples and tables of handbooks and textbooks."""

import math

import pytest

from outside import LIBRARY, MEMORY, PUBLISHED, Check
from ullage.physics import atmosphere, cooler, valve, water

ZERO = 273.15

ISENTROPIC = "isentropic flow tables for air, as in NACA Report 1135"
FLIEGNER = "Fliegner, choked flow of air"
WHITE_NOZZLE = "White, Fluid Mechanics: converging nozzle"
CENGEL_NOZZLE = "Cengel and Cimbala, Fluid Mechanics: effect of back pressure on a nozzle"
CENGEL_LAVAL = "Cengel and Cimbala, Fluid Mechanics: converging-diverging nozzle"
CENGEL_AIR = "Cengel, Heat Transfer: table of air at 1 atm"
KAYS = "Kays and London: usual approximation for cross-flow with both fluids unmixed"
SOM = "Som, Introduction to Heat Transfer: Example 10.7"
INCROPERA_FINS = "Incropera et al., Fundamentals of Heat and Mass Transfer: Example 11.3"
INCROPERA_TUBES = "Incropera et al., Fundamentals of Heat and Mass Transfer: Example 11.1"
CYLINDER = "Churchill and Bernstein (1977), cylinder in cross-flow"
ANTOINE = "Antoine equation for water, 1 to 100 degC"
MAGNUS = "Magnus equation for water"


CHECKS = [
    Check(
        "valve.gas_orifice_flow",
        "choked flow over the flow at 0.8430, 0.7840, 0.6430 and 0.5913 of the pressure (Mach 0.5, 0.6, 0.82 and 0.9)",
        lambda: [
            valve.gas_orifice_flow(1e-4, 1e6, 0.0, 300.0) / valve.gas_orifice_flow(1e-4, 1e6, 1e6 * ratio, 300.0)
            for ratio in (0.8430, 0.7840, 0.6430, 0.5913)
        ],
        (1.3398, 1.1882, 1.0305, 1.0089),
        "1",
        ISENTROPIC,
        PUBLISHED,
        "pressure ratio and area ratio printed to 0.0001",
        abs=2e-4,
    ),
    Check(
        "valve.gas_orifice_flow",
        "choked air, one square metre, 1 Pa and 1 K",
        lambda: 1e-6 * valve.gas_orifice_flow(1.0, 1e6, 0.0, 400.0) * math.sqrt(400.0),
        0.0404,
        "kg K^0.5/(s N)",
        FLIEGNER,
        PUBLISHED,
        "three digits",
        abs=0.00005,
    ),
    Check(
        "valve.gas_orifice_flow",
        "throat of 6 cm2, 120 kPa and 400 K, back pressure 45 and 90 kPa",
        lambda: [valve.gas_orifice_flow(6e-4, 120e3, p, 400.0) for p in (45e3, 90e3)],
        (0.14551, 0.12860),
        "kg/s",
        WHITE_NOZZLE,
        MEMORY,
        "gas constant 287 in the book",
        rel=1.5e-4,
    ),
    Check(
        "valve.gas_orifice_flow",
        "throat of 50 cm2, total state 1.0456 MPa and 884.2 K, back pressure 0.7 and 0.4 MPa",
        lambda: [valve.gas_orifice_flow(50e-4, 1.0456e6, p, 884.2) for p in (0.7e6, 0.4e6)],
        (6.77, 7.10),
        "kg/s",
        CENGEL_NOZZLE,
        MEMORY,
        "three digits after steps of three digits",
        rel=3e-3,
    ),
    Check(
        "valve.gas_orifice_flow",
        "throat of 20 cm2, 1.0 MPa and 800 K, choked",
        lambda: valve.gas_orifice_flow(20e-4, 1e6, 0.1e6, 800.0),
        2.86,
        "kg/s",
        CENGEL_LAVAL,
        MEMORY,
        "three digits",
        abs=0.005,
    ),
    Check(
        "atmosphere.air_density",
        "at one atmosphere and 0, 20, 50, 100 and 200 degC",
        lambda: [atmosphere.air_density(101325.0, ZERO + t) for t in (0.0, 20.0, 50.0, 100.0, 200.0)],
        (1.292, 1.204, 1.092, 0.9458, 0.7459),
        "kg/m3",
        CENGEL_AIR,
        PUBLISHED,
        "four digits",
        rel=4e-4,
    ),
    Check(
        "cooler.crossflow_effectiveness",
        "(transfer units, capacity ratio) of (0.5, 0.25), (1, 0.5), (1, 1), (2, 0.5) and (3, 0.75)",
        lambda: [
            cooler.crossflow_effectiveness(units, ratio)
            for units, ratio in ((0.5, 0.25), (1.0, 0.5), (1.0, 1.0), (2.0, 0.5), (3.0, 0.75))
        ],
        (0.372057, 0.544764, 0.468536, 0.738758, 0.755313),
        "1",
        KAYS,
        LIBRARY,
        "six digits",
        abs=6e-7,
    ),
    Check(
        "cooler.core_heat_rate",
        "250 m2 of 220 W/(m2 K), 7 kg/s of water at 20 degC and 10 kg/s of air at 125 degC",
        lambda: 1e-6 * 105.0 * cooler.core_heat_rate(220.0 * 250.0, 7.0 * 4180.0, 10.0 * 1010.0),
        1.0,
        "MW",
        SOM,
        PUBLISHED,
        "rounded in the book; its 26 degC of leaving air are 1.0 MW too",
        rel=0.015,
    ),
    Check(
        "cooler.core_heat_rate",
        "39.7 m2 of 100 W/(m2 K) heat 1 kg/s of water from 35 to 125 degC with gas that goes from 300 to 100 degC",
        lambda: 1e-3 * 265.0 * cooler.core_heat_rate(3970.0, 4197.0, 4197.0 * 90.0 / 200.0),
        377.7,
        "kW",
        INCROPERA_FINS,
        MEMORY,
        "size read from a chart to two digits",
        rel=0.02,
    ),
    Check(
        "cooler.core_conductance",
        "2250 W/(m2 K) on the water side and 38.4 on the oil side",
        lambda: cooler.core_conductance(2250.0, 38.4),
        37.8,
        "W/(m2 K)",
        INCROPERA_TUBES,
        MEMORY,
        "three digits",
        abs=0.05,
    ),
    Check(
        "cooler.scaled_conductance",
        "Nusselt number from 53.328 at a Reynolds number of 1e4 to ten times that, exponent 0.6",
        lambda: cooler.scaled_conductance(53.328, 10.0, 0.6),
        214.126,
        "1",
        CYLINDER,
        LIBRARY,
        "the correlation is no power of the Reynolds number; 0.6 is its mean in this range",
        rel=0.01,
    ),
    Check(
        "water.saturation_pressure",
        "at 20, 60 and 100 degC (8.07131, 1730.63 and 233.426, in mmHg)",
        lambda: [water.saturation_pressure(ZERO + t) for t in (20.0, 60.0, 100.0)],
        lambda: [133.322 * 10.0 ** (8.07131 - 1730.63 / (233.426 + t)) for t in (20.0, 60.0, 100.0)],
        "Pa",
        ANTOINE,
        MEMORY,
        "three constants fit the range to 0.5 %",
        rel=5e-3,
    ),
    Check(
        "water.saturation_pressure",
        "at 0, 20 and 40 degC (610.94 Pa, 17.625 and 243.04 degC)",
        lambda: [water.saturation_pressure(ZERO + t) for t in (0.0, 20.0, 40.0)],
        lambda: [610.94 * math.exp(17.625 * t / (t + 243.04)) for t in (0.0, 20.0, 40.0)],
        "Pa",
        MAGNUS,
        MEMORY,
        "good to 0.3 % up to 40 degC",
        rel=3e-3,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_handbook(check):
    assert check.misses() == []
