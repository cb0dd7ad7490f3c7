import dataclasses

import numpy as np
import pytest

from track_points import points_of
from ullage.duty.joining import joined_by_distance, joined_by_time, over_ground, planned_length
from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.profile import Profile, Spread, Stretch
from ullage.duty.track import Part, integral, track_of

EAST = np.arange(0.0, 6000.5, 12.0)
CLOCK = EAST / 12.0


def hilly(way):
    """Return heights of long hills."""
    return 600.0 + 40.0 * np.sin(2.0 * np.pi * np.asarray(way) / 3000.0)


TRACK = track_of(points_of(EAST, elevation=hilly(EAST), time=CLOCK), 20.0, Part())
UNTIMED = track_of(points_of(EAST, elevation=hilly(EAST)), 20.0, Part())
NEAR = 0.7  # a mean over 20 m, knots of 12 m on a slope of 8 % [m]


def stretch(length, speed=10.0, **values):
    """Return a stretch without a height of its own."""
    return dataclasses.replace(Stretch(length / speed, speed, 400.0, 2e6, 0.0, None), **values)


def pieces(lap, laps=1, stops=()):
    """Return the pieces of a race that begins at the height of the track."""
    return lay_out(lap, stops, laps, float(TRACK.elevation[0]), seed=3)[0]


def climbs_with_the_ground(laid):
    """Assert that the height of every knot of pieces is that of the ground at the distance that is driven there."""
    gone = 0.0
    for piece in laid:
        profile = piece.profile
        way = gone + integral(profile.vehicle_speed, profile.time)
        gone = float(way[-1])
        assert profile.elevation == pytest.approx(hilly(way), abs=NEAR)
        assert (profile.time[0], profile.time[-1]) == (piece.start, piece.end)
    return gone


SPREAD = Spread(3.0, 30.0, 1e6, 8e6)
LAPS = {
    "one": [stretch(6000.0)],
    "uneven": [stretch(1000.0, 25.0), stretch(2000.0, 4.0), stretch(3000.0, 15.0)],
    "drawn": [stretch(2500.0, 20.0, variation=SPREAD), stretch(3500.0, 10.0, variation=SPREAD)],
}


@pytest.mark.parametrize("driven", [True, False], ids=["by track", "by plan"])
@pytest.mark.parametrize("lap", LAPS.values(), ids=LAPS)
def test_lap_climbs_with_the_ground_and_ends_where_the_track_does(lap, driven):
    laid = pieces(joined_by_distance(lap, TRACK, driven=driven))
    assert climbs_with_the_ground(laid) == pytest.approx(6000.0, rel=1e-9)
    assert laid[-1].end == pytest.approx(500.0 if driven else sum(each.duration for each in lap), rel=1e-9)


@pytest.mark.parametrize("lap", LAPS.values(), ids=LAPS)
def test_lap_that_is_driven_by_the_track_has_its_speed(lap):
    for piece in pieces(joined_by_distance(lap, TRACK, driven=True)):
        wanted = np.interp(piece.profile.time, TRACK.time, TRACK.speed)
        assert piece.profile.vehicle_speed == pytest.approx(wanted, abs=1e-6)


def test_lap_is_scaled_to_the_track_and_speeds_stay():
    lap = [stretch(2000.0, 20.0), stretch(3600.0, 10.0)]
    joined = joined_by_distance(lap, UNTIMED, driven=False)
    assert planned_length(joined) == pytest.approx(6000.0, rel=1e-9)  # degrees have nine digits
    assert [each.vehicle_speed for each in joined] == pytest.approx([20.0, 10.0], rel=1e-12)
    assert [each.duration / of.duration for each, of in zip(joined, lap, strict=True)] == pytest.approx([60 / 56] * 2)


@pytest.mark.parametrize("driven", [True, False])
def test_stretch_without_a_speed_stands_at_its_place(driven):
    still = Stretch(30.0, 0.0, 100.0, 0.0, 0.0, None)
    laid = pieces(joined_by_distance([still, stretch(2250.0), still, stretch(3750.0), still], TRACK, driven=driven))
    for place, way in ((0, 0.0), (2, 2250.0), (4, 6000.0)):
        assert laid[place].end - laid[place].start == pytest.approx(30.0, rel=1e-12)
        assert laid[place].profile.elevation == pytest.approx(hilly([way, way]), abs=NEAR)
        assert laid[place].profile.vehicle_speed == pytest.approx(0.0, abs=0.0)
    assert climbs_with_the_ground(laid) == pytest.approx(6000.0, rel=1e-9)


def test_stand_on_the_track_is_driven_as_one():
    clock = CLOCK + np.where(EAST > 3000.0, 60.0, 0.0)
    east, at = np.insert(EAST, 251, 3000.0), np.insert(clock, 251, 310.0)
    track = track_of(points_of(east, elevation=hilly(east), time=at), 20.0, Part())
    (piece,) = pieces(joined_by_distance([stretch(6000.0)], track, driven=True))
    assert piece.end == pytest.approx(560.0, rel=1e-9)
    stands = (piece.profile.time > 255.0) & (piece.profile.time < 305.0)
    assert piece.profile.vehicle_speed[stands] == pytest.approx(0.0, abs=1e-9)
    assert piece.profile.elevation[stands] == pytest.approx(600.0, abs=NEAR)


