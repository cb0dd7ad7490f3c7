"""Laws of the atmosphere, of air in oil and of bubbles against exact mathematics, each by a way of its own."""

import math

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from outside import DERIVED, Check
from ullage.physics import air, atmosphere, bubbles

HYDROSTATICS = "weight of the air above, temperature falling 6.5 K/km, gravity falling with the square, by quadrature"
DIFFERENCE = "derivative by central difference"
BUNSEN = "definition of the Bunsen coefficient (IUPAC), with 22.41397 L/mol of gas at 0 degC and one atmosphere"
HENRY = "Henry's law and the ideal gas, moles counted and the balance solved by SciPy"
CLOSED_VESSEL = "mass balance of a closed vessel with Henry's law, by hand"
DIFFUSION = "steady diffusion of gas from a sphere (the case of Epstein and Plesset), mass integrated by SciPy"
BOYLE = "Boyle's law"
LAYERS = "light through a million thin layers, each shaded by its bubbles, by multiplication"

ZERO, ATMOSPHERE = 273.15, 101325.0
MOLAR_VOLUME, MOLAR_MASS = 22.41397e-3, 28.9644e-3  # of gas at 0 degC and one atmosphere [m3/mol], of air [kg/mol]
ELEVATIONS = (-2000.0, 500.0, 1500.0, 3000.0, 4500.0, 11000.0)
DISSOLVING = [(0.05e-3, 0.0), (0.1e-3, 0.0), (0.5e-3, 0.0), (0.1e-3, 0.5)]  # radius [m], saturation


def weight_of_air(elevation):
    def per_metre(h):
        ratio = 6356766.0 / (6356766.0 + h)
        return 9.80665 * ratio * ratio / (287.05287 * (288.15 - 0.0065 * h * ratio))

    return 101325.0 * math.exp(-quad(per_metre, 0.0, elevation, epsrel=1e-12)[0])


def released(pressure, temperature):
    """Return the free air over oil, by volume, in oil saturated at one atmosphere and held at a pressure."""
    solubility = air.solubility(temperature, 0.09, 0.0, 870.0)
    free = bubbles.oversaturation(solubility * ATMOSPHERE, solubility, pressure, 0.0)
    return bubbles.gas_ratio(free, temperature, pressure, 870.0)


def released_moles(pressure, temperature):
    """Return the same from the moles in a cubic metre of oil."""
    molar = ATMOSPHERE * MOLAR_VOLUME / ZERO  # gas constant [J/(mol K)]
    before = 0.09 / MOLAR_VOLUME

    def excess(ratio):
        return before * pressure / ATMOSPHERE + pressure * ratio / (molar * temperature) - before

    return brentq(excess, 0.0, 1.0, xtol=1e-14)


def vessel_pressure():
    """Return where 0.5 L of air at 2 bar over 1 L of oil saturated at one atmosphere end, from our solubility."""
    solubility = air.solubility(313.15, 0.1 * ZERO / 313.15, 0.0, 870.0)

    def in_gas(pressure):
        return 0.5e-3 * pressure / (air.GAS_CONSTANT * 313.15)

    def in_oil(pressure):
        return solubility * pressure * 870.0 * 1e-3

    total = in_gas(200e3) + in_oil(ATMOSPHERE)
    return brentq(lambda p: in_gas(p) + in_oil(p) - total, 1e5, 2e5, xtol=1e-7)


def time_to_dissolve(radius, saturation):
    """Return the time [s] in which a bubble loses its mass by diffusion into 5e-10 m2/s, Ostwald coefficient 0.11."""
    gas = 1.2
    dissolved = 0.11 * gas * (1.0 - saturation)
    whole = 4.0 / 3.0 * math.pi * radius**3 * gas

    def per_mass(mass):
        size = (3.0 * mass / (4.0 * math.pi * gas)) ** (1.0 / 3.0)
        return 1.0 / (4.0 * math.pi * 5e-10 * size * dissolved)

    return quad(per_mass, 0.0, whole, epsabs=0.0, epsrel=1e-9, limit=200)[0]


def through_layers(depth, void, diameter, layers=1_000_000):
    """Return the light left behind thin layers: a sphere stops twice its shadow and sends half of that forward."""
    spheres = void / (math.pi / 6.0 * diameter**3)
    return (1.0 - spheres * math.pi / 4.0 * diameter**2 * depth / layers) ** layers


