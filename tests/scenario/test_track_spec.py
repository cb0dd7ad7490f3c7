import datetime
import json
import subprocess
import sys

import numpy as np
import pytest

from support import TRUCK
from track_points import straight
from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.kernel.params import CHANNEL_INDEX
from ullage.physics.atmosphere import pressure
from ullage.scenario.compile import compile_problem
from ullage.scenario.describe import describe
from ullage.scenario.load import Scenario
from ullage.scenario.race import race_pieces
from ullage.study.load import load_study

SEGMENT = {"length": "3 km", "vehicle_speed": "36 km/h", "engine_speed": "3000 rpm", "steering_load": "20 bar"}
UNPACED = {key: value for key, value in SEGMENT.items() if key != "vehicle_speed"}
COLUMNS = {"time": {"column": "t", "unit": "s"}, "engine_speed": {"column": "rpm", "unit": "rpm"}}
SPEED = {"vehicle_speed": {"column": "v", "unit": "m/s"}}
LOG = "t,rpm,v,m\n" + "".join(f"{t},3000,15.0,5\n" for t in range(101))


def climb(way):
    """Return heights of an even climb."""
    return 600.0 + 0.05 * way


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Return a folder with a track of 3 km in 200 s and a recording of 100 s; it is the current one."""
    (tmp_path / "lap.gpx").write_text(straight(elevation=climb))
    (tmp_path / "log.csv").write_text(LOG)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def tracked(segment=(SEGMENT,), recording=None, laps=1, **track):
    """Return the test truck on a track."""
    duty = {"laps": laps, "segment": list(segment), "track": {"file": "lap.gpx", **track}}
    if recording is not None:
        duty = {"laps": laps, "track": duty["track"], "recording": {"file": "log.csv", **COLUMNS, **recording}}
    return Scenario.from_dict({**TRUCK, "start": {"elevation": "600 m"}, "duty": duty})


def faults_of(call, *values, **named):
    """Return the faults that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call(*values, **named)
    return [(fault.key, fault.text) for fault in caught.value.faults]


def test_elevation_of_the_track_becomes_ambient_pressure_in_the_race():
    data = simulate(tracked())
    assert float(data.time[-1]) == pytest.approx(300.0, abs=1e-4)  # at its own speed; degrees have nine digits
    assert float(data.distance[-1]) == pytest.approx(3000.0, abs=1e-3)
    inside = slice(20, -20)  # the mean is over 100 m, twice, and bends at the ends
    height = climb(data.distance.values)[inside]
    assert data.elevation.values[inside] == pytest.approx(height, abs=0.01)
    wanted = [pressure(float(each)) for each in height]
    assert data.ambient_pressure.values[inside] == pytest.approx(wanted, abs=0.15)  # 12 Pa a metre
    assert data.attrs["energy_balance"] < 1e-6


def test_lap_driven_by_the_track_ends_after_its_length_and_its_time():
    scenario = tracked([UNPACED], speed="track", laps=2)
    data, speed = simulate(scenario), CHANNEL_INDEX["vehicle_speed"]
    assert float(data.time[-1]) == pytest.approx(400.0, abs=1e-6)
    assert float(data.distance[-1]) == pytest.approx(6000.0, abs=2e-3)
    assert compile_problem(scenario.spec).table.channels[:, speed] == pytest.approx(15.0, abs=1e-3)


def test_segment_may_leave_its_speed_to_the_track_only_if_that_says_it():
    ((key, text),) = faults_of(tracked, [UNPACED])
    assert key == "duty.segment.0.vehicle_speed"
    assert "a length needs a speed" in text


def test_recording_joined_by_time_takes_height_and_speed_of_the_track():
    problem = compile_problem(tracked(recording={}, join="time", offset="50 s").spec)
    assert problem.table.elevation == pytest.approx(climb(15.0 * (50.0 + problem.table.output_time)), abs=0.05)
    assert problem.table.channels[:, CHANNEL_INDEX["vehicle_speed"]] == pytest.approx(15.0, abs=1e-3)


def test_recording_joined_by_distance_takes_height_at_its_way():
    problem = compile_problem(tracked(recording=SPEED, begin="600 m", end="2.1 km").spec)
    inside = problem.table.output_time[10:-10]
    assert problem.table.elevation[10:-10] == pytest.approx(climb(600.0 + 15.0 * inside), abs=0.01)


