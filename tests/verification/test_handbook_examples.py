"""Laws of oil, tank and pump and of the tilted surface against examples and tables of handbooks and textbooks."""

import math

import pytest

from outside import MEMORY, PRACTICE, PUBLISHED, Check
from ullage.physics import atmosphere, line, oil, pump, tank, water

ZERO = 273.15
PSI, GALLON, INCH, FOOT, POUND = 6894.757, 231 * 0.0254**3, 0.0254, 0.3048, 0.45359237
STILL = (0.0, 0.0, 0.0)

INCROPERA_OIL = "Incropera et al., Fundamentals of Heat and Mass Transfer: Table A.5, unused engine oil"
TRIBOLOGY = "The Tribology Handbook: Table 25, paraffinic heavy machine oil"
DATA_SHEETS = "data sheets of fluid power, rule of thumb"
COLLEGE = "College Physics (OpenStax): example of a fuel tank that overflows"
ESPOSITO_PUMP = "Esposito, Fluid Power with Applications: Example 5-8"
NPSH = "definition of the net positive suction head of a pump"
CENGEL_FISH = "Cengel and Cimbala, Fluid Mechanics: fish tank on an accelerating truck"
WHITE_MUG = "White, Fluid Mechanics: mug of coffee in an accelerating car"
MUNSON_FUEL = "Munson, Young and Okiishi, Fundamentals of Fluid Mechanics: accelerated fuel tank"
WILSON = "Wilson, ASME paper 48-SA-14 (1948)"

OIL_TEMPERATURES = (273.0, *(float(t) for t in range(280, 431, 10)))
OIL_DENSITIES = [899.1, 895.3, 890.0, 884.1, 877.9, 871.8, 865.8, 859.9]  # 273 and 280 to 340 K
OIL_DENSITIES += [853.9, 847.8, 841.8, 836.0, 830.6, 825.1, 818.9, 812.1, 806.5]  # 350 to 430 K
OIL_HEATS = [1827, 1868, 1909, 1951, 1993, 2035, 2076, 2118, 2161, 2206, 2250, 2294, 2337]
ENGINE_OIL = 890.98  # density at 15 degC by interpolation in the table
FITTED = (310.0, 288e-6, 370.0, 22.0e-6)
BESIDE = [300.0, 320.0, 330.0, 340.0, 350.0, 360.0, 380.0, 390.0, 400.0, 410.0, 420.0, 430.0]
OIL_VISCOSITIES = [550.0, 161.0, 96.6, 61.7, 41.7, 29.7, 16.9, 13.3, 10.6, 8.52, 6.94, 5.83]


def machine_oil():
    """Return the viscosity at 60 degC [mm2/s] of an oil of 875 kg/m3 at 25 degC."""
    at_15 = 875.0
    for _ in range(20):
        at_15 *= 875.0 / oil.density(ZERO + 25.0, at_15)
    ends = [(ZERO + t, 1e-3 * mu / oil.density(ZERO + t, at_15)) for t, mu in ((30.0, 153.0), (100.0, 9.1))]
    return 1e6 * oil.kinematic_viscosity(ZERO + 60.0, *oil.walther_constants(*ends[0], *ends[1]))


# pump of the textbook: 5 in3 and 1000 rpm, 20 US gal/min at 1000 psi, 900 lbf in; the viscosity cancels
BOOK_PUMP = (5.0 * INCH**3 / (2.0 * math.pi), 1000.0 * math.pi / 30.0, 1000.0 * PSI, 0.02)
INCH_POUND = POUND * 9.80665 * INCH


def volumetric_efficiency():
    displacement, speed, rise, viscosity = BOOK_PUMP
    coefficient = pump.slip_coefficient(displacement, speed, 20.0 * GALLON / 60.0, rise, viscosity)
    return 1.0 - pump.slip_flow(coefficient, displacement, rise, viscosity) / (displacement * speed)


def mechanical_efficiency():
    displacement, speed, rise, viscosity = BOOK_PUMP
    friction = pump.friction_coefficient(displacement, rise, viscosity, speed, 900.0 * INCH_POUND, 0.0, 0.0)
    frictionless, real = (pump.shaft_torque(displacement, rise, viscosity, speed, f, 0.0, 0.0) for f in (0.0, friction))
    return frictionless / real