CHECKS = [
    Check(
        "atmosphere.pressure",
        "at -2000 to 11000 m, from the weight of the air",
        lambda: [atmosphere.pressure(h) for h in ELEVATIONS],
        lambda: [weight_of_air(h) for h in ELEVATIONS],
        "Pa",
        HYDROSTATICS,
        DERIVED,
        "exponent rounded to six digits",
        rel=5e-6,
    ),
    Check(
        "atmosphere.pressure, atmosphere.air_density, atmosphere.GRAVITY",
        "loss of pressure per metre at sea level is the weight of a cubic metre of air",
        lambda: 0.5 * (atmosphere.pressure(-1.0) - atmosphere.pressure(1.0)),
        lambda: atmosphere.air_density(101325.0, 288.15) * atmosphere.GRAVITY,
        "Pa/m",
        DIFFERENCE,
        DERIVED,
        "gas constant rounded to five digits",
        rel=2e-5,
    ),
    Check(
        "air.solubility",
        "air in a cubic metre of oil under one atmosphere, Bunsen coefficient 0.09 and 0.11, as moles",
        lambda: [air.solubility(333.15, b, 0.0, 870.0) * ATMOSPHERE * 870.0 / MOLAR_MASS for b in (0.09, 0.11)],
        lambda: [b / MOLAR_VOLUME for b in (0.09, 0.11)],
        "mol/m3",
        BUNSEN,
        DERIVED,
        "gas constant rounded to five digits",
        rel=4e-5,
    ),
    Check(
        "bubbles.ostwald",
        "air that oil with a Bunsen coefficient of 0.09 dissolves at 0, 40 and 100 degC, by volume",
        lambda: [
            bubbles.ostwald(ZERO + t, air.solubility(ZERO + t, 0.09, 0.0, 870.0), 870.0) for t in (0.0, 40.0, 100.0)
        ],
        lambda: [0.09 / MOLAR_VOLUME * 8.314463 * (ZERO + t) / ATMOSPHERE for t in (0.0, 40.0, 100.0)],
        "1",
        BUNSEN,
        DERIVED,
        "molar volume and constant to seven digits",
        rel=1e-6,
    ),
    Check(
        "bubbles.oversaturation, bubbles.gas_ratio",
        "oil saturated at one atmosphere held at 40 degC and 90, 80, 70 and 50 kPa: free air over oil",
        lambda: [released(p, 313.15) for p in (90e3, 80e3, 70e3, 50e3)],
        lambda: [released_moles(p, 313.15) for p in (90e3, 80e3, 70e3, 50e3)],
        "1",
        HENRY,
        DERIVED,
        "tolerance of the root",
        rel=1e-11,
    ),
    Check(
        "air.solubility",
        "0.5 L of air at 2 bar over 1 L of oil saturated at one atmosphere that dissolves 0.1 of its volume: end",
        vessel_pressure,
        lambda: (200e3 * 0.5 + 0.1 * ATMOSPHERE * 1.0) / (0.5 + 0.1 * 1.0),
        "Pa",
        CLOSED_VESSEL,
        DERIVED,
        "tolerance of the root",
        rel=1e-10,
    ),
    Check(
        "bubbles.dissolution_rate",
        "time to dissolve, radius 0.05, 0.1 and 0.5 mm in oil without air and 0.1 mm in oil half saturated",
        lambda: [1.0 / bubbles.dissolution_rate(r, 5e-10, 0.11, f) for r, f in DISSOLVING],
        lambda: [time_to_dissolve(r, f) for r, f in DISSOLVING],
        "s",
        DIFFUSION,
        DERIVED,
        "tolerance of the integration",
        rel=1e-7,
    ),
    Check(
        "bubbles.compressed_radius",
        "pressure times volume of a bubble of 0.3 mm at one atmosphere, at 0.5, 1 and 20 bar",
        lambda: [p * 4.0 / 3.0 * math.pi * bubbles.compressed_radius(3e-4, p) ** 3 for p in (0.5e5, 1e5, 2e6)],
        lambda: [ATMOSPHERE * math.pi / 6.0 * 3e-4**3] * 3,
        "J",
        BOYLE,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "bubbles.transmittance",
        "a glass of 10 and 20 mm before bubbles of 0.3 mm, 0.1, 0.5 and 2 % of the volume",
        lambda: [bubbles.transmittance(depth, v, 3e-4) for depth in (0.01, 0.02) for v in (1e-3, 5e-3, 0.02)],
        lambda: [through_layers(depth, v, 3e-4) for depth in (0.01, 0.02) for v in (1e-3, 5e-3, 0.02)],
        "1",
        LAYERS,
        DERIVED,
        "a million layers are not infinitely many",
        rel=1e-5,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_agrees_with_the_closed_form(check):
    assert check.misses() == []
