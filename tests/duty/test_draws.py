import numpy as np
import pytest

from ullage.duty.draws import DURATION, drawn_duration, near_normal, shortest_duration, stream, uniform

SEEDS = range(4000)
PINNED_UNIFORM = [0.4508306407237106, 0.624092858748561]
PINNED_DURATION = 55.37487307571254


def durations(mean, spread):
    """Return drawn durations of many seeds."""
    return np.array([drawn_duration(mean, spread, seed, 1, 0, DURATION) for seed in SEEDS])


def test_first_values_of_a_key_are_these_on_every_machine():
    # What this gave when it was written: a change of any bit of it changes every seeded race.
    assert uniform(stream(7, 2, 0, DURATION), 2).tolist() == PINNED_UNIFORM
    assert drawn_duration(60.0, 20.0, 7, 2, 0, DURATION) == PINNED_DURATION


def test_stream_of_a_longer_key_has_nothing_to_do_with_that_of_a_shorter():
    # 20000 pairs: a standard error of 0.7 %, five times that
    first, second = (uniform(stream(7, *key), 20_000) for key in ((2, 0), (2, 0, DURATION)))
    assert abs(np.corrcoef(first, second)[0, 1]) < 0.035


def test_near_normal_numbers_have_mean_zero_variance_one_and_a_bound():
    # 200000 of them: standard errors of 0.0022 and 0.0025, four times that
    found = near_normal(stream(3, 1), 200_000)
    assert found.mean() == pytest.approx(0.0, abs=0.01)
    assert found.var() == pytest.approx(1.0, abs=0.01)
    assert abs(found).max() <= np.sqrt(12.0)


def test_duration_without_a_spread_is_the_mean_to_the_last_bit():
    assert drawn_duration(0.1 + 0.2, 0.0, 1, 1, 0, DURATION) == 0.1 + 0.2


def test_durations_have_the_mean_and_the_spread_that_were_asked():
    # 4000 seeds: standard errors of 1.6 % and 1.1 % of the spread, four times that
    found = durations(60.0, 10.0)
    assert found.mean() == pytest.approx(60.0, abs=0.65)
    assert found.std() == pytest.approx(10.0, rel=0.045)


@pytest.mark.parametrize(("mean", "spread", "shortest"), [(60.0, 30.0, 6.0), (4.0, 2.0, 1.0), (0.5, 0.25, 0.5)])
def test_durations_are_cut_off_alike_on_both_sides(mean, spread, shortest):
    # the mean stays: 4000 seeds, a standard error of at most 1.6 % of the spread, four times that
    found = durations(mean, spread)
    assert found.min() == pytest.approx(shortest, rel=1e-12)
    assert found.max() == pytest.approx(2.0 * mean - shortest, rel=1e-12)
    assert found.mean() == pytest.approx(mean, abs=0.065 * spread)


def test_no_duration_is_shorter_than_the_shortest():
    assert durations(60.0, 10.0).min() >= shortest_duration(60.0, 10.0) == 60.0 - 10.0 * np.sqrt(12.0)
    assert durations(60.0, 30.0).min() >= shortest_duration(60.0, 30.0) == 6.0
