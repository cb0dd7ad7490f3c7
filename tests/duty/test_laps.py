import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from race_tables import table_of

from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.profile import LockHolds, Profile, Spread, Stretch
from ullage.kernel.params import CHANNEL_INDEX

CLIMB = Stretch(100.0, 20.0, 400.0, 2e6, 0.1, 500.0)
FLAT = Stretch(50.0, 10.0, 300.0, 1e6, 0.0, None)
DOWN = Stretch(80.0, 15.0, 200.0, 1e6, 0.0, 200.0)


def stop(name, after_lap, engine_on=True):
    """Return a stop of 30 s."""
    return NamedStop(name, after_lap, 30.0, engine_on, 90.0, 3e5)


@pytest.fixture
def race():
    return lay_out([CLIMB, FLAT, DOWN], [stop("late", 2, False), stop("early", 0), stop("also late", 2)], 2, 200.0)


def test_pieces_lie_end_to_end_from_zero(race):
    pieces, _ = race
    assert pieces[0].start == 0.0
    assert all(piece.start == before.end for before, piece in itertools.pairwise(pieces))
    assert pieces[-1].end == 2 * 230.0 + 3 * 30.0
    assert [piece.end - piece.start for piece in pieces] == [30.0, 100.0, 50.0, 80.0, 100.0, 50.0, 80.0, 30.0, 30.0]


def test_laps_count_from_one_and_a_stop_belongs_to_the_lap_before_it(race):
    assert [piece.lap for piece in race[0]] == [1, 1, 1, 1, 2, 2, 2, 2, 2]


def test_stops_of_one_lap_keep_their_order_and_know_their_times(race):
    found = [(item.name, item.start, item.end) for item in race[1]]
    assert found == [("early", 0.0, 30.0), ("late", 490.0, 520.0), ("also late", 520.0, 550.0)]


def test_elevation_runs_on_from_the_piece_before(race):
    pieces, _ = race
    assert [(piece.elevation_start, piece.elevation_end) for piece in pieces[:5]] == [
        (200.0, 200.0),
        (200.0, 500.0),
        (500.0, 500.0),
        (500.0, 200.0),
        (200.0, 500.0),
    ]
    assert all(piece.elevation_start == before.elevation_end for before, piece in itertools.pairwise(pieces))


def test_stop_stands_with_its_own_engine(race):
    early, late = race[0][0], race[0][-2]
    assert (early.engine_on, early.stretch.engine_speed, early.stretch.steering_load) == (True, 90, 3e5)
    assert (late.engine_on, late.stretch.vehicle_speed) == (False, 0.0)


def test_profile_of_a_steady_stretch_is_its_values_at_both_ends(race):
    profile = race[0][1].profile
    assert [values.tolist() for values in profile] == [
        [30.0, 130.0],
        [20.0, 20.0],
        [400.0, 400.0],
        [2e6, 2e6],
        [200.0, 500.0],
        *([0.0, 0.0] for _ in range(3)),
    ]


def test_recorded_profile_is_moved_to_its_place_on_the_clock():
    knots = [np.array(values) for values in ([0.0, 1.5, 4.0], [1.0, 2.0, 3.0], [90.0, 95.0, 99.0], [0.0, 1.0, 2.0])]
    recorded = Profile(*knots, *(np.array([5.0, 6.0, 7.0]) + shift for shift in range(4)))
    pieces, _ = lay_out([Stretch(4.0, 2.0, 95.0, 1.0, 0.0, 7.0, recorded)], [stop("pit", 1)], 2, 5.0)
    second = pieces[2].profile
    assert second.time.tolist() == [34.0, 35.5, 38.0]
    assert all(map(np.array_equal, second[1:], recorded[1:]))


def test_drawn_piece_has_the_seed_its_lap_and_its_place_in_the_lap():
    varied = Stretch(100.0, 20.0, 400.0, 2e6, 0.0, None, Spread(1.0, 9.0, 0.0, 0.0))
    pieces, _ = lay_out([CLIMB, varied, varied], [stop("pit", 1)], 2, 0.0, 11)
    drawn = [piece for piece in pieces if piece.stretch is varied]
    assert [piece.key for piece in drawn] == [(11, 1, 1), (11, 1, 2), (11, 2, 1), (11, 2, 2)]
    firsts = {float(piece.profile.engine_speed[0]) for piece in drawn}
    assert len(firsts) == 4


