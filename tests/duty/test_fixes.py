import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from track_points import points_of
from ullage.duty.fixes import SHORTEST_CHORD, driven, places
from ullage.duty.gpx import Points

QUARTER_MERIDIAN = 10_001_965.7293  # [m], H. Moritz, Geodetic Reference System 1980; WGS 84 differs by less than 1 mm


def way(east, **values):
    """Return what was driven over points, and the notes."""
    notes = []
    return driven(points_of(east, **values), notes), notes


def arc(latitude, longitude):
    """Return the length of a line of points."""
    place = places(np.asarray(latitude, float), np.asarray(longitude, float))
    return float(np.sqrt((np.diff(place, axis=0) ** 2).sum(axis=1)).sum())


def test_quarter_meridian_has_its_published_length():
    north = np.linspace(0.0, 90.0, 100_001)
    assert arc(north, 0.0 * north) == pytest.approx(QUARTER_MERIDIAN, abs=2e-3)  # chords of 100 m: 1e-11 of it


def test_degree_of_longitude_is_that_of_its_parallel():
    east = np.linspace(179.5, 180.5, 1001)  # over the line of dates
    east[east > 180.0] -= 360.0
    for north in (0.0, 45.0, -60.0):
        squared = (2.0 - 1.0 / 298.257223563) / 298.257223563
        radius = 6378137.0 * np.cos(np.radians(north)) / np.sqrt(1.0 - squared * np.sin(np.radians(north)) ** 2)
        assert arc(0.0 * east + north, east) == pytest.approx(np.radians(1.0) * radius, rel=1e-9)  # chords of 111 m


def test_straight_drive_is_as_long_as_it_is():
    east = np.arange(0.0, 3000.5, 15.0)
    found, notes = way(east, time=east / 15.0)
    assert found.distance == pytest.approx(east, abs=1e-3)  # METRE has nine digits
    assert found.begins_at == 1e9
    assert notes == []


def test_standing_truck_adds_no_distance():
    rng, clock = np.random.default_rng(5), np.arange(0.0, 1400.0)
    east = np.where(clock < 400.0, 15.0 * clock, np.maximum(6000.0, 6000.0 + 15.0 * (clock - 1000.0)))
    wander = 3.0 * rng.normal(size=(2, len(clock)))
    stands = (clock >= 400.0) & (clock <= 1000.0)
    found, notes = way(east + np.where(stands, wander[0], 0.0), north=np.where(stands, wander[1], 0.0), time=clock)
    raw = np.hypot(np.diff(east + wander[0] * stands), np.diff(wander[1] * stands)).sum()
    assert raw > 11_985.0 + 2000.0  # so much would be driven if every point counted
    assert found.distance[-1] == pytest.approx(east[-1], abs=2.0 * SHORTEST_CHORD)  # a chord before it and one behind
    inside = found.distance[(clock > 420.0) & (clock < 980.0)]
    assert inside[-1] - inside[0] < 1.0
    assert notes[0].startswith("stands 1 time, ")


def test_slow_truck_does_not_stand():
    clock = np.arange(0.0, 600.0)
    found, notes = way(1.0 * clock, time=clock)  # 20 m in 20 s
    assert found.distance[-1] == pytest.approx(599.0, rel=1e-6)
    assert notes == []


def test_standing_cannot_be_told_without_times():
    rng = np.random.default_rng(5)
    found, notes = way(np.concatenate([np.arange(0.0, 500.0, 15.0), 500.0 + rng.normal(size=300)]))
    assert found.time is None
    assert "no times" in notes[0]
    assert found.distance[-1] == pytest.approx(500.0, abs=2.0 * SHORTEST_CHORD)  # wandering of a metre is no chord


@pytest.mark.parametrize("spikes", [[70], [0], [199], [70, 71, 72], [0, 1, 100, 199]])
def test_jumps_of_position_are_left_out(spikes):
    east, north = np.arange(0.0, 3000.0, 15.0), np.zeros(200)
    north[spikes] = 4000.0
    found, notes = way(east, north=north, time=east / 15.0)
    left = np.delete(east, spikes)
    assert found.distance == pytest.approx(left - left[0], abs=1e-3)
    many = "1 point" if len(spikes) == 1 else f"{len(spikes)} points"
    assert notes[0] == f"{many} that could only be reached faster than 90 m/s: left out"


