"""Whole races of the cap: blow-down, leak, lift by the pressure of the place, opened hot and refitted."""

import functools
import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

import driven_trucks as truck
from outside import DERIVED, LIBRARY, WHOLE_JOB, Between, Check
from still_trucks import at_hours, standing
from support import bench, channel_table, start_at
from vessels import only_the_tank, reached, without_air_in_oil
from written_again import AIR, HEAT_RATIO, PSI, SEA_LEVEL, Vessel, ambient

BLOW_DOWN = "Saint-Venant and Wantzel's choked orifice on an adiabatic vessel, closed form"
UNCHOKED = "Saint-Venant and Wantzel's orifice, integrated with SciPy"
ISENTROPIC = "isentropic expansion of an ideal gas, closed form"
GAS_AND_OIL = "ideal gas law with oil by API MPMS 11.1 and 11.2.1M, closed form"
ATMOSPHERE = "US Standard Atmosphere 1976: Python library fluids"
SPRING = "a spring-loaded disc opens at its setting and shuts at a tenth less, closed form"

TRUCK = Vessel()
CRITICAL = (2.0 / (HEAT_RATIO + 1.0)) ** (HEAT_RATIO / (HEAT_RATIO - 1.0))
HOLE = 1e-6  # of the blow-downs, discharge coefficient included [m2]
LEAK = 0.7 * 0.25 * math.pi * 1e-4**2
ELEVATIONS = (0.0, 1500.0, 3000.0)


def orifice_flow(area, upstream, downstream, temperature):
    """Return Saint-Venant and Wantzel's mass flow [kg/s] in terms of the Mach number of the throat."""
    ratio = min(1.0, max(downstream / upstream, CRITICAL))
    mach = math.sqrt(2.0 / (HEAT_RATIO - 1.0) * (ratio ** (-(HEAT_RATIO - 1.0) / HEAT_RATIO) - 1.0))
    throat = 1.0 + 0.5 * (HEAT_RATIO - 1.0) * mach**2
    stream = mach * throat ** (-(HEAT_RATIO + 1.0) / (2.0 * (HEAT_RATIO - 1.0)))
    return area * upstream * math.sqrt(HEAT_RATIO / (AIR * temperature)) * stream


@functools.cache
def adiabatic(start, hole, seconds, neck=False, tolerance=1.0):
    """Return rows, volume and times of a tank with 0.05 L of oil that nothing heats, with a hole or the cap off."""
    b = only_the_tank(5e-5, 293.15)
    p = b.parameters
    p.gas_oil_conductance = p.gas_wall_conductance = 0.0
    p.relief_crack = 1e9
    p.pressure_tolerance *= tolerance
    p.mass_tolerance *= tolerance
    start_at(b.state, p, 293.15, start)
    volume = b.state.air_heat * AIR / start
    time = np.linspace(0.0, seconds, 26)
    out, _, status = b.run(time, channel_table(time, leak_area=hole, cap_on=0.0 if neck else 1.0))
    assert status == 0
    return out, volume, time


def choked_pressure():
    _, volume, time = adiabatic(1e6, HOLE, 25.0)
    rate = orifice_flow(HOLE, 1e6, 0.0, 293.15) * AIR * 293.15 / (1e6 * volume)
    expected = 1e6 * (1.0 + 0.5 * (HEAT_RATIO - 1.0) * rate * time) ** (-2.0 * HEAT_RATIO / (HEAT_RATIO - 1.0))
    assert expected[-1] > SEA_LEVEL / CRITICAL  # choked to the end
    return expected[5::5]


def cooled(pressure, start):
    return 293.15 * (np.asarray(pressure) / start) ** ((HEAT_RATIO - 1.0) / HEAT_RATIO)


def unchoked_pressure():
    """Return pressures of an adiabatic vessel that starts below the critical ratio, by an integration of its own."""
    _, volume, time = adiabatic(1.8e5, HOLE, 25.0)

    def slope(_, y):
        temperature = float(cooled(y[0], 1.8e5))
        return [-HEAT_RATIO * AIR * temperature / volume * orifice_flow(HOLE, y[0], SEA_LEVEL, temperature)]

    return solve_ivp(slope, (0.0, 25.0), [1.8e5], t_eval=time[5::5], rtol=1e-9, atol=1e-3).y[0]


