"""Laws of flow through lines, valves and pump against public libraries."""

import math

import fluids
import numpy as np
import pint
import pytest
from fluids import flow_meter, safety_valve
from fluids.friction import Churchill_1977, Colebrook, friction_laminar, von_Karman
from fluids.packed_bed import Ergun

from outside import LIBRARY, Check
from ullage.physics import line, pump, valve

CHURCHILL = "Churchill (1977): Python library fluids"
COLEBROOK = "Colebrook (1939), solved by the Python library fluids"
KARMAN = "von Karman, friction of a rough pipe: Python library fluids"
LAMINAR = "Hagen and Poiseuille: Python library fluids"
CORE = "Reynolds number, loss coefficient and head: Python library fluids"
GAS_DYNAMICS = "critical pressure of an isentropic flow: Python library fluids"
API_520 = "API 520 Part I: sizing of relief valves, Python library fluids"
ISO_5167 = "ISO 5167, nozzles and orifices: Python library fluids"
ERGUN = "Ergun (1952), flow through a bed of particles: Python library fluids"
UNITS = "units and their definitions: Python library pint"

SMOOTH, ROUGH = 0.0, 0.01
WALLS = (SMOOTH, 1e-4, ROUGH)
ALL_REGIMES = [(float(re), wall) for wall in WALLS for re in np.geomspace(100.0, 1e7, 31)]
TURBULENT = [(1e5, 1e-4), (1e5, SMOOTH), (1.28e5, 0.0013), (1e6, ROUGH)]
FEED_FLOWS = (1e-5, 2e-4, 8e-4)  # [m3/s] in a line of 16 mm: 0.6, 12 and 48 L/min
BORE_AREA = 0.25 * math.pi * 0.016**2
OPEN = 1e3  # pipe so wide before a nozzle that the approach does not count [m]
BACK_PRESSURES = (0.53, 0.6, 0.75, 0.9, 0.98)
OIL = 841.5


def line_drop(flow, bore=0.016, length=1.2, fittings=2.5):
    friction = fluids.one_phase_dP(flow * OIL, OIL, 15e-6 * OIL, bore, 45e-6, length, Method="Churchill_1977")
    return friction + fluids.dP_from_K(fittings, OIL, 4.0 * flow / (math.pi * bore**2))


def nozzle_flow(upstream, ratio):
    """Return the mass flow [kg/s] of air of 350 K through a nozzle of 2 mm, by its expansibility."""
    expansibility = flow_meter.nozzle_expansibility(OPEN, 0.002, upstream, ratio * upstream, 1.4)
    density = upstream / (287.05 * 350.0)
    return flow_meter.flow_meter_discharge(OPEN, 0.002, upstream, ratio * upstream, density, 1.0, expansibility)


def relief_flow(upstream, downstream):
    """Return the mass flow [kg/s] for which the standard asks for 1 cm2, air of 293.15 K."""
    constants = {"T": 293.15, "Z": 1.0, "MW": 28.9644, "k": 1.4, "Kd": 1.0, "Kb": 1.0, "Kc": 1.0}
    return 1e-4 / fluids.API520_A_g(m=1.0, P1=upstream, P2=downstream, **constants)


def filter_drop(velocity, viscosity):
    return Ergun(20e-6, 0.4, velocity, 850.0, viscosity, 0.002)


def hydraulic_power(pressure, flow):
    return pint.Quantity(pressure, "psi") * pint.Quantity(flow, "gallon/minute")


