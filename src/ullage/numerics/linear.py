"""Small dense systems."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled

Array = NDArray[np.float64]


@compiled
def copy_into(target: Array, source: Array) -> None:
    """Copy a vector over another of the same length.

    Parameters
    ----------
    target, source : array of shape (n,)
        A loop, as the assignment of a slice would compile a shape check and its message for seconds.
    """
    for i in range(target.shape[0]):
        target[i] = source[i]


def make_solve_in_place(n: int) -> Callable[[Array, Array], None]:
    """Build the solution of a system of a known size.

    Parameters
    ----------
    n : int
        Number of equations.

    Returns
    -------
    compiled function
        `solve_in_place(matrix, right)` solves `matrix x = right`; `right` becomes x and `matrix` is used up.
        Elimination without pivoting: right for systems near the identity, as implicit steps make them.
    """

    @compiled
    def solve_in_place(matrix: Array, right: Array) -> None:
        for k in range(n):
            inverse = 1.0 / matrix[k, k]
            matrix[k, k] = inverse
            for i in range(k + 1, n):
                factor = matrix[i, k] * inverse
                for j in range(k + 1, n):
                    matrix[i, j] -= factor * matrix[k, j]
                right[i] -= factor * right[k]
        for k in range(n - 1, -1, -1):
            total = right[k]
            for j in range(k + 1, n):
                total -= matrix[k, j] * right[j]
            right[k] = total * matrix[k, k]

    return solve_in_place


def make_linear_rate(n: int) -> Callable[[Array, Array, Array, Array], None]:
    """Build the rate of a linear system of a known size.

    Parameters
    ----------
    n : int
        Number of equations.

    Returns
    -------
    compiled function
        `linear_rate(matrix, source, value, rate)` writes `matrix value + source` into `rate`.
    """

    @compiled
    def linear_rate(matrix: Array, source: Array, value: Array, rate: Array) -> None:
        for i in range(n):
            total = source[i]
            for j in range(n):
                total += matrix[i, j] * value[j]
            rate[i] = total

    return linear_rate
