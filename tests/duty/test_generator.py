import dataclasses
import math

import numpy as np
import pytest

from ullage.duty.generator import (
    ENGINE_FURTHEST,
    FURTHEST,
    LONGEST_PULSE,
    MOST_PULSED,
    SHORTEST_PULSE,
    draw_profile,
    largest_load_spread,
    pulse_law,
)
from ullage.duty.laps import lay_out
from ullage.duty.profile import Spread, Stretch

SPREAD = Spread(4.0, 60.0, 12e5, 80e5)
LONG = Stretch(20_000.0, 18.0, 450.0, 22e5, 0.0, 200.0, SPREAD)
SEEDS = range(8)
PINNED_FINE = [1651595.2032609694, 1651595.2032609694, 1651595.2032609694, 1651595.2032609694]
PINNED = {
    "vehicle_speed": [18.64519701660553, 17.881932201692518, 15.669427303571998, 20.026372387169438, 19.11695279985791],
    "engine_speed": [489.6020424268686, 495.4957689519547, 448.7746563771221, 486.61277070085373, 523.221056917988],
    "steering_load": [
        3801585.305331524,
        2080764.8694306663,
        1651595.2032609694,
        1931071.9572842726,
        2106366.8354618507,
    ],
}


def drawn(stretch=LONG, start=0.0, seed=1, lap=1, place=0):
    """Return a stretch drawn from a key."""
    return draw_profile(stretch, stretch.variation, start, 0.0, (seed, lap, place))


def mean_over_time(profile, name):
    """Return the mean of a channel that is linear between knots."""
    return np.trapezoid(getattr(profile, name), profile.time) / (profile.time[-1] - profile.time[0])


@pytest.fixture(scope="module")
def long_ones():
    return [drawn(seed=seed) for seed in SEEDS]


def test_first_values_of_a_seed_are_these_on_every_machine():
    # What this generator gave when it was written: a change of any bit of it changes every seeded race.
    found = drawn(Stretch(3.5, 18.0, 450.0, 22e5, 0.0, 7.0, SPREAD), start=0.25, seed=7, lap=2, place=0)
    assert found.time.tolist() == [0.25, 1.0, 2.0, 3.0, 3.75]
    assert {name: values.tolist() for name, values in found._asdict().items() if name in PINNED} == PINNED


def test_accelerations_have_no_spread_and_take_no_numbers():
    thrown = drawn(dataclasses.replace(LONG, acceleration=(1.0, -2.0, 3.0)))
    assert [set(values.tolist()) for values in thrown[-3:]] == [{1.0}, {-2.0}, {3.0}]
    assert all(map(np.array_equal, thrown[:-3], drawn()[:-3]))


def test_same_key_gives_the_same_and_another_seed_lap_or_place_another():
    same, others = drawn(seed=3, lap=2, place=1), [(4, 2, 1), (3, 1, 1), (3, 2, 2), (2, 3, 1), (3, 1, 2)]
    assert all(map(np.array_equal, drawn(seed=3, lap=2, place=1), same))
    for seed, lap, place in others:
        other = drawn(seed=seed, lap=lap, place=place)
        for name in ("vehicle_speed", "engine_speed", "steering_load"):
            assert abs(np.corrcoef(getattr(same, name), getattr(other, name))[0, 1]) < 0.11  # 5 / sqrt(20000 s / 10 s)


def test_lap_does_not_depend_on_how_many_follow():
    short = Stretch(60.3, 18.0, 450.0, 22e5, 0.0, 200.0, SPREAD)
    two, three = (lay_out([short, LONG], [], laps, 0.0, 5)[0] for laps in (2, 3))
    for piece, same in zip(two, three, strict=False):
        assert all(map(np.array_equal, piece.profile, same.profile))


def test_knots_are_the_ends_and_the_whole_seconds_between():
    found = drawn(Stretch(3.0, 18.0, 450.0, 22e5, 0.0, None, SPREAD), start=10.5)
    assert found.time.tolist() == [10.5, 11.0, 12.0, 13.0, 13.5]
    almost = drawn(Stretch(2.0, 18.0, 450.0, 22e5, 0.0, None, SPREAD), start=10.0 - 1e-12)
    assert almost.time.tolist() == [10.0 - 1e-12, 11.0, 12.0 - 1e-12]
    assert found.elevation.tolist() == [0.0] * 5


def test_elevation_climbs_evenly():
    found = drawn(Stretch(3.0, 18.0, 450.0, 22e5, 0.0, 6.0, SPREAD), start=10.5)
    assert found.elevation == pytest.approx(2.0 * (found.time - 10.5), abs=1e-12)  # rounding


def test_vehicle_covers_the_length_exactly_whatever_the_seed():
    for seed in SEEDS:
        for duration in (0.7, 5.3, 611.1):
            found = drawn(dataclasses.replace(LONG, duration=duration), start=3.3, seed=seed)
            assert mean_over_time(found, "vehicle_speed") == pytest.approx(18.0, rel=1e-12)  # rounding


