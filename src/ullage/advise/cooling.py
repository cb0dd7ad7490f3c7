"""How long the oil takes to cool at a stop, and how cool it gets."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from ullage.advise.choices import PlannedStop, Stand, with_stand
from ullage.kernel.state import RESERVOIR
from ullage.results.trace import Trace, trace_on
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario

_LOOK_EVERY = 10.0  # [s]
_SETTLED = 2.0  # this close to the coolest that it gets, waiting on is of little use; own choice [K]


class Cooling(NamedTuple):
    """How the oil in the tank cools while a truck stands with its cap shut.

    Attributes
    ----------
    stand : Stand
        How it stands.
    time : float
        Time since the stop began at which the oil is cool enough [s], in tens of seconds rounded up; not a number if
        the longest wait is too short.
    coolest : float
        Lowest temperature of the longest wait, or at that time [K].
    settled : float
        Time since the stop began at which the oil is within 2 K of it [s].
    half : float
        Time since the stop began at which the oil is half-way to cool enough [s]; not a number if it never is.
    """

    stand: Stand
    time: float
    coolest: float
    settled: float
    half: float


def cool_down(shut: Scenario, stop: PlannedStop, stand: Stand, before: Trace, below: float, longest: float) -> Cooling:
    """Return how the oil in the tank cools.

    Parameters
    ----------
    shut : Scenario
        The race in which nobody touches the cap at the stop.
    stop : PlannedStop
        The stop.
    stand : Stand
        How the truck stands.
    before : Trace
        March of the race up to the stop.
    below : float
        Temperature at which the wait ends [K].
    longest : float
        Longest wait [s].

    Returns
    -------
    Cooling
        Times and the coolest temperature.
    """
    changes = with_stand(shut, stop, stand._replace(duration=longest))
    sample = max(_LOOK_EVERY, shut.spec.duty.sample_interval)
    problem = compile_problem(shut.replace({**changes, "duty.sample_interval": sample}).spec)
    rows = trace_on(problem, before, stop.start + longest).rows
    since, oil = rows.time - stop.start, rows.oil_temperature[:, RESERVOIR]
    enough = _first(since, oil <= below)
    coolest = float(oil.min()) if math.isnan(enough) else min(below, float(oil[0]))
    half = _first(since, oil <= 0.5 * (float(oil[0]) + below))
    return Cooling(stand, enough, coolest, _first(since, oil <= coolest + _SETTLED), half)


def _first(since: np.ndarray, holds: np.ndarray) -> float:
    """Return the first time at which something holds, in tens of seconds rounded up; not a number if it never does."""
    found = np.flatnonzero(holds)
    return _LOOK_EVERY * math.ceil(float(since[found[0]]) / _LOOK_EVERY) if len(found) else math.nan
