"""Facts of the trade on races and vessels: common practice, not physics. Every truck is invented."""

import functools
import math

import numpy as np
import pytest

import driven_trucks as truck
from outside import PRACTICE, WHOLE_JOB, Between, Check
from still_trucks import at_hours, standing
from support import bench, channel_table, start_at
from test_whole_job_cap import leak_down
from test_whole_job_lump import pumped_lump
from ullage import load_scenario, simulate
from ullage.results.verdict import verdicts
from vessels import without_air_in_oil
from written_again import PSI, SEA_LEVEL

SUCTION = "common practice, 2 to 4 ft/s in a suction line and at most 5 inHg of vacuum at the pump"
SHEETS = "common practice, rules of thumb on fluid-power data sheets"
SIZING = "common practice of sizing tanks and coolers"
ALTITUDE_RULE = "common practice, half a psi of ambient pressure for 1000 ft"
CAP_TEST = "common practice of workshops, a pressure cap holds within 10 % of its mark"
LEAK_RULE = "common practice, a 0.1 mm leak halves 15 psi of 1.5 L in some seven minutes"

INHG, GAL_MIN, FOOT, HORSEPOWER = 3386.39, 3.785412e-3 / 60.0, 0.3048, 745.69987


@functools.lru_cache(maxsize=4)
def ironwood(model):
    return simulate(load_scenario(truck.IRONWOOD).replace({"air.model": model}))


def filled(data):
    """Leave out the first seconds, as the summary does: the feed line is counted once the pump has filled."""
    return data.sel(time=slice(5.0, None))


def psi_per_1000_feet():
    data = ironwood("kinetic")
    lost = float(data.ambient_pressure.max() - data.ambient_pressure.min()) / PSI
    return lost / (float(data.elevation.max() - data.elevation.min()) / (1000.0 * FOOT))


def seconds_of_flow():
    data = ironwood("kinetic")
    return float(data.oil_level.median()) * 7.6e-3 / float(data.pump_flow.max())


def bore_for(feet_per_second):
    return math.sqrt(4.0 * truck.SET_FLOW / (math.pi * feet_per_second * FOOT))


@functools.cache
def cold_feed(bore):
    """Return a race of the truck of Ironwood Flats that starts at 0 degC with another bore of its feed line [m]."""
    segment = {"duration": "60 s", **truck.RACE}
    return truck.ironwood_truck([segment], {"feed_line": {"bore": f"{1000.0 * bore} mm"}}, "0 degC", "0 degC")


def vacuum(bore):
    return -float(cold_feed(bore).feed_gauge_pressure[0]) / INHG


def growth_by_99_fahrenheit():
    """Return by how much the oil of a truck grows from 0 to 55 degC, seen as the rise of its tank's level."""
    data = standing(5, at_hours((0, 0), (2, 55)), reservoir={"fill": 0.8})
    whole = 7.6e-3 * (1.0 + 7.1e-5 * np.array([-20.0, 35.0]))
    start, end = whole * data.oil_level.values[[0, -1]]
    return float((end - start) / (start + 3.5e-3))


@functools.cache
def fahrenheit_per_watt_hour():
    """Return the rise [degF] of 1 US gal of oil into which a pump without losses puts 1 W for an hour, of 10 W."""
    b = without_air_in_oil(bench({"pump.controlled_flow": None, "pump.bypass_routing": None}))
    p = b.parameters
    for name in ("tank_metal", "pump_metal", "gear_metal", "cooler_metal"):
        setattr(p, name, 1e-6)
    for name in ("tank_outside", "mount_conductance", "pump_outside", "gear_outside", "still_conductance"):
        setattr(p, name, 0.0)
    for name in ("friction", "viscous_drag", "idle_torque", "core_speed_share", "return_drop", "filter_drop"):
        setattr(p, name, 0.0)
    p.gas_oil_conductance = p.gas_wall_conductance = p.centre_drop = 0.0
    p.slip_coefficient = 1e-30
    b.state.oil_mass = 3.785412e-3 * 870.0
    start_at(b.state, p, 313.15, SEA_LEVEL)
    time = np.linspace(0.0, 3600.0, 61)
    load = 10.0 / (p.displacement * p.drive_ratio * 300.0)
    out, _, status = b.run(time, channel_table(time, engine_speed=300.0, steering_load=load))
    assert status == 0
    return 1.8 * float(out.oil_temperature[-1].mean() - 313.15) / 10.0


