"""The command that makes a unit of co-simulation, and how it ends where it cannot."""

import json
import zipfile

import pytest

from ullage.cautions import SHORT_CAUTION


@pytest.mark.export
def test_unit_is_made_and_what_it_has_is_said(command, file, tmp_path):
    unit = tmp_path / "truck.fmu"
    code, output, errors = command("export", file, "--fmu", str(unit), "--set", "cap.relief_pressure=13 psi")
    assert (code, errors) == (0, "")
    assert "28 inputs" in output
    assert "no Python" in output
    assert output.endswith(f"{SHORT_CAUTION}\n")
    with zipfile.ZipFile(unit) as archive:
        assert "13 psi" in archive.read("resources/scenario.toml").decode()
    code, output, errors = command("export", file, "--fmu", str(unit), "--json")
    found = json.loads(output)
    assert (code, errors, found["fmu"]) == (0, "", str(unit))
    assert (found["fmi_version"], found["bytes"]) == ("2.0", unit.stat().st_size)
    assert command("export", file, "--fmu", str(unit), "--quiet") == (0, "", "")


def test_name_that_is_no_unit_is_a_wrong_option(command, file, tmp_path):
    code, output, errors = command("export", file, "--fmu", str(tmp_path / "truck.zip"))
    assert (code, output) == (2, "")
    assert "ends in .fmu" in errors
    assert command("export", file)[0] == 2


def test_fault_of_the_scenario_is_said_before_anything_is_made(command, file, tmp_path):
    unit = tmp_path / "truck.fmu"
    code, output, errors = command("export", file, "--fmu", str(unit), "--set", "reservoir.fill=2")
    assert (code, output) == (2, "")
    assert "reservoir.fill" in errors
    assert not unit.exists()


def test_without_a_compiler_it_fails_with_a_sentence_or_json(command, file, tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CC", raising=False)
    unit = tmp_path / "truck.fmu"
    code, output, errors = command("export", file, "--fmu", str(unit))
    assert (code, output) == (1, "")
    assert "C compiler" in errors
    code, output, errors = command("export", file, "--fmu", str(unit), "--json")
    assert (code, errors) == (1, "")
    assert "C compiler" in json.loads(output)["reason"]
    assert not unit.exists()
