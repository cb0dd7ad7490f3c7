"""How far the march is from its floor: one evaluation of the balances for every sample of the duty cycle.

    python benchmarks/floor.py [--quick]

Checks accuracy first, on the demo race with its cap taken off in a stop and put on again, against the same race at a
thousandth of the tolerances. Then times one evaluation of all balances and the whole march in turns, in one process.
Prints JSON lines with name, value and unit; times and ratio are medians.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from ullage.compiled import compiled
from ullage.kernel.air_exchange import stream_of
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.headspace import GasSetting, gas_rates, pressure_now, stage_now
from ullage.kernel.heat import balance, fill_matrix, node_rates
from ullage.kernel.march import march
from ullage.kernel.modes import empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE
from ullage.kernel.params import forcing_between
from ullage.kernel.setting import begin
from ullage.kernel.state import RESERVOIR, Scratch, copied, empty_record
from ullage.kernel.stores import headspace_volume, node_masses
from ullage.results.trace import Trace, trace_race
from ullage.scenario.compile import Problem, compile_problem
from ullage.scenario.load import load_scenario

SCENARIO = Path(__file__).parent.parent / "scenarios" / "ironwood.toml"
STOP = "first pit"
OPENING = [
    {"action": "cap off", "stop": STOP, "after": "60 s"},
    {"action": "cap on", "stop": STOP, "after": "120 s"},
]
MOST_KELVIN, MOST_PASCAL = 0.02, 50.0


def show(name: str, value: float, unit: str) -> None:
    """Print one figure as a JSON line."""
    print(json.dumps({"name": name, "value": float(f"{value:.4g}"), "unit": unit}), flush=True)


@compiled
def evaluate(p, s, w, channels, rows, count):  # type: ignore[no-untyped-def] # noqa: ANN001, ANN201
    """Evaluate all balances of oil and gas `count` times, at the channels of some rows; return a sum of rates."""
    total = 0.0
    value = (s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air)
    for k in range(count):
        forcing = forcing_between(channels, k % rows, 0.5)
        here = s.temperature[RESERVOIR]
        b = balance(p, s, forcing, s.temperature)
        masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, b.density)
        fill_matrix(p, forcing, b, masses, s.temperature, s.temperature_rate, 0.0, w.middle_matrix, w.middle_source)
        node_rates(w.middle_matrix, w.middle_source, s.temperature, w.rate)
        volume = headspace_volume(p, masses.reservoir, here, b.supply.density)
        span = Span(0.0, 1.0, volume, volume, here, here)
        problem = gas_problem(p, s, span, forcing, forcing, stream_of(s, b.flows, b.supply))
        setting = GasSetting(problem, cap_areas(p, s))
        gas = stage_now(value, 0.0, pressure_now(value, 0.0, problem), setting).gas
        total += w.rate[0] + w.rate[1] + w.rate[2] + w.rate[3] + gas_rates(gas)[0]
    return total


def evaluation_seconds(problem: Problem, count: int) -> Callable[[], float]:
    """Return a call that times an evaluation in the middle of a race, in one compiled loop [s]."""
    trace = trace_race(problem)
    w = empty_record(Scratch)
    channels = problem.table.channels

    def timed() -> float:
        start = time.perf_counter()
        evaluate(problem.parameters, trace.state, w, channels, len(channels) - 1, count)
        return (time.perf_counter() - start) / count

    timed()
    return timed


def march_seconds(problem: Problem) -> Callable[[], float]:
    """Return a call that times the march alone, into memory that is there already [s]."""
    table, w = problem.table, empty_record(Scratch)
    rows = np.recarray(len(table.output_time), dtype=OUTPUT_DTYPE)
    log = empty_log(table.time[0], table.time[-1])

    def timed() -> float:
        state = copied(problem.state)
        begin(problem.parameters, state, table.channels, rows, log)
        start = time.perf_counter()
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
        return time.perf_counter() - start

    timed()
    return timed


def errors(coarse: Trace, fine: Trace, refit: float) -> tuple[float, float, float]:
    """Return the largest errors of oil temperature [K] and headspace pressure [Pa], and that after the refit [Pa]."""
    kelvin = np.max(np.abs(coarse.rows.oil_temperature - fine.rows.oil_temperature))
    pascal = np.abs(coarse.rows.headspace_pressure - fine.rows.headspace_pressure)
    return float(kelvin), float(np.max(pascal)), float(np.max(pascal[coarse.rows.time > refit]))


def main() -> int:
    """Check, then time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer repetitions")
    quick = parser.parse_args().quick
    spec = load_scenario(SCENARIO).replace({"event": OPENING}).spec
    problem = compile_problem(spec)
    coarse = trace_race(problem)
    refit = next(stop.start for stop in problem.stops if stop.name == STOP) + 120.0
    kelvin, pascal, later = errors(coarse, trace_race(compile_problem(spec, 0.01 if quick else 0.001)), refit)
    show("temperature_error_k", kelvin, "K")
    show("pressure_error_pa", pascal, "Pa")
    show("pressure_error_after_refit_pa", later, "Pa")
    if kelvin > MOST_KELVIN or pascal > MOST_PASCAL:
        print("the march is not accurate: no timing", file=sys.stderr)
        return 1
    samples = len(problem.table.time) - 1
    one, whole = evaluation_seconds(problem, 20_000), march_seconds(problem)
    pairs = [(one(), whole()) for _ in range(3 if quick else 7)]
    show("evaluation_us", 1e6 * statistics.median(pair[0] for pair in pairs), "us")
    show("march_ms", 1e3 * statistics.median(pair[1] for pair in pairs), "ms")
    show("march_over_floor", statistics.median(pair[1] / (samples * pair[0]) for pair in pairs), "1")
    show("evaluations_per_sample", coarse.state.evaluations / samples, "1")
    show("steps_per_sample", coarse.state.steps / samples, "1")
    return 0


if __name__ == "__main__":
    sys.exit(main())
