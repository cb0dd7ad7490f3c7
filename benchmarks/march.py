"""Time the march of the demo race on one core, after checking its accuracy.

    python benchmarks/march.py

Prints JSON lines with name, value and unit. The reference is the same race at a hundredth of the tolerances.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from pathlib import Path

import numpy as np

from ullage.results.trace import Trace, trace_race
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.load import load_scenario

SCENARIO = Path(__file__).parent.parent / "scenarios" / "ironwood.toml"
REPEATS = 7
MOST_KELVIN = 0.02
MOST_PASCAL = 50.0
MOST_SECONDS = 0.05


def show(name: str, value: float, unit: str) -> None:
    """Print one figure as a JSON line."""
    print(json.dumps({"name": name, "value": float(f"{value:.4g}"), "unit": unit}))


def march_seconds(problem: Problem) -> float:
    """Return the median time of a march [s]."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        trace_race(problem)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def differences(coarse: Trace, fine: Trace) -> tuple[float, float]:
    """Return the largest difference of oil temperature [K] and headspace pressure [Pa] between two traces."""
    kelvin = np.max(np.abs(coarse.rows.oil_temperature - fine.rows.oil_temperature))
    pascal = np.max(np.abs(coarse.rows.headspace_pressure - fine.rows.headspace_pressure))
    return float(kelvin), float(pascal)


def main() -> int:
    """Check, then time."""
    spec = load_scenario(SCENARIO).spec
    problem = compile_problem(spec)
    kelvin, pascal = differences(trace_race(problem), trace_race(compile_problem(spec, 0.01)))
    show("temperature_error", kelvin, "K")
    show("pressure_error", pascal, "Pa")
    if kelvin > MOST_KELVIN or pascal > MOST_PASCAL:
        print("the march is not accurate: no timing", file=sys.stderr)
        return 1
    seconds = march_seconds(problem)
    show("march", 1000.0 * seconds, "ms")
    show("march_per_row", 1e6 * seconds / len(problem.table.time), "us")
    show("march_over_limit", seconds / MOST_SECONDS, "1")
    return 0


if __name__ == "__main__":
    sys.exit(main())
