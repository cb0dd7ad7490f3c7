"""The duty cycle of a scenario as a Dataset and as a table that can be driven again as a recording."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from ullage.duty.channels import ChannelTable
from ullage.duty.course import join
from ullage.duty.laps import Piece
from ullage.duty.profile import Array
from ullage.kernel.params import CHANNEL_INDEX
from ullage.results.store import written_whole
from ullage.results.variables import COORDINATES, DUTY_VARIABLES, attributes
from ullage.scenario.compile import compile_problem
from ullage.scenario.duty_facts import duty_facts
from ullage.scenario.load import Scenario
from ullage.scenario.race import race_pieces

DUTY_TABLE = "duty.csv"
DUTY_FACTS = "duty.json"

_JUMP = 4e-10  # times of a table must increase: less than the race clock tells apart is read back as a jump [s]
_KINDS = {"vehicle_speed": "speed", "steering_load": "hydraulic pressure", "elevation": "length"}


def duty_cycle(scenario: Scenario) -> xr.Dataset:
    """Return what the truck is driven through, as the march takes it.

    Parameters
    ----------
    scenario : Scenario
        A checked scenario.

    Returns
    -------
    xarray.Dataset
        Speeds, load, elevation and accelerations over `time`, SI: at every sample and wherever a channel bends, twice
        where one jumps. The engine turns as events let it. Statistics and stops are attributes.
    """
    spec = scenario.spec
    pieces, stops = race_pieces(spec)
    table = compile_problem(spec).table
    lap, elevation = _along(table, pieces)
    driven = {name: table.channels[:, CHANNEL_INDEX[name]] for name in DUTY_VARIABLES if name in CHANNEL_INDEX}
    driven["elevation"] = elevation
    variables = {name: ("time", driven[name], _attributes(name)) for name in DUTY_VARIABLES}
    coordinates = {
        "time": ("time", table.time, attributes(COORDINATES["time"])),
        "lap": ("time", lap, attributes(COORDINATES["lap"])),
    }
    told = {
        "title": spec.title,
        "duty_statistics": json.dumps(duty_facts(spec)),
        "pump_relief_pressure": spec.pump.relief_pressure,
        "stops": json.dumps([asdict(stop) for stop in stops]),
    }
    return xr.Dataset(variables, coordinates, told)


def _attributes(name: str) -> dict[str, str]:
    kind = {"kind": _KINDS[name]} if name in _KINDS else {}
    return attributes(DUTY_VARIABLES[name]) | kind


def _along(table: ChannelTable, pieces: Sequence[Piece]) -> tuple[NDArray[np.int64], Array]:
    """Return lap and elevation at every row; of two rows at one time the second belongs to what follows."""
    time, course = table.time, join(pieces)
    follows = np.append(True, time[1:] == time[:-1])
    rows = np.arange(len(time))
    middle = 0.5 * (time[np.where(follows, rows, rows - 1)] + time[np.where(follows, rows + 1, rows)])
    leg = course.leg(middle)
    return np.array([piece.lap for piece in pieces])[course.piece[leg]], course.at(time, leg).elevation


def save_duty_table(duty: xr.Dataset, path: str | Path) -> None:
    """Write a duty cycle as comma-separated text that `[duty.recording]` takes back.

    Parameters
    ----------
    duty : xarray.Dataset
        As `duty_cycle` returns it.
    path : str or Path
        File; one that exists is replaced in one step, and stays as it is if the writing fails.

    Raises
    ------
    ResultsError
        If the file cannot be written.
    """
    time = duty.time.values + np.append(0.0, np.where(np.diff(duty.time.values) > 0.0, 0.0, _JUMP))
    columns = [time, *(duty[name].values for name in DUTY_VARIABLES), duty.lap.values]
    headers = ["time (s)", *(f"{name} ({_slashed(item.units)})" for name, item in DUTY_VARIABLES.items()), "lap"]
    forms = ["%.10f", *["%.12g"] * len(DUTY_VARIABLES), "%d"]
    with written_whole(path) as part:
        np.savetxt(part, np.column_stack(columns), forms, ",", header=",".join(headers), comments="", encoding="utf-8")


def _slashed(units: str) -> str:
    """Write units as a scenario file does: m/s2 for m s-2."""
    return units.replace(" s-1", "/s").replace(" s-2", "/s2")
