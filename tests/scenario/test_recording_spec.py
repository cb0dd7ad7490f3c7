import json

import numpy as np
import pytest

from support import TRUCK, truck
from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.kernel.params import CHANNEL_INDEX
from ullage.scenario.compile import compile_problem
from ullage.scenario.describe import describe, note_lines, warning_lines
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.parameters import make_parameters
from ullage.scenario.race import lost_in_samples, race_pieces
from ullage.scenario.toml_text import write_toml

ROWS = [(0.0, 3000, 20, 900), (10.25, 3600, 40, 950), (20.0, 2400, 60, 1000), (60.0, 3000, 20, 940)]
TEXT = "t,rpm,bar,m\n" + "".join(f"{t + 7.5},{rpm},{bar},{m}\n" for t, rpm, bar, m in ROWS)
MAPPED = {
    "file": "lap.csv",
    "time": {"column": "t", "unit": "s"},
    "engine_speed": {"column": "rpm", "unit": "rpm"},
    "steering_load": {"column": "bar", "unit": "bar"},
    "elevation": {"column": "m", "unit": "m"},
}
PIT = {"name": "pit", "after_lap": 1, "duration": "1 min"}


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Return a folder with a recording; it is the current one."""
    (tmp_path / "lap.csv").write_text(TEXT)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def recorded(changes=None, **mapping):
    """Return the test truck on a recorded lap."""
    duty = {"laps": 2, "stop": [PIT], "recording": {**MAPPED, **mapping}}
    scenario = Scenario.from_dict({**TRUCK, "duty": duty})
    return scenario.replace(changes) if changes else scenario


def faults_of(call):
    """Return the faults that a call raises."""
    with pytest.raises(ScenarioError) as caught:
        call()
    return [str(fault) for fault in caught.value.faults]


def test_recorded_lap_is_driven_as_often_as_there_are_laps_with_the_stops_between():
    problem = compile_problem(recorded({"duty.sample_interval": "7 s"}).spec)
    time, channels = problem.table.time, problem.table.channels
    assert time[-1] == 180.0
    speed, load = channels[:, CHANNEL_INDEX["engine_speed"]], channels[:, CHANNEL_INDEX["steering_load"]]
    clock = np.array([row[0] for row in ROWS])
    for start in (0.0, 120.0):
        assert np.isin(start + clock, time).all()  # every row of the file is a knot, whatever the samples
        inside = (time > start) & (time < start + 60.0)
        rpm = np.interp(time[inside] - start, clock, [row[1] for row in ROWS])
        bar = np.interp(time[inside] - start, clock, [row[2] for row in ROWS])
        assert speed[inside] == pytest.approx(rpm * np.pi / 30.0, rel=1e-8)  # times are set to nanoseconds
        assert load[inside] == pytest.approx(bar * 1e5, rel=1e-8)
    stands = (time > 60.0) & (time < 120.0)
    assert speed[stands] == pytest.approx(900.0 * np.pi / 30.0, rel=1e-12)
    assert np.setdiff1d(problem.table.output_time, [*np.arange(0.0, 180.0, 7.0), 180.0]).size == 0


def test_elevation_may_jump_where_laps_meet():
    scenario = recorded({"duty.stop": None, "start.elevation": "900 m"})
    table = compile_problem(scenario.spec).table
    at = [table.elevation[table.output_time == second][0] for second in (0.0, 20.0, 60.0, 61.0)]
    assert at == pytest.approx([900.0, 1000.0, 940.0, 900.0 + 50.0 / 10.25], abs=1e-6)  # times set to nanoseconds
    assert np.count_nonzero((table.time[1:] == 60.0) & (table.time[:-1] == 60.0)) == 1


def test_what_is_not_recorded_is_zero_and_as_high_as_the_start():
    scenario = recorded({"start.elevation": "700 m"}, steering_load=None, elevation=None)
    profile = race_pieces(scenario.spec)[0][0].profile
    assert np.all(profile.steering_load == 0.0)
    assert np.all(profile.vehicle_speed == 0.0)
    assert np.all(profile.elevation == 700.0)


def test_recorded_acceleration_reaches_its_channel_in_si(folder):
    rows = [(0.0, 0.0), (10.25, 1.5), (20.0, -1.0), (60.0, 0.0)]
    (folder / "lap.csv").write_text("t,rpm,up\n" + "".join(f"{t},3000,{up}\n" for t, up in rows))
    column = {"upward_acceleration": {"column": "up", "unit": "gn"}}
    table = compile_problem(recorded(steering_load=None, elevation=None, **column).spec).table
    lap = table.time < 60.0
    up = table.channels[lap, CHANNEL_INDEX["upward_acceleration"]]
    # standard gravity, 9.80665 m/s2 by definition; times are set to nanoseconds
    assert up == pytest.approx(9.80665 * np.interp(table.time[lap], *zip(*rows, strict=True)), abs=1e-8)
    assert np.all(table.channels[:, CHANNEL_INDEX["left_acceleration"]] == 0.0)


@pytest.mark.parametrize(
    ("step", "interval", "counts"), [(0.1, "0.1 s", True), (0.2, "0.1 s", False), (0.1, "1 s", False)]
)
def test_oil_in_the_line_has_inertia_where_recording_and_samples_show_it(folder, step, interval, counts):
    (folder / "lap.csv").write_text("t,rpm\n" + "".join(f"{row * step},3000\n" for row in range(50)))
    scenario = recorded({"duty.sample_interval": interval}, steering_load=None, elevation=None)
    length = make_parameters(scenario.spec, 1.0).inertia_length
    assert length == (scenario.spec.feed_line.length if counts else 0.0)


def test_file_is_looked_for_beside_the_scenario_file_also_after_a_change(folder, tmp_path_factory, monkeypatch):
    scenario = recorded()
    (folder / "truck.toml").write_text(scenario.to_toml())
    monkeypatch.chdir(tmp_path_factory.mktemp("elsewhere"))
    loaded = load_scenario(folder / "truck.toml")
    assert loaded.folder == folder
    assert loaded.spec == scenario.spec
    changed = loaded.replace({"duty.laps": 3})
    assert changed.folder == folder
    assert race_pieces(changed.spec)[0][-1].end == 240.0
    with pytest.raises(ScenarioError, match=r"lap\.csv: cannot be read"):
        Scenario.from_toml(scenario.to_toml())


def test_hash_covers_the_bytes_of_the_recording(folder):
    before = recorded()
    assert recorded().hash == before.hash
    (folder / "lap.csv").write_text(TEXT.replace("3600", "3601"))
    assert recorded().to_toml() == before.to_toml()
    assert recorded().hash != before.hash
    assert recorded().spec != before.spec


def test_hash_of_a_scenario_without_files_is_that_of_its_text():
    assert truck().hash == "c2c1cd31394ba18f"  # as it was before scenarios could name files


def test_faults_of_the_recording_come_with_all_others(folder):
    (folder / "lap.csv").write_text(TEXT.replace("3600", "fast").replace("60,", "sixty,"))
    toml = write_toml({**TRUCK, "reservoir": {"volume": "7.6 L"}, "duty": {"laps": 0, "recording": MAPPED}})
    found = faults_of(lambda: Scenario.from_toml(toml, "truck.toml"))
    assert sorted(fault.split(": ")[0].split(":")[0] for fault in found) == [
        "lap.csv",
        "lap.csv",
        "truck.toml",
        "truck.toml",
    ]
    assert "lap.csv:3: column 'rpm': \"fast\" is not a number (a point for decimals, no unit)" in found
    assert "lap.csv:4: column 'bar': \"sixty\" is not a number (a point for decimals, no unit)" in found


@pytest.mark.parametrize(
    ("mapping", "words"),
    [
        (
            {"engine_speed": {"column": "rpm", "unit": "rmp"}},
            "unknown unit 'rmp' (did you mean 'rpm'?); a shaft speed is wanted",
        ),
        (
            {"steering_load": {"column": "bar", "unit": "rpm"}},
            "'rpm' is not a unit of this kind; a pressure difference is wanted",
        ),
        ({"steering_load": {"column": "bar", "unit": "psig"}}, "unknown unit 'psig'"),
        ({"time": {"column": "t", "unit": "rpm"}}, "'rpm' is not a unit of this kind; a time is wanted"),
    ],
)
def test_unit_of_a_column_is_checked_at_its_key(mapping, words):
    toml = write_toml({**TRUCK, "duty": {"recording": {**MAPPED, **mapping}}})
    (fault,) = faults_of(lambda: Scenario.from_toml(toml, "truck.toml"))
    (name,) = mapping
    line = toml.split("\n").index(f"[duty.recording.{name}]") + 1
    assert fault.startswith(f"truck.toml:{line}: duty.recording.{name}: ")
    assert words in fault


@pytest.mark.parametrize(
    ("mapping", "fault"),
    [
        (
            {"time": {"column": 0}},
            "time.column: 0 is no column: give its header, or its number from 1",
        ),
        ({"time": {"column": True}}, "time.column: true is no column"),
        ({"time": {"column": " "}}, 'time.column: " " is no column'),
        (
            {"delimiter": "ab"},
            'delimiter: "ab" is no mark between columns: give one sign, such as ";", or "tab" or "space"',
        ),
        ({"delimiter": "."}, 'delimiter: "." is no mark between columns'),
        ({"begin": "9 s", "end": "9 s"}, "end: is not after begin"),
        ({"time": None}, "time: missing: give the column that holds the time, or sample_rate in its place"),
        ({"sample_rate": "10 Hz"}, "time: stands beside sample_rate; give one of the two"),
        ({"sample_rate": "10 rpm"}, "sample_rate: \"10 rpm\": 'rpm' is not a unit of this kind"),
        ({"longest_gap": "1 h"}, 'longest_gap: "1 h" is outside 0 h to 0.1666 h'),
    ],
)
def test_key_of_a_log_that_cannot_be_used_is_a_fault_at_the_key(mapping, fault):
    data = {key: value for key, value in {**MAPPED, **mapping}.items() if value is not None}
    toml = write_toml({**TRUCK, "duty": {"recording": data}})
    (found,) = faults_of(lambda: Scenario.from_toml(toml, "truck.toml"))
    assert f"duty.recording.{fault}" in found


def test_recording_at_a_sample_rate_and_by_number_goes_in_and_out_of_a_file():
    changes = {"time": None, "sample_rate": "0.5 Hz", "engine_speed": {"column": 2, "unit": "rpm"}}
    scenario = recorded(**changes)
    assert scenario.spec.duty.recording.log.time.tolist() == [0.0, 2.0, 4.0, 6.0]
    assert Scenario.from_toml(scenario.to_toml()).spec == scenario.spec
    changed = scenario.replace({"duty.recording.sample_rate": "1 Hz", "duty.recording.engine_speed.column": "rpm"})
    assert changed.spec.duty.recording.log.time.tolist() == [0.0, 1.0, 2.0, 3.0]


FAST = np.arange(6001) / 100.0  # a minute at 100 Hz


@pytest.fixture
def fast(folder):
    """Return a scenario with a recording at 100 Hz, averaged to half a second."""
    random = np.random.default_rng(2)
    speed = 3500.0 + 1200.0 * np.sin(FAST / 3.0) + random.uniform(-100.0, 100.0, len(FAST))
    load = 30.0 + 25.0 * np.sin(FAST * 7.0) + random.uniform(-5.0, 5.0, len(FAST))
    rows = zip(FAST, speed, load, 900.0 + FAST, strict=True)
    (folder / "lap.csv").write_text("t,rpm,bar,m\n" + "".join("{},{},{},{}\n".format(*row) for row in rows))
    return recorded({"duty.sample_interval": "0.5 s"})


def test_rows_closer_than_the_samples_become_knots_with_the_same_integrals(fast):
    lap, profile = fast.spec.duty.recording.log, race_pieces(fast.spec)[0][0].profile
    assert profile.time.tolist() == [0.5 * knot for knot in range(121)]
    for name in ("engine_speed", "steering_load", "elevation"):
        whole = np.trapezoid(lap.channels[name], lap.time)
        assert np.trapezoid(getattr(profile, name), profile.time) == pytest.approx(whole, rel=1e-12)  # rounding
    power = np.trapezoid(lap.channels["steering_load"] * lap.channels["engine_speed"], lap.time)
    kept = np.trapezoid(profile.steering_load * profile.engine_speed, profile.time)
    assert kept == pytest.approx(power, rel=1e-3)  # the promise of the page on scenarios


def test_lap_that_is_no_whole_number_of_samples_keeps_its_end(fast):
    changed = fast.replace({"duty.sample_interval": "7 s"})
    lap, profile = changed.spec.duty.recording.log, race_pieces(changed.spec)[0][0].profile
    assert profile.time.tolist() == [0.0, 7.0, 14.0, 21.0, 28.0, 35.0, 42.0, 49.0, 56.0, 60.0]
    whole = np.trapezoid(lap.channels["engine_speed"], lap.time)
    assert np.trapezoid(profile.engine_speed, profile.time) == pytest.approx(whole, rel=1e-12)  # rounding


def test_rows_as_far_apart_as_the_samples_are_kept(fast):
    changed = fast.replace({"duty.sample_interval": "0.01 s"})
    assert np.array_equal(race_pieces(changed.spec)[0][0].profile.time, changed.spec.duty.recording.log.time)


def test_what_was_mended_is_told_by_check_and_kept_in_the_results(folder):
    (folder / "lap.csv").write_text(TEXT + TEXT.splitlines()[-1])
    scenario = recorded()
    note = "1 row there twice, left out"
    assert f"  recording  lap.csv: 4 rows, 0:01:00\n             {note}\n" in describe(scenario, "metric")
    assert json.loads(simulate(scenario).attrs["duty_notes"])[0] == note
    assert note_lines(scenario) == ["  notes: 2 on recording and track, see: ullage check"]
    assert note_lines(truck()) == []
    assert json.loads(simulate(truck()).attrs["duty_notes"]) == []


def test_segments_and_a_recording_are_one_too_many_and_neither_is_one_too_few():
    both = faults_of(lambda: recorded({"duty.segment": TRUCK["duty"]["segment"]}))
    assert both == ["duty.recording: stands in place of segments; give one of the two"]
    neither = faults_of(lambda: truck({"duty.segment": None}))
    assert neither == ["duty.segment: missing: a lap needs segments, or a recording in their place"]
    assert faults_of(lambda: truck({"duty.segment": []})) == neither


def test_recording_of_too_many_rows_for_its_laps_is_a_fault(monkeypatch):
    monkeypatch.setattr("ullage.scenario.recording_rules.MOST_ROWS", 190)
    assert recorded({"duty.laps": 1}).spec.duty.laps == 1
    scenario = recorded({"duty.sample_interval": "10 s"})
    found = faults_of(lambda: scenario.replace({"duty.laps": 60}))
    assert any(fault.startswith("duty.laps: 60 gives more than 190 rows of the recording") for fault in found)
    assert scenario.replace({"duty.laps": 60, "duty.sample_interval": "60 s"}).spec.duty.laps == 60  # rows are averaged


@pytest.mark.parametrize(("units", "words"), [("metric", "rpm to 3600 rpm"), ("us", "2953 ft to 3281 ft")])
def test_description_says_what_was_recorded(units, words):
    text = describe(recorded(), units)
    assert "  recording  lap.csv: 4 rows, 0:01:00\n" in text
    assert words in text


def test_warning_of_the_pump_speed_sees_the_fastest_moment_of_a_recording():
    text = describe(recorded({"pump.maximum_speed": "2500 rpm"}), "metric")
    assert "turns up to 2520 rpm" in text  # 0.7 times 3600 rpm


def test_recorded_race_closes_its_balances():
    data = simulate(recorded())
    assert data.attrs["status"] == "done"
    # rounding over some 1e3 steps; energy is a quadrature of the same steps
    assert data.attrs["oil_balance"] < 1e-10
    assert data.attrs["air_balance"] < 1e-10
    assert data.attrs["energy_balance"] < 1e-6


def pulsed(folder, high, rows=6001, step=0.01):
    """Write a log of a minute at 100 Hz in which the wheel is turned against a load for 0.4 s of every 2 s."""
    clock = np.arange(rows) * step
    bars = np.where(clock % 2.0 < 0.4, high, 8.0)
    lines = [f"{time:.2f},{1200 if bar > 8 else 800},{bar}" for time, bar in zip(clock, bars, strict=True)]
    (folder / "lap.csv").write_text("t,rpm,bar\n" + "\n".join(lines) + "\n")
    return clock, bars * 1e5


def test_rows_stay_where_the_load_crosses_what_opens_the_relief(folder):
    clock, load = pulsed(folder, 130)
    (piece,) = race_pieces(recorded({"duty.laps": 1, "duty.stop": None}, elevation=None).spec)[0]
    profile = piece.profile
    over = profile.steering_load > 110e5
    seen = np.trapezoid(over.astype(float), profile.time) / profile.time[-1]
    assert seen == pytest.approx(0.2, abs=0.005)  # 0.4 s of 2 s, edges to a row
    assert np.trapezoid(profile.steering_load, profile.time) == pytest.approx(np.trapezoid(load, clock), rel=1e-12)


def test_load_below_the_relief_is_averaged_over_samples(folder):
    pulsed(folder, 60)
    (piece,) = race_pieces(recorded({"duty.laps": 1, "duty.stop": None}, elevation=None).spec)[0]
    assert np.array_equal(piece.profile.time, np.arange(61.0))


def test_pulses_over_the_relief_heat_as_the_rows_do(folder):
    pulsed(folder, 130)
    changes = {"duty.laps": 10, "duty.stop": None, "pump.relief_pressure": "110 bar"}
    coarse, fine = (
        simulate(recorded({**changes, "duty.sample_interval": step}, elevation=None)).oil_temperature.values[:, -1]
        for step in ("1 s", "0.2 s")
    )
    assert coarse == pytest.approx(fine, abs=0.05)  # of some 30 K; found: 0.013 K


def test_load_and_engine_speed_that_go_together_are_told_where_samples_lose_them(folder):
    pulsed(folder, 60)
    scenario = recorded({"duty.laps": 1, "duty.stop": None}, elevation=None)
    clock = np.arange(6001) * 0.01
    high = clock % 2.0 < 0.4
    told = [line for line in warning_lines(scenario, "metric") if "samples change" in line]
    assert len(told) == 1
    # means of load and speed, and of their product: exact values of the two states
    share = high[:-1].mean()
    product = share * 60.0 * 1200.0 + (1.0 - share) * 8.0 * 800.0
    apart = (share * 60.0 + (1.0 - share) * 8.0) * (share * 1200.0 + (1.0 - share) * 800.0)
    assert 0.0 < lost_in_samples(scenario.spec) < 1.0 - apart / product  # samples of 1 s see some of it
    assert not warning_lines(scenario.replace({"duty.sample_interval": "0.02 s"}), "metric")


def test_gravity_is_taken_off_an_accelerometer_and_its_unit_is_checked(folder):
    (folder / "lap.csv").write_text("t,rpm,up\n0,3000,1.0\n30,3000,1.5\n60,3000,1.0\n")
    column = {"column": "up", "unit": "gn", "less": "1 gn"}
    up = recorded(steering_load=None, elevation=None, upward_acceleration=column).spec.duty.recording.log.channels
    assert up["upward_acceleration"] == pytest.approx([0.0, 0.5 * 9.80665, 0.0])
    (fault,) = faults_of(lambda: recorded(upward_acceleration={**column, "less": "1 bar"}, steering_load=None))
    assert "duty.recording.upward_acceleration" in fault


@pytest.mark.parametrize(("laps", "last", "told"), [(2, 930, True), (1, 930, False), (2, 919, False), (2, 880, False)])
def test_a_recorded_lap_that_ends_off_its_start_is_told_if_there_is_more_than_one(folder, laps, last, told):
    path = folder / "lap.csv"
    path.write_text(TEXT.replace("20,940", f"20,{last}"))  # it begins at 900 m
    text = describe(recorded({"duty.laps": laps, "duty.stop": []}), "metric")
    jump = f"the lap ends {abs(last - 900)} m"
    assert (jump in text and "off its start: elevation jumps from lap to lap" in text) == told


def test_what_is_not_recorded_is_told():
    bare = describe(recorded(steering_load=None, elevation=None), "metric")
    assert "no column for steering_load: the wheel is never turned" in bare
    assert "no column for vehicle_speed: the truck stands all the way" in bare
    assert "no column for elevation" in bare
    assert "no column for steering_load" not in describe(recorded(), "metric")
