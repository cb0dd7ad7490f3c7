"""The march: oil, then gas, in every interval between two rows of the channel table."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled, inlined, merged
from ullage.errors import (
    STATUS_DONE,
    STATUS_NOT_A_NUMBER,
    STATUS_OIL_GONE,
    STATUS_OIL_STEP,
    STATUS_TOO_MANY_STEPS,
)
from ullage.kernel.air_exchange import Stream
from ullage.kernel.extremes import observe
from ullage.kernel.gas_march import Span, gas_problem, march_gas
from ullage.kernel.heat import renewed
from ullage.kernel.intake import line_volume, outlet_depth
from ullage.kernel.modes import Log, follow_cap, follow_fan, switch_thermal, thermal_threshold, watch_limits
from ullage.kernel.oil_step import NOT_A_NUMBER, book_step, oil_step, start_rate
from ullage.kernel.outputs import Row, Rows, outputs
from ullage.kernel.params import CHANNEL_INDEX, Forcing, Parameters, forcing_between
from ullage.kernel.setting import air_in_oil, fill_to_mark, settle
from ullage.kernel.state import RESERVOIR, STEERING_GEAR, Scratch, State
from ullage.kernel.stores import Masses, densities, headspace_volume, node_masses, reservoir_temperature
from ullage.numerics.implicit import hermite_value
from ullage.numerics.linear import copy_into
from ullage.numerics.step_size import step_factor
from ullage.physics import line, oil
from ullage.physics.bubbles import share_of_equilibrium

Array = NDArray[np.float64]

_LEAST_OIL = 1e-3
_LEAST_STEP = 1e-6
_MOST_SUBSTEPS = 1_000_000
_MOST_STEPS = 20_000_000
_SWITCH_SLACK = 1e-4
_SWITCH_OVERSHOOT = 1e-3
_MARK_FILLS = CHANNEL_INDEX["mark_fills"]


@compiled
def _state_fault(s: State) -> int:
    total = s.air_heat + s.air_mass + s.dissolved_air + s.free_air + s.oil_energy
    for i in range(4):
        total += s.temperature[i]
    if not abs(total) < np.inf:
        return STATUS_NOT_A_NUMBER
    if s.reservoir_mass < _LEAST_OIL:
        return STATUS_OIL_GONE
    return STATUS_DONE


@compiled
def _crossing_share(p: Parameters, s: State, w: Scratch, length: float) -> float:
    """Return the share of a step at which fan or thermostat becomes due, by bisection on the dense output."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = 0.5 * (low + high)
        inlet = hermite_value(
            s.temperature[STEERING_GEAR],
            w.end[STEERING_GEAR],
            s.temperature_rate[STEERING_GEAR],
            w.rate[STEERING_GEAR],
            length,
            share,
        )
        fan, thermostat = thermal_threshold(p, s, inlet)
        if max(fan, thermostat) > 0.0:
            high = share
        else:
            low = share
    return high


@inlined
def _close_energy(
    p: Parameters, s: State, w: Scratch, forcing: Forcing, swept_flow: float, masses: Masses, length: float
) -> None:
    """Take over the new temperatures; the reservoir's follows from the energy, so that nothing leaks."""
    copy_into(s.temperature, w.end)
    copy_into(s.temperature_rate, w.rate)
    s.temperature[RESERVOIR] = reservoir_temperature(p, masses, s.temperature, air_in_oil(s), s.oil_energy)
    settle(p, s, forcing, masses.reservoir)
    held = line_volume(p, p.feed_bore * forcing.bore_share)
    fill = share_of_equilibrium(swept_flow / held, length)
    target = line.uncovered_share(outlet_depth(p, s, forcing), p.feed_bore, forcing.upward_acceleration)
    s.line_gas += fill * (target - s.line_gas)


@merged
def _advance_gas(
    p: Parameters,
    s: State,
    w: Scratch,
    before: Forcing,
    after: Forcing,
    stream: Stream,
    reservoir_mass: float,
    end: float,
    log: Log,
    start: float,
) -> int:
    hot = w.end[RESERVOIR]
    volume_end = headspace_volume(p, reservoir_mass, hot, oil.density(hot, p.density_15))
    span = Span(s.time, end, s.clear_volume, volume_end, s.temperature[RESERVOIR], hot)
    problem = gas_problem(p, s, span, before, after, stream)
    return march_gas(p, s, problem, log, start)