@functools.cache
def leak_down():
    """Return seconds in which 1.5 L of air loses half of 15 psi through 0.1 mm, and those of the orifice integral."""
    b = only_the_tank(1.0e-3, 293.15)
    p = b.parameters
    p.tank_volume, p.tank_outside, p.gas_oil_conductance = 2.5e-3, 1e4, 50.0
    p.relief_crack = 1e9
    start, half = SEA_LEVEL + 15.0 * PSI, SEA_LEVEL + 7.5 * PSI
    start_at(b.state, p, 293.15, start)
    volume = b.state.air_heat * AIR / start
    time = np.linspace(0.0, 900.0, 901)
    out, _, _ = b.run(time, channel_table(time, leak_area=LEAK))

    def seconds_per_pascal(pressure):
        return volume / (AIR * 293.15 * orifice_flow(LEAK, pressure, SEA_LEVEL, 293.15))

    return reached(time, out.headspace_pressure, half), quad(seconds_per_pascal, half, start)[0]


@functools.cache
def lift_pressure(elevation):
    """Return the pressure at which a 13 psi cap lifts on a tank in a hot bay: its straight line up to the lift."""
    b = without_air_in_oil(bench({"cap.relief_pressure": "13 psi"}))
    place = ambient(elevation)
    start_at(b.state, b.parameters, 293.15, place)
    time = np.linspace(0.0, 3000.0, 30001)
    b.parameters.tank_outside = 40.0
    out, log, _ = b.run(time, channel_table(time, bay_temperature=460.0, ambient_pressure=place))
    opened = log[:, 0, 1][log[:, 0, 0] > 0][0]
    before = np.flatnonzero(time <= opened)[-1]
    low, high = out.headspace_pressure[before - 1 : before + 1]
    return float(high + (high - low) * (opened - time[before]) / 0.1)


OPENED = [{"action": "cap off", "time": "3 h"}, {"action": "cap on", "time": "3 h 30 min"}]


def opened_hot(celsius):
    """Return a truck opened at 50 degC for half an hour, refitted, and brought to another temperature."""
    return standing(8, at_hours((0, 10), (2, 50), (4, 50), (6, celsius)), OPENED)


def let_in():
    data = opened_hot(15)
    return float(data.air_admitted[-1] - data.air_admitted.sel(time=4.0 * 3600.0))


def needed():
    """Return the air that the tank has gained from the refit at 50 degC to the pressure at 15 degC."""
    end = float(opened_hot(15).headspace_pressure[-1])
    return (TRUCK.air_amount(288.15, end) - TRUCK.air_amount(323.15, SEA_LEVEL)) / AIR


def deepest_vacuum():
    data = standing(5, at_hours((0, 10), (2, -20)), start={"temperature": "10 degC"})
    return float(data.headspace_gauge_pressure.min()) / PSI


def held_by_the_cap():
    """Return the least and the most gauge pressure, once it has lifted, of a 2 psi cap on a tank that warms up."""
    data = standing(5, at_hours((0, 10), (3, 55)), cap={"relief_pressure": "2 psi"})
    lifted = data.headspace_gauge_pressure.values[np.flatnonzero(data.air_vented.values > 0.0)]
    return [float(lifted.min()) / PSI, float(lifted.max()) / PSI]


def feed_at(elevation):
    """Return the absolute pressure at the port of a vented race truck as it starts."""
    segment = {"duration": "10 s", **truck.RACE}
    changes = {"start": {"elevation": elevation}, "cap": {"kind": "vented"}}
    return float(truck.ironwood_truck([segment], changes).feed_pressure[0])


