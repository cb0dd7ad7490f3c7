"""How far the march is from its floor: one evaluation of the balances for every sample of the duty cycle.

    python benchmarks/floor.py [--quick]

Checks accuracy first, on the demo race with its cap taken off in a stop and put on again, against the same race at a
thousandth of the tolerances. Then times one evaluation of all balances and the whole march in turns, in one process.
Prints JSON lines with name, value and unit; times and ratio are medians.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

from figures import (
    TIGHT,
    accurate,
    clock,
    demo_race,
    errors,
    in_turns,
    march_seconds,
    median,
    quick_asked,
    refit_time,
    samples_of,
    show,
    solution_of,
)
from ullage.compiled import compiled
from ullage.kernel.air_exchange import stream_of
from ullage.kernel.cap import cap_areas
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.gas_stage import stage_now
from ullage.kernel.headspace import GasSetting, gas_rates, pressure_now
from ullage.kernel.heat import balance, fill_matrix, node_rates
from ullage.kernel.params import forcing_between
from ullage.kernel.state import RESERVOIR, Scratch, empty_record
from ullage.kernel.stores import headspace_volume, node_masses
from ullage.results.trace import trace_race
from ullage.scenario.compile import Problem

EVALUATIONS = 20_000


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


def evaluation_seconds(problem: Problem, count: int = EVALUATIONS) -> Callable[[], float]:
    """Return a call that times an evaluation in the middle of a race, in one compiled loop [s]."""
    trace = trace_race(problem)
    w = empty_record(Scratch)
    channels = problem.table.channels

    def timed() -> float:
        start = clock()
        evaluate(problem.parameters, trace.state, w, channels, len(channels) - 1, count)
        return (clock() - start) / count

    timed()
    return timed


def floor_seconds(problem: Problem) -> Callable[[], float]:
    """Return a call that times as many evaluations as a race has samples [s]."""
    one, samples = evaluation_seconds(problem), samples_of(problem.table)
    return lambda: samples * one()


def main() -> int:
    """Check, then time."""
    quick = quick_asked(__doc__)
    problem = demo_race()
    trace = trace_race(problem)
    found, fine = solution_of(trace.rows), solution_of(trace_race(demo_race(tolerance_factor=TIGHT)).rows)
    largest = errors(found, fine)
    show("temperature_error_k", largest.kelvin, "K")
    show("pressure_error_pa", largest.pascal, "Pa")
    show("pressure_error_after_refit_pa", errors(found, fine, refit_time(problem)).pascal, "Pa")
    if not accurate(largest):
        return 1
    samples = samples_of(problem.table)
    one, whole = in_turns([evaluation_seconds(problem), march_seconds(problem)], quick).T
    show("evaluation_us", 1e6 * median(one), "us")
    show("march_ms", 1e3 * median(whole), "ms")
    show("march_over_floor", median(whole / (samples * one)), "1")
    show("evaluations_per_sample", trace.state.evaluations / samples, "1")
    show("steps_per_sample", trace.state.steps / samples, "1")
    return 0


if __name__ == "__main__":
    sys.exit(main())
