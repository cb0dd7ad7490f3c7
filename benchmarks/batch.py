"""How many ten-minute races a second a batch marches, what threads gain, and what it takes of memory.

    python benchmarks/batch.py [--quick]

Checks accuracy first: every member ends as its race alone does, to the last bit, and the races lie close to the same
races at a thousandth of the tolerances; where a relief valve lifts, by the number of its lifts. What threads gain is
set beside what they gain on a loop of bare arithmetic, in turns, in one process: a machine whose cores are busy or
share something gives neither of them its number of cores. Memory is that of a process of its own, beyond what it held
with one slice marched and the table of channels built: parameters, initial and last states, and figures of all members.
Needs Linux. Prints JSON lines with name, value and unit; times and ratios are medians.
"""

from __future__ import annotations

import argparse
import itertools
import os
import statistics
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from figures import FEWER_REPEATS, REPEATS, SCENARIO, TIGHT, Errors, accurate, show
from ullage.compiled import compiled
from ullage.results.batch import SLICE, Batch, Group, batch_of, march_batch, member_figures
from ullage.results.trace import trace_race
from ullage.scenario.compile import Problem, compile_problems
from ullage.scenario.load import load_scenario

RACE = {
    "duty.laps": 1,
    "duty.stop": [],
    "duty.segment": [
        {
            "name": "ten minutes",
            "duration": "10 min",
            "vehicle_speed": "70 km/h",
            "vehicle_speed_spread": "8 km/h",
            "engine_speed": "3800 rpm",
            "engine_speed_spread": "400 rpm",
            "steering_load": "18 bar",
            "steering_load_spread": "12 bar",
            "steering_load_peak": "90 bar",
        }
    ],
}
CAPS = ["7 psi", "16 psi"]
FILLS = [0.80, 0.90]
PUMPS = ["26 cm3", "28 cm3", "30 cm3", "32 cm3"]
MEMBERS, FEWER_MEMBERS = 100_000, 2_000
CORES = os.cpu_count() or 1


def races(tolerance_factor: float = 1.0) -> list[Problem]:
    """Return ten-minute races of trucks that differ in cap, fill and pump; they share a table."""
    base = load_scenario(SCENARIO).replace(RACE)
    keys = "cap.relief_pressure", "reservoir.fill", "pump.displacement"
    trucks = [base.replace(dict(zip(keys, values, strict=True))) for values in itertools.product(CAPS, FILLS, PUMPS)]
    return list(compile_problems((truck.spec for truck in trucks), tolerance_factor))


def repeated(problems: list[Problem], members: int) -> Batch:
    """Return a batch that goes through races again and again."""
    few = batch_of(problems)
    (group,) = few.groups
    members_all = np.arange(members)
    place = members_all % len(problems)
    return Batch(few.parameters[place], few.states[place], (Group(group.table, members_all),))


def errors(problems: list[Problem], fine: list[Problem]) -> tuple[float, float, int]:
    """Return the largest errors against finer tolerances: temperature [K], pressure without lifts [Pa], lifts."""
    kelvin, pascal, lifts = 0.0, 0.0, 0
    for one, other in zip(problems, fine, strict=True):
        usual, true = trace_race(one), trace_race(other)
        kelvin = max(kelvin, float(np.max(np.abs(usual.rows.oil_temperature - true.rows.oil_temperature))))
        lifts = max(lifts, abs(int(usual.state.relief_openings - true.state.relief_openings)))
        if true.state.relief_openings == 0:
            pascal = max(pascal, float(np.max(np.abs(usual.rows.headspace_pressure - true.rows.headspace_pressure))))
    return kelvin, pascal, lifts


def members_that_differ(problems: list[Problem], batch: Batch) -> int:
    """Return how many members of a batch do not end as their races alone, to the last bit."""
    marched = march_batch(batch)
    alone = [trace_race(problem).state.tobytes() for problem in problems]
    return sum(state.tobytes() != alone[place % len(alone)] for place, state in enumerate(marched.states))


@compiled
def empty_loop(count: int) -> float:
    """Do `count` dependent multiplications and additions: nothing that two cores could share but the machine."""
    total = 1.0
    for _ in range(count):
        total = 0.999 * total + 1.0
    return total


def empty_seconds(count: int, slices: int, workers: int) -> float:
    """Return how long slices of empty loops take over threads [s]."""
    start = time.perf_counter()
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(empty_loop, [count] * slices))
    return time.perf_counter() - start


def batch_seconds(batch: Batch, workers: int) -> float:
    """Return how long a batch takes over threads [s]."""
    start = time.perf_counter()
    march_batch(batch, workers=workers)
    return time.perf_counter() - start


def gains(batch: Batch, repeats: int) -> None:
    """Print races a second and what threads gain on the batch and on an empty loop, in turns."""
    slices = -(-len(batch.parameters) // SLICE)
    trial = 1_000_000
    of_batch = min(batch_seconds(batch, 1) for _ in range(3))
    of_loop = min(empty_seconds(trial, slices, 1) for _ in range(3))
    count = int(trial * of_batch / of_loop)  # a slice of loops lasts as long as a slice of races
    times = [
        (
            batch_seconds(batch, 1),
            empty_seconds(count, slices, 1),
            batch_seconds(batch, CORES),
            empty_seconds(count, slices, CORES),
        )
        for _ in range(repeats)
    ]
    show("races_per_second", len(batch.parameters) / statistics.median(each[2] for each in times), "1/s")
    show("threads", CORES, "1")
    show("thread_gain", statistics.median(each[0] / each[2] for each in times), "1")
    show("empty_loop_gain", statistics.median(each[1] / each[3] for each in times), "1")
    over = statistics.median(each[0] * each[3] / (each[2] * each[1]) for each in times)
    show("thread_gain_over_empty_loop", over, "1")


def resident(kind: str) -> int:
    """Return what this process holds of memory, `VmRSS` now or `VmHWM` at its peak [bytes]."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return 1024 * int(next(line for line in lines if line.startswith(kind)).split()[1])


def memory(members: int) -> None:
    """Print what a batch adds to the memory of this process at its worst [MB]."""
    problems = races()
    member_figures(march_batch(repeated(problems, SLICE)))
    Path("/proc/self/clear_refs").write_text("5")  # the peak counts from here
    before = resident("VmRSS")
    data = member_figures(march_batch(repeated(problems, members)))
    if set(data.status.values) != {"done"}:
        raise SystemExit("a member failed: no figure of memory")
    name = "batch_memory_mb" if members == MEMBERS else f"batch_memory_mb_{members}_members"
    show(name, (resident("VmHWM") - before) / 1e6, "MB")


def main() -> int:
    """Check, then measure."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer repetitions, a smaller batch for the memory")
    parser.add_argument("--memory", type=int, metavar="MEMBERS", help="only the memory of a batch, in this process")
    arguments = parser.parse_args()
    if arguments.memory:
        memory(arguments.memory)
        return 0
    problems = races()
    kelvin, pascal, lifts = errors(problems, races(TIGHT))
    show("temperature_error_k", kelvin, "K")
    show("pressure_error_pa", pascal, "Pa")
    show("relief_openings_error", lifts, "1")
    batch = repeated(problems, (1 if arguments.quick else 4) * SLICE * CORES)
    different = members_that_differ(problems, batch)
    show("members_that_differ", different, "1")
    if not accurate(Errors(kelvin, pascal)) or lifts or different:
        return 1
    gains(batch, FEWER_REPEATS if arguments.quick else REPEATS)
    members = FEWER_MEMBERS if arguments.quick else MEMBERS
    subprocess.run([sys.executable, __file__, "--memory", str(members)], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
