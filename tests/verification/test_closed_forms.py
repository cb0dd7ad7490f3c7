"""Laws of oil and tank against exact mathematics, each by a way of its own."""

import math
from decimal import Decimal, localcontext

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from outside import DERIVED, Check
from ullage.physics import oil, tank

STRAIGHT_LINE = "straight line in ln ln (viscosity + 0.7) over ln T (ASTM D341), by proportion"
QUADRATURE = "integral by the quadrature of SciPy"
DIFFERENCE = "derivative by central difference"
ROOT = "root of the balance, solved by SciPy"
QUADRATIC = "root of a quadratic, with 50 digits"
RIGID_VESSEL = "ideal gas in a rigid vessel, by hand"
COMPLIANCE = "liquid and gas in series, each with its own modulus, by hand"
FULL_TANK = "liquid that may not expand, (dp/dT) at constant volume, by hand"
CUBE = "a cube whose edges grow, by hand"

ZERO = 273.15
PAIRS = ((32.0, 5.4), (46.0, 6.8), (34.0, 7.3))  # [mm2/s] at 40 and 100 degC
WARM, HOT = ZERO + 40.0, ZERO + 100.0
TEMPERATURES = tuple(ZERO + t for t in (-20.0, 0.0, 40.0, 80.0, 120.0, 150.0))
LIQUID = tuple((t, rho) for t in TEMPERATURES for rho in (820.0, 900.0))
AIR_VOLUMES = (-1e-3, -1e-5, -1e-8, 0.0, 1e-8, 1e-5, 1e-3)
PRESSURES = (0.05e6, 0.2e6, 1e6)

# a sealed vessel of 1.5 L with 1.0 L of oil, shut at 20 degC and one atmosphere
VESSEL, FILL, START = 1.5e-3, 1.0e-3, 101325.0
AIR = START * (VESSEL - FILL) / 293.15  # gas constant times mass [J/K]
GROWN = FILL * oil.density(293.15, 870.0) / oil.density(HOT, 870.0)
BY_HAND = FILL * (1.0 + 7e-4 * 80.0)
RIGID = 1e-22  # compliance [m3/Pa] that yields 1e-14 of the air space
FREE, MODULUS = 0.01, 1.5e9  # share of free air at one atmosphere, and modulus [Pa], of an oil with air in it


def central(law, at, step):
    return (law(at + step) - law(at - step)) / (2.0 * step)


def viscosity(pair, temperature):
    line = oil.walther_constants(WARM, pair[0] * 1e-6, HOT, pair[1] * 1e-6)
    return 1e6 * oil.kinematic_viscosity(temperature, *line)


def in_proportion(pair):
    """Return viscosities half way between two points of the line, and one distance beyond either."""
    cold, hot = (math.log(value + 0.7) for value in pair)
    return [math.exp(log) - 0.7 for log in (math.sqrt(cold * hot), cold * cold / hot, hot * hot / cold)]


def heated_full_tank(wall):
    """Return the pressure [Pa] that 1 K puts on 5 L of oil at 40 degC in a tank whose wall yields."""
    mass = 5e-3 * oil.density(WARM, 870.0)
    grown = mass / oil.density(WARM + 0.5, 870.0) - mass / oil.density(WARM - 0.5, 870.0)
    return tank.air_pressure(1e-9, -grown, tank.total_compliance(wall, mass, WARM, 870.0))


def aerated_volume(pressure):
    liquid = (1.0 - FREE) * math.exp(-(pressure - START) / MODULUS)
    return liquid, FREE * START / pressure


def aerated_modulus(pressure):
    """Return the modulus [Pa] of a cubic metre of oil with free air, from the law of the air space."""
    yielding = (1.0 - FREE) / MODULUS
    at_rest = 1.0 - FREE + yielding * START
    volume = sum(aerated_volume(pressure))
    step = 1e-7 * volume
    return -volume * central(lambda v: tank.air_pressure(FREE * START, v - at_rest, yielding), volume, step)


def exact_root(air, volume, compliance):
    with localcontext() as context:
        context.prec = 50
        a, v, c = Decimal(air), Decimal(volume), Decimal(compliance)
        return float(((v * v + 4 * c * a).sqrt() - v) / (2 * c))


