import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ullage.duty.resampling import time_averaged

RANDOM = np.random.default_rng(5)


def wandering(count, rate, settling_time):
    """Return a random channel about zero with a spread of one."""
    keep = np.exp(-1.0 / (rate * settling_time))
    values, noise = np.zeros(count), RANDOM.standard_normal(count)
    for row in range(1, count):
        values[row] = keep * values[row - 1] + np.sqrt(1.0 - keep * keep) * noise[row]
    return values


@given(st.lists(st.floats(0.01, 3.0), min_size=2, max_size=40), st.floats(0.05, 5.0), st.integers(0, 99))
def test_integral_over_the_whole_is_kept(steps, interval, seed):
    time = np.append(0.0, np.cumsum(steps))
    values = np.random.default_rng(seed).uniform(-1.0, 1.0, len(time))
    inner = np.arange(1, int(time[-1] / interval) + 1) * interval
    knots = np.concatenate([[0.0], inner[inner < time[-1] - 1e-6], [time[-1]]])
    means = time_averaged(time, values, knots)
    # rounding of sums
    assert np.trapezoid(means, knots) == pytest.approx(np.trapezoid(values, time), abs=1e-12 * len(time))


def test_line_is_its_own_average_but_for_the_ends():
    time = np.linspace(0.0, 10.0, 1001)
    knots = np.arange(11.0)
    means = time_averaged(time, 3.0 * time, knots)
    assert means[1:-1] == pytest.approx(3.0 * knots[1:-1], rel=1e-12)
    assert means[[0, -1]] == pytest.approx([0.75, 29.25], rel=1e-12)  # means of the first and the last half second


def test_knots_of_a_step_see_their_share_of_it():
    time = np.array([0.0, 1.4, 1.4 + 1e-9, 3.0])
    means = time_averaged(time, np.array([0.0, 0.0, 1.0, 1.0]), np.arange(4.0))
    assert means == pytest.approx([0.0, 0.1, 1.0, 1.0], abs=1e-8)  # 1.4 to 1.5 of 0.5 to 1.5


def test_what_the_ram_takes_is_kept_to_a_tenth_of_a_per_cent():
    """Work is load times flow; the flow of a pump follows the engine, which is slow beside a sample."""
    rate, count = 100.0, 60_000
    time = np.arange(count) / rate
    load = np.abs(20e5 + 30e5 * wandering(count, rate, 0.4))
    speed = 430.0 + 60.0 * wandering(count, rate, 3.0)
    knots = np.append(np.arange(0.0, time[-1], 0.5), time[-1])
    exact = np.trapezoid(load * speed, time)
    found = np.trapezoid(time_averaged(time, load, knots) * time_averaged(time, speed, knots), knots)
    assert found == pytest.approx(exact, rel=1e-3)
    picked = np.trapezoid(np.interp(knots, time, load) * np.interp(knots, time, speed), knots)
    assert abs(picked - exact) > 3.0 * abs(found - exact)  # single rows in place of averages would lose it
