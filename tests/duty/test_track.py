import numpy as np
import pytest

from track_points import points_of, straight
from ullage.duty.gpx import TrackError
from ullage.duty.track import Part, integral, read_track, track_of

WHOLE = Part()
EAST = np.arange(0.0, 6000.5, 15.0)
CLOCK = EAST / 15.0


def hilly(way):
    """Return heights of long hills."""
    return 600.0 + 40.0 * np.sin(2.0 * np.pi * way / 3000.0)


def test_integral_of_the_speed_is_the_distance_to_rounding():
    rng = np.random.default_rng(2)
    clock = np.cumsum(rng.uniform(0.3, 3.0, 900))
    east = np.cumsum(rng.uniform(0.0, 30.0, 900))
    track = track_of(points_of(east, time=clock), 100.0, WHOLE)
    assert track.distance == pytest.approx(integral(track.speed, track.time), rel=1e-12)
    assert track.length == pytest.approx(east[-1] - east[0], abs=10.0)  # chords of 10 m on a straight line
    assert track.time[-1] == pytest.approx(clock[-1] - clock[0], abs=1e-6)  # times near 1e9 s
    assert np.all(np.diff(track.time) > 0.0)
    assert track.speed.min() >= 0.0


def test_noise_of_the_speed_is_less_and_its_mean_stays():
    noise = 4.0 * np.random.default_rng(2).normal(size=len(EAST))
    noise[[0, -1]] = 0.0
    track = track_of(points_of(EAST + noise, time=CLOCK), 100.0, WHOLE)
    raw = np.diff(EAST + noise)
    assert np.std(track.speed) < 0.4 * np.std(raw)  # differences of white noise over 5 s in place of 1 s: a fifth
    assert np.average(track.speed[1:-1]) == pytest.approx(15.0, rel=0.01)


@pytest.mark.parametrize("timed", [True, False])
def test_smoothing_keeps_the_mean_height(timed):
    rough = hilly(EAST) + 3.0 * np.random.default_rng(1).normal(size=len(EAST))
    track = track_of(points_of(EAST, elevation=rough, time=CLOCK if timed else None), 100.0, WHOLE)
    wanted = np.trapezoid(rough, EAST) / 6000.0
    found = np.trapezoid(track.elevation, track.distance) / track.length
    assert found == pytest.approx(
        wanted, abs=1e-6 if not timed else 0.02
    )  # with times the knots are those of the clock


def test_smoothing_removes_the_climb_of_noise_and_leaves_the_hills():
    noise = 3.0 * np.random.default_rng(1).normal(size=len(EAST))
    rough = track_of(points_of(EAST, elevation=hilly(EAST) + noise, time=CLOCK), 300.0, WHOLE)
    flat = track_of(points_of(EAST, elevation=600.0 + noise, time=CLOCK), 300.0, WHOLE)
    hills = 160.0  # two hills of 80 m
    assert np.maximum(np.diff(hilly(EAST) + noise), 0.0).sum() > 4.0 * hills
    assert rough.climb == pytest.approx(hills, rel=0.15)  # 300 m twice takes 3 % of a hill of 3 km; noise adds some
    assert flat.climb < 0.05 * np.maximum(np.diff(noise), 0.0).sum()
    inside = (rough.distance > 300.0) & (rough.distance < 5700.0)  # mirrored beyond its ends a slope is bent there
    assert np.abs(rough.elevation - hilly(rough.distance))[inside].max() < 4.0  # 1.3 m of the hill, 3 sigma of noise
    assert f"climbs {rough.climb:.0f} m in place of" in rough.notes[-1]


def test_step_of_the_ground_becomes_the_integral_of_a_triangle():
    step = np.where(EAST < 3000.0, 600.0, 700.0)
    track = track_of(points_of(EAST, elevation=step), 200.0, WHOLE)
    found = np.interp([2792.5, 2892.5, 2992.5, 3092.5, 3192.5], track.distance, track.elevation)
    # two means over L make a triangle of half width L about the step at 2992.5 m: 0, 1/8, 1/2, 7/8, 1 of the step
    assert found == pytest.approx([600.0, 612.5, 650.0, 687.5, 700.0], abs=2.0)  # cells of 40 m


def test_even_slope_stays_as_it_is():
    track = track_of(points_of(EAST, elevation=600.0 + 0.03 * EAST, time=CLOCK), 100.0, WHOLE)
    inside = (track.distance > 100.0) & (track.distance < 5900.0)
    assert track.elevation[inside] == pytest.approx(600.0 + 0.03 * track.distance[inside], abs=1e-3)
    # mirrored beyond its ends a slope is bent there: less than the slope over the length of the mean
    assert track.elevation[[0, -1]] == pytest.approx([600.0, 780.0], abs=3.0)


