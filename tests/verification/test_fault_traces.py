"""Each fault against the same race without it: which trace moves, which does not, and that the balances still close."""

import copy

import numpy as np
import pytest

from support import TRUCK
from ullage.physics import water
from ullage.results.balance import audit
from ullage.results.trace import trace_race
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

PSI = 6894.757293168361
FAULT = 300.0  # when each fault begins, halfway through the race [s]
STEADY = {"vehicle_speed": "60 km/h", "steering_load": "15 bar"}
SLOW, FAST = "1500 rpm", "5000 rpm"


def run(fault=None, changes=None, before=(), segments=None, minutes=10, **size):
    """Return the rows of a race, with a fault from its middle on; it is a steady drive from 20 degC on."""
    data = copy.deepcopy(TRUCK)
    data["duty"]["segment"] = segments or [{"duration": f"{minutes} min", "engine_speed": "4000 rpm", **STEADY}]
    data["start"] = {"temperature": "20 degC"}
    data["event"] = list(before)
    if fault:
        data["event"].append({"action": "fault on", "fault": fault, "time": f"{FAULT} s", **size})
    problem = compile_problem(Scenario.from_dict(data).replace(changes or {}).spec)
    trace = trace_race(problem)
    assert trace.status == 0
    balances = audit(problem.parameters, trace.rows)
    assert balances.oil < 1e-10
    assert balances.air < 1e-10
    assert balances.energy < 1e-6
    return trace.rows


def at(rows, time, name):
    """Return an output at a race time; arrays are those of the nodes."""
    return rows[name][np.flatnonzero(rows.time >= time)[0]]


def moved(faulty, sound, time, name):
    return at(faulty, time, name) - at(sound, time, name)


def unmoved(faulty, sound, time, name, within):
    """Return whether a trace is the same before the fault and within a band a time after."""
    np.testing.assert_array_equal(faulty[name][faulty.time < FAULT], sound[name][sound.time < FAULT])
    return np.all(np.abs(moved(faulty, sound, time, name)) < within)


@pytest.fixture(scope="module")
def sound():
    return run()


def test_a_leaking_seal_lowers_tank_and_feed_together_and_nothing_else(sound):
    faulty = run("seal leak", diameter="0.3 mm")
    tank, feed = (moved(faulty, sound, 600.0, f"{place}_gauge_pressure") for place in ("headspace", "feed"))
    assert tank < -10e3
    # the loss of the line is that of the same flow of the same oil; a tenth of a kelvin moves it by some pascal
    assert feed == pytest.approx(tank, abs=200.0)
    # a pump with a void of 1 % takes 1 % less power: a third of a kelvin in five minutes
    assert unmoved(faulty, sound, 600.0, "oil_temperature", 0.5)
    assert unmoved(faulty, sound, 600.0, "oil_mass", 1e-12)
    assert at(faulty, 600.0, "air_vented") > 0.0


def test_a_wider_leak_falls_faster_and_none_falls_below_ambient(sound):
    gauge = [at(run("seal leak", diameter=d), 330.0, "headspace_gauge_pressure") for d in ("0.1 mm", "0.3 mm", "1 mm")]
    assert at(sound, 330.0, "headspace_gauge_pressure") > gauge[0] > gauge[1] > gauge[2] > -100.0


def test_a_relief_stuck_open_lets_the_tank_down_at_once(sound):
    faulty = run("relief stuck open")
    assert at(sound, 310.0, "headspace_gauge_pressure") > 15e3
    assert at(faulty, 299.0, "headspace_gauge_pressure") > 15e3
    # 20 mm2 of hole: within seconds, and it stays within the pascals that breathing takes
    assert abs(at(faulty, 310.0, "headspace_gauge_pressure")) < 50.0
    assert abs(at(faulty, 600.0, "headspace_gauge_pressure")) < 50.0
    assert unmoved(faulty, sound, 600.0, "oil_mass", 1e-12)


def test_a_vacuum_valve_stuck_open_lets_the_tank_down_as_well(sound):
    faulty = run("vacuum valve stuck open")
    assert abs(at(faulty, 310.0, "headspace_gauge_pressure")) < 50.0
    assert moved(faulty, sound, 310.0, "feed_gauge_pressure") < -15e3


