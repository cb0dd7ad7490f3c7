"""Run the march on a problem and keep what came out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from ullage.errors import STATUS_DONE
from ullage.kernel.march import march
from ullage.kernel.modes import Log, empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.kernel.setting import begin
from ullage.kernel.state import Scratch, State, copied, empty_record
from ullage.scenario.compile import Problem

_SLACK = 0.5e-9  # the clock of a table has whole nanoseconds [s]


@dataclass(frozen=True)
class Trace:
    """What a march left: rows of outputs from where it began, the record of switches, the last state, a status code."""

    rows: Rows
    log: Log
    state: State
    status: int


def trace_race(problem: Problem) -> Trace:
    """March a race from its start to its end or to its failure.

    Parameters
    ----------
    problem : Problem
        The race. Its initial state is left as it is.

    Returns
    -------
    Trace
        Rows up to the end or the failure.
    """
    return _marched(problem, _begun(problem), len(problem.table.time) - 1)


def trace_until(problem: Problem, time: float) -> Trace:
    """March a race from its start to a row of its table.

    Parameters
    ----------
    problem : Problem
        The race. Its initial state is left as it is.
    time : float
        A time of its channel table [s]; where channels jump the march stands before the jump.

    Returns
    -------
    Trace
        Rows up to there, and the state, to be marched on by `trace_on`.
    """
    return _marched(problem, _begun(problem), row_at(problem, time))


def trace_on(problem: Problem, before: Trace, until: float = math.inf) -> Trace:
    """March on from where a march stands, to a row of the table, to the end of a race or to its failure.

    Parameters
    ----------
    problem : Problem
        A race whose channels up to there are those of the march before.
    before : Trace
        What was marched so far; it is left as it is.
    until : float
        A time of the channel table [s], not before that march; the end of the race if it is later.

    Returns
    -------
    Trace
        Rows from the last of the march before, that one included: those of `trace_race`, to the last bit.
    """
    return before if before.status != STATUS_DONE else _marched(problem, before, row_at(problem, until))


def trace_at(problem: Problem, times: NDArray[np.float64]) -> Trace:
    """March a race and keep how it stood at some times: the last row at or before each.

    Parameters
    ----------
    problem : Problem
        The race. Its initial state is left as it is.
    times : array
        Race times from 0 on, rising [s].

    Returns
    -------
    Trace
        A row for each time up to the end of the race or its failure; state and status are those of `trace_race`.
    """
    table, begun = problem.table, _begun(problem)
    within = times[times <= table.output_time[-1] + _SLACK]
    wanted = np.searchsorted(table.output_time, within + _SLACK, side="right") - 1
    kept = np.unique(np.append(wanted, len(table.output_time) - 1))
    slots = np.full(len(table.output_time), -1)
    slots[kept] = np.arange(len(kept))
    rows = np.recarray(len(kept), dtype=OUTPUT_DTYPE)
    rows[0] = begun.rows[0]
    slotted = np.where(table.output_rows > 0, slots[table.output_rows], -1)
    state, log, last_row = begun.state, begun.log, len(table.time) - 1
    status = march(
        problem.parameters, state, empty_record(Scratch), table.time, table.channels, 0, last_row, slotted, rows, log
    )
    reached = int(np.searchsorted(table.output_time, state.time - _SLACK))
    done = wanted[wanted < reached] if status else wanted
    return Trace(cast("Rows", rows[slots[done]]), log, state, status)


def row_at(problem: Problem, time: float) -> int:
    """Return the row of the channel table at which a march stands at a time [s] of the table, before a jump there."""
    rows = problem.table.time
    return min(int(np.searchsorted(rows, time - _SLACK)), len(rows) - 1)


def _begun(problem: Problem) -> Trace:
    table = problem.table
    state, log = copied(problem.state), empty_log(table.time[0], table.time[-1])
    rows = cast("Rows", np.recarray(1, dtype=OUTPUT_DTYPE))
    begin(problem.parameters, state, table.channels, rows, log)
    return Trace(rows, log, state, STATUS_DONE)


def _marched(problem: Problem, before: Trace, last_row: int) -> Trace:
    table = problem.table
    state, log = copied(before.state), empty_log(table.time[0], table.time[-1])
    log[: len(before.log)] = before.log[: len(log)]
    written = int(np.searchsorted(table.output_time, state.time + _SLACK)) - 1
    rows = np.recarray(len(table.output_time) - written, dtype=OUTPUT_DTYPE)
    rows[0] = before.rows[-1]
    status = march(
        problem.parameters,
        state,
        empty_record(Scratch),
        table.time,
        table.channels,
        row_at(problem, state.time),
        last_row,
        np.where(table.output_rows > written, table.output_rows - written, -1),
        rows,
        log,
    )
    reached = int(np.searchsorted(table.output_time, state.time - _SLACK)) - written
    return Trace(cast("Rows", rows[: max(1, reached if status else reached + 1)]), log, state, status)
