import dataclasses

import numpy as np
import pytest

from ullage.duty.course import join
from ullage.duty.laps import NamedStop, lay_out
from ullage.duty.profile import ACCELERATIONS, Stretch

UP = Stretch(10.0, 20.0, 400.0, 2e6, 0.0, 100.0)
DOWN = Stretch(5.0, 10.0, 300.0, 1e6, 0.0, 50.0)


@pytest.fixture
def course():
    return join(lay_out([UP, DOWN], [], 1, 0.0)[0])


def test_values_run_straight_within_a_piece_and_jump_between_pieces(course):
    leg = course.leg(np.array([9.5, 10.5]))
    found = course.at(
        np.array([10.0, 10.0]), leg
    )  # the same time, at the end of one piece and at the start of the next
    assert found.vehicle_speed.tolist() == [20.0, 10.0]
    assert found.steering_load.tolist() == [2e6, 1e6]
    assert found.elevation.tolist() == [100.0, 100.0]
    assert course.at(np.array([5.0]), course.leg(np.array([5.5]))).elevation.tolist() == [50.0]


def test_accelerations_of_the_truck_are_those_of_the_piece_and_none_at_a_stop():
    thrown = dataclasses.replace(UP, acceleration=(1.0, 2.0, -3.0))
    pit = NamedStop("pit", 1, 60.0, True, 90.0, 0.0)
    course = join(lay_out([thrown], [pit], 1, 0.0)[0])
    found = course.at(np.array([9.0, 20.0]), course.leg(np.array([9.0, 20.0])))
    assert [getattr(found, name).tolist() for name in ACCELERATIONS] == [[1.0, 0.0], [2.0, 0.0], [-3.0, 0.0]]


def test_piece_of_a_leg_is_the_one_that_it_lies_in(course):
    assert course.piece[course.leg(np.array([0.1, 9.9, 10.1, 14.9]))].tolist() == [0, 0, 1, 1]


def test_time_a_rounding_outside_its_leg_has_the_value_at_its_end(course):
    leg = course.leg(np.array([5.0]))
    assert course.at(np.array([10.0 + 1e-9]), leg).elevation.tolist() == [100.0]
    assert course.at(np.array([-1e-9]), leg).elevation.tolist() == [0.0]
