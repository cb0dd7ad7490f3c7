import json

import numpy as np
import pytest

from measured_support import CLOCK, with_log, written
from support import TRUCK
from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.scenario.describe import describe, note_lines
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.measured_spec import Measured
from ullage.scenario.variants import Variants

COLUMNS = {"t": [0.0, 60.0, 120.0], "p": [1.0, 2.0, 3.0], "c": [20.0, 40.0, 60.0]}


def faults_of(folder, columns=COLUMNS, changes=None, **measured):
    """Return what is wrong with a log beside the test truck."""
    with pytest.raises(ScenarioError) as caught:
        with_log(folder, columns, changes, **measured)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("unit", ["psi", "bar", "kPa", "inHg"])
def test_pressure_that_does_not_say_over_what_is_asked_which(tmp_path, unit):
    (fault,) = faults_of(tmp_path, feed_gauge_pressure=("p", unit))
    assert "measured.feed_gauge_pressure" in fault
    assert f"'{unit}' does not say which pressure" in fault
    assert "psig" in fault
    assert "psia" in fault


@pytest.mark.parametrize("key", Measured.recorded())
def test_every_sensor_takes_its_units_and_no_other(tmp_path, key):
    good, bad = ("psig", "degF") if key.endswith("pressure") else ("degF", "psig")
    assert with_log(tmp_path, COLUMNS, **{key: ("p", good)}).spec.measured.log.channels.keys() == {key}
    (fault,) = faults_of(tmp_path, **{key: ("p", bad)})
    assert f"measured.{key}" in fault


def test_log_without_a_sensor_is_a_fault_that_names_those_there_may_be(tmp_path):
    (fault,) = faults_of(tmp_path)
    assert all(name in fault for name in Measured.recorded())


@pytest.mark.parametrize(("starts_at", "told"), [("11 min", "0:11:00 to 0:13:00"), ("-3 min", "-0:03:00 to -0:01:00")])
def test_log_of_another_time_than_the_race_is_a_fault(tmp_path, starts_at, told):
    (fault,) = faults_of(tmp_path, starts_at=starts_at, feed_gauge_pressure=("p", "psig"))
    assert "measured.starts_at" in fault
    assert told in fault
    assert "ends at 0:10:00" in fault


@pytest.mark.parametrize("starts_at", ["9 min", "-119 s", "10 min", "-2 min"])
def test_log_with_a_row_in_the_race_is_accepted(tmp_path, starts_at):
    assert with_log(tmp_path, COLUMNS, starts_at=starts_at, feed_gauge_pressure=("p", "psig"))


def test_values_that_no_lap_may_have_are_measured_all_the_same(tmp_path):
    columns = {**COLUMNS, "c": [-60.0, 1200.0, 20.0]}  # a sensor that came off
    data = simulate(with_log(tmp_path, columns, reservoir_temperature=("c", "degC")))
    said = data.measured_oil_temperature.sel(node="reservoir").dropna("time") - 273.15
    assert said.values == pytest.approx(columns["c"], abs=1e-9)


def test_faults_of_the_log_are_told_beside_those_of_the_race_and_have_no_consequences(tmp_path):
    found = faults_of(tmp_path, COLUMNS, feed_gauge_pressure=("p", "psig"), starts_at="1 parsec")
    assert [fault.split(":")[0] for fault in found] == ["measured.starts_at"]
    tree = {**TRUCK, "reservoir": {"volume": "7.6 L", "fill": 2.0}}
    tree["measured"] = {"file": str(tmp_path / "log.csv"), "time": CLOCK, "pump_temperature": {"column": "oil"}}
    with pytest.raises(ScenarioError) as caught:
        Scenario.from_dict(tree)
    first, second = caught.value.faults
    assert first.key == "reservoir.fill"
    assert (second.file, second.line) == (str(tmp_path / "log.csv"), 1)
    assert "'oil'" in second.text


def test_hash_is_of_the_log_too(tmp_path):
    mapped = {"feed_gauge_pressure": ("p", "psig")}
    hashes = {with_log(tmp_path, {**COLUMNS, "p": [1.0, 2.0, last]}, **mapped).hash for last in (3.0, 3.0, 3.5)}
    assert len(hashes) == 2


