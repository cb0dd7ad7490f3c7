import functools
import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from ullage.compiled import compiled
from ullage.numerics.implicit import GAMMA, hermite_middle, hermite_value, make_lobatto_step, make_stiff_step


def slopes(errors):
    return np.log2(np.array(errors[:-1]) / np.array(errors[1:]))


# --- implicit Simpson step of linear systems ---


step_of_size = functools.cache(make_lobatto_step)


def march_linear(matrix, source, start, until, steps):
    n, length = len(start), until / steps
    x, end, system = np.array(start), np.empty(n), np.empty((n, n))
    for k in range(steps):
        t = k * length
        step_of_size(n)(
            x,
            matrix(t) @ x + source(t),
            matrix(t + 0.5 * length),
            source(t + 0.5 * length),
            matrix(t + length),
            source(t + length),
            length,
            system,
            end,
        )
        x = end.copy()
    return x


def turning_matrix(t):
    return np.array([[-1.0 - t, 2.0 * math.sin(t)], [math.cos(t), -3.0]])


def manufactured_source(t):
    solution, rate = np.array([math.cos(2.0 * t), math.exp(-t)]), np.array([-2.0 * math.sin(2.0 * t), -math.exp(-t)])
    return rate - turning_matrix(t) @ solution


def test_simpson_step_has_order_four_on_a_moving_system_of_known_solution():
    exact = np.array([math.cos(4.0), math.exp(-2.0)])
    errors = [
        np.abs(march_linear(turning_matrix, manufactured_source, [1.0, 1.0], 2.0, n) - exact).max()
        for n in (8, 16, 32, 64)
    ]
    # Order 4; the first halvings still show the next term.
    assert slopes(errors) == pytest.approx([4.0] * 3, abs=0.2)
    assert errors[-1] < 1e-6


def test_simpson_step_has_order_four_on_four_coupled_unknowns():
    base = np.random.default_rng(4).uniform(-1.0, 1.0, (4, 4)) - 2.0 * np.eye(4)

    def matrix(t):
        return base * (1.0 + 0.5 * math.sin(t))

    def source(t):
        return np.array([1.0, t, math.sin(3.0 * t), math.exp(-t)])

    start = [1.0, -1.0, 0.5, 2.0]
    reference = solve_ivp(
        lambda t, x: matrix(t) @ x + source(t), (0.0, 2.0), start, method="DOP853", rtol=1e-13, atol=1e-14
    ).y[:, -1]
    errors = [np.abs(march_linear(matrix, source, start, 2.0, n) - reference).max() for n in (8, 16, 32, 64)]
    # Order 4; the reference is four decades below the smallest error.
    assert slopes(errors) == pytest.approx([4.0] * 3, abs=0.2)


def test_simpson_step_agrees_with_the_matrix_exponential():
    base = np.random.default_rng(5).uniform(-1.0, 1.0, (4, 4)) - 2.0 * np.eye(4)
    start = np.array([1.0, -1.0, 0.5, 2.0])
    result = march_linear(lambda _: base, lambda _: np.zeros(4), start, 1.0, 64)
    # Fourth order with steps of 1/64 and eigenvalues of some 3: (3 / 64)^4 / 700 is below 1e-8.
    assert result == pytest.approx(expm(base) @ start, abs=1e-8)


def test_simpson_step_has_its_stability_function_and_does_not_grow():
    for z in (-0.1, -1.0, -10.0, -1e6):
        result = march_linear(lambda _, z=z: np.array([[z]]), lambda _: np.zeros(1), [1.0], 1.0, 1)[0]
        # Hairer, Norsett and Wanner: the (2, 2) Pade approximant of exp(z), A-stable; rounding grows with z.
        expected = (1.0 + z / 2.0 + z * z / 12.0) / (1.0 - z / 2.0 + z * z / 12.0)
        assert result == pytest.approx(expected, rel=1e-9)
        assert abs(result) <= 1.0


def test_simpson_step_integrates_a_cubic_rate_exactly():
    result = march_linear(lambda _: np.zeros((1, 1)), lambda t: np.array([4.0 * t**3 - t]), [0.0], 2.0, 1)
    assert result[0] == pytest.approx(16.0 - 2.0, rel=1e-14)  # Simpson's rule


# --- cubic Hermite polynomial ---


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("coefficients", [(1.0, -2.0, 0.5, 3.0), (0.0, 1.0, 0.0, 0.0), (-2.0, 0.0, 0.0, 1.0)])
def test_hermite_value_reproduces_cubics(share, coefficients):
    cubic = np.polynomial.Polynomial(coefficients)
    left, length = -0.7, 2.5
    ends = [float(f(x)) for f in (cubic, cubic.deriv()) for x in (left, left + length)]
    # Exact for cubics; rounding of numbers of some 20.
    assert hermite_value(*ends, length, share) == pytest.approx(cubic(left + share * length), abs=1e-13)
    assert hermite_middle(*ends, length) == pytest.approx(cubic(left + 0.5 * length), abs=1e-13)