CHECKS = [
    Check(
        WHOLE_JOB,
        "choked blow-down of 7.55 L from 10 bar through 1 mm2, adiabatic: pressure every 5 s",
        lambda: adiabatic(1e6, HOLE, 25.0)[0].headspace_pressure[5::5].tolist(),
        lambda: choked_pressure().tolist(),
        "Pa",
        BLOW_DOWN,
        DERIVED,
        "20 Pa a step of default tolerance, and 0.05 L of oil that gives way by 3e-8 m3",
        rel=1e-4,
    ),
    Check(
        WHOLE_JOB,
        "temperature of the air in that choked blow-down every 5 s",
        lambda: adiabatic(1e6, HOLE, 25.0)[0].headspace_temperature[5::5].tolist(),
        lambda: cooled(choked_pressure(), 1e6).tolist(),
        "K",
        BLOW_DOWN,
        DERIVED,
        "two sevenths of the error of the pressure",
        abs=0.01,
    ),
    Check(
        WHOLE_JOB,
        "unchoked blow-down of 7.55 L from 1.8 bar through 1 mm2, adiabatic: pressure every 5 s",
        lambda: adiabatic(1.8e5, HOLE, 25.0)[0].headspace_pressure[5::5].tolist(),
        lambda: unchoked_pressure().tolist(),
        "Pa",
        UNCHOKED,
        DERIVED,
        "20 Pa a step of default tolerance",
        rel=1e-4,
    ),
    Check(
        WHOLE_JOB,
        "time in which 1.5 L of air at 20 degC loses half of 15 psi through a 0.1 mm hole, discharge coefficient 0.7",
        lambda: leak_down()[0],
        lambda: leak_down()[1],
        "s",
        UNCHOKED,
        DERIVED,
        "not quite isothermal: the air lags the oil by some hundredths of a kelvin",
        rel=2e-4,
    ),
    Check(
        WHOLE_JOB,
        "cap taken off at 1 bar gauge, no heat to the air: its temperature when the pressure is gone",
        lambda: float(adiabatic(2.0e5, 0.0, 2.5, neck=True)[0].headspace_temperature[-1]),
        lambda: float(cooled(SEA_LEVEL, 2.0e5)),
        "K",
        ISENTROPIC,
        DERIVED,
        "it is over in some steps of 20 Pa each; with a tenth of the tolerance it is within 0.02 K",
        abs=0.15,
    ),
    Check(
        WHOLE_JOB,
        "a 13 psi cap at 0, 1500 and 3000 m, tank heated: absolute pressure at which it lifts",
        lambda: [lift_pressure(elevation) for elevation in ELEVATIONS],
        lambda: [ambient(elevation) + 13.0 * PSI for elevation in ELEVATIONS],
        "Pa",
        ATMOSPHERE,
        LIBRARY,
        "the lift is found to 1 Pa",
        abs=2.0,
    ),
    Check(
        WHOLE_JOB,
        "a vented truck started at 0 and at 1500 m, 4800 rpm: absolute pressure that the height takes from the feed",
        lambda: feed_at("0 m") - feed_at("1500 m"),
        lambda: ambient(0.0) - ambient(1500.0),
        "Pa",
        ATMOSPHERE,
        LIBRARY,
        "the wall gives way by 3.5e-6 m3, which moves the surface by 0.2 mm",
        abs=3.0,
    ),
    Check(
        WHOLE_JOB,
        "a truck opened at 50 degC, refitted and warmed to 55 degC: gauge pressure that it regains",
        lambda: float(opened_hot(55).headspace_gauge_pressure[-1]),
        lambda: TRUCK.pressure(328.15, TRUCK.air_amount(323.15, SEA_LEVEL)) - SEA_LEVEL,
        "Pa",
        GAS_AND_OIL,
        DERIVED,
        "oil and air end 1e-4 K from the weather",
        abs=0.5,
    ),
    Check(
        WHOLE_JOB,
        "a truck opened at 50 degC, refitted and cooled to 15 degC: air that the vacuum valve lets in",
        let_in,
        needed,
        "kg",
        GAS_AND_OIL,
        DERIVED,
        "2e-5 between gas constants, and the march's tolerance on the mass that flows",
        rel=1e-4,
    ),
    Check(
        WHOLE_JOB,
        "that truck, refitted at 50 degC and cooled to 15 degC: gauge pressure left by a vacuum valve of 0.5 psi",
        lambda: float(opened_hot(15).headspace_gauge_pressure[-1]) / PSI,
        Between(-0.5, -0.45),
        "psi",
        SPRING,
        DERIVED,
        "where between opening and reseating it stops depends on its last opening",
    ),
    Check(
        WHOLE_JOB,
        "a sealed truck cooled from 10 to -20 degC: deepest vacuum with a vacuum valve of 0.5 psi",
        deepest_vacuum,
        -0.5,
        "psi",
        SPRING,
        DERIVED,
        "rows are 10 s apart, and the lift is found to 1 Pa",
        rel=1e-3,
    ),
    Check(
        WHOLE_JOB,
        "a tank that warms up under a 2 psi cap: lowest and highest gauge pressure once it has lifted",
        held_by_the_cap,
        Between(1.8, 2.01),
        "psi",
        SPRING,
        DERIVED,
        "the air passes a disc that has hardly lifted: 0.01 psi over its setting",
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_the_cap_lets_through_what_orifice_and_spring_say(check):
    assert check.misses() == []


def test_blow_down_gets_better_with_tighter_tolerance():
    expected = choked_pressure()
    errors = [
        np.max(np.abs(adiabatic(1e6, HOLE, 25.0, tolerance=f)[0].headspace_pressure[5::5] / expected - 1.0))
        for f in (10.0, 0.01)
    ]
    # what stays is the oil that gives way, not in the closed form
    assert errors[1] < 0.7 * errors[0]
