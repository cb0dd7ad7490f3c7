import pytest

from support import truck
from ullage.scenario import describe_race
from ullage.scenario.describe_race import race_lines
from ullage.units import clock

WASH = {"name": "wash", "length": "6 km", "vehicle_speed": "36 km/h", "engine_speed": "3000 rpm"}
LOCK = {"name": "lock", "duration": "5 min", "vehicle_speed": "18 km/h", "engine_speed": "2000 rpm"}
LOCK["steering_load"] = "130 bar"
DRAWN = {**WASH, "vehicle_speed_spread": "6 km/h", "engine_speed_spread": "400 rpm"}
PIT = {"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}
WIDTH = 110


def lines(changes, units="metric"):
    return [*race_lines(truck(changes).spec, units)]


def row(name, changes, units="metric"):
    """Return the cells of a line of the table of segments."""
    found = [line.strip() for line in lines(changes, units) if line.startswith(f"  {name}")]
    assert len(found) == 1
    return found[0].removeprefix(name).split("  ")


def cells(name, changes, units="metric"):
    return [cell.strip() for cell in row(name, changes, units) if cell.strip()]


def test_constant_segments_show_what_was_written_and_no_spread():
    race = {"duty.segment": [WASH, LOCK], "duty.laps": 3}
    assert cells("wash", race) == ["3", "0:10:00", "6.00", "36", "3000", "0", "0", "0 %"]
    assert cells("lock", race) == ["3", "0:05:00", "1.50", "18", "2000", "130", "130", "100 %"]


def test_whole_lap_is_the_sum_of_its_times_and_lengths_and_the_mean_over_its_time():
    found = cells("whole lap", {"duty.segment": [WASH, LOCK], "duty.laps": 3})
    # 10 min at 36 and 5 min at 18 km/h: the spread of two values, one of them twice as long, is sqrt(2)/3 of their gap
    assert found[:4] == ["3", "0:15:00", "7.50", "30 +- 8"]
    assert found[4:] == ["2667 +- 471", "43 +- 61", "130", "33 %"]


def test_us_units_are_those_of_the_trade():
    race = {"duty.segment": [WASH, LOCK]}
    assert cells("lock", race, "us")[2:] == ["0.93", "11", "2000", "1885", "1885", "100 %"]
    assert any("mile" in line and "mph" in line and "psi" in line for line in lines(race, "us"))


def test_one_segment_needs_no_line_for_the_lap():
    assert [line for line in lines({"duty.segment": [WASH]}) if "whole lap" in line] == []


def test_columns_stand_below_each_other_within_the_width_of_a_screen():
    long = {**DRAWN, "name": "a very long name of a stretch that nobody could call by it", "steering_load": "250 bar"}
    fast = {**WASH, "length": "500 km", "vehicle_speed": "250 km/h", "engine_speed": "10000 rpm"}
    race = {"duty.seed": 1, "duty.laps": 20, "duty.segment": [long, fast]}
    for units in ("metric", "us"):
        table = [line for line in lines(race, units) if line.endswith((" %", "over", "relief"))]
        assert len({len(line) for line in table}) == 1
        assert len(table[0]) <= WIDTH


def test_a_table_of_many_segments_is_cut_and_says_how_many_are_left_out():
    found = lines({"duty.segment": [{**WASH, "name": f"stretch {number}"} for number in range(18)]})
    assert len([line for line in found if line.startswith("  stretch")]) == 15
    assert found[-1] == "  and 3 more segments: --out DIR writes them all"
    assert not [line for line in lines({"duty.segment": [WASH] * 15}) if "more segments" in line]


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("a name of twenty....", "a name of twenty...."),
        ("a name of twenty-one.", "a name of twenty-..."),
        ("no\u200bwidth", "no\\u200bwidth"),
        ("", "segment 1"),
        ("Düne", "Düne"),
    ],
)
def test_names_are_cut_and_safe_to_print(name, shown):
    assert cells(shown, {"duty.segment": [{**WASH, "name": name}, LOCK]})[0] == "1"


def test_laps_that_differ_get_a_line_of_their_times(monkeypatch):
    race = {"duty.segment": [WASH, LOCK], "duty.laps": 3, "duty.stop": [PIT]}
    assert [line for line in lines(race) if line.startswith("  lap times")] == []
    spec = truck(race).spec
    found = describe_race.race_statistics(spec)
    slow = found._replace(laps={**found.laps, 2: found.laps[2]._replace(time=960.0)})
    monkeypatch.setattr(describe_race, "race_statistics", lambda _: slow)
    mean = clock(found.race.time / 3.0)
    words = f"  lap times  0:15:00 (lap 1) to 0:16:00 (lap 2), {mean} on average, stops left out"
    assert words in [*race_lines(spec, "metric")]


def test_climb_and_standing_time_are_told_where_there_are_any():
    hill = [{**WASH, "elevation": "120 m"}, {**LOCK, "elevation": "0 m"}]
    found = lines({"duty.segment": hill, "duty.laps": 2, "duty.stop": [PIT]})
    assert "  climb      240 m up and 240 m down in the whole race" in found
    assert "  stands     0:00:00 with the engine on, 0:05:00 with it off" in found
    flat = lines({"duty.segment": [WASH, LOCK]})
    assert [line for line in flat if line.startswith(("  climb", "  stands"))] == []
