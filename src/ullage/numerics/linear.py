"""Small dense systems."""

from __future__ import annotations

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


@compiled
def solve_in_place(matrix: Array, right: Array) -> None:
    """Solve `matrix x = right`; `right` becomes x and `matrix` is used up.

    Elimination without pivoting: right for systems near the identity, as implicit steps make them.

    Parameters
    ----------
    matrix : array of shape (n, n)
        Coefficients with a dominant diagonal.
    right : array of shape (n,)
        Right-hand side on entry, solution on return.
    """
    n = right.shape[0]
    for k in range(n):
        inverse = 1.0 / matrix[k, k]
        for i in range(k + 1, n):
            factor = matrix[i, k] * inverse
            for j in range(k + 1, n):
                matrix[i, j] -= factor * matrix[k, j]
            right[i] -= factor * right[k]
    for k in range(n - 1, -1, -1):
        total = right[k]
        for j in range(k + 1, n):
            total -= matrix[k, j] * right[j]
        right[k] = total / matrix[k, k]


@compiled
def linear_rate(matrix: Array, source: Array, value: Array, rate: Array) -> None:
    """Write `matrix value + source` into `rate`.

    Parameters
    ----------
    matrix : array of shape (n, n)
        Coefficients.
    source, value : array of shape (n,)
        Constant part and argument.
    rate : array of shape (n,)
        Result.
    """
    n = value.shape[0]
    for i in range(n):
        total = source[i]
        for j in range(n):
            total += matrix[i, j] * value[j]
        rate[i] = total
