"""Many races over one channel table by one call, without rows: what is kept of a race is its last state."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.errors import STATUS_DONE
from ullage.kernel.extremes import clear_extremes
from ullage.kernel.march import march
from ullage.kernel.modes import Log
from ullage.kernel.outputs import Rows
from ullage.kernel.setting import begin
from ullage.kernel.state import Array, Scratch


@compiled
def march_members(
    members: NDArray[np.int64],
    parameters: Rows,
    states: Rows,
    statuses: NDArray[np.int64],
    time: Array,
    channels: Array,
    output_rows: NDArray[np.int64],
    out: Rows,
    log: Log,
    w: Scratch,
) -> None:
    """March members of a batch from the start of their race to its end, or each to its failure.

    Parameters
    ----------
    members : array of int
        Places in the arrays of the batch; no other place is read or written.
    parameters, states : record array of shape (batch,)
        Parameters, and initial states that become the last states.
    statuses : array of shape (batch,)
        Status codes: written. A member whose status is not `STATUS_DONE` before is not marched.
    time, channels : array of shape (rows,), (rows, channels)
        Channel table that all these members share.
    output_rows : array of shape (rows,)
        -1 in every place: no row is kept.
    out : record array of shape (1,)
        Scratch for the outputs of a step.
    log : array of shape (minutes, switches, 2)
        Scratch for the record of switches; one minute is enough.
    w : record
        Scratch of the oil step.
    """
    last = len(time) - 1
    for place in range(len(members)):
        k = members[place]
        if statuses[k] != STATUS_DONE:
            clear_extremes(states[k])
            continue
        begin(parameters[k], states[k], channels, out, log)
        statuses[k] = march(parameters[k], states[k], w, time, channels, 0, last, output_rows, out, log)
