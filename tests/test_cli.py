import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import ullage.api
from support import STUDIES, truck
from ullage import cli
from ullage.cautions import CAUTIONS, SHORT_CAUTION
from ullage.errors import STATUS_OIL_GONE, ScenarioError, SimulationError
from ullage.results.store import open_results
from ullage.results.summary import side_by_side, summarise
from ullage.scenario.duty_facts import duty_facts

WRITTEN = ("run.nc", "summary.json", "race.png")


def failing(error):
    """Return a function that raises."""

    def call(*_, **__):
        raise error

    return call


def test_installed_command_runs_in_its_own_process(file):
    script = shutil.which("ullage", path=str(Path(sys.executable).parent))
    done = subprocess.run([script, "check", file], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("test truck (invented data)\n")
    wrong = subprocess.run([script, "check", "none.toml"], capture_output=True, text=True, check=False)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert wrong.stderr.startswith("none.toml: cannot be read: ")


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["--version"], ["check", "-h"], ["run", "--help"]])
def test_help_and_version_are_printed_with_exit_code_0(command, arguments):
    code, output, errors = command(*arguments)
    assert (code, errors) == (0, "")
    assert "ullage" in output


def test_check_prints_every_caution_and_every_assumed_value(command, file):
    code, output, errors = command("check", file)
    assert (code, errors) == (0, "")
    text = " ".join(output.split())
    assert [caution for caution in CAUTIONS if caution not in text] == []
    weak = [key.path for key in truck().quantities() if key.quantity.weak]
    assert [path for path in weak if f"{path} = " not in output] == []
    assert max(map(len, output.split("\n"))) <= 120


def test_check_prints_json(command, file):
    code, output, errors = command("check", file, "--json")
    assert (code, errors) == (0, "")
    assert json.loads(output) == {
        "faults": [],
        "scenario_hash": truck().hash,
        "stops": [],
        "duty": {**duty_facts(truck().spec), "plan": []},
    }


def test_check_writes_the_duty_cycle_into_a_folder_and_says_so(command, file, tmp_path):
    code, output, errors = command("check", file, "--out", "new/folder")
    assert (code, errors) == (0, "")
    written = ("duty.png", "duty.csv", "duty.json")
    assert f"written to new/folder: {', '.join(written)}\n" in output
    assert sorted(path.name for path in (tmp_path / "new" / "folder").iterdir()) == sorted(written)
    assert json.loads((tmp_path / "new" / "folder" / "duty.json").read_text()) == duty_facts(truck().spec)
    assert command("check", file, "--out", "quiet", "--quiet") == (0, "", "")
    assert sorted(path.name for path in (tmp_path / "quiet").iterdir()) == sorted(written)


def test_check_of_a_study_writes_no_duty_cycle(command, tmp_path):
    study = next(path for path in STUDIES if path.name == "fill_and_cap.toml")
    code, output, errors = command("check", str(study), "--out", "none")
    assert (code, output) == (2, "")
    assert "--out: only of a scenario: a study drives many races, each its own" in errors
    assert not (tmp_path / "none").exists()


def test_run_prints_the_summary_and_a_caution_and_writes_nothing(command, file, tmp_path):
    code, output, errors = command("run", file)
    assert (code, errors) == (0, "")
    assert output.startswith("test truck (invented data)\n10 km, 1 lap, 10 min\n")
    assert output.endswith(f"{SHORT_CAUTION}\n")
    assert [path.name for path in tmp_path.iterdir()] == [file]


def test_run_prints_json_of_the_summary(command, file):
    code, output, errors = command("run", file, "--json")
    assert (code, errors) == (0, "")
    data, bracket = ullage.api.simulate_with_bracket(truck())
    figures = summarise(data)
    assert {name: json.loads(output)[name] for name in figures} == figures
    assert json.loads(output)["air_models"] == side_by_side(bracket)


def test_screen_and_written_summary_hold_the_three_models_of_the_air_and_the_run_the_one_asked(command, file, tmp_path):
    code, output, errors = command("run", file, "--out", "results", "--set", "air.model=frozen")
    assert (code, errors) == (0, "")
    assert "\nair in and out of oil   never         in its time   at once\n" in output
    assert open_results(tmp_path / "results").attrs["air_model"] == "frozen"
    gas = json.loads((tmp_path / "results" / "summary.json").read_text())["air_models"]["cavitation_exposure"]
    assert gas["frozen"] == summarise(open_results(tmp_path / "results"))["cavitation_exposure"] != gas["equilibrium"]


@pytest.mark.parametrize("arguments", [["check"], ["run"], ["run", "--json"], ["run", "--out", "results"]])
def test_quiet_prints_nothing(command, file, arguments):
    assert command(*arguments, file, "--quiet") == (0, "", "")


def test_quiet_still_prints_errors(command, file):
    code, output, errors = command("check", file, "--quiet", "--set", "reservoir.fill=2")
    assert (code, output, errors) == (2, "", "--set reservoir.fill: 2 is outside 0.3 to 0.97\n")


