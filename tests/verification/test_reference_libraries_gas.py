"""Air and water against the equations of state of real fluids in CoolProp."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from scipy.optimize import minimize_scalar

from outside import LIBRARY, Check
from ullage.physics import air, atmosphere, valve, water

AIR = "Lemmon and others (2000), equation of state of air: Python library CoolProp"
IAPWS_95 = "IAPWS-95: Python library CoolProp"

# what an air space and the air outside go through
STATES = [(1e5, 250.0), (1e5, 300.0), (2e5, 320.0), (3e5, 380.0)]
WET = [280.0, 300.0, 330.0, 360.0, 390.0]


def real(output, pressure, temperature):
    return PropsSI(output, "P", pressure, "T", temperature, "Air")


def choked_flux(pressure, temperature):
    """Return the largest mass flow over area of an isentropic stream of real air from rest [kg s-1 m-2]."""
    entropy, enthalpy = real("S", pressure, temperature), real("H", pressure, temperature)

    def flux(throat):
        lost = enthalpy - PropsSI("H", "P", throat, "S", entropy, "Air")
        return PropsSI("D", "P", throat, "S", entropy, "Air") * math.sqrt(2.0 * max(0.0, lost))

    found = minimize_scalar(
        lambda throat: -flux(throat), bounds=(0.3 * pressure, 0.9 * pressure), method="bounded", options={"xatol": 1.0}
    )
    return -found.fun


CHECKS = [
    Check(
        "atmosphere.air_density",
        "real air at 1 bar and 250 and 300 K, 2 bar and 320 K, 3 bar and 380 K",
        lambda: [atmosphere.air_density(p, t) for p, t in STATES],
        lambda: [real("D", p, t) for p, t in STATES],
        "kg/m3",
        AIR,
        LIBRARY,
        "air is not quite an ideal gas: 9.5e-4 at 250 K, less where it is warmer",
        rel=1e-3,
    ),
    Check(
        "air.HEAT_CONSTANT_PRESSURE",
        "of real air at those states",
        lambda: [air.HEAT_CONSTANT_PRESSURE] * len(STATES),
        lambda: [real("C", p, t) for p, t in STATES],
        "J/(kg K)",
        AIR,
        LIBRARY,
        "taken as constant; real air has 0.9 % more at 380 K",
        rel=0.01,
    ),
    Check(
        "valve.gas_orifice_flow",
        "choked flow of real air through 1 mm2 from 2 bar and 3 bar, 300 and 380 K, to 0.5 bar",
        lambda: [1e3 * valve.gas_orifice_flow(1e-6, p, 5e4, t) for p in (2e5, 3e5) for t in (300.0, 380.0)],
        lambda: [1e-3 * choked_flux(p, t) for p in (2e5, 3e5) for t in (300.0, 380.0)],
        "g/s",
        AIR,
        LIBRARY,
        "an ideal gas with heat ratio 1.4 against a real one",
        rel=1.5e-3,
    ),
    Check(
        "water.saturation_pressure",
        "at 280, 300, 330, 360 and 390 K, by another program of the same formulation",
        lambda: [water.saturation_pressure(t) for t in WET],
        lambda: [PropsSI("P", "T", t, "Q", 0.0, "Water") for t in WET],
        "Pa",
        IAPWS_95,
        LIBRARY,
        "a fit to the full formulation, 6.2e-5 off at 280 K",
        rel=7e-5,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_law_agrees_with_real_air_and_water(check):
    assert check.misses() == []
