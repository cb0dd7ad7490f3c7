"""A study of some hundred short races, and the command that runs it as a process of its own."""

import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
import xarray as xr

import ullage as ul
from support import truck

COMMAND = [sys.executable, "-c", "from ullage.cli import script; script()", "study"]

STUDY = """\
format = 1
title = "Caps and fills (invented data)"
scenario = "truck.toml"

[[axis]]
key = "cap.relief_pressure"
low = "6 psi"
high = "20 psi"
steps = {caps}

[[axis]]
key = "reservoir.fill"
low = 0.70
high = 0.90
steps = {fills}
"""


def write_study(folder: Path, caps: int = 32, fills: int = 32) -> Path:
    """Write a study of ten-minute races and its scenario, and return the study's file."""
    (folder / "truck.toml").write_text(truck().to_toml(), encoding="utf-8")
    file = folder / "study.toml"
    file.write_text(STUDY.format(caps=caps, fills=fills), encoding="utf-8")
    return file


def study_command(file: Path, folder: Path, *options: str) -> list[str]:
    """Return the command that runs a study."""
    return [*COMMAND, str(file), "--out", str(folder), *options]


def run_study_command(
    file: Path, folder: Path, *options: str, environment: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run a study to its end, however it ends."""
    command = study_command(file, folder, *options)
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)


def complete(folder: Path) -> list[str]:
    """Return the names of the shards that are complete."""
    return sorted(each.name for each in (folder / "shards").glob("*.h5"))


def results_of(folder: Path) -> xr.Dataset:
    """Return what a folder holds of a study, read from its file alone."""
    return ul.open_results(folder).load()


def differences(one: xr.Dataset, other: xr.Dataset) -> list[str]:
    """Return the names of what differs between two Datasets in a single bit, in attributes or in type."""
    names = sorted(set(one.variables) | set(other.variables), key=str)
    found = [str(name) for name in names if not _same(one.variables.get(name), other.variables.get(name))]
    return found + [f"attribute {each}" for each in _unlike(one.attrs, other.attrs)]


def _same(one: xr.Variable | None, other: xr.Variable | None) -> bool:
    if one is None or other is None or one.dims != other.dims or one.dtype != other.dtype:
        return False
    if _unlike(one.attrs, other.attrs):
        return False
    if one.dtype.kind == "f":
        return one.values.tobytes() == other.values.tobytes()
    return bool(np.array_equal(one.values, other.values))


def _unlike(one: Mapping[str, object], other: Mapping[str, object]) -> Iterable[str]:
    return [
        str(name)
        for name in sorted(set(one) | set(other), key=str)
        if name not in one or name not in other or not np.array_equal(one[name], other[name])
    ]
