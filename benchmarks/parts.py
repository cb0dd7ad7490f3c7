"""Where the time of the march goes: what its parts take of a sample.

    python benchmarks/parts.py [--quick]

Checks accuracy first, as `floor.py` does. Each part is timed in a compiled loop over the samples of the demo race, with
the state that the race ends in, and the whole march in turns with them; shares are medians of the part's time, as often
as a sample needs it, over the march's time for a sample. What is left over is what the march does between its parts,
and what a part takes longer amid the others. Prints JSON lines with name, value and unit.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import numpy as np

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
    samples_of,
    show,
    solution_of,
)
from ullage.compiled import compiled
from ullage.kernel.air_exchange import Stream, stream_of
from ullage.kernel.cap import cap_areas
from ullage.kernel.extremes import observe
from ullage.kernel.gas_march import Span, gas_problem
from ullage.kernel.gas_stage import stage_now
from ullage.kernel.headspace import GasSetting, gas_rates
from ullage.kernel.heat import balance, fill_matrix, renewed
from ullage.kernel.oil_step import oil_step
from ullage.kernel.outputs import OUTPUT_DTYPE, outputs
from ullage.kernel.params import forcing_between
from ullage.kernel.state import RESERVOIR, Scratch, copied, empty_record
from ullage.kernel.stores import node_masses
from ullage.results.trace import Trace, trace_race
from ullage.scenario.compile import Problem

COUNT = 20_000


@compiled
def coefficients(p, s, w, channels, rows, out, count):  # noqa: ANN001, ANN201, ARG001
    """Find flows, conductances and the matrix of the oil's balances."""
    for k in range(count):
        forcing = forcing_between(channels, rows[k % len(rows)], 0.5)
        b = balance(p, s, forcing, s.temperature)
        masses = node_masses(p, forcing.steering_position, s.oil_mass, s.temperature, b.density)
        fill_matrix(p, forcing, b, masses, s.temperature, s.temperature_rate, 0.0, w.middle_matrix, w.middle_source)


@compiled
def oil(p, s, w, channels, rows, out, count):  # noqa: ANN001, ANN201, ARG001
    """Make a step of the oil."""
    for k in range(count):
        row = rows[k % len(rows)]
        oil_step(p, s, w, forcing_between(channels, row, 0.5), forcing_between(channels, row, 1.0), 1.0)


@compiled
def rate_sum(value, time, pressure, setting):  # noqa: ANN001, ANN201
    """Evaluate the balances of the air space; return a number that hangs on all of its rates."""
    rates = gas_rates(stage_now(value, time, pressure, setting).gas)
    return rates[0] + rates[1] + rates[2] + rates[3] + rates[4]


@compiled
def gas_setting(p, s, w, channels, rows, out, count):  # noqa: ANN001, ANN201, ARG001
    """Gather what the air space sees in an interval, and evaluate its balances once: else nobody would need it.

    Flows and temperature differ a little from one interval to the next, or most of it would be done but once.
    """
    forcing = forcing_between(channels, 0, 0.0)
    b = balance(p, s, forcing, s.temperature)
    x = stream_of(s, b.flows, b.supply)
    cap, value = cap_areas(p, s), (s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air)
    total = 0.0
    for k in range(count):
        after = forcing_between(channels, rows[k % len(rows)], 1.0)
        more = 1.0 + 1e-6 * (k % 1000)
        here = more * s.temperature[RESERVOIR]
        span = Span(0.0, 1.0, s.clear_volume, s.clear_volume, here, here)
        stream = Stream(
            more * x.feed_flow,
            more * x.ring_flow,
            x.direct_flow,
            x.swept_flow,
            more * x.supply_rise,
            x.port_deficit,
            more * x.viscosity,
        )
        setting = GasSetting(gas_problem(p, s, span, after, after, stream), cap)
        total += rate_sum(value, 1e-3 * (k % 1000), s.air_pressure, setting)
    return total


@compiled
def gas_residual(p, s, w, channels, rows, out, count):  # noqa: ANN001, ANN201, ARG001
    """Evaluate the balances of the air space at a trial pressure."""
    forcing = forcing_between(channels, rows[0], 0.0)
    b = balance(p, s, forcing, s.temperature)
    here = s.temperature[RESERVOIR]
    span = Span(0.0, 1.0, s.clear_volume, s.clear_volume, here, here)
    setting = GasSetting(gas_problem(p, s, span, forcing, forcing, stream_of(s, b.flows, b.supply)), cap_areas(p, s))
    value = (s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air)
    total = 0.0
    for k in range(count):
        total += rate_sum(value, 1e-3 * (k % 1000), s.air_pressure, setting)
    return total


@compiled
def written(p, s, w, channels, rows, out, count):  # noqa: ANN001, ANN201, ARG001
    """Renew the inlet and the pump, write all outputs, watch extremes."""
    b = balance(p, s, forcing_between(channels, rows[0], 0.5), s.temperature)
    for k in range(count):
        forcing = forcing_between(channels, rows[k % len(rows)], 0.5)
        outputs(p, s, forcing, renewed(p, s, forcing, b), out)
        observe(s, out, 0.0, 1.0)


def part_seconds(problem: Problem, trace: Trace, part: Callable[..., Any]) -> Callable[[], float]:
    """Return a call that times a part once [s]."""
    channels = problem.table.channels
    rows = np.flatnonzero(np.diff(problem.table.time) > 0.0)
    out = np.recarray(1, dtype=OUTPUT_DTYPE)[0]
    state, w = copied(trace.state), empty_record(Scratch)

    def timed() -> float:
        start = clock()
        part(problem.parameters, state, w, channels, rows, out, COUNT)
        return (clock() - start) / COUNT

    timed()
    return timed


def main() -> int:
    """Check, then time."""
    quick = quick_asked(__doc__)
    problem = demo_race()
    trace = trace_race(problem)
    if not accurate(errors(solution_of(trace.rows), solution_of(trace_race(demo_race(tolerance_factor=TIGHT)).rows))):
        return 1
    samples = samples_of(problem.table)
    parts = (coefficients, oil, gas_setting, gas_residual, written)
    times = in_turns([*(part_seconds(problem, trace, part) for part in parts), march_seconds(problem)], quick).T
    one, step, setting, residual, row, march = times
    sample = march / samples
    shares = {
        "coefficients": 2.0 * one / sample,
        "oil_elimination": (step - 2.0 * one) / sample,
        "gas_setting": (setting - residual) / sample,
        "gas_residuals": trace.state.evaluations / samples * residual / sample,
        "outputs": row / sample,
    }
    show("sample_us", 1e6 * median(sample), "us")
    parts_us = {
        "coefficients": one,
        "oil_step": step,
        "gas_setting": setting - residual,
        "gas_residual": residual,
        "outputs": row,
    }
    for name, values in parts_us.items():
        show(f"{name}_us", 1e6 * median(values), "us")
    for name, values in shares.items():
        show(f"{name}_share", median(values), "1")
    show("rest_share", median(1.0 - sum(shares.values())), "1")
    return 0


if __name__ == "__main__":
    sys.exit(main())
