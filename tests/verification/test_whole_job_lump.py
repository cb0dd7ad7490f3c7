"""Whole races of one lump of oil and metal: a tank in a warm bay, and a circuit that a pump without losses heats."""

import functools
import math

import numpy as np
import pytest

import driven_trucks as truck
from outside import DERIVED, WHOLE_JOB, Check
from support import bench, channel_table, start_at
from vessels import without_air_in_oil
from written_again import SEA_LEVEL, density

LUMP = "heat balance of one lump, closed form"
FIRST_LAW = "first law, closed form"


@functools.cache
def lump_in_a_bay():
    """Return temperatures of a tank, every ten minutes, that warms up in a bay of 80 degC, and its time constant."""
    b = without_air_in_oil(bench())
    p = b.parameters
    p.heat_slope = p.ring_conductance = p.gas_oil_conductance = p.gas_wall_conductance = 0.0
    p.mount_conductance = p.pump_outside = p.gear_outside = p.still_conductance = 0.0
    start_at(b.state, p, 293.15, SEA_LEVEL)
    mass = 7.6e-3 * 0.8 * density(293.15)
    time = np.linspace(0.0, 7200.0, 121)
    out, _, _ = b.run(time, channel_table(time, bay_temperature=353.15))
    return out.oil_temperature[10::10, 0].tolist(), (mass * p.heat_constant + 2e3) / 4.0


def lump_exact():
    return (353.15 - 60.0 * np.exp(-np.linspace(600.0, 7200.0, 12) / lump_in_a_bay()[1])).tolist()


@functools.cache
def pumped_lump():
    """Return bench, rows and times of a circuit that a pump without losses warms up and only the tank's wall cools."""
    b = without_air_in_oil(bench({"pump.controlled_flow": None, "pump.bypass_routing": None}))
    p = b.parameters
    p.heat_slope = p.mount_conductance = p.pump_outside = p.gear_outside = p.still_conductance = 0.0
    p.friction = p.viscous_drag = p.idle_torque = p.core_speed_share = 0.0
    p.gas_oil_conductance = p.gas_wall_conductance = 0.0
    p.return_drop = p.filter_drop = p.centre_drop = 0.0
    p.tank_outside, p.slip_coefficient = 25.0, 1e-30
    start_at(b.state, p, 293.15, SEA_LEVEL)
    time = np.linspace(0.0, 3600.0, 361)
    out, _, _ = b.run(time, channel_table(time, engine_speed=300.0, steering_load=40e5))
    return b, out, time


PUMPED = 28e-6 / (2.0 * math.pi) * 0.7 * 300.0 * 40e5


@functools.cache
def capacities():
    """Return the heat that each node of the pumped lump holds per kelvin [J/K]."""
    b = pumped_lump()[0]
    masses = density(293.15) * np.array([0.0, 0.3e-3, 1.6e-3, 1.6e-3])
    masses[0] = b.state.oil_mass - masses.sum()
    return masses * b.parameters.heat_constant + [2e3, 3.5e3, 6e3, 2.5e3]


def stored():
    """Return the heat gained in an hour [J]; parts that get hot hold less oil, the tank has it."""
    b, out, _ = pumped_lump()
    end = out.oil_temperature[-1]
    moved = [truck.held(node, 293.15) - truck.held(node, end[node]) for node in (truck.PUMP, truck.GEAR, truck.COOLER)]
    now = capacities() + b.parameters.heat_constant * np.array([sum(moved), *(-mass for mass in moved)])
    return float((end - 293.15) @ now)


def pumped_less_lost():
    _, out, time = pumped_lump()
    return PUMPED * 3600.0 - 25.0 * float(np.trapezoid(out.oil_temperature[:, 0] - 293.15, time))


def mean_rise():
    rises = (pumped_lump()[1].oil_temperature[60::60] - 293.15) @ capacities() / capacities().sum()
    return rises.tolist()


def lumped_rise():
    times = np.linspace(600.0, 3600.0, 6)
    return (PUMPED / 25.0 * -np.expm1(-times * 25.0 / capacities().sum())).tolist()


CHECKS = [
    Check(
        WHOLE_JOB,
        "a tank with all else switched off in a bay of 80 degC, every ten minutes for two hours from 20 degC",
        lambda: lump_in_a_bay()[0],
        lump_exact,
        "K",
        LUMP,
        DERIVED,
        "work on the air space is left out",
        abs=2e-3,
    ),
    Check(
        WHOLE_JOB,
        "a circuit that a lossless pump heats with 40 bar, cooled by 25 W/K at the tank: heat stored in an hour",
        stored,
        pumped_less_lost,
        "J",
        FIRST_LAW,
        DERIVED,
        "heat of the air space and work on it, and the trapezoid over ten seconds",
        rel=1e-4,
    ),
    Check(
        WHOLE_JOB,
        "that circuit with the lossless pump: power at the shaft, displacement times speed times pressure",
        lambda: float(pumped_lump()[1].shaft_power[-1]),
        PUMPED,
        "W",
        FIRST_LAW,
        DERIVED,
        "rounding",
        rel=1e-12,
    ),
    Check(
        WHOLE_JOB,
        "that circuit with the lossless pump: mean rise every ten minutes as that of one lump",
        mean_rise,
        lumped_rise,
        "K",
        LUMP,
        DERIVED,
        "the wall sees the tank, which stays 2 to 3 K colder than the mean: 2 % of the loss",
        rel=0.025,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_one_lump_warms_up_as_its_time_constant_says(check):
    assert check.misses() == []
