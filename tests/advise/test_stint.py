"""Figures of a choice are read off its march, between the right moments."""

import numpy as np
import pytest

from support import truck
from ullage.advise.stint import FIRST_DRIVE, stint_figures
from ullage.kernel.extremes import clear_extremes
from ullage.results.trace import trace_on, trace_until
from ullage.scenario.compile import compile_problem

RACE = {
    "duty.segment": [
        {"duration": "20 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "40 bar"}
    ],
    "duty.laps": 3,
    "duty.stop": [
        {"name": "pit", "after_lap": 1, "duration": "3 min"},
        {"name": "fuel", "after_lap": 2, "duration": "2 min"},
    ],
    "start.temperature": "60 degC",
    "event": [
        {"action": "cap off", "stop": "pit", "after": "10 s"},
        {"action": "cap on", "stop": "pit", "after": "1 min"},
    ],
}
BEGIN, LEAVE, NEXT = 1200.0, 1380.0, 2580.0


@pytest.fixture(scope="module")
def march():
    problem = compile_problem(truck(RACE).spec)
    before = trace_until(problem, BEGIN)
    clear_extremes(before.state)
    trace = trace_on(problem, before)
    return trace.rows, stint_figures(problem, trace, "pit")


def mean_between(rows, values, start, end):
    inside = (rows.time > start) & (rows.time <= end)
    lengths = np.diff(rows.time, prepend=np.nan)[inside]
    return float((values[inside] * lengths).sum() / lengths.sum())


def test_means_are_over_the_first_drive_and_over_the_stint_up_to_the_next_stop(march):
    rows, found = march
    feed = rows.feed_gauge_pressure
    after = mean_between(rows, feed, LEAVE, LEAVE + FIRST_DRIVE)
    assert found["feed_gauge_pressure_after_stop"] == pytest.approx(after, rel=1e-12)
    assert found["stint_feed_gauge_pressure"] == pytest.approx(mean_between(rows, feed, LEAVE, NEXT), rel=1e-12)
    tank = mean_between(rows, rows.headspace_gauge_pressure, LEAVE, NEXT)
    assert found["stint_gauge_pressure"] == pytest.approx(tank, rel=1e-12)


def test_opening_is_what_the_cap_found(march):
    rows, found = march
    assert (found["opened"], found["refitted"]) == (10.0, 60.0)
    row = rows[np.searchsorted(rows.time, BEGIN + 10.0)]
    assert found["gauge_pressure_opened"] == row.headspace_gauge_pressure > 1e3
    assert found["hottest_oil_opened"] == row.oil_temperature.max()


def test_highest_pressure_is_that_of_the_stint_and_its_parts_are_the_rise_since_the_refit(march):
    rows, found = march
    drive = (rows.time > LEAVE) & (rows.time <= NEXT)
    assert found["regained_gauge_pressure"] == rows.headspace_gauge_pressure[drive].max()
    refit = rows[np.searchsorted(rows.time, BEGIN + 60.0, side="right")].headspace_gauge_pressure
    parts = sum(found[f"returned_{name}"] for name in ("from_oil", "through_cap", "by_heat"))
    assert parts == pytest.approx(found["regained_gauge_pressure"] - refit, abs=1e-6)  # rounding


def test_quantities_count_from_the_stop(march):
    rows, found = march
    assert found["air_vented"] == rows.air_vented[-1] - rows.air_vented[0] > 0.0
    assert found["cavitation_exposure"] == rows.cavitation_exposure[-1]
    assert found["stop_duration"] == 180.0
    assert found["status"] == "done"


def test_last_stop_has_no_stint():
    problem = compile_problem(truck({**RACE, "duty.laps": 1, "duty.stop": RACE["duty.stop"][:1]}).spec)
    found = stint_figures(problem, trace_on(problem, trace_until(problem, BEGIN)), "pit")
    assert np.isnan([found["stint_gauge_pressure"], found["regained_gauge_pressure"], found["returned_by_heat"]]).all()
    assert found["gauge_pressure_opened"] > 0.0


def test_stops_that_touch_are_one_and_the_stint_follows_them():
    stops = [
        {"name": "pit", "after_lap": 1, "duration": "3 min"},
        {"name": "tyres", "after_lap": 1, "duration": "2 min"},
    ]
    problem = compile_problem(truck({**RACE, "duty.stop": stops}).spec)
    trace = trace_on(problem, trace_until(problem, BEGIN))
    found = stint_figures(problem, trace, "pit")
    rows = trace.rows
    feed = mean_between(rows, rows.feed_gauge_pressure, LEAVE + 120.0, rows.time[-1])
    assert found["stint_feed_gauge_pressure"] == pytest.approx(feed, rel=1e-12)
