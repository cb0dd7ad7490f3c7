"""Laws of line, valves and pump against exact mathematics, each by a way of its own."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from outside import DERIVED, Check
from ullage.physics import line, pump, valve

POISEUILLE = "parabola of speed in a laminar pipe, by quadrature"
FRAME = "vectors of gravity less acceleration, by hand"
PLANE = "plane at right angles to gravity less acceleration, by vectors"
THROAT = "energy balance of an isentropic throat, heat ratio 1.4"
SOUND = "speed of sound in the throat, heat ratio 1.4"
MAXIMUM = "largest flow of an isentropic throat, sought by SciPy"
BLOW_DOWN = "choked blow-down at constant temperature, integrated by hand"
TORRICELLI = "Torricelli's law, time to drain a tank, integrated by hand"
SLOT = "parabola of speed in a flat slot, by quadrature"
PETROFF = "Newton's law of viscosity in a gap around a shaft (Petroff), by hand"
ROOT = "root of the balance, solved by SciPy"

RATIOS = (0.53, 0.535, 0.6, 0.75, 0.9, 0.98)
SPOT = 0.62 * math.pi * 1e-6  # 2 mm, coefficient 0.62 [m2]
ACCELERATIONS = ((4.0, -2.0, 3.0), (-7.0, 5.0, -4.0))  # forward, left, up [m/s2]
# 10 cm3 a turn, 50 turns a second, 10 MPa, 12.8 mPa s
D, OMEGA, RISE, MU = 10e-6 / (2.0 * math.pi), 100.0 * math.pi, 10e6, 12.8e-3


def laminar_flow(drop_per_metre, radius, viscosity):
    def ring(r):
        return 2.0 * math.pi * r * drop_per_metre * (radius**2 - r**2) / (4.0 * viscosity)

    return quad(ring, 0.0, radius, epsabs=0.0)[0]


def slot_flow(rise, width, gap, length, viscosity):
    return width * quad(lambda y: rise / length * y * (gap - y) / (2.0 * viscosity), 0.0, gap, epsabs=0.0)[0]


def throat_flow(upstream, ratio, temperature):
    """Return the mass flow [kg/(s m2)] of air that has cooled and gathered speed as its pressure fell by a ratio."""
    throat = temperature * ratio ** (0.4 / 1.4)
    speed = math.sqrt(2.0 * 3.5 * 287.05 * (temperature - throat))
    return speed * ratio * upstream / (287.05 * throat)


def sonic_flow(upstream, temperature):
    throat = temperature / 1.2
    density = upstream / (287.05 * temperature) * (throat / temperature) ** 2.5
    return density * math.sqrt(1.4 * 287.05 * throat)


def largest_flow():
    return minimize_scalar(lambda r: -throat_flow(1.0, r, 1.0), bounds=(0.3, 0.9), options={"xatol": 1e-9})


def surface_over(x, y, level, acceleration):
    """Return the height of the surface over a point of the floor, turned about the middle."""
    down = np.array([0.0, 0.0, -9.80665]) - np.array(acceleration)
    across = np.cross(down, [0.0, 1.0, 0.0]), np.cross(down, [1.0, 0.0, 0.0])
    steps = np.linalg.solve([[a[0] for a in across], [a[1] for a in across]], [x, y])
    return level + steps @ [a[2] for a in across]


def pressure_on_way(density, way, acceleration):
    return float(density * (np.array([0.0, 0.0, -9.80665]) - np.array(acceleration)) @ np.array(way))


CHECKS = [
    Check(
        "line.line_loss",
        "1 m of 16 mm, oil of 841.49 kg/m3 and 15.1859 mm2/s, 1, 6 and 12 L/min",
        lambda: [line.line_loss(q, 0.016, 1.0, 0.0, 1.5e-6, 841.49, 15.1859e-6) for q in (1e-3 / 60, 1e-4, 2e-4)],
        lambda: [q / laminar_flow(1.0, 0.008, 841.49 * 15.1859e-6) for q in (1e-3 / 60, 1e-4, 2e-4)],
        "Pa",
        POISEUILLE,
        DERIVED,
        "the turbulent term adds less than 1e-7",
        rel=1e-6,
    ),
    Check(
        "line.body_force",
        "pump 1.2 m ahead of, 0.3 m right of and 0.5 m below the surface, two accelerations",
        lambda: [line.body_force(850.0, 0.15, 0.35, 1.2, -0.3, a) for a in ACCELERATIONS],
        lambda: [pressure_on_way(850.0, (1.2, -0.3, -0.5), a) for a in ACCELERATIONS],
        "Pa",
        FRAME,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "line.outlet_depth",
        "level 0.2 m, outlet 0.1 m ahead and 0.05 m right of the middle, two accelerations",
        lambda: [line.outlet_depth(0.2, 0.1, -0.05, a) for a in ACCELERATIONS],
        lambda: [surface_over(0.1, -0.05, 0.2, a) for a in ACCELERATIONS],
        "m",
        PLANE,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "valve.CRITICAL_RATIO",
        "pressure ratio of the largest flow of air",
        lambda: valve.CRITICAL_RATIO,
        lambda: largest_flow().x,
        "1",
        MAXIMUM,
        DERIVED,
        "the maximum is flat: half the digits",
        abs=1e-7,
    ),
    Check(
        "valve.CHOKED_FACTOR",
        "largest flow of air, times the root of R T over the pressure",
        lambda: valve.CHOKED_FACTOR,
        lambda: -largest_flow().fun * math.sqrt(287.05),
        "1",
        MAXIMUM,
        DERIVED,
        "the gas constant is the same on both sides",
        rel=1e-9,
    ),
    Check(
        "valve.gas_orifice_flow",
        "choked, from 2 and 4 bar at 293.15 and 373.15 K into one atmosphere",
        lambda: [valve.gas_orifice_flow(SPOT, p, 101325.0, t) for p in (2e5, 4e5) for t in (293.15, 373.15)],
        lambda: [SPOT * sonic_flow(p, t) for p in (2e5, 4e5) for t in (293.15, 373.15)],
        "kg/s",
        SOUND,
        DERIVED,
        "the finite slope at zero difference takes 1e-8 at 1 bar",
        rel=2e-8,
    ),
    Check(
        "valve.gas_orifice_flow",
        "not choked, from 1.2 and 2.5 bar at 350 K to 0.53, 0.6, 0.75, 0.9 and 0.98 of it",
        lambda: [valve.gas_orifice_flow(SPOT, p, r * p, 350.0) for p in (1.2e5, 2.5e5) for r in RATIOS],
        lambda: [SPOT * throat_flow(p, r, 350.0) for p in (1.2e5, 2.5e5) for r in RATIOS],
        "kg/s",
        THROAT,
        DERIVED,
        "the finite slope at zero difference takes 1.7e-5 at 2.4 kPa",
        rel=2e-5,
    ),
    Check(
        "valve.gas_orifice_flow",
        "seconds in which 5 L of air at 300 K fall from 6 to 3 bar through 2 mm, by quadrature of the law",
        lambda: quad(
            lambda p: 5e-3 / (287.05 * 300.0) / valve.gas_orifice_flow(SPOT, p, 101325.0, 300.0), 3e5, 6e5, epsrel=1e-10
        )[0],
        lambda: 5e-3 / SPOT * math.log(2.0) / math.sqrt(287.05 * 300.0) / math.sqrt(1.4) * 1.2**3,
        "s",
        BLOW_DOWN,
        DERIVED,
        "the finite slope at zero difference takes 3e-9",
        rel=1e-8,
    ),
    Check(
        "valve.liquid_orifice_flow",
        "seconds in which 1 cm2 drains a tank of 1 m2 from 2 to 1 m, oil of 850 kg/m3, by quadrature of the law",
        lambda: quad(
            lambda h: 850.0 / valve.liquid_orifice_flow(1e-4, 850.0 * 9.80665 * h, 850.0), 1.0, 2.0, epsrel=1e-10
        )[0],
        lambda: 1e4 * math.sqrt(2.0 / 9.80665) * (math.sqrt(2.0) - 1.0),
        "s",
        TORRICELLI,
        DERIVED,
        "the finite slope at zero difference takes 1.4e-6 at 8 kPa",
        rel=2e-6,
    ),
    Check(
        "pump.slip_flow",
        "leak through a slot of 12 um, 40 mm wide and 5 mm long, at 3 and 10 MPa, 8 and 50 mPa s",
        lambda: [
            pump.slip_flow(0.04 * 12e-6**3 / (12.0 * 0.005 * D), D, rise, mu)
            for rise in (3e6, 10e6)
            for mu in (8e-3, 50e-3)
        ],
        lambda: [slot_flow(rise, 0.04, 12e-6, 0.005, mu) for rise in (3e6, 10e6) for mu in (8e-3, 50e-3)],
        "m3/s",
        SLOT,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "pump.shaft_torque",
        "drag of a shaft of 20 mm in 30 mm of a gap of 25 um and 0.4 N m of seals, 8 and 50 mPa s, 100 and 300 rad/s",
        lambda: [
            pump.shaft_torque(D, 0.0, mu, omega, 0.0, 2.0 * math.pi * 0.01**3 * 0.03 / 25e-6 / D, 0.4)
            for mu in (8e-3, 50e-3)
            for omega in (100.0, 300.0)
        ],
        lambda: [
            0.4 + mu * (omega * 0.01 / 25e-6) * (math.pi * 0.02 * 0.03) * 0.01
            for mu in (8e-3, 50e-3)
            for omega in (100.0, 300.0)
        ],
        "N m",
        PETROFF,
        DERIVED,
        "exact, rounding",
        rel=1e-12,
    ),
    Check(
        "pump.slip_coefficient",
        "slip that leaves 29 and 25 L/min of 30 L/min at 10 MPa",
        lambda: [pump.slip_coefficient(D, OMEGA, q / 60e3, RISE, MU) for q in (29.0, 25.0)],
        lambda: [
            brentq(lambda c, q=q: D * OMEGA - pump.slip_flow(c, D, RISE, MU) - q / 60e3, 0.0, 1e-5, xtol=1e-20)
            for q in (29.0, 25.0)
        ],
        "1",
        ROOT,
        DERIVED,
        "slip is a thirtieth of the flow it is taken from",
        rel=1e-11,
    ),
    Check(
        "pump.friction_coefficient",
        "dry friction that asks for 18 and 20 N m at 10 MPa, viscous drag 6e4, 0.4 N m of seals",
        lambda: [pump.friction_coefficient(D, RISE, MU, OMEGA, torque, 6e4, 0.4) for torque in (18.0, 20.0)],
        lambda: [
            brentq(lambda c, m=m: pump.shaft_torque(D, RISE, MU, OMEGA, c, 6e4, 0.4) - m, 0.0, 1.0, xtol=1e-14)
            for m in (18.0, 20.0)
        ],
        "1",
        ROOT,
        DERIVED,
        "tolerance of the root",
        abs=1e-12,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_agrees_with_the_closed_form(check):
    assert check.misses() == []
