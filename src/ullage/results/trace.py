"""Run the march on a problem and keep what came out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np

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
    table = problem.table
    state = copied(problem.state)
    rows = np.recarray(len(table.output_time), dtype=OUTPUT_DTYPE)
    log = empty_log(table.time[0], table.time[-1])
    begin(problem.parameters, state, table.channels, rows, log)
    status = march(
        problem.parameters,
        state,
        empty_record(Scratch),
        table.time,
        table.channels,
        0,
        len(table.time) - 1,
        table.output_rows,
        rows,
        log,
    )
    written = max(1, int(np.count_nonzero(table.output_time < state.time))) if status else len(rows)
    return Trace(cast("Rows", rows[:written]), log, state, status)