@merged
def _march_interval(
    p: Parameters, s: State, w: Scratch, time: Array, channels: Array, row: int, out: Row, log: Log
) -> int:
    """March from one row of the channel table to the next; every accepted step is written over the row of results."""
    start, end = time[row], time[row + 1]
    race_start = time[0]
    for _ in range(_MOST_SUBSTEPS):
        if s.time >= end:
            return STATUS_DONE
        before = forcing_between(channels, row, (s.time - start) / (end - start))
        if s.fresh == 1:
            start_rate(p, s, w, before)
        rest = end - s.time
        length = rest if rest < 1.0001 * s.oil_step else s.oil_step
        reached = end if length == rest else s.time + length
        middle = forcing_between(channels, row, (s.time + 0.5 * length - start) / (end - start))
        after = forcing_between(channels, row, (reached - start) / (end - start))
        step = oil_step(p, s, w, middle, after, length)
        measure = step.error
        if measure > 1.0:
            if length <= _LEAST_STEP:
                return STATUS_OIL_STEP if measure < NOT_A_NUMBER else STATUS_NOT_A_NUMBER
            s.rejected += 1
            s.oil_step = length * min(0.5, step_factor(measure, 3.0))
            continue
        fan, thermostat = thermal_threshold(p, s, w.end[STEERING_GEAR])
        if max(fan, thermostat) > _SWITCH_OVERSHOOT and length > _LEAST_STEP:
            s.oil_step = max(0.5 * _LEAST_STEP, length * _crossing_share(p, s, w, length))
            continue
        book_step(s, w, length)
        added, drained = length * before.top_up_flow, length * before.drain_flow
        oil_mass = s.oil_mass + added - drained
        masses = node_masses(p, after.steering_position, oil_mass, w.end, densities(p, w.end))
        status = _advance_gas(p, s, w, before, after, step.stream, masses.reservoir, reached, log, race_start)
        s.oil_mass += added - drained
        s.oil_added += added
        if status != STATUS_DONE:
            return status
        in_tank = masses.reservoir - (oil_mass - s.oil_mass)
        kept = Masses(in_tank, masses.pump, masses.steering_gear, masses.cooler)
        _close_energy(p, s, w, after, step.stream.swept_flow, kept, length)
        s.fresh = 0
        s.steps += 1
        grown = length * step_factor(measure, 3.0)
        s.oil_step = grown if length >= s.oil_step else max(s.oil_step, grown)
        status = _state_fault(s)
        if status != STATUS_DONE:
            return status
        watch_limits(s, log, race_start)
        if switch_thermal(p, s, s.temperature[STEERING_GEAR], log, race_start, _SWITCH_SLACK):
            s.fresh = 1
        b = renewed(p, s, after, step.at_end)
        s.spare_flow = b.flows.spare_flow
        outputs(p, s, after, b, out)
        observe(s, out, race_start, length)
        s.feed_flow = out.pump_flow
        if s.steps > _MOST_STEPS:
            return STATUS_TOO_MANY_STEPS
    return STATUS_TOO_MANY_STEPS


@compiled
def _next_output(output_rows: NDArray[np.int64], row: int, otherwise: int) -> int:
    """Return the row of results that is next written from a row of the table on."""
    while row < len(output_rows):
        if output_rows[row] >= 0:
            return int(output_rows[row])
        row += 1
    return otherwise


@compiled
def march(
    p: Parameters,
    s: State,
    w: Scratch,
    time: Array,
    channels: Array,
    first_row: int,
    last_row: int,
    output_rows: NDArray[np.int64],
    out: Rows,
    log: Log,
) -> int:
    """March one race over rows of the channel table.

    Parameters
    ----------
    p, s, w : record
        Parameters, state and scratch. The state is changed and can be marched on from the last row.
    time : array of shape (rows,)
        Times of the table [s], not decreasing; two rows at one time are a jump.
    channels : array of shape (rows, channels)
        Channel table, linear between rows.
    first_row, last_row : int
        Rows at which the state stands and at which to stop.
    output_rows : array of shape (rows,)
        Row of `out` that a row of the table is written to, or -1.
    out : record array
        Results, of `OUTPUT_DTYPE`.
    log : array of shape (minutes, switches, 2)
        Record of switches.

    Returns
    -------
    int
        Status code; the state then stands at the time of the failure.
    """
    target = _next_output(output_rows, first_row + 1, len(out) - 1)
    for row in range(first_row, last_row):
        if time[row + 1] <= time[row]:
            s.fresh = 1
            if channels[row + 1, _MARK_FILLS] > channels[row, _MARK_FILLS]:
                fill_to_mark(p, s, forcing_between(channels, row, 0.0))
            continue
        follow_cap(s, forcing_between(channels, row, 0.0))
        follow_fan(s, forcing_between(channels, row, 0.0), log, time[0])
        status = _march_interval(p, s, w, time, channels, row, out[target], log)
        if status != STATUS_DONE:
            return status
        if output_rows[row + 1] >= 0:
            target = _next_output(output_rows, row + 2, target)
    return STATUS_DONE
