import itertools

import pytest

from support import truck
from ullage.duty.profile import LockHolds
from ullage.scenario.describe import describe, scenario_facts
from ullage.scenario.describe_race import race_lines
from ullage.scenario.plan_lines import MOST_LINES, plan_lines, plan_sentences
from ullage.scenario.race import lap_start, race_pieces
from ullage.units import clock

STEADY = {"duration": "10 min", "vehicle_speed": "36 km/h", "engine_speed": "3000 rpm"}
WASH = {**STEADY, "name": "wash"}
CREEK = {**STEADY, "name": "creek", "duration": "30 s", "water_temperature": "16 degC"}
MUD = {**STEADY, "name": "mud hole", "duration": "1 min", "mud": 0.35}
ROCK = {**STEADY, "name": "rock", "lock_holds": 6, "lock_hold": "3 s"}
PIT = {"name": "pit", "after_lap": 1, "duration": "5 min"}
WASHING = {**PIT, "cooler_washed": True}
WIDTH = 110


def said(changes, units="metric"):
    return [*plan_sentences(truck(changes).spec, units)]


def test_a_plan_of_nothing_but_means_and_spreads_has_no_lines():
    drawn = {**WASH, "vehicle_speed_spread": "6 km/h"}
    race = {"duty.segment": [WASH, drawn], "duty.laps": 3, "duty.seed": 1, "duty.stop": [WASHING]}
    weather = [{"time": "0 s", "temperature": "20 degC"}]
    assert said(race | {"weather.point": weather}) == []
    assert "  plan" not in describe(truck(race), "metric")


def test_a_crossing_tells_its_water_and_how_much_more_heat_parts_give_off():
    race = {"duty.segment": [WASH, CREEK], "surroundings.wet_factor": 7}
    words = "tank, pump and gear give off 7 times as much heat"
    assert said(race) == [f"creek: water at 16 degC, {words}"]
    assert said(race, "us") == [f"creek: water at 60.8 degF, {words}"]


@pytest.mark.parametrize(
    ("stops", "where"),
    [
        ([], "never washed"),
        ([PIT], "never washed"),
        ([WASHING], "washed at pit"),
        ([{**WASHING, "after_lap": 0}], "never washed"),  # before there is any mud
        ([WASHING, {**WASHING, "name": "camp", "after_lap": 2}], "washed at pit and 1 more"),
        # the truck stands in the middle of the mud hole: what covers the cooler is not there yet
        ([{"name": "hose", "time": "630 s", "duration": "1 min", "cooler_washed": True}], "never washed"),
    ],
)
def test_mud_is_washed_at_the_stops_that_wash_after_it_is_there(stops, where):
    laps = 1 if any("time" in stop for stop in stops) else 2
    found = said({"duty.segment": [WASH, MUD], "duty.laps": laps, "duty.stop": stops})
    assert found == [f"mud hole: 35 % of the cooler's core covered when it is done, {where}"]


def test_load_of_a_lock_hold_is_the_one_that_is_driven():
    for given in ({}, {"duty.full_lock_load": "90 bar"}):
        spec = truck({"duty.segment": [ROCK], "duty.seed": 1, "pump.relief_pressure": "100 bar", **given}).spec
        holds = race_pieces(spec)[0][0].stretch.lock_holds
        assert isinstance(holds, LockHolds)
        words = f"rock: wheel held on the lock 6 times in a lap, 3 s on average, at {holds.load / 1e5:.0f} bar"
        assert [*plan_sentences(spec, "metric")] == [words]
    assert "held on the lock once in a lap" in said({"duty.segment": [{**ROCK, "lock_holds": 1}], "duty.seed": 1})[0]


def test_laps_are_told_of_segments_and_changes_of_some_laps_only():
    segments = [{**STEADY, "name": "wait", "last_lap": 1}, WASH, {**STEADY, "first_lap": 2}, {**WASH, "last_lap": 3}]
    changes = [
        {"segment": "wait", "vehicle_speed_factor": 0.8},
        {"first_lap": 3, "last_lap": 3, "vehicle_speed_factor": 0.9, "steering_load_factor": 1.25},
        {"first_lap": 2, "engine_speed_factor": 1.1},
    ]
    assert said({"duty.segment": segments, "duty.laps": 3, "duty.change": changes}) == [
        "wait: in lap 1 only",
        "segment 3: in laps 2 to 3 only",
        "wait, laps 1 to 3: vehicle speed x 0.8",
        "all segments, lap 3: vehicle speed x 0.9, steering load x 1.25",
        "all segments, laps 2 to 3: engine speed x 1.1",
    ]


