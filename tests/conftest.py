"""Fixtures of the command line: a scenario file in a folder of its own, and the command."""

import os
import sys

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does, before NumPy is loaded

from support import truck
from ullage import cli


@pytest.fixture
def file(tmp_path, monkeypatch):
    """Return the file of the test truck, in the working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ULLAGE_DEBUG", raising=False)
    (tmp_path / "truck.toml").write_text(truck().to_toml(), encoding="utf-8")
    return "truck.toml"


def ullage_command(monkeypatch, capsys, *arguments):
    """Call the console script's function and return exit code, output and errors."""
    monkeypatch.setattr(sys, "argv", ["ullage", *arguments])
    code = 0
    try:
        cli.main()
    except SystemExit as stopped:
        code = stopped.code
    output, errors = capsys.readouterr()
    return code, output, errors


@pytest.fixture
def command(monkeypatch, capsys):
    return lambda *arguments: ullage_command(monkeypatch, capsys, *arguments)