def test_offset_follows_from_the_dates_of_both_files(folder):
    ((key, text),) = faults_of(tracked, recording={}, join="time")
    assert key == "duty.track.offset"
    assert text.startswith("missing: say at which track time")
    begun = tracked().spec.duty.track.course.begins_at + 40.0
    clocks = [datetime.datetime.fromtimestamp(begun + second, datetime.UTC).isoformat() for second in range(101)]
    (folder / "log.csv").write_text("t,rpm\n" + "".join(f"{clock},3000\n" for clock in clocks))
    scenario = tracked(recording={"time": {"column": "t"}}, join="time")
    assert race_pieces(scenario.spec)[0][0].profile.elevation[0] == pytest.approx(climb(600.0), abs=0.05)
    assert "begins at 0:00:40 of the track, by the dates of both files" in describe(scenario, "metric")


@pytest.mark.parametrize("track", [{"speed": "track"}, {}], ids=["at its speed", "scaled to it"])
def test_lock_holds_fit_into_the_time_that_a_segment_has_on_the_track(track):
    # 200 s by the track, 300 s by the plan
    held = {**SEGMENT, "lock_holds": 5, "lock_hold": "45 s"}
    duty = {"seed": 1, "segment": [held], "track": {"file": "lap.gpx", **track}}
    ((key, text),) = faults_of(Scenario.from_dict, {**TRUCK, "start": {"elevation": "600 m"}, "duty": duty})
    assert key == "duty.segment.0.lock_holds"
    assert "holds can take 0:05:38 in all" in text


GEARS = [
    {"vehicle_speed": "40 km/h", "engine_speed": "5000 rpm"},
    {"vehicle_speed": "80 km/h", "engine_speed": "5000 rpm"},
]
BAND = {"engine_speed_low": "2000 rpm", "engine_speed_high": "5500 rpm"}


def test_gears_are_taken_at_the_speed_of_the_track():
    free = {key: value for key, value in UNPACED.items() if key != "engine_speed"}
    duty = {"seed": 1, "gear": GEARS, "segment": [{**free, **BAND}], "track": {"file": "lap.gpx", "speed": "track"}}
    scenario = Scenario.from_dict({**TRUCK, "start": {"elevation": "600 m"}, "duty": duty})
    engine = compile_problem(scenario.spec).table.channels[:, CHANNEL_INDEX["engine_speed"]]
    # 15 m/s are 54 km/h: too fast for the first gear, 3375 rpm in the second
    assert engine == pytest.approx(54.0 / 80.0 * 5000.0 * np.pi / 30.0, rel=1e-4)  # the track's speed is that good


def test_engine_that_gears_turn_too_fast_on_the_track_is_a_fault():
    free = {key: value for key, value in UNPACED.items() if key != "engine_speed"}
    short = [{"vehicle_speed": "20 km/h", "engine_speed": "6000 rpm"}]
    duty = {"seed": 1, "gear": short, "segment": [{**free, **BAND}], "track": {"file": "lap.gpx", "speed": "track"}}
    ((key, text),) = faults_of(Scenario.from_dict, {**TRUCK, "start": {"elevation": "600 m"}, "duty": duty})
    assert key == "duty.track.speed"
    assert "lets engine_speed reach 162" in text  # 54 km/h over 20 km/h, times 6000 rpm


@pytest.mark.parametrize(
    ("segment", "more", "key", "words"),
    [
        (
            {**UNPACED, "vehicle_speed_low": "30 km/h", "vehicle_speed_high": "40 km/h"},
            {},
            "vehicle_speed_low",
            "gives the",
        ),
        (
            {**SEGMENT, "length": None, "duration": "5 min", "duration_spread": "1 min"},
            {},
            "duration_spread",
            "how far",
        ),
        (UNPACED, {"change": [{"vehicle_speed_factor": 0.9}]}, "vehicle_speed_factor", "the track gives the speed"),
    ],
)
def test_what_the_track_says_is_not_said_twice(segment, more, key, words):
    segment = {name: value for name, value in segment.items() if value is not None}
    duty = {"seed": 1, "segment": [segment], "track": {"file": "lap.gpx", "speed": "track"}, **more}
    found = faults_of(Scenario.from_dict, {**TRUCK, "start": {"elevation": "600 m"}, "duty": duty})
    assert any(place.endswith(key) and words in text for place, text in found)


