"""What the command says of wrong files, wrong changes and wrong streams."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

from support import truck


def test_faults_are_printed_as_json_on_the_output(command, file):
    Path(file).write_text(truck().to_toml().replace("fill = 0.8", "fill = 8") + '[foo]\n"b\\n" = 1\n')
    line = truck().to_toml().split("\n").index("fill = 0.8") + 1
    last = len(Path(file).read_text().splitlines()) - 1
    expected = [
        {"file": file, "line": line, "key": "reservoir.fill", "text": "8 is outside 0.3 to 0.97"},
        {"file": file, "line": last, "key": "foo", "text": "unknown key"},
        {"file": "--set", "line": None, "key": "duty.laps", "text": "must be a whole number from 1 to 1000, got 0"},
    ]
    for name in ("check", "run"):
        code, output, errors = command(name, file, "--json")
        assert (code, errors) == (2, "")
        assert json.loads(output) == {"format_version": 1, "outcome": "bad input", "faults": expected[:2]}
    Path(file).write_text(truck().to_toml())
    code, output, errors = command("check", file, "--json", "--set", "duty.laps=0")
    assert (code, errors) == (2, "")
    assert json.loads(output)["faults"] == expected[2:]


def test_more_than_fifty_faults_are_counted(command, file):
    Path(file).write_text("".join(f"key_{number:03} = 1\n" for number in range(70)))
    code, output, errors = command("check", file)
    lines = errors.splitlines()
    assert (code, output, len(lines)) == (2, "", 51)
    assert lines[-1] == "and 26 more"  # 70 keys and six that are missing
    assert len(json.loads(command("check", file, "--json")[1])["faults"]) == 76


def test_terminal_that_knows_no_such_sign_gets_its_escape(file):
    script = shutil.which("ullage", path=str(Path(sys.executable).parent))
    Path(file).write_text(truck({"title": "\N{GREEK CAPITAL LETTER OMEGA}"}).to_toml(), encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": "latin-1:strict"}
    done = subprocess.run([script, "check", file], capture_output=True, env=environment, check=False)
    assert done.returncode == 0
    assert done.stdout.startswith(b"\\u03a9\n")


def test_pipe_is_refused_at_once(command, tmp_path):
    os.mkfifo(tmp_path / "pipe")
    code, output, errors = command("check", str(tmp_path / "pipe"))
    assert (code, output) == (2, "")
    assert errors.endswith("cannot be read: it is not a regular file (- reads a pipe)\n")


def test_standard_input_is_not_read_to_its_end(command, monkeypatch):
    monkeypatch.setattr(sys, "stdin", open("/dev/zero"))  # noqa: SIM115 - closed with the process
    assert command("check", "-") == (2, "", "standard input: is larger than 5 MB\n")


def test_closed_standard_input_is_a_fault(command, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    assert command("check", "-") == (2, "", "standard input: cannot be read: it is closed\n")


def test_every_wrong_change_is_said(command, file):
    wrong = ["", "fill", "cap.kind=open", "cap.kind=open", "=1"]
    code, output, errors = command("check", file, *(part for text in wrong for part in ("--set", text)))
    assert (code, output) == (2, "")
    assert errors.splitlines() == [
        '--set "": write KEY=VALUE',
        "--set fill: write KEY=VALUE",
        "--set cap.kind: is given twice",
        "--set =1: write KEY=VALUE",
    ]


def test_value_that_would_bring_keys_of_its_own_is_text(command, file):
    code, output, errors = command("check", file, "--set", 'title="a"\nformat = 3')
    assert (code, output) == (2, "")
    assert "holds a control character, U+000A" in errors