def test_points_out_of_order_are_left_out_as_few_as_will_do():
    east = np.arange(0.0, 3000.0, 15.0)
    clock = east / 15.0
    clock[50], clock[90], clock[120] = 190.0, 3.0, clock[119]
    found, notes = way(east, time=clock)
    assert found.distance == pytest.approx(np.delete(east, [50, 90, 119]), abs=1e-3)
    assert notes == ["3 points out of the order of time, or at the same time: left out"]


def test_points_without_a_time_are_left_out_unless_they_are_most():
    east = np.arange(0.0, 3000.0, 15.0)
    clock = east / 15.0
    clock[[3, 8]] = np.nan
    found, notes = way(east, time=clock)
    assert len(found.distance) == 198
    assert notes == ["2 points without a time: left out"]
    clock[20:150] = np.nan
    found, notes = way(east, time=clock)
    assert (len(found.distance), found.time) == (200, None)
    assert notes[0].startswith("times at 68 of 200 points only")


def test_segments_are_joined_and_gaps_are_told():
    east = np.concatenate([np.arange(0.0, 900.0, 15.0), np.arange(1500.0, 3000.0, 15.0)])
    found, notes = way(east, time=east / 15.0, piece=(east > 1000.0) + 1)
    assert found.distance[-1] == pytest.approx(2985.0, abs=1e-3)
    assert notes[0].startswith("2 segments: joined")
    assert notes[1].startswith("1 gap of more than 10 s, longest 41 s")


def test_missing_elevations_and_spikes_are_filled_evenly():
    east = np.arange(0.0, 3000.0, 15.0)
    height = 600.0 + 0.02 * east
    broken = height.copy()
    broken[[0, 70, 71]], broken[150] = np.nan, 0.0
    found, notes = way(east, time=east / 15.0, elevation=broken)
    assert found.elevation[1:] == pytest.approx(height[1:], abs=1e-4)
    assert found.elevation[0] == broken[1]
    assert [note.split(":")[0] for note in notes] == [
        "3 elevations missing or impossible",
        "1 elevation off by more than 100 m",
    ]


@pytest.mark.parametrize(
    ("east", "values", "said"),
    [
        ([0, 15, 30], {"time": [0, 1, 2], "elevation": np.nan}, "has no elevations"),
        ([0, 15, 30], {"time": [0, 0, 0]}, "all points have the same time"),
        ([0, 15, 30], {"time": [3, 2, 1]}, "all points have the same time, or run backwards"),
        ([0, 15, 30], {"time": [0, 1, 2e5]}, "lasts 55.56 h"),
        ([0, 500, 1000, 1500], {"time": [0, 1, 2, 3]}, "cannot be driven: 3 of 4 points"),
    ],
)
def test_points_of_no_use_are_an_error(east, values, said):
    with pytest.raises(ValueError, match=said):
        way(east, **values)


NUMBER = st.floats(-1.0, 1.0)


@given(
    st.lists(
        st.tuples(NUMBER, NUMBER, st.floats(-400, 5000) | st.just(np.nan), st.floats(0, 1e5) | st.just(np.nan)),
        min_size=2,
        max_size=40,
    ),
    st.sampled_from([1e-6, 1e-4, 1e-2, 90.0]),
)
@settings(deadline=None, max_examples=300, derandomize=True)
def test_distance_never_falls_and_time_increases_whatever_the_points(rows, scale):
    north, east, height, clock = np.array(rows, dtype=float).T
    points = Points(scale * north, 2.0 * scale * east, height, clock, np.zeros(len(rows), dtype=np.int64), 1, 0, "")
    try:
        found = driven(points, [])
    except ValueError:
        return
    assert np.all(np.diff(found.distance) >= 0.0)
    assert np.all(np.isfinite(found.elevation))
    assert found.time is None or np.all(np.diff(found.time) > 0.0)
