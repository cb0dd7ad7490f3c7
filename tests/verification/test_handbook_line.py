"""Laws of line and orifice against examples of handbooks and textbooks."""

import math

import pytest

from outside import DERIVED, LIBRARY, MEMORY, PUBLISHED, Check
from ullage.physics import line, pump, valve

PSI, INCH, FOOT = 6894.757, 0.0254, 0.3048

CHURCHILL = "Churchill (1977): Chemical Engineering 84 (24) 91"
SMOOTH = "White, Fluid Mechanics: friction of smooth pipes (Prandtl)"
BORDA = "Borda and Carnot, sudden expansion"
TORRICELLI = "Torricelli, jet of an orifice"
CENGEL_PIPE = "Cengel and Cimbala, Fluid Mechanics: Example 8-2"
MUNSON_PIPE = "Munson, Young and Okiishi, Fundamentals of Fluid Mechanics: laminar pipe"
WHITE_PIPE = "White, Fluid Mechanics: inclined laminar pipe"
WHITE_ROUGH = "White, Fluid Mechanics: Example 6.7, oil in a cast-iron pipe"
ESPOSITO_1 = "Esposito, Fluid Power with Applications: Example 4-1"
ESPOSITO_3 = "Esposito, Fluid Power with Applications: Example 4-3"
ESPOSITO_4 = "Esposito, Fluid Power with Applications: Example 4-4"
ESPOSITO_5 = "Esposito, Fluid Power with Applications: Example 4-5"
ESPOSITO_7 = "Esposito, Fluid Power with Applications: Example 4-7"

STILL = (0.0, 0.0, 0.0)


def round_flow(velocity, bore):
    return velocity * 0.25 * math.pi * bore**2


def pipe(flow, bore, length, density, viscosity, roughness=0.0, coefficient=0.0):
    return line.line_loss(flow, bore, length, coefficient, roughness, density, viscosity)


def munson():
    return pipe(2e-5, 0.02, 10.0, 900.0, 0.4 / 900.0)


