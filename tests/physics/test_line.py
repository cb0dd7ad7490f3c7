import numpy as np
import pytest

from ullage.physics import line


def loss(flow, diameter, length, coefficient, density, viscosity):
    return line.line_loss(flow, diameter, length, coefficient, 1.5e-6, density, viscosity)


def test_friction_factor_has_no_jump():
    below, above = line.friction_factor(1000.0 - 1e-9, 1e-4), line.friction_factor(1000.0 + 1e-9, 1e-4)
    assert above == pytest.approx(below, rel=1e-11)  # 2e-12 of the argument, 1e-13 of the turbulent term


def test_loss_rises_through_the_transition():
    losses = [loss(q, 0.016, 1.0, 0.0, 841.49, 15.1859e-6) for q in np.geomspace(1e-6, 2e-3, 200)]
    assert np.all(np.diff(losses) > 0.0)


def test_no_flow_loses_nothing():
    assert loss(0.0, 0.016, 1.0, 0.8, 841.0, 1.5e-5) == 0.0
    assert line.velocity_head(0.0, 0.016, 841.0) == 0.0
    # A vanishing flow is laminar, with a finite slope: loss proportional to flow; the velocity head is 1e-9 of it.
    small, double = (loss(q, 0.016, 1.0, 0.8, 841.0, 1.5e-5) for q in (1e-12, 2e-12))
    assert double / small == pytest.approx(2.0, rel=1e-7)


# --- parts known by one rating point ---


def test_a_rated_part_has_its_drop_at_its_rating_point_half_viscous_half_inertial():
    # Engineering judgement. Hagen-Poiseuille: the viscous half goes with flow and viscosity; Bernoulli: the other with
    # the square of the flow. Values by arithmetic.
    assert line.rated_drop(1.0, 1.0, 40e3) == 40e3
    assert line.rated_drop(1.0, 10.0, 40e3) == pytest.approx(20e3 * 10.0 + 20e3, rel=1e-15)
    assert line.rated_drop(3.0, 1.0, 40e3) == pytest.approx(20e3 * 3.0 + 20e3 * 9.0, rel=1e-15)
    assert line.rated_drop(0.0, 5.0, 40e3) == 0.0


# --- gravity and the truck's acceleration ---

STILL = (0.0, 0.0, 0.0)


def test_a_pump_above_the_surface_loses_what_one_below_gains():
    assert line.body_force(850.0, 0.1, -0.4, 0.0, 0.0, STILL) == -line.body_force(850.0, 0.1, 0.2, 0.0, 0.0, STILL)


def test_a_pump_ahead_of_the_tank_loses_head_when_the_truck_accelerates():
    # Newton: half of standard gravity forward over 2 m ahead takes one metre of head
    level = line.body_force(850.0, 0.1, 0.4, 2.0, 0.0, STILL)
    pushed = line.body_force(850.0, 0.1, 0.4, 2.0, 0.0, (0.5 * 9.80665, 0.0, 0.0))
    assert level - pushed == pytest.approx(850.0 * 9.80665, rel=1e-12)
    assert pushed < 0.0
    braked = line.body_force(850.0, 0.1, 0.4, 2.0, 0.0, (-0.5 * 9.80665, 0.0, 0.0))
    assert braked - level == pytest.approx(850.0 * 9.80665, rel=1e-12)


def test_free_fall_leaves_no_head():
    assert line.body_force(850.0, 0.1, 0.4, 0.0, 0.0, (0.0, 0.0, -9.80665)) == 0.0


def test_the_surface_tilts_at_right_angles_to_gravity_less_acceleration():
    assert line.outlet_depth(0.2, 0.1, -0.05, STILL) == 0.2
    # braking at g: the surface rises forward at 45 degrees
    assert line.outlet_depth(0.2, 0.1, 0.0, (-9.80665, 0.0, 0.0)) == pytest.approx(0.3, rel=1e-13)
    # a bend at g to the left: oil goes to the right
    assert line.outlet_depth(0.2, 0.0, 0.3, (0.0, 9.80665, 0.0)) == pytest.approx(-0.1, rel=1e-12)
    # twice as heavy on landing at g: half the tilt
    assert line.outlet_depth(0.2, 0.1, 0.0, (-9.80665, 0.0, 9.80665)) == pytest.approx(0.25, rel=1e-13)
    # airborne: a fifth of gravity is the least that is taken
    assert line.outlet_depth(0.2, 0.1, 0.0, (-1.96133, 0.0, -9.80665)) == pytest.approx(0.3, rel=1e-12)


def test_an_outlet_is_uncovered_over_its_bore_and_when_airborne():
    assert line.uncovered_share(0.2, 0.02, 0.0) == 0.0
    assert line.uncovered_share(0.011, 0.02, 0.0) == 0.0
    assert line.uncovered_share(0.0, 0.02, 0.0) == 0.5
    assert line.uncovered_share(0.005, 0.02, 0.0) == pytest.approx(0.25, rel=1e-12)
    assert line.uncovered_share(-0.011, 0.02, 0.0) == 1.0
    assert line.uncovered_share(0.2, 0.02, -0.799 * 9.80665) == 0.0
    assert line.uncovered_share(0.2, 0.02, -0.801 * 9.80665) == 1.0
