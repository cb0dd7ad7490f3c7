"""What a study traces: which members, at which times, which columns."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ullage.kernel.outputs import OUTPUT_DTYPE, Rows
from ullage.study.spec import Traces


class TraceColumn(NamedTuple):
    """A traced variable, and the place of its node; None if it has none."""

    name: str
    node: int | None


class TracePlan(NamedTuple):
    """Members, times [s] and columns of the traces of a study."""

    members: NDArray[np.int64]
    times: NDArray[np.float64]
    columns: tuple[TraceColumn, ...]

    def values(self, rows: Rows) -> NDArray[np.float64]:
        """Return the columns of rows of outputs, an array of shape (columns, rows)."""
        picked = [rows[name] if node is None else rows[name][:, node] for name, node in self.columns]
        return np.array(picked, dtype=np.float64)


NO_TRACES = TracePlan(np.empty(0, dtype=np.int64), np.empty(0), ())


def trace_plan(traces: Traces, members: int, duration: float) -> TracePlan:
    """Return what a study traces.

    Parameters
    ----------
    traces : Traces
        What is asked for.
    members : int
        How many members there are.
    duration : float
        The longest race [s].

    Returns
    -------
    TracePlan
        Members in order; times from 0 on, an interval apart.
    """
    chosen = np.arange(members) if traces.members is None else np.unique(np.array(traces.members, dtype=np.int64))
    times = np.asarray(np.arange(int(duration / traces.interval + 1e-9) + 1) * traces.interval, dtype=np.float64)
    columns = tuple(column for name in dict.fromkeys(traces.variables) for column in _columns(name))
    return TracePlan(chosen, times, columns)


def _columns(name: str) -> list[TraceColumn]:
    shape = OUTPUT_DTYPE[name].shape
    return [TraceColumn(name, node) for node in range(shape[0])] if shape else [TraceColumn(name, None)]