def test_drawn_durations_are_those_of_the_race():
    wait = {"name": "wait", "duration": "4 min", "duration_spread": "1 min", "engine_speed": "900 rpm"}
    stop = {**PIT, "duration_spread": "1 min"}
    spec = truck({"duty.segment": [wait, WASH], "duty.laps": 4, "duty.seed": 3, "duty.stop": [stop]}).spec
    pieces, stops = race_pieces(spec)
    waits = [piece.end - piece.start for piece in pieces if piece.stretch.place == 0]
    assert max(waits) - min(waits) > 10.0
    shortest, longest, pit = (clock(time) for time in (min(waits), max(waits), stops[0].end - stops[0].start))
    assert [*plan_sentences(spec, "metric")] == [
        f"wait: lasts {shortest} to {longest}, drawn about 0:04:00 with a spread of 0:01:00",
        f"pit: lasts {pit}, drawn about 0:05:00 with a spread of 0:01:00",
    ]


def test_weather_by_lap_is_told_with_the_race_time_at_which_the_lap_begins():
    points = [{"time": "0 s", "temperature": "20 degC"}, {"lap": 2, "temperature": "35 degC"}]
    spec = truck({"duty.laps": 2, "duty.stop": [PIT], "weather.point": points}).spec
    assert lap_start(spec, 2) == 900.0
    assert [*plan_sentences(spec, "metric")] == ["weather: 35 degC at 0:15:00, as lap 2 begins"]
    assert [*plan_sentences(spec, "us")] == ["weather: 95 degF at 0:15:00, as lap 2 begins"]


def test_gears_are_told_by_their_speed_at_one_engine_speed_and_where_they_are_changed():
    gears = [{"vehicle_speed": f"{speed} km/h", "engine_speed": "5000 rpm"} for speed in (40, 80)]
    shifted = {"name": "by gear", "duration": "5 min", "vehicle_speed": "50 km/h"}
    shifted |= {"engine_speed_low": "2000 rpm", "engine_speed_high": "4500 rpm"}
    race = {"duty.gear": gears, "duty.segment": [shifted, WASH]}
    changed = "by gear: gears go up at 4500 rpm and down at 2000 rpm"
    assert said(race) == ["gears: 8, 16 km/h at 1000 rpm", changed]
    assert said(race, "us") == ["gears: 4.97, 9.94 mph at 1000 rpm", changed]


def test_very_many_lines_are_cut_and_counted_and_json_has_them_all():
    creeks = [{**CREEK, "name": f"creek {number}"} for number in range(MOST_LINES + 3)]
    for count in (MOST_LINES, MOST_LINES + 3):
        scenario = truck({"duty.segment": creeks[:count]})
        shown = [*plan_lines(scenario.spec, "metric")]
        assert shown[0].startswith("  plan       creek 0: ")
        assert all(line[:13].isspace() and line[13] != " " for line in shown[1:])
        assert len(shown) == min(count, MOST_LINES + 1)
        assert ("and 3 more such lines" in shown[-1]) == (count > MOST_LINES)
        assert scenario_facts(scenario)["duty"]["plan"] == [*plan_sentences(scenario.spec, "metric")]
        assert len(scenario_facts(scenario)["duty"]["plan"]) == count


@pytest.mark.parametrize("units", ["metric", "us"])
def test_lines_keep_to_the_width_of_a_screen_and_names_are_safe_to_print(units):
    name = "a very long name of a stretch\u200b that nobody could call by it"
    full = {**CREEK, **ROCK, "name": name, "mud": 0.95, "duration": "20 h", "duration_spread": "4 h", "first_lap": 2}
    factors = dict.fromkeys(("vehicle_speed_factor", "engine_speed_factor", "steering_load_factor"), 0.12345)
    stops = [{**WASHING, "name": f"{number} {name}", "after_lap": 2} for number in range(3)]
    race = {"duty.segment": [WASH, full], "duty.laps": 2, "duty.stop": stops, "duty.seed": 1}
    race["duty.change"] = [{"segment": name, "first_lap": 2, **factors}]
    found = [*itertools.takewhile(lambda line: "  stop " not in line, race_lines(truck(race).spec, units))]
    found = found[next(at for at, line in enumerate(found) if line.startswith("  plan")) :]
    assert len(found) == 8  # six sentences, two of them in two lines
    assert max(map(len, found)) <= WIDTH
    assert all(line.isprintable() for line in found)
