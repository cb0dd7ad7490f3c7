"""Viscosity, density and compressibility of the oil against published standards."""

import math

import pytest
from scipy.optimize import brentq

from outside import PUBLISHED, Between, Check
from ullage.physics import oil, tank
from ullage.scenario.presets import GRADES

ZERO = 273.15
PSI = 6894.757

D341 = "ASTM D341: simplified equation"
D341_FULL = "ASTM D341: equation with the term for thin oils"
D341_WORKSHEET = "public worksheet for ASTM D341 (zero at 273 K)"
ISO_3448 = "ISO 3448:1992, viscosity classes"
D1250 = "API MPMS 11.1 / ASTM D1250: lubricating oils (Table 54D)"
D1250_US = "API MPMS 11.1 / ASTM D1250: lubricating oils (Table 6D)"
API_COMPRESSIBILITY = "API MPMS 11.2.1M (1984): compressibility of hydrocarbons"
API_COMPRESSIBILITY_US = "API MPMS 11.2.1 (1984): compressibility of hydrocarbons, US units"

RECOMPUTED = "constants of the standard, recomputed to the digits shown"


def line(at_40, at_100, zero=ZERO):
    return oil.walther_constants(zero + 40.0, at_40 * 1e-6, zero + 100.0, at_100 * 1e-6)


def preset(middle):
    grade = GRADES[f"ISO VG {middle}"]
    return line(1e6 * grade.viscosity_40, 1e6 * grade.viscosity_100)


def viscosities(constants, celsius, zero=ZERO):
    return [1e6 * oil.kinematic_viscosity(zero + t, *constants) for t in celsius]


def decimal(constants):
    """Return the constants as the standard has them, with decimal logarithms."""
    constant, slope = constants
    return [(constant - math.log(math.log(10.0))) / math.log(10.0), slope]


def thin_oil(celsius, at_40=11.0, at_100=2.8):
    """Return the viscosities [mm2/s] of the equation that holds down to 0.2 mm2/s."""

    def left(viscosity):
        term = math.exp(-1.47 - 1.84 * viscosity - 0.51 * viscosity**2)
        return math.log10(math.log10(viscosity + 0.7 + term))

    cold, hot = math.log10(ZERO + 40.0), math.log10(ZERO + 100.0)
    slope = (left(at_40) - left(at_100)) / (hot - cold)
    wanted = [left(at_40) - slope * (math.log10(ZERO + t) - cold) for t in celsius]
    return [brentq(lambda viscosity, w=w: left(viscosity) - w, 1.0, 100.0, xtol=1e-10) for w in wanted]


def per_psi(celsius, density_15):
    fahrenheit, inverse = 1.8 * celsius + 32.0, (1000.0 / density_15) ** 2
    return 1e-5 * math.exp(-1.99470 + 0.00013427 * fahrenheit + (0.79392 + 0.0023260 * fahrenheit) * inverse)


WARM = [(t, at_15) for at_15 in (820.0, 870.0, 920.0) for t in (0.0, 40.0, 100.0)]

