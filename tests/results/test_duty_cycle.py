import json

import numpy as np
import pytest

from support import truck
from ullage.api import simulate
from ullage.kernel.params import CHANNEL_INDEX
from ullage.results.duty_cycle import duty_cycle, save_duty_table
from ullage.results.store import ResultsError
from ullage.results.summary import summarise
from ullage.results.variables import DUTY_VARIABLES
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

WASH = {
    "name": "wash",
    "length": "2 km",
    "vehicle_speed": "45 km/h",
    "vehicle_speed_spread": "8 km/h",
    "engine_speed": "4200 rpm",
    "engine_speed_spread": "450 rpm",
    "steering_load": "22 bar",
    "steering_load_spread": "12 bar",
    "steering_load_peak": "80 bar",
    "left_acceleration": "0.2 gn",
    "elevation": "40 m",
}
LOCK = {"duration": "4 s", "vehicle_speed": "6 km/h", "engine_speed": "3000 rpm", "steering_load": "130 bar"}
BACK = {"length": "3 km", "vehicle_speed": "100 km/h", "engine_speed": "5000 rpm", "elevation": "0 m"}
STOPS = [
    {"name": "pit", "after_lap": 1, "duration": "90 s", "engine": "off"},
    {"name": "flag", "time": "77.7 s", "duration": "30 s"},
]
COLUMNS = {
    "time": ("time (s)", "s"),
    "vehicle_speed": ("vehicle_speed (m/s)", "m/s"),
    "engine_speed": ("engine_speed (rad/s)", "rad/s"),
    "steering_load": ("steering_load (Pa)", "Pa"),
    "elevation": ("elevation (m)", "m"),
    "forward_acceleration": ("forward_acceleration (m/s2)", "m/s2"),
    "left_acceleration": ("left_acceleration (m/s2)", "m/s2"),
    "upward_acceleration": ("upward_acceleration (m/s2)", "m/s2"),
}


def raced():
    """Return a race with two laps that are drawn, jumps of the load, and two stops."""
    return truck({"duty": {"seed": 3, "laps": 2, "segment": [WASH, LOCK, BACK], "stop": STOPS}})


def driven_again(folder, scenario):
    """Write the duty cycle of a scenario, and return the scenario that drives the written one as a recorded lap."""
    save_duty_table(duty_cycle(scenario), folder / "duty.csv")
    tree = scenario.to_dict()
    columns = {name: {"column": column, "unit": unit} for name, (column, unit) in COLUMNS.items()}
    tree["duty"] = {"recording": {"file": str(folder / "duty.csv"), **columns}}
    return Scenario.from_dict(tree)


def test_a_written_duty_cycle_is_read_back_as_the_same_channels(tmp_path):
    scenario = raced()
    table, again = (compile_problem(each.spec).table for each in (scenario, driven_again(tmp_path, scenario)))
    assert np.array_equal(table.output_time, again.output_time)
    assert np.array_equal(table.time, again.time)
    # twelve digits are written
    assert again.channels == pytest.approx(table.channels, rel=1e-11, abs=1e-9)
    assert again.distance == pytest.approx(table.distance, rel=1e-11)
    assert again.elevation == pytest.approx(table.elevation, abs=1e-9)


def test_a_race_driven_from_its_written_duty_cycle_gives_the_same_results(tmp_path):
    scenario = raced()
    first, second = (simulate(each) for each in (scenario, driven_again(tmp_path, scenario)))
    # what twelve digits of the channels leave of figures, far below the tolerances of the march
    for name in ("oil_temperature", "headspace_pressure", "feed_pressure", "shaft_work"):
        assert second[name].values == pytest.approx(first[name].values, rel=1e-7)


def test_channels_are_those_of_the_march_with_the_engine_as_events_let_it():
    scenario = truck({"event": [{"action": "engine off", "time": "20 s"}, {"action": "engine on", "time": "25 s"}]})
    data, table = duty_cycle(scenario), compile_problem(scenario.spec).table
    for name in DUTY_VARIABLES:
        if name in CHANNEL_INDEX:
            assert np.array_equal(data[name], table.channels[:, CHANNEL_INDEX[name]])
    off = (data.time > 20.0) & (data.time < 25.0)
    assert set(data.engine_speed.values[off]) == {0.0}
    assert data.engine_speed.values[(data.time < 20.0) | (data.time > 25.0)].min() > 400.0


def test_elevation_and_lap_are_those_of_the_results_where_both_have_a_row():
    scenario = raced()
    data, table = duty_cycle(scenario), compile_problem(scenario.spec).table
    rows = np.flatnonzero(table.output_rows >= 0)
    kept = table.output_rows[rows]
    assert data.elevation.values[rows] == pytest.approx(table.elevation[kept], abs=1e-9)
    assert np.array_equal(data.lap.values[rows], table.lap[kept])


def test_times_of_a_written_table_increase_and_laps_stand_in_one_file(tmp_path):
    data = duty_cycle(raced())
    save_duty_table(data, tmp_path / "duty.csv")
    header, *lines = (tmp_path / "duty.csv").read_text().splitlines()
    assert header.split(",") == [*(column for column, _ in COLUMNS.values()), "lap"]
    times = [float(line.split(",")[0]) for line in lines]
    assert len(times) == data.sizes["time"]
    assert (np.diff(data.time) == 0.0).any()
    assert np.all(np.diff(times) > 0.0)
    assert {line.split(",")[-1] for line in lines} == {"1", "2"}


def test_a_duty_cycle_that_cannot_be_written_is_an_error_in_a_sentence(tmp_path):
    (tmp_path / "duty.csv").mkdir()
    with pytest.raises(ResultsError, match=r"duty\.csv: cannot be written"):
        save_duty_table(duty_cycle(truck()), tmp_path / "duty.csv")


def test_statistics_have_the_distance_of_the_results():
    data, cycle = simulate(truck({"duty.laps": 2})), duty_cycle(truck({"duty.laps": 2}))
    driven = json.loads(cycle.attrs["duty_statistics"])
    assert driven["race"]["distance"] == pytest.approx(summarise(data)["distance"], rel=1e-12)