# pump for the equations of Wilson: 10 cm3 and 50 turns a second, 10 MPa, 12.8 mPa s
WILSON_PUMP = (10e-6 / (2.0 * math.pi), 10e6, 12.8e-3)


def wilson_torque():
    return pump.shaft_torque(*WILSON_PUMP, 100.0 * math.pi, 0.05, 1e5, 0.0)


def suction_head():
    """Return pressure less vapour pressure and 3 m of lift, in metres of water, less 1 m of friction."""
    pressure = atmosphere.pressure(0.0) - water.saturation_pressure(ZERO + 20.0)
    pressure += line.body_force(998.2, 0.0, -3.0, 0.0, 0.0, STILL)
    return pressure / line.body_force(998.2, 0.0, 1.0, 0.0, 0.0, STILL) - 1.0


def mug():
    """Return the pressure in the low rear corner: 7 cm deep, 6 cm wide, 7 m/s2, 1010 kg/m3."""
    push = (7.0, 0.0, 0.0)
    return line.body_force(1010.0, line.outlet_depth(0.07, -0.03, 0.0, push), 0.0, 0.0, 0.0, push)


def fuel(share):
    """Return the pressure [lbf/ft2] half a foot deep and 0.75 ft from the middle, at a share of gravity."""
    push = (share * 9.80665, 0.0, 0.0)
    depth = line.outlet_depth(0.5 * FOOT, 0.75 * FOOT, 0.0, push)
    pressure = line.body_force(0.65 * 62.4 * POUND / FOOT**3, depth, 0.0, 0.0, 0.0, push)
    return pressure * FOOT**2 / (POUND * 9.80665)