def untimed(folder):
    """Take the times out of the track."""
    path = folder / "lap.gpx"
    path.write_text("".join(part.partition("</time>")[2] or part for part in path.read_text().split("<time>")))


WRONG = {
    "alone": ({"segment": []}, "duty.track", "add [[duty.segment]], or [duty.recording]"),
    "elevation": (
        {"segment": [SEGMENT | {"elevation": "5 m"}]},
        "duty.segment.0.elevation",
        "the track gives the elevation",
    ),
    "two laps": (
        {"segment": [SEGMENT, SEGMENT], "speed": "track"},
        "duty.track",
        "is 3 km (1.864 miles) long, but lap 1 goes 6 km",
    ),
    "recorded elevation": (
        {"recording": {**SPEED, "elevation": {"column": "m", "unit": "m"}}, "end": "1.5 km"},
        "duty.recording.elevation",
        "the track gives the elevation",
    ),
    "no way": ({"recording": {}}, "duty.track.join", "'distance' needs the vehicle_speed of the recording"),
    "two speeds": (
        {"recording": SPEED, "speed": "track", "end": "1.5 km"},
        "duty.track.speed",
        "the recording has a vehicle_speed",
    ),
    "segments by time": ({"join": "time"}, "duty.track.join", "segments are joined by 'distance'"),
    "idle offset": ({"offset": "1 s"}, "duty.track.offset", "only where a recording is joined by 'time'"),
    "other lap": ({"end": "2.5 km"}, "duty.track", "more than 10 % off: cut the track to one lap"),
    "not covered": (
        {"recording": {}, "join": "time", "offset": "150 s"},
        "duty.track",
        "lasts from 0:02:30 to 0:04:10 of the track, which ends at 0:03:20",
    ),
    "too early": ({"recording": {}, "join": "time", "offset": "-3 s"}, "duty.track", "lasts from -0:00:03 to"),
    "cut twice": ({"begin": "1 m", "end_time": "9 s"}, "duty.track", "cut by distance and by time"),
}


@pytest.mark.parametrize("name", WRONG)
def test_track_and_lap_that_do_not_go_together_are_one_fault(name):
    values, key, text = WRONG[name]
    ((found, said),) = faults_of(tracked, **values)
    assert found == key
    assert text in said


def test_speed_of_the_track_leaves_no_spread_to_a_segment():
    duty = {"seed": 1, "segment": [SEGMENT | {"vehicle_speed_spread": "1 m/s"}]}
    data = {**TRUCK, "duty": {**duty, "track": {"file": "lap.gpx", "speed": "track"}}}
    ((key, text),) = faults_of(Scenario.from_dict, data)
    assert key == "duty.segment.0.vehicle_speed_spread"
    assert "the track gives the speed" in text


@pytest.mark.parametrize("values", [{"speed": "track"}, {"recording": {}, "join": "time", "offset": "0 s"}])
def test_track_without_times_cannot_say_what_needs_them(folder, values):
    untimed(folder)
    ((key, text),) = faults_of(tracked, **values)
    assert key in ("duty.track.speed", "duty.track.join")
    assert "this file has none" in text


def test_more_rows_than_a_race_may_have_are_a_fault(folder):
    untimed(folder)  # knots of 1 m, 3000 a lap
    ((key, text),) = faults_of(tracked, laps=400, smoothing="5 m")
    assert key == "duty.laps"
    assert "more than 1000000 rows of the track" in text


def test_lap_within_a_tenth_is_scaled_and_told():
    scenario = tracked([SEGMENT | {"length": "2.8 km"}])
    pieces = race_pieces(scenario.spec)[0]
    assert pieces[-1].end == pytest.approx(300.0, abs=1e-3)
    assert "the lap goes 2.8 km (1.74 miles): it is scaled to the track, by +7.1 %" in describe(scenario, "metric")