def test_a_relief_stuck_shut_lets_the_pressure_rise_past_the_cap():
    hot = {"reservoir.fill": 0.9, "cap.relief_pressure": "5 psi", "air.model": "frozen"}
    faulty, sound = (run(fault, changes=hot, minutes=20) for fault in ("relief stuck shut", None))
    # a row after a pop: the cap holds it at its 5 psi, to the overshoot of a valve that lifts
    assert sound.headspace_gauge_pressure.max() < 5.2 * PSI
    assert at(sound, 290.0, "air_vented") > 0.0
    assert faulty.headspace_gauge_pressure[-1] > 7.0 * PSI
    assert at(faulty, 1200.0, "air_vented") == at(faulty, 301.0, "air_vented")
    assert at(faulty, 1200.0, "tank_margin") < at(sound, 1200.0, "tank_margin")
    # the pump does not see more than the tank
    tank, feed = (moved(faulty, sound, 1200.0, f"{place}_gauge_pressure") for place in ("headspace", "feed"))
    assert feed == pytest.approx(tank, abs=100.0)


def test_a_vacuum_valve_stuck_shut_lets_a_cooling_tank_fall_below_ambient():
    # opened hot and refitted, it cools with the engine off
    events = [
        {"action": "cap off", "time": "280 s"},
        {"action": "cap on", "time": "295 s"},
        {"action": "engine off", "time": "296 s"},
    ]
    cool = {"air.model": "frozen", "weather.temperature": "0 degC", "surroundings.block_temperature": "0 degC"}
    faulty, sound = (run(f, changes=cool, before=events, minutes=60) for f in ("vacuum valve stuck shut", None))
    assert at(sound, 3600.0, "air_admitted") > 0.0
    # the valve opens half a psi below ambient
    assert sound.headspace_gauge_pressure.min() > -0.55 * PSI
    assert faulty.headspace_gauge_pressure[-1] < -1.0 * PSI
    assert at(faulty, 3600.0, "air_admitted") == at(faulty, 301.0, "air_admitted")
    assert unmoved(faulty, sound, 3600.0, "oil_temperature", 0.1)


def test_a_blocked_cooler_heats_the_oil_and_with_it_the_tank(sound):
    faulty = run("blocked cooler", share="0.9")
    assert np.all(moved(faulty, sound, 600.0, "oil_temperature") > 5.0)
    assert moved(faulty, sound, 301.0, "cooler_heat") < 0.0
    assert moved(faulty, sound, 600.0, "headspace_gauge_pressure") > 1e3
    assert moved(faulty, sound, 600.0, "pump_viscosity") < 0.0
    # the feed moves with the tank: the line is the same
    tank, feed = (moved(faulty, sound, 600.0, f"{place}_gauge_pressure") for place in ("headspace", "feed"))
    assert feed == pytest.approx(tank, abs=200.0)
    assert unmoved(faulty, sound, 600.0, "oil_mass", 1e-12)


TWO_SPEEDS = [
    {"name": "slow", "duration": "450 s", "engine_speed": SLOW, **STEADY},
    {"name": "fast", "duration": "150 s", "engine_speed": FAST, **STEADY},
]
ALL_THROUGH_THE_LINE = {"pump.bypass_routing": "reservoir"}


@pytest.mark.parametrize(
    ("fault", "size"),
    [("blocked strainer", {"factor": 30}), ("collapsed hose", {"share": "0.7"})],
    ids=["blocked strainer", "collapsed hose"],
)
@pytest.mark.parametrize("model", ["frozen", "kinetic"])
def test_a_choked_line_lowers_the_feed_pressure_more_at_speed_and_leaves_the_tank_alone(fault, size, model):
    choked = {**ALL_THROUGH_THE_LINE, "air.model": model}
    faulty, sound = run(fault, changes=choked, segments=TWO_SPEEDS, **size), run(changes=choked, segments=TWO_SPEEDS)
    slow, fast = (moved(faulty, sound, time, "feed_gauge_pressure") for time in (440.0, 480.0))
    assert fast < 2.0 * slow < -10e3
    tank = moved(faulty, sound, 440.0, "headspace_gauge_pressure")
    # a tenth of a kelvin makes 30 Pa; air that comes out in the line and rises in the tank presses a little
    assert abs(tank) < (30.0 if model == "frozen" else 0.3 * abs(slow))
    assert moved(faulty, sound, 480.0, "rating_margin") == pytest.approx(fast, abs=500.0)
    assert moved(faulty, sound, 480.0, "pump_void_fraction") > 0.0
    assert unmoved(faulty, sound, 440.0, "oil_mass", 1e-12)


