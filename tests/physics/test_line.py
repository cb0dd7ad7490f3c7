import math

import fluids
import numpy as np
import pytest
from fluids.friction import Churchill_1977, Colebrook

from ullage.physics import line

# Feed line of 16 mm and 1 m at 12 L/min with an ISO VG 32 oil of 60 degC.
FEED = {"flow": 2e-4, "diameter": 0.016, "density": 841.49, "viscosity": 15.1859e-6}


def loss(flow, diameter, length, coefficient, density, viscosity):
    return line.line_loss(flow, diameter, length, coefficient, 1.5e-6, density, viscosity)


@pytest.mark.parametrize(
    ("reynolds", "roughness", "expected"),
    [
        (1e5, 1e-4, 0.0184626),
        (1e4, 0.001, 0.0326902),
        (500.0, 0.0, 0.128),
        (1000.0, 0.0, 0.064),
        (3000.0, 0.0, 0.0429747),
    ],
)
def test_friction_factor_is_that_of_churchill(reynolds, roughness, expected):
    # Churchill, Chemical Engineering 84 (1977) 91; printed to six digits.
    assert line.friction_factor(reynolds, roughness) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("roughness", [0.0, 1e-4, 0.01])
def test_friction_factor_agrees_with_the_library_over_all_regimes(roughness):
    for reynolds in np.geomspace(100.0, 1e7, 31):
        # fluids.friction.Churchill_1977 rounds its constants alike.
        assert line.friction_factor(reynolds, roughness) == pytest.approx(Churchill_1977(reynolds, roughness), rel=1e-9)


@pytest.mark.parametrize(("reynolds", "roughness"), [(1e5, 1e-4), (1e5, 0.0), (1.28e5, 0.0013), (1e6, 0.01)])
def test_friction_factor_is_near_colebrook_when_turbulent(reynolds, roughness):
    # Colebrook (1939) with fluids; Churchill's explicit form is within 1 % of it.
    assert line.friction_factor(reynolds, roughness) == pytest.approx(Colebrook(reynolds, roughness), rel=0.01)


def test_friction_factor_is_hagen_poiseuille_when_laminar_and_has_no_jump():
    for reynolds in (1e-3, 1.0, 99.9, 100.1, 1500.0):
        # Hagen and Poiseuille, 64 / Re; the turbulent term of Churchill's form adds some 1e-6 at 1500.
        assert line.friction_factor(reynolds, 1e-4) == pytest.approx(64.0 / reynolds, rel=1e-5)
    below, above = line.friction_factor(100.0 - 1e-9, 1e-4), line.friction_factor(100.0 + 1e-9, 1e-4)
    assert above == pytest.approx(below, rel=1e-10)  # 2e-11 of the argument


def test_loss_rises_through_the_transition():
    losses = [loss(q, 0.016, 1.0, 0.0, 841.49, 15.1859e-6) for q in np.geomspace(1e-6, 2e-3, 200)]
    assert np.all(np.diff(losses) > 0.0)


def test_reynolds_number_velocity_head_and_loss_of_a_feed_line():
    # Hagen-Poiseuille, 128 mu L Q / (pi D^4), and Darcy; printed to 1e-4 of 0.995 m/s, 1048.0, 1588.9 and 333.0 Pa.
    reynolds = line.reynolds(FEED["flow"], FEED["diameter"], FEED["viscosity"])
    assert reynolds == pytest.approx(1048.0, rel=1e-4)
    assert loss(FEED["flow"], 0.016, 1.0, 0.0, FEED["density"], FEED["viscosity"]) == pytest.approx(1588.9, rel=1e-4)
    fittings = loss(FEED["flow"], 0.016, 1.0, 0.8, FEED["density"], FEED["viscosity"]) - 1588.9
    assert fittings == pytest.approx(333.0, abs=0.2)  # 1e-4 of the total
    head = line.velocity_head(FEED["flow"], FEED["diameter"], FEED["density"])
    assert 0.8 * head == pytest.approx(333.0, rel=2e-4)
    assert math.sqrt(2.0 * head / FEED["density"]) == pytest.approx(0.99472, rel=1e-4)


@pytest.mark.parametrize("flow", [1e-5, 2e-4, 3e-3])
def test_reynolds_number_and_velocity_head_agree_with_the_library(flow):
    velocity = flow / (0.25 * math.pi * 0.016**2)
    # fluids.core; the same arithmetic in another order.
    assert line.reynolds(flow, 0.016, 2e-5) == pytest.approx(fluids.Reynolds(V=velocity, D=0.016, nu=2e-5), rel=1e-13)
    assert line.velocity_head(flow, 0.016, 850.0) == pytest.approx(fluids.dP_from_K(1.0, 850.0, velocity), rel=1e-13)


def test_loss_of_a_laminar_pipe_example():
    # Munson, Young and Okiishi, laminar pipe example: 0.40 Pa s, 900 kg/m3, 20 mm, 10 m; printed 20.4 kPa from memory.
    assert loss(2e-5, 0.02, 10.0, 0.0, 900.0, 0.4 / 900.0) == pytest.approx(20372.0, rel=1e-4)
    assert line.reynolds(2e-5, 0.02, 0.4 / 900.0) == pytest.approx(2.865, rel=2e-4)  # four digits


def test_loss_of_an_inclined_pipe_example():
    # White, Fluid Mechanics, inclined laminar pipe: 4.9 m of head at 0.0076 m3/s, printed values from memory; g = 9.81.
    assert loss(7.643e-3, 0.06, 10.0, 0.0, 900.0, 2e-4) / (900.0 * 9.81) == pytest.approx(4.898, rel=1e-3)


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


def test_static_head_of_the_conventional_water_column():
    # One metre of conventional water is 9806.65 Pa, by definition.
    assert line.body_force(1000.0, 0.25, 0.75, 0.4, -0.3, STILL) == pytest.approx(9806.65, rel=1e-15)
    head = fluids.head_from_P(20e3, 850.0)
    assert line.body_force(850.0, 0.0, head, 0.0, 0.0, STILL) == pytest.approx(20e3, rel=1e-13)  # fluids
    assert line.body_force(850.0, 0.1, -0.4, 0.0, 0.0, STILL) == -line.body_force(850.0, 0.1, 0.2, 0.0, 0.0, STILL)


def test_body_force_is_the_vector_product_of_acceleration_and_way():
    # by hand: rho (g - a) . r, with x forward, y left, z up; the pump 1.2 m ahead, 0.3 m right, 0.5 m below the surface
    acceleration = np.array([4.0, -2.0, 3.0])
    way = np.array([1.2, -0.3, -0.5])
    expected = 850.0 * (np.array([0.0, 0.0, -9.80665]) - acceleration) @ way
    found = line.body_force(850.0, 0.15, 0.35, 1.2, -0.3, tuple(acceleration))
    assert found == pytest.approx(expected, rel=1e-13)


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
    assert line.uncovered_share(-0.011, 0.02, 0.0) == 1.0
    assert line.uncovered_share(0.2, 0.02, -0.79 * 9.80665) == 0.0
    assert line.uncovered_share(0.2, 0.02, -0.81 * 9.80665) == 1.0