@pytest.mark.parametrize("units", ["metric", "us"])
def test_check_says_what_the_track_is_and_what_was_mended(folder, units):
    path = folder / "lap.gpx"
    path.write_text(path.read_text().replace("<ele>675.000</ele>", ""))
    text = describe(tracked(laps=2), units)
    length = "3 km" if units == "metric" else "1.864 miles"
    assert f"track      lap.gpx: 201 points, {length}, 0:03:20, " in text
    assert "1 elevation missing or impossible: filled evenly from those around" in text
    assert "elevation is its mean over 100 m, taken twice: climbs" in text
    assert "off its start: elevation jumps from lap to lap" in text


def test_hash_and_race_follow_the_bytes_of_the_track(folder):
    first, path = tracked(), folder / "lap.gpx"
    path.write_text(path.read_text() + "\n")
    other = tracked()
    assert first.hash != other.hash
    assert first.spec.duty != other.spec.duty
    path.write_text(straight(elevation=lambda way: climb(way) + 100.0))
    higher = race_pieces(tracked().spec)[0][0].profile.elevation
    assert higher - race_pieces(first.spec)[0][0].profile.elevation == pytest.approx(100.0, abs=0.01)


def test_scenario_with_a_track_is_written_and_read_again():
    scenario = tracked([UNPACED], speed="track", begin="10 m")
    again = Scenario.from_toml(scenario.to_toml())
    assert again.hash == scenario.hash
    changed = again.replace({"duty.track.smoothing": "50 m"})
    assert changed.spec.duty.track.smoothing == 50.0
    assert changed.spec.duty != scenario.spec.duty


def test_study_over_tracks_knows_their_bytes(folder):
    (folder / "other.gpx").write_text(straight(elevation=lambda way: 900.0 + 0.0 * way))
    (folder / "truck.toml").write_text(tracked().to_toml())
    head = 'format = 1\ntitle = "two grounds (invented data)"\nscenario = "truck.toml"\n'
    axis = '[[axis]]\nkey = "duty.track.file"\nvalues = ["lap.gpx", "other.gpx"]\n'
    (folder / "study.toml").write_text(head + axis)
    first = load_study(folder / "study.toml").hash
    (folder / "other.gpx").write_text(straight(elevation=lambda way: 901.0 + 0.0 * way))
    assert load_study(folder / "study.toml").hash != first


def test_faults_of_the_file_come_with_line_and_column_and_hide_no_others(folder):
    path = folder / "lap.gpx"
    path.write_text(path.read_text().replace("<ele>675.000</ele>", "<ele>high</ele>"))
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_dict(
            {**TRUCK, "cap": {"kind": "open"}, "duty": {"segment": [UNPACED]} | {"track": {"file": "lap.gpx"}}}
        )
    first, second = map(str, caught.value.faults)
    assert first.startswith("cap.kind: must be")
    assert second.startswith("lap.gpx:105: column ")
    assert "ele: 'high' is no number of metres" in second


@pytest.mark.parametrize("content", ["<!DOCTYPE gpx>", "\0", "<gpx/>", ""])
def test_hostile_track_ends_the_command_with_code_2_and_a_sentence(folder, content):
    (folder / "truck.toml").write_text(tracked().to_toml())
    (folder / "lap.gpx").write_text(content)
    command = [sys.executable, "-c", "from ullage.cli import script; script()", "check", "truck.toml"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "lap.gpx" in done.stderr
    assert "Traceback" not in done.stderr


def test_reading_a_track_takes_no_library_of_its_own():
    code = "import json, sys, ullage; print(json.dumps([*sys.modules]))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"gpxpy", "lxml"} & {*json.loads(done.stdout)}


def test_race_over_a_track_is_the_same_every_time():
    first, second = (simulate(tracked([UNPACED], speed="track")) for _ in range(2))
    assert np.array_equal(first.oil_temperature, second.oil_temperature)


def test_stop_before_the_first_lap_stands_where_the_lap_begins():
    scenario = tracked(recording={}, join="time", offset="50 s")
    stop = {"name": "grid", "after_lap": 0, "duration": "20 s"}
    scenario = scenario.replace({"duty.stop": [stop], "start.elevation": "0 m"})
    grid, lap = race_pieces(scenario.spec)[0]
    assert grid.profile.elevation == pytest.approx(np.full(2, lap.profile.elevation[0]), abs=1e-9)
    assert lap.profile.elevation[0] == pytest.approx(climb(750.0), abs=0.05)
    assert "but the cap was shut at start.elevation, 0 m" in describe(scenario, "metric")