def test_means_and_spreads_of_both_speeds_are_those_asked(long_ones):
    # Correlated over 5 s, a mean over T has the variance 2 * 5 s / T; 160000 s give 0.8 % of the spread, four
    # times that is 3.2 %. The variance of such values has a standard error of sqrt(2 * 5 s / T), 0.8 %; 2 % are taken.
    engine = np.array([profile.engine_speed[1:-1] for profile in long_ones])
    vehicle = np.array([profile.vehicle_speed[1:-1] for profile in long_ones])
    assert engine.mean() == pytest.approx(450.0, abs=0.032 * 60.0)
    assert engine.std() == pytest.approx(60.0, rel=0.02)
    assert vehicle.std() == pytest.approx(4.0, rel=0.02)


def test_spread_holds_from_the_first_second_and_at_ends_between_seconds():
    # 4000 seeds: a standard error of 1.1 % of a standard deviation, four times that
    short = Stretch(4.25, 18.0, 450.0, 22e5, 0.0, None, SPREAD)
    engine = np.array([drawn(short, start=0.5, seed=seed).engine_speed for seed in range(4000)])
    assert engine.std(axis=0) == pytest.approx(np.full(6, 60.0), rel=0.045)
    assert engine.mean(axis=0) == pytest.approx(np.full(6, 450.0), abs=0.065 * 60.0)


def test_speeds_forget_in_five_seconds_and_the_engine_follows_the_vehicle(long_ones):
    wander = np.array([profile.engine_speed[1:-1] for profile in long_ones])
    # exp(-1/5) in its rational form is 9/11; 160000 s with 10 s a draw leave 0.8 %, three times that
    assert np.corrcoef(wander[:, 1:].ravel(), wander[:, :-1].ravel())[0, 1] == pytest.approx(9.0 / 11.0, abs=0.024)
    vehicle = np.array([profile.vehicle_speed[1:-1] for profile in long_ones])
    assert np.corrcoef(vehicle.ravel(), wander.ravel())[0, 1] == pytest.approx(0.6, abs=0.024)


def test_speeds_never_leave_their_bounds_at_the_largest_spread():
    widest = Stretch(5000.0, 18.0, 450.0, 0.0, 0.0, None, Spread(18.0 / FURTHEST, 450.0 / ENGINE_FURTHEST, 0.0, 0.0))
    for seed in SEEDS:
        found = drawn(widest, seed=seed)
        for name, mean in (("vehicle_speed", 18.0), ("engine_speed", 450.0)):
            assert getattr(found, name).min() >= 0.0
            assert getattr(found, name).max() <= 2.0 * mean
    for seed in range(200):  # short stretches are moved furthest to bring their mean to what is asked
        assert drawn(dataclasses.replace(widest, duration=2.2), seed=seed).vehicle_speed.min() >= 0.0


@pytest.mark.parametrize(("mean", "spread", "peak"), [(22.0, 12.0, 80.0), (45.0, 15.0, 100.0), (6.0, 5.0, 40.0)])
def test_pulse_law_has_the_mean_and_the_spread(mean, spread, peak):
    base, share = pulse_law(mean, spread, peak)
    assert base + share * (peak - base) / 3.0 == pytest.approx(mean, rel=1e-12)  # E[x] = 1/3; rounding
    square = share * (peak - base) ** 2 / 6.0  # E[x^2] = 1/6
    assert square - (mean - base) ** 2 == pytest.approx(spread**2, rel=1e-12)


@pytest.mark.parametrize(("mean", "peak"), [(22.0, 80.0), (50.0, 90.0), (3.0, 100.0)])
def test_largest_spread_is_where_the_base_is_gone_or_most_of_the_time_is_pulsed(mean, peak):
    base, share = pulse_law(mean, largest_load_spread(mean, peak), peak)
    assert min(base, MOST_PULSED - share) == pytest.approx(0.0, abs=1e-6)  # differences of values up to 100
    assert max(base, MOST_PULSED - share) > 0.0
    base, share = pulse_law(mean, 0.9 * largest_load_spread(mean, peak), peak)
    assert base > 0.0
    assert share < MOST_PULSED


@pytest.mark.parametrize(("mean", "peak"), [(22.0, 22.0), (22.0, 10.0), (0.0, 50.0)])
def test_no_pulses_below_the_mean_or_about_zero(mean, peak):
    assert largest_load_spread(mean, peak) == 0.0


def test_mean_load_is_kept_and_its_spread_over_a_second_is_less(long_ones):
    # Pulses and gaps of some 1.2 s and 3.3 s: 160000 s hold 35000 pulses, a standard error of 12 / sqrt(35000) bar.
    means = [mean_over_time(profile, "steering_load") for profile in long_ones]
    assert np.mean(means) == pytest.approx(22e5, abs=4 * 12e5 / math.sqrt(35_000))
    second = np.array([profile.steering_load[1:-1] for profile in long_ones])
    # The mean over a second of pulses of 0.3 s to 2 s: four fifths of the spread are left, as documented.
    assert 0.75 < second.std() / 12e5 < 0.87
    base, _ = pulse_law(22e5, 12e5, 80e5)
    assert second.min() >= base * (1.0 - 1e-12)  # the base is a difference of areas; rounding
    assert second.max() < 80e5