# --- stiff step ---


# Prothero and Robinson: y' = lam (y - cos t) - sin t, solution cos t; five rates at once, data holds them.
@compiled
def prothero_robinson(base, weight, time, guess, data):  # noqa: ARG001
    c, s = math.cos(time), math.sin(time)
    return (
        (
            (base[0] - weight * (data[0] * c + s)) / (1.0 - weight * data[0]),
            (base[1] - weight * (data[1] * c + s)) / (1.0 - weight * data[1]),
            (base[2] - weight * (data[2] * c + s)) / (1.0 - weight * data[2]),
            (base[3] - weight * (data[3] * c + s)) / (1.0 - weight * data[3]),
            (base[4] - weight * (data[4] * c + s)) / (1.0 - weight * data[4]),
        ),
        time,
    )


# y' = -y^2 (the positive root), y' = -2 t y, y' = 3 t^2 + 1, y' = 5 and y' = -y: each stage in closed form.
@compiled
def textbook(base, weight, time, guess, data):  # noqa: ARG001
    return (
        (
            2.0 * base[0] / (1.0 + math.sqrt(1.0 + 4.0 * weight * base[0])),
            base[1] / (1.0 + 2.0 * weight * time),
            base[2] + weight * (3.0 * time * time + 1.0),
            base[3] + weight * 5.0,
            base[4] / (1.0 + weight),
        ),
        time,
    )


stiff_step = make_stiff_step(prothero_robinson)
textbook_step = make_stiff_step(textbook)


def prothero_rates(y, time, data):
    return tuple(lam * (v - math.cos(time)) - math.sin(time) for v, lam in zip(y, data, strict=True))


def textbook_rates(y, time, _):
    return -(y[0] ** 2), -2.0 * time * y[1], 3.0 * time * time + 1.0, 5.0, -y[4]


def march_stiff(step, rates, start, until, steps, data):
    y, length = start, until / steps
    for k in range(steps):
        time = k * length
        second = step(y, rates(y, time, data), time, length, (y, time), data)[1]
        y = second[0]
    return np.array(y)


def test_stiff_step_has_order_two_on_mild_prothero_robinson_problems():
    data = (-1.0, -3.0, -8.0, 0.5, -2.0)
    errors = [
        np.abs(march_stiff(stiff_step, prothero_rates, (1.0,) * 5, 1.5, n, data) - math.cos(1.5))
        for n in (40, 80, 160, 320)
    ]
    for column in np.array(errors).T:
        # Order 2, the rates times the largest step are up to 0.3.
        assert slopes(column) == pytest.approx([2.0] * 3, abs=0.2)


def test_stiff_step_keeps_its_accuracy_on_stiff_prothero_robinson_problems():
    data = (-1e2, -1e4, -1e6, -1e9, -1e5)
    for steps in (10, 20, 40, 80, 160):
        error = np.abs(march_stiff(stiff_step, prothero_rates, (1.0,) * 5, 1.5, steps, data) - math.cos(1.5))
        # Stiffly accurate: no order reduction below h^2 for any rate, and the solution itself for very stiff ones.
        assert error.max() < 0.005 * (1.5 / steps) ** 2
        assert error[3] < 1e-9


def test_stiff_step_has_order_two_on_nonlinear_and_moving_problems():
    exact = np.array([0.5 / (1.0 + 0.5 * 2.0), math.exp(-4.0), 8.0 + 2.0, 1.0 + 10.0, math.exp(-2.0)])
    errors = [
        np.abs(march_stiff(textbook_step, textbook_rates, (0.5, 1.0, 0.0, 1.0, 1.0), 2.0, n, (0.0,)) - exact)
        for n in (20, 40, 80, 160)
    ]
    for column in np.array(errors).T[[0, 1, 2, 4]]:
        # Order 2; the first halvings still show the next term.
        assert slopes(column) == pytest.approx([2.0] * 3, abs=0.2)
    assert errors[0][3] < 1e-12  # a constant rate is exact