CHECKS = [
    Check(
        "line.reynolds",
        "0.6, 12 and 48 L/min in a line of 16 mm, 20 mm2/s",
        lambda: [line.reynolds(q, 0.016, 2e-5) for q in FEED_FLOWS],
        lambda: [fluids.Reynolds(V=q / BORE_AREA, D=0.016, nu=2e-5) for q in FEED_FLOWS],
        "1",
        CORE,
        LIBRARY,
        "the same arithmetic in another order",
        rel=1e-12,
    ),
    Check(
        "line.velocity_head",
        "0.6, 12 and 48 L/min in a line of 16 mm, 850 kg/m3",
        lambda: [line.velocity_head(q, 0.016, 850.0) for q in FEED_FLOWS],
        lambda: [fluids.dP_from_K(1.0, 850.0, q / BORE_AREA) for q in FEED_FLOWS],
        "Pa",
        CORE,
        LIBRARY,
        "the same arithmetic in another order",
        rel=1e-12,
    ),
    Check(
        "line.body_force",
        "a metre of water of 1000 kg/m3 and 0.4 m of oil of 850 kg/m3 over the pump",
        lambda: [
            line.body_force(rho, depth, height, 0.7, -0.2, (0.0, 0.0, 0.0))
            for rho, depth, height in ((1000.0, 0.25, 0.75), (850.0, 0.1, 0.3))
        ],
        lambda: [fluids.P_from_head(1.0, 1000.0), fluids.P_from_head(0.4, 850.0)],
        "Pa",
        CORE,
        LIBRARY,
        "the same arithmetic in another order",
        rel=1e-12,
    ),
    Check(
        "line.friction_factor",
        "laminar, Reynolds number 0.01, 1, 99, 101 and 1000",
        lambda: [line.friction_factor(re, 1e-4) for re in (0.01, 1.0, 99.0, 101.0, 1000.0)],
        lambda: [friction_laminar(re) for re in (0.01, 1.0, 99.0, 101.0, 1000.0)],
        "1",
        LAMINAR,
        LIBRARY,
        "the turbulent term adds less than 1e-7 at 1000",
        rel=1e-6,
    ),
    Check(
        "line.friction_factor",
        "Reynolds numbers from 100 to 1e7, roughness 0, 1e-4 and 0.01 of the bore",
        lambda: [line.friction_factor(*point) for point in ALL_REGIMES],
        lambda: [Churchill_1977(*point) for point in ALL_REGIMES],
        "1",
        CHURCHILL,
        LIBRARY,
        "the same rounded constants",
        rel=1e-9,
    ),
    Check(
        "line.friction_factor",
        "turbulent, Reynolds numbers 1e5 to 1e6, smooth to 0.01 of the bore",
        lambda: [line.friction_factor(*point) for point in TURBULENT],
        lambda: [Colebrook(*point) for point in TURBULENT],
        "1",
        COLEBROOK,
        LIBRARY,
        "Churchill's explicit form is within 1 % of it",
        rel=0.01,
    ),
    Check(
        "line.friction_factor",
        "fully rough, Reynolds number 1e12, roughness 0.001, 0.01 and 0.05 of the bore",
        lambda: [line.friction_factor(1e12, wall) for wall in (0.001, 0.01, 0.05)],
        lambda: [von_Karman(wall) for wall in (0.001, 0.01, 0.05)],
        "1",
        KARMAN,
        LIBRARY,
        "2.457 stands for 2 log(10)/sqrt(8) and 0.27 for 1/3.7, rounded",
        rel=1e-3,
    ),
    Check(
        "line.line_loss",
        "1.2 m of 16 mm, roughness 0.045 mm, fittings 2.5 velocity heads, 15 mm2/s, 0.6, 12 and 48 L/min",
        lambda: [line.line_loss(q, 0.016, 1.2, 2.5, 45e-6, OIL, 15e-6) for q in FEED_FLOWS],
        lambda: [line_drop(q) for q in FEED_FLOWS],
        "Pa",
        CHURCHILL,
        LIBRARY,
        "the same rounded constants",
        rel=1e-9,
    ),
    Check(
        "valve.CRITICAL_RATIO",
        "pressure ratio below which air chokes",
        lambda: valve.CRITICAL_RATIO,
        lambda: fluids.P_critical_flow(1.0, 1.4),
        "1",
        GAS_DYNAMICS,
        LIBRARY,
        "the same formula, rounding",
        rel=1e-12,
    ),
    Check(
        "valve.CHOKED_FACTOR",
        "coefficient of choked flow of air",
        lambda: valve.CHOKED_FACTOR,
        lambda: safety_valve.API520_C(1.4) / 0.03948,
        "1",
        API_520,
        LIBRARY,
        "the same formula, rounding",
        rel=1e-12,
    ),
    Check(
        "valve.gas_orifice_flow",
        "choked, 1 cm2, from 2, 3 and 6 bar into 0.5 bar, 20 degC",
        lambda: [valve.gas_orifice_flow(1e-4, p, 0.5e5, 293.15) for p in (2e5, 3e5, 6e5)],
        lambda: [relief_flow(p, 0.5e5) for p in (2e5, 3e5, 6e5)],
        "kg/s",
        API_520,
        LIBRARY,
        "rounded constants of the standard, worth 2e-5",
        rel=4e-5,
    ),
    Check(
        "valve.gas_orifice_flow",
        "not choked, 1 cm2, from 1.15, 1.5 and 1.8 bar into 1.01325 bar, 20 degC",
        lambda: [valve.gas_orifice_flow(1e-4, p, 101325.0, 293.15) for p in (1.15e5, 1.5e5, 1.8e5)],
        lambda: [relief_flow(p, 101325.0) for p in (1.15e5, 1.5e5, 1.8e5)],
        "kg/s",
        API_520,
        LIBRARY,
        "the standard rounds its constant 17.9 to three digits",
        rel=1e-3,
    ),
    Check(
        "valve.gas_orifice_flow",
        "not choked, 2 mm, from 1.2 and 2.5 bar at 350 K to 0.53, 0.6, 0.75, 0.9 and 0.98 of it",
        lambda: [
            valve.gas_orifice_flow(0.25 * math.pi * 4e-6, p, ratio * p, 350.0)
            for p in (1.2e5, 2.5e5)
            for ratio in BACK_PRESSURES
        ],
        lambda: [nozzle_flow(p, ratio) for p in (1.2e5, 2.5e5) for ratio in BACK_PRESSURES],
        "kg/s",
        ISO_5167,
        LIBRARY,
        "the finite slope at zero difference takes 2e-5 at 2.4 kPa",
        rel=3e-5,
    ),
    Check(
        "valve.liquid_orifice_flow",
        "bore 2 mm, coefficient 0.61, oil of 850 kg/m3, 0.1, 1 and 10 bar",
        lambda: [valve.liquid_orifice_flow(0.61 * math.pi * 1e-6, dp, 850.0) for dp in (1e4, 1e5, 1e6)],
        lambda: [flow_meter.flow_meter_discharge(OPEN, 0.002, 1e5 + dp, 1e5, 850.0, 0.61) for dp in (1e4, 1e5, 1e6)],
        "kg/s",
        ISO_5167,
        LIBRARY,
        "the finite slope at zero difference takes 1e-6 at 10 kPa",
        rel=2e-6,
    ),
    Check(
        "pump.open_centre_drop",
        "a valve of 400 velocity heads of an 8 mm bore, rated at 12 L/min, at 3, 6 and 24 L/min",
        lambda: [
            pump.open_centre_drop(q, fluids.dP_from_K(400.0, 850.0, 2e-4 / 5.0265e-5), 2e-4)
            for q in (0.5e-4, 1e-4, 4e-4)
        ],
        lambda: [fluids.dP_from_K(400.0, 850.0, q / 5.0265e-5) for q in (0.5e-4, 1e-4, 4e-4)],
        "Pa",
        CORE,
        LIBRARY,
        "the same square, rounding",
        rel=1e-12,
    ),
    Check(
        "pump.filter_drop",
        "a bed of grains of 0.02 mm, rated at 1 mm/s and 12 mPa s: half the speed, ten times the viscosity, both",
        lambda: [
            pump.filter_drop(speed, thick, filter_drop(1e-3, 12e-3), 1e9)
            for speed, thick in ((0.5, 1.0), (1.0, 10.0), (0.5, 10.0))
        ],
        lambda: [filter_drop(1e-3 * speed, 12e-3 * thick) for speed, thick in ((0.5, 1.0), (1.0, 10.0), (0.5, 10.0))],
        "Pa",
        ERGUN,
        LIBRARY,
        "the inertial part of the bed is 3e-5 at its rating",
        rel=1e-4,
    ),
    Check(
        "pump.shaft_torque",
        "a pump without losses: 1000 psi and 10 US gal/min at 1714 rpm, and 500 psi and 8 US gal/min",
        lambda: [
            pump.shaft_torque(flow * 6.30901964e-5 / 179.5, rise * 6894.757, 0.02, 179.5, 0.0, 0.0, 0.0) * 179.5
            for rise, flow in ((1000.0, 10.0), (500.0, 8.0))
        ],
        lambda: [hydraulic_power(rise, flow).to("W").magnitude for rise, flow in ((1000.0, 10.0), (500.0, 8.0))],
        "W",
        UNITS,
        LIBRARY,
        "units written to seven digits",
        rel=1e-6,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_gives_the_value_of_the_library(check):
    assert check.misses() == []
