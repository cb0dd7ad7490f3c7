"""Bracketed root of an increasing function, secant where it works, bisection where it does not."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from ullage.compiled import compiled

MOST_EVALUATIONS = 200


def make_root(function: Callable[..., Any]) -> Callable[..., Any]:
    """Build a root finder around a compiled function.

    Parameters
    ----------
    function : compiled function
        `function(x, data)` returns a tuple whose first item is the residual, increasing in x. The other items are
        whatever else the evaluation found; they come back with the root.

    Returns
    -------
    compiled function
        `root(x, value, slope, low, high, tolerance, data)` returns `(x, slope, value, evaluations)`: the root, the last
        slope of the residual (a good `slope` for the next call), the function's tuple at the root, and the number of
        evaluations, negative when they ran out. `value` is the function's tuple at the first `x`, which lies between
        `low` and `high`; these are positive and bracket the root. It stops when the residual is within `tolerance` or
        the bracket has closed.
    """

    @compiled
    def root(x: float, value: Any, slope: float, low: float, high: float, tolerance: float, data: Any) -> Any:
        residual = value[0]
        slow = False
        for count in range(MOST_EVALUATIONS):
            if abs(residual) <= tolerance:
                return x, slope, value, count
            if residual > 0.0:
                high = x
            else:
                low = x
            target = x - residual / slope
            if slow or not low < target < high:
                target = math.sqrt(low * high) if high > 4.0 * low else 0.5 * (low + high)
            if target in (low, high):
                return x, slope, value, count
            value = function(target, data)
            secant = (value[0] - residual) / (target - x)
            if secant > 0.0:
                slope = secant
            slow = abs(value[0]) > 0.5 * abs(residual)
            x = target
            residual = value[0]
        return x, slope, value, -MOST_EVALUATIONS

    return root
