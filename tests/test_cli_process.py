"""The command as a part of another program: what it is sent, what comes back, and how it ends."""

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import fastjsonschema
import pytest

import ullage.api
from study_files import BOILING, SHORT
from support import truck
from ullage.errors import STATUS_OIL_GONE, SimulationError
from ullage.results.summary_schema import schema_text, summary_schema

ROOT = Path(__file__).parents[1]
ANSWER = fastjsonschema.compile(summary_schema())


def command_line(*arguments):
    return [shutil.which("ullage", path=str(Path(sys.executable).parent)), *arguments]


def call(*arguments, text=b"", **options):
    """Run the installed command and return exit code, output and errors."""
    done = subprocess.run(command_line(*arguments), input=text, capture_output=True, check=False, **options)
    return done.returncode, done.stdout, done.stderr


def refused(token):
    raise AssertionError(f"{token} is no JSON")


def answer(output):
    """Return the one object of an output, which must conform to the published schema."""
    assert output.endswith(b"}\n")
    assert output.isascii()
    found = json.loads(output, parse_constant=refused)
    ANSWER(found)
    return found


TRUCK = truck({"title": "Ω (invented)"}).to_toml()


def test_scenario_on_standard_input_gives_one_object_on_standard_output():
    code, output, errors = call("run", "-", "--json", text=TRUCK.encode())
    assert (code, errors) == (0, b"")
    assert answer(output)["title"] == "Ω (invented)"
    dressed = b"\xef\xbb\xbf" + TRUCK.replace("\n", "\r\n").encode()  # as a spreadsheet saves it
    assert call("run", "-", "--json", text=dressed) == (0, output, b"")


def test_output_is_the_same_whatever_the_terminal_can_print():
    found = {
        encoding: call("run", "-", "--json", text=TRUCK.encode(), env={**os.environ, "PYTHONIOENCODING": encoding})
        for encoding in ("utf-8", "latin-1:strict")
    }
    assert found["utf-8"] == found["latin-1:strict"]


def test_files_that_standard_input_names_are_looked_for_in_the_working_folder(tmp_path):
    text = (ROOT / "scenarios" / "logger_lap.toml").read_bytes()
    code, output, _ = call("run", "-", "--json", text=text, cwd=ROOT / "scenarios")
    assert (code, answer(output)["outcome"]) == (0, "done")
    code, output, errors = call("run", "-", "--json", text=text, cwd=tmp_path)
    assert (code, errors) == (2, b"")
    assert answer(output)["faults"][0]["file"] == "logger_invented.csv"


@pytest.mark.parametrize(("text", "words"), [(b"", "is empty"), (b"[[[", "not a TOML file"), (b"\xe9", "not UTF-8")])
def test_bad_standard_input_has_exit_code_2_and_its_faults_on_the_output(text, words):
    for quiet in ([], ["--quiet"]):
        code, output, errors = call("run", "-", "--json", *quiet, text=text)
        assert (code, errors) == (2, b"")
        found = answer(output)
        assert found["outcome"] == "bad input"
        assert found["faults"][0]["file"] == "standard input"
        assert words in found["faults"][0]["text"]


def test_text_that_is_nested_without_end_is_bad_input():
    code, output, errors = call("run", "-", "--json", text=b"a = " + b"[" * 100_000)
    assert (code, errors) == (2, b"")
    assert "nested more than 20 deep" in answer(output)["faults"][0]["text"]


def test_race_that_cannot_be_finished_has_exit_code_1_and_its_figures_up_to_there():
    code, output, errors = call("run", "-", "--json", text=truck(SHORT | BOILING).to_toml().encode())
    assert (code, errors) == (1, b"")
    found = answer(output)
    assert (found["outcome"], found["reason"]) == ("failed", "the reservoir has run out of oil")
    assert 10.0 < found["figures"]["duration"] <= found["time"] < 120.0  # water got in at 10 s


def test_wrong_options_are_a_mistake_of_the_caller_and_said_on_standard_error_alone():
    code, output, errors = call("run", "-", "--json", "--quick", text=TRUCK.encode())
    assert (code, output) == (2, b"")
    assert b"No such option" in errors


def test_results_that_cannot_be_written_have_exit_code_1_and_a_reason_on_the_output(tmp_path):
    (tmp_path / "file").touch()
    code, output, errors = call("run", "-", "--json", "--out", "file/results", text=TRUCK.encode(), cwd=tmp_path)
    assert (code, errors) == (1, b"")
    assert answer(output)["reason"].startswith("file/results: cannot be made: ")


def test_quiet_leaves_the_exit_code_and_the_files(tmp_path):
    found = call("run", "-", "--json", "--quiet", "--out", "results", text=TRUCK.encode(), cwd=tmp_path)
    assert found == (0, b"", b"")
    answer((tmp_path / "results" / "summary.json").read_bytes())


def test_reader_that_is_gone_ends_the_command_with_exit_code_1_and_without_a_word():
    gone, output = os.pipe()
    os.close(gone)
    with open(output, "wb") as closed:
        done = subprocess.run(
            command_line("run", "-", "--json"), input=TRUCK.encode(), stdout=closed, stderr=subprocess.PIPE, check=False
        )
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM])
def test_interrupt_has_exit_code_130_and_no_answer(sent):
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command_line("run", "-", "--json"), **pipes) as process:
        process.stdin.write(b"# more than a pipe holds: once it is written, the command is reading\n" * 20_000)
        process.stdin.flush()
        process.send_signal(sent)
        output, errors = process.communicate(timeout=60)
    assert (process.returncode, output, errors.strip()) == (130, b"", b"")


def test_failed_race_has_exit_code_1_and_says_when_and_why_on_the_output(command, file, monkeypatch):
    def fail(scenario):
        raise SimulationError(STATUS_OIL_GONE, 75.0, ullage.api.simulate(scenario))

    monkeypatch.setattr(ullage.api, "simulate_with_bracket", fail)
    for quiet in ([], ["--quiet"]):
        code, output, errors = command("run", file, "--json", *quiet)
        assert (code, errors) == (1, "")
        found = answer(output.encode())
        assert (found["outcome"], found["reason"], found["time"]) == (
            "failed",
            "the reservoir has run out of oil",
            75.0,
        )
        assert found["remedy"].startswith("cap, neck or a leak let out more than it held")
        assert found["figures"]["laps"] == 1


def test_error_inside_is_an_answer_too_and_its_traceback_stays_off_the_output(command, file, monkeypatch):
    def fail(_):
        raise RuntimeError("inside")

    monkeypatch.setattr(ullage.api, "simulate_with_bracket", fail)
    monkeypatch.setenv("ULLAGE_DEBUG", "1")
    code, output, errors = command("run", file, "--json")
    assert code == 1
    assert answer(output.encode())["reason"].startswith("internal error: RuntimeError('inside')")
    assert "Traceback" in errors


def test_schema_is_printed_without_a_file_and_is_the_published_one(command):
    assert command("run", "--schema") == (0, schema_text(), "")
    assert (ROOT / "docs" / "summary.schema.json").read_text(encoding="utf-8") == schema_text()
