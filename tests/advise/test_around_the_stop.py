"""Whatever else the race plans, a study of a stop runs; what cannot be had is left out, nonsense is refused."""

import json

import numpy as np
import pytest

from support import truck
from ullage.advise.cap_opening import compare_cap_opening
from ullage.api import simulate
from ullage.errors import ScenarioError

LAP = {"duration": "6 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "15 bar"}
RACE = {
    "duty.segment": [LAP],
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "start.temperature": "80 degC",
    "cooler.fan_air_speed": "3 m/s",
    "pit.longest_wait": "4 h",
}
QUICK = ["refit", "left_off"]


def study(changes, **wishes):
    return compare_cap_opening(truck({**RACE, **changes}), **wishes)


@pytest.mark.parametrize(
    "events",
    [
        [{"action": "cap off", "stop": "pit", "after": "1 min"}, {"action": "cap on", "time": "11 min"}],
        [{"action": "fan on", "time": "2 min"}, {"action": "fan auto", "time": "12 min"}],
        [{"action": "engine off", "stop": "pit", "after": "1 min"}, {"action": "engine on", "time": "10 min"}],
        [{"action": "fault on", "fault": "seal leak", "stop": "pit", "after": "2 min"}],
    ],
)
def test_what_the_race_plans_around_the_stop_stops_no_choice(events):
    found = study({"event": events})
    assert {*QUICK, "shut", "cool_then_open_engine_off"} <= {*found.choice.values}
    assert (found.status == "done").all()


def test_later_stop_by_time_stops_no_choice_and_is_as_late_as_the_race():
    stops = [
        {"name": "pit", "time": "4 min", "duration": "2 min"},
        {"name": "late", "time": "9 min", "duration": "2 min"},
    ]
    found = study({"duty.stop": stops}, stop="pit", open_for="4 min", choices=QUICK)
    assert json.loads(found.attrs["changes"])["refit"]["duty.stop.1.time"] == pytest.approx(540.0 + 120.0)
    assert found.finish_delay.sel(choice="refit") == pytest.approx(120.0, abs=1e-6)


def test_own_choice_that_clashes_is_left_out_with_its_reason():
    leak = {"action": "fault on", "fault": "seal leak", "stop": "pit", "after": "2 min"}
    own = {"name": "short", "stop_duration": "1 min", "event": [{"action": "cap off", "after": "10 s"}]}
    found = study({"event": [leak]}, choices=["refit", own])
    assert found.choice.values.tolist() == ["shut", "refit"]
    assert "clashes with what the race plans" in json.loads(found.attrs["left_out"])["short"]


def test_cap_that_is_off_already_leaves_nothing_to_compare():
    events = [{"action": "cap off", "time": "3 min"}, {"action": "cap on", "time": "12 min"}]
    with pytest.raises(ScenarioError, match="the cap is off already"):
        study({"event": events})


def test_stop_before_the_first_lap_is_the_separate_race_from_its_first_row():
    scenario = truck({**RACE, "duty.stop": [{"name": "grid", "after_lap": 0, "duration": "3 min"}]})
    found = compare_cap_opening(scenario, choices=QUICK)
    for label in QUICK:
        whole = simulate(scenario.replace(json.loads(found.attrs["changes"])[label]))
        for name in ("cap_state", "cap_air_flow", "feed_pressure", "headspace_pressure"):
            mine = found[name].sel(choice=label).values
            its = whole[name].sel(time=found.time_since_stop.values, method="nearest").values
            assert np.array_equal(mine, its, equal_nan=True), (label, name)


def test_nights_have_the_air_of_their_races():
    quick = {"air.transfer_velocity": "2e-3 m/s", "air.rest_factor": 1.0}
    found = study(quick, choices=["refit"])
    night = found.overnight_gauge_pressure_by_air_model.sel(choice="refit")
    alone = study(
        {"air.transfer_velocity": "2e-3 m/s", "air.rest_factor": 1.0, "air.model": "frozen"}, choices=["refit"]
    )
    assert float(night.sel(air_model="frozen")) == float(alone.overnight_gauge_pressure.sel(choice="refit"))


@pytest.mark.parametrize(
    "wish", [{"stop": float("nan")}, {"stop": True}, {"stop": [1]}, {"choices": 5}, {"choices": "refit"}]
)
def test_senseless_wishes_are_refused_in_a_sentence(wish):
    with pytest.raises(ScenarioError):
        study({}, **wish)