@pytest.mark.parametrize("seed", range(5))
def test_stretches_of_any_lengths_share_the_track_with_its_stands_at_both_ends(seed):
    clock = np.concatenate([[0.0], 60.0 + CLOCK, [620.0]])
    east = np.concatenate([[0.0], EAST, [6000.0]])
    track = track_of(points_of(east, elevation=hilly(east), time=clock), 20.0, Part())
    lengths = np.random.default_rng(seed).uniform(50.0, 600.0, 20)
    lap = [stretch(length) for length in (lengths * 6000.0 / lengths.sum()).tolist()]
    laid = pieces(joined_by_distance(lap, track, driven=True))
    assert laid[-1].end == pytest.approx(620.0, rel=1e-9)
    assert climbs_with_the_ground(laid) == pytest.approx(6000.0, rel=1e-6)  # speed runs straight between knots of 1 s
    assert climbs_with_the_ground(pieces(joined_by_distance(lap, track, driven=False))) == pytest.approx(6000.0)


def test_stop_by_time_cuts_the_drive_and_leaves_it_as_it_was():
    lap = joined_by_distance(LAPS["drawn"], TRACK, driven=True)
    stop = NamedStop("pit", None, 60.0, False, 0.0, 0.0, time=100.0)
    before, halt, after, *_ = pieces(lap, stops=[stop])
    (whole, *_) = pieces(lap)
    assert (before.end, halt.end) == (100.0, 160.0)
    assert halt.profile.elevation == pytest.approx(np.full(2, before.profile.elevation[-1]), abs=0.0)
    for part, late in ((before, 0.0), (after, 60.0)):
        for ours, wanted in zip(part.profile[1:], whole.profile[1:], strict=True):
            assert ours == pytest.approx(np.interp(part.profile.time - late, whole.profile.time, wanted), rel=1e-9)


ROWS = np.linspace(0.0, 300.0, 301)


def recorded(speed, clock=ROWS):
    """Return a recorded stretch."""
    zero = np.zeros(len(clock))
    profile = Profile(clock, np.full(len(clock), speed), zero + 400.0, zero, zero, zero, zero, zero)
    return Stretch(300.0, speed, 400.0, 0.0, 0.0, None, profile)


def test_recording_takes_its_heights_at_its_times():
    joined = joined_by_time(recorded(7.0), TRACK, 50.0, driven=False)
    (piece,) = pieces([joined])
    assert piece.profile.elevation == pytest.approx(hilly(12.0 * (50.0 + piece.profile.time)), abs=NEAR)
    assert piece.profile.vehicle_speed == pytest.approx(7.0, abs=0.0)
    assert joined.vehicle_speed == pytest.approx(7.0, rel=1e-12)


def test_recording_without_a_speed_takes_that_of_the_track():
    joined = joined_by_time(recorded(0.0), TRACK, 50.0, driven=True)
    assert joined.vehicle_speed == pytest.approx(12.0, rel=1e-6)
    assert joined.variation.vehicle_speed == pytest.approx(12.0, rel=1e-6)


def test_recording_joined_by_distance_takes_heights_at_its_share_of_the_way():
    clock = np.linspace(0.0, 300.0, 301)
    speed = np.where(clock < 150.0, 10.0, 29.0)  # 5.85 km of 6 km
    lap = recorded(0.0)
    lap = dataclasses.replace(lap, vehicle_speed=19.5, variation=lap.variation._replace(vehicle_speed=speed))
    (piece,) = pieces(joined_by_distance([lap], TRACK, driven=False))
    way = integral(speed, clock)
    assert piece.profile.vehicle_speed == pytest.approx(speed, abs=0.0)
    assert piece.profile.elevation == pytest.approx(hilly(way * 6000.0 / way[-1]), abs=NEAR)


def test_jumps_of_a_profile_stay_where_the_track_adds_knots():
    clock = np.array([0.0, 100.0, 100.0, 300.0])
    load = np.array([1.0, 1.0, 5.0, 5.0])
    lap = recorded(20.0, clock)
    lap = dataclasses.replace(lap, variation=lap.variation._replace(steering_load=load))
    (piece,) = pieces(joined_by_distance([lap], TRACK, driven=False))
    assert piece.profile.steering_load == pytest.approx(load, abs=0.0)
    ground = joined_by_distance([stretch(6000.0)], TRACK, driven=True)[0].ground
    profile = over_ground(lap.variation, ground._replace(time=0.6 * ground.time))
    assert set(profile.steering_load.tolist()) == {1.0, 5.0}
    assert len(profile.time) > 400
