import numpy as np
import pytest

from ullage.numerics.linear import make_linear_rate, make_solve_in_place


@pytest.mark.parametrize("n", [1, 2, 4, 7])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_solution_of_dominant_matrices_is_that_of_numpy(n, seed):
    rng = np.random.default_rng(seed)
    matrix = rng.uniform(-1.0, 1.0, (n, n)) + np.diag(rng.choice([-1.0, 1.0], n) * (n + rng.uniform(0.5, 2.0, n)))
    right = rng.uniform(-1e3, 1e3, n)
    expected = np.linalg.solve(matrix, right)
    solution = right.copy()
    make_solve_in_place(n)(matrix.copy(), solution)
    # Condition below some 10: a few units in the last place of the largest entry.
    assert solution == pytest.approx(expected, abs=1e-14 * np.abs(expected).max() * 10.0)


def test_solution_of_a_badly_scaled_dominant_matrix():
    matrix = np.array([[1e8, 3.0, 1.0], [2.0, 1.0, 1e-3], [0.0, 1e-6, 1e-4]])
    right = matrix @ np.array([1.0, -2.0, 3.0])
    make_solve_in_place(3)(matrix.copy(), right)
    # Row scales span twelve decades; elimination in this order loses no more than two digits.
    assert right == pytest.approx([1.0, -2.0, 3.0], rel=1e-13)


def test_identity_leaves_the_right_hand_side():
    right = np.array([1.5, -2.5, 0.0, 7.0])
    make_solve_in_place(4)(np.eye(4), right)
    assert right.tolist() == [1.5, -2.5, 0.0, 7.0]


@pytest.mark.parametrize("n", [2, 4])
def test_linear_rate_is_matrix_times_value_plus_source(n):
    rng = np.random.default_rng(n)
    matrix, source, value = rng.normal(size=(n, n)), rng.normal(size=n), rng.normal(size=n)
    rate = np.full(n, np.nan)
    make_linear_rate(n)(matrix, source, value, rate)
    assert rate == pytest.approx(matrix @ value + source, abs=1e-14)  # order of summation