def test_stretch_is_driven_in_the_laps_that_it_names_under_its_own_number():
    early = dataclasses.replace(FLAT, last_lap=1, place=7, number=7)
    late = dataclasses.replace(DOWN, first_lap=2, place=7, number=7)
    pieces, _ = lay_out([CLIMB, early, late], [], 3, 200.0)
    assert [(piece.lap, piece.stretch) for piece in pieces] == [
        *((1, CLIMB), (1, early)),
        *((2, CLIMB), (2, late), (3, CLIMB), (3, late)),
    ]
    assert [piece.key for piece in pieces[1::2]] == [(0, 1, 7), (0, 2, 7), (0, 3, 7)]


def test_drawn_duration_of_a_stretch_is_its_own_in_every_lap():
    idling = dataclasses.replace(FLAT, duration_spread=10.0)
    pieces, _ = lay_out([CLIMB, idling], [], 3, 200.0, 4)
    lasts = [piece.end - piece.start for piece in pieces[1::2]]
    assert len(set(lasts)) == 3
    assert [piece.stretch.duration for piece in pieces[1::2]] == pytest.approx(lasts, rel=1e-12)  # differences of times
    assert all(piece.start == before.end for before, piece in itertools.pairwise(pieces))


def test_piece_that_is_cut_at_a_jump_keeps_the_jump():
    held = dataclasses.replace(CLIMB, lock_holds=LockHolds(3, 2.0, 13e6))
    (whole,), _ = lay_out([held], [], 1, 200.0, 4)
    jumps = whole.profile.time[1:][np.diff(whole.profile.time) == 0.0]
    (first, *_), _ = lay_out([held], [halted(float(jumps[2]) - 1.0)], 1, 200.0, 4)
    assert np.sum(np.diff(first.profile.time) == 0.0) == 2
    assert sorted(set(first.profile.steering_load.tolist())) == [2e6, 13e6]


KNOTS = np.array([0.0, 7.3, 20.0, 41.5])
RECORDED = Profile(KNOTS, *(np.array([2.0, 5.0, 11.0, 3.0]) * size + 40.0 for size in (1, 9, 2e5, 6, 0.1, 0.2, 0.3)))
STEADY = Stretch(30.7, 12.0, 300.0, 1e6, 0.4, 350.0, None, (0.5, 1.0, -0.5))
DRAWN = Stretch(50.3, 15.0, 350.0, 2e6, -0.3, 90.0, Spread(2.0, 30.0, 8e5, 8e6))
COURSES = {
    "steady": ([STEADY, CLIMB], [NamedStop("pit", 1, 20.25, False, 0.0, 0.0)]),
    "drawn": ([STEADY, DRAWN], [NamedStop("pit", 1, 20.25, True, 90.0, 3e5)]),
    "recorded": ([Stretch(41.5, 6.0, 80.0, 1e6, 0.0, float(RECORDED.elevation[-1]), RECORDED)], []),
}
ENDS = {name: lay_out(course, stops, 2, 40.0, 3)[0][-1].end for name, (course, stops) in COURSES.items()}
# what the truck does, and where it is; weather, bay and block go by the race clock
DRIVEN = [
    CHANNEL_INDEX[name]
    for name in (
        *("vehicle_speed", "engine_speed", "steering_load", "steering_position"),
        *("forward_acceleration", "left_acceleration", "upward_acceleration", "ambient_pressure"),
    )
]


def halted(time, duration=17.4, name="halt"):
    """Return a stop at a race time."""
    return NamedStop(name, None, duration, True, 90.0, 3e5, time)


def driven_at(table, times):
    """Return what is driven at times that are no jumps."""
    return np.array([np.interp(times, table.time, table.channels[:, column]) for column in DRIVEN])


