import itertools

import numpy as np
import pytest

from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.profile import Profile, Spread, Stretch

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
