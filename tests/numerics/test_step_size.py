import math

import numpy as np
import pytest

from ullage.numerics.step_size import LEAST_FACTOR, MOST_FACTOR, SAFETY, step_factor


@pytest.mark.parametrize("order", [2.0, 3.0, 5.0])
@pytest.mark.parametrize("error", [0.05, 0.5, 1.0, 20.0])
def test_next_step_brings_the_error_to_the_tolerance_with_a_margin(order, error):
    # An error that goes with step^order lands at SAFETY^order of the tolerance; exact but for rounding.
    assert error * step_factor(error, order) ** order == pytest.approx(SAFETY**order, rel=1e-13)


def test_an_error_at_the_tolerance_shortens_the_step():
    assert step_factor(1.0, 3.0) == SAFETY
    assert 0.5 < SAFETY < 1.0


@pytest.mark.parametrize("error", [math.inf, 1e30])
def test_a_huge_error_shortens_by_the_least_factor(error):
    assert step_factor(error, 3.0) == LEAST_FACTOR


def test_not_a_number_counts_as_failure():
    assert step_factor(math.nan, 3.0) == LEAST_FACTOR


@pytest.mark.parametrize("error", [0.0, 1e-20, 1e-9])
def test_no_error_lengthens_by_the_most_factor(error):
    assert step_factor(error, 3.0) == MOST_FACTOR


def test_factor_never_rises_with_the_error_and_stays_in_its_range():
    factors = [step_factor(error, 3.0) for error in np.geomspace(1e-15, 1e9, 200)]
    assert np.all(np.diff(factors) <= 0.0)
    assert (factors[0], factors[-1]) == (MOST_FACTOR, LEAST_FACTOR)