def test_stiff_step_damps_a_very_stiff_decay_to_nothing():
    # Solution cos t plus a transient of 1000 that dies at once: L-stable, R(z) goes like (2 GAMMA - 1) / (GAMMA^2 z).
    data = (-1e3, -1e6, -1e9, -1e12, -1e5)
    start = (1001.0,) * 5
    second = stiff_step(start, prothero_rates(start, 0.0, data), 0.0, 1.0, (start, 0.0), data)[1][0]
    left = np.abs(np.array(second) - math.cos(1.0)) / 1000.0
    assert np.all(left < 10.0 / np.abs(data) + 1e-12)


@pytest.mark.parametrize("z", [-0.2, -2.0, -50.0])
def test_stiff_step_has_the_stability_function_of_its_source(z):
    # Alexander (1977): R(z) = (1 + (1 - 2 gamma) z) / (1 - gamma z)^2. Two starts differ by the homogeneous solution.
    data = (z,) * 5
    results = []
    for start in ((1.0,) * 5, (2.0,) * 5):
        results.append(stiff_step(start, prothero_rates(start, 0.0, data), 0.0, 1.0, (start, 0.0), data)[1][0][0])
    gamma = 1.0 - math.sqrt(0.5)
    assert pytest.approx(gamma, rel=1e-15) == GAMMA
    # Rounding of a difference of two numbers near one.
    assert results[1] - results[0] == pytest.approx((1.0 + (1.0 - 2.0 * gamma) * z) / (1.0 - gamma * z) ** 2, abs=1e-14)


def test_second_stage_lies_at_the_end_of_the_step_and_is_the_result():
    start, data = (1.0,) * 5, (-2.0, -3.0, -4.0, -1e7, -1.0)
    first, second, _ = stiff_step(start, prothero_rates(start, 0.3, data), 0.3, 0.1, (start, 0.0), data)
    assert first[1] == pytest.approx(0.3 + GAMMA * 0.1, rel=1e-15)
    assert second[1] == pytest.approx(0.4, rel=1e-15)
    # Stiffly accurate: a rate of 1e7 pins the result to the solution at the end, not to a mixture of stages; of the
    # start's distance of 0.045, R(-1e6) = 5e-6 is left.
    assert second[0][3] == pytest.approx(math.cos(0.4), abs=5e-7)
    # Both stages solve their equation: the end is reached with weights (1 - gamma, gamma) on the stage rates.
    for k in range(3):
        rates = [data[k] * (y[0][k] - math.cos(y[1])) - math.sin(y[1]) for y in (first, second)]
        assert second[0][k] == pytest.approx(1.0 + 0.1 * ((1.0 - GAMMA) * rates[0] + GAMMA * rates[1]), rel=1e-13)


def estimate(step, rates, start, time, length, data):
    return np.abs(step(start, rates(start, time, data), time, length, (start, time), data)[2])


def test_error_estimate_falls_with_the_third_power_of_the_step():
    lengths = [0.08 / 2**k for k in range(5)]
    start = (0.5, 1.0, 0.0, 1.0, 1.0)
    errors = np.array([estimate(textbook_step, textbook_rates, start, 0.5, h, (0.0,)) for h in lengths])
    for column in errors.T[:2]:
        # Order 3 in the limit; 0.3 for the longest steps.
        assert slopes(column) == pytest.approx([3.0] * 4, abs=0.3)
    mild = (-1.0, -2.0, -3.0, -4.0, -5.0)
    exact = (math.cos(0.5),) * 5
    errors = np.array([estimate(stiff_step, prothero_rates, exact, 0.5, h, mild) for h in lengths])
    for column in errors.T:
        assert slopes(column) == pytest.approx([3.0] * 4, abs=0.3)


def test_error_estimate_is_of_the_size_of_the_error():
    start = (0.5, 1.0, 0.0, 1.0, 1.0)
    second, error = textbook_step(start, textbook_rates(start, 0.0, None), 0.0, 0.05, (start, 0.0), (0.0,))[1:]
    # y' = 3 t^2 + 1: the quadrature of order 3 is exact for it, so the estimate is the error itself.
    assert error[2] == pytest.approx((0.05**3 + 0.05) - second[0][2], rel=1e-9)
    # y' = -y^2: the estimate leaves out what the stages themselves miss, a factor of a few.
    true = abs(0.5 / (1.0 + 0.025) - second[0][0])
    assert 0.2 * true < abs(error[0]) < 5.0 * true


@pytest.mark.parametrize("length", [1e-3, 1.0, 5.0])
def test_error_estimate_vanishes_for_a_solution_linear_in_time(length):
    # y' = 5: all stage rates are equal and the weights of the estimate sum to zero, up to rounding.
    assert (
        estimate(textbook_step, textbook_rates, (0.5, 1.0, 0.0, 1.0, 1.0), 0.5, length, (0.0,))[3]
        < 1e-13 * 5.0 * length + 1e-15
    )