CHECKS = [
    Check(
        WHOLE_JOB,
        "Ironwood Flats: time in which the flow at race speed would empty the tank",
        seconds_of_flow,
        Between(10.0, 15.0),
        "s",
        SIZING,
        PRACTICE,
        "race trucks carry 10 to 15 s of flow, where industry has one to three minutes",
    ),
    Check(
        WHOLE_JOB,
        "Ironwood Flats, 900 to 1750 m: ambient pressure lost per 1000 ft",
        psi_per_1000_feet,
        Between(0.45, 0.55),
        "psi",
        ALTITUDE_RULE,
        PRACTICE,
        "half, rounded to one digit",
    ),
    Check(
        WHOLE_JOB,
        "Ironwood Flats, from 5 s after the start: deepest vacuum at the pump inlet",
        lambda: -float(filled(ironwood("kinetic")).feed_gauge_pressure.min()) / INHG,
        Between(-math.inf, 5.0),
        "inHg",
        SUCTION,
        PRACTICE,
        "a limit",
    ),
    Check(
        WHOLE_JOB,
        "truck of Ironwood Flats started at 0 degC with feed lines for 2, 3 and 4 ft/s (36, 30 and 26 mm), held to be "
        "wide enough: vacuum at the pump",
        lambda: [vacuum(bore_for(speed)) for speed in (2.0, 3.0, 4.0)],
        Between(-math.inf, 5.0),
        "inHg",
        SUCTION,
        PRACTICE,
        "a limit; the height of the tank may leave a little pressure",
    ),
    Check(
        WHOLE_JOB,
        "Ironwood Flats with frozen air: highest gauge pressure under its 16 psi cap",
        lambda: float(ironwood("frozen").headspace_gauge_pressure.max()) / PSI,
        Between(14.4, 17.6),
        "psi",
        CAP_TEST,
        PRACTICE,
        "10 % of 16 psi",
    ),
    Check(
        WHOLE_JOB,
        "circuit with a lossless pump at 40 bar: horsepower is psi times gal/min over 1714",
        lambda: float(pumped_lump()[1].shaft_power[-1]) / HORSEPOWER,
        lambda: 40e5 / PSI * float(pumped_lump()[1].pump_flow[-1]) / GAL_MIN / 1714.0,
        "hp",
        SHEETS,
        PRACTICE,
        "1714 is short for 1714.29",
        rel=3e-4,
    ),
    Check(
        WHOLE_JOB,
        "oil of a truck that stands and warms up from 0 to 55 degC, 99 degF: it grows by about 4 %",
        growth_by_99_fahrenheit,
        Between(0.035, 0.045),
        "1",
        SHEETS,
        PRACTICE,
        "4 % for 100 degF, rounded to one digit",
    ),
    Check(
        WHOLE_JOB,
        "1 US gal of oil at 40 degC, a watt for an hour: about 1 degF",
        fahrenheit_per_watt_hour,
        Between(0.9, 1.1),
        "degF",
        SHEETS,
        PRACTICE,
        "about",
    ),
    Check(
        WHOLE_JOB,
        "a 0.1 mm leak, discharge coefficient 0.7, of 15 psi in 1.5 L of air at 20 degC: time to lose half",
        lambda: leak_down()[0] / 60.0,
        7.0,
        "min",
        LEAK_RULE,
        PRACTICE,
        "some seven, rounded to one digit; discharge coefficients from 1 to 0.6 make 4.7 to 7.9 of it",
        rel=0.07,
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_rules_of_thumb_come_out(check):
    assert check.misses() == []


def test_a_feed_line_faster_than_the_custom_is_called_out_where_it_costs_too_much():
    # 22.2 mm, 5.4 ft/s: at 0 degC the pump sees more than 5 inHg, and the screen says so; hot it does not
    assert truck.SET_FLOW / (0.25 * math.pi * 22.2e-3**2) / FOOT > 5.0
    lights = {line.about: line.light for line in verdicts(cold_feed(22.2e-3), "us")}
    assert vacuum(22.2e-3) > 5.0
    assert lights["lowest feed"] != "green"


def test_oil_over_120_degrees_is_called_worrying_and_not_yet_a_stop():
    # common practice: 93 degC is good, 120 worries, 135 stops
    hottest = float(ironwood("kinetic").oil_temperature.max()) - 273.15
    lights = {line.about: line.light for line in verdicts(ironwood("kinetic"), "us")}
    assert 120.0 < hottest < 135.0
    assert lights["hottest oil"] == "amber"