CHECKS = [
    Check(
        "oil.walther_constants, oil.kinematic_viscosity",
        "lines through 40 and 100 degC: at 68.7 degC, -10.4 degC and 171.5 degC, where equal steps of ln T end",
        lambda: [viscosity(p, t) for p in PAIRS for t in (math.sqrt(WARM * HOT), WARM**2 / HOT, HOT**2 / WARM)],
        lambda: [value for pair in PAIRS for value in in_proportion(pair)],
        "mm2/s",
        STRAIGHT_LINE,
        DERIVED,
        "exact, rounding of nested logarithms",
        rel=1e-10,
    ),
    Check(
        "oil.density, oil.expansion_coefficient",
        "density of oils of 820 and 900 kg/m3 from -20 to 150 degC, from the integral of the expansion",
        lambda: [oil.density(t, rho) for t, rho in LIQUID],
        lambda: [rho * math.exp(-quad(oil.expansion_coefficient, 288.15, t, (rho,))[0]) for t, rho in LIQUID],
        "kg/m3",
        QUADRATURE,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "oil.expansion_coefficient",
        "oils of 820 and 900 kg/m3 from -20 to 150 degC, from the slope of the density",
        lambda: [oil.expansion_coefficient(t, rho) for t, rho in LIQUID],
        lambda: [-central(lambda x, rho=rho: math.log(oil.density(x, rho)), t, 0.01) for t, rho in LIQUID],
        "1/K",
        DIFFERENCE,
        DERIVED,
        "rounding of the difference over 0.02 K",
        rel=1e-7,
    ),
    Check(
        "oil.bulk_modulus, tank.total_compliance, tank.air_pressure",
        "5 L of oil at 40 degC heated by 1 K in a full tank, rigid and yielding 5e-12 m3/Pa",
        lambda: [heated_full_tank(wall) for wall in (0.0, 5e-12)],
        lambda: [
            oil.expansion_coefficient(WARM, 870.0) / (1.0 / oil.bulk_modulus(WARM, 870.0) + wall / 5e-3)
            for wall in (0.0, 5e-12)
        ],
        "Pa",
        FULL_TANK,
        DERIVED,
        "the expansion bends over 1 K",
        rel=1e-6,
    ),
    Check(
        "oil.enthalpy, oil.specific_heat",
        "heat that a kilogram takes from 290 to 320 and 390 K, oil of 870 kg/m3",
        lambda: [
            oil.enthalpy(t, *oil.specific_heat_constants(870.0))
            - oil.enthalpy(290.0, *oil.specific_heat_constants(870.0))
            for t in (320.0, 390.0)
        ],
        lambda: [quad(oil.specific_heat, 290.0, t, oil.specific_heat_constants(870.0))[0] for t in (320.0, 390.0)],
        "J/kg",
        QUADRATURE,
        DERIVED,
        "exact, rounding of a difference",
        rel=1e-11,
    ),
    Check(
        "oil.temperature_from_energy",
        "0.5, 2 and 3 MJ in 5 kJ/K rising by 12 J/K2, and in 8 kJ/K that does not rise",
        lambda: [oil.temperature_from_energy(e, c, d) for e in (0.5e6, 2e6, 3e6) for c, d in ((5e3, 12.0), (8e3, 0.0))],
        lambda: [
            brentq(lambda t, e=e, c=c, d=d: quad(lambda x: c + d * x, 0.0, t)[0] - e, 1.0, 1e3, xtol=1e-10)
            for e in (0.5e6, 2e6, 3e6)
            for c, d in ((5e3, 12.0), (8e3, 0.0))
        ],
        "K",
        ROOT,
        DERIVED,
        "tolerance of the root",
        rel=1e-11,
    ),
    Check(
        "tank.expanded_volume",
        "1 L at 20 degC with edges that grow by 23.6e-6 and 11.7e-6 per kelvin, at -20 and 120 degC",
        lambda: [tank.expanded_volume(1e-3, 3.0 * a, ZERO + t) for a in (23.6e-6, 11.7e-6) for t in (-20.0, 120.0)],
        lambda: [(0.1 * (1.0 + a * (t - 20.0))) ** 3 for a in (23.6e-6, 11.7e-6) for t in (-20.0, 120.0)],
        "m3",
        CUBE,
        DERIVED,
        "the square of the strain is left out",
        rel=2e-5,
    ),
    Check(
        "tank.air_pressure",
        "1.5 L with 1.0 L of oil shut at 20 degC, now at 100 degC: D1250, expansion 7e-4 1/K, the same with cold air",
        lambda: [
            tank.air_pressure(AIR * temperature, VESSEL - grown, RIGID)
            for grown, temperature in ((GROWN, HOT), (BY_HAND, HOT), (BY_HAND, 293.15))
        ],
        (147438.6, 145243.7, 114104.7),
        "Pa",
        RIGID_VESSEL,
        DERIVED,
        "seven digits",
        rel=1e-6,
    ),
    Check(
        "tank.air_pressure",
        "the same vessel with oil of 1.5 GPa, and with a wall that yields 1e-9 m3/Pa besides",
        lambda: [
            tank.air_pressure(AIR * HOT, VESSEL - GROWN - c * START, c)
            for c in (GROWN / MODULUS, GROWN / MODULUS + 1e-9)
        ],
        lambda: [
            brentq(
                lambda p, w=w: p * (VESSEL + w * (p - START) - GROWN * (1.0 - (p - START) / MODULUS)) - AIR * HOT,
                1e5,
                1e6,
            )
            for w in (0.0, 1e-9)
        ],
        "Pa",
        ROOT,
        DERIVED,
        "tolerance of the root",
        rel=1e-10,
    ),
    Check(
        "tank.air_pressure",
        "1 mJ and 50 J of air, room of -1 L to 1 L, yield of 1e-14 and 1e-11 m3/Pa, 28 cases",
        lambda: [tank.air_pressure(a, v, c) for a in (1e-3, 50.0) for v in AIR_VOLUMES for c in (1e-14, 1e-11)],
        lambda: [exact_root(a, v, c) for a in (1e-3, 50.0) for v in AIR_VOLUMES for c in (1e-14, 1e-11)],
        "Pa",
        QUADRATIC,
        DERIVED,
        "rounding",
        rel=1e-14,
    ),
    Check(
        "tank.air_pressure",
        "modulus of oil of 1.5 GPa with 1 % of free air at one atmosphere, at 0.05, 0.2 and 1 MPa",
        lambda: [aerated_modulus(p) for p in PRESSURES],
        lambda: [
            (liquid + gas) / (liquid / MODULUS + gas / p) for p in PRESSURES for liquid, gas in [aerated_volume(p)]
        ],
        "Pa",
        COMPLIANCE,
        DERIVED,
        "the law's liquid yields in proportion to pressure, the other's exponentially",
        rel=1e-3,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_agrees_with_the_closed_form(check):
    assert check.misses() == []
