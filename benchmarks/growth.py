"""How the time of the march grows with the number of races and with their length: exponents, 1 if in proportion.

    python benchmarks/growth.py [--quick]

Checks accuracy first: the races that are timed keep what the march promises, held against themselves at a thousandth of
the tolerances, and every member of a batch ends as its race alone does, to the last bit. Sizes are timed in
turns, in one process; an exponent is the slope of a straight line through the logarithms of medians.
Prints JSON lines with name, value and unit.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence

import numpy as np

from figures import (
    SHORT,
    TIGHT,
    Array,
    Errors,
    accurate,
    clock,
    demo_race,
    errors,
    in_turns,
    march_seconds,
    quick_asked,
    samples_of,
    show,
    solution_of,
)
from ullage.results.batch import Batch, batch_of, march_batch
from ullage.results.trace import trace_race
from ullage.scenario.compile import Problem

MEMBERS, FEWER_MEMBERS = (8, 16, 32, 64, 128), (4, 8, 16, 32)
LAPS, FEWER_LAPS = (3, 6, 12, 24, 48), (3, 6, 12, 24)  # of ten minutes: half an hour to eight hours


def race_of(laps: int, tolerance_factor: float = 1.0) -> Problem:
    """Return a race of some laps without a stop."""
    return demo_race({**SHORT, "duty.laps": laps, "duty.stop": [], "event": []}, tolerance_factor)


def largest_errors(laps: Sequence[int]) -> Errors:
    """Return the largest errors of races of some lengths."""
    found = [
        errors(solution_of(trace_race(race_of(n)).rows), solution_of(trace_race(race_of(n, TIGHT)).rows)) for n in laps
    ]
    return Errors(max(each.kelvin for each in found), max(each.pascal for each in found))


def members_that_differ(problem: Problem, count: int) -> int:
    """Return how many members of a batch do not end as the race alone does, to the last bit."""
    alone = trace_race(problem).state.tobytes()
    return sum(state.tobytes() != alone for state in march_batch(batch_of([problem] * count)).states)


def batch_seconds(batch: Batch) -> Callable[[], float]:
    """Return a call that times a batch, all its threads together [s]."""

    def timed() -> float:
        start = clock()
        march_batch(batch)
        return clock() - start

    return timed


def exponent(sizes: Array, seconds: Array) -> float:
    """Return the exponent with which time grows with size; one row of times a round."""
    return float(np.polyfit(np.log(sizes), np.log(np.median(seconds, axis=0)), 1)[0])


def main() -> int:
    """Check, then time."""
    quick = quick_asked(__doc__)
    counts, laps = (FEWER_MEMBERS, FEWER_LAPS) if quick else (MEMBERS, LAPS)
    largest = largest_errors(laps)
    show("temperature_error_k", largest.kelvin, "K")
    show("pressure_error_pa", largest.pascal, "Pa")
    short = race_of(laps[0])
    different = members_that_differ(short, counts[0])
    show("members_that_differ", different, "1")
    if not accurate(largest) or different:
        return 1
    in_batches = in_turns([batch_seconds(batch_of([short] * count)) for count in counts], quick)
    show("growth_members", exponent(np.array(counts), in_batches), "1")
    races = [race_of(n) for n in laps]
    samples = np.array([samples_of(race.table) for race in races])
    in_lengths = in_turns([march_seconds(race) for race in races], quick)
    show("growth_length", exponent(samples, in_lengths), "1")
    return 0


if __name__ == "__main__":
    sys.exit(main())
