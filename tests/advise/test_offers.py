"""What can be done at a stop follows from truck, state and wishes; what cannot says why."""

import pytest

from support import truck
from ullage.advise.choices import left_shut, planned_stop
from ullage.advise.offers import (
    ENGINE_OFF,
    IDLING,
    IDLING_THEN_OFF,
    Situation,
    offers,
    overnight_temperature,
    recharge_pressure,
    top_up_volume,
    ways_to_cool,
)
from ullage.results.trace import trace_until
from ullage.scenario.compile import compile_problem

RACE = {
    "duty.segment": [
        {"duration": "10 min", "vehicle_speed": "60 km/h", "engine_speed": "4000 rpm", "steering_load": "60 bar"}
    ],
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "start.temperature": "25 degC",
    "air.model": "frozen",
}


def situation(changes=None):
    scenario = truck({**RACE, **(changes or {})})
    stop = planned_stop(scenario, "pit")
    shut = scenario.replace(left_shut(scenario, stop))
    return Situation(scenario, shut, stop, trace_until(compile_problem(shut.spec), stop.start))


def offered(x):
    return {offer.label: offer for offer in offers(x, ways_to_cool(x))}


def test_recharge_brings_back_what_the_tank_had_but_stays_below_cap_and_ratings():
    x = situation()
    assert x.gauge_pressure > 8e4
    assert recharge_pressure(x) == min(x.gauge_pressure, 0.9 * x.asked.spec.cap.relief_pressure)
    weak = situation({"pump.seal_rating": "0.5 barg"})
    assert recharge_pressure(weak) == pytest.approx(0.9 * 5e4)
    assert recharge_pressure(situation({"pit.recharge_pressure": "40 kPag"})) == 4e4


def test_top_up_is_what_is_missing_and_a_quarter_litre_at_least():
    assert top_up_volume(situation()) == 0.25e-3
    lost = {"event": [{"action": "fault on", "fault": "lost oil", "time": "1 min", "volume": "0.6 L"}]}
    # measured at the start temperature of 25 degC, poured in at 20 degC
    assert top_up_volume(situation(lost)) == pytest.approx(0.6e-3, rel=5e-3)
    assert top_up_volume(situation({"pit.top_up_volume": "0.1 L"})) == pytest.approx(0.1e-3)


def test_a_truck_without_a_fan_idles_without_one():
    events = ways_to_cool(situation())[IDLING].stand.events
    assert events == ()
    fan = ways_to_cool(situation({"cooler.fan_air_speed": "3 m/s"}))[IDLING].stand.events
    assert [event["action"] for event in fan] == ["fan on"]


def test_where_idling_is_not_enough_the_engine_goes_off_once_the_oil_has_settled():
    x = situation({"pit.open_below": "45 degC", "weather.temperature": "35 degC"})
    ways = ways_to_cool(x)
    assert list(ways) == [IDLING, ENGINE_OFF, IDLING_THEN_OFF]
    assert ways[IDLING].time != ways[IDLING].time
    off = next(event for event in ways[IDLING_THEN_OFF].stand.events if event["action"] == "engine off")
    assert off["after"] == ways[IDLING].settled


def test_oil_that_never_cools_enough_is_never_opened():
    x = situation({"pit.open_below": "25 degC", "weather.temperature": "35 degC"})
    found = offered(x)
    for label in ("cool_then_open", "cool_then_open_engine_off"):
        assert found[label].scenario is None
        assert "longest wait" in found[label].reason


def test_night_cools_to_what_is_asked_or_to_the_morning_of_the_race():
    assert overnight_temperature(situation({"weather.temperature": "17 degC"}).asked.spec) == pytest.approx(290.15)
    asked = situation({"pit.overnight_temperature": "5 degC"}).asked.spec
    assert overnight_temperature(asked) == pytest.approx(278.15)


def test_own_choice_that_ends_with_the_cap_off_gives_up_later_work_on_it():
    later = {"event": [{"action": "cap off", "time": "18 min"}, {"action": "cap on", "time": "19 min"}]}
    own = {"pit.choice": [{"name": "forget it", "event": [{"action": "cap off", "after": "1 min"}]}]}
    changes = offered(situation({**later, **own}))["forget it"].changes
    assert [event["action"] for event in changes["event"]] == ["cap off"]
