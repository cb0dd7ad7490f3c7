"""Choices at a stop come from one hot state, are the race itself to the last bit, and cost what physics says."""

import json

import numpy as np
import pytest

from support import truck
from ullage.advise.cap_opening import compare_cap_opening
from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.results.choice_variables import BY_AIR_MODEL, CHOICE_FIGURES, CHOICE_TRACES, STOP_FIGURES
from ullage.results.variables import AIR_MODELS
from ullage.scenario.load import load_scenario

STANDARD = ["shut", "refit", "top_up", "recharge", "cool_then_open", "cool_then_open_engine_off", "left_off"]
LAP = {"duration": "6 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "15 bar"}
HOT = {
    "duty.segment": [LAP],
    "duty.laps": 3,
    "duty.stop": [
        {"name": "pit", "after_lap": 1, "duration": "3 min"},
        {"name": "fuel", "after_lap": 2, "duration": "2 min", "engine": "off"},
    ],
    "start.temperature": "60 degC",
    "weather.temperature": "20 degC",
    "cooler.fan_air_speed": "4 m/s",
    "cooler.fan_on_temperature": "85 degC",
    "cooler.fan_off_temperature": "80 degC",
}
QUICK_LOOK = {
    "name": "quick look",
    "stop_duration": "4 min",
    "event": [{"action": "cap off", "after": "1 min"}, {"action": "cap on", "after": "75 s"}],
}


@pytest.fixture(scope="module")
def hot():
    return truck(HOT)


@pytest.fixture(scope="module")
def choices(hot):
    return compare_cap_opening(hot.replace({"pit.choice": [QUICK_LOOK]}))


@pytest.fixture(scope="module")
def ironwood():
    return load_scenario("scenarios/ironwood.toml")


@pytest.fixture(scope="module")
def desert(ironwood):
    """Return the demo at each of its stops."""
    return {stop: compare_cap_opening(ironwood, stop=stop) for stop in ironwood.stops}


def test_every_standard_choice_and_the_crew_s_own_are_compared(choices):
    assert choices.choice.values.tolist() == [*STANDARD, "quick look"]
    assert (choices.status == "done").all()
    assert json.loads(choices.attrs["left_out"]) == {}


@pytest.mark.parametrize("label", [*STANDARD, "quick look"])
def test_a_choice_is_the_separate_race_with_the_same_events_to_the_last_bit(hot, choices, label):
    whole = simulate(hot.replace({**json.loads(choices.attrs["changes"])[label]}))
    one = choices.sel(choice=label)
    start = choices.attrs["stop_time"]
    there = one.time_since_stop.values[np.isfinite(one.oil_mass.values)]
    place = {round(time, 9): row for row, time in enumerate(whole.time.values)}
    rows = [place[time] for time in np.round(there + start, 9) if time in place]
    assert len(rows) >= len(there) - 1  # a race by itself has no row at the moment when the stop begins
    first = len(there) - len(rows)
    for name in CHOICE_TRACES:
        if name != "exposure_since_stop":
            mine, its = one[name].values[..., first : len(there)], whole[name].values[..., rows]
            assert np.array_equal(mine, its, equal_nan=True), name


def test_the_choices_start_from_one_state(choices):
    first = choices.isel(time_since_stop=0)
    for name in CHOICE_TRACES:
        values = first[name].values.reshape(len(choices.choice), -1)
        assert np.array_equal(values, np.repeat(values[:1], len(values), axis=0), equal_nan=True), name
    assert float(first.headspace_gauge_pressure[0]) == float(choices.gauge_pressure_at_stop) > 5e3


def test_every_variable_says_what_it_is(choices):
    listed = {*CHOICE_TRACES, *CHOICE_FIGURES, *STOP_FIGURES, *(f"{name}_by_air_model" for name in BY_AIR_MODEL)}
    assert set(choices.data_vars) == listed
    for name, variable in choices.data_vars.items():
        assert variable.attrs["long_name"], name
        assert variable.attrs.get("units") or name == "status", name


def test_the_asked_model_is_one_of_the_three(choices):
    for name in BY_AIR_MODEL:
        by_model = choices[f"{name}_by_air_model"]
        assert by_model.dims == ("air_model", "choice")
        assert np.array_equal(by_model.sel(air_model="kinetic"), choices[name], equal_nan=True), name
    assert choices.air_model.values.tolist() == list(AIR_MODELS)


def test_a_stop_lasts_as_long_as_the_choice_and_delays_the_finish_by_the_rest(choices):
    duration = dict(zip(choices.choice.values.tolist(), choices.stop_duration.values.tolist(), strict=True))
    assert duration["shut"] == duration["refit"] == duration["left_off"] == pytest.approx(180.0, abs=1e-6)
    assert duration["quick look"] == pytest.approx(240.0, abs=1e-6)
    assert duration["cool_then_open"] > 400.0
    delay = choices.finish_delay.values
    assert delay == pytest.approx(choices.stop_duration.values - 180.0, abs=1e-6)  # a clock of nanoseconds
    last = [float(row.dropna("time_since_stop").time_since_stop[-1]) for row in choices.oil_mass]
    assert np.diff(last) == pytest.approx(np.diff(delay), abs=1.0)  # the last sample is up to a sample before the end


def test_a_longer_opening_than_the_stop_makes_the_stop_longer(hot):
    found = compare_cap_opening(hot, stop="fuel", open_for="200 s", choices=["refit"])
    assert found.finish_delay.sel(choice="refit") == pytest.approx(80.0, abs=1e-6)
    assert found.opened.sel(choice="refit") == 0.0
    assert found.refitted.sel(choice="refit") == pytest.approx(200.0, abs=1e-6)


def test_events_by_the_clock_come_later_by_the_delay(hot):
    leak = {"action": "fault on", "fault": "seal leak", "time": "16 min"}
    found = compare_cap_opening(hot.replace({"event": [leak]}), open_for="280 s", choices=["refit"])
    later = json.loads(found.attrs["changes"])["refit"]["event"][0]
    assert later["time"] == pytest.approx(960.0 + 100.0)


def test_waiting_ends_when_the_oil_is_cool_and_idling_with_the_fan_is_quicker(choices):
    idling, off = (float(choices.cooling_time.sel(way=way)) for way in ("idling", "engine off"))
    assert idling < 0.5 * off  # common practice: idling with the fan cools several times faster
    for label, time in (("cool_then_open", idling), ("cool_then_open_engine_off", off)):
        one = choices.sel(choice=label)
        assert one.opened == pytest.approx(time, abs=1e-6)
        tank = one.oil_temperature.sel(node="reservoir")
        assert float(tank.sel(time_since_stop=slice(time, time + 2.0))[0]) <= 323.15
        assert float(tank.sel(time_since_stop=slice(time - 30.0, time - 12.0)).min()) > 323.15


def test_opening_spends_the_pressure_and_a_recharge_brings_it_back(choices):
    tank = choices.headspace_gauge_pressure.sel(time_since_stop=slice(5.0, 55.0))
    assert abs(tank.sel(choice=["refit", "top_up", "recharge", "left_off"])).max() < 50.0  # an open neck
    assert tank.sel(choice="shut").min() > 5e3
    after = choices.headspace_gauge_pressure.sel(time_since_stop=95.0, method="nearest")
    held = float(choices.gauge_pressure_at_stop)
    assert after.sel(choice="recharge") == pytest.approx(held, rel=0.05)  # the regulator shut some seconds ago
    assert after.sel(choice="refit") < 0.1 * held


def test_parts_of_the_returned_pressure_add_up(choices):
    for label in ("refit", "top_up", "recharge", "quick look"):
        one = choices.sel(choice=label)
        parts = sum(float(one[f"returned_{name}"]) for name in ("from_oil", "through_cap", "by_heat"))
        refit = one.headspace_gauge_pressure.sel(time_since_stop=float(one.refitted), method="nearest")
        # the sample nearest to the refit is up to half a second away from it
        assert parts == pytest.approx(float(one.regained_gauge_pressure - refit), abs=300.0), label


@pytest.mark.parametrize("stop", ["first pit", "fuel pit"])
def test_without_air_from_the_oil_at_most_a_third_of_the_pressure_returns(desert, stop):
    shares = desert[stop].returned_share_by_air_model.sel(choice="refit")
    assert shares.sel(air_model="frozen") < 0.35  # the growth before the opening is spent
    assert shares.sel(air_model="kinetic") > shares.sel(air_model="frozen")  # the oil gives air back
    assert desert[stop].returned_share.sel(choice="recharge") > 0.75


def test_where_opening_matters_more_gas_comes_to_the_pump_the_less_is_put_right(desert):
    gas = desert["first pit"].cavitation_exposure_by_air_model
    for model in AIR_MODELS:
        shut, recharge, refit, off = (
            float(gas.sel(air_model=model, choice=label)) for label in ("shut", "recharge", "refit", "left_off")
        )
        assert shut <= recharge <= refit <= off, model


def test_a_rested_tank_gets_back_what_its_oil_gives():
    """Closed form of two volumes of air that share: the air space at ambient, and the oil at what it had taken up."""
    still = {
        "air.transfer_velocity": "4e-4 m/s",
        "air.rest_factor": 1.0,
        "air.tank_release_time": "1 h",
        "start.temperature": "55 degC",
        "weather.temperature": "55 degC",
        "surroundings.bay_offset": "0 K",
        "surroundings.stop_rise": "0 K",
        "surroundings.block_temperature": "55 degC",
        "start.headspace_pressure": "80 kPag",
        "duty.segment": [{"duration": "8 h", "engine_speed": "0 rpm"}],
        "duty.stop": [{"name": "rest", "after_lap": 1, "duration": "8 h", "engine": "off"}],
        "duty.sample_interval": "10 s",
    }
    found = compare_cap_opening(truck(still), open_for="5 s", choices=["refit"])
    start = found.sel(choice="shut").isel(time_since_stop=0)
    end = float(found.finish_gauge_pressure.sel(choice="refit"))
    ambient, soaked = float(start.ambient_pressure), float(start.dissolved_air_pressure)
    # Bunsen coefficient and density at 15 degC of the oil, as a volume of air at its temperature
    held = 0.09 * 328.15 / 273.15 * float(start.oil_mass) / 870.0
    gas = float(start.headspace_volume)
    shared = (ambient * gas + soaked * held) / (gas + held) - ambient
    assert soaked - ambient > 20e3
    # open for five seconds, and the oil gives its air away within twenty minutes
    assert end == pytest.approx(shared, rel=0.01)
    frozen = float(found.finish_gauge_pressure_by_air_model.sel(choice="refit", air_model="frozen"))
    assert 0.0 < frozen < 0.1 * shared  # the air that was left had grown cold by its expansion


def test_a_vented_tank_has_nothing_to_spend():
    found = compare_cap_opening(truck({**HOT, "cap.kind": "vented", "cap.relief_pressure": None}))
    assert json.loads(found.attrs["left_out"]) == {"recharge": "a vented cap holds no pressure"}
    feed = found.stint_feed_gauge_pressure
    assert abs(feed.sel(choice="refit") - feed.sel(choice="shut")) < 200.0


def test_a_cold_tank_loses_nothing():
    cold = {**HOT, "start.temperature": "20 degC", "duty.stop": [{"name": "pit", "after_lap": 0, "duration": "3 min"}]}
    found = compare_cap_opening(truck(cold))
    assert "no pressure" in json.loads(found.attrs["left_out"])["recharge"]
    assert found.cooling_time.values[:2].tolist() == [0.0, 0.0]
    feed = found.stint_feed_gauge_pressure
    assert abs(feed.sel(choice="refit") - feed.sel(choice="shut")) < 500.0


def test_what_the_scenario_does_there_is_a_choice_and_the_others_do_without_it(hot):
    planned = [
        {"action": "cap off", "stop": "pit", "after": "30 s"},
        {"action": "cap on", "stop": "pit", "after": "50 s"},
    ]
    found = compare_cap_opening(hot.replace({"event": planned}), choices=["as_planned", "refit"])
    assert found.choice.values.tolist() == ["shut", "refit", "as_planned"]
    assert found.opened.values == pytest.approx([np.nan, 0.0, 30.0], nan_ok=True, abs=1e-6)


def test_a_stop_can_be_asked_for_by_time(hot):
    assert compare_cap_opening(hot, stop="7 min", choices=[]).attrs["stop"] == "pit"
    found = compare_cap_opening(hot, stop="3 min", choices=["refit"])
    assert found.attrs["stop_time"] == pytest.approx(180.0)
    assert found.stop_duration.values == pytest.approx([300.0, 300.0], abs=1e-6)


@pytest.mark.parametrize(
    ("wanted", "text"),
    [
        ({"stop": "fule"}, "'fuel'"),
        ({"stop": "soon"}, "neither a stop nor a race time"),
        ({"choices": ["refitt"]}, "'refit'"),
        ({"open_for": "60"}, "pit.open_for"),
        ({"open_for": "10 h"}, "pit.open_for"),
        ({"choices": [{"name": "mine", "event": [{"action": "cap of", "after": "1 s"}]}]}, "cap off"),
    ],
)
def test_what_cannot_be_asked_is_said_with_what_can(hot, wanted, text):
    with pytest.raises(ScenarioError, match=text):
        compare_cap_opening(hot, **wanted)


def test_a_race_without_a_stop_needs_one(hot):
    with pytest.raises(ScenarioError, match=r"duty\.stop"):
        compare_cap_opening(hot.replace({"duty.stop": []}))
