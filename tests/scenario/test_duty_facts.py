import json

import pytest

from support import truck
from ullage.scenario.duty_facts import RECORDED, duty_facts, race_statistics, segment_names
from ullage.units import factor

RPM = factor("rpm", "rad/s")
SLOW = {"name": "wash", "duration": "10 min", "vehicle_speed": "36 km/h", "engine_speed": "3000 rpm"}
FAST = {**SLOW, "name": "", "vehicle_speed": "72 km/h", "steering_load": "130 bar"}
PIT = {"name": "pit", "after_lap": 1, "duration": "5 min"}


def recorded(folder):
    file = folder / "lap.csv"
    file.write_text("t,rpm\n0,3000\n60,3000\n", encoding="utf-8")
    columns = {"time": {"column": "t", "unit": "s"}, "engine_speed": {"column": "rpm", "unit": "rpm"}}
    return truck({"duty": {"laps": 3, "recording": {"file": str(file), **columns}}})


def test_segments_stand_in_the_order_of_the_lap_with_their_names_or_numbers():
    facts = duty_facts(truck({"duty.segment": [SLOW, FAST, SLOW], "duty.laps": 2}).spec)
    assert [(each["name"], each["laps"]) for each in facts["segments"]] == [("wash", 2), ("segment 2", 2), ("wash", 2)]
    assert [each["lap"] for each in facts["laps"]] == [1, 2]


def test_facts_are_si_and_plain_json():
    facts = duty_facts(truck({"duty.segment": [SLOW, FAST]}).spec)
    assert json.loads(json.dumps(facts, allow_nan=False)) == facts
    assert facts["segments"][0]["vehicle_speed"]["mean"] == pytest.approx(10.0)
    assert facts["segments"][0]["engine_speed"]["highest"] == pytest.approx(3000.0 * RPM)
    assert facts["race"]["distance"] == pytest.approx(600.0 * 10.0 + 600.0 * 20.0)


def test_load_is_held_against_the_relief_setting_of_the_pump():
    race = {"duty.segment": [SLOW, FAST]}
    assert race_statistics(truck(race).spec).race.over_relief == pytest.approx(0.5)  # 130 bar against 110 bar
    assert race_statistics(truck({**race, "pump.relief_pressure": "140 bar"}).spec).race.over_relief == 0.0


def test_a_recording_is_one_segment_of_its_own_name(tmp_path):
    spec = recorded(tmp_path).spec
    found = race_statistics(spec)
    assert segment_names(spec, found) == {0: RECORDED}
    assert (found.segments[0].laps, found.segments[0].time) == (3, pytest.approx(180.0))


def test_engine_that_is_switched_off_at_a_stop_stands_off():
    events = [{"action": "engine off", "stop": "pit", "after": "1 min"}]
    facts = duty_facts(truck({"duty.stop": [PIT], "event": events}).spec)
    assert (facts["standing_engine_on"], facts["standing_engine_off"]) == pytest.approx((60.0, 240.0))
