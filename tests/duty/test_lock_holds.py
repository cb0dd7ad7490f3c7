import dataclasses

import numpy as np
import pytest

from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.lock_holds import LONGEST, SHORTEST, draw_holds, with_holds
from ullage.duty.profile import LockHolds, Profile, Spread, Stretch

LOAD = 132e5
HOLDS = LockHolds(20, 2.0, LOAD)
STEADY = Stretch(200.0, 10.0, 300.0, 15e5, 0.0, 40.0, lock_holds=HOLDS)
DRAWN = dataclasses.replace(STEADY, variation=Spread(2.0, 30.0, 9e5, 80e5))
SEEDS = range(2000)
PINNED = [[34.81964046292924, 37.01754142848818], [59.01328334174247, 60.139982178033016]]


def profile_of(stretch, seed=1, stops=(), step=1.0):
    """Return the channels of one lap of a stretch without its stops."""
    pieces, _ = lay_out([stretch], stops, 1, 0.0, seed, step)
    return [piece.profile for piece in pieces if piece.stop is None]


def held(profile):
    """Return the begins and ends of the holds of a profile: two knots at one time."""
    edges = profile.time[1:][np.diff(profile.time) == 0.0]
    return edges[0::2], edges[1::2]


def integral(profile, name="steering_load"):
    return np.trapezoid(getattr(profile, name), profile.time)


def test_first_holds_of_a_key_are_these_on_every_machine():
    # What this gave when it was written: a change of any bit of it changes every seeded race.
    assert draw_holds(LockHolds(2, 2.0, LOAD), 10.0, 70.0, (7, 2, 0)).tolist() == PINNED


def test_holds_are_as_many_as_asked_in_order_and_apart():
    for seed in range(200):
        found = draw_holds(LockHolds(60, 2.0, LOAD), 5.0, 190.0, (seed, 1, 0))  # nearly all of the time
        begins, ends = found.T
        assert len(found) == 60
        assert begins[0] >= 5.0
        assert ends[-1] <= 190.0 + 1e-9  # sums of 60 lengths; rounding
        assert np.all(begins[1:] >= ends[:-1] - 1e-12)
        assert np.all((ends - begins >= 2.0 * SHORTEST - 1e-12) & (ends - begins <= 2.0 * LONGEST + 1e-12))


def test_holds_last_as_long_as_asked_on_average():
    # 40000 uniform lengths of 1 s to 3 s: a standard error of 0.58 / 200 s, four times that
    lengths = np.concatenate([np.diff(draw_holds(HOLDS, 0.0, 200.0, (seed, 1, 0))) for seed in SEEDS])
    assert lengths.mean() == pytest.approx(2.0, abs=0.012)


def test_holds_come_anywhere_in_the_stretch_alike():
    # 2000 seeds of 20 holds of 2 s: a fifth of the time in every tenth of the stretch. A tenth holds the wheel 4 s,
    # with a standard deviation of some 2.7 s over seeds: four standard errors are 0.24 s, 1.2 % of 20 s.
    share = np.zeros(10)
    for seed in SEEDS:
        begins, ends = draw_holds(HOLDS, 0.0, 200.0, (seed, 1, 0)).T
        for tenth in range(10):
            low, high = 20.0 * tenth, 20.0 * (tenth + 1)
            share[tenth] += np.clip(np.minimum(ends, high) - np.maximum(begins, low), 0.0, None).sum() / 20.0
    assert share / len(SEEDS) == pytest.approx(np.full(10, 0.2), abs=0.012)


@pytest.mark.parametrize("stretch", [STEADY, DRAWN], ids=["steady", "drawn"])
def test_load_jumps_to_the_lock_and_back_and_is_as_before_between(stretch):
    found = profile_of(stretch)[0]
    plain = profile_of(dataclasses.replace(stretch, lock_holds=None))[0]
    begins, ends = held(found)
    assert len(begins) == HOLDS.count
    for begin, end in zip(begins, ends, strict=True):
        inside = (found.time > begin) & (found.time < end)
        assert np.all(found.steering_load[inside] == LOAD)
        before, after = np.flatnonzero(found.time == begin)
        last, then = np.flatnonzero(found.time == end)
        assert found.steering_load[[after, last]].tolist() == [LOAD, LOAD]
        undisturbed = np.interp([begin, end], plain.time, plain.steering_load)
        assert found.steering_load[[before, then]] == pytest.approx(undisturbed, rel=1e-15)
    outside = found.steering_load != LOAD
    expected = np.interp(found.time[outside], plain.time, plain.steering_load)
    assert found.steering_load[outside] == pytest.approx(expected, rel=1e-15)


@pytest.mark.parametrize("stretch", [STEADY, DRAWN], ids=["steady", "drawn"])
def test_hold_leaves_speeds_and_elevation_to_the_last_bit(stretch):
    found = profile_of(stretch)[0]
    plain = profile_of(dataclasses.replace(stretch, lock_holds=None))[0]
    old = np.isin(found.time, plain.time)
    for name in set(Profile._fields) - {"steering_load"}:
        assert np.array_equal(getattr(found, name)[old], getattr(plain, name))
        assert integral(found, name) == pytest.approx(integral(plain, name), rel=1e-12)  # rounding


def test_rest_of_the_stretch_keeps_its_mean_load():
    # A mean over 160 s of pulses of 9 bar, some 4.5 s from one to the next: 9 / sqrt(160 / 4.5) bar a seed; 2000 seeds
    # leave 0.034 bar, four times that
    rests = []
    for seed in SEEDS:
        found = profile_of(DRAWN, seed)[0]
        begins, ends = held(found)
        locked = np.sum(ends - begins)
        rests.append((integral(found) - LOAD * locked) / (200.0 - locked))
    assert np.mean(rests) == pytest.approx(15e5, abs=0.14e5)


def test_stop_within_a_hold_cuts_it_and_loses_none_of_it():
    whole = profile_of(STEADY)[0]
    begins, ends = held(whole)
    parts = profile_of(STEADY, stops=[NamedStop("halt", None, 30.0, True, 90.0, 0.0, 0.5 * (begins[3] + ends[3]))])
    assert len(parts) == 2
    assert sum(map(integral, parts)) == pytest.approx(integral(whole), rel=1e-12)  # rounding
    assert parts[0].steering_load[-1] == parts[1].steering_load[0] == LOAD


def test_hold_that_begins_and_ends_on_knots_has_its_length():
    flat = np.zeros(5)
    plain = Profile(np.arange(5.0), flat, flat, np.full(5, 10.0), flat, flat, flat, flat)
    found = with_holds(plain, np.array([[1.0, 3.0]]), 100.0)
    assert integral(found) == 2.0 * 10.0 + 2.0 * 100.0
