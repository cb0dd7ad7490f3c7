"""What the benchmarks share: the demo race with its cap opened, errors and what they may be, timing in turns."""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.duty.channels import ChannelTable
from ullage.kernel.march import march
from ullage.kernel.modes import empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.kernel.setting import begin
from ullage.kernel.state import Scratch, copied, empty_record
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.load import load_scenario

Array = NDArray[np.float64]

ROOT = Path(__file__).parent.parent
SCENARIO = ROOT / "scenarios" / "ironwood.toml"
STOP, REFITTED_AFTER = "first pit", 120.0
OPENING = [
    {"action": "cap off", "stop": STOP, "after": "60 s"},
    {"action": "cap on", "stop": STOP, "after": f"{REFITTED_AFTER} s"},
]
SHORT = {
    "duty.laps": 2,
    "duty.segment": [
        {
            "name": "two-track",
            "duration": "10 min",
            "vehicle_speed": "55 km/h",
            "vehicle_speed_spread": "9 km/h",
            "engine_speed": "4600 rpm",
            "engine_speed_spread": "550 rpm",
            "steering_load": "18 bar",
            "steering_load_spread": "11 bar",
            "steering_load_peak": "70 bar",
            "elevation": "1100 m",
        }
    ],
    "duty.stop": [{"name": STOP, "after_lap": 1, "duration": "6 min", "engine": "on", "engine_speed": "900 rpm"}],
}
MOST_KELVIN, MOST_PASCAL = 0.02, 50.0  # what the march promises, everywhere
TIGHT = 0.001
REPEATS, FEWER_REPEATS = 7, 3

clock = time.process_time  # [s] of this process: what else runs on the machine counts less


def show(name: str, value: float, unit: str) -> None:
    """Print one figure as a JSON line."""
    print(json.dumps({"name": name, "value": float(f"{value:.4g}"), "unit": unit}), flush=True)


def quick_asked(description: str | None) -> bool:
    """Read the command line; return whether the quick version is asked for."""
    parser = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer repetitions and a shorter race where one lasts")
    return bool(parser.parse_args().quick)


def demo_race(changes: Mapping[str, Any] | None = None, tolerance_factor: float = 1.0) -> Problem:
    """Return the demo race, 5 h at 1 Hz, with its cap taken off in a stop for a minute and put on again."""
    scenario = load_scenario(SCENARIO).replace({"event": OPENING, **(changes or {})})
    return compile_problem(scenario.spec, tolerance_factor)


def refit_time(problem: Problem) -> float:
    """Return when the cap is put on again [s]."""
    return next(stop.start for stop in problem.stops if stop.name == STOP) + REFITTED_AFTER


def samples_of(table: ChannelTable) -> int:
    """Return in how many intervals a race is marched."""
    return int(np.count_nonzero(np.diff(table.time)))


class Solution(NamedTuple):
    """What is compared: time [s], four oil temperatures [K] and headspace pressure [Pa] at every sample."""

    time: Array
    temperature: Array
    pressure: Array


def solution_of(rows: Rows) -> Solution:
    """Return what is compared of the results of a march."""
    return Solution(rows.time, rows.oil_temperature, rows.headspace_pressure)


class Errors(NamedTuple):
    """Largest differences from a reference: oil temperature [K], headspace pressure [Pa]."""

    kelvin: float
    pascal: float

    def within(self, kelvin: float, pascal: float) -> bool:
        """Return whether both are small enough; what is not a number is not."""
        return self.kelvin <= kelvin and self.pascal <= pascal


def errors(found: Solution, reference: Solution, since: float = -np.inf) -> Errors:
    """Return the errors of a solution from a time on."""
    late = found.time >= since
    kelvin = np.max(np.abs(found.temperature - reference.temperature)[late])
    return Errors(float(kelvin), float(np.max(np.abs(found.pressure - reference.pressure)[late])))


def accurate(found: Errors) -> bool:
    """Return whether the march keeps its promise; say so if not."""
    kept = found.within(MOST_KELVIN, MOST_PASCAL)
    if not kept:
        print("the march is not accurate: no timing", file=sys.stderr)
    return kept


def march_seconds(problem: Problem) -> Callable[[], float]:
    """Return a call that times the march alone, into memory that is there already [s]."""
    table, w = problem.table, empty_record(Scratch)
    rows = np.recarray(len(table.output_time), dtype=OUTPUT_DTYPE)
    log = empty_log(table.time[0], table.time[-1])

    def timed() -> float:
        state = copied(problem.state)
        begin(problem.parameters, state, table.channels, rows, log)
        start = clock()
        march(
            problem.parameters,
            state,
            w,
            table.time,
            table.channels,
            0,
            len(table.time) - 1,
            table.output_rows,
            rows,
            log,
        )
        return clock() - start

    timed()
    return timed


def in_turns(calls: Sequence[Callable[[], float]], quick: bool) -> Array:
    """Return what calls return, each in turn and all again: one row a round."""
    return np.array([[call() for call in calls] for _ in range(FEWER_REPEATS if quick else REPEATS)])


def median(values: Array) -> float:
    """Return the median of some figures."""
    return statistics.median(values.tolist())