def off_jumps(table, times):
    """Return the times that are no jumps of a table."""
    jumps = table.time[1:][np.diff(table.time) == 0.0]
    return np.array([time for time in times if not np.any(np.abs(jumps - time) < 1e-6)])


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([*COURSES]), st.floats(0.001, 0.99), st.floats(1.0, 90.0))
@example("steady", 0.001, 17.4)  # while the ram is on its way
@example("steady", 1.0 / 3.0, 1.0)
def test_stop_by_time_changes_nothing_before_it_and_moves_what_comes_after(name, share, duration):
    course, stops = COURSES[name]
    time = share * ENDS[name]
    race = table_of(course, stops, 2, start=40.0)
    pieces, laid = lay_out(course, [*stops, halted(time, duration)], 2, 40.0)
    begin = next(stop.start for stop in laid if stop.name == "halt")
    if begin > time + 1e-6:  # it falls into the lap's own stop
        assert any(stop.start < time < stop.end == begin for stop in laid)
    else:
        assert begin == pytest.approx(time, abs=1e-6)  # on a boundary: what counts as one moment
    with_stop = table_of(course, [*stops, halted(time, duration)], 2, start=40.0)
    before, same = (table.time < begin - 1e-6 for table in (race, with_stop))
    assert np.array_equal(with_stop.time[same], race.time[before])
    # a cut is set to nanoseconds: up to 1e-4 Pa of steering load where that rises by 1e5 Pa/s
    assert with_stop.channels[same] == pytest.approx(race.channels[before], rel=1e-9, abs=1e-12)
    probes = off_jumps(race, np.linspace(begin + 1e-3, race.time[-1] - 1e-3, 101))
    # The race clock is kept in nanoseconds; ambient pressure bends by 0.02 Pa between two rows 10 m apart in height.
    found, expected = driven_at(with_stop, probes + duration), driven_at(race, probes)
    assert found[:-1] == pytest.approx(expected[:-1], rel=1e-7, abs=1e-7)
    assert found[-1] == pytest.approx(expected[-1], abs=0.03)
    assert pieces[-1].end == pytest.approx(ENDS[name] + duration, rel=1e-12)
    assert with_stop.distance[-1] == pytest.approx(race.distance[-1], rel=1e-10)


def test_stop_by_time_stands_where_the_truck_is():
    table = table_of([STEADY, CLIMB], [halted(10.7)], 1, start=40.0)
    standing = (table.output_time >= 10.7) & (table.output_time <= 28.1)
    assert table.distance[standing] == pytest.approx(10.7 * 12.0, rel=1e-12)
    assert table.elevation[standing] == pytest.approx(40.0 + 310.0 * 10.7 / 30.7, rel=1e-12)
    inside = (table.time > 10.7) & (table.time < 28.1)
    assert set(table.channels[inside, CHANNEL_INDEX["vehicle_speed"]]) == {0.0}
    assert set(table.channels[inside, CHANNEL_INDEX["engine_speed"]]) == {90.0}
    assert set(table.channels[inside, CHANNEL_INDEX["steering_position"]]) == {0.4}


def test_ram_on_its_way_waits_for_the_end_of_the_stop():
    pieces, _ = lay_out([FLAT, STEADY], [halted(50.25)], 1, 0.0)
    assert [knot for piece in pieces[1:] for knot in piece.ram] == [
        *((50.0, 0.0), (50.25, 0.1)),
        *((50.25, 0.1), (51.25, 0.1)),
        *((67.65, 0.1), (68.4, 0.4)),
    ]


def test_stop_by_time_belongs_to_the_lap_in_which_it_falls():
    pieces, stops = lay_out([CLIMB, FLAT], [halted(190.0), halted(30.0, 5.0, "first")], 2, 0.0)
    assert [(piece.lap, piece.stop) for piece in pieces] == [
        *((1, None), (1, "first"), (1, None), (1, None)),
        *((2, None), (2, "halt"), (2, None), (2, None)),
    ]
    assert [(stop.name, stop.start, stop.end) for stop in stops] == [("first", 30.0, 35.0), ("halt", 190.0, 207.4)]


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        (0.0, [("halt", 0.0, 1), ("early", 17.4, 1)]),
        (30.0, [("early", 0.0, 1), ("halt", 30.0, 1)]),
        (130.0, [("early", 0.0, 1), ("halt", 130.0, 1)]),
        (180.0, [("early", 0.0, 1), ("halt", 180.0, 1)]),
    ],
)
def test_time_on_a_boundary_puts_the_stop_between_the_pieces(time, expected):
    pieces, _ = lay_out([CLIMB, FLAT], [stop("early", 0), halted(time)], 2, 0.0)
    assert [(piece.stop, piece.start, piece.lap) for piece in pieces if piece.stop] == expected
    assert len(pieces) == 6  # nothing is cut
    assert all(piece.start == before.end for before, piece in itertools.pairwise(pieces))


def test_stretch_can_be_cut_again_and_again():
    times = [60.0, 10.0, 33.3, 27.4]
    pieces, stops = lay_out([CLIMB], [halted(time, name=str(time)) for time in times], 1, 0.0)
    assert [stop.start for stop in stops] == pytest.approx(
        [10.0, 27.4, 44.8, 62.2]
    )  # one behind the other where they would overlap
    assert pieces[-1].profile.time.tolist() == [79.6, pytest.approx(169.6, rel=1e-12)]
    assert pieces[-1].profile.elevation.tolist() == [pytest.approx(50.0, rel=1e-12), 500.0]
