"""Two implicit one-step methods: order 4 for linear systems, order 2 and stiffly accurate for stiff ones."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ullage.compiled import compiled
from ullage.numerics.linear import make_solve_in_place

Array = NDArray[np.float64]
Five = tuple[float, float, float, float, float]

GAMMA = 1.0 - math.sqrt(0.5)
_THIRD_1 = 1.0 / (6.0 * GAMMA * (1.0 - GAMMA))
_THIRD_2 = 0.5 - GAMMA * _THIRD_1
_THIRD_0 = 1.0 - _THIRD_1 - _THIRD_2


def make_lobatto_step(n: int) -> Callable[..., None]:
    """Build one implicit Simpson step of a linear system of a known size, `x' = A(t) x + b(t)`.

    Parameters
    ----------
    n : int
        Number of equations.

    Returns
    -------
    compiled function
        `step(start, start_rate, middle_matrix, middle_source, end_matrix, end_source, length, system, end)` writes the
        result into `end`. A and b are those at the middle and at the end, of shapes (n, n) and (n,); `system` is
        scratch of shape (n, n).

    References
    ----------
    Lobatto IIIA of order 4 with the middle value of the cubic Hermite polynomial; Hairer, Norsett and Wanner,
    Solving Ordinary Differential Equations I, section II.7.
    """
    solve_in_place = make_solve_in_place(n)

    @compiled
    def step(
        start: Array,
        start_rate: Array,
        middle_matrix: Array,
        middle_source: Array,
        end_matrix: Array,
        end_source: Array,
        length: float,
        system: Array,
        end: Array,
    ) -> None:
        sixth = length / 6.0
        for i in range(n):
            total = start[i] + sixth * (start_rate[i] + end_source[i] + 4.0 * middle_source[i])
            for j in range(n):
                product = 0.0
                for k in range(n):
                    product += middle_matrix[i, k] * end_matrix[k, j]
                system[i, j] = sixth * (0.5 * length * product - 2.0 * middle_matrix[i, j] - end_matrix[i, j])
                halfway = 0.5 * start[j] + 0.125 * length * (start_rate[j] - end_source[j])
                total += 4.0 * sixth * middle_matrix[i, j] * halfway
            system[i, i] += 1.0
            end[i] = total
        solve_in_place(system, end)

    return step


@compiled
def hermite_middle(start: float, end: float, start_rate: float, end_rate: float, length: float) -> float:
    """Return the middle value of the cubic through two values and two rates.

    Parameters
    ----------
    start, end : float
        Values.
    start_rate, end_rate : float
        Rates.
    length : float
        Distance between them.

    Returns
    -------
    float
        Middle value.
    """
    return 0.5 * (start + end) + 0.125 * length * (start_rate - end_rate)


@compiled
def hermite_value(start: float, end: float, start_rate: float, end_rate: float, length: float, share: float) -> float:
    """Return the value of the cubic through two values and two rates at a share of the interval.

    Parameters
    ----------
    start, end : float
        Values.
    start_rate, end_rate : float
        Rates.
    length : float
        Distance between them.
    share : float
        Place, 0 to 1.

    Returns
    -------
    float
        Value.
    """
    rest = 1.0 - share
    return rest * rest * ((1.0 + 2.0 * share) * start + share * length * start_rate) + share * share * (
        (1.0 + 2.0 * rest) * end - rest * length * end_rate
    )


def make_stiff_step(solve_stage: Callable[..., Any]) -> Callable[..., Any]:
    """Build one step of the two-stage, stiffly accurate, L-stable method of order 2 around a stage solver.

    Parameters
    ----------
    solve_stage : compiled function
        `solve_stage(base, weight, time, guess, data)` returns a tuple: first the five-tuple y that solves
        `y = base + weight f(time, y)`, then a guess for the stage that follows. The first stage gets the `first_guess`
        of the step.

    Returns
    -------
    compiled function
        `step(start, start_rate, time, length, first_guess, data)` returns `(first_stage, second_stage, error)`: both
        stage tuples (the second holds the result) and the difference to a quadrature of order 3, a five-tuple.

    References
    ----------
    Alexander, SIAM J. Numer. Anal. 14 (1977) 1006, the method with `gamma = 1 - sqrt(1/2)`.
    """

    @compiled
    def step(start: Five, start_rate: Five, time: float, length: float, first_guess: Any, data: Any) -> Any:
        weight = GAMMA * length
        first = solve_stage(start, weight, time + weight, first_guess, data)
        rate_1 = _difference_rate(first[0], start, weight)
        base = _moved(start, rate_1, (1.0 - GAMMA) * length)
        second = solve_stage(base, weight, time + length, first[1], data)
        rate_2 = _difference_rate(second[0], base, weight)
        error = (
            _error(start_rate[0], rate_1[0], rate_2[0], length),
            _error(start_rate[1], rate_1[1], rate_2[1], length),
            _error(start_rate[2], rate_1[2], rate_2[2], length),
            _error(start_rate[3], rate_1[3], rate_2[3], length),
            _error(start_rate[4], rate_1[4], rate_2[4], length),
        )
        return first, second, error

    return step


@compiled
def _difference_rate(value: Five, base: Five, weight: float) -> Five:
    return (
        (value[0] - base[0]) / weight,
        (value[1] - base[1]) / weight,
        (value[2] - base[2]) / weight,
        (value[3] - base[3]) / weight,
        (value[4] - base[4]) / weight,
    )


@compiled
def _moved(start: Five, rate: Five, length: float) -> Five:
    return (
        start[0] + length * rate[0],
        start[1] + length * rate[1],
        start[2] + length * rate[2],
        start[3] + length * rate[3],
        start[4] + length * rate[4],
    )


@compiled
def _error(rate_0: float, rate_1: float, rate_2: float, length: float) -> float:
    return length * (_THIRD_0 * rate_0 + (_THIRD_1 - (1.0 - GAMMA)) * rate_1 + (_THIRD_2 - GAMMA) * rate_2)