@pytest.mark.parametrize("step", [0.5, 0.3, 0.1, 0.02])
def test_shorter_step_shows_the_same_drive_more_closely(step):
    short = dataclasses.replace(LONG, duration=400.6)
    coarse, fine = (draw_profile(short, SPREAD, 3.3, 0.0, (1, 1, 0), each) for each in (1.0, step))
    assert np.isin(coarse.time, fine.time).all()
    multiples = fine.time[~np.isin(fine.time, coarse.time)] / step
    assert multiples == pytest.approx(np.round(multiples), abs=1e-9)  # rounding of numbers up to 20000
    for name in ("vehicle_speed", "engine_speed", "elevation"):
        assert getattr(fine, name) == pytest.approx(np.interp(fine.time, coarse.time, getattr(coarse, name)), rel=1e-12)
    # the load of a knot is a mean over the time nearest to it: their sums are the same energy
    spans = [np.diff(np.concatenate([[p.time[0]], 0.5 * (p.time[1:] + p.time[:-1]), [p.time[-1]]]))
             for p in (coarse, fine)]  # fmt: skip
    energies = [span @ profile.steering_load for span, profile in zip(spans, (coarse, fine), strict=True)]
    assert energies[1] == pytest.approx(energies[0], rel=1e-12)
    assert fine.steering_load.std() > coarse.steering_load.std()


@pytest.mark.parametrize("step", [1.0, 2.0, 60.0])
def test_step_of_a_second_or_more_changes_nothing(step):
    found = draw_profile(LONG, SPREAD, 3.3, 0.0, (1, 1, 0), step)
    assert all(map(np.array_equal, found, drawn(start=3.3)))


def test_first_loads_at_a_tenth_of_a_second_are_these_on_every_machine():
    # What this gave when it was written: a change of any bit of it changes every seeded race with such a step.
    found = draw_profile(dataclasses.replace(LONG, duration=2.0), SPREAD, 0.25, 0.0, (7, 2, 0), 0.1)
    assert found.steering_load[2:6].tolist() == PINNED_FINE


def test_spread_of_the_pulses_themselves_is_what_was_asked(monkeypatch):
    # A clock of 20 ms sees the pulses nearly whole; what it blurs at their edges is 20 ms of some 1.2 s twice, at most
    # 2 % of the variance. 8000 s hold 1800 pulses; a variance of mostly rare pulses has a standard error near 5 %.
    monkeypatch.setattr("ullage.duty.generator.CLOCK_STEP", 0.02)
    loads = [drawn(dataclasses.replace(LONG, duration=2000.0), seed=seed).steering_load for seed in range(4)]
    assert np.std(loads) == pytest.approx(12e5, rel=0.08)
    base, share = pulse_law(22e5, 12e5, 80e5)
    assert np.mean(np.array(loads) > base * 1.0001) == pytest.approx(share, rel=0.08)


def test_pulses_last_as_long_as_they_are_said_to(monkeypatch):
    monkeypatch.setattr("ullage.duty.generator.CLOCK_STEP", 0.01)
    load = drawn(dataclasses.replace(LONG, duration=1000.0)).steering_load
    base, _ = pulse_law(22e5, 12e5, 80e5)
    edges = np.flatnonzero(np.diff((load > base * (1.0 + 1e-9)).astype(int)))
    lengths = 0.01 * np.diff(edges)[(0 if load[edges[0]] <= base * (1.0 + 1e-9) else 1) :: 2]
    # Neighbours without a gap count as one: most are single. A cell of 10 ms is seen at both ends.
    assert lengths.min() >= SHORTEST_PULSE - 0.021
    assert np.quantile(lengths, 0.9) <= LONGEST_PULSE + 0.021


def test_mean_load_holds_in_the_first_second_too():
    # 6000 seeds of a spread of 10 bar: a standard error of 0.13 bar, four times that
    short = Stretch(2.5, 18.0, 450.0, 22e5, 0.0, None, SPREAD)
    load = np.array([drawn(short, start=0.5, seed=seed).steering_load for seed in range(6000)])
    assert load.mean(axis=0) == pytest.approx(np.full(4, 22e5), abs=0.6e5)


@pytest.mark.parametrize("spread", [0.0, 5e-324, 1e-160])
def test_stretch_without_a_spread_of_the_load_has_a_constant_load(spread):
    peak = 80e5 if spread else 0.0
    found = drawn(dataclasses.replace(LONG, duration=50.0, variation=Spread(1.0, 0.0, spread, peak)))
    assert np.all(found.steering_load == 22e5)
    assert np.all(found.engine_speed == 450.0)
    assert np.ptp(found.vehicle_speed) > 1.0