CHECKS = [
    Check(
        "oil.walther_constants",
        "A and B of the oil with 32 mm2/s at 40 degC and 5.4 mm2/s at 100 degC",
        lambda: decimal(line(32.0, 5.4)),
        (9.5308151, 3.7465784),
        "1",
        D341,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-8,
    ),
    Check(
        "oil.walther_constants",
        "A and B of the same oil, temperatures counted from 273 K",
        lambda: decimal(line(32.0, 5.4, zero=273.0)),
        (9.5259, 3.7449),
        "1",
        D341_WORKSHEET,
        PUBLISHED,
        "printed to 0.0001",
        abs=0.5e-4,
    ),
    Check(
        "oil.kinematic_viscosity",
        "the same oil at 80 degC, temperatures counted from 273 K",
        lambda: viscosities(line(32.0, 5.4, zero=273.0), (80.0,), zero=273.0),
        8.5,
        "mm2/s",
        D341_WORKSHEET,
        PUBLISHED,
        "printed to 0.1",
        abs=0.05,
    ),
    Check(
        "oil.kinematic_viscosity",
        "ISO VG 32 (32 and 5.4 mm2/s at 40 and 100 degC) at -20, 0, 20, 60, 80 and 120 degC",
        lambda: viscosities(line(32.0, 5.4), (-20.0, 0.0, 20.0, 60.0, 80.0, 120.0)),
        (2291.4717, 335.99962, 86.277857, 15.185893, 8.5332147, 3.7238613),
        "mm2/s",
        D341,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
    Check(
        "oil.kinematic_viscosity",
        "ISO VG 46 (46 and 6.8 mm2/s at 40 and 100 degC) at 0, 20, 60, 80 and 120 degC",
        lambda: viscosities(line(46.0, 6.8), (0.0, 20.0, 60.0, 80.0, 120.0)),
        (577.32136, 133.83818, 20.622748, 11.102611, 4.5714342),
        "mm2/s",
        D341,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
    Check(
        "oil.kinematic_viscosity",
        "a transmission fluid (34 and 7.3 mm2/s at 40 and 100 degC) at -20, 0, 20, 60, 80 and 120 degC",
        lambda: viscosities(line(34.0, 7.3), (-20.0, 0.0, 20.0, 60.0, 80.0, 120.0)),
        (878.77969, 215.84186, 75.732876, 18.163108, 10.996919, 5.1926815),
        "mm2/s",
        D341,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
    Check(
        "oil.kinematic_viscosity",
        "a thin oil of 11 and 2.8 mm2/s at 40 and 100 degC, at 60, 80 and 120 degC",
        lambda: viscosities(line(11.0, 2.8), (60.0, 80.0, 120.0)),
        lambda: thin_oil((60.0, 80.0, 120.0)),
        "mm2/s",
        D341_FULL,
        PUBLISHED,
        "the term left out is 8e-4 at 2 mm2/s, the thinnest here",
        abs=8e-4,
    ),
    Check(
        "oil.walther_constants, oil.kinematic_viscosity",
        "the oil presets ISO VG 22, 32, 46 and 68 at 40 degC, over the middle of their classes",
        lambda: [viscosities(preset(middle), (40.0,))[0] / middle for middle in (22, 32, 46, 68)],
        Between(0.9, 1.1),
        "1",
        ISO_3448,
        PUBLISHED,
        "limits of a class, 10 % either side",
    ),
    Check(
        "oil.expansion_constant",
        "oils of 850, 870 and 900 kg/m3 at 15 degC, from the constant per degF",
        lambda: [oil.expansion_constant(at_15) * at_15 for at_15 in (850.0, 870.0, 900.0)],
        (0.34878 * 1.8,) * 3,
        "kg/(m3 K)",
        D1250_US,
        PUBLISHED,
        "both constants rounded, 7e-6 apart",
        rel=1e-5,
    ),
    Check(
        "oil.density",
        "volume correction of an oil of 870 kg/m3 at 0, 40, 60, 80, 100 and 120 degC",
        lambda: [oil.density(ZERO + t, 870.0) / 870.0 for t in (0.0, 40.0, 60.0, 80.0, 100.0, 120.0)],
        (1.0107882, 0.98186585, 0.96723289, 0.95250052, 0.93768, 0.9227825),
        "1",
        D1250,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
    Check(
        "oil.density",
        "at 100 degC, oils of 850, 870, 880 and 900 kg/m3 at 15 degC",
        lambda: [oil.density(ZERO + 100.0, at_15) for at_15 in (850.0, 870.0, 880.0, 900.0)],
        (795.76, 815.78, 825.79, 845.81),
        "kg/m3",
        D1250,
        PUBLISHED,
        "printed to 0.01",
        abs=0.01,
    ),
    Check(
        "oil.density",
        "volume at 100 degC of a litre of oil at 20 degC, 870 kg/m3 at 15 degC",
        lambda: oil.density(ZERO + 20.0, 870.0) / oil.density(ZERO + 100.0, 870.0),
        1.06261,
        "L",
        D1250,
        PUBLISHED,
        "printed to 0.00001",
        abs=1e-5,
    ),
    Check(
        "oil.expansion_coefficient",
        "an oil of 870 kg/m3 at 15, 60 and 100 degC, slope of the volume correction",
        lambda: [1e4 * oil.expansion_coefficient(ZERO + t, 870.0) for t in (15.0, 60.0, 100.0)],
        (7.216, 7.591, 7.924),
        "1e-4/K",
        D1250,
        PUBLISHED,
        "printed to 0.001",
        abs=0.0006,
    ),
    Check(
        "oil.bulk_modulus",
        "oils of 820, 870 and 920 kg/m3, each at -20, 40 and 150 degC",
        lambda: [
            1e-9 * oil.bulk_modulus(ZERO + t, at_15) for at_15 in (820.0, 870.0, 920.0) for t in (-20.0, 40.0, 150.0)
        ],
        (1.5762006, 1.0687227, 0.52419944, 1.7961525, 1.2700108, 0.67270573, 2.0048367, 1.4684739, 0.82980515),
        "GPa",
        API_COMPRESSIBILITY,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
    Check(
        "oil.bulk_modulus",
        "oils of 820, 870 and 920 kg/m3, each at 0, 40 and 100 degC",
        lambda: [1e-9 * oil.bulk_modulus(ZERO + t, at_15) for t, at_15 in WARM],
        lambda: [1e-9 * PSI / per_psi(t, at_15) for t, at_15 in WARM],
        "GPa",
        API_COMPRESSIBILITY_US,
        PUBLISHED,
        "the constants of the two systems of units are rounded apart, up to 0.25 %",
        rel=0.003,
    ),
    Check(
        "tank.total_compliance",
        "8 kg of oil of 870 kg/m3 at 40 degC in a rigid wall, and in one that yields 2e-12 m3/Pa",
        lambda: [1e12 * tank.total_compliance(wall, 8.0, ZERO + 40.0, 870.0) for wall in (0.0, 2e-12)],
        tuple(1e12 * (wall + 8.0 / (870.0 * 0.98186585) / 1.2700108e9) for wall in (0.0, 2e-12)),
        "1e-12 m3/Pa",
        API_COMPRESSIBILITY,
        PUBLISHED,
        RECOMPUTED,
        rel=1e-7,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_standard(check):
    assert check.misses() == []