CHECKS = [
    Check(
        "oil.walther_constants, oil.kinematic_viscosity",
        "engine oil from 300 to 430 K, the line through 288 mm2/s at 310 K and 22.0 mm2/s at 370 K",
        lambda: [1e6 * oil.kinematic_viscosity(t, *oil.walther_constants(*FITTED)) for t in BESIDE],
        OIL_VISCOSITIES,
        "mm2/s",
        INCROPERA_OIL,
        PUBLISHED,
        "a real oil leaves the straight line by up to 2.5 %",
        rel=0.026,
    ),
    Check(
        "oil.walther_constants, oil.kinematic_viscosity, oil.density",
        "a machine oil of 153 mPa s at 30 degC and 9.1 mPa s at 100 degC, measured between them at 60 degC",
        machine_oil,
        39.87,
        "mm2/s",
        TRIBOLOGY,
        PUBLISHED,
        "five of the six oils of the table lie within 2.3 % of their line",
        rel=0.023,
    ),
    Check(
        "oil.density",
        "engine oil at 273 K and every 10 K from 280 to 430 K, 891 kg/m3 at 15 degC",
        lambda: [oil.density(t, ENGINE_OIL) for t in OIL_TEMPERATURES],
        OIL_DENSITIES,
        "kg/m3",
        INCROPERA_OIL,
        PUBLISHED,
        "the correction is of the group of oils, not of this one",
        rel=0.009,
    ),
    Check(
        "oil.expansion_coefficient",
        "engine oil at 280, 290 and 300 K, 891 kg/m3 at 15 degC",
        lambda: [1e3 * oil.expansion_coefficient(t, ENGINE_OIL) for t in (280.0, 290.0, 300.0)],
        (0.70, 0.70, 0.70),
        "1e-3/K",
        INCROPERA_OIL,
        PUBLISHED,
        "tabulated as one value of two digits for all temperatures",
        rel=0.025,
    ),
    Check(
        "oil.specific_heat_constants, oil.specific_heat",
        "engine oil every 10 K from 280 to 400 K, 891 kg/m3 at 15 degC",
        lambda: [oil.specific_heat(t, *oil.specific_heat_constants(ENGINE_OIL)) for t in OIL_TEMPERATURES[1:14]],
        OIL_HEATS,
        "J/(kg K)",
        INCROPERA_OIL,
        PUBLISHED,
        "the formula is of all petroleum oils; it lies 1.0 to 4.2 % low",
        rel=0.045,
    ),
    Check(
        "oil.bulk_modulus",
        "oil of 870 kg/m3 at 40 degC gives way by half a per cent with 1000 psi",
        lambda: 100.0 * 1000.0 * PSI / oil.bulk_modulus(ZERO + 40.0, 870.0),
        0.5,
        "%",
        DATA_SHEETS,
        PRACTICE,
        "a rule of one digit",
        rel=0.1,
    ),
    Check(
        "tank.expanded_volume",
        "60 L of fuel (950e-6 per K) and their steel tank (35e-6 per K), full at 20 degC, at 40 degC: fuel that spills",
        lambda: 60.0 * (1.0 + 950e-6 * 20.0) - tank.expanded_volume(60.0, 35e-6, ZERO + 40.0),
        1.10,
        "L",
        COLLEGE,
        MEMORY,
        "printed to 0.01",
        abs=0.005,
    ),
    Check(
        "pump.slip_flow",
        "10 cm3 a turn, 10 MPa, 12.8 mPa s, slip coefficient 1e-8",
        lambda: 60e3 * pump.slip_flow(1e-8, *WILSON_PUMP),
        0.74604,
        "L/min",
        WILSON,
        MEMORY,
        "five digits",
        rel=1e-5,
    ),
    Check(
        "pump.shaft_torque",
        "the same at 3000 rpm, dry friction 0.05 and viscous drag 1e5: torque and power",
        lambda: [wilson_torque(), 100.0 * math.pi * wilson_torque()],
        (17.3513, 5451.06),
        "N m and W",
        WILSON,
        MEMORY,
        "six digits",
        rel=3e-6,
    ),
    Check(
        "pump.slip_coefficient, pump.slip_flow",
        "volumetric efficiency: 5 in3 a turn, 1000 rpm, 20 US gal/min at 1000 psi",
        volumetric_efficiency,
        0.924,
        "1",
        ESPOSITO_PUMP,
        PUBLISHED,
        "three digits",
        abs=0.0005,
    ),
    Check(
        "pump.shaft_torque",
        "torque of that pump without friction, 1000 psi",
        lambda: pump.shaft_torque(BOOK_PUMP[0], BOOK_PUMP[2], 0.02, BOOK_PUMP[1], 0.0, 0.0, 0.0) / INCH_POUND,
        795.6,
        "lbf in",
        ESPOSITO_PUMP,
        PUBLISHED,
        "mechanical efficiency of four digits times 900 lbf in",
        abs=0.3,
    ),
    Check(
        "pump.friction_coefficient, pump.shaft_torque",
        "mechanical efficiency of that pump with a torque of 900 lbf in",
        mechanical_efficiency,
        0.884,
        "1",
        ESPOSITO_PUMP,
        PUBLISHED,
        "three digits",
        abs=0.0005,
    ),
    Check(
        "atmosphere.pressure, water.saturation_pressure, line.body_force",
        "head at a pump 3 m above water of 20 degC, 1 m lost to friction",
        suction_head,
        6.112,
        "m",
        NPSH,
        PUBLISHED,
        "four digits",
        abs=0.0006,
    ),
    Check(
        "line.outlet_depth",
        "rise at the rear of a tank of 2 m and of 0.6 m when a truck goes from 0 to 90 km/h in 10 s",
        lambda: [100.0 * line.outlet_depth(0.0, -0.5 * length, 0.0, (2.5, 0.0, 0.0)) for length in (2.0, 0.6)],
        (25.4842, 7.64526),
        "cm",
        CENGEL_FISH,
        PUBLISHED,
        "gravity 9.81 m/s2 in the book",
        rel=4e-4,
    ),
    Check(
        "line.outlet_depth, line.body_force",
        "pressure in the rear corner of a mug 6 cm wide, 7 cm full, 1010 kg/m3, at 7 m/s2",
        mug,
        906.0,
        "Pa",
        WHITE_MUG,
        MEMORY,
        "three digits, gravity 9.81 m/s2 in the book",
        abs=1.0,
    ),
    Check(
        "line.outlet_depth, line.body_force",
        "fuel of relative density 0.65, 0.5 ft deep, 0.75 ft from the middle, at 0, 1/3 and 2/3 of gravity",
        lambda: [fuel(share) for share in (0.0, 1.0 / 3.0, 2.0 / 3.0)],
        (20.3, 10.15, 0.0),
        "lbf/ft2",
        MUNSON_FUEL,
        MEMORY,
        "printed to 0.1",
        abs=0.05,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_handbook(check):
    assert check.misses() == []
