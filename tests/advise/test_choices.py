"""A choice changes the stop and nothing else: events there, how the truck stands, and the clock after it."""

import pytest

from support import truck
from ullage.advise.choices import (
    Stand,
    cooled_then_opened,
    left_off,
    left_shut,
    planned_stop,
    recharged,
    refitted,
    switched_off,
    topped_up,
    waiting,
    with_stand,
)
from ullage.scenario.circuit import weather_of

RACE = {
    "duty.laps": 2,
    "duty.stop": [{"name": "pit", "after_lap": 1, "duration": "3 min"}],
    "event": [
        {"action": "fault on", "fault": "blocked cooler", "time": "2 min"},
        {"action": "cap off", "stop": "pit", "after": "10 s"},
        {"action": "engine off", "time": "630 s"},
        {"action": "top-up", "time": "620 s", "volume": "0.3 L"},
        {"action": "engine on", "time": "650 s"},
        {"action": "cap on", "stop": "pit", "after": "1 min"},
        {"action": "fault on", "fault": "seal leak", "time": "20 min"},
    ],
}


@pytest.fixture(scope="module")
def planned():
    return truck(RACE)


@pytest.fixture(scope="module")
def stop(planned):
    return planned_stop(planned, "pit")


@pytest.fixture(scope="module")
def shut(planned, stop):
    return planned.replace(left_shut(planned, stop))


def actions(changes):
    return [event["action"] for event in changes["event"]]


def test_stop_is_found_with_its_times(stop):
    assert (stop.start, stop.end, stop.duration, stop.place) == (600.0, 780.0, 180.0, 0)


def test_left_shut_keeps_all_but_what_is_done_at_the_cap_there(planned, stop):
    assert actions(left_shut(planned, stop)) == ["fault on", "engine off", "engine on", "fault on"]


def test_cap_work_at_another_stop_stays(planned):
    two = planned.replace(
        {"duty.stop": [*planned.to_dict()["duty"]["stop"], {"name": "end", "after_lap": 2, "duration": "1 min"}]}
    )
    assert left_shut(two, planned_stop(two, "end"))["event"] == two.to_dict()["event"]


def test_a_choice_as_long_as_planned_leaves_the_clock_alone(shut, stop):
    changes = with_stand(shut, stop, refitted(180.0, 60.0))
    assert "duty.stop.0.duration" not in changes
    assert [event.get("time") for event in changes["event"]] == [
        *(event.get("time") for event in shut.to_dict()["event"]),
        None,
        None,
    ]


def test_a_longer_stop_moves_what_comes_after_it_by_the_clock_and_nothing_before(shut, stop):
    late = shut.replace(with_stand(shut, stop, refitted(180.0, 200.0)))
    assert [event.time for event in late.spec.event[:4]] == pytest.approx([120.0, 630.0, 650.0, 1220.0])
    assert planned_stop(late, "pit").duration == pytest.approx(200.0)


def test_a_shorter_stop_moves_it_forward(shut, stop):
    early = shut.replace(with_stand(shut, stop, Stand(duration=120.0)))
    assert early.spec.event[3].time == pytest.approx(1140.0)


def test_waiting_with_another_engine_does_without_the_planned_switches(shut, stop):
    changes = with_stand(shut, stop, cooled_then_opened(waiting("off", None, fan=False), 180.0, 300.0, 60.0))
    assert actions(changes) == ["fault on", "fault on", "cap off", "cap on"]
    assert changes["duty.stop.0.engine"] == "off"
    assert changes["duty.stop.0.duration"] == 360.0


def test_fan_and_engine_go_back_as_the_truck_drives_on():
    wait = switched_off(waiting("on", 90.0, fan=True), 240.0)
    stand = cooled_then_opened(wait, 180.0, 300.0, 60.0)
    found = [(event["action"], event["after"]) for event in stand.events]
    assert found == [
        ("fan on", 0.0),
        ("engine off", 240.0),
        ("cap off", 300.0),
        ("cap on", 360.0),
        ("fan auto", 360.0),
        ("engine on", 360.0),
    ]