def test_a_choked_line_shows_void_and_exposure_where_the_tank_has_no_pressure():
    vented = {**ALL_THROUGH_THE_LINE, "cap.kind": "vented"}
    faulty = run("blocked strainer", changes=vented, segments=TWO_SPEEDS, factor=30)
    sound = run(changes=vented, segments=TWO_SPEEDS)
    assert moved(faulty, sound, 480.0, "pump_void_fraction") > 0.02
    assert moved(faulty, sound, 600.0, "cavitation_exposure") > 30.0
    # a pump that does not fill gives less
    assert moved(faulty, sound, 480.0, "pump_flow") < 0.0


def test_lost_oil_lowers_level_and_pressure_and_warms_the_rest_sooner(sound):
    faulty = run("lost oil", volume="1 L", duration="60 s")
    # a litre at the start temperature of 20 degC, of oil of 870 kg/m3 at 15 degC
    assert at(faulty, 600.0, "oil_lost") == pytest.approx(0.867, rel=2e-3)
    assert moved(faulty, sound, 600.0, "oil_level") == pytest.approx(-1.0 / 7.6, rel=0.08)
    assert moved(faulty, sound, 600.0, "headspace_gauge_pressure") < -20e3
    # the feed falls with the tank, and by the head of 5 cm of oil
    tank, feed = (moved(faulty, sound, 600.0, f"{place}_gauge_pressure") for place in ("headspace", "feed"))
    assert feed - tank == pytest.approx(-1e-3 / 0.021 * 830.0 * 9.81, rel=0.15)
    assert at(faulty, 359.0, "oil_lost") < at(faulty, 361.0, "oil_lost") == at(faulty, 600.0, "oil_lost")
    assert at(faulty, 600.0, "air_lost") > 0.0


def test_water_adds_its_vapour_to_the_tank_and_clouds_the_glass_for_good(sound):
    faulty = run("water got in", volume="20 mL")
    assert at(faulty, 299.0, "vapour_pressure") == 0.0
    vapour = at(faulty, 600.0, "vapour_pressure")
    # more than the oil dissolves: that of pure water (IAPWS, in the tests of the law)
    assert vapour == pytest.approx(water.saturation_pressure(at(faulty, 600.0, "oil_temperature")[0]), rel=1e-12)
    # the oil takes up some more air under it
    rise = moved(faulty, sound, 600.0, "headspace_gauge_pressure")
    assert 0.8 * vapour < rise < 1.02 * vapour
    assert at(faulty, 301.0, "sight_glass_transmittance") < 0.3 * at(sound, 301.0, "sight_glass_transmittance")
    assert unmoved(faulty, sound, 600.0, "oil_temperature", 0.5)
    # boiling is no nearer: what presses is the vapour itself
    assert moved(faulty, sound, 600.0, "vapour_margin") < 0.0


def test_a_tank_filled_hot_to_its_cold_mark_is_low_when_it_is_cold():
    opened = [{"action": "cap off", "time": "280 s"}, {"action": "cap on", "time": "320 s"}]
    faulty, sound = (run(f, before=opened) for f in ("filled hot to the cold mark", None))
    # at the mark hot, bubbles included; the oil goes on warming and drawing in gas for the seconds to the row
    assert at(faulty, 301.0, "oil_level") == pytest.approx(0.8, abs=2e-3)
    hot = at(sound, 301.0, "oil_level")
    assert hot > 0.83
    lost = at(faulty, 600.0, "oil_drawn_off")
    assert lost / 840.0 == pytest.approx((hot - 0.8) * 7.62e-3, rel=0.05)  # density at 60 degC, bubbles
    assert at(sound, 600.0, "oil_drawn_off") == at(faulty, 600.0, "oil_lost") == 0.0
    # more room for the air: less pressure comes up after the refit
    assert moved(faulty, sound, 600.0, "headspace_gauge_pressure") < 0.0
    assert moved(faulty, sound, 600.0, "oil_level") < -0.03


@pytest.mark.parametrize(
    ("fault", "size", "name"),
    [
        ("blocked cooler", {"share": "0.9"}, "cooler_heat"),
        ("blocked strainer", {"factor": 30}, "feed_pressure"),
        ("collapsed hose", {"share": "0.7"}, "feed_pressure"),
        ("relief stuck open", {}, "cap_state"),
    ],
)
def test_a_fault_that_ends_is_gone(sound, fault, size, name):
    off = {"action": "fault off", "fault": fault, "time": "360 s"}
    mended = run(before=[{"action": "fault on", "fault": fault, "time": f"{FAULT} s", **size}, off])
    during, after = (abs(moved(mended, sound, time, name)) for time in (359.0, 362.0))
    # what it left behind in the oil, some kelvin and some air, is little
    assert after < 0.2 * during
