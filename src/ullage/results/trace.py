"""Run the march on a problem and keep what came out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import cast

import numpy as np

from ullage.duty.course import NANOSECONDS
from ullage.errors import STATUS_DONE
from ullage.kernel.march import march
from ullage.kernel.modes import Log, empty_log
from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.kernel.setting import begin
from ullage.kernel.state import Scratch, State, copied, empty_record
from ullage.scenario.compile import Problem


@dataclass(frozen=True)
class Trace:
    """What a march left: rows of outputs, the record of switches, the last state and its status code."""

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
    return _marched(problem, _begun(problem), 0, len(problem.table.time) - 1)


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
    return _marched(problem, _begun(problem), 0, _row_at(problem, time))


def trace_on(problem: Problem, before: Trace, until: float = math.inf) -> Trace:
    """March on from where a march stands, to the end of a race, to a row of its table or to its failure.

    Parameters
    ----------
    problem : Problem
        A race whose channels up to there are those of the march before.
    before : Trace
        What was marched so far; it is left as it is.
    until : float
        A time of its channel table at which to stand again [s], not before that march; the end if it is later.

    Returns
    -------
    Trace
        All rows, those before included: those of `trace_race`, to the last bit.
    """
    if before.status != STATUS_DONE:
        return before
    first = _row_at(problem, before.state.time)
    return _marched(problem, before, first, _row_at(problem, until))


def _row_at(problem: Problem, time: float) -> int:
    rows = problem.table.time
    return min(int(np.searchsorted(rows, np.round(time, NANOSECONDS))), len(rows) - 1)


def _begun(problem: Problem) -> Trace:
    table = problem.table
    state, log = copied(problem.state), empty_log(table.time[0], table.time[-1])
    rows = cast("Rows", np.recarray(1, dtype=OUTPUT_DTYPE))
    begin(problem.parameters, state, table.channels, rows, log)
    return Trace(rows, log, state, STATUS_DONE)


def _marched(problem: Problem, before: Trace, first_row: int, last_row: int) -> Trace:
    table = problem.table
    state, log = copied(before.state), empty_log(table.time[0], table.time[-1])
    log[: len(before.log)] = before.log[: len(log)]
    rows = np.recarray(len(table.output_time), dtype=OUTPUT_DTYPE)
    rows[: len(before.rows)] = before.rows
    status = march(
        problem.parameters,
        state,
        empty_record(Scratch),
        table.time,
        table.channels,
        first_row,
        last_row,
        table.output_rows,
        rows,
        log,
    )
    reached = np.searchsorted(table.output_time, state.time, side="left" if status else "right")
    return Trace(cast("Rows", rows[: max(1, int(reached))]), log, state, status)
