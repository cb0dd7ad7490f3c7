"""Choice of the next step length from an error measure."""

from __future__ import annotations

import math

from ullage.compiled import compiled

SAFETY = 0.85
LEAST_FACTOR = 0.15
MOST_FACTOR = 5.0


@compiled
def step_factor(error: float, order: float) -> float:
    """Return the factor from this step length to the next.

    Parameters
    ----------
    error : float
        Error over tolerance [1]. Not a number counts as a failure.
    order : float
        Power of the step length with which the error measure falls [1].

    Returns
    -------
    float
        Factor between 0.15 and 5 [1].
    """
    if math.isnan(error):
        return LEAST_FACTOR
    if error < 1e-12:
        return MOST_FACTOR
    return min(MOST_FACTOR, max(LEAST_FACTOR, SAFETY * math.pow(error, -1.0 / order)))