def test_left_off_gives_up_every_later_touch_of_the_cap(planned, stop):
    later = planned.replace(
        {
            "event": [
                {"action": "cap off", "time": "15 min"},
                {"action": "cap on", "time": "16 min"},
                {"action": "engine off", "time": "17 min"},
            ]
        }
    )
    assert actions(with_stand(later, stop, left_off())) == ["engine off", "cap off"]


@pytest.mark.parametrize(
    "stand", [refitted(180.0, 60.0), topped_up(180.0, 10.0, 3e-4), recharged(180.0, 60.0, 3e4), left_off()]
)
def test_every_choice_passes_all_checks(shut, stop, stand):
    assert len(shut.replace(with_stand(shut, stop, stand)).spec.event) == len(shut.spec.event) + len(stand.events)


def test_recharge_waits_for_the_cap_and_its_pressure_is_over_ambient(shut, stop):
    spec = shut.replace(with_stand(shut, stop, recharged(180.0, 60.0, 3e4))).spec
    charge = spec.event[-1]
    assert (charge.action, charge.after, charge.pressure) == ("recharge", 60.0, (3e4, True))


def test_pouring_ends_before_the_cap_goes_on():
    pour = topped_up(180.0, 10.0, 3e-4).events[-1]
    assert pour["after"] + pour["duration"] <= 10.0


def test_what_only_undoes_planned_work_at_the_stop_goes_with_it(planned):
    later = planned.replace(
        {
            "event": [
                {"action": "cap off", "stop": "pit", "after": "1 min"},
                {"action": "engine off", "stop": "pit", "after": "2 min"},
                {"action": "top-up", "time": "14 min", "volume": "0.2 L"},
                {"action": "cap on", "time": "15 min"},
                {"action": "engine on", "time": "16 min"},
                {"action": "cap off", "time": "17 min"},
            ]
        }
    )
    stop = planned_stop(later, "pit")
    shut = later.replace(left_shut(later, stop))
    assert [event.action for event in shut.spec.event] == ["engine off", "engine on", "cap off"]
    waited = with_stand(shut, stop, cooled_then_opened(waiting("on", 90.0, fan=False), 180.0, 60.0, 60.0))
    assert actions(waited) == ["cap off", "cap off", "cap on"]
    assert len(shut.replace(waited).spec.event) == 3


def test_later_stops_by_time_wait_as_well(planned):
    stops = [
        {"name": "pit", "after_lap": 1, "duration": "3 min"},
        {"name": "late", "time": "18 min", "duration": "60 s"},
    ]
    race = planned.replace({"duty.stop": stops, "event": []})
    stop = planned_stop(race, "pit")
    longer = race.replace(with_stand(race, stop, refitted(180.0, 400.0)))
    assert planned_stop(longer, "late").start == pytest.approx(1080.0 + 220.0)


def test_choice_of_a_duration_is_that_duration_though_the_stop_has_a_spread():
    drawn = truck({**RACE, "duty.seed": 3, "duty.stop.0.duration_spread": "30 s"})
    stop = planned_stop(drawn, "pit")
    assert stop.duration == pytest.approx(stop.end - stop.start, rel=1e-9)  # differences of race times
    assert stop.duration != 180.0
    chosen = drawn.replace(with_stand(drawn, stop, Stand(duration=200.0)))
    assert planned_stop(chosen, "pit").duration == 200.0
    as_planned = drawn.replace(with_stand(drawn, stop, Stand()))
    assert planned_stop(as_planned, "pit").duration == stop.duration


def test_weather_by_laps_does_not_wait_for_a_longer_stop():
    points = [{"lap": 1, "temperature": "20 degC"}, {"lap": 2, "temperature": "35 degC"}]
    hot = truck({**RACE, "weather.point": points})
    longer = hot.replace(with_stand(hot, planned_stop(hot, "pit"), Stand(duration=300.0)))
    assert weather_of(longer.spec) == weather_of(hot.spec)
