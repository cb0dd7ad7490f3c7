import json
import tomllib

import pytest

from ullage.api import simulate
from ullage.errors import ScenarioError
from ullage.scenario.describe import describe
from ullage.scenario.json_schema import scenario_schema
from ullage.scenario.load import Scenario, load_scenario
from ullage.scenario.starter import SCHEMA_FILE, starter_text, write_starter


def test_starter_checks_without_a_warning_and_runs_to_its_end():
    scenario = Scenario.from_toml(starter_text())
    assert "warning" not in describe(scenario, "us")
    data = simulate(scenario)
    assert data.attrs["status"] == "done"
    assert float(data.oil_level.max()) < 1.0
    assert 373.0 < float(data.oil_temperature.max()) < 413.0  # hot enough to teach, under what steering oil stands
    assert float(data.oil_lost[-1]) == 0.0


def test_starter_says_first_where_its_schema_is_and_that_its_data_are_invented():
    lines = starter_text().splitlines()
    assert lines[0] == f"#:schema ./{SCHEMA_FILE}"
    assert "INVENTED" in lines[1]
    assert "invented data" in tomllib.loads(starter_text())["title"]


def test_starter_is_short_and_its_mandatory_tables_come_first():
    assert 60 <= len(starter_text().splitlines()) <= 105
    assert max(map(len, starter_text().splitlines())) <= 120
    mandatory = [name for name in scenario_schema()["required"] if name not in ("format", "duty")]
    assert [*tomllib.loads(starter_text())][2 : 2 + len(mandatory)] == mandatory


def test_starter_comments_every_number_of_the_truck():
    race = starter_text().index("# ---- the race")
    bare = [line for line in starter_text()[:race].splitlines() if " = " in line and "#" not in line]
    assert [line.split(" = ")[0] for line in bare] == ["format", "title", "fan_off_temperature"]


def test_file_and_schema_are_written_side_by_side(tmp_path):
    write_starter(tmp_path / "truck.toml")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["truck.toml", SCHEMA_FILE]
    assert load_scenario(tmp_path / "truck.toml").hash == Scenario.from_toml(starter_text()).hash
    assert json.loads((tmp_path / SCHEMA_FILE).read_text(encoding="utf-8")) == scenario_schema()


def test_scenario_is_never_overwritten_but_its_schema_is_renewed(tmp_path):
    (tmp_path / "truck.toml").write_text("mine")
    with pytest.raises(ScenarioError, match="is there already and is left as it is; give another name"):
        write_starter(tmp_path / "truck.toml")
    assert (tmp_path / "truck.toml").read_text() == "mine"
    (tmp_path / SCHEMA_FILE).write_text("old")
    write_starter(tmp_path / "other.toml")
    assert json.loads((tmp_path / SCHEMA_FILE).read_text(encoding="utf-8")) == scenario_schema()


def test_link_to_nowhere_is_not_followed(tmp_path):
    (tmp_path / "truck.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(ScenarioError, match="cannot be written"):
        write_starter(tmp_path / "truck.toml")
    assert not (tmp_path / "elsewhere.toml").exists()


@pytest.mark.parametrize("name", ["truck.txt", "truck", "truck.toml.bak", ".toml", "-", ""])
def test_name_of_another_kind_is_refused(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ScenarioError, match=r"the name must end in \.toml, such as truck\.toml"):
        write_starter(name)
    assert [*tmp_path.iterdir()] == []


def test_missing_folder_is_named(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ScenarioError, match=r"^none/truck\.toml: there is no folder 'none'; make it first$"):
        write_starter("none/truck.toml")


@pytest.mark.parametrize("name", ["truck.toml", f"{'x' * 300}.toml"])
def test_place_that_cannot_be_written_is_a_sentence(tmp_path, name):
    (tmp_path / SCHEMA_FILE).mkdir()  # refuses also the user who may write everywhere
    with pytest.raises(ScenarioError, match=r"\.toml: cannot be written: "):
        write_starter(tmp_path / name)