def test_sparse_track_without_times_keeps_its_slopes():
    track = track_of(points_of([0.0, 2000.0, 6000.0], elevation=[600.0, 700.0, 500.0]), 100.0, WHOLE)
    assert (track.time, track.speed, track.begins_at) == (None, None, None)
    assert np.all(np.diff(track.distance) > 0.0)
    assert np.interp([1000.0, 4000.0], track.distance, track.elevation) == pytest.approx([650.0, 600.0], abs=0.1)


def test_stand_is_a_time_without_distance():
    clock = np.concatenate([np.arange(0.0, 101.0), np.arange(160.0, 261.0)])
    east = 15.0 * np.concatenate([np.arange(0.0, 101.0), np.arange(100.0, 201.0)])
    track = track_of(points_of(east, time=clock), 100.0, WHOLE)
    stands = (track.time > 105.0) & (track.time < 155.0)
    assert track.speed[stands] == pytest.approx(0.0, abs=1e-9)
    assert track.length == pytest.approx(3000.0, abs=1e-3)


@pytest.mark.parametrize(
    ("part", "length", "lasts"),
    [
        (Part(600.0, 3600.0), 3000.0, 200.0),
        (Part(None, 3000.0), 3000.0, 200.0),
        (Part(1500.0, None), 4500.0, 300.0),
        (Part(40.0, 240.0, by_time=True), 3000.0, 200.0),
        (Part(None, 100.0, by_time=True), 1500.0, 100.0),
        (Part(133.3, None, by_time=True), 4000.5, 266.7),
    ],
)
def test_part_is_cut_where_it_is_asked(part, length, lasts):
    track = track_of(points_of(EAST, elevation=600.0 + 0.03 * EAST, time=CLOCK), 10.0, part)
    begun = (part.begin or 0.0) * (15.0 if part.by_time else 1.0)
    assert track.length == pytest.approx(length, abs=1e-3)
    assert track.time[-1] == pytest.approx(lasts, abs=1e-4)
    assert track.begins_at == pytest.approx(1e9 + begun / 15.0, abs=1e-4)
    assert track.elevation[0] == pytest.approx(600.0 + 0.03 * begun, abs=0.3)


@pytest.mark.parametrize(
    ("part", "timed", "said"),
    [
        (Part(100.0, 7000.0), True, "has no part from 100 m to 7000 m: it is 6000 m long"),
        (Part(500.0, 500.0), True, "has no part"),
        (Part(7000.0, None), True, "has no part"),
        (Part(0.0, 500.0, by_time=True), True, "has no part from 0 s to 500 s: it is 400 s long"),
        (Part(0.0, 100.0, by_time=True), False, "has no times"),
        (Part(100.0, 150.0), True, "is 50 m long"),
    ],
)
def test_part_that_is_not_there_is_an_error(part, timed, said):
    with pytest.raises(ValueError, match=said):
        track_of(points_of(EAST, time=CLOCK if timed else None), 100.0, part)


def test_file_becomes_a_track_and_equal_bytes_are_equal_tracks(tmp_path):
    (tmp_path / "a.gpx").write_text(straight())
    (tmp_path / "b.gpx").write_text(straight())
    (tmp_path / "c.gpx").write_text(straight(length=2000.0))
    a, b, c = (read_track(tmp_path / f"{name}.gpx", 100.0, WHOLE) for name in "abc")
    assert a.length == pytest.approx(3000.0, abs=1e-3)
    assert (a == b, a == c, hash(a) == hash(b)) == (True, False, True)


def test_file_is_read_once_and_anew_when_its_bytes_change(tmp_path):
    path = tmp_path / "a.gpx"
    path.write_text(straight())
    first = read_track(path, 100.0, WHOLE)
    assert read_track(path, 100.0, WHOLE) is first
    assert read_track(path, 50.0, WHOLE) is not first
    path.write_text(straight(length=1500.0))
    assert read_track(path, 100.0, WHOLE).length == pytest.approx(1500.0, abs=1e-3)


def test_track_that_goes_nowhere_is_a_fault_of_its_file(tmp_path):
    (tmp_path / "a.gpx").write_text(straight(length=60.0))
    with pytest.raises(TrackError, match=r"a\.gpx: is 60 m long; a lap takes 100 m or more"):
        read_track(tmp_path / "a.gpx", 100.0, WHOLE)