def test_out_makes_the_folder_and_writes_the_results(command, file, tmp_path):
    code, output, _ = command("run", file, "--out", "new/folder")
    assert code == 0
    assert f"written to new/folder: {', '.join(WRITTEN)}\n" in output
    assert sorted(path.name for path in (tmp_path / "new" / "folder").iterdir()) == sorted(WRITTEN)
    figures = json.loads((tmp_path / "new" / "folder" / "summary.json").read_text())
    assert figures["scenario_hash"] == truck().hash
    assert figures["highest_oil_level"] == summarise(ullage.api.simulate(truck()))["highest_oil_level"]
    data = open_results(tmp_path / "new" / "folder" / "run.nc")
    assert data.attrs["scenario_hash"] == truck().hash
    assert command("run", file, "--out", "new/folder", "--set", "duty.laps=2")[0] == 0
    assert open_results(tmp_path / "new" / "folder" / "run.nc").sizes["time"] == 1201


@pytest.mark.parametrize(
    ("arguments", "unit"),
    [
        ([], "psi"),
        (["--units", "metric"], "kPa"),
        (["--units", "us"], "psi"),
        (["--set", "display.units=metric"], "kPa"),
    ],
)
def test_units_are_those_asked_or_those_of_the_file(command, file, arguments, unit):
    Path(file).write_text(truck({"display.units": "us"}).to_toml(), encoding="utf-8")
    for name in ("check", "run"):
        output = command(name, file, *arguments)[1]
        assert (f" {unit}" in output, f" {'kPa' if unit == 'psi' else 'psi'} " in output) == (True, False)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ("reservoir.fill=0.7", {"reservoir.fill": 0.7}),
        ("reservoir.fill = 70 %", {"reservoir.fill": "70 %"}),
        ("reservoir.volume=8 L", {"reservoir.volume": "8 L"}),
        ('reservoir.volume="8 L"', {"reservoir.volume": "8 L"}),
        ("title=a = b", {"title": "a = b"}),
        ("title=", {"title": ""}),
        ("display.units=us", {"display.units": "us"}),
        ('surroundings={bay_offset="5 K"}', {"surroundings": {"bay_offset": "5 K"}}),
        ("duty.segment.0.duration=1 min", {"duty.segment.0.duration": "1 min"}),
    ],
)
def test_set_splits_at_the_first_sign_and_takes_toml_or_text(command, file, change, expected):
    code, output, errors = command("check", file, "--json", "--set", change)
    assert (code, errors) == (0, "")
    assert json.loads(output)["scenario_hash"] == truck(expected).hash


def test_set_may_be_given_several_times(command, file):
    output = command("check", file, "--json", "--set", "duty.laps=2", "--set", "reservoir.fill=0.7")[1]
    assert json.loads(output)["scenario_hash"] == truck({"duty.laps": 2, "reservoir.fill": 0.7}).hash


def test_dash_reads_standard_input_as_utf_8():
    text = truck({"title": "µ (invented)"}).to_toml()
    result = CliRunner().invoke(cli.commands, ["check", "-"], input=text.encode("utf-8"))
    assert (result.exit_code, result.output.split("\n")[0]) == (0, "µ (invented)")


@pytest.mark.parametrize(
    ("text", "words"), [(b"a = ", "not a TOML file"), (b"\xe9", "is not UTF-8 text"), (b"", "is empty")]
)
def test_bad_standard_input_is_a_fault_of_it(command, monkeypatch, text, words):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))
    code, output, errors = command("check", "-")
    assert (code, output) == (2, "")
    assert words in errors


BAD_INPUT = [
    (["run", "none.toml"], "none.toml: cannot be read"),
    (["check", "."], ".: cannot be read"),
    (["check", "bad.toml"], "bad.toml:1: format: "),
    (["check", "noise.toml"], "noise.toml:1: not a TOML file"),
    (["run"], "Missing argument 'FILE'"),
    (["fly"], "No such command 'fly'"),
    (["run", "truck.toml", "--quick"], "No such option"),
    (["run", "truck.toml", "--units", "imperial"], "imperial"),
    (["run", "truck.toml", "--out", "truck.toml"], "truck.toml"),
    (["run", "truck.toml", "--set", "reservoir.fill"], "--set reservoir.fill: write KEY=VALUE"),
    (["run", "truck.toml", "--out", ""], "--out: the name of the folder is empty"),
    (["check", "truck.toml", "--out", ""], "--out: the name of the folder is empty"),
    (["check", "truck.toml", "--out", "truck.toml"], "truck.toml"),
    (["run", "truck.toml", "--set", ""], '--set "": write KEY=VALUE'),
    (["run", "truck.toml", "--set", "foo.bar.baz=1"], "--set foo: unknown key"),
    (["run", "truck.toml", "--set", "=3"], "--set =3: write KEY=VALUE"),
    (["run", "truck.toml", "--set", "reservoir.fil=0.7"], "did you mean 'fill'?"),
    (["run", "truck.toml", "--set", "cap.kind.more.still=1"], "cap.kind.more.still: no such key"),
    (["run", "truck.toml", "--set", "reservoir.volume=8"], "reservoir.volume: "),
    (["run", "truck.toml", "--set", "title=2020-01-01"], "title: "),
]


