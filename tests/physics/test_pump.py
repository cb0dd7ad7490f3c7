import math

import numpy as np
import pytest

from ullage.physics import pump

# A pump of 10 cm3/rev, 50 rev/s, 10 MPa, 12.8 mPa s.
D, OMEGA, RISE, MU = 10e-6 / (2.0 * math.pi), 100.0 * math.pi, 10e6, 12.8e-3


@pytest.mark.parametrize("coefficient", [1e-9, 1e-8, 3e-7])
def test_slip_coefficient_is_the_inverse_of_slip_flow(coefficient):
    flow = D * OMEGA - pump.slip_flow(coefficient, D, RISE, MU)
    # Slip is down to 0.2 % of the flow it is taken from: three digits are lost.
    assert pump.slip_coefficient(D, OMEGA, flow, RISE, MU) == pytest.approx(coefficient, rel=1e-12)


@pytest.mark.parametrize(("friction", "viscous", "idle"), [(0.06, 6e4, 0.0), (0.0, 1e5, 0.4), (0.2, 0.0, 1.0)])
def test_friction_coefficient_is_the_inverse_of_shaft_torque(friction, viscous, idle):
    torque = pump.shaft_torque(D, RISE, MU, OMEGA, friction, viscous, idle)
    # Taken from numbers near one: absolute rounding of some 1e-16 times a few operations.
    assert pump.friction_coefficient(D, RISE, MU, OMEGA, torque, viscous, idle) == pytest.approx(friction, abs=1e-14)


@pytest.mark.parametrize("setting", [1e6, 8e6, 15e6])
def test_relief_share_rises_smoothly_from_shut_to_open(setting):
    band = min(3e5, 0.1 * setting)  # opening over a few bar, common practice
    demand = np.linspace(0.8 * setting, 1.1 * setting, 4001)
    share = np.array([pump.relief_share(x, setting) for x in demand])
    assert share[0] == 0.0
    assert share[-1] == 1.0
    assert np.all(np.diff(share) >= 0.0)
    assert pump.relief_share(setting - band, setting) == 0.0
    assert pump.relief_share(setting, setting) == 1.0
    # Half way by symmetry; the difference of two large pressures loses two digits.
    assert pump.relief_share(setting - 0.5 * band, setting) == pytest.approx(0.5, abs=1e-9)
    # No kink: the slope of the cubic is at most 1.5 / band, and it changes by at most 6 / band^2 per pascal.
    slope = np.diff(share) / np.diff(demand)
    assert slope.max() <= 1.5 / band * (1.0 + 1e-6)
    assert np.abs(np.diff(slope)).max() <= 6.0 / band**2 * (demand[1] - demand[0]) * (1.0 + 1e-6)


def test_nothing_slips_or_drops_without_its_cause():
    assert pump.slip_flow(1e-8, D, 0.0, MU) == 0.0
    assert pump.shaft_torque(D, 0.0, MU, 0.0, 0.05, 1e5, 0.7) == 0.7
    assert pump.open_centre_drop(0.0, 1e6, 2e-4) == 0.0
    assert pump.filter_drop(0.0, 5.0, 10e3, 175e3) == 0.0


def test_filter_drop_rises_towards_the_bypass_setting_and_stays_below_it():
    drops = [pump.filter_drop(1.0, v, 10e3, 175e3) for v in np.geomspace(0.1, 2e3, 80)]
    assert np.all(np.diff(drops) > 0.0)
    assert 0.99 * 175e3 < drops[-1] < 175e3
    # At equal arguments the smooth minimum is 2^(-1/4) of them, by arithmetic.
    assert pump.filter_drop(1.0, 17.5, 10e3, 175e3) == pytest.approx(175e3 * 0.5**0.25, rel=1e-14)


def test_port_loss_is_quadratic_in_speed_and_linear_in_viscosity():
    assert pump.port_loss(1.0, 1e-4, 30e3, 20e3) == 50e3
    assert pump.port_loss(0.5, 2e-4, 30e3, 20e3) == 0.25 * 30e3 + 20e3
    assert pump.port_loss(0.0, 1e-3, 30e3, 30e3) == 0.0