def test_text_of_a_scenario_with_a_log_reads_back_the_same(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    scenario = with_log(tmp_path, COLUMNS, starts_at="30 s", feed_gauge_pressure=("p", "psia"))
    again = Scenario.from_toml(scenario.to_toml())
    assert again.spec == scenario.spec
    assert again.hash == scenario.hash


def test_log_is_looked_for_beside_the_scenario(tmp_path):
    scenario = with_log(tmp_path, COLUMNS, feed_gauge_pressure=("p", "psig"))
    file = tmp_path / "truck.toml"
    file.write_text(scenario.to_toml().replace(f"{tmp_path}/", ""), encoding="utf-8")
    assert load_scenario(file).spec.measured.log.digest == scenario.spec.measured.log.digest


def test_start_of_the_log_can_be_moved_and_varied(tmp_path):
    scenario = with_log(tmp_path, COLUMNS, feed_gauge_pressure=("p", "psig"))
    moved = scenario.replace({"measured.starts_at": "90 s"})
    assert moved.spec.measured.starts_at == 90.0
    variants = Variants(scenario, ["measured.starts_at", "cap.relief_pressure"])
    spec = variants.spec(["90 s", "12 psi"])
    assert spec == scenario.replace({"measured.starts_at": "90 s", "cap.relief_pressure": "12 psi"}).spec
    assert spec.measured.log.digest == scenario.spec.measured.log.digest


def test_check_says_what_was_measured_and_when(tmp_path):
    text = describe(with_log(tmp_path, COLUMNS, starts_at="-30 s", pump_temperature=("c", "degC")), "metric")
    assert "3 rows, 0:02:00, from 0:00:30 before the start" in text
    assert "pump temperature" in text


def test_file_of_the_log_may_be_that_of_the_lap(tmp_path):
    written(tmp_path, {**COLUMNS, "rpm": [3000.0, 3000.0, 3000.0]})
    name = str(tmp_path / "log.csv")
    lap = {"file": name, "time": CLOCK, "engine_speed": {"column": "rpm", "unit": "rpm"}}
    log = {"file": name, "time": CLOCK, "feed_gauge_pressure": {"column": "p", "unit": "psig"}}
    scenario = Scenario.from_dict({**TRUCK, "duty": {"recording": lap}, "measured": log})
    assert simulate(scenario).sizes["time"] == 121


def test_what_the_log_lacks_stays_open_and_is_no_fault(tmp_path):
    text = "t,p,c\n0,1,\n1,2,\n2,,30\n3,4,\n900,5,\n901,6,50\n"
    (tmp_path / "log.csv").write_text(text, encoding="utf-8")
    tree = {**TRUCK, "measured": {"file": str(tmp_path / "log.csv"), "time": CLOCK}}
    tree["measured"] |= {"feed_gauge_pressure": {"column": "p", "unit": "psig"}}
    tree["measured"] |= {"pump_temperature": {"column": "c", "unit": "degC"}}
    log = Scenario.from_dict(tree).spec.measured.log
    known = {name: np.isfinite(values).tolist() for name, values in log.channels.items()}
    assert known["feed_gauge_pressure"] == [True, True, False, True, True, True]
    assert known["pump_temperature"] == [False, False, True, False, False, True]
    assert log.channels["pump_temperature"][[2, 5]] == pytest.approx([303.15, 323.15])


def test_value_that_no_sensor_can_give_is_left_out_and_told(tmp_path):
    scenario = with_log(tmp_path, {**COLUMNS, "c": [20.0, 9999.0, 60.0]}, pump_temperature=("c", "degC"))
    assert np.isfinite(scenario.spec.measured.log.channels["pump_temperature"]).tolist() == [True, False, True]
    assert "pump_temperature: 1 of 3 values cannot be (line 3: 9999 degC" in describe(scenario, "metric")
    assert note_lines(scenario) == ["  notes: 1 on what was measured, see: ullage check"]
    assert json.loads(simulate(scenario).attrs["measured_notes"]) == list(scenario.spec.measured.log.notes)


def test_value_a_little_beyond_what_a_sensor_can_give_is_left_out_too(tmp_path):
    scenario = with_log(tmp_path, {**COLUMNS, "c": [20.0, -280.0, 60.0]}, pump_temperature=("c", "degC"))
    assert np.isfinite(scenario.spec.measured.log.channels["pump_temperature"]).tolist() == [True, False, True]


def test_column_without_any_value_is_a_fault(tmp_path):
    (fault,) = faults_of(tmp_path, {**COLUMNS, "c": [9999.0] * 3}, pump_temperature=("c", "degC"))
    assert "pump_temperature: holds no numbers" in fault
