"""Readings of a gauge at the pump inlet: they are what the race shows, and heads, losses and the cap set them."""

import functools
import json
import math
from pathlib import Path

import numpy as np
import pytest

from support import truck
from ullage.advise.gauge_table import CONDITIONS, columns_of, gauge_table, healthy, reading, readings, stop_time
from ullage.errors import SimulationError
from ullage.kernel.params import CHANNEL_INDEX
from ullage.kernel.state import copied
from ullage.results.trace import trace_on, trace_race, trace_until
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import load_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"
RPM = math.pi / 30.0
GRAVITY = 9.80665
OF_INLET = ("feed_gauge_pressure", "pump_chamber_pressure", "rating_margin", "headspace_gauge_pressure")
STOP = {"name": "pit", "after_lap": 1, "duration": "4 min"}
DRIVE = {"vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "0 bar"}
RACE = {"duty.laps": 2, "duty.stop": [STOP], "duty.segment": [{"duration": "15 min", **DRIVE}]}


@functools.lru_cache(maxsize=32)
def _made(text):
    scenario = truck(json.loads(text))
    return scenario, compile_problem(scenario.spec)


def made(changes=None):
    """Return scenario and problem of two laps with a stop between them."""
    return _made(json.dumps({**RACE, **(changes or {})}))


def at_row(problem, time):
    """Return the row of results at a race time."""
    rows = trace_race(problem).rows
    return rows[np.searchsorted(rows.time, time)]


@pytest.mark.parametrize("time", [5.0, 400.0, 900.0, 1500.0])
def test_readings_of_a_drive_without_steering_are_what_the_race_shows(time):
    _, problem = made()
    found, shown = readings(problem, [time], [4000 * RPM])[0, 0], at_row(problem, time)
    # the march renews flows within its own tolerance
    for name in OF_INLET:
        assert found[name] == pytest.approx(shown[name], rel=1e-6, abs=0.1)
    np.testing.assert_array_equal(found.oil_temperature, shown.oil_temperature)
    assert found.time == shown.time == time


def test_readings_of_a_stop_are_what_the_race_shows():
    _, problem = made()
    found, shown = readings(problem, [1000.0], [900 * RPM])[0, 0], at_row(problem, 1000.0)
    for name in OF_INLET:
        assert found[name] == pytest.approx(shown[name], rel=1e-6, abs=0.1)


@pytest.mark.parametrize(
    ("file", "changes"),
    [
        ("ironwood.toml", {}),
        ("bench_rig.toml", {f"duty.segment.{place}.steering_load": "0 bar" for place in range(3)}),
    ],
)
def test_cells_agree_with_the_race_at_the_same_state_and_speed(file, changes):
    scenario = load_scenario(SCENARIOS / file)
    if not scenario.stops:
        scenario = scenario.replace({"duty.laps": 2, "duty.stop": [STOP]})
    scenario = scenario.replace(changes)
    stop = scenario.stops[0]
    problem = compile_problem(scenario.spec)
    standing = math.floor(stop_time(problem, stop).end)
    shown = at_row(problem, standing)
    found = readings(problem, [standing], [900 * RPM])[0, 0]
    for name in OF_INLET:
        assert found[name] == pytest.approx(shown[name], rel=1e-6, abs=0.1)
    table = gauge_table(scenario, stop)
    hot = table.sel(condition="hot")
    gauge = at_row(problem, math.floor(stop_time(problem, stop).start))
    # within the second before the stop
    assert float(hot.headspace_gauge_pressure) == pytest.approx(gauge.headspace_gauge_pressure, abs=100.0)
    assert float(hot.oil_temperature) == pytest.approx(gauge.oil_temperature[0], abs=0.1)


def test_pump_that_stands_shows_the_air_space_and_the_height_of_the_oil():
    _, problem = made()
    state = trace_until(problem, 900.0).state
    found = reading(problem, state, [0.0])[0]
    head = state.reservoir_density * GRAVITY * (problem.parameters.outlet_height + state.surface_height)
    assert found.feed_gauge_pressure == pytest.approx(found.headspace_gauge_pressure + head, abs=1e-6)
    assert np.isnan(found.rating_margin)


def test_feed_falls_with_revs_until_the_flow_control_sends_the_rest_round():
    scenario, _ = made()
    table = gauge_table(scenario, "pit", [0.0, *(np.array([900.0, 2000.0, 4000.0, 5000.0]) * RPM)])
    hot = table.feed_gauge_pressure.sel(condition="hot").values
    assert np.all(np.diff(hot[:3]) < -50.0)
    # what is beyond the flow that is set goes back to the inlet and does not pass the line
    assert hot[4] == pytest.approx(hot[3], abs=200.0)


def test_conditions_are_those_of_the_race():
    scenario, problem = made()
    table = gauge_table(scenario, "pit")
    assert tuple(table.condition.values) == CONDITIONS
    rows = trace_race(problem).rows
    oil = rows.oil_temperature[rows.time <= 900.0, 0]
    cold, warming, hot, after = table.condition_time.values
    assert (cold, hot, after) == (5.0, 900.0, 900.0 + 240.0 + 120.0)
    half = 0.5 * (oil[0] + oil.max())
    assert oil[rows.time[: oil.size] == warming] >= half
    assert np.all(oil[rows.time[: oil.size] < warming] < half)
    assert float(table.oil_temperature.sel(condition="hot")) == oil[-1]


def test_columns_are_idle_and_whole_five_hundreds_up_to_the_top_speed():
    scenario, problem = made({"duty.segment": [{"duration": "15 min", **DRIVE, "engine_speed": "5900 rpm"}]})
    columns = columns_of(scenario.spec, problem, "pit")
    # a third, two thirds and the whole of the way from 900 to 5900
    np.testing.assert_allclose(columns.speeds / RPM, [900.0, 2500.0, 4000.0, 6000.0])
    assert columns.racing == pytest.approx(6000 * RPM)
    slow, problem = made({"duty.segment": [{"duration": "15 min", **DRIVE, "engine_speed": "1000 rpm"}]})
    np.testing.assert_allclose(columns_of(slow.spec, problem, "pit").speeds / RPM, [900.0, 1000.0])


def test_engine_that_only_idles_has_one_column():
    scenario, problem = made({"duty.segment": [{"duration": "15 min", **DRIVE, "engine_speed": "900 rpm"}]})
    columns = columns_of(scenario.spec, problem, "pit")
    # 900 rpm lie nearer to 1000 than to 500
    assert columns.racing / RPM == pytest.approx(1000.0)
    np.testing.assert_allclose(columns.speeds / RPM, [900.0, 1000.0])


def test_faults_of_the_scenario_are_not_in_the_table_of_a_healthy_truck():
    fault = {"action": "fault on", "fault": "relief stuck open", "time": "2 min"}
    faulty, _ = made({"event": [fault]})
    sound, _ = made()
    assert healthy(faulty.spec).event == ()
    assert gauge_table(faulty, "pit").equals(gauge_table(sound, "pit"))


def test_opened_cap_takes_the_same_from_every_column():
    _, shut = made()
    _, opened = made(
        {
            "event": [
                {"action": f"cap {side}", "stop": "pit", "after": f"{after} s"}
                for side, after in (("off", 30), ("on", 60))
            ]
        }
    )
    speeds = [900 * RPM, 4000 * RPM]
    before, after = (readings(problem, [1200.0], speeds)[0] for problem in (shut, opened))
    lost = before.feed_gauge_pressure - after.feed_gauge_pressure
    assert lost[0] > 5e3
    # the oil is the same to some tenths of a kelvin, and with it the loss of the line
    assert lost[1] == pytest.approx(lost[0], abs=300.0)


def test_vented_tank_reads_no_pressure_in_its_air_space():
    scenario, _ = made({"cap": {"kind": "vented"}})
    table = gauge_table(scenario, "pit")
    # breathing through a few square millimetres
    np.testing.assert_allclose(table.headspace_gauge_pressure, 0.0, atol=20.0)


def test_reading_leaves_the_march_as_it_is():
    _, problem = made()
    whole = trace_race(problem)
    half = trace_until(problem, 900.0)
    reading(problem, half.state, [900 * RPM, 4000 * RPM])
    on = trace_on(problem, half)
    assert np.array_equal(on.rows.feed_pressure, whole.rows.feed_pressure[-len(on.rows) :])
    assert on.state.cavitation_exposure == whole.state.cavitation_exposure


def test_march_that_stands_twice_is_the_race_to_the_last_bit():
    _, problem = made()
    whole = trace_race(problem)
    half = trace_on(problem, trace_until(problem, 300.0), 900.0)
    assert half.state.time == half.rows.time[-1] == 900.0
    rest = trace_on(problem, half).rows.feed_pressure
    assert np.array_equal(rest, whole.rows.feed_pressure[-len(rest) :])
    assert trace_on(problem, half, 1e9).state.time == whole.state.time


def test_march_stands_before_a_stop_whose_time_the_table_rounds_down():
    _, problem = made({"duty.segment": [{"duration": "900.1234567894 s", **DRIVE}]})
    start = stop_time(problem, "pit").start
    state = trace_until(problem, start).state
    assert state.time == 900.123456789 < start
    assert reading(problem, state, [4000 * RPM])[0].time == state.time


def test_oil_that_speeds_up_in_the_line_is_not_in_a_reading():
    _, problem = made()
    parameters, state = problem.parameters.copy(), copied(trace_until(problem, 900.0).state)
    parameters.inertia_length = parameters.feed_length
    state.feed_elapsed, state.feed_flow = 0.05, 0.0
    found = reading(problem, state, [4000 * RPM])[0]
    rested = reading(problem, trace_until(problem, 900.0).state, [4000 * RPM])[0]
    assert found.feed_pressure == rested.feed_pressure
    assert problem.table.channels[0, CHANNEL_INDEX["engine_speed"]] == pytest.approx(4000 * RPM)


def test_unknown_stop_is_named_with_those_there_are():
    scenario, _ = made()
    with pytest.raises(ValueError, match=r"'pits' is no stop; there are: pit \(did you mean 'pit'\?\)"):
        gauge_table(scenario, "pits")


def test_race_that_cannot_reach_the_stop_says_why():
    _, problem = made()
    problem.state.oil_mass *= 0.3
    try:
        with pytest.raises(SimulationError):
            readings(problem, [900.0], [900 * RPM])
    finally:
        problem.state.oil_mass /= 0.3