CHECKS = [
    Check(
        "line.reynolds",
        "oil of 100 mm2/s at 10 ft/s in a bore of an inch",
        lambda: line.reynolds(round_flow(10.0 * FOOT, INCH), INCH, 100e-6),
        774.0,
        "1",
        ESPOSITO_1,
        PUBLISHED,
        "three digits",
        abs=0.5,
    ),
    Check(
        "line.line_loss",
        "100 ft of that pipe, relative density 0.9",
        lambda: pipe(round_flow(10.0 * FOOT, INCH), INCH, 100.0 * FOOT, 900.0, 100e-6) / PSI,
        60.0,
        "psi",
        ESPOSITO_3,
        PUBLISHED,
        "two digits",
        abs=0.5,
    ),
    Check(
        "line.line_loss",
        "oil of 1000 mm2/s and 8800 N/m3 at 5 m/s through 50 m of 50 mm",
        lambda: pipe(round_flow(5.0, 0.05), 0.05, 50.0, 8800.0 / 9.80, 1e-3) / 8800.0,
        326.5,
        "m of oil",
        ESPOSITO_4,
        PUBLISHED,
        "printed 326, cut to whole metres",
        abs=0.5,
    ),
    Check(
        "line.friction_factor",
        "Reynolds number 1548, and 6192 with a relative roughness of 0.0018",
        lambda: [line.friction_factor(1548.0, 0.0018), line.friction_factor(6192.0, 0.0018)],
        (0.042, 0.036),
        "1",
        ESPOSITO_5,
        PUBLISHED,
        "read from a chart to two digits",
        rel=0.06,
    ),
    Check(
        "line.line_loss, line.velocity_head",
        "gate valve of 50 mm, loss coefficient 0.19, oil of 8800 N/m3, 0.02 m3/s",
        lambda: pipe(0.02, 0.05, 0.0, 8800.0 / 9.80, 1e-3, coefficient=0.19) / 8800.0,
        1.01,
        "m of oil",
        ESPOSITO_7,
        PUBLISHED,
        "three digits",
        abs=0.006,
    ),
    Check(
        "line.line_loss",
        "water of 1000 kg/m3 and 1.519 mPa s at 0.9 m/s through 9 m of 3 mm",
        lambda: 1e-3 * pipe(round_flow(0.9, 0.003), 0.003, 9.0, 1000.0, 1.519e-6),
        43.747,
        "kPa",
        CENGEL_PIPE,
        PUBLISHED,
        "64 / Re with the data of the book, five digits; close to the transition",
        rel=1e-4,
    ),
    Check(
        "line.line_loss, line.reynolds",
        "oil of 900 kg/m3 and 0.40 Pa s, 2e-5 m3/s through 10 m of 20 mm: loss and Reynolds number",
        lambda: [1e-3 * munson(), line.reynolds(2e-5, 0.02, 0.4 / 900.0)],
        (20.372, 2.8648),
        "kPa and 1",
        MUNSON_PIPE,
        MEMORY,
        "recomputed to five digits",
        rel=2e-5,
    ),
    Check(
        "line.line_loss, line.body_force",
        "slope at which that oil runs by its weight alone",
        lambda: -math.degrees(math.asin(munson() / line.body_force(900.0, 0.0, 10.0, 0.0, 0.0, STILL))),
        -13.34,
        "deg",
        MUNSON_PIPE,
        MEMORY,
        "four digits",
        abs=0.01,
    ),
    Check(
        "line.line_loss, line.reynolds",
        "oil of 900 kg/m3 and 200 mm2/s, 7.643e-3 m3/s through 10 m of 60 mm: head lost and Reynolds number",
        lambda: [pipe(7.643e-3, 0.06, 10.0, 900.0, 2e-4) / (900.0 * 9.81), line.reynolds(7.643e-3, 0.06, 2e-4)],
        (4.898, 811.0),
        "m and 1",
        WHITE_PIPE,
        MEMORY,
        "flow of four digits",
        rel=3e-4,
    ),
    Check(
        "line.friction_factor",
        "Reynolds number 128 000, relative roughness 0.0013",
        lambda: line.friction_factor(128000.0, 0.0013),
        0.0225,
        "1",
        WHITE_ROUGH,
        PUBLISHED,
        "read from a chart; the formula lies 1 % over the equation of the chart",
        rel=0.02,
    ),
    Check(
        "line.line_loss",
        "oil of 900 kg/m3 and 10 mm2/s, 0.2 m3/s through 500 m of 200 mm, roughness 0.26 mm",
        lambda: pipe(0.2, 0.2, 500.0, 900.0, 1e-5, roughness=0.26e-3) / (900.0 * 9.81),
        117.0,
        "m",
        WHITE_ROUGH,
        MEMORY,
        "three digits, friction read from a chart",
        rel=0.02,
    ),
    Check(
        "line.friction_factor",
        "(Reynolds number, roughness) of (1e5, 1e-4), (1e4, 0.001), (500, 0), (1000, 0) and (3000, 0)",
        lambda: [
            line.friction_factor(re, rough)
            for re, rough in ((1e5, 1e-4), (1e4, 0.001), (500.0, 0.0), (1000.0, 0.0), (3000.0, 0.0))
        ],
        (0.0184626, 0.0326902, 0.128, 0.064, 0.0429747),
        "1",
        CHURCHILL,
        LIBRARY,
        "recomputed to six digits",
        rel=3e-6,
    ),
    Check(
        "line.friction_factor",
        "smooth pipes, Reynolds number 4000, 1e4, 1e5, 1e6 and 1e7",
        lambda: [line.friction_factor(re, 0.0) for re in (4e3, 1e4, 1e5, 1e6, 1e7)],
        (0.0399, 0.0309, 0.0180, 0.0116, 0.0081),
        "1",
        SMOOTH,
        MEMORY,
        "another formula, 1.7 % apart next to the transition; two to three digits",
        rel=0.018,
    ),
    Check(
        "line.line_loss, line.velocity_head",
        "oil of 850 kg/m3, 0.5 and 1 L/s from a bore of 20 mm into one of 40 mm, coefficient 0.5625",
        lambda: [pipe(flow, 0.02, 0.0, 850.0, 1e-5, coefficient=0.5625) for flow in (0.5e-3, 1e-3)],
        lambda: [
            0.5 * 850.0 * (flow / round_flow(1.0, 0.02) - flow / round_flow(1.0, 0.04)) ** 2 for flow in (0.5e-3, 1e-3)
        ],
        "Pa",
        BORDA,
        DERIVED,
        "balance of momentum, rounding",
        rel=1e-12,
    ),
    Check(
        "valve.liquid_orifice_flow",
        "orifice of 2 mm, coefficient 0.61, 1 MPa, oil of 850 kg/m3",
        lambda: 60e3 * valve.liquid_orifice_flow(0.61 * math.pi * 1e-6, 1e6, 850.0) / 850.0,
        5.57746,
        "L/min",
        TORRICELLI,
        DERIVED,
        "digits shown",
        rel=2e-6,
    ),
    Check(
        "valve.liquid_orifice_flow, line.body_force",
        "speed of the jet under 1 m of oil",
        lambda: valve.liquid_orifice_flow(1e-4, line.body_force(850.0, 1.0, 0.0, 0.0, 0.0, STILL), 850.0) / 0.085,
        math.sqrt(2.0 * 9.80665),
        "m/s",
        TORRICELLI,
        DERIVED,
        "rounding near zero flow takes 1.4e-6",
        rel=2e-6,
    ),
    Check(
        "pump.open_centre_drop",
        "drop that drives half and twice the flow of 1 MPa through the orifice of 2 mm",
        lambda: [1e-6 * pump.open_centre_drop(share * 5.57746, 1e6, 5.57746) for share in (0.5, 2.0)],
        (0.25, 4.0),
        "MPa",
        TORRICELLI,
        DERIVED,
        "square of the flow, rounding",
        rel=1e-12,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_handbook(check):
    assert check.misses() == []
