"""The symptom table of a truck: each fault raced, read hot at the stop and cold the next morning."""

import dataclasses
import functools
import json
import math
from pathlib import Path

import numpy as np
import pytest

from support import truck
from ullage.advise import symptoms
from ullage.advise.gauge_table import gauge_table
from ullage.advise.overnight import overnight
from ullage.advise.symptoms import symptom_table
from ullage.errors import STATUS_OIL_GONE, SimulationError
from ullage.kernel.params import CHANNEL_INDEX
from ullage.results.trace import trace_race, trace_until
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import load_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
STRAINER, HOSE, COOLER = "blocked strainer", "collapsed hose", "blocked cooler"
LEAKS = ("seal leak", "relief stuck open", "vacuum valve stuck open")
COLD = 288.15
PSI = 6894.757293168361
RPM = math.pi / 30.0
STOP = {"name": "pit", "after_lap": 1, "duration": "4 min"}
DRIVE = {"vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "15 bar"}
SHORT = {"duty.laps": 2, "duty.stop": [STOP], "duty.segment": [{"duration": "15 min", **DRIVE}]}


@pytest.fixture(scope="module")
def ironwood():
    return symptom_table(load_scenario(SCENARIOS / "ironwood.toml"), "first pit", temperature=COLD)


@functools.lru_cache(maxsize=16)
def _short(text):
    return symptom_table(truck(json.loads(text)), "pit", temperature=COLD)


def short(changes=None):
    return _short(json.dumps({**SHORT, **(changes or {})}))


def value(data, name, fault, **where):
    return float(data[name].sel(fault=fault, **where))


def moved(data, name, fault, **where):
    return value(data, name, fault, **where) - value(data, name, "healthy", **where)


def said(data, fault):
    return data.sign.sel(fault=fault).item()


def test_healthy_row_is_the_gauge_table_hot_though_the_race_is_cut_at_the_stop(ironwood):
    hot = gauge_table(load_scenario(SCENARIOS / "ironwood.toml"), "first pit").sel(condition="hot")
    assert ironwood.fault[0] == "healthy"
    for speed in ironwood.engine_speed.values:
        whole = float(hot.feed_gauge_pressure.sel(engine_speed=speed))
        assert value(ironwood, "feed_gauge_pressure", "healthy", engine_speed=speed) == whole
    assert value(ironwood, "headspace_gauge_pressure", "healthy") == float(hot.headspace_gauge_pressure)
    np.testing.assert_allclose(ironwood.engine_speed / RPM, [900.0, 4500.0])


def test_healthy_morning_is_that_of_a_night_from_the_stop(ironwood):
    spec = load_scenario(SCENARIOS / "ironwood.toml").spec
    problem = compile_problem(spec)
    hot = trace_until(problem, problem.stops[0].start).state
    morning = overnight(spec, problem, hot, duration=12 * 3600.0, temperature=COLD)
    # started, the pump moves no air in the first instant
    assert value(ironwood, "overnight_gauge_pressure", "healthy") == pytest.approx(morning.gauge_pressure, abs=1e-6)
    assert value(ironwood, "overnight_oil_level", "healthy") == pytest.approx(morning.oil_level, abs=1e-9)


def test_leaks_take_tank_and_feed_down_together_and_cannot_be_told_apart(ironwood):
    idle, revs = ironwood.engine_speed.values
    for fault in LEAKS:
        tank = moved(ironwood, "headspace_gauge_pressure", fault)
        assert tank < -4 * PSI
        for speed in (idle, revs):
            # the loss of the line hangs on the oil, which is the same to a kelvin, and on a little less of bubbles
            assert moved(ironwood, "feed_gauge_pressure", fault, engine_speed=speed) == pytest.approx(tank, abs=500.0)
        assert value(ironwood, "overnight_gauge_pressure", fault) == pytest.approx(0.0, abs=20.0)
        assert said(ironwood, fault).startswith("Feed and tank 4.8")
        assert "cap or tank leaks" in said(ironwood, fault)
        assert all(other in said(ironwood, fault) for other in LEAKS if other != fault)


def test_narrow_line_takes_the_feed_down_with_revs(ironwood):
    idle, revs = ironwood.engine_speed.values
    feed = [value(ironwood, "feed_gauge_pressure", HOSE, engine_speed=speed) for speed in (idle, revs)]
    # half the bore: sixteen times the velocity head; laminar sixteen times, turbulent up to 28 times the friction
    sound = [value(ironwood, "feed_gauge_pressure", "healthy", engine_speed=speed) for speed in (idle, revs)]
    assert 10.0 < (feed[0] - feed[1]) / (sound[0] - sound[1]) < 28.0
    assert "strainer or line" in said(ironwood, HOSE)
    assert said(ironwood, HOSE).startswith("Feed falls 1")


def test_strainer_that_hot_oil_passes_shows_when_it_is_started_cold(ironwood):
    assert "Nothing on the hot gauges; cold the next morning the feed" in said(ironwood, STRAINER)
    assert "strainer or line" in said(ironwood, STRAINER)
    # nine times more of 0.5 kPa at 38 L/min and 15 mm2/s, half of it viscous, half inertial; at idle and 15 degC
    flow, viscosity = 900.0 * 0.70 * 0.028 / 38.0, 95.8 / 15.0
    fall = -moved(ironwood, "overnight_feed_gauge_pressure", STRAINER)
    # the pump slips by some per cent
    assert fall == pytest.approx(9.0 * 500.0 * 0.5 * flow * (viscosity + flow), rel=0.05)


def test_blocked_cooler_is_hotter_and_higher(ironwood):
    assert moved(ironwood, "oil_temperature", COOLER) > 20.0
    assert moved(ironwood, "headspace_gauge_pressure", COOLER) > 2 * PSI
    assert ": the cooler, or its fan." in said(ironwood, COOLER)


def test_less_oil_lowers_pressure_and_level_and_the_level_tells_it_from_a_leak(ironwood):
    for fault in ("lost oil", "filled hot to the cold mark"):
        assert -0.08 < moved(ironwood, "overnight_oil_level", fault) < -0.05
        assert moved(ironwood, "headspace_gauge_pressure", fault) < 0.0
        assert "oil is missing" in said(ironwood, fault)
    # half a litre of 7.6
    assert moved(ironwood, "overnight_oil_level", "lost oil") == pytest.approx(-0.5 / 7.6, rel=0.03)


def test_water_makes_the_glass_milky(ironwood):
    revs = ironwood.engine_speed.values[-1]
    assert value(ironwood, "sight_glass_transmittance", "water got in", engine_speed=revs) < 0.5
    assert "air or water in the oil" in said(ironwood, "water got in")
    assert "jar" in said(ironwood, "water got in")


def test_valve_that_was_never_asked_shows_nothing(ironwood):
    # the tank never comes near the sixteen psi of the cap
    for name in ("headspace_gauge_pressure", "oil_temperature", "overnight_gauge_pressure"):
        # an event makes the gas begin anew with a short step
        assert moved(ironwood, name, "relief stuck shut") == pytest.approx(0.0, abs=0.01)
    assert said(ironwood, "relief stuck shut").startswith("Nothing on the gauges, hot or cold")


def test_vacuum_valve_stuck_shut_shows_cold_in_the_morning():
    low = short({"cap.relief_pressure": "3 psi"})
    assert moved(low, "headspace_gauge_pressure", "vacuum valve stuck shut") == pytest.approx(0.0, abs=0.01)
    assert moved(low, "overnight_gauge_pressure", "vacuum valve stuck shut") < -0.7 * PSI
    assert "the cap lets no air in" in said(low, "vacuum valve stuck shut")
    assert "relief does not lift" in said(low, "relief stuck shut")
    assert moved(low, "headspace_gauge_pressure", "relief stuck shut") > PSI


def test_vented_truck_has_no_valves_and_no_fault_of_them():
    data = short({"cap": {"kind": "vented"}, "feed_line.strainer_drop": "0 kPa"})
    left_out = json.loads(data.attrs["left_out"])
    valves = {f"{valve} stuck {side}" for valve in ("relief", "vacuum valve") for side in ("open", "shut")}
    assert set(left_out) == {*valves, STRAINER, "seal leak"}
    assert "a vented one has no valves" in left_out["relief stuck shut"]
    assert "needs a strainer" in left_out[STRAINER]
    assert not {*left_out} & {*data.fault.values}
    np.testing.assert_allclose(data.headspace_gauge_pressure, 0.0, atol=20.0)


def test_stop_at_the_start_leaves_no_fault_the_time_to_show():
    data = short({"duty.stop": [{**STOP, "after_lap": 0}]})
    assert [*data.fault.values] == ["healthy"]
    left_out = json.loads(data.attrs["left_out"])
    assert len(left_out) == 11
    assert set(left_out.values()) == {"has no time to show: the stop is at the start"}


def test_oil_that_a_tank_cannot_spare_is_not_lost():
    data = short({"reservoir": {"volume": "2 L", "fill": 0.7}})
    assert "too much oil to lose" in json.loads(data.attrs["left_out"])["lost oil"]


def test_faults_and_later_events_of_the_scenario_are_left_out():
    events = [
        {"action": "fault on", "fault": "seal leak", "time": "1 min", "diameter": "1 mm"},
        {"action": "cap off", "stop": "pit", "after": "1 min"},
        {"action": "cap on", "stop": "pit", "after": "2 min"},
    ]
    assert short({"event": events}).equals(short())


def test_events_before_the_stop_are_part_of_the_race():
    opened = short(
        {"event": [{"action": f"cap {side}", "time": time} for side, time in (("off", "8 min"), ("on", "9 min"))]}
    )
    assert (
        value(opened, "headspace_gauge_pressure", "healthy")
        < value(short(), "headspace_gauge_pressure", "healthy") - 2 * PSI
    )


def test_table_says_how_large_each_fault_is_and_what_it_is_for():
    data = short()
    sizes = dict(zip(data.fault.values, data["size"].values, strict=True))
    assert sizes["seal leak"] == "diameter 0.3 mm"
    assert sizes["filled hot to the cold mark"] == "90 degC"
    assert sizes["healthy"] == sizes["relief stuck open"] == ""
    assert data.attrs["stop"] == "pit"
    assert data.attrs["stop_time"] == 900.0
    assert data.attrs["night_temperature"] == COLD
    assert set(data.status.values) == {"done"}
    for name in ("feed_gauge_pressure", "oil_temperature", "overnight_gauge_pressure"):
        assert data[name].attrs["units"] in ("Pa", "K")
        assert data[name].attrs["long_name"]


def test_bench_without_laps_on_the_road_has_its_table():
    scenario = load_scenario(SCENARIOS / "bench_rig.toml").replace({"duty.laps": 2, "duty.stop": [STOP], "event": []})
    data = symptom_table(scenario, "pit")
    assert set(data.status.values) == {"done"}
    assert data.attrs["night_temperature"] == pytest.approx(295.15)
    # metric units
    assert "kPa lower" in said(data, "lost oil")


def failing(march, status, whose):
    """Return a march that ends with a status halfway through the races that a test picks by their problem."""

    def marched(problem, *until):
        trace = march(problem, *until)
        return dataclasses.replace(trace, status=status) if whose(problem) else trace

    return marched


def blocked(problem):
    return problem.table.channels[-1, CHANNEL_INDEX["core_blockage"]] > 0.0


def test_race_that_a_fault_stops_is_a_row_that_says_so(monkeypatch):
    monkeypatch.setattr(symptoms, "trace_until", failing(trace_until, STATUS_OIL_GONE, blocked))
    data = symptom_table(truck(SHORT), "pit", temperature=COLD)
    assert data.status.sel(fault=COOLER).item() == "the reservoir has run out of oil"
    assert said(data, COOLER) == "At 0:15:00 it stops: the reservoir has run out of oil."
    for name in ("headspace_gauge_pressure", "oil_temperature", "overnight_gauge_pressure"):
        assert math.isnan(value(data, name, COOLER))
    assert said(data, HOSE) == said(short(), HOSE)


def test_night_that_a_fault_stops_keeps_what_was_read_hot(monkeypatch):
    monkeypatch.setattr(symptoms, "trace_race", failing(trace_race, STATUS_OIL_GONE, blocked))
    data = symptom_table(truck(SHORT), "pit", temperature=COLD)
    assert said(data, COOLER) == "At 12:00:00 of the night after it stops: the reservoir has run out of oil."
    assert value(data, "oil_temperature", COOLER) == value(short(), "oil_temperature", COOLER)
    assert math.isnan(value(data, "overnight_gauge_pressure", COOLER))


def test_healthy_truck_that_cannot_reach_the_stop_is_an_error(monkeypatch):
    monkeypatch.setattr(symptoms, "trace_until", failing(trace_until, STATUS_OIL_GONE, lambda _: True))
    with pytest.raises(SimulationError, match="run out of oil"):
        symptom_table(truck(SHORT), "pit")


def test_unknown_stop_is_named():
    scenario = truck(SHORT)
    with pytest.raises(ValueError, match="'elsewhere' is no stop; there are: pit"):
        symptom_table(scenario, "elsewhere")