@pytest.mark.usefixtures("file")
@pytest.mark.parametrize(("arguments", "words"), BAD_INPUT, ids=[" ".join(case[0]) for case in BAD_INPUT])
def test_bad_input_is_said_in_words_with_exit_code_2(command, tmp_path, arguments, words):
    (tmp_path / "bad.toml").write_text("format = 3\n")
    (tmp_path / "noise.toml").write_text("[[[\n")
    code, output, errors = command(*arguments)
    assert (code, output) == (2, "")
    assert words in errors
    assert "Traceback" not in errors


def test_every_fault_of_a_file_is_printed_on_its_own_line(command, file):
    Path(file).write_text("format = 3\n[cap]\nkind = 1\n")
    errors = command("check", file)[2]
    assert len(errors.splitlines()) == 6  # two values, and four tables that are missing


def test_failed_race_has_exit_code_1_and_a_remedy(command, file, monkeypatch):
    error = SimulationError(STATUS_OIL_GONE, 75.0)
    monkeypatch.setattr(ullage.api, "simulate_with_bracket", failing(error))
    assert command("run", file) == (1, "", f"{error}\n")


@pytest.mark.parametrize("name", ["check", "run"])
@pytest.mark.parametrize("out", ["truck.toml/results", "x" * 300])
def test_folder_that_cannot_be_made_has_exit_code_1(command, file, name, out):
    code, output, errors = command(name, file, "--out", out)
    assert (code, output) == (1, "")
    assert errors.startswith(f"{out}: cannot be made: ")
    assert len(errors.splitlines()) == 1


def test_results_that_cannot_be_written_have_exit_code_1(command, file, tmp_path):
    (tmp_path / "out" / "run.nc").mkdir(parents=True)
    code, output, errors = command("run", file, "--out", "out")
    assert (code, output) == (1, "")
    assert "cannot be written" in errors
    assert "Traceback" not in errors


def test_interrupted_run_has_exit_code_130(command, file, monkeypatch):
    monkeypatch.setattr(ullage.api, "simulate_with_bracket", failing(KeyboardInterrupt()))
    code, output, errors = command("run", file)
    assert (code, output) == (130, "")
    assert "Traceback" not in errors


def test_error_inside_says_how_to_see_more_and_has_exit_code_1(command, file, monkeypatch):
    monkeypatch.setattr(ullage.api, "simulate_with_bracket", failing(RuntimeError("inside")))
    code, output, errors = command("run", file)
    assert (code, output) == (1, "")
    assert errors == "internal error: RuntimeError('inside'); set ULLAGE_DEBUG=1 for details and report it\n"


@pytest.mark.parametrize(
    ("error", "code"), [(None, 2), (SimulationError(STATUS_OIL_GONE, 75.0), 1), (RuntimeError("inside"), 1)]
)
def test_debugging_shows_the_traceback_and_keeps_the_exit_code(command, file, monkeypatch, error, code):
    monkeypatch.setenv("ULLAGE_DEBUG", "1")
    if error is None:
        file = "none.toml"
    else:
        monkeypatch.setattr(ullage.api, "simulate_with_bracket", failing(error))
    found, output, errors = command("run", file)
    assert (found, output) == (code, "")
    assert "Traceback (most recent call last)" in errors


def test_a_number_without_a_unit_is_a_fault_in_set_too(tmp_path):
    file = tmp_path / "truck.toml"
    file.write_text(truck().to_toml())
    result = CliRunner().invoke(cli.commands, ["check", str(file), "--set", "cap.relief_pressure=16"])
    assert isinstance(result.exception, ScenarioError)
    assert "cap.relief_pressure: 16 has no unit; a pressure difference is wanted" in str(result.exception)


def test_new_writes_a_scenario_that_checks_and_says_what_to_do_next(command, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, output, errors = command("new", "race.toml")
    assert (code, errors) == (0, "")
    assert output.splitlines()[-1] == "Put in your own numbers, then: ullage check race.toml"
    assert command("check", "race.toml", "--quiet") == (0, "", "")
    assert command("new", "quiet.toml", "--quiet") == (0, "", "")
    assert (tmp_path / "quiet.toml").read_text() == (tmp_path / "race.toml").read_text()


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("truck.toml", "is there already and is left as it is; give another name"),
        ("truck.txt", "the name must end in .toml, such as truck.toml"),
        ("none/race.toml", "there is no folder 'none'; make it first"),
    ],
)
@pytest.mark.usefixtures("file")
def test_new_refuses_a_place_in_one_sentence_with_exit_code_2(command, name, words):
    assert command("new", name) == (2, "", f"{name}: {words}\n")
