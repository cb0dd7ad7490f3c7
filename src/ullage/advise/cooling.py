"""How long the oil takes to cool at a stop."""

from __future__ import annotations

import math

import numpy as np

from ullage.advise.choices import PlannedStop, Stand, with_stand
from ullage.kernel.state import RESERVOIR
from ullage.results.trace import Trace, trace_on
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

_LOOK_EVERY = 10.0  # [s]


def cooling_time(shut: Scenario, stop: PlannedStop, wait: Stand, before: Trace, below: float, longest: float) -> float:
    """Return how long the oil in the tank takes to cool while the truck stands with its cap shut.

    Parameters
    ----------
    shut : Scenario
        The race in which nobody touches the cap at the stop.
    stop : PlannedStop
        The stop.
    wait : Stand
        How the truck stands.
    before : Trace
        March of the race up to the stop.
    below : float
        Temperature at which the wait ends [K].
    longest : float
        Longest wait [s].

    Returns
    -------
    float
        Time since the stop began [s], in tens of seconds rounded up; not a number if the longest wait is too short.
    """
    if before.state.temperature[RESERVOIR] <= below:
        return 0.0
    changes = with_stand(shut, stop, wait._replace(duration=longest))
    sample = max(_LOOK_EVERY, shut.spec.duty.sample_interval)
    problem = compile_problem(shut.replace({**changes, "duty.sample_interval": sample}).spec)
    rows = trace_on(problem, before, stop.start + longest).rows
    cool = np.flatnonzero(rows.oil_temperature[:, RESERVOIR] <= below)
    if len(cool) == 0:
        return math.nan
    return _LOOK_EVERY * math.ceil((float(rows.time[cool[0]]) - stop.start) / _LOOK_EVERY)
